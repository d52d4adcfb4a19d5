//! Frost protection of the slab, the pipes and the run through open air.

use controller_core::alarm::Alarm;
use controller_core::reason::What;
use controller_core::restart::Restart;
use controller_core::sensor::{ReadFault, Sensor};
use controller_core::settings::{BoilerKind, Mode};
use controller_core::units::Kelvin;
use controller_core::{Command, FrostKind, Switch};

use crate::support::{Bench, Plant, c, hours, mins, secs, settings};

fn frost(bench: &Bench) -> Option<FrostKind> {
    bench.report().row.summary.frost
}

/// A frost run after a rest by hand: only after a rest is anything expected of the water.
fn frost_after_a_rest(bench: &mut Bench) {
    bench.step();
    bench.command(Command::Pump(Switch::Off));
    bench.until(mins(15));
    bench.command(Command::Pump(Switch::Auto));
    bench.wait_for(mins(2), "frost", |r| r.outputs.circulator);
}

#[test]
fn a_cold_slab_starts_the_circulator_on_the_second_read() {
    let mut bench = Bench::new();
    bench.until(mins(30));
    assert!(!bench.pump());
    bench.set(Sensor::Slab, 2.1);
    bench.step();
    assert!(!bench.pump(), "one read may be wrong");
    bench.step();
    assert!(bench.pump());
    assert_eq!(bench.reason(), "frost");
    assert_eq!(frost(&bench), Some(FrostKind::Slab));
}

#[test]
fn a_single_cold_read_starts_nothing() {
    let mut bench = Bench::new();
    bench.until(mins(30));
    bench.set(Sensor::Slab, -5.0);
    bench.step();
    bench.set(Sensor::Slab, 4.0);
    bench.always(mins(5), "no frost", |r| r.row.summary.frost.is_none());
}

#[test]
fn slab_frost_ends_only_at_its_upper_limit() {
    let mut bench = Bench::new();
    bench.until(mins(30));
    bench.set(Sensor::Slab, 2.1);
    bench.until(mins(32));
    bench.set(Sensor::Slab, 2.6);
    bench.until(mins(50));
    bench.set(Sensor::Slab, 2.95);
    bench.until(mins(60));
    assert_eq!(frost(&bench), Some(FrostKind::Slab));
    bench.set(Sensor::Slab, 3.0);
    bench.until(mins(80));
    assert_eq!(frost(&bench), None);
}

#[test]
fn frost_waits_a_minute_after_a_stop_and_no_longer() {
    let mut bench = Bench::new();
    bench.read(6.0, 6.0, 6.0, 5.0);
    bench.until(mins(15));
    bench.command(Command::Pump(Switch::On));
    bench.until(mins(20));
    assert!(bench.pump());
    bench.command(Command::Pump(Switch::Off));
    bench.step();
    assert!(!bench.pump());
    let stopped = bench.now;
    bench.command(Command::Pump(Switch::Auto));
    bench.set(Sensor::Slab, 2.1);
    bench.wait_for(mins(2), "the circulator", |r| r.outputs.circulator);
    let rest = bench.now.since(stopped);
    assert!(rest >= secs(60) && rest <= secs(70), "{rest:?}");
}

#[test]
fn frost_is_not_refused_by_the_start_cap_but_says_so() {
    let mut bench = Bench::new();
    bench.until(mins(30));
    bench.set(Sensor::Slab, 2.1);
    bench.until(mins(31));
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
    assert!(bench.alarm(Alarm::ManyStarts));
}

