//! The earth: undisturbed temperatures, closed forms for drawing heat from a floor on the ground.
//!
//! Sources: Kusuda & Achenbach, ASHRAE Trans. 71(1):61–74, 1965 (with the lag of the depth); Carslaw & Jaeger §2.4–2.9 and
//! §10.5, Incropera eqs 5.60–5.63 (from memory, values checked by independent finite volumes); ISO 13370 slab on ground
//! (from memory). Times in s, lengths in m, temperatures in °C or differences in K.

use super::config::GroundConfig;
use core::f64::consts::PI;

/// Seconds of a year of 365 days.
const YEAR_S: f64 = 365.0 * 86_400.0;

/// Undisturbed ground temperature, °C, `depth_m` below the surface on `day` of the year.
pub fn kusuda_c(ground: &GroundConfig, depth_m: f64, day: f64) -> f64 {
    YearlyWave::at(ground, depth_m).temperature_c(day)
}

/// The yearly wave at one depth, with everything computed that does not depend on the day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct YearlyWave {
    mean_c: f64,
    amplitude_k: f64,
    coldest_day: f64,
}

impl YearlyWave {
    /// The wave at `depth_m`.
    pub fn at(ground: &GroundConfig, depth_m: f64) -> YearlyWave {
        let per_damping_depth = depth_m / (YEAR_S * ground.diffusivity_m2_s() / PI).sqrt();
        YearlyWave {
            mean_c: ground.mean_c,
            amplitude_k: ground.amplitude_k * libm::exp(-per_damping_depth),
            coldest_day: ground.coldest_day + per_damping_depth * 365.0 / (2.0 * PI),
        }
    }

    /// Temperature on `day` of the year, °C.
    pub fn temperature_c(&self, day: f64) -> f64 {
        self.mean_c - self.amplitude_k * libm::cos(2.0 * PI / 365.0 * (day - self.coldest_day))
    }
}

/// Temperature change at `depth_m`, per kelvin of a step of the surface temperature `time_s` ago.
pub fn step_response(diffusivity_m2_s: f64, depth_m: f64, time_s: f64) -> f64 {
    libm::erfc(depth_m / (2.0 * (diffusivity_m2_s * time_s).sqrt()))
}

/// Heat flux into the surface `time_s` after a step of its temperature, W/m² per K.
pub fn step_flux_w_m2k(ground: &GroundConfig, time_s: f64) -> f64 {
    ground.conductivity_w_mk / (PI * ground.diffusivity_m2_s() * time_s).sqrt()
}

/// Temperature change at `depth_m` after drawing or giving `flux_w_m2` at the surface for `time_s`, K; ground of endless
/// extent.
pub fn draw_down_k(ground: &GroundConfig, flux_w_m2: f64, depth_m: f64, time_s: f64) -> f64 {
    let root = (ground.diffusivity_m2_s() * time_s).sqrt();
    let xi = depth_m / (2.0 * root);
    let scale = flux_w_m2 / ground.conductivity_w_mk;
    scale * (2.0 * root / PI.sqrt() * libm::exp(-xi * xi) - depth_m * libm::erfc(xi))
}

/// Temperature change at `depth_m`, per kelvin of difference, `time_s` after air of another temperature came over the ground
/// with surface coefficient `film_w_m2k`.
pub fn film_response(ground: &GroundConfig, film_w_m2k: f64, depth_m: f64, time_s: f64) -> f64 {
    let root = (ground.diffusivity_m2_s() * time_s).sqrt();
    let xi = depth_m / (2.0 * root);
    let shifted = xi + film_w_m2k * root / ground.conductivity_w_mk;
    libm::erfc(xi) - libm::exp(-xi * xi) * scaled_erfc(shifted)
}

