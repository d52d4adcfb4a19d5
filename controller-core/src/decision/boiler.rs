//! When backup heat is called, what limits it, and whether it comes.
//!
//! A thermostat on the slab calls. Limits end a call, but with the slab at its emergency temperature
//! they take half its time, not all: one sensor that is wrong costs heat, not all heat.

use super::View;
use super::circulator::between;
use crate::estimate::{Flow, FlowProof, SlabFrom};
use crate::reason::{Cause, What, words};
use crate::settings::{BoilerKind, Mode, Rule};
use crate::shadow::ActualRelays;
use crate::time::Duration;
use crate::units::{Celsius, Kelvin};

words! {
    /// What the boiler rule is doing.
    BoilerState {
        /// Nothing is wanted.
        Idle = "idle",
        /// Wanted; the water settles first.
        Wanted = "wanted",
        /// Called, and no heat seen yet.
        Proving = "proving",
        /// Called, and heat seen.
        Heating = "heating",
        /// A call brought no heat; the next one waits.
        Failed = "failed",
        /// Wanted, but a limit stands against it.
        Barred = "barred",
    }
}

/// Slab above the backup temperature at which a call ends, K.
pub(super) const CALL_WIDTH: Kelvin = Kelvin::from_milli(1_000);
/// A slab that reads this warm is not overruled by its water but in frost, °C.
const WARM_SLAB: Celsius = Celsius::from_milli(12_000);
/// Water this far above the end of a frost run calls: the return is that much warmer than the slab, K.
const ABOVE_FROST: Kelvin = Kelvin::from_milli(500);
/// Water this far below the slab's reading overrules it, K.
const BELOW_SLAB: Kelvin = Kelvin::from_milli(1_000);
/// A call by the return water lasts this long: the return jumps as soon as heat comes.
const BY_WATER: Duration = Duration::from_mins(75);
/// On and off time of a call that a limit halves.
const HALF: Duration = Duration::from_mins(30);
/// Rest before heat is tried on water that was not seen to move.
const TRIAL_REST: Duration = Duration::from_mins(90);
/// Outdoor mean below which heat is called for half the time with nothing else known, °C.
const BLIND_BELOW: Celsius = Celsius::from_milli(-4_000);

/// Heat is proven by a pipe that is this much warmer than at the call's start, K, or by the slab.
const PROOF_RISE: Kelvin = Kelvin::from_milli(3_000);
const PROOF_SLAB: Kelvin = Kelvin::from_milli(200);
/// The pipes are not asked before this.
const PROOF_AFTER: Duration = Duration::from_mins(5);
/// Time in which the slab has to show heat where a pipe is unknown.
const PROOF_WEAK: Duration = Duration::from_mins(75);
/// A slab that has cooled all the while is no proof's match.
const COOLING_FOR: Duration = Duration::from_mins(120);
/// Wait after the first failed call; twice that after further ones.
const RETRY: Duration = Duration::from_mins(40);
/// A limit that has stood against a wanted call this long is told.
const BARRED_FOR: Duration = Duration::from_mins(30);
/// A day of uptime, and the call time in it that is told.
const DAY: Duration = Duration::from_hours(24);
const LONG_DAY: Duration = Duration::from_hours(16);

#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Boiler {
    /// Power that comes and goes leaves no time to settle.
    unstable_power: bool,
    call: bool,
    /// Time left of a call by the return water.
    by_water: Duration,
    /// Of the present call: the slab's at its start, the slab's at the last sign of heat, time since
    /// that sign, and the pipes at the start.
    slab_then: Celsius,
    mark: Celsius,
    unproven_for: Duration,
    supply_then: Option<Celsius>,
    return_then: Option<Celsius>,
    calling: bool,
    proven: bool,
    failures: u8,
    /// Time until the next call after a failed one.
    wait: Duration,
    /// Water was last not seen to move, although it had to be.
    stood: bool,
    barred_for: Duration,
    day: Duration,
    day_calls: Duration,
    long_day: bool,
}

/// What the rule says in one step.
#[derive(Clone, Copy)]
pub(super) struct Report {
    /// Heat is wanted, so the circulator is.
    pub(super) wanted: bool,
    /// Nothing stands against a call by hand.
    pub(super) allowed: bool,
    /// A limit or a failed call ends the call at once.
    pub(super) limited: bool,
    /// A limit stands against a call.
    pub(super) barred: bool,
    /// The water calls, whatever the slab reads.
    pub(super) by_water: bool,
    pub(super) proven: bool,
    pub(super) state: BoilerState,
}

impl Boiler {
    pub(super) const fn new(unstable_power: bool) -> Self {
        Self {
            unstable_power,
            call: false,
            by_water: Duration::ZERO,
            slab_then: Celsius::ZERO,
            mark: Celsius::ZERO,
            unproven_for: Duration::ZERO,
            supply_then: None,
            return_then: None,
            calling: false,
            proven: false,
            failures: 0,
            wait: Duration::ZERO,
            stood: false,
            barred_for: Duration::ZERO,
            day: Duration::ZERO,
            day_calls: Duration::ZERO,
            long_day: false,
        }
    }

