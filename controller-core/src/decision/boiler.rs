//! Backup heat: called on an emergency or when the loop is not holding the slab, never on a bare
//! threshold; proven by the water; ended by any limit at once.

use super::demand::Wanted;
use super::{OUTLIVES_SENSOR, View, no_flow};
use crate::estimate::Flow;
use crate::fallback::CallOn;
use crate::guard::BoilerRequest;
use crate::reason::{Cause, What, words};
use crate::sensor::Trust;
use crate::settings::{BoilerKind, Mode, Settings};
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
    pub(super) cause: Cause,
}

/// Rise of the supply that proves heat, K; or this rate, K per minute, for this long and so much.
const PROOF_RISE: Kelvin = Kelvin::from_milli(3_000);
const PROOF_RATE: Kelvin = Kelvin::from_milli(300);
const PROOF_RATE_FOR: Duration = Duration::from_mins(5);
const PROOF_RATE_RISE: Kelvin = Kelvin::from_milli(1_000);
const MINUTE: Duration = Duration::from_secs(60);
/// Supply this close to the earth's temperature for this long: the fire is out.
const FIRE_OUT: Kelvin = Kelvin::from_milli(1_500);
const FIRE_OUT_FOR: Duration = Duration::from_mins(15);
/// Wait after a failed call: while the slab is cold, and otherwise.
const RETRY_COLD: Duration = Duration::from_mins(60);
const RETRY: Duration = Duration::from_hours(6);
/// Slab above its set temperature at which a call ends, K.
const ENOUGH: Kelvin = Kelvin::from_milli(500);
/// Return limit in an emergency, °C: plants before the food store.
const RETURN_EMERGENCY: Celsius = Celsius::from_milli(25_000);
/// Supply below target over which an injection's share of time is spread, K.
const INJECTION_SPAN: i64 = 15;
/// Supply above slab an injection aims for at most, K.
const INJECTION_ABOVE_SLAB: Kelvin = Kelvin::from_milli(25_000);
/// Shares of time, in hundredths.
const SHARE_LEAST: u32 = 15;
const SHARE_WHOLE: u32 = 75;
const LONG_DAY: Duration = Duration::from_hours(16);
const DAY: Duration = Duration::from_hours(24);
/// Limits of the rows of the matrix that do not go by the slab.
const RETURN_COLD: Celsius = Celsius::from_milli(3_000);
const SUPPLY_COLD: Celsius = Celsius::from_milli(5_000);
const LEAVE_ABOVE: Kelvin = Kelvin::from_milli(1_000);

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
        self.asked = trigger.is_some() || (self.served && !enough(view, demand));
        let wanted = (self.asked || for_harm) && duty > 0;
        let retry = if view
            .slab()
            .is_none_or(|slab| slab <= view.settings.backup_slab)
        {
            RETRY_COLD
        } else {
            RETRY
        };
        let failed = self.failed_ago < retry;
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
        let slab_emergency = view
            .slab()
            .is_some_and(|slab| slab <= view.settings.backup_emergency);
        let return_lifted = view.guard.boiler
            && slab_emergency
            && view.settings.return_to_store
            && view
                .readings
                .ret
                .value
                .is_some_and(|ret| ret >= view.settings.return_limit());
        Report {
            request,
            allowed: duty > 0
                && limit.is_none()
                && self.failed_ago >= RETRY_COLD
                && view.estimate.flow == Flow::Flowing,
            wants_pump: wanted && !failed,
            proven: self.proven,
            state,
            return_lifted,
            cause: trigger.unwrap_or_else(|| {
                let slab = view.slab().unwrap_or(Celsius::ZERO);
                Cause::point(
                    What::Slab,
                    slab,
                    demand.slab_set + ENOUGH,
                    view.readings.slab.age,
                )
            }),
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
        let emergency = view
            .slab()
            .is_some_and(|slab| slab <= settings.backup_emergency);
        let steep = match (
            view.readings.supply.value,
            view.readings.slab.value,
            view.estimate.slab_slope,
        ) {
            (Some(supply), Some(slab), Some(slope)) => {
                supply - slab > settings.supply_slab_max
                    && slope > settings.slab_rise_max
                    && !emergency
            }
            _ => false,
        };
        let rest = off_part(settings, self.share.min(duty), self.is_oversized());
        purged && !steep && view.guard.boiler_off_for >= rest
    }

    fn going_on(&mut self, view: &View<'_>, wanted: bool, duty: u32) -> BoilerRequest {
        self.share = Self::share_wanted(view, duty);
        if wanted && view.guard.boiler_for < on_part(view.settings, self.share) {
            BoilerRequest::Call
        } else {
            BoilerRequest::Release
        }
    }

    /// Share of time wanted, in hundredths: an injection's falls as the supply nears its target.
    fn share_wanted(view: &View<'_>, duty: u32) -> u32 {
        if view.settings.boiler != BoilerKind::Injection {
            return duty;
        }
        let Some(supply) = view.readings.supply.value else {
            return duty;
        };
        let above_slab = view.slab().map_or(view.settings.supply_target, |slab| {
            slab + INJECTION_ABOVE_SLAB
        });
        let target = view
            .settings
            .supply_target
            .min(view.row.call.supply_target)
            .min(above_slab);
        let hundredths =
            i64::from((target - supply).to_bits()).saturating_mul(100) / (INJECTION_SPAN << 16);
        let wanted = u32::try_from(hundredths)
            .unwrap_or(0)
            .clamp(SHARE_LEAST, 100);
        let wanted = if wanted > SHARE_WHOLE { 100 } else { wanted };
        wanted.min(duty)
    }
}

