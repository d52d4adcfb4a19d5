//! Freezing threatens: the slab, water at rest, a run through open air, or too long without a look.
//!
//! Nothing here ends because the store is poor or a start is expensive; only the harm test ends a
//! frost run that is still wanted.

use super::{OUTLIVES_SENSOR, SAMPLE_JUDGED, View};
use crate::estimate::{Flow, FlowProof};
use crate::fallback::Always;
use crate::reason::{Cause, What, words};
use crate::sensor::Reading;
use crate::settings::SUSPECT_MARGIN;
use crate::time::Duration;
use crate::units::{Celsius, Kelvin};

words! {
    /// Which frost rule asks.
    FrostKind {
        /// Slush may be in the pipes after a long dark: short run, pause, look.
        Slush = "slush",
        /// The slab is cold.
        Slab = "slab",
        /// Water at rest in a pipe is cold.
        Pipe = "pipe",
        /// Sensors are lost: run on.
        Blind = "blind",
        /// A run through open air has cooled long enough.
        Exposed = "exposed",
        /// At rest too long in cold weather to know.
        Look = "look",
    }
}

/// A wish of the frost rules.
#[derive(Clone, Copy)]
pub(super) struct Asked {
    pub(super) kind: FrostKind,
    pub(super) cause: Cause,
    /// Wanted, but the circulator pauses: no flow seen, or a short test.
    pub(super) pause: bool,
    /// The run may be shorter than the shortest run.
    pub(super) short: bool,
}

/// Slush test after a long dark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Slush {
    NotNeeded,
    /// Not started yet.
    Waiting,
    Pulse,
    Pause(Duration),
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Frost {
    slab: bool,
    /// How long the slab has not been read.
    slab_unread_for: Duration,
    pipe: bool,
    exposed: bool,
    look: bool,
    slush: Slush,
    /// Ran continuously with a sensor lost, since the last pause.
    blind_for: Duration,
    blind_pause: Duration,
    /// The supply ran too cold to go on; looked at again after an hour.
    chilled: bool,
}

/// Outdoor air below which still pipes are protected earlier. Status: judgement.
const COLD_AIR: Celsius = Celsius::from_milli(1_000);
/// Slab that calls for a slush test, and outdoor air.
const SLUSH_SLAB: Celsius = Celsius::from_milli(500);
const SLUSH_AIR: Celsius = Celsius::from_milli(-3_000);
/// Length of the slush test's short run, and of the pause in which it is judged.
const SLUSH_PULSE: Duration = Duration::from_secs(60);
const SLUSH_PAUSE: Duration = Duration::from_mins(2);
/// Longest rest below 0 °C and below −6 °C outdoor mean.
const LONGEST_REST: Duration = Duration::from_hours(2);
const LONGEST_REST_COLD: Duration = Duration::from_hours(1);
const VERY_COLD: Celsius = Celsius::from_milli(-6_000);
/// Slab and its water this far above the end of a frost run are well clear of freezing.
/// Status: judgement; with the water's word void after four hours the slab would have to cool by
/// more than a kelvin an hour to freeze meanwhile.
const WELL_CLEAR: Kelvin = Kelvin::from_milli(1_000);
/// Idle time of an exposed run is kept within this.
const EXPOSED_LEAST: Duration = Duration::from_mins(5);
const EXPOSED_MOST: Duration = Duration::from_mins(120);
/// With no flow seen: rest before the first retry, and before later ones.
const RETRY_FIRST: Duration = Duration::from_secs(60);
const RETRY_LATER: Duration = Duration::from_mins(10);
/// Continuous running pauses this often, for this long, so that the slab's water can be read: a
/// minute more than the rest that takes.
const BLIND_STRETCH: Duration = Duration::from_hours(4);
const BLIND_PAUSE: Duration = Duration::from_mins(11);
/// Water that says the slab is this warm ends continuous running, °C.
const BLIND_LEAVE: Celsius = Celsius::from_milli(4_000);
/// After a stop on a cold supply the circulator looks again this often.
const RETEST: Duration = Duration::from_mins(60);

