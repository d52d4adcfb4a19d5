//! What can be fitted: each value with its keys, how far the file may be off, and what would tell it. The table is the place to add one.

use super::model::Offsets;
use crate::sim::plant::PlantConfig;
use crate::sim::plant::config::FloorConfig;
use crate::sim::plant::embedded::floor_coefficient_w_m2k;
use crate::sim::plant::operating::{LoopDesign, Path, REFERENCE_C, TubeResistance};

/// A value of the house that a log may tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    /// Glazing and leakage together: their parts cannot be told apart.
    Envelope,
    /// The slab's edge.
    Edge,
    /// Radiation to the sky.
    Sky,
    /// Water to slab.
    Exchange,
    /// Water moved.
    Flow,
    /// Water to the store's floor.
    StoreExchange,
    /// Heat the earth takes up, √(kρc); conductivity and capacity move together.
    Earth,
    /// Undisturbed earth.
    EarthMean,
    /// What the model misses between store and supply.
    StoreWater,
    /// Heat capacity of the slab.
    Capacity,
    /// Surface of the slab to the air.
    Surface,
    /// Conductivity of the slab's concrete.
    Concrete,
    /// Error of the slab's sensor.
    SlabSensor,
    /// Error of the outdoor sensor.
    OutdoorSensor,
    /// Error of the supply's sensor.
    SupplySensor,
    /// Error of the return's sensor.
    ReturnSensor,
    /// Error of the store's sensor.
    StoreSensor,
}

/// How a value is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// Fitted, and written if it is known.
    Fitted,
    /// Fitted beside the others and not written: it is said in them, or is the model's own fault.
    Beside,
    /// Held at the file's value, its uncertainty carried into all others: no log of temperatures and relays can tell it.
    Held,
}

/// One value.
#[derive(Clone, Copy, Debug)]
pub struct Parameter {
    /// Which.
    pub which: Which,
    /// How it is taken.
    pub role: Role,
    /// In words.
    pub name: &'static str,
    /// Whether it is a factor (natural logarithm, 0 = as in the file) or a temperature difference (K).
    pub factor: bool,
    /// Standard deviation of what is known before, of the logarithm or K.
    pub prior: f64,
    /// What the model's own faults add to its uncertainty, of the logarithm or K.
    pub floor: f64,
    /// Keys of the site file that follow it.
    pub keys: &'static [&'static str],
    /// What would tell it.
    pub told_by: &'static str,
}

const BATH: &str = "One bath of water for all sensors would tell it, or an ice bath.";

