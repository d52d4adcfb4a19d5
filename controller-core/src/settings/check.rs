//! Every range and relation a set of settings must keep.

use core::fmt;

use fixed::types::I16F16;
use heapless::Vec;

use super::fields::{Field, Key, RawSettings};
use crate::units::{Kelvin, Ratio};

/// What is wrong with a set of settings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Problem {
    /// A value outside its own range.
    Range(Key),
    /// Two or more values that do not go together.
    Relation(Relation),
}

/// Most problems that are listed at once.
const MOST: usize = 16;

/// Problems found, the first sixteen.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Problems(Vec<Problem, MOST>);

impl Problems {
    /// One by one, in the settings' order, relations last.
    pub fn iter(&self) -> core::slice::Iter<'_, Problem> {
        self.0.iter()
    }

    /// How many are listed.
    #[must_use]
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Beyond the list's capacity a problem is left out: the settings are refused in any case.
    fn push(&mut self, problem: Problem) {
        let _ = self.0.push(problem);
    }
}

impl<'a> IntoIterator for &'a Problems {
    type Item = &'a Problem;
    type IntoIter = core::slice::Iter<'a, Problem>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, problem) in self.iter().enumerate() {
            if index > 0 {
                f.write_str("; ")?;
            }
            problem.fmt(f)?;
        }
        Ok(())
    }
}

impl core::error::Error for Problems {}

/// A relation between settings that must hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Relation {
    /// The setting to look at first.
    pub key: Key,
    /// The relation, written with the settings' names.
    pub text: &'static str,
}

/// Heat carried per kelvin, W/K: flow × specific heat, with 1 mL taken as 1 g.
pub(super) fn conductance(raw: &RawSettings) -> I16F16 {
    // J/gK first: it stays near 4, so that the product stays in range up to 1 L/s.
    let per_gram = I16F16::from_bits(raw.specific_heat.to_bits() / 1_000);
    raw.flow.to_fixed().saturating_mul(per_gram)
}

/// The least start difference that does not stop again at once, K.
fn least_start_difference(raw: &RawSettings) -> Kelvin {
    const MARGIN: Ratio = Ratio::from_milli(1_200);
    match raw
        .stop_difference
        .scaled(MARGIN)
        .to_fixed()
        .checked_div(raw.loop_effectiveness.to_fixed())
    {
        Some(kelvin) => Kelvin::from_fixed(kelvin),
        None => Kelvin::from_bits(i32::MAX),
    }
}

pub(super) fn problems(raw: &RawSettings) -> Problems {
    let mut found = Problems::default();
    for field in Field::all() {
        let bits = raw.bits(field.key);
        if bits < field.min || bits > field.max {
            found.push(Problem::Range(field.key));
        }
    }
    for (holds, key, text) in relations(raw) {
        if !holds {
            found.push(Problem::Relation(Relation { key, text }));
        }
    }
    found
}

fn relations(raw: &RawSettings) -> [(bool, Key, &'static str); 12] {
    let half_band = raw.slab_band.scaled(Ratio::from_milli(500));
    [
        (
            raw.target < raw.backup_emergency,
            Key::BackupEmergency,
            "target < backup_emergency",
        ),
        (
            raw.backup_emergency < raw.backup_slab,
            Key::BackupSlab,
            "backup_emergency < backup_slab",
        ),
        (
            raw.frost_on < raw.frost_off,
            Key::FrostOff,
            "frost_on < frost_off",
        ),
        (
            raw.frost_off <= raw.slab_set - half_band,
            Key::SlabSet,
            "frost_off <= slab_set - slab_band / 2",
        ),
        (
            raw.stop_difference < raw.start_difference,
            Key::StopDifference,
            "stop_difference < start_difference",
        ),
        (
            raw.start_difference >= least_start_difference(raw),
            Key::StartDifference,
            "start_difference >= 1.2 * stop_difference / loop_effectiveness",
        ),
        (
            raw.proof_time > raw.settling_time,
            Key::ProofTime,
            "proof_time > settling_time",
        ),
        (
            raw.settling_time >= raw.transit.times(2),
            Key::SettlingTime,
            "settling_time >= 2 * transit",
        ),
        (
            raw.supply_soft < raw.supply_trip,
            Key::SupplyTrip,
            "supply_soft < supply_trip",
        ),
        (
            raw.pipe_on < raw.pipe_off,
            Key::PipeOff,
            "pipe_on < pipe_off",
        ),
        (
            raw.slab_set + half_band < raw.slab_max,
            Key::SlabMax,
            "slab_set + slab_band / 2 < slab_max",
        ),
        (
            raw.settling_time < raw.pump_min_on,
            Key::PumpMinOn,
            "settling_time < pump_min_on",
        ),
    ]
}

impl fmt::Display for Problem {
    /// The setting's name and what must hold. Values and units are the caller's to add.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Range(key) => write!(f, "{} is out of its range", key.name()),
            Self::Relation(relation) => write!(f, "this must hold: {}", relation.text),
        }
    }
}

impl Problem {
    /// The setting to look at first.
    #[must_use]
    pub const fn key(&self) -> Key {
        match self {
            Self::Range(key) | Self::Relation(Relation { key, .. }) => *key,
        }
    }
}

impl Key {
    /// This setting's line of the table.
    #[must_use]
    pub fn field(self) -> &'static Field {
        // The table has a line for every key, in their order; a test holds it.
        Field::ALL.get(self as usize).unwrap_or(&Field::ALL[0])
    }

    /// Its name in files, on the serial line and in messages.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.field().name
    }

    /// Finds a setting by its name.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Field::all()
            .iter()
            .find(|field| field.name == name)
            .map(|field| field.key)
    }
}
