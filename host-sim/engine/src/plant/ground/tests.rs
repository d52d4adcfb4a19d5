//! Reference: the closed forms' published worked values; the mean of a uniform-flux disc by direct integration.

#![allow(clippy::approx_constant)] // table values that happen to look like constants

use super::*;

#[track_caller]
fn close(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "got {got}, want {want} within {tolerance}"
    );
}

const DAY: f64 = 86_400.0;

fn ground(conductivity_w_mk: f64, heat_capacity_j_m3k: f64) -> GroundConfig {
    GroundConfig {
        conductivity_w_mk,
        heat_capacity_j_m3k,
        ..GroundConfig::default()
    }
}

#[test]
fn kusuda_with_the_lag_of_the_depth() {
    // α = 0.05 m²/d, mean 9, amplitude 13, coldest day 35.
    let ground = GroundConfig {
        conductivity_w_mk: 0.05 / DAY * 2.0e6,
        heat_capacity_j_m3k: 2.0e6,
        mean_c: 9.0,
        amplitude_k: 13.0,
        coldest_day: 35.0,
        ..GroundConfig::default()
    };
    let days = [15.0, 35.0, 74.0, 105.0, 196.0, 288.0];
    for (depth, row, amplitude, lag) in [
        (
            0.0,
            [-3.2371, -4.0000, -1.1787, 4.3499, 21.1198, 13.5454],
            13.0,
            0.0,
        ),
        (
            1.0,
            [2.7723, 1.1431, 0.6955, 2.9579, 15.0731, 14.9894],
            8.5853,
            24.10,
        ),
        (
            2.0,
            [6.8093, 5.1728, 3.4012, 3.7246, 11.0550, 14.2573],
            5.6698,
            48.20,
        ),
        (
            3.0,
            [9.0681, 7.8005, 5.8544, 5.2586, 8.8353, 12.7425],
            3.7444,
            72.31,
        ),
        (
            4.0,
            [10.0378, 9.2193, 7.6396, 6.7784, 7.9046, 11.2309],
            2.4728,
            96.41,
        ),
    ] {
        for (day, want) in days.into_iter().zip(row) {
            close(kusuda_c(&ground, depth, day), want, 1e-3);
        }
        let wave = YearlyWave::at(&ground, depth);
        close(wave.amplitude_k, amplitude, 1e-4);
        close(wave.coldest_day - 35.0, lag, 0.01);
    }
    close((365.0 * 0.05 / PI).sqrt(), 2.41022, 1e-5);
}

#[test]
fn demo_ground_is_about_nine_degrees_at_the_store_floor_in_october() {
    close(kusuda_c(&GroundConfig::default(), 2.2, 288.0), 9.0, 0.2);
}

#[test]
fn half_space_closed_forms() {
    let soil = ground(1.5, 2.2e6);
    for (depth, rows) in [
        (0.0, [5.47742, 14.49190, 30.00108, 51.96339]),
        (0.5, [0.44382, 6.63452, 21.05586, 42.57475]),
        (1.0, [0.00710, 2.48702, 14.14776, 34.39458]),
    ] {
        for (days, want) in [1.0, 7.0, 30.0, 90.0].into_iter().zip(rows) {
            close(draw_down_k(&soil, 30.0, depth, days * DAY), want, 1e-5);
        }
    }
    for (seconds, want) in [
        (3600.0, 17.08169),
        (DAY, 3.48678),
        (7.0 * DAY, 1.31788),
        (30.0 * DAY, 0.63660),
    ] {
        close(step_flux_w_m2k(&soil, seconds), want, 1e-5);
    }
    for (hours, surface, tenth) in [
        (1.0, 0.285753, 0.027130),
        (6.0, 0.514008, 0.244541),
        (24.0, 0.696725, 0.506678),
    ] {
        close(
            film_response(&soil, 10.0, 0.0, hours * 3600.0),
            surface,
            1e-6,
        );
        close(film_response(&soil, 10.0, 0.1, hours * 3600.0), tenth, 1e-6);
    }
    close(
        step_response(soil.diffusivity_m2_s(), 0.1, 3600.0),
        0.153508,
        1e-6,
    );
    // Overflow-safe far out: with a huge coefficient the surface simply takes the air's temperature.
    close(
        film_response(&soil, 1e9, 0.1, DAY),
        step_response(soil.diffusivity_m2_s(), 0.1, DAY),
        1e-6,
    );
    for (x, want) in [
        (0.1, 0.8875371),
        (0.5, 0.4795001),
        (1.0, 0.1572992),
        (1.5, 0.0338949),
        (2.0, 0.0046777),
        (3.0, 0.0000221),
    ] {
        close(libm::erfc(x), want, 1e-7);
        close(scaled_erfc(x), libm::exp(x * x) * want, 1e-3);
    }
    close(scaled_erfc(19.999), scaled_erfc(20.001), 1e-5);
}