/// The table. Priors are estimates of how far a carefully made site file is off. Floors are what twins show beyond the fit's own ranges
/// (docs/fit.md): a sensor alone is told no better than before, but for the return beside the others.
pub const PARAMETERS: [Parameter; 17] = [
    Parameter {
        which: Which::Envelope,
        role: Role::Fitted,
        name: "heat loss upwards, said as glazing and leakage",
        factor: true,
        prior: 0.30,
        floor: 0.10,
        keys: &[
            "house.glazing_u_value",
            "house.air_changes",
            "curtain.glazing_u_value",
            "curtain.air_changes",
        ],
        told_by: "Two weeks more with nights of different cold would tell it.",
    },
    Parameter {
        which: Which::Edge,
        role: Role::Fitted,
        name: "heat loss of the slab's edge",
        factor: true,
        prior: 0.40,
        floor: 0.20,
        keys: &["house.edge_loss"],
        told_by: "It hides behind the glazing's loss: a night with the glazing covered, or the edge's insulation measured, would tell it.",
    },
    Parameter {
        which: Which::Sky,
        role: Role::Fitted,
        name: "loss to the sky, said as the share seen",
        factor: true,
        prior: 0.35,
        floor: 0.05,
        keys: &["house.sky_view"],
        told_by: "Clear and overcast nights of the same cold, with a weather file of these dates, would tell it.",
    },
    Parameter {
        which: Which::Exchange,
        role: Role::Fitted,
        name: "heat exchange of water and slab",
        factor: true,
        prior: 0.20,
        floor: 0.06,
        keys: &["slab.exchange"],
        told_by: "Five runs of a quarter of an hour with water 2 K or more from the slab would tell it.",
    },
    Parameter {
        which: Which::Flow,
        role: Role::Fitted,
        name: "flow of the loop",
        factor: true,
        prior: 0.15,
        floor: 0.05,
        keys: &["circulator.measured_flow"],
        told_by: "A bucket and a clock, or a water meter, would tell it best; and then all heat is known better.",
    },
    Parameter {
        which: Which::StoreExchange,
        role: Role::Fitted,
        name: "heat exchange of water and store floor",
        factor: true,
        prior: 0.20,
        floor: 0.08,
        keys: &["store_floor.exchange"],
        told_by: "A thermometer in the store's air, logged through long runs, would tell it.",
    },
    Parameter {
        which: Which::Earth,
        role: Role::Fitted,
        name: "heat the earth takes up and gives",
        factor: true,
        prior: 0.35,
        floor: 0.10,
        keys: &["earth.conductivity", "earth.heat_capacity"],
        told_by: "A thermometer in the store's air and a month of cold nights on the loop would tell it.",
    },
    Parameter {
        which: Which::EarthMean,
        role: Role::Fitted,
        name: "temperature of the undisturbed earth",
        factor: false,
        prior: 1.5,
        floor: 0.20,
        keys: &["earth.mean"],
        told_by: "The first days of the season, before the store is drawn, would tell it.",
    },
    Parameter {
        which: Which::StoreWater,
        role: Role::Beside,
        name: "what the model misses between store and supply",
        factor: false,
        prior: 0.10,
        floor: 0.0,
        keys: &[],
        told_by: "",
    },
    Parameter {
        which: Which::Capacity,
        role: Role::Held,
        name: "heat capacity of the slab",
        factor: true,
        prior: 0.08,
        floor: 0.0,
        keys: &["slab.heat_capacity"],
        told_by: "Temperatures and relays never tell it: only a heater of known watts for two nights, or a measured flow.",
    },
    Parameter {
        which: Which::Surface,
        role: Role::Beside,
        name: "heat exchange of the slab's surface with the air",
        factor: true,
        prior: 0.20,
        floor: 0.0,
        keys: &[],
        told_by: "It hides behind the glazing's loss; the air's temperature in the log would tell it.",
    },
    Parameter {
        which: Which::Concrete,
        role: Role::Beside,
        name: "conductivity of the concrete",
        factor: true,
        prior: 0.15,
        floor: 0.0,
        keys: &["slab.conductivity"],
        told_by: "A log of a slab so thin does not tell it.",
    },
    Parameter {
        which: Which::SlabSensor,
        role: Role::Fitted,
        name: "error of the slab's sensor",
        factor: false,
        prior: 0.25,
        floor: 0.25,
        keys: &["sensor_slab.offset"],
        told_by: BATH,
    },
    Parameter {
        which: Which::OutdoorSensor,
        role: Role::Fitted,
        name: "error of the outdoor sensor",
        factor: false,
        prior: 0.25,
        floor: 0.25,
        keys: &["sensor_outdoor.offset"],
        told_by: BATH,
    },
    Parameter {
        which: Which::SupplySensor,
        role: Role::Fitted,
        name: "error of the supply's sensor",
        factor: false,
        prior: 0.25,
        floor: 0.25,
        keys: &["sensor_supply.offset"],
        told_by: BATH,
    },
    Parameter {
        which: Which::ReturnSensor,
        role: Role::Fitted,
        name: "error of the return's sensor",
        factor: false,
        prior: 0.25,
        floor: 0.12,
        keys: &["sensor_return.offset"],
        told_by: BATH,
    },
    Parameter {
        which: Which::StoreSensor,
        role: Role::Fitted,
        name: "error of the store's sensor",
        factor: false,
        prior: 0.25,
        floor: 0.25,
        keys: &["sensor_store.offset"],
        told_by: BATH,
    },
];

