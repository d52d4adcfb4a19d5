//! Image for a Raspberry Pi Pico. All it adds to the application is pins, clock and serial line.
//!
//! Not tried on real hardware.

#![no_std]
#![no_main]

mod parts;
mod pins;
#[cfg(feature = "rtt")]
mod rtt;

use controller_core::restart::RestartCause;
use embassy_executor::Spawner;
use embassy_rp::adc::{self, Adc};
use embassy_rp::bind_interrupts;
use embassy_rp::clocks::RoscRng;
use embassy_rp::flash::Flash;
use embassy_rp::gpio::{Input, Level, Output, Pull};
use embassy_rp::peripherals::UART0;
use embassy_rp::uart::{self, BufferedInterruptHandler, BufferedUart};
use embassy_rp::watchdog::{self, ResetReason};
use embassy_time::Delay;
use firmware_app::{App, Hardware};
use firmware_serve::serve;
use parts::{Dog, OpenDrain, Pico, ReadBack, Thermistors, thermistor};
use static_cell::StaticCell;

bind_interrupts!(struct Irqs {
    UART0_IRQ => BufferedInterruptHandler<UART0>;
});

/// Stands still; the watchdog then resets into the safe state.
#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    cortex_m::interrupt::disable();
    loop {
        cortex_m::asm::nop();
    }
}

#[embassy_executor::main]
async fn main(_spawner: Spawner) {
    let parts = pins::assign(embassy_rp::init(embassy_rp::config::Config::default()));

    // Relays first.
    let circulator = ReadBack::new(parts.circulator, pins::CIRCULATOR);
    let boiler_call = ReadBack::new(parts.boiler_call, pins::BOILER_CALL);
    let alarm = ReadBack::new(parts.alarm, pins::ALARM);

    let watchdog = watchdog::Watchdog::new(parts.watchdog);
    let cause = match watchdog.reset_reason() {
        Some(ResetReason::TimedOut) => RestartCause::Watchdog,
        Some(ResetReason::Forced) => RestartCause::Requested,
        // This chip does not tell a sagging supply from a new one.
        None => RestartCause::PowerOn,
    };

    let (one, two, three) = parts.thermistors;
    let app = App::<Pico>::new(
        Hardware {
            circulator: (circulator, pins::CIRCULATOR),
            boiler_call: (boiler_call, pins::BOILER_CALL),
            alarm: (alarm, pins::ALARM),
            lamp: Output::new(parts.lamp, Level::Low),
            bus: OpenDrain::new(parts.bus),
            delay: Delay,
            analog: Thermistors {
                adc: Adc::new_blocking(parts.adc, adc::Config::default()),
                channels: [thermistor(one), thermistor(two), thermistor(three)],
            },
            feedback: pins::FEEDBACK.then(|| Input::new(parts.feedback, Pull::Up)),
            flash: Flash::new_blocking(parts.flash),
            watchdog: Dog::start(watchdog),
            layout: pins::LAYOUT,
            unit: RoscRng.next_u32(),
        },
        cause,
    );

    static SENT: StaticCell<[u8; 256]> = StaticCell::new();
    static RECEIVED: StaticCell<[u8; 256]> = StaticCell::new();
    let serial = BufferedUart::new(
        parts.uart,
        parts.uart_tx,
        parts.uart_rx,
        Irqs,
        SENT.init([0; 256]),
        RECEIVED.init([0; 256]),
        uart::Config::default(),
    );
    let (tx, rx) = serial.split();
    serve(app, tx, rx).await
}
