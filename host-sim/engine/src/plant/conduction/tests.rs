//! Reference: plane wall series (Incropera §5.5, Table 5.1), semi-infinite solids (Carslaw & Jaeger §2.4–2.9; Incropera
//! eqs 5.60–5.63), composite wall, periodic surface temperature (Carslaw & Jaeger §2.6).

use super::*;

const CONCRETE: Cell = Cell {
    thickness_m: 0.0,
    conductivity_w_mk: 1.8,
    heat_capacity_j_m3k: 2.1e6,
};
const SOIL: Cell = Cell {
    thickness_m: 0.0,
    conductivity_w_mk: 1.5,
    heat_capacity_j_m3k: 2.2e6,
};

#[track_caller]
fn close(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "got {got}, want {want} within {tolerance}"
    );
}

fn slab(cells: usize) -> Columns {
    Columns::new(
        &vec![
            Cell {
                thickness_m: 0.10 / cells as f64,
                ..CONCRETE
            };
            cells
        ],
        5.0,
    )
}

/// Conductance from the near cell's centre through half a cell and a film.
fn film(thickness_m: f64, conductivity: f64, h: f64) -> f64 {
    1.0 / (1.0 / h + thickness_m / 2.0 / conductivity)
}

/// Roots of ζ tan ζ = Bi by bisection in each branch.
fn plane_wall(bi: f64, fo: f64, x: f64) -> f64 {
    (0..60)
        .map(|n| {
            let base = f64::from(n) * core::f64::consts::PI;
            let (mut low, mut high) = (base, base + core::f64::consts::FRAC_PI_2 - 1e-12);
            for _ in 0..100 {
                let zeta = 0.5 * (low + high);
                if zeta * libm::tan(zeta) < bi {
                    low = zeta
                } else {
                    high = zeta
                }
            }
            let zeta = 0.5 * (low + high);
            4.0 * libm::sin(zeta) / (2.0 * zeta + libm::sin(2.0 * zeta))
                * libm::exp(-zeta * zeta * fo)
                * libm::cos(zeta * x)
        })
        .sum()
}

#[test]
fn plane_wall_series_values() {
    for (bi, rows) in [
        (
            0.1,
            [
                [0.999223, 0.965294],
                [0.967981, 0.921779],
                [0.922389, 0.878126],
            ],
        ),
        (
            1.0,
            [
                [0.993108, 0.723577],
                [0.772526, 0.504522],
                [0.533859, 0.348177],
            ],
        ),
        (
            10.0,
            [
                [0.968424, 0.170574],
                [0.454641, 0.064329],
                [0.163818, 0.023172],
            ],
        ),
    ] {
        for (fo, [centre, surface]) in [0.1, 0.5, 1.0].into_iter().zip(rows) {
            close(plane_wall(bi, fo, 0.0), centre, 2e-6);
            close(plane_wall(bi, fo, 1.0), surface, 2e-6);
        }
    }
}

#[test]
fn finite_volumes_follow_the_plane_wall() {
    // θ* of cell centres with fine cells and steps against the series, Fo 0.1, 0.5, 1 at three Biot numbers.
    for bi in [0.1, 1.0, 10.0] {
        let n = 40;
        let mut columns = slab(n);
        for i in 0..n {
            columns.set_temperature_c(i, [1.0; ZONES]);
        }
        let diffusivity = 1.8 / 2.1e6;
        let h = bi * 1.8 / 0.10;
        let dt = 0.0005 * 0.01 / diffusivity;
        let conductance = film(0.10 / n as f64, 1.8, h);
        let mut fo = 0.0;
        for target in [0.1, 0.5, 1.0] {
            while fo < target - 1e-9 {
                columns.step(dt, conductance, [0.0; ZONES]);
                fo += 0.0005;
            }
            for i in [0, n / 2, n - 1] {
                let x = (i as f64 + 0.5) / n as f64;
                close(columns.temperature_c(i)[0], plane_wall(bi, target, x), 2e-3);
            }
            let mean: f64 = (0..n).map(|i| columns.temperature_c(i)[2]).sum::<f64>() / n as f64;
            close(columns.mean_from_c(0)[2], mean, 1e-12);
        }
    }
}

