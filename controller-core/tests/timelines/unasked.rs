//! Water that moves and heat that comes though nobody asked, and water that stands though it was.

use controller_core::alarm::Alarm;
use controller_core::sensor::Sensor;

use super::support::{Bench, hours, mins, secs};

/// Mild weather, slab 5 °C: the circulator rests for hours.
fn resting(supply: f64, ret: f64) -> Bench {
    let mut bench = Bench::new();
    bench.read(supply, ret, 5.0, 6.0);
    bench
}

#[test]
fn water_that_gives_heat_with_the_relay_off_is_told_after_two_hours() {
    // Supply 8.2 °C, slab 5.0 °C: running water leaves the slab at 8.2 - 0.69 · 3.2 = 6.0 °C.
    let mut bench = resting(8.2, 6.0);
    bench.until(mins(115));
    assert!(!bench.alarm(Alarm::PumpUnasked));
    bench.until(mins(125));
    assert!(bench.alarm(Alarm::PumpUnasked) && !bench.pump());
    assert!(!bench.report().outputs.alarm, "advice only");
}

#[test]
fn pipes_at_rest_that_happen_to_have_the_store_s_temperature_are_not() {
    for (supply, ret) in [(8.2, 8.2), (8.2, 8.0), (8.0, 8.2), (8.2, 7.5)] {
        let mut bench = resting(supply, ret);
        bench.until(hours(12));
        assert!(!bench.alarm(Alarm::PumpUnasked), "{supply} {ret}");
    }
}

#[test]
fn feedback_tells_at_once() {
    let mut bench = resting(6.0, 6.0);
    bench.until(mins(30));
    bench.feedback = Some(true);
    bench.pass(mins(1));
    assert!(bench.alarm(Alarm::PumpUnasked));
    bench.feedback = Some(false);
    bench.pass(mins(1));
    assert!(!bench.alarm(Alarm::PumpUnasked));
}

/// The circulator harvests from a store of 8 °C; from then on the supply climbs.
fn climbing(per_minute: f64, minutes: u32) -> Option<u32> {
    let mut bench = Bench::new();
    bench.read(8.0, 5.2, 3.4, 2.0);
    bench.until(mins(60));
    assert!(bench.pump());
    (1..=minutes).find(|minute| {
        // Below every limit, so that nothing else ends the run.
        let supply = (8.0 + per_minute * f64::from(*minute)).min(38.0);
        bench.set(Sensor::Supply, supply);
        bench.set(Sensor::Return, supply - 0.69 * (supply - 3.4));
        bench.pass(mins(1));
        bench.alarm(Alarm::UncalledHeat)
    })
}

#[test]
fn heat_nobody_called_for_is_told_however_slowly_it_comes() {
    for per_minute in [1.5, 0.5, 0.1] {
        let told = climbing(per_minute, 90);
        let above_for = 5.0 / per_minute + 10.0;
        let told = told.unwrap_or_else(|| panic!("{per_minute} K/min: never"));
        assert!(
            f64::from(told) <= above_for * 1.3 + 5.0,
            "{per_minute} K/min: {told} min"
        );
    }
}

#[test]
fn a_store_that_warms_by_itself_is_no_uncalled_heat() {
    // 0.5 K/h for four hours.
    assert_eq!(climbing(0.5 / 60.0, 240), None);
}

#[test]
fn still_water_that_freezes_is_told_as_no_flow_and_not_as_harm() {
    // Supply and return cool alike in freezing air; the slab does not reach the return.
    let mut bench = Bench::new();
    bench.stirred = false;
    bench.read(6.0, 6.0, 5.0, -8.0);
    bench.until(mins(15));
    bench.read(2.9, 2.9, 5.0, -8.0);
    bench.pass(mins(1));
    assert!(bench.pump());
    for minute in 0..50_u32 {
        let pipes = 2.9 - 0.08 * f64::from(minute);
        bench.set(Sensor::Supply, pipes);
        bench.set(Sensor::Return, pipes);
        bench.pass(secs(60));
        assert!(!bench.alarm(Alarm::FreezeHarm), "{minute} min");
    }
    assert!(bench.alarm(Alarm::NoFlow), "{}", bench.words());
}
