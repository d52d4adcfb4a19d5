//! The physical plant: house, slab, loop, store, earth, boiler and sensors, stepped together.
//!
//! Flow of a step: relays and faults → does water flow → the water once round the loop (or at rest) → slab and house air →
//! store and earth → sensors. Heat is booked wherever it crosses the plant's boundary, so that the balance closes to rounding.
//! Water marches round the loop with the floors' temperatures of the step before; floors, air and earth are implicit and
//! cannot overshoot. All transcendental functions come from `libm` and nothing runs in parallel, so a run is the same to the bit
//! on every machine.
//!
//! The plant never decides anything: it obeys relays.

pub mod adjust;
pub mod balance;
mod bare;
pub mod boiler;
pub mod circuit;
pub mod conduction;
pub mod config;
pub mod driven;
pub mod embedded;
pub mod evenness;
pub mod exchanger;
pub mod expansion;
pub mod film;
pub mod fluid;
pub mod glycol;
pub mod ground;
pub mod house;
pub mod hydraulics;
pub mod ledger;
pub mod operating;
pub mod pipe;
pub mod sensors;
pub mod slab;
pub mod state;
pub mod store;
pub mod tending;
pub mod tube;
pub mod water_column;

pub use config::{ConfigError, PlantConfig};
pub use ledger::EnergyLedger;
pub use sensors::Readings;
pub use state::{Faults, OutdoorConditions, Relays, Told, TrueState};
pub use tending::Tended;
pub use tube::Tube;

use bare::{AroundBare, BareFloor, BareFlows};
use boiler::{Boiler, Surround};
use circuit::{Around, Circuit, Drive, WaterHeat};
use exchanger::{ZONES, Zones};
use house::House;
use sensors::Sensors;
use slab::Floor;
use store::Store;

/// Longest single step, s; longer ones are divided.
pub const LONGEST_STEP_S: f64 = 60.0;

/// Equal parts to take of so many times the most that one may be.
#[inline]
fn parts(times: f64) -> f64 {
    // Rounding is a library call, and one part is the rule.
    if times > 1.0 { times.ceil() } else { 1.0 }
}

/// The plant.
#[derive(Clone, Debug)]
pub struct Plant {
    /// Faults in force.
    pub faults: Faults,
    /// What the controller tells whoever feeds the fire.
    pub told: Told,
    config: PlantConfig,
    circuit: Circuit,
    floor: Floor,
    /// Floor without tube, if the tube field leaves any.
    bare: Option<BareFloor>,
    house: House,
    store: Store,
    edge_w_m2k: Zones,
    underside_w_m2k: f64,
    sensors: Sensors,
    /// What is to be read at the beginning and at the end of the last step.
    before: Readings,
    now: Readings,
    step_s: f64,
    since_read_s: f64,
    circulator_runs: bool,
    ledger: EnergyLedger,
    /// Flows of the last step alone.
    last: EnergyLedger,
    stored_at_start_j: f64,
}

impl Plant {
    /// A plant at rest: house, slab and water at the start temperature, store and earth undisturbed. `seed` rules the
    /// sensors' errors. The configuration should have passed [`PlantConfig::check`].
    pub fn new(config: &PlantConfig, seed: u64) -> Plant {
        let start_c = config.start.slab_c;
        let store = Store::new(
            &config.store,
            &config.ground,
            config.store_floor_m2(),
            config.start.ground_day,
        );
        let mut floor = Floor::new(&config.floor, &[], start_c);
        // Each part of the floor has the edge its area is due.
        let heated_m2 = config.floor.heated_area_m2();
        let with_tube = heated_m2 / (heated_m2 + config.bare_floor_m2());
        let edge_w_m2 = with_tube * config.house.edge_w_k() / floor.zone_m2();
        let edge_w_m2k =
            slab::edge_shares(&config.house, config.floor.layout).map(|share| share * edge_w_m2);
        let core = floor.core_cell();
        floor.columns.attach_sink(core, edge_w_m2k);
        // A tube in the lowest cell leaves no cell for the underside: then it is taken as insulated.
        let underside_w_m2k = if core > 0 {
            config.floor.underside_w_m2k
        } else {
            0.0
        };
        if core > 0 {
            floor.columns.attach_sink(0, [underside_w_m2k; ZONES]);
        }
        let now = Readings {
            supply_c: start_c,
            return_c: start_c,
            slab_c: start_c,
            outdoor_c: start_c,
            air_c: start_c,
            store_c: store.air_c(),
        };
        let mut plant = Plant {
            faults: Faults::default(),
            told: Told::Nothing,
            circuit: Circuit::new(config, start_c, store.floor.core_mean_c()),
            floor,
            bare: BareFloor::new(config, underside_w_m2k, start_c),
            house: House::new(&config.house, start_c),
            store,
            edge_w_m2k,
            underside_w_m2k,
            sensors: Sensors::new(&config.sensors, seed),
            before: now,
            now,
            step_s: 0.0,
            since_read_s: 0.0,
            circulator_runs: false,
            ledger: EnergyLedger::default(),
            last: EnergyLedger::default(),
            stored_at_start_j: 0.0,
            config: config.clone(),
        };
        plant.stored_at_start_j = plant.stored_j();
        plant
    }

