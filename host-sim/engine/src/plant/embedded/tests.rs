//! Reference: row-of-cylinders shape factor (Incropera Table 4.1 family), independent 2-D finite-volume solutions (within
//! 0.3 %), EN 1264-2 tables (from memory).

use super::*;

#[track_caller]
fn close(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "got {got}, want {want} within {tolerance}"
    );
}

fn half_inch(spacing_m: f64, conductivity_w_mk: f64) -> TubePlane {
    TubePlane {
        spacing_m,
        outside_m: 0.015875,
        conductivity_w_mk,
        above_m: 0.05,
        below_m: 0.05,
        above_w_m2k: 10.0,
        below_w_m2k: 0.0,
    }
}

const INCH: f64 = 0.0254;

#[test]
fn short_form_values() {
    for (inches, values) in [
        (6.0, [0.01935, 0.01505, 0.01290]),
        (8.0, [0.03245, 0.02524, 0.02163]),
        (12.0, [0.06272, 0.04878, 0.04182]),
    ] {
        for (conductivity, want) in [1.4, 1.8, 2.1].into_iter().zip(values) {
            close(
                half_inch(inches * INCH, conductivity).resistance_short_form_m2k_w(),
                want,
                6e-6,
            );
        }
    }
}

#[test]
fn isothermal_top_over_deep_ground_is_the_row_of_cylinders_shape_factor() {
    for (spacing, outside, depth, printed) in [
        (0.3, 0.02, 0.05, 0.065760),
        (0.3, 0.02, 0.09, 0.090850),
        (0.15, 0.016, 0.05, 0.042076),
        (0.6, 0.03, 0.10, 0.146783),
    ] {
        let plane = TubePlane {
            spacing_m: spacing,
            outside_m: outside,
            conductivity_w_mk: 1.8,
            above_m: depth,
            below_m: 50.0,
            above_w_m2k: f64::INFINITY,
            below_w_m2k: 0.0,
        };
        let got = plane.resistance_m2k_w() + depth / 1.8;
        let textbook = spacing / (2.0 * PI * 1.8)
            * libm::log(2.0 * spacing / (PI * outside) * libm::sinh(2.0 * PI * depth / spacing));
        close(got, textbook, 1e-6);
        close(got, printed, 1e-6);
    }
    // Where the short form runs out: 5.3 % high at depth/spacing 1/6, 0.7 % at 0.3.
    let short = |depth: f64| 0.3 / (2.0 * PI * 1.8) * libm::log(0.3 / (PI * 0.02)) + depth / 1.8;
    close(short(0.05), 0.069246, 1e-6);
    close(short(0.09) / 0.090850, 1.007, 1e-3);
}

#[test]
fn tube_to_air_through_a_thin_slab_agrees_with_two_dimensional_solutions() {
    for (inches, total, exact, low) in [
        (6.0, 0.14322, 0.015446, 0.016914),
        (8.0, 0.15449, 0.026710, 0.029723),
        (12.0, 0.18295, 0.055175, 0.062012),
    ] {
        let plane = half_inch(inches * INCH, 1.8);
        close(
            plane.resistance_m2k_w() + 0.05 / 1.8 + 0.1,
            total,
            0.003 * total,
        );
        close(plane.resistance_m2k_w(), exact, 1e-6);
        let deep = TubePlane {
            above_m: 0.075,
            below_m: 0.025,
            ..plane
        };
        close(deep.resistance_m2k_w(), low, 1e-6);
    }
}

#[test]
fn demo_floor() {
    let plane = TubePlane {
        spacing_m: 0.25,
        outside_m: 0.016,
        above_w_m2k: 9.0,
        ..half_inch(0.25, 1.8)
    };
    close(plane.resistance_m2k_w(), 0.038795, 1e-6);
    close(plane.resistance_short_form_m2k_w(), 0.035459, 1e-6);
}

#[test]
fn mid_spacing_and_tube_wall_lie_on_either_side_of_the_plane_mean() {
    // The plane's mean is zero by construction: integrate the harmonic series over half a spacing.
    let plane = TubePlane {
        spacing_m: 0.25,
        outside_m: 0.016,
        above_w_m2k: 9.0,
        ..half_inch(0.25, 1.8)
    };
    let at = |x: f64| {
        let images: f64 = (1..=TERMS)
            .map(|m| {
                plane.reflection(m) / f64::from(m)
                    * libm::cos(2.0 * PI * f64::from(m) * x / plane.spacing_m)
            })
            .sum();
        plane.scale() * (images - libm::log(2.0 * libm::sin(PI * x / plane.spacing_m)))
    };
    close(at(plane.spacing_m / 2.0), -plane.mid_spacing_m2k_w(), 1e-12);
    close(
        at(plane.outside_m / 2.0),
        plane.resistance_m2k_w(),
        2e-3 * plane.resistance_m2k_w(),
    );
    let steps = 20_000;
    let mean: f64 = (0..steps)
        .map(|i| at((f64::from(i) + 0.5) / f64::from(steps) * plane.spacing_m / 2.0))
        .sum::<f64>()
        / f64::from(steps);
    close(mean, 0.0, 1e-5);
    assert!(plane.mid_spacing_m2k_w() > 0.0);
}

#[test]
fn en_1264_base_curve_and_log_mean() {
    for (difference, flux) in [
        (1.0, 8.920),
        (3.0, 29.868),
        (5.0, 52.388),
        (9.0, 100.007),
        (15.0, 175.414),
    ] {
        close(base_curve_w_m2(difference), flux, 1e-3);
    }
    for (difference, h) in [(1.0, 8.920), (2.0, 9.560), (5.0, 10.478)] {
        close(floor_coefficient_w_m2k(difference), h, 1e-3);
    }
    close(floor_coefficient_w_m2k(-3.0), 5.1, 0.0);
    close(log_mean_excess_k(8.0, 5.0, 2.0), 4.32809, 1e-5);
    close(log_mean_excess_k(45.0, 35.0, 20.0), 19.57615, 1e-5);
}

#[test]
fn en_1264_output_of_a_screed_floor() {
    let floor = |spacing_m: f64| ScreedFloor {
        spacing_m,
        outside_m: 0.016,
        wall_m: 0.002,
        tube_conductivity_w_mk: 0.35,
        cover_m: 0.045,
        cover_conductivity_w_mk: 1.2,
    };
    for (spacing, want) in [
        (0.10, 6.4274),
        (0.15, 5.5396),
        (0.20, 4.7978),
        (0.30, 3.6164),
    ] {
        close(floor(spacing).output_w_m2k(), want, 1e-3);
    }
    // The program's own path (series + wall + base-curve film) for the same floor, insulated below: within 10 %.
    for spacing in [0.10, 0.15, 0.20, 0.30] {
        let plane = TubePlane {
            spacing_m: spacing,
            outside_m: 0.016,
            conductivity_w_mk: 1.2,
            above_m: 0.053,
            below_m: 0.008,
            above_w_m2k: 10.8,
            below_w_m2k: 0.0,
        };
        let wall = libm::log(0.016 / 0.012) / (2.0 * PI * 0.35) * spacing;
        let ours = 1.0 / (plane.resistance_m2k_w() + wall + 0.053 / 1.2 + 1.0 / 10.8);
        close(ours / floor(spacing).output_w_m2k(), 1.0, 0.10);
    }
}