/// Hours, surface, mid, bottom, mean of the 0.10 m slab cooling from 5 °C under air of −5 °C, h = 10, adiabatic below.
const COOLING: [[f64; 5]; 6] = [
    [0.25, 3.47192, 4.80718, 4.98576, 4.61651],
    [1.0, 2.26348, 3.78644, 4.28932, 3.61567],
    [3.0, 0.42277, 1.58688, 1.99042, 1.45962],
    [6.0, -1.47857, -0.72260, -0.46052, -0.80524],
    [12.0, -3.51502, -3.19623, -3.08571, -3.23108],
    [24.0, -4.73593, -4.67924, -4.65958, -4.68543],
];

#[test]
fn cooling_slab_within_a_hundredth_of_a_kelvin() {
    for n in [10, 11, 20] {
        let mut columns = slab(n);
        let thickness = 0.10 / n as f64;
        let conductance = film(thickness, 1.8, 10.0);
        let mut seconds = 0.0;
        for [hours, surface, middle, bottom, mean] in COOLING {
            let mut flux = [0.0; ZONES];
            while seconds < hours * 3600.0 {
                flux = columns.step(60.0, conductance, [-5.0; ZONES]);
                seconds += 60.0;
            }
            let top = columns.near_c()[0] - flux[0] * thickness / 2.0 / 1.8;
            // A quarter of an hour is 15 steps of a first-order method: allow it three times the tolerance.
            let tolerance = if hours < 1.0 { 0.03 } else { 0.01 };
            close(top, surface, tolerance);
            close(columns.mean_from_c(0)[0], mean, tolerance);
            // The bottom cell's centre lies half a cell above the adiabatic face: parabola to the face.
            let (first, second) = (columns.temperature_c(0)[0], columns.temperature_c(1)[0]);
            close(first + (first - second) / 8.0, bottom, tolerance);
            let mid = if n % 2 == 1 {
                columns.temperature_c(n / 2)[0]
            } else {
                0.5 * (columns.temperature_c(n / 2 - 1)[0] + columns.temperature_c(n / 2)[0])
            };
            close(mid, middle, tolerance);
        }
    }
}

#[test]
fn published_discretisation_values_are_met_exactly() {
    // Near and far cell centres after 1 h as an independent program got them with the same scheme.
    for (n, dt, near, far) in [
        (10, 60.0, 2.26439, 4.28139),
        (20, 60.0, 2.26695, 4.28620),
        (20, 600.0, 2.30762, 4.27102),
    ] {
        let mut columns = slab(n);
        let thickness = 0.10 / n as f64;
        let conductance = film(thickness, 1.8, 10.0);
        let mut flux = [0.0; ZONES];
        for _ in 0..(3600.0 / dt) as usize {
            flux = columns.step(dt, conductance, [-5.0; ZONES]);
        }
        close(
            columns.near_c()[1] - flux[1] * thickness / 2.0 / 1.8,
            near,
            5e-5,
        );
        close(columns.temperature_c(0)[1], far, 5e-5);
    }
}

#[test]
fn slab_heated_from_below() {
    // 50 W/m² into the bottom, h = 10 to 0 °C above, from 0 °C: bottom, mid, top.
    let n = 20;
    let mut columns = slab(n);
    (0..n).for_each(|i| columns.set_temperature_c(i, [0.0; ZONES]));
    let thickness = 0.10 / n as f64;
    let conductance = film(thickness, 1.8, 10.0);
    let mut seconds = 0.0;
    for (hours, [bottom, middle, top]) in [
        (1.0, [1.75280, 0.72870, 0.35534]),
        (6.0, [4.85185, 3.63189, 2.73026]),
        (24.0, [7.55836, 6.18214, 4.82979]),
        (2000.0, [7.77778, 6.38889, 5.00000]),
    ] {
        let mut flux = [0.0; ZONES];
        while seconds < hours * 3600.0 {
            columns.prepare(60.0);
            columns.heat(0, [50.0; ZONES]);
            flux = columns.step(60.0, conductance, [0.0; ZONES]);
            seconds += 60.0;
        }
        close(
            columns.temperature_c(0)[0] + 50.0 * thickness / 2.0 / 1.8,
            bottom,
            0.01,
        );
        close(
            0.5 * (columns.temperature_c(9)[0] + columns.temperature_c(10)[0]),
            middle,
            0.01,
        );
        close(flux[0] / 10.0, top, 0.01);
    }
}

fn deep_soil() -> (Columns, f64) {
    let cells = graded(SOIL, 0.005, 1.08, 0.5, 13.0);
    (Columns::new(&cells, 0.0), 0.005)
}

