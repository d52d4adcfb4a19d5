//! The guard: it alone owns the two relay bits.
//!
//! It sees requests, never modes, readings or reasons, so minimum times, starts per hour, the boot
//! lockout and "no boiler call without circulation" hold whatever the decision does.

use crate::settings::Settings;
use crate::time::{Duration, Instant};

/// How soon the circulator is to start.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Urgency {
    /// Economy: every minimum time and the start cap apply.
    Normal,
    /// Freezing: a short rest suffices and the start cap is advisory.
    Frost,
}

/// How soon the circulator is to stop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stop {
    /// After the shortest run.
    AfterMinimum,
    /// Before the shortest run is over (looks, exercise, commands, no flow): ten seconds suffice.
    Early,
    /// At once: overheating.
    AtOnce,
}

/// What the decision asks of the circulator.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PumpRequest {
    /// Run.
    Run(Urgency),
    /// Stand still.
    Rest(Stop),
}

/// What the decision asks of the boiler call.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BoilerRequest {
    /// Call for heat.
    Call,
    /// No call; a running one may serve its shortest time.
    Release,
    /// No call, now: a limit or a fault.
    Drop,
}

/// Everything the guard is asked in one step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Request {
    /// For the circulator.
    pub pump: PumpRequest,
    /// For the boiler call.
    pub boiler: BoilerRequest,
    /// Has the present call shown heat? Only then is an overrun owed.
    pub heat_proven: bool,
}

impl Request {
    /// Nothing wanted.
    pub const IDLE: Self = Self {
        pump: PumpRequest::Rest(Stop::AfterMinimum),
        boiler: BoilerRequest::Release,
        heat_proven: false,
    };
}

/// Why an output is not what was asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Hold {
    /// Waiting out the time after boot.
    Boot,
    /// Circulator: shortest rest not over.
    PumpRest,
    /// Circulator: shortest run not over.
    PumpRun,
    /// Circulator: as many starts this hour as allowed.
    PumpStarts,
    /// Circulator: overrun after boiler heat.
    Overrun,
    /// Circulator kept for a boiler call that serves its shortest time.
    BoilerRun,
    /// Boiler: shortest rest not over.
    BoilerRest,
    /// Boiler: as many calls this hour as allowed.
    BoilerStarts,
    /// Boiler: waiting out the time after boot.
    BoilerBoot,
    /// Boiler: no circulation yet.
    NoCirculation,
}

impl Hold {
    /// The word for this hold in the trace.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Boot => "boot",
            Self::PumpRest => "pump_rest",
            Self::PumpRun => "pump_run",
            Self::PumpStarts => "pump_starts",
            Self::Overrun => "overrun",
            Self::BoilerRun => "boiler_run",
            Self::BoilerRest => "boiler_rest",
            Self::BoilerStarts => "boiler_starts",
            Self::BoilerBoot => "boiler_boot",
            Self::NoCirculation => "no_circulation",
        }
    }
}

/// How long the outputs stay locked after a boot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BootDelays {
    /// Circulator, ordinary start.
    pub pump: Duration,
    /// Circulator, against frost.
    pub frost: Duration,
    /// Boiler call.
    pub boiler: Duration,
}

/// The relay bits and what the next stages may know of their past.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct GuardStatus {
    /// Circulator relay bit.
    pub pump: bool,
    /// Time the circulator bit has been as it is.
    pub pump_for: Duration,
    /// Boiler call relay bit.
    pub boiler: bool,
    /// Time the boiler bit has been as it is.
    pub boiler_for: Duration,
    /// Time since the boiler was last called: zero during a call, [`Duration::MAX`] for never.
    pub boiler_off_for: Duration,
    /// Time since either bit last changed, or since boot.
    pub quiet_for: Duration,
    /// Circulator starts in the last hour, counted up to the ring's size.
    pub starts_last_hour: u8,
    /// Why the circulator is not as asked.
    pub pump_hold: Option<Hold>,
    /// Why the boiler call is not as asked.
    pub boiler_hold: Option<Hold>,
    /// When the hold that stands in the way ends, if one does by itself.
    pub free_at: Option<Instant>,
}

/// The hour over which starts are counted.
const HOUR: Duration = Duration::from_hours(1);
/// No two circulator changes closer than this, but for overheating.
/// Status: judgement; protects the relay.
const LEAST_BETWEEN_CHANGES: Duration = Duration::from_secs(10);

/// The last few starts; enough to count up to `N` in an hour.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Starts<const N: usize> {
    /// When each leaves the sliding hour; the counter's zero for none.
    leaves: [Instant; N],
}

