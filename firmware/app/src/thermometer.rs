//! DS18B20 thermometers on the bus.
//!
//! Frames are judged by the core; a garbled one is read again. On top, two marker bytes are kept in every chip's alarm registers
//! (never copied to its EEPROM): where they have reverted, the chip lost power, and an exact 85.00 °C
//! is its power-on value whatever its other bytes say.
//! Source: DS18B20 data sheet (commands, scratchpad layout, conversion time).

use controller_core::sensor::{ReadFault, Sample, ds18b20};
use controller_core::time::Duration;
use controller_core::units::Celsius;
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{InputPin, OutputPin};

use crate::bus_quality::Share;
use crate::one_wire::{BusFault, OneWire, Rom};

/// Family code in the first byte of a DS18B20's identity.
pub const FAMILY: u8 = 0x28;

/// Longest conversion at 12 bit, 750 ms, and a little for the clock.
pub const CONVERSION: Duration = Duration::from_millis(760);

const CONVERT: u8 = 0x44;
const READ_SCRATCHPAD: u8 = 0xBE;
const WRITE_SCRATCHPAD: u8 = 0x4E;
/// Differs from the registers' usual factory values 4Bh, 46h.
const MARKER: [u8; 2] = [0x35, 0xCA];
const TWELVE_BIT: u8 = 0x7F;
/// 85 °C in 1/16 K, the power-on value.
const POWER_ON: Celsius = Celsius::from_128ths(85 * 128);

/// Starts a conversion in every chip at once.
///
/// # Errors
/// If no chip answers.
pub fn start_all<P: InputPin + OutputPin, D: DelayNs>(
    bus: &mut OneWire<P, D>,
) -> Result<(), BusFault> {
    bus.select_all()?;
    bus.write(CONVERT)
}

/// One chip's reading, and what it took.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Read {
    /// The reading; what went wrong is in it.
    pub sample: Sample,
    /// Frames it took, and how many of them failed their checksum.
    pub share: Share,
}

/// Times a garbled frame is read again: one takes 11 ms, and the conversion's result stays.
const AGAIN: u16 = 3;

/// Reads one chip after its conversion, again if the frame is garbled. Never fails.
pub fn read<P: InputPin + OutputPin, D: DelayNs>(bus: &mut OneWire<P, D>, rom: &Rom) -> Read {
    let mut share = Share::default();
    loop {
        share.frames = share.frames.saturating_add(1);
        let sample = read_once(bus, rom);
        if sample != Sample::Failed(ReadFault::Checksum) {
            return Read { sample, share };
        }
        share.garbled = share.garbled.saturating_add(1);
        if share.frames > AGAIN {
            return Read { sample, share };
        }
    }
}

fn read_once<P: InputPin + OutputPin, D: DelayNs>(bus: &mut OneWire<P, D>, rom: &Rom) -> Sample {
    let frame = match frame(bus, rom) {
        Ok(frame) => frame,
        Err(BusFault::Shorted) => return Sample::Failed(ReadFault::Short),
        Err(BusFault::Silent) => return Sample::Failed(ReadFault::Absent),
        Err(BusFault::Garbled) => return Sample::Failed(ReadFault::Checksum),
        Err(BusFault::Pin) => return Sample::Failed(ReadFault::Missing),
    };
    let sample = ds18b20::decode(&frame);
    if let Sample::Failed(ReadFault::Absent | ReadFault::Short | ReadFault::Checksum) = sample {
        return sample;
    }
    let [_, _, high, low, config, ..] = frame;
    if [high, low] == MARKER && config == TWELVE_BIT {
        return sample;
    }
    // The chip is new or has lost power. Failing to mark it now only means trying again.
    let _ = mark(bus, rom);
    if sample.value() == Some(POWER_ON) {
        return Sample::Failed(ReadFault::PowerOn);
    }
    sample
}

fn frame<P: InputPin + OutputPin, D: DelayNs>(
    bus: &mut OneWire<P, D>,
    rom: &Rom,
) -> Result<[u8; 9], BusFault> {
    bus.select(rom)?;
    bus.write(READ_SCRATCHPAD)?;
    let mut frame = [0; 9];
    for byte in &mut frame {
        *byte = bus.read()?;
    }
    Ok(frame)
}

fn mark<P: InputPin + OutputPin, D: DelayNs>(
    bus: &mut OneWire<P, D>,
    rom: &Rom,
) -> Result<(), BusFault> {
    bus.select(rom)?;
    bus.write(WRITE_SCRATCHPAD)?;
    MARKER
        .into_iter()
        .chain([TWELVE_BIT])
        .try_for_each(|byte| bus.write(byte))
}

#[cfg(test)]
#[path = "thermometer_tests.rs"]
mod tests;
