//! Reference: half-space draw-down with and without lateral gain, undisturbed ground, conservation.

use super::super::config::FloorConfig;
use super::*;

#[track_caller]
fn close(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "got {got}, want {want} within {tolerance}"
    );
}

const DAY: f64 = 86_400.0;

/// A store whose walls and air take no part, over uniform ground.
fn bare(lateral_gain: bool) -> (Store, GroundConfig) {
    let ground = GroundConfig {
        amplitude_k: 0.0,
        mean_c: 9.0,
        lateral_gain,
        ..GroundConfig::default()
    };
    let config = StoreConfig {
        wall_area_m2: 1e-6,
        air_volume_m3: 1e-3,
        contents_j_k: 0.0,
        floor: FloorConfig {
            thickness_m: 0.02,
            tube_depth_m: 0.01,
            conductivity_w_mk: ground.conductivity_w_mk,
            heat_capacity_j_m3k: ground.heat_capacity_j_m3k,
            ..FloorConfig::default()
        },
        ..StoreConfig::default()
    };
    (Store::new(&config, &ground, 0.0), ground)
}

#[test]
fn steady_draw_on_the_earth_follows_the_closed_form() {
    // 26.7 W/m² for 1, 7, 30 days at a plane 10 mm deep in uniform ground under an adiabatic surface: half the draw-down at
    // the surface, half (its image) 20 mm away.
    let (mut store, ground) = bare(false);
    let flux = 800.0 / 30.0;
    let heat_w = [-flux * store.floor.zone_m2(); ZONES];
    let mut steps = 0;
    for days in [1, 7, 30] {
        while steps < days * 1440 {
            store.step(60.0, &heat_w, 0.0, 0.0);
            steps += 1;
        }
        let at = |depth_m| ground::draw_down_k(&ground, flux, depth_m, f64::from(days) * DAY);
        let want = 0.5 * (at(0.0) + at(0.02));
        close((9.0 - store.floor.core_mean_c()) / want, 1.0, 0.005);
    }
}

#[test]
fn lateral_gain_halts_a_seasons_draw_down() {
    let draw = |lateral| {
        let (mut store, _) = bare(lateral);
        let heat_w = [-26.7 * store.floor.zone_m2(); ZONES];
        (0..90 * 1440).for_each(|_| {
            store.step(60.0, &heat_w, 0.0, 0.0);
        });
        9.0 - store.floor.core_mean_c()
    };
    let (endless, finite) = (draw(false), draw(true));
    assert!(finite < 0.7 * endless, "{finite} against {endless}");
}

#[test]
fn left_alone_it_stays_near_undisturbed_ground() {
    let (config, ground) = (StoreConfig::default(), GroundConfig::default());
    let mut store = Store::new(&config, &ground, 274.0);
    for step in 0..(365 * 1440) {
        let day = 274.0 + f64::from(step) / 1440.0;
        store.step(60.0, &[0.0; ZONES], 0.0, day);
        if step % (30 * 1440) == 0 {
            let undisturbed = ground::kusuda_c(&ground, config.depth_m, day);
            close(store.floor.core_mean_c(), undisturbed, 0.4);
            close(store.air_c(), undisturbed, 0.4);
        }
    }
}

#[test]
fn heat_is_conserved_through_quick_and_slow_parts() {
    let mut store = Store::new(&StoreConfig::default(), &GroundConfig::default(), 300.0);
    let before = store.stored_j();
    let (mut net, mut gross) = (0.0, 0.0);
    for step in 0..20_000_u32 {
        let heat = 800.0 * libm::sin(f64::from(step) * 0.01);
        let dt = if step % 5 == 0 { 13.0 } else { 60.0 };
        let tube = [heat, -heat, 0.5 * heat, 100.0];
        let gains = store.step(dt, &tube, -50.0, 300.0 + f64::from(step) / 1440.0);
        let flows = [
            gains.lateral_j,
            gains.walls_j,
            tube.iter().sum::<f64>() * dt,
            -50.0 * dt,
        ];
        net += flows.iter().sum::<f64>();
        gross += flows.iter().map(|j| j.abs()).sum::<f64>();
    }
    close(store.stored_j() - before, net, 1e-9 * gross);
}

#[test]
fn the_air_answers_within_hours_and_the_walls_carry_a_cold_spell() {
    // 500 W drawn from the air: walls and floor give it, the air settles within a few kelvin.
    let mut store = Store::new(&StoreConfig::default(), &GroundConfig::default(), 288.0);
    let start = store.air_c();
    for _ in 0..(3 * 1440) {
        store.step(60.0, &[0.0; ZONES], -500.0, 288.0);
    }
    let drop = start - store.air_c();
    assert!((1.0..8.0).contains(&drop), "{drop}");
}
