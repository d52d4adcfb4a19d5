//! The controller in closed loop with the physical plant, through weather.
//!
//! The plant steps once a minute at rest and with every sensor cycle while the circulator runs: then
//! supply and return move within seconds, and a boiler call lasts a few minutes. The controller is called
//! at every time it asks for and reads the sensors in between; a relay change reaches the plant at its
//! next step.

use controller_core::restart::Restart;
use controller_core::sensor::{BySensor, Sample};
use controller_core::settings::{BoilerKind, RawSettings, Settings};
use controller_core::time::Instant;
use controller_core::units::Celsius;
use controller_core::{Controller, Inputs, StepReport};

use crate::sim::beside::Extra;
use crate::sim::cancel::{Cancel, Cancelled};
use crate::sim::plant::sensors::nearest;
use crate::sim::plant::{OutdoorConditions, Plant, PlantConfig, Readings, Relays, Tended};
use crate::sim::stepper::{Stepped, Stepper};
use crate::sim::weather::Series as WeatherSeries;

/// Length of a plant step at rest unless said otherwise, s.
pub const PLANT_STEP_S: u32 = 60;

/// Plant steps in the time of one at rest while the circulator runs.
const RUNNING_STEPS: u64 = 6;

/// One run.
#[derive(Clone, Debug)]
pub struct Run<'a> {
    /// The house.
    pub plant: &'a PlantConfig,
    /// The controller's settings.
    pub settings: &'a Settings,
    /// The weather, prepared for the period.
    pub weather: &'a WeatherSeries,
    /// Seed of everything random: sensor noise and scatter.
    pub seed: u64,
    /// Length of a plant step at rest, s: at most 60; a sixth of it while the circulator runs.
    pub plant_step_s: u32,
}

/// A winter with something taken away.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Variant {
    /// As it is.
    Both,
    /// The store alone.
    WithoutBoiler,
    /// No water moves at all.
    WithoutLoop,
}

impl Variant {
    /// In words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Both => "loop and boiler",
            Self::WithoutBoiler => "without the boiler",
            Self::WithoutLoop => "without the loop",
        }
    }

    /// House and settings of this variant.
    #[must_use]
    pub fn apply(self, plant: &PlantConfig, settings: &Settings) -> (PlantConfig, Settings) {
        let mut plant = plant.clone();
        let mut raw: RawSettings = *settings.raw();
        match self {
            Self::Both => {}
            Self::WithoutBoiler => {
                plant.boiler = None;
                raw.boiler = BoilerKind::None;
            }
            Self::WithoutLoop => {
                plant.boiler = None;
                raw.boiler = BoilerKind::None;
                raw.mode = controller_core::settings::Mode::Drained;
            }
        }
        let settings = Settings::check(raw).unwrap_or_else(|_| settings.clone());
        (plant, settings)
    }
}

/// What the plant did over a run.
#[derive(Clone, Debug, PartialEq)]
pub struct PlantTotals {
    /// Coldest slab zone's tube plane, °C, with its second.
    pub slab_true_min_c: f64,
    /// When, s since the start.
    pub slab_true_min_s: u64,
    /// Floor without tube, if there is any.
    pub bare: Option<BareTotals>,
    /// Store floor at the beginning, °C.
    pub store_floor_start_c: f64,
    /// Coldest store air, °C.
    pub store_air_min_c: f64,
    /// Coldest store floor, °C.
    pub store_floor_min_c: f64,
    /// Heat the water took from the store, less what it brought, kWh.
    pub earth_heat_kwh: f64,
    /// Heat the boiler gave to the water, kWh.
    pub boiler_heat_kwh: f64,
    /// Wood burnt, kg.
    pub wood_kg: f64,
    /// What tending the fire came to.
    pub tended: Tended,
    /// Electricity of the circulator, kWh.
    pub pump_kwh: f64,
    /// Something froze solid, and when, s since the start.
    pub frozen_s: Option<u64>,
    /// Nights (noon to noon) in which the boiler was called.
    pub nights_with_fire: u32,
    /// Residual of the heat balance over the sum of all flows.
    pub energy_closure: f64,
    /// By day.
    pub days: Vec<PlantDay>,
}

