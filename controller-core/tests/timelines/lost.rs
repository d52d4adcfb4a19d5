//! Sensors that are lost, or are taken for lost since they answer nothing; and what goes on without them.

use controller_core::alarm::Alarm;
use controller_core::sensor::{ReadingFault, Sensor};
use controller_core::settings::{BoilerKind, RawSettings};
use controller_core::units::Celsius;
use controller_core::{Command, SlabFrom};

use crate::support::{Bench, hours, mins, secs};

use super::boiler::{called, heating, uncalled};

/// Readings; those of `lost` fail from the start.
fn losing(lost: &[Sensor], [s, r, l, o]: [f64; 4], change: impl FnOnce(&mut RawSettings)) -> Bench {
    let mut bench = Bench::with(change);
    bench.read(s, r, l, o);
    for sensor in lost {
        bench.lose(*sensor);
    }
    bench.until(mins(31));
    for sensor in Sensor::ALL {
        let row = &bench.report().row;
        assert_eq!(row.readings.get(sensor).is_lost(), lost.contains(&sensor));
    }
    bench
}

#[test]
fn with_a_slab_reading_the_slab_is_protected_whatever_else_is_lost() {
    use Sensor::{Outdoor, Return, Supply};
    for lost in [
        &[] as &[Sensor],
        &[Supply],
        &[Return],
        &[Supply, Return],
        &[Outdoor],
        &[Supply, Return, Outdoor],
    ] {
        let mut bench = losing(lost, [9.0, 5.0, 7.0, 8.0], |raw| {
            raw.boiler = BoilerKind::None;
        });
        // Weather nobody knows is taken for cold, and the water is asked.
        if !lost.contains(&Outdoor) {
            bench.always(hours(1), "rest", |r| !r.outputs.circulator);
        }
        bench.slab_to(2.1);
        bench.wait_for(mins(6), "frost", |r| r.row.reason.name() == "frost");
        bench.always(hours(2), "running on", |r| {
            r.outputs.circulator && r.row.reason.name() == "frost"
        });
    }
}

#[test]
fn with_every_sensor_lost_the_circulator_runs_within_two_minutes_and_rings() {
    let mut bench = Bench::with(|raw| raw.supply_limited = false);
    bench.read(6.0, 6.0, 6.0, 4.0);
    bench.until(mins(20));
    assert!(!bench.pump());
    for sensor in Sensor::ALL {
        bench.lose(sensor);
    }
    let waited = bench.wait_for(mins(3), "the start", |r| r.outputs.circulator);
    assert!(waited <= secs(120), "{waited:?}");
    bench.pass(mins(1));
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

/// Minutes of call in six hours with nothing known but the weather as it last was.
fn blind_minutes(outdoor: f64, change: impl FnOnce(&mut RawSettings)) -> u64 {
    let mut bench = losing(&Sensor::ALL[..3], [6.0, 5.0, 4.0, outdoor], change);
    bench.pass(hours(1));
    let before = bench.watch.call_time;
    bench.pass(hours(6));
    (bench.watch.call_time - before) / 60_000
}

#[test]
fn a_slab_nobody_knows_is_heated_half_the_time_below_minus_4_degrees() {
    for kind in [BoilerKind::Firing, BoilerKind::Injection] {
        let minutes = blind_minutes(-4.5, |raw| raw.boiler = kind);
        // What shows no heat in 75 min of call is not asked more often.
        assert!((150..=185).contains(&minutes), "{kind:?}: {minutes}");
        assert_eq!(blind_minutes(-3.5, |raw| raw.boiler = kind), 0);
        let unlimited = blind_minutes(-10.0, |raw| {
            raw.boiler = kind;
            raw.supply_limited = false;
        });
        assert_eq!(unlimited, 0, "{kind:?}");
    }
}

#[test]
fn weather_nobody_knows_is_remembered_for_six_hours_and_then_taken_for_cold() {
    let mut bench = losing(&[Sensor::Outdoor], [8.0, 8.0, 6.0, 3.0], |_| {});
    let mean = |bench: &Bench| {
        bench
            .report()
            .row
            .estimate
            .outdoor_mean
            .map(crate::support::as_f64)
    };
    assert_eq!(mean(&bench), Some(-6.0), "never seen");
    bench.set(Sensor::Outdoor, 3.0);
    bench.pass(mins(5));
    bench.lose(Sensor::Outdoor);
    bench.pass(mins(355));
    assert_eq!(mean(&bench), Some(3.0));
    bench.pass(mins(10));
    assert_eq!(mean(&bench), Some(-6.0));
}

#[test]
fn without_a_slab_reading_cold_water_calls_for_75_minutes_and_warm_water_for_none() {
    for (water, calls) in [(4.1, true), (4.4, false)] {
        let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::Injection);
        bench.read(5.0, water, 4.0, -3.0);
        bench.lose(Sensor::Slab);
        bench.until(mins(15));
        assert_eq!(bench.report().row.estimate.slab_from, SlabFrom::Water);
        assert_eq!(bench.boiler(), calls, "{water}");
        if calls {
            bench.set(Sensor::Supply, 16.0);
            bench.set(Sensor::Return, 8.0);
            let begun = bench.watch.call_time / 60_000;
            bench.wait_for(mins(80), "the end", uncalled);
            let ran = bench.watch.call_time / 60_000;
            assert!((74..=76).contains(&ran), "{ran} from {begun}");
        }
    }
}

