//! What the controller is connected to: a bench whose readings follow a script, or the simulated house.
//!
//! On the bench the water takes the temperatures scripted for its circumstance (at rest, moving,
//! heated) with a short lag, and the first water out of the slab has the slab's temperature. The
//! slab itself answers nothing: it is where the script puts it.

use controller_core::sensor::{BySensor, Sample};

use super::file::{Drill, Event, FaultChanges, SensorName, Water};
use super::row::Beside;
use super::sensor::Tampered;
use super::values::{Ramp, Span};
use crate::sim::beside::Extra;
use crate::sim::plant::config::{BoilerKind, Tending};
use crate::sim::plant::{Faults, OutdoorConditions, Plant, Relays};
use crate::sim::weather::sky::horizontal_infrared_w_m2;

/// Lag of pipe and sensor on the bench, s. Estimate: a well mounted sensor.
const BENCH_LAG_S: f64 = 30.0;
/// The same while the boiler's heat comes or goes, s. Estimate: the boiler's valve and pipe.
const HEAT_LAG_S: f64 = 60.0;
/// Time in which the water that lay in the slab passes the return sensor, s: the demo loop's transit.
const SLUG_S: f64 = 160.0;
/// The demo loop's (supply − return) / (supply − slab).
const EFFECTIVENESS: f64 = 0.69;
/// Day of the year the house starts on, at midnight: 20 January.
const DAY: f64 = 20.0;
/// Moderate wind, m/s, and a sky that neither warms nor cools (overcast).
const WIND_M_S: f64 = 2.0;

/// The house, its sensors and what is wrong with them.
pub(super) struct House {
    water: Source,
    outdoor: Ramp,
    sun_w: f64,
    faults: Faults,
    swapped: bool,
    sensors: BySensor<Tampered>,
    now_ms: u64,
    ending: Option<Ending>,
}

/// How the simulated house ends, seen to the end of the drill; a bench has none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ending {
    /// Coldest part of the slab with tube, °C.
    pub slab_min_c: f64,
    /// When that was, ms.
    pub slab_min_ms: u64,
    /// The same part at the end, °C.
    pub slab_end_c: f64,
    /// Coldest house air, °C.
    pub air_min_c: f64,
    /// When water froze solid, ms.
    pub frozen_ms: Option<u64>,
}

impl Ending {
    const NOTHING_SEEN: Self = Self {
        slab_min_c: f64::INFINITY,
        slab_min_ms: 0,
        slab_end_c: f64::INFINITY,
        air_min_c: f64::INFINITY,
        frozen_ms: None,
    };

    fn see(&mut self, plant: &Plant, now_ms: u64) {
        self.slab_end_c = plant.slab_min_c();
        if self.slab_end_c < self.slab_min_c {
            self.slab_min_c = self.slab_end_c;
            self.slab_min_ms = now_ms;
        }
        self.air_min_c = self.air_min_c.min(plant.truth().air_c);
        if plant.is_damaged() {
            self.frozen_ms.get_or_insert(now_ms);
        }
    }
}

enum Source {
    Bench(Box<Bench>),
    Simulated(Box<Plant>),
}

/// Scripted temperatures.
struct Bench {
    slab: Ramp,
    rest: Levels,
    running: Levels,
    heated: Levels,
    supply_c: f64,
    return_c: f64,
    moving_s: f64,
    heated_now: bool,
}

#[derive(Clone, Copy)]
struct Levels {
    supply: Ramp,
    ret: Option<Ramp>,
}

impl Levels {
    fn new(water: Water, otherwise: f64) -> Self {
        Self {
            supply: Ramp::steady(water.supply.map_or(otherwise, |t| t.0)),
            ret: water.ret.map(|t| Ramp::steady(t.0)),
        }
    }

    fn go(&mut self, water: Water, now_ms: u64, over: Span) {
        if let Some(t) = water.supply {
            self.supply.go(t.0, now_ms, over);
        }
        if let Some(t) = water.ret {
            self.ret
                .get_or_insert(Ramp::steady(t.0))
                .go(t.0, now_ms, over);
        }
    }
}

