//! The plant as a whole: against the steady balance, conservation, what must never happen, faults, frost.

use super::config::{
    BoilerConfig, BoilerKind, Curtain, HandFiredConfig, OutsideFilm, Piping, RunConfig,
    SensorConfig, SensorsConfig, Surroundings, Tending, ThermalMass,
};
use super::*;
use balance::{BalanceOptions, FloorFilm, Given, balance_point};
use exchanger::Layout;
use proptest::prelude::*;

mod any;
mod bare;
mod heat;

#[track_caller]
fn close(got: f64, want: f64, tolerance: f64) {
    assert!(
        (got - want).abs() <= tolerance,
        "got {got}, want {want} within {tolerance}"
    );
}

const RUN: Relays = Relays {
    circulator: true,
    boiler_call: false,
};
const REST: Relays = Relays {
    circulator: false,
    boiler_call: false,
};
const HEAT: Relays = Relays {
    circulator: true,
    boiler_call: true,
};

/// No sun, a sky as warm as the air.
fn dull(air_c: f64, day: f64) -> OutdoorConditions {
    let kelvin = air_c + 273.15;
    OutdoorConditions {
        air_c,
        infrared_w_m2: house::STEFAN_BOLTZMANN * kelvin * kelvin * kelvin * kelvin,
        ground_day: day,
        ..OutdoorConditions::default()
    }
}

fn without_boiler() -> PlantConfig {
    PlantConfig {
        boiler: None,
        ..PlantConfig::default()
    }
}

fn hours(plant: &mut Plant, hours: f64, outdoor: &OutdoorConditions, relays: Relays) {
    for _ in 0..(hours * 60.0) as u32 {
        plant.step(60.0, outdoor, relays);
    }
}

#[test]
fn default_plant_is_sound() {
    PlantConfig::default().check().unwrap();
    let mut odd = PlantConfig::default();
    odd.floor.tube_depth_m = 0.2;
    let message = odd.check().unwrap_err().to_string();
    assert!(
        message.contains("floor.tube_depth_m") && message.contains("0.2"),
        "{message}"
    );
    odd.floor.tube_depth_m = f64::NAN;
    assert!(odd.check().is_err());
}

/// What the one-temperature balance assumes: earth that cannot tire keeps the store floor where it is, runs of no length lose
/// nothing, and a double spiral without edge loss keeps the zones alike.
fn steady() -> PlantConfig {
    let mut config = without_boiler();
    config.ground.conductivity_w_mk = 400.0;
    config.ground.heat_capacity_j_m3k = 4.0e8;
    config.ground.amplitude_k = 0.0;
    config.ground.mean_c = 9.0;
    config.supply_run.length_m = 0.01;
    config.return_run.length_m = 0.01;
    config.circulator.measured_flow_l_s = Some(0.060);
    config.house.edge_loss_w_mk = 0.0;
    config.floor.layout = Layout::CounterFlow;
    config.store.floor.layout = Layout::CounterFlow;
    config
}

#[test]
fn steady_plant_meets_the_balance_point() {
    let mut config = steady();
    config.circulator.heat_to_water = 1.0;
    let mut plant = Plant::new(&config, 1);
    hours(&mut plant, 120.0, &dull(-6.4, 300.0), RUN);
    let state = plant.true_state();
    let options = BalanceOptions {
        floor_film: FloorFilm::Curve,
        pump_heat_w: 45.0,
        water_c: 0.5 * (state.supply_c + state.return_c),
        ..BalanceOptions::default()
    };
    let want = balance_point(
        &config,
        Given::SlabCore(state.slab_core_c),
        state.store_floor_c,
        &options,
    );
    close(want.outdoor_c, -6.4, 0.03);
    close(state.air_c, want.air_c, 0.03);
    close(state.slab_heat_w / want.heat_w, 1.0, 2e-3);
    close(state.supply_c, want.supply_c, 0.02);
    close(state.return_c, want.return_c, 0.02);
    close(state.slab_heat_w - state.earth_heat_w, 45.0, 0.5);
    assert!(plant.closure() < 1e-9);
}

