//! Third stage: from what is known to what is asked of the guard.
//!
//! Each rule is a small machine of its own with a name, an enter and a leave condition; they look
//! at one [`View`] and never at each other's insides. [`Decision::decide`] ranks what they want.
//! It only asks: the relay bits belong to the guard.

mod boiler;
mod demand;
mod frost;
mod harm;
mod harvest;
mod trip;
mod upkeep;

pub use boiler::BoilerState;
pub use frost::FrostKind;
pub use harvest::RunState;
pub use upkeep::Switch;

use boiler::Boiler;
use demand::Demand;
use frost::Frost;
use harm::Harm;
use harvest::Harvest;
use trip::Trip;
use upkeep::{Exercise, Manual};

use crate::estimate::{Estimate, FlowProof, colder};
use crate::fallback::{Row, SlabFrom};
use crate::guard::{BoilerRequest, GuardStatus, Hold, PumpRequest, Request, Stop, Urgency};
use crate::reason::{Cause, Reason, What};
use crate::restart::Restart;
use crate::sensor::{BySensor, Reading, Trust};
use crate::settings::{Mode, SUSPECT_MARGIN, Settings};
use crate::time::{Duration, Instant};
use crate::units::{Celsius, Kelvin};

/// A sampling run is judged within this time after the purge.
pub(crate) const SAMPLE_JUDGED: Duration = Duration::from_mins(5);

/// A demand or a limit goes on this long after the sensor behind it is lost.
pub(crate) const OUTLIVES_SENSOR: Duration = Duration::from_mins(60);
/// Shortest run where the matrix asks for long ones.
const LONG_RUN: Duration = Duration::from_mins(30);

/// Everything a rule may look at.
pub(crate) struct View<'a> {
    pub(crate) step: Duration,
    pub(crate) settings: &'a Settings,
    pub(crate) readings: &'a BySensor<Reading>,
    pub(crate) estimate: &'a Estimate,
    /// As it was before this step.
    pub(crate) guard: &'a GuardStatus,
    pub(crate) row: &'a Row,
    /// The owner has just acknowledged.
    pub(crate) acknowledged: bool,
    slab: Option<Celsius>,
    slab_cold: Option<Celsius>,
}

/// The slab for protecting it: the colder of reading (two reads in a row, before smoothing) and
/// water, each moved to the unsafe side as far as it is doubted. While the reading is believed
/// the water's word is not aged: the reading tells what happened since.
fn slab_cold(reading: &Reading, estimate: &Estimate) -> Option<Celsius> {
    let (water, margin) = match reading.trust {
        Trust::Good => (estimate.water_slab_measured, Kelvin::ZERO),
        Trust::Suspect | Trust::Bad => (estimate.water_slab, SUSPECT_MARGIN),
    };
    // Without a value there is no pair of reads either.
    let sensed = match (reading.value, reading.cold()) {
        (Some(value), Some(raw)) => Some(value.min(raw)),
        (value, _) => value,
    };
    colder(sensed, water).map(|t| t - margin)
}

/// The slab for heating it: its reading, or its water where the reading is lost or disputed.
fn slab(reading: &Reading, estimate: &Estimate, row: &Row) -> Option<Celsius> {
    let water = || estimate.water_slab.map(|t| t - SUSPECT_MARGIN);
    match row.slab {
        SlabFrom::Water => water(),
        SlabFrom::Sensor if estimate.slab_disputed => colder(reading.cold_side(), water()),
        SlabFrom::Sensor => reading.cold_side(),
    }
}

impl<'a> View<'a> {
    pub(crate) fn new(
        step: Duration,
        settings: &'a Settings,
        readings: &'a BySensor<Reading>,
        estimate: &'a Estimate,
        guard: &'a GuardStatus,
        row: &'a Row,
        acknowledged: bool,
    ) -> Self {
        Self {
            step,
            settings,
            readings,
            estimate,
            guard,
            row,
            acknowledged,
            slab: slab(&readings.slab, estimate, row),
            slab_cold: slab_cold(&readings.slab, estimate),
        }
    }