/// On-time of one call at a share of time; [`Duration::MAX`] for "until enough".
fn on_part(settings: &Settings, share: u32) -> Duration {
    match (share, settings.boiler) {
        (100.., _) => Duration::MAX,
        (_, BoilerKind::Injection) => settings
            .injection_period
            .share(share, 100)
            .max(settings.injection_min_on),
        (_, BoilerKind::Firing | BoilerKind::None) => settings.firing_min_on,
    }
}

/// Rest that keeps the share; an oversized boiler rests a period longer.
fn off_part(settings: &Settings, share: u32, oversized: bool) -> Duration {
    let on = match settings.boiler {
        BoilerKind::Injection => settings
            .injection_period
            .share(share, 100)
            .max(settings.injection_min_on),
        BoilerKind::Firing | BoilerKind::None => settings.firing_min_on,
    };
    let rest = on.share(100_u32.saturating_sub(share), share);
    let extra = if oversized && settings.boiler == BoilerKind::Injection {
        settings.injection_period
    } else {
        Duration::ZERO
    };
    rest + extra
}

/// What ends a call at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Limit {
    SupplySoft,
    Return,
    SlabMax,
    /// No water moves, or the water contradicts what asks for heat.
    Water,
}

/// For each limit the time since it was last seen to stand; [`Duration::MAX`] for over. A limit
/// outlives its sensor by an hour: losing a reading never lets heat in.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Limits {
    supply: Duration,
    ret: Duration,
    slab: Duration,
    water: Duration,
}

impl Limits {
    const NONE: Self = Self {
        supply: Duration::MAX,
        ret: Duration::MAX,
        slab: Duration::MAX,
        water: Duration::MAX,
    };

    fn update(&mut self, view: &View<'_>) -> Option<Limit> {
        let next = |before: Duration, stands: Option<bool>| match stands {
            Some(true) => Duration::ZERO,
            Some(false) => Duration::MAX,
            None => before + view.step,
        };
        let readings = view.readings;
        let settings = view.settings;
        let soft = settings.soft_limit().min(view.row.call.supply_soft);
        let pipe_lost = readings.supply.is_lost() || readings.ret.is_lost();
        self.supply = next(self.supply, readings.supply.hot.map(|t| t >= soft));
        self.ret = next(
            self.ret,
            match return_limit(view) {
                Some(cap) => readings.ret.hot.map(|t| t >= cap),
                None => Some(false),
            },
        );
        self.slab = next(
            self.slab,
            readings.slab.value.map(|t| t >= settings.slab_max),
        );
        let water = no_flow(view.estimate.flow_proof)
            || view.estimate.slab_reads_low
            || view.estimate.swapped;
        self.water = next(self.water, (water || !pipe_lost).then_some(water));
        self.standing()
    }

    fn standing(&self) -> Option<Limit> {
        [
            (self.supply, Limit::SupplySoft),
            (self.ret, Limit::Return),
            (self.slab, Limit::SlabMax),
            (self.water, Limit::Water),
        ]
        .into_iter()
        .find_map(|(time, limit)| (time < OUTLIVES_SENSOR).then_some(limit))
    }
}

