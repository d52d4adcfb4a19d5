//! Backup heat: when it is called, proven, limited, given up and tried again.

use controller_core::alarm::Alarm;
use controller_core::sensor::Sensor;
use controller_core::settings::{BoilerKind, RawSettings};
use controller_core::{BoilerState, Command, StepReport, Switch};

use crate::support::{Bench, hours, mins, secs};

pub(super) fn called(report: &StepReport) -> bool {
    report.outputs.boiler_call
}

pub(super) fn state(bench: &Bench) -> BoilerState {
    bench.report().row.summary.boiler
}

/// Half an hour and more after boot; slab as given, supply 6, return 4, outdoors -3 °C.
pub(super) fn cold(slab: f64, change: impl FnOnce(&mut RawSettings)) -> Bench {
    let mut bench = Bench::with(change);
    bench.until(mins(31));
    bench.set(Sensor::Return, 4.0);
    bench.slab_to(slab);
    bench
}

/// The same, called and heat shown: supply at 20 °C.
pub(super) fn heating(slab: f64, change: impl FnOnce(&mut RawSettings)) -> Bench {
    let mut bench = cold(slab, change);
    bench.wait_for(mins(70), "the call", called);
    for supply in [8.0, 10.0, 12.0, 14.0, 17.0, 20.0] {
        bench.set(Sensor::Supply, supply);
        bench.pass(mins(1));
    }
    assert_eq!(state(&bench), BoilerState::Heating);
    bench
}

#[test]
fn an_emergency_calls_as_soon_as_the_water_is_purged() {
    let mut bench = cold(1.7, |_| {});
    bench.wait_for(mins(1), "frost", |r| r.outputs.circulator);
    let waited = bench.wait_for(mins(20), "the call", called);
    assert!(waited >= mins(8) && waited <= secs(500), "{waited:?}");
    assert_eq!(bench.reason(), "frost");
    assert_eq!(
        state(&bench),
        BoilerState::Waiting,
        "proving starts with the next step"
    );
    bench.step();
    assert_eq!(state(&bench), BoilerState::Proving);
}

#[test]
fn a_slab_that_is_not_held_calls_after_an_hour_of_running() {
    let mut bench = cold(2.1, |_| {});
    bench.wait_for(mins(1), "frost", |r| r.outputs.circulator);
    let waited = bench.wait_for(mins(90), "the call", called);
    assert!(waited >= mins(60) && waited <= mins(63), "{waited:?}");
}

#[test]
fn how_long_before_a_slab_is_not_held_can_be_set() {
    let mut bench = cold(2.1, |raw| raw.holding_time = mins(120));
    bench.wait_for(mins(1), "frost", |r| r.outputs.circulator);
    let waited = bench.wait_for(mins(150), "the call", called);
    assert!(waited >= mins(120) && waited <= mins(124), "{waited:?}");
}

#[test]
fn a_slab_that_is_held_calls_nothing() {
    let mut bench = cold(2.1, |_| {});
    let mut slab = 2.1;
    for _ in 0..4 * 360 {
        slab = f64::min(slab + 0.2 / 360.0, 2.19);
        // Between the two backup temperatures and rising.
        bench.set(Sensor::Slab, slab);
        bench.step();
        if slab < 2.18 {
            assert!(!bench.boiler(), "{}", bench.words());
        }
    }
}

#[test]
fn cold_weather_alone_calls_nothing_and_with_a_slab_not_held_it_does() {
    let mut held = Bench::new();
    held.read(8.0, 5.0, 5.5, -10.0);
    held.always(hours(6), "no call", |r| !r.outputs.boiler_call);
    // Under the band (lower edge 4.0 + 0.6 - 0.5) and flat.
    let mut bench = Bench::new();
    bench.read(8.0, 5.0, 3.6, -8.0);
    bench.wait_for(hours(2), "the call", called);
    assert_eq!(bench.reason(), "backup");
    assert_eq!(bench.report().row.cause.what.name(), "outdoor_mean_c");
    // Under the band, but held.
    let mut risen = Bench::new();
    risen.read(8.0, 5.0, 3.1, -8.0);
    for n in 0..150 * 6 {
        risen.set(Sensor::Slab, 3.1 + 0.3 * f64::from(n) / 360.0);
        assert!(!risen.step().outputs.boiler_call);
    }
    // The same slab in milder weather.
    let mut mild = Bench::new();
    mild.read(8.0, 5.0, 3.6, -5.0);
    mild.always(hours(6), "no call", |r| !r.outputs.boiler_call);
}

