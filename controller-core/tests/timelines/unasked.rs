//! Water that moves and heat that comes though nobody asked, and water that stands though it was.

use controller_core::alarm::Alarm;
use controller_core::sensor::Sensor;
use controller_core::units::Celsius;
use controller_core::{Command, Switch};

use super::support::{Bench, hours, mins, secs};

/// Mild weather, slab 5 °C: the circulator rests for hours.
fn resting(supply: f64, ret: f64) -> Bench {
    let mut bench = Bench::new();
    bench.read(supply, ret, 5.0, 6.0);
    // A run by hand shows the store's temperature.
    bench.until(mins(10));
    bench.command(Command::Pump(Switch::On));
    bench.until(mins(25));
    bench.command(Command::Pump(Switch::Auto));
    bench.wait_for(mins(1), "rest", |r| !r.outputs.circulator);
    bench
}

#[test]
fn water_that_gives_heat_with_the_relay_off_is_told_after_two_hours() {
    // Supply 8.2 °C, slab 5.0 °C: running water leaves the slab at 8.2 - 0.69 · 3.2 = 6.0 °C.
    let mut bench = resting(8.2, 6.0);
    bench.pass(mins(115));
    assert!(!bench.alarm(Alarm::FlowWithPumpOff));
    bench.pass(mins(10));
    assert!(bench.alarm(Alarm::FlowWithPumpOff) && !bench.pump());
    assert!(!bench.report().outputs.alarm, "advice only");
}

#[test]
fn pipes_at_rest_that_happen_to_have_the_store_s_temperature_are_not() {
    for (supply, ret) in [(8.2, 8.2), (8.2, 8.0), (8.0, 8.2), (8.2, 7.5)] {
        let mut bench = resting(supply, ret);
        bench.pass(hours(12));
        assert!(!bench.alarm(Alarm::FlowWithPumpOff), "{supply} {ret}");
    }
}

#[test]
fn ice_in_the_pipes_is_no_store() {
    let mut bench = Bench::new();
    bench.read(6.0, 5.0, 2.0, -12.0);
    bench.until(mins(40));
    let store = bench.report().row.estimate.store;
    assert!(bench.pump() && store.is_some(), "{}", bench.words());
    // The pipes freeze, each in its own time, while the circulator is kept on.
    let mut supply = 6.0;
    while supply > -8.0 {
        supply -= 0.25;
        bench.read(supply, supply - 1.5, 2.0, -12.0);
        bench.pass(mins(2));
    }
    bench.pass(mins(30));
    let store = bench.report().row.estimate.store;
    assert!(
        store.is_none_or(|store| store >= Celsius::from_milli(-1_000)),
        "{}",
        bench.words()
    );
}

#[test]
fn feedback_tells_at_once() {
    let mut bench = resting(6.0, 6.0);
    bench.pass(mins(5));
    bench.feedback = Some(true);
    bench.pass(mins(1));
    assert!(bench.alarm(Alarm::FlowWithPumpOff));
    bench.feedback = Some(false);
    bench.wait_for(mins(21), "silence", |r| {
        !r.row.alarms.has(Alarm::FlowWithPumpOff)
    });
}

/// The circulator harvests for a slab of 3.4 °C; minutes until heat nobody called for is told.
fn told(supply: f64, ret: f64) -> Option<u32> {
    let mut bench = Bench::new();
    bench.read(8.0, 5.2, 3.4, 6.0);
    bench.until(mins(60));
    assert!(bench.pump());
    for step in 1..=6 {
        let share = f64::from(step) / 6.0;
        bench.set(Sensor::Supply, 8.0 + (supply - 8.0) * share);
        bench.set(Sensor::Return, 5.2 + (ret - 5.2) * share);
        bench.pass(secs(30));
    }
    (1..=60).find(|_| {
        bench.pass(mins(1));
        assert!(bench.pump(), "it is carried off");
        bench.alarm(Alarm::HeatWithoutCall)
    })
}

#[test]
fn water_warmer_than_any_store_is_told_after_ten_minutes() {
    let minutes = told(21.0, 9.0).expect("told");
    assert!((10..=13).contains(&minutes), "{minutes}");
    assert_eq!(told(19.5, 8.5), None);
}

#[test]
fn the_heat_of_a_call_is_not_uncalled_for_half_an_hour() {
    let mut bench = super::boiler::heating(2.1, |raw| {
        raw.boiler = controller_core::settings::BoilerKind::Injection;
    });
    for supply in [24.0, 28.0] {
        bench.set(Sensor::Supply, supply);
        bench.pass(mins(3));
    }
    bench.slab_to(3.6);
    bench.wait_for(mins(10), "the end", |r| !r.outputs.boiler_call);
    // Nobody calls, and it stays hot.
    let told = bench.wait_for(mins(60), "the alarm", |r| {
        r.row.alarms.has(Alarm::HeatWithoutCall)
    });
    assert!(told >= mins(39) && told <= mins(42), "{told:?}");
}

#[test]
fn still_water_that_freezes_is_told_as_no_flow() {
    // Supply and return cool alike in freezing air; the slab does not reach the return.
    let mut bench = Bench::new();
    bench.stirred = false;
    bench.read(6.0, 6.0, 5.0, -8.0);
    bench.until(mins(15));
    bench.read(2.9, 2.9, 5.0, -8.0);
    bench.pass(mins(6));
    assert!(bench.pump());
    for minute in 0..50_u32 {
        let pipes = 2.9 - 0.08 * f64::from(minute);
        bench.set(Sensor::Supply, pipes);
        bench.set(Sensor::Return, pipes);
        bench.pass(secs(60));
    }
    assert!(bench.alarm(Alarm::NoFlow), "{}", bench.words());
}
