//! When circulating makes freezing worse: water from the store is itself near freezing, or an
//! exposed run robs more than the earth gives. One reading alone never stops a frost run.

use super::boiler::Boiler;
use super::{View, no_flow};
use crate::estimate::Flow;
use crate::reason::{Cause, What};
use crate::time::Duration;
use crate::units::{Celsius, Kelvin, KelvinPerHour};

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    /// Harmful for so long.
    Watching(Duration),
    /// Trying boiler heat before stopping.
    TryingHeat(Duration),
    /// Stopped, for so long.
    Stopped(Duration),
    /// Looking again.
    Retest,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Harm {
    state: State,
}

#[derive(Clone, Copy)]
pub(super) struct Report {
    pub(super) stopped: bool,
    pub(super) pulse: bool,
    /// One proof window of boiler heat before giving up.
    pub(super) wants_heat: bool,
}

/// Harm must last this long to count, and a stopped circulator looks again this often.
const HARMFUL_FOR: Duration = Duration::from_mins(3);
const RETEST_EVERY: Duration = Duration::from_mins(60);
/// Both near freezing.
const SUPPLY_FREEZING: Celsius = Celsius::from_milli(500);
const RETURN_FREEZING: Celsius = Celsius::from_milli(1_500);
/// Cold supply below the slab, with the slab falling faster than at rest.
const SUPPLY_COLD: Celsius = Celsius::from_milli(3_000);
const BELOW_SLAB: Kelvin = Kelvin::from_milli(1_000);
const EXCESS_FALL: KelvinPerHour = KelvinPerHour::from_milli(100);

impl Harm {
    pub(super) const NEW: Self = Self {
        state: State::Watching(Duration::ZERO),
    };

    pub(super) fn update(&mut self, view: &View<'_>, frost: bool, boiler: &Boiler) -> Report {
        let harmful = self.is_harmful(view);
        let heat = boiler.is_proven() && view.guard.boiler;
        self.state = match self.state {
            State::Watching(_) | State::TryingHeat(_) if heat || !harmful => {
                State::Watching(Duration::ZERO)
            }
            State::Watching(time) if time + view.step < HARMFUL_FOR => {
                State::Watching(time + view.step)
            }
            State::Watching(_) if boiler.can_try(view) => State::TryingHeat(Duration::ZERO),
            State::Watching(_) => State::Stopped(Duration::ZERO),
            // The proof itself is the boiler rule's; this only bounds the wait.
            State::TryingHeat(time)
                if time >= view.settings.proof_time || !boiler.can_try(view) =>
            {
                State::Stopped(Duration::ZERO)
            }
            State::TryingHeat(time) => State::TryingHeat(time + view.step),
            State::Stopped(time) if time >= RETEST_EVERY => State::Retest,
            State::Stopped(time) => State::Stopped(time + view.step),
            State::Retest
                if view.guard.pump && view.guard.pump_for >= view.settings.purge + HARMFUL_FOR =>
            {
                if harmful {
                    State::Stopped(Duration::ZERO)
                } else {
                    State::Watching(Duration::ZERO)
                }
            }
            State::Retest => State::Retest,
        };
        // Nothing to stop: with no frost rule asking, a stopped state only blocks economy.
        let stopped = matches!(self.state, State::Stopped(_) | State::Retest);
        Report {
            stopped,
            pulse: self.state == State::Retest,
            wants_heat: frost && matches!(self.state, State::TryingHeat(_)),
        }
    }

    pub(super) fn cause(view: &View<'_>) -> Cause {
        let supply = &view.readings.supply;
        let shown = supply.value.unwrap_or(Celsius::ZERO);
        Cause::point(What::Supply, shown, SUPPLY_FREEZING, supply.age)
    }

    fn is_harmful(&self, view: &View<'_>) -> bool {
        if view.estimate.flow != Flow::Flowing {
            return matches!(self.state, State::TryingHeat(_));
        }
        if view.estimate.flow_proof_open || no_flow(view.estimate.flow_proof) {
            return false; // what the pipes read may not be the water; that it does not move is told
        }
        let (Some(supply), Some(ret)) = (view.readings.supply.good(), view.readings.ret.good())
        else {
            return false;
        };
        if supply < SUPPLY_FREEZING && ret < RETURN_FREEZING {
            return true;
        }
        let Some(slab) = view.readings.slab.good() else {
            return false;
        };
        let faster = match (view.estimate.run_slope, view.estimate.idle_slope) {
            (Some(run), Some(idle)) => run < idle - EXCESS_FALL,
            _ => false,
        };
        supply < SUPPLY_COLD && supply < slab - BELOW_SLAB && ret < slab && faster
    }
}