#[test]
fn no_flow_no_exchange() {
    let mut plant = Plant::new(&without_boiler(), 1);
    let cold = dull(-5.0, 300.0);
    hours(&mut plant, 6.0, &cold, REST);
    let rest = plant.true_state();
    // Still water follows its floor: some watts while the slab cools, never a transport.
    assert!(
        rest.slab_heat_w.abs() < 20.0 && rest.earth_heat_w.abs() < 5.0,
        "{rest:?}"
    );
    assert_eq!((rest.flow_l_s, rest.pump_w), (0.0, 0.0));

    plant.faults.air_locked = true;
    hours(&mut plant, 2.0, &cold, RUN);
    let locked = plant.true_state();
    assert!(locked.circulator_runs && locked.flow_l_s == 0.0 && locked.earth_heat_w.abs() < 5.0);
    close(locked.pump_w, 45.0, 1e-9);

    plant.faults = Faults {
        circulator_dead: true,
        ..Faults::default()
    };
    hours(&mut plant, 1.0, &cold, RUN);
    let dead = plant.true_state();
    assert!(!dead.circulator_runs && dead.pump_w == 0.0 && dead.flow_l_s == 0.0);
}

#[test]
fn heat_goes_from_warm_to_cold_in_both_directions() {
    let mut warm_slab = without_boiler();
    warm_slab.start.slab_c = 22.0;
    let mut plant = Plant::new(&warm_slab, 1);
    let mild = dull(15.0, 300.0);
    hours(&mut plant, 2.0, &mild, RUN);
    let state = plant.true_state();
    assert!(
        state.earth_heat_w < -500.0 && state.slab_heat_w < -500.0,
        "{state:?}"
    );
    assert!(state.supply_c < state.return_c);

    let mut plant = Plant::new(&without_boiler(), 1);
    let cold = dull(-8.0, 300.0);
    hours(&mut plant, 12.0, &cold, REST);
    hours(&mut plant, 2.0, &cold, RUN);
    let state = plant.true_state();
    assert!(
        state.earth_heat_w > 500.0 && state.slab_heat_w > 500.0,
        "{state:?}"
    );
    assert!(state.supply_c > state.return_c);
    assert!(state.slab_min_c < state.slab_core_c);
}

#[test]
fn a_start_shows_still_water_first_and_store_water_one_volume_later() {
    let mut plant = Plant::new(&without_boiler(), 1);
    let cold = dull(-5.0, 300.0);
    hours(&mut plant, 24.0, &cold, REST);
    // Slab water comes out first: return equals the slab for the transit of 9.7 L at 0.06 L/s (162 s).
    let warmest = plant
        .floor
        .core_c()
        .iter()
        .copied()
        .fold(f64::MIN, f64::max);
    for _ in 0..14 {
        plant.step(10.0, &cold, RUN);
        assert!(plant.true_state().return_c < warmest + 0.05);
    }
    for _ in 0..15 {
        plant.step(10.0, &cold, RUN);
    }
    assert!(plant.true_state().return_c > warmest + 0.5);
}

