//! A person's word: modes, manual commands, settings; and the exercise of an idle circulator.

use controller_core::alarm::Alarm;
use controller_core::sensor::Sensor;
use controller_core::settings::Mode;
use controller_core::{Command, Event, Switch};

use crate::support::{Bench, c, hours, mins, secs, settings};

fn idle() -> Bench {
    let mut bench = Bench::new();
    bench.read(8.0, 8.0, 8.0, 8.0);
    bench.until(mins(20));
    assert!(!bench.pump());
    bench
}

#[test]
fn a_manual_run_ends_by_itself() {
    let mut bench = idle();
    bench.command(Command::Pump(Switch::On));
    bench.step();
    assert!(bench.pump());
    assert_eq!(bench.reason(), "manual");
    assert_eq!(
        bench.report().row.event,
        Event::Command(Command::Pump(Switch::On))
    );
    assert!(bench.words().contains("pump=on "), "{}", bench.words());
    let ran = bench.wait_for(mins(40), "its end", |r| !r.outputs.circulator);
    assert!(ran >= mins(29) && ran <= mins(30), "{ran:?}");
    assert_eq!(bench.reason(), "warm_enough");
}

#[test]
fn a_manual_rest_holds_off_even_frost_but_not_for_ever() {
    let mut bench = Bench::new();
    bench.set(Sensor::Slab, 2.1);
    bench.until(mins(5));
    bench.command(Command::Pump(Switch::Off));
    bench.step();
    assert!(!bench.pump());
    bench.always(mins(28), "rest", |r| !r.outputs.circulator);
    assert_eq!(bench.reason(), "manual");
    bench.wait_for(mins(3), "frost again", |r| r.outputs.circulator);
    assert_eq!(bench.reason(), "frost");
}

#[test]
fn manual_commands_end_at_once_with_auto() {
    let mut bench = idle();
    let by_hand = |bench: &Bench| bench.report().row.summary.manual;
    assert!(!by_hand(&bench));
    bench.command(Command::Boiler(Switch::Off));
    bench.step();
    assert!(by_hand(&bench));
    bench.command(Command::Boiler(Switch::Auto));
    bench.step();
    assert!(!by_hand(&bench));
    bench.command(Command::Pump(Switch::On));
    bench.pass(mins(1));
    assert!(bench.pump() && by_hand(&bench));
    bench.command(Command::Pump(Switch::Auto));
    bench.step();
    assert!(!bench.pump(), "a manual run may be short");
    assert!(!by_hand(&bench));
}

#[test]
fn a_manual_run_that_frost_joined_serves_its_shortest_time() {
    let mut bench = Bench::with(|raw| raw.mode = Mode::Summer);
    bench.read(6.0, 6.0, 4.0, 5.0);
    bench.until(mins(20));
    bench.command(Command::Pump(Switch::On));
    bench.step();
    assert!(bench.pump());
    bench.slab_to(2.1);
    bench.pass(mins(4));
    assert_eq!(bench.reason(), "frost");
    bench.command(Command::Pump(Switch::Auto));
    bench.slab_to(3.5);
    bench.pass(mins(5));
    assert_eq!(bench.report().row.summary.frost, None);
    assert!(bench.pump() && bench.report().row.status.pump_for < mins(14));
    bench.wait_for(mins(15), "the end", |r| !r.outputs.circulator);
}

#[test]
fn manual_rest_stops_a_call_and_leaves_the_overrun() {
    let mut bench = Bench::new();
    bench.read(6.0, 4.0, 1.7, -3.0);
    bench.wait_for(hours(1), "the call", |r| r.outputs.boiler_call);
    bench.set(Sensor::Supply, 12.0);
    bench.pass(mins(6));
    bench.command(Command::Pump(Switch::Off));
    bench.step();
    assert!(!bench.boiler() && bench.pump());
    assert_eq!(bench.reason(), "post_run");
    let ran = bench.wait_for(mins(10), "its end", |r| !r.outputs.circulator);
    assert!(ran >= mins(5) && ran <= secs(310), "{ran:?}");
    assert_eq!(bench.reason(), "manual");
}

#[test]
fn manual_boiler_off_keeps_the_boiler_off() {
    let mut bench = Bench::new();
    bench.read(6.0, 4.0, 1.7, -3.0);
    bench.wait_for(hours(1), "the call", |r| r.outputs.boiler_call);
    bench.command(Command::Boiler(Switch::Off));
    bench.step();
    assert!(!bench.boiler() && bench.pump());
    bench.always(mins(29), "no call", |r| !r.outputs.boiler_call);
}

