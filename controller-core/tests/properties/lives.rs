//! What holds in every life.

use controller_core::restart::Restart;
use controller_core::sensor::{ReadFault, Sample, Sensor};
use controller_core::settings::{Mode, Settings};
use controller_core::time::{Duration, Instant};
use controller_core::{ActualRelays, Command, Controller, Event, Inputs, Switch};
use proptest::prelude::*;

use crate::config;
use crate::life::{Alive, Happens, Stretch, is_boot, life, restart, settings};
use crate::support::c;

const START: Instant = Instant::from_millis(5_000);

fn no_command(life: &[Stretch]) -> Vec<Stretch> {
    let mut life = life.to_vec();
    for stretch in &mut life {
        if matches!(stretch.happens, Happens::Command(_)) {
            stretch.happens = Happens::Nothing;
        }
    }
    life
}

fn relay() -> impl Strategy<Value = Option<bool>> {
    prop_oneof![Just(None), Just(Some(true)), Just(Some(false))]
}

proptest! {
    #![proptest_config(config(80))]

    /// Outputs, minimum times, limits, reasons and estimates keep their rules (see `Watch`) for any
    /// readings, faults, commands, settings, delays and power cuts, and nothing panics.
    #[test]
    fn every_row_keeps_the_rules(
        settings in settings(),
        restart in restart(),
        life in life(40),
    ) {
        let mut alive = Alive::born(&settings, restart, START);
        for stretch in &life {
            alive.live(stretch, |_, _| {});
        }
        // Exactly one reason at any time: their times sum to the time between the rows.
        let told: u64 = alive.watch.reason_time.iter().map(|(_, time)| time).sum();
        prop_assert!(told <= u64::from(alive.now.since(START).as_millis()));
    }

    /// One row gives the next: replaying the inputs of every row, with its event, gives the same
    /// rows again.
    #[test]
    fn a_replay_of_the_rows_gives_the_rows(
        settings in settings(),
        restart in restart(),
        life in life(20),
    ) {
        let mut alive = Alive::born(&settings, restart, START);
        let mut rows = Vec::new();
        let mut in_force = Vec::new();
        for stretch in &life {
            alive.live(stretch, |alive, report| {
                rows.push(report.clone());
                in_force.push(alive.controller.settings().clone());
            });
        }
        let mut replay = Controller::boot(settings, START, restart);
        for (seen, settings) in rows.iter().zip(&in_force) {
            let row = &seen.row;
            if let Event::Boot(restart) = row.event {
                replay = Controller::boot(settings.clone(), row.now, restart);
            }
            let command = match row.event {
                Event::Command(command) => Some(command),
                _ => None,
            };
            let adopted = (row.event == Event::Settings).then_some(settings);
            let inputs = Inputs {
                samples: row.inputs,
                pump_feedback: row.pump_feedback,
                shadow: row.shadow,
                command,
                settings: adopted,
            };
            let again = replay.step(row.now, &inputs);
            prop_assert_eq!(again.as_ref(), Some(seen));
        }
    }

    /// Whatever really runs beside it, a controller in shadow mode never calls without circulation of its own, keeps
    /// two changes of its circulator apart, and does the same again with the same inputs.
    #[test]
    fn a_controller_in_shadow_mode_keeps_the_rules_of_its_outputs(
        settings in settings(),
        life in life(20),
        actual in prop::collection::vec((relay(), relay()), 20),
    ) {
        let mut alive = Alive::born(&settings, Restart::ORDINARY, START);
        let mut observer = Controller::boot(settings, START, Restart::ORDINARY);
        let mut stopped: Option<Instant> = None;
        let mut ran = false;
        for (stretch, (circulator, boiler_call)) in no_command(&life).iter().zip(actual) {
            let shadow = Some(ActualRelays { circulator, boiler_call });
            alive.live(stretch, |alive, row| {
                let inputs = Inputs {
                    samples: row.row.inputs,
                    pump_feedback: row.row.pump_feedback,
                    shadow,
                    ..Inputs::default()
                };
                let mut copy = observer.clone();
                let Some(report) = observer.step(alive.now, &inputs) else { return };
                assert_eq!(copy.step(alive.now, &inputs).as_ref(), Some(&report));
                let outputs = report.outputs;
                assert!(outputs.circulator || !outputs.boiler_call, "a call without circulation");
                if outputs.circulator && !ran {
                    let rest = stopped.map(|at| alive.now.since(at));
                    assert!(rest.is_none_or(|rest| rest >= Duration::from_secs(10)), "{rest:?}");
                }
                if ran && !outputs.circulator {
                    stopped = Some(alive.now);
                }
                ran = outputs.circulator;
            });
        }
    }

    /// The counter's start changes nothing but the times in the rows.
    #[test]
    fn when_the_counter_started_does_not_matter(
        settings in settings(),
        restart in restart(),
        life in life(15),
        start in prop_oneof![Just(0), Just(u64::from(u32::MAX) - 40_000), 0_u64..1 << 50],
    ) {
        let mut one = Alive::born(&settings, restart, START);
        let other_start = Instant::from_millis(start);
        let mut other = Alive::born(&settings, restart, other_start);
        for stretch in &life {
            let mut rows = Vec::new();
            one.live(stretch, |_, report| rows.push(report.clone()));
            let mut rows = rows.into_iter();
            other.live(stretch, |_, report| {
                let first = rows.next().expect("as many rows");
                let csv = |report: &controller_core::StepReport, origin| {
                    let mut line = String::new();
                    report.row.write_csv(origin, "", &mut line).expect("a string");
                    line
                };
                assert_eq!(csv(&first, START), csv(report, other_start));
            });
        }
    }

    /// A call before the wanted time gives nothing and changes nothing.
    #[test]
    fn early_calls_change_nothing(
        settings in settings(),
        life in life(10),
        early in 1_u32..20_000,
    ) {
        let mut alive = Alive::born(&settings, Restart::ORDINARY, START);
        for stretch in &life {
            alive.live(stretch, |alive, _| {
                let mut tried = alive.controller.clone();
                let wanted = tried.next();
                for at in [wanted - Duration::from_millis(early), wanted - Duration::from_millis(1)] {
                    let inputs = Inputs {
                        samples: alive.samples,
                        command: Some(Command::Mode(Mode::Drained)),
                        ..Inputs::default()
                    };
                    assert_eq!(tried.step(at, &inputs), None);
                }
                assert_eq!(tried, alive.controller);
            });
        }
    }

    /// Whatever went before, a freezing slab gets circulation: soon, and most of the time.
    #[test]
    fn frost_is_served_after_any_past(
        settings in settings(),
        life in life(25),
    ) {
        let mut alive = Alive::born(&settings, Restart::ORDINARY, START);
        for stretch in &no_command(&life) {
            alive.live(stretch, |_, _| {});
        }
        alive.feedback = None;
        let mut waited = None;
        let (mut on, mut steps) = (0_u32, 0_u32);
        let begin = alive.now;
        while alive.now.since(begin) < Duration::from_hours(8) {
            let moved = if alive.rows % 90 < 45 { 0.4 } else { -0.4 };
            alive.samples.supply = Sample::Framed(c(7.0 + moved));
            alive.samples.ret = Sample::Framed(c(3.5 - moved / 2.0));
            alive.samples.slab = Sample::Framed(c(1.0));
            alive.samples.outdoor = Sample::Framed(c(-5.0));
            let report = alive.step(Duration::ZERO, None, None);
            if report.outputs.circulator && waited.is_none() {
                waited = Some(alive.now.since(begin));
            }
            // The first hours may be a trip's or a boot loop's, or pass until a jump is trusted.
            if alive.now.since(begin) > Duration::from_hours(2) {
                steps += 1;
                on += u32::from(report.outputs.circulator);
            }
        }
        let waited = waited.expect("circulation within eight hours");
        prop_assert!(waited <= Duration::from_mins(75), "waited {waited:?}");
        prop_assert!(on * 2 >= steps, "on {on} of {steps}");
    }

    /// Whatever went before, with nothing to read in winter the circulator runs, and no call comes into a supply that
    /// nothing limits.
    #[test]
    fn blind_in_winter_the_circulator_runs(
        settings in settings(),
        life in life(25),
    ) {
        let mut alive = Alive::born(&settings, Restart::ORDINARY, START);
        for stretch in &no_command(&life) {
            alive.live(stretch, |_, _| {});
        }
        alive.feedback = None;
        for sensor in Sensor::ALL {
            *alive.samples.get_mut(sensor) = Sample::Failed(ReadFault::Absent);
        }
        let begin = alive.now;
        let mut from = None;
        // In weather remembered as mild the water's last word counts until it is void.
        let void = Duration::from_mins(155);
        while alive.now.since(begin) < Duration::from_hours(5) {
            let report = alive.step(Duration::ZERO, None, None);
            if report.outputs.circulator {
                from = from.or(Some(alive.now.since(begin)));
            } else if alive.now.since(begin) > void {
                prop_assert!(false, "stopped again: {:?}", report.row.reason);
            }
            if alive.now.since(begin) > Duration::from_mins(35)
                && !alive.controller.settings().supply_limited
            {
                prop_assert!(!report.outputs.boiler_call);
            }
        }
        prop_assert!(from.is_some());
    }

    /// A drained circuit stays still whatever else is said, from the command's step on.
    #[test]
    fn drained_means_still(
        settings in settings(),
        past in life(10),
        life in life(15),
    ) {
        let mut alive = Alive::born(&settings, Restart::ORDINARY, START);
        for stretch in &past {
            alive.live(stretch, |_, _| {});
        }
        alive.step(Duration::ZERO, None, None); // never a boot row
        let report = alive.step(Duration::ZERO, Some(Command::Mode(Mode::Drained)), None);
        prop_assert!(!report.outputs.circulator && !report.outputs.boiler_call);
        for stretch in &life {
            if let Happens::Command(Command::Mode(_)) | Happens::Settings(_) = stretch.happens {
                continue;
            }
            alive.live(stretch, |_, report| {
                assert!(!report.outputs.circulator && !report.outputs.boiler_call);
            });
        }
    }

    /// A manual command ends by itself.
    #[test]
    fn manual_commands_end(
        settings in settings(),
        past in life(10),
        pump in any::<bool>(),
        on in any::<bool>(),
    ) {
        let mut alive = Alive::born(&settings, Restart::ORDINARY, START);
        for stretch in &past {
            alive.live(stretch, |_, _| {});
        }
        alive.step(Duration::ZERO, None, None);
        let switch = if on { Switch::On } else { Switch::Off };
        let command = if pump { Command::Pump(switch) } else { Command::Boiler(switch) };
        alive.step(Duration::ZERO, Some(command), None);
        let given = alive.now;
        let most = alive.controller.settings().manual_time;
        loop {
            let report = alive.step(Duration::ZERO, None, None);
            if !report.row.summary.manual {
                break;
            }
            prop_assert!(alive.now.since(given) <= most);
        }
    }
}

/// However late a step comes, it is no boot; from five seconds on it is told.
#[test]
fn lateness_and_boots() {
    let mut alive = Alive::born(&Settings::default(), Restart::ORDINARY, START);
    assert!(is_boot(&alive.step(Duration::ZERO, None, None)));
    for late in [0, 5_000, 5_001, 60_000, 60_001, 86_400_000] {
        let report = alive.step(Duration::from_millis(late), None, None);
        let told = (late > 5_000).then_some(Event::Stalled(Duration::from_millis(late)));
        assert_eq!(report.row.event, told.unwrap_or(Event::None), "{late}");
    }
}