impl<const N: usize> Starts<N> {
    const NONE: Self = Self {
        leaves: [Instant::from_millis(0); N],
    };

    fn record(&mut self, now: Instant) {
        if let Some(oldest) = self.leaves.iter_mut().min() {
            *oldest = now + HOUR;
        }
    }

    fn in_last_hour(&self, now: Instant) -> u8 {
        self.leaves.iter().fold(0, |count: u8, leaves| {
            count.wrapping_add(u8::from(*leaves > now))
        })
    }

    /// When the count falls below `cap` by itself: the earliest time at which few enough are left.
    fn below(&self, cap: u8) -> Option<Instant> {
        self.leaves
            .iter()
            .copied()
            .filter(|leaves| self.in_last_hour(*leaves) < cap)
            .min()
    }
}

/// State of the guard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Guard {
    boot: Instant,
    delays: BootDelays,
    pump: bool,
    pump_since: Instant,
    boiler: bool,
    boiler_since: Instant,
    pump_starts: Starts<8>,
    boiler_starts: Starts<6>,
    /// In the past: none.
    overrun_until: Instant,
    /// Has the boiler been called since, or just before, boot?
    called: bool,
}

impl Guard {
    /// Both off; rests are counted from `boot`, since nobody knows what went before.
    #[must_use]
    /// `called`: a call was on when the power went.
    pub const fn new(boot: Instant, delays: BootDelays, called: bool) -> Self {
        Self {
            boot,
            delays,
            pump: false,
            pump_since: boot,
            boiler: false,
            boiler_since: boot,
            pump_starts: Starts::NONE,
            boiler_starts: Starts::NONE,
            overrun_until: boot,
            called,
        }
    }

    /// Bits and times as of `now`, without changing anything.
    #[must_use]
    pub fn status(&self, now: Instant) -> GuardStatus {
        let mut status = GuardStatus::default();
        self.look(now, &mut status);
        status
    }

    /// The same, into its place.
    pub(crate) fn look(&self, now: Instant, status: &mut GuardStatus) {
        let pump_for = now.since(self.pump_since);
        let boiler_for = now.since(self.boiler_since);
        *status = GuardStatus {
            pump: self.pump,
            pump_for,
            boiler: self.boiler,
            boiler_for,
            boiler_off_for: match (self.boiler, self.called) {
                (true, _) => Duration::ZERO,
                (false, true) => boiler_for,
                (false, false) => Duration::MAX,
            },
            quiet_for: pump_for.min(boiler_for),
            // Whatever has not changed for an hour has not started in it.
            starts_last_hour: if pump_for < HOUR {
                self.pump_starts.in_last_hour(now)
            } else {
                0
            },
            pump_hold: None,
            boiler_hold: None,
            free_at: None,
        };
    }

    /// Grants what may be granted and says what stood in the way of the rest.
    pub fn apply(&mut self, now: Instant, request: Request, settings: &Settings) -> GuardStatus {
        let mut status = self.status(now);
        self.apply_to(&mut status, now, request, settings);
        status
    }

    /// The same, with the [`Guard::status`] of this moment at hand, which it brings up to date.
    pub(crate) fn apply_to(
        &mut self,
        status: &mut GuardStatus,
        now: Instant,
        request: Request,
        settings: &Settings,
    ) {
        let (boiler, boiler_hold) = self.boiler_after(now, request, settings);
        let (pump, pump_hold) = self.pump_after(now, request, boiler, settings);
        // The call never outlives the circulation; it only starts while that is on already.
        let boiler = boiler && pump;
        let changed = (pump, boiler) != (self.pump, self.boiler);
        self.write(now, pump, boiler, request, settings);
        if changed {
            self.look(now, status);
        }
        status.pump_hold = pump_hold.map(|(hold, _)| hold);
        status.boiler_hold = boiler_hold.map(|(hold, _)| hold);
        let end = |hold: Option<(Hold, Option<Instant>)>| hold?.1;
        status.free_at = match (end(pump_hold), end(boiler_hold)) {
            (Some(one), Some(other)) => Some(one.min(other)),
            (one, other) => one.or(other),
        };
    }