impl Frost {
    pub(super) const fn new(slush: bool) -> Self {
        Self {
            slab: false,
            slab_unread_for: Duration::ZERO,
            pipe: false,
            exposed: false,
            look: false,
            slush: if slush {
                Slush::Waiting
            } else {
                Slush::NotNeeded
            },
            blind_for: Duration::ZERO,
            blind_pause: Duration::ZERO,
            chilled: false,
        }
    }

    pub(super) fn update(&mut self, view: &View<'_>) -> Option<Asked> {
        if self.slush == Slush::Waiting && view.estimate.moving_for >= SLUSH_PULSE {
            self.slush = Slush::NotNeeded; // another rule's run has shown it already
        }
        self.look_at_slab(view);
        self.look_at_pipes(view);
        let blind = self.blind(view);
        self.look_at_exposed(view);
        self.look(view);
        let kind = if self.slab {
            FrostKind::Slab
        } else if self.pipe {
            FrostKind::Pipe
        } else if blind {
            FrostKind::Blind
        } else if self.exposed {
            FrostKind::Exposed
        } else if self.look {
            FrostKind::Look
        } else {
            return None;
        };
        let cause = cause(kind, view);
        if let Some(asked) = self.slush(view, cause) {
            return Some(asked);
        }
        Some(Asked {
            kind,
            cause,
            pause: self.pauses_for_no_flow(view),
            short: kind == FrostKind::Look,
        })
    }

    fn look_at_slab(&mut self, view: &View<'_>) {
        let settings = view.settings;
        let cold = view.slab_cold();
        let warm = match (view.readings.slab.cold_side(), cold) {
            (Some(value), Some(cold)) => Some(value.min(cold)),
            (_, cold) => cold,
        };
        self.slab_unread_for = match view.readings.slab.raw() {
            Some(_) => Duration::ZERO,
            None => self.slab_unread_for + view.step,
        };
        let unread = self.slab_unread_for > Duration::ZERO;
        self.slab = match (self.slab, cold) {
            (false, Some(cold)) => cold <= settings.frost_on,
            (false, None) => false,
            // A remembered value ends nothing.
            (true, _) if unread && self.slab_unread_for < OUTLIVES_SENSOR => true,
            (true, Some(_)) => warm.is_none_or(|t| t < settings.frost_off),
            (true, None) => false,
        };
    }

    fn look_at_pipes(&mut self, view: &View<'_>) {
        let settings = view.settings;
        let (supply, ret) = (&view.readings.supply, &view.readings.ret);
        let limit = still_limit(view);
        if self.pipe {
            let purged = view.estimate.flow == Flow::Flowing;
            let water = supply.cold_side().or(ret.cold_side());
            // Not while the return would start the next run at once.
            let warm = water.is_none_or(|t| t >= settings.pipe_off)
                && ret.cold_side().is_none_or(|t| t > limit);
            let long_enough = view.guard.pump && view.guard.pump_for >= settings.pump_min_on;
            self.pipe = !(long_enough && (purged || view.estimate.flow == Flow::Rest) && warm);
        } else {
            let cold = |pipe: &Reading| pipe.cold().is_some_and(|t| t <= limit);
            self.pipe = view.estimate.flow == Flow::Rest && (cold(supply) || cold(ret));
        }
    }

