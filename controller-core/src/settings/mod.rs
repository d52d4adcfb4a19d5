//! Settings: what the owner may choose, with every default, range and relation in one place.
//!
//! [`RawSettings`] is what a file or a serial line says. [`Settings`] has been checked and cannot
//! be built any other way, so no other stage ever looks at a range again.

mod check;
mod fields;

pub use check::{Problem, Problems, Relation};
pub use fields::{BoilerKind, Field, Group, Key, Kind, Mode, RawSettings};

use fixed::types::I16F16;

use crate::time::Duration;
use crate::units::{Celsius, Kelvin, Watts, product};

/// Half a reading's usual error, K: what a suspect reading is moved towards the unsafe side.
/// Status: judgement; the common digital sensor is sold as ±0.5 K.
pub const SUSPECT_MARGIN: Kelvin = Kelvin::from_milli(500);

/// A rule of the decision that can be left out, to see what it earns ([`Settings::without`]).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rule {
    /// The return of moving water is a second reading of the slab.
    Witness,
    /// In frost the water is asked now and then.
    Look,
    /// The circulator runs on while the slab's sensor is doubted or lost.
    Blind,
    /// Heat must move slab and return.
    Answer,
    /// A hot supply that the return does not confirm is lost.
    HotSupply,
    /// With a sensor in doubt the slab is kept warmer.
    Spare,
    /// A call by the return water.
    ByWater,
    /// A call must show heat.
    Proof,
    /// In an emergency a limit halves a call.
    Halved,
    /// The circulator runs for the band only while the supply is warmer than the slab.
    Differential,
    /// Cold pipe water runs the circulator.
    Pipes,
    /// A circulator that moves no water rests and is started again; no call meanwhile.
    Flow,
    /// Overheated water stops the circulator.
    Trip,
}

impl Rule {
    /// All, with the words for each.
    pub const ALL: [(Self, &'static str); 13] = [
        (Self::Witness, "word of the water on the slab"),
        (Self::Look, "look in frost"),
        (Self::Blind, "run with a doubted slab"),
        (Self::Answer, "loss of a sensor that answers no heat"),
        (Self::HotSupply, "loss of a supply that is hot alone"),
        (Self::Spare, "margin for a sensor in doubt"),
        (Self::ByWater, "call by the return water"),
        (Self::Proof, "proof of heat"),
        (Self::Halved, "halved call in an emergency"),
        (Self::Differential, "differential"),
        (Self::Pipes, "pipe frost"),
        (Self::Flow, "proof of flow"),
        (Self::Trip, "overheat trip"),
    ];
}

/// Checked settings. Dereferences to the raw values for reading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Settings {
    raw: RawSettings,
    /// Heat carried per kelvin, W/K, at the set flow.
    conductance: I16F16,
    /// Flow after which moving water must have shown itself: two settling times.
    pub(crate) flow_shown: Duration,
    /// Rules left out, a bit each.
    #[cfg(feature = "ablation")]
    without: u16,
}

impl core::ops::Deref for Settings {
    type Target = RawSettings;
    fn deref(&self) -> &RawSettings {
        &self.raw
    }
}

impl Default for Settings {
    /// The demonstration site's settings, which pass every check (a test holds this). No other house's: what a
    /// unit does that was told nothing is its firmware's to say.
    fn default() -> Self {
        Self::from_checked(RawSettings::DEFAULT)
    }
}

impl Settings {
    /// Checks every range and relation.
    ///
    /// # Errors
    /// All problems found, up to the list's capacity; nothing is adopted.
    #[expect(clippy::result_large_err, reason = "no heap to box it into")]
    pub fn check(raw: RawSettings) -> Result<Self, Problems> {
        let problems = check::problems(&raw);
        if problems.is_empty() {
            Ok(Self::from_checked(raw))
        } else {
            Err(problems)
        }
    }

    fn from_checked(raw: RawSettings) -> Self {
        Self {
            conductance: check::conductance(&raw),
            flow_shown: raw.settling_time.times(2),
            #[cfg(feature = "ablation")]
            without: 0,
            raw,
        }
    }

    /// Is this rule in force? Always, but in a build that compares.
    #[inline]
    pub(crate) const fn keeps(&self, rule: Rule) -> bool {
        #[cfg(feature = "ablation")]
        let left_out = self.without & 1_u16.wrapping_shl(rule as u32) != 0;
        #[cfg(not(feature = "ablation"))]
        let left_out = {
            let _ = rule;
            false
        };
        !left_out
    }

    /// The same settings with one more rule left out.
    #[cfg(feature = "ablation")]
    #[must_use]
    pub const fn without(mut self, rule: Rule) -> Self {
        self.without |= 1_u16.wrapping_shl(rule as u32);
        self
    }

    /// Takes other settings; what is left out stays so.
    pub(crate) fn adopt(&mut self, other: &Self) {
        #[cfg(feature = "ablation")]
        let without = self.without;
        self.clone_from(other);
        #[cfg(feature = "ablation")]
        {
            self.without |= without;
        }
    }

    /// The values as they were given.
    #[must_use]
    pub const fn raw(&self) -> &RawSettings {
        &self.raw
    }

    /// Heat the water carries at this difference, W, saturating.
    #[must_use]
    pub fn heat(&self, difference: Kelvin) -> Watts {
        Watts::from_bits(product(self.conductance.to_bits(), difference.to_bits()))
    }

    /// Shortest boiler call.
    #[must_use]
    pub const fn boiler_min_on(&self) -> Duration {
        match self.raw.boiler {
            BoilerKind::Injection => self.raw.injection_min_on,
            BoilerKind::Firing | BoilerKind::None => self.raw.firing_min_on,
        }
    }

    /// Shortest rest between boiler calls.
    #[must_use]
    pub const fn boiler_min_off(&self) -> Duration {
        match self.raw.boiler {
            BoilerKind::Injection => self.raw.injection_min_off,
            BoilerKind::Firing | BoilerKind::None => self.raw.firing_min_off,
        }
    }

    /// Boiler calls allowed to start in any hour.
    /// Status: common practice, no source (2 for a fire, 6 for a valve on a hot jacket).
    #[must_use]
    pub const fn boiler_starts(&self) -> u8 {
        match self.raw.boiler {
            BoilerKind::Injection => 6,
            BoilerKind::Firing | BoilerKind::None => 2,
        }
    }

    /// Supply temperature above which no heat is called, °C (lower while commissioning new concrete).
    #[must_use]
    pub fn soft_limit(&self) -> Celsius {
        match self.raw.mode {
            Mode::Commissioning => self.raw.supply_soft.min(Celsius::from_milli(25_000)),
            Mode::Winter | Mode::Summer | Mode::Drained => self.raw.supply_soft,
        }
    }

    /// These settings in another mode.
    #[must_use]
    pub fn in_mode(&self, mode: Mode) -> Self {
        let mut other = self.clone();
        other.raw.mode = mode;
        other
    }
}

#[cfg(test)]
mod tests;