impl PlantTotals {
    /// One account of periods that follow one another without a break; their times are already counted from the first.
    #[must_use]
    pub fn of_all(periods: &[PlantTotals]) -> PlantTotals {
        let mut all = periods
            .first()
            .cloned()
            .unwrap_or_else(|| Totals::new(0.0).totals);
        for next in periods.iter().skip(1) {
            if next.slab_true_min_c < all.slab_true_min_c {
                all.slab_true_min_c = next.slab_true_min_c;
                all.slab_true_min_s = next.slab_true_min_s;
            }
            if let (Some(all), Some(next)) = (&mut all.bare, next.bare) {
                all.min_c = all.min_c.min(next.min_c);
                all.edge_kwh = next.edge_kwh;
            }
            all.store_air_min_c = all.store_air_min_c.min(next.store_air_min_c);
            all.store_floor_min_c = all.store_floor_min_c.min(next.store_floor_min_c);
            all.earth_heat_kwh += next.earth_heat_kwh;
            all.boiler_heat_kwh += next.boiler_heat_kwh;
            all.pump_kwh += next.pump_kwh;
            all.nights_with_fire += next.nights_with_fire;
            all.frozen_s = all.frozen_s.or(next.frozen_s);
            // These are the plant's own sums since the first beginning.
            (all.wood_kg, all.tended) = (next.wood_kg, next.tended);
            all.energy_closure = next.energy_closure;
            all.days.extend_from_slice(&next.days);
        }
        all
    }
}

/// Floor of the house outside its tube field, over a run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BareTotals {
    /// Share of the floor it is, 0..1.
    pub share: f64,
    /// Coldest, °C.
    pub min_c: f64,
    /// Heat it lost through its edge, kWh.
    pub edge_kwh: f64,
}

/// One day of the plant.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PlantDay {
    /// Heat from the store, kWh.
    pub earth_kwh: f64,
    /// Heat from the boiler, kWh.
    pub boiler_kwh: f64,
    /// Electricity of the circulator, kWh.
    pub pump_kwh: f64,
    /// Mean outdoor temperature, °C.
    pub outdoor_mean_c: f64,
    /// Store floor at the end of the day, °C.
    pub store_end_c: f64,
}

/// The house at one step of the controller.
pub struct Seen<'a> {
    /// The house at the end of the plant's step.
    pub plant: &'a Plant,
    /// The relays from now on.
    pub relays: Relays,
    /// End of the plant's step, s since the start.
    pub now_s: u64,
    /// How long the relays stand, ms.
    pub stands_ms: u64,
    /// What a log of this house would hold beside the controller's inputs.
    pub extra: Extra,
}

const DAY_S: u64 = 86_400;
const JOULES_PER_KWH: f64 = 3.6e6;
/// Plant steps at rest between looks at Ctrl-C.
const LOOK_EVERY: u64 = 1_440;

