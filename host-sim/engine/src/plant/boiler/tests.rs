//! Reference: university wood-heat tables, EN 303-5 buffer rule, conservation.

use super::*;
use crate::plant::config::Tending;

#[track_caller]
fn close(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "got {got}, want {want} within {tolerance}"
    );
}

const AROUND: Surround = Surround {
    air_c: 0.0,
    hour: 12.0,
    fire_out: false,
    no_fuel: false,
    told: Told::Nothing,
};

#[test]
fn wood_values() {
    for (moisture, higher, lower) in [(0.2, 16.0, 14.471), (0.3, 14.0, 12.357), (0.5, 10.0, 8.129)]
    {
        close(wood_higher_mj_kg(moisture), higher, 1e-9);
        close(wood_lower_mj_kg(moisture), lower, 1e-3);
    }
    for (efficiency, kg_h) in [(0.30, 3.75), (0.43, 2.62), (0.55, 2.05), (0.65, 1.73)] {
        close(wood_kg_h(5.0, efficiency, 16.0), kg_h, 0.005);
    }
    // A cord of red oak, 27.33 GJ, delivers 2277 / 3264 / 4175 / 4934 kWh.
    for (efficiency, kwh) in [
        (0.30, 2277.0),
        (0.43, 3264.0),
        (0.55, 4175.0),
        (0.65, 4934.0),
    ] {
        close(27.33e9 * efficiency / 3.6e6, kwh, 1.5);
    }
}

#[test]
fn mixing_and_buffers() {
    // Lifting a 5 °C return to 60 °C with 75 °C water; mixing a 30 °C supply from 75 and 5 °C.
    close(mixing_share(5.0, 75.0, 60.0), 0.7857, 1e-4);
    close(mixing_share(5.0, 75.0, 30.0), 0.3571, 1e-4);
    close(buffer_l(2.0, 32.0, 25.0, 32.0), 735.0, 1.0);
    // 150 US gallons from 85 to 65 °C: 12.89 kWh.
    close(
        150.0 * 3.785412 * 0.9755 * 4190.0 * 20.0 / 3.6e6,
        12.89,
        0.02,
    );
}

fn hand_fired(fire: HandFiredConfig, mixing_c: Option<f64>) -> Boiler {
    let config = BoilerConfig {
        kind: BoilerKind::HandFired(fire),
        mixing_c,
        ..BoilerConfig::default()
    };
    let mut boiler = Boiler::new(&config, 20.0);
    boiler.load_fuel(1000.0);
    boiler.light_fire();
    boiler
}

#[test]
fn heat_in_is_heat_out_plus_stored_through_a_whole_fire() {
    let fire = HandFiredConfig {
        tending: Tending::ByHand,
        smoulder_efficiency: 0.55,
        ..HandFiredConfig::default()
    };
    let mut boiler = hand_fired(fire, Some(35.0));
    let start = boiler.stored_j();
    let (mut fire_j, mut loop_j, mut lost_j) = (0.0, 0.0, 0.0);
    let mut hottest_mix: f64 = 0.0;
    for step in 0..1440 {
        let call = step < 700;
        let draw = Some(Draw {
            inlet_c: 6.0,
            capacity_w_k: 250.0,
        });
        let (outlet, flows) = boiler.step(60.0, call, draw, &AROUND);
        hottest_mix = hottest_mix.max(outlet.unwrap());
        fire_j += flows.fire_w * 60.0;
        loop_j += flows.loop_w * 60.0;
        lost_j += flows.lost_w * 60.0;
    }
    close(
        fire_j - loop_j - lost_j,
        boiler.stored_j() - start,
        1e-6 * fire_j,
    );
    close(
        fire_j,
        boiler.burnt_kg() * fire.efficiency * fire.wood_j_kg,
        1e-6 * fire_j,
    );
    assert!(
        hottest_mix <= 35.0 + 1e-9,
        "mixing valve let {hottest_mix} °C through"
    );
    assert!(loop_j > 0.5 * fire_j);
    assert!(
        !boiler.is_alight(),
        "a charge of 25 kg cannot last a day under full call"
    );
    assert!(boiler.fuel_kg() < 0.2);
}