    /// The slab for protecting it, on the cold side.
    pub(crate) const fn slab_cold(&self) -> Option<Celsius> {
        self.slab_cold
    }

    /// The slab for heating it.
    pub(crate) const fn slab(&self) -> Option<Celsius> {
        self.slab
    }

    /// The slab for calling the boiler: as for heating, but a doubted reading counts as it was last
    /// believed. Doubt burns no wood; a dispute with the water does.
    pub(crate) fn slab_believed(&self) -> Option<Celsius> {
        match self.row.slab {
            SlabFrom::Sensor if !self.estimate.slab_disputed => self.readings.slab.value,
            SlabFrom::Sensor | SlabFrom::Water => self.slab(),
        }
    }

    pub(crate) fn is_winter(&self) -> bool {
        matches!(self.settings.mode, Mode::Winter | Mode::Commissioning)
    }

    pub(crate) fn outdoor_mean_below(&self, limit: Celsius) -> bool {
        self.estimate.outdoor_mean.is_some_and(|mean| mean < limit)
    }
}

/// What one step of the decision came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Decided {
    pub(crate) request: Request,
    pub(crate) reason: Reason,
    pub(crate) cause: Cause,
}

/// The rules' states, for the trace and the alarms.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Summary {
    /// Is heat wanted for the slab?
    pub heat_wanted: bool,
    /// Where the slab band is centred now, °C.
    pub slab_set: Celsius,
    /// Which frost rule asks, if one does.
    pub frost: Option<FrostKind>,
    /// What harvesting is doing.
    pub run: RunState,
    /// Sampling interval in force.
    pub sample_interval: Duration,
    /// The store is left to recover.
    pub store_hold: bool,
    /// The store is below its floor.
    pub store_floor: bool,
    /// The boiler rule's state.
    pub boiler: BoilerState,
    /// Calls in a row that showed no heat.
    pub failed_calls: u8,
    /// The fire went out during a call or never came.
    pub fire_out: bool,
    /// Calls keep ending on the supply limit: boiler too big or unmixed.
    pub boiler_oversized: bool,
    /// Calls add up to more than sixteen hours a day.
    pub boiler_day: bool,
    /// The return limit to the store was lifted in an emergency.
    pub return_lifted: bool,
    /// Overheat trip in force.
    pub tripped: bool,
    /// Circulation stopped because it makes freezing worse.
    pub harm: bool,
    /// A manual command is in force.
    pub manual: bool,
}

/// Memory of the rules.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Decision {
    demand: Demand,
    frost: Frost,
    harm: Harm,
    harvest: Harvest,
    boiler: Boiler,
    trip: Trip,
    exercise: Exercise,
    pub(crate) manual: Manual,
    /// Everything that asked for the run that is on allows it to be short.
    short_run: bool,
    /// Overrun owed from before a boot.
    owed: Duration,
}

/// What each rule says in one step.
struct Said {
    demand: demand::Wanted,
    frost: Option<frost::Asked>,
    trip: trip::Report,
    harm: harm::Report,
    harvest: harvest::Report,
    boiler: boiler::Report,
}

/// One rule's wish for the circulator, in order of rank.
#[derive(Clone, Copy)]
struct Wish {
    pump: PumpRequest,
    reason: Reason,
    cause: Cause,
    /// If this is all that keeps the circulator running, the run may end early.
    short: bool,
}

impl Wish {
    const fn run(urgency: Urgency, reason: Reason, cause: Cause) -> Self {
        Self {
            pump: PumpRequest::Run(urgency),
            reason,
            cause,
            short: false,
        }
    }

    const fn short_run(urgency: Urgency, reason: Reason, cause: Cause) -> Self {
        Self {
            pump: PumpRequest::Run(urgency),
            reason,
            cause,
            short: true,
        }
    }

    const fn rest(stop: Stop, reason: Reason, cause: Cause) -> Self {
        Self {
            pump: PumpRequest::Rest(stop),
            reason,
            cause,
            short: false,
        }
    }
}

