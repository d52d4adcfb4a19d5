//! Second stage: from readings to what they mean. Measures and remembers; wants nothing.

pub(crate) mod cross;
mod flow;
mod flow_proof;
mod heat;
mod trend;
mod water;

pub use flow::Flow;
pub use flow_proof::FlowProof;

use cross::{CrossCheck, CrossInput};
use flow::FlowClock;
use flow_proof::{FlowInput, FlowWatch};
use heat::{HeatFrom, HeatMeter};
use trend::Trend;
pub(crate) use trend::stretch;
use water::{SETTLED, Water, WaterInput};

use crate::guard::GuardStatus;
use crate::sensor::{BySensor, Reading, Smoother, Verdict};
use crate::settings::{Mode, SUSPECT_MARGIN, Settings};
use crate::time::Duration;
use crate::units::{Celsius, Kelvin, KelvinPerHour, Ratio, Watts};

/// What is known, as far as anything is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Estimate {
    /// Is the water moving?
    pub flow: Flow,
    /// Time the water has been moving; zero at rest.
    pub moving_for: Duration,
    /// Time the water has been at rest; zero while moving.
    pub resting_for: Duration,
    /// Has the flow been purged long enough for averages to stand for the water?
    pub settled: bool,
    /// Was moving water seen?
    pub flow_proof: FlowProof,
    /// Is this run still to show whether water moves?
    pub flow_proof_open: bool,
    /// Filtered outdoor temperature; a cold guess once the sensor is long lost in winter.
    pub outdoor_mean: Option<Celsius>,
    /// The colder of outdoor now and filtered; -18 °C when lost.
    pub outdoor_cold: Celsius,
    /// Slab slope over the window.
    pub slab_slope: Option<KelvinPerHour>,
    /// Slab slope since the circulator started, after an hour.
    pub run_slope: Option<KelvinPerHour>,
    /// Slab slope in the last rest of an hour or more, for six hours.
    pub idle_slope: Option<KelvinPerHour>,
    /// Slab temperature looked ahead to.
    pub slab_ahead: Option<Celsius>,
    /// The slab as its water has it, without margin: taken to cool while nothing is measured.
    pub water_slab: Option<Celsius>,
    /// The same as it was measured.
    pub water_slab_measured: Option<Celsius>,
    /// The least the slab can be by running water that hardly cools in it; `None` if it cools well.
    pub slab_at_least: Option<Celsius>,
    /// Time since the slab's temperature was measured by its water.
    pub water_slab_age: Duration,
    /// Remembered or measured store temperature.
    pub store: Celsius,
    /// How much it is doubted.
    pub store_doubt: Kelvin,
    /// Time since it was measured; [`Duration::MAX`] for never.
    pub store_age: Duration,
    /// (supply − return) / (supply − slab).
    pub loop_yield: Ratio,
    /// Supply less return, averaged, after the purge.
    pub difference: Option<Kelvin>,
    /// Heat into the slab now (out of it while banking).
    pub heat: Option<Watts>,
    /// Heat per electricity now.
    pub heat_ratio: Option<Ratio>,
    /// The colder of supply and return when the circulator last stopped.
    pub at_stop: Option<Celsius>,
    /// Heat counted: from the earth, Wh.
    pub earth_wh: u32,
    /// Banked, Wh.
    pub banked_wh: u32,
    /// From the boiler, Wh.
    pub boiler_wh: u32,
    /// Most earth heat in a day, Wh: the present or the last whole one.
    pub day_earth_wh: u32,
    /// What the comparison of sensors says; the next step's checks hear of it.
    pub verdicts: BySensor<Verdict>,
    /// Supply and return look exchanged.
    pub swapped: bool,
    /// The slab reading and its water disagree.
    pub slab_disputed: bool,
    /// The slab reading is far below its warm water: no wood on its word.
    pub slab_reads_low: bool,
    /// The water is far warmer than the store and nobody called for it.
    pub uncalled_heat: bool,
    /// Water seems to move though the circulator is off.
    pub pump_unasked: bool,
    /// The circulator's feedback says that it stands still with its relay on.
    pub pump_refuses: bool,
}

