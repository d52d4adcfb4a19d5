//! Days and weeks with a toy house that answers the outputs: no needless starts, calls or holds.
//!
//! The house is [`support::Plant`]: 60 W/K, 4.5 MJ/K, a store that gives 9 °C at 252 W/K and a
//! loop effectiveness of 0.69. Balance by hand: at a slab of 4 °C the loop brings 252 · 0.69 · 5 = 870 W,
//! enough down to 4 - 870 / 60 = -10.5 °C outdoors. What is to show that heat is called has a store of
//! 4.5 °C: with the circulator always on it holds (174 · 4.5 - 60 · 16) / (174 + 60) = -0.8 °C at
//! -16 °C outdoors, so that the slab freezes without calls.

#[path = "../support/mod.rs"]
mod support;

use std::f64::consts::TAU;

use controller_core::alarm::Alarm;
use controller_core::reason::Reason;
use controller_core::sensor::{ReadFault, Sample, Sensor};
use controller_core::settings::{BoilerKind, Mode, RawSettings};

use support::{Bench, Plant, hours, mins};

/// What some days came to.
#[derive(Debug)]
struct Season {
    days: f64,
    slab_min: f64,
    slab_max: f64,
    /// Hours.
    pump: f64,
    boiler: f64,
    starts_a_day: f64,
    most_starts_a_day: u32,
    calls: u32,
    frost: f64,
    alarms: Vec<&'static str>,
}

/// A house over some days with its pipes in the slab's surroundings; outdoors swings daily by `swing` around what `mean`
/// gives for the day.
fn season(
    days: u32,
    change: impl FnOnce(&mut RawSettings),
    plant: Plant,
    mean: impl Fn(f64) -> f64,
    swing: f64,
) -> Season {
    season_with_pipes(|slab| slab + 0.5, days, change, plant, mean, swing)
}

/// The same with its pipes in a room of 6 °C, where the supply at rest is warm enough for a run to start.
fn season_with_warm_pipes(
    days: u32,
    change: impl FnOnce(&mut RawSettings),
    plant: Plant,
    mean: impl Fn(f64) -> f64,
    swing: f64,
) -> Season {
    season_with_pipes(|_| 6.0, days, change, plant, mean, swing)
}

fn season_with_pipes(
    around: impl Fn(f64) -> f64,
    days: u32,
    change: impl FnOnce(&mut RawSettings),
    plant: Plant,
    mean: impl Fn(f64) -> f64,
    swing: f64,
) -> Season {
    let mut bench = Bench::with(change);
    let outdoor = |day: f64| mean(day) - swing * (TAU * day).cos();
    bench.plant = Some(plant);
    let mut season = Season {
        days: f64::from(days),
        slab_min: f64::MAX,
        slab_max: f64::MIN,
        pump: 0.0,
        boiler: 0.0,
        starts_a_day: 0.0,
        most_starts_a_day: 0,
        calls: 0,
        frost: 0.0,
        alarms: Vec::new(),
    };
    let (mut starts, mut day) = (0, 0);
    while bench.time() < hours(24 * days) {
        let now = f64::from(bench.time().as_secs()) / 86_400.0;
        if let Some(plant) = &mut bench.plant {
            plant.outdoor = outdoor(now);
            plant.around = around(plant.slab);
        }
        bench.step();
        if now as u32 > day {
            day = now as u32;
            season.most_starts_a_day = season.most_starts_a_day.max(bench.watch.starts - starts);
            starts = bench.watch.starts;
        }
        let slab = bench.plant.as_ref().map_or(0.0, |p| p.slab);
        season.slab_min = season.slab_min.min(slab);
        season.slab_max = season.slab_max.max(slab);
        for alarm in bench.report().row.alarms.iter() {
            if !season.alarms.contains(&alarm.name()) {
                season.alarms.push(alarm.name());
            }
        }
    }
    let hours_of = |reason| {
        let time = bench.watch.reason_time.iter().find(|(r, _)| *r == reason);
        time.map_or(0.0, |(_, ms)| *ms as f64 / 3_600_000.0)
    };
    season.pump = bench.watch.pump_time as f64 / 3_600_000.0;
    season.boiler = bench.watch.call_time as f64 / 3_600_000.0;
    season.calls = bench.watch.calls;
    season.starts_a_day = f64::from(bench.watch.starts) / season.days;
    season.frost = hours_of(Reason::Frost);
    season
}

fn demo() -> Plant {
    Plant::default()
}

/// Five days at -16 °C, milder before and after.
fn snap(day: f64) -> f64 {
    if (3.0..8.0).contains(&day) {
        -16.0
    } else {
        -4.0
    }
}