/// Cell whose centre is nearest `depth_m` below the near face, and its centre's depth.
fn at_depth(cells: &[Cell], depth_m: f64) -> (usize, f64) {
    let mut reached = 0.0;
    let mut best = (0, f64::MAX);
    for (i, cell) in cells.iter().enumerate().rev() {
        let centre = reached + cell.thickness_m / 2.0;
        if (centre - depth_m).abs() < (best.1 - depth_m).abs() {
            best = (i, centre);
        }
        reached += cell.thickness_m;
    }
    best
}

#[test]
fn semi_infinite_ground_step_flux_and_film() {
    let cells = graded(SOIL, 0.005, 1.08, 0.5, 13.0);
    let diffusivity: f64 = 1.5 / 2.2e6;
    let closed = |kind: u8, x: f64, t: f64| -> f64 {
        let root = (diffusivity * t).sqrt();
        let xi = x / 2.0 / root;
        match kind {
            0 => 10.0 * libm::erfc(xi),
            1 => {
                2.0 * 30.0 / 1.5 * root / core::f64::consts::PI.sqrt() * libm::exp(-xi * xi)
                    - 30.0 * x / 1.5 * libm::erfc(xi)
            }
            _ => {
                let ratio = 10.0 * root / 1.5;
                10.0 * (libm::erfc(xi)
                    - libm::exp(10.0 * x / 1.5 + ratio * ratio) * libm::erfc(xi + ratio))
            }
        }
    };
    // Printed values of the closed forms: kind, hours, depth, K.
    for (kind, hours, x, want) in [
        (0, 1.0, 0.05, 4.75460),
        (0, 1.0, 0.1, 1.53508),
        (0, 6.0, 0.05, 7.70795),
        (0, 6.0, 0.3, 0.80461),
        (0, 24.0, 0.1, 7.70795),
        (0, 24.0, 0.3, 3.82114),
        (1, 6.0, 0.0, 2.73871),
        (1, 6.0, 0.1, 1.19090),
        (1, 24.0, 0.3, 1.44584),
        (1, 168.0, 0.0, 14.49190),
        (1, 168.0, 0.3, 9.27551),
        (2, 6.0, 0.0, 5.14008),
        (2, 6.0, 0.1, 2.44541),
        (2, 24.0, 0.1, 5.06678),
        (2, 24.0, 0.3, 2.23546),
    ] {
        close(closed(kind, x, hours * 3600.0), want, 2e-5);
    }
    for kind in [0u8, 1, 2] {
        let (mut columns, first) = deep_soil();
        let mut seconds = 0.0;
        for hours in [6.0, 24.0, 168.0] {
            while seconds < hours * 3600.0 {
                columns.prepare(60.0);
                match kind {
                    0 => columns.step(60.0, film(first, 1.5, 1e12), [10.0; ZONES]),
                    1 => {
                        columns.heat(columns.len() - 1, [30.0; ZONES]);
                        columns.step(60.0, 0.0, [0.0; ZONES])
                    }
                    _ => columns.step(60.0, film(first, 1.5, 10.0), [10.0; ZONES]),
                };
                seconds += 60.0;
            }
            for depth in [0.05, 0.1, 0.3] {
                let (cell, centre) = at_depth(&cells, depth);
                close(
                    columns.temperature_c(cell)[3],
                    closed(kind, centre, seconds),
                    0.02,
                );
            }
        }
    }
}

#[test]
fn surface_flux_after_a_step() {
    // q = kΔT/√(παt): 170.8169, 69.7357, 34.8679 W/m² at 1, 6, 24 h for 10 K.
    let (mut columns, first) = deep_soil();
    let mut seconds = 0.0;
    for (hours, want) in [(1.0, 170.8169), (6.0, 69.7357), (24.0, 34.8679)] {
        let mut flux = [0.0; ZONES];
        while seconds < hours * 3600.0 {
            flux = columns.step(60.0, film(first, 1.5, 1e12), [10.0; ZONES]);
            seconds += 60.0;
        }
        close(-flux[0] / want, 1.0, 0.01);
    }
}

#[test]
fn hourly_steps_on_a_two_centimetre_grid_hold_a_season() {
    // 30 W/m² for 1, 7, 30, 90 d: 5.47742, 14.49190, 30.00108, 51.96339 K at the surface, within 0.3 %.
    let cells = graded(SOIL, 0.02, 1.15, 0.5, 13.0);
    assert!((29..=45).contains(&cells.len()), "{}", cells.len());
    let mut columns = Columns::new(&cells, 0.0);
    let mut hours = 0;
    for (days, want) in [(1, 5.47742), (7, 14.49190), (30, 30.00108), (90, 51.96339)] {
        while hours < days * 24 {
            columns.prepare(3600.0);
            columns.heat(cells.len() - 1, [30.0; ZONES]);
            columns.step(3600.0, 0.0, [0.0; ZONES]);
            hours += 1;
        }
        let surface = columns.near_c()[0] + 30.0 * 0.01 / 1.5;
        close(surface / want, 1.0, 0.003);
    }
}

