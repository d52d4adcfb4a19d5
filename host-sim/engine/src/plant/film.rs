//! Heat transfer from the water to the inside of the tube wall, and through the wall.
//!
//! Sources (all from memory; values checked against the general-purpose `ht` package): laminar mean Nusselt number with
//! constant wall temperature, VDI Heat Atlas G1; turbulent, Gnielinski 1976 (Incropera eq. 8.62); transition 2300–4000,
//! Gnielinski 2013. Uncertainty: ±10 % turbulent, ±50 % in transition.

use super::fluid::Properties;
use super::tube::Tube;
use core::f64::consts::PI;

/// Reynolds number at which fully laminar flow ends in the transition rule.
pub const LAMINAR_END: f64 = 2300.0;
/// Reynolds number at which fully turbulent flow begins in the transition rule.
pub const TURBULENT_START: f64 = 4000.0;

/// Laminar mean Nusselt number over a tube of `inside_m` and `length_m`, constant wall temperature.
pub fn nusselt_laminar(reynolds: f64, prandtl: f64, inside_m: f64, length_m: f64) -> f64 {
    let graetz = reynolds * prandtl * inside_m / length_m;
    let entry = 1.615 * libm::cbrt(graetz) - 0.7;
    libm::cbrt(3.66 * 3.66 * 3.66 + 0.7 * 0.7 * 0.7 + entry * entry * entry)
}

/// Gnielinski's turbulent Nusselt number (Re ≥ about 3000).
pub fn nusselt_turbulent(reynolds: f64, prandtl: f64) -> f64 {
    let root = 0.790 * libm::log(reynolds) - 1.64;
    let eighth = 1.0 / (root * root) / 8.0;
    let prandtl_two_thirds = libm::cbrt(prandtl) * libm::cbrt(prandtl);
    eighth * (reynolds - 1000.0) * prandtl
        / (1.0 + 12.7 * eighth.sqrt() * (prandtl_two_thirds - 1.0))
}

/// Mean Nusselt number for any Reynolds number, continuous through the transition.
pub fn nusselt(reynolds: f64, prandtl: f64, inside_m: f64, length_m: f64) -> f64 {
    if reynolds <= LAMINAR_END {
        nusselt_laminar(reynolds, prandtl, inside_m, length_m)
    } else if reynolds >= TURBULENT_START {
        nusselt_turbulent(reynolds, prandtl)
    } else {
        let share = (reynolds - LAMINAR_END) / (TURBULENT_START - LAMINAR_END);
        (1.0 - share) * nusselt_laminar(LAMINAR_END, prandtl, inside_m, length_m)
            + share * nusselt_turbulent(TURBULENT_START, prandtl)
    }
}

/// Reynolds number of `flow_l_s` in `tube`.
pub fn reynolds(fluid: &Properties, tube: &Tube, flow_l_s: f64) -> f64 {
    fluid.density_kg_m3 * tube.velocity_m_s(flow_l_s) * tube.inside_m / fluid.viscosity_pa_s
}

/// Film resistance per metre of tube, m K/W. At no flow it is that of still conduction, Nu = 3.66.
pub fn film_resistance_mk_w(fluid: &Properties, tube: &Tube, length_m: f64, flow_l_s: f64) -> f64 {
    let nu = nusselt(
        reynolds(fluid, tube, flow_l_s),
        fluid.prandtl(),
        tube.inside_m,
        length_m,
    );
    1.0 / (PI * nu * fluid.conductivity_w_mk)
}

/// Resistance of a cylindrical wall per metre, ln(outside/inside)/(2πk), m K/W.
pub fn wall_resistance_mk_w(inside_m: f64, outside_m: f64, conductivity_w_mk: f64) -> f64 {
    libm::log(outside_m / inside_m) / (2.0 * PI * conductivity_w_mk)
}

#[cfg(test)]
mod tests {
    use super::super::fluid::Fluid;
    use super::*;

    #[track_caller]
    fn close(got: f64, want: f64, relative: f64) {
        assert!(
            (got / want - 1.0).abs() <= relative,
            "got {got}, want {want}"
        );
    }

    #[test]
    fn gnielinski_matches_reference_values() {
        // Computed with `ht` 1.2.0, turbulent_Gnielinski.
        close(nusselt_turbulent(4000.0, 10.39), 36.3804, 1e-5);
        close(nusselt_turbulent(1.0e4, 10.39), 92.0670, 1e-5);
        close(nusselt_turbulent(1.0e4, 0.7), 29.8174, 1e-5);
        close(nusselt_turbulent(5.0e4, 6.0), 308.533, 1e-5);
        close(nusselt_turbulent(5000.0, 7.0), 40.3903, 1e-5);
    }

    #[test]
    fn laminar_matches_the_closed_form_and_lies_near_hausen() {
        for (re, length, want, hausen) in [
            (1000.0, 10.0, 4.2822, 4.3615),
            (2000.0, 2.0, 7.7252, 7.9013),
        ] {
            let got = nusselt_laminar(re, 10.39, 0.012319, length);
            close(got, want, 1e-4);
            // Hausen: 3.66 + 0.0668 Gz / (1 + 0.04 Gz^(2/3)), a second published form.
            let graetz = re * 10.39 * 0.012319 / length;
            let second = 3.66 + 0.0668 * graetz / (1.0 + 0.04 * libm::pow(graetz, 2.0 / 3.0));
            close(second, hausen, 1e-4);
            close(got, second, 0.03);
        }
    }

    #[test]
    fn transition_is_continuous_and_film_falls_off_a_cliff_below_it() {
        for edge in [LAMINAR_END, TURBULENT_START] {
            close(
                nusselt(edge - 1e-6, 10.4, 0.012, 86.0),
                nusselt(edge + 1e-6, 10.4, 0.012, 86.0),
                1e-6,
            );
        }
        close(
            nusselt(2200.0, 10.4, 0.012, 86.0) * 7.0,
            nusselt(4000.0, 10.4, 0.012, 86.0),
            0.3,
        );
    }

    #[test]
    fn half_inch_tube_at_45_fahrenheit() {
        let half = Tube::named("1/2 in").unwrap();
        let water = Fluid::Water.properties(7.2222);
        let gpm = 3.785411784 / 60.0;
        for (flow, want) in [
            (0.6, 0.04410),
            (0.75, 0.02151),
            (1.0, 0.01308),
            (2.0, 0.00653),
        ] {
            close(
                film_resistance_mk_w(&water, &half, 100.0, flow * gpm),
                want,
                1e-3,
            );
        }
        for (conductivity, want) in [(0.35, 0.11532), (0.38, 0.10622), (0.41, 0.09844)] {
            close(
                wall_resistance_mk_w(half.inside_m, half.outside_m, conductivity),
                want,
                1e-4,
            );
        }
    }
}
