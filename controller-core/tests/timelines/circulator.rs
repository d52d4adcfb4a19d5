//! The circulator's thermostat: when heat is wanted for the slab, and when the store has it to give.

use controller_core::SlabFrom;
use controller_core::reason::What;
use controller_core::sensor::{ReadFault, Sensor};
use controller_core::settings::{BoilerKind, Mode};

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
        let reason = if expected {
            "store_heat"
        } else {
            "warm_enough"
        };
        assert_eq!(bench.reason(), reason, "{slab}");
    }
}

#[test]
fn a_run_starts_on_the_store_as_it_was_seen_and_goes_on_while_moving_water_gains() {
    let mut bench = mild(4.8, 3.6, 3.2);
    for (supply, runs) in [(4.8, true), (4.1, true), (3.9, false)] {
        bench.set(Sensor::Supply, supply);
        bench.pass(mins(20));
        assert_eq!(bench.pump(), runs, "{supply}: {}", bench.words());
        let reason = if runs { "store_heat" } else { "not_worthwhile" };
        assert_eq!(bench.reason(), reason, "{supply}");
        assert!(wanted(&bench));
    }
    // A pipe at rest that has grown warm is not the store.
    bench.set(Sensor::Supply, 9.0);
    bench.always(mins(90), "no run", |r| !r.outputs.circulator);
}

#[test]
fn a_store_that_was_never_seen_is_looked_at_and_a_poor_one_only_every_two_hours() {
    // Supply and return alike, so that nothing shows the water moving and no store is seen.
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
    bench.stirred = false;
    bench.read(3.6, 3.6, 3.2, 6.0);
    bench.until(hours(12));
    let starts = bench.watch.starts;
    assert!((4..=7).contains(&starts), "{starts}");
}

#[test]
fn a_store_whose_temperature_is_lost_is_drawn_on_like_a_warm_one() {
    let mut bench = mild(4.0, 3.6, 3.2);
    bench.lose(Sensor::Supply);
    bench.wait_for(mins(30), "the run", |r| r.row.reason.name() == "store_heat");
    bench.slab_to(4.6);
    assert_eq!(bench.report().row.estimate.slab_from, SlabFrom::Sensor);
}

#[test]
fn a_slab_nobody_knows_wants_heat_until_its_water_says_otherwise() {
    let mut bench = Bench::new();
    bench.read(6.0, 5.0, 4.0, 6.0);
    bench.lose(Sensor::Slab);
    bench.wait_for(mins(15), "the run", |r| r.outputs.circulator);
    assert_eq!((bench.reason(), bench.time()), ("store_heat", mins(10)));
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
    // Two reads of a chip that keeps starting up: the last trusted value, doubted.
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
    bench.always(mins(7), "nothing in the settling time", |r| {
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
    assert_eq!(cause(&bench), (What::Slab, c(3.5).to_bits()), "warm_enough");
    bench.slab_to(3.2);
    bench.pass(mins(10));
    assert_eq!(bench.reason(), "store_heat");
    assert_eq!(cause(&bench), (What::Slab, c(4.5).to_bits()));
}
