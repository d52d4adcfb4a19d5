//! The plant's stepping against a general-purpose solver of the same thermal network, in one run.
//!
//! `cargo run --release -p host-sim --example network_compare -- FOLDER`, then
//! `python tests/reference/solve_ivp.py FOLDER` (needs numpy and scipy only). This side writes what the house is made
//! of and what drives it, its own hourly temperatures with several step lengths and its own time; the other side builds the
//! network anew from those data, solves it tightly, and prints errors and the ratio of times at equal accuracy.

use std::hint::black_box;
use std::path::PathBuf;
use std::time::Instant;

use host_sim::sim::plant::config::{FloorConfig, PlantConfig};
use host_sim::sim::plant::ground::sunk_conductance_w_k;
use host_sim::sim::plant::house::STEFAN_BOLTZMANN;
use host_sim::sim::plant::operating::{LoopDesign, Path, REFERENCE_C, TubeResistance};
use host_sim::sim::plant::{OutdoorConditions, Plant, Relays, Tube};
use serde_json::{Value, json};

const DAYS: u32 = 10;
const DAY_S: f64 = 86_400.0;
/// Outdoors: a daily wave, °C.
const OUTDOOR_C: [f64; 2] = [-2.0, 6.0];
/// Sun on the glazing: a smooth daily wave up to this, W.
const SUN_W: f64 = 9_000.0;
/// The circulator runs for the first part of every period, s.
const RUNS_S: u32 = 3_600;
const PERIOD_S: u32 = 3 * 3_600;
/// Day of the year at the start.
const START_DAY: f64 = 330.0;
/// Runs of which the quickest is timed.
const REPEATS: u32 = 5;

fn main() -> anyhow::Result<()> {
    let folder = PathBuf::from(std::env::args().nth(1).unwrap_or_else(|| ".".to_owned()));
    let mut config = PlantConfig {
        boiler: None,
        ..PlantConfig::default()
    };
    config.house.vent = None;
    config.circulator.measured_flow_l_s = Some(0.060);
    config.start.ground_day = START_DAY;
    let thin = without_water(&config);
    let results: Vec<Value> = [
        ("thin", &thin, 60),
        ("thin", &thin, 30),
        ("thin", &thin, 10),
        ("real", &config, 60),
        ("real", &config, 10),
    ]
    .into_iter()
    .map(|(tube, config, step_s)| result(tube, config, step_s))
    .collect();
    let comparison = json!({ "forcing": forcing(), "network": network(&thin), "results": results });
    let path = folder.join("network.json");
    std::fs::write(&path, serde_json::to_string(&comparison)?)?;
    println!(
        "{} written; now: python tests/reference/solve_ivp.py {}",
        path.display(),
        folder.display()
    );
    Ok(())
}

/// The same plant with tubes so narrow that their water holds next to no heat, and walls that pass as much of it as before: the
/// network without the delay of water on its way, so that only the stepping is compared.
fn without_water(config: &PlantConfig) -> PlantConfig {
    let mut thin = config.clone();
    let narrow = Tube {
        name: "narrow",
        inside_m: 0.003,
        ..config.floor.tube
    };
    let wall = |conductivity: f64, inside_m: f64| {
        (config.floor.tube.outside_m / inside_m).ln() / conductivity
    };
    let kept = wall(
        config.floor.tube_conductivity_w_mk,
        config.floor.tube.inside_m,
    );
    let conductivity = wall(kept, narrow.inside_m);
    for floor in [&mut thin.floor, &mut thin.store.floor] {
        (floor.tube, floor.tube_conductivity_w_mk) = (narrow, conductivity);
    }
    for run in [&mut thin.supply_run, &mut thin.return_run] {
        (run.tube, run.tube_conductivity_w_mk) = (narrow, conductivity);
    }
    thin
}

fn weather(second: f64) -> OutdoorConditions {
    let turn = std::f64::consts::TAU * second / DAY_S;
    let air_c = OUTDOOR_C[0] - OUTDOOR_C[1] * turn.cos();
    OutdoorConditions {
        air_c,
        // A sky as warm as the air: no heat beyond the difference of temperatures.
        infrared_w_m2: STEFAN_BOLTZMANN * (air_c + 273.15).powi(4),
        solar_incident_w: SUN_W * 0.5 * (1.0 - turn.cos()),
        ground_day: START_DAY + second / DAY_S,
        ..OutdoorConditions::default()
    }
}

