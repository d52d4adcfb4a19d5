//! The loop as designed: what flows at which water temperature, and how well the floors take its heat then.
//!
//! Everything that depends on flow is worked out once per half kelvin of water temperature and path, on first use, and
//! looked up afterwards.

use super::config::{CirculatorConfig, FloorConfig, Piping, PlantConfig, RunConfig};
use super::exchanger::{Exchanger, effectiveness, transfer_units};
use super::film;
use super::fluid::{Fluid, Properties};
use super::hydraulics::{PumpCurve, Stretch, operating_flow_l_s, system_head_m};
use super::pipe;
use super::slab::tube_plane;

/// Temperature the loop's one heat capacity per litre is taken at, °C; it varies by 1.3 % up to 40 °C.
pub const REFERENCE_C: f64 = 7.0;

/// Which tubes the water passes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Path {
    /// Store floor, runs and house floor in series.
    Series,
    /// House floor alone (boiler in bypass piping).
    HouseOnly,
}

/// Everything that follows from one flow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlowPoint {
    /// Flow, L/s.
    pub flow_l_s: f64,
    /// Head of the system, m.
    pub head_m: f64,
    /// Velocity in the house floor's tube, m/s.
    pub velocity_m_s: f64,
    /// Reynolds number there.
    pub reynolds: f64,
    /// Heat capacity flow, W/K.
    pub capacity_w_k: f64,
    /// Water to house floor.
    pub house: Exchanger,
    /// Effectiveness of the house floor.
    pub house_effectiveness: f64,
    /// Water to store floor.
    pub store: Exchanger,
    /// Effectiveness of the store floor.
    pub store_effectiveness: f64,
    /// Decay towards the surroundings along the supply run.
    pub supply_decay: f64,
    /// Decay towards the surroundings along the return run.
    pub return_decay: f64,
}

/// Resistances of a floor's tube per metre, m K/W.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TubeResistance {
    /// Water to wall.
    pub film_mk_w: f64,
    /// Wall.
    pub wall_mk_w: f64,
    /// Tube surface to mean of the tube plane.
    pub plane_mk_w: f64,
}

impl TubeResistance {
    /// Of a floor with `circuit_l_s` in each circuit (0 = still).
    pub fn of(floor: &FloorConfig, fluid: &Properties, circuit_l_s: f64) -> TubeResistance {
        let film_mk_w =
            film::film_resistance_mk_w(fluid, &floor.tube, floor.circuit_length_m, circuit_l_s);
        let wall_mk_w = film::wall_resistance_mk_w(
            floor.tube.inside_m,
            floor.tube.outside_m,
            floor.tube_conductivity_w_mk,
        );
        let plane_mk_w = tube_plane(floor).resistance_m2k_w() / floor.spacing_m;
        TubeResistance {
            film_mk_w: film_mk_w / floor.exchange,
            wall_mk_w: wall_mk_w / floor.exchange,
            plane_mk_w: plane_mk_w / floor.exchange,
        }
    }

    /// Their sum R', m K/W.
    pub fn total_mk_w(&self) -> f64 {
        self.film_mk_w + self.wall_mk_w + self.plane_mk_w
    }
}

/// Conductance of a floor's still water to the tube plane, W/K.
pub fn still_conductance_w_k(floor: &FloorConfig, fluid: &Properties) -> f64 {
    floor.circuit_length_m * f64::from(floor.circuits)
        / TubeResistance::of(floor, fluid, 0.0).total_mk_w()
}

/// The loop as designed.
#[derive(Clone, Debug, PartialEq)]
pub struct LoopDesign {
    fluid: Fluid,
    house: FloorConfig,
    store: FloorConfig,
    supply_run: RunConfig,
    return_run: RunConfig,
    circulator: CirculatorConfig,
}

impl LoopDesign {
    /// Of this plant.
    pub fn new(config: &PlantConfig) -> LoopDesign {
        LoopDesign {
            fluid: config.fluid,
            house: config.floor.clone(),
            store: config.store.floor.clone(),
            supply_run: config.supply_run.clone(),
            return_run: config.return_run.clone(),
            circulator: config.circulator.clone(),
        }
    }

    /// Heat capacity of a litre, J/(L K), the one value used in all bookkeeping.
    pub fn heat_capacity_j_lk(&self) -> f64 {
        self.fluid.properties(REFERENCE_C).heat_capacity_j_lk()
    }