    pub(super) const fn failures(&self) -> u8 {
        self.failures
    }
    pub(super) fn is_barred(&self) -> bool {
        self.barred_for >= BARRED_FOR
    }
    /// Does the water call against the slab's own reading?
    pub(super) fn contradicts_slab(&self, view: &View<'_>) -> bool {
        self.by_water > Duration::ZERO && view.readings.slab.good().is_some()
    }
    pub(super) const fn is_long_day(&self) -> bool {
        self.long_day
    }

    pub(super) fn update(&mut self, view: &View<'_>) -> Report {
        if view.acknowledged {
            (self.wait, self.failures) = (Duration::ZERO, 0);
        }
        self.wait = self.wait.saturating_sub(view.step);
        self.moves_again(view);
        self.by_water = self.by_water.saturating_sub(view.step);
        self.count_day(view);
        let fitted =
            view.settings.boiler != BoilerKind::None && view.settings.mode != Mode::Drained;
        let wanted = fitted && self.is_wanted(view);
        self.judge(view);
        let emergency = self.is_emergency(view);
        let limited = !fitted || is_limited(view, emergency);
        let waits = self.wait > Duration::ZERO;
        let settled = has_settled(view) || view.guard.boiler || self.unstable_power && emergency;
        self.barred_for = if wanted && limited {
            self.barred_for + view.step
        } else {
            Duration::ZERO
        };
        let state = match (wanted, limited, waits) {
            (false, _, _) => BoilerState::Idle,
            (true, _, true) => BoilerState::Failed,
            (true, true, false) => BoilerState::Barred,
            (true, false, false) if !view.guard.boiler => BoilerState::Wanted,
            (true, false, false) if self.proven => BoilerState::Heating,
            (true, false, false) => BoilerState::Proving,
        };
        Report {
            wanted,
            allowed: !limited && !waits && settled,
            limited: limited || waits,
            barred: limited,
            by_water: self.by_water > Duration::ZERO,
            proven: self.proven,
            state,
        }
    }

    /// A call that failed while the water stood says nothing of the fire: water that moves again is tried at once.
    fn moves_again(&mut self, view: &View<'_>) {
        let flow = view.estimate.flow_proof;
        let stood = core::mem::replace(&mut self.stood, matches!(flow, FlowProof::Absent(_)));
        if stood && flow == FlowProof::Present {
            (self.wait, self.failures) = (Duration::ZERO, 0);
        }
    }

    /// Two thermostats: one on the slab, one on its water where the slab's reading cannot be alone.
    fn is_wanted(&mut self, view: &View<'_>) -> bool {
        let settings = view.settings;
        let own = view.readings.slab.cold_side();
        let spare = view.spare();
        let low = settings.backup_slab + spare;
        let water = view.estimate.water;
        match view.estimate.slab {
            Some(slab) => self.call = between(self.call, slab, low, low + CALL_WIDTH),
            None => {
                let mean = view.estimate.outdoor_mean;
                let cold = mean.map_or(view.is_winter(), |t| t < BLIND_BELOW);
                self.call = cold && half_time(view);
            }
        }
        let frosty = view
            .estimate
            .outdoor_mean
            .is_some_and(|t| t < Celsius::ZERO);
        let alone = own.is_some_and(|slab| slab >= WARM_SLAB) && !frosty;
        let limit = settings.frost_off + ABOVE_FROST + spare.half();
        let colder = water.is_some_and(|water| {
            water <= limit && own.is_none_or(|slab| water < slab - BELOW_SLAB)
        });
        if !view.guard.boiler && !alone && colder && settings.keeps(Rule::ByWater) {
            self.by_water = BY_WATER;
        }
        if self.by_water > Duration::ZERO {
            return true;
        }
        if own.is_none() && view.estimate.slab_from == SlabFrom::Water {
            self.call = false;
        }
        self.call
    }

