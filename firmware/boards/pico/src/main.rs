//! Image for a Raspberry Pi Pico. All it adds to the application is pins, clock and serial line.
//!
//! Not tried on real hardware.

#![no_std]
#![no_main]

mod parts;
mod pins;
#[cfg(feature = "rtt")]
mod rtt;
mod start;

use embassy_executor::Spawner;
use embassy_rp::bind_interrupts;
use embassy_rp::clocks::RoscRng;
use embassy_rp::flash::Flash;
use embassy_rp::gpio::{Input, Level, Output, Pull};
use embassy_rp::peripherals::UART0;
use embassy_rp::uart::{self, BufferedInterruptHandler, BufferedUart};
use embassy_time::Delay;
use firmware_app::resets::note_place;
use firmware_app::{App, Hardware};
use firmware_serve::serve;
use parts::{Dog, OpenDrain, Pico, ReadBack, Thermistors, thermistor};
use start::Scratch;
use static_cell::StaticCell;

bind_interrupts!(struct Irqs {
    UART0_IRQ => BufferedInterruptHandler<UART0>;
});

/// Stands still, so that the watchdog resets into the safe state; leaves the line for the next boot to tell.
#[panic_handler]
fn panic(info: &core::panic::PanicInfo<'_>) -> ! {
    let line = info.location().map_or(0, core::panic::Location::line);
    stand_still(line)
}

/// As [`panic`], with the address.
#[cortex_m_rt::exception]
unsafe fn HardFault(frame: &cortex_m_rt::ExceptionFrame) -> ! {
    stand_still(frame.pc())
}

fn stand_still(place: u32) -> ! {
    cortex_m::interrupt::disable();
    note_place(&mut Scratch, place);
    loop {
        cortex_m::asm::nop();
    }
}

#[embassy_executor::main]
async fn main(_spawner: Spawner) {
    let (app, serial) = start();
    let (tx, rx) = serial.split();
    serve(app, tx, rx).await
}

/// Starts everything. A function of its own, so that the loop does not carry what it leaves on the stack.
#[inline(never)]
fn start() -> (&'static mut App<Pico>, BufferedUart) {
    // The watchdog before the clocks: a crystal that never starts is a reset, not a standstill.
    let resets = start::first();
    let parts = pins::assign(embassy_rp::init(embassy_rp::config::Config::default()));
    // With the crystal's time from here to the first decision.
    start::reload();

    let (one, two, three) = parts.thermistors;
    static APP: StaticCell<App<Pico>> = StaticCell::new();
    let app = APP.init_with(|| {
        App::new(
            Hardware {
                circulator: (ReadBack::new(parts.circulator), pins::CIRCULATOR),
                boiler_call: (ReadBack::new(parts.boiler_call), pins::BOILER_CALL),
                alarm: (ReadBack::new(parts.alarm), pins::ALARM),
                lamp: Output::new(parts.lamp, Level::Low),
                bus: OpenDrain::new(parts.bus),
                delay: Delay,
                analog: Thermistors::new(
                    parts.adc,
                    [thermistor(one), thermistor(two), thermistor(three)],
                ),
                feedback: pins::FEEDBACK.then(|| Input::new(parts.feedback, Pull::Up)),
                button: Some(Input::new(parts.button, Pull::Up)),
                flash: Flash::new_blocking(parts.flash),
                watchdog: Dog::running(parts.watchdog),
                layout: pins::LAYOUT,
                unit: RoscRng.next_u32(),
            },
            resets,
        )
    });

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
    parts::pull_up(pins::UART_RX);
    (app, serial)
}