/// Memory of the estimates.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Estimator {
    clock: FlowClock,
    outdoor: Smoother,
    outdoor_lost_for: Duration,
    trend: Trend,
    slab_slope: Option<KelvinPerHour>,
    run_slope: Option<KelvinPerHour>,
    idle_slope: Option<KelvinPerHour>,
    idle_slope_age: Duration,
    water: Water,
    heat: HeatMeter,
    flow: FlowWatch,
    cross: CrossCheck,
    unasked: Unasked,
    at_stop: Option<Celsius>,
}

/// Shortest stretch whose slope means anything.
const SLOPE_LEAST: Duration = Duration::from_hours(1);
/// How long the slope of the last rest is worth comparing with.
const IDLE_SLOPE_KEPT: Duration = Duration::from_hours(6);
/// Outdoor temperature is remembered this long before the worst is assumed.
const OUTDOOR_KEPT: Duration = Duration::from_hours(6);
/// What is assumed outdoors in winter with nothing known. Status: judgement.
const OUTDOOR_ASSUMED: Celsius = Celsius::from_milli(-6_000);
/// The same for a run through open air.
const EXPOSED_ASSUMED: Celsius = Celsius::from_milli(-18_000);
/// Slopes beyond this are not looked ahead with, K/h.
const AHEAD_SLOPE: KelvinPerHour = KelvinPerHour::from_milli(2_000);
/// A circulator that starts at all has started by then.
const REFUSES_AFTER: Duration = Duration::from_mins(1);
/// Heat after a call still counts as the boiler's this long.
const BOILER_HEAT: Duration = Duration::from_mins(30);

/// What the estimates need to know of the outputs of the step before.
pub(crate) struct EstimateInput<'a> {
    pub(crate) readings: &'a BySensor<Reading>,
    pub(crate) guard: &'a GuardStatus,
    /// Did the circulator really run, if anyone looked?
    pub(crate) pump_feedback: Option<bool>,
    /// Was the run banking?
    pub(crate) banking: bool,
    /// Did the owner just acknowledge latched doubts?
    pub(crate) acknowledged: bool,
    pub(crate) step: Duration,
}

impl Estimator {
    pub(crate) const NEW: Self = Self {
        clock: FlowClock::AT_REST,
        outdoor: Smoother::EMPTY,
        outdoor_lost_for: Duration::ZERO,
        trend: Trend::EMPTY,
        slab_slope: None,
        run_slope: None,
        idle_slope: None,
        idle_slope_age: Duration::MAX,
        water: Water::UNKNOWN,
        heat: HeatMeter::ZERO,
        flow: FlowWatch::NEW,
        cross: CrossCheck::NEW,
        unasked: Unasked::NEW,
        at_stop: None,
    };

