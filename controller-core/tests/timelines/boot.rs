//! After a boot, a stall, or a call at the wrong time.

use controller_core::alarm::Alarm;
use controller_core::restart::{BootHistory, Restart, RestartCause};
use controller_core::sensor::Sensor;
use controller_core::settings::{BoilerKind, Settings};
use controller_core::time::Instant;
use controller_core::{Command, Controller, Event, Inputs, State, Switch};

use crate::support::{Bench, hours, mins, secs, settings};

fn restarted(change: impl FnOnce(&mut Restart)) -> Bench {
    let mut restart = Restart::ORDINARY;
    change(&mut restart);
    Bench::booted(settings(|_| {}), restart)
}

/// First start of the circulator with the slab at this temperature.
fn first_start(bench: &mut Bench, slab: f64) -> u32 {
    bench.read(6.0, 5.0, slab, 5.0);
    bench.wait_for(mins(30), "the start", |r| r.outputs.circulator);
    bench.time().as_secs()
}

#[test]
fn the_circulator_waits_ten_minutes_and_one_for_frost() {
    assert_eq!(first_start(&mut Bench::new(), 3.2), 600);
    assert_eq!(first_start(&mut Bench::new(), 2.1), 60);
    let late = |r: &mut Restart| r.jitter_s = 25;
    assert!((625..=635).contains(&first_start(&mut restarted(late), 3.2)));
    assert!((85..=90).contains(&first_start(&mut restarted(late), 2.1)));
    // Never more than half a minute of it.
    let wild = |r: &mut Restart| r.jitter_s = 255;
    assert!((90..=100).contains(&first_start(&mut restarted(wild), 2.1)));
}

#[test]
fn however_many_boots_frost_waits_a_minute() {
    for boots in [4, 7, u8::MAX] {
        let loops = |r: &mut Restart| r.boots_last_hour = boots;
        assert_eq!(first_start(&mut restarted(loops), 2.1), 60);
    }
}

/// First call in a slab emergency.
fn first_call(mut bench: Bench) -> u32 {
    bench.read(6.0, 4.0, 1.7, -3.0);
    bench.wait_for(hours(2), "the call", |r| r.outputs.boiler_call);
    bench.time().as_secs() / 60
}

#[test]
fn after_a_boot_a_call_waits_for_the_purge_and_three_minutes() {
    let injection = Bench::with(|raw| raw.boiler = BoilerKind::Injection);
    assert_eq!(first_call(injection), 9);
    assert_eq!(first_call(Bench::new()), 9);
    let short = Bench::with(|raw| {
        raw.settling_time = mins(3);
        raw.transit = secs(90);
    });
    assert_eq!(first_call(short), 4);
    // Power that comes and goes leaves no time to settle.
    assert_eq!(first_call(restarted(|r| r.boots_last_hour = 3)), 9);
    assert_eq!(first_call(restarted(|r| r.boots_last_hour = 4)), 3);
}

#[test]
fn a_row_says_what_holds_circulator_and_call() {
    let mut bench = Bench::new();
    bench.read(6.0, 4.0, 1.7, -3.0);
    bench.until(secs(30));
    let held = bench.words();
    assert!(held.contains("pump_hold=pump_rest "), "{held}");
    bench.wait_for(mins(20), "the call", |r| r.outputs.boiler_call);
    bench.set(Sensor::Supply, 12.0);
    bench.slab_to(4.8);
    bench.wait_for(mins(40), "its end", |r| !r.outputs.boiler_call);
    bench.slab_to(1.7);
    bench.pass(mins(5));
    let held = bench.words();
    assert!(held.contains("boiler_hold=boiler_rest "), "{held}");
}

#[test]
fn unstable_power_rings_until_six_hours_are_clean() {
    let mut bench = restarted(|r| r.boots_last_hour = 4);
    bench.read(6.0, 6.0, 6.0, 5.0);
    bench.until(hours(5));
    assert!(bench.alarm(Alarm::UnstablePower) && bench.report().outputs.alarm);
    bench.until(hours(6) + mins(21));
    assert!(!bench.alarm(Alarm::UnstablePower));
    let lost = &mut restarted(|r| r.settings_lost = true);
    lost.until(mins(1));
    assert!(lost.alarm(Alarm::SettingsLost));
}

#[test]
fn an_overrun_owed_from_before_the_boot_is_run() {
    let mut bench = restarted(|r| r.post_run_owed = true);
    bench.read(15.0, 10.0, 6.0, 5.0);
    let waited = bench.wait_for(mins(5), "the overrun", |r| r.outputs.circulator);
    assert!(waited >= secs(50) && waited <= secs(70), "{waited:?}");
    assert_eq!(bench.reason(), "post_run");
    let ran = bench.wait_for(mins(10), "its end", |r| !r.outputs.circulator);
    assert!(ran >= mins(5) && ran <= mins(5) + secs(20), "{ran:?}");
}

#[test]
fn boots_are_counted_in_powered_time() {
    let mut history = BootHistory::default();
    for (powered_s, boots) in [
        (0, 1),
        (600, 2),
        (1_200, 3),
        (3_599, 4),
        (3_600, 4),
        (7_200, 1),
    ] {
        assert_eq!(history.boot(powered_s), boots, "{powered_s}");
    }
    // Full, and at the end of the counter.
    let mut history = BootHistory::default();
    for n in 0..20 {
        let boots = history.boot(u32::MAX - 20 + n);
        assert_eq!(u32::from(boots), (n + 1).min(8));
    }
}

