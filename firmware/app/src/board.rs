//! What a board has to supply.

use core::ops::Range;

use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{InputPin, OutputPin, StatefulOutputPin};
use embedded_storage::nor_flash::NorFlash;

use crate::duty::Healthy;
use crate::relay::Wiring;
use crate::resets::Retained;
use crate::{history, store};

/// Reads a divider's voltage as a share of its reference.
///
/// `embedded-hal` 1.0 has no trait for this.
pub trait ReadShare {
    /// The converter's own error.
    type Error;

    /// Share of full scale, 1/65536 (a 12-bit code times 16), on one of the board's numbered inputs.
    ///
    /// # Errors
    /// If the conversion failed or there is no such input; the reading is then missing.
    fn read_share(&mut self, channel: u8) -> Result<u16, Self::Error>;
}

/// For boards without thermistor inputs.
#[derive(Clone, Copy, Debug)]
pub struct NoAnalog;

impl ReadShare for NoAnalog {
    type Error = ();
    fn read_share(&mut self, _: u8) -> Result<u16, ()> {
        Err(())
    }
}

/// Resets the processor unless fed in time.
pub trait Watchdog {
    /// Starts the time anew. What it takes can only be had from a cycle that did all of its duties.
    fn feed(&mut self, healthy: Healthy);
}

/// The types a board is made of.
///
/// What a board owes: it starts the watchdog and calls [`Resets::begin`](crate::Resets::begin) before it
/// starts anything else; whatever it then waits for, it waits for no longer than a watchdog's time; and it
/// leaves relay pins alone. The bus needs at least [`LEAST_CLOCK_HZ`]: a read slot is over 15 µs after the
/// fall, and pins, waits and the code between take a few hundred cycles of it.
pub trait Board {
    /// What the serial line calls it.
    const NAME: &'static str;
    /// Open-drain pin of the sensor bus: "high" releases the wire.
    type Bus: InputPin + OutputPin;
    /// Waits of some microseconds, at most two longer than asked.
    type Delay: DelayNs;
    /// Thermistor inputs. None may be waited for without end.
    type Analog: ReadShare;
    /// Relay pins, not driven yet; each can tell what its pad carries.
    type Relay: StatefulOutputPin;
    /// Status lamp.
    type Lamp: OutputPin;
    /// Optional contact that closes (reads low) while the circulator really runs.
    type Feedback: InputPin;
    /// Optional button to ground (reads low while it is pressed).
    type Button: InputPin;
    /// Flash for settings and log.
    type Flash: NorFlash;
    /// Watchdog.
    type Watchdog: Watchdog;
    /// Words that outlive a reset.
    type Retained: Retained;
}

/// Processor clock below which the sensor bus cannot keep its times: 300 cycles in 15 µs make 20 MHz; twice that
/// leaves a slow pad and a slow wait their share. Status: judgement; the Pico has 125 MHz, and its slots are
/// measured in the emulator.
pub const LEAST_CLOCK_HZ: u32 = 40_000_000;

/// One board's parts, in the state the reset left them.
pub struct Hardware<B: Board> {
    /// Circulator relay.
    pub circulator: (B::Relay, Wiring),
    /// Boiler call relay.
    pub boiler_call: (B::Relay, Wiring),
    /// Alarm relay.
    pub alarm: (B::Relay, Wiring),
    /// Status lamp, lit when high.
    pub lamp: B::Lamp,
    /// Sensor bus.
    pub bus: B::Bus,
    /// Its second wire, if there is one: a short on one leaves the chips on the other.
    pub second_bus: Option<B::Bus>,
    /// Waits.
    pub delay: B::Delay,
    /// Thermistor inputs.
    pub analog: B::Analog,
    /// Circulator feedback, if wired.
    pub feedback: Option<B::Feedback>,
    /// The button, if there is one.
    pub button: Option<B::Button>,
    /// Flash.
    pub flash: B::Flash,
    /// Watchdog, already running.
    pub watchdog: B::Watchdog,
    /// Where in the flash things are kept.
    pub layout: Layout,
    /// A number that differs from unit to unit, or a random one.
    pub unit: u32,
}

/// Flash addresses: whole erase sectors, not overlapping. [`Layout::fits`] says whether a flash can hold them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Layout {
    /// Settings, sensor names and restart record: at least two erase sectors; eight last for decades.
    pub store: Range<u32>,
    /// Log of the last days: at least two erase sectors.
    pub history: Range<u32>,
}

impl Layout {
    /// Can settings and log be kept here, in a flash that erases and writes so many bytes at once? Whatever the size
    /// of a sector, each region needs two.
    #[must_use]
    pub const fn fits(&self, erase: usize, write: usize) -> bool {
        let slots = store::SLOT.is_multiple_of(history::SLOT)
            && history::SLOT.is_multiple_of(write)
            && erase.is_multiple_of(store::SLOT)
            && erase > 0;
        let apart = self.store.end <= self.history.start || self.history.end <= self.store.start;
        slots && apart && is_whole(&self.store, erase) && is_whole(&self.history, erase)
    }
}

/// Two or more whole sectors.
const fn is_whole(range: &Range<u32>, erase: usize) -> bool {
    let (start, end) = (range.start as usize, range.end as usize);
    start.is_multiple_of(erase)
        && end.is_multiple_of(erase)
        && end.saturating_sub(start) >= erase.saturating_mul(2)
}

#[cfg(test)]
mod tests {
    use super::*;

    const KIB: u32 = 1_024;

    fn layout(store: Range<u32>, history: Range<u32>) -> Layout {
        Layout {
            store: store.start * KIB..store.end * KIB,
            history: history.start * KIB..history.end * KIB,
        }
    }

    #[test]
    fn a_layout_fits_whole_sectors_of_any_size_or_is_refused() {
        let (kib, large) = (KIB as usize, 128 * KIB as usize);
        assert!(layout(0..8, 8..16).fits(4 * kib, 1));
        assert!(layout(0..32, 32..96).fits(4 * kib, 256 / 8));
        assert!(layout(0..256, 256..512).fits(large, 4));
        for (layout, erase, write, why) in [
            (layout(0..8, 8..16), large, 1, "no whole sector"),
            (layout(0..128, 128..512), large, 1, "one sector only"),
            (
                layout(64..320, 384..640),
                large,
                1,
                "not at a sector's start",
            ),
            (layout(0..256, 128..512), large, 1, "overlapping"),
            (layout(0..8, 8..16), 4 * kib, 64, "words larger than a row"),
            (layout(0..8, 8..16), 512, 1, "sectors smaller than an image"),
            (layout(0..8, 8..16), 0, 1, "no sectors"),
        ] {
            assert!(!layout.fits(erase, write), "{why}");
        }
    }
}