    fn boiler_after(
        &self,
        now: Instant,
        request: Request,
        settings: &Settings,
    ) -> (bool, Option<(Hold, Option<Instant>)>) {
        let held = |hold, until| (self.boiler, Some((hold, until)));
        let waits_until = |end: Instant| (end > now).then_some(end);
        let wish = match (request.boiler, request.pump) {
            // A call with the circulator asked to rest contradicts itself: no new heat.
            (BoilerRequest::Call, PumpRequest::Rest(_)) => BoilerRequest::Release,
            (wish, _) => wish,
        };
        match wish {
            BoilerRequest::Drop => (false, None),
            BoilerRequest::Release if !self.boiler => (false, None),
            BoilerRequest::Release => {
                match waits_until(self.boiler_since + settings.boiler_min_on()) {
                    Some(end) => held(Hold::BoilerRun, Some(end)),
                    None => (false, None),
                }
            }
            BoilerRequest::Call if self.boiler => (true, None),
            BoilerRequest::Call => {
                if !self.pump {
                    return held(Hold::NoCirculation, None);
                }
                if let Some(end) = waits_until(self.boot + self.delays.boiler) {
                    return held(Hold::BoilerBoot, Some(end));
                }
                // What went before the boot is not known: its delay stands for the rest.
                let rest = if self.boiler_since == self.boot {
                    Duration::ZERO
                } else {
                    settings.boiler_min_off()
                };
                if let Some(end) = waits_until(self.boiler_since + rest) {
                    return held(Hold::BoilerRest, Some(end));
                }
                let cap = settings.boiler_starts();
                if self.boiler_starts.in_last_hour(now) >= cap {
                    return held(Hold::BoilerStarts, self.boiler_starts.below(cap));
                }
                (true, None)
            }
        }
    }

    fn pump_after(
        &self,
        now: Instant,
        request: Request,
        boiler: bool,
        settings: &Settings,
    ) -> (bool, Option<(Hold, Option<Instant>)>) {
        let held = |hold, until| (self.pump, Some((hold, until)));
        let waits_until = |end: Instant| (end > now).then_some(end);
        let spaced = self.pump_since + LEAST_BETWEEN_CHANGES;
        match request.pump {
            PumpRequest::Rest(Stop::AtOnce) => (false, None),
            PumpRequest::Rest(_) if !self.pump => (false, None),
            PumpRequest::Rest(stop) => {
                if boiler {
                    return held(Hold::BoilerRun, None);
                }
                // The call ends in this very step: the overrun starts here.
                if self.boiler && request.heat_proven {
                    return held(Hold::Overrun, Some(now + settings.post_run));
                }
                if let Some(end) = waits_until(self.overrun_until) {
                    return held(Hold::Overrun, Some(end));
                }
                let shortest = match stop {
                    Stop::AfterMinimum => self.pump_since + settings.pump_min_on,
                    Stop::Early | Stop::AtOnce => spaced,
                };
                match waits_until(shortest) {
                    Some(end) => held(Hold::PumpRun, Some(end)),
                    None => (false, None),
                }
            }
            PumpRequest::Run(_) if self.pump => (true, None),
            PumpRequest::Run(Urgency::Frost) => {
                let rested = (self.pump_since + settings.frost_min_off).max(spaced);
                let end = rested.max(self.boot + self.delays.frost);
                match waits_until(end) {
                    Some(end) if end > rested => held(Hold::Boot, Some(end)),
                    Some(end) => held(Hold::PumpRest, Some(end)),
                    None => (true, None),
                }
            }
            PumpRequest::Run(Urgency::Normal) => {
                if let Some(end) = waits_until(self.boot + self.delays.pump) {
                    return held(Hold::Boot, Some(end));
                }
                if let Some(end) = waits_until(self.pump_since + settings.pump_min_off) {
                    return held(Hold::PumpRest, Some(end));
                }
                let cap = settings.pump_starts;
                if self.pump_starts.in_last_hour(now) >= cap {
                    return held(Hold::PumpStarts, self.pump_starts.below(cap));
                }
                (true, None)
            }
        }
    }

    /// The only place where the bits change.
    fn write(
        &mut self,
        now: Instant,
        pump: bool,
        boiler: bool,
        request: Request,
        settings: &Settings,
    ) {
        if self.boiler && !boiler && request.heat_proven {
            self.overrun_until = now + settings.post_run;
        }
        if pump != self.pump {
            self.pump = pump;
            self.pump_since = now;
            if pump {
                self.pump_starts.record(now);
            } else {
                self.overrun_until = now;
            }
        }
        if boiler != self.boiler {
            self.boiler = boiler;
            self.boiler_since = now;
            if boiler {
                self.called = true;
                self.boiler_starts.record(now);
            }
        }
    }
}

#[cfg(test)]
mod states;
#[cfg(test)]
mod tests;
