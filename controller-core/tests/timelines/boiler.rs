//! Backup heat: when it is called and for how long. Proof of heat is in `proof`, limits in `limits`.

use controller_core::alarm::Alarm;
use controller_core::reason::What;
use controller_core::sensor::{ReadFault, Sensor};
use controller_core::settings::{BoilerKind, RawSettings};
use controller_core::units::Celsius;
use controller_core::{BoilerState, Command, StepReport, Switch};

use crate::support::{Bench, c, hours, mins, secs};

pub(super) fn called(report: &StepReport) -> bool {
    report.outputs.boiler_call
}

pub(super) fn uncalled(report: &StepReport) -> bool {
    !called(report)
}

pub(super) fn state(bench: &Bench) -> BoilerState {
    bench.report().row.summary.boiler
}

/// Half an hour and more after boot; slab as given, supply 6, return 4, outdoors -3 °C.
pub(super) fn cold(slab: f64, change: impl FnOnce(&mut RawSettings)) -> Bench {
    let mut bench = Bench::with(change);
    bench.until(mins(31));
    bench.set(Sensor::Return, 4.0);
    bench.slab_to(slab);
    bench
}

/// The same, called and heat shown: supply at 20 °C, return at 8.
pub(super) fn heating(slab: f64, change: impl FnOnce(&mut RawSettings)) -> Bench {
    let mut bench = cold(slab, change);
    bench.wait_for(mins(70), "the call", called);
    for supply in [8.0, 10.0, 12.0, 14.0, 17.0, 20.0] {
        bench.set(Sensor::Supply, supply);
        bench.set(Sensor::Return, 4.0 + (supply - 6.0) * 0.3);
        bench.pass(mins(1));
    }
    assert_eq!(state(&bench), BoilerState::Heating);
    bench
}

/// Mild weather, so that nobody but the slab's thermostat asks; a valve that may close soon.
fn mild(slab: f64) -> Bench {
    let mut bench = Bench::with(|raw| raw.boiler = BoilerKind::Injection);
    bench.read(6.0, 5.0, slab, 6.0);
    bench.until(mins(40));
    bench
}

#[test]
fn heat_is_called_at_the_backup_temperature_until_the_slab_is_a_kelvin_warmer() {
    let mut bench = mild(3.0);
    for (slab, calls) in [
        (2.55, false),
        (2.45, true),
        (3.45, true),
        (3.55, false),
        (2.55, false),
    ] {
        bench.slab_to(slab);
        bench.pass(mins(15));
        assert_eq!(bench.boiler(), calls, "{slab}: {}", bench.words());
        if calls {
            bench.set(Sensor::Supply, 12.0); // heat comes
            assert_eq!(bench.report().row.cause.what, What::Slab);
        }
    }
}

#[test]
fn a_call_comes_as_soon_as_the_water_is_purged() {
    let mut bench = cold(1.7, |_| {});
    bench.wait_for(mins(5), "circulation", |r| r.outputs.circulator);
    bench.pass(mins(4));
    assert_eq!(state(&bench), BoilerState::Wanted);
    bench.wait_for(mins(20), "the call", called);
    let ran = bench.report().row.status.pump_for;
    assert!(ran >= mins(8) && ran <= secs(490), "{ran:?}");
    assert_eq!(bench.reason(), "frost");
    bench.step();
    assert_eq!(state(&bench), BoilerState::Proving, "from the next step on");
}

#[test]
fn feedback_that_sticks_shortens_no_purge() {
    let mut bench = mild(2.9);
    bench.feedback = Some(true);
    bench.pass(mins(20));
    bench.command(Command::Pump(Switch::Off));
    bench.pass(mins(10));
    bench.slab_to(2.3);
    bench.command(Command::Pump(Switch::Auto));
    bench.wait_for(mins(6), "circulation", |r| r.outputs.circulator);
    let waited = bench.wait_for(mins(20), "the call", called);
    assert!(waited >= mins(8) && waited <= secs(500), "{waited:?}");
}

