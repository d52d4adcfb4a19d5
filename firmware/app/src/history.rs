//! The last days in flash at reduced detail.
//!
//! One row every five minutes and at every change of a relay, about a week in 64 KiB; the oldest make
//! room. Serial numbers show how many were lost in between.
//! Read out, the rows are a log the PC's replay takes.

use core::fmt::{self, Write};
use core::ops::Range;

use controller_core::Outputs;
use controller_core::reason::Reason;
use controller_core::sensor::{BySensor, Sensor};
use controller_core::units::Celsius;
use embedded_storage::nor_flash::NorFlash;

use crate::ring::{Ring, RingFault};
use serial_line::value::write_thousandths;

/// Time between rows if nothing changes, s.
pub const EVERY_S: u32 = 300;

/// Column names of a row.
pub const HEADER: &str =
    "time_s,supply_c,return_c,slab_c,outdoor_c,circulator,boiler_call,alarm,reason,started";

/// Bytes a row takes in flash: a multiple of every usual flash word.
pub(crate) const SLOT: usize = 32;
/// Stands for a missing reading; no sensor gives it.
const MISSING: i16 = i16::MIN;
/// Of a row, in the upper half of its flags; raised whenever the words of [`Reason`] change, since a row
/// keeps a word's place. Rows of another version are not shown.
const VERSION: u8 = 1;

/// One row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Row {
    /// Seconds powered so far, over all boots.
    pub time_s: u32,
    /// Readings in 1/128 K as they came; `None` for missing.
    pub readings: BySensor<Option<Celsius>>,
    /// Relay bits.
    pub outputs: Outputs,
    /// Why.
    pub reason: Reason,
    /// First row after a boot.
    pub started: bool,
}

impl Row {
    fn to_bytes(self) -> [u8; 14] {
        let mut bytes = [0; 14];
        let mut places = bytes.iter_mut();
        let mut put = |part: &[u8]| {
            // The part first: a zip that ends takes one too many from its other side.
            for (byte, place) in part.iter().zip(places.by_ref()) {
                *place = *byte;
            }
        };
        put(&self.time_s.to_le_bytes());
        for sensor in Sensor::ALL {
            let reading = self
                .readings
                .get(sensor)
                .map_or(MISSING, Celsius::to_128ths);
            put(&reading.to_le_bytes());
        }
        let flags = u8::from(self.outputs.circulator)
            | u8::from(self.outputs.boiler_call) << 1
            | u8::from(self.outputs.alarm) << 2
            | u8::from(self.started) << 3
            | VERSION << 4;
        put(&[flags, self.reason as u8]);
        bytes
    }

    fn from_bytes(bytes: &[u8]) -> Option<Self> {
        let (time_s, rest) = bytes.split_first_chunk::<4>()?;
        let (readings, rest) = rest.split_first_chunk::<8>()?;
        let [flags, reason, ..] = rest else {
            return None;
        };
        if flags >> 4 != VERSION {
            return None;
        }
        let mut parts = readings.chunks_exact(2).map(|part| match part {
            [low, high] => i16::from_le_bytes([*low, *high]),
            _ => MISSING,
        });
        Some(Self {
            time_s: u32::from_le_bytes(*time_s),
            readings: BySensor::from_fn(|_| {
                parts
                    .next()
                    .filter(|n| *n != MISSING)
                    .map(Celsius::from_128ths)
            }),
            outputs: Outputs {
                circulator: flags & 1 != 0,
                boiler_call: flags & 2 != 0,
                alarm: flags & 4 != 0,
            },
            reason: *Reason::ALL.get(usize::from(*reason))?,
            started: flags & 8 != 0,
        })
    }

    /// Writes the row without a line end, temperatures to 0.001 K.
    ///
    /// # Errors
    /// Only those of the writer.
    pub fn write_csv(&self, out: &mut impl Write) -> fmt::Result {
        write!(out, "{}", self.time_s)?;
        for sensor in Sensor::ALL {
            out.write_str(",")?;
            if let Some(reading) = self.readings.get(sensor) {
                write_thousandths(
                    out,
                    i64::from(reading.to_128ths()).saturating_mul(1_000),
                    128,
                )?;
            }
        }
        for bit in [
            self.outputs.circulator,
            self.outputs.boiler_call,
            self.outputs.alarm,
        ] {
            out.write_str(if bit { ",1" } else { ",0" })?;
        }
        write!(out, ",{},{}", self.reason.name(), u8::from(self.started))
    }
}

/// The log.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct History {
    ring: Ring<SLOT>,
    last_s: u32,
}

impl History {
    /// Finds the newest row. An unreadable region starts empty.
    pub fn open<F: NorFlash>(flash: &mut F, range: &Range<u32>) -> Self {
        let (ring, newest) = Ring::open(flash, range);
        let newest = newest.and_then(|slot| Row::from_bytes(Ring::content(&slot)));
        Self {
            ring,
            last_s: newest.map_or(0, |row| row.time_s),
        }
    }

    /// Rows there is room for; also the number of [`Self::read`]'s places.
    #[must_use]
    pub fn places(&self) -> u32 {
        self.ring.places()
    }

    /// Rows ever written.
    #[must_use]
    pub const fn written(&self) -> u32 {
        self.ring.written()
    }

    /// Time of the newest row, s; 0 if there is none.
    #[must_use]
    pub const fn last_s(&self) -> u32 {
        self.last_s
    }

    /// Appends a row.
    ///
    /// # Errors
    /// [`RingFault`]: the row is lost.
    pub fn append<F: NorFlash>(&mut self, flash: &mut F, row: Row) -> Result<(), RingFault> {
        self.ring.append(flash, &row.to_bytes())?;
        self.last_s = row.time_s;
        Ok(())
    }

    /// The row at the `n`th place from the oldest, with its serial number; `None` where none is.
    pub fn read<F: NorFlash>(&self, flash: &mut F, n: u32) -> Option<(u32, Row)> {
        let (serial, slot) = self.ring.read(flash, n)?;
        Some((serial, Row::from_bytes(Ring::content(&slot))?))
    }
}

#[cfg(test)]
#[path = "history_tests.rs"]
mod tests;
