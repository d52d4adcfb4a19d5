//! Third stage: from what is known to what is asked of the guard.
//!
//! Two thermostats stand at the bottom: one runs the circulator, one calls the boiler. Frost rules,
//! limits and proofs stand beside them, each a small machine that looks at one [`View`].
//! [`Decision::rank`] orders what they want. It only asks: the relay bits belong to the guard.

mod boiler;
mod circulator;
mod fall;
mod fire;
mod trip;
mod upkeep;

pub use boiler::BoilerState;
pub use circulator::FrostKind;
pub use fire::{WoodAdvice, WoodRequest};
pub use upkeep::Switch;

use boiler::Boiler;
use circulator::{Asked, Circulator};
use fire::Fire;
use trip::Trip;
use upkeep::{Exercise, Manual};

use crate::estimate::{Estimate, SlabFrom};
use crate::guard::{BoilerRequest, GuardStatus, Hold, PumpRequest, Request, Stop, Urgency};
use crate::reason::{Cause, Reason, What};
use crate::restart::Restart;
use crate::sensor::{BySensor, Reading, Trust};
use crate::settings::{Mode, Rule, Settings};
use crate::shadow::ActualRelays;
use crate::time::{Duration, Instant};
use crate::units::{Celsius, Kelvin};

/// How much warmer the slab is kept with a sensor in doubt. Status: by the fault spells.
const SPARE: Kelvin = Kelvin::from_milli(1_500);

/// Everything a rule may look at.
pub(crate) struct View<'a> {
    pub(crate) step: Duration,
    pub(crate) settings: &'a Settings,
    pub(crate) readings: &'a BySensor<Reading>,
    pub(crate) estimate: &'a Estimate,
    /// The relays as they really were before this step.
    pub(crate) guard: &'a GuardStatus,
    /// If they are somebody else's: what is known of them.
    pub(crate) shadow: Option<ActualRelays>,
    /// The owner has just acknowledged.
    pub(crate) acknowledged: bool,
}

impl View<'_> {
    pub(crate) fn is_winter(&self) -> bool {
        matches!(self.settings.mode, Mode::Winter | Mode::Commissioning)
    }

    /// With a sensor doubted, lost or disputed the slab is kept this much warmer, K.
    fn spare(&self) -> Kelvin {
        let readings = self.readings;
        let sure = |reading: &Reading| reading.trust == Trust::Good && !reading.noisy;
        let all = sure(&readings.supply) && sure(&readings.ret) && sure(&readings.slab);
        if all && !self.estimate.slab_implausible || !self.settings.keeps(Rule::Spare) {
            Kelvin::ZERO
        } else {
            SPARE
        }
    }

    /// The slab as it counts, against a limit.
    fn slab_cause(&self, limit: Celsius) -> Cause {
        let estimate = self.estimate;
        let shown = estimate.slab.unwrap_or(Celsius::ZERO);
        match estimate.slab_from {
            SlabFrom::Water => Cause::point(What::WaterSlab, shown, limit, estimate.water_age),
            SlabFrom::Nothing | SlabFrom::Sensor => {
                Cause::point(What::Slab, shown, limit, self.readings.slab.age)
            }
        }
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
    /// Which frost rule asks, if one does.
    pub frost: Option<FrostKind>,
    /// The boiler rule's state.
    pub boiler: BoilerState,
    /// Calls in a row that showed no heat.
    pub failed_calls: u8,
    /// A limit has stood against a wanted call for half an hour.
    pub barred: bool,
    /// The water calls for heat against the slab's own reading.
    pub slab_contradicted: bool,
    /// Calls add up to more than sixteen hours a day.
    pub long_boiler_day: bool,
    /// Overheat trip in force.
    pub tripped: bool,
    /// A manual command is in force.
    pub manual: bool,
    /// What whoever feeds a fire is told.
    pub wood: WoodAdvice,
}