#[test]
fn water_warmer_than_the_slab_reading_by_a_little_calls_nothing() {
    // The slab reads 2.6 °C; its water, with the reading errors of two pipe sensors, says 1.7.
    let mut bench = cold(2.6, |_| {});
    bench.set(Sensor::Supply, 8.0);
    bench.set(Sensor::Return, 3.65);
    bench.always(mins(50), "no call on the water's word alone", |r| {
        !r.outputs.boiler_call
    });
    assert!(bench.pump(), "but circulation");
}

#[test]
fn a_call_that_shows_no_heat_ends_rings_and_is_retried_hourly_while_the_slab_is_cold() {
    let mut bench = cold(1.7, |_| {});
    bench.wait_for(mins(20), "the call", called);
    for failed in 1..=4 {
        let ran = bench.wait_for(mins(40), "the end", |r| !r.outputs.boiler_call);
        assert!(ran >= mins(20) && ran <= mins(20) + secs(20), "{ran:?}");
        assert_eq!(bench.report().row.summary.failed_calls, failed);
        assert!(bench.alarm(Alarm::FireOut) && bench.report().outputs.alarm);
        bench.step();
        assert_eq!(state(&bench), BoilerState::NoHeat);
        assert!(bench.pump(), "frost goes on");
        let rest = bench.wait_for(mins(90), "a retry", called);
        assert!(rest >= secs(3_590) && rest <= mins(61), "{rest:?}");
    }
}

#[test]
fn with_the_slab_not_so_cold_a_failed_call_is_retried_after_six_hours() {
    let mut bench = Bench::new();
    bench.read(8.0, 5.0, 3.6, -8.0);
    bench.wait_for(hours(2), "the call", called);
    bench.wait_for(mins(40), "the end", |r| !r.outputs.boiler_call);
    let rest = bench.wait_for(hours(8), "a retry", called);
    assert!(rest >= hours(6) && rest <= hours(6) + mins(15), "{rest:?}");
}

#[test]
fn an_acknowledgement_retries_at_once_but_for_the_shortest_rest() {
    let mut bench = cold(1.7, |_| {});
    bench.wait_for(mins(20), "the call", called);
    bench.wait_for(mins(40), "the end", |r| !r.outputs.boiler_call);
    bench.pass(mins(5));
    bench.command(Command::Acknowledge);
    let rest = bench.wait_for(mins(90), "a retry", called);
    assert!(
        rest >= mins(24) && rest <= mins(26),
        "{rest:?} after five minutes"
    );
    assert!(!bench.alarm(Alarm::FireOut));
}

#[test]
fn heat_is_proven_by_a_rise_or_by_a_steady_climb() {
    heating(1.7, |_| {}); // three kelvins and more
    let mut bench = cold(1.7, |_| {});
    bench.wait_for(mins(20), "the call", called);
    for n in 1..=14 {
        bench.set(Sensor::Supply, 6.0 + 0.175 * f64::from(n));
        bench.pass(secs(30)); // 0.35 K a minute, 2.45 K in all
    }
    assert_eq!(state(&bench), BoilerState::Heating);
    // A tenth of a kelvin a minute is no fire.
    let mut bench = cold(1.7, |_| {});
    bench.wait_for(mins(20), "the call", called);
    for n in 1..=18 {
        bench.set(Sensor::Supply, 6.0 + 0.1 * f64::from(n));
        bench.pass(mins(1));
    }
    assert_eq!(state(&bench), BoilerState::Proving);
}

