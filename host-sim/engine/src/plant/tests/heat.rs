//! The boiler, its piping and mixing valve.

use super::*;

#[test]
fn boiler_heat_passes_the_store_in_series_but_not_in_bypass_piping() {
    let run = |piping| {
        let fire = HandFiredConfig {
            tending: Tending::ByHand,
            ..HandFiredConfig::default()
        };
        let boiler = BoilerConfig {
            kind: BoilerKind::HandFired(fire),
            piping,
            mixing_c: Some(35.0),
        };
        let config = PlantConfig {
            boiler: Some(boiler),
            ..PlantConfig::default()
        };
        let mut plant = Plant::new(&config, 1);
        let cold = dull(-12.0, 20.0);
        hours(&mut plant, 10.0, &cold, RUN);
        plant.load_fuel(25.0);
        plant.light_fire();
        let before = *plant.ledger();
        let mut hottest: f64 = 0.0;
        for _ in 0..240 {
            plant.step(60.0, &cold, HEAT);
            hottest = hottest.max(plant.true_state().supply_c);
        }
        let (after, state) = (*plant.ledger(), plant.true_state());
        assert!(hottest <= 35.0 + 1e-9, "{hottest}");
        assert!(
            state.boiler_heat_w > 1500.0 && state.wood_kg > 1.0,
            "{state:?}"
        );
        assert!(plant.closure() < 1e-9);
        (
            after.boiler_j - before.boiler_j,
            after.slab_j - before.slab_j,
            after.earth_j - before.earth_j,
        )
    };
    let (boiler, slab, earth) = run(Piping::Series);
    assert!(
        earth < -0.1 * boiler,
        "series piping must warm the store: {earth}"
    );
    assert!(slab < boiler);
    let (boiler, slab, earth) = run(Piping::Bypass);
    assert!(
        earth.abs() < 0.02 * boiler,
        "bypass piping must not: {earth}"
    );
    close(slab / boiler, 1.0, 0.1);
}

#[test]
fn water_left_out_of_a_bypassed_loop_stands_and_can_freeze() {
    let mut config = exposed(0.0);
    config.boiler = Some(BoilerConfig {
        kind: BoilerKind::Injection { capacity_w: 6000.0 },
        piping: Piping::Bypass,
        mixing_c: Some(35.0),
    });
    let mut plant = Plant::new(&config, 1);
    hours(&mut plant, 3.0, &dull(-20.0, 20.0), HEAT);
    let state = plant.true_state();
    assert!(
        state.flow_l_s > 0.05 && state.boiler_heat_w > 1000.0,
        "the slab's water moves: {state:?}"
    );
    assert!(
        state.ice_fraction > 0.1,
        "the bypassed exposed run does not: {state:?}"
    );
}

#[test]
fn an_oversized_boiler_without_a_mixing_valve_sends_scalding_water() {
    let fire = HandFiredConfig {
        rated_w: 40_000.0,
        tending: Tending::ByHand,
        ..HandFiredConfig::default()
    };
    let boiler = BoilerConfig {
        kind: BoilerKind::HandFired(fire),
        piping: Piping::Series,
        mixing_c: None,
    };
    let mut plant = Plant::new(
        &PlantConfig {
            boiler: Some(boiler),
            ..PlantConfig::default()
        },
        1,
    );
    plant.load_fuel(25.0);
    plant.light_fire();
    hours(&mut plant, 1.0, &dull(-5.0, 20.0), HEAT);
    assert!(plant.true_state().supply_c > 60.0);
}
