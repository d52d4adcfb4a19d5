//! Backup heat: called on an emergency or when the loop is not holding the slab, never on a bare
//! threshold; proven by the water; ended by any limit at once.

mod limits;
mod share;
mod trigger;

use limits::{Limit, Limits};
use trigger::{Trigger, enough, enough_slab, trigger};

use super::View;
use super::demand::Wanted;
use crate::estimate::Flow;
use crate::fallback::CallOn;
use crate::guard::BoilerRequest;
use crate::reason::{Cause, What, words};
use crate::sensor::Trust;
use crate::settings::{BoilerKind, Mode};
use crate::time::Duration;
use crate::units::{Celsius, Kelvin};

words! {
    /// What the boiler rule is doing.
    BoilerState {
        /// No backup fitted, or none allowed with the readings left.
        Barred = "barred",
        /// Not needed.
        Idle = "idle",
        /// Wanted, and waiting for purge, rest, duty or a limit.
        Waiting = "waiting",
        /// Called; heat not seen yet.
        Proving = "proving",
        /// Called and heat seen.
        Heating = "heating",
        /// A call showed no heat: waiting before the next.
        NoHeat = "no_heat",
    }
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Boiler {
    /// Heat is wanted until a leave condition.
    asked: bool,
    /// A call was made for it: it goes on until enough, not only while something asks.
    served: bool,
    /// Heat seen in this call, or in the last of a row of injections.
    proven: bool,
    /// Call time without heat seen.
    unproven_for: Duration,
    /// Supply and store when the call began.
    before: Option<Celsius>,
    earth: Celsius,
    /// Supply a minute ago, and for how long it has been rising.
    minute: Duration,
    minute_supply: Option<Celsius>,
    rising_for: Duration,
    /// Supply back at the earth's temperature.
    cold_for: Duration,
    limits: Limits,
    /// Since the last call that failed.
    failed_ago: Duration,
    failures: u8,
    fire_out: bool,
    /// Calls in a row that ended on the supply limit before their shortest time.
    soft_ends: u8,
    /// Share of time of the call that is on or was last, in hundredths.
    share: u32,
    /// Call time in the present day of uptime.
    day: Duration,
    day_calls: Duration,
    long_day: bool,
}

#[derive(Clone, Copy)]
pub(super) struct Report {
    pub(super) request: BoilerRequest,
    /// No limit or fault stands against a call.
    pub(super) allowed: bool,
    pub(super) wants_pump: bool,
    pub(super) proven: bool,
    pub(super) state: BoilerState,
    pub(super) return_lifted: bool,
    /// What asks for heat.
    trigger: Option<Trigger>,
}

impl Report {
    /// What asks for heat, or until when it goes on.
    pub(super) fn cause(&self, view: &View<'_>) -> Cause {
        if let Some(trigger) = self.trigger {
            return trigger.cause(view);
        }
        let slab = view.slab().unwrap_or(Celsius::ZERO);
        Cause::point(What::Slab, slab, enough_slab(view), view.readings.slab.age)
    }
}

/// Rise of the supply that proves heat, K; or this rate, K per minute, for this long and so much.
const PROOF_RISE: Kelvin = Kelvin::from_milli(3_000);
const PROOF_RATE: Kelvin = Kelvin::from_milli(300);
const PROOF_RATE_FOR: Duration = Duration::from_mins(5);
const PROOF_RATE_RISE: Kelvin = Kelvin::from_milli(1_000);
/// How often the supply's rise is looked at.
const MINUTE: Duration = Duration::from_secs(60);
/// Supply this close to the earth's temperature for this long: the fire is out.
const FIRE_OUT: Kelvin = Kelvin::from_milli(1_500);
const FIRE_OUT_FOR: Duration = Duration::from_mins(15);
/// Wait after a failed call: while the slab is cold, and otherwise.
const RETRY_COLD: Duration = Duration::from_mins(60);
const RETRY: Duration = Duration::from_hours(6);
/// Calls that add up to so much in a day are worth a word, and the day.
const LONG_DAY: Duration = Duration::from_hours(16);
const DAY: Duration = Duration::from_hours(24);

impl Boiler {
    pub(super) const NEW: Self = Self {
        asked: false,
        served: false,
        proven: false,
        unproven_for: Duration::ZERO,
        before: None,
        earth: Celsius::ZERO,
        minute: Duration::ZERO,
        minute_supply: None,
        rising_for: Duration::ZERO,
        cold_for: Duration::ZERO,
        limits: Limits::NONE,
        failed_ago: Duration::MAX,
        failures: 0,
        fire_out: false,
        soft_ends: 0,
        share: 100,
        day: Duration::ZERO,
        day_calls: Duration::ZERO,
        long_day: false,
    };

    pub(super) const fn is_proven(&self) -> bool {
        self.proven
    }
    pub(super) const fn failures(&self) -> u8 {
        self.failures
    }
    pub(super) const fn is_fire_out(&self) -> bool {
        self.fire_out
    }
    pub(super) const fn is_oversized(&self) -> bool {
        self.soft_ends >= 3
    }
    pub(super) const fn is_long_day(&self) -> bool {
        self.long_day
    }

    /// May a call be tried now, as far as this rule knows?
    pub(super) fn can_try(&self, view: &View<'_>) -> bool {
        self.duty_percent(view) > 0
            && self.limits.standing().is_none()
            && self.failed_ago >= RETRY_COLD
            && (view.guard.boiler || view.guard.boiler_for >= view.settings.boiler_min_off())
    }

    pub(super) fn update(
        &mut self,
        view: &View<'_>,
        demand: &Wanted,
        store_hold: bool,
        for_harm: bool,
    ) -> Report {
        self.pass_time(view);
        if view.acknowledged {
            self.failed_ago = Duration::MAX;
            self.failures = 0;
            self.fire_out = false;
            self.soft_ends = 0;
        }
        if view.guard.boiler {
            self.watch_call(view);
        }
        let duty = self.duty_percent(view);
        let limit = self.limits.update(view);
        if let Some(Limit::SupplySoft) = limit
            && view.guard.boiler
        {
            let short = view.guard.boiler_for < view.settings.boiler_min_on();
            self.soft_ends = if short {
                self.soft_ends.saturating_add(1)
            } else {
                0
            };
        }
        let trigger = trigger(view, demand, store_hold);
        self.served = self.asked && (self.served || view.guard.boiler);
        self.asked = trigger.is_some() || (self.served && !enough(view));
        let wanted = (self.asked || for_harm) && duty > 0;
        let failed = self.failed_ago < RETRY && self.failed_ago < retry(view);
        let request = match limit {
            _ if duty == 0 => BoilerRequest::Drop,
            Some(_) => BoilerRequest::Drop,
            None if failed && self.failed_ago <= view.step => BoilerRequest::Drop,
            None if view.guard.boiler => self.going_on(view, wanted, duty),
            None if wanted && !failed && self.may_start(view, duty) => BoilerRequest::Call,
            None => BoilerRequest::Release,
        };
        let state = match (duty, view.guard.boiler) {
            (0, _) => BoilerState::Barred,
            (_, true) if self.proven => BoilerState::Heating,
            (_, true) => BoilerState::Proving,
            (_, false) if failed && (wanted || self.failures > 0) => BoilerState::NoHeat,
            (_, false) if wanted => BoilerState::Waiting,
            (_, false) => BoilerState::Idle,
        };
        Report {
            request,
            allowed: duty > 0
                && limit.is_none()
                && self.failed_ago >= RETRY_COLD
                && view.estimate.flow == Flow::Flowing,
            wants_pump: wanted && !failed,
            proven: self.proven,
            state,
            return_lifted: view.guard.boiler && is_return_lifted(view),
            trigger,
        }
    }

    fn pass_time(&mut self, view: &View<'_>) {
        self.failed_ago = self.failed_ago + view.step;
        if view.guard.boiler_off_for >= Duration::from_hours(1) {
            self.before = None; // the next call has to prove itself anew
        }
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

    /// Heat, and its end, as the water shows them.
    fn watch_call(&mut self, view: &View<'_>) {
        if view.guard.boiler_for <= view.step {
            self.begin(view);
        }
        let Some(supply) = view.readings.supply.value else {
            // Nothing to prove it by; the matrix only allows this behind a tested limit.
            self.proven = view.readings.supply.is_lost();
            return;
        };
        let before = *self.before.get_or_insert(supply);
        self.minute = self.minute + view.step;
        if self.minute >= MINUTE {
            let rose = self
                .minute_supply
                .is_some_and(|then| supply - then >= PROOF_RATE);
            self.rising_for = if rose {
                self.rising_for + self.minute
            } else {
                Duration::ZERO
            };
            self.minute = Duration::ZERO;
            self.minute_supply = Some(supply);
        }
        let by_rise = supply >= before + PROOF_RISE;
        let by_rate = self.rising_for >= PROOF_RATE_FOR && supply >= before + PROOF_RATE_RISE;
        if by_rise || by_rate {
            self.proven = true;
            self.unproven_for = Duration::ZERO;
            self.failures = 0;
            self.fire_out = false;
        }
        if !self.proven {
            self.unproven_for = self.unproven_for + view.step;
            if self.unproven_for >= view.settings.proof_time {
                self.fail();
            }
            return;
        }
        let cold = supply <= self.earth + FIRE_OUT;
        self.cold_for = if cold {
            self.cold_for + view.step
        } else {
            Duration::ZERO
        };
        if self.cold_for >= FIRE_OUT_FOR {
            self.fail();
        }
    }

    fn begin(&mut self, view: &View<'_>) {
        let row_of_injections =
            view.settings.boiler == BoilerKind::Injection && self.before.is_some();
        if !row_of_injections {
            self.proven = false;
            self.unproven_for = Duration::ZERO;
            self.before = view.readings.supply.value;
            self.earth = view
                .estimate
                .store
                .min(view.readings.supply.value.unwrap_or(view.estimate.store));
        }
        self.minute = Duration::ZERO;
        self.minute_supply = view.readings.supply.value;
        self.rising_for = Duration::ZERO;
        self.cold_for = Duration::ZERO;
    }

    fn fail(&mut self) {
        self.failed_ago = Duration::ZERO;
        self.failures = self.failures.saturating_add(1);
        self.fire_out = true;
        self.proven = false;
        self.unproven_for = Duration::ZERO;
        self.cold_for = Duration::ZERO;
        self.before = None;
    }

    /// Largest share of time the boiler may be called with the readings left; 0 for not at all.
    fn duty_percent(&self, view: &View<'_>) -> u32 {
        let call = view.row.call;
        let settings = view.settings;
        let supply_doubted = view.readings.supply.trust == Trust::Suspect;
        let no_limit = call.needs_hard_limit && !settings.hard_limit_tested;
        let blind = call.on == CallOn::Blind && settings.blind_duty == Duration::ZERO;
        let firing_too_rarely = settings.boiler == BoilerKind::Firing && call.duty_percent < 20;
        let none = settings.boiler == BoilerKind::None || settings.mode == Mode::Drained;
        if supply_doubted || no_limit || blind || firing_too_rarely || none {
            return 0;
        }
        let most = u32::from(call.duty_percent);
        if call.on == CallOn::Blind {
            // The owner's minutes in an hour.
            return most.min(settings.blind_duty.as_secs() / 36);
        }
        most
    }

    /// May a call start now, as far as duty, purge and gentle heating go?
    fn may_start(&self, view: &View<'_>, duty: u32) -> bool {
        let settings = view.settings;
        let purged = view.guard.pump
            && view.guard.pump_for >= settings.purge
            && (view.estimate.flow == Flow::Flowing || view.readings.supply.is_lost());
        let steep = match (
            view.readings.supply.value,
            view.readings.slab.value,
            view.estimate.slab_slope,
        ) {
            (Some(supply), Some(slab), Some(slope)) => {
                supply - slab > settings.supply_slab_max
                    && slope > settings.slab_rise_max
                    && !is_emergency(view)
            }
            _ => false,
        };
        let rest = share::off_part(settings, self.share.min(duty), self.is_oversized());
        purged && !steep && view.guard.boiler_off_for >= rest
    }

    fn going_on(&mut self, view: &View<'_>, wanted: bool, duty: u32) -> BoilerRequest {
        self.share = share::wanted(view, duty);
        if wanted && view.guard.boiler_for < share::on_part(view.settings, self.share) {
            BoilerRequest::Call
        } else {
            BoilerRequest::Release
        }
    }
}

/// Wait after a failed call.
fn retry(view: &View<'_>) -> Duration {
    let cold = view
        .slab()
        .is_none_or(|slab| slab <= view.settings.backup_slab);
    if cold { RETRY_COLD } else { RETRY }
}

/// Water warmer than the store's limit goes back to it, since the slab is in danger.
fn is_return_lifted(view: &View<'_>) -> bool {
    let settings = view.settings;
    let warm = |ret| ret >= settings.return_limit();
    settings.return_to_store && is_emergency(view) && view.readings.ret.value.is_some_and(warm)
}

/// Is the slab so cold that other limits give way?
fn is_emergency(view: &View<'_>) -> bool {
    view.slab()
        .is_some_and(|slab| slab <= view.settings.backup_emergency)
}