#[test]
fn an_empty_circuit_is_left_alone() {
    let mut bench = Bench::with(|raw| raw.mode = Mode::Drained);
    bench.read(-5.0, -5.0, -5.0, -20.0);
    for command in [
        Command::Pump(Switch::On),
        Command::Boiler(Switch::On),
        Command::Acknowledge,
    ] {
        bench.command(command);
        bench.always(hours(2), "nothing", |r| {
            !r.outputs.circulator && !r.outputs.boiler_call
        });
        assert_eq!(bench.reason(), "drained");
    }
}

#[test]
fn draining_stops_both_at_once() {
    let mut bench = Bench::new();
    bench.read(6.0, 4.0, 1.7, -3.0);
    bench.wait_for(hours(1), "the call", |r| r.outputs.boiler_call);
    bench.set(Sensor::Supply, 12.0);
    bench.pass(mins(2));
    bench.command(Command::Mode(Mode::Drained));
    bench.step();
    assert!(!bench.pump() && !bench.boiler());
    assert_eq!(bench.controller.settings().mode, Mode::Drained);
    bench.command(Command::Mode(Mode::Winter));
    let rest = bench.wait_for(mins(5), "frost", |r| r.outputs.circulator);
    assert!(rest >= secs(60) && rest <= secs(70), "{rest:?}");
}

#[test]
fn an_idle_circulator_is_exercised_once_a_week() {
    let mut bench = Bench::with(|raw| raw.mode = Mode::Summer);
    bench.read(18.0, 18.0, 15.0, 20.0);
    let waited = bench.wait_for(hours(9 * 24), "the exercise", |r| r.outputs.circulator);
    assert!(waited >= hours(167) && waited <= hours(169), "{waited:?}");
    assert_eq!(bench.reason(), "exercise");
    let ran = bench.wait_for(mins(5), "its end", |r| !r.outputs.circulator);
    assert!(ran >= mins(2) && ran <= mins(2) + secs(20), "{ran:?}");
    bench.always(hours(6 * 24), "rest", |r| !r.outputs.circulator);
    // No heat was measured in so short a run.
    assert_eq!(bench.report().row.estimate.earth_wh, 0);
}

#[test]
fn an_acknowledgement_clears_a_disputed_slab() {
    let mut bench = Bench::new();
    bench.read(8.0, 11.0, 3.2, 6.0);
    bench.wait_for(mins(40), "the dispute", |r| r.row.estimate.slab_implausible);
    assert!(bench.alarm(Alarm::SlabImplausible));
    bench.set(Sensor::Return, 5.1);
    bench.pass(hours(2));
    assert!(bench.report().row.estimate.slab_implausible, "for a day");
    bench.command(Command::Acknowledge);
    bench.step();
    assert!(!bench.report().row.estimate.slab_implausible);
    bench.wait_for(mins(21), "silence", |r| {
        !r.row.alarms.has(Alarm::SlabImplausible)
    });
}

#[test]
fn settings_are_adopted_whole_and_at_once() {
    let mut bench = idle();
    let warmer = settings(|raw| raw.slab_set = c(9.0));
    bench.adopt(warmer.clone());
    let report = bench.step();
    assert_eq!(report.row.event, Event::Settings);
    assert!(report.row.summary.heat_wanted);
    assert_eq!(*bench.controller.settings(), warmer);
}

#[test]
fn a_step_takes_one_thing_and_says_which() {
    let mut bench = idle();
    bench.adopt(settings(|raw| raw.slab_set = c(5.0)));
    bench.command(Command::Mode(Mode::Summer));
    assert_eq!(bench.step().row.event, Event::Settings);
    assert_eq!(bench.controller.settings().mode, Mode::Winter, "not taken");
    // At a boot neither is.
    let mut fresh = Bench::new();
    fresh.command(Command::Mode(Mode::Drained));
    assert!(matches!(fresh.step().row.event, Event::Boot(_)));
    assert_eq!(fresh.controller.settings().mode, Mode::Winter);
    // A late step is told by its time; the command counts.
    fresh.command(Command::Mode(Mode::Drained));
    let report = fresh.step_late(secs(30));
    assert_eq!(
        report.row.event,
        Event::Command(Command::Mode(Mode::Drained))
    );
}
