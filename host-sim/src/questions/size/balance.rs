//! Heat: the loop as a conductor, evenness of the slab, and down to which outdoor temperature the store alone holds.

use serde::Serialize;

use super::{Question, flow_point, with_fluid};
use crate::sim::plant::balance::{
    BalanceOptions, BalancePoint, FloorFilm, Given, SlabLosses, balance_point,
};
use crate::sim::plant::config::{Curtain, PlantConfig};
use crate::sim::plant::evenness::{Evenness, evenness};
use crate::sim::plant::exchanger::{Layout, loop_conductance_w_k};
use crate::sim::plant::film::LAMINAR_END;
use crate::sim::plant::fluid::Fluid;
use crate::sim::plant::glycol::USUAL_SHARE;
use crate::sim::plant::operating::{FlowPoint, LoopDesign, Path, REFERENCE_C, TubeResistance};

/// How much colder and warmer a store is looked at, K.
const STORE_STEP_K: f64 = 2.0;

/// A steady state the store alone holds.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Held {
    /// Slab core where it has tube, °C.
    pub slab_c: f64,
    /// Floor without tube, °C, if there is any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bare_c: Option<f64>,
    /// Air, °C.
    pub air_c: f64,
    /// Outdoors, °C.
    pub outdoor_c: f64,
    /// Heat from the loop, W.
    pub heat_w: f64,
    /// Water into the slab, °C.
    pub supply_c: f64,
    /// Water out of it, °C.
    pub return_c: f64,
}

impl From<BalancePoint> for Held {
    fn from(point: BalancePoint) -> Self {
        Self {
            slab_c: point.slab_c,
            bare_c: point.bare_c,
            air_c: point.air_c,
            outdoor_c: point.outdoor_c,
            heat_w: point.heat_w,
            supply_c: point.supply_c,
            return_c: point.return_c,
        }
    }
}

/// One case: the floor of the house held as a whole, and the air held.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BalanceRow {
    /// Which case: `as_designed`, `pump_heat`, `standard_film`, `curtain`, `no_curtain`, `glycol`, `water`, `store_colder`,
    /// `store_warmer`.
    pub case: &'static str,
    /// In words.
    pub name: String,
    /// Mean of the floor held.
    pub slab: Held,
    /// Air held.
    pub air: Held,
}

/// The loop as a conductor of heat, and the slab's answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LoopCheck {
    /// Heat capacity flow, W/K.
    pub capacity_w_k: f64,
    /// Heat from store to slab per kelvin between their tube planes, W/K.
    pub conductance_w_k: f64,
    /// The same just below the laminar cliff of the slab's tube, W/K.
    pub laminar_conductance_w_k: f64,
    /// Slab to outdoors, curtain as at night, W/K.
    pub losses_w_k: f64,
    /// Share of those losses that goes by way of the air, 0..1; the rest leaves at the slab's edge.
    pub air_share: f64,
    /// Heat over electrical power in the balance.
    pub heat_per_electricity: f64,
    /// Specific heat capacity of the liquid, J/(kg K).
    pub specific_heat_j_kgk: f64,
    /// Time the water takes through the longer floor, s.
    pub transit_s: f64,
    /// Time constant of the slab with the loop off and on, s.
    pub time_constant_s: [f64; 2],
    /// Whether the slab is laid as a double spiral.
    pub is_spiral: bool,
    /// Warmest and coldest strip of the slab at its balance point, °C: to and fro.
    pub serpentine_c: [f64; 2],
    /// The same as a double spiral.
    pub counter_flow_c: [f64; 2],
}

impl LoopCheck {
    /// Warmest and coldest strip as laid, °C.
    #[must_use]
    pub fn as_laid_c(&self) -> [f64; 2] {
        if self.is_spiral {
            self.counter_flow_c
        } else {
            self.serpentine_c
        }
    }
}

/// Floor film the site is reckoned with, W/(m² K).
pub(super) fn film_w_m2k(plant: &PlantConfig) -> f64 {
    let film = plant.floor.surface_above_w_m2k;
    match BalanceOptions::default().floor_film {
        FloorFilm::Fixed(usual) if film <= 0.0 => usual,
        _ => film,
    }
}

/// As designed: the site's own film, no pump heat, curtain drawn if there is one.
pub(crate) fn options(plant: &PlantConfig) -> BalanceOptions {
    BalanceOptions {
        floor_film: FloorFilm::Fixed(film_w_m2k(plant)),
        curtain_drawn: plant.house.curtain.is_some(),
        ..BalanceOptions::default()
    }
}

/// Slab to outdoors, curtain as at night.
pub(crate) fn losses(plant: &PlantConfig) -> SlabLosses {
    SlabLosses::of(plant, film_w_m2k(plant), plant.house.curtain.is_some())
}

