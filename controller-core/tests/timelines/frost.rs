//! Frost protection of the slab, the pipes and the run through open air.

use controller_core::alarm::Alarm;
use controller_core::reason::What;
use controller_core::sensor::{ReadFault, Sensor};
use controller_core::settings::{BoilerKind, Mode};
use controller_core::{Command, FrostKind, SlabFrom, Switch};

use crate::support::{Bench, c, hours, mins, secs};

fn frost(bench: &Bench) -> Option<FrostKind> {
    bench.report().row.summary.frost
}

/// Mild weather, warm pipes, no boiler: only the slab's temperature can ask.
fn mild(slab: f64) -> Bench {
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
    bench.read(6.0, 6.0, slab, 6.0);
    bench.until(mins(20));
    bench
}

#[test]
fn a_cold_slab_runs_the_circulator_until_it_is_warm_again() {
    let mut bench = mild(3.6);
    for (slab, asks) in [
        (2.25, false),
        (2.15, true),
        (2.95, true),
        (3.05, false),
        (2.25, false),
    ] {
        bench.slab_to(slab);
        bench.pass(mins(10));
        assert_eq!(frost(&bench), asks.then_some(FrostKind::Slab), "{slab}");
        if asks {
            assert!(bench.pump());
            assert_eq!(bench.reason(), "frost");
        }
    }
}

#[test]
fn a_single_cold_read_starts_nothing() {
    let mut bench = mild(4.0);
    bench.set(Sensor::Slab, -5.0);
    bench.step();
    bench.set(Sensor::Slab, 4.0);
    bench.always(mins(5), "no frost", |r| r.row.summary.frost.is_none());
}

#[test]
fn a_slab_is_protected_by_its_waters_word_as_by_its_own() {
    // Antifreeze: else the cold pipes would ask.
    let mut bench = Bench::with(|raw| {
        raw.boiler = BoilerKind::None;
        raw.pipe_on = c(-20.0);
        raw.pipe_off = c(-19.0);
    });
    bench.read(5.0, 2.1, 6.0, -3.0);
    bench.wait_for(mins(10), "the water's word", |r| {
        r.row.summary.frost == Some(FrostKind::Slab)
    });
    assert_eq!(bench.report().row.estimate.slab_from, SlabFrom::Water);
    assert_eq!(bench.report().row.cause.what, What::WaterSlab);
    bench.always(hours(3), "running on", |r| r.outputs.circulator);
    bench.set(Sensor::Return, 3.1);
    bench.pass(mins(10));
    assert_eq!(frost(&bench), None);
    // With the slab's own word it is the one named.
    let mut own = mild(2.1);
    own.set(Sensor::Return, 2.6);
    own.pass(mins(10));
    assert_eq!(own.report().row.cause.what, What::Slab);
}

#[test]
fn frost_waits_a_minute_after_a_stop_and_no_longer() {
    let mut bench = mild(2.1);
    assert!(bench.pump());
    bench.command(Command::Pump(Switch::Off));
    bench.step();
    assert!(!bench.pump());
    let stopped = bench.now;
    bench.command(Command::Pump(Switch::Auto));
    bench.wait_for(mins(2), "the circulator", |r| r.outputs.circulator);
    let rest = bench.now.since(stopped);
    assert!(rest >= secs(60) && rest <= secs(70), "{rest:?}");
}

#[test]
fn frost_is_not_refused_by_the_start_cap_but_says_so() {
    let mut bench = mild(2.1);
    // Stopped and let go again and again by a person.
    let mut starts = 1;
    for _ in 0..7 {
        bench.command(Command::Pump(Switch::Off));
        bench.pass(secs(20));
        assert!(!bench.pump());
        bench.command(Command::Pump(Switch::Auto));
        bench.wait_for(mins(2), "frost", |r| r.outputs.circulator);
        bench.pass(secs(20));
        starts += 1;
    }
    assert_eq!(bench.report().row.status.starts_last_hour, starts);
    assert!(bench.alarm(Alarm::ManyStarts) && !bench.report().outputs.alarm);
}

#[test]
fn cold_water_in_a_pipe_starts_the_circulator_earlier_in_cold_air() {
    for (sensor, water, outdoor, asked) in [
        (Sensor::Supply, 2.9, 0.5, true),
        (Sensor::Return, 2.9, 0.5, true),
        (Sensor::Supply, 3.1, 0.5, false),
        (Sensor::Supply, 2.9, 4.0, false),
        (Sensor::Supply, 1.9, 4.0, true),
        (Sensor::Return, 1.9, 20.0, true),
    ] {
        let mut bench = Bench::new();
        bench.read(5.0, 5.0, 6.0, outdoor);
        bench.until(mins(30));
        bench.set(sensor, water);
        bench.pass(mins(6));
        let expected = asked.then_some(FrostKind::Pipe);
        assert_eq!(frost(&bench), expected, "{sensor:?} {water} in {outdoor}");
        assert_eq!(bench.pump(), asked);
    }
    // As cold as each other: one of them is named.
    let mut bench = Bench::new();
    bench.read(2.9, 2.9, 6.0, 0.0);
    bench.wait_for(mins(2), "frost", |r| r.outputs.circulator);
    assert_eq!(bench.report().row.cause.what, What::Supply);
}

#[test]
fn a_pipe_is_protected_in_unknown_air_as_in_cold_air() {
    let mut lost = Bench::new();
    lost.read(5.0, 5.0, 6.0, 4.0);
    lost.lose(Sensor::Outdoor);
    lost.until(mins(30));
    assert_eq!(frost(&lost), None);
    lost.set(Sensor::Supply, 2.9);
    lost.wait_for(mins(6), "frost", |r| r.outputs.circulator);
    assert_eq!(frost(&lost), Some(FrostKind::Pipe));
}

