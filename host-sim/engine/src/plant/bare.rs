//! Floor of the house outside the tube field: a slab of its own without tube.
//!
//! It has the tube field's concrete, air above and store below, its own share of the sun and of the slab's edge (by area), and
//! touches the tube field along one line across the house. Each side of that line is a plate that loses heat to its
//! surroundings: between two such plates √(k d H)/2 flows for each metre and kelvin (two semi-infinite fins in series, Incropera
//! §3.6, from memory), H from the middle of the slab to the air.

use super::config::PlantConfig;
use super::exchanger::{ZONES, Zones};
use super::slab::{AirCoupling, Floor};

/// The floor without tube. Its four columns differ only by the zone of the tube field each lies beside.
#[derive(Clone, Debug)]
pub(super) struct BareFloor {
    floor: Floor,
    edge_w_m2k: f64,
    underside_w_m2k: f64,
    /// To each zone of the tube field, W/K.
    beside_w_k: f64,
}

/// What is around it during a step.
#[derive(Clone, Copy, Debug)]
pub(super) struct AroundBare {
    pub(super) outdoor_c: f64,
    pub(super) store_air_c: f64,
    pub(super) sun_w_m2: f64,
    /// From the tube field, W per zone.
    pub(super) beside_w: Zones,
}

/// Heat it gave over a step, W.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct BareFlows {
    pub(super) air_w: f64,
    pub(super) edge_w: f64,
    pub(super) underside_w: f64,
}

impl BareFloor {
    /// `None` where the tube field covers the floor. `underside_w_m2k` as the tube field has it.
    pub(super) fn new(
        config: &PlantConfig,
        underside_w_m2k: f64,
        start_c: f64,
    ) -> Option<BareFloor> {
        let area_m2 = config.bare_floor_m2();
        if area_m2 <= 0.0 {
            return None;
        }
        let slab = &config.floor;
        let mut floor = Floor::with_area(slab, area_m2, &[], start_c);
        let edge_w_m2k = config.house.edge_w_k() / (area_m2 + slab.heated_area_m2());
        let core = floor.core_cell();
        floor.columns.attach_sink(core, [edge_w_m2k; ZONES]);
        if core > 0 {
            floor.columns.attach_sink(0, [underside_w_m2k; ZONES]);
        }
        let to_air_w_m2k = 1.0
            / (1.0 / slab.surface_above_w_m2k.max(1.0)
                + slab.tube_depth_m / slab.conductivity_w_mk);
        let across_m = config.house.width_m.min(config.house.length_m);
        let per_metre_w_mk =
            0.5 * (slab.conductivity_w_mk * slab.thickness_m * to_air_w_m2k).sqrt();
        Some(BareFloor {
            floor,
            edge_w_m2k,
            underside_w_m2k,
            beside_w_k: across_m * per_metre_w_mk / ZONES as f64,
        })
    }

    /// Its area, m².
    pub(super) fn area_m2(&self) -> f64 {
        self.floor.zone_m2() * ZONES as f64
    }

    /// Heat coming from the tube field at `core_c`, W per zone.
    pub(super) fn beside_w(&self, core_c: &Zones) -> Zones {
        let own_c = self.floor.core_c();
        core::array::from_fn(|z| self.beside_w_k * (core_c[z] - own_c[z]))
    }

    /// Middle of the slab, °C.
    pub(super) fn core_c(&self) -> f64 {
        self.floor.core_mean_c()
    }

    /// The floor as the air above sees it in the coming step.
    pub(super) fn eliminate(&mut self, dt_s: f64, around: &AroundBare) -> AirCoupling {
        let per_area = 1.0 / self.floor.zone_m2();
        let (core, columns) = (self.floor.core_cell(), &mut self.floor.columns);
        columns.prepare(dt_s);
        let edge_w_m2 = self.edge_w_m2k * around.outdoor_c;
        columns.heat(core, around.beside_w.map(|w| w * per_area + edge_w_m2));
        columns.heat(columns.len() - 1, [around.sun_w_m2; ZONES]);
        columns.heat(0, [self.underside_w_m2k * around.store_air_c; ZONES]);
        self.floor.eliminate()
    }

    /// Closes the step once the air's temperature is known.
    pub(super) fn substitute(
        &mut self,
        coupling: &AirCoupling,
        air_c: f64,
        around: &AroundBare,
    ) -> BareFlows {
        let air_w = self.floor.substitute(coupling, air_c);
        let sum = |cell: usize| self.floor.columns.temperature_c(cell).iter().sum::<f64>();
        let (zones, zone_m2) = (ZONES as f64, self.floor.zone_m2());
        BareFlows {
            air_w,
            edge_w: zone_m2
                * self.edge_w_m2k
                * (sum(self.floor.core_cell()) - zones * around.outdoor_c),
            underside_w: zone_m2 * self.underside_w_m2k * (sum(0) - zones * around.store_air_c),
        }
    }

    /// Moves it by `kelvin`.
    pub(super) fn shift(&mut self, kelvin: f64) {
        self.floor.shift_slab(kelvin, kelvin);
    }

    /// Heat stored above 0 °C, J.
    pub(super) fn stored_j(&self) -> f64 {
        self.floor.stored_j()
    }
}
