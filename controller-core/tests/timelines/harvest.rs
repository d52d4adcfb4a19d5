//! Store heat: sampling, harvesting, patience, a store left to recover, and banking.

use controller_core::RunState;
use controller_core::alarm::Alarm;
use controller_core::reason::What;
use controller_core::sensor::Sensor;
use controller_core::settings::{BoilerKind, Mode, RawSettings};
use controller_core::time::Duration;
use controller_core::units::KelvinPerHour;

use crate::support::{Bench, c, hours, mins, secs, settings};

fn run(bench: &Bench) -> RunState {
    bench.report().row.summary.run
}

/// A slab that wants heat in mild weather, pipes at rest at 6 °C.
fn wanting() -> Bench {
    let mut bench = Bench::new();
    bench.read(6.0, 6.0, 3.2, 5.0);
    bench
}

#[test]
fn an_unknown_store_is_sampled_then_harvested_until_the_slab_is_warm() {
    let mut bench = wanting();
    bench.until(secs(595));
    assert!(!bench.pump());
    assert_eq!(bench.reason(), "boot");
    bench.until(mins(11));
    assert!(bench.pump());
    assert_eq!(run(&bench), RunState::Sampling);
    bench.set(Sensor::Supply, 9.0);
    bench.set(Sensor::Return, 5.0);
    bench.until(mins(21));
    assert_eq!(
        run(&bench),
        RunState::Sampling,
        "judged four minutes after the purge"
    );
    bench.until(mins(23));
    assert_eq!(run(&bench), RunState::Harvest);
    let row = &bench.report().row;
    let heat = row
        .estimate
        .heat
        .expect("measured")
        .to_fixed()
        .to_num::<f64>();
    assert!(
        (heat - 4.0 * 252.0).abs() < 15.0,
        "{heat} W for 4 K at 252 W/K"
    );
    bench.until(hours(3));
    assert_eq!(bench.reason(), "harvest");
    bench.set(Sensor::Slab, 3.8);
    bench.until(mins(190));
    bench.set(Sensor::Slab, 4.4);
    bench.until(mins(200));
    assert!(bench.pump());
    bench.set(Sensor::Slab, 4.7);
    bench.until(mins(210));
    assert!(!bench.pump());
    assert_eq!(bench.reason(), "satisfied");
    let wh = bench.report().row.estimate.earth_wh;
    let ran = 210 - 10 - 8 - 5;
    assert!(
        wh > 1_000 * ran / 60 - 150 && wh < 1_010 * ran / 60 + 150,
        "{wh} Wh"
    );
    // The store is known now: the next demand starts at once, without a sample.
    bench.set(Sensor::Slab, 4.1);
    bench.until(mins(220));
    bench.set(Sensor::Slab, 3.3);
    bench.wait_for(mins(5), "the start", |r| r.outputs.circulator);
    assert_eq!(run(&bench), RunState::Harvest);
}

#[test]
fn a_run_is_poor_for_ten_minutes_before_it_ends() {
    let mut bench = wanting();
    bench.set(Sensor::Supply, 9.0);
    bench.set(Sensor::Return, 5.0);
    bench.until(mins(40));
    assert_eq!(run(&bench), RunState::Harvest);
    bench.set(Sensor::Supply, 5.9);
    bench.set(Sensor::Return, 5.3);
    let gone = bench.wait_for(mins(30), "the end", |r| !r.outputs.circulator);
    assert!(gone >= mins(10) && gone <= mins(20), "{gone:?}");
    assert_eq!(bench.reason(), "not_worthwhile");
    // A dip of less than that ends nothing.
    let mut dip = wanting();
    dip.set(Sensor::Supply, 9.0);
    dip.set(Sensor::Return, 5.0);
    dip.until(mins(40));
    for _ in 0..5 {
        dip.set(Sensor::Supply, 5.5);
        dip.pass(mins(6));
        dip.set(Sensor::Supply, 9.0);
        dip.pass(mins(6));
        assert_eq!(run(&dip), RunState::Harvest);
    }
}

/// Times from the end of each sampling run to the start of the next, and their lengths.
fn samples(bench: &mut Bench, count: usize) -> Vec<(Duration, Duration)> {
    (0..count)
        .map(|_| {
            let rest = bench.wait_for(hours(20), "a sample", |r| r.outputs.circulator);
            let run = bench.wait_for(hours(1), "its end", |r| !r.outputs.circulator);
            (rest, run)
        })
        .collect()
}

