//! Does a call bring heat? What proves it, and what follows when nothing does.

use controller_core::alarm::Alarm;
use controller_core::sensor::Sensor;
use controller_core::{BoilerState, Command, Switch};

use super::boiler::{called, cold, heating, state, uncalled};
use crate::support::{Bench, mins, secs};

/// A call that has just begun, supply 6, return 4, slab 1.7 °C.
fn call() -> Bench {
    let mut bench = cold(1.7, |_| {});
    bench.wait_for(mins(20), "the call", called);
    bench
}

#[test]
fn either_pipe_three_kelvins_warmer_proves_heat_or_the_slab_a_fifth() {
    for (sensor, by, proves) in [
        (Sensor::Supply, 3.2, true),
        (Sensor::Supply, 2.8, false),
        (Sensor::Return, 3.2, true),
        (Sensor::Return, 2.8, false),
        (Sensor::Slab, 0.25, true),
        (Sensor::Slab, 0.15, false),
    ] {
        let mut bench = call();
        let from = bench.samples.get(sensor).value().expect("read");
        bench.set(sensor, crate::support::as_f64(from) + by);
        bench.pass(mins(15));
        let expected = if proves {
            BoilerState::Heating
        } else {
            BoilerState::Proving
        };
        assert_eq!(state(&bench), expected, "{sensor:?} by {by}");
        bench.pass(secs(320));
        assert_eq!(bench.alarm(Alarm::FireOut), !proves, "{sensor:?} by {by}");
    }
}

#[test]
fn the_pipes_are_not_asked_in_the_first_five_minutes() {
    let mut bench = call();
    bench.set(Sensor::Supply, 12.0);
    bench.pass(secs(290));
    assert_eq!(state(&bench), BoilerState::Proving);
    bench.pass(secs(20));
    assert_eq!(state(&bench), BoilerState::Heating);
}

#[test]
fn a_call_without_heat_ends_rings_and_waits_40_minutes_and_80_after_further_ones() {
    let mut bench = call();
    for (failed, wait) in [(1, 40), (2, 80), (3, 80)] {
        let ran = bench.wait_for(mins(40), "the end", uncalled);
        assert!(ran >= mins(20) && ran <= mins(20) + secs(20), "{ran:?}");
        assert_eq!(bench.report().row.summary.failed_calls, failed);
        assert!(bench.alarm(Alarm::FireOut) && bench.report().outputs.alarm);
        bench.step();
        assert_eq!(state(&bench), BoilerState::Failed);
        assert!(bench.pump(), "frost goes on");
        let rest = bench.wait_for(mins(90), "a retry", called) + secs(10);
        assert!(
            rest >= mins(wait) && rest <= mins(wait) + secs(20),
            "{rest:?}"
        );
        assert!(bench.alarm(Alarm::FireOut), "until one succeeds");
    }
    bench.set(Sensor::Supply, 12.0);
    bench.pass(mins(10));
    assert_eq!(bench.report().row.summary.failed_calls, 0);
    bench.wait_for(mins(15), "silence", |r| !r.row.alarms.has(Alarm::FireOut));
}

#[test]
fn a_fire_that_is_lit_on_the_call_is_found_however_many_calls_have_failed() {
    // Lit when the call comes, it shows heat a quarter of an hour later; until then the call freezes the pipe.
    let mut bench = call();
    let mut called_for = mins(0);
    let mut is_there = false;
    for step in 0..6 * 720 {
        is_there |= step == 6 * 360;
        called_for = if bench.report().outputs.boiler_call {
            called_for + secs(10)
        } else {
            mins(0)
        };
        let supply = match called_for {
            time if time == mins(0) => 6.0,
            time if time >= mins(15) && is_there => 12.0,
            _ => -0.5,
        };
        bench.set(Sensor::Supply, supply);
        bench.step();
        if state(&bench) == BoilerState::Heating {
            assert!(is_there && step < 6 * (360 + 180), "after {step} steps");
            return;
        }
    }
    panic!("never found");
}

#[test]
fn an_acknowledgement_retries_at_once_but_for_the_shortest_rest() {
    let mut bench = call();
    bench.wait_for(mins(40), "the end", uncalled);
    bench.pass(mins(5));
    bench.command(Command::Acknowledge);
    let rest = bench.wait_for(mins(90), "a retry", called);
    assert!(
        rest >= mins(24) && rest <= mins(26),
        "{rest:?} after five minutes"
    );
    assert!(!bench.alarm(Alarm::FireOut), "and nothing rings");
}

#[test]
fn with_a_pipe_unknown_the_slab_has_75_minutes_to_show_heat() {
    for lost in [Sensor::Supply, Sensor::Return] {
        let mut bench = cold(1.7, |_| {});
        bench.lose(lost);
        bench.wait_for(mins(20), "the call", called);
        let ran = bench.wait_for(mins(90), "the end", uncalled);
        assert!(ran >= mins(75) && ran <= mins(75) + secs(20), "{ran:?}");
        assert!(bench.alarm(Alarm::FireOut));
    }
}

#[test]
fn a_fire_that_dies_is_noticed() {
    let mut bench = heating(1.7, |_| {});
    bench.pass(mins(20));
    for supply in [15.0, 11.0, 8.0, 6.5] {
        bench.set(Sensor::Supply, supply);
        bench.set(Sensor::Return, 4.0 + (supply - 6.0) * 0.3);
        bench.pass(mins(2));
    }
    let ran = bench.wait_for(mins(40), "the end", uncalled);
    assert!(ran >= mins(12) && ran <= mins(20), "{ran:?}");
    assert!(bench.alarm(Alarm::FireOut));
}

#[test]
fn a_slab_that_has_cooled_for_two_hours_overrules_an_earlier_proof_of_its_own() {
    let mut bench = cold(2.0, |_| {});
    bench.lose(Sensor::Return);
    bench.wait_for(mins(20), "the call", called);
    let begun = bench.now;
    bench.pass(mins(60));
    bench.slab_to(2.3);
    bench.pass(mins(20));
    assert_eq!(state(&bench), BoilerState::Heating);
    bench.slab_to(1.6);
    bench.wait_for(mins(60), "the end", uncalled);
    let ran = bench.now.since(begun);
    assert!(ran >= mins(120) && ran <= mins(121), "{ran:?}");
}

#[test]
fn a_manual_call_that_shows_no_heat_waits_like_any_other() {
    let mut bench = Bench::with(|raw| raw.manual_time = mins(120));
    bench.read(6.0, 5.0, 5.0, 5.0);
    bench.until(mins(31));
    bench.command(Command::Boiler(Switch::On));
    bench.wait_for(mins(20), "the call", called);
    let ran = bench.wait_for(mins(40), "its end", uncalled);
    assert!(ran <= mins(21), "{ran:?}");
    bench.always(mins(39), "no retry", uncalled);
    bench.wait_for(mins(2), "a retry", called);
}
