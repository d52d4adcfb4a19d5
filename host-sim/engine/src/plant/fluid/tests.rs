//! Reference: IAPWS-95, R12-08, R15-11 at 200 kPa; IAPWS SR6-08; Melinder (IIR) for glycols; printed freezing points.

#![allow(clippy::approx_constant)] // table values that happen to look like constants

use super::*;

#[track_caller]
fn close(got: f64, want: f64, relative: f64) {
    assert!(
        (got / want - 1.0).abs() <= relative,
        "got {got}, want {want} within {relative}"
    );
}

/// t °C, ρ kg/m³, cp J/kgK, μ mPa·s, k W/mK, Pr.
const WATER: [[f64; 6]; 9] = [
    [0.01, 999.894, 4218.92, 1.79091, 0.55575, 13.596],
    [5.0, 1000.015, 4204.61, 1.51803, 0.56786, 11.240],
    [7.2222, 999.942, 4199.78, 1.41735, 0.57287, 10.391],
    [10.0, 999.750, 4194.78, 1.30581, 0.57884, 9.463],
    [20.0, 998.252, 4183.74, 1.00157, 0.59807, 7.006],
    [25.0, 997.092, 4181.03, 0.89001, 0.60657, 6.135],
    [40.0, 992.260, 4179.17, 0.65274, 0.62854, 4.340],
    [60.0, 983.239, 4184.73, 0.46606, 0.65105, 2.996],
    [80.0, 971.835, 4196.54, 0.35408, 0.66705, 2.228],
];

#[test]
fn water_agrees_with_iapws() {
    for [t, density, capacity, viscosity, conductivity, prandtl] in WATER {
        let water = Fluid::Water.properties(t);
        close(water.density_kg_m3, density, 6e-5);
        close(water.heat_capacity_j_kgk, capacity, 1e-4);
        close(water.viscosity_pa_s * 1e3, viscosity, 1e-3);
        close(water.conductivity_w_mk, conductivity, 1e-3);
        close(water.prandtl(), prandtl, 1e-3);
    }
}

#[test]
fn water_viscosity_and_conductivity_reproduce_sr6_08_at_298_15_kelvin() {
    let water = Fluid::Water.properties(25.0);
    close(water.viscosity_pa_s, 889.9968e-6, 1e-6);
    close(water.conductivity_w_mk, 0.60650, 1e-5);
}

/// fluid, t °C, ρ, cp, μ mPa·s, k.
const GLYCOL: [(Fluid, f64, [f64; 4]); 19] = [
    (Fluid::Propylene(0.2), 0.0, [1020.08, 3935.9, 4.312, 0.4711]),
    (
        Fluid::Propylene(0.2),
        20.0,
        [1014.78, 3976.8, 2.030, 0.4922],
    ),
    (Fluid::Propylene(0.2), 60.0, [995.59, 4061.2, 0.778, 0.5310]),
    (Fluid::Propylene(0.3), 0.0, [1031.56, 3802.6, 7.117, 0.4285]),
    (
        Fluid::Propylene(0.3),
        7.22,
        [1029.09, 3822.3, 5.024, 0.4342],
    ),
    (
        Fluid::Propylene(0.3),
        20.0,
        [1023.79, 3857.0, 2.965, 0.4444],
    ),
    (
        Fluid::Propylene(0.3),
        60.0,
        [1001.15, 3962.3, 0.995, 0.4766],
    ),
    (Fluid::Propylene(0.4), 0.0, [1042.35, 3641.6, 11.88, 0.3878]),
    (
        Fluid::Propylene(0.4),
        20.0,
        [1032.27, 3706.7, 4.384, 0.4003],
    ),
    (
        Fluid::Propylene(0.4),
        60.0,
        [1006.31, 3833.9, 1.283, 0.4265],
    ),
    (Fluid::Ethylene(0.2), 0.0, [1029.06, 3860.8, 3.178, 0.4841]),
    (Fluid::Ethylene(0.2), 20.0, [1024.10, 3896.2, 1.662, 0.5077]),
    (Fluid::Ethylene(0.2), 60.0, [1006.21, 3969.3, 0.697, 0.5483]),
    (Fluid::Ethylene(0.3), 0.0, [1044.97, 3658.1, 4.298, 0.4459]),
    (Fluid::Ethylene(0.3), 20.0, [1038.05, 3718.3, 2.166, 0.4649]),
    (Fluid::Ethylene(0.3), 60.0, [1017.46, 3828.7, 0.866, 0.5002]),
    (Fluid::Ethylene(0.4), 0.0, [1060.39, 3434.2, 5.811, 0.4099]),
    (Fluid::Ethylene(0.4), 20.0, [1051.86, 3519.0, 2.819, 0.4253]),
    (Fluid::Ethylene(0.4), 60.0, [1029.11, 3669.7, 1.082, 0.4553]),
];

#[test]
fn glycols_agree_with_melinder() {
    for (fluid, t, [density, capacity, viscosity, conductivity]) in GLYCOL {
        let mixture = fluid.properties(t);
        close(mixture.density_kg_m3, density, 2e-3);
        close(mixture.heat_capacity_j_kgk, capacity, 2e-3);
        close(mixture.viscosity_pa_s * 1e3, viscosity, 5e-3);
        close(mixture.conductivity_w_mk, conductivity, 2e-3);
    }
}

#[test]
fn glycol_freezing_points_agree_with_printed_tables_within_a_kelvin() {
    // Printed ASHRAE propylene glycol values by mass.
    for (percent, printed) in [
        (20, -7.1),
        (25, -9.6),
        (30, -12.7),
        (35, -16.4),
        (40, -21.1),
    ] {
        let got = Fluid::Propylene(f64::from(percent) / 100.0).freezing_c();
        assert!(
            (got - printed).abs() < 1.0,
            "PG {percent} %: {got} against {printed}"
        );
    }
    // Melinder.
    for (percent, reference) in [
        (20, -7.17),
        (25, -9.79),
        (30, -12.79),
        (35, -16.32),
        (40, -20.57),
        (50, -32.19),
    ] {
        let got = Fluid::Propylene(f64::from(percent) / 100.0).freezing_c();
        assert!(
            (got - reference).abs() < 0.05,
            "PG {percent} %: {got} against {reference}"
        );
    }
    for (percent, reference) in [(20, -7.95), (30, -14.58), (40, -23.81), (50, -35.99)] {
        let got = Fluid::Ethylene(f64::from(percent) / 100.0).freezing_c();
        assert!(
            (got - reference).abs() < 0.02,
            "EG {percent} %: {got} against {reference}"
        );
    }
    assert_eq!(Fluid::Water.freezing_c(), 0.0);
}
