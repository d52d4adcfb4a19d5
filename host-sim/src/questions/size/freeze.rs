//! How long still water is safe: the pipe runs, and the tubes near the slab's edge.

use serde::Serialize;

use super::Question;
use crate::sim::plant::config::{GroundConfig, PlantConfig, RunConfig, Surroundings};
use crate::sim::plant::fluid::Fluid;
use crate::sim::plant::ground::time_to_cool_at_depth_s;
use crate::sim::plant::operating::{FlowPoint, REFERENCE_C};
use crate::sim::plant::pipe::{
    outer_resistance_mk_w, outlet_c, time_constant_s, time_to_cool_s, time_to_freeze_solid_s,
    water_capacity_j_mk,
};
use crate::sim::plant::water_column::SUPERCOOLING_K;

/// Air the table is made for besides the design night's, °C.
const AROUND_C: [f64; 3] = [-5.0, -10.0, -20.0];

/// Outside of a bare pipe, W/(m² K): sheltered, in wind (common practice).
const STILL_W_M2K: f64 = 10.0;
const WINDY_W_M2K: f64 = 25.0;
/// Thick insulation to compare with, m.
const THICK_M: f64 = 0.025;

/// Depths of a tube behind the slab's edge, m.
const EDGE_M: [f64; 4] = [0.05, 0.10, 0.15, 0.30];
/// Outside of a bare edge, W/(m² K), and an insulated one with its insulation (common practice).
const BARE_EDGE_W_M2K: f64 = 15.0;
const INSULATED_EDGE_W_M2K: f64 = 1.0;

/// Times of a still pipe, s; `None`: never.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FreezeTimes {
    /// To the liquid's freezing point: the time to reckon with.
    pub to_freezing_s: Option<f64>,
    /// To the first ice, 4 K below it, if the water supercools as still water does.
    pub to_ice_s: Option<f64>,
    /// From freezing point to solid; only for water.
    pub to_solid_s: Option<f64>,
}

/// One air temperature: the pipe as built and otherwise.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FreezeRow {
    /// Air around it, °C.
    pub around_c: f64,
    /// As built.
    pub as_built: FreezeTimes,
    /// Bare, in still air.
    pub bare: FreezeTimes,
    /// Bare, in wind.
    pub bare_windy: FreezeTimes,
    /// With 25 mm of its insulation.
    pub thick: FreezeTimes,
}

/// One pipe run.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RunFreeze {
    /// Section of the site file: `supply_run` or `return_run`.
    pub section: &'static str,
    /// Whether it runs outdoors.
    pub is_exposed: bool,
    /// Water in it as it stops, °C: the colder of supply and return.
    pub start_c: f64,
    /// Freezing point of what is in it, °C.
    pub freezing_c: f64,
    /// Cooling time constant of the water in the run as built, s.
    pub time_constant_s: f64,
    /// Water at its end while it circulates through air as cold as the design night, °C.
    pub circulating_c: f64,
    /// By air temperature; the design night last.
    pub rows: Vec<FreezeRow>,
}

impl RunFreeze {
    /// The design night.
    #[must_use]
    pub fn design(&self) -> Option<&FreezeRow> {
        self.rows.last()
    }
}

/// A tube behind the slab's edge, power cut, from the hold temperature to 0 °C at the design night.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct EdgeRow {
    /// Behind the edge, m.
    pub depth_m: f64,
    /// Edge bare, s; `None`: never.
    pub bare_s: Option<f64>,
    /// Edge insulated, s.
    pub insulated_s: Option<f64>,
}

/// Times of a still run with water of `start_c` in air of `around_c`, by the water alone (ASHRAE's form; the tube's own heat
/// capacity adds a third to small plastic tube).
fn times(run: &RunConfig, fluid: Fluid, start_c: f64, around_c: f64) -> FreezeTimes {
    let freezing_c = fluid.freezing_c();
    let resistance = outer_resistance_mk_w(run);
    let constant_s = run_time_constant_s(run, fluid);
    let to = |target_c| time_to_cool_s(constant_s, start_c, target_c, around_c);
    FreezeTimes {
        to_freezing_s: to(freezing_c),
        to_ice_s: to(freezing_c - SUPERCOOLING_K),
        to_solid_s: (fluid == Fluid::Water && around_c < 0.0)
            .then(|| time_to_freeze_solid_s(run.tube.inside_m, resistance, around_c)),
    }
}

fn run_time_constant_s(run: &RunConfig, fluid: Fluid) -> f64 {
    let capacity = water_capacity_j_mk(&fluid.properties(REFERENCE_C), run.tube.inside_m);
    time_constant_s(capacity, outer_resistance_mk_w(run))
}

/// One run as built and otherwise, at each of the temperatures around it.
#[must_use]
pub fn freeze_table(
    run: &RunConfig,
    fluid: Fluid,
    start_c: f64,
    around_c: impl IntoIterator<Item = f64>,
) -> Vec<FreezeRow> {
    let bare = |surface_w_m2k| RunConfig {
        insulation_m: 0.0,
        surface_w_m2k,
        ..run.clone()
    };
    let (still, windy) = (bare(STILL_W_M2K), bare(WINDY_W_M2K));
    let thick = RunConfig {
        insulation_m: THICK_M,
        ..run.clone()
    };
    around_c
        .into_iter()
        .map(|around_c| {
            let times = |run| times(run, fluid, start_c, around_c);
            FreezeRow {
                around_c,
                as_built: times(run),
                bare: times(&still),
                bare_windy: times(&windy),
                thick: times(&thick),
            }
        })
        .collect()
}

pub(super) fn runs(
    plant: &PlantConfig,
    question: &Question,
    return_c: f64,
    point: &FlowPoint,
) -> [RunFreeze; 2] {
    let around_c = || AROUND_C.into_iter().chain([question.design_c]);
    let run = |section, run: &RunConfig| RunFreeze {
        section,
        is_exposed: run.surroundings == Surroundings::Outdoor,
        start_c: return_c,
        freezing_c: plant.fluid.freezing_c(),
        time_constant_s: run_time_constant_s(run, plant.fluid),
        circulating_c: outlet_c(
            return_c,
            question.design_c,
            run.length_m,
            point.capacity_w_k,
            outer_resistance_mk_w(run),
        ),
        rows: freeze_table(run, plant.fluid, return_c, around_c()),
    };
    [
        run("supply_run", &plant.supply_run),
        run("return_run", &plant.return_run),
    ]
}

pub(super) fn edge(plant: &PlantConfig, question: &Question) -> Vec<EdgeRow> {
    // Concrete as ground: the same half-space.
    let concrete = GroundConfig {
        conductivity_w_mk: plant.floor.conductivity_w_mk,
        heat_capacity_j_m3k: plant.floor.heat_capacity_j_m3k,
        ..plant.ground.clone()
    };
    EDGE_M
        .into_iter()
        .map(|depth_m| {
            let time_s = |film_w_m2k| {
                time_to_cool_at_depth_s(
                    &concrete,
                    film_w_m2k,
                    depth_m,
                    question.hold_c,
                    plant.fluid.freezing_c().min(0.0),
                    question.design_c,
                )
            };
            EdgeRow {
                depth_m,
                bare_s: time_s(BARE_EDGE_W_M2K),
                insulated_s: time_s(INSULATED_EDGE_W_M2K),
            }
        })
        .collect()
}
