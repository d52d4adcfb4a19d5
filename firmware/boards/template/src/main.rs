//! A board to start a port from: what each part has to do stands above it, docs/porting.md says why.
//!
//! As it stands it is a unit on this machine without sensors, with the serial line on the terminal: `cargo run` in this
//! folder, then type `status`. `hal.rs` stands in for a chip's HAL and goes with the port.

mod hal;

use controller_core::restart::RestartCause;
use firmware_app::board::NoAnalog;
use firmware_app::chip::{Chip, Pin, Rest, Turns, Wires, hardware};
use firmware_app::duty::Healthy;
use firmware_app::relay::Drive;
use firmware_app::{App, Layout, Resets, Retained, Watchdog};

struct Template;

impl Chip for Template {
    const NAME: &'static str = "template";
    // Two or more whole erase sectors each, which the linker script keeps the program out of.
    const LAYOUT: Layout = Layout {
        store: 0..32 * 1024,
        history: 32 * 1024..96 * 1024,
    };
    type Pin = Pad;
    // At least as long as asked, at most 2 µs longer.
    type Delay = hal::Delay;
    // Thermistor inputs, if the chip has them: implement `ReadShare`.
    type Analog = NoAnalog;
    type Flash = hal::Flash;
    type Watchdog = Dog;
    type Retained = Words;
}

/// A pin in the state the reset left it in: what it carries, and what it carries when nobody drives it.
struct Pad(bool, bool);

impl Pin for Pad {
    fn drive(&mut self, high: bool) {
        self.0 = high;
    }
    fn let_go(&mut self) {
        self.0 = self.1;
    }
    // The pad itself, not what was written.
    fn is_high(&mut self) -> bool {
        self.0
    }
}

struct Dog;

impl Watchdog for Dog {
    // Starts the watchdog's four seconds anew.
    fn feed(&mut self, _: Healthy) {}
}

/// Four words that outlive a reset by the watchdog and are lost with the power.
struct Words([u32; 4]);

impl Retained for Words {
    fn load(&mut self) -> [u32; 4] {
        self.0
    }
    fn store(&mut self, place: usize, word: u32) {
        if let Some(kept) = self.0.get_mut(place) {
            *kept = word;
        }
    }
}

fn main() {
    // 1. Here the watchdog is started. Then the reset is counted, with what the chip says of its cause.
    let resets = Resets::begin(Words([0; 4]), RestartCause::PowerOn);
    // 2. Clocks and parts, none of which is waited for without end. Relay pins stay as they are.
    let wires = Wires {
        circulator: Pad(false, false),
        boiler_call: Pad(false, false),
        alarm: Pad(false, false),
        drives: [Drive::ActiveHigh; 3],
        lamp: Pad(false, false),
        bus: Pad(true, true),
        second_bus: None,
        feedback: None,
        button: None,
    };
    let rest = Rest {
        delay: hal::Delay,
        analog: NoAnalog,
        flash: hal::Flash::new(96 * 1024),
        watchdog: Dog,
        unit: 1,
    };
    let mut app = App::<Template>::new(hardware(wires, rest), resets);
    // 3. The serial line, 115 200 baud, its input pulled up; and the loop, which never waits for it.
    let (serial, uptime_ms, mut turns) = (hal::Serial::new(), hal::clock(), Turns::default());
    loop {
        turns.turn(
            &mut app,
            uptime_ms(),
            || serial.read(),
            |byte| serial.write(byte),
        );
    }
}
