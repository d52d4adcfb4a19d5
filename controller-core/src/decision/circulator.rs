//! What runs the circulator: a slab thermostat behind a differential, and the frost rules. Nothing
//! here ends because a start is expensive, and nothing stops a circulator while freezing threatens.

use super::View;
use crate::estimate::{Flow, FlowProof};
use crate::reason::{Cause, What, words};
use crate::sensor::Trust;
use crate::settings::Rule;
use crate::time::Duration;
use crate::units::{Celsius, Kelvin};

words! {
    /// Which frost rule asks.
    FrostKind {
        /// The slab is cold.
        Slab = "slab",
        /// Water in a pipe is cold.
        Pipe = "pipe",
        /// The slab's sensor is doubted or lost: its water has to tell.
        Blind = "blind",
        /// A run through open air has cooled long enough.
        Exposed = "exposed",
        /// The water has not been asked for too long.
        Look = "look",
    }
}

/// Outdoor air above which still pipes are protected later. Status: judgement.
const COLD_AIR: Celsius = Celsius::from_milli(1_000);
/// Outdoor mean from which on a doubted slab is no danger. Status: judgement.
const MILD: Celsius = Celsius::from_milli(5_000);
/// Outdoor air, now and on the mean, from which on a slab without any reading wants no heat. Status: judgement.
const WARM: Celsius = Celsius::from_milli(10_000);
/// Idle time of an exposed run is kept within this.
const EXPOSED_LEAST: Duration = Duration::from_mins(5);
const EXPOSED_MOST: Duration = Duration::from_mins(120);
/// A store seen within this time is known.
const SEEN: Duration = Duration::from_hours(24);
/// A store that had too little to give and was not seen is looked at again after this.
const LOOK_AGAIN: Duration = Duration::from_hours(2);
/// With no flow seen: rest before the first retry, and before later ones.
const RETRY_FIRST: Duration = Duration::from_secs(60);
const RETRY_LATER: Duration = Duration::from_mins(10);