#[test]
fn the_fire_lags_its_damper_and_the_loop_sees_heat_late() {
    let fire = HandFiredConfig {
        tending: Tending::ByHand,
        ..HandFiredConfig::default()
    };
    let mut boiler = hand_fired(fire, Some(35.0));
    boiler.step(60.0, true, None, &AROUND);
    assert!(boiler.fire_w() < 0.1 * fire.rated_w);
    for _ in 0..15 {
        boiler.step(60.0, true, None, &AROUND);
    }
    let share = boiler.fire_w() / fire.rated_w;
    close(share, 1.0 - libm::exp(-16.0 / 15.0), 0.01);
}

#[test]
fn the_damper_shuts_when_the_call_ends_and_on_its_own_thermostat() {
    let fire = HandFiredConfig {
        tending: Tending::ByHand,
        ..HandFiredConfig::default()
    };
    let steps = |boiler: &mut Boiler, call: bool, minutes: u32| {
        for _ in 0..minutes {
            boiler.step(60.0, call, None, &AROUND);
        }
    };
    // A large jacket stays far below its thermostat: what shuts the damper is the end of the call.
    let mut large = hand_fired(
        HandFiredConfig {
            jacket_kg: 2000.0,
            ..fire
        },
        Some(35.0),
    );
    steps(&mut large, true, 60);
    assert!(large.fire_w() > 0.9 * fire.rated_w);
    steps(&mut large, false, 75);
    close(large.fire_w(), fire.smoulder_w, 0.02 * fire.rated_w);
    assert!(large.water_c() < fire.damper_closes_c - 20.0);
    let mut boiler = hand_fired(fire, Some(35.0));
    steps(&mut boiler, true, 240);
    // No draw: it overshoots its thermostat a little and smoulders, but does not boil.
    assert!(
        (fire.damper_closes_c - 10.0..100.0).contains(&boiler.water_c()),
        "{}",
        boiler.water_c()
    );
}

#[test]
fn no_fuel_no_fire_and_an_oversized_unmixed_boiler_gets_hot() {
    let mut empty = Boiler::new(&BoilerConfig::default(), 20.0);
    let draw = Some(Draw {
        inlet_c: 6.0,
        capacity_w_k: 250.0,
    });
    let (outlet, flows) = empty.step(
        60.0,
        true,
        draw,
        &Surround {
            no_fuel: true,
            ..AROUND
        },
    );
    assert_eq!(
        (outlet, flows.fire_w),
        (Some(20.0_f64.min(outlet.unwrap())), 0.0)
    );

    let fire = HandFiredConfig {
        rated_w: 40_000.0,
        tending: Tending::ByHand,
        ..HandFiredConfig::default()
    };
    let mut oversized = hand_fired(fire, None);
    let hottest = (0..120)
        .map(|_| oversized.step(60.0, true, draw, &AROUND).0.unwrap())
        .fold(0.0, f64::max);
    assert!(hottest > 60.0, "{hottest}");
}

#[test]
fn an_unlit_jacket_cools_like_a_lumped_body() {
    // 60 kg of water (4186 J/kgK), 25 W/K, from 60 °C to 5 °C surroundings: τ 10 046.4 s; closed form.
    let fire = HandFiredConfig {
        jacket_kg: 60.0 * 4186.0 / WATER_J_KGK,
        standby_w_k: 25.0,
        tending: Tending::ByHand,
        ..HandFiredConfig::default()
    };
    let config = BoilerConfig {
        kind: BoilerKind::HandFired(fire),
        ..BoilerConfig::default()
    };
    let mut boiler = Boiler::new(&config, 60.0);
    let mut seconds: u32 = 0;
    for (hours, want) in [
        (0.5, 50.97807),
        (1.0, 43.43605),
        (3.0, 23.77115),
        (10.0, 6.52800),
    ] {
        while f64::from(seconds) < hours * 3600.0 {
            boiler.step(
                1.0,
                false,
                None,
                &Surround {
                    air_c: 5.0,
                    ..AROUND
                },
            );
            seconds += 1;
        }
        close(boiler.water_c(), want, 2e-3);
    }
}