    /// Moves the plant on by `dt_s` > 0 under constant weather and relays.
    pub fn step(&mut self, dt_s: f64, outdoor: &OutdoorConditions, relays: Relays) {
        let parts = parts(dt_s / LONGEST_STEP_S);
        self.before = self.now;
        self.last = EnergyLedger::default();
        for _ in 0..parts as u64 {
            self.part(dt_s / parts, outdoor, relays);
        }
        self.step_s = dt_s;
        self.since_read_s += dt_s;
        self.ledger.add(&self.last);
    }

    /// What the sensors show at the end of the last step.
    pub fn read(&mut self) -> Readings {
        self.read_at(self.step_s)
    }

    /// What the sensors show `into_step_s` into the last step, 0 ≤ `into_step_s` ≤ its length, in rising order from call to
    /// call. The truth is taken as linear between the two ends of the step.
    pub fn read_at(&mut self, into_step_s: f64) -> Readings {
        let truth = if into_step_s >= self.step_s {
            self.now
        } else {
            self.before.towards(&self.now, into_step_s / self.step_s)
        };
        let left_s = self.step_s - into_step_s;
        let readings = self
            .sensors
            .read(&truth, (self.since_read_s - left_s).max(0.0));
        self.since_read_s = left_s;
        readings
    }

    /// The truth behind the sensors at the end of the last step.
    pub fn true_state(&self) -> TrueState {
        let point = self.circuit.flow_point();
        let per_s = if self.step_s > 0.0 {
            1.0 / self.step_s
        } else {
            0.0
        };
        let boiler = self.circuit.boiler.as_ref();
        TrueState {
            supply_c: self.now.supply_c,
            return_c: self.now.return_c,
            slab_mean_c: self.floor.slab_mean_c(),
            slab_min_c: self.slab_min_c(),
            slab_core_c: self.floor.core_mean_c(),
            slab_surface_c: self.floor.surface_mean_c(self.house.air_c()),
            slab_sensor_c: self.now.slab_c,
            air_c: self.house.air_c(),
            outdoor_c: self.now.outdoor_c,
            mass_c: self.house.mass_c(),
            store_floor_c: self.store.floor.core_mean_c(),
            store_air_c: self.store.air_c(),
            flow_l_s: point.map_or(0.0, |p| p.flow_l_s),
            head_m: point.map_or(0.0, |p| p.head_m),
            velocity_m_s: point.map_or(0.0, |p| p.velocity_m_s),
            reynolds: point.map_or(0.0, |p| p.reynolds),
            earth_heat_w: self.last.earth_j * per_s,
            slab_heat_w: self.last.slab_j * per_s,
            boiler_heat_w: self.last.boiler_j * per_s,
            pump_w: self.last.pump_j * per_s,
            boiler_water_c: boiler.map(Boiler::water_c),
            fuel_kg: boiler.map_or(0.0, Boiler::fuel_kg),
            fire_w: boiler.map_or(0.0, Boiler::fire_w),
            fire_alight: boiler.is_some_and(Boiler::is_alight),
            wood_kg: boiler.map_or(0.0, Boiler::burnt_kg),
            tended: boiler.map_or(Tended::default(), Boiler::tended),
            circulator_runs: self.circulator_runs,
            frozen: self.is_damaged(),
            blocked_by_ice: self.circuit.is_blocked(),
            ice_fraction: self.circuit.ice_fraction(),
        }
    }

