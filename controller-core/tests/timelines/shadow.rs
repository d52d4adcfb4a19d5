//! Relays that are somebody else's: what really ran counts, and only that rings.

use controller_core::alarm::Alarm;
use controller_core::sensor::Sensor;
use controller_core::{ActualRelays, Flow, FlowProof};

use crate::support::{Bench, Plant, hours, mins};

const fn relays(circulator: bool, boiler_call: bool) -> Option<ActualRelays> {
    Some(ActualRelays {
        circulator: Some(circulator),
        boiler_call: Some(boiler_call),
    })
}

/// A freezing night in a house whose circulator and boiler are in other hands.
fn night(plant: Plant) -> Bench {
    let mut bench = Bench::new();
    bench.plant = Some(plant);
    bench.shadow = relays(false, false);
    bench
}

/// Alarms that take the water for the answer to relays.
const OF_RELAYS: [Alarm; 7] = [
    Alarm::NoFlow,
    Alarm::FireOut,
    Alarm::HeatBarred,
    Alarm::HeatWithoutCall,
    Alarm::FlowWithPumpOff,
    Alarm::LongBoilerDay,
    Alarm::ManyStarts,
];

#[test]
fn relays_that_rested_all_night_are_no_dead_circulator_and_no_fire_that_is_out() {
    let mut bench = night(Plant {
        slab: 2.1,
        ..Plant::default()
    });
    bench.always(hours(12), "at rest", |r| {
        r.row.estimate.flow == Flow::Rest && OF_RELAYS.iter().all(|alarm| !r.row.alarms.has(*alarm))
    });
    assert!(bench.pump(), "it would have run: {}", bench.words());
    assert!(bench.alarm(Alarm::SlabCold), "{}", bench.words());
}

#[test]
fn water_that_another_moves_is_measured() {
    let mut bench = night(Plant {
        slab: 8.0,
        store: 11.0,
        ..Plant::default()
    });
    bench.shadow = relays(true, false);
    bench.pass(hours(2));
    let row = &bench.report().row;
    assert!(!bench.pump(), "a warm slab wants nothing");
    assert_eq!(row.estimate.flow, Flow::Flowing);
    assert_eq!(row.estimate.flow_proof, FlowProof::Present);
    assert!(row.estimate.store.is_some() && row.estimate.earth_wh > 0);
    assert!(!bench.alarm(Alarm::FlowWithPumpOff));
}

#[test]
fn a_circulator_of_another_that_moves_nothing_rings() {
    let mut bench = night(Plant {
        slab: 4.0,
        loss: 0.0,
        flows: false,
        ..Plant::default()
    });
    for run in 0..2 {
        bench.shadow = relays(false, false);
        bench.pass(mins(15));
        assert!(!bench.alarm(Alarm::NoFlow), "run {run}");
        bench.shadow = relays(true, false);
        bench.pass(mins(30));
    }
    assert!(bench.alarm(Alarm::NoFlow), "{}", bench.words());
}

#[test]
fn heat_that_another_called_is_not_uncalled() {
    for called in [true, false] {
        let mut bench = night(Plant {
            slab: 8.0,
            ..Plant::default()
        });
        bench.shadow = relays(true, false);
        bench.pass(mins(60));
        let before = bench.report().row.estimate.earth_wh;
        // The fire burns; whether its call is logged makes the difference.
        bench.shadow = relays(true, called);
        if !called && let Some(plant) = &mut bench.plant {
            plant.store += plant.boiler_w / plant.conductance;
        }
        bench.pass(hours(1));
        let row = &bench.report().row;
        assert!(!row.outputs.boiler_call);
        assert_eq!(bench.alarm(Alarm::HeatWithoutCall), !called, "{called}");
        assert_eq!(row.estimate.boiler_wh > 0, called);
        assert_eq!(row.estimate.earth_wh > before + 10, !called);
    }
}

#[test]
fn a_call_of_another_that_brings_no_heat_rings() {
    for (watts, rings) in [(0.0, true), (6_000.0, false)] {
        let mut bench = night(Plant {
            slab: 8.0,
            boiler_w: watts,
            ..Plant::default()
        });
        bench.shadow = relays(true, false);
        bench.pass(mins(60));
        bench.shadow = relays(true, true);
        bench.pass(mins(40));
        assert_eq!(bench.alarm(Alarm::FireOut), rings, "{}", bench.words());
    }
}

#[test]
fn nothing_rings_by_relays_that_nobody_knows() {
    for (supply, slab) in [(6.0, 1.9), (45.0, 6.0), (6.0, 6.0)] {
        let mut bench = Bench::new();
        bench.stirred = false;
        bench.shadow = Some(ActualRelays::default());
        bench.read(supply, supply, slab, -3.0);
        bench.always(hours(30), "unknown", |r| {
            OF_RELAYS.iter().all(|alarm| !r.row.alarms.has(*alarm))
                && r.row.summary.failed_calls == 0
        });
    }
}

#[test]
fn what_the_house_itself_shows_rings_whoever_switches() {
    let mut bench = Bench::new();
    bench.shadow = relays(true, false);
    bench.lose(Sensor::Return);
    bench.set(Sensor::Slab, 1.5);
    bench.pass(hours(2));
    assert!(bench.alarm(Alarm::SlabCold) && bench.alarm(Alarm::ReturnLost));
}