#[test]
fn faults_override_relays() {
    let cold = dull(-5.0, 20.0);
    let mut plant = Plant::new(&PlantConfig::default(), 1);
    plant.faults.circulator_welded_on = true;
    plant.step(60.0, &cold, REST);
    assert!(plant.true_state().flow_l_s > 0.05);
    plant.faults.power_off = true;
    plant.step(60.0, &cold, HEAT);
    assert!(!plant.true_state().circulator_runs && plant.true_state().pump_w == 0.0);

    let mut plant = Plant::new(&PlantConfig::default(), 1);
    plant.load_fuel(25.0);
    plant.light_fire();
    plant.faults.boiler_welded_on = true;
    hours(&mut plant, 2.0, &cold, RUN);
    assert!(plant.true_state().boiler_heat_w > 1000.0);
    plant.faults = Faults {
        fire_out: true,
        ..Faults::default()
    };
    hours(&mut plant, 10.0, &cold, HEAT);
    let state = plant.true_state();
    assert!(
        !state.fire_alight && state.boiler_heat_w < 50.0,
        "{state:?}"
    );
    assert!(state.fuel_kg > 0.0);

    let mut plant = Plant::new(&PlantConfig::default(), 1);
    plant.faults.no_fuel = true;
    plant.load_fuel(25.0);
    plant.light_fire();
    hours(&mut plant, 1.0, &cold, HEAT);
    assert_eq!(
        (plant.true_state().fuel_kg, plant.true_state().fire_alight),
        (0.0, false)
    );
}

fn exposed(insulation_m: f64) -> PlantConfig {
    let mut config = without_boiler();
    config.supply_run = RunConfig {
        length_m: 4.0,
        insulation_m,
        surroundings: Surroundings::Outdoor,
        ..RunConfig::default()
    };
    config
}

#[test]
fn a_still_exposed_run_freezes_when_the_handbook_says_and_flow_saves_it() {
    let config = exposed(0.013);
    let bitter = dull(-20.0, 20.0);
    let mut plant = Plant::new(&config, 1);
    let fluid = config.fluid.properties(7.0);
    let tau = pipe::time_constant_s(
        pipe::water_capacity_j_mk(&fluid, config.supply_run.tube.inside_m),
        pipe::run_resistance_mk_w(&config.supply_run, &fluid, 0.0),
    );
    let expected = pipe::time_to_cool_s(tau, 10.0, -4.0, -20.0).unwrap();
    let mut seconds = 0.0;
    while plant.true_state().ice_fraction == 0.0 {
        plant.step(10.0, &bitter, REST);
        seconds += 10.0;
        assert!(seconds < 1e5);
    }
    close(seconds, expected, 0.01 * expected + 10.0);
    assert!(!plant.true_state().frozen && !plant.true_state().blocked_by_ice);
    hours(&mut plant, 8.0, &bitter, REST);
    let state = plant.true_state();
    assert!(state.frozen && state.blocked_by_ice, "{state:?}");
    plant.step(60.0, &bitter, RUN);
    let state = plant.true_state();
    assert!(
        state.circulator_runs && state.flow_l_s == 0.0,
        "no flow through ice"
    );
    hours(&mut plant, 48.0, &dull(8.0, 22.0), REST);
    let thawed = plant.true_state();
    assert!(
        thawed.frozen && !thawed.blocked_by_ice,
        "thawed, but the damage stays: {thawed:?}"
    );
    assert!(plant.closure() < 1e-9);

    let mut pumped = Plant::new(&config, 1);
    hours(&mut pumped, 8.0, &bitter, RUN);
    assert_eq!(pumped.true_state().ice_fraction, 0.0);
    assert!(pumped.true_state().flow_l_s > 0.05);
}

#[test]
fn glycol_does_not_freeze_where_water_does() {
    let config = PlantConfig {
        fluid: fluid::Fluid::Propylene(0.4),
        ..exposed(0.0)
    };
    let mut plant = Plant::new(&config, 1);
    hours(&mut plant, 10.0, &dull(-18.0, 20.0), REST);
    assert_eq!(plant.true_state().ice_fraction, 0.0);
}

#[test]
fn one_long_step_is_its_parts_and_runs_repeat_to_the_bit() {
    let mut outdoor = dull(-4.0, 300.0);
    outdoor.solar_incident_w = 9000.0;
    let mut long = Plant::new(&PlantConfig::default(), 5);
    let mut short = Plant::new(&PlantConfig::default(), 5);
    for hour in 0..48 {
        let relays = if hour % 3 == 0 { REST } else { HEAT };
        for _ in 0..6 {
            long.step(600.0, &outdoor, relays);
        }
        for _ in 0..60 {
            short.step(60.0, &outdoor, relays);
        }
        let (a, b) = (long.true_state(), short.true_state());
        assert_eq!(a.slab_core_c.to_bits(), b.slab_core_c.to_bits());
        assert_eq!(a.store_air_c.to_bits(), b.store_air_c.to_bits());
    }
}

