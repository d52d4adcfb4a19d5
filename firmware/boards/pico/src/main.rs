//! Image for a Raspberry Pi Pico. All it adds to the application is pins, clock and ports.
//!
//! Not tried on real hardware.

#![no_std]
#![no_main]

mod parts;
mod pins;
#[cfg(feature = "rtt")]
mod rtt;
mod start;
mod usb;

use embassy_executor::Spawner;
use embassy_rp::bind_interrupts;
use embassy_rp::clocks::RoscRng;
use embassy_rp::flash::Flash;
use embassy_rp::peripherals::UART0;
use embassy_rp::uart::{self, BufferedInterruptHandler, BufferedUart};
use embassy_time::Delay;
use firmware_app::App;
use firmware_app::chip::{Rest, Wires, hardware};
use firmware_app::resets::note_place;
use firmware_serve::serve;
use parts::{Dog, Pad, Pico, Thermistors, thermistor};
use start::Scratch;
use static_cell::StaticCell;
use usb::{FromPc, ToPc};

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
async fn main(spawner: Spawner) {
    let (app, serial, port) = start(spawner);
    serve(app, serial.split(), port).await
}

/// Starts everything. A function of its own, so that the loop does not carry what it leaves on the stack.
#[inline(never)]
fn start(spawner: Spawner) -> (&'static mut App<Pico>, BufferedUart, (ToPc, FromPc)) {
    // The watchdog before the clocks: a crystal that never starts is a reset, not a standstill.
    let resets = start::first();
    let parts = pins::assign(embassy_rp::init(embassy_rp::config::Config::default()));
    // With the crystal's time from here to the first decision.
    start::reload();

    // What may hang is left out before it could hold the coils: the serial line tells of it.
    let port = if resets.next_would_hold() {
        usb::off()
    } else {
        usb::start(spawner, parts.usb)
    };

    let wires = Wires {
        circulator: Pad::new(parts.circulator),
        boiler_call: Pad::new(parts.boiler_call),
        alarm: Pad::new(parts.alarm),
        drives: pins::DRIVES,
        lamp: Pad::new(parts.lamp),
        // With nothing connected a wire is at rest, as the second usually is.
        bus: Pad::new(parts.bus).pulled_up(),
        second_bus: Some(Pad::new(parts.second_bus).pulled_up()),
        feedback: pins::FEEDBACK.then(|| Pad::new(parts.feedback).pulled_up()),
        button: Some(Pad::new(parts.button).pulled_up()),
    };
    let (one, two, three) = parts.thermistors;
    let rest = Rest {
        delay: Delay,
        analog: Thermistors::new(
            parts.adc,
            [thermistor(one), thermistor(two), thermistor(three)],
        ),
        flash: Flash::new_blocking(parts.flash),
        watchdog: Dog::running(parts.watchdog),
        unit: RoscRng.next_u32(),
    };
    static APP: StaticCell<App<Pico>> = StaticCell::new();
    let app = APP.init_with(|| App::new(hardware(wires, rest), resets));

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
    (app, serial, port)
}
