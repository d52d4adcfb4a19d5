//! With sensors lost: what circulator and boiler do, for each of the sixteen combinations.

use controller_core::alarm::Alarm;
use controller_core::sensor::Sensor;
use controller_core::settings::{BoilerKind, Mode, RawSettings};
use controller_core::units::Celsius;
use controller_core::{BoilerState, FrostKind};

use crate::support::{Bench, c, hours, mins, secs, settings};

/// What the circulator does over some hours.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Circulator {
    /// Runs on, but for pauses to look.
    On,
    /// Runs by the clock: minutes on, minutes off.
    Clock(u32, u32),
}
use Circulator::{Clock, On};

const SENSORS: [(char, Sensor); 4] = [
    ('S', Sensor::Supply),
    ('R', Sensor::Return),
    ('L', Sensor::Slab),
    ('O', Sensor::Outdoor),
];

/// Readings S, R, L, O; those named in `lost` fail for ten minutes before anything is judged.
fn losing(lost: &str, readings: [f64; 4], change: impl FnOnce(&mut RawSettings)) -> Bench {
    let mut bench = Bench::with(change);
    let [s, r, l, o] = readings;
    bench.read(s, r, l, o);
    for (name, sensor) in SENSORS {
        if lost.contains(name) {
            bench.lose(sensor);
        }
    }
    bench.until(mins(31));
    for (name, sensor) in SENSORS {
        let row = &bench.report().row;
        assert_eq!(row.readings.get(sensor).is_lost(), lost.contains(name));
    }
    assert!(bench.report().outputs.alarm || lost.is_empty());
    bench
}

#[track_caller]
fn circulator(lost: &str, readings: [f64; 4], expected: Circulator) {
    let mut bench = losing(lost, readings, |raw| raw.boiler = BoilerKind::None);
    let (ran, starts) = (bench.watch.pump_time, bench.watch.starts);
    bench.pass(hours(12));
    let minutes = (bench.watch.pump_time - ran) / 60_000;
    let starts = bench.watch.starts - starts;
    let what = format!("{lost} {readings:?}: {minutes} of 720 min, {starts} starts");
    match expected {
        On => assert!(minutes >= 12 * 60 - 40 && starts <= 4, "{what}"),
        Clock(on, off) => {
            let share = 720 * u64::from(on) / u64::from(on + off);
            let cycles = 720 / (on + off);
            assert!(minutes.abs_diff(share) <= share / 10, "{what}");
            assert!(starts.abs_diff(cycles) <= cycles / 10 + 1, "{what}");
        }
    }
}

#[test]
fn with_a_slab_reading_the_slab_decides() {
    for lost in ["", "S", "R", "SR", "O", "SO", "RO", "SRO"] {
        // Warm slab, mild: rest. A lost outdoor reading counts as -6 °C after six hours.
        let warm = losing(lost, [9.0, 5.0, 7.0, 8.0], |_| {});
        let mut bench = warm;
        bench.always(hours(1), "rest", |r| !r.outputs.circulator);
        // Cold slab: frost, whatever is lost.
        bench.slab_to(2.1);
        bench.wait_for(mins(2), "frost", |r| r.outputs.circulator);
        assert_eq!(bench.reason(), "frost", "{lost}");
        bench.always(hours(2), "running on", |r| r.outputs.circulator);
    }
}

#[test]
fn with_a_slab_reading_heat_is_harvested_and_judged_by_what_is_left() {
    for (lost, good, poor) in [
        ("", [9.0, 5.0], [5.0, 4.6]),
        ("S", [0.0, 5.0], [0.0, 3.4]),
        ("R", [9.0, 0.0], [4.6, 0.0]),
        ("O", [9.0, 5.0], [5.0, 4.6]),
        ("SO", [0.0, 5.0], [0.0, 3.4]),
        ("RO", [9.0, 0.0], [4.6, 0.0]),
    ] {
        let mut bench = losing(lost, [good[0], good[1], 3.3, 8.0], |raw| {
            raw.boiler = BoilerKind::None;
        });
        bench.pass(hours(2));
        assert_eq!(bench.reason(), "harvest", "{lost}: {}", bench.words());
        for (sensor, to) in [(Sensor::Supply, poor[0]), (Sensor::Return, poor[1])] {
            if bench.samples.get(sensor).value().is_some() {
                bench.set(sensor, to);
            }
        }
        bench.wait_for(mins(30), "the end of a poor run", |r| !r.outputs.circulator);
    }
    // With neither pipe reading: a plain thermostat with long runs.
    for lost in ["SR", "SRO"] {
        let mut bench = losing(lost, [0.0, 0.0, 4.3, 8.0], |raw| {
            raw.boiler = BoilerKind::None
        });
        bench.slab_to(3.3);
        bench.wait_for(mins(10), "the start", |r| r.outputs.circulator);
        bench.slab_to(5.2);
        let ran = bench.wait_for(hours(1), "the end", |r| !r.outputs.circulator);
        assert!(ran >= mins(28) && ran <= mins(30), "{lost}: {ran:?}");
    }
}