#[test]
fn cold_water_at_rest_starts_the_circulator_earlier_in_cold_air() {
    for (sensor, water, outdoor, asked) in [
        (Sensor::Supply, 2.9, 0.0, true),
        (Sensor::Return, 2.9, 0.0, true),
        (Sensor::Supply, 3.1, 0.0, false),
        (Sensor::Supply, 2.9, 4.0, false),
        (Sensor::Supply, 1.9, 4.0, true),
    ] {
        let mut bench = Bench::new();
        bench.read(6.0, 6.0, 6.0, outdoor);
        bench.until(mins(30));
        bench.set(sensor, water);
        bench.until(mins(31));
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
fn pipe_frost_acts_without_an_outdoor_reading_or_against_a_warm_liar() {
    let mut lost = Bench::new();
    lost.read(6.0, 6.0, 6.0, 0.0);
    lost.lose(Sensor::Outdoor);
    lost.until(mins(30));
    lost.set(Sensor::Supply, 2.9);
    lost.until(mins(31));
    assert!(lost.pump());
    let mut liar = Bench::new();
    liar.read(6.0, 6.0, 6.0, 20.0);
    liar.until(mins(30));
    liar.set(Sensor::Supply, 1.8);
    liar.until(mins(31));
    assert!(liar.pump());
}

#[test]
fn a_pipe_frost_run_serves_its_shortest_time_and_ends_on_warm_supply() {
    let mut bench = Bench::new();
    bench.read(6.0, 6.0, 6.0, 0.5);
    bench.until(mins(30));
    bench.set(Sensor::Return, 2.5);
    bench.wait_for(mins(1), "the start", |r| r.outputs.circulator);
    let limit = |bench: &Bench| bench.report().row.cause.limit;
    assert_eq!(limit(&bench), c(3.0).to_bits(), "at rest");
    bench.set(Sensor::Return, 4.6);
    bench.set(Sensor::Supply, 3.5);
    bench.until(mins(55));
    assert_eq!(frost(&bench), Some(FrostKind::Pipe), "supply under 4");
    assert_eq!(limit(&bench), c(4.0).to_bits(), "moving");
    bench.set(Sensor::Supply, 4.2);
    bench.until(mins(60));
    assert_eq!(frost(&bench), None);
    let mut warm = Bench::new();
    warm.read(6.0, 6.0, 6.0, 0.5);
    warm.until(mins(30));
    warm.set(Sensor::Return, 2.5);
    warm.until(mins(31));
    warm.set(Sensor::Return, 6.0);
    warm.until(mins(44));
    assert!(warm.pump(), "warm at once, but not short");
    assert_eq!(frost(&warm), Some(FrostKind::Pipe), "and still for frost");
    warm.until(mins(47));
    assert!(!warm.pump());
}

#[test]
fn a_return_that_would_start_the_next_run_at_once_does_not_end_this_one() {
    for ret in [2.9, 3.0] {
        let mut bench = Bench::with(|raw| raw.mode = Mode::Summer);
        bench.read(4.3, ret, 3.6, 0.5);
        bench.until(hours(8));
        assert_eq!(frost(&bench), Some(FrostKind::Pipe));
        assert_eq!(
            bench.watch.starts, 1,
            "runs on instead of stopping and starting"
        );
    }
}

#[test]
fn a_pipe_that_warms_by_itself_ends_the_demand_though_the_circulator_stands() {
    let mut bench = Bench::new();
    bench.read(6.0, 6.0, 6.0, 0.5);
    bench.feedback = Some(false);
    bench.until(mins(30));
    bench.set(Sensor::Return, 2.5);
    bench.wait_for(mins(1), "the start", |r| r.outputs.circulator);
    bench.set(Sensor::Return, 6.0);
    bench.pass(mins(14));
    assert_eq!(frost(&bench), Some(FrostKind::Pipe));
    bench.pass(mins(2));
    assert_eq!(frost(&bench), None);
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
        let short = bench.report().row.status.pump_for < mins(15);
        assert!(!on || (frost(&bench) == Some(FrostKind::Exposed)) == short);
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
fn no_exposed_run_no_extra_starts() {
    let mut bench = Bench::new();
    bench.read(7.0, 7.0, 8.0, 2.0);
    bench.until(hours(1));
    bench.always(hours(12), "rest", |r| !r.outputs.circulator);
}

#[test]
fn in_frosty_weather_the_circulator_looks_after_a_rest() {
    for (outdoor, longest) in [(-1.0, hours(2)), (-8.0, hours(1))] {
        let plain = settings(|raw| raw.reset_max = Kelvin::ZERO);
        let mut bench = Bench::booted(plain, Restart::ORDINARY);
        bench.read(8.0, 8.0, 3.8, outdoor);
        bench.until(mins(20));
        let at = bench.wait_for(hours(3), "a look", |r| r.outputs.circulator);
        assert_eq!(frost(&bench), Some(FrostKind::Look));
        assert!(at + mins(20) <= longest + secs(20), "{at:?}");
        // Purge and three minutes of looking, then rest again.
        let ran = bench.wait_for(mins(20), "the end of the look", |r| !r.outputs.circulator);
        assert!(ran >= mins(11) && ran <= mins(12), "{ran:?}");
    }
}

#[test]
fn a_slab_well_clear_of_freezing_is_looked_at_briefly_and_seldom() {
    let mut bench = Bench::new();
    bench.read(8.0, 8.0, 9.0, -8.0);
    bench.until(mins(20));
    // Nothing is known of the water yet.
    bench.wait_for(hours(1), "a look", |r| r.outputs.circulator);
    assert_eq!(frost(&bench), Some(FrostKind::Look));
    let ran = bench.wait_for(mins(5), "its end", |r| !r.outputs.circulator);
    assert!(
        ran >= secs(120) && ran <= secs(160),
        "the first water: {ran:?}"
    );
    // Its word is void after four hours.
    let rested = bench.wait_for(hours(5), "the next look", |r| r.outputs.circulator);
    assert!(rested >= mins(235) && rested <= mins(242), "{rested:?}");
}

#[test]
fn a_slab_that_reads_warm_alone_is_looked_at_as_ever() {
    let mut bench = Bench::new();
    // The water out of the slab says otherwise.
    bench.read(3.7, 3.7, 9.0, -8.0);
    bench.until(mins(20));
    bench.wait_for(hours(1), "a look", |r| r.outputs.circulator);
    let ran = bench.wait_for(mins(20), "its end", |r| !r.outputs.circulator);
    assert!(ran >= mins(11) && ran <= mins(12), "{ran:?}");
    let rested = bench.wait_for(hours(2), "the next look", |r| r.outputs.circulator);
    assert!(rested <= hours(1) + secs(20), "{rested:?}");
}

#[test]
fn after_a_long_dark_slush_is_tried_before_running() {
    let restart = Restart {
        long_dark: true,
        ..Restart::ORDINARY
    };
    let mut bench = Bench::booted(settings(|_| {}), restart);
    bench.read(1.0, 1.0, 0.3, -15.0);
    bench.until(secs(59));
    assert!(!bench.pump());
    bench.until(secs(70));
    assert!(bench.pump());
    assert_eq!(frost(&bench), Some(FrostKind::Slush));
    bench.until(secs(140));
    assert!(!bench.pump(), "a minute's run, then a pause");
    bench.until(secs(240));
    assert!(!bench.pump());
    bench.until(secs(270));
    assert!(bench.pump());
    assert_eq!(frost(&bench), Some(FrostKind::Slab));
    bench.always(mins(10), "running on", |r| r.outputs.circulator);
}

#[test]
fn after_a_long_dark_slush_is_tried_in_cold_air_or_with_a_cold_slab() {
    let restart = Restart {
        long_dark: true,
        ..Restart::ORDINARY
    };
    for (slab, outdoor, kind) in [
        (2.0, -1.0, FrostKind::Slab),
        (0.5, -3.0, FrostKind::Slab),
        (2.0, -3.1, FrostKind::Slush),
        (0.4, -1.0, FrostKind::Slush),
    ] {
        let mut bench = Bench::booted(settings(|_| {}), restart);
        bench.read(4.0, 4.0, slab, outdoor);
        bench.wait_for(mins(3), "frost", |r| r.outputs.circulator);
        assert_eq!(frost(&bench), Some(kind), "{slab} {outdoor}");
        if kind == FrostKind::Slab {
            bench.always(mins(10), "running on", |r| r.outputs.circulator);
        }
    }
}

#[test]
fn a_frost_run_says_which_of_slab_and_water_is_the_cold_one() {
    let mut bench = Bench::new();
    bench.read(6.0, 6.0, 2.1, 0.0);
    bench.wait_for(mins(3), "frost", |r| r.outputs.circulator);
    assert_eq!(bench.report().row.cause.what, What::Slab);
    // The water is nearly as cold.
    bench.read(5.0, 3.2, 2.1, 0.0);
    bench.wait_for(mins(30), "the water's word", |r| {
        r.row.estimate.water_slab_age == secs(0)
    });
    bench.always(mins(10), "the slab is the colder one", |r| {
        r.row.cause.what == What::Slab && r.row.estimate.water_slab.is_some_and(|t| t < c(2.6))
    });
    // The slab reads warm, the water out of it does not.
    let mut bench = Bench::new();
    bench.read(5.0, 2.0, 6.0, -8.0);
    bench.wait_for(hours(2), "a look or a cold pipe", |r| r.outputs.circulator);
    bench.wait_for(mins(20), "the water's word", |r| {
        r.row.summary.frost == Some(FrostKind::Slab)
    });
    assert_eq!(bench.report().row.cause.what, What::WaterSlab);
}

#[test]
fn a_circulator_that_moves_nothing_is_cycled_and_rings() {
    let mut bench = Bench::new();
    bench.plant = Some(Plant {
        flows: false,
        slab: 2.1,
        loss: 0.0,
        ..Plant::default()
    });
    bench.wait_for(mins(2), "frost", |r| r.outputs.circulator);
    let run = bench.wait_for(mins(30), "a pause", |r| !r.outputs.circulator);
    assert!(run >= mins(15) && run <= mins(17), "{run:?}");
    let rest = bench.wait_for(mins(30), "a retry", |r| r.outputs.circulator);
    assert_eq!(rest, secs(60));
    let run = bench.wait_for(mins(30), "a pause", |r| !r.outputs.circulator);
    assert!(run >= mins(15) && run <= mins(17), "{run:?}");
    assert!(bench.alarm(Alarm::NoFlow), "twice is enough");
    let rest = bench.wait_for(mins(30), "a retry", |r| r.outputs.circulator);
    assert_eq!(rest, mins(10));
    // The slab falls on; still no fire into water that does not move.
    if let Some(plant) = &mut bench.plant {
        plant.slab = 1.7;
    }
    bench.always(hours(3), "no call", |r| !r.outputs.boiler_call);
    // Bled: water moves and is seen to.
    if let Some(plant) = &mut bench.plant {
        plant.flows = true;
    }
    bench.wait_for(mins(30), "flow", |r| {
        r.row.estimate.flow_proof.name() == "present"
    });
    assert!(!bench.alarm(Alarm::NoFlow));
}

#[test]
fn without_flow_a_run_is_cut_short_only_when_it_has_had_its_time() {
    // Pipes too near the slab for water that comes out as it went in to tell anything.
    let mut bench = Bench::new();
    bench.plant = Some(Plant {
        flows: false,
        supply: 4.0,
        ret: 4.0,
        around: 4.0,
        slab: 2.1,
        loss: 0.0,
        ..Plant::default()
    });
    frost_after_a_rest(&mut bench);
    let run = bench.wait_for(mins(30), "a pause", |r| !r.outputs.circulator);
    assert!(run >= mins(15) && run <= mins(17), "{run:?}");
    // What still pipes read is no freezing water.
    assert!(!bench.report().row.summary.harm);
    // Nearer still: nothing is expected of the next run, which has its time all the same.
    if let Some(plant) = &mut bench.plant {
        (plant.supply, plant.ret, plant.around) = (3.3, 3.3, 3.3);
    }
    bench.wait_for(mins(11), "a retry", |r| r.outputs.circulator);
    let run = bench.wait_for(mins(30), "a pause", |r| !r.outputs.circulator);
    assert!(run >= mins(15) && run <= mins(17), "{run:?}");
}

#[test]
fn pipes_near_freezing_harm_nothing_as_long_as_no_flow_is_seen() {
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
    bench.plant = Some(Plant {
        flows: false,
        supply: 0.4,
        ret: 0.4,
        around: 0.4,
        slab: 2.1,
        loss: 0.0,
        ..Plant::default()
    });
    frost_after_a_rest(&mut bench);
    bench.always(hours(2), "no harm", |r| !r.row.summary.harm);
    assert!(bench.alarm(Alarm::NoFlow));
}

#[test]
fn water_that_already_is_where_it_belongs_is_no_missing_flow() {
    // Store, pipes and slab all at 4.6 °C, the prior at 8: nothing moves though the water does.
    let mut bench = Bench::new();
    bench.read(4.6, 4.6, 2.1, -3.0);
    bench.plant = Some(Plant {
        supply: 4.6,
        ret: 3.2,
        around: 4.6,
        slab: 2.6,
        store: 4.6,
        outdoor: -8.0,
        ..Plant::default()
    });
    bench.always(hours(12), "no such alarm", |r| {
        r.row.estimate.flow_proof.name() != "absent"
    });
}

/// A cold night under way: slab held at 2.1 °C by a store at 9 °C.
fn running_night() -> Bench {
    let mut bench = Bench::new();
    bench.plant = Some(Plant {
        slab: 2.1,
        capacity: 1e12,
        ..Plant::default()
    });
    bench.until(hours(2));
    assert!(bench.pump());
    bench
}

#[test]
fn a_circulator_that_dies_in_a_long_run_is_noticed() {
    let mut bench = running_night();
    if let Some(plant) = &mut bench.plant {
        plant.flows = false;
    }
    bench.wait_for(hours(6), "the alarm", |r| r.row.alarms.has(Alarm::NoFlow));
}

#[test]
fn a_short_rest_or_a_boot_in_a_long_run_is_no_missing_flow() {
    let mut bench = running_night();
    for _ in 0..4 {
        bench.step_late(mins(2)); // a boot
        bench.always(hours(1), "flow", |r| {
            r.row.estimate.flow_proof.name() != "absent"
        });
        assert!(bench.pump());
        bench.command(Command::Pump(Switch::Off));
        bench.pass(secs(20));
        bench.command(Command::Pump(Switch::Auto));
        bench.always(hours(1), "flow", |r| {
            r.row.estimate.flow_proof.name() != "absent"
        });
        assert!(bench.pump());
    }
}

#[test]
fn pipes_that_drift_together_show_no_flow() {
    let mut bench = Bench::new();
    bench.plant = Some(Plant {
        flows: false,
        slab: 2.1,
        capacity: 1e12,
        around: 1.0,
        ..Plant::default()
    });
    bench.wait_for(hours(2), "the alarm", |r| r.row.alarms.has(Alarm::NoFlow));
}

#[test]
fn feedback_that_the_circulator_stands_rings() {
    let mut bench = Bench::new();
    bench.feedback = Some(false);
    bench.set(Sensor::Slab, 2.1);
    bench.until(mins(2));
    assert!(bench.pump());
    bench.until(mins(4));
    assert!(bench.alarm(Alarm::NoFlow));
    bench.feedback = Some(true);
    bench.until(mins(5));
    assert!(!bench.alarm(Alarm::NoFlow));
}

#[test]
fn frost_protection_stays_in_summer() {
    let mut bench = Bench::with(|raw| raw.mode = Mode::Summer);
    bench.set(Sensor::Slab, 2.1);
    bench.until(mins(2));
    assert!(bench.pump());
}

#[test]
fn a_frost_run_outlives_the_loss_of_the_reading_that_asked() {
    let mut bench = Bench::new();
    bench.read(6.0, 6.0, 4.0, 8.0);
    bench.until(mins(30));
    bench.set(Sensor::Slab, 2.1);
    bench.until(mins(32));
    assert_eq!(frost(&bench), Some(FrostKind::Slab));
    bench.lose(Sensor::Slab);
    bench.always(mins(55), "frost goes on", |r| {
        r.row.summary.frost == Some(FrostKind::Slab) && r.outputs.circulator
    });
    let more = bench.wait_for(mins(10), "its end", |r| {
        r.row.summary.frost != Some(FrostKind::Slab)
    });
    assert_eq!(more, mins(5), "an hour, no more");
}

#[test]
fn two_failed_reads_do_not_hide_a_cold_slab() {
    let mut bench = Bench::new();
    bench.until(mins(30));
    bench.set(Sensor::Slab, 2.1);
    bench.until(mins(31));
    bench.fail(Sensor::Slab, ReadFault::Checksum);
    bench.pass(secs(20));
    assert_eq!(frost(&bench), Some(FrostKind::Slab));
}
