//! What is told, when, and for how long.

use controller_core::alarm::Alarm;
use controller_core::sensor::Sensor;
use controller_core::settings::{BoilerKind, Mode};

use crate::support::{Bench, hours, mins, secs};

use super::boiler::{heating, uncalled};

#[test]
fn a_slab_at_its_emergency_temperature_rings_after_an_hour() {
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
    bench.read(6.0, 6.0, 1.9, 6.0);
    bench.until(hours(2));
    assert!(!bench.alarm(Alarm::SlabCold), "above it, not at all");
    bench.slab_to(1.7);
    let told = bench.wait_for(mins(70), "the alarm", |r| r.row.alarms.has(Alarm::SlabCold));
    assert!(told >= mins(60) && told <= mins(63), "{told:?}");
    assert!(bench.report().outputs.alarm);
    bench.slab_to(2.0);
    bench.wait_for(mins(25), "silence", |r| !r.row.alarms.has(Alarm::SlabCold));
    // The hour begins anew.
    bench.slab_to(1.7);
    bench.always(mins(59), "silence", |r| !r.row.alarms.has(Alarm::SlabCold));
}

#[test]
fn a_slab_at_half_a_degree_rings_at_once_but_not_an_empty_one() {
    for (mode, slab, rings) in [
        (Mode::Winter, 0.45, true),
        (Mode::Winter, 0.55, false),
        (Mode::Summer, 0.45, true),
        (Mode::Drained, -5.0, false),
    ] {
        let mut bench = Bench::with(|raw| raw.mode = mode);
        bench.read(6.0, 6.0, slab, 6.0);
        bench.until(secs(30));
        assert_eq!(bench.alarm(Alarm::SlabCold), rings, "{mode:?} {slab}");
    }
}

#[test]
fn a_slab_cold_by_its_waters_word_rings_too() {
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
    bench.read(5.0, 1.5, 5.0, -3.0);
    let told = bench.wait_for(mins(80), "the alarm", |r| r.row.alarms.has(Alarm::SlabCold));
    assert!(told >= mins(65), "{told:?}");
}

#[test]
fn heat_that_is_wanted_and_barred_for_half_an_hour_rings() {
    let mut bench = heating(2.1, |raw| raw.supply_limited = false);
    bench.lose(Sensor::Supply);
    bench.wait_for(mins(1), "the end", uncalled);
    let told = bench.wait_for(mins(40), "the alarm", |r| {
        r.row.alarms.has(Alarm::HeatBarred)
    });
    assert!(told >= mins(29) && told <= mins(31), "{told:?}");
    assert!(bench.report().outputs.alarm);
    // Not wanted any more.
    bench.slab_to(5.2);
    bench.wait_for(mins(25), "silence", |r| {
        !r.row.alarms.has(Alarm::HeatBarred)
    });
}

#[test]
fn an_alarm_outlives_its_condition_by_ten_to_twenty_minutes() {
    // The alarm's own stretches of ten minutes begin with the boot: in all phases.
    for phase in [0, 3, 6, 9] {
        let mut bench = Bench::new();
        bench.read(6.0, 6.0, 6.0, 6.0);
        bench.until(mins(20 + phase));
        bench.lose(Sensor::Outdoor);
        bench.pass(mins(1));
        assert!(bench.alarm(Alarm::OutdoorLost) && bench.report().outputs.alarm);
        bench.set(Sensor::Outdoor, 6.0);
        bench.wait_for(mins(2), "belief", |r| !r.row.readings.outdoor.is_lost());
        let held = bench.wait_for(mins(30), "silence", |r| !r.outputs.alarm);
        assert!(held >= mins(10) && held <= mins(20) + secs(10), "{held:?}");
    }
}

#[test]
fn a_store_near_freezing_rings() {
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
    bench.read(3.5, 3.0, 2.1, 6.0);
    bench.until(mins(20));
    assert!(bench.pump() && !bench.alarm(Alarm::StoreCold));
    bench.set(Sensor::Supply, 1.9);
    bench.pass(mins(6));
    assert!(bench.alarm(Alarm::StoreCold) && bench.report().outputs.alarm);
}

#[test]
fn scatter_is_told_and_does_not_ring() {
    let mut bench = Bench::new();
    bench.read(6.0, 6.0, 6.0, 6.0);
    for n in 0..60 {
        bench.set(Sensor::Supply, if n % 2 == 0 { 7.0 } else { 5.0 });
        bench.step();
    }
    assert!(bench.alarm(Alarm::Noisy) && !bench.report().outputs.alarm);
}
