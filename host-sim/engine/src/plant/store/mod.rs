//! The store below: air, walls against the earth, and the earth under its floor.
//!
//! The upper earth is part of the floor's own columns and moves with every step; deeper earth and the walls move in steps of
//! ten minutes, their cells being thick enough for that, with the heat that crossed in between booked exactly. Undisturbed
//! ground (Kusuda) is the far field of the floor's sides and stands behind the walls at the depth of each band. The walls' columns
//! hold what the store has changed of it: 0 K at the start, and 0 K at the ground surface, which this change reaches along quarter
//! circles (Latta & Boileau 1969, in ASHRAE Fundamentals; from memory). They widen on the way, as the ground does round a room.
//! Checked against finite volumes in three dimensions (`tests/reference/cellar.py`, see the tests).

mod bare;

use super::conduction::{Cell, Columns, graded};
use super::config::{GroundConfig, StoreConfig};
use super::exchanger::{ZONES, Zones};
use super::ground::{self, YearlyWave};
use super::slab::{AirCoupling, Floor};
use bare::BareStoreFloor;
use core::f64::consts::{FRAC_PI_2, PI};

/// Step of walls and deep earth, s.
const SLOW_STEP_S: f64 = 600.0;
/// Earth under the floor that moves with every step, m.
const QUICK_DEPTH_M: f64 = 0.25;
/// Cells through the walls themselves.
const STONE_CELLS: usize = 5;
/// Length of the walls' paths against quarter circles: the stone carries part of the heat up to where its way is shorter. With it
/// and with 1.2 times the floor's disc ([`ground::SUNK_SHARE`]) the store agrees with the finite volumes.
const PATH_SHARE: f64 = 0.8;
/// Inner surface of the walls, m² K/W (ISO 6946, horizontal flow).
const WALL_SURFACE_M2K_W: f64 = 0.13;
/// Volumetric heat capacity of air at 5 °C, J/(m³ K) (psychrometrics, ASHRAE).
const AIR_J_M3K: f64 = 1278.0;

/// Heat coming into the store's system from undisturbed ground, J over a step.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct GroundGains {
    /// Sideways to the floor.
    pub lateral_j: f64,
    /// Through the earth behind the walls.
    pub walls_j: f64,
}

/// Store floor with the earth under it, walls, air.
#[derive(Clone, Debug, PartialEq)]
pub struct Store {
    /// The tube floor, with the upper earth under it.
    pub floor: Floor,
    /// Floor outside the tube field, if there is any.
    bare: Option<BareStoreFloor>,
    deep: Columns,
    /// Walls and the earth behind them: how much warmer than undisturbed ground at their depth, K.
    walls: Columns,
    air_c: f64,
    air_j_k: f64,
    wall_zone_m2: f64,
    /// Air to the centre of the walls' first cell, W/(m² K).
    wall_w_m2k: f64,
    /// Far end of the walls' earth to the ground's surface, W/(m² K).
    wall_far_w_m2k: Zones,
    /// Between quick and deep earth, W/(m² K).
    link_w_m2k: f64,
    lateral_w_m2k: f64,
    floor_wave: YearlyWave,
    wall_waves: [YearlyWave; ZONES],
    lateral_c: f64,
    /// Undisturbed ground at the depth of the walls' bands, °C.
    behind_walls_c: Zones,
    /// Thickness of the cells of quick and deep earth and of the walls' stone, m.
    quick_m: Vec<f64>,
    deep_m: Vec<f64>,
    stone_cell_m: f64,
    /// Time since the last slow step, s, and heat passed meanwhile, J/m².
    waiting_s: f64,
    to_deep_j_m2: Zones,
    to_walls_j_m2: Zones,
}

