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
/// As the demo site's.
const FLOOR_M2: f64 = 21.6;

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
    let floor_m2 = config.floor.heated_area_m2();
    (Store::new(&config, &ground, floor_m2, 0.0), ground)
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

/// Half the swing of the ground's surface, K; heat drawn for 151 days from day 305, W; tube plane and air every 30 days, °C.
type Season = (f64, f64, [(f64, f64); 12]);

/// The demo site's store in three dimensions (`tests/reference/cellar.py`, 27 244 nodes).
#[rustfmt::skip]
const CELLAR: [Season; 6] = [
    (3.0, 0.0, [
        (8.068, 7.961), (7.357, 7.186), (6.765, 6.575), (6.444, 6.284),
        (6.476, 6.388), (6.853, 6.862), (7.451, 7.595), (8.137, 8.380),
        (8.734, 9.012), (9.086, 9.328), (9.103, 9.245), (8.779, 8.784),
    ]),
    (3.0, 120.0, [
        (6.334, 6.824), (5.410, 5.843), (4.721, 5.141), (4.334, 4.807),
        (4.309, 4.893), (6.383, 6.467), (7.202, 7.387), (7.981, 8.250),
        (8.627, 8.923), (9.009, 9.264), (9.044, 9.196), (8.734, 8.746),
    ]),
    (3.0, 300.0, [
        (3.689, 5.145), (2.413, 3.867), (1.565, 3.033), (1.088, 2.624),
        (1.006, 2.662), (5.668, 5.867), (6.822, 7.071), (7.743, 8.052),
        (8.464, 8.788), (8.891, 9.166), (8.955, 9.122), (8.665, 8.689),
    ]),
    (12.0, 0.0, [
        (8.873, 8.444), (6.029, 5.345), (3.660, 2.899), (2.375, 1.734),
        (2.505, 2.152), (4.011, 4.049), (6.404, 6.981), (9.147, 10.120),
        (11.534, 12.649), (12.944, 13.912), (13.011, 13.578), (11.717, 11.737),
    ]),
    (12.0, 120.0, [
        (7.228, 7.253), (4.188, 3.964), (1.723, 1.433), (0.383, 0.220),
        (0.435, 0.626), (3.556, 3.664), (6.161, 6.779), (8.995, 9.993),
        (11.430, 12.563), (12.869, 13.849), (12.954, 13.531), (11.673, 11.700),
    ]),
    (12.0, 300.0, [
        (4.582, 5.575), (1.237, 1.946), (-1.359, -0.726), (-2.818, -1.988),
        (-2.861, -1.599), (2.848, 3.069), (5.785, 6.465), (8.760, 9.797),
        (11.269, 12.429), (12.752, 13.752), (12.866, 13.458), (11.604, 11.643),
    ]),
];

#[test]
fn a_year_of_the_store_follows_finite_volumes_in_three_dimensions() {
    for (amplitude_k, drawn_w, months) in CELLAR {
        let ground = GroundConfig {
            amplitude_k,
            ..GroundConfig::default()
        };
        let mut store = Store::new(&StoreConfig::default(), &ground, FLOOR_M2, 305.0);
        let mut hours = 0;
        for (month, (floor_c, air_c)) in (1_u32..).zip(months) {
            while hours < month * 30 * 24 {
                hours += 1;
                let drawn = if hours <= 151 * 24 { drawn_w } else { 0.0 };
                let day = 305.0 + f64::from(hours) / 24.0;
                store.step(3_600.0, &[-drawn / 4.0; ZONES], 0.0, day);
            }
            close(store.floor.core_mean_c(), floor_c, 0.4);
            close(store.air_c(), air_c, 0.4);
        }
    }
}

/// What floor without tube brings: more earth for the store's air, none for the tubes.
#[test]
fn floor_of_the_store_without_tube_feeds_its_air() {
    let after = |floor_m2| {
        let mut store = Store::new(
            &StoreConfig::default(),
            &GroundConfig::default(),
            floor_m2,
            288.0,
        );
        let before_j = store.stored_j();
        let mut ground_j = 0.0;
        for step in 0..30 * 1440 {
            let day = 288.0 + f64::from(step) / 1440.0;
            let gains = store.step(60.0, &[-75.0; ZONES], 0.0, day);
            ground_j += gains.lateral_j + gains.walls_j;
        }
        let given_j = ground_j - 300.0 * 30.0 * DAY;
        close((store.stored_j() - before_j) / given_j, 1.0, 1e-9);
        (store.floor.core_mean_c(), store.air_c())
    };
    let (covered, half) = (after(21.5), after(43.0));
    assert!(half.1 > covered.1 + 0.3, "{half:?} {covered:?}");
    assert!(half.0 > covered.0, "{half:?} {covered:?}");
}

#[test]
fn heat_is_conserved_through_quick_and_slow_parts() {
    let mut store = Store::new(
        &StoreConfig::default(),
        &GroundConfig::default(),
        FLOOR_M2,
        300.0,
    );
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
    let mut store = Store::new(
        &StoreConfig::default(),
        &GroundConfig::default(),
        FLOOR_M2,
        288.0,
    );
    let start = store.air_c();
    for _ in 0..(3 * 1440) {
        store.step(60.0, &[0.0; ZONES], -500.0, 288.0);
    }
    let drop = start - store.air_c();
    assert!((1.0..8.0).contains(&drop), "{drop}");
}