#[test]
fn a_call_starts_the_circulator_after_the_short_rest() {
    let mut bench = mild(2.9);
    bench.command(Command::Pump(Switch::Off));
    bench.pass(secs(20));
    bench.command(Command::Pump(Switch::Auto));
    bench.slab_to(2.3);
    let rest = bench.wait_for(mins(6), "circulation", |r| r.outputs.circulator);
    assert!(rest <= mins(3), "not the ten minutes of economy: {rest:?}");
    assert_eq!(bench.reason(), "backup");
}

#[test]
fn a_slab_with_a_sensor_in_doubt_is_kept_a_kelvin_and_a_half_warmer() {
    type Doubt = fn(&mut Bench);
    let doubts: [(&str, Doubt); 5] = [
        ("none", |_| {}),
        ("supply", |b| b.lose(Sensor::Supply)),
        ("return", |b| b.lose(Sensor::Return)),
        ("outdoor", |b| b.lose(Sensor::Outdoor)),
        ("flickering supply", |b| {
            b.fail(Sensor::Supply, ReadFault::PowerOn)
        }),
    ];
    for (name, doubt) in doubts {
        let mut bench = mild(4.6);
        doubt(&mut bench);
        bench.pass(mins(5));
        let sure = ["none", "outdoor"].contains(&name);
        for (slab, calls) in [(4.0, false), (3.8, true), (4.8, true), (5.0, false)] {
            bench.slab_to(slab);
            bench.pass(mins(12));
            assert_eq!(
                bench.boiler(),
                calls && !sure,
                "{name} {slab}: {}",
                bench.words()
            );
        }
    }
}

#[test]
fn a_scattering_sensor_is_in_doubt_as_well() {
    let mut bench = mild(3.6);
    let mut called = false;
    for n in 0..30 * 6 {
        bench.set(Sensor::Slab, if n % 2 == 0 { 3.3 } else { 3.9 });
        called |= bench.step().outputs.boiler_call;
    }
    assert!(
        bench.report().row.readings.slab.noisy && called,
        "{}",
        bench.words()
    );
}

#[test]
fn a_slab_disputed_by_its_water_is_kept_warmer() {
    let mut bench = mild(3.4);
    assert!(bench.pump() && !bench.boiler());
    // Warmer than both supply and slab by two kelvins and more.
    bench.set(Sensor::Return, 8.5);
    bench.pass(mins(9));
    assert!(!bench.alarm(Alarm::SlabImplausible));
    bench.wait_for(mins(5), "the dispute", |r| r.row.estimate.slab_implausible);
    bench.wait_for(mins(1), "the call", called);
    assert!(bench.alarm(Alarm::SlabImplausible) && !bench.report().outputs.alarm);
}

/// A valve, and cold pipes that ask for nothing.
fn antifreeze(raw: &mut RawSettings) {
    raw.boiler = BoilerKind::Injection;
    raw.pipe_on = c(-20.0);
    raw.pipe_off = c(-19.0);
}

#[test]
fn a_call_by_the_waters_word_lasts_75_minutes() {
    let mut bench = Bench::with(antifreeze);
    bench.read(5.0, 2.8, 4.5, -3.0);
    bench.wait_for(mins(40), "the call", called);
    assert_eq!(bench.report().row.cause.what, What::WaterSlab);
    assert_eq!(bench.report().row.cause.limit, c(3.5).to_bits());
    assert!(
        bench.alarm(Alarm::SlabImplausible),
        "two witnesses disagree"
    );
    // Heat comes, and the return jumps with it.
    bench.set(Sensor::Supply, 16.0);
    bench.set(Sensor::Return, 8.0);
    let ran = bench.wait_for(mins(80), "the end", uncalled);
    assert!(ran >= mins(74) && ran <= mins(75) + secs(20), "{ran:?}");
}

