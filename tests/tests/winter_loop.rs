//! The controller and the plant in closed loop: conservation, directions of heat, repeatability.

use controller_core::settings::Settings;
use host_sim::account::metrics::SummaryNumbers;
use host_sim::account::sinks::{RunSinks, TraceWriter};
use host_sim::files::output::OutputSet;
use host_sim::sim::cancel::Cancel;
use host_sim::sim::closed_loop::Pace;
use host_sim::sim::plant::{Plant, PlantConfig, Relays};
use host_sim::sim::season::{Run, Variant};
use host_sim::sim::tally::Season;
use sha2::{Digest, Sha256};
use system_tests::{Station, dull, outdoor};

const STILL: Relays = Relays {
    circulator: false,
    boiler_call: false,
};
const MOVING: Relays = Relays {
    circulator: true,
    boiler_call: false,
};

/// What stops a run here: nothing.
#[derive(Debug)]
struct Never;

impl From<host_sim::sim::cancel::Cancelled> for Never {
    fn from(_: host_sim::sim::cancel::Cancelled) -> Self {
        Self
    }
}

impl From<std::io::Error> for Never {
    fn from(error: std::io::Error) -> Self {
        panic!("{error}")
    }
}

/// A run of the demo house at a station, with its numbers. `picture` also gathers what a report draws.
fn winter(
    station: Station,
    from: (i8, i8),
    days: u32,
    seed: u64,
    picture: bool,
    variant: Variant,
) -> (Season, SummaryNumbers) {
    let (plant, settings) = variant.apply(&PlantConfig::default(), &Settings::default());
    let weather = station.weather(from.0, from.1, days);
    let run = Run {
        plant: &plant,
        settings: &settings,
        weather: &weather,
        seed,
        pace: Pace::USUAL,
    };
    let mut sinks = RunSinks::new(&settings, None, picture, Some(TraceWriter::new(None)));
    let totals = run.go::<Never>(&Cancel::new(), |report, seen| {
        Ok(sinks.push(report, seen.stands_ms, &seen.extra, "")?)
    });
    let (numbers, series) = sinks
        .finish(&mut OutputSet::new())
        .expect("nothing is written");
    assert_eq!(series.is_some(), picture);
    (totals.expect("nothing stops it"), numbers)
}

/// The fingerprint of five cold days, boiler and all, in which everything went well: what is pinned is a sound winter.
fn cold_days(seed: u64, picture: bool) -> String {
    let (totals, numbers) = winter(Station::Golden, (11, 26), 5, seed, picture, Variant::Both);
    assert!(totals.slab_true_min_c > 1.5, "{}", totals.slab_true_min_c);
    assert!(numbers.alarms.is_empty(), "{:?}", numbers.alarms);
    assert!(numbers.boiler_calls > 3 && numbers.boiler_calls_without_heat == 0);
    numbers.trace_sha256.expect("a fingerprint")
}

#[test]
fn heat_balance_of_thirty_days_closes() {
    for station in [Station::Golden, Station::Chicago] {
        let (totals, _) = winter(station, (12, 1), 30, 1, false, Variant::Both);
        assert!(
            totals.energy_closure < 1e-6,
            "{station:?}: {}",
            totals.energy_closure
        );
        // It closes over something: all sources were at work.
        assert!(
            totals.earth_heat_kwh > 5.0 && totals.boiler_heat_kwh > 30.0 && totals.pump_kwh > 2.0
        );
        assert_eq!(totals.days.len(), 30);
        let by_day: f64 = totals
            .days
            .iter()
            .map(|day| day.earth_kwh + day.boiler_kwh)
            .sum();
        assert!((by_day - totals.earth_heat_kwh - totals.boiler_heat_kwh).abs() < 1e-9);
    }
}

