//! The plant beside the log: driven by the logged air, relays and water, led where the plan says so.

use super::plan::{BLOCK, Kind, Plan, Sample};
use super::record::{RETURN, Record, SLAB, STORE, SUPPLY};
use crate::sim::plant::adjust::Shift;
use crate::sim::plant::config::{SensorConfig, SensorsConfig};
use crate::sim::plant::driven::Water;
use crate::sim::plant::{OutdoorConditions, Plant, PlantConfig};

/// How fast the store is led, share of its difference each block.
const STORE_LEAD: f64 = 0.15;
/// How long the store is taken to have been drawn before the log begins, s (estimate, as `tonight` takes it).
const DRAWN_S: f64 = 10.0 * 86_400.0;
const MINUTE_S: f64 = 60.0;

/// Constant errors of the sensors, K: what each shows too much.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Offsets {
    /// Slab.
    pub slab_k: f64,
    /// Outdoor air.
    pub outdoor_k: f64,
    /// Store air.
    pub store_k: f64,
    /// Water entering the slab.
    pub supply_k: f64,
    /// Water leaving the slab.
    pub return_k: f64,
    /// Water leaving the store, beside what return and store say of it.
    pub store_water_k: f64,
}

impl Offsets {
    /// As a site file says.
    #[must_use]
    pub fn of(sensors: &SensorsConfig) -> Self {
        Self {
            slab_k: sensors.slab.offset_k,
            outdoor_k: sensors.outdoor.offset_k,
            store_k: sensors.store.offset_k,
            supply_k: sensors.supply.offset_k,
            return_k: sensors.return_.offset_k,
            store_water_k: 0.0,
        }
    }

    /// Puts them where a site file has them.
    pub fn put(&self, sensors: &mut SensorsConfig) {
        sensors.slab.offset_k = self.slab_k;
        sensors.outdoor.offset_k = self.outdoor_k;
        sensors.store.offset_k = self.store_k;
        sensors.supply.offset_k = self.supply_k;
        sensors.return_.offset_k = self.return_k;
    }
}

/// A block's means as the sensors would show them without constant errors, °C.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Shown {
    /// Slab.
    pub slab_c: f64,
    /// Water leaving the slab.
    pub return_c: f64,
    /// Water leaving the store.
    pub supply_c: f64,
    /// Store air.
    pub store_c: f64,
    /// Effectiveness of slab and store floor at the block's end; 0 at rest.
    pub effectiveness: (f64, f64),
}

/// A log ready to be compared.
#[derive(Clone, Debug)]
pub struct Case {
    /// The log.
    pub record: Record,
    /// Weather, minute by minute.
    pub conditions: Vec<OutdoorConditions>,
    /// What is compared.
    pub plan: Plan,
    /// Whether the sky was measured, not judged.
    pub has_sky: bool,
    /// Means of slab, store, supply and return of each block, °C; not a number where unknown.
    measured: Vec<[f64; 4]>,
}

impl Case {
    /// Prepares a log.
    #[must_use]
    pub fn new(
        record: Record,
        conditions: Vec<OutdoorConditions>,
        plan: Plan,
        has_sky: bool,
    ) -> Self {
        let measured = (0..record.minutes.len() / BLOCK)
            .map(|b| {
                [SLAB, STORE, SUPPLY, RETURN].map(|which| {
                    record
                        .mean(which, b * BLOCK, (b + 1) * BLOCK)
                        .unwrap_or(f64::NAN)
                })
            })
            .collect();
        Self {
            record,
            conditions,
            plan,
            has_sky,
            measured,
        }
    }

    /// Measured slab of a block, °C.
    #[must_use]
    pub fn slab_c(&self, block: usize) -> f64 {
        self.measured[block][0]
    }

    /// Measured store air, supply and return of a block, °C.
    #[must_use]
    pub fn others_c(&self, block: usize) -> [f64; 3] {
        let [_, store, supply, back] = self.measured[block];
        [store, supply, back]
    }

    /// Runs the house through the log; the slab is free where `free` says so.
    #[must_use]
    pub fn run(&self, config: &PlantConfig, offsets: &Offsets, free: &[bool]) -> Vec<Shown> {
        let mut config = config.clone();
        config.boiler = None;
        config.start.ground_day = self.conditions.first().map_or(1.0, |c| c.ground_day);
        let known = |index: usize| {
            self.measured
                .iter()
                .map(move |means| means[index])
                .find(|c| !c.is_nan())
        };
        config.start.slab_c = known(0).map_or(config.start.slab_c, |c| c - offsets.slab_k);
        let mut plant = Plant::new(&config, 0);
        if let Some(store_c) = known(1) {
            let off = store_c - offsets.store_k - plant.truth().store_c;
            lead_store(&mut plant, off);
        }
        let mut lags = Lags::new(&config, &plant);
        let mut shown = Vec::with_capacity(self.measured.len());
        for (b, measured) in self.measured.iter().enumerate() {
            let mut sums = [0.0; 4];
            for minute in b * BLOCK..(b + 1) * BLOCK {
                self.minute(&mut plant, minute, offsets, &config);
                let now = lags.step(&plant);
                for (sum, now) in sums.iter_mut().zip(now) {
                    *sum += now;
                }
            }
            let [slab_c, return_c, supply_c, store_c] = sums.map(|sum| sum / BLOCK as f64);
            let of = Shown {
                slab_c,
                return_c,
                supply_c,
                store_c,
                effectiveness: (
                    plant.slab_effectiveness().unwrap_or(0.0),
                    plant.store_effectiveness().unwrap_or(0.0),
                ),
            };
            let off = measured[0] - offsets.slab_k - of.slab_c;
            if !free[b] && !off.is_nan() {
                plant.lead_slab(off);
                lags.slab_c += off;
            }
            if self.plan.store_led[b] {
                let by_air = measured[1] - offsets.store_k - of.store_c;
                let by_water = (measured[2] - offsets.supply_k - of.supply_c) / of.effectiveness.1;
                let off = if by_air.is_nan() { by_water } else { by_air };
                if off.is_finite() {
                    lead_store(&mut plant, off * STORE_LEAD);
                }
            }
            shown.push(of);
        }
        shown
    }

