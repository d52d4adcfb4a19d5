//! The water once round the loop: store floor → supply run → pump → boiler → slab → return run → store floor.
//!
//! Whether water moves is decided by the caller (circulator turning, no air lock) and by ice. It takes the floors'
//! temperatures as they were when the step began and returns the heat it gave to each of them; it changes nothing but its own
//! water and the boiler.

mod driven;

use super::boiler::{Boiler, BoilerFlows, Draw, Surround};
use super::config::{FloorConfig, Piping, PlantConfig, RunConfig, Surroundings};
use super::exchanger::{Layout, ZONES, Zones};
use super::operating::{self, FlowPoint, LoopDesign, OperatingTable, Path};
use super::pipe;
use super::water_column::{Liquid, WaterColumn};

/// Surroundings of the water at the beginning of a step.
#[derive(Clone, Copy, Debug)]
pub struct Around<'a> {
    /// House air, °C.
    pub house_air_c: f64,
    /// Store air, °C.
    pub store_air_c: f64,
    /// Tube plane of the slab, °C.
    pub slab_core_c: &'a Zones,
    /// Tube plane of the store floor, °C.
    pub store_core_c: &'a Zones,
    /// Around the boiler; its air is the outdoor air.
    pub boiler: Surround,
}

impl Around<'_> {
    fn of(&self, surroundings: Surroundings) -> f64 {
        match surroundings {
            Surroundings::HouseAir => self.house_air_c,
            Surroundings::StoreAir => self.store_air_c,
            Surroundings::Outdoor => self.boiler.air_c,
        }
    }
}

/// What drives the loop in a step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drive {
    /// The circulator turns and would move water.
    pub moves: bool,
    /// The boiler is called.
    pub called: bool,
    /// Heat the circulator gives to the water it moves, W.
    pub pump_w: f64,
}

/// Heat over a step, J: what the water gave to its surroundings, and what the boiler did.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct WaterHeat {
    /// To the slab's zones.
    pub slab_j: Zones,
    /// To the store floor's zones.
    pub store_j: Zones,
    /// To the house air.
    pub house_air_j: f64,
    /// To the store air.
    pub store_air_j: f64,
    /// To the outdoor air.
    pub outdoor_j: f64,
    /// From the boiler to the loop.
    pub boiler_j: f64,
    /// From the fire to the boiler.
    pub fire_j: f64,
    /// From the boiler to its shed.
    pub boiler_lost_j: f64,
}

impl WaterHeat {
    fn give(&mut self, surroundings: Surroundings, heat_j: f64) {
        match surroundings {
            Surroundings::HouseAir => self.house_air_j += heat_j,
            Surroundings::StoreAir => self.store_air_j += heat_j,
            Surroundings::Outdoor => self.outdoor_j += heat_j,
        }
    }

    fn add_boiler(&mut self, flows: &BoilerFlows, dt_s: f64) {
        self.boiler_j += flows.loop_w * dt_s;
        self.fire_j += flows.fire_w * dt_s;
        self.boiler_lost_j += flows.lost_w * dt_s;
    }
}

/// Adds powers lasting `dt_s` to energies.
#[inline]
fn add(energy_j: &mut Zones, power_w: &Zones, dt_s: f64) {
    for (j, w) in energy_j.iter_mut().zip(power_w) {
        *j += w * dt_s;
    }
}

/// The loop's water and the boiler.
#[derive(Clone, Debug, PartialEq)]
pub struct Circuit {
    table: OperatingTable,
    layouts: [Layout; 2],
    around_supply: Surroundings,
    around_return: Surroundings,
    piping: Option<Piping>,
    /// The boiler, if there is one.
    pub boiler: Option<Boiler>,
    slab_water: WaterColumn,
    store_water: WaterColumn,
    supply_water: WaterColumn,
    return_water: WaterColumn,
    point: Option<FlowPoint>,
    supply_c: f64,
    return_c: f64,
    spot_cooling_s: f64,
    spot_dt_s: f64,
    spot_share: f64,
}