    /// Continuous running where the matrix asks for it.
    fn blind(&mut self, view: &View<'_>) -> bool {
        if view.row.always == Always::Never {
            return timed(view);
        }
        let winter = view.is_winter();
        let always = match view.row.always {
            Always::Never => false,
            Always::Winter => winter,
            Always::OutdoorBelow(limit) => view.outdoor_mean_below(limit),
            Always::WaterBelow(limit) => {
                winter && view.estimate.water_slab.is_none_or(|t| t < limit)
            }
            Always::SupplyAbove(limit) => {
                if view.estimate.flow == Flow::Flowing {
                    self.chilled = view.readings.supply.cold_side().is_some_and(|s| s < limit);
                } else if view.estimate.resting_for >= RETEST {
                    self.chilled = false;
                }
                winter && !self.chilled
            }
        };
        let warm = view.estimate.water_slab.is_some_and(|t| t >= BLIND_LEAVE);
        let warm_ends = matches!(
            view.row.always,
            Always::OutdoorBelow(_) | Always::WaterBelow(_)
        );
        if always && !(warm && warm_ends) {
            if self.blind_pause > Duration::ZERO {
                self.blind_pause = self.blind_pause.saturating_sub(view.step);
                return false;
            }
            self.blind_for = self.blind_for + view.step;
            let can_read_water = !view.readings.ret.is_lost();
            if self.blind_for >= BLIND_STRETCH && can_read_water {
                self.blind_for = view.step;
                self.blind_pause = BLIND_PAUSE;
            }
            return true;
        }
        timed(view)
    }

    fn look_at_exposed(&mut self, view: &View<'_>) {
        let time = view.settings.exposed_time;
        if time == Duration::ZERO || view.estimate.outdoor_cold >= Celsius::ZERO {
            self.exposed = false;
        } else if self.exposed {
            self.exposed = !(view.guard.pump && view.guard.pump_for >= view.settings.pump_min_on);
        } else {
            // One cycle early, so that the limit itself is never passed.
            let rest = view.estimate.resting_for + view.settings.sensor_cycle;
            self.exposed = rest >= exposed_idle(view);
        }
    }

    /// Below freezing nobody trusts a reading for long: run and look. As long as slab and water agree
    /// that the slab is well clear there is nothing to look for, and the first water out of the slab
    /// is enough to say so: a warm slab's heat is not to be carried into the store.
    fn look(&mut self, view: &View<'_>) {
        let Some(limit) = longest_rest(view) else {
            self.look = false;
            return;
        };
        let longest_run = view.settings.purge + SAMPLE_JUDGED;
        let estimate = view.estimate;
        let clear = |slab: Option<Celsius>| {
            slab.is_some_and(|slab| slab >= view.settings.frost_off + WELL_CLEAR)
        };
        let warm = !estimate.slab_disputed
            && clear(view.readings.slab.good())
            && clear(estimate.water_slab);
        if self.look {
            let told = warm && estimate.water_slab_age < estimate.moving_for;
            let looked = told || estimate.settled;
            self.look = !(looked || view.guard.pump && view.guard.pump_for >= longest_run);
        } else {
            self.look = !view.guard.pump && view.guard.pump_for >= limit && !warm;
        }
    }

    /// The first run after a long dark: a minute on, two off, then the ordinary rules.
    fn slush(&mut self, view: &View<'_>, cause: Cause) -> Option<Asked> {
        let asked = |pause| Asked {
            kind: FrostKind::Slush,
            cause,
            pause,
            short: true,
        };
        self.slush = match self.slush {
            Slush::Waiting => {
                let cold_air = view.estimate.outdoor_cold < SLUSH_AIR;
                let cold_slab = view.slab_cold().is_none_or(|t| t < SLUSH_SLAB);
                if cold_air || cold_slab {
                    Slush::Pulse
                } else {
                    Slush::NotNeeded
                }
            }
            Slush::Pulse if view.guard.pump && view.guard.pump_for >= SLUSH_PULSE => {
                Slush::Pause(Duration::ZERO)
            }
            Slush::Pause(time) if time >= SLUSH_PAUSE => Slush::NotNeeded,
            Slush::Pause(time) => Slush::Pause(time + view.step),
            slush => slush,
        };
        match self.slush {
            Slush::Pulse => Some(asked(false)),
            Slush::Pause(_) => Some(asked(true)),
            Slush::Waiting | Slush::NotNeeded => None,
        }
    }

