//! Where the store alone holds the house: the steady state in which the loop's heat equals the losses.
//!
//! Unknowns are slab core, air and outdoor temperature; one of the first two is given. No sun, no sky, outside film standard.
//! Balance: Q = G_ca (T_s − T_a) + G_e (T_s − T_o) with G_ca (T_s − T_a) = UA (T_a − T_o).

use super::config::PlantConfig;
use super::embedded::floor_coefficient_w_m2k;
use super::exchanger::{loop_conductance_w_k, loop_temperatures};
use super::operating::{FlowPoint, LoopDesign, Path, REFERENCE_C};

/// What is held.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Given {
    /// Mean of the slab's tube plane, °C.
    SlabCore(f64),
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
    /// Slab core, °C.
    pub slab_c: f64,
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
}

impl SlabLosses {
    /// Of this plant with `film_w_m2k` between floor and air.
    pub fn of(config: &PlantConfig, film_w_m2k: f64, curtain_drawn: bool) -> SlabLosses {
        let cover_m2k_w = config.floor.tube_depth_m / config.floor.conductivity_w_mk;
        SlabLosses {
            to_air_w_k: config.floor.heated_area_m2() / (1.0 / film_w_m2k + cover_m2k_w),
            envelope_w_k: config.house.envelope_w_k(curtain_drawn),
            edge_w_k: config.house.edge_w_k(),
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
    let losses = SlabLosses::of(config, film_w_m2k, options.curtain_drawn);
    let (to_air, envelope, edge) = (losses.to_air_w_k, losses.envelope_w_k, losses.edge_w_k);
    let through_air = losses.through_air_w_k();
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
    let slab_c = match given {
        Given::SlabCore(slab_c) => slab_c,
        Given::Air(air_c) => {
            // Heat is linear in the slab's temperature, and so is the demand at a given air temperature.
            let offered_at_zero = water(0.0).slab_heat_w;
            let offered_slope = water(1.0).slab_heat_w - offered_at_zero;
            let demand_slope = to_air + edge * (1.0 + to_air / envelope);
            (offered_at_zero + demand_slope * air_c) / (demand_slope - offered_slope)
        }
    };
    let temperatures = water(slab_c);
    let outdoor_c = slab_c - temperatures.slab_heat_w / (through_air + edge);
    BalancePoint {
        slab_c,
        air_c: slab_c - through_air / to_air * (slab_c - outdoor_c),
        outdoor_c,
        heat_w: temperatures.slab_heat_w,
        supply_c: temperatures.supply_c,
        return_c: temperatures.return_c,
        loop_conductance_w_k: loop_conductance_w_k(
            point.capacity_w_k,
            point.store_effectiveness,
            point.house_effectiveness,
        ),
        slab_to_air_w_k: to_air,
        floor_film_w_m2k: film_w_m2k,
        flow_l_s: point.flow_l_s,
    }
}

#[cfg(test)]
mod tests;