impl Store {
    /// A store with a floor of `floor_m2` in undisturbed ground on `day` of the year.
    pub fn new(config: &StoreConfig, ground: &GroundConfig, floor_m2: f64, day: f64) -> Store {
        let soil = Cell {
            thickness_m: 0.0,
            conductivity_w_mk: ground.conductivity_w_mk,
            heat_capacity_j_m3k: ground.heat_capacity_j_m3k,
        };
        let earth = graded(soil, 0.02, 1.15, 0.5, ground.column_depth_m);
        let mut quick = 0;
        let mut reached = 0.0;
        while reached < QUICK_DEPTH_M && quick + 1 < earth.len() {
            quick += 1;
            reached += earth[earth.len() - quick].thickness_m;
        }
        let (deep_cells, quick_cells) = earth.split_at(earth.len() - quick);
        let floor_wave = YearlyWave::at(ground, config.depth_m);
        let start_c = floor_wave.temperature_c(day);
        let mut floor = Floor::new(&config.floor, quick_cells, start_c);
        let mut deep = Columns::new(deep_cells, start_c);
        let mut below_floor_m = 0.0;
        let mut earth_c = vec![0.0; earth.len()];
        for (cell, t) in earth.iter().zip(&mut earth_c).rev() {
            let middle_m = below_floor_m + cell.thickness_m / 2.0;
            *t = ground::kusuda_c(ground, config.depth_m + middle_m, day);
            below_floor_m += cell.thickness_m;
        }
        let (deep_c, quick_c) = earth_c.split_at(deep_cells.len());
        for (cell, &t) in quick_c.iter().enumerate() {
            floor.columns.set_temperature_c(cell, [t; ZONES]);
        }
        for (cell, &t) in deep_c.iter().enumerate() {
            deep.set_temperature_c(cell, [t; ZONES]);
        }
        let half = |cell: Option<&Cell>| cell.map_or(0.0, Cell::half_m2k_w);
        let link_w_m2k = 1.0 / (half(deep_cells.last()) + half(quick_cells.first()));
        floor.columns.attach_sink(0, [link_w_m2k; ZONES]);
        let lateral_of = |area_m2: f64| ground::sunk_conductance_w_k(ground, area_m2) / area_m2;
        let lateral_w_m2k = lateral_of(config.floor.heated_area_m2());
        let bare_m2 = config.floor.bare_area_m2(floor_m2);
        let bare = (bare_m2 > 0.0).then(|| {
            let lateral_w_m2k = lateral_of(floor_m2);
            BareStoreFloor::new(
                &config.floor,
                bare_m2,
                &earth,
                &earth_c,
                start_c,
                lateral_w_m2k,
            )
        });
        // The floor's sides draw where the earth begins, below the slab.
        let lateral_cell = floor.lowest_slab_cell().saturating_sub(1);
        let mut sink = [lateral_w_m2k; ZONES];
        if lateral_cell == 0 {
            sink = sink.map(|g| g + link_w_m2k);
        }
        floor.columns.attach_sink(lateral_cell, sink);

        let top_m = (config.depth_m - config.wall_height_m).max(0.0);
        let bands_m: Zones = core::array::from_fn(|band| {
            top_m + (band as f64 + 0.5) / ZONES as f64 * config.wall_height_m
        });
        let wall_cells = wall_cells(config, soil, &bands_m);
        let stone_half_m2k_w = wall_cells.last().map_or(0.0, |cell| cell[0].half_m2k_w());
        let wall_waves = bands_m.map(|depth_m| YearlyWave::at(ground, depth_m));
        let mut walls = Columns::of_zones(&wall_cells, 0.0);
        let wall_far_w_m2k = wall_cells[0].map(|cell| 1.0 / cell.half_m2k_w());
        walls.attach_sink(0, wall_far_w_m2k);
        Store {
            floor,
            bare,
            deep,
            walls,
            air_c: start_c,
            air_j_k: config.air_volume_m3 * AIR_J_M3K + config.contents_j_k,
            wall_zone_m2: config.wall_area_m2 / ZONES as f64,
            wall_w_m2k: 1.0 / (WALL_SURFACE_M2K_W + stone_half_m2k_w),
            wall_far_w_m2k,
            link_w_m2k,
            lateral_w_m2k,
            floor_wave,
            wall_waves,
            lateral_c: start_c,
            behind_walls_c: wall_waves.map(|wave| wave.temperature_c(day)),
            quick_m: quick_cells.iter().map(|cell| cell.thickness_m).collect(),
            deep_m: deep_cells.iter().map(|cell| cell.thickness_m).collect(),
            stone_cell_m: config.wall_thickness_m / STONE_CELLS as f64,
            waiting_s: 0.0,
            to_deep_j_m2: [0.0; ZONES],
            to_walls_j_m2: [0.0; ZONES],
        }
    }

    /// Air of the store, °C.
    #[inline]
    pub fn air_c(&self) -> f64 {
        self.air_c
    }