#[test]
fn without_a_slab_reading_the_weather_and_the_clock_decide() {
    // Slab lost: its water is read in the pauses; cold water keeps the run going.
    circulator("L", [5.0, 3.0, 0.0, -1.0], On);
    circulator("L", [5.0, 4.9, 0.0, 3.0], Clock(15, 30));
    circulator("SL", [0.0, 3.0, 0.0, -6.0], On);
    circulator("SL", [0.0, 5.5, 0.0, 3.0], Clock(15, 15));
    circulator("RL", [5.0, 0.0, 0.0, 2.0], On);
    circulator("RL", [5.0, 0.0, 0.0, 8.0], Clock(15, 45));
    circulator("SRL", [0.0, 0.0, 0.0, 2.0], On);
    circulator("SRL", [0.0, 0.0, 0.0, 8.0], Clock(15, 45));
    circulator("LO", [5.0, 3.0, 0.0, 0.0], On);
    circulator("SLO", [0.0, 2.0, 0.0, 0.0], On);
    circulator("RLO", [5.0, 0.0, 0.0, 0.0], On);
    circulator("SRLO", [0.0; 4], On);
}

#[test]
fn warm_water_out_of_the_slab_ends_continuous_running() {
    // Water says 5 °C: the pauses find it, and the run is left.
    let mut bench = losing("LO", [7.0, 5.5, 0.0, 0.0], |raw| {
        raw.boiler = BoilerKind::None
    });
    bench.wait_for(hours(5), "the water's word", |r| {
        r.row.summary.frost.is_none()
    });
    bench.always(hours(3), "no frost asks", |r| r.row.summary.frost.is_none());
    // And cold water brings it back.
    bench.set(Sensor::Supply, 4.0);
    bench.set(Sensor::Return, 2.5);
    bench.wait_for(hours(5), "frost", |r| r.row.summary.frost.is_some());
    bench.wait_for(hours(5), "the water's word again", |r| {
        r.row
            .estimate
            .water_slab
            .is_some_and(|t| t < Celsius::from_milli(2_500))
    });
    bench.always(hours(3), "it runs on", |r| r.outputs.circulator);
}

#[test]
fn a_chilled_supply_stops_a_blind_run_and_is_looked_at_hourly() {
    let mut bench = losing("RLO", [5.0, 0.0, 0.0, 0.0], |raw| {
        raw.boiler = BoilerKind::None
    });
    assert!(bench.pump());
    bench.set(Sensor::Supply, 0.6);
    let ran = bench.wait_for(mins(30), "the stop", |r| !r.outputs.circulator);
    assert!(ran <= mins(20), "{ran:?}");
    bench.set(Sensor::Supply, 3.5); // at rest
    let rest = bench.wait_for(mins(70), "a look", |r| r.outputs.circulator);
    assert!(rest >= mins(40) && rest <= mins(61), "{rest:?}");
}

#[test]
fn a_supply_of_one_degree_keeps_a_blind_run_going() {
    let mut bench = losing("RLO", [5.0, 0.0, 0.0, 0.0], |raw| {
        raw.boiler = BoilerKind::None
    });
    bench.set(Sensor::Supply, 1.0);
    bench.always(hours(2), "running on", |r| r.outputs.circulator);
}

#[test]
fn a_chilled_supply_cuts_a_run_by_the_clock_short() {
    // The shortest run is two minutes less than the clock's.
    for (supply, ran) in [(5.0, 15), (1.0, 15), (0.6, 13)] {
        let mut bench = losing("RL", [5.0, 0.0, 0.0, 8.0], |raw| {
            raw.boiler = BoilerKind::None;
            raw.pump_min_on = mins(13);
        });
        bench.wait_for(hours(1), "the end of a run", |r| !r.outputs.circulator);
        bench.wait_for(hours(1), "the next", |r| r.outputs.circulator);
        bench.set(Sensor::Supply, supply);
        bench.pass(mins(5));
        assert_eq!(bench.report().row.summary.frost, Some(FrostKind::Blind));
        let rest = bench.wait_for(hours(1), "its end", |r| !r.outputs.circulator);
        assert_eq!(rest + mins(5), mins(ran), "{supply}");
    }
}

