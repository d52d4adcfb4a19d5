//! What is filled in: the expansion vessel for it, and glycol.

use serde::Serialize;

use super::{Question, flow_point, with_fluid};
use crate::sim::plant::config::{BoilerKind, PlantConfig, RunConfig, Surroundings};
use crate::sim::plant::exchanger::loop_conductance_w_k;
use crate::sim::plant::expansion::{diaphragm_tank, liquid_expansion, vessel_with_reserve_l};
use crate::sim::plant::fluid::Fluid;
use crate::sim::plant::glycol::Glycol;

/// Coldest the liquid is filled or stands at, °C: water is densest.
const COLD_C: f64 = 4.0;
/// Warmest a loop without boiler stands at in summer, °C.
const SUMMER_C: f64 = 40.0;
/// Precharge of the vessel and final pressure half a bar below a 3 bar relief valve, bar gauge (EN 12828 practice, from memory;
/// a higher house needs more precharge: static height and 0.3 bar).
const PRECHARGE_BAR: f64 = 0.7;
const FINAL_BAR: f64 = 2.5;
/// Standard atmosphere, bar.
const ATMOSPHERE_BAR: f64 = 1.013_25;

/// Sizes vessels are sold in, L (common practice, no source).
const SIZES_L: [f64; 10] = [8.0, 12.0, 18.0, 25.0, 35.0, 50.0, 80.0, 105.0, 150.0, 200.0];

/// Expansion vessel.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Vessel {
    /// Liquid in tubes and runs, L.
    pub loop_l: f64,
    /// Water in the boiler's jacket, L.
    pub jacket_l: f64,
    /// Warmest the loop gets, °C.
    pub loop_hot_c: f64,
    /// Warmest the jacket gets, °C.
    pub jacket_hot_c: f64,
    /// Growth of the liquid from 4 °C, L. The concrete holds the tube: its own growth is not counted.
    pub expansion_l: f64,
    /// Precharge, bar gauge.
    pub precharge_bar: f64,
    /// Pressure when hot, bar gauge.
    pub final_bar: f64,
    /// Nominal volume after EN 12828 with its water reserve, L.
    pub nominal_l: f64,
    /// Volume after the ASHRAE formula for diaphragm tanks, without reserve, L.
    pub ashrae_l: f64,
    /// Next size sold, L; `None` above all.
    pub next_size_l: Option<f64>,
}

pub(super) fn vessel(plant: &PlantConfig) -> Vessel {
    let loop_l = plant.floor.water_l()
        + plant.store.floor.water_l()
        + plant.supply_run.water_l()
        + plant.return_run.water_l();
    let (jacket_l, boiler_hot_c) = match plant.boiler.as_ref().map(|boiler| &boiler.kind) {
        Some(BoilerKind::HandFired(fire)) => (fire.jacket_kg, fire.damper_closes_c),
        Some(BoilerKind::Injection { .. }) => (0.0, HOT_BOILER_C),
        None => (0.0, SUMMER_C),
    };
    let mixed_c = plant.boiler.as_ref().and_then(|boiler| boiler.mixing_c);
    let loop_hot_c = mixed_c.unwrap_or(boiler_hot_c).max(SUMMER_C);
    let growth = |hot_c| liquid_expansion(plant.fluid, COLD_C, hot_c);
    let expansion_l = loop_l * growth(loop_hot_c) + jacket_l * growth(boiler_hot_c);
    let system_l = loop_l + jacket_l;
    let nominal_l = vessel_with_reserve_l(system_l, expansion_l, PRECHARGE_BAR, FINAL_BAR);
    Vessel {
        loop_l,
        jacket_l,
        loop_hot_c,
        jacket_hot_c: boiler_hot_c,
        expansion_l,
        precharge_bar: PRECHARGE_BAR,
        final_bar: FINAL_BAR,
        nominal_l,
        ashrae_l: diaphragm_tank(
            system_l,
            expansion_l / system_l,
            0.0,
            0.0,
            PRECHARGE_BAR + ATMOSPHERE_BAR,
            FINAL_BAR + ATMOSPHERE_BAR,
        ),
        next_size_l: SIZES_L.into_iter().find(|size_l| *size_l >= nominal_l),
    }
}

/// Flow temperature of a boiler kept hot, °C (common practice, no source).
const HOT_BOILER_C: f64 = 80.0;

/// How far below the design night glycol has to stay liquid, K (common practice, no source).
const MARGIN_K: f64 = 3.0;

/// Glycol.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GlycolCheck {
    /// What is in the loop: `water`, `propylene glycol`, `ethylene glycol`.
    pub fluid: &'static str,
    /// Its freezing point, °C.
    pub freezing_c: f64,
    /// Whether a run outdoors asks for one.
    pub is_exposed: bool,
    /// Freezing point wanted, °C: below the design night.
    pub wanted_c: f64,
    /// Mass fraction for that, of the glycol in the loop, or propylene; `None` if no known mixture is enough.
    pub dose: Option<Dose>,
}

/// A dose and what it costs.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Dose {
    /// Mass fraction, 0..1.
    pub share: f64,
    /// Pure glycol to put in, L at 20 °C; loop and jacket.
    pub glycol_l: f64,
    /// Flow, L/s.
    pub flow_l_s: f64,
    /// Reynolds number in the slab's tube.
    pub reynolds: f64,
    /// The loop's conductance with it, W/K.
    pub conductance_w_k: f64,
    /// Heat lost against water, 0..1.
    pub heat_lost: f64,
}

pub(super) fn glycol(plant: &PlantConfig, question: &Question, designed_w_k: f64) -> GlycolCheck {
    let exposed = |run: &RunConfig| run.surroundings == Surroundings::Outdoor;
    let wanted_c = question.design_c.min(0.0) - MARGIN_K;
    let kind = match plant.fluid {
        Fluid::Water | Fluid::Propylene(_) => Glycol::Propylene,
        Fluid::Ethylene(_) => Glycol::Ethylene,
    };
    let with = |fluid| {
        let point = flow_point(&with_fluid(plant, fluid));
        let conductance_w_k = loop_conductance_w_k(
            point.capacity_w_k,
            point.store_effectiveness,
            point.house_effectiveness,
        );
        (point, conductance_w_k)
    };
    let water_w_k = match plant.fluid {
        Fluid::Water => designed_w_k,
        Fluid::Propylene(_) | Fluid::Ethylene(_) => with(Fluid::Water).1,
    };
    let vessel = vessel(plant);
    let dose = kind.share_for(wanted_c).map(|share| {
        let (point, conductance_w_k) = with(kind.mixed(share));
        Dose {
            share,
            glycol_l: kind.share_by_volume(share) * (vessel.loop_l + vessel.jacket_l),
            flow_l_s: point.flow_l_s,
            reynolds: point.reynolds,
            conductance_w_k,
            heat_lost: 1.0 - conductance_w_k / water_w_k,
        }
    });
    GlycolCheck {
        fluid: match plant.fluid {
            Fluid::Water => "water",
            Fluid::Propylene(_) => "propylene glycol",
            Fluid::Ethylene(_) => "ethylene glycol",
        },
        freezing_c: plant.fluid.freezing_c(),
        is_exposed: exposed(&plant.supply_run) || exposed(&plant.return_run),
        wanted_c,
        dose,
    }
}
