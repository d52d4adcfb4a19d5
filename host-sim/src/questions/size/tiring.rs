//! How the store tires: the loop runs without pause against a slab held at its temperature, day after day.
//!
//! Twice. The simulated store ([`crate::sim::plant::store`]): floor, earth below and beside it, walls, air, the yearly wave. And the
//! earth straight below alone, in closed form: ground with a surface coefficient against the slab's temperature (Carslaw &
//! Jaeger §2.7), without walls, air and sides. The truth of a real cellar lies nearer to the first if it has walls.

use serde::Serialize;

use super::{Question, balance, undisturbed_c};
use crate::sim::plant::balance::{Given, balance_point};
use crate::sim::plant::config::PlantConfig;
use crate::sim::plant::exchanger::{ZONES, Zones};
use crate::sim::plant::ground::film_response;
use crate::sim::plant::operating::FlowPoint;
use crate::sim::plant::store::Store;

/// When it is looked at, days of running.
const DAYS: [f64; 5] = [0.0, 1.0, 7.0, 30.0, 90.0];

/// Step of the simulated store, s. Heat from the tube is taken with the floor as it was: half an hour of it moves the tube plane
/// by a twelfth of the difference to the water at most.
const STEP_S: f64 = 1800.0;

/// Days of running after which the store counts as tired.
const TIRED_DAYS: f64 = 7.0;

const DAY_S: f64 = 86_400.0;

/// The store after some days.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TiredRow {
    /// Days of running without pause.
    pub days: f64,
    /// Tube plane of its floor, °C.
    pub floor_c: f64,
    /// Its air, °C.
    pub air_c: f64,
    /// Heat to the slab, W.
    pub heat_w: f64,
    /// Outdoor temperature that then still holds the slab, °C.
    pub outdoor_c: f64,
    /// Its floor if there were only the earth straight below, °C.
    pub earth_alone_c: f64,
    /// Outdoor temperature that would then hold the slab, °C.
    pub earth_alone_outdoor_c: f64,
}

pub(super) fn rows(
    plant: &PlantConfig,
    question: &Question,
    point: &FlowPoint,
    conductance_w_k: f64,
) -> Vec<TiredRow> {
    let start_day = plant.start.ground_day;
    let mut ground = plant.ground.clone();
    // The asked-for store is the same earth, warmer or colder as a whole.
    ground.mean_c += question.store_c - undisturbed_c(plant);
    let mut store = Store::new(&plant.store, &ground, plant.store_floor_m2(), start_day);
    let film_w_m2k = conductance_w_k / plant.store.floor.heated_area_m2();
    let options = balance::options(plant);
    let floor_m2 = plant.floor.heated_area_m2();
    let roof_w_k = balance::losses(plant).underside_w_k * (1.0 + plant.bare_floor_m2() / floor_m2);
    let held = |store_c| balance_point(plant, Given::Floor(question.hold_c), store_c, &options);
    let slab_c = held(question.store_c).slab_c;
    let mut steps = 0.0;
    DAYS.into_iter()
        .map(|days| {
            while steps * STEP_S < days * DAY_S {
                steps += 1.0;
                let taken_w = drawn_w(point, slab_c, store.floor.core_c());
                let day = start_day + steps * STEP_S / DAY_S;
                let roof_w = roof_w_k * (question.hold_c - store.air_c());
                store.step(STEP_S, &taken_w.map(|w| -w), roof_w, day);
            }
            let floor_c = store.floor.core_mean_c();
            let now = held(floor_c);
            let fallen = if days > 0.0 {
                film_response(&ground, film_w_m2k, 0.0, days * DAY_S)
            } else {
                0.0
            };
            let earth_alone_c = question.store_c - (question.store_c - question.hold_c) * fallen;
            TiredRow {
                days,
                floor_c,
                air_c: store.air_c(),
                heat_w: now.heat_w,
                outdoor_c: now.outdoor_c,
                earth_alone_c,
                earth_alone_outdoor_c: held(earth_alone_c).outdoor_c,
            }
        })
        .collect()
}

/// The row of the tired store.
pub(super) fn tired(rows: &[TiredRow]) -> TiredRow {
    let at = DAYS.iter().position(|days| *days >= TIRED_DAYS);
    rows[at.unwrap_or(DAYS.len() - 1)]
}

/// Heat the water takes out of each zone of the store's floor in the steady loop, W.
fn drawn_w(point: &FlowPoint, slab_c: f64, store_core_c: &Zones) -> Zones {
    let outlet_c = |inlet_c: f64| point.store.march(inlet_c, store_core_c).0;
    // The outlet is linear in the inlet: two marches tell all, and the slab closes the loop.
    let (at_zero_c, slope) = (outlet_c(0.0), outlet_c(1.0) - outlet_c(0.0));
    let left = 1.0 - point.house_effectiveness;
    let supply_c = (at_zero_c + slope * point.house_effectiveness * slab_c) / (1.0 - slope * left);
    let return_c = slab_c + left * (supply_c - slab_c);
    let (_, given_w) = point.store.march(return_c, store_core_c);
    core::array::from_fn::<_, ZONES, _>(|zone| -given_w[zone])
}