#[test]
fn runs_by_the_clock_end_at_their_outdoor_limit() {
    for (outdoor, runs) in [(4.9, true), (5.0, false)] {
        let mut bench = losing("L", [9.0, 9.0, 0.0, outdoor], |_| {});
        bench.pass(mins(30));
        let before = bench.watch.starts;
        bench.pass(hours(2));
        assert_eq!(bench.watch.starts > before, runs, "{outdoor}");
    }
}

#[test]
fn a_blind_run_pauses_to_read_the_slabs_water_and_goes_by_it() {
    for (water, runs_on) in [(2.9, true), (3.4, false)] {
        let mut bench = losing("SLO", [0.0, 5.0, 0.0, 0.0], |raw| {
            raw.boiler = BoilerKind::None
        });
        let ran = bench.wait_for(hours(5), "a pause", |r| !r.outputs.circulator);
        assert!(ran >= mins(200) && ran <= mins(240), "{ran:?}");
        let rest = bench.wait_for(mins(20), "its end", |r| r.outputs.circulator);
        assert_eq!(rest, mins(11));
        // What lay in the warm is gone: the slab's water follows.
        bench.set(Sensor::Return, water);
        bench.pass(mins(14));
        assert!(bench.report().row.estimate.water_slab.is_some());
        assert_eq!(bench.report().row.summary.frost, Some(FrostKind::Blind));
        bench.pass(mins(10));
        let asks = bench.report().row.summary.frost;
        assert_eq!(asks, runs_on.then_some(FrostKind::Blind), "{water}");
        assert_eq!(bench.pump(), runs_on, "{water}");
    }
}

#[test]
fn with_every_sensor_lost_the_circulator_runs_within_two_minutes_and_rings() {
    let mut bench = Bench::new();
    bench.read(6.0, 6.0, 6.0, 5.0);
    bench.until(mins(20));
    assert!(!bench.pump());
    for (_, sensor) in SENSORS {
        bench.lose(sensor);
    }
    let waited = bench.wait_for(mins(3), "the start", |r| r.outputs.circulator);
    assert!(waited <= secs(120), "{waited:?}");
    assert!(bench.alarm(Alarm::AllLost) && bench.report().outputs.alarm);
    let words = bench.words();
    assert!(
        words.contains("lost=supply return slab outdoor "),
        "{words}"
    );
    bench.always(hours(24), "circulation, no call", |r| {
        r.outputs.circulator && !r.outputs.boiler_call
    });
}

#[test]
fn in_summer_a_blind_circulator_runs_by_the_clock() {
    let mut bench = losing("SRLO", [0.0; 4], |raw| raw.mode = Mode::Summer);
    let ran = bench.watch.pump_time;
    bench.pass(hours(12));
    let minutes = (bench.watch.pump_time - ran) / 60_000;
    assert!(
        (170..=190).contains(&minutes),
        "{minutes} min in twelve hours"
    );
}

/// Minutes of call in six hours, from the second hour on, slab and water cold.
fn call_minutes(lost: &str, change: fn(&mut RawSettings)) -> u64 {
    let mut bench = losing(lost, [4.6, 2.6, 1.7, -10.0], change);
    if bench.samples.supply.value().is_some() {
        // Some heat shows in every call.
        bench.wait_for(hours(3), "the call", |r| r.outputs.boiler_call);
        for supply in [7.0, 9.0, 12.0] {
            bench.set(Sensor::Supply, supply);
            bench.pass(mins(2));
        }
    } else {
        bench.pass(hours(1));
    }
    let before = bench.watch.call_time;
    bench.pass(hours(6));
    (bench.watch.call_time - before) / 60_000
}

