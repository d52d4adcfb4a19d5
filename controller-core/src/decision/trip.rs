//! Overheated water stops the circulator, but only when the return bears the supply out: one
//! reading that is wrong never takes frost protection away.
//!
//! ```text
//! clear ──supply at the trip (for 2 min behind a valve), return confirms it──▶ stopped ──15 min──▶ clear
//! ```

use super::View;
use crate::estimate::cross::return_bears_out;
use crate::reason::{Cause, What};
use crate::settings::Rule;
use crate::time::Duration;
use crate::units::Celsius;

#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Trip {
    /// How long the water has been too hot without a break.
    hot_for: Duration,
    /// Time left of the stop.
    left: Duration,
}

/// Stopped this long before the circulator may look again, since a slab may be freezing meanwhile.
const STOPPED: Duration = Duration::from_mins(15);
/// Hot water lasts this long; what a sensor shows wrongly now and then does not.
const HOT_FOR: Duration = Duration::from_mins(2);
/// Flow after which the return can confirm the supply.
const COMPARABLE: Duration = Duration::from_mins(2);

impl Trip {
    pub(super) const NEW: Self = Self {
        hot_for: Duration::ZERO,
        left: Duration::ZERO,
    };

    /// Is the circulator stopped for overheated water?
    pub(super) fn update(&mut self, view: &View<'_>) -> bool {
        self.left = self.left.saturating_sub(view.step);
        if !is_hot(view) {
            self.hot_for = Duration::ZERO;
        } else {
            self.hot_for = self.hot_for + view.step;
            // Where a valve keeps the water cooler, a hot reading is more likely wrong than not.
            if !view.settings.supply_limited || self.hot_for >= HOT_FOR {
                self.left = STOPPED;
            }
        }
        self.left > Duration::ZERO
    }

    pub(super) fn cause(view: &View<'_>) -> Cause {
        let supply = &view.readings.supply;
        let shown = supply.raw().unwrap_or(Celsius::ZERO);
        Cause::point(What::Supply, shown, view.settings.supply_trip, supply.age)
    }
}

fn is_hot(view: &View<'_>) -> bool {
    let readings = view.readings;
    let hot = readings.supply.at_least();
    if !view.settings.keeps(Rule::Trip) {
        return false;
    }
    hot.is_some_and(|t| t >= view.settings.supply_trip)
        && view.estimate.moving_for >= COMPARABLE
        && return_bears_out(
            hot.unwrap_or(Celsius::ZERO),
            readings.ret.raw(),
            readings.slab.value,
            view.settings.loop_effectiveness,
        )
}