    /// What perfect sensors would show at the end of the last step.
    #[inline]
    pub fn truth(&self) -> &Readings {
        &self.now
    }

    /// Tube plane of the store floor, mean, °C.
    #[inline]
    pub fn store_floor_c(&self) -> f64 {
        self.store.floor.core_mean_c()
    }

    /// Tube plane of the slab's coldest zone, °C.
    #[inline]
    pub fn slab_min_c(&self) -> f64 {
        self.floor.core_c().iter().copied().fold(f64::MAX, f64::min)
    }

    /// Middle of the slab where it has no tube, °C, if there is such floor.
    #[inline]
    pub fn bare_floor_c(&self) -> Option<f64> {
        self.bare.as_ref().map(BareFloor::core_c)
    }

    /// Whether any tube has ever frozen solid.
    #[inline]
    pub fn is_damaged(&self) -> bool {
        self.circuit.is_damaged()
    }

    /// Heat flows of the last step alone.
    #[inline]
    pub fn last_step(&self) -> &EnergyLedger {
        &self.last
    }

    /// The configuration it was built from.
    pub fn config(&self) -> &PlantConfig {
        &self.config
    }

    /// Heat flows since the start.
    pub fn ledger(&self) -> &EnergyLedger {
        &self.ledger
    }

    /// Relative residual of the heat balance since the start.
    pub fn closure(&self) -> f64 {
        self.ledger
            .closure(self.stored_j() - self.stored_at_start_j)
    }

    /// The person adds wood, kg.
    pub fn load_fuel(&mut self, kg: f64) {
        if let (Some(boiler), false) = (&mut self.circuit.boiler, self.faults.no_fuel) {
            boiler.load_fuel(kg);
        }
    }

    /// The person lights the fire.
    pub fn light_fire(&mut self) {
        if let Some(boiler) = &mut self.circuit.boiler {
            boiler.light_fire();
        }
    }

    /// Heat stored in the whole plant above 0 °C, J.
    fn stored_j(&self) -> f64 {
        self.floor.stored_j()
            + self.bare.as_ref().map_or(0.0, BareFloor::stored_j)
            + self.house.stored_j()
            + self.store.stored_j()
            + self.circuit.stored_j()
    }

    fn part(&mut self, dt_s: f64, outdoor: &OutdoorConditions, relays: Relays) {
        let actual = self.faults.applied_to(relays);
        self.circulator_runs = actual.circulator;
        let electrical_w = if actual.circulator {
            self.config.circulator.electrical_w
        } else {
            0.0
        };
        let drive = Drive {
            moves: actual.circulator && !self.faults.air_locked,
            called: actual.boiler_call,
            pump_w: electrical_w * self.config.circulator.heat_to_water,
        };
        let around = Around {
            house_air_c: self.house.air_c(),
            store_air_c: self.store.air_c(),
            slab_core_c: self.floor.core_c(),
            store_core_c: self.store.floor.core_c(),
            boiler: Surround {
                air_c: outdoor.air_c,
                hour: (outdoor.ground_day - libm::floor(outdoor.ground_day)) * 24.0,
                fire_out: self.faults.fire_out,
                no_fuel: self.faults.no_fuel,
                told: self.told,
            },
        };
        let heat = self.circuit.step(dt_s, &drive, &around);
        let water_w = if self.circuit.flow_point().is_some() {
            drive.pump_w
        } else {
            0.0
        };
        self.last.pump_j += electrical_w * dt_s;
        self.last.slab_j += heat.slab_j.iter().sum::<f64>();
        self.last.earth_j -= heat.store_j.iter().sum::<f64>();
        self.last.exposed_runs_j += heat.outdoor_j;
        self.last.boiler_j += heat.boiler_j;
        self.last.fire_j += heat.fire_j;
        self.last.boiler_lost_j += heat.boiler_lost_j;

        let underside_w = self.upstairs(dt_s, outdoor, &heat, electrical_w - water_w);
        self.downstairs(dt_s, outdoor.ground_day, &heat, underside_w);
        self.now = Readings {
            supply_c: self.circuit.supply_c(),
            return_c: self.circuit.return_c(),
            slab_c: self
                .floor
                .mid_spacing_c(self.config.sensors.slab_zone.min(ZONES - 1)),
            outdoor_c: outdoor.air_c,
            air_c: self.house.air_c(),
            store_c: self.store.air_c(),
        };
    }

