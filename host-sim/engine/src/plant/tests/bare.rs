//! Floor without tube: where it settles, what it costs, and that nothing is lost in it.

use super::*;

#[test]
fn half_a_floor_without_tube_settles_where_the_balance_says() {
    let mut config = steady();
    config.floor.circuit_length_m = 43.0;
    let mut plant = Plant::new(&config, 1);
    hours(&mut plant, 160.0, &dull(-6.4, 300.0), RUN);
    let state = plant.true_state();
    let options = BalanceOptions {
        floor_film: FloorFilm::Curve,
        pump_heat_w: 45.0 * 0.78,
        water_c: 0.5 * (state.supply_c + state.return_c),
        ..BalanceOptions::default()
    };
    let want = balance_point(
        &config,
        Given::SlabCore(state.slab_core_c),
        state.store_floor_c,
        &options,
    );
    let bare_c = plant.bare_floor_c().expect("floor without tube");
    // The balance knows no heat from one part of the floor to the other, some 2 W/K, nor a film of its own for each.
    close(want.outdoor_c, -6.4, 0.4);
    close(bare_c, want.bare_c.expect("the same"), 0.5);
    assert!(bare_c < state.slab_core_c - 2.0, "{bare_c} {state:?}");
    assert!(plant.closure() < 1e-9, "{}", plant.closure());
}

#[test]
fn the_less_floor_has_tube_the_colder_the_floor_and_its_air() {
    // The same 86 m at 25, 12.5 and 6 cm: the loop gives less heat to a smaller part of the floor.
    let [covered, half, quarter] = [0.25, 0.125, 0.06].map(|spacing_m| {
        let mut config = without_boiler();
        config.floor.spacing_m = spacing_m;
        config.circulator.measured_flow_l_s = Some(0.060);
        let mut plant = Plant::new(&config, 1);
        hours(&mut plant, 72.0, &dull(-6.0, 300.0), RUN);
        assert!(plant.closure() < 1e-9, "{}", plant.closure());
        let state = plant.true_state();
        let share = config.bare_floor_m2() / config.house.floor_area_m2();
        let bare_c = plant.bare_floor_c();
        let floor_c = state.slab_core_c * (1.0 - share) + bare_c.unwrap_or(0.0) * share;
        (floor_c, state.air_c, bare_c, plant.ledger().bare_edge_j)
    });
    assert_eq!((covered.2, covered.3), (None, 0.0));
    assert!(covered.0 > half.0 + 0.1 && half.0 > quarter.0 + 0.1);
    assert!(covered.1 > half.1 && half.1 > quarter.1);
    assert!(half.3 > 0.0 && quarter.3 > half.3, "{half:?} {quarter:?}");
}

#[test]
fn the_store_below_warms_a_slab_at_rest() {
    let coldest = |underside_w_m2k| {
        let mut config = without_boiler();
        config.floor.underside_w_m2k = underside_w_m2k;
        let mut plant = Plant::new(&config, 1);
        hours(&mut plant, 96.0, &dull(-15.0, 20.0), REST);
        assert!(plant.closure() < 1e-9, "{}", plant.closure());
        (plant.true_state().slab_core_c, plant.ledger().underside_j)
    };
    let (none, foam, bare) = (coldest(0.0), coldest(0.6), coldest(10.0));
    assert!(
        foam.0 > none.0 + 0.5 && bare.0 > foam.0 + 1.0,
        "{none:?} {foam:?} {bare:?}"
    );
    assert!(none.1 == 0.0 && foam.1 < -1.0e7 && bare.1 < 2.0 * foam.1);
}