#[test]
fn a_slab_that_answers_no_heat_in_two_hours_is_lost() {
    let mut bench = heating(2.1, |_| {});
    let told = bench.wait_for(mins(130), "the loss", |r| r.row.readings.slab.is_lost());
    assert!(told >= mins(112) && told <= mins(122), "{told:?}");
    assert_eq!(bench.report().row.readings.slab.fault, ReadingFault::Stuck);
    assert!(bench.alarm(Alarm::SlabLost) && bench.report().outputs.alarm);
    assert_eq!(bench.report().row.estimate.slab_from, SlabFrom::Water);
    // A person has seen to it.
    bench.command(Command::Acknowledge);
    bench.pass(mins(2));
    assert!(!bench.report().row.readings.slab.is_lost());
}

#[test]
fn a_slab_that_moves_half_a_kelvin_in_a_call_answers() {
    let mut bench = heating(2.1, |_| {});
    bench.slab_to(2.7);
    bench.always(hours(6), "a trusted slab", |r| {
        !r.row.readings.slab.is_lost()
    });
}

#[test]
fn a_return_that_answers_no_heat_in_40_minutes_is_lost() {
    // The supply alone shows the heat.
    let mut bench = super::boiler::cold(2.1, |_| {});
    bench.wait_for(mins(20), "the call", called);
    for supply in [6.0, 11.0, 14.5] {
        bench.set(Sensor::Supply, supply);
        bench.pass(mins(2));
    }
    let told = bench.wait_for(mins(50), "the loss", |r| r.row.readings.ret.is_lost());
    assert!(told >= mins(37) && told <= mins(41), "{told:?}");
    assert_eq!(bench.report().row.readings.ret.fault, ReadingFault::Stuck);
    bench.pass(secs(10));
    assert!(bench.alarm(Alarm::ReturnLost));
    assert_eq!(bench.report().row.estimate.water, None, "its word is void");
    // It moves after all: trusted again a minute later.
    bench.set(Sensor::Return, 5.5);
    bench.wait_for(mins(3), "belief", |r| !r.row.readings.ret.is_lost());
}

#[test]
fn a_silent_sensor_stays_lost_for_a_day() {
    let mut bench = heating(2.1, |_| {});
    bench.wait_for(mins(130), "the loss", |r| r.row.readings.slab.is_lost());
    bench.read(6.0, 6.0, 4.6, 6.0);
    bench.wait_for(hours(2), "the call's end", uncalled);
    bench.always(hours(21), "lost", |r| r.row.readings.slab.is_lost());
    bench.wait_for(hours(4), "belief", |r| !r.row.readings.slab.is_lost());
}

#[test]
fn a_hot_supply_that_the_return_does_not_confirm_for_ten_minutes_is_lost_for_two_hours() {
    let mut bench = Bench::with(|raw| raw.backup_slab = Celsius::from_milli(2_000));
    bench.read(6.0, 4.0, 2.1, -3.0);
    bench.until(mins(20));
    bench.set(Sensor::Supply, 45.0);
    let told = bench.wait_for(mins(20), "the loss", |r| r.row.readings.supply.is_lost());
    assert!(told >= mins(10) && told <= mins(11), "{told:?}");
    assert!(bench.alarm(Alarm::SupplyLost));
    // Its word ends no call any more.
    bench.wait_for(mins(40), "the call", called);
    bench.set(Sensor::Supply, 6.0);
    let back = bench.wait_for(hours(3), "belief", |r| !r.row.readings.supply.is_lost());
    assert!(back <= hours(2) + mins(1), "{back:?}");
}

#[test]
fn a_hot_supply_that_the_return_confirms_is_trusted() {
    let mut bench = Bench::with(|raw| raw.backup_slab = Celsius::from_milli(2_000));
    bench.read(6.0, 12.0, 2.1, -3.0);
    bench.until(mins(20));
    bench.set(Sensor::Supply, 45.0);
    bench.pass(mins(10));
    bench.always(hours(2), "belief, circulation, no call", |r| {
        !r.row.readings.supply.is_lost() && r.outputs.circulator && !r.outputs.boiler_call
    });
}

#[test]
fn a_slab_without_any_reading_wants_heat_but_in_warm_air() {
    for (outdoor, runs) in [(9.0, true), (25.0, false)] {
        let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
        bench.read(20.0, 20.0, 20.0, outdoor);
        for sensor in [Sensor::Slab, Sensor::Return] {
            bench.lose(sensor);
        }
        bench.until(mins(31));
        let what = format!("slab and return lost at {outdoor} °C outdoors");
        bench.always(hours(6), &what, |r| r.outputs.circulator == runs);
        let told = bench.report().row.alarms;
        assert!(told.has(Alarm::SlabLost) && told.has(Alarm::ReturnLost));
    }
}
