//! Reference: closed forms; the two layouts against the analytic solutions of a tube over a slab with a local heat balance
//! (serpentine: one exponential; counter-flow pairs: hyperbolic cosine).

use super::*;

#[track_caller]
fn close(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "got {got}, want {want} within {tolerance}"
    );
}

const LENGTH: f64 = 86.0;
const CAPACITY: f64 = 252.0017;
const RESISTANCE: f64 = 0.289166;

#[test]
fn effectiveness_of_one_stream() {
    for (units, want) in [
        (0.25, 0.221199),
        (0.5, 0.393469),
        (1.0, 0.632121),
        (1.5, 0.776870),
        (2.0, 0.864665),
        (3.0, 0.950213),
    ] {
        close(effectiveness(units), want, 1e-6);
    }
    let units = transfer_units(LENGTH, RESISTANCE, CAPACITY);
    close(units, 1.180179, 1e-5);
    close(effectiveness(units), 0.692776, 1e-6);
}

#[test]
fn a_tube_in_a_floor_of_one_temperature() {
    let units = transfer_units(LENGTH, RESISTANCE, CAPACITY);
    for layout in [Layout::Serpentine, Layout::CounterFlow] {
        let (outlet, heat) = Exchanger::new(layout, units, CAPACITY).march(9.0, &[2.0; ZONES]);
        close(outlet, 4.15057, 1e-5);
        let total: f64 = heat.iter().sum();
        close(total, 1222.065, 2e-3);
        close(total, CAPACITY * (9.0 - outlet), 1e-9);
        let log_mean = (9.0 - outlet) / libm::log((9.0 - 2.0) / (outlet - 2.0));
        close(log_mean, 4.10907, 1e-5);
        close(LENGTH / RESISTANCE * log_mean, total, 1e-6);
    }
    close(2.0 + 7.0 * libm::exp(-units / 2.0), 5.87994, 1e-5);
    // First half against second half of the tube: e^(NTU/2).
    let (_, heat) = Exchanger::new(Layout::Serpentine, 1.5, CAPACITY).march(9.0, &[2.0; ZONES]);
    close((heat[0] + heat[1]) / (heat[2] + heat[3]), 2.117, 1e-3);
}

#[test]
fn two_floors_in_one_loop() {
    let e = effectiveness(transfer_units(LENGTH, RESISTANCE, CAPACITY));
    close(loop_conductance_w_k(CAPACITY, e, e), 133.5508, 1e-3);
    close(loop_conductance_w_k(CAPACITY, 0.5, 0.9), 119.3692, 1e-3);
    let plain = loop_temperatures(CAPACITY, e, e, 9.0, 2.0, 0.0);
    close(plain.supply_c, 7.3549, 1e-4);
    close(plain.return_c, 3.6451, 1e-4);
    close(plain.slab_heat_w, 934.855, 5e-3);
    let pumped = loop_temperatures(CAPACITY, e, e, 9.0, 2.0, 35.0);
    close(pumped.supply_c, 7.5082, 1e-4);
    close(pumped.return_c, 3.6923, 1e-4);
    close(pumped.slab_heat_w, 961.630, 5e-3);
}

/// Steady floor of `zones` zones, each with loss `u` W/mK per metre of tube, water in at 1 over surroundings at 0. Returns
/// heat and zone temperatures. Independent of `Exchanger` apart from the idea: solved by relaxation on many small zones.
fn relaxed(layout: Layout, u: f64, zones: usize) -> (f64, Vec<f64>) {
    let order: Vec<usize> = match layout {
        Layout::Serpentine => (0..zones).collect(),
        Layout::CounterFlow => (0..zones).chain((0..zones).rev()).collect(),
    };
    let piece = LENGTH / order.len() as f64;
    let decay = libm::exp(-piece / (RESISTANCE * CAPACITY));
    let metres = LENGTH / zones as f64;
    let mut core = vec![0.5; zones];
    loop {
        let mut heat = vec![0.0; zones];
        let mut water = 1.0;
        for &zone in &order {
            let next = core[zone] + (water - core[zone]) * decay;
            heat[zone] += CAPACITY * (water - next);
            water = next;
        }
        let target: Vec<f64> = heat.iter().map(|q| q / (u * metres)).collect();
        let change = target
            .iter()
            .zip(&core)
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f64::max);
        for (c, t) in core.iter_mut().zip(&target) {
            *c += 0.2 * (t - *c);
        }
        if change < 1e-10 {
            return (CAPACITY * (1.0 - water), core);
        }
    }
}

#[test]
fn layouts_agree_with_their_analytic_solutions() {
    let g = 1.0 / RESISTANCE;
    for (u, serpentine, spiral) in [
        (
            2.25,
            [93.7405, 0.60583, 0.38047],
            [91.7329, 0.49557, 0.46340],
        ),
        (
            0.75,
            [47.8014, 0.82178, 0.66590],
            [47.0831, 0.74501, 0.72247],
        ),
    ] {
        let k = g * u / (g + u);
        close(
            CAPACITY * effectiveness(k * LENGTH / CAPACITY),
            serpentine[0],
            1e-3,
        );
        close(g / (g + u), serpentine[1], 1e-5);
        let b = (u / (g + u)).sqrt();
        let x = g / CAPACITY * b * LENGTH / 2.0;
        let a = 2.0 / (libm::cosh(x) + b * libm::sinh(x));
        close(CAPACITY * b * a * libm::sinh(x), spiral[0], 1e-3);
        close(g / (2.0 * (g + u)) * a * libm::cosh(x), spiral[1], 1e-5);
        close(g / (2.0 * (g + u)) * a, spiral[2], 1e-5);

        for (layout, [heat, warm, cool]) in [
            (Layout::Serpentine, serpentine),
            (Layout::CounterFlow, spiral),
        ] {
            let (fine_heat, core) = relaxed(layout, u, 200);
            close(fine_heat, heat, 2e-3 * heat);
            close(core[0], warm, 2e-3);
            close(core[199], cool, 2e-3);
            // Four zones: heat within half a per cent, the same order from warm to cool.
            let (coarse_heat, coarse) = relaxed(layout, u, ZONES);
            close(coarse_heat, heat, 0.005 * heat);
            assert!(coarse[0] > coarse[ZONES - 1]);
        }
    }
}

#[test]
fn no_difference_no_heat_and_colder_water_takes_heat() {
    let exchanger = Exchanger::new(Layout::Serpentine, 1.18, CAPACITY);
    let (outlet, heat) = exchanger.march(5.0, &[5.0; ZONES]);
    assert_eq!((outlet, heat), (5.0, [0.0; ZONES]));
    assert!(
        exchanger
            .march(3.0, &[5.0; ZONES])
            .1
            .iter()
            .all(|&q| q < 0.0)
    );
}