    /// Moves floor and air by `kelvin`, earth and walls by what is left of it at their depth (`share_at`, 1 at the surface).
    pub(super) fn shift(&mut self, kelvin: f64, air_k: f64, share_at: &impl Fn(f64) -> f64) {
        self.air_c += air_k;
        let slab_from = self.floor.lowest_slab_cell();
        self.floor.shift_slab(kelvin, kelvin);
        let mut depth_m = 0.0;
        for cell in (0..slab_from).rev() {
            let thickness_m = self.quick_m[cell];
            let by = kelvin * share_at(depth_m + thickness_m / 2.0);
            self.floor.columns.shift(cell, by);
            depth_m += thickness_m;
        }
        for cell in (0..self.deep.len()).rev() {
            let thickness_m = self.deep_m[cell];
            let by = kelvin * share_at(depth_m + thickness_m / 2.0);
            self.deep.shift(cell, by);
            depth_m += thickness_m;
        }
        if let Some(bare) = &mut self.bare {
            let earth_m = [self.deep_m.as_slice(), &self.quick_m].concat();
            bare.shift(kelvin, &earth_m, share_at);
        }
        // A wall's own thickness stands for its depth; the earth behind it, in paths of different length, keeps its warmth.
        let stone_from = self.walls.len().saturating_sub(STONE_CELLS);
        for cell in stone_from..self.walls.len() {
            let behind_m = (self.walls.len() - 1 - cell) as f64 * self.stone_cell_m;
            self.walls.shift(cell, air_k * share_at(behind_m));
        }
    }

    fn lateral_cell(&self) -> usize {
        self.floor.lowest_slab_cell().saturating_sub(1)
    }

    /// One step with `tube_w` from the tube into the floor's zones and `other_w` into the air; `day` of the year for the
    /// undisturbed ground. Returns what came from undisturbed ground.
    pub fn step(&mut self, dt_s: f64, tube_w: &Zones, other_w: f64, day: f64) -> GroundGains {
        self.floor.columns.prepare(dt_s);
        self.floor.heat_core(dt_s, tube_w);
        let deep_c = *self.deep.near_c();
        self.floor
            .columns
            .heat(0, deep_c.map(|t| t * self.link_w_m2k));
        let lateral_cell = self.lateral_cell();
        self.floor
            .columns
            .heat(lateral_cell, [self.lateral_w_m2k * self.lateral_c; ZONES]);
        let mut coupling = self.floor.eliminate();
        let ground_c = self.lateral_c;
        let bare = self
            .bare
            .as_mut()
            .map(|bare| bare.eliminate(dt_s, ground_c));
        if let Some(bare) = &bare {
            coupling.air_w_k += bare.air_w_k;
            coupling.source_w += bare.source_w;
        }
        self.solve_air(dt_s, &coupling, other_w);
        self.floor.substitute(&coupling, self.air_c);
        let bare_w = self.bare.as_mut().zip(bare).map_or(0.0, |(bare, own)| {
            bare.substitute(&own, self.air_c, ground_c)
        });

        let bottom_c = self.floor.columns.temperature_c(0);
        let side_c = self.floor.columns.temperature_c(lateral_cell);
        let mut side_k = 0.0;
        for z in 0..ZONES {
            self.to_deep_j_m2[z] += self.link_w_m2k * (bottom_c[z] - deep_c[z]) * dt_s;
            side_k += self.lateral_c - side_c[z];
        }
        let mut gains = GroundGains {
            lateral_j: (self.lateral_w_m2k * self.floor.zone_m2() * side_k + bare_w) * dt_s,
            walls_j: 0.0,
        };
        self.waiting_s += dt_s;
        if self.waiting_s >= SLOW_STEP_S {
            gains.walls_j = self.slow_step(day);
        }
        gains
    }

    /// Air between floor (implicit) and walls (as they were), and the heat the walls take meanwhile.
    fn solve_air(&mut self, dt_s: f64, floor: &AirCoupling, other_w: f64) {
        let (changed_k, behind_c) = (self.walls.near_c(), &self.behind_walls_c);
        let wall_c: Zones = core::array::from_fn(|z| behind_c[z] + changed_k[z]);
        let wall_sum: f64 = wall_c.iter().sum();
        let wall_w_k = self.wall_w_m2k * self.wall_zone_m2;
        let storage = self.air_j_k / dt_s;
        self.air_c = (storage * self.air_c + floor.source_w + wall_w_k * wall_sum + other_w)
            / (storage + floor.air_w_k + wall_w_k * ZONES as f64);
        for (taken, wall_c) in self.to_walls_j_m2.iter_mut().zip(wall_c) {
            *taken += self.wall_w_m2k * (self.air_c - wall_c) * dt_s;
        }
    }

