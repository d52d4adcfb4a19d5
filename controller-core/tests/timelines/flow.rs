//! A circulator that runs and moves no water.

use controller_core::alarm::Alarm;
use controller_core::sensor::Sensor;
use controller_core::settings::BoilerKind;
use controller_core::units::Celsius;
use controller_core::{Command, FlowProof, Switch};

use crate::support::{Bench, Plant, hours, mins, secs};

/// A frost run after a rest by hand: only after a rest is anything expected of the water.
fn frost_after_a_rest(bench: &mut Bench) {
    bench.step();
    bench.command(Command::Pump(Switch::Off));
    bench.until(mins(15));
    bench.command(Command::Pump(Switch::Auto));
    bench.wait_for(mins(2), "frost", |r| r.outputs.circulator);
}

#[test]
fn a_circulator_that_moves_nothing_is_cycled_and_rings() {
    let mut bench = Bench::with(|raw| raw.backup_slab = Celsius::from_milli(2_000));
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
        plant.slab = 1.9;
    }
    bench.always(hours(3), "no call", |r| !r.outputs.boiler_call);
    // But in an emergency half an hour in two.
    if let Some(plant) = &mut bench.plant {
        plant.slab = 1.7;
    }
    let called = bench.watch.call_time;
    bench.pass(hours(6));
    let share = (bench.watch.call_time - called) as f64 / f64::from(hours(6).as_millis());
    assert!((0.1..=0.3).contains(&share), "{share}");
    // Bled: water moves and is seen to.
    if let Some(plant) = &mut bench.plant {
        plant.flows = true;
    }
    bench.wait_for(mins(30), "flow", |r| {
        r.row.estimate.flow_proof.name() == "present"
    });
    bench.wait_for(mins(21), "silence", |r| !r.row.alarms.has(Alarm::NoFlow));
}

#[test]
fn a_call_that_failed_while_the_water_stood_is_tried_again_once_it_moves() {
    let mut bench = Bench::with(|raw| raw.firing_min_off = mins(15));
    bench.plant = Some(Plant {
        flows: false,
        slab: 1.7,
        loss: 0.0,
        ..Plant::default()
    });
    bench.wait_for(hours(8), "two failed calls", |r| {
        r.row.summary.failed_calls == 2 && !r.outputs.boiler_call
    });
    if let Some(plant) = &mut bench.plant {
        plant.flows = true;
    }
    bench.wait_for(mins(40), "flow", |r| {
        r.row.estimate.flow_proof == FlowProof::Present
    });
    assert_eq!(bench.report().row.summary.failed_calls, 0);
    let rest = bench.wait_for(mins(80), "a call", |r| r.outputs.boiler_call);
    assert!(
        rest <= mins(16),
        "{rest:?} of the 80 min of a fire that is out"
    );
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
    // Nearer still: nothing is expected of the next run, which has its time all the same.
    if let Some(plant) = &mut bench.plant {
        (plant.supply, plant.ret, plant.around) = (3.3, 3.3, 3.3);
    }
    bench.wait_for(mins(11), "a retry", |r| r.outputs.circulator);
    let run = bench.wait_for(mins(30), "a pause", |r| !r.outputs.circulator);
    assert!(run >= mins(15) && run <= mins(17), "{run:?}");
}

#[test]
fn water_that_already_is_where_it_belongs_is_no_missing_flow() {
    // Store, pipes and slab all at 4.6 °C: no reading moves though the water does.
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
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
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
fn a_short_rest_or_a_late_step_in_a_long_run_is_no_missing_flow() {
    let mut bench = running_night();
    for _ in 0..4 {
        bench.step_late(mins(2));
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
    bench.wait_for(mins(21), "silence", |r| !r.row.alarms.has(Alarm::NoFlow));
}

#[test]
fn an_acknowledgement_or_a_lost_pipe_sensor_forgets_the_runs_without_flow() {
    for lose in [None, Some(Sensor::Supply), Some(Sensor::Return)] {
        let mut bench = Bench::new();
        bench.stirred = false;
        bench.read(6.0, 6.0, 1.9, -3.0);
        let absent = |r: &controller_core::StepReport| {
            matches!(r.row.estimate.flow_proof, FlowProof::Absent(_))
        };
        bench.wait_for(hours(1), "a run without flow", absent);
        match lose {
            Some(sensor) => bench.lose(sensor),
            None => bench.command(Command::Acknowledge),
        }
        bench.pass(secs(30));
        assert!(!absent(bench.report()), "{lose:?}: {}", bench.words());
    }
}
