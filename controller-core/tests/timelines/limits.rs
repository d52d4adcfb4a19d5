//! What ends a call at once and keeps the next from starting.

use controller_core::alarm::Alarm;
use controller_core::sensor::Sensor;
use controller_core::settings::{BoilerKind, Mode, RawSettings};
use controller_core::units::KelvinPerHour;

use crate::support::{Bench, Plant, c, hours, k, mins, secs};

use super::boiler::{called, cold, heating};

fn limit(bench: &mut Bench, sensor: Sensor, limit: f64) {
    bench.set(sensor, limit - 0.01);
    bench.pass(mins(2));
    assert!(bench.boiler(), "just below: {}", bench.words());
    bench.set(sensor, limit);
    bench.step();
    assert!(bench.boiler(), "one read may be wrong");
    bench.step();
    assert!(!bench.boiler(), "{}", bench.words());
    bench.always(mins(5), "the circulator carries the heat off", |r| {
        r.outputs.circulator
    });
}

#[test]
fn the_supply_limit_ends_a_call() {
    limit(&mut heating(1.7, |_| {}), Sensor::Supply, 40.0);
    let set = |raw: &mut RawSettings| raw.supply_soft = c(36.0);
    limit(&mut heating(1.7, set), Sensor::Supply, 36.0);
}

#[test]
fn new_concrete_is_warmed_gently() {
    limit(
        &mut heating(1.7, |raw| raw.mode = Mode::Commissioning),
        Sensor::Supply,
        25.0,
    );
}

#[test]
fn warm_water_is_kept_from_the_store_but_for_an_emergency() {
    let series = |raw: &mut RawSettings| raw.return_to_store = true;
    // Not an emergency: called because the slab was not held.
    limit(&mut heating(2.1, series), Sensor::Return, 10.0);
    let no_food = |raw: &mut RawSettings| {
        raw.return_to_store = true;
        raw.cellar_storage = false;
    };
    limit(&mut heating(2.1, no_food), Sensor::Return, 15.0);
    let mut emergency = heating(1.7, series);
    assert!(!emergency.alarm(Alarm::ReturnLifted), "nothing to lift yet");
    emergency.set(Sensor::Return, 14.0);
    emergency.pass(mins(5));
    assert!(emergency.boiler());
    assert!(
        emergency.alarm(Alarm::ReturnLifted),
        "and a person hears of it"
    );
    for supply in [22.0, 24.0, 26.0, 28.0, 30.0] {
        emergency.set(Sensor::Supply, supply);
        emergency.set(Sensor::Return, supply - 7.0);
        emergency.pass(mins(1));
    }
    limit(&mut emergency, Sensor::Return, 25.0);
    let mut bypass = heating(2.1, |raw| raw.return_to_store = false);
    bypass.set(Sensor::Return, 18.0);
    bypass.pass(mins(5));
    assert!(bypass.boiler(), "a bypass keeps it from the store");
    assert!(!bypass.alarm(Alarm::ReturnLifted));
    bypass.slab_to(1.7);
    assert!(!bypass.alarm(Alarm::ReturnLifted));
}

#[test]
fn a_hot_slab_ends_a_call() {
    let mut bench = heating(1.7, |raw| raw.slab_max = c(10.0));
    bench.set(Sensor::Return, 8.0);
    bench.slab_to(10.2);
    bench.pass(mins(5));
    assert!(!bench.boiler());
}

#[test]
fn a_limit_outlives_the_sensor_that_set_it() {
    let mut bench = heating(2.1, |raw| raw.return_to_store = true);
    bench.set(Sensor::Return, 10.5);
    bench.pass(mins(1));
    assert!(!bench.boiler());
    bench.lose(Sensor::Return);
    bench.always(mins(58), "no call", |r| !r.outputs.boiler_call);
}

#[test]
fn a_doubted_supply_ends_a_call_and_a_lost_one_needs_a_tested_limit() {
    let mut bench = heating(1.7, |_| {});
    bench.lose(Sensor::Supply);
    let off = bench.wait_for(mins(1), "the end", |r| !r.outputs.boiler_call);
    assert!(off <= secs(20), "{off:?}");
    bench.always(hours(3), "circulation and no call", |r| {
        r.outputs.circulator && !r.outputs.boiler_call
    });
    assert!(bench.alarm(Alarm::SupplyLost));
    // Behind a tested limit an injection may go on, ten minutes in the hour.
    let mut bench = heating(1.7, |raw| {
        raw.boiler = BoilerKind::Injection;
        raw.hard_limit_tested = true;
    });
    bench.lose(Sensor::Supply);
    bench.pass(mins(65));
    let before = bench.watch.call_time;
    bench.pass(hours(6));
    let minutes = (bench.watch.call_time - before) / 60_000;
    assert!((40..=62).contains(&minutes), "{minutes} min in six hours");
    // A fire cannot be used so rarely.
    let mut bench = heating(1.7, |raw| raw.hard_limit_tested = true);
    bench.lose(Sensor::Supply);
    bench.pass(mins(1));
    bench.always(hours(3), "no call", |r| !r.outputs.boiler_call);
}

#[test]
fn a_supply_that_lies_cold_in_a_call_is_found_out_by_the_return() {
    let mut bench = cold(1.7, |_| {});
    bench.wait_for(mins(20), "the call", called);
    bench.set(Sensor::Return, 9.0); // the supply stays at 6 °C
    let off = bench.wait_for(mins(5), "the end", |r| !r.outputs.boiler_call);
    assert!(off >= mins(2) && off <= mins(2) + secs(40), "{off:?}");
    assert!(bench.alarm(Alarm::SupplyDoubted));
    assert!(bench.pump());
}

