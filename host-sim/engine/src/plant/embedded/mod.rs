//! From the outside of an embedded tube to the mean temperature of the tube plane, and the standard floor-heating curves.
//!
//! A row of parallel tubes at `spacing_m` in a plate, axis `above_m` below the upper and `below_m` above the lower surface,
//! each surface with its own coefficient. The series is the classical field of a row of line sources between Robin planes
//! (Faxén 1937; Glück): exact for thin tubes, also where the plate is thin against the spacing, which is where the short form
//! of Koschenz & Lehmann (*Thermoaktive Bauteilsysteme*, Empa 2000; also ISO 11855-2, from memory) runs out (s/T > 0.3).

use core::f64::consts::PI;

/// Terms of the series; the m-th falls as exp(−4πm s/T), ten are enough for any real floor.
const TERMS: u32 = 60;

/// A plate with a plane of tubes in it. Lengths m, coefficients W/(m² K); a coefficient of 0 is an adiabatic surface,
/// `f64::INFINITY` a surface at a fixed temperature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TubePlane {
    /// Distance between neighbouring tubes.
    pub spacing_m: f64,
    /// Outside diameter of the tube.
    pub outside_m: f64,
    /// Conductivity of the plate, W/(m K).
    pub conductivity_w_mk: f64,
    /// Tube axis to upper surface.
    pub above_m: f64,
    /// Tube axis to lower surface.
    pub below_m: f64,
    /// Upper surface coefficient.
    pub above_w_m2k: f64,
    /// Lower surface coefficient.
    pub below_w_m2k: f64,
}

impl TubePlane {
    /// R_x: tube surface to mean of the tube plane, per floor area, m² K/W.
    pub fn resistance_m2k_w(&self) -> f64 {
        let reflected: f64 = (1..=TERMS).map(|m| self.reflection(m) / f64::from(m)).sum();
        self.scale() * (libm::log(self.spacing_m / (PI * self.outside_m)) + reflected)
    }

    /// How far the tube plane half-way between two tubes lies below the plane's mean, per heat flux from the tubes, m² K/W.
    /// A sensor cast in at mid-spacing reads this much low (times the flux in W/m²) in the steady state.
    pub fn mid_spacing_m2k_w(&self) -> f64 {
        let alternating: f64 = (1..=TERMS)
            .map(|m| {
                let sign = if m % 2 == 0 { 1.0 } else { -1.0 };
                sign * self.reflection(m) / f64::from(m)
            })
            .sum();
        // Σ (−1)^m / m = −ln 2 is the part of the sources themselves.
        self.scale() * (core::f64::consts::LN_2 - alternating)
    }

    /// R_x after Koschenz & Lehmann: only the logarithm.
    pub fn resistance_short_form_m2k_w(&self) -> f64 {
        self.scale() * libm::log(self.spacing_m / (PI * self.outside_m))
    }

    fn scale(&self) -> f64 {
        self.spacing_m / (2.0 * PI * self.conductivity_w_mk)
    }

    /// What the m-th harmonic gets back from the two surfaces.
    fn reflection(&self, m: u32) -> f64 {
        let m = f64::from(m);
        let conductance = 2.0 * PI * m * self.conductivity_w_mk / self.spacing_m;
        let factor = |h: f64| {
            if h.is_infinite() {
                -1.0
            } else {
                (conductance - h) / (conductance + h)
            }
        };
        let upper =
            factor(self.above_w_m2k) * libm::exp(-4.0 * PI * m * self.above_m / self.spacing_m);
        let lower =
            factor(self.below_w_m2k) * libm::exp(-4.0 * PI * m * self.below_m / self.spacing_m);
        (upper + lower + 2.0 * upper * lower) / (1.0 - upper * lower)
    }
}

