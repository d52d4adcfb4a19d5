//! The whole plant against handbooks: what its parts give together must be what the printed curve or formula gives.
//! The parts' own check values stand beside their modules.

use host_sim::files::site::Site;
use host_sim::sim::plant::config::{
    BoilerConfig, BoilerKind, FloorConfig, HouseConfig, Piping, PlantConfig,
};
use host_sim::sim::plant::embedded::base_curve_w_m2;
use host_sim::sim::plant::exchanger::Layout;
use host_sim::sim::plant::fluid::Fluid;
use host_sim::sim::plant::hydraulics::{
    PumpCurve, Stretch, hydraulic_power_w, operating_flow_l_s, system_head_m, wire_to_water,
};
use host_sim::sim::plant::pipe::{outer_resistance_mk_w, time_to_cool_s, time_to_freeze_solid_s};
use host_sim::sim::plant::tube::Tube;
use host_sim::sim::plant::water_column::SUPERCOOLING_K;
use host_sim::sim::plant::{Plant, Relays};
use system_tests::dull;

#[track_caller]
fn close(got: f64, want: f64, relative: f64, what: &str) {
    assert!(
        (got / want - 1.0).abs() <= relative,
        "{what}: got {got}, want {want}"
    );
}

/// EN 1264-2, base curve q = 8.92 Δ^1.1 (from memory): its printed points, and what a plant in the steady state does.
#[test]
fn a_warm_floor_gives_what_the_base_curve_says() {
    for (difference_k, flux) in [
        (1.0, 8.920),
        (3.0, 29.868),
        (5.0, 52.388),
        (9.0, 100.007),
        (15.0, 175.414),
    ] {
        close(base_curve_w_m2(difference_k), flux, 1e-4, "printed point");
    }
    // A double spiral without edge loss, so that all of the floor is alike; a boiler that holds the supply.
    for (supply_c, least_k) in [(12.0, 1.0), (20.0, 3.0), (35.0, 6.0)] {
        let config = PlantConfig {
            house: HouseConfig {
                edge_loss_w_mk: 0.0,
                ..HouseConfig::default()
            },
            floor: FloorConfig {
                layout: Layout::CounterFlow,
                ..FloorConfig::default()
            },
            boiler: Some(BoilerConfig {
                kind: BoilerKind::Injection {
                    capacity_w: 20_000.0,
                },
                piping: Piping::Bypass,
                mixing_c: Some(supply_c),
            }),
            ..PlantConfig::default()
        };
        let mut plant = Plant::new(&config, 1);
        let heat = Relays {
            circulator: true,
            boiler_call: true,
        };
        for _ in 0..72 * 60 {
            plant.step(60.0, &dull(0.0, 20.0), heat);
        }
        let before_j = plant.ledger().floor_to_air_j;
        plant.step(60.0, &dull(0.0, 20.0), heat);
        let flux =
            (plant.ledger().floor_to_air_j - before_j) / 60.0 / config.floor.heated_area_m2();
        let state = plant.true_state();
        let difference_k = state.slab_surface_c - state.air_c;
        assert!(difference_k > least_k, "{state:?}");
        close(
            flux,
            base_curve_w_m2(difference_k),
            2e-3,
            "flux of the steady floor",
        );
    }
}

/// ASHRAE Fundamentals, insulation (2009 ch. 23 eq. 1): hours for 7 °C water in a still 1/2 in tube to reach 0 °C without the
/// wall's heat capacity, and Stefan's hours from there to solid; air °C, insulation mm, outer film W/(m² K).
const FREEZING: [(f64, f64, f64, [f64; 2]); 5] = [
    (-10.0, 0.0, 10.0, [0.1561, 2.175]),
    (-10.0, 0.0, 25.0, [0.0672, 0.956]),
    (-10.0, 13.0, 10.0, [0.3495, 4.822]),
    (-10.0, 25.0, 10.0, [0.4623, 6.367]),
    (-20.0, 25.0, 10.0, [0.2615, 3.184]),
];

