//! A concrete floor with a tube plane: zones of columns, surface exchange, edge loss, the sensor midway between tubes.
//!
//! Each zone is a column of finite volumes with the tube plane at the centre of one cell, so that the steady temperature of
//! that cell is the plane's mean temperature which the tube-plane resistance is defined with (see `embedded`). Floor
//! outside the tube field is a floor of its own (see `bare`). The surface coefficient follows 8.92 Δ^0.1 (EN 1264-2) for a floor warmer than the air and
//! 5.1 W/(m² K) (ISO 6946) for a colder one, with the difference of the step before.

use super::conduction::{Cell, Columns, NearCell};
use super::config::{FloorConfig, HouseConfig};
use super::embedded::{COLD_FLOOR_W_M2K, TubePlane};
use super::exchanger::{Layout, ZONES, Zones};
use core::f64::consts::PI;

/// Cells a slab is divided into, about.
const CELLS: f64 = 11.0;

/// Coefficient at 1 K in EN 1264-2's curve, W/(m² K).
const CURVE_W_M2K: f64 = 8.92;

/// Difference at which the curve meets the cold-floor coefficient, K: (5.1/8.92)^10.
const CURVE_START_K: f64 = 0.003_732_959;

/// The cells of a slab, far to near, and the index of the tube plane's cell.
pub fn slab_cells(config: &FloorConfig) -> (Vec<Cell>, usize) {
    let tube_m = (config.thickness_m / CELLS)
        .min(2.0 * config.tube_depth_m)
        .min(2.0 * (config.thickness_m - config.tube_depth_m));
    let layer = |total_m: f64| {
        let count = (total_m / tube_m)
            .round()
            .max(if total_m > 1e-9 { 1.0 } else { 0.0 });
        let cell = Cell {
            thickness_m: if count > 0.0 { total_m / count } else { 0.0 },
            conductivity_w_mk: config.conductivity_w_mk,
            heat_capacity_j_m3k: config.heat_capacity_j_m3k,
        };
        vec![cell; count as usize]
    };
    let mut cells = layer(config.thickness_m - config.tube_depth_m - tube_m / 2.0);
    let core = cells.len();
    cells.extend(layer(0.0_f64.max(tube_m)));
    cells.extend(layer(config.tube_depth_m - tube_m / 2.0));
    (cells, core)
}

/// The tube plane of a floor for the resistance series.
pub fn tube_plane(config: &FloorConfig) -> TubePlane {
    TubePlane {
        spacing_m: config.spacing_m,
        outside_m: config.tube.outside_m,
        conductivity_w_mk: config.conductivity_w_mk,
        above_m: config.tube_depth_m,
        below_m: config.thickness_m - config.tube_depth_m,
        above_w_m2k: config.surface_above_w_m2k,
        below_w_m2k: config.surface_below_w_m2k,
    }
}

/// Share of the slab edge each zone has. A serpentine's zones are strips across the house, a counter-flow's are nested rings
/// of which only the outer one has an edge.
pub fn edge_shares(house: &HouseConfig, layout: Layout) -> Zones {
    match layout {
        Layout::CounterFlow => {
            let mut shares = [0.0; ZONES];
            shares[0] = 1.0;
            shares
        }
        Layout::Serpentine => {
            let (long, short) = (
                house.length_m.max(house.width_m),
                house.length_m.min(house.width_m),
            );
            let sides = 2.0 * long / ZONES as f64 / house.perimeter_m();
            let mut shares = [sides; ZONES];
            shares[0] += short / house.perimeter_m();
            shares[ZONES - 1] += short / house.perimeter_m();
            shares
        }
    }
}

/// A floor's exchange with the air above it while a step is being solved.
#[derive(Clone, Copy, Debug)]
pub struct AirCoupling {
    near: NearCell,
    /// Area × conductance from the near cell's centre to the air, W/(m² K).
    conductance_w_m2k: Zones,
    /// 1 / (pivot + conductance)
    inverse: Zones,
    /// Air's coefficient in its own balance, W/K.
    pub air_w_k: f64,
    /// Heat to air at 0 °C, W.
    pub source_w: f64,
}

