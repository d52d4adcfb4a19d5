//! One sensor that says something else than the truth, within its range, while the others are right.

use controller_core::restart::Restart;
use controller_core::sensor::Sensor;
use controller_core::settings::BoilerKind;
use controller_core::time::Duration;
use proptest::prelude::*;

use crate::config;
use crate::support::{Bench, Plant, c, hours, k, mins, settings};

/// A freezing slab over a store that can warm it, in a house whose circulator works.
fn freezing(store: f64, outdoor: f64, boiler: BoilerKind) -> Bench {
    let settings = settings(|raw| raw.boiler = boiler);
    let mut bench = Bench::booted(settings, Restart::ORDINARY);
    bench.plant = Some(Plant {
        slab: 1.9,
        store,
        outdoor,
        around: 5.0,
        capacity: 1e12,
        ..Plant::default()
    });
    bench
}

/// What the liar may say, °C: its whole range, and near the truth more often.
fn lie() -> impl Strategy<Value = f64> {
    prop_oneof![2 => -15.0..50.0, 1 => 0.0..10.0, 1 => 30.0..90.0]
}

proptest! {
    #![proptest_config(config(100))]

    /// Whatever one sensor says, the circulator runs at least half of every hour: from the first half hour on, or, where the
    /// slab's own reading lies warm and nobody looks, from the first look on.
    #[test]
    fn one_liar_stops_no_frost_protection(
        which in 0_usize..4,
        lie in lie(),
        wobble in 0.0_f64..0.3,
        drift_an_hour in prop_oneof![2 => Just(0.0), 1 => -8.0_f64..8.0],
        honest_for in 0_u32..120,
        store in 4.5_f64..9.0,
        outdoor in -12.0_f64..-1.0,
        fire in any::<bool>(),
    ) {
        let sensor = Sensor::ALL[which];
        // A fire would warm this slab, which never warms; with its own reading lying nobody could know that.
        let boiler = if fire && sensor != Sensor::Slab { BoilerKind::Firing } else { BoilerKind::None };
        let mut bench = freezing(store, outdoor, boiler);
        bench.until(mins(honest_for));
        let (began, mut steps) = (bench.time(), 0_u32);
        let from = if sensor == Sensor::Slab { hours(4) + mins(30) } else { mins(30) };
        let (mut hour, mut ran) = (from, 0);
        while bench.time().saturating_sub(began) < hours(9) {
            // Readings that never change would be found out.
            let phase = f64::from(steps % 13) / 13.0 - 0.5;
            // A supply that reads hot and falls as fast as water at rest cools cannot be told from such water.
            let drift = if sensor == Sensor::Supply { drift_an_hour.max(-3.0) } else { drift_an_hour };
            let passed = f64::from(bench.time().saturating_sub(began).as_secs()) / 3_600.0;
            bench.lie(sensor, lie + drift * passed + wobble * phase);
            steps += 1;
            bench.step();
            let since = bench.time().saturating_sub(began);
            if since >= hour {
                let passed = bench.watch.pump_time - ran;
                if hour > from {
                    prop_assert!(passed >= 30 * 60_000, "{} min until {since:?}: {}", passed / 60_000, bench.words());
                }
                ran = bench.watch.pump_time;
                hour = hour + hours(1);
            }
        }
    }

    /// A supply that reads low in a call is found out by the return: the call ends ten minutes after the return has passed it
    /// by two kelvin, and stays ended.
    #[test]
    fn a_supply_that_lies_low_keeps_no_call(
        said in 1.0_f64..6.0,
        power in 9_000.0_f64..20_000.0,
    ) {
        let mut bench = freezing(6.0, -8.0, BoilerKind::Firing);
        if let Some(plant) = &mut bench.plant {
            plant.slab = 1.6;
            plant.boiler_w = power;
        }
        bench.wait_for(hours(2), "a call", |r| r.outputs.boiler_call);
        bench.pass(mins(2));
        let mut passed: Option<Duration> = None;
        let mut steps = 0_u32;
        while bench.boiler() {
            let phase = f64::from(steps % 13) / 130.0;
            bench.lie(Sensor::Supply, said + phase);
            steps += 1;
            bench.step();
            let ret = bench.samples.ret.value().expect("the return is right");
            if ret > c(said + 0.1) + k(2.0) {
                passed = passed.or(Some(bench.time()));
            }
            if let Some(at) = passed {
                let on = bench.time().saturating_sub(at);
                prop_assert!(on <= mins(13), "called for {on:?} more: {}", bench.words());
            }
            prop_assert!(bench.time() < hours(6), "{}", bench.words());
        }
    }
}