#[test]
fn a_fire_that_dies_is_noticed() {
    let mut bench = heating(1.7, |_| {});
    bench.pass(mins(20));
    for supply in [15.0, 11.0, 8.0, 6.5] {
        bench.set(Sensor::Supply, supply);
        bench.pass(mins(2));
    }
    let ran = bench.wait_for(mins(40), "the end", |r| !r.outputs.boiler_call);
    assert!(ran >= mins(12) && ran <= mins(20), "{ran:?}");
    assert!(bench.alarm(Alarm::FireOut));
}

#[test]
fn enough_is_half_a_kelvin_over_the_end_of_a_frost_run() {
    let mut bench = heating(1.7, |_| {});
    bench.set(Sensor::Return, 6.0);
    bench.pass(mins(30));
    bench.slab_to(3.3);
    bench.pass(mins(5));
    assert!(bench.boiler(), "a frost run ends at 3.0");
    bench.slab_to(3.8);
    bench.wait_for(mins(5), "the end", |r| !r.outputs.boiler_call);
    assert!(bench.pump(), "the earth goes on");
}

#[test]
fn after_a_call_the_circulator_overruns() {
    let mut bench = heating(1.7, |_| {});
    bench.set(Sensor::Return, 6.0);
    bench.slab_to(4.8);
    bench.wait_for(mins(40), "the end", |r| !r.outputs.boiler_call);
    assert!(bench.pump());
    bench.step();
    assert_eq!(bench.reason(), "post_run");
    let overrun = bench.wait_for(mins(20), "the overrun's end", |r| !r.outputs.circulator);
    assert!(overrun >= secs(290) && overrun <= secs(320), "{overrun:?}");
}

#[test]
fn a_fire_burns_its_shortest_time() {
    let mut bench = heating(1.7, |_| {});
    bench.slab_to(4.8);
    bench.pass(mins(10));
    assert!(bench.boiler() && bench.pump());
    assert_eq!(bench.reason(), "backup");
    bench.wait_for(mins(20), "the end", |r| !r.outputs.boiler_call);
}

/// The limit ends the call on its second read, the circulator goes on.
#[track_caller]
#[test]
fn a_call_stays_off_where_there_is_no_boiler() {
    let mut bench = cold(1.0, |raw| raw.boiler = BoilerKind::None);
    bench.always(hours(3), "no call", |r| !r.outputs.boiler_call);
    assert_eq!(state(&bench), BoilerState::Barred);
}

#[test]
fn an_injection_is_on_for_its_share_of_each_period() {
    let mut bench = heating(1.7, |raw| raw.boiler = BoilerKind::Injection);
    // 5 K under a target of 26.7 (slab + 25) is a third of a 20 min period.
    bench.set(Sensor::Supply, 21.7);
    bench.set(Sensor::Return, 8.0);
    bench.pass(hours(1));
    let (before, calls) = (bench.watch.call_time, bench.watch.calls);
    bench.pass(hours(6));
    let minutes = (bench.watch.call_time - before) / 60_000;
    let calls = bench.watch.calls - calls;
    assert!((110..=130).contains(&minutes), "{minutes} min in six hours");
    assert!((17..=19).contains(&calls), "{calls}");
}

#[test]
fn a_call_of_most_of_a_day_is_told() {
    let mut bench = heating(1.7, |_| {});
    bench.set(Sensor::Return, 8.0);
    bench.pass(hours(15));
    assert!(bench.boiler() && !bench.alarm(Alarm::BoilerDay));
    bench.pass(hours(2));
    assert!(bench.alarm(Alarm::BoilerDay) && !bench.report().outputs.alarm);
    bench.read(6.0, 6.0, 6.0, 5.0);
    bench.pass(hours(31)); // the rest of that day and a whole one
    assert!(!bench.alarm(Alarm::BoilerDay), "forgotten with the day");
}

#[test]
fn a_hand_calls_no_boiler_that_may_not_be_called() {
    for (kind, lost) in [(BoilerKind::None, false), (BoilerKind::Injection, true)] {
        let mut bench = Bench::with(|raw| raw.boiler = kind);
        bench.read(6.0, 5.0, 5.0, 5.0);
        bench.until(mins(31));
        if lost {
            bench.lose(Sensor::Supply);
            bench.pass(mins(1));
        }
        bench.command(Command::Boiler(Switch::On));
        bench.always(mins(29), "no call", |r| !r.outputs.boiler_call);
        assert!(bench.pump(), "but circulation");
    }
}

