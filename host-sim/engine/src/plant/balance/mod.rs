//! Where the store alone holds the house: the steady state in which the loop's heat equals the losses.
//!
//! Unknowns are the slab's core, air, floor without tube and outdoors; something of the first three is given. No sun, no sky,
//! outside film standard, the store's air as warm as its floor. Balances: the slab, Q + G_u (T_c − T_s) = G_ca (T_s − T_a) + G_e (T_s − T_o);
//! the air, G_ca (T_s − T_a) + G_ba (T_b − T_a) = UA (T_a − T_o); the floor without tube between air, its edge and the store. No heat
//! passes between the two parts of the floor.

use super::config::PlantConfig;
use super::embedded::floor_coefficient_w_m2k;
use super::exchanger::{loop_conductance_w_k, loop_temperatures};
use super::operating::{FlowPoint, LoopDesign, Path, REFERENCE_C};

/// What is held.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Given {
    /// Mean of the slab's tube plane, °C.
    SlabCore(f64),
    /// Mean of the whole floor in the plane of the tubes, with tube and without, °C.
    Floor(f64),
    /// Air of the house, °C.
    Air(f64),
}

/// Coefficient between floor and air.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FloorFilm {
    /// Fixed, W/(m² K).
    Fixed(f64),
    /// 8.92 Δ^0.1 (EN 1264-2), iterated.
    Curve,
}

/// Assumptions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BalanceOptions {
    /// Floor film.
    pub floor_film: FloorFilm,
    /// Heat of the pump into the water between store and slab, W.
    pub pump_heat_w: f64,
    /// Whether the night curtain (if there is one) is drawn.
    pub curtain_drawn: bool,
    /// Water temperature flow and film are taken at, °C.
    pub water_c: f64,
}

impl Default for BalanceOptions {
    fn default() -> Self {
        BalanceOptions {
            floor_film: FloorFilm::Fixed(9.0),
            pump_heat_w: 0.0,
            curtain_drawn: false,
            water_c: REFERENCE_C,
        }
    }
}

/// The steady state.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BalancePoint {
    /// Slab core where it has tube, °C.
    pub slab_c: f64,
    /// Floor without tube, °C, if there is any.
    pub bare_c: Option<f64>,
    /// Air, °C.
    pub air_c: f64,
    /// Outdoor temperature down to which this holds, °C.
    pub outdoor_c: f64,
    /// Heat from the water to the slab, W.
    pub heat_w: f64,
    /// Water entering the slab, °C.
    pub supply_c: f64,
    /// Water leaving the slab, °C.
    pub return_c: f64,
    /// Conductance of the loop from store to slab, W/K.
    pub loop_conductance_w_k: f64,
    /// Conductance from slab core to air, W/K.
    pub slab_to_air_w_k: f64,
    /// Floor film used, W/(m² K).
    pub floor_film_w_m2k: f64,
    /// Flow, L/s.
    pub flow_l_s: f64,
}

/// Conductances through which the slab loses its heat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlabLosses {
    /// Slab core to air, W/K.
    pub to_air_w_k: f64,
    /// Air to outdoors: glazing and infiltration, W/K.
    pub envelope_w_k: f64,
    /// Slab edge to outdoors, W/K.
    pub edge_w_k: f64,
    /// Slab to the store's air below, W/K.
    pub underside_w_k: f64,
}

impl SlabLosses {
    /// Of this plant with `film_w_m2k` between floor and air.
    pub fn of(config: &PlantConfig, film_w_m2k: f64, curtain_drawn: bool) -> SlabLosses {
        let tubed_m2 = config.floor.heated_area_m2();
        SlabLosses::of_part(config, tubed_m2, film_w_m2k, curtain_drawn)
    }

    /// Of `area_m2` of the floor, with its share of the edge.
    fn of_part(
        config: &PlantConfig,
        area_m2: f64,
        film_w_m2k: f64,
        curtain_drawn: bool,
    ) -> SlabLosses {
        let floor = &config.floor;
        let whole_m2 = floor.heated_area_m2() + config.bare_floor_m2();
        let to_core_m2k_w = floor.tube_depth_m / floor.conductivity_w_mk;
        let from_core_m2k_w = (floor.thickness_m - floor.tube_depth_m) / floor.conductivity_w_mk;
        SlabLosses {
            to_air_w_k: area_m2 / (1.0 / film_w_m2k + to_core_m2k_w),
            envelope_w_k: config.house.envelope_w_k(curtain_drawn),
            edge_w_k: config.house.edge_w_k() * area_m2 / whole_m2,
            underside_w_k: area_m2 * floor.underside_w_m2k
                / (1.0 + floor.underside_w_m2k * from_core_m2k_w),
        }
    }

    /// Slab core to outdoors by way of the air, W/K.
    pub fn through_air_w_k(&self) -> f64 {
        1.0 / (1.0 / self.to_air_w_k + 1.0 / self.envelope_w_k)
    }

    /// Slab core to outdoors in all, W/K.
    pub fn total_w_k(&self) -> f64 {
        self.through_air_w_k() + self.edge_w_k
    }
}