    fn minute(&self, plant: &mut Plant, minute: usize, offsets: &Offsets, config: &PlantConfig) {
        let logged = &self.record.minutes[minute];
        let mut outdoor = self.conditions[minute];
        outdoor.air_c -= offsets.outdoor_k;
        let ran = f64::from(logged.runs);
        let water = logged
            .reading(SUPPLY)
            .zip(logged.reading(RETURN).or(logged.reading(SUPPLY)))
            .filter(|_| ran > 0.0)
            .map(|(supply_c, return_c)| {
                let air_c = plant.truth().air_c;
                // A first-order lag: the truth is ahead of the reading by lag × its rise.
                let ran_s = (MINUTE_S * ran).max(1.0);
                let bare = |shown_c: f64, rise_k: f32, sensor: &SensorConfig| {
                    let ahead_c = shown_c + sensor.lag_s * f64::from(rise_k) / ran_s;
                    (ahead_c - sensor.strap_on * air_c) / (1.0 - sensor.strap_on).max(0.1)
                };
                let [supply_rise, return_rise] = logged.rise_k;
                let sensors = &config.sensors;
                Water {
                    supply_c: bare(supply_c - offsets.supply_k, supply_rise, &sensors.supply),
                    return_c: bare(return_c - offsets.return_k, return_rise, &sensors.return_),
                    past_store: logged.called,
                }
            });
        match water {
            Some(water) if ran > 0.99 => plant.step_driven(MINUTE_S, &outdoor, Some(&water)),
            Some(water) => {
                plant.step_driven(MINUTE_S * ran, &outdoor, Some(&water));
                plant.step_driven(MINUTE_S * (1.0 - ran), &outdoor, None);
            }
            None => plant.step_driven(MINUTE_S, &outdoor, None),
        }
    }

    /// Reading less model of one sample, K.
    #[must_use]
    pub fn residual(&self, sample: &Sample, shown: &[Shown], offsets: &Offsets) -> f64 {
        let of = &shown[sample.block];
        let [slab_c, store_c, supply_c, return_c] = self.measured[sample.block];
        let slab_off = slab_c - offsets.slab_k - of.slab_c;
        let store_off = store_c - offsets.store_k - of.store_c;
        match sample.kind {
            Kind::Night => slab_off,
            Kind::Store => store_off,
            // Against the measured slab and store, so that it does not hang on the model's own state.
            Kind::Return => {
                return_c - offsets.return_k - of.return_c - of.effectiveness.0 * slab_off
            }
            Kind::Supply => {
                let by_air = if store_off.is_nan() { 0.0 } else { store_off };
                let off = supply_c - offsets.supply_k - of.supply_c;
                off - offsets.store_water_k - of.effectiveness.1 * by_air
            }
        }
    }
}

fn lead_store(plant: &mut Plant, kelvin: f64) {
    plant.shift(&Shift {
        store_floor_k: kelvin,
        store_air_k: kelvin,
        drawn_s: DRAWN_S,
        ..Shift::default()
    });
}

/// The sensors' lags and what a strap-on sensor misses.
struct Lags {
    slab_c: f64,
    return_c: f64,
    supply_c: f64,
    store_c: f64,
    /// Share of the way in a minute, and strap-on share of the pipes.
    shares: [f64; 4],
    straps: [f64; 2],
}

impl Lags {
    fn new(config: &PlantConfig, plant: &Plant) -> Self {
        let sensors = &config.sensors;
        let truth = plant.truth();
        let share = |sensor: &SensorConfig| {
            if sensor.lag_s > 0.0 {
                -libm::expm1(-MINUTE_S / sensor.lag_s)
            } else {
                1.0
            }
        };
        Self {
            slab_c: truth.slab_c,
            return_c: truth.return_c,
            supply_c: truth.supply_c,
            store_c: truth.store_c,
            shares: [
                &sensors.slab,
                &sensors.return_,
                &sensors.supply,
                &sensors.store,
            ]
            .map(share),
            straps: [sensors.return_.strap_on, sensors.supply.strap_on],
        }
    }

    /// What slab, return, supply and store sensors show.
    fn step(&mut self, plant: &Plant) -> [f64; 4] {
        let truth = plant.truth();
        let strapped = |pipe_c: f64, share: f64| pipe_c - share * (pipe_c - truth.air_c);
        let targets = [
            truth.slab_c,
            strapped(truth.return_c, self.straps[0]),
            strapped(truth.supply_c, self.straps[1]),
            truth.store_c,
        ];
        let elements = [
            &mut self.slab_c,
            &mut self.return_c,
            &mut self.supply_c,
            &mut self.store_c,
        ];
        let mut shown = [0.0; 4];
        for (i, element) in elements.into_iter().enumerate() {
            *element += (targets[i] - *element) * self.shares[i];
            shown[i] = *element;
        }
        shown
    }
}