#[test]
fn without_a_supply_reading_there_is_no_call_but_behind_a_tested_limit() {
    for lost in ["S", "SR", "SL", "SRL", "SO", "SRO", "SLO", "SRLO"] {
        for change in [(|_| {}) as fn(&mut RawSettings), |raw| {
            raw.boiler = BoilerKind::Injection
        }] {
            assert_eq!(call_minutes(lost, change), 0, "{lost}");
        }
        let tested = call_minutes(lost, |raw| {
            raw.boiler = BoilerKind::Injection;
            raw.hard_limit_tested = true;
        });
        // Ten minutes an hour; blind to everything only if the owner set it.
        let most = if lost == "SRLO" { 0 } else { 62 };
        assert!(tested <= most, "{lost}: {tested} min in six hours");
        if ["S", "SR", "SO", "SRO"].contains(&lost) {
            assert!(tested >= 40, "{lost}: {tested}");
        }
    }
    let blind = call_minutes("SRLO", |raw| {
        raw.boiler = BoilerKind::Injection;
        raw.hard_limit_tested = true;
        raw.blind_duty = mins(10);
    });
    assert!((40..=62).contains(&blind), "{blind}");
    let half = call_minutes("SRLO", |raw| {
        raw.boiler = BoilerKind::Injection;
        raw.hard_limit_tested = true;
        raw.blind_duty = mins(5);
    });
    assert!(
        (20..=32).contains(&half),
        "the owner's five minutes an hour: {half}"
    );
}

#[test]
fn with_a_supply_reading_an_injection_is_limited_in_share() {
    for (lost, percent) in [
        ("", 100),
        ("O", 100),
        ("R", 50),
        ("RO", 50),
        ("L", 50),
        ("RL", 30),
        ("LO", 50),
    ] {
        let minutes = call_minutes(lost, |raw| raw.boiler = BoilerKind::Injection);
        let most = 360 * percent / 100;
        // By the water alone: known only now and then.
        let least = if lost == "LO" { 60 } else { most * 9 / 10 };
        assert!(
            (least..=most + 5).contains(&minutes),
            "{lost}: {minutes} of {most}"
        );
    }
}

#[test]
fn a_fire_burns_half_an_hour_and_rests_by_its_share() {
    for (lost, rest) in [("R", 30), ("L", 30), ("RL", 70), ("RLO", 120)] {
        let mut bench = losing(lost, [4.6, 2.6, 1.7, -10.0], |_| {});
        let mut supply = 4.6_f64;
        let (mut runs, mut rests) = (Vec::new(), Vec::new());
        let (mut since, mut was) = (bench.now, bench.boiler());
        for _ in 0..12 * 360 {
            supply = if bench.boiler() {
                (supply + 0.1).min(20.0)
            } else {
                (supply - 0.1).max(4.6)
            };
            bench.set(Sensor::Supply, supply);
            bench.step();
            if bench.boiler() != was {
                let stood = bench.now.since(since).as_secs() / 60;
                if was {
                    runs.push(stood)
                } else {
                    rests.push(stood)
                }
                (since, was) = (bench.now, bench.boiler());
            }
        }
        assert!(runs.len() >= 3, "{lost}: {runs:?} {rests:?}");
        assert!(
            runs.iter().all(|run| (29..=31).contains(run)),
            "{lost}: {runs:?}"
        );
        let later = rests.iter().skip(1);
        assert!(
            later.clone().all(|r| (rest..=rest + 1).contains(r)),
            "{lost}: {rests:?}"
        );
    }
}

/// Does anything ask for heat? An injection behind a tested limit, with the owner's ten minutes.
fn asks(bench: &Bench) -> bool {
    match bench.report().row.summary.boiler {
        BoilerState::Idle => false,
        BoilerState::Waiting | BoilerState::Proving | BoilerState::Heating => true,
        BoilerState::NoHeat | BoilerState::Barred => panic!("{}", bench.words()),
    }
}

fn may_call(raw: &mut RawSettings) {
    raw.boiler = BoilerKind::Injection;
    raw.hard_limit_tested = true;
    raw.blind_duty = mins(10);
    raw.outdoor_time = hours(4);
}

#[test]
fn with_the_supply_alone_a_cold_one_calls_and_two_kelvins_more_end_it() {
    let mut warm = losing("RLO", [5.1, 0.0, 0.0, 0.0], may_call);
    warm.pass(hours(1));
    assert!(!asks(&warm));
    warm.set(Sensor::Supply, 4.9);
    warm.pass(mins(10));
    assert!(asks(&warm));
    warm.wait_for(hours(1), "the call", |r| r.outputs.boiler_call);
    warm.set(Sensor::Supply, 6.9);
    warm.pass(mins(20));
    assert!(asks(&warm));
    warm.set(Sensor::Supply, 7.1);
    warm.pass(mins(20));
    assert!(!asks(&warm));
    let mut summer = losing("RLO", [4.0, 0.0, 0.0, 0.0], |raw| {
        may_call(raw);
        raw.mode = Mode::Summer;
    });
    summer.always(hours(2), "no call", |r| !r.outputs.boiler_call);
}

