//! The circulator's thermostat: when heat is wanted for the slab, and when the store has it to give.

use controller_core::SlabFrom;
use controller_core::reason::What;
use controller_core::sensor::{ReadFault, Sensor};
use controller_core::settings::{BoilerKind, Mode};
use controller_core::{Command, Switch};

use crate::support::{Bench, as_f64, c, hours, mins, secs};

fn wanted(bench: &Bench) -> bool {
    bench.report().row.summary.heat_wanted
}

/// Mild weather and no boiler, so that nothing else asks; twenty minutes after the boot.
fn mild(supply: f64, ret: f64, slab: f64) -> Bench {
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
    bench.read(supply, ret, slab, 6.0);
    bench.until(mins(20));
    bench
}

#[test]
fn heat_is_wanted_from_the_lower_edge_of_the_band_to_the_upper() {
    let mut bench = mild(9.0, 6.0, 4.0);
    assert!(!wanted(&bench));
    for (slab, expected) in [
        (3.55, false),
        (3.45, true),
        (4.45, true),
        (4.55, false),
        (3.55, false),
    ] {
        bench.slab_to(slab);
        bench.pass(mins(10));
        assert_eq!(wanted(&bench), expected, "{slab}: {}", bench.words());
        bench.pass(mins(10));
        assert_eq!(bench.pump(), expected, "{slab}: {}", bench.words());
        let reason = if expected { "harvest" } else { "satisfied" };
        assert_eq!(bench.reason(), reason, "{slab}");
    }
}

#[test]
fn a_run_starts_at_one_difference_between_supply_and_slab_and_goes_on_down_to_a_smaller_one() {
    let mut bench = mild(4.6, 3.6, 3.2);
    for (supply, runs) in [
        (4.6, false),
        (4.8, true),
        (4.1, true),
        (3.9, false),
        (4.6, false),
    ] {
        bench.set(Sensor::Supply, supply);
        bench.pass(mins(20));
        assert_eq!(bench.pump(), runs, "{supply}: {}", bench.words());
        let reason = if runs { "harvest" } else { "not_worthwhile" };
        assert_eq!(bench.reason(), reason, "{supply}");
        assert!(wanted(&bench));
    }
}

#[test]
fn a_store_whose_temperature_is_lost_is_drawn_on_like_a_warm_one() {
    let mut bench = mild(4.0, 3.6, 3.2);
    assert!(!bench.pump());
    bench.lose(Sensor::Supply);
    bench.wait_for(mins(2), "the run", |r| r.outputs.circulator);
    assert_eq!(bench.reason(), "harvest");
    bench.slab_to(4.6);
    bench.wait_for(mins(30), "its end", |r| !r.outputs.circulator);
}

#[test]
fn a_run_serves_its_shortest_time() {
    let mut bench = mild(9.0, 6.0, 4.0);
    bench.slab_to(3.3);
    bench.wait_for(mins(10), "the run", |r| r.outputs.circulator);
    bench.slab_to(5.0);
    let ran = bench.wait_for(mins(20), "its end", |r| !r.outputs.circulator);
    assert!(bench.reason() == "satisfied" && ran <= mins(15), "{ran:?}");
    let status = bench.watch.pump_time;
    assert_eq!(status, 15 * 60_000, "the shortest run, to the second");
}

#[test]
fn the_colder_of_slab_and_water_counts() {
    // A run by hand brings the water's word: 3.3 °C, while the slab reads 3.8.
    let mut bench = mild(6.0, 3.3, 3.8);
    assert!(!wanted(&bench));
    bench.command(Command::Pump(Switch::On));
    bench.pass(mins(12));
    let estimate = &bench.report().row.estimate;
    assert_eq!(estimate.slab_from, SlabFrom::Water);
    assert!((as_f64(estimate.slab.expect("known")) - 3.3).abs() < 0.1);
    assert!(wanted(&bench), "{}", bench.words());
    assert_eq!(bench.report().row.cause.what, What::WaterSlab);
    // Warmer water does not warm the slab.
    bench.set(Sensor::Return, 5.5);
    bench.pass(mins(10));
    let estimate = &bench.report().row.estimate;
    assert_eq!(estimate.slab_from, SlabFrom::Sensor);
    assert!((as_f64(estimate.slab.expect("known")) - 3.8).abs() < 0.1);
}