    pub(crate) fn update(&mut self, input: &EstimateInput<'_>, settings: &Settings) -> Estimate {
        let readings = input.readings;
        let step = input.step;
        let was_moving = self.clock.moving_for() > Duration::ZERO;
        let rested = self.clock.resting_for();
        let moving = input.pump_feedback.unwrap_or(input.guard.pump);
        self.clock.update(moving, step);
        let flow = self.clock.flow(settings.purge);
        let moving_for = self.clock.moving_for();
        let settled = moving_for >= settings.purge + SETTLED;
        let loop_yield = self.water.loop_yield(settings);
        if was_moving && !moving {
            self.at_stop = colder(readings.supply.value, readings.ret.value);
        }

        let flow_proof = self.flow.update(
            &FlowInput {
                moving_for,
                supply: readings.supply.raw(),
                ret: readings.ret.raw(),
                slab: readings.slab.value,
                water: &self.water,
                loop_yield,
                rested: self.clock.rested_before(),
                step,
                forget: input.acknowledged || readings.supply.is_lost() || readings.ret.is_lost(),
            },
            settings,
        );
        let (outdoor_mean, outdoor_cold) = self.outdoor(&readings.outdoor, step, settings);
        self.slopes(
            readings.slab.value,
            !was_moving && moving,
            rested,
            step,
            settings,
        );

        let running = self.water.update(
            &self.clock,
            &WaterInput {
                supply: readings.supply.value,
                ret: readings.ret.value,
                ret_raw: readings.ret.raw(),
                slab_good: if self.cross.is_slab_disputed() {
                    None
                } else {
                    readings.slab.good()
                },
                step,
                settled,
                boiler_off_for: input.guard.boiler_off_for,
                boiler: input.guard.boiler,
                banking: input.banking,
                flow_seen: !self.flow.is_open() && !matches!(flow_proof, FlowProof::Absent(_)),
            },
            settings,
        );
        let (store, store_doubt, store_age) = self.water.store(settings);
        let loop_yield = self.water.loop_yield(settings); // perhaps learned just now
        let difference = running.map(|running| running.difference);
        let (heat, heat_ratio) = self.count_heat(difference, input, settings).unzip();
        let water_slab = self.water.slab(input.guard.boiler, readings.ret.raw());
        let heated = input.guard.boiler_off_for < BOILER_HEAT;
        let slab_at_least = if heated {
            None
        } else {
            running.and_then(|running| running.slab_at_least())
        };
        let (supply_stuck, return_stuck) = self.flow.stuck();
        let cross = self.cross.update(
            &CrossInput {
                readings,
                flow,
                moving_for,
                settled,
                boiler: input.guard.boiler,
                boiler_off_for: input.guard.boiler_off_for,
                water_slab,
                slab_at_least,
                water_fresh: self.water.slab_age() < Duration::from_mins(1),
                loop_yield,
                banking: input.banking,
                supply_stuck,
                return_stuck,
                acknowledged: input.acknowledged,
                step,
            },
            settings,
        );
        let [earth_wh, banked_wh, boiler_wh] = self.heat.watt_hours();
        Estimate {
            flow,
            moving_for,
            resting_for: self.clock.resting_for(),
            settled,
            flow_proof,
            flow_proof_open: self.flow.is_open(),
            outdoor_mean,
            outdoor_cold,
            slab_slope: self.slab_slope,
            run_slope: self.run_slope,
            idle_slope: self.idle_slope,
            slab_ahead: self.ahead(&readings.slab, settings),
            water_slab,
            water_slab_measured: self.water.slab_measured(),
            slab_at_least,
            water_slab_age: self.water.slab_age(),
            store,
            store_doubt,
            store_age,
            loop_yield,
            difference,
            heat,
            heat_ratio,
            at_stop: self.at_stop,
            earth_wh,
            banked_wh,
            boiler_wh,
            day_earth_wh: self.heat.day_watt_hours(),
            verdicts: cross.verdicts,
            swapped: cross.swapped,
            slab_disputed: cross.slab_disputed,
            slab_reads_low: cross.slab_reads_low,
            uncalled_heat: self.water.uncalled_heat(),
            pump_unasked: self
                .unasked
                .update(&self.clock, readings, input, store, loop_yield),
            pump_refuses: input.pump_feedback == Some(false)
                && input.guard.pump
                && input.guard.pump_for >= REFUSES_AFTER,
        }
    }

    /// Filtered outdoor temperature, and the colder of it and now.
    fn outdoor(
        &mut self,
        reading: &Reading,
        step: Duration,
        settings: &Settings,
    ) -> (Option<Celsius>, Celsius) {
        if let Some(now) = reading.value {
            self.outdoor_lost_for = Duration::ZERO;
            let mean = self.outdoor.update(now, step, settings.outdoor_time);
            let cold = now.min(mean);
            let margin = if reading.good().is_some() {
                Kelvin::ZERO
            } else {
                SUSPECT_MARGIN
            };
            return (Some(mean), cold - margin);
        }
        self.outdoor_lost_for = self.outdoor_lost_for + step;
        let mean = if self.outdoor_lost_for < OUTDOOR_KEPT {
            self.outdoor.value()
        } else {
            self.outdoor.clear();
            None
        };
        let assumed = match settings.mode {
            Mode::Winter | Mode::Commissioning => Some(OUTDOOR_ASSUMED),
            Mode::Summer | Mode::Drained => None,
        };
        (mean.or(assumed), EXPOSED_ASSUMED)
    }