impl Decision {
    /// As after a boot; `restart` says whether slush is possible and an overrun is owed.
    pub(crate) const fn new(restart: &Restart, settings: &Settings) -> Self {
        Self {
            demand: Demand::NEW,
            frost: Frost::new(restart.long_dark),
            harm: Harm::NEW,
            harvest: Harvest::new(settings.raw().sample_interval),
            boiler: Boiler::NEW,
            trip: Trip::NEW,
            exercise: Exercise::NEW,
            manual: Manual::NONE,
            short_run: false,
            owed: if restart.post_run_owed {
                settings.raw().post_run
            } else {
                Duration::ZERO
            },
        }
    }

    /// Is the run that is on putting slab heat into the store?
    pub(crate) const fn is_banking(&self) -> bool {
        self.harvest.is_banking()
    }

    /// `summary` is where the rules' states go.
    pub(crate) fn decide(&mut self, view: &View<'_>, summary: &mut Summary) -> Decided {
        let demand = self.demand.update(view);
        let frost = self.frost.update(view);
        let trip = self.trip.update(view);
        let harm = self.harm.update(view, frost.is_some(), &self.boiler);
        let harvest = self.harvest.update(view, &demand, frost.is_some());
        let boiler = self
            .boiler
            .update(view, &demand, self.harvest.store_hold(), harm.wants_heat);
        self.manual.pass(view.step);
        self.exercise.pass(view);
        if view.guard.pump {
            self.owed = self.owed.saturating_sub(view.step);
        }

        let said = Said {
            demand,
            frost,
            trip,
            harm,
            harvest,
            boiler,
        };
        let wish = self.rank(view, &said);
        let running = matches!(wish.pump, PumpRequest::Run(_));
        self.short_run = match (running, view.guard.pump) {
            (true, false) => wish.short,
            (true, true) => self.short_run && wish.short,
            (false, _) => self.short_run,
        };
        let (pump, reason) = match wish.pump {
            PumpRequest::Rest(Stop::AfterMinimum) if self.short_run => {
                (PumpRequest::Rest(Stop::Early), wish.reason)
            }
            PumpRequest::Rest(Stop::AfterMinimum) if Self::is_long_run(view) => {
                (PumpRequest::Run(Urgency::Normal), Reason::MinimumTime)
            }
            pump => (pump, wish.reason),
        };
        // No heat into a loop that is stopped for safety, is empty, or is in a person's hands.
        let barred = matches!(wish.reason, Reason::Drained | Reason::Overheat)
            || wish.reason == Reason::FreezeHarm
            || (wish.reason == Reason::Manual && !running);
        let boiler_request = match (barred, self.manual.boiler(), boiler.request) {
            (true, _, _) => BoilerRequest::Drop,
            (false, Switch::Off, _) => BoilerRequest::Drop,
            (false, Switch::On, _) if boiler.allowed => BoilerRequest::Call,
            (false, _, request) => request,
        };
        *summary = Summary {
            heat_wanted: demand.wanted,
            slab_set: demand.slab_set,
            frost: frost.map(|f| f.kind),
            run: self.harvest.state(),
            sample_interval: self.harvest.interval(),
            store_hold: self.harvest.store_hold(),
            store_floor: self.harvest.store_floor(),
            boiler: boiler.state,
            failed_calls: self.boiler.failures(),
            fire_out: self.boiler.is_fire_out(),
            boiler_oversized: self.boiler.is_oversized(),
            boiler_day: self.boiler.is_long_day(),
            return_lifted: boiler.return_lifted,
            tripped: trip.active,
            harm: harm.stopped,
            manual: self.manual.is_active(),
        };
        Decided {
            request: Request {
                pump,
                boiler: boiler_request,
                heat_proven: boiler.proven,
            },
            reason,
            cause: wish.cause,
        }
    }

    /// With no water temperature at all, runs go on for half an hour.
    fn is_long_run(view: &View<'_>) -> bool {
        view.row.long_runs && view.guard.pump && view.guard.pump_for < LONG_RUN
    }

