//! What ends a call at once and keeps the next from starting; in an emergency some of it takes half.

use controller_core::alarm::Alarm;
use controller_core::sensor::Sensor;
use controller_core::settings::{BoilerKind, Mode, RawSettings};
use controller_core::{Command, Switch};

use crate::support::{Bench, c, hours, mins};

use super::boiler::{called, cold, heating, uncalled};

#[track_caller]
fn limit(bench: &mut Bench, sensor: Sensor, limit: f64) {
    bench.set(sensor, limit - 0.2);
    bench.pass(mins(7));
    assert!(bench.boiler(), "just below: {}", bench.words());
    bench.set(sensor, limit + 0.2);
    bench.wait_for(mins(5), "the limit", uncalled);
    bench.always(mins(5), "the circulator carries the heat off", |r| {
        r.outputs.circulator && !r.outputs.boiler_call
    });
}

/// Warm enough a return to bear out what the supply says.
fn borne_out(slab: f64, change: impl FnOnce(&mut RawSettings)) -> Bench {
    let mut bench = heating(slab, change);
    bench.set(Sensor::Return, 12.0);
    bench.pass(mins(1));
    bench
}

#[test]
fn the_supply_limit_ends_a_call() {
    limit(&mut borne_out(2.1, |_| {}), Sensor::Supply, 40.0);
    let set = |raw: &mut RawSettings| raw.supply_soft = c(36.0);
    limit(&mut borne_out(2.1, set), Sensor::Supply, 36.0);
}

#[test]
fn new_concrete_is_warmed_gently() {
    let new = |raw: &mut RawSettings| {
        raw.mode = Mode::Commissioning;
        raw.supply_limited = false;
    };
    limit(&mut borne_out(2.1, new), Sensor::Supply, 25.0);
    // A mixing valve lets through more than that; then calls are halved, so that they are not barred.
    let valve = |raw: &mut RawSettings| raw.mode = Mode::Commissioning;
    let halved = minutes_at_the_limit([30.0, 27.0], 2.1, valve);
    assert!((165..=185).contains(&halved), "{halved} of 360 min");
    // The limits of every mode end them all the same.
    let hot = minutes_at_the_supply_limit(2.1, valve);
    assert!(hot <= 3, "{hot} min");
    let mut warm = borne_out(2.1, valve);
    warm.set(Sensor::Return, 26.0);
    warm.slab_to(26.0);
    warm.pass(mins(10));
    warm.always(hours(2), "no call", |r| !r.outputs.boiler_call);
}

/// Minutes of call in six hours of a supply at its limit; it falls a little between calls, and stays there.
fn minutes_at_the_supply_limit(slab: f64, change: impl FnOnce(&mut RawSettings)) -> u64 {
    minutes_at_the_limit([46.0, 41.0], slab, change)
}

/// The same with the supply in calls and between them.
fn minutes_at_the_limit(
    [called, between]: [f64; 2],
    slab: f64,
    change: impl FnOnce(&mut RawSettings),
) -> u64 {
    let mut bench = borne_out(slab, change);
    let begun = bench.watch.call_time;
    for _ in 0..6 * 360 {
        let supply = if bench.boiler() { called } else { between };
        bench.set(Sensor::Supply, supply);
        bench.step();
    }
    (bench.watch.call_time - begun) / 60_000
}

#[test]
fn in_an_emergency_a_hot_supply_halves_the_calls_if_it_is_limited_by_itself() {
    for kind in [BoilerKind::Firing, BoilerKind::Injection] {
        let halved = minutes_at_the_supply_limit(1.7, |raw| raw.boiler = kind);
        assert!(
            (165..=185).contains(&halved),
            "{kind:?}: {halved} of 360 min"
        );
        let warmer = minutes_at_the_supply_limit(2.1, |raw| raw.boiler = kind);
        assert!(warmer <= 3, "{kind:?}: {warmer} min");
        let unlimited = minutes_at_the_supply_limit(1.7, |raw| {
            raw.boiler = kind;
            raw.supply_limited = false;
        });
        assert!(unlimited <= 3, "{kind:?}: {unlimited} min");
    }
}

#[test]
fn a_hot_slab_takes_two_readings_where_there_are_two() {
    for (slab, ret, lost, hot) in [
        (9.0, 9.0, None, false),
        (10.5, 9.0, None, false),
        (9.0, 10.5, None, false),
        (10.5, 10.5, None, true),
        (10.5, 9.0, Some(Sensor::Return), true),
        (9.0, 10.5, Some(Sensor::Slab), true),
        (9.0, 10.5, Some(Sensor::Return), false),
    ] {
        let mut bench = Bench::with(|raw| {
            raw.slab_max = c(10.0);
            raw.manual_time = mins(60);
        });
        bench.read(12.0, ret, slab, 6.0);
        if let Some(sensor) = lost {
            bench.lose(sensor);
        }
        bench.until(mins(31));
        bench.command(Command::Boiler(Switch::On));
        bench.pass(mins(20));
        assert_eq!(
            bench.boiler(),
            !hot,
            "{slab} {ret} {lost:?}: {}",
            bench.words()
        );
    }
}

#[test]
fn warm_water_is_kept_from_the_store_but_in_an_emergency() {
    let series = |raw: &mut RawSettings| raw.return_to_store = true;
    limit(&mut heating(2.1, series), Sensor::Return, 10.0);
    for (slab, change) in [
        (1.7, series as fn(&mut RawSettings)),
        (2.1, |raw| raw.return_to_store = false),
    ] {
        let mut bench = heating(slab, change);
        bench.set(Sensor::Return, 14.0);
        bench.always(mins(20), "the call goes on", called);
    }
}

#[test]
fn a_lost_supply_ends_a_call_unless_it_is_limited_by_itself() {
    let mut bench = heating(1.7, |raw| raw.supply_limited = false);
    bench.lose(Sensor::Supply);
    bench.wait_for(mins(1), "the end", uncalled);
    bench.always(hours(3), "circulation and no call", |r| {
        r.outputs.circulator && !r.outputs.boiler_call
    });
    assert!(bench.alarm(Alarm::SupplyLost) && bench.alarm(Alarm::HeatBarred));
    // Limited by itself: the return goes on showing the heat.
    let mut bench = heating(1.7, |_| {});
    bench.lose(Sensor::Supply);
    bench.always(mins(70), "the call goes on", called);
    assert!(!bench.alarm(Alarm::HeatBarred));
}

#[test]
fn no_call_into_water_that_stands_by_the_circulators_own_word() {
    let mut bench = cold(4.0, |_| {});
    bench.feedback = Some(false);
    bench.slab_to(1.7);
    bench.always(hours(2), "no call", uncalled);
    bench.feedback = Some(true);
    bench.wait_for(mins(20), "the call", called);
}

#[test]
fn no_call_into_water_that_was_not_seen_to_move() {
    let mut bench = Bench::new();
    bench.stirred = false;
    bench.read(6.0, 6.0, 1.9, -3.0);
    bench.wait_for(hours(1), "a run without flow", |r| {
        r.row.estimate.flow_proof.name() == "absent"
    });
    bench.always(hours(3), "no call", uncalled);
    assert!(bench.alarm(Alarm::HeatBarred) && bench.alarm(Alarm::NoFlow));
    bench.stirred = true;
    bench.wait_for(mins(40), "the call", called);
}
