//! Second stage: from readings to what they mean. Measures and remembers; wants nothing.

pub(crate) mod cross;
mod flow;
mod flow_proof;
mod heat;
mod water;

pub use flow::Flow;
pub use flow_proof::FlowProof;
pub(crate) use water::OLD as WATER_OLD;

use cross::{CrossCheck, CrossInput};
use flow::FlowClock;
use flow_proof::{FlowInput, FlowWatch};
use heat::{HeatFrom, HeatMeter};
use water::{Water, WaterInput};

use crate::guard::GuardStatus;
use crate::reason::words;
use crate::sensor::{BySensor, Reading, Smoother, Verdict};
use crate::settings::{Mode, Rule, SUSPECT_MARGIN, Settings};
use crate::shadow::ActualRelays;
use crate::time::Duration;
use crate::units::{Celsius, Kelvin, Ratio, Watts};

words! {
    /// Which reading the slab's temperature is by.
    SlabFrom {
        /// Nobody tells.
        Nothing = "",
        /// The slab's sensor.
        Sensor = "sensor",
        /// The return as it last moved: the sensor is lost, or it is the colder of the two.
        Water = "water",
    }
}

/// What is known, as far as anything is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Estimate {
    /// Is the water moving?
    pub flow: Flow,
    /// Time the water has been moving; zero at rest.
    pub moving_for: Duration,
    /// Time the water has been at rest; zero while moving.
    pub resting_for: Duration,
    /// Was moving water seen?
    pub flow_proof: FlowProof,
    /// Is this run still to show whether water moves?
    pub flow_proof_open: bool,
    /// Filtered outdoor temperature; a cold guess once the sensor is long lost in winter.
    pub outdoor_mean: Option<Celsius>,
    /// The colder of outdoor now and filtered; -18 °C when lost.
    pub outdoor_cold: Celsius,
    /// The slab as it counts: the colder of its sensor and its water.
    pub slab: Option<Celsius>,
    /// Which of them it is.
    pub slab_from: SlabFrom,
    /// The return as it last moved, while that stands for the slab.
    pub water: Option<Celsius>,
    /// Time since then.
    pub water_age: Duration,
    /// The supply as it last came out of the store.
    pub store: Option<Celsius>,
    /// Time since then; [`Duration::MAX`] for never.
    pub store_age: Duration,
    /// Supply less return, after the settling time.
    pub difference: Option<Kelvin>,
    /// Heat into the slab now.
    pub heat: Option<Watts>,
    /// The colder of supply and return when the circulator last stopped.
    pub at_stop: Option<Celsius>,
    /// Heat counted: from the earth, Wh.
    pub earth_wh: u32,
    /// From the boiler, Wh.
    pub boiler_wh: u32,
    /// What the comparison of sensors says; the next step's checks hear of it.
    pub verdicts: BySensor<Verdict>,
    /// The slab reading and its water disagree.
    pub slab_implausible: bool,
    /// The water is far warmer than any store and nobody called for it.
    pub heat_without_call: bool,
    /// Water seems to move though the circulator is off.
    pub flow_with_pump_off: bool,
    /// The circulator's feedback says that it stands still with its relay on.
    pub pump_refuses: bool,
}

/// Memory of the estimates.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Estimator {
    clock: FlowClock,
    outdoor: Smoother,
    outdoor_lost_for: Duration,
    water: Water,
    heat: HeatMeter,
    flow: FlowWatch,
    cross: CrossCheck,
    unasked: Unasked,
    at_stop: Option<Celsius>,
}

/// Time constant of the outdoor mean: a slab answers in 7 to 14 h.
const OUTDOOR_TIME: Duration = Duration::from_hours(12);
/// Outdoor temperature is remembered this long before the worst is assumed.
const OUTDOOR_KEPT: Duration = Duration::from_hours(6);
/// What is assumed outdoors in winter with nothing known. Status: judgement.
const OUTDOOR_ASSUMED: Celsius = Celsius::from_milli(-6_000);
/// The same for a run through open air.
const EXPOSED_ASSUMED: Celsius = Celsius::from_milli(-18_000);
/// A circulator that starts at all has started by then.
const REFUSES_AFTER: Duration = Duration::from_mins(1);

/// What the estimates need to know of the outputs of the step before.
pub(crate) struct EstimateInput<'a> {
    pub(crate) readings: &'a BySensor<Reading>,
    /// The relays as they really were.
    pub(crate) guard: &'a GuardStatus,
    /// If they are somebody else's: what is known of them.
    pub(crate) shadow: Option<ActualRelays>,
    /// Did the circulator really run, if anyone looked?
    pub(crate) pump_feedback: Option<bool>,
    /// Did the owner just acknowledge latched doubts?
    pub(crate) acknowledged: bool,
    pub(crate) step: Duration,
}

impl Estimator {
    pub(crate) const NEW: Self = Self {
        clock: FlowClock::AT_REST,
        outdoor: Smoother::EMPTY,
        outdoor_lost_for: Duration::ZERO,
        water: Water::UNKNOWN,
        heat: HeatMeter::ZERO,
        flow: FlowWatch::NEW,
        cross: CrossCheck::NEW,
        unasked: Unasked::NEW,
        at_stop: None,
    };