    /// Pumping without flow only wears the circulator: stop and try again.
    fn pauses_for_no_flow(&self, view: &View<'_>) -> bool {
        let FlowProof::Absent(times) = view.estimate.flow_proof else {
            return false;
        };
        if view.guard.pump {
            return view.guard.pump_for >= view.settings.flow_shown
                && !view.estimate.flow_proof_open;
        }
        let retry = if times <= 1 { RETRY_FIRST } else { RETRY_LATER };
        view.guard.pump_for < retry
    }
}

/// Runs by the clock where the matrix asks for them.
fn timed(view: &View<'_>) -> bool {
    let Some(timed) = view.row.timed else {
        return false;
    };
    let cold = view
        .estimate
        .outdoor_mean
        .is_none_or(|mean| mean < timed.outdoor_below);
    if !cold {
        return false;
    }
    let chilled = view.row.supply_stop.is_some_and(|limit| {
        view.estimate.flow == Flow::Flowing
            && view.readings.supply.cold_side().is_some_and(|s| s < limit)
    });
    if view.guard.pump {
        view.guard.pump_for < timed.on && !chilled
    } else {
        view.guard.pump_for >= timed.off
    }
}

/// Water at rest in a pipe is cold at this, °C.
fn still_limit(view: &View<'_>) -> Celsius {
    let outdoor = view.readings.outdoor.cold_side();
    if outdoor.is_some_and(|t| t >= COLD_AIR) {
        view.settings.pipe_on - Kelvin::from_milli(1_000)
    } else {
        view.settings.pipe_on
    }
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

/// Longest rest in this weather, where there is one.
fn longest_rest(view: &View<'_>) -> Option<Duration> {
    if view.outdoor_mean_below(VERY_COLD) {
        Some(LONGEST_REST_COLD)
    } else if view.outdoor_mean_below(Celsius::ZERO) {
        Some(LONGEST_REST)
    } else {
        None
    }
}

/// What stands behind a rule that asks. A slush test has the cause of the rule it goes before.
fn cause(kind: FrostKind, view: &View<'_>) -> Cause {
    let (guard, estimate) = (view.guard, view.estimate);
    match kind {
        FrostKind::Slab => slab_cause(view),
        FrostKind::Pipe => pipe_cause(view),
        FrostKind::Blind | FrostKind::Slush => {
            let lost = crate::fallback::lost(view.readings).count_ones();
            Cause::count(What::SensorsLost, u8::try_from(lost).unwrap_or(4))
        }
        FrostKind::Exposed => Cause::time(What::Rest, estimate.resting_for, exposed_idle(view)),
        FrostKind::Look => {
            let limit = longest_rest(view).unwrap_or(LONGEST_REST);
            let rested = if guard.pump { limit } else { guard.pump_for };
            Cause::time(What::Rest, rested, limit)
        }
    }
}

fn slab_cause(view: &View<'_>) -> Cause {
    let limit = if view.guard.pump {
        view.settings.frost_off
    } else {
        view.settings.frost_on
    };
    let shown = view.slab_cold().unwrap_or(Celsius::ZERO);
    let water = view.estimate.water_slab;
    let from_water = water.is_some_and(|w| w - SUSPECT_MARGIN <= shown)
        && view.readings.slab.cold_side().is_none_or(|s| s > shown);
    let (what, age) = if from_water {
        (What::WaterSlab, view.estimate.water_slab_age)
    } else {
        (What::Slab, view.readings.slab.age)
    };
    Cause::point(what, shown, limit, age)
}

fn pipe_cause(view: &View<'_>) -> Cause {
    let (supply, ret) = (&view.readings.supply, &view.readings.ret);
    let (what, coldest) = match (supply.cold(), ret.cold()) {
        (Some(s), Some(r)) if r < s => (What::Return, Some(r)),
        (Some(s), _) => (What::Supply, Some(s)),
        (None, r) => (What::Return, r),
    };
    let shown = coldest.or(supply.value).unwrap_or(Celsius::ZERO);
    let limit = if view.estimate.flow == Flow::Rest {
        still_limit(view)
    } else {
        view.settings.pipe_off
    };
    Cause::point(what, shown, limit, supply.age)
}