#[test]
fn a_step_half_a_minute_late_is_told_and_changes_nothing_else() {
    let mut bench = Bench::new();
    bench.set(Sensor::Slab, 2.1);
    bench.until(mins(5));
    assert!(bench.pump());
    let report = bench.step_late(secs(30));
    assert_eq!(report.row.event, Event::Stalled(secs(30)));
    assert!(report.outputs.circulator);
    let status = report.row.status;
    // On since a minute after boot; the time away counts.
    assert_eq!(status.pump_for, bench.time().saturating_sub(secs(60)));
    assert_eq!(bench.step_late(secs(5)).row.event, Event::None);
    assert_eq!(bench.step_late(secs(6)).row.event, Event::Stalled(secs(6)));
}

#[test]
fn however_late_a_step_the_relays_have_held_and_the_time_has_passed() {
    for late in [secs(61), hours(1), hours(20)] {
        let mut bench = Bench::new();
        bench.read(6.0, 4.0, 1.7, -3.0);
        bench.wait_for(hours(1), "the call", |r| r.outputs.boiler_call);
        bench.set(Sensor::Supply, 12.0);
        bench.pass(mins(10));
        let (ran, called) = (bench.watch.pump_time, bench.watch.call_time);
        let report = bench.step_late(late).clone();
        assert_eq!(report.row.event, Event::Stalled(late));
        assert!(report.outputs.circulator && report.outputs.boiler_call);
        assert_eq!(
            report.row.status.pump_for,
            bench.time().saturating_sub(secs(60))
        );
        let passed = u64::from((late + secs(10)).as_millis());
        assert_eq!(bench.watch.pump_time - ran, passed);
        assert_eq!(bench.watch.call_time - called, passed);
        assert!(!bench.alarm(Alarm::UnstablePower), "once is nothing");
    }
}

#[test]
fn four_steps_a_minute_late_within_an_hour_of_each_other_ring() {
    for (late, apart, rings) in [
        (secs(61), mins(55), true),
        (secs(60), mins(55), false),
        (secs(61), mins(65), false),
    ] {
        let mut bench = Bench::new();
        bench.read(6.0, 6.0, 6.0, 6.0);
        bench.until(mins(1));
        for n in 1..=4 {
            if n % 2 == 0 {
                // A command that comes with it hides nothing.
                bench.command(Command::Pump(Switch::Auto));
            }
            bench.step_late(late);
            let alarm = bench.alarm(Alarm::UnstablePower);
            assert_eq!(alarm, rings && n == 4, "{late:?} {apart:?}: {n}");
            if n < 4 {
                let until = bench.now + apart;
                while bench.controller.next() < until {
                    bench.step();
                }
            }
        }
        if rings {
            assert!(bench.report().outputs.alarm);
            let now = bench.now;
            while bench.now.since(now) < mins(85) {
                bench.step();
            }
            assert!(
                !bench.alarm(Alarm::UnstablePower),
                "forgotten after an hour"
            );
        }
    }
}

#[test]
fn a_first_step_that_comes_late_is_still_the_same_boot() {
    let restart = Restart {
        cause: RestartCause::Watchdog,
        boots_last_hour: 5,
        post_run_owed: true,
        ..Restart::ORDINARY
    };
    let mut bench = Bench::booted(settings(|_| {}), restart);
    let report = bench.step_late(mins(20));
    assert_eq!(report.row.event, Event::Boot(restart));
    assert!(bench.alarm(Alarm::UnstablePower));
    bench.set(Sensor::Slab, 2.1);
    let rest = bench.wait_for(mins(5), "frost", |r| r.outputs.circulator);
    assert!(
        rest >= secs(50),
        "delays count from the first step: {rest:?}"
    );
}

#[test]
fn an_early_call_or_a_clock_set_back_changes_nothing() {
    let start = Instant::from_millis(1_000_000);
    let mut controller = Controller::boot(Settings::default(), start, Restart::ORDINARY);
    let inputs = Inputs::default();
    controller
        .step(start, &inputs)
        .expect("the first is wanted");
    let before = controller.clone();
    let wanted = controller.next();
    for early in [0, 1, 999_999, 1_000_000, wanted.as_millis() - 1] {
        assert_eq!(controller.step(Instant::from_millis(early), &inputs), None);
        assert_eq!(controller, before);
    }
    assert!(controller.step(wanted, &inputs).is_some());
}

#[test]
fn the_counter_s_end_panics_nothing() {
    let end = Instant::from_millis(u64::MAX);
    let mut controller = Controller::boot(Settings::default(), end, Restart::ORDINARY);
    for _ in 0..3 {
        let report = controller.step(end, &Inputs::default()).expect("wanted");
        assert!(!report.outputs.boiler_call);
    }
}

#[test]
fn the_memory_fits_a_small_part() {
    let size = std::mem::size_of::<State>();
    println!(
        "state {size} bytes, controller {}",
        std::mem::size_of::<Controller>()
    );
    assert!(size <= 1_024, "{size} bytes");
}
