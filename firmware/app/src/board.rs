//! What a board has to supply.

use core::ops::Range;

use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{InputPin, OutputPin, StatefulOutputPin};
use embedded_storage::nor_flash::NorFlash;

use crate::duty::Healthy;
use crate::relay::Wiring;
use crate::resets::Retained;

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

/// Flash addresses: multiples of the erase size, not overlapping.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Layout {
    /// Settings, sensor names and restart record: at least two erase sectors; eight last for decades.
    pub store: Range<u32>,
    /// Log of the last days: at least two erase sectors.
    pub history: Range<u32>,
}
