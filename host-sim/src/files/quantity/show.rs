//! Numbers as text, in the units asked for, with no more digits than they are worth.

use crate::files::quantity::{Dimension, Units, convert};

/// How to show numbers.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Show(pub(crate) Units);

impl Show {
    /// A temperature for a plot, in the shown unit.
    pub(crate) fn degrees(self, celsius: f64) -> f64 {
        convert(celsius, Dimension::Temperature, self.0).0
    }

    pub(crate) fn degree_unit(self) -> &'static str {
        Dimension::Temperature.display_unit(self.0)
    }

    pub(crate) fn temperature(self, celsius: f64) -> String {
        self.number(celsius, Dimension::Temperature, 1)
    }

    pub(crate) fn difference(self, kelvin: f64) -> String {
        self.number(kelvin, Dimension::TemperatureDifference, 1)
    }

    /// Kelvin times hours.
    pub(crate) fn degree_hours(self, kelvin_hours: f64) -> String {
        let (value, unit) = convert(kelvin_hours, Dimension::TemperatureDifference, self.0);
        format!("{} {unit}·h", fixed(value, 1))
    }

    /// Heat, kWh. Electricity stays in kWh everywhere: that is how it is sold.
    pub(crate) fn heat(self, kwh: f64) -> String {
        self.scaled(kwh, Dimension::Energy)
    }

    pub(crate) fn heat_value(self, kwh: f64) -> f64 {
        convert(kwh, Dimension::Energy, self.0).0
    }

    pub(crate) fn heat_unit(self) -> &'static str {
        Dimension::Energy.display_unit(self.0)
    }

    /// Heat with its band.
    pub(crate) fn heat_within(self, kwh: f64, error_kwh: Option<f64>) -> String {
        let (value, unit) = convert(kwh, Dimension::Energy, self.0);
        match error_kwh {
            Some(error) => {
                let (error, _) = convert(error, Dimension::Energy, self.0);
                let digits = digits_for(value.abs().max(error));
                format!("{} ± {} {unit}", fixed(value, digits), fixed(error, digits))
            }
            None => self.heat(kwh),
        }
    }

    pub(crate) fn mass(self, kilograms: f64) -> String {
        self.scaled(kilograms, Dimension::Mass)
    }

    /// A heat loss coefficient, W/K.
    pub(crate) fn heat_loss(self, watts_per_kelvin: f64) -> String {
        self.scaled(watts_per_kelvin, Dimension::HeatLoss)
    }

    /// A value in its base unit with so many digits after the point.
    pub(crate) fn number(self, value: f64, dimension: Dimension, digits: usize) -> String {
        let (value, unit) = convert(value, dimension, self.0);
        format!("{} {unit}", fixed(value, digits))
    }

    /// With three digits or so.
    pub(crate) fn scaled(self, value: f64, dimension: Dimension) -> String {
        let (value, unit) = convert(value, dimension, self.0);
        format!("{} {unit}", fixed(value, digits_for(value)))
    }
}

/// Three digits or so.
const fn digits_for(value: f64) -> usize {
    match value.abs() {
        0.0 => 0,
        ..10.0 => 2,
        ..100.0 => 1,
        _ => 0,
    }
}

/// Fixed digits, without a negative zero.
pub(crate) fn fixed(value: f64, digits: usize) -> String {
    let text = format!("{value:.digits$}");
    let is_zero = text
        .trim_start_matches('-')
        .chars()
        .all(|c| c == '0' || c == '.');
    match text.strip_prefix('-') {
        Some(rest) if is_zero => rest.to_owned(),
        _ => text,
    }
}

/// Hours.
pub(crate) fn hours(hours: f64) -> String {
    format!("{} h", fixed(hours, 1))
}

/// Electricity, kWh.
pub(crate) fn electricity(kwh: f64) -> String {
    format!("{} kWh", fixed(kwh, digits_for(kwh)))
}

/// A length of time in its largest fitting unit.
pub(crate) fn length(ms: u64) -> String {
    let seconds = ms as f64 / 1_000.0;
    match seconds {
        ..120.0 => format!("{} s", fixed(seconds, 0)),
        ..7_200.0 => format!("{} min", fixed(seconds / 60.0, 0)),
        ..172_800.0 => format!("{} h", fixed(seconds / 3_600.0, 1)),
        _ => format!("{} days", fixed(seconds / 86_400.0, 1)),
    }
}

/// "1 call", "2 calls".
pub(crate) fn counted(count: u64, word: &str) -> String {
    let ending = if count == 1 { "" } else { "s" };
    format!("{count} {word}{ending}")
}
