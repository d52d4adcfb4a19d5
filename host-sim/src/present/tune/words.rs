//! Scores and values in words, in the units asked for.

use crate::files::quantity::show::{Show, fixed};
use crate::files::quantity::{Dimension, Units, convert};
use crate::files::settings_file;
use crate::questions::tune::candidate::{Candidate, Space};
use crate::questions::tune::parameters;
use crate::questions::tune::score::{AIMS, Aim, Order, Score};

/// Scores in words, in the units asked for.
#[derive(Clone, Copy, Debug)]
pub struct Words {
    pub(crate) show: Show,
}

impl Words {
    /// In these units.
    #[must_use]
    pub fn new(units: Units) -> Self {
        Self { show: Show(units) }
    }

    /// These units.
    #[must_use]
    pub fn units(&self) -> Units {
        self.show.0
    }

    /// What an aim counts, with its unit.
    #[must_use]
    pub fn amount(&self, aim: Aim, value: f64) -> String {
        let (value, unit) = self.number(aim, value);
        format!("{} {unit}", fixed(value, digits(aim, value)))
            .trim_end()
            .to_owned()
    }

    /// What an aim counts, in the units shown.
    #[must_use]
    pub fn number(&self, aim: Aim, value: f64) -> (f64, &'static str) {
        match aim {
            Aim::Danger => (value, "h"),
            Aim::Hold => {
                let (value, unit) = convert(value, Dimension::TemperatureDifference, self.show.0);
                (value, if unit == "K" { "K·h" } else { "°F·h" })
            }
            Aim::Wood => convert(value, Dimension::Mass, self.show.0),
            Aim::Electricity => (value, "kWh"),
            Aim::Starts => (value, ""),
        }
    }

    /// A temperature.
    #[must_use]
    pub fn temperature(&self, celsius: f64) -> String {
        self.show.temperature(celsius)
    }

    /// "2.0 → 0.1 K·h below target, …".
    #[must_use]
    pub fn from_to(&self, before: &Score, after: &Score) -> String {
        let parts: Vec<String> = AIMS
            .iter()
            .filter(|line| line.aim != Aim::Danger || before.danger_s + after.danger_s > 0)
            .map(|line| {
                let from = self.amount(line.aim, shown(before, line.aim));
                let to = self.amount(line.aim, shown(after, line.aim));
                format!("{} {from} → {to}", line.name)
            })
            .collect();
        parts.join(", ")
    }

    /// What changes from `with` to `without` by at least a tenth of a step: "+3.2 K·h below target, −12 kg wood".
    #[must_use]
    pub fn change(&self, with: &Score, without: &Score, order: Order) -> String {
        let parts: Vec<String> = AIMS
            .iter()
            .filter_map(|line| {
                let change = shown(without, line.aim) - shown(with, line.aim);
                (change.abs() >= 0.1 * line.step * order.share)
                    .then(|| format!("{} {}", line.name, self.signed(line.aim, change)))
            })
            .collect();
        if parts.is_empty() {
            "nothing changes".to_owned()
        } else {
            parts.join(", ")
        }
    }

    /// With its sign.
    #[must_use]
    pub fn signed(&self, aim: Aim, change: f64) -> String {
        let sign = if change < 0.0 { "−" } else { "+" };
        format!("{sign}{}", self.amount(aim, change.abs()))
    }
}

/// What an aim counts, as a person is told: hours of danger are hours, and ice is said in words.
pub(crate) fn shown(score: &Score, aim: Aim) -> f64 {
    match aim {
        Aim::Danger => score.danger_h(),
        _ => score.mean(aim),
    }
}

/// Digits an aim is worth.
pub(crate) fn digits(aim: Aim, value: f64) -> usize {
    match aim {
        Aim::Danger => 2,
        Aim::Hold | Aim::Electricity => usize::from(value.abs() < 100.0),
        Aim::Wood | Aim::Starts => 0,
    }
}

/// A setting's value with its unit.
pub(crate) fn value(key: controller_core::settings::Key, value: f64, units: Units) -> String {
    let field = key.field();
    settings_file::value_text(field, parameters::bits(field.kind, value), units)
}

/// A candidate's changes in one line.
#[must_use]
pub(super) fn list(space: &Space, candidate: &Candidate, units: Units) -> String {
    let changes: Vec<String> = space
        .changed(candidate)
        .iter()
        .map(|p| {
            let value = value(p.key, p.of(candidate.raw()), units);
            format!("{} {value}", p.key.field().name)
        })
        .collect();
    if changes.is_empty() {
        "none".to_owned()
    } else {
        changes.join(", ")
    }
}
