//! Floor of the store outside its tube field, with the earth under it: it gives heat to the store's air alone.

use super::super::conduction::Cell;
use super::super::config::FloorConfig;
use super::super::exchanger::ZONES;
use super::super::slab::{AirCoupling, Floor};

/// The floor without tube and its column of earth.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct BareStoreFloor {
    floor: Floor,
    /// Sideways to undisturbed ground, W/(m² K), from the earth's first cell.
    lateral_w_m2k: f64,
    lateral_cell: usize,
}

impl BareStoreFloor {
    /// `earth` far to near with its temperatures in `earth_c`; the floor itself at `start_c`.
    pub(super) fn new(
        config: &FloorConfig,
        area_m2: f64,
        earth: &[Cell],
        earth_c: &[f64],
        start_c: f64,
        lateral_w_m2k: f64,
    ) -> BareStoreFloor {
        let mut floor = Floor::with_area(config, area_m2, earth, start_c);
        for (cell, &t) in earth_c.iter().enumerate() {
            floor.columns.set_temperature_c(cell, [t; ZONES]);
        }
        let lateral_cell = floor.lowest_slab_cell().saturating_sub(1);
        floor
            .columns
            .attach_sink(lateral_cell, [lateral_w_m2k; ZONES]);
        BareStoreFloor {
            floor,
            lateral_w_m2k,
            lateral_cell,
        }
    }

    /// The floor as the air sees it in the coming step.
    pub(super) fn eliminate(&mut self, dt_s: f64, ground_c: f64) -> AirCoupling {
        self.floor.columns.prepare(dt_s);
        self.floor
            .columns
            .heat(self.lateral_cell, [self.lateral_w_m2k * ground_c; ZONES]);
        self.floor.eliminate()
    }

    /// Closes the step; returns the heat that came from undisturbed ground, W.
    pub(super) fn substitute(&mut self, coupling: &AirCoupling, air_c: f64, ground_c: f64) -> f64 {
        self.floor.substitute(coupling, air_c);
        let beside_c = self.floor.columns.temperature_c(self.lateral_cell);
        let below_k: f64 = beside_c.iter().map(|t| ground_c - t).sum();
        self.floor.zone_m2() * self.lateral_w_m2k * below_k
    }

    /// Moves floor and earth by what is left of `kelvin` at their depth.
    pub(super) fn shift(&mut self, kelvin: f64, earth_m: &[f64], share_at: &impl Fn(f64) -> f64) {
        self.floor.shift_slab(kelvin, kelvin);
        let mut depth_m = 0.0;
        for (cell, thickness_m) in earth_m.iter().enumerate().rev() {
            let by = kelvin * share_at(depth_m + thickness_m / 2.0);
            self.floor.columns.shift(cell, by);
            depth_m += thickness_m;
        }
    }

    /// Heat stored above 0 °C, J.
    pub(super) fn stored_j(&self) -> f64 {
        self.floor.stored_j()
    }
}