#[test]
fn a_slab_that_lies_cold_burns_no_wood_for_long() {
    // Slab reads -1 °C; its water says 15.
    let mut bench = Bench::new();
    bench.until(mins(31));
    bench.slab_to(-1.0);
    bench.set(Sensor::Supply, 16.0);
    bench.set(Sensor::Return, 15.3);
    bench.pass(mins(40));
    assert!(bench.pump());
    bench.always(hours(12), "no call", |r| !r.outputs.boiler_call);
    assert!(bench.alarm(Alarm::SlabDisputed));
}

#[test]
fn calls_that_keep_ending_on_the_supply_limit_are_spread_out() {
    let mut bench = heating(1.7, |raw| raw.boiler = BoilerKind::Injection);
    let mut rests = Vec::new();
    for _ in 0..6 {
        bench.set(Sensor::Supply, 41.0);
        bench.wait_for(mins(3), "the limit", |r| !r.outputs.boiler_call);
        bench.set(Sensor::Supply, 15.0);
        rests.push(bench.wait_for(hours(1), "the next call", called));
        bench.pass(secs(30));
    }
    assert!(bench.alarm(Alarm::Oversized));
    assert!(rests[2] <= mins(6), "{rests:?}");
    let later = &rests[3..];
    assert!(
        later.iter().all(|rest| *rest >= mins(20)),
        "a period longer: {rests:?}"
    );
}

#[test]
fn a_steep_rise_with_hot_water_starts_no_new_call() {
    let change = |raw: &mut RawSettings| {
        raw.boiler = BoilerKind::Injection;
        raw.supply_slab_max = k(10.0);
        raw.slab_rise_max = KelvinPerHour::from_milli(1_000);
        raw.slope_window = hours(1);
        (raw.backup_slab, raw.frost_on) = (c(5.0), c(5.0));
        (raw.frost_off, raw.slab_set) = (c(5.8), c(6.5));
    };
    // A store that is left alone: heat is asked for as long as the slab is under 5 °C.
    let mut bench = Bench::with(change);
    bench.read(4.4, 3.6, 3.2, 0.0);
    bench.wait_for(hours(1), "the hold", |r| r.row.summary.store_hold);
    bench.slab_to(2.1);
    bench.wait_for(hours(2), "the call", called);
    for supply in [8.0, 12.0, 16.0, 20.0] {
        bench.set(Sensor::Supply, supply);
        bench.pass(mins(1));
    }
    bench.set(Sensor::Return, 8.0);
    // Rising 2 K/h.
    let mut slab = 2.1;
    let mut rise = |bench: &mut Bench, minutes: u32| {
        for _ in 0..minutes * 6 {
            slab += 2.0 / 360.0;
            bench.set(Sensor::Slab, slab);
            bench.step();
        }
    };
    rise(&mut bench, 65);
    let calls = bench.watch.calls;
    rise(&mut bench, 20);
    assert_eq!(bench.watch.calls, calls, "steep: {}", bench.words());
    assert!(!bench.boiler());
    // Level again, or steep with water not so hot.
    let mut cooler = bench.clone();
    bench.wait_for(hours(2), "a call", called);
    cooler.set(Sensor::Supply, 15.0);
    rise(&mut cooler, 15);
    assert!(cooler.watch.calls > calls, "{}", cooler.words());
}

#[test]
fn no_call_into_water_that_stands_by_the_circulators_own_word() {
    let mut bench = cold(4.0, |_| {});
    bench.feedback = Some(false);
    bench.slab_to(1.7);
    bench.always(hours(2), "no call", |r| !r.outputs.boiler_call);
    bench.feedback = Some(true);
    bench.wait_for(mins(20), "the call", called);
}

#[test]
fn losing_a_pipe_reading_lets_no_heat_into_water_that_does_not_move() {
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::Injection);
    bench.plant = Some(Plant {
        flows: false,
        slab: 1.7,
        loss: 0.0,
        ..Plant::default()
    });
    bench.wait_for(hours(1), "no flow", |r| {
        r.row.estimate.flow_proof.name() == "absent"
    });
    let mut moves = bench.clone();
    bench.lose(Sensor::Return);
    bench.always(mins(58), "no call", |r| !r.outputs.boiler_call);
    bench.wait_for(mins(30), "the call", called);
    // Seen to move again there is nothing to wait for.
    if let Some(plant) = &mut moves.plant {
        plant.flows = true;
    }
    moves.wait_for(mins(45), "the call", called);
}

#[test]
fn a_slab_that_reads_warm_is_overruled_by_its_water() {
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::Injection);
    bench.read(5.0, 2.2, 6.0, -3.0);
    let waited = bench.wait_for(hours(4), "the call", called);
    assert!(bench.report().row.estimate.slab_disputed, "{waited:?}");
}

#[test]
fn a_reading_that_jumps_low_burns_no_wood() {
    // Seen first as a jump: half a kelvin colder for frost's sake, as before for the boiler's.
    let mut bench = Bench::new();
    bench.until(mins(40));
    bench.set(Sensor::Slab, 2.1);
    bench.set(Sensor::Return, 4.0);
    bench.wait_for(mins(1), "frost", |r| r.outputs.circulator);
    bench.always(mins(58), "no call", |r| !r.outputs.boiler_call);
}
