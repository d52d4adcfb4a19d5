//! Circulator stopped for safety: overheating, and circulation that makes freezing worse.

use controller_core::alarm::Alarm;
use controller_core::sensor::{Sensor, Trust};
use controller_core::settings::BoilerKind;
use controller_core::{Command, Switch};

use crate::support::{Bench, hours, mins, secs};

/// Circulator on against frost and the boiler called: slab 1.7 °C from the half hour on.
fn calling() -> Bench {
    let mut bench = Bench::new();
    bench.until(mins(30));
    bench.slab_to(1.7);
    bench.set(Sensor::Return, 3.5);
    bench.until(mins(41));
    assert!(bench.pump() && bench.boiler(), "{}", bench.words());
    bench
}

#[test]
fn overheated_water_in_a_call_stops_both_on_the_second_read() {
    let mut bench = calling();
    bench.set(Sensor::Supply, 55.0);
    bench.step();
    assert!(bench.pump() && bench.boiler(), "one read may be wrong");
    bench.step();
    assert!(!bench.pump() && !bench.boiler());
    assert_eq!(bench.reason(), "overheat");
    assert!(bench.alarm(Alarm::Overheat) && bench.report().outputs.alarm);
    // A quarter of an hour, in which water at rest cools, then a minute's look.
    bench.set(Sensor::Supply, 53.0);
    let rest = bench.wait_for(mins(20), "a look", |r| r.outputs.circulator);
    assert!(rest >= mins(15) && rest <= mins(16), "{rest:?}");
    let look = bench.wait_for(mins(5), "its end", |r| !r.outputs.circulator);
    assert!(look >= secs(60) && look <= secs(80), "{look:?}");
    assert!(bench.alarm(Alarm::Overheat), "still hot");
    bench.set(Sensor::Supply, 51.0);
    bench.pass(mins(10));
    assert!(!bench.pump());
    bench.set(Sensor::Supply, 8.0);
    let rest = bench.wait_for(mins(10), "a look", |r| r.outputs.circulator);
    assert!(rest >= mins(4), "{rest:?}");
    bench.wait_for(mins(3), "the end of the trip", |r| {
        !r.row.alarms.has(Alarm::Overheat)
    });
    assert!(bench.pump(), "frost goes on in the same run");
    assert_eq!(bench.reason(), "frost");
}

#[test]
fn a_supply_stuck_hot_after_a_call_is_told_by_water_at_rest_that_does_not_cool() {
    let mut bench = calling();
    bench.set(Sensor::Supply, 70.0);
    bench.wait_for(mins(1), "the stop", |r| !r.outputs.circulator);
    let rest = bench.wait_for(mins(20), "frost", |r| r.outputs.circulator);
    assert!(rest >= mins(15) && rest <= mins(16), "{rest:?}");
    bench.always(hours(3), "circulation, no call", |r| {
        r.outputs.circulator && !r.outputs.boiler_call
    });
    let supply = bench.report().row.readings.supply;
    assert_ne!(supply.trust, Trust::Good);
}

#[test]
fn one_call_explains_one_trip() {
    let mut bench = calling();
    bench.set(Sensor::Supply, 55.0);
    bench.pass(secs(30));
    bench.wait_for(mins(20), "a look", |r| r.outputs.circulator);
    bench.set(Sensor::Supply, 8.0);
    bench.wait_for(mins(3), "the end", |r| !r.row.alarms.has(Alarm::Overheat));
    // The supply lies hot now: the return does not bear it out, and the call is used up.
    bench.set(Sensor::Supply, 60.0);
    bench.always(mins(20), "the circulator goes on", |r| r.outputs.circulator);
    assert!(!bench.boiler());
}

#[test]
fn a_hot_supply_nobody_bears_out_stops_no_circulator() {
    let mut bench = Bench::new();
    bench.until(mins(30));
    bench.slab_to(1.9);
    bench.until(mins(35));
    bench.set(Sensor::Supply, 60.0);
    bench.always(hours(2), "circulation, no call", |r| {
        r.outputs.circulator && !r.outputs.boiler_call
    });
    let supply = bench.report().row.readings.supply;
    assert_ne!(supply.trust, Trust::Good);
    assert!(bench.report().outputs.alarm);
}