#[test]
fn water_at_rest_speaks_for_the_slab_for_two_and_a_half_hours() {
    let mut bench = mild(6.0, 4.8, 5.2);
    bench.command(Command::Pump(Switch::On));
    bench.pass(mins(12));
    bench.command(Command::Pump(Switch::Auto));
    bench.wait_for(mins(1), "rest", |r| !r.outputs.circulator);
    bench.set(Sensor::Return, 8.0);
    bench.always(mins(149), "the water's word", |r| {
        r.row.estimate.slab_from == SlabFrom::Water
    });
    bench.pass(mins(2));
    let estimate = &bench.report().row.estimate;
    assert_eq!(
        (estimate.slab_from, estimate.water),
        (SlabFrom::Sensor, None)
    );
}

#[test]
fn a_slab_nobody_knows_wants_heat_until_its_water_says_otherwise() {
    let mut bench = Bench::new();
    bench.read(6.0, 5.0, 4.0, 6.0);
    bench.lose(Sensor::Slab);
    bench.wait_for(mins(15), "the run", |r| r.outputs.circulator);
    assert_eq!((bench.reason(), bench.time()), ("harvest", mins(10)));
    assert_eq!(bench.report().row.estimate.slab_from, SlabFrom::Nothing);
    let ran = bench.wait_for(mins(20), "its end", |r| !r.outputs.circulator);
    assert_eq!(
        ran,
        mins(15),
        "water of 5 °C is enough after the shortest run"
    );
    let rest = bench.wait_for(hours(3), "the next", |r| r.outputs.circulator);
    assert!(rest >= mins(150) && rest <= mins(151), "{rest:?}");
}

#[test]
fn a_doubted_slab_is_taken_half_a_kelvin_colder() {
    let mut bench = mild(6.0, 6.0, 3.8);
    assert!(!wanted(&bench));
    // Two reads of a chip that keeps starting up: the last believed value, doubted.
    bench.fail(Sensor::Slab, ReadFault::PowerOn);
    bench.pass(secs(20));
    assert!(wanted(&bench), "{}", bench.words());
    assert!((as_f64(bench.report().row.estimate.slab.expect("known")) - 3.3).abs() < 0.05);
}

#[test]
fn summer_wants_no_heat_and_commissioning_does() {
    for (mode, expected) in [
        (Mode::Summer, false),
        (Mode::Commissioning, true),
        (Mode::Winter, true),
    ] {
        let mut bench = Bench::with(|raw| raw.mode = mode);
        bench.read(6.0, 6.0, 3.2, 6.0);
        bench.until(mins(20));
        assert_eq!(
            (wanted(&bench), bench.pump()),
            (expected, expected),
            "{mode:?}"
        );
    }
}

#[test]
fn a_run_counts_the_heat_that_it_brings_once_the_pipes_are_purged() {
    let mut bench = mild(9.0, 5.0, 4.0);
    bench.slab_to(3.3);
    bench.wait_for(mins(10), "the run", |r| r.outputs.circulator);
    bench.always(mins(7), "nothing in the purge", |r| {
        r.row.estimate.heat.is_none()
    });
    bench.pass(mins(2));
    let heat = bench.report().row.estimate.heat.expect("measured");
    let watts = heat.to_fixed().to_num::<f64>();
    assert!(
        (watts - 4.0 * 252.0).abs() < 15.0,
        "{watts} W for 4 K at 252 W/K"
    );
    let before = bench.report().row.estimate.earth_wh;
    bench.pass(hours(2));
    let counted = bench.report().row.estimate.earth_wh - before;
    assert!(
        (1_990..=2_040).contains(&counted),
        "{counted} Wh in two hours of 1008 W"
    );
    assert_eq!(bench.report().row.estimate.boiler_wh, 0);
}

#[test]
fn a_row_says_what_stands_behind_run_and_rest() {
    let cause = |bench: &Bench| {
        let cause = bench.report().row.cause;
        (cause.what, cause.limit)
    };
    let mut bench = mild(9.0, 5.0, 4.0);
    assert_eq!(cause(&bench), (What::Slab, c(3.5).to_bits()), "satisfied");
    bench.slab_to(3.2);
    bench.pass(mins(10));
    assert_eq!(bench.reason(), "harvest");
    assert_eq!(cause(&bench), (What::Slab, c(4.5).to_bits()));
}