/// Return that ends a call, °C; the store's limit is lifted in an emergency.
fn return_limit(view: &View<'_>) -> Option<Celsius> {
    let settings = view.settings;
    let emergency = view
        .slab()
        .is_some_and(|slab| slab <= settings.backup_emergency);
    let to_store = match (settings.return_to_store, emergency) {
        (false, _) => None,
        (true, true) => Some(RETURN_EMERGENCY),
        (true, false) => Some(settings.return_limit()),
    };
    match (view.row.call.return_stop, to_store) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (one, other) => one.or(other),
    }
}

/// Is the loop running and yet not holding the slab, or not to be used?
fn not_holding(view: &View<'_>, store_hold: bool) -> bool {
    let ran = view.estimate.moving_for >= view.settings.holding_time;
    let falling = view
        .estimate
        .run_slope
        .is_some_and(|slope| slope < view.settings.holding_slope);
    let purged = view.estimate.flow == Flow::Flowing;
    (ran && purged && falling) || (store_hold && purged)
}

/// The condition that calls for heat, if one holds. Raising the supply never makes one hold.
fn trigger(view: &View<'_>, demand: &Wanted, store_hold: bool) -> Option<Cause> {
    let settings = view.settings;
    let age = view.readings.slab.age;
    let slab = view.slab_believed();
    let at_or_below = |limit: Celsius| {
        slab.filter(|slab| *slab <= limit)
            .map(|slab| Cause::point(What::Slab, slab, limit, age))
    };
    let by_slab = || {
        at_or_below(settings.backup_emergency)
            .or_else(|| at_or_below(settings.backup_slab).filter(|_| not_holding(view, store_hold)))
    };
    let outdoor = || {
        let mean = view.estimate.outdoor_mean?;
        (mean < settings.backup_outdoor).then(|| {
            Cause::point(
                What::OutdoorMean,
                mean,
                settings.backup_outdoor,
                view.readings.outdoor.age,
            )
        })
    };
    let by_water = || {
        let water = view.estimate.water_slab?;
        (water <= settings.backup_slab).then(|| {
            Cause::point(
                What::WaterSlab,
                water,
                settings.backup_slab,
                view.estimate.water_slab_age,
            )
        })
    };
    match view.row.call.on {
        CallOn::Everything => by_slab().or_else(|| {
            let below = slab.is_some_and(|slab| slab < demand.lower);
            let winter = view.is_winter();
            outdoor().filter(|_| winter && below && not_holding(view, store_hold))
        }),
        CallOn::Slab => by_slab(),
        CallOn::WaterOrOutdoor => by_water().or_else(outdoor),
        CallOn::Water => by_water(),
        CallOn::Outdoor => outdoor(),
        CallOn::ColdReturn => view
            .readings
            .ret
            .cold
            .filter(|ret| *ret < RETURN_COLD)
            .map(|ret| Cause::point(What::Return, ret, RETURN_COLD, view.readings.ret.age)),
        CallOn::ColdSupply => view
            .readings
            .supply
            .cold
            .filter(|supply| {
                view.is_winter() && *supply < SUPPLY_COLD && view.estimate.flow == Flow::Flowing
            })
            .map(|supply| {
                Cause::point(What::Supply, supply, SUPPLY_COLD, view.readings.supply.age)
            }),
        CallOn::Blind => view.is_winter().then(|| Cause::count(What::SensorsLost, 4)),
    }
}

/// Is it warm enough to end what was asked for?
fn enough(view: &View<'_>, demand: &Wanted) -> bool {
    match view.row.call.on {
        CallOn::Everything | CallOn::Slab | CallOn::WaterOrOutdoor | CallOn::Water => view
            .slab()
            .is_none_or(|slab| slab >= demand.slab_set + ENOUGH),
        CallOn::Outdoor => !view.outdoor_mean_below(view.settings.backup_outdoor + LEAVE_ABOVE),
        CallOn::ColdReturn => view
            .readings
            .ret
            .value
            .is_none_or(|ret| ret >= RETURN_COLD + LEAVE_ABOVE + LEAVE_ABOVE),
        CallOn::ColdSupply => view
            .readings
            .supply
            .value
            .is_none_or(|supply| supply >= SUPPLY_COLD + LEAVE_ABOVE + LEAVE_ABOVE),
        CallOn::Blind => !view.is_winter(),
    }
}
