//! Long-wave radiation of the sky: how cold the sky looks from a roof or a slab.
//!
//! Each model is a pure function. [`walton_emissivity`] fills infrared that a weather file lacks; the others are
//! there for comparison and for screening. Temperatures are °C at the border and K inside.

/// Stefan–Boltzmann constant, W/m²K⁴ (CODATA 2018, exact to the digits given).
pub const STEFAN_BOLTZMANN_W_M2_K4: f64 = 5.670_374e-8;

/// 0 °C in kelvin (SI Brochure, by definition).
const ZERO_CELSIUS_K: f64 = 273.15;

/// Sky temperature of a clear sky, °C, from air temperature alone: T_sky = 0.0552 T_a^1.5, both in K.
///
/// Source: Swinbank, W. C. (1963), Quarterly Journal of the Royal Meteorological Society 89: 339–348.
#[must_use]
pub fn swinbank_sky_temperature_c(air_c: f64) -> f64 {
    let air_k = air_c + ZERO_CELSIUS_K;
    0.0552 * air_k * air_k.sqrt() - ZERO_CELSIUS_K
}

/// Emissivity of a clear sky from vapour pressure (hPa): 0.52 + 0.065 √e.
///
/// Source: Brunt, D. (1932), Quarterly Journal of the Royal Meteorological Society 58: 389–420 (coefficients from memory).
#[must_use]
pub fn brunt_emissivity(vapour_pressure_hpa: f64) -> f64 {
    0.52 + 0.065 * vapour_pressure_hpa.sqrt()
}

/// Emissivity of the sky from dew point (°C) and opaque cloud cover (tenths, 0–10).
///
/// Source: Clark and Allen (1978) with Walton's (1983, NBSIR 83-2655) cloud polynomial, as the EnergyPlus
/// Engineering Reference ("Climate calculations, sky radiation") prints it.
#[must_use]
pub fn walton_emissivity(dew_point_c: f64, opaque_tenths: f64) -> f64 {
    let dew_point_k = dew_point_c + ZERO_CELSIUS_K;
    (0.787 + 0.764 * libm::log(dew_point_k / ZERO_CELSIUS_K)) * walton_cloud_factor(opaque_tenths)
}

/// Walton's multiplier of the clear-sky emissivity for opaque cover in tenths (0–10). Source as [`walton_emissivity`].
#[must_use]
pub fn walton_cloud_factor(opaque_tenths: f64) -> f64 {
    let n = opaque_tenths;
    1.0 + n * (0.0224 + n * (-0.0035 + n * 0.000_28))
}

/// Emissivity of a clear sky from dew point (°C); `solar_hour` is the hour of the day (0–24) for the diurnal term,
/// or `None` for the daily mean.
///
/// Source: Berdahl, P. and Martin, M. (1984), Solar Energy 32(5): 663–664.
#[must_use]
pub fn berdahl_martin_emissivity(dew_point_c: f64, solar_hour: Option<f64>) -> f64 {
    let mean = 0.711 + dew_point_c * (0.0056 + dew_point_c * 0.000_073);
    let diurnal = solar_hour.map_or(0.0, |hour| {
        0.013 * libm::cos(core::f64::consts::PI * hour / 12.0)
    });
    mean + diurnal
}

/// Emissivity of a cloudy sky from that of the clear one: ε + (1 − ε) · 0.9 · N/10, N opaque tenths.
///
/// Source: the simplest low-cloud form used beside Berdahl and Martin; the 0.9 is common practice, no source.
#[must_use]
pub fn clouded_emissivity(clear_emissivity: f64, opaque_tenths: f64) -> f64 {
    clear_emissivity + (1.0 - clear_emissivity) * 0.9 * opaque_tenths / 10.0
}

/// Saturation vapour pressure at a dew point or frost point (°C), hPa: over ice below 0 °C, over water above.
///
/// Source: Magnus forms of WMO-No. 8, Guide to Instruments and Methods of Observation, Annex 4.B (from memory).
#[must_use]
pub fn vapour_pressure_hpa(dew_point_c: f64) -> f64 {
    let (slope, offset_c) = if dew_point_c < 0.0 {
        (22.46, 272.62)
    } else {
        (17.62, 243.12)
    };
    6.112 * libm::exp(slope * dew_point_c / (offset_c + dew_point_c))
}

/// Infrared falling on a horizontal plane, W/m²: ε σ T_a⁴.
#[must_use]
pub fn horizontal_infrared_w_m2(emissivity: f64, air_c: f64) -> f64 {
    let square = (air_c + ZERO_CELSIUS_K) * (air_c + ZERO_CELSIUS_K);
    emissivity * STEFAN_BOLTZMANN_W_M2_K4 * square * square
}