#[test]
fn step_length_hardly_matters() {
    let outdoor = dull(-6.0, 300.0);
    let mut results = Vec::new();
    for dt in [60.0, 10.0, 2.0] {
        let mut plant = Plant::new(&without_boiler(), 1);
        for step in 0..(10 * 3600 / dt as u32) {
            let relays = if (f64::from(step) * dt) % 7200.0 < 3600.0 {
                RUN
            } else {
                REST
            };
            plant.step(dt, &outdoor, relays);
        }
        results.push(plant.true_state());
    }
    for state in &results[..2] {
        close(state.slab_core_c, results[2].slab_core_c, 0.02);
        close(state.air_c, results[2].air_c, 0.02);
        close(state.store_floor_c, results[2].store_floor_c, 0.02);
    }
}

#[test]
fn readings_lie_between_the_ends_of_a_step() {
    let plain = SensorConfig {
        offset_k: 0.0,
        scatter_k: 0.0,
        noise_k: 0.0,
        resolution_k: 0.0,
        lag_s: 0.0,
        strap_on: 0.0,
    };
    let mut config = without_boiler();
    config.sensors = SensorsConfig {
        supply: plain,
        return_: plain,
        slab: plain,
        outdoor: plain,
        air: plain,
        store: plain,
        ..SensorsConfig::default()
    };
    let mut plant = Plant::new(&config, 1);
    let outdoor = dull(-5.0, 300.0);
    hours(&mut plant, 10.0, &outdoor, REST);
    let first = plant.read();
    plant.step(60.0, &outdoor, RUN);
    let shown: Vec<Readings> = (1..=6)
        .map(|i| plant.read_at(10.0 * f64::from(i)))
        .collect();
    let last = plant.true_state();
    close(shown[5].supply_c, last.supply_c, 1e-12);
    close(
        shown[2].supply_c,
        0.5 * (first.supply_c + last.supply_c),
        1e-9,
    );
    close(
        shown[0].return_c,
        first.return_c + (last.return_c - first.return_c) / 6.0,
        1e-9,
    );
    close(shown[5].slab_c, last.slab_sensor_c, 1e-12);
    close(shown[5].outdoor_c, -5.0, 1e-12);
}

#[test]
fn noisy_readings_stay_near_the_truth_and_repeat_with_the_seed() {
    let outdoor = dull(2.0, 300.0);
    let run = |seed| {
        let mut plant = Plant::new(&without_boiler(), seed);
        hours(&mut plant, 6.0, &outdoor, RUN);
        let readings: Vec<Readings> = (0..60)
            .map(|_| {
                plant.step(10.0, &outdoor, RUN);
                plant.read()
            })
            .collect();
        (readings, plant.true_state())
    };
    let (readings, truth) = run(3);
    for reading in &readings {
        close(reading.supply_c, truth.supply_c, 0.5);
        close(reading.slab_c, truth.slab_sensor_c, 0.5);
        assert_eq!((reading.supply_c * 16.0).fract(), 0.0, "steps of 1/16 K");
    }
    assert_eq!(readings, run(3).0);
    assert_ne!(readings, run(4).0);
}

#[test]
fn still_pipes_at_the_sensors_drift_to_the_air() {
    let mut plant = Plant::new(&without_boiler(), 1);
    let outdoor = dull(-5.0, 300.0);
    hours(&mut plant, 2.0, &outdoor, RUN);
    assert!(plant.true_state().supply_c > plant.true_state().air_c + 2.0);
    hours(&mut plant, 4.0, &outdoor, REST);
    close(plant.true_state().supply_c, plant.true_state().air_c, 0.4);
}