impl Circuit {
    /// Water at rest: at `slab_c`, in the store floor at `store_c`.
    pub fn new(config: &PlantConfig, slab_c: f64, store_c: f64) -> Circuit {
        let design = LoopDesign::new(config);
        let fluid = config.fluid.properties(operating::REFERENCE_C);
        let liquid = Liquid {
            heat_capacity_j_lk: design.heat_capacity_j_lk(),
            freezing_c: config.fluid.freezing_c(),
        };
        let in_floor = |floor: &FloorConfig, start_c: f64| {
            let conductance = operating::still_conductance_w_k(floor, &fluid);
            let length_m = floor.circuit_length_m * f64::from(floor.circuits);
            WaterColumn::new(floor.water_l(), length_m, start_c, conductance, liquid)
        };
        let in_run = |run: &RunConfig| {
            let conductance = run.length_m / pipe::run_resistance_mk_w(run, &fluid, 0.0);
            WaterColumn::new(run.water_l(), run.length_m, slab_c, conductance, liquid)
        };
        Circuit {
            table: OperatingTable::new(design),
            layouts: [config.floor.layout, config.store.floor.layout],
            around_supply: config.supply_run.surroundings,
            around_return: config.return_run.surroundings,
            piping: config.boiler.as_ref().map(|boiler| boiler.piping),
            boiler: config
                .boiler
                .as_ref()
                .map(|boiler| Boiler::new(boiler, slab_c)),
            slab_water: in_floor(&config.floor, slab_c),
            store_water: in_floor(&config.store.floor, store_c),
            supply_water: in_run(&config.supply_run),
            return_water: in_run(&config.return_run),
            point: None,
            supply_c: slab_c,
            return_c: slab_c,
            spot_cooling_s: config.sensors.spot_cooling_s,
            spot_dt_s: f64::NAN,
            spot_share: 0.0,
        }
    }

    /// Looks up every flow of a path for water of `coldest_c` to `warmest_c`, so that copies made afterwards share the work.
    pub fn look_up_flows(&mut self, path: Path, coldest_c: f64, warmest_c: f64) {
        let mut water_c = coldest_c;
        while water_c <= warmest_c {
            self.table.at(path, water_c);
            water_c += operating::STEP_K;
        }
    }

    /// Water in the pipe where it enters the slab, °C; at rest it drifts to the house air.
    #[inline]
    pub fn supply_c(&self) -> f64 {
        self.supply_c
    }

    /// Water in the pipe where it leaves the slab, °C; at rest it drifts to the house air.
    #[inline]
    pub fn return_c(&self) -> f64 {
        self.return_c
    }

    /// Flow and what follows from it, while water moves.
    pub fn flow_point(&self) -> Option<&FlowPoint> {
        self.point.as_ref()
    }

    /// Whether any tube has frozen solid: damage, for good.
    pub fn is_damaged(&self) -> bool {
        self.columns().iter().any(|column| column.is_damaged())
    }

    /// Whether ice stops the flow anywhere.
    pub fn is_blocked(&self) -> bool {
        self.columns().iter().any(|column| column.is_blocked())
    }

    /// Largest share of ice in any length of tube, 0..1.
    pub fn ice_fraction(&self) -> f64 {
        self.columns()
            .iter()
            .map(|column| column.ice_fraction())
            .fold(0.0, f64::max)
    }

    /// Heat stored in water and boiler above 0 °C, J.
    pub fn stored_j(&self) -> f64 {
        self.columns()
            .iter()
            .map(|column| column.stored_j())
            .sum::<f64>()
            + self.boiler.as_ref().map_or(0.0, Boiler::stored_j)
    }

    fn columns(&self) -> [&WaterColumn; 4] {
        [
            &self.slab_water,
            &self.store_water,
            &self.supply_water,
            &self.return_water,
        ]
    }

    /// One step of `dt_s`.
    pub fn step(&mut self, dt_s: f64, drive: &Drive, around: &Around) -> WaterHeat {
        let path = operating::path(self.piping, drive.called);
        let blocked = match path {
            Path::Series => self.is_blocked(),
            Path::HouseOnly => self.slab_water.is_blocked(),
        };
        let mut heat = WaterHeat::default();
        if drive.moves && !blocked {
            self.circulate(dt_s, path, drive, around, &mut heat);
        } else {
            self.point = None;
            self.stand_in_slab(dt_s, around, &mut heat);
            self.stand_in_store(dt_s, around, &mut heat);
            if let Some(boiler) = &mut self.boiler {
                let (_, flows) = boiler.step(dt_s, drive.called, None, &around.boiler);
                heat.add_boiler(&flows, dt_s);
            }
            self.cool_spots(dt_s, around.house_air_c);
        }
        heat
    }

    /// Moves water on, in portions the first tube can hold.
    fn circulate(
        &mut self,
        dt_s: f64,
        path: Path,
        drive: &Drive,
        around: &Around,
        heat: &mut WaterHeat,
    ) {
        let point = self.table.at(path, 0.5 * (self.supply_c + self.return_c));
        let first_l = match path {
            Path::Series => self.store_water.litres(),
            Path::HouseOnly => self.slab_water.litres(),
        };
        let portions = super::parts(point.flow_l_s * dt_s / (0.9 * first_l));
        for _ in 0..portions as u64 {
            match path {
                Path::Series => self.through_both(dt_s / portions, drive, &point, around, heat),
                Path::HouseOnly => self.through_slab(dt_s / portions, drive, &point, around, heat),
            }
        }
        if path == Path::HouseOnly {
            self.stand_in_store(dt_s, around, heat);
        }
        self.point = Some(point);
    }