pub(super) fn rows(plant: &PlantConfig, question: &Question) -> Vec<BalanceRow> {
    let base = options(plant);
    let row = |case, name: &str, plant: &PlantConfig, store_c, options: &BalanceOptions| {
        let held = |given| balance_point(plant, given, store_c, options).into();
        BalanceRow {
            case,
            name: name.to_owned(),
            slab: held(Given::Floor(question.hold_c)),
            air: held(Given::Air(question.hold_c)),
        }
    };
    let store_c = question.store_c;
    let pump_heat_w = plant.circulator.electrical_w * plant.circulator.heat_to_water;
    let with_curtain = |curtain| {
        let mut changed = plant.clone();
        changed.house.curtain = curtain;
        changed
    };
    let curtain = match plant.house.curtain {
        None => row(
            "curtain",
            "with a night curtain",
            &with_curtain(Some(Curtain::USUAL)),
            store_c,
            &BalanceOptions {
                curtain_drawn: true,
                ..base
            },
        ),
        Some(_) => row(
            "no_curtain",
            "without the night curtain",
            plant,
            store_c,
            &BalanceOptions {
                curtain_drawn: false,
                ..base
            },
        ),
    };
    let glycol = match plant.fluid {
        Fluid::Water => row(
            "glycol",
            "with 30 % propylene glycol",
            &with_fluid(plant, Fluid::Propylene(USUAL_SHARE)),
            store_c,
            &base,
        ),
        Fluid::Propylene(_) | Fluid::Ethylene(_) => row(
            "water",
            "with plain water",
            &with_fluid(plant, Fluid::Water),
            store_c,
            &base,
        ),
    };
    vec![
        row("as_designed", "as designed", plant, store_c, &base),
        row(
            "pump_heat",
            "with the circulator's heat",
            plant,
            store_c,
            &BalanceOptions {
                pump_heat_w,
                ..base
            },
        ),
        row(
            "standard_film",
            "with EN 1264-2's floor film",
            plant,
            store_c,
            &BalanceOptions {
                floor_film: FloorFilm::Curve,
                ..base
            },
        ),
        curtain,
        glycol,
        row(
            "store_colder",
            "store 2 K colder",
            plant,
            store_c - STORE_STEP_K,
            &base,
        ),
        row(
            "store_warmer",
            "store 2 K warmer",
            plant,
            store_c + STORE_STEP_K,
            &base,
        ),
    ]
}

pub(super) fn loop_check(plant: &PlantConfig, point: &FlowPoint, held: &Held) -> LoopCheck {
    let conductance_w_k = conductance_w_k(point);
    let losses = losses(plant);
    let floor = &plant.floor;
    let fluid = plant.fluid.properties(REFERENCE_C);
    let circuits = f64::from(floor.circuits);
    let resistance = TubeResistance::of(floor, &fluid, point.flow_l_s / circuits);
    let strips = |layout| {
        let even: Evenness = evenness(
            layout,
            floor.circuit_length_m,
            1.0 / resistance.total_mk_w(),
            losses.total_w_k() / floor.heated_area_m2() * floor.spacing_m,
            point.capacity_w_k / circuits,
        );
        let excess_k = held.supply_c - held.outdoor_c;
        [even.warmest, even.coldest].map(|share| held.outdoor_c + share * excess_k)
    };
    let capacity_j_k = plant.house.floor_area_m2() * floor.thickness_m * floor.heat_capacity_j_m3k;
    let longer_l = floor.water_l().max(plant.store.floor.water_l());
    let laminar = {
        let mut slow = plant.clone();
        // Just below, so that rounding does not put it on the other side.
        slow.circulator.measured_flow_l_s =
            Some(0.999 * LAMINAR_END / point.reynolds * point.flow_l_s);
        flow_point(&slow)
    };
    LoopCheck {
        capacity_w_k: point.capacity_w_k,
        conductance_w_k,
        laminar_conductance_w_k: self::conductance_w_k(&laminar),
        losses_w_k: losses.total_w_k(),
        air_share: losses.through_air_w_k() / losses.total_w_k(),
        heat_per_electricity: held.heat_w / plant.circulator.electrical_w,
        specific_heat_j_kgk: fluid.heat_capacity_j_kgk,
        transit_s: longer_l / point.flow_l_s,
        time_constant_s: [0.0, conductance_w_k]
            .map(|loop_w_k| capacity_j_k / (losses.total_w_k() + losses.underside_w_k + loop_w_k)),
        is_spiral: floor.layout == Layout::CounterFlow,
        serpentine_c: strips(Layout::Serpentine),
        counter_flow_c: strips(Layout::CounterFlow),
    }
}

/// Store to slab at a flow point, W/K.
fn conductance_w_k(point: &FlowPoint) -> f64 {
    loop_conductance_w_k(
        point.capacity_w_k,
        point.store_effectiveness,
        point.house_effectiveness,
    )
}

/// The loop's conductance at another flow, L/s: for the picture of the cliff.
pub(crate) fn conductance_at_w_k(plant: &PlantConfig, flow_l_s: f64) -> f64 {
    let mut other = plant.clone();
    other.circulator.measured_flow_l_s = Some(flow_l_s);
    conductance_w_k(&LoopDesign::new(&other).flow_point(Path::Series, REFERENCE_C))
}