/// Memory of the rules.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Decision {
    circulator: Circulator,
    boiler: Boiler,
    fire: Fire,
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
    asked: Asked,
    tripped: bool,
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
    /// As after a boot; `restart` says whether an overrun is owed.
    pub(crate) const fn new(restart: &Restart, settings: &Settings) -> Self {
        Self {
            circulator: Circulator::NEW,
            boiler: Boiler::new(restart.is_unstable()),
            fire: Fire::NEW,
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

    /// `own_pump`: this controller's own relay runs the circulator; `summary` is where the rules' states go.
    pub(crate) fn decide(
        &mut self,
        view: &View<'_>,
        own_pump: bool,
        summary: &mut Summary,
    ) -> Decided {
        let said = Said {
            asked: self.circulator.update(view),
            tripped: self.trip.update(view),
            boiler: self.boiler.update(view),
        };
        self.manual.pass(view.step);
        self.exercise.pass(view);
        if view.guard.pump {
            self.owed = self.owed.saturating_sub(view.step);
        }
        let wish = self.rank(view, &said);
        let running = matches!(wish.pump, PumpRequest::Run(_));
        self.short_run = match (running, own_pump) {
            (true, false) => wish.short,
            (true, true) => self.short_run && wish.short,
            (false, _) => self.short_run,
        };
        let pump = match wish.pump {
            PumpRequest::Rest(Stop::AfterMinimum) if self.short_run => {
                PumpRequest::Rest(Stop::Early)
            }
            pump => pump,
        };
        let wood = self.fire.update(
            view,
            &said.boiler,
            is_stopped(wish.reason, running) || self.manual.boiler() == Switch::Off,
        );
        *summary = Summary {
            wood,
            heat_wanted: said.asked.heat,
            frost: said.asked.frost,
            boiler: said.boiler.state,
            failed_calls: self.boiler.failures(),
            barred: self.boiler.is_barred(),
            slab_contradicted: self.boiler.contradicts_slab(view),
            long_boiler_day: self.boiler.is_long_day(),
            tripped: said.tripped,
            manual: self.manual.is_active(),
        };
        Decided {
            request: Request {
                pump,
                boiler: self.call(&said.boiler, wish.reason, running),
                heat_proven: said.boiler.proven,
            },
            reason: wish.reason,
            cause: wish.cause,
        }
    }

    /// What is asked of the boiler, given what the circulator is to do and why.
    fn call(&self, boiler: &boiler::Report, reason: Reason, running: bool) -> BoilerRequest {
        if is_stopped(reason, running) || boiler.limited {
            return BoilerRequest::Drop;
        }
        match self.manual.boiler() {
            Switch::Off => BoilerRequest::Drop,
            Switch::On if boiler.allowed => BoilerRequest::Call,
            Switch::Auto if boiler.wanted && boiler.allowed => BoilerRequest::Call,
            Switch::On | Switch::Auto => BoilerRequest::Release,
        }
    }

    /// What the circulator is to do, by the rules in order of rank.
    fn rank(&self, view: &View<'_>, said: &Said) -> Wish {
        use Reason as R;
        use Urgency::{Frost as Soon, Normal};
        let (asked, boiler) = (&said.asked, &said.boiler);
        let by_hand = || {
            let (left, whole) = (self.manual.left(), view.settings.manual_time);
            Cause::time(What::TimeLeft, left, whole)
        };
        if view.settings.mode == Mode::Drained {
            return Wish::rest(Stop::AtOnce, R::Drained, Cause::NONE);
        }
        if said.tripped {
            return Wish::rest(Stop::AtOnce, R::Overheat, Trip::cause(view));
        }
        if self.manual.pump() == Switch::Off {
            return Wish::rest(Stop::Early, R::Manual, by_hand());
        }
        if let Some(kind) = asked.frost {
            let cause = Circulator::cause(kind, view);
            return match (asked.pause, kind) {
                (true, _) => Wish::rest(Stop::Early, R::Frost, cause),
                (false, FrostKind::Look) => Wish::short_run(Soon, R::Frost, cause),
                (false, _) => Wish::run(Soon, R::Frost, cause),
            };
        }
        if boiler.wanted && !asked.pause || view.guard.boiler {
            return Wish::run(Soon, R::Backup, self.boiler.cause(view));
        }
        if self.owed > Duration::ZERO {
            let left = Cause::time(What::TimeLeft, self.owed, view.settings.post_run);
            return Wish::short_run(Soon, R::PostRun, left);
        }
        let half = view.settings.slab_band.half();
        if asked.heat && asked.gain && !asked.pause {
            let limit = view.settings.slab_set + half;
            return Wish::run(Normal, R::StoreHeat, view.slab_cause(limit));
        }
        if self.manual.pump() == Switch::On || self.manual.boiler() == Switch::On {
            return Wish::short_run(Normal, R::Manual, by_hand());
        }
        if self.exercise.is_due() {
            let rest = (view.guard.pump_for, view.settings.exercise_interval);
            let idle = Cause::time(What::Rest, rest.0, rest.1);
            return Wish::short_run(Normal, R::Exercise, idle);
        }
        let reason = if asked.heat {
            R::NotWorthwhile
        } else {
            R::WarmEnough
        };
        let limit = view.settings.slab_set - half;
        Wish::rest(Stop::AfterMinimum, reason, view.slab_cause(limit))
    }
}

/// No heat into a loop that is stopped for safety, is empty, or is in a person's hands.
fn is_stopped(reason: Reason, running: bool) -> bool {
    matches!(reason, Reason::Drained | Reason::Overheat) || (reason == Reason::Manual && !running)
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