    pub(crate) fn update(&mut self, input: &EstimateInput<'_>, settings: &Settings) -> Estimate {
        let (readings, step) = (input.readings, input.step);
        let was_moving = self.clock.moving_for() > Duration::ZERO;
        let moving = input.pump_feedback.unwrap_or(input.guard.pump);
        self.clock.update(moving, step);
        if was_moving && !moving {
            self.at_stop = colder(readings.supply.value, readings.ret.value);
        }
        let flow = self.clock.flow(settings.settling_time);
        let moving_for = self.clock.moving_for();
        let (store, store_age) = self.water.store();
        let mut flow_proof = self.flow.update(
            &FlowInput {
                moving_for,
                supply: readings.supply.raw(),
                ret: readings.ret.raw(),
                slab: readings.slab.value,
                store,
                rested: self.clock.rested_before(),
                step,
                forget: input.acknowledged || readings.supply.is_lost() || readings.ret.is_lost(),
            },
            settings,
        );
        let is_unknown = (input.shadow).is_some_and(|actual| actual.circulator.is_none());
        if is_unknown || !settings.keeps(Rule::Flow) {
            flow_proof = FlowProof::Inconclusive;
        }
        let absent = matches!(flow_proof, FlowProof::Absent(_));
        let settled = flow == Flow::Flowing && !absent;
        self.water.update(&WaterInput {
            readings,
            step,
            settled,
            seen: self.flow.is_seen(),
            boiler_off_for: input.guard.boiler_off_for,
        });
        let verdicts = self.cross.update(
            &CrossInput {
                readings,
                settled,
                boiler: input.guard.boiler,
                boiler_off_for: input.guard.boiler_off_for,
                acknowledged: input.acknowledged,
                step,
            },
            settings,
        );
        if verdicts.ret != Verdict::Fine {
            self.water.forget_slab();
        }
        let (water, water_age) = self.water.slab();
        let sensor = readings.slab.cold_side();
        let asked = sensor.is_none() || settings.keeps(Rule::Witness);
        let (slab, slab_from) = slab(sensor, water.filter(|_| asked));
        let (outdoor_mean, outdoor_cold) = self.outdoor(&readings.outdoor, step, settings);
        let difference = (readings.supply.value)
            .zip(readings.ret.value)
            .filter(|_| flow == Flow::Flowing)
            .map(|(supply, ret)| supply - ret);
        let from = if input.guard.boiler_off_for < water::HEAT_GONE {
            HeatFrom::Boiler
        } else {
            HeatFrom::Earth
        };
        let heat = difference.map(|k| self.heat.count(k, from, step, settings));
        let [earth_wh, boiler_wh] = self.heat.watt_hours();
        Estimate {
            flow,
            moving_for,
            resting_for: self.clock.resting_for(),
            flow_proof,
            flow_proof_open: self.flow.is_open(),
            outdoor_mean,
            outdoor_cold,
            slab,
            slab_from,
            water,
            water_age,
            store,
            store_age,
            difference,
            heat,
            at_stop: self.at_stop,
            earth_wh,
            boiler_wh,
            verdicts,
            slab_implausible: self.cross.is_disputed(),
            heat_without_call: self.water.heat_without_call(),
            flow_with_pump_off: self.unasked.update(
                &self.clock,
                readings,
                input,
                store,
                settings.loop_effectiveness,
            ),
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
            let mean = self.outdoor.update(now, step, OUTDOOR_TIME);
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
}

/// The slab as it counts. Its water is the warmer end of the tube's way through it, so a water colder
/// than the reading is the better measure of the two; without a reading it is the only one.
fn slab(sensor: Option<Celsius>, water: Option<Celsius>) -> (Option<Celsius>, SlabFrom) {
    match (sensor, water) {
        (None, None) => (None, SlabFrom::Nothing),
        (Some(sensor), Some(water)) if water < sensor => (Some(water), SlabFrom::Water),
        (Some(sensor), _) => (Some(sensor), SlabFrom::Sensor),
        (None, Some(water)) => (Some(water), SlabFrom::Water),
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
        store: Option<Celsius>,
        loop_effectiveness: Ratio,
    ) -> bool {
        let off = !input.guard.pump && input.guard.pump_for >= Duration::from_mins(1);
        if off && input.pump_feedback == Some(true) {
            return true;
        }
        if input.guard.pump || clock.moving_for() > Duration::ZERO {
            self.stayed_for = Duration::ZERO;
            return self.rests >= 2;
        }
        let (Some(supply), Some(ret), Some(slab), Some(store)) = (
            readings.supply.value,
            readings.ret.value,
            readings.slab.value,
            store,
        ) else {
            return self.rests >= 2;
        };
        let passes_on = || {
            let passed = (supply - ret).over(supply - slab);
            passed.is_some_and(|passed| passed.to_bits() >= loop_effectiveness.to_bits() / 2)
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
fn colder(a: Option<Celsius>, b: Option<Celsius>) -> Option<Celsius> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (one, other) => one.or(other),
    }
}