#[test]
fn a_pipe_out_of_doors_freezes_when_the_handbook_says() {
    for (air_c, insulation_mm, film, [to_zero_h, to_solid_h]) in FREEZING {
        let text = format!(
            "[supply_run]\nlength = \"5 m\"\ntube = \"1/2 in\"\ninsulation = \"{insulation_mm} mm\"\n\
             surface_film = \"{film} W/m²K\"\nsurroundings = \"outdoor\"\n[boiler]\nfitted = false\n[start]\nslab = \"7 °C\"\n"
        );
        let site = Site::parse(&text, "pipe.toml").unwrap_or_else(|error| panic!("{error}"));
        let (config, case) = (
            &site.config.plant,
            format!("{air_c} °C, {insulation_mm} mm, {film} W/m²K"),
        );
        let run = &config.supply_run;
        // What the design calculation says.
        let time_constant_s = to_zero_h * 3600.0 / ((7.0 - air_c) / -air_c).ln();
        let resistance = outer_resistance_mk_w(run);
        close(
            time_constant_s / resistance,
            501.74,
            3e-3,
            "water in a metre of tube, J/K",
        );
        let solid_s = time_to_freeze_solid_s(run.tube.inside_m, resistance, air_c);
        close(solid_s / 3600.0, to_solid_h, 2e-3, &case);

        // 1/(π Nu k) with Nu 3.66 (laminar, wall at one temperature) and k 0.56 W/(m K).
        let film_share = 1.0 + 0.155 / resistance;
        // What the plant does: the water supercools first, and the still water's own film adds a few per cent.
        let mut plant = Plant::new(config, 1);
        let ice_s = seconds_until(&mut plant, air_c, |plant| {
            plant.true_state().ice_fraction > 0.0
        });
        let want = time_to_cool_s(time_constant_s, 7.0, -SUPERCOOLING_K, air_c)
            .expect("it is cold enough");
        assert!(
            ice_s > want && ice_s < want * film_share * 1.03 + 10.0,
            "{case}: ice after {ice_s} s, handbook {want} s"
        );
        assert!(!plant.true_state().frozen);
        let frozen_s = seconds_until(&mut plant, air_c, |plant| plant.true_state().frozen);
        // Supercooling gave a twentieth of the heat of fusion beforehand, 95 % ice counts as solid, and the plant keeps the
        // still water's film all the while, which Stefan's formula has not: at most 17 % late, on a bare pipe in wind.
        let share = frozen_s / (to_solid_h * 3600.0);
        assert!(
            (0.88..film_share).contains(&share),
            "{case}: {share} of the handbook's time to solid"
        );
    }
}

fn seconds_until(plant: &mut Plant, air_c: f64, done: impl Fn(&Plant) -> bool) -> f64 {
    const STEP_S: f64 = 10.0;
    let mut seconds = 0.0;
    while !done(plant) {
        plant.step(STEP_S, &dull(air_c, 20.0), Relays::default());
        seconds += STEP_S;
        assert!(seconds < 2e5, "it never happens");
    }
    seconds
}

/// Wire-to-water efficiency at operating points of a generic circulator, H0 4.5 m, runout 2.4 m³/h, 45 W: circuits of 86 m of
/// 16×2 tube in series; L/s, m, hydraulic W, share. Reference: Churchill 1977 as in `fluids`, bisection.
#[test]
fn a_small_circulator_wastes_most_of_its_power() {
    let water = Fluid::Water.properties(7.0);
    let pump = PumpCurve {
        shutoff_head_m: 4.5,
        runout_l_s: 2.4 / 3.6,
    };
    for (circuits, [flow, head, power, share]) in [
        (1, [0.061_000_0, 4.462_32, 2.6693, 0.059_32]),
        (2, [0.041_285_2, 4.482_74, 1.8148, 0.040_33]),
    ] {
        let circuit = Stretch {
            tube: Tube::METRIC_16X2,
            length_m: 86.0,
            roughness_m: 1.5e-6,
            fittings_k: 20.0,
            parallel: 1,
        };
        let loops = vec![circuit; circuits];
        let got = operating_flow_l_s(&pump, &loops, &water);
        close(got, flow, 1e-4, "flow");
        close(system_head_m(&loops, &water, got), head, 1e-4, "head");
        close(
            hydraulic_power_w(&water, got, head),
            power,
            1e-3,
            "hydraulic power",
        );
        close(
            wire_to_water(&water, got, head, 45.0),
            share,
            1e-3,
            "efficiency",
        );
    }
}

/// Infiltration of a 30 × 100 ft house with 33 333 ft³ at one air change an hour, 60 °F inside and 0 °F outside:
/// 36 000 Btu/h (extension engineer's worked example, 0.018 Btu/ft³°F).
#[test]
fn infiltration_of_the_extension_example() {
    const CUBIC_FOOT_M3: f64 = 0.028_316_846_592;
    const BTU_H_W: f64 = 0.293_071;
    let (width_m, length_m) = (30.0 * 0.3048, 100.0 * 0.3048);
    let height_m = 33_333.0 * CUBIC_FOOT_M3 / (width_m * length_m);
    let house = HouseConfig {
        width_m,
        length_m,
        eaves_m: height_m,
        ridge_m: height_m,
        // 0.018 Btu/ft³°F in J/(m³ K).
        air_heat_capacity_j_m3k: 0.018 * 1055.056 / CUBIC_FOOT_M3 * 1.8,
        ..HouseConfig::default()
    };
    let heat_w = house.infiltration_w_k(1.0) * 60.0 / 1.8;
    close(heat_w, 36_000.0 * BTU_H_W, 1e-3, "infiltration");
    // The demo's own air at 1.7 °C and 90 %: 0.3593 W per air change, m³ and K (psychrometrics, ASHRAE).
    let demo = HouseConfig::default();
    close(
        demo.infiltration_w_k(1.0) / demo.volume_m3(),
        0.3593,
        2e-4,
        "moist air",
    );
}
