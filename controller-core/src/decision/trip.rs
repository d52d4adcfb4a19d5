//! Overheated water: stop the circulator, but only when another reading bears it out, and look
//! again every quarter of an hour, since a slab may be freezing meanwhile.

use super::View;
use crate::estimate::cross::return_bears_out;
use crate::reason::{Cause, What};
use crate::time::Duration;
use crate::units::{Celsius, Kelvin};

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum State {
    Clear,
    /// Stopped, for so long; the highest supply read since, 1/128 °C.
    Stopped(Duration, i16),
    /// Looking: a short run.
    Pulse,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Trip {
    state: State,
    /// The present or last call has already explained one trip.
    call_used: bool,
}

#[derive(Clone, Copy)]
pub(super) struct Report {
    pub(super) active: bool,
    pub(super) pulse: bool,
}

/// Stopped this long before a short run looks again, and how long that run is.
const STOPPED: Duration = Duration::from_mins(15);
const PULSE: Duration = Duration::from_secs(60);
/// Flow after which the return can bear out the supply.
const COMPARABLE: Duration = Duration::from_mins(2);
/// Water at rest cools by more than this in that time, from its highest; a reading that does not is
/// none of water. If it was, the return tells two minutes into the next run. Status: judgement; a
/// pipe with 25 mm of insulation loses several kelvin.
const COOLS: Kelvin = Kelvin::from_milli(1_000);
/// A call this recent explains hot water.
const CALL_EXPLAINS: Duration = Duration::from_mins(60);

impl Trip {
    pub(super) const NEW: Self = Self {
        state: State::Clear,
        call_used: false,
    };

    pub(super) fn update(&mut self, view: &View<'_>) -> Report {
        let supply = &view.readings.supply;
        if view.guard.boiler && view.guard.boiler_for <= view.step {
            self.call_used = false; // a new call
        }
        let raw = supply.raw().map_or(i16::MIN, Celsius::to_128ths);
        self.state = match self.state {
            State::Clear if self.is_due(view) => {
                self.call_used = true;
                State::Stopped(Duration::ZERO, raw)
            }
            State::Clear => State::Clear,
            State::Stopped(time, highest) if time >= STOPPED => {
                let cooled = Celsius::from_128ths(highest) - COOLS;
                match supply.raw() {
                    Some(now) if now > cooled => State::Clear, // the reading is stuck
                    _ => State::Pulse,
                }
            }
            State::Stopped(time, highest) => State::Stopped(time + view.step, highest.max(raw)),
            State::Pulse if view.guard.pump && view.guard.pump_for >= PULSE => {
                // With the sensor gone meanwhile nothing says that it is still hot.
                match supply.raw().or(supply.value) {
                    Some(t) if t >= view.settings.soft_limit() => {
                        State::Stopped(Duration::ZERO, t.to_128ths())
                    }
                    _ => State::Clear,
                }
            }
            State::Pulse => State::Pulse,
        };
        Report {
            active: self.state != State::Clear,
            pulse: self.state == State::Pulse,
        }
    }

    pub(super) fn cause(view: &View<'_>) -> Cause {
        let supply = &view.readings.supply;
        let shown = supply.raw().unwrap_or(Celsius::ZERO);
        Cause::point(What::Supply, shown, view.settings.supply_trip, supply.age)
    }

    fn is_due(&self, view: &View<'_>) -> bool {
        let Some(hot) = view.readings.supply.hot() else {
            return false;
        };
        if hot < view.settings.supply_trip || !view.guard.pump {
            return false;
        }
        let by_call = !self.call_used && view.guard.boiler_off_for <= CALL_EXPLAINS;
        let by_return = view.estimate.moving_for >= COMPARABLE
            && return_bears_out(
                hot,
                view.readings.ret.raw(),
                view.readings.slab.value,
                view.estimate.loop_yield,
            );
        by_call || by_return
    }
}