    /// Does the call bring heat? Any reading will do; a slab that goes on cooling overrules it.
    fn judge(&mut self, view: &View<'_>) {
        let unknown = |actual: ActualRelays| actual.boiler_call.is_none();
        if !view.guard.boiler || view.shadow.is_some_and(unknown) {
            self.calling = false;
            self.proven = false;
            return;
        }
        let slab = view.estimate.slab.unwrap_or(Celsius::ZERO);
        let (supply, ret) = (view.readings.supply.good(), view.readings.ret.good());
        if !self.calling {
            self.calling = true;
            (self.slab_then, self.mark) = (slab, slab);
            (self.supply_then, self.return_then) = (supply, ret);
            self.unproven_for = Duration::ZERO;
        }
        self.unproven_for = self.unproven_for + view.step;
        let risen = |then: Option<Celsius>, now: Option<Celsius>| {
            then.zip(now)
                .is_some_and(|(then, now)| now - then >= PROOF_RISE)
        };
        let by_pipes = view.guard.boiler_for >= PROOF_AFTER
            && (risen(self.supply_then, supply) || risen(self.return_then, ret));
        if by_pipes || slab >= self.mark + PROOF_SLAB {
            self.mark = slab;
            self.unproven_for = Duration::ZERO;
            self.proven = true;
            self.failures = 0;
        }
        let time = if supply.is_none() || ret.is_none() {
            PROOF_WEAK
        } else {
            view.settings.proof_time
        };
        let cooling = !by_pipes
            && view.estimate.slab.is_some()
            && view.guard.boiler_for >= COOLING_FOR
            && slab < self.slab_then - PROOF_SLAB;
        if (self.unproven_for >= time || cooling) && view.settings.keeps(Rule::Proof) {
            self.wait = RETRY.times(1 << self.failures.min(1));
            self.failures = self.failures.saturating_add(1);
            self.unproven_for = Duration::ZERO;
            self.proven = false;
        }
    }

    /// The slab is at its emergency temperature, or its temperature is not known: no reading is left,
    /// or its water calls against its reading.
    fn is_emergency(&self, view: &View<'_>) -> bool {
        let limit = view.settings.backup_emergency;
        self.by_water > Duration::ZERO || view.estimate.slab.is_none_or(|slab| slab <= limit)
    }

    fn count_day(&mut self, view: &View<'_>) {
        self.day = self.day + view.step;
        if view.guard.boiler {
            self.day_calls = self.day_calls + view.step;
        }
        self.long_day |= self.day_calls >= LONG_DAY;
        if self.day >= DAY {
            self.long_day = self.day_calls >= LONG_DAY;
            self.day = Duration::ZERO;
            self.day_calls = Duration::ZERO;
        }
    }

    /// What stands behind a call.
    pub(super) fn cause(&self, view: &View<'_>) -> Cause {
        if self.by_water > Duration::ZERO {
            let water = view.estimate.water.unwrap_or(Celsius::ZERO);
            let age = view.estimate.water_age;
            let limit = view.settings.frost_off + ABOVE_FROST;
            return Cause::point(What::WaterSlab, water, limit, age);
        }
        if view.estimate.slab.is_none() {
            let mean = view.estimate.outdoor_mean.unwrap_or(BLIND_BELOW);
            let age = view.readings.outdoor.age;
            return Cause::point(What::OutdoorMean, mean, BLIND_BELOW, age);
        }
        view.slab_cause(view.settings.backup_slab)
    }
}

/// Half an hour of call, half an hour of rest.
fn half_time(view: &View<'_>) -> bool {
    if view.guard.boiler {
        view.guard.boiler_for < HALF
    } else {
        view.guard.boiler_off_for >= HALF
    }
}

/// Half an hour of call in two hours: heat that arrives shows that the water moves after all.
fn is_trial(view: &View<'_>) -> bool {
    if view.guard.boiler {
        view.guard.boiler_for < HALF
    } else {
        view.guard.boiler_off_for >= TRIAL_REST
    }
}

/// Has the water settled, so that the sensors read it? Feedback alone does not say so: a contact
/// that sticks would let a call start with the circulator.
fn has_settled(view: &View<'_>) -> bool {
    view.estimate.flow == Flow::Flowing
        && view.guard.pump
        && view.guard.pump_for >= view.settings.settling_time
}

/// Does a limit stand against a call now?
fn is_limited(view: &View<'_>, emergency: bool) -> bool {
    let settings = view.settings;
    let at = |t: Option<Celsius>, limit: Celsius| t.is_some_and(|t| t >= limit);
    let (supply, ret) = (view.readings.supply.value, view.readings.ret.value);
    let no_flow = matches!(view.estimate.flow_proof, FlowProof::Absent(_));
    if no_flow && !(emergency && is_trial(view)) {
        return true;
    }
    // A hot slab takes two readings where there are two.
    let warm = |t: Option<Celsius>| t.is_none_or(|t| t >= settings.slab_max);
    let slab = view.readings.slab.value;
    let hot_slab = warm(slab) && warm(ret) && slab.or(ret).is_some();
    let hot = at(supply, settings.supply_soft) || hot_slab;
    // The lower limit for new concrete stands below what the valve lets through.
    let too_warm_for_new = at(supply, settings.soft_limit()) && !hot;
    let store_warm = settings.return_to_store && at(ret, settings.return_cap) && !emergency;
    let blind = view.readings.supply.is_lost() && !settings.supply_limited;
    let may_halve = settings.supply_limited && settings.keeps(Rule::Halved);
    let halved = may_halve && half_time(view);
    store_warm || blind || hot && !(emergency && halved) || too_warm_for_new && !halved
}
