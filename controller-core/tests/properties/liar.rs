//! One sensor that says something else than the truth, within its range, while the others are right.

use controller_core::restart::Restart;
use controller_core::sensor::Sensor;
use controller_core::settings::BoilerKind;
use controller_core::time::Duration;
use proptest::prelude::*;

use crate::config;
use crate::support::{Bench, Plant, as_f64, hours, mins, settings};

/// What the liar says: a value with a little noise, from a time on, drifting.
#[derive(Clone, Copy, Debug)]
struct Lie {
    sensor: Sensor,
    honest_for: Duration,
    value: f64,
    wobble: f64,
    drift_an_hour: f64,
}

impl Lie {
    /// One step of the house, with the lie told if it is time.
    fn step(&self, bench: &mut Bench) {
        let since = bench.time().saturating_sub(self.honest_for);
        if since > Duration::ZERO {
            // Readings that never change would be found out.
            let phase = f64::from(bench.time().as_secs() / 10 % 13) / 13.0 - 0.5;
            let passed = f64::from(since.as_secs()) / 3_600.0;
            let said = self.value + self.drift_an_hour * passed + self.wobble * phase;
            bench.lie(self.sensor, said);
        }
        bench.step();
    }
}

fn lie() -> impl Strategy<Value = Lie> {
    // The whole range, and near the truth more often.
    let value = prop_oneof![2 => -15.0..50.0, 1 => 0.0..10.0, 1 => 30.0..90.0];
    let drift = prop_oneof![2 => Just(0.0), 1 => -8.0_f64..8.0];
    (0_usize..4, 0_u32..120, value, 0.0_f64..0.3, drift).prop_map(
        |(which, honest_for, value, wobble, drift_an_hour)| Lie {
            sensor: Sensor::ALL[which],
            honest_for: mins(honest_for),
            value,
            wobble,
            drift_an_hour,
        },
    )
}

fn house(boiler: BoilerKind, plant: Plant) -> Bench {
    let mut bench = Bench::booted(settings(|raw| raw.boiler = boiler), Restart::ORDINARY);
    bench.plant = Some(plant);
    bench
}

proptest! {
    #![proptest_config(config(100))]

    /// Whatever one sensor says of a slab that stays cold over a store that can warm it, the circulator runs at least
    /// half of every hour: from the first half hour on, or, where the slab's own reading lies, from the first look on.
    #[test]
    fn one_liar_stops_no_circulation_in_frost(
        lie in lie(),
        store in 4.5_f64..9.0,
        outdoor in -12.0_f64..-1.0,
    ) {
        // The water leaves a slab warmer than it is, by 0.31 of the way to the store.
        let by_water = lie.sensor == Sensor::Slab;
        let mut bench = house(BoilerKind::None, Plant {
            slab: if by_water { 0.5 } else { 1.9 },
            store,
            outdoor,
            around: 5.0,
            capacity: 1e12,
            ..Plant::default()
        });
        let from = if by_water { mins(125) } else { mins(30) };
        let (mut hour, mut ran) = (lie.honest_for + from, None);
        while bench.time() < lie.honest_for + hours(9) {
            lie.step(&mut bench);
            if bench.time() >= hour {
                let before = ran.replace(bench.watch.pump_time);
                let passed = before.map_or(hours(1).as_millis().into(), |ran| bench.watch.pump_time - ran);
                prop_assert!(passed >= 30 * 60_000, "{} min: {}", passed / 60_000, bench.words());
                hour = hour + hours(1);
            }
        }
    }

    /// Whatever one sensor says, a slab that its store cannot hold gets its calls: it is not without one for long while
    /// it is really cold, and it does not freeze. A slab's sensor that reads 8 °C and more is not overruled by its water,
    /// so it is left out.
    #[test]
    fn one_liar_bars_no_heat_from_a_slab_that_needs_it(
        lie in lie(),
        outdoor in -12.0_f64..-8.0,
        boiler in prop_oneof![Just(BoilerKind::Firing), Just(BoilerKind::Injection)],
    ) {
        let mut lie = lie;
        if lie.sensor == Sensor::Slab {
            (lie.value, lie.drift_an_hour) = (lie.value.min(7.5), 0.0);
        }
        let mut bench = house(boiler, Plant {
            slab: 2.6,
            store: 4.5,
            outdoor,
            around: 4.0,
            ..Plant::default()
        });
        let (mut last_call, mut coldest) = (Duration::ZERO, f64::MAX);
        while bench.time() < hours(36) {
            lie.step(&mut bench);
            let slab = bench.plant.as_ref().map_or(0.0, |plant| plant.slab);
            coldest = coldest.min(slab);
            if bench.boiler() || slab > 1.8 {
                last_call = bench.time();
            }
            let without = bench.time().saturating_sub(last_call);
            prop_assert!(
                without <= hours(4),
                "{without:?} without a call at {slab}, outdoors {outdoor}: {}",
                bench.words()
            );
        }
        prop_assert!(coldest > 0.5, "{coldest}: {}", bench.words());
    }

    /// A supply that reads low in a call keeps the limit from being seen; what it cannot do is to make heat of none, nor
    /// to bar it: the call goes on as the return shows it, and ends with a warm slab.
    #[test]
    fn a_supply_that_lies_low_bars_no_call_and_ends_with_the_slab(
        said in 1.0_f64..6.0,
        power in 4_000.0_f64..9_000.0,
    ) {
        let mut bench = house(BoilerKind::Firing, Plant {
            slab: 1.6,
            store: 6.0,
            outdoor: -8.0,
            around: 5.0,
            boiler_w: power,
            ..Plant::default()
        });
        bench.wait_for(hours(2), "a call", |r| r.outputs.boiler_call);
        let lie = Lie {
            sensor: Sensor::Supply,
            honest_for: Duration::ZERO,
            value: said,
            wobble: 0.1,
            drift_an_hour: 0.0,
        };
        while bench.boiler() {
            lie.step(&mut bench);
            prop_assert!(bench.time() < hours(12), "{}", bench.words());
        }
        let slab = bench.samples.slab.value().map_or(0.0, as_f64);
        prop_assert!((3.3..6.0).contains(&slab), "{slab}: {}", bench.words());
    }
}
