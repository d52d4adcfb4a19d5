//! When heat is wanted for the slab.

use controller_core::sensor::Sensor;
use controller_core::settings::Mode;

use crate::support::{Bench, as_f64, hours, k, mins};

fn wanted(bench: &Bench) -> bool {
    bench.report().row.summary.heat_wanted
}

#[test]
fn heat_is_wanted_from_the_lower_edge_of_the_band_to_the_upper() {
    let mut bench = Bench::new();
    bench.read(6.0, 6.0, 4.0, 5.0);
    bench.until(mins(5));
    assert!(!wanted(&bench));
    bench.set(Sensor::Slab, 3.55);
    bench.until(mins(15));
    assert!(!wanted(&bench), "still above the lower edge");
    bench.set(Sensor::Slab, 3.45);
    bench.until(mins(25));
    assert!(wanted(&bench));
    bench.set(Sensor::Slab, 4.45);
    bench.until(mins(40));
    assert!(wanted(&bench), "until the upper edge");
    bench.set(Sensor::Slab, 4.55);
    bench.until(mins(55));
    assert!(!wanted(&bench));
}

#[test]
fn the_band_is_raised_a_little_in_cold_weather_and_no_further() {
    for (outdoor, set) in [
        (0.0, 4.0),
        (-2.0, 4.0),
        (-7.0, 4.5),
        (-12.0, 5.0),
        (-22.0, 6.0),
        (-40.0, 6.0),
    ] {
        let mut bench = Bench::new();
        bench.read(6.0, 6.0, 6.0, outdoor);
        let got = as_f64(bench.until(mins(1)).row.summary.slab_set);
        assert!((got - set).abs() < 0.01, "{outdoor}: {got} for {set}");
    }
}

/// Lets the slab change by so much an hour.
fn ramp(bench: &mut Bench, from: f64, per_hour: f64, for_hours: f64) {
    let steps = (for_hours * 360.0) as u32;
    for n in 0..steps {
        bench.set(Sensor::Slab, from + per_hour * f64::from(n) / 360.0);
        bench.step();
    }
}

#[test]
fn a_falling_slab_is_heated_before_it_leaves_the_band() {
    let mut bench = Bench::new();
    bench.read(6.0, 6.0, 6.0, 0.0);
    ramp(&mut bench, 6.0, -0.8, 1.8);
    assert!(!wanted(&bench), "above the band nothing is wanted yet");
    ramp(&mut bench, 4.56, -0.8, 0.25);
    assert!(
        wanted(&bench),
        "4.4 °C and falling 0.8 K/h: {}",
        bench.words()
    );
}

#[test]
fn once_early_until_the_prediction_is_back_at_the_centre() {
    let mut bench = Bench::new();
    bench.read(6.0, 6.0, 6.0, 0.0);
    ramp(&mut bench, 6.0, -0.8, 2.05);
    assert!(wanted(&bench), "{}", bench.words());
    // The fall slows: the prediction comes to lie between the lower edge and the centre.
    for n in 0..3 * 360 {
        bench.set(Sensor::Slab, 4.36 - 0.11 * f64::from(n) / 360.0);
        bench.step();
        assert!(wanted(&bench), "{}", bench.words());
    }
    // It turns: enough.
    ramp(&mut bench, 4.03, 0.1, 2.0);
    assert!(!wanted(&bench), "{}", bench.words());
}

#[test]
fn looking_ahead_waits_for_cold_air_and_can_be_turned_off() {
    let mut mild = Bench::new();
    mild.read(6.0, 6.0, 6.0, 6.0);
    ramp(&mut mild, 6.0, -0.8, 2.0);
    assert!(!wanted(&mild));
    let mut off = Bench::with(|raw| raw.horizon = hours(0));
    off.read(6.0, 6.0, 6.0, 0.0);
    ramp(&mut off, 6.0, -0.8, 2.0);
    assert!(!wanted(&off));
}

#[test]
fn summer_wants_no_heat_and_commissioning_does() {
    for (mode, expected) in [
        (Mode::Summer, false),
        (Mode::Commissioning, true),
        (Mode::Winter, true),
    ] {
        let mut bench = Bench::with(|raw| raw.mode = mode);
        bench.read(6.0, 6.0, 3.2, 5.0);
        bench.until(mins(5));
        assert_eq!(wanted(&bench), expected, "{mode:?}");
    }
}

#[test]
fn an_unknown_slab_wants_heat() {
    let mut bench = Bench::new();
    bench.lose(Sensor::Slab);
    bench.until(mins(2));
    assert!(wanted(&bench));
}

#[test]
fn a_doubted_slab_is_taken_half_a_kelvin_colder() {
    let mut bench = Bench::with(|raw| raw.slab_band = k(1.0));
    bench.read(6.0, 6.0, 3.8, 5.0);
    bench.until(mins(30));
    assert!(!wanted(&bench));
    // A jump that cannot be the slab: the last believed value, doubted.
    bench.set(Sensor::Slab, 9.0);
    bench.until(mins(31));
    assert!(wanted(&bench), "{}", bench.words());
}
