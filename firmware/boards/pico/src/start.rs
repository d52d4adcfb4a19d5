//! What happens before anything else: the watchdog runs, and the reset that led here is counted.

use controller_core::restart::RestartCause;
use embassy_rp::pac;
use firmware_app::{Resets, Retained};

/// Reset unless fed for this long.
pub const WATCHDOG_US: u32 = 4_000_000;

/// Registers of the watchdog that keep their value through its resets and lose it with the power.
pub struct Scratch;

impl Scratch {
    fn register(place: usize) -> Option<embassy_rp::pac::common::Reg<u32, pac::common::RW>> {
        let dog = pac::WATCHDOG;
        // The boot ROM uses the four after these.
        match place {
            0 => Some(dog.scratch0()),
            1 => Some(dog.scratch1()),
            2 => Some(dog.scratch2()),
            3 => Some(dog.scratch3()),
            _ => None,
        }
    }
}

impl Retained for Scratch {
    fn load(&mut self) -> [u32; 4] {
        core::array::from_fn(|place| Self::register(place).map_or(0, |register| register.read()))
    }
    fn store(&mut self, place: usize, word: u32) {
        if let Some(register) = Self::register(place) {
            register.write_value(word);
        }
    }
}

/// The first lines of the program. The clocks are those of a reset: the watchdog's tick comes from a ring
/// oscillator of 1.8 to 12 MHz (data sheet), so that its four seconds are two to fourteen of real time
/// until the crystal runs, and four from then on.
pub fn first() -> Resets<Scratch> {
    let dog = pac::WATCHDOG;
    let reason = dog.reason().read();
    // Everything is reset with the processor, but the two oscillators.
    pac::PSM.wdsel().write(|all| {
        all.0 = 0x0001_FFFC;
    });
    dog.tick().write(|tick| {
        tick.set_cycles(6);
        tick.set_enable(true);
    });
    reload();
    dog.ctrl().write(|ctrl| {
        ctrl.set_pause_dbg0(true);
        ctrl.set_pause_dbg1(true);
        ctrl.set_pause_jtag(true);
        ctrl.set_enable(true);
    });
    let cause = if reason.force() {
        RestartCause::Requested
    } else if reason.timer() {
        RestartCause::Watchdog
    } else {
        // This chip does not tell a sagging supply from a new one.
        RestartCause::PowerOn
    };
    Resets::begin(Scratch, cause)
}

/// Starts the watchdog's time anew.
pub fn reload() {
    // It counts down twice a microsecond (erratum RP2040-E1).
    pac::WATCHDOG
        .load()
        .write(|load| load.set_load(2 * WATCHDOG_US));
}
