//! Reference: conservation, plug-flow delay, and the quasi-steady freezing cylinder (Stefan).

use super::super::pipe;
use super::*;
use core::f64::consts::PI;

const WATER: Liquid = Liquid {
    heat_capacity_j_lk: 4200.0,
    freezing_c: 0.0,
};

#[track_caller]
fn close(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "got {got}, want {want} within {tolerance}"
    );
}

#[test]
fn what_goes_in_comes_out_one_volume_later() {
    let mut column = WaterColumn::new(9.6, 86.0, 5.0, 0.0, WATER);
    // 0.6 L a step: 16 steps fill it.
    for step in 0..15 {
        close(column.pass(0.6, 20.0), 5.0, 1e-12);
        assert!(step < 15);
    }
    let mut passed = 0.0;
    for _ in 0..4 {
        passed += column.pass(0.6, 20.0);
    }
    assert!(
        passed / 4.0 > 15.0,
        "front must have arrived: {}",
        passed / 4.0
    );
    for _ in 0..20 {
        column.pass(0.6, 20.0);
    }
    close(column.pass(0.6, 20.0), 20.0, 1e-9);
}

#[test]
fn more_than_its_volume_passes_straight_through() {
    let mut column = WaterColumn::new(0.3, 3.0, 5.0, 0.0, WATER);
    close(
        column.pass(3.6, 20.0),
        (0.3 * 5.0 + 3.3 * 20.0) / 3.6,
        1e-12,
    );
    close(column.outlet_c(), 20.0, 1e-12);
}

#[test]
fn heat_is_conserved_in_any_order_of_flow_and_rest() {
    let mut column = WaterColumn::new(9.7, 86.0, 5.0, 220.0, WATER);
    let mut net = 0.0;
    let before = column.stored_j();
    for step in 0..2000_u32 {
        let inlet = 10.0 + 8.0 * libm::sin(f64::from(step) * 0.7);
        if step % 50 < 30 {
            let litres = 0.3 + 0.2 * f64::from(step % 7);
            let outlet = column.pass(litres, inlet);
            net += litres * 4200.0 * (inlet - outlet);
        } else {
            let heat = column.rest(60.0, &[-9.0, -7.0, 3.0, 1.0]);
            net -= heat.iter().sum::<f64>() * 60.0;
        }
    }
    close(column.stored_j() - before, net, 1e-6 * net.abs());
}

#[test]
fn still_water_takes_the_temperature_around_it() {
    let mut column = WaterColumn::new(1.0, 9.0, 8.0, 1000.0 / 3600.0 * 4.2, WATER);
    // Time constant one hour: after one hour 1/e of the difference is left.
    for _ in 0..60 {
        column.rest(60.0, &[2.0; ZONES]);
    }
    close(column.outlet_c(), 2.0 + 6.0 * libm::exp(-1.0), 1e-9);
}

#[test]
fn water_supercools_then_freezes_as_stefan_says() {
    // One metre of 12 mm bore with 2.0 m K/W to −10 °C; litres as kilograms of water.
    let (inside, resistance): (f64, f64) = (0.012, 2.0);
    let litres = PI / 4.0 * inside * inside * 1000.0;
    let mut column = WaterColumn::new(litres, 1.0, 2.0, 1.0 / resistance, WATER);
    let mut seconds: u32 = 0;
    while column.ice_fraction() == 0.0 {
        column.rest(1.0, &[-10.0; ZONES]);
        seconds += 1;
        assert!(!column.is_blocked());
    }
    let tau = litres * 4200.0 * resistance;
    let expected = pipe::time_to_cool_s(tau, 2.0, -4.0, -10.0).unwrap();
    close(f64::from(seconds), expected, 2.0);
    close(column.outlet_c(), 0.0, 0.0);
    close(column.ice_fraction(), 4.0 * 4200.0 / FUSION_J_KG, 1e-3);

    let start = column.ice_fraction();
    let mut frozen: u32 = 0;
    while !column.is_damaged() {
        column.rest(10.0, &[-10.0; ZONES]);
        frozen += 10;
    }
    assert!(column.is_blocked());
    // Stefan for the share frozen here; the column counts kilograms, so the density of ice drops out.
    let share =
        |f: f64| f * resistance + ((1.0 - f) * libm::log(1.0 - f) + f) / (4.0 * PI * ICE_W_MK);
    let want = litres * FUSION_J_KG * (share(0.95) - share(start)) / 10.0;
    close(f64::from(frozen) / want, 1.0, 0.02);
}

#[test]
fn ice_melts_in_warm_surroundings_and_in_passing_water() {
    let mut column = WaterColumn::new(0.2, 2.0, 1.0, 2.0, WATER);
    while column.ice_fraction() < 0.2 {
        column.rest(10.0, &[-15.0; ZONES]);
    }
    let mut flushed = column.clone();
    for _ in 0..5000 {
        column.rest(10.0, &[5.0; ZONES]);
    }
    assert_eq!(column.ice_fraction(), 0.0);
    close(column.outlet_c(), 5.0, 1e-6);
    let before = flushed.stored_j();
    let mut net = 0.0;
    for _ in 0..50 {
        net += 0.1 * 4200.0 * (6.0 - flushed.pass(0.1, 6.0));
    }
    assert_eq!(flushed.ice_fraction(), 0.0);
    close(flushed.stored_j() - before, net, 1e-6 * net);
    assert!(!flushed.is_damaged());
}