#[test]
fn a_tube_near_a_slab_edge_has_hours() {
    // Concrete k 1.8, ρc 2.1e6, from 5 °C, h 15: hours to 0 °C at depth, closed form.
    let concrete = ground(1.8, 2.1e6);
    let hours = |film, depth, air| {
        time_to_cool_at_depth_s(&concrete, film, depth, 5.0, 0.0, air).unwrap() / 3600.0
    };
    for (air, depth, want) in [
        (-20.0, 0.05, 1.373),
        (-20.0, 0.10, 3.131),
        (-20.0, 0.15, 5.433),
        (-20.0, 0.30, 15.444),
        (-10.0, 0.05, 3.078),
        (-10.0, 0.10, 6.336),
        (-10.0, 0.15, 10.503),
        (-10.0, 0.30, 28.31),
    ] {
        close(hours(15.0, depth, air) / want, 1.0, 1e-3);
    }
    close(hours(1.0, 0.15, -20.0), 87.5, 0.1);
    assert_eq!(
        time_to_cool_at_depth_s(&concrete, 15.0, 0.1, 5.0, 0.0, 2.0),
        None
    );
}

#[test]
fn draw_down_of_thirty_square_metres_at_800_watts() {
    for (conductivity, capacity, [day, week, month]) in [
        (0.5, 1.6e6, [9.9, 26.0, f64::NAN]),
        (0.9, 1.6e6, [7.4, 19.5, f64::NAN]),
        (1.5, 2.2e6, [4.87, 12.9, 26.7]),
        (1.8, 2.4e6, [4.26, 11.3, 23.3]),
        (2.4, 2.5e6, [3.61, 9.55, 19.8]),
    ] {
        let soil = ground(conductivity, capacity);
        for (days, want) in [(1.0, day), (7.0, week), (30.0, month)] {
            if want.is_finite() {
                close(
                    draw_down_k(&soil, 800.0 / 30.0, 0.0, days * DAY) / want,
                    1.0,
                    0.015,
                );
            }
        }
    }
}

#[test]
fn a_finite_floor() {
    let soil = ground(1.5, 2.2e6);
    close(equivalent_radius_m(30.0), 3.0902, 1e-4);
    close(disc_conductance_w_k(&soil, 30.0), 18.541, 1e-3);
    for (days, want) in [
        (30.0, 28.4255),
        (60.0, 35.985),
        (90.0, 40.015),
        (150.0, 44.454),
        (365.0, 50.395),
        (1e10, 61.80),
    ] {
        close(
            disc_centre_draw_down_k(&soil, 30.0, 30.0, days * DAY),
            want,
            0.01,
        );
    }
}

#[test]
fn iso_13370_slab_on_ground() {
    for (floor, conductivity, want, heat_w_k) in [
        (0.0, 2.0, 1.16319, 41.875),
        (0.0, 1.5, 0.93905, 33.806),
        (1.5, 2.0, 0.40937, 14.737),
    ] {
        let u = iso_13370_u_w_m2k(36.0, 26.0, 0.2, floor, conductivity);
        close(u, want, 1e-5);
        close(u * 36.0, heat_w_k, 1e-3);
    }
}