#[test]
fn sampling_a_poor_store_grows_patient() {
    let mut bench = wanting();
    bench.read(5.0, 5.0, 3.2, 5.0);
    let taken = samples(&mut bench, 6);
    for (_, run) in &taken {
        assert!(
            *run >= mins(12) && *run <= mins(13),
            "purge and four minutes: {run:?}"
        );
    }
    for ((rest, _), hours_apart) in taken.iter().skip(1).zip([2, 4, 8, 12, 12]) {
        let expected = hours(hours_apart);
        assert!(
            *rest >= expected && *rest <= expected + mins(1),
            "{rest:?} for {hours_apart} h"
        );
    }
    assert_eq!(bench.reason(), "not_worthwhile");
}

#[test]
fn patience_is_forgotten_when_the_slab_gets_colder() {
    let mut bench = wanting();
    bench.read(5.0, 5.0, 3.2, 5.0);
    samples(&mut bench, 3);
    assert_eq!(bench.report().row.summary.sample_interval, hours(8));
    bench.set(Sensor::Slab, 2.7);
    bench.pass(mins(10));
    assert_eq!(bench.report().row.summary.sample_interval, hours(2));
    // Not eight hours after the last one, but two.
    let rest = bench.wait_for(hours(3), "a new sample", |r| r.outputs.circulator);
    assert!(rest <= mins(1), "two have passed: {rest:?}");
    assert_eq!(run(&bench), RunState::Sampling);
}

#[test]
fn a_sampling_run_ends_with_the_demand() {
    let mut bench = wanting();
    bench.until(mins(11));
    assert_eq!(run(&bench), RunState::Sampling);
    bench.slab_to(4.8);
    bench.pass(mins(3));
    assert!(!bench.pump(), "{}", bench.words());
    assert!(bench.time() < mins(20), "before it would be judged");
}

/// A store that was seen at this temperature in a frost run, and a slab that is warm since.
fn seen(store: f64, change: impl FnOnce(&mut RawSettings)) -> Bench {
    let mut bench = Bench::with(change);
    let ret = |slab: f64| store - 0.69 * (store - slab);
    bench.read(store, ret(2.1), 2.1, 5.0);
    bench.until(mins(25));
    assert_eq!(bench.reason(), "frost");
    bench.set(Sensor::Return, ret(4.8));
    bench.slab_to(4.8);
    bench.wait_for(mins(20), "its end", |r| !r.outputs.circulator);
    bench.read(6.0, 6.0, 4.8, 5.0);
    bench
}

#[test]
fn a_store_seen_too_cold_is_sampled_when_doubt_lets_it_be_warm_enough() {
    let mut bench = seen(4.6, |raw| {
        raw.store_prior = c(5.0);
        raw.doubt_rate = KelvinPerHour::from_milli(100);
        raw.sample_interval = hours(12);
    });
    bench.slab_to(3.4);
    // 4.6 °C is 1.2 K above the slab; 1.5 would do, and are reached by drift and doubt together.
    let waited = bench.wait_for(hours(5), "a sample", |r| r.outputs.circulator);
    assert!(waited >= mins(75) && waited <= mins(105), "{waited:?}");
    assert_eq!(run(&bench), RunState::Sampling);
    // Without a doubt it is looked at when the interval is over.
    let mut sure = seen(4.6, |raw| {
        raw.doubt_rate = KelvinPerHour::ZERO;
    });
    sure.slab_to(3.4);
    let waited = sure.wait_for(hours(5), "a sample", |r| r.outputs.circulator);
    assert!(waited >= mins(90) && waited <= mins(121), "{waited:?}");
}

#[test]
fn a_store_that_may_have_cooled_is_sampled_before_it_is_harvested() {
    let mut bench = seen(6.0, |raw| {
        raw.store_prior = c(6.0);
        raw.doubt_rate = KelvinPerHour::from_milli(500);
    });
    bench.pass(hours(3));
    bench.slab_to(3.4);
    bench.wait_for(mins(5), "the start", |r| r.outputs.circulator);
    assert_eq!(run(&bench), RunState::Sampling);
}

