//! How big the backup must be on the design night.

use serde::Serialize;

use super::tiring::TiredRow;
use super::{Question, balance};
use crate::sim::plant::config::{BoilerKind, Piping, PlantConfig, Tending};
use crate::sim::plant::operating::{LoopDesign, Path, path};

/// Water temperature the boiler's flow is worked out at, °C.
const HEATED_WATER_C: f64 = 20.0;

/// The design night.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Backup {
    /// Heat the slab loses at its hold temperature, W.
    pub losses_w: f64,
    /// Heat a tired store still gives then, W; 0 while the boiler's piping leaves it out.
    pub store_w: f64,
    /// Whether the boiler's piping leaves the store out while it is called.
    pub store_left_out: bool,
    /// What is left for the boiler, W; at least 0.
    pub needed_w: f64,
    /// Whether the store alone holds, fresh.
    pub fresh_store_holds: bool,
    /// Whether it still does after a week.
    pub tired_store_holds: bool,
    /// What the boiler can do; `None` without one.
    pub boiler: Option<BoilerCheck>,
}

/// What the boiler can do.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BoilerCheck {
    /// Its power, W.
    pub power_w: f64,
    /// Heat the water can carry into the slab at the highest supply the mixing valve lets through, W; `None` without a valve.
    pub carried_w: Option<f64>,
    /// Time one charge lasts on the design night, s; `None` for a boiler that is not hand-fired.
    pub charge_s: Option<f64>,
    /// Longest time between two feedings, s; `None` where nobody comes by the clock.
    pub unfed_s: Option<f64>,
}

impl BoilerCheck {
    /// What arrives in the slab at most, W.
    #[must_use]
    pub fn available_w(&self) -> f64 {
        self.carried_w
            .map_or(self.power_w, |carried_w| carried_w.min(self.power_w))
    }
}

pub(super) fn backup(
    plant: &PlantConfig,
    question: &Question,
    fresh: &TiredRow,
    tired: &TiredRow,
) -> Backup {
    let losses_w_k = balance::losses(plant).total_w_k();
    let losses_w = losses_w_k * (question.hold_c - question.design_c).max(0.0);
    let left_out = plant
        .boiler
        .as_ref()
        .is_some_and(|boiler| boiler.piping == Piping::Bypass);
    let store_w = if left_out { 0.0 } else { tired.heat_w.max(0.0) };
    let needed_w = (losses_w - store_w).max(0.0);
    Backup {
        losses_w,
        store_w,
        store_left_out: left_out,
        needed_w,
        fresh_store_holds: fresh.outdoor_c <= question.design_c,
        tired_store_holds: tired.outdoor_c <= question.design_c,
        boiler: boiler(plant, question, needed_w),
    }
}

fn boiler(plant: &PlantConfig, question: &Question, needed_w: f64) -> Option<BoilerCheck> {
    let boiler = plant.boiler.as_ref()?;
    let piping: Path = path(Some(boiler.piping), true);
    let point = LoopDesign::new(plant).flow_point(piping, HEATED_WATER_C);
    let carried_w = boiler.mixing_c.map(|supply_c| {
        let excess_k = (supply_c - question.hold_c).max(0.0);
        point.capacity_w_k * point.house_effectiveness * excess_k
    });
    Some(match &boiler.kind {
        BoilerKind::Injection { capacity_w } => BoilerCheck {
            power_w: *capacity_w,
            carried_w,
            charge_s: None,
            unfed_s: None,
        },
        BoilerKind::HandFired(fire) => BoilerCheck {
            power_w: fire.rated_w,
            carried_w,
            charge_s: Some(
                fire.charge_kg * fire.wood_j_kg * fire.efficiency
                    / needed_w.clamp(1.0, fire.rated_w),
            ),
            unfed_s: match fire.tending {
                Tending::ByHand | Tending::OnCall | Tending::ByAdvice | Tending::Evening { .. } => {
                    None
                }
                Tending::Daily { hours, .. } => {
                    let apart_h = (hours[1] - hours[0]).abs();
                    Some(apart_h.max(24.0 - apart_h) * 3600.0)
                }
            },
        },
    })
}
