//! The circulator stopped for overheated water.

use controller_core::alarm::Alarm;
use controller_core::sensor::Sensor;

use crate::support::{Bench, mins, secs};

/// The circulator on against frost and the boiler called at 1.7 °C; the return bears out a hot supply.
fn calling(ret: f64) -> Bench {
    let mut bench = Bench::new();
    call(&mut bench, ret);
    bench
}

fn call(bench: &mut Bench, ret: f64) {
    bench.until(mins(31));
    bench.slab_to(1.7);
    bench.wait_for(mins(20), "the call", |r| r.outputs.boiler_call);
    bench.set(Sensor::Return, ret);
    bench.pass(mins(3));
    assert!(bench.pump() && bench.boiler(), "{}", bench.words());
}

#[test]
fn overheated_water_that_the_return_confirms_stops_both_for_a_quarter_of_an_hour() {
    let mut bench = calling(14.0);
    bench.set(Sensor::Supply, 55.0);
    let hot = bench.wait_for(mins(5), "the stop", |r| !r.outputs.circulator);
    assert!(hot >= mins(2) && hot <= mins(2) + secs(20), "{hot:?}");
    assert!(!bench.boiler());
    assert_eq!(bench.reason(), "overheat");
    assert!(bench.alarm(Alarm::Overheat) && bench.report().outputs.alarm);
    // Then a look: the return has to tell, and the water to be hot for two minutes.
    for _ in 0..3 {
        let rest = bench.wait_for(mins(20), "a look", |r| r.outputs.circulator);
        assert!(rest >= mins(15) && rest <= mins(15) + secs(20), "{rest:?}");
        let look = bench.wait_for(mins(5), "its end", |r| !r.outputs.circulator);
        assert!(look >= mins(3) + secs(40) && look <= mins(4), "{look:?}");
    }
    bench.set(Sensor::Supply, 8.0);
    bench.wait_for(mins(20), "a look", |r| r.outputs.circulator);
    bench.always(mins(30), "circulation", |r| r.outputs.circulator);
    assert!(!bench.alarm(Alarm::Overheat));
}

#[test]
fn a_hot_supply_nobody_bears_out_stops_no_circulator() {
    // 8.2 °C and more would bear out 55 °C: 0.155 of the way from slab to supply.
    for ret in [4.0, 9.0] {
        let mut bench = calling(ret);
        bench.set(Sensor::Supply, 55.0);
        bench.always(mins(60), "circulation", |r| r.outputs.circulator);
        assert!(bench.report().row.readings.supply.is_lost());
    }
}

#[test]
fn without_a_valve_the_second_hot_read_stops_both() {
    let mut bench = Bench::with(|raw| raw.supply_limited = false);
    call(&mut bench, 14.0);
    bench.set(Sensor::Supply, 55.0);
    bench.step();
    assert!(bench.pump() && bench.boiler(), "one read may be wrong");
    bench.step();
    assert!(!bench.pump() && !bench.boiler());
    assert_eq!(bench.reason(), "overheat");
}

#[test]
fn a_supply_that_shows_a_wrong_value_now_and_then_stops_nothing() {
    let mut bench = calling(14.0);
    for _ in 0..60 {
        bench.set(Sensor::Supply, 85.0);
        bench.always(secs(50), "circulation", |r| r.outputs.circulator);
        bench.set(Sensor::Supply, 33.0);
        bench.always(secs(20), "circulation", |r| r.outputs.circulator);
    }
    assert!(!bench.alarm(Alarm::Overheat));
}

#[test]
fn without_a_return_reading_nothing_bears_out_a_hot_supply() {
    let mut bench = calling(14.0);
    bench.lose(Sensor::Return);
    bench.pass(mins(1));
    bench.set(Sensor::Supply, 55.0);
    bench.always(mins(60), "circulation", |r| r.outputs.circulator);
}

#[test]
fn without_a_slab_reading_a_return_of_12_degrees_bears_it_out() {
    for (ret, stops) in [(11.5, false), (12.5, true)] {
        let mut bench = calling(ret);
        bench.lose(Sensor::Slab);
        bench.pass(mins(1));
        bench.set(Sensor::Supply, 55.0);
        bench.pass(mins(3));
        assert_eq!(bench.alarm(Alarm::Overheat), stops, "{ret}");
        assert_eq!(bench.pump(), !stops, "{ret}");
    }
}