#[test]
fn with_the_return_alone_a_cold_one_calls_and_two_kelvins_more_end_it() {
    let mut bench = losing("SLO", [0.0, 3.2, 0.0, 0.0], may_call);
    bench.pass(hours(1));
    assert!(!asks(&bench));
    bench.set(Sensor::Return, 2.9);
    bench.pass(mins(5));
    assert!(asks(&bench));
    bench.wait_for(hours(1), "the call", |r| r.outputs.boiler_call);
    bench.set(Sensor::Return, 4.9);
    bench.pass(mins(20));
    assert!(asks(&bench));
    bench.set(Sensor::Return, 5.1);
    bench.pass(mins(20));
    assert!(!asks(&bench));
}

#[test]
fn by_the_outdoor_mean_alone_a_call_ends_a_kelvin_above_where_it_began() {
    let mut bench = losing("RL", [5.0, 0.0, 0.0, -7.0], may_call);
    bench.wait_for(hours(1), "the call", |r| r.outputs.boiler_call);
    for supply in [7.0, 9.0, 12.0] {
        bench.set(Sensor::Supply, supply);
        bench.pass(mins(1));
    }
    bench.set(Sensor::Outdoor, 3.0);
    for (until, asked) in [(-5.1, true), (-4.9, false)] {
        bench.wait_for(hours(4), "the mean", |r| {
            r.row.estimate.outdoor_mean > Some(c(until))
        });
        bench.step();
        assert_eq!(asks(&bench), asked, "{until}");
    }
}

#[test]
fn blind_calls_end_with_the_winter() {
    let mut bench = losing("SRLO", [0.0; 4], may_call);
    bench.wait_for(hours(2), "the call", |r| r.outputs.boiler_call);
    bench.adopt(settings(|raw| {
        may_call(raw);
        raw.mode = Mode::Summer;
    }));
    bench.pass(hours(1));
    assert!(!asks(&bench));
}

#[test]
fn by_water_and_weather_cold_air_calls_only_for_a_slab_below_its_band() {
    for (ret, asked) in [(7.0, false), (4.9, true)] {
        let mut bench = losing("L", [8.5, ret, 0.0, -10.0], |raw| {
            may_call(raw);
            raw.boiler = BoilerKind::None;
        });
        bench.wait_for(hours(1), "the water's word", |r| {
            r.row.estimate.water_slab.is_some()
        });
        bench.adopt(settings(may_call));
        bench.pass(hours(3));
        assert_eq!(bench.watch.calls > 0, asked, "{ret}");
    }
}

#[test]
fn a_slab_reading_lost_in_a_dispute_is_let_in_again() {
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
    bench.read(8.0, 3.5, 4.5, 5.0);
    bench.until(mins(20));
    bench.slab_to(3.4);
    bench.wait_for(hours(3), "the dispute", |r| r.row.estimate.slab_disputed);
    bench.lose(Sensor::Slab);
    bench.wait_for(mins(2), "the loss", |r| r.row.readings.slab.is_lost());
    bench.set(Sensor::Slab, 3.4);
    bench.set(Sensor::Return, 5.0);
    bench.wait_for(mins(5), "its return", |r| !r.row.readings.slab.is_lost());
}

#[test]
fn a_stuck_supply_is_doubted_lost_and_let_in_when_it_moves() {
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
    bench.stirred = false;
    bench.read(6.0, 6.0, 2.1, 0.0);
    bench.until(mins(20));
    assert!(bench.pump());
    // The return moves as it must, the supply not at all.
    for n in 0..20 {
        bench.set(Sensor::Return, 6.0 - 0.15 * f64::from(n));
        bench.pass(mins(1));
    }
    bench.wait_for(mins(20), "doubt", |r| {
        r.row.readings.supply.fault.name() == "stuck"
    });
    bench.wait_for(hours(1), "the loss", |r| r.row.readings.supply.is_lost());
    bench.set(Sensor::Supply, 9.0);
    bench.wait_for(mins(10), "its return", |r| {
        r.row.readings.supply.trust == controller_core::sensor::Trust::Good
    });
}