/// Time until the temperature `depth_m` behind a surface falls from `start_c` to `target_c` after air of `air_c` came against
/// it, s; for earth, or for concrete with its properties in `ground`: how long a tube near a slab's edge is safe. `None` if it
/// takes longer than a hundred years.
pub fn time_to_cool_at_depth_s(
    ground: &GroundConfig,
    film_w_m2k: f64,
    depth_m: f64,
    start_c: f64,
    target_c: f64,
    air_c: f64,
) -> Option<f64> {
    let wanted = (start_c - target_c) / (start_c - air_c);
    let reached = |time_s: f64| film_response(ground, film_w_m2k, depth_m, time_s) >= wanted;
    let (mut early, mut late) = (1.0, 100.0 * YEAR_S);
    if !(wanted > 0.0 && wanted < 1.0 && reached(late)) {
        return None;
    }
    // The response only rises; halve the ratio of the bounds.
    for _ in 0..80 {
        let middle = (early * late).sqrt();
        if reached(middle) {
            late = middle;
        } else {
            early = middle;
        }
    }
    Some(late)
}

/// e^(x²) erfc(x) without overflow, x ≥ 0.
pub fn scaled_erfc(x: f64) -> f64 {
    if x < 20.0 {
        libm::exp(x * x) * libm::erfc(x)
    } else {
        let inverse = 1.0 / (2.0 * x * x);
        (1.0 - inverse + 3.0 * inverse * inverse) / (x * PI.sqrt())
    }
}

/// As [`draw_down_k`] at the centre of a disc of `area_m2` with even flux, K: what a real floor's middle does.
pub fn disc_centre_draw_down_k(
    ground: &GroundConfig,
    flux_w_m2: f64,
    area_m2: f64,
    time_s: f64,
) -> f64 {
    let root = (ground.diffusivity_m2_s() * time_s).sqrt();
    let x = equivalent_radius_m(area_m2) / (2.0 * root);
    let ierfc = libm::exp(-x * x) / PI.sqrt() - x * libm::erfc(x);
    2.0 * flux_w_m2 * root / ground.conductivity_w_mk * (1.0 / PI.sqrt() - ierfc)
}

/// Radius of the disc of equal area, m.
pub fn equivalent_radius_m(area_m2: f64) -> f64 {
    (area_m2 / PI).sqrt()
}

/// Steady conductance of an isothermal disc on the ground to far away, 4ka, W/K.
pub fn disc_conductance_w_k(ground: &GroundConfig, area_m2: f64) -> f64 {
    4.0 * ground.conductivity_w_mk * equivalent_radius_m(area_m2)
}

/// Conductance of a room's floor to undisturbed ground at its depth against 4ka: the ground's surface is near, and walls beside it
/// keep the earth at its edge warm. Floors of 3.6 × 6 m at 2.2 m and of 5 × 10 m at 3 m in three-dimensional finite volumes.
pub const SUNK_SHARE: f64 = 1.2;

/// Conductance from a room's floor sideways to undisturbed ground at its depth, W/K, beside the column straight down.
pub fn sunk_conductance_w_k(ground: &GroundConfig, area_m2: f64) -> f64 {
    if ground.lateral_gain {
        SUNK_SHARE * disc_conductance_w_k(ground, area_m2)
    } else {
        0.0
    }
}

/// Steady transmittance of a slab on the ground after ISO 13370, W/(m² K). `floor_m2k_w`: the floor's own resistance;
/// `wall_m`: thickness of the walls.
pub fn iso_13370_u_w_m2k(
    area_m2: f64,
    perimeter_m: f64,
    wall_m: f64,
    floor_m2k_w: f64,
    ground_w_mk: f64,
) -> f64 {
    /// Inside and outside surface resistances for downward flow, m² K/W (ISO 6946).
    const SURFACES: f64 = 0.17 + 0.04;
    let characteristic = area_m2 / (0.5 * perimeter_m);
    let equivalent = wall_m + ground_w_mk * (SURFACES + floor_m2k_w);
    if equivalent < characteristic {
        2.0 * ground_w_mk / (PI * characteristic + equivalent)
            * libm::log(PI * characteristic / equivalent + 1.0)
    } else {
        ground_w_mk / (0.457 * characteristic + equivalent)
    }
}

#[cfg(test)]
mod tests;