/// Temperature (°C) of a black sky that sends `infrared_w_m2` onto a horizontal plane: (I/σ)^¼.
#[must_use]
pub fn sky_temperature_c(infrared_w_m2: f64) -> f64 {
    (infrared_w_m2 / STEFAN_BOLTZMANN_W_M2_K4).sqrt().sqrt() - ZERO_CELSIUS_K
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn near(got: f64, want: f64, tolerance: f64) {
        assert!(
            (got - want).abs() <= tolerance,
            "got {got}, want {want} ± {tolerance}"
        );
    }

    fn sky_c(emissivity: f64, air_c: f64) -> f64 {
        sky_temperature_c(horizontal_infrared_w_m2(emissivity, air_c))
    }

    /// Swinbank's own form at round kelvin values (closed form).
    #[test]
    fn swinbank_at_round_temperatures() {
        for (air_k, sky_k) in [
            (293.15, 277.060),
            (273.15, 249.196),
            (263.15, 235.637),
            (253.15, 222.334),
        ] {
            near(
                swinbank_sky_temperature_c(air_k - 273.15) + 273.15,
                sky_k,
                0.001,
            );
        }
    }

    /// Sky temperatures of the four models, computed apart from this program (Python, PsychroLib 2.5.0 vapour pressure).
    #[test]
    fn four_models_side_by_side() {
        for (air, dew, swinbank, brunt, walton, berdahl) in [
            (20.0, 10.0, 3.91, -0.55, 5.34, 1.84),
            (0.0, -3.0, -23.95, -26.78, -16.57, -23.76),
            (-10.0, -14.0, -37.51, -40.83, -28.52, -37.15),
            (-20.0, -24.0, -50.82, -52.77, -40.22, -48.64),
        ] {
            near(swinbank_sky_temperature_c(air), swinbank, 0.006);
            near(
                sky_c(brunt_emissivity(vapour_pressure_hpa(dew)), air),
                brunt,
                0.02,
            );
            near(sky_c(walton_emissivity(dew, 0.0), air), walton, 0.006);
            near(
                sky_c(berdahl_martin_emissivity(dew, None), air),
                berdahl,
                0.006,
            );
        }
    }

    /// The worked example of the EnergyPlus documentation: 293 K, dew point 10 °C, clear: it prints 0.815 and 340.6 W/m²;
    /// the formula with the CODATA constant gives 340.38.
    #[test]
    fn walton_worked_example() {
        let emissivity = walton_emissivity(10.0, 0.0);
        near(emissivity, 0.815, 0.001);
        near(
            horizontal_infrared_w_m2(emissivity, 293.0 - 273.15),
            340.38,
            0.01,
        );
        near(
            horizontal_infrared_w_m2(emissivity, 293.0 - 273.15),
            340.6,
            0.3,
        );
    }

    #[test]
    fn cloud_factor_by_tenths() {
        for (tenths, factor) in [
            (0.0, 1.0),
            (3.0, 1.04326),
            (5.0, 1.05950),
            (8.0, 1.09856),
            (10.0, 1.15400),
        ] {
            near(walton_cloud_factor(tenths), factor, 1e-9);
        }
    }

    #[test]
    fn diurnal_term_is_largest_at_midnight() {
        let mean = berdahl_martin_emissivity(-5.0, None);
        near(
            berdahl_martin_emissivity(-5.0, Some(0.0)) - mean,
            0.013,
            1e-12,
        );
        near(
            berdahl_martin_emissivity(-5.0, Some(12.0)) - mean,
            -0.013,
            1e-12,
        );
    }

    #[test]
    fn overcast_sky_is_nearly_black() {
        near(clouded_emissivity(0.7, 0.0), 0.7, 1e-12);
        near(clouded_emissivity(0.7, 10.0), 0.97, 1e-12);
    }

    /// ASHRAE Fundamentals psychrometric table: 0.6112 kPa at 0 °C, 2.3389 kPa at 20 °C, 0.1033 kPa over ice at −20 °C.
    #[test]
    fn vapour_pressure_against_the_psychrometric_table() {
        near(vapour_pressure_hpa(0.0), 6.112, 0.002);
        near(vapour_pressure_hpa(20.0), 23.389, 0.07);
        near(vapour_pressure_hpa(-20.0), 1.033, 0.003);
    }

    #[test]
    fn sky_temperature_inverts_the_infrared() {
        near(
            sky_temperature_c(horizontal_infrared_w_m2(1.0, -12.5)),
            -12.5,
            1e-9,
        );
    }
}