    /// The pump's curve.
    pub fn pump(&self) -> PumpCurve {
        PumpCurve {
            shutoff_head_m: self.circulator.shutoff_head_m,
            runout_l_s: self.circulator.runout_m3_h / 3.6,
        }
    }

    /// Tubes in series along a path.
    pub fn stretches(&self, path: Path) -> Vec<Stretch> {
        let floor = |f: &FloorConfig| Stretch {
            tube: f.tube,
            length_m: f.circuit_length_m,
            roughness_m: f.tube_roughness_m,
            fittings_k: f.fittings_k,
            parallel: f.circuits,
        };
        let run = |r: &RunConfig| Stretch {
            tube: r.tube,
            length_m: r.length_m,
            roughness_m: self.house.tube_roughness_m,
            fittings_k: r.fittings_k,
            parallel: 1,
        };
        match path {
            Path::HouseOnly => vec![floor(&self.house)],
            Path::Series => {
                vec![
                    floor(&self.house),
                    floor(&self.store),
                    run(&self.supply_run),
                    run(&self.return_run),
                ]
            }
        }
    }

    /// Flow and all that follows from it, with water of `water_c`.
    pub fn flow_point(&self, path: Path, water_c: f64) -> FlowPoint {
        let fluid = self.fluid.properties(water_c);
        let stretches = self.stretches(path);
        let flow_l_s = self
            .circulator
            .measured_flow_l_s
            .unwrap_or_else(|| operating_flow_l_s(&self.pump(), &stretches, &fluid));
        let capacity_w_k = flow_l_s * self.heat_capacity_j_lk();
        let house_circuit_l_s = flow_l_s / f64::from(self.house.circuits);
        let units = |floor: &FloorConfig| {
            let circuits = f64::from(floor.circuits);
            let resistance = TubeResistance::of(floor, &fluid, flow_l_s / circuits).total_mk_w();
            transfer_units(floor.circuit_length_m * circuits, resistance, capacity_w_k)
        };
        let (house_units, store_units) = (units(&self.house), units(&self.store));
        let decay = |run: &RunConfig| {
            let resistance = pipe::run_resistance_mk_w(run, &fluid, flow_l_s);
            libm::exp(-transfer_units(run.length_m, resistance, capacity_w_k))
        };
        FlowPoint {
            flow_l_s,
            head_m: system_head_m(&stretches, &fluid, flow_l_s),
            velocity_m_s: self.house.tube.velocity_m_s(house_circuit_l_s),
            reynolds: film::reynolds(&fluid, &self.house.tube, house_circuit_l_s),
            capacity_w_k,
            house: Exchanger::new(self.house.layout, house_units, capacity_w_k),
            house_effectiveness: effectiveness(house_units),
            store: Exchanger::new(self.store.layout, store_units, capacity_w_k),
            store_effectiveness: effectiveness(store_units),
            supply_decay: decay(&self.supply_run),
            return_decay: decay(&self.return_run),
        }
    }
}

/// Path while the boiler is or is not called.
pub fn path(piping: Option<Piping>, boiler_called: bool) -> Path {
    if boiler_called && piping == Some(Piping::Bypass) {
        Path::HouseOnly
    } else {
        Path::Series
    }
}

/// Coldest and warmest water in the table, °C, and its step, K.
const COLDEST_C: f64 = -20.0;
const WARMEST_C: f64 = 100.0;
pub(super) const STEP_K: f64 = 0.5;

/// Flow points on first use.
#[derive(Clone, Debug, PartialEq)]
pub struct OperatingTable {
    design: LoopDesign,
    series: Vec<Option<FlowPoint>>,
    house_only: Vec<Option<FlowPoint>>,
}

impl OperatingTable {
    /// An empty table.
    pub fn new(design: LoopDesign) -> OperatingTable {
        let rows = ((WARMEST_C - COLDEST_C) / STEP_K) as usize + 1;
        OperatingTable {
            design,
            series: vec![None; rows],
            house_only: vec![None; rows],
        }
    }

    /// Flow point nearest to `water_c`.
    #[inline]
    pub fn at(&mut self, path: Path, water_c: f64) -> FlowPoint {
        let row = ((water_c.clamp(COLDEST_C, WARMEST_C) - COLDEST_C) / STEP_K + 0.5) as usize;
        let table = match path {
            Path::Series => &mut self.series,
            Path::HouseOnly => &mut self.house_only,
        };
        match table[row] {
            Some(point) => point,
            None => *table[row].insert(
                self.design
                    .flow_point(path, COLDEST_C + row as f64 * STEP_K),
            ),
        }
    }
}