#[test]
fn mild_weather_takes_a_few_starts_and_no_boiler() {
    let season = season_with_warm_pipes(10, |_| {}, demo(), |_| 3.0, 4.0);
    assert!(season.slab_min > 3.2, "{season:?}");
    assert!(
        season.starts_a_day < 6.0 && season.most_starts_a_day <= 8,
        "{season:?}"
    );
    assert_eq!(season.calls, 0, "{season:?}");
    assert!(season.alarms.is_empty(), "{season:?}");
    // The heat lost, 60 W/K · 1 K and less, is a few hours of 870 W a day.
    assert!(season.pump < 10.0 * 4.0, "{season:?}");
}

/// Pipes at rest as cold as the slab hide a warm store from their sensors, not from what is remembered of it.
#[test]
fn a_store_hidden_by_cold_pipes_is_drawn_on_all_the_same() {
    let season = season(10, |_| {}, demo(), |_| 3.0, 4.0);
    assert!(season.slab_min > 3.2, "{season:?}");
    assert_eq!(season.calls, 0, "{season:?}");
    assert!(season.alarms.is_empty(), "{season:?}");
}

#[test]
fn frosty_weather_is_carried_by_the_store_alone() {
    let season = season_with_warm_pipes(10, |_| {}, demo(), |_| -3.0, 5.0);
    assert!(season.slab_min > 3.2, "{season:?}");
    assert_eq!(season.calls, 0, "{season:?}");
    assert!(season.most_starts_a_day <= 12, "{season:?}");
    assert!(season.alarms.is_empty(), "{season:?}");
}

#[test]
fn a_cold_snap_is_survived_with_backup_and_nearly_without() {
    let with = season_with_warm_pipes(12, |_| {}, demo(), snap, 4.0);
    // A call begins at 2.4 °C.
    assert!(with.slab_min > 2.2, "{with:?}");
    assert!(with.calls >= 3 && with.boiler < 40.0, "{with:?}");
    assert!(with.most_starts_a_day <= 16, "{with:?}");
    assert!(with.alarms.is_empty(), "{with:?}");
    let without =
        season_with_warm_pipes(12, |raw| raw.boiler = BoilerKind::None, demo(), snap, 4.0);
    assert!(
        without.slab_min > 1.5 && without.slab_min < with.slab_min,
        "{without:?}"
    );
    // A fire that never lights is tried now and then, told, and does no harm.
    let out = season_with_warm_pipes(
        12,
        |_| {},
        Plant {
            boiler_w: 0.0,
            ..demo()
        },
        snap,
        4.0,
    );
    assert!((out.slab_min - without.slab_min).abs() < 0.1, "{out:?}");
    assert!(out.boiler < 24.0 && out.alarms == ["fire_out"], "{out:?}");
}

/// 20 kW into 252 W/K is water 79 K above the store: each call ends on its limits, and the slab is held all the same.
#[test]
fn an_injection_and_an_oversized_boiler_keep_their_starts() {
    for (boiler_w, least) in [(6_000.0, 2.2), (20_000.0, 1.8)] {
        let plant = Plant { boiler_w, ..demo() };
        let season = season_with_warm_pipes(
            12,
            |raw| raw.boiler = BoilerKind::Injection,
            plant,
            snap,
            4.0,
        );
        assert!(season.slab_min > least, "{season:?}");
        assert!(season.calls < 12 * 48, "{season:?}");
        assert!(season.alarms.is_empty(), "{season:?}");
    }
}

/// The supply at rest reads the pipe's room, and the store is known from the last run: no run for nothing.
#[test]
fn a_poor_store_behind_warm_pipes_costs_one_start_a_day() {
    let season = season_with_warm_pipes(12, |_| {}, weak(), |_| 3.0, 2.0);
    assert!(season.slab_min > 2.9, "{season:?}");
    assert!(season.most_starts_a_day <= 2, "{season:?}");
    assert_eq!(season.calls, 0, "{season:?}");
    assert!(season.alarms.is_empty(), "{season:?}");
}

/// A house that cannot hold its slab through the cold snap without calls.
fn weak() -> Plant {
    Plant {
        store: 4.5,
        ..demo()
    }
}

#[test]
fn the_weak_house_freezes_without_a_boiler() {
    let season = season(12, |raw| raw.boiler = BoilerKind::None, weak(), snap, 4.0);
    assert!(season.slab_min < -0.4, "{season:?}");
    assert!(season.alarms.contains(&"slab_cold"), "{season:?}");
}

#[test]
fn with_a_cold_store_the_boiler_carries_the_slab() {
    for (store, least) in [(3.2, 2.0), (4.5, 2.2), (5.5, 2.2)] {
        let plant = Plant { store, ..demo() };
        let season = season(12, |_| {}, plant, snap, 4.0);
        assert!(season.slab_min > least, "{store}: {season:?}");
        assert!(season.calls > 0, "{store}: {season:?}");
        assert!(season.most_starts_a_day <= 36, "{store}: {season:?}");
        // Nothing is wrong with the flow, only with the store.
        assert!(season.alarms.is_empty(), "{store}: {season:?}");
    }
}