/// Heat flux of a heated floor after the base curve of EN 1264-2, 8.92 Δ^1.1 W/m² (from memory); `difference_k` = mean floor
/// surface − room, ≥ 0.
pub fn base_curve_w_m2(difference_k: f64) -> f64 {
    8.92 * libm::pow(difference_k.max(0.0), 1.1)
}

/// Total coefficient (convection + radiation) of a floor *colder* than the room, W/(m² K): ISO 6946 downward flow,
/// h_c 0.7 + 0.9 · 4σT³ at 5 °C = 5.09.
pub const COLD_FLOOR_W_M2K: f64 = 5.1;

/// Total coefficient of a floor against the room above it, W/(m² K): 8.92 Δ^0.1 when warmer (EN 1264-2), never less than the
/// cold-floor value, which it also is when colder. Continuous.
pub fn floor_coefficient_w_m2k(difference_k: f64) -> f64 {
    if difference_k <= 0.0 {
        COLD_FLOOR_W_M2K
    } else {
        (8.92 * libm::pow(difference_k, 0.1)).max(COLD_FLOOR_W_M2K)
    }
}

/// Logarithmic mean excess of the water over the room as EN 1264 defines it, K; all in °C, supply > return > room.
pub fn log_mean_excess_k(supply_c: f64, return_c: f64, room_c: f64) -> f64 {
    (supply_c - return_c) / libm::log((supply_c - room_c) / (return_c - room_c))
}

/// A type A floor (tubes in screed above insulation) for the EN 1264-2 tabulated method. Comparison only: tables from memory,
/// 2-D solutions give 0.92–1.03 of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScreedFloor {
    /// Tube spacing, 0.10–0.30 m.
    pub spacing_m: f64,
    /// Outside diameter of the tube, m.
    pub outside_m: f64,
    /// Wall of the tube, m.
    pub wall_m: f64,
    /// Conductivity of the tube, W/(m K).
    pub tube_conductivity_w_mk: f64,
    /// Screed above the tube, m.
    pub cover_m: f64,
    /// Conductivity of the screed, W/(m K).
    pub cover_conductivity_w_mk: f64,
}

impl ScreedFloor {
    /// K_H, W per m² and K of log-mean excess, without a floor covering.
    pub fn output_w_m2k(&self) -> f64 {
        /// Spacing m, cover factor a_U, diameter factor a_D.
        const FACTORS: [[f64; 3]; 4] = [
            [0.10, 1.063, 1.029],
            [0.15, 1.057, 1.040],
            [0.20, 1.051, 1.046],
            [0.30, 1.0395, 1.053],
        ];
        let row = |column: usize| interpolate(&FACTORS.map(|f| (f[0], f[column])), self.spacing_m);
        let spacing = libm::pow(1.23, 1.0 - self.spacing_m / 0.075);
        let cover = libm::pow(row(1), 100.0 * (0.045 - self.cover_m));
        let diameter = libm::pow(row(2), 250.0 * (self.outside_m - 0.020));
        let product = spacing * cover * diameter;
        let screed = (1.0 / 10.8 + 0.045) / (1.0 / 10.8 + 0.045 / self.cover_conductivity_w_mk);
        let wall = |wall_m: f64, conductivity: f64| {
            libm::log(self.outside_m / (self.outside_m - 2.0 * wall_m)) / (2.0 * conductivity)
        };
        let tube = 1.1 / PI
            * product
            * self.spacing_m
            * (wall(self.wall_m, self.tube_conductivity_w_mk) - wall(0.002, 0.35));
        1.0 / (1.0 / 6.7 + tube) * screed * product
    }
}

fn interpolate(table: &[(f64, f64); 4], x: f64) -> f64 {
    let upper = table
        .iter()
        .position(|&(node, _)| node >= x)
        .unwrap_or(3)
        .max(1);
    let ((x0, y0), (x1, y1)) = (table[upper - 1], table[upper]);
    y0 + (y1 - y0) * (x - x0) / (x1 - x0)
}

#[cfg(test)]
mod tests;