#[test]
fn water_a_kelvin_below_the_slab_calls_heat_but_from_12_degrees_on_only_in_frost() {
    for (slab, water, outdoor, calls) in [
        (4.5, 2.8, -3.0, true),
        (4.9, 3.7, -3.0, false), // half a kelvin above the end of a frost run and more
        (3.7, 2.8, -3.0, false), // too near the slab's own reading
        (11.8, 2.8, 0.5, true),
        (12.2, 2.8, 0.5, false),
        (12.2, 2.8, -0.5, true),
    ] {
        let mut bench = Bench::with(|raw| {
            antifreeze(raw);
            // As low as it goes, so that the slab's own thermostat asks for nothing.
            raw.backup_slab = Celsius::from_milli(1_900);
        });
        // The supply near the return, so that nothing is disputed.
        bench.read(water - 0.5, water, slab, outdoor);
        // A look in mild weather is by hand.
        bench.step();
        bench.command(Command::Pump(Switch::On));
        bench.pass(mins(30));
        let asked = bench.watch.calls > 0;
        let disputed = bench.report().row.estimate.slab_implausible;
        assert!(!disputed);
        assert_eq!(asked, calls, "{slab} {water}: {}", bench.words());
    }
}

#[test]
fn after_a_call_the_circulator_carries_the_heat_off() {
    let mut bench = heating(1.7, |_| {});
    bench.slab_to(4.8);
    bench.wait_for(mins(40), "the end", uncalled);
    assert!(bench.pump());
    bench.step();
    assert_eq!(bench.reason(), "post_run");
    let overrun = bench.wait_for(mins(20), "the overrun's end", |r| !r.outputs.circulator);
    assert!(overrun >= secs(280) && overrun <= secs(320), "{overrun:?}");
}

#[test]
fn a_fire_burns_its_shortest_time() {
    let mut bench = heating(1.7, |_| {});
    bench.slab_to(4.8);
    bench.pass(mins(10));
    assert!(bench.boiler() && bench.pump());
    assert_eq!(bench.reason(), "backup");
    bench.wait_for(mins(20), "the end", uncalled);
    assert_eq!(bench.watch.call_time, 30 * 60_000);
}

#[test]
fn where_there_is_no_boiler_none_is_called_or_missed() {
    let mut bench = cold(1.0, |raw| raw.boiler = BoilerKind::None);
    bench.always(hours(3), "no call", |r| {
        !r.outputs.boiler_call && !r.row.alarms.has(Alarm::HeatBarred)
    });
    assert_eq!(state(&bench), BoilerState::Idle);
}

#[test]
fn a_call_of_most_of_a_day_is_told() {
    let mut bench = heating(1.7, |_| {});
    bench.slab_to(2.5); // it answers
    bench.pass(hours(15));
    assert!(bench.boiler() && !bench.alarm(Alarm::LongBoilerDay));
    bench.pass(hours(2));
    assert!(bench.alarm(Alarm::LongBoilerDay) && !bench.report().outputs.alarm);
    bench.read(6.0, 6.0, 6.0, 5.0);
    bench.pass(hours(32)); // the rest of that day and a whole one
    assert!(!bench.alarm(Alarm::LongBoilerDay), "forgotten with the day");
}

#[test]
fn a_hand_calls_no_boiler_that_may_not_be_called() {
    for (kind, lost) in [(BoilerKind::None, false), (BoilerKind::Injection, true)] {
        let mut bench = Bench::with(|raw| {
            raw.boiler = kind;
            raw.supply_limited = false;
        });
        bench.read(6.0, 5.0, 5.0, 5.0);
        bench.until(mins(31));
        if lost {
            bench.lose(Sensor::Supply);
            bench.pass(mins(1));
        }
        bench.command(Command::Boiler(Switch::On));
        bench.always(mins(29), "no call", uncalled);
        assert!(bench.pump(), "but circulation");
    }
}

#[test]
fn a_manual_call_needs_flow_and_yields_to_limits() {
    let mut bench = Bench::new();
    bench.read(6.0, 5.0, 5.0, 5.0);
    bench.until(mins(31));
    bench.command(Command::Boiler(Switch::On));
    bench.wait_for(mins(1), "circulation", |r| r.outputs.circulator);
    assert_eq!(bench.reason(), "manual");
    let waited = bench.wait_for(mins(20), "the call", called);
    assert!(waited >= mins(8) && waited <= mins(9), "{waited:?}");
    for supply in [20.0, 33.0, 41.0] {
        bench.set(Sensor::Supply, supply);
        bench.pass(mins(4));
    }
    assert!(!bench.boiler());
}