    fn through_both(
        &mut self,
        dt_s: f64,
        drive: &Drive,
        point: &FlowPoint,
        around: &Around,
        heat: &mut WaterHeat,
    ) {
        let litres = point.flow_l_s * dt_s;
        let joules_k = point.capacity_w_k * dt_s;
        let along = |run: Surroundings, decay: f64, inlet_c: f64, heat: &mut WaterHeat| {
            let around_c = around.of(run);
            let outlet_c = around_c + (inlet_c - around_c) * decay;
            heat.give(run, joules_k * (inlet_c - outlet_c));
            outlet_c
        };
        let mut water_c = self.store_water.take(litres);
        water_c = along(self.around_supply, point.supply_decay, water_c, heat);
        water_c = self.supply_water.pass(litres, water_c);
        water_c = self.warm(dt_s, water_c, drive, point, around, heat);
        self.supply_c = water_c;
        let (leaving_c, zones_w) = point.house.march(water_c, around.slab_core_c);
        add(&mut heat.slab_j, &zones_w, dt_s);
        water_c = self.slab_water.pass(litres, leaving_c);
        self.return_c = water_c;
        water_c = along(self.around_return, point.return_decay, water_c, heat);
        water_c = self.return_water.pass(litres, water_c);
        let (leaving_c, zones_w) = point.store.march(water_c, around.store_core_c);
        add(&mut heat.store_j, &zones_w, dt_s);
        self.store_water.put(litres, leaving_c);
    }

    fn through_slab(
        &mut self,
        dt_s: f64,
        drive: &Drive,
        point: &FlowPoint,
        around: &Around,
        heat: &mut WaterHeat,
    ) {
        let litres = point.flow_l_s * dt_s;
        self.return_c = self.slab_water.take(litres);
        self.supply_c = self.warm(dt_s, self.return_c, drive, point, around, heat);
        let (leaving_c, zones_w) = point.house.march(self.supply_c, around.slab_core_c);
        add(&mut heat.slab_j, &zones_w, dt_s);
        self.slab_water.put(litres, leaving_c);
    }

    /// Pump and boiler.
    fn warm(
        &mut self,
        dt_s: f64,
        water_c: f64,
        drive: &Drive,
        point: &FlowPoint,
        around: &Around,
        heat: &mut WaterHeat,
    ) -> f64 {
        let inlet_c = water_c + drive.pump_w / point.capacity_w_k;
        let Some(boiler) = &mut self.boiler else {
            return inlet_c;
        };
        let draw = Draw {
            inlet_c,
            capacity_w_k: point.capacity_w_k,
        };
        let (mixed_c, flows) = boiler.step(dt_s, drive.called, Some(draw), &around.boiler);
        heat.add_boiler(&flows, dt_s);
        mixed_c.unwrap_or(inlet_c)
    }

    fn stand_in_slab(&mut self, dt_s: f64, around: &Around, heat: &mut WaterHeat) {
        let layout = self.layouts[0];
        let given_w = self
            .slab_water
            .rest(dt_s, &layout.along_tube(around.slab_core_c));
        add(&mut heat.slab_j, &layout.into_zones(&given_w), dt_s);
    }

    /// Water at rest in store floor and runs.
    fn stand_in_store(&mut self, dt_s: f64, around: &Around, heat: &mut WaterHeat) {
        let layout = self.layouts[1];
        let given_w = self
            .store_water
            .rest(dt_s, &layout.along_tube(around.store_core_c));
        add(&mut heat.store_j, &layout.into_zones(&given_w), dt_s);
        for (water, run) in [
            (&mut self.supply_water, self.around_supply),
            (&mut self.return_water, self.around_return),
        ] {
            let given_w = water.rest(dt_s, &[around.of(run); ZONES]);
            heat.give(run, given_w.iter().sum::<f64>() * dt_s);
        }
    }

    /// The short pieces of pipe at the sensors; their heat is part of the slab's water.
    fn cool_spots(&mut self, dt_s: f64, air_c: f64) {
        if self.spot_dt_s != dt_s {
            self.spot_dt_s = dt_s;
            self.spot_share = -libm::expm1(-dt_s / self.spot_cooling_s);
        }
        self.supply_c += (air_c - self.supply_c) * self.spot_share;
        self.return_c += (air_c - self.return_c) * self.spot_share;
    }
}