impl Parameter {
    /// Whether it is a sensor's error and no property of the house.
    #[must_use]
    pub fn is_sensor(&self) -> bool {
        self.keys.iter().any(|key| key.starts_with("sensor_"))
    }
}

/// How many values there are.
pub const COUNT: usize = PARAMETERS.len();

/// A point: every value's departure from the site file, logarithm or K.
pub type Point = [f64; COUNT];

/// Index of a value in the table.
#[must_use]
pub fn index(which: Which) -> usize {
    PARAMETERS
        .iter()
        .position(|parameter| parameter.which == which)
        .unwrap_or(0)
}

/// The house at a point, and the sensors' errors there.
#[must_use]
pub fn at(site: &PlantConfig, point: &Point) -> (PlantConfig, Offsets) {
    let mut plant = site.clone();
    let mut offsets = Offsets::of(&site.sensors);
    for (parameter, &x) in PARAMETERS.iter().zip(point) {
        put(parameter.which, x, site, &mut plant, &mut offsets);
    }
    (plant, offsets)
}

fn put(which: Which, x: f64, site: &PlantConfig, plant: &mut PlantConfig, offsets: &mut Offsets) {
    if x == 0.0 {
        return;
    }
    let factor = libm::exp(x);
    match which {
        Which::Envelope => {
            plant.house.glazing_u_w_m2k *= factor;
            plant.house.air_changes_per_h *= factor;
            if let Some(curtain) = &mut plant.house.curtain {
                curtain.u_w_m2k *= factor;
                curtain.air_changes_per_h *= factor;
            }
        }
        Which::Edge => plant.house.edge_loss_w_mk *= factor,
        Which::Sky => plant.house.sky_view = (plant.house.sky_view * factor).min(1.0),
        Which::Exchange => plant.floor.exchange *= factor,
        Which::Flow => {
            plant.circulator.measured_flow_l_s = Some(flow_l_s(site) * factor);
        }
        Which::StoreExchange => plant.store.floor.exchange *= factor,
        Which::Earth => {
            plant.ground.conductivity_w_mk *= factor;
            plant.ground.heat_capacity_j_m3k *= factor;
        }
        Which::EarthMean => plant.ground.mean_c += x,
        Which::ReturnSensor => offsets.return_k += x,
        Which::StoreWater => offsets.store_water_k += x,
        Which::Capacity => plant.floor.heat_capacity_j_m3k *= factor,
        Which::Surface => plant.floor.surface_exchange *= factor,
        Which::Concrete => plant.floor.conductivity_w_mk *= factor,
        Which::SlabSensor => offsets.slab_k += x,
        Which::OutdoorSensor => offsets.outdoor_k += x,
        Which::SupplySensor => offsets.supply_k += x,
        Which::StoreSensor => offsets.store_k += x,
    }
}