/// Hourly slab core mean and coldest zone, house air, store floor, store air, °C.
fn temperatures(config: &PlantConfig, step_s: u32) -> Vec<[f64; 5]> {
    let mut plant = Plant::new(config, 1);
    let mut hourly = Vec::with_capacity(24 * DAYS as usize);
    for step in 0..DAYS * 86_400 / step_s {
        let now_s = step * step_s;
        let relays = Relays {
            circulator: now_s % PERIOD_S < RUNS_S,
            boiler_call: false,
        };
        plant.step(
            f64::from(step_s),
            &weather(f64::from(now_s) + 0.5 * f64::from(step_s)),
            relays,
        );
        if (now_s + step_s).is_multiple_of(3_600) {
            let s = plant.true_state();
            hourly.push([
                s.slab_core_c,
                s.slab_min_c,
                s.air_c,
                s.store_floor_c,
                s.store_air_c,
            ]);
        }
    }
    hourly
}

fn result(tube: &str, config: &PlantConfig, step_s: u32) -> Value {
    let mut best_s = f64::INFINITY;
    for _ in 0..REPEATS {
        let start = Instant::now();
        black_box(temperatures(black_box(config), step_s));
        best_s = best_s.min(start.elapsed().as_secs_f64());
    }
    println!("{tube} tube, {step_s} s: {:.2} ms", best_s * 1e3);
    json!({ "tube": tube, "step_s": step_s, "seconds": best_s, "hourly": temperatures(config, step_s) })
}

fn forcing() -> Value {
    json!({ "days": DAYS, "outdoor_c": OUTDOOR_C, "sun_w": SUN_W, "runs_s": RUNS_S, "period_s": PERIOD_S, "start_day": START_DAY })
}

/// What the network is made of; nothing of how it is solved.
fn network(config: &PlantConfig) -> Value {
    let (house, store, ground) = (&config.house, &config.store, &config.ground);
    let point = LoopDesign::new(config).flow_point(Path::Series, REFERENCE_C);
    let water = config.fluid.properties(REFERENCE_C);
    let floor = |floor: &FloorConfig| {
        json!({
            "thickness_m": floor.thickness_m, "conductivity": floor.conductivity_w_mk, "capacity": floor.heat_capacity_j_m3k,
            "area_m2": floor.heated_area_m2(), "underside_w_m2k": floor.underside_w_m2k, "tube_m": floor.circuit_length_m,
            "resistance_mk_w": TubeResistance::of(floor, &water, point.flow_l_s).total_mk_w(),
        })
    };
    json!({
        "slab": floor(&config.floor),
        "store_floor": floor(&store.floor),
        "capacity_w_k": point.capacity_w_k,
        "run_decay": [point.supply_decay, point.return_decay],
        "pump_w": config.circulator.electrical_w, "heat_to_water": config.circulator.heat_to_water,
        "house": {
            "length_m": house.length_m, "width_m": house.width_m, "edge_w_k": house.edge_w_k(),
            "envelope_w_k": house.envelope_w_k(false), "air_j_k": house.volume_m3() * house.air_heat_capacity_j_m3k,
            "sun_air": house.transmittance * house.sun_to_air, "sun_floor": house.transmittance * house.sun_to_floor,
        },
        "store": {
            "depth_m": store.depth_m, "wall_height_m": store.wall_height_m, "wall_area_m2": store.wall_area_m2,
            "wall_m": store.wall_thickness_m, "wall_conductivity": store.wall_conductivity_w_mk,
            "wall_capacity": store.wall_heat_capacity_j_m3k, "air_j_k": store.air_volume_m3 * 1278.0 + store.contents_j_k,
        },
        "ground": {
            "conductivity": ground.conductivity_w_mk, "capacity": ground.heat_capacity_j_m3k, "mean_c": ground.mean_c,
            "amplitude_k": ground.amplitude_k, "coldest_day": ground.coldest_day, "depth_m": ground.column_depth_m,
            "lateral_w_k": sunk_conductance_w_k(ground, store.floor.heated_area_m2()),
        },
        "start_c": config.start.slab_c,
    })
}