/// A thermostat: on at or below the first limit, off at or above the second.
pub(super) fn between(on: bool, t: Celsius, low: Celsius, high: Celsius) -> bool {
    if on { t < high } else { t <= low }
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Circulator {
    heat: bool,
    gain: bool,
    /// Time since moving water had too little to give.
    poor_ago: Duration,
    slab: bool,
    pipe: bool,
    exposed: bool,
}

/// What the rules for the circulator ask.
#[derive(Clone, Copy)]
pub(super) struct Asked {
    /// Heat is wanted for the slab.
    pub(super) heat: bool,
    /// The store is warm enough above the slab to give it.
    pub(super) gain: bool,
    pub(super) frost: Option<FrostKind>,
    /// Wanted, but the circulator rests a little: it moved no water.
    pub(super) pause: bool,
}

impl Circulator {
    pub(super) const NEW: Self = Self {
        heat: false,
        gain: false,
        poor_ago: LOOK_AGAIN,
        slab: false,
        pipe: false,
        exposed: false,
    };

    pub(super) fn update(&mut self, view: &View<'_>) -> Asked {
        let settings = view.settings;
        let half = settings.slab_band.half();
        let (low, high) = (settings.slab_set - half, settings.slab_set + half);
        if let Some(slab) = view.estimate.slab {
            self.heat = between(self.heat, slab, low, high);
            self.slab = between(self.slab, slab, settings.frost_on, settings.frost_off);
            self.gain = self.gains(view, slab);
        } else {
            let warm = view.estimate.outdoor_cold >= WARM;
            (self.heat, self.slab, self.gain) = (!warm, false, true);
        }
        self.poor_ago = self.poor_ago + view.step;
        self.pipes(view);
        self.exposed(view);
        let frost = if self.slab {
            Some(FrostKind::Slab)
        } else if self.pipe {
            Some(FrostKind::Pipe)
        } else if is_blind(view) {
            Some(FrostKind::Blind)
        } else if self.exposed {
            Some(FrostKind::Exposed)
        } else if is_look_due(view) {
            Some(FrostKind::Look)
        } else {
            None
        };
        Asked {
            heat: self.heat && view.is_winter(),
            gain: self.gain,
            frost,
            pause: pauses(view),
        }
    }

    /// Has the store heat to give? Moving water tells; at rest the store as it was last seen, within a
    /// day, since a pipe at rest has the temperature of the air about it. A store not seen is looked at.
    fn gains(&mut self, view: &View<'_>, slab: Celsius) -> bool {
        let settings = view.settings;
        match (view.estimate.flow, view.readings.supply.good()) {
            _ if !settings.keeps(Rule::Differential) => true,
            (_, None) => true,
            (Flow::Settling, Some(_)) => self.gain,
            (Flow::Flowing, Some(supply)) => {
                let least = if self.gain {
                    settings.stop_difference
                } else {
                    settings.start_difference
                };
                let gains = supply - slab >= least;
                if !gains {
                    self.poor_ago = Duration::ZERO;
                }
                gains
            }
            (Flow::Rest, Some(_)) => {
                let seen = view
                    .estimate
                    .store
                    .filter(|_| view.estimate.store_age < SEEN);
                seen.map_or(self.poor_ago >= LOOK_AGAIN, |store| {
                    store - slab >= settings.start_difference
                })
            }
        }
    }

    fn pipes(&mut self, view: &View<'_>) {
        let settings = view.settings;
        let known = |t: Option<Celsius>| t.unwrap_or(settings.pipe_off);
        let (supply, ret) = (
            view.readings.supply.cold_side(),
            view.readings.ret.cold_side(),
        );
        let coldest = known(supply).min(known(ret));
        let limit = match view.readings.outdoor.cold_side() {
            Some(air) if air >= COLD_AIR => settings.pipe_on - Kelvin::from_milli(1_000),
            _ => settings.pipe_on,
        };
        self.pipe =
            settings.keeps(Rule::Pipes) && between(self.pipe, coldest, limit, settings.pipe_off);
    }

    fn exposed(&mut self, view: &View<'_>) {
        if view.settings.exposed_time == Duration::ZERO
            || view.estimate.outdoor_cold >= Celsius::ZERO
        {
            self.exposed = false;
        } else if self.exposed {
            self.exposed = !(view.guard.pump && view.guard.pump_for >= view.settings.pump_min_on);
        } else {
            // One cycle early, so that the limit itself is never passed.
            let rest = view.estimate.resting_for + view.settings.sensor_cycle;
            self.exposed = rest >= exposed_idle(view);
        }
    }

    /// What stands behind the rule that asks.
    pub(super) fn cause(kind: FrostKind, view: &View<'_>) -> Cause {
        let estimate = view.estimate;
        match kind {
            FrostKind::Slab => view.slab_cause(if view.guard.pump {
                view.settings.frost_off
            } else {
                view.settings.frost_on
            }),
            FrostKind::Pipe => {
                let (supply, ret) = (&view.readings.supply, &view.readings.ret);
                let (what, reading) = match (supply.cold_side(), ret.cold_side()) {
                    (Some(s), Some(r)) if r < s => (What::Return, ret),
                    (None, Some(_)) => (What::Return, ret),
                    _ => (What::Supply, supply),
                };
                let shown = reading.cold_side().unwrap_or(Celsius::ZERO);
                Cause::point(what, shown, view.settings.pipe_off, reading.age)
            }
            FrostKind::Blind => {
                let age = view.readings.slab.age;
                Cause::point(
                    What::Slab,
                    estimate.slab.unwrap_or(Celsius::ZERO),
                    MILD,
                    age,
                )
            }
            FrostKind::Exposed => Cause::time(What::Rest, estimate.resting_for, exposed_idle(view)),
            FrostKind::Look => Cause::time(
                What::WaterAge,
                estimate.water_age,
                crate::estimate::WATER_OLD,
            ),
        }
    }
}

/// With the slab's sensor doubted or lost only moving water tells how cold the slab is.
fn is_blind(view: &View<'_>) -> bool {
    let mild = view.estimate.outdoor_mean.is_some_and(|t| t >= MILD);
    view.readings.slab.trust != Trust::Good && !mild && view.settings.keeps(Rule::Blind)
}

/// In frost the water is asked now and then, so that no slab reading stands alone for long.
fn is_look_due(view: &View<'_>) -> bool {
    let frosty = view.estimate.outdoor_mean.is_none_or(|t| t < Celsius::ZERO);
    frosty
        && view.readings.ret.good().is_some()
        && view.estimate.water_age > crate::estimate::WATER_OLD
        && view.settings.keeps(Rule::Look)
}

/// A circulator that moves no water rests and is started again: a sticking one may come free.
fn pauses(view: &View<'_>) -> bool {
    let FlowProof::Absent(times) = view.estimate.flow_proof else {
        return false;
    };
    if view.guard.pump {
        return view.guard.pump_for >= view.settings.flow_shown
            && !view.estimate.flow_proof_open
            && !view.guard.boiler;
    }
    let retry = if times <= 1 { RETRY_FIRST } else { RETRY_LATER };
    view.guard.pump_for < retry
}

/// Longest rest of a run through open air.
/// ln(1 + x) ≥ x / (1 + x): half the time to freezing, on the safe side, without a logarithm.
/// Source: ASHRAE Fundamentals, time for still water in a pipe to reach its freezing point.
fn exposed_idle(view: &View<'_>) -> Duration {
    let at_stop = view.estimate.at_stop.unwrap_or(Celsius::ZERO);
    let start = at_stop.max(Celsius::ZERO);
    let water = u32::try_from(start.to_bits()).unwrap_or(0);
    let span = u32::try_from((start - view.estimate.outdoor_cold).to_bits()).unwrap_or(u32::MAX);
    let half = Duration::from_millis(view.settings.exposed_time.as_millis() / 2);
    half.share(water, span).clamp(EXPOSED_LEAST, EXPOSED_MOST)
}