#[test]
fn a_row_says_what_stands_behind_run_and_rest() {
    let cause = |bench: &Bench| bench.report().row.cause;
    let mut bench = Bench::new();
    bench.read(6.0, 6.0, 5.0, 5.0);
    bench.until(mins(20));
    assert_eq!(cause(&bench).what, What::Slab, "satisfied");
    bench.slab_to(3.2);
    bench.set(Sensor::Supply, 9.0);
    bench.set(Sensor::Return, 5.0);
    bench.pass(mins(30));
    assert_eq!(bench.reason(), "harvest");
    assert_eq!(cause(&bench).what, What::Difference);
    bench.set(Sensor::Supply, 5.5);
    bench.wait_for(mins(30), "the end", |r| {
        r.row.reason.name() == "not_worthwhile"
    });
    bench.pass(mins(10));
    assert_eq!(cause(&bench).what, What::StoreAboveSlab);
    assert_eq!(cause(&bench).age, bench.report().row.estimate.store_age);
    // A store that is left alone; and a slab that is about to want heat.
    let mut hold = wanting();
    hold.read(4.4, 3.4, 3.2, 5.0);
    hold.wait_for(hours(1), "the hold", |r| {
        r.row.reason.name() == "store_hold"
    });
    assert_eq!(cause(&hold).what, What::Store);
    assert_eq!(cause(&hold).limit, c(5.5).to_bits());
    let mut early = seen(9.0, |_| {});
    early.read(9.0, 6.0, 4.8, 0.0);
    early.slab_to(6.0);
    for n in 0..3 * 360 {
        early.set(Sensor::Slab, 6.0 - 0.8 * f64::from(n) / 360.0);
        early.step();
        if early.reason() == "harvest" {
            break;
        }
    }
    assert_eq!(cause(&early).what, What::SlabAhead, "{}", early.words());
}

#[test]
fn a_sampling_run_ends_when_nothing_can_be_told() {
    // Feedback says that the circulator stands.
    let mut bench = wanting();
    bench.feedback = Some(false);
    bench.wait_for(mins(12), "the start", |r| r.outputs.circulator);
    let run = bench.wait_for(mins(20), "the end", |r| !r.outputs.circulator);
    assert!(run <= mins(13), "{run:?}");
}

#[test]
fn a_cold_store_is_left_to_recover_and_looked_at_again_within_a_day() {
    let mut bench = wanting();
    bench.set(Sensor::Supply, 9.0);
    bench.set(Sensor::Return, 5.0);
    bench.until(mins(40));
    bench.set(Sensor::Supply, 4.4);
    bench.set(Sensor::Return, 3.4);
    bench.wait_for(mins(30), "the stop", |r| !r.outputs.circulator);
    assert_eq!(bench.reason(), "store_hold");
    assert!(bench.alarm(Alarm::StoreLow) && !bench.report().outputs.alarm);
    // Cold water at rest would be a frost matter of its own.
    bench.set(Sensor::Supply, 6.0);
    bench.set(Sensor::Return, 6.0);
    bench.always(hours(6), "patience", |r| !r.outputs.circulator);
    bench.wait_for(hours(20), "a look", |r| r.outputs.circulator);
}

#[test]
fn a_hold_is_left_even_if_memory_never_drifts() {
    let mut bench = Bench::with(|raw| {
        raw.doubt_rate = KelvinPerHour::ZERO;
    });
    bench.read(4.4, 3.4, 3.2, 5.0);
    bench.wait_for(hours(1), "the hold", |r| r.row.summary.store_hold);
    bench.read(6.0, 6.0, 3.2, 5.0);
    bench.wait_for(hours(26), "the end of the hold", |r| {
        !r.row.summary.store_hold
    });
}

#[test]
fn frost_draws_on_a_held_store_and_the_floor_rings() {
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::None);
    bench.read(6.0, 6.0, 3.2, 5.0);
    bench.set(Sensor::Supply, 4.4);
    bench.set(Sensor::Return, 3.4);
    bench.wait_for(mins(40), "the hold", |r| r.row.summary.store_hold);
    bench.set(Sensor::Slab, 2.6);
    bench.pass(mins(3));
    bench.set(Sensor::Slab, 2.1);
    bench.wait_for(mins(3), "frost", |r| {
        r.outputs.circulator && r.row.reason.name() == "frost"
    });
    bench.set(Sensor::Supply, 1.8);
    bench.pass(mins(20));
    assert!(bench.pump());
    assert!(bench.alarm(Alarm::StoreFloor), "{}", bench.words());
    assert!(bench.report().outputs.alarm);
}