#[test]
fn without_flow_the_store_gives_nothing() {
    let (totals, _) = winter(Station::Golden, (12, 1), 30, 1, false, Variant::WithoutLoop);
    // Only the nine litres that stand in the store's floor follow it: 0.04 MJ, 0.01 kWh for each kelvin.
    assert!(totals.earth_heat_kwh.abs() < 0.03, "{totals:?}");
    assert_eq!((totals.boiler_heat_kwh, totals.pump_kwh), (0.0, 0.0));
    let (with, _) = winter(
        Station::Golden,
        (12, 1),
        30,
        1,
        false,
        Variant::WithoutBoiler,
    );
    assert!(with.earth_heat_kwh > 20.0, "with flow it gives: {with:?}");
    assert!(with.slab_true_min_c > totals.slab_true_min_c + 1.0);
}

#[test]
fn a_store_colder_than_the_slab_takes_heat() {
    let mut config = PlantConfig {
        boiler: None,
        ..PlantConfig::default()
    };
    config.ground.mean_c = 4.0;
    config.ground.amplitude_k = 0.0;
    config.start.slab_c = 18.0;
    let weather = dull(18.0, 300.0);
    let mut still = Plant::new(&config, 1);
    let mut moving = Plant::new(&config, 1);
    let before_c = moving.true_state().store_floor_c;
    for minute in 0..12 * 60 {
        still.step(60.0, &weather, STILL);
        moving.step(60.0, &weather, MOVING);
        let state = moving.true_state();
        // After the first round every minute carries heat down, and as much leaves the slab as reaches the store, but for
        // the pump's heat and the runs.
        if minute > 20 {
            assert!(
                state.earth_heat_w < -200.0 && state.slab_heat_w < -200.0,
                "{state:?}"
            );
            assert!(state.supply_c < state.return_c, "{state:?}");
            assert!(
                (state.slab_heat_w - state.earth_heat_w).abs() < 80.0,
                "{state:?}"
            );
        }
    }
    assert!(moving.true_state().store_floor_c > before_c + 1.0);
    assert!(moving.true_state().slab_core_c < still.true_state().slab_core_c - 1.0);
    assert!(moving.closure() < 1e-9);
}

#[test]
fn one_seed_one_trace_whatever_else_is_gathered() {
    let first = cold_days(1, false);
    assert_eq!(first, cold_days(1, false), "the same run twice");
    assert_eq!(first, cold_days(1, true), "a report changes nothing");
    assert_ne!(first, cold_days(2, false), "another seed is another run");
}

/// The check across machines: the plant alone, without controller or sensors, through six days of real weather with relays by
/// the clock. Its every bit is the same on every machine, since all transcendental functions come from `libm` and nothing runs
/// in parallel. Only a change of the plant, of the demo site or of the weather's preparation may move it.
#[test]
fn the_plant_is_the_same_to_the_bit_on_every_machine() {
    let weather = Station::Golden.weather(12, 15, 6);
    let mut config = PlantConfig::default();
    config.start.ground_day = weather.conditions(0).day_of_year;
    let mut plant = Plant::new(&config, 1);
    let mut digest = Sha256::new();
    for minute in 0..6 * 1440 {
        let relays = Relays {
            circulator: minute % 90 < 50,
            boiler_call: minute % 180 < 20,
        };
        plant.step(
            60.0,
            &outdoor(&weather.conditions(minute * 60 + 30)),
            relays,
        );
        let state = plant.true_state();
        for value in [
            state.supply_c,
            state.slab_min_c,
            state.slab_sensor_c,
            state.air_c,
            state.store_air_c,
            state.earth_heat_w,
        ] {
            digest.update(value.to_bits().to_le_bytes());
        }
    }
    let found: String = digest
        .finalize()
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect();
    assert_eq!(
        found, PLANT_SHA256,
        "if the plant was changed on purpose, put the new fingerprint here"
    );
}

/// The same for the whole: plant, sensors, controller, trace. Any change of behaviour moves it; a machine must not.
#[test]
fn the_trace_is_the_same_to_the_byte_on_every_machine() {
    assert_eq!(
        cold_days(1, false),
        TRACE_SHA256,
        "if behaviour was changed on purpose, put the new fingerprint here"
    );
}

const PLANT_SHA256: &str = "831735095211eb0bee1714cb097a4d6cdbcb7e007106ffe29e4681ef36d9bf18";
const TRACE_SHA256: &str = "b10147d1816585359bbbf2be373d40c9937719a332ca69fc3e2236d2f4d8a722";