impl Run<'_> {
    /// Runs the whole period. `step` hears of every controller step and sees the house as it is then.
    ///
    /// # Errors
    /// Ctrl-C, or what `step` returns.
    pub fn go<E: From<Cancelled>>(
        &self,
        cancel: &Cancel,
        step: impl FnMut(&StepReport, &Seen<'_>) -> Result<(), E>,
    ) -> Result<PlantTotals, E> {
        let start = Instant::from_millis(0);
        let mut controller = Controller::boot(self.settings.clone(), start, Restart::ORDINARY);
        self.go_with(&mut controller, cancel, step)
    }

    /// The period again and again without a break: store, earth and controller go on as they are. One entry a time.
    ///
    /// # Errors
    /// As [`Run::go`].
    pub fn go_times<E: From<Cancelled>>(
        &self,
        times: u32,
        cancel: &Cancel,
        step: impl FnMut(&StepReport, &Seen<'_>) -> Result<(), E>,
    ) -> Result<Vec<PlantTotals>, E> {
        let start = Instant::from_millis(0);
        let mut controller = Controller::boot(self.settings.clone(), start, Restart::ORDINARY);
        self.drive(&mut controller, times, cancel, step)
    }

    /// The same as [`Run::go`] with a controller that may run elsewhere; it is booted first.
    ///
    /// # Errors
    /// As [`Run::go`].
    pub fn go_with<S: Stepper, E: From<Cancelled>>(
        &self,
        controller: &mut S,
        cancel: &Cancel,
        step: impl FnMut(&S::Report, &Seen<'_>) -> Result<(), E>,
    ) -> Result<PlantTotals, E> {
        let mut totals = self.drive(controller, 1, cancel, step)?;
        Ok(totals.pop().unwrap_or_else(|| Totals::new(0.0).totals))
    }

    fn drive<S: Stepper, E: From<Cancelled>>(
        &self,
        controller: &mut S,
        times: u32,
        cancel: &Cancel,
        mut step: impl FnMut(&S::Report, &Seen<'_>) -> Result<(), E>,
    ) -> Result<Vec<PlantTotals>, E> {
        let period_s = self.weather.duration_s();
        let end_s = period_s * u64::from(times);
        let mut config = self.plant.clone();
        config.start.ground_day = self.weather.conditions(0).day_of_year;
        let mut plant = Plant::new(&config, self.seed);
        let start = Instant::from_millis(0);
        controller.begin(start);
        controller.boot(self.settings, start, Restart::ORDINARY);
        let mut relays = Relays::default();
        let mut totals = Totals::new(plant.store_floor_c());
        let mut finished = Vec::new();
        let rest_step_s = u64::from(self.plant_step_s.clamp(1, PLANT_STEP_S));
        let running_step_s = (rest_step_s / RUNNING_STEPS).max(1);
        let mut now_s = 0;
        let mut report = None;
        while now_s < end_s {
            if now_s % (LOOK_EVERY * rest_step_s) == 0 {
                cancel.check()?;
            }
            let step_s = if relays.circulator {
                running_step_s
            } else {
                rest_step_s
            };
            // To its next multiple, so that steps of either length meet again.
            let length_s = (step_s - now_s % step_s).min(end_s - now_s);
            let in_period_s = (now_s + length_s / 2) % period_s;
            let outdoor = self.weather.conditions(in_period_s).into();
            plant.step(length_s as f64, &outdoor, relays);
            totals.add(now_s, length_s, &plant, &outdoor, relays.boiler_call);
            // Steps wanted within the stretch just simulated.
            let stretch_start = Instant::from_millis(now_s * 1_000);
            let stretch_end = Instant::from_millis((now_s + length_s) * 1_000);
            while controller.next() < stretch_end
                || (controller.next() == stretch_end && now_s + length_s == end_s)
            {
                let now = controller.next();
                let into_s = f64::from(now.since(stretch_start).as_millis()) / 1_000.0;
                let readings = plant.read_at(into_s);
                let inputs = Inputs {
                    samples: samples(&readings),
                    ..Inputs::default()
                };
                let Some(report) = controller.step_in(now, &inputs, &mut report) else {
                    break;
                };
                plant.told = report.told();
                relays = Relays {
                    circulator: report.outputs().circulator,
                    boiler_call: report.outputs().boiler_call,
                };
                let until = report
                    .next()
                    .min(Instant::from_millis(end_s * 1_000))
                    .max(now);
                let seen = Seen {
                    plant: &plant,
                    relays,
                    now_s: now_s + length_s,
                    stands_ms: u64::from(until.since(now).as_millis()),
                    extra: Extra {
                        air_c: Some(readings.air_c),
                        store_c: Some(readings.store_c),
                        slab_c: Some(plant.truth().slab_c),
                        ..Extra::default()
                    },
                };
                step(report, &seen)?;
            }
            now_s += length_s;
            if now_s % period_s == 0 {
                let next = Totals::new(plant.store_floor_c());
                finished.push(std::mem::replace(&mut totals, next).finish(&plant));
            }
        }
        Ok(finished)
    }
}

/// Readings as the controller takes them: in 1/128 K, as a checked digital frame.
#[must_use]
pub fn samples(readings: &Readings) -> BySensor<Sample> {
    let framed = |celsius: f64| {
        let n = nearest(celsius * 128.0).clamp(f64::from(i16::MIN), f64::from(i16::MAX));
        Sample::Framed(Celsius::from_128ths(n as i16))
    };
    BySensor {
        supply: framed(readings.supply_c),
        ret: framed(readings.return_c),
        slab: framed(readings.slab_c),
        outdoor: framed(readings.outdoor_c),
    }
}

struct Totals {
    totals: PlantTotals,
    day: PlantDay,
    night_fire: bool,
}

impl Totals {
    fn new(store_floor_c: f64) -> Self {
        Self {
            totals: PlantTotals {
                slab_true_min_c: f64::INFINITY,
                slab_true_min_s: 0,
                bare: None,
                store_floor_start_c: store_floor_c,
                store_air_min_c: f64::INFINITY,
                store_floor_min_c: f64::INFINITY,
                earth_heat_kwh: 0.0,
                boiler_heat_kwh: 0.0,
                wood_kg: 0.0,
                tended: Tended::default(),
                pump_kwh: 0.0,
                frozen_s: None,
                nights_with_fire: 0,
                energy_closure: 0.0,
                days: Vec::new(),
            },
            day: PlantDay::default(),
            night_fire: false,
        }
    }

    fn add(
        &mut self,
        now_s: u64,
        length_s: u64,
        plant: &Plant,
        outdoor: &OutdoorConditions,
        boiler: bool,
    ) {
        let t = &mut self.totals;
        let end_s = now_s + length_s;
        let slab_min_c = plant.slab_min_c();
        if slab_min_c < t.slab_true_min_c {
            t.slab_true_min_c = slab_min_c;
            t.slab_true_min_s = end_s;
        }
        if let Some(bare_c) = plant.bare_floor_c() {
            let bare = t.bare.get_or_insert(BareTotals {
                share: 0.0,
                min_c: f64::INFINITY,
                edge_kwh: 0.0,
            });
            bare.min_c = bare.min_c.min(bare_c);
        }
        let store_floor_c = plant.store_floor_c();
        t.store_air_min_c = t.store_air_min_c.min(plant.truth().store_c);
        t.store_floor_min_c = t.store_floor_min_c.min(store_floor_c);
        if t.frozen_s.is_none() && plant.is_damaged() {
            t.frozen_s = Some(end_s);
        }
        let flows = plant.last_step();
        self.day.earth_kwh += flows.earth_j / JOULES_PER_KWH;
        self.day.boiler_kwh += flows.boiler_j / JOULES_PER_KWH;
        self.day.pump_kwh += flows.pump_j / JOULES_PER_KWH;
        self.day.outdoor_mean_c += outdoor.air_c * length_s as f64 / DAY_S as f64;
        self.night_fire |= boiler;
        if end_s % DAY_S < length_s {
            self.day.store_end_c = store_floor_c;
            t.earth_heat_kwh += self.day.earth_kwh;
            t.boiler_heat_kwh += self.day.boiler_kwh;
            t.pump_kwh += self.day.pump_kwh;
            t.days.push(std::mem::take(&mut self.day));
        }
        if (end_s + DAY_S / 2) % DAY_S < length_s {
            t.nights_with_fire += u32::from(std::mem::take(&mut self.night_fire));
        }
    }

    fn finish(mut self, plant: &Plant) -> PlantTotals {
        self.totals.nights_with_fire += u32::from(self.night_fire);
        self.totals.earth_heat_kwh += self.day.earth_kwh;
        self.totals.boiler_heat_kwh += self.day.boiler_kwh;
        self.totals.pump_kwh += self.day.pump_kwh;
        if let Some(bare) = &mut self.totals.bare {
            let config = plant.config();
            bare.share = config.bare_floor_m2() / config.house.floor_area_m2();
            bare.edge_kwh = plant.ledger().bare_edge_j / JOULES_PER_KWH;
        }
        let truth = plant.true_state();
        (self.totals.wood_kg, self.totals.tended) = (truth.wood_kg, truth.tended);
        self.totals.energy_closure = plant.closure();
        self.totals
    }
}