    /// What the circulator is to do, by the rules in order of rank.
    fn rank(&self, view: &View<'_>, said: &Said) -> Wish {
        use Reason as R;
        use Urgency::{Frost as Soon, Normal};
        let Said {
            demand,
            frost,
            trip,
            harm,
            harvest,
            boiler,
        } = said;
        if view.settings.mode == Mode::Drained {
            return Wish::rest(Stop::AtOnce, R::Drained, Cause::NONE);
        }
        if trip.active {
            return if trip.pulse {
                Wish::short_run(Soon, R::Overheat, Trip::cause(view))
            } else {
                Wish::rest(Stop::AtOnce, R::Overheat, Trip::cause(view))
            };
        }
        if self.manual.pump() == Switch::Off {
            let left = Cause::time(
                What::TimeLeft,
                self.manual.left(),
                view.settings.manual_time,
            );
            return Wish::rest(Stop::Early, R::Manual, left);
        }
        if harm.stopped {
            return if harm.pulse {
                Wish::short_run(Soon, R::FreezeHarm, Harm::cause(view))
            } else {
                Wish::rest(Stop::Early, R::FreezeHarm, Harm::cause(view))
            };
        }
        if let Some(asked) = frost {
            return match asked.pause {
                true => Wish::rest(Stop::Early, R::Frost, asked.cause),
                false if asked.short => Wish::short_run(Soon, R::Frost, asked.cause),
                false => Wish::run(Soon, R::Frost, asked.cause),
            };
        }
        if boiler.wants_pump || view.guard.boiler {
            return Wish::run(Normal, R::Backup, boiler.cause(view));
        }
        if self.owed > Duration::ZERO {
            return Wish::short_run(
                Soon,
                R::PostRun,
                Cause::time(What::TimeLeft, self.owed, view.settings.post_run),
            );
        }
        let why = || self.harvest.cause(view, demand, harvest.difference);
        match harvest.state {
            RunState::Harvest => return Wish::run(Normal, R::Harvest, why()),
            RunState::Sampling => return Wish::short_run(Normal, R::Sampling, why()),
            RunState::Banking => return Wish::short_run(Normal, R::Banking, why()),
            RunState::Rest => {}
        }
        if self.manual.pump() == Switch::On || self.manual.boiler() == Switch::On {
            let left = Cause::time(
                What::TimeLeft,
                self.manual.left(),
                view.settings.manual_time,
            );
            return Wish::short_run(Normal, R::Manual, left);
        }
        if self.exercise.is_due() {
            let idle = Cause::time(
                What::Rest,
                view.guard.pump_for,
                view.settings.exercise_interval,
            );
            return Wish::short_run(Normal, R::Exercise, idle);
        }
        let rest = self.harvest.rest_reason(demand);
        Wish::rest(Stop::AfterMinimum, rest, why())
    }
}

/// The reason for the outputs as the guard set them, given what was asked.
pub(crate) fn explain(decided: &Decided, status: &GuardStatus, now: Instant) -> (Reason, Cause) {
    let wanted = matches!(decided.request.pump, PumpRequest::Run(_));
    let left = |hold| {
        let end = status.free_at.unwrap_or(now);
        (
            hold,
            Cause::time(What::TimeLeft, end.since(now), Duration::ZERO),
        )
    };
    match (wanted, status.pump, status.pump_hold) {
        (true, false, Some(Hold::Boot)) => left(Reason::Boot),
        (true, false, Some(_)) => left(Reason::MinimumTime),
        (false, true, Some(Hold::Overrun)) => left(Reason::PostRun),
        (false, true, Some(Hold::BoilerRun)) => (Reason::Backup, decided.cause),
        (false, true, Some(_)) => left(Reason::MinimumTime),
        _ if status.boiler && decided.reason > Reason::Backup => (Reason::Backup, decided.cause),
        _ => (decided.reason, decided.cause),
    }
}

/// Does the last attempt say that no water moves?
pub(crate) const fn no_flow(proof: FlowProof) -> bool {
    matches!(proof, FlowProof::Absent(_))
}
