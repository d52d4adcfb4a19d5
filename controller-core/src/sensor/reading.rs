//! What later stages see of one sensor: a value, how far it may be trusted, and why not further.

use crate::settings::SUSPECT_MARGIN;
use crate::time::Duration;
use crate::units::Celsius;

/// How far a reading may be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Trust {
    /// As a number.
    Good,
    /// As a number moved half a kelvin towards the unsafe side; the slab is kept warmer meanwhile.
    Suspect,
    /// Not at all.
    Bad,
}

/// What is wrong with a reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ReadingFault {
    /// Nothing.
    None,
    /// Not one good read since boot.
    Unseen,
    /// Reads fail.
    Lost,
    /// Outside what this place can have.
    Range,
    /// Moved faster than this place can.
    Jump,
    /// Does not move when it must.
    Stuck,
    /// The chip keeps starting up: look at its supply.
    PowerOn,
    /// Other readings contradict it.
    Contradicted,
    /// It was wrong and has not been good for long enough.
    Returning,
}

impl ReadingFault {
    /// The word for this fault in columns and messages.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::None => "good",
            Self::Unseen => "unseen",
            Self::Lost => "lost",
            Self::Range => "range",
            Self::Jump => "jump",
            Self::Stuck => "stuck",
            Self::PowerOn => "power_on",
            Self::Contradicted => "contradicted",
            Self::Returning => "returning",
        }
    }
}

/// What later stages see of one sensor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Reading {
    /// How far it may be trusted.
    pub trust: Trust,
    /// Why not further.
    pub fault: ReadingFault,
    /// Smoothed value, °C; the last one while reads fail or are doubted; `None` when Bad.
    pub value: Option<Celsius>,
    /// This cycle's read, in range but otherwise unjudged, °C, even when Bad: there only for judging
    /// whether the sensor has recovered.
    pub seen: Option<Celsius>,
    /// The same of the cycle before.
    pub before: Option<Celsius>,
    /// Time since a read was last accepted.
    pub age: Duration,
    /// Reads scatter more than they should.
    pub noisy: bool,
}

impl Default for Reading {
    fn default() -> Self {
        Self::UNSEEN
    }
}

impl Reading {
    /// Nothing known.
    pub const UNSEEN: Self = Self {
        trust: Trust::Suspect,
        fault: ReadingFault::Unseen,
        value: None,
        seen: None,
        before: None,
        age: Duration::MAX,
        noisy: false,
    };

    /// This cycle's read, in range but otherwise unjudged, °C; `None` when Bad.
    #[must_use]
    pub const fn raw(&self) -> Option<Celsius> {
        if self.is_lost() { None } else { self.seen }
    }

    /// The warmer of the last two reads in a row, °C: if this is cold, both were.
    #[must_use]
    pub fn at_most(&self) -> Option<Celsius> {
        Some(self.raw()?.max(self.before?))
    }

    /// The colder of the last two reads in a row, °C: if this is hot, both were.
    #[must_use]
    pub fn at_least(&self) -> Option<Celsius> {
        Some(self.raw()?.min(self.before?))
    }

    /// Fully trusted, with a value.
    #[must_use]
    pub const fn good(&self) -> Option<Celsius> {
        match self.trust {
            Trust::Good => self.value,
            Trust::Suspect | Trust::Bad => None,
        }
    }

    /// The value moved down by the margin if doubted, °C.
    #[must_use]
    pub fn cold_side(&self) -> Option<Celsius> {
        match self.trust {
            Trust::Good => self.value,
            Trust::Suspect => self.value.map(|t| t - SUSPECT_MARGIN),
            Trust::Bad => None,
        }
    }

    /// Is there nothing to go by?
    #[must_use]
    pub const fn is_lost(&self) -> bool {
        matches!(self.trust, Trust::Bad)
    }
}

/// What the rest of the system says about how fast the pipes may change.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Excitation {
    /// A pump or boiler relay changed in the last ten minutes.
    Busy,
    /// Nothing did.
    Quiet,
}

/// What the comparison of sensors said of one of them, a step ago.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Verdict {
    /// Nothing against it.
    #[default]
    Fine,
    /// Others contradict it.
    Contradicted,
    /// It did not move when heat must have moved it, or nothing confirms it: as good as lost.
    Stuck,
}