#[test]
fn a_warm_return_bears_a_hot_supply_out() {
    let mut bench = Bench::new();
    bench.until(mins(30));
    bench.slab_to(2.1);
    bench.until(mins(35));
    bench.set(Sensor::Supply, 55.0);
    bench.set(Sensor::Return, 20.0);
    bench.pass(secs(20));
    assert!(!bench.pump());
    assert_eq!(bench.reason(), "overheat");
}

#[test]
fn water_near_freezing_stops_the_circulator_after_three_minutes_and_looks_every_hour() {
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
    bench.read(0.3, 1.0, 1.2, -10.0);
    bench.wait_for(mins(2), "frost", |r| r.outputs.circulator);
    let ran = bench.wait_for(mins(20), "the stop", |r| !r.outputs.circulator);
    assert!(ran >= secs(640) && ran <= mins(12), "{ran:?}");
    assert_eq!(bench.reason(), "freeze_harm");
    assert!(bench.alarm(Alarm::FreezeHarm));
    for _ in 0..2 {
        let rest = bench.wait_for(mins(70), "a look", |r| r.outputs.circulator);
        assert!(rest >= mins(60) && rest <= mins(61), "{rest:?}");
        bench.pass(mins(9));
        assert_eq!(bench.reason(), "freeze_harm", "only a look");
        let look = bench.wait_for(mins(20), "its end", |r| !r.outputs.circulator);
        assert!(look >= secs(100) && look <= mins(3), "{look:?}");
    }
    bench.read(6.0, 4.0, 1.2, -10.0);
    bench.wait_for(mins(80), "a good look", |r| {
        !r.row.alarms.has(Alarm::FreezeHarm)
    });
    assert!(bench.pump());
    assert_eq!(bench.reason(), "frost");
}

#[test]
fn the_boiler_is_tried_before_freezing_water_is_stopped() {
    let mut bench = Bench::new();
    bench.until(mins(31));
    bench.read(0.3, 1.0, 4.0, -10.0);
    bench.slab_to(1.2);
    bench.wait_for(mins(5), "frost", |r| r.outputs.circulator);
    let started = bench.now;
    bench.wait_for(mins(15), "the call", |r| r.outputs.boiler_call);
    bench.wait_for(mins(40), "the stop", |r| !r.outputs.circulator);
    let ran = bench.now.since(started);
    // Purge, then one window of proof.
    assert!(ran >= mins(27) && ran <= mins(32), "{ran:?}");
    assert!(!bench.boiler());
    assert!(bench.alarm(Alarm::FreezeHarm) && bench.alarm(Alarm::FireOut));
    // At the hour the boiler may be tried again, not before a look.
    bench.always(mins(55), "rest", |r| {
        !r.outputs.circulator && !r.outputs.boiler_call
    });
    bench.always(mins(15), "a look", |r| !r.outputs.boiler_call);
}

#[test]
fn freezing_water_is_stopped_at_once_if_the_boiler_may_no_longer_be_tried() {
    let mut bench = Bench::new();
    bench.until(mins(31));
    bench.read(0.3, 1.0, 4.0, -10.0);
    bench.slab_to(1.2);
    bench.wait_for(mins(20), "the call", |r| r.outputs.boiler_call);
    bench.pass(mins(4));
    bench.command(Command::Boiler(Switch::Off));
    let ran = bench.wait_for(mins(10), "the stop", |r| !r.outputs.circulator);
    assert!(ran <= mins(1), "{ran:?}");
    assert_eq!(bench.reason(), "freeze_harm");
}