#[test]
fn fire_out_stays_out_until_lit_and_a_shut_boiler_boils_off_its_heat() {
    let fire = HandFiredConfig {
        tending: Tending::ByHand,
        smoulder_w: 3000.0,
        smoulder_efficiency: 0.55,
        standby_w_k: 5.0,
        ..HandFiredConfig::default()
    };
    let mut boiler = hand_fired(fire, Some(35.0));
    for _ in 0..600 {
        boiler.step(60.0, false, None, &AROUND);
        assert!(boiler.water_c() <= 100.0);
    }
    assert_eq!(boiler.water_c(), 100.0);
    let fuel = boiler.fuel_kg();
    boiler.step(
        60.0,
        true,
        None,
        &Surround {
            fire_out: true,
            ..AROUND
        },
    );
    assert!(!boiler.is_alight() && fuel > 0.0);
    for _ in 0..300 {
        boiler.step(60.0, true, None, &AROUND);
    }
    assert_eq!(boiler.fire_w(), 0.0);
}

#[test]
fn it_is_fed_at_its_hours_when_cold() {
    let mut boiler = Boiler::new(&BoilerConfig::default(), 20.0);
    let at = |hour: f64, air_c: f64| Surround {
        hour,
        air_c,
        ..AROUND
    };
    boiler.step(60.0, false, None, &at(17.98, 5.0));
    boiler.step(60.0, false, None, &at(18.0, 5.0));
    assert!(!boiler.is_alight(), "a mild evening");
    boiler.step(60.0, false, None, &at(6.99, -5.0));
    boiler.step(60.0, false, None, &at(7.01, -5.0));
    assert!(boiler.is_alight());
}

#[test]
fn injection_gives_heat_at_once_up_to_its_power() {
    let config = BoilerConfig {
        kind: BoilerKind::Injection { capacity_w: 3000.0 },
        mixing_c: Some(35.0),
        ..BoilerConfig::default()
    };
    let mut boiler = Boiler::new(&config, 20.0);
    let draw = |inlet_c| {
        Some(Draw {
            inlet_c,
            capacity_w_k: 250.0,
        })
    };
    close(
        boiler.step(60.0, true, draw(5.0), &AROUND).0.unwrap(),
        17.0,
        1e-9,
    );
    close(
        boiler.step(60.0, true, draw(30.0), &AROUND).0.unwrap(),
        35.0,
        1e-9,
    );
    close(
        boiler.step(60.0, true, draw(40.0), &AROUND).0.unwrap(),
        40.0,
        1e-9,
    );
    close(
        boiler.step(60.0, false, draw(5.0), &AROUND).0.unwrap(),
        5.0,
        1e-9,
    );
}

#[test]
fn a_call_is_answered_after_its_time_and_fed_while_it_stands() {
    let fire = HandFiredConfig {
        tending: Tending::OnCall,
        ..HandFiredConfig::default()
    };
    let config = BoilerConfig {
        kind: BoilerKind::HandFired(fire),
        ..BoilerConfig::default()
    };
    let mut boiler = Boiler::new(&config, 20.0);
    let draw = Some(Draw {
        inlet_c: 6.0,
        capacity_w_k: 250.0,
    });
    for _ in 0..600 {
        boiler.step(60.0, false, draw, &AROUND);
    }
    assert_eq!(boiler.burnt_kg(), 0.0, "nobody called");
    for _ in 0..15 {
        boiler.step(60.0, true, draw, &AROUND);
    }
    assert!(!boiler.is_alight());
    boiler.step(60.0, true, draw, &AROUND);
    assert!(boiler.is_alight());
    for _ in 0..24 * 60 {
        boiler.step(60.0, true, draw, &AROUND);
    }
    assert!(
        boiler.is_alight() && boiler.burnt_kg() > 2.0 * fire.charge_kg,
        "a call that stands is fed again: {} kg",
        boiler.burnt_kg()
    );
}