#[test]
fn a_pipe_frost_run_ends_when_both_pipes_are_warm() {
    let mut bench = Bench::with(|raw| raw.mode = Mode::Summer);
    bench.read(5.0, 2.5, 6.0, 0.5);
    bench.wait_for(mins(2), "frost", |r| r.outputs.circulator);
    bench.set(Sensor::Supply, 3.5);
    bench.set(Sensor::Return, 4.6);
    bench.always(hours(2), "supply under 4", |r| {
        r.outputs.circulator && r.row.summary.frost == Some(FrostKind::Pipe)
    });
    assert_eq!(bench.report().row.cause.limit, c(4.0).to_bits());
    bench.set(Sensor::Supply, 4.2);
    bench.wait_for(mins(5), "the end", |r| !r.outputs.circulator);
    assert_eq!(bench.watch.starts, 1);
}

#[test]
fn in_cold_weather_a_slab_in_doubt_keeps_the_circulator_running() {
    for (outdoor, blind) in [(4.9, true), (5.1, false)] {
        let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
        bench.read(6.0, 5.0, 4.6, outdoor);
        bench.until(mins(20));
        assert_eq!(frost(&bench), None);
        // Two reads of a chip that keeps starting up: doubted; more: lost.
        bench.fail(Sensor::Slab, ReadFault::PowerOn);
        bench.pass(secs(20));
        assert_eq!(
            frost(&bench),
            blind.then_some(FrostKind::Blind),
            "{outdoor}"
        );
        bench.wait_for(mins(5), "the loss", |r| r.row.readings.slab.is_lost());
        bench.pass(mins(5));
        assert_eq!(
            frost(&bench),
            blind.then_some(FrostKind::Blind),
            "{outdoor}"
        );
        if blind {
            bench.always(hours(12), "running on", |r| r.outputs.circulator);
            assert_eq!(bench.reason(), "frost");
        }
    }
}

#[test]
fn an_exposed_run_never_rests_longer_than_half_its_time_to_freezing() {
    // Water 7 °C at the stop, air -18 °C, one hour: 0.5 · 60 min · ln(25/18) = 9.85 min by ASHRAE's
    // formula; the bound used is on the safe side of it.
    let closed = 0.5 * 60.0 * (25.0_f64 / 18.0).ln();
    let mut bench = Bench::with(|raw| raw.exposed_time = mins(60));
    bench.read(7.0, 7.0, 8.0, -18.0);
    bench.until(hours(1));
    let mut rested = 0.0_f64;
    let (mut longest, mut starts) = (0.0_f64, 0);
    let mut was = bench.pump();
    for _ in 0..6 * 360 {
        bench.step();
        let on = bench.pump();
        assert_eq!(on, frost(&bench) == Some(FrostKind::Exposed));
        if on && !was {
            longest = longest.max(rested);
            starts += 1;
        }
        rested = if on { 0.0 } else { rested + 10.0 / 60.0 };
        was = on;
    }
    assert!(starts > 5, "{starts}");
    assert!(
        longest <= closed && longest > 5.0,
        "{longest} of {closed} min"
    );
}

#[test]
fn a_run_through_open_air_needs_nothing_above_freezing_or_where_there_is_none() {
    for (time, outdoor) in [(60, 0.5), (0, -0.5)] {
        let mut bench = Bench::with(|raw| raw.exposed_time = mins(time));
        bench.read(7.0, 7.0, 8.0, outdoor);
        bench.always(hours(12), "no such run", |r| {
            r.row.summary.frost != Some(FrostKind::Exposed)
        });
    }
}

#[test]
fn in_frost_the_water_is_asked_when_its_word_is_older_than_105_minutes() {
    let mut bench = Bench::new();
    bench.read(8.0, 8.0, 5.0, -0.5);
    for since in [secs(60), mins(105)] {
        let rest = bench.wait_for(mins(107), "a look", |r| r.outputs.circulator);
        assert!(rest >= since && rest <= since + secs(20), "{rest:?}");
        assert_eq!(frost(&bench), Some(FrostKind::Look));
        // The settling time, and the water has spoken.
        let ran = bench.wait_for(mins(20), "its end", |r| !r.outputs.circulator);
        assert!(ran >= mins(8) && ran <= mins(8) + secs(20), "{ran:?}");
        assert_eq!(bench.report().row.estimate.water_age, secs(0));
    }
    let mut above = Bench::new();
    above.read(8.0, 8.0, 5.0, 0.5);
    above.always(hours(12), "no look above freezing", |r| {
        !r.outputs.circulator
    });
}

#[test]
fn a_look_goes_on_as_a_frost_run_when_the_water_is_cold() {
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
    bench.read(6.0, 3.5, 5.0, -3.0);
    bench.wait_for(mins(2), "a look", |r| r.outputs.circulator);
    bench.set(Sensor::Return, 2.1);
    bench.pass(mins(12));
    assert_eq!(frost(&bench), Some(FrostKind::Slab));
    bench.always(hours(1), "running on", |r| r.outputs.circulator);
    assert_eq!(bench.watch.starts, 1);
}

#[test]
fn frost_protection_stays_in_summer() {
    let mut bench = Bench::with(|raw| raw.mode = Mode::Summer);
    bench.set(Sensor::Slab, 2.1);
    bench.until(mins(2));
    assert!(bench.pump());
    assert_eq!(frost(&bench), Some(FrostKind::Slab));
}

#[test]
fn two_failed_reads_do_not_hide_a_cold_slab() {
    let mut bench = mild(2.1);
    bench.fail(Sensor::Slab, ReadFault::Checksum);
    bench.pass(secs(20));
    assert_eq!(frost(&bench), Some(FrostKind::Slab));
}