#[test]
fn heat_that_came_once_keeps_no_freezing_water_moving() {
    let mut bench = calling();
    for supply in [8.0, 11.0, 14.0] {
        bench.set(Sensor::Supply, supply);
        bench.pass(mins(2));
    }
    bench.slab_to(3.7);
    bench.wait_for(mins(40), "the call's end", |r| !r.outputs.boiler_call);
    for cold in [10.0, 6.0, 3.0, 0.3] {
        bench.set(Sensor::Supply, cold);
        bench.set(Sensor::Return, f64::min(cold + 0.7, 4.0));
        bench.pass(mins(1));
    }
    // The boiler still rests: there is nothing to try.
    bench.slab_to(2.1);
    let ran = bench.wait_for(mins(20), "the stop", |r| !r.outputs.circulator);
    assert!(ran <= mins(15), "{ran:?}");
    assert_eq!(bench.reason(), "freeze_harm");
}

#[test]
fn heat_that_comes_keeps_freezing_water_moving() {
    let mut bench = Bench::new();
    bench.until(mins(31));
    bench.read(0.3, 1.0, 4.0, -10.0);
    bench.slab_to(1.2);
    bench.wait_for(mins(20), "the call", |r| r.outputs.boiler_call);
    for n in 0..12 {
        bench.set(Sensor::Supply, 0.3 + 0.3 * f64::from(n));
        bench.pass(secs(30));
    }
    bench.set(Sensor::Return, 2.0);
    bench.always(hours(1), "circulation with heat", |r| {
        r.outputs.circulator && !r.row.summary.harm
    });
}

#[test]
fn a_supply_near_freezing_stops_nothing_while_the_return_is_not() {
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
    bench.read(0.4, 2.0, 2.1, -10.0);
    bench.wait_for(mins(2), "frost", |r| r.outputs.circulator);
    bench.always(hours(1), "circulation", |r| r.outputs.circulator);
}

#[test]
fn one_freezing_reading_stops_nothing() {
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
    bench.read(6.0, 4.0, 2.1, -10.0);
    bench.until(mins(20));
    assert!(bench.pump());
    bench.set(Sensor::Supply, -2.0);
    bench.always(hours(1), "circulation", |r| r.outputs.circulator);
    let supply = bench.report().row.readings.supply;
    assert_ne!(supply.trust, Trust::Good, "{supply:?}");
}

/// Runs with the slab changing by so much an hour.
fn ramp(bench: &mut Bench, from: f64, per_hour: f64, minutes: u32) -> f64 {
    let mut slab = from;
    for _ in 0..minutes * 6 {
        slab += per_hour / 360.0;
        bench.set(Sensor::Slab, slab);
        bench.step();
    }
    slab
}

#[test]
fn a_run_that_robs_the_slab_faster_than_rest_does_is_stopped() {
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
    bench.read(5.0, 5.0, 7.0, 0.5);
    let slab = ramp(&mut bench, 7.0, -0.1, 100);
    assert!(!bench.pump());
    // Cold pipes: the circulator runs, and the slab falls ten times as fast.
    bench.set(Sensor::Supply, 2.5);
    bench.set(Sensor::Return, 4.8);
    let slab = ramp(&mut bench, slab, -1.0, 50);
    assert!(bench.pump(), "{}", bench.words());
    ramp(&mut bench, slab, -1.0, 25);
    assert!(bench.report().row.summary.harm, "{}", bench.words());
}

#[test]
fn a_run_with_a_supply_little_below_the_slab_goes_on() {
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
    bench.read(5.0, 5.0, 4.9, 0.5);
    let slab = ramp(&mut bench, 4.9, -0.1, 100);
    bench.set(Sensor::Supply, 2.9);
    bench.set(Sensor::Return, 3.0);
    let slab = ramp(&mut bench, slab, -0.9, 63);
    ramp(&mut bench, slab, -0.3, 20);
    assert!(bench.pump() && !bench.report().row.summary.harm);
}

#[test]
fn the_same_run_with_a_slab_that_falls_no_faster_goes_on() {
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
    bench.read(5.0, 5.0, 7.0, 0.5);
    let slab = ramp(&mut bench, 7.0, -0.5, 100);
    bench.set(Sensor::Supply, 2.5);
    bench.set(Sensor::Return, 4.8);
    ramp(&mut bench, slab, -0.5, 120);
    assert!(bench.pump() && !bench.report().row.summary.harm);
}
