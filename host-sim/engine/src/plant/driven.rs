//! House and store driven by measured water instead of by each other: what a fit compares with a log.
//!
//! The supply as logged goes into the slab, the return as logged into the store, so that neither half carries the other's errors.
//! Relays come from the log; there is no controller, no boiler and no noise. Heat that a boiler brings is in the logged supply.

use super::circuit::Around;
use super::{OutdoorConditions, Plant, Readings, Surround, ZONES};

/// Measured water while the circulator runs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Water {
    /// Entering the slab, °C.
    pub supply_c: f64,
    /// Leaving the slab, °C.
    pub return_c: f64,
    /// A boiler in bypass piping is called: the water does not pass the store.
    pub past_store: bool,
}

impl Plant {
    /// Moves the plant on by `dt_s` (at most [`super::LONGEST_STEP_S`]) under constant weather with this water; `None`: the
    /// circulator rests. [`Plant::truth`] then holds what perfect sensors would show: the return computed from the logged
    /// supply, the supply from the logged return.
    pub fn step_driven(&mut self, dt_s: f64, outdoor: &OutdoorConditions, water: Option<&Water>) {
        let pump = &self.config.circulator;
        let electrical_w = water.map_or(0.0, |_| pump.electrical_w);
        let pump_w = electrical_w * pump.heat_to_water;
        let around = Around {
            house_air_c: self.house.air_c(),
            store_air_c: self.store.air_c(),
            slab_core_c: self.floor.core_c(),
            store_core_c: self.store.floor.core_c(),
            boiler: Surround {
                air_c: outdoor.air_c,
                hour: 0.0,
                told: self.told,
                fire_out: false,
                no_fuel: true,
            },
        };
        let heat = self.circuit.step_driven(dt_s, water, pump_w, &around);
        let underside_w = self.upstairs(dt_s, outdoor, &heat, electrical_w - pump_w);
        self.downstairs(dt_s, outdoor.ground_day, &heat, underside_w);
        self.now = Readings {
            supply_c: self.circuit.supply_c(),
            return_c: self.circuit.return_c(),
            slab_c: self
                .floor
                .mid_spacing_c(self.config.sensors.slab_zone.min(ZONES - 1)),
            outdoor_c: outdoor.air_c,
            air_c: self.house.air_c(),
            store_c: self.store.air_c(),
        };
    }

    /// Moves the whole slab by `kelvin`, its bare part with it.
    pub fn lead_slab(&mut self, kelvin: f64) {
        self.floor.shift_slab(kelvin, kelvin);
        if let Some(bare) = &mut self.bare {
            bare.shift(kelvin);
        }
        self.now.slab_c += kelvin;
    }

    /// Share of a difference between supply and slab that the running water gives to the slab; `None` at rest.
    #[must_use]
    pub fn slab_effectiveness(&self) -> Option<f64> {
        self.circuit.flow_point().map(|p| p.house_effectiveness)
    }

    /// The same of the store's floor.
    #[must_use]
    pub fn store_effectiveness(&self) -> Option<f64> {
        self.circuit.flow_point().map(|p| p.store_effectiveness)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::{PlantConfig, Relays};

    /// The plant as a whole gives the water; driven by it, halves cut apart go the same way.
    #[test]
    fn driven_by_its_own_water_the_plant_repeats_itself() {
        let config = PlantConfig {
            boiler: None,
            ..PlantConfig::default()
        };
        let outdoor = OutdoorConditions {
            air_c: -6.0,
            infrared_w_m2: 240.0,
            ground_day: 20.0,
            ..OutdoorConditions::default()
        };
        let mut whole = Plant::new(&config, 1);
        let mut halves = whole.clone();
        for minute in 0..24 * 60 {
            let runs = minute % 180 < 60;
            let relays = Relays {
                circulator: runs,
                boiler_call: false,
            };
            whole.step(60.0, &outdoor, relays);
            // Within a minute of the start the supply rises from the pipe's air to the store's water.
            let now = *whole.truth();
            let water = Water {
                supply_c: now.supply_c,
                return_c: now.return_c,
                past_store: false,
            };
            halves.step_driven(60.0, &outdoor, runs.then_some(&water));
        }
        let (a, b) = (whole.truth(), halves.truth());
        assert!((a.slab_c - b.slab_c).abs() < 0.02, "{a:?} {b:?}");
        assert!((a.store_c - b.store_c).abs() < 0.02, "{a:?} {b:?}");
        assert!((a.return_c - b.return_c).abs() < 0.05, "{a:?} {b:?}");
        assert!((a.supply_c - b.supply_c).abs() < 0.05, "{a:?} {b:?}");
    }
}
