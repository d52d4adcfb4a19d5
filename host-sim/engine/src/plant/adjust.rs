//! Setting the plant to what a few readings say.
//!
//! Readings tell the temperature at single places; the rest follows from how heat spreads. Slab and store are moved as a whole,
//! and the earth below the store by what a steady draw of some days would have done at each depth (Carslaw & Jaeger §2.9). The
//! balance counts the change as heat that was always there, so it still closes. The loop's water (1 % of the slab's heat)
//! follows by itself within minutes.

use super::operating::Path;
use super::{Plant, ground};

/// How far each part is moved, K.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Shift {
    /// The tube plane of the house slab.
    pub slab_core_k: f64,
    /// The rest of the house slab.
    pub slab_beside_k: f64,
    /// House air.
    pub air_k: f64,
    /// Barrels or beds, if there are any.
    pub mass_k: f64,
    /// The store's floor; the earth below follows with its depth.
    pub store_floor_k: f64,
    /// Store air; the walls follow with their depth.
    pub store_air_k: f64,
    /// For how long the store is taken to have been drawn so, s > 0: how deep the change goes.
    pub drawn_s: f64,
}

/// Water met on a winter night on the way through the store and, heated, past it, °C.
const STORE_WATER_C: (f64, f64) = (-2.0, 14.0);
const HEATED_WATER_C: (f64, f64) = (0.0, 36.0);

impl Plant {
    /// Works out beforehand what the loop does with the water of a winter night. Changes nothing but the time that copies take.
    pub fn prepare_copies(&mut self) {
        let (coldest_c, warmest_c) = STORE_WATER_C;
        self.circuit
            .look_up_flows(Path::Series, coldest_c, warmest_c);
        if self.circuit.boiler.is_some() {
            let (coldest_c, warmest_c) = HEATED_WATER_C;
            self.circuit
                .look_up_flows(Path::HouseOnly, coldest_c, warmest_c);
        }
    }

    /// Moves parts of the plant. See [`Shift`].
    pub fn shift(&mut self, shift: &Shift) {
        let before_j = self.stored_j();
        self.floor
            .shift_slab(shift.slab_core_k, shift.slab_beside_k);
        if let Some(bare) = &mut self.bare {
            bare.shift(shift.slab_beside_k);
        }
        self.house.shift_air(shift.air_k);
        self.house.shift_mass(shift.mass_k);
        let ground = &self.config.ground;
        let drawn_s = shift.drawn_s.max(1.0);
        let surface_k = ground::draw_down_k(ground, 1.0, 0.0, drawn_s);
        let share_at =
            |depth_m: f64| ground::draw_down_k(ground, 1.0, depth_m, drawn_s) / surface_k;
        self.store
            .shift(shift.store_floor_k, shift.store_air_k, &share_at);
        self.now.slab_c += shift.slab_core_k;
        self.now.air_c += shift.air_k;
        self.now.store_c += shift.store_air_k;
        self.stored_at_start_j += self.stored_j() - before_j;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plant::{OutdoorConditions, PlantConfig, Relays};

    fn running() -> Plant {
        let mut plant = Plant::new(&PlantConfig::default(), 1);
        let outdoor = OutdoorConditions {
            air_c: -4.0,
            infrared_w_m2: 240.0,
            ground_day: 20.0,
            ..OutdoorConditions::default()
        };
        let relays = Relays {
            circulator: true,
            boiler_call: false,
        };
        for _ in 0..120 {
            plant.step(60.0, &outdoor, relays);
        }
        plant
    }

    #[test]
    fn every_part_moves_by_what_was_asked() {
        let mut plant = running();
        let before = plant.true_state();
        plant.shift(&Shift {
            slab_core_k: -1.5,
            slab_beside_k: -1.0,
            air_k: 0.5,
            store_floor_k: -2.0,
            store_air_k: -0.7,
            drawn_s: 864_000.0,
            ..Shift::default()
        });
        let after = plant.true_state();
        for (moved, by) in [
            (after.slab_core_c - before.slab_core_c, -1.5),
            (after.slab_sensor_c - before.slab_sensor_c, -1.5),
            (after.air_c - before.air_c, 0.5),
            (after.store_floor_c - before.store_floor_c, -2.0),
            (after.store_air_c - before.store_air_c, -0.7),
        ] {
            assert!((moved - by).abs() < 1e-9, "{moved} instead of {by}");
        }
        // Ten of eleven cells by -1.0, one by -1.5.
        let mean = after.slab_mean_c - before.slab_mean_c;
        assert!((mean - -(10.0 + 1.5) / 11.0).abs() < 1e-9, "{mean}");
    }

    #[test]
    fn the_balance_still_closes() {
        let mut plant = running();
        plant.shift(&Shift {
            slab_core_k: 2.0,
            slab_beside_k: 2.0,
            store_floor_k: -1.0,
            store_air_k: -1.0,
            drawn_s: 864_000.0,
            ..Shift::default()
        });
        for _ in 0..60 {
            plant.step(60.0, &OutdoorConditions::default(), Relays::default());
        }
        assert!(plant.closure() < 1e-9, "{}", plant.closure());
    }

    /// After a long draw the earth is cold far down and gives little; after a short one it gives more.
    #[test]
    fn a_long_draw_leaves_less_to_come() {
        let given = |drawn_s: f64| {
            let mut plant = Plant::new(&PlantConfig::default(), 1);
            plant.shift(&Shift {
                store_floor_k: -4.0,
                store_air_k: -4.0,
                drawn_s,
                ..Shift::default()
            });
            let outdoor = OutdoorConditions {
                ground_day: 274.5,
                ..OutdoorConditions::default()
            };
            for _ in 0..720 {
                plant.step(60.0, &outdoor, Relays::default());
            }
            plant.true_state().store_floor_c
        };
        let (day, month) = (given(86_400.0), given(30.0 * 86_400.0));
        assert!(
            day > month + 0.2,
            "{day} after a day, {month} after a month"
        );
    }
}
