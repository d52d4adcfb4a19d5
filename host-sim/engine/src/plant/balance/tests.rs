//! Reference: the worked house, hand-checkable arithmetic with IAPWS water and the `fluids`/`ht` correlations.

use super::super::config::{Curtain, PlantConfig};
use super::*;

#[track_caller]
fn close(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "got {got}, want {want} within {tolerance}"
    );
}

/// The demo site without losses of the runs, which the hand calculation leaves out: they do not enter the balance. Its slab's
/// underside is insulated in the hand calculation.
fn worked() -> PlantConfig {
    let mut config = PlantConfig::default();
    config.floor.underside_w_m2k = 0.0;
    config
}

#[test]
fn the_demo_house_is_the_worked_house() {
    let house = worked().house;
    close(house.roof_area_m2(), 23.6373, 1e-4);
    close(house.side_area_m2(), 22.8, 1e-9);
    close(house.gable_area_m2(), 16.56, 1e-9);
    close(house.glazing_area_m2(), 62.9973, 1e-4);
    close(house.volume_m3(), 49.68, 1e-9);
    close(house.perimeter_m(), 19.2, 1e-9);
    close(house.envelope_w_k(false), 227.5771, 1e-3);
    close(house.edge_w_k(), 17.9443, 1e-4);
    // Handbook check of infiltration: .3593 W per (1/h · m³ · K) at 1.7 °C, 90 %.
    close(
        house.infiltration_w_k(1.0) / house.volume_m3(),
        0.3593,
        1e-4,
    );
}

#[test]
fn the_loop_design_gives_the_worked_flow_and_resistances() {
    let config = worked();
    let design = LoopDesign::new(&config);
    let point = design.flow_point(Path::Series, 7.0);
    close(point.flow_l_s, 0.0600, 2e-6);
    close(point.capacity_w_k, 252.0017, 0.03);
    close(point.house_effectiveness, 0.692776, 5e-5);
    let fluid = config.fluid.properties(7.0);
    let parts = super::super::operating::TubeResistance::of(&config.floor, &fluid, 0.060);
    close(parts.film_mk_w, 0.013498, 1e-5);
    close(parts.wall_mk_w, 0.120490, 1e-6);
    close(parts.plane_mk_w * 0.25, 0.038795, 1e-6);
    close(parts.total_mk_w(), 0.289166, 1e-5);
    assert!(
        point.head_m > 8.0,
        "both floors in series need some nine metres: {}",
        point.head_m
    );
}

#[test]
fn balance_points_given_the_slab() {
    let config = worked();
    for (store, pump, curtain, [air, outdoor, heat, supply, ret]) in [
        (7.0, 0.0, false, [-1.6105, -4.0663, 667.754, 5.8249, 3.1751]),
        (9.0, 0.0, false, [-3.0546, -6.4928, 934.855, 7.3549, 3.6451]),
        (
            11.0,
            0.0,
            false,
            [-4.4988, -8.9194, 1201.957, 8.8848, 4.1152],
        ),
        (
            9.0,
            35.0,
            false,
            [-3.1994, -6.7361, 961.630, 7.5082, 3.6923],
        ),
        (9.0, 0.0, true, [-2.7530, -9.0948, 934.855, 7.3549, 3.6451]),
    ] {
        let mut config = config.clone();
        config.house.curtain = Some(Curtain {
            u_w_m2k: 1.7,
            air_changes_per_h: 0.5,
        });
        let options = BalanceOptions {
            pump_heat_w: pump,
            curtain_drawn: curtain,
            ..BalanceOptions::default()
        };
        let got = balance_point(&config, Given::SlabCore(2.0), store, &options);
        close(got.air_c, air, 1e-3);
        close(got.outdoor_c, outdoor, 1e-3);
        close(got.heat_w, heat, 0.1);
        close(got.supply_c, supply, 1e-3);
        close(got.return_c, ret, 1e-3);
        close(got.loop_conductance_w_k, 133.5508, 0.02);
        close(got.slab_to_air_w_k, 154.8, 1e-6);
    }
    let mut curtained = config;
    curtained.house.curtain = Some(Curtain {
        u_w_m2k: 1.7,
        air_changes_per_h: 0.5,
    });
    close(curtained.house.envelope_w_k(true), 116.0196, 1e-3);
}

#[test]
fn balance_points_given_the_air() {
    for (store, slab, outdoor, heat) in [
        (7.0, 4.0966, 0.5739, 387.758),
        (9.0, 4.9352, 0.0035, 542.861),
        (11.0, 5.7738, -0.5670, 697.964),
    ] {
        let got = balance_point(
            &worked(),
            Given::Air(2.0),
            store,
            &BalanceOptions::default(),
        );
        close(got.slab_c, slab, 1e-3);
        close(got.air_c, 2.0, 1e-9);
        close(got.outdoor_c, outdoor, 1e-3);
        close(got.heat_w, heat, 0.1);
    }
}