#[cfg(test)]
impl AirCoupling {
    /// A floor that exchanges nothing.
    pub(super) const NONE: AirCoupling = AirCoupling {
        near: NearCell {
            rhs: [0.0; ZONES],
            pivot: [1.0; ZONES],
        },
        conductance_w_m2k: [0.0; ZONES],
        inverse: [1.0; ZONES],
        air_w_k: 0.0,
        source_w: 0.0,
    };
}

/// A floor.
#[derive(Clone, Debug, PartialEq)]
pub struct Floor {
    /// Its columns; for a floor on the ground they go on into the earth.
    pub columns: Columns,
    core: usize,
    first_slab_cell: usize,
    zone_m2: f64,
    half_cell_m2k_w: f64,
    /// Of the film against the curve.
    surface_exchange: f64,
    /// Δ^0.1 of the step before.
    root: Zones,
    /// Surface − air of the step before, K.
    surface_excess_k: Zones,
    dip_m2k_w: f64,
    dip_rate_per_s: f64,
    /// How far mid-spacing lies below the plane's mean, K.
    dip_k: Zones,
}

impl Floor {
    /// A floor at `start_c` with `below` (far to near) under it.
    pub fn new(config: &FloorConfig, below: &[Cell], start_c: f64) -> Floor {
        Floor::with_area(config, config.heated_area_m2(), below, start_c)
    }

    /// The same over `area_m2`, whatever its tubes serve.
    pub fn with_area(config: &FloorConfig, area_m2: f64, below: &[Cell], start_c: f64) -> Floor {
        let (slab, core) = slab_cells(config);
        let half_cell_m2k_w = slab.last().map_or(0.0, Cell::half_m2k_w);
        let cells: Vec<Cell> = below.iter().chain(&slab).copied().collect();
        let wave_number = 2.0 * PI / config.spacing_m;
        Floor {
            columns: Columns::new(&cells, start_c),
            core: below.len() + core,
            first_slab_cell: below.len(),
            zone_m2: area_m2 / ZONES as f64,
            half_cell_m2k_w,
            surface_exchange: config.surface_exchange,
            root: [1.0; ZONES],
            surface_excess_k: [0.0; ZONES],
            dip_m2k_w: tube_plane(config).mid_spacing_m2k_w(),
            // The slowest harmonic between the tubes decays with α (2π/spacing)².
            dip_rate_per_s: config.conductivity_w_mk / config.heat_capacity_j_m3k
                * wave_number
                * wave_number,
            dip_k: [0.0; ZONES],
        }
    }

    /// Area of one zone, m².
    #[inline]
    pub fn zone_m2(&self) -> f64 {
        self.zone_m2
    }

    /// Index of the tube plane's cell.
    #[inline]
    pub fn core_cell(&self) -> usize {
        self.core
    }

    /// Index of the slab's lowest cell.
    pub fn lowest_slab_cell(&self) -> usize {
        self.first_slab_cell
    }

    /// Tube plane temperatures, °C.
    #[inline]
    pub fn core_c(&self) -> &Zones {
        self.columns.temperature_c(self.core)
    }

    /// Mean of the tube plane, °C.
    pub fn core_mean_c(&self) -> f64 {
        self.core_c().iter().sum::<f64>() / ZONES as f64
    }

    /// Mean of the slab itself, °C.
    pub fn slab_mean_c(&self) -> f64 {
        self.columns
            .mean_from_c(self.first_slab_cell)
            .iter()
            .sum::<f64>()
            / ZONES as f64
    }

    /// Mean floor surface, °C, under air of `air_c`.
    pub fn surface_mean_c(&self, air_c: f64) -> f64 {
        air_c + self.surface_excess_k.iter().sum::<f64>() / ZONES as f64
    }