    fn slopes(
        &mut self,
        slab: Option<Celsius>,
        started: bool,
        rested: Duration,
        step: Duration,
        settings: &Settings,
    ) {
        let width = settings.slope_stretch;
        if started {
            self.run_slope = None;
            if rested >= SLOPE_LEAST {
                self.idle_slope = self.trend.slope(rested, width);
                self.idle_slope_age = Duration::ZERO;
            }
        }
        self.idle_slope_age = self.idle_slope_age + step;
        if self.idle_slope_age >= IDLE_SLOPE_KEPT {
            self.idle_slope = None;
        }
        if self.clock.moving_for() == Duration::ZERO {
            self.run_slope = None;
        }
        if self.trend.update(slab, step, width) {
            self.slab_slope = self.trend.slope(settings.slope_window, width);
            let running = self.clock.moving_for();
            self.run_slope = if running >= SLOPE_LEAST {
                self.trend.slope(running, width)
            } else {
                None
            };
        }
    }

    fn ahead(&self, slab: &Reading, settings: &Settings) -> Option<Celsius> {
        let slope = self.slab_slope?.clamp(
            KelvinPerHour::from_bits(AHEAD_SLOPE.to_bits().saturating_neg()),
            AHEAD_SLOPE,
        );
        Some(slab.value? + slope.during(settings.horizon))
    }

    fn count_heat(
        &mut self,
        difference: Option<Kelvin>,
        input: &EstimateInput<'_>,
        settings: &Settings,
    ) -> Option<(Watts, Ratio)> {
        self.heat.pass(input.step);
        let from = if input.banking {
            HeatFrom::Slab
        } else if input.guard.boiler_off_for < BOILER_HEAT {
            HeatFrom::Boiler
        } else {
            HeatFrom::Earth
        };
        difference.map(|difference| self.heat.count(difference, from, input.step, settings))
    }
}

/// Does water move though the relay is off? Told by feedback at once; by temperatures only after
/// two hours of rest in which the supply stayed at the store's temperature, away from the slab's,
/// and lost to the return what running water loses. Pipes at rest take the same air's temperature:
/// theirs does not differ.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Unasked {
    stayed_for: Duration,
    rests: u8,
}

/// Rest that counts as one, supply this near the store's temperature, and this far from the slab's.
const UNASKED_REST: Duration = Duration::from_mins(60);
const UNASKED_AT_STORE: Kelvin = Kelvin::from_milli(500);
const UNASKED_OFF_SLAB: Kelvin = Kelvin::from_milli(2_000);

impl Unasked {
    const NEW: Self = Self {
        stayed_for: Duration::ZERO,
        rests: 0,
    };

    fn update(
        &mut self,
        clock: &FlowClock,
        readings: &BySensor<Reading>,
        input: &EstimateInput<'_>,
        store: Celsius,
        loop_yield: Ratio,
    ) -> bool {
        let off = !input.guard.pump && input.guard.pump_for >= Duration::from_mins(1);
        if off && input.pump_feedback == Some(true) {
            return true;
        }
        if input.guard.pump || clock.moving_for() > Duration::ZERO {
            self.stayed_for = Duration::ZERO;
            return self.rests >= 2;
        }
        let (Some(supply), Some(ret), Some(slab)) = (
            readings.supply.value,
            readings.ret.value,
            readings.slab.value,
        ) else {
            return self.rests >= 2;
        };
        let passes_on = || {
            let passed = (supply - ret).over(supply - slab);
            passed.is_some_and(|passed| passed.to_bits() >= loop_yield.to_bits() / 2)
        };
        let at_store = (supply - store).abs() <= UNASKED_AT_STORE
            && (supply - slab).abs() > UNASKED_OFF_SLAB
            && passes_on();
        if at_store {
            let before = self.stayed_for;
            self.stayed_for = self.stayed_for + input.step;
            if before < UNASKED_REST && self.stayed_for >= UNASKED_REST {
                self.rests = self.rests.saturating_add(1);
                self.stayed_for = Duration::ZERO;
            }
        } else {
            self.stayed_for = Duration::ZERO;
            self.rests = 0;
        }
        self.rests >= 2
    }
}

/// The colder of two, or the one that is known.
pub(crate) fn colder(a: Option<Celsius>, b: Option<Celsius>) -> Option<Celsius> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (one, other) => one.or(other),
    }
}