#[test]
fn balance_with_the_floor_film_of_the_standard() {
    let options = BalanceOptions {
        floor_film: FloorFilm::Curve,
        ..BalanceOptions::default()
    };
    let got = balance_point(&worked(), Given::SlabCore(2.0), 9.0, &options);
    close(got.floor_film_w_m2k, 10.144, 1e-3);
    close(got.outdoor_c, -6.108, 1e-3);
    close(got.air_c, -2.639, 1e-3);
}

#[test]
fn time_constants_of_the_worked_slab() {
    // Lumped slab, air massless: 11.4467 h with the loop off, 5.1719 h on; 5 °C, step to −10 °C, store 9 °C.
    let got = balance_point(
        &worked(),
        Given::SlabCore(2.0),
        9.0,
        &BalanceOptions::default(),
    );
    let house = worked().house;
    let losses =
        1.0 / (1.0 / got.slab_to_air_w_k + 1.0 / house.envelope_w_k(false)) + house.edge_w_k();
    let capacity = house.floor_area_m2() * 0.1 * 2.1e6;
    close(capacity, 4.536e6, 1.0);
    close(capacity / losses / 3600.0, 11.4467, 1e-3);
    let on = losses + got.loop_conductance_w_k;
    close(capacity / on / 3600.0, 5.1719, 1e-3);
    let equilibrium = (losses * -10.0 + got.loop_conductance_w_k * 9.0) / on;
    close(equilibrium, 0.4154, 2e-3);
    for (hours, off, with_loop) in [
        (1.0, 3.7452, 4.1940),
        (3.0, 1.5417, 2.9821),
        (6.0, -1.1193, 1.8524),
        (12.0, -4.7422, 0.8658),
        (24.0, -8.1570, 0.4596),
    ] {
        close(
            -10.0 + 15.0 * libm::exp(-hours * 3600.0 * losses / capacity),
            off,
            1e-3,
        );
        close(
            equilibrium + (5.0 - equilibrium) * libm::exp(-hours * 3600.0 * on / capacity),
            with_loop,
            2e-3,
        );
    }
}

/// By hand: 12.689 W/K of underside bring 88.8 W more from a store 7 K warmer, over the 110.076 W/K of the worked house.
#[test]
fn the_store_below_warms_the_slab_through_its_underside() {
    let with = |underside_w_m2k| {
        let mut config = worked();
        config.floor.underside_w_m2k = underside_w_m2k;
        balance_point(
            &config,
            Given::SlabCore(2.0),
            9.0,
            &BalanceOptions::default(),
        )
    };
    close(with(0.6).outdoor_c, -7.2997, 2e-3);
    close(with(0.6).air_c, -3.5349, 2e-3);
    close(with(0.6).heat_w, with(0.0).heat_w, 1e-9);
}

/// The linear equations written out and solved apart (numpy 2.4): 115.8 m of 1/2 in tube on 44.6 m², 0.05 L/s, underside 0.6 W/m²K.
#[test]
fn tube_that_leaves_floor_bare_holds_the_whole_floor_less_far() {
    let mut config = worked();
    (config.house.width_m, config.house.length_m) = (4.8768, 9.144);
    config.circulator.measured_flow_l_s = Some(0.05);
    config.floor.underside_w_m2k = 0.6;
    for floor in [&mut config.floor, &mut config.store.floor] {
        floor.tube = super::super::tube::Tube::ALL[1];
        floor.circuit_length_m = 115.824;
    }
    let held = |spacing_m: f64| {
        let mut config = config.clone();
        config.floor.spacing_m = spacing_m;
        config.store.floor.spacing_m = spacing_m;
        balance_point(&config, Given::Floor(2.0), 9.0, &BalanceOptions::default())
    };
    let [wide, middle, close_by] = [0.381, 0.2032, 0.1016].map(held);
    assert_eq!(wide.bare_c, None);
    for (got, covered) in [(middle, 23.535), (close_by, 11.768)] {
        let bare_c = got.bare_c.expect("floor without tube");
        let whole = 4.8768 * 9.144;
        close(
            (got.slab_c * covered + bare_c * (whole - covered)) / whole,
            2.0,
            1e-3,
        );
        assert!(bare_c < 2.0 && got.slab_c > 2.0, "{got:?}");
        // The floor without tube: air above, edge and store beside and below, in balance.
        let area_m2 = whole - covered;
        let flows = area_m2 / (1.0 / 9.0 + 0.05 / 1.8) * (got.air_c - bare_c)
            + config.house.edge_w_k() * area_m2 / whole * (got.outdoor_c - bare_c)
            + area_m2 / (1.0 / 0.6 + 0.05 / 1.8) * (9.0 - bare_c);
        close(flows, 0.0, 0.1);
    }
    assert!(
        wide.outdoor_c < middle.outdoor_c - 0.2 && middle.outdoor_c < close_by.outdoor_c - 0.2,
        "{wide:?} {middle:?} {close_by:?}"
    );
    assert!(wide.heat_w > middle.heat_w && middle.heat_w > close_by.heat_w);
}