#[test]
fn layered_wall_in_steady_state() {
    // Air 2 °C h 9 | 0.1/1.8 | 0.05/0.035 | 1/1.5 | 8 °C: 2.652632 W/m², interfaces 2.29474, 2.44211, 6.23158.
    let layer = |thickness_m, conductivity_w_mk| Cell {
        thickness_m,
        conductivity_w_mk,
        heat_capacity_j_m3k: 1e6,
    };
    let mut cells = vec![layer(0.1, 1.5); 10];
    cells.extend([layer(0.01, 0.035); 5]);
    cells.extend([layer(0.01, 1.8); 10]);
    let mut columns = Columns::new(&cells, 5.0);
    columns.attach_sink(0, [2.0 * 1.5 / 0.1; ZONES]);
    let mut flux = [0.0; ZONES];
    for _ in 0..400 {
        columns.prepare(1e7);
        columns.heat(0, [2.0 * 1.5 / 0.1 * 8.0; ZONES]);
        flux = columns.step(1e7, film(0.01, 1.8, 9.0), [2.0; ZONES]);
    }
    close(flux[0], 2.652632, 1e-5);
    close(2.0 + flux[0] / 9.0, 2.29474, 1e-5);
    close(
        columns.temperature_c(14)[0] - flux[0] * 0.005 / 0.035,
        2.44211,
        1e-4,
    );
    close(
        columns.temperature_c(9)[0] - flux[0] * 0.05 / 1.5,
        6.23158,
        1e-4,
    );
}

#[test]
fn daily_wave_is_damped_and_delayed() {
    // 10 K on the surface of concrete, 24 h: depth m, amplitude K, lag h.
    let cells = graded(CONCRETE, 0.005, 1.05, 0.1, 2.0);
    let mut columns = Columns::new(&cells, 0.0);
    let omega = 2.0 * core::f64::consts::PI / 86_400.0;
    let targets: Vec<_> = [0.05, 0.10, 0.20, 0.30]
        .iter()
        .map(|&d| at_depth(&cells, d))
        .collect();
    let mut peaks = vec![(f64::MIN, 0.0); targets.len()];
    for step in 0..(12 * 1440) {
        let t = f64::from(step + 1) * 60.0;
        columns.step(
            60.0,
            film(0.005, 1.8, 1e12),
            [10.0 * libm::cos(omega * t); ZONES],
        );
        if step >= 11 * 1440 - 720 {
            for (peak, &(cell, _)) in peaks.iter_mut().zip(&targets) {
                if columns.temperature_c(cell)[0] > peak.0 {
                    *peak = (columns.temperature_c(cell)[0], t);
                }
            }
        }
    }
    let damping = (2.0 * 1.8 / 2.1e6 / omega).sqrt();
    for (depth, amplitude, lag) in [
        (0.05, 7.22052, 1.24392),
        (0.10, 5.21359, 2.48784),
        (0.20, 2.71816, 4.97568),
        (0.30, 1.41714, 7.46353),
    ] {
        close(10.0 * libm::exp(-depth / damping), amplitude, 2e-5);
        close(depth / damping / omega / 3600.0, lag, 2e-5);
    }
    for (&(peak, at), &(_, centre)) in peaks.iter().zip(&targets) {
        close(peak, 10.0 * libm::exp(-centre / damping), 0.03);
        let lag_h = libm::fmod(at, 86_400.0) / 3600.0;
        close(lag_h, centre / damping / omega / 3600.0, 0.1);
    }
}

#[test]
fn heat_is_conserved_to_rounding() {
    let mut columns = slab(11);
    let conductance = film(0.10 / 11.0, 1.8, 10.0);
    let before = columns.stored_j_m2()[0];
    let mut out = 0.0;
    for i in 0..500 {
        let dt = if i % 3 == 0 { 60.0 } else { 17.0 };
        out += columns.step(dt, conductance, [-5.0; ZONES])[0] * dt;
    }
    close(before - columns.stored_j_m2()[0], out, 1e-6 * out);
}