    /// What a sensor midway between two tubes of `zone` would read, °C.
    pub fn mid_spacing_c(&self, zone: usize) -> f64 {
        self.core_c()[zone] - self.dip_k[zone]
    }

    /// Heat from the tube into the zones over the coming step, W.
    #[inline]
    pub fn heat_core(&mut self, dt_s: f64, heat_w: &Zones) {
        let per_area = 1.0 / self.zone_m2;
        let flux = heat_w.map(|q| q * per_area);
        self.columns.heat(self.core, flux);
        // Implicit first-order lag towards the steady dip of this flux.
        let gain = self.dip_rate_per_s * dt_s;
        let share = gain / (1.0 + gain);
        for (dip, q) in self.dip_k.iter_mut().zip(flux) {
            *dip += (q * self.dip_m2k_w - *dip) * share;
        }
    }

    /// Far-to-near half of the step: the floor as the air above sees it.
    #[inline]
    pub fn eliminate(&mut self) -> AirCoupling {
        // The film first: its divisions take long and need nothing from the sweep.
        let pivot = *self.columns.near_pivot();
        let mut conductance_w_m2k = [0.0; ZONES];
        let mut inverse = [0.0; ZONES];
        for z in 0..ZONES {
            // One Newton step of the tenth root from the step before; the clamp tames a jump of the difference.
            let difference = self.surface_excess_k[z].max(CURVE_START_K);
            let root = self.root[z];
            let (square, fourth) = (root * root, root * root * root * root);
            let ratio = (difference / (fourth * fourth * square)).min(2.0);
            self.root[z] = root * (0.9 + 0.1 * ratio);
            let film = (CURVE_W_M2K * self.root[z]).max(COLD_FLOOR_W_M2K) * self.surface_exchange;
            conductance_w_m2k[z] = film / (1.0 + film * self.half_cell_m2k_w);
            inverse[z] = 1.0 / (pivot[z] + conductance_w_m2k[z]);
        }
        let near = self.columns.eliminate();
        let (mut air_w_k, mut source_w) = (0.0, 0.0);
        for z in 0..ZONES {
            let conductance = conductance_w_m2k[z];
            air_w_k += self.zone_m2 * conductance * near.pivot[z] * inverse[z];
            source_w += self.zone_m2 * conductance * near.rhs[z] * inverse[z];
        }
        AirCoupling {
            near,
            conductance_w_m2k,
            inverse,
            air_w_k,
            source_w,
        }
    }

    /// Near-to-far half once the air's temperature is known. Returns the heat to the air, W.
    #[inline]
    pub fn substitute(&mut self, coupling: &AirCoupling, air_c: f64) -> f64 {
        let mut near_c = [0.0; ZONES];
        let mut heat_w = 0.0;
        for (z, near) in near_c.iter_mut().enumerate() {
            let conductance = coupling.conductance_w_m2k[z];
            *near = (coupling.near.rhs[z] + conductance * air_c) * coupling.inverse[z];
            let flux = conductance * (*near - air_c);
            self.surface_excess_k[z] = *near - air_c - flux * self.half_cell_m2k_w;
            heat_w += self.zone_m2 * flux;
        }
        self.columns.substitute(near_c);
        heat_w
    }

    /// Moves the slab's own cells, all zones alike: those of the tube plane by `core_k`, the others by `beside_k`.
    pub(super) fn shift_slab(&mut self, core_k: f64, beside_k: f64) {
        for cell in self.first_slab_cell..self.columns.len() {
            let by = if cell == self.core { core_k } else { beside_k };
            self.columns.shift(cell, by);
        }
    }

    /// Heat stored in the columns above 0 °C, J.
    pub fn stored_j(&self) -> f64 {
        self.zone_m2 * self.columns.stored_j_m2().iter().sum::<f64>()
    }
}

#[cfg(test)]
mod tests;
