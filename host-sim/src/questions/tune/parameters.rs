//! What may be tuned: economy and comfort of the run, never what protects.
//!
//! Settings of the groups that protect and that are measured are left out on purpose, and so is what the house is for: a test
//! reads the groups from the settings' own table.

use controller_core::settings::{BoilerKind, Key, Kind, RawSettings};

/// One setting that may be tuned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Parameter {
    /// Which setting.
    pub key: Key,
    /// Lowest value tried, in °C or K by the setting's kind; inside the setting's own range.
    pub low: f64,
    /// Highest value tried.
    pub high: f64,
    /// Values tried are whole steps from `low`: no finer than a person would set.
    pub step: f64,
    /// Needs a backup boiler to mean anything.
    pub boiler: bool,
    /// What is weighed.
    pub why: &'static str,
}

const fn even(key: Key, low: f64, high: f64, step: f64, why: &'static str) -> Parameter {
    Parameter {
        key,
        low,
        high,
        step,
        boiler: false,
        why,
    }
}

const fn backup(parameter: Parameter) -> Parameter {
    Parameter {
        boiler: true,
        ..parameter
    }
}

/// Every setting that may be tuned. Ranges are the useful part of the checked ranges. Status: judgement.
pub const PARAMETERS: [Parameter; 5] = [
    even(
        Key::SlabSet,
        3.2,
        8.0,
        0.1,
        "warmth kept in hand against wood and store",
    ),
    even(
        Key::SlabBand,
        0.4,
        3.0,
        0.1,
        "fewer starts against a deeper dip",
    ),
    even(
        Key::StartDifference,
        1.5,
        6.0,
        0.1,
        "more earth heat against more starts",
    ),
    even(
        Key::StopDifference,
        0.4,
        2.0,
        0.05,
        "more earth heat against electricity",
    ),
    backup(even(Key::BackupSlab, 1.9, 3.4, 0.1, "wood against warmth")),
];

/// Bits of a value given in the parameter's unit.
#[must_use]
pub fn bits(kind: Kind, value: f64) -> i32 {
    let per_unit = match kind {
        Kind::Time => 60_000.0,
        _ => 65_536.0,
    };
    (value * per_unit).round() as i32
}

/// Value in the parameter's unit.
#[must_use]
pub fn value(kind: Kind, bits: i32) -> f64 {
    let per_unit = match kind {
        Kind::Time => 60_000.0,
        _ => 65_536.0,
    };
    f64::from(bits) / per_unit
}

impl Parameter {
    /// The value at a place of the range, 0 to 1, on its grid.
    #[must_use]
    pub fn at(&self, place: f64) -> f64 {
        let place = place.clamp(0.0, 1.0);
        let free = self.low + (self.high - self.low) * place;
        let steps = ((free - self.low) / self.step).round();
        (self.low + steps * self.step).min(self.high)
    }

    /// The place of a value in the range, 0 to 1; a value outside takes the nearer end.
    #[must_use]
    pub fn place(&self, value: f64) -> f64 {
        let place = (value - self.low) / (self.high - self.low);
        place.clamp(0.0, 1.0)
    }

    /// This setting's value in its unit.
    #[must_use]
    pub fn of(&self, settings: &RawSettings) -> f64 {
        value(self.key.field().kind, settings.bits(self.key))
    }
}

/// The parameters that mean something with these settings.
#[must_use]
pub fn of_use(base: &RawSettings) -> Vec<Parameter> {
    PARAMETERS
        .into_iter()
        .filter(|p| !p.boiler || base.boiler != BoilerKind::None)
        .collect()
}
