//! Was it the controller's doing? A spell's run beside the references and beside the same spell with nothing wrong.

use serde::{Deserialize, Serialize};

use super::measure::Measured;
use super::told::Told;

/// Slab down to which a reference has held, °C. Status: judgement.
const HELD_C: f64 = -0.5;
/// A reference counts from so much warmer on, K.
const WARMER_K: f64 = 0.5;
/// Ice that counts, as a share of a length of tube.
pub(super) const SOME_ICE: f64 = 0.01;
/// A bell so long before the freezing point leaves time to act, h. Status: judgement.
const IN_TIME_H: f64 = 1.0;
/// A bell so soon after its cause is as early as can be, h.
const AT_ONCE_H: f64 = 0.25;
/// A slab colder than this is worth comparing, °C.
pub(super) const WORTH_COMPARING_C: f64 = 0.5;

/// A comparison run in short.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Brief {
    /// Coldest slab zone after the first day, °C.
    pub slab_min_c: f64,
    /// Time with a slab zone below 0 °C, h.
    pub below_0_h: f64,
    /// Largest share of ice in any length of tube, 0..1.
    pub ice: f64,
    /// A tube froze solid.
    pub damaged: bool,
    /// Wood burnt, kg.
    pub wood_kg: f64,
    /// Heat the boiler gave to the water, kWh.
    pub boiler_kwh: f64,
    /// Electricity of the circulator, kWh.
    pub pump_kwh: f64,
}

impl From<&Measured> for Brief {
    fn from(measured: &Measured) -> Self {
        Self {
            slab_min_c: measured.slab_min_c,
            below_0_h: measured.below_0_h,
            ice: measured.ice,
            damaged: measured.damaged,
            wood_kg: measured.wood_kg,
            boiler_kwh: measured.boiler_kwh,
            pump_kwh: measured.pump_kwh,
        }
    }
}

/// What the controller's run is held against.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Beside {
    /// The controller in the same spell with nothing wrong.
    pub fault_free: Brief,
    /// Thermostats that read the truth.
    pub plain: Brief,
    /// The circulator always on, no boiler.
    pub always_on: Brief,
    /// Neither circulator nor boiler.
    pub nothing: Brief,
}

/// Avoidable harm: a reference did without it, by as much as counts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Avoidable {
    /// A slab zone below 0 °C.
    pub freeze: bool,
    /// A tube frozen solid.
    pub damage: bool,
    /// Ice in a tube.
    pub ice: bool,
}

/// What the alarms were worth.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Warning {
    /// First bell after the first fault's beginning, h after that.
    pub first_bell_h: Option<f64>,
    /// First bell or advice.
    pub first_word_h: Option<f64>,
    /// Where the slab froze: a bell rang an hour before, or within a quarter of an hour of the cause.
    pub told: Option<bool>,
    /// The slab froze and no bell rang at any time after the first fault began.
    pub silent: bool,
}

/// What a reference's run did without, where this one did not.
fn avoided(ours: &Measured, reference: &Brief) -> Avoidable {
    Avoidable {
        freeze: ours.slab_min_c < 0.0
            && reference.slab_min_c >= HELD_C
            && reference.slab_min_c >= ours.slab_min_c + WARMER_K,
        damage: ours.damaged && !reference.damaged,
        ice: ours.ice >= SOME_ICE && reference.ice < SOME_ICE,
    }
}

/// Avoidable by the plain control or by the circulator always on, whatever the controller does with nothing wrong.
pub(super) fn in_any_case(ours: &Measured, beside: &Beside) -> Avoidable {
    let [a, b] = [&beside.plain, &beside.always_on].map(|reference| avoided(ours, reference));
    Avoidable {
        freeze: a.freeze || b.freeze,
        damage: a.damage || b.damage,
        ice: a.ice || b.ice,
    }
}

/// The same, as far as the controller itself does without it when nothing is wrong: it is the fault's doing.
pub(super) fn by_fault(any: Avoidable, beside: &Beside) -> Avoidable {
    let free = &beside.fault_free;
    Avoidable {
        freeze: any.freeze && free.slab_min_c >= 0.0,
        damage: any.damage && !free.damaged,
        ice: any.ice && free.ice < SOME_ICE,
    }
}

/// What the alarms were worth; `first_fault_h` after the beginning.
pub(super) fn warning(ours: &Measured, alarms: &[Told], first_fault_h: f64) -> Warning {
    let first = |wanted: fn(&Told) -> bool| {
        let times = alarms.iter().filter(|told| wanted(told));
        times
            .filter_map(|told| told.first_after_fault_h)
            .reduce(f64::min)
    };
    let first_bell_h = first(|told| !told.is_advice);
    let told = ours.below_0_from_h.map(|below_h| {
        first_bell_h.is_some_and(|bell_h| {
            bell_h <= AT_ONCE_H || first_fault_h + bell_h + IN_TIME_H <= below_h
        })
    });
    Warning {
        first_bell_h,
        first_word_h: first(|_| true),
        told,
        silent: ours.below_0_from_h.is_some() && first_bell_h.is_none(),
    }
}