/// Steady state with the store's tube plane at `store_c`.
pub fn balance_point(
    config: &PlantConfig,
    given: Given,
    store_c: f64,
    options: &BalanceOptions,
) -> BalancePoint {
    let point = LoopDesign::new(config).flow_point(Path::Series, options.water_c);
    match options.floor_film {
        FloorFilm::Fixed(film) => solve(config, given, store_c, options, &point, film),
        FloorFilm::Curve => {
            let mut film = 9.0;
            let mut solution = solve(config, given, store_c, options, &point, film);
            for _ in 0..60 {
                let flux = solution.slab_to_air_w_k * (solution.slab_c - solution.air_c)
                    / config.floor.heated_area_m2();
                film = floor_coefficient_w_m2k(flux / film);
                solution = solve(config, given, store_c, options, &point, film);
            }
            solution
        }
    }
}

fn solve(
    config: &PlantConfig,
    given: Given,
    store_c: f64,
    options: &BalanceOptions,
    point: &FlowPoint,
    film_w_m2k: f64,
) -> BalancePoint {
    let curtain = options.curtain_drawn;
    let losses = SlabLosses::of(config, film_w_m2k, curtain);
    let bare_m2 = config.bare_floor_m2();
    let bare = SlabLosses::of_part(config, bare_m2, film_w_m2k, curtain);
    let water = |slab_c: f64| {
        loop_temperatures(
            point.capacity_w_k,
            point.store_effectiveness,
            point.house_effectiveness,
            store_c,
            slab_c,
            options.pump_heat_w,
        )
    };
    // The loop's heat is linear in the slab's temperature.
    let at_zero_w = water(0.0).slab_heat_w;
    let slope_w_k = water(1.0).slab_heat_w - at_zero_w;
    let (air, edge, under) = (losses.to_air_w_k, losses.edge_w_k, losses.underside_w_k);
    let below_w = |under_w_k: f64| under_w_k * store_c;
    let shares = [losses.to_air_w_k, bare.to_air_w_k].map(|part| part / (air + bare.to_air_w_k));
    // Slab, air, floor without tube, outdoors.
    let slab_row = [air + edge + under - slope_w_k, -air, 0.0, -edge];
    let air_row = [
        -air,
        air + bare.to_air_w_k + losses.envelope_w_k,
        -bare.to_air_w_k,
        -losses.envelope_w_k,
    ];
    let (bare_row, bare_w) = if bare_m2 > 0.0 {
        let sum = bare.to_air_w_k + bare.edge_w_k + bare.underside_w_k;
        let row = [0.0, -bare.to_air_w_k, sum, -bare.edge_w_k];
        (row, below_w(bare.underside_w_k))
    } else {
        ([-1.0, 0.0, 1.0, 0.0], 0.0)
    };
    let (given_row, given_c) = match given {
        Given::SlabCore(slab_c) => ([1.0, 0.0, 0.0, 0.0], slab_c),
        Given::Floor(floor_c) => ([shares[0], 0.0, shares[1], 0.0], floor_c),
        Given::Air(air_c) => ([0.0, 1.0, 0.0, 0.0], air_c),
    };
    let [slab_c, air_c, bare_c, outdoor_c] = solved(
        [slab_row, air_row, bare_row, given_row],
        [at_zero_w + below_w(under), 0.0, bare_w, given_c],
    );
    let temperatures = water(slab_c);
    BalancePoint {
        slab_c,
        bare_c: (bare_m2 > 0.0).then_some(bare_c),
        air_c,
        outdoor_c,
        heat_w: temperatures.slab_heat_w,
        supply_c: temperatures.supply_c,
        return_c: temperatures.return_c,
        loop_conductance_w_k: loop_conductance_w_k(
            point.capacity_w_k,
            point.store_effectiveness,
            point.house_effectiveness,
        ),
        slab_to_air_w_k: air,
        floor_film_w_m2k: film_w_m2k,
        flow_l_s: point.flow_l_s,
    }
}

/// Solves four linear equations by elimination with the largest pivot.
fn solved(mut rows: [[f64; 4]; 4], mut right: [f64; 4]) -> [f64; 4] {
    for column in 0..4 {
        let largest = (column..4)
            .max_by(|&a, &b| rows[a][column].abs().total_cmp(&rows[b][column].abs()))
            .unwrap_or(column);
        rows.swap(column, largest);
        right.swap(column, largest);
        let pivot = rows[column];
        for row in column + 1..4 {
            let factor = rows[row][column] / pivot[column];
            for (value, above) in rows[row].iter_mut().zip(pivot) {
                *value -= factor * above;
            }
            right[row] -= factor * right[column];
        }
    }
    let mut found = [0.0; 4];
    for row in (0..4).rev() {
        let known: f64 = (row + 1..4)
            .map(|later| rows[row][later] * found[later])
            .sum();
        found[row] = (right[row] - known) / rows[row][row];
    }
    found
}

#[cfg(test)]
mod tests;
