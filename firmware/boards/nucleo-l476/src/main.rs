//! Image for a Nucleo-64 board with STM32L476RG. All it adds to the application is pins, clock and
//! serial line.
//!
//! Builds; not tried on real hardware or in an emulator.

#![no_std]
#![no_main]

mod parts;
mod pins;

use controller_core::restart::RestartCause;
use embassy_executor::Spawner;
use embassy_stm32::adc::Adc;
use embassy_stm32::flash::Flash;
use embassy_stm32::gpio::{Input, Level, Output, OutputOpenDrain, Pull, Speed};
use embassy_stm32::peripherals::USART2;
use embassy_stm32::usart::{BufferedInterruptHandler, BufferedUart, Config};
use embassy_stm32::{bind_interrupts, pac, uid};
use embassy_time::Delay;
use firmware_app::{App, Hardware};
use firmware_serve::serve;
use parts::{Dog, Nucleo, ReadBack, Thermistors, thermistor};
use static_cell::StaticCell;

bind_interrupts!(struct Irqs {
    USART2 => BufferedInterruptHandler<USART2>;
});

/// Stands still; the watchdog then resets into the safe state.
#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    cortex_m::interrupt::disable();
    loop {
        cortex_m::asm::nop();
    }
}

/// Why the chip was reset, and clears the flags for the next time.
fn cause() -> RestartCause {
    let flags = pac::RCC.csr().read();
    pac::RCC.csr().modify(|csr| csr.set_rmvf(true));
    if flags.iwdgrstf() || flags.wwdgrstf() {
        RestartCause::Watchdog
    } else if flags.sftrstf() {
        RestartCause::Requested
    } else {
        // The flag of a sagging supply is set by switching on as well.
        RestartCause::PowerOn
    }
}

/// The chip's serial number folded into 32 bits.
fn unit() -> u32 {
    uid::uid()
        .chunks_exact(4)
        .filter_map(|part| part.try_into().ok().map(u32::from_le_bytes))
        .fold(0, |folded, part| folded ^ part)
}

#[embassy_executor::main]
async fn main(_spawner: Spawner) {
    let parts = pins::assign(embassy_stm32::init(embassy_stm32::Config::default()));

    // Relays first.
    let circulator = ReadBack::new(parts.circulator, pins::CIRCULATOR);
    let boiler_call = ReadBack::new(parts.boiler_call, pins::BOILER_CALL);
    let alarm = ReadBack::new(parts.alarm, pins::ALARM);

    let (one, two, three) = parts.thermistors;
    let app = App::<Nucleo>::new(
        Hardware {
            circulator: (circulator, pins::CIRCULATOR),
            boiler_call: (boiler_call, pins::BOILER_CALL),
            alarm: (alarm, pins::ALARM),
            lamp: Output::new(parts.lamp, Level::Low, Speed::Low),
            bus: OutputOpenDrain::new(parts.bus, Level::High, Speed::Low),
            delay: Delay,
            analog: Thermistors {
                adc: Adc::new(parts.adc),
                channels: [thermistor(one), thermistor(two), thermistor(three)],
            },
            feedback: pins::FEEDBACK.then(|| Input::new(parts.feedback, Pull::Up)),
            flash: Flash::new_blocking(parts.flash),
            watchdog: Dog::start(parts.watchdog),
            layout: pins::LAYOUT,
            unit: unit(),
        },
        cause(),
    );

    static SENT: StaticCell<[u8; 256]> = StaticCell::new();
    static RECEIVED: StaticCell<[u8; 256]> = StaticCell::new();
    let serial = BufferedUart::new(
        parts.uart,
        parts.uart_rx,
        parts.uart_tx,
        SENT.init([0; 256]),
        RECEIVED.init([0; 256]),
        Irqs,
        Config::default(),
    );
    let Ok(serial) = serial else {
        // The configuration is constant, so this cannot happen; if it did, the watchdog would say so.
        core::future::pending().await
    };
    let (tx, rx) = serial.split();
    serve(app, tx, rx).await
}
