//! How much colder than its sensor the slab's coldest part with tube gets: what the controller cannot see.

use crate::sim::plant::{OutdoorConditions, Plant, PlantConfig, Relays};

/// A clear, cold night without end: outdoor air, °C, and the sky's infrared on the horizontal, W/m². Status: judgement.
const AIR_C: f64 = -15.0;
const INFRARED_W_M2: f64 = 190.0;
const WIND_M_S: f64 = 2.0;

/// Slab at the beginning, and at its sensor where the difference is taken, °C.
const START_C: f64 = 8.0;
const COLD_C: f64 = 2.5;

/// Length of a step, s, and of the night, h, at most.
const STEP_S: f64 = 60.0;
const NIGHT_H: f64 = 96.0;

/// The coldest part of the slab with tube below the place of its sensor, K, as the sensor comes down to 2.5 °C with the
/// circulator on and no fire; none where the store holds it warmer.
pub(super) fn below_sensor_k(plant: &PlantConfig) -> Option<f64> {
    let mut config = plant.clone();
    config.start.slab_c = START_C;
    let outdoor = OutdoorConditions {
        air_c: AIR_C,
        dew_point_c: AIR_C,
        infrared_w_m2: INFRARED_W_M2,
        wind_m_s: WIND_M_S,
        solar_incident_w: 0.0,
        ground_day: config.start.ground_day,
    };
    let relays = Relays {
        circulator: true,
        boiler_call: false,
    };
    let mut house = Plant::new(&config, 0);
    let steps = (NIGHT_H * 3_600.0 / STEP_S) as u32;
    (0..steps).find_map(|_| {
        house.step(STEP_S, &outdoor, relays);
        let truth = house.true_state();
        (truth.slab_sensor_c <= COLD_C).then_some(truth.slab_sensor_c - truth.slab_min_c)
    })
}