/// What would be banked, if the owner had not said no.
fn forbidden(raw: &mut RawSettings) {
    banking(raw);
    raw.bank = false;
}

fn banking(raw: &mut RawSettings) {
    raw.mode = Mode::Summer;
    raw.bank = true;
    raw.cellar_storage = false;
}

#[test]
fn surplus_heat_is_banked_in_summer_if_asked_for() {
    let mut bench = Bench::with(banking);
    bench.read(18.0, 30.0, 14.0, 20.0); // pipes at rest in a warm house
    bench.until(mins(11));
    assert!(bench.pump());
    assert_eq!(bench.reason(), "banking");
    bench.pass(mins(4));
    assert!(bench.pump(), "warm water at rest is no reason to stop");
    bench.set(Sensor::Supply, 8.5);
    bench.set(Sensor::Return, 12.5);
    bench.until(hours(2));
    assert_eq!(bench.reason(), "banking");
    let e = &bench.report().row.estimate;
    assert!(e.banked_wh > 1_000 && e.earth_wh == 0, "{} Wh", e.banked_wh);
    bench.set(Sensor::Return, 9.0);
    bench.pass(mins(15));
    assert!(!bench.pump(), "too little to bank");
}

#[test]
fn banking_stops_at_its_cap_and_on_a_cool_slab() {
    for (ret, slab) in [(15.5, 16.0), (11.0, 7.8)] {
        let mut bench = Bench::with(banking);
        bench.read(8.5, 13.0, 14.0, 20.0);
        bench.until(mins(30));
        assert!(bench.pump());
        bench.set(Sensor::Return, ret);
        for n in 1..=20 {
            bench.set(Sensor::Slab, 14.0 + (slab - 14.0) * f64::from(n) / 20.0);
            bench.pass(mins(1));
        }
        bench.pass(mins(10));
        assert!(!bench.pump(), "{ret} {slab}");
    }
}

#[test]
fn banking_ends_when_it_is_no_longer_wanted_or_nothing_moves() {
    let started = || {
        let mut bench = Bench::with(banking);
        bench.read(8.5, 13.0, 14.0, 20.0);
        bench.wait_for(mins(15), "the start", |r| r.outputs.circulator);
        bench.pass(mins(1));
        bench
    };
    for change in [forbidden as fn(&mut RawSettings), |raw| {
        banking(raw);
        raw.mode = Mode::Commissioning;
    }] {
        let mut bench = started();
        bench.adopt(settings(change));
        bench.pass(secs(20));
        assert!(!bench.pump(), "{}", bench.words());
    }
    let mut stands = started();
    stands.feedback = Some(false);
    let ran = stands.wait_for(mins(20), "the stop", |r| !r.outputs.circulator);
    assert!(ran >= mins(10) && ran <= mins(12), "{ran:?}");
}

#[test]
fn only_a_slab_warm_and_far_above_the_store_is_banked() {
    for (prior, slab, banks) in [(6.0, 11.5, false), (8.0, 12.6, false), (8.0, 13.1, true)] {
        let mut bench = Bench::with(|raw| {
            banking(raw);
            raw.store_prior = c(prior);
        });
        bench.read(12.0, 12.0, slab, 20.0);
        bench.until(mins(15));
        assert_eq!(bench.pump(), banks, "{prior} {slab}");
    }
}

#[test]
fn nothing_is_banked_unasked_in_winter_or_over_food() {
    for change in [forbidden as fn(&mut RawSettings), |raw| {
        banking(raw);
        raw.mode = Mode::Winter;
    }] {
        let mut bench = Bench::with(change);
        bench.read(8.0, 12.0, 14.0, 20.0);
        bench.always(hours(12), "rest", |r| !r.outputs.circulator);
    }
    // Over a food store ten degrees is the cap, whatever is set.
    let mut bench = Bench::with(|raw| {
        banking(raw);
        raw.cellar_storage = true;
        raw.bank_cap = c(20.0);
    });
    bench.read(8.0, 10.5, 14.0, 20.0);
    bench.wait_for(mins(15), "the start", |r| r.outputs.circulator);
    let ran = bench.wait_for(mins(15), "the stop", |r| !r.outputs.circulator);
    assert!(ran <= mins(9), "{ran:?}");
}