impl House {
    /// As the drill begins. The drill has been checked.
    pub(super) fn new(drill: &Drill) -> Result<Self, String> {
        let seed = 1;
        let mut stream = 0;
        let water = match &drill.house {
            None => Source::Bench(Box::new(Bench {
                slab: Ramp::steady(drill.slab.0),
                rest: Levels::new(drill.rest, 6.0),
                running: Levels::new(drill.running, 8.0),
                heated: Levels::new(drill.heated, 30.0),
                supply_c: drill.rest.supply.map_or(6.0, |t| t.0),
                return_c: drill.rest.ret.map_or(6.0, |t| t.0),
                moving_s: 0.0,
                heated_now: false,
            })),
            Some(house) => {
                let mut config = drill.site()?.config.plant;
                config.start.slab_c = drill.slab.0;
                config.start.ground_day = DAY;
                config.ground.mean_c = house.store.0;
                config.ground.amplitude_k = 0.0;
                if let Some(boiler) = &mut config.boiler
                    && let BoilerKind::HandFired(fire) = &mut boiler.kind
                {
                    fire.tending = Tending::ByHand;
                }
                let mut plant = Plant::new(&config, seed);
                if let Some(wood) = house.fire {
                    plant.load_fuel(wood.0);
                    plant.light_fire();
                }
                Source::Simulated(Box::new(plant))
            }
        };
        Ok(Self {
            ending: drill.house.as_ref().map(|_| Ending::NOTHING_SEEN),
            water,
            outdoor: Ramp::steady(drill.outdoor.0),
            sun_w: 0.0,
            faults: Faults::default(),
            swapped: false,
            sensors: BySensor::from_fn(|_| {
                stream += 1;
                Tampered::new(seed, stream)
            }),
            now_ms: 0,
        })
    }

    /// Takes what an event changes here.
    pub(super) fn event(&mut self, event: &Event, now_ms: u64) {
        let over = event.over;
        if let Some(t) = event.outdoor {
            self.outdoor.go(t.0, now_ms, over);
        }
        if let Some(sun) = event.sun {
            self.sun_w = sun.0;
        }
        for (name, doing) in &event.sensor {
            let sensor = match name {
                SensorName::Supply => &mut self.sensors.supply,
                SensorName::Return => &mut self.sensors.ret,
                SensorName::Slab => &mut self.sensors.slab,
                SensorName::Outdoor => &mut self.sensors.outdoor,
            };
            sensor.does(doing, now_ms, over);
        }
        self.swapped = event.swapped.unwrap_or(self.swapped);
        change(&mut self.faults, &event.fault);
        match &mut self.water {
            Source::Bench(bench) => {
                if let Some(t) = event.slab {
                    bench.slab.go(t.0, now_ms, over);
                }
                bench.rest.go(event.rest, now_ms, over);
                bench.running.go(event.running, now_ms, over);
                bench.heated.go(event.heated, now_ms, over);
            }
            Source::Simulated(plant) => {
                if let Some(wood) = event.fire {
                    plant.load_fuel(wood.0);
                    plant.light_fire();
                }
            }
        }
    }

    /// No power for the relays.
    pub(super) fn power(&mut self, on: bool) {
        self.faults.power_off = !on;
    }

    /// Moves on to `now_ms` with these relays.
    pub(super) fn go_on(&mut self, now_ms: u64, relays: Relays) {
        let length_ms = now_ms - self.now_ms;
        if length_ms == 0 {
            return;
        }
        let middle_ms = self.now_ms + length_ms / 2;
        let step_s = length_ms as f64 / 1_000.0;
        match &mut self.water {
            Source::Bench(bench) => {
                let actual = self.faults.applied_to(relays);
                let moves = actual.circulator && !self.faults.air_locked;
                let heats = actual.boiler_call && !self.faults.fire_out;
                bench.go_on(now_ms, step_s, moves, heats);
            }
            Source::Simulated(plant) => {
                plant.faults = self.faults;
                let air_c = self.outdoor.at(middle_ms);
                let outdoor = OutdoorConditions {
                    air_c,
                    dew_point_c: air_c,
                    infrared_w_m2: horizontal_infrared_w_m2(1.0, air_c),
                    wind_m_s: WIND_M_S,
                    solar_incident_w: self.sun_w,
                    ground_day: DAY + middle_ms as f64 / 86_400_000.0,
                };
                plant.step(step_s, &outdoor, relays);
                if let Some(ending) = &mut self.ending {
                    ending.see(plant, now_ms);
                }
            }
        }
        self.now_ms = now_ms;
    }