    /// Slab and house air, with the heat the water and the pump's motor gave. Returns the heat going down to the store, W.
    fn upstairs(
        &mut self,
        dt_s: f64,
        outdoor: &OutdoorConditions,
        heat: &WaterHeat,
        motor_w: f64,
    ) -> f64 {
        let per_s = 1.0 / dt_s;
        let zone_m2 = self.floor.zone_m2();
        let store_air_c = self.store.air_c();
        let envelope = self.house.envelope(outdoor);
        let bare_m2 = self.bare.as_ref().map_or(0.0, BareFloor::area_m2);
        let sun_w_m2 = envelope.sun_floor_w / (zone_m2 * ZONES as f64 + bare_m2);
        let beside = self.bare.as_ref().map(|bare| AroundBare {
            outdoor_c: outdoor.air_c,
            store_air_c,
            sun_w_m2,
            beside_w: bare.beside_w(self.floor.core_c()),
        });
        self.floor.columns.prepare(dt_s);
        self.floor.heat_core(dt_s, &heat.slab_j.map(|j| j * per_s));
        let core = self.floor.core_cell();
        self.floor
            .columns
            .heat(core, self.edge_w_m2k.map(|g| g * outdoor.air_c));
        let near = self.floor.columns.len() - 1;
        if let Some(beside) = &beside {
            let given = beside.beside_w.map(|w| -w / zone_m2);
            self.floor.columns.heat(core, given);
        }
        self.floor.columns.heat(near, [sun_w_m2; ZONES]);
        self.floor
            .columns
            .heat(0, [self.underside_w_m2k * store_air_c; ZONES]);
        let mut coupling = self.floor.eliminate();
        let bare = self.bare.as_mut().zip(beside).map(|(bare, beside)| {
            let own = bare.eliminate(dt_s, &beside);
            coupling.air_w_k += own.air_w_k;
            coupling.source_w += own.source_w;
            (bare, beside, own)
        });
        let flows = self.house.solve(
            dt_s,
            &envelope,
            &coupling,
            motor_w + heat.house_air_j * per_s,
        );
        let air_c = self.house.air_c();
        let floor_to_air_w = self.floor.substitute(&coupling, air_c);
        let bare = bare.map_or(BareFlows::default(), |(bare, beside, own)| {
            bare.substitute(&own, air_c, &beside)
        });

        let (core_c, bottom_c) = (self.floor.core_c(), self.floor.columns.temperature_c(0));
        let (mut edge_w, mut underside_w) = (bare.edge_w, bare.underside_w);
        for z in 0..ZONES {
            edge_w += zone_m2 * self.edge_w_m2k[z] * (core_c[z] - outdoor.air_c);
            underside_w += zone_m2 * self.underside_w_m2k * (bottom_c[z] - store_air_c);
        }
        let last = &mut self.last;
        last.sun_floor_j += flows.sun_floor_w * dt_s;
        last.sun_air_j += flows.sun_air_w * dt_s;
        last.glazing_j += flows.glazing_w * dt_s;
        last.sky_j += flows.sky_w * dt_s;
        last.infiltration_j += flows.infiltration_w * dt_s;
        last.vent_j += flows.vent_w * dt_s;
        last.edge_j += edge_w * dt_s;
        last.floor_to_air_j += (floor_to_air_w + bare.air_w) * dt_s;
        last.bare_edge_j += bare.edge_w * dt_s;
        last.underside_j += underside_w * dt_s;
        underside_w
    }

    /// Store and earth, with the heat the water gave and what comes down from the slab.
    fn downstairs(&mut self, dt_s: f64, ground_day: f64, heat: &WaterHeat, underside_w: f64) {
        let per_s = 1.0 / dt_s;
        let tube_w = heat.store_j.map(|j| j * per_s);
        let ground = self.store.step(
            dt_s,
            &tube_w,
            underside_w + heat.store_air_j * per_s,
            ground_day,
        );
        self.last.ground_lateral_j += ground.lateral_j;
        self.last.ground_walls_j += ground.walls_j;
    }
}

#[cfg(test)]
mod tests;
