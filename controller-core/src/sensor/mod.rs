//! From a raw sample to a reading that says how far it can be trusted.
//!
//! First stage of the flow. A missing reading is a state, never a number; what failed and for how
//! long is kept beside it. Nothing here knows what a reading is used for.

mod check;
pub mod ds18b20;
mod filter;
pub mod ntc;
mod reading;

pub use check::{Cycle, SensorCheck};
pub(crate) use filter::Smoother;
pub use reading::{Excitation, Reading, ReadingFault, Trust, Verdict};

use crate::units::Celsius;

/// The four readings a decision rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Sensor {
    /// Water entering the slab.
    Supply,
    /// Water leaving the slab.
    Return,
    /// The slab itself.
    Slab,
    /// Outdoor air.
    Outdoor,
}

impl Sensor {
    /// All four, in the order of the log's columns.
    pub const ALL: [Self; 4] = [Self::Supply, Self::Return, Self::Slab, Self::Outdoor];

    /// The word for this sensor in columns and messages.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Supply => "supply",
            Self::Return => "return",
            Self::Slab => "slab",
            Self::Outdoor => "outdoor",
        }
    }
}

/// One thing for each sensor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct BySensor<T> {
    /// For the supply.
    pub supply: T,
    /// For the return.
    pub ret: T,
    /// For the slab.
    pub slab: T,
    /// For the outdoor air.
    pub outdoor: T,
}

impl<T> BySensor<T> {
    /// The one for this sensor.
    #[must_use]
    pub const fn get(&self, sensor: Sensor) -> &T {
        match sensor {
            Sensor::Supply => &self.supply,
            Sensor::Return => &self.ret,
            Sensor::Slab => &self.slab,
            Sensor::Outdoor => &self.outdoor,
        }
    }

    /// The one for this sensor, to change.
    #[must_use]
    pub const fn get_mut(&mut self, sensor: Sensor) -> &mut T {
        match sensor {
            Sensor::Supply => &mut self.supply,
            Sensor::Return => &mut self.ret,
            Sensor::Slab => &mut self.slab,
            Sensor::Outdoor => &mut self.outdoor,
        }
    }

    /// Is it so of each?
    pub(crate) fn all(&self, is_so: impl Fn(&T) -> bool) -> bool {
        is_so(&self.supply) && is_so(&self.ret) && is_so(&self.slab) && is_so(&self.outdoor)
    }

    /// Makes one for each sensor.
    #[must_use]
    pub fn from_fn(mut make: impl FnMut(Sensor) -> T) -> Self {
        Self {
            supply: make(Sensor::Supply),
            ret: make(Sensor::Return),
            slab: make(Sensor::Slab),
            outdoor: make(Sensor::Outdoor),
        }
    }
}

/// What one read of one sensor brought.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Sample {
    /// A temperature, source unknown: 85.00 °C may be a chip's power-on value.
    Value(Celsius),
    /// A temperature whose frame was checked: 85.00 °C is real.
    Framed(Celsius),
    /// No temperature.
    Failed(ReadFault),
}

/// Why a read brought no temperature.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ReadFault {
    /// Nothing known: an empty cell, a gap.
    Missing,
    /// No answer on the bus, or a broken wire.
    Absent,
    /// A frame that fails its checksum.
    Checksum,
    /// A chip's power-on value.
    PowerOn,
    /// A wire or bus shorted.
    Short,
    /// A number no reading can have.
    Impossible,
}

impl Sample {
    /// Every status word with the fault it stands for; values are `ok` and `frame`.
    pub const FAULT_WORDS: [(&'static str, ReadFault); 6] = [
        ("missing", ReadFault::Missing),
        ("absent", ReadFault::Absent),
        ("checksum", ReadFault::Checksum),
        ("power_on", ReadFault::PowerOn),
        ("short", ReadFault::Short),
        ("impossible", ReadFault::Impossible),
    ];

    /// The word for this sample in the log's status columns.
    #[must_use]
    pub fn status(self) -> &'static str {
        match self {
            Self::Value(_) => "ok",
            Self::Framed(_) => "frame",
            Self::Failed(fault) => Self::FAULT_WORDS
                .iter()
                .find(|(_, f)| *f == fault)
                .map_or("missing", |(word, _)| word),
        }
    }

    /// The temperature, if one came.
    #[must_use]
    pub const fn value(self) -> Option<Celsius> {
        match self {
            Self::Value(t) | Self::Framed(t) => Some(t),
            Self::Failed(_) => None,
        }
    }
}

impl Default for Sample {
    fn default() -> Self {
        Self::Failed(ReadFault::Missing)
    }
}

impl BySensor<Reading> {
    /// Those that are lost: supply 1, return 2, slab 4, outdoor 8.
    #[must_use]
    pub fn lost(&self) -> u8 {
        let bit = |reading: &Reading, bit| if reading.is_lost() { bit } else { 0 };
        bit(&self.supply, 1) | bit(&self.ret, 2) | bit(&self.slab, 4) | bit(&self.outdoor, 8)
    }
}

#[cfg(test)]
mod check_tests;
#[cfg(test)]
mod tests;