    /// Deep earth and walls take what has passed; returns the heat from undisturbed ground behind the walls, J.
    fn slow_step(&mut self, day: f64) -> f64 {
        let dt_s = self.waiting_s;
        self.deep.prepare(dt_s);
        let near = self.deep.len() - 1;
        self.deep.heat(near, self.to_deep_j_m2.map(|j| j / dt_s));
        self.deep.step(dt_s, 0.0, [0.0; ZONES]);

        self.lateral_c = self.floor_wave.temperature_c(day);
        self.behind_walls_c = self.wall_waves.map(|wave| wave.temperature_c(day));
        self.walls.prepare(dt_s);
        let near = self.walls.len() - 1;
        self.walls.heat(near, self.to_walls_j_m2.map(|j| j / dt_s));
        self.walls.step(dt_s, 0.0, [0.0; ZONES]);
        let far_k = self.walls.temperature_c(0);
        let gained: f64 = (0..ZONES).map(|z| -self.wall_far_w_m2k[z] * far_k[z]).sum();

        self.waiting_s = 0.0;
        self.to_deep_j_m2 = [0.0; ZONES];
        self.to_walls_j_m2 = [0.0; ZONES];
        gained * self.wall_zone_m2 * dt_s
    }

    /// Heat stored above 0 °C (in the walls: above undisturbed ground), J, including what is on its way to the slow parts.
    pub fn stored_j(&self) -> f64 {
        let sum = |zones: Zones| zones.iter().sum::<f64>();
        self.floor.stored_j()
            + self.bare.as_ref().map_or(0.0, BareStoreFloor::stored_j)
            + self.floor.zone_m2() * (sum(self.deep.stored_j_m2()) + sum(self.to_deep_j_m2))
            + self.wall_zone_m2 * (sum(self.walls.stored_j_m2()) + sum(self.to_walls_j_m2))
            + self.air_j_k * self.air_c
    }
}

/// Earth behind the walls and the walls themselves, far to near, in bands at these depths.
fn wall_cells(config: &StoreConfig, soil: Cell, bands_m: &Zones) -> Vec<[Cell; ZONES]> {
    // A ring this far from the wall's inner face is so much longer than the face.
    let perimeter_m = config.wall_area_m2 / config.wall_height_m;
    let widened = |cell: Cell, from_face_m: f64| {
        let wider = 1.0 + 2.0 * PI * from_face_m / perimeter_m;
        Cell {
            conductivity_w_mk: cell.conductivity_w_mk * wider,
            heat_capacity_j_m3k: cell.heat_capacity_j_m3k * wider,
            ..cell
        }
    };
    // Paths from wall to ground surface turn about the wall's top.
    let template = graded(soil, 1.0, 1.5, f64::MAX, 30.0);
    let template_m: f64 = template.iter().map(|cell| cell.thickness_m).sum();
    let mut left = 1.0;
    let mut cells: Vec<[Cell; ZONES]> = template
        .iter()
        .map(|cell| {
            let share = cell.thickness_m / template_m;
            left -= share;
            bands_m.map(|depth_m| {
                let turned = FRAC_PI_2 * (left + share / 2.0);
                let thickness_m = share * PATH_SHARE * FRAC_PI_2 * depth_m;
                let from_face_m = config.wall_thickness_m + depth_m * libm::sin(turned);
                widened(
                    Cell {
                        thickness_m,
                        ..*cell
                    },
                    from_face_m,
                )
            })
        })
        .collect();
    let thickness_m = config.wall_thickness_m / STONE_CELLS as f64;
    let stone = Cell {
        thickness_m,
        conductivity_w_mk: config.wall_conductivity_w_mk,
        heat_capacity_j_m3k: config.wall_heat_capacity_j_m3k,
    };
    cells.extend(
        (0..STONE_CELLS)
            .rev()
            .map(|cell| [widened(stone, (cell as f64 + 0.5) * thickness_m); ZONES]),
    );
    cells
}

#[cfg(test)]
mod tests;