#[test]
fn a_fire_proves_itself_in_every_call_and_a_valve_once_in_a_row() {
    for (kind, then) in [
        (BoilerKind::Firing, BoilerState::Proving),
        (BoilerKind::Injection, BoilerState::Heating),
    ] {
        let mut bench = heating(1.7, |raw| raw.boiler = kind);
        bench.set(Sensor::Return, 8.0);
        bench.slab_to(3.7);
        bench.wait_for(mins(40), "the end", |r| !r.outputs.boiler_call);
        bench.slab_to(1.7);
        bench.wait_for(mins(55), "the next call", called);
        bench.step();
        assert_eq!(state(&bench), then, "{kind:?}");
    }
}

#[test]
fn a_climb_out_of_a_cold_dip_is_no_heat() {
    let mut bench = cold(1.7, |_| {});
    bench.wait_for(mins(20), "the call", called);
    for n in 0..=12 {
        bench.set(Sensor::Supply, 2.5 + 0.35 * f64::from(n));
        bench.pass(mins(1));
    }
    assert_eq!(state(&bench), BoilerState::Proving, "6.7 °C, 6 before");
}

#[test]
fn what_the_boiler_is_at_is_told() {
    let mut bench = cold(4.0, |_| {});
    assert_eq!(state(&bench), BoilerState::Idle);
    bench.slab_to(1.7);
    bench.pass(mins(3));
    assert_eq!(state(&bench), BoilerState::Waiting);
    bench.wait_for(mins(20), "the call", called);
    bench.wait_for(mins(40), "its failure", |r| !r.outputs.boiler_call);
    bench.step();
    assert_eq!(state(&bench), BoilerState::NoHeat);
    bench.slab_to(4.0);
    bench.pass(mins(5));
    assert_eq!(
        state(&bench),
        BoilerState::NoHeat,
        "not wanted, not forgotten"
    );
    bench.pass(hours(6));
    assert_eq!(state(&bench), BoilerState::Idle);
}

#[test]
fn a_manual_call_needs_flow_and_yields_to_limits() {
    let mut bench = Bench::new();
    bench.read(6.0, 5.0, 5.0, 5.0);
    bench.until(mins(31));
    bench.command(Command::Boiler(Switch::On));
    bench.wait_for(mins(1), "circulation", |r| r.outputs.circulator);
    assert_eq!(bench.reason(), "manual");
    let waited = bench.wait_for(mins(20), "the call", called);
    assert!(waited >= mins(8) && waited <= mins(9), "{waited:?}");
    bench.set(Sensor::Supply, 41.0);
    bench.pass(secs(20));
    assert!(!bench.boiler());
}

#[test]
fn a_manual_call_that_shows_no_heat_is_not_repeated_for_an_hour() {
    let mut bench = Bench::with(|raw| raw.manual_time = mins(120));
    bench.read(6.0, 5.0, 5.0, 5.0);
    bench.until(mins(31));
    bench.command(Command::Boiler(Switch::On));
    bench.wait_for(mins(20), "the call", called);
    let ran = bench.wait_for(mins(40), "its end", |r| !r.outputs.boiler_call);
    assert!(ran <= mins(21), "{ran:?}");
    bench.always(mins(59), "no retry", |r| !r.outputs.boiler_call);
}

#[test]
fn a_slab_that_recovers_before_the_call_needs_none() {
    let mut bench = cold(1.75, |_| {});
    bench.wait_for(mins(1), "frost", |r| r.outputs.circulator);
    bench.pass(mins(3));
    bench.slab_to(1.95);
    let mut slab = 1.95;
    for _ in 0..60 * 6 {
        slab += 0.3 / 360.0;
        bench.set(Sensor::Slab, slab);
        bench.step();
        assert!(!bench.boiler(), "rising again: {}", bench.words());
    }
}