#[test]
fn a_circulator_that_dies_rings_and_gets_a_trial_of_heat_at_most() {
    let mut bench = Bench::new();
    bench.plant = Some(Plant {
        outdoor: -8.0,
        ..demo()
    });
    bench.until(hours(48));
    if let Some(plant) = &mut bench.plant {
        plant.flows = false;
        plant.around = 4.0;
    }
    bench.wait_for(hours(24), "the alarm", |r| r.row.alarms.has(Alarm::NoFlow));
    let called = bench.watch.call_time;
    bench.pass(hours(48));
    let share = (bench.watch.call_time - called) as f64 / f64::from(hours(48).as_millis());
    assert!(
        share < 0.3,
        "half an hour in two is tried in an emergency: {share}"
    );
    // It tries again and again, but not all the time.
    let share = bench.watch.pump_time as f64 / f64::from(bench.time().as_millis());
    assert!(share < 0.9, "{share}");
}

/// Dead from the start, with pipes as cold as the slab, nothing tells a dead circulator from a cold
/// store; but the slab's cold rings, and heat is tried for half an hour in two at most.
#[test]
fn a_circulator_dead_from_the_start_rings() {
    let plant = Plant {
        flows: false,
        ..demo()
    };
    let season = season(4, |_| {}, plant, |_| -10.0, 3.0);
    assert!(season.alarms.contains(&"slab_cold"), "{season:?}");
    assert!(season.boiler < 0.3 * 96.0, "{season:?}");
}

#[test]
fn an_exposed_run_costs_a_start_each_hour_at_most() {
    let season = season(6, |raw| raw.exposed_time = mins(60), demo(), |_| -8.0, 4.0);
    assert!(season.most_starts_a_day <= 36, "{season:?}");
    assert!(season.slab_min > 3.0, "{season:?}");
}

#[test]
fn summer_is_quiet() {
    let plant = Plant {
        sun: 600.0,
        ..demo()
    };
    let season = season(20, |raw| raw.mode = Mode::Summer, plant, |_| 18.0, 6.0);
    assert!(season.pump < 0.2 && season.calls == 0, "{season:?}");
    assert!(season.alarms.is_empty(), "{season:?}");
}

/// The cold snap in the weak house with one sensor lost from the start.
fn without(sensor: Sensor) -> Season {
    let mut plant = weak();
    *plant.overridden.get_mut(sensor) = Some(Sample::Failed(ReadFault::Absent));
    season(12, |_| {}, plant, snap, 4.0)
}

#[test]
fn one_lost_sensor_costs_no_slab_and_no_forest() {
    let whole = season(12, |_| {}, weak(), snap, 4.0);
    assert!(whole.slab_min > 2.0 && whole.alarms.is_empty(), "{whole:?}");
    for (sensor, alarm) in [
        (Sensor::Supply, "supply_lost"),
        (Sensor::Return, "return_lost"),
        (Sensor::Slab, "slab_lost"),
        (Sensor::Outdoor, "outdoor_lost"),
    ] {
        let season = without(sensor);
        assert!(season.slab_min > 2.0, "{sensor:?}: {season:?}");
        assert!(season.slab_max < 9.0, "{sensor:?}: {season:?}");
        assert!(
            season.boiler < 2.5 * whole.boiler,
            "{sensor:?}: {season:?} {whole:?}"
        );
        assert!(season.most_starts_a_day <= 32, "{sensor:?}: {season:?}");
        assert_eq!(season.alarms, [alarm], "{sensor:?}: {season:?}");
    }
}

/// A sensor that reads wrong by a constant. None of the four may freeze the slab of a house that needs its calls.
#[test]
fn a_sensor_off_by_two_kelvin_freezes_nothing() {
    for (sensor, by) in [
        (Sensor::Supply, 2.0),
        (Sensor::Supply, -2.0),
        (Sensor::Return, 2.0),
        (Sensor::Return, -2.0),
        (Sensor::Slab, 2.0),
        (Sensor::Slab, -2.0),
        (Sensor::Outdoor, 8.0),
        (Sensor::Outdoor, -8.0),
    ] {
        let mut plant = weak();
        *plant.offset.get_mut(sensor) = by;
        let season = season(9, |_| {}, plant, snap, 4.0);
        assert!(season.slab_min > 1.5, "{sensor:?} {by}: {season:?}");
        assert!(
            season.most_starts_a_day <= 48,
            "{sensor:?} {by}: {season:?}"
        );
        assert!(season.boiler < 150.0, "{sensor:?} {by}: {season:?}");
    }
}
