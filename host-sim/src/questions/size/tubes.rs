//! Circuits and circulator: lengths, velocities, Reynolds numbers, resistances, the operating point.

use serde::Serialize;

use crate::files::site::longest_usual_m;
use crate::sim::plant::config::{FloorConfig, PlantConfig};
use crate::sim::plant::film::{LAMINAR_END, TURBULENT_START, reynolds};
use crate::sim::plant::hydraulics::{
    BUBBLES_CARRIED_DOWN_M_S, hydraulic_power_w, system_head_m, wire_to_water,
};
use crate::sim::plant::operating::{FlowPoint, LoopDesign, Path, REFERENCE_C, TubeResistance};

/// One floor's circuits at the operating point.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FloorCheck {
    /// Section of the site file: `slab` or `store_floor`.
    pub section: &'static str,
    /// Tube, by its standard name.
    pub tube: &'static str,
    /// Bore, m.
    pub bore_m: f64,
    /// Circuits side by side.
    pub circuits: u32,
    /// Length of one, m.
    pub circuit_length_m: f64,
    /// Longest usual for that bore, m, if practice has a figure.
    pub longest_usual_m: Option<f64>,
    /// Floor the tubes serve, m².
    pub heated_area_m2: f64,
    /// Share of the whole floor that is, 0..1.
    pub covered: f64,
    /// Velocity, m/s.
    pub velocity_m_s: f64,
    /// Flow of the whole loop that carries bubbles down a drop here, L/s.
    pub flow_for_bubbles_l_s: f64,
    /// Head of the loop at that flow, m.
    pub head_for_bubbles_m: f64,
    /// Reynolds number.
    pub reynolds: f64,
    /// Flow of the whole loop below which this tube is no longer fully turbulent, L/s.
    pub turbulent_above_l_s: f64,
    /// Flow of the whole loop below which it is laminar, L/s.
    pub laminar_below_l_s: f64,
    /// Water to tube wall, m K/W.
    pub film_mk_w: f64,
    /// Tube wall, m K/W.
    pub wall_mk_w: f64,
    /// Tube to the mean of its plane in the concrete, m K/W.
    pub concrete_mk_w: f64,
    /// Film resistance just below the laminar cliff, m K/W.
    pub laminar_film_mk_w: f64,
    /// Share of the water's excess over the floor that stays in the floor, 0..1.
    pub effectiveness: f64,
}

impl FloorCheck {
    /// R' from water to tube plane, m K/W.
    #[must_use]
    pub fn total_mk_w(&self) -> f64 {
        self.film_mk_w + self.wall_mk_w + self.concrete_mk_w
    }

    /// Shares of film, wall and concrete in R', 0..1.
    #[must_use]
    pub fn shares(&self) -> [f64; 3] {
        [self.film_mk_w, self.wall_mk_w, self.concrete_mk_w].map(|part| part / self.total_mk_w())
    }
}

/// The circulator against the loop, with winter water.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PumpCheck {
    /// Flow, L/s.
    pub flow_l_s: f64,
    /// Whether the flow is the site file's measured one.
    pub flow_is_measured: bool,
    /// Head the loop needs at that flow, m.
    pub head_m: f64,
    /// Head the circulator has there, m.
    pub pump_head_m: f64,
    /// Head of the circulator against a closed valve, m.
    pub shutoff_head_m: f64,
    /// Flow work, W.
    pub hydraulic_w: f64,
    /// Electrical power, W.
    pub electrical_w: f64,
    /// Flow work over electrical power, 0..1.
    pub wire_to_water: f64,
    /// Flow with every circuit halved and doubled in number, L/s.
    pub split_flow_l_s: f64,
    /// Flow with the store left out, L/s (boiler in bypass piping).
    pub house_only_flow_l_s: f64,
}

pub(super) fn floors(plant: &PlantConfig, point: &FlowPoint) -> [FloorCheck; 2] {
    let design = LoopDesign::new(plant);
    let fluid = plant.fluid.properties(REFERENCE_C);
    let stretches = design.stretches(Path::Series);
    let floor = |section, floor: &FloorConfig, floor_m2: f64, effectiveness| {
        let circuits = f64::from(floor.circuits);
        let circuit_l_s = point.flow_l_s / circuits;
        let re = reynolds(&fluid, &floor.tube, circuit_l_s);
        let flow_at = |wanted: f64| wanted / re * point.flow_l_s;
        let resistance = TubeResistance::of(floor, &fluid, circuit_l_s);
        let laminar_l_s = flow_at(LAMINAR_END) / circuits;
        let flow_for_bubbles_l_s = BUBBLES_CARRIED_DOWN_M_S * floor.tube.litres_per_m() * circuits;
        FloorCheck {
            section,
            tube: floor.tube.name,
            bore_m: floor.tube.inside_m,
            circuits: floor.circuits,
            circuit_length_m: floor.circuit_length_m,
            longest_usual_m: longest_usual_m(&floor.tube),
            heated_area_m2: floor.heated_area_m2(),
            covered: (floor.heated_area_m2() / floor_m2).min(1.0),
            velocity_m_s: floor.tube.velocity_m_s(circuit_l_s),
            flow_for_bubbles_l_s,
            head_for_bubbles_m: system_head_m(&stretches, &fluid, flow_for_bubbles_l_s),
            reynolds: re,
            turbulent_above_l_s: flow_at(TURBULENT_START),
            laminar_below_l_s: flow_at(LAMINAR_END),
            film_mk_w: resistance.film_mk_w,
            wall_mk_w: resistance.wall_mk_w,
            concrete_mk_w: resistance.plane_mk_w,
            laminar_film_mk_w: TubeResistance::of(floor, &fluid, laminar_l_s).film_mk_w,
            effectiveness,
        }
    };
    [
        floor(
            "slab",
            &plant.floor,
            plant.house.floor_area_m2(),
            point.house_effectiveness,
        ),
        floor(
            "store_floor",
            &plant.store.floor,
            plant.store_floor_m2(),
            point.store_effectiveness,
        ),
    ]
}

pub(super) fn pump(plant: &PlantConfig, point: &FlowPoint) -> PumpCheck {
    let design = LoopDesign::new(plant);
    let fluid = plant.fluid.properties(REFERENCE_C);
    let curve = design.pump();
    let electrical_w = plant.circulator.electrical_w;
    // What the circulator gives is never more than its own curve says.
    let head_m = point.head_m.min(curve.head_m(point.flow_l_s).max(0.0));
    let mut unmeasured = plant.clone();
    unmeasured.circulator.measured_flow_l_s = None;
    let mut split = unmeasured.clone();
    for floor in [&mut split.floor, &mut split.store.floor] {
        floor.circuits *= 2;
        floor.circuit_length_m /= 2.0;
        floor.fittings_k /= 2.0;
    }
    let flow = |plant: &PlantConfig, path| {
        LoopDesign::new(plant)
            .flow_point(path, REFERENCE_C)
            .flow_l_s
    };
    PumpCheck {
        flow_l_s: point.flow_l_s,
        flow_is_measured: plant.circulator.measured_flow_l_s.is_some(),
        head_m: point.head_m,
        pump_head_m: curve.head_m(point.flow_l_s).max(0.0),
        shutoff_head_m: curve.shutoff_head_m,
        hydraulic_w: hydraulic_power_w(&fluid, point.flow_l_s, head_m),
        electrical_w,
        wire_to_water: wire_to_water(&fluid, point.flow_l_s, head_m, electrical_w),
        split_flow_l_s: flow(&split, Path::Series),
        house_only_flow_l_s: flow(&unmeasured, Path::HouseOnly),
    }
}