    /// What the controller reads now, and what a log of this house would hold beside it.
    pub(super) fn read(&mut self) -> (BySensor<Sample>, Extra) {
        let now_ms = self.now_ms;
        let (supply, ret, slab, outdoor, extra) = match &mut self.water {
            Source::Bench(bench) => {
                let outdoor = self.outdoor.at(now_ms);
                (
                    bench.supply_c,
                    bench.return_c,
                    bench.slab.at(now_ms),
                    outdoor,
                    Extra::default(),
                )
            }
            Source::Simulated(plant) => {
                let r = plant.read();
                let extra = Extra {
                    air_c: Some(r.air_c),
                    store_c: Some(r.store_c),
                    slab_c: Some(plant.truth().slab_c),
                    ..Extra::default()
                };
                (r.supply_c, r.return_c, r.slab_c, r.outdoor_c, extra)
            }
        };
        let (supply, ret) = if self.swapped {
            (ret, supply)
        } else {
            (supply, ret)
        };
        let samples = BySensor {
            supply: self.sensors.supply.read(supply, now_ms),
            ret: self.sensors.ret.read(ret, now_ms),
            slab: self.sensors.slab.read(slab, now_ms),
            outdoor: self.sensors.outdoor.read(outdoor, now_ms),
        };
        (samples, extra)
    }

    /// How it stands, for the end of the drill.
    pub(super) const fn ending(&self) -> Option<Ending> {
        self.ending
    }

    /// What only the house knows.
    pub(super) fn truth(&self) -> Beside {
        match &self.water {
            Source::Bench(bench) => Beside {
                true_slab_c: bench.slab.at(self.now_ms),
                flow_l_s: if bench.moving_s > 0.0 { 0.06 } else { 0.0 },
                fire: bench.heated_now,
                ..Beside::default()
            },
            Source::Simulated(plant) => {
                let state = plant.true_state();
                Beside {
                    true_slab_c: state.slab_sensor_c,
                    flow_l_s: state.flow_l_s,
                    fire: state.fire_alight,
                    frozen: state.frozen,
                    ..Beside::default()
                }
            }
        }
    }
}

impl Bench {
    fn go_on(&mut self, now_ms: u64, step_s: f64, moves: bool, heats: bool) {
        self.moving_s = if moves { self.moving_s + step_s } else { 0.0 };
        let lag_s = if heats || self.heated_now {
            HEAT_LAG_S
        } else {
            BENCH_LAG_S
        };
        self.heated_now = heats && moves;
        let levels = match (moves, heats) {
            (false, _) => self.rest,
            (true, false) => self.running,
            (true, true) => self.heated,
        };
        let slab_c = self.slab.at(now_ms);
        let supply_c = levels.supply.at(now_ms);
        let return_c = match levels.ret {
            _ if moves && self.moving_s < SLUG_S => slab_c,
            Some(level) => level.at(now_ms),
            None => supply_c - EFFECTIVENESS * (supply_c - slab_c),
        };
        let share = -libm::expm1(-step_s / lag_s);
        self.supply_c += (supply_c - self.supply_c) * share;
        self.return_c += (return_c - self.return_c) * share;
    }
}

fn change(faults: &mut Faults, changes: &FaultChanges) {
    let set = |fault: &mut bool, change: Option<bool>| *fault = change.unwrap_or(*fault);
    set(&mut faults.circulator_dead, changes.circulator_dead);
    set(&mut faults.air_locked, changes.air_locked);
    set(
        &mut faults.circulator_welded_on,
        changes.circulator_welded_on,
    );
    set(&mut faults.boiler_welded_on, changes.boiler_welded_on);
    set(&mut faults.fire_out, changes.fire_out);
}