/// The same point said in the values a site file has: what surface and concrete have lost or gained on the way up counts as the
/// glazing's, and the concrete's part of the way from the water as the exchange's: no log tells them apart, and the house behaves the same.
#[must_use]
pub fn effective(site: &PlantConfig, point: &Point) -> Point {
    let up_m2k_w = |plant: &PlantConfig| {
        let film_w_m2k = floor_coefficient_w_m2k(TYPICAL_K) * plant.floor.surface_exchange;
        plant.floor.tube_depth_m / plant.floor.conductivity_w_mk + 1.0 / film_w_m2k
    };
    let (plant, _) = at(site, point);
    let area_m2 = site.house.floor_area_m2();
    let drawn = site.house.curtain.is_some();
    let total_k_w =
        1.0 / plant.house.envelope_w_k(drawn) + (up_m2k_w(&plant) - up_m2k_w(site)) / area_m2;
    let mut said = *point;
    // Far from the file the surface alone may explain more than there is: then the glazing is said as hardly any resistance.
    let least_k_w = 0.05 / site.house.envelope_w_k(drawn);
    said[index(Which::Envelope)] =
        -libm::log(total_k_w.max(least_k_w) * site.house.envelope_w_k(drawn));
    // The concrete is a part of the way from water to tube plane, too.
    let from_water_mk_w = |floor: &FloorConfig| {
        let circuit_l_s = flow_l_s(site) / f64::from(floor.circuits);
        let water = site.fluid.properties(REFERENCE_C);
        TubeResistance::of(floor, &water, circuit_l_s).total_mk_w()
    };
    said[index(Which::Exchange)] =
        libm::log(from_water_mk_w(&site.floor) / from_water_mk_w(&plant.floor));
    said[index(Which::Surface)] = 0.0;
    said[index(Which::Concrete)] = 0.0;
    said
}

/// Difference of floor and air that the surface's coefficient is taken at, K.
const TYPICAL_K: f64 = 3.0;

/// Flow of the loop at its reference temperature, L/s.
#[must_use]
pub fn flow_l_s(plant: &PlantConfig) -> f64 {
    LoopDesign::new(plant)
        .flow_point(Path::Series, REFERENCE_C)
        .flow_l_s
}

/// Loss of the slab's tube plane to outdoors through air, glazing and edge, W/K, with a floor 3 K warmer than the air.
#[must_use]
pub fn loss_w_k(plant: &PlantConfig) -> f64 {
    let area_m2 = plant.house.floor_area_m2();
    let film_w_m2k = floor_coefficient_w_m2k(TYPICAL_K) * plant.floor.surface_exchange;
    let up_m2k_w = plant.floor.tube_depth_m / plant.floor.conductivity_w_mk + 1.0 / film_w_m2k;
    let envelope_w_k = plant.house.envelope_w_k(plant.house.curtain.is_some());
    1.0 / (up_m2k_w / area_m2 + 1.0 / envelope_w_k) + plant.house.edge_w_k()
}

/// Heat capacity of the slab, J/K.
#[must_use]
pub fn capacity_j_k(plant: &PlantConfig) -> f64 {
    plant.house.floor_area_m2() * plant.floor.thickness_m * plant.floor.heat_capacity_j_m3k
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The table's order is free, but every value is in it once, and each moves the house or a sensor.
    #[test]
    fn every_value_moves_something_and_zero_moves_nothing() {
        let site = PlantConfig::default();
        let as_filed = (site.clone(), Offsets::default());
        assert_eq!(at(&site, &[0.0; COUNT]), as_filed);
        for (i, parameter) in PARAMETERS.iter().enumerate() {
            assert_eq!(index(parameter.which), i);
            let mut point = [0.0; COUNT];
            point[i] = 0.1;
            assert_ne!(
                at(&site, &point),
                (site.clone(), Offsets::default()),
                "{parameter:?}"
            );
        }
    }

    /// Worked house, by hand: 10 W/m²K film, 50 mm of 1.8 W/mK, 21.6 m², edge 17.94 W/K.
    #[test]
    fn the_loss_is_a_series_and_the_edge_beside_it() {
        let site = PlantConfig::default();
        let film = 8.92 * 3.0_f64.powf(0.1);
        let up = 1.0 / (21.6 / (0.05 / 1.8 + 1.0 / film));
        let envelope = site.house.envelope_w_k(false);
        let by_hand = 1.0 / (up + 1.0 / envelope) + 0.9346 * 19.2;
        assert!((loss_w_k(&site) - by_hand).abs() < 1e-9);
        assert!((capacity_j_k(&site) - 21.6 * 0.1 * 2.1e6).abs() < 1e-6);
    }
}
