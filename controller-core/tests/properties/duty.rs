//! What a limit halves takes half of any hour, and gets it.

use std::collections::VecDeque;

use controller_core::restart::Restart;
use controller_core::sensor::Sensor;
use controller_core::settings::{BoilerKind, RawSettings, Settings};
use controller_core::time::{Duration, Instant};
use proptest::prelude::*;

use crate::config;
use crate::support::{Bench, hours, mins, secs, settings};

/// Call time in a window that slides along.
struct Sliding {
    window: Duration,
    /// Steps in the window with the call as it was until the next.
    steps: VecDeque<(Instant, bool)>,
    /// Call time in the window, ms.
    called: u64,
}

impl Sliding {
    fn new(window: Duration) -> Self {
        Self {
            window,
            steps: VecDeque::new(),
            called: 0,
        }
    }

    /// One more step; gives the call time in the window that ends with it.
    fn step(&mut self, now: Instant, call: bool) -> Duration {
        if let Some((before, true)) = self.steps.back() {
            self.called += u64::from(now.since(*before).as_millis());
        }
        self.steps.push_back((now, call));
        while let (Some((at, called)), Some((next, _))) = (self.steps.front(), self.steps.get(1))
            && now.since(*at) > self.window
        {
            if *called {
                self.called -= u64::from(next.since(*at).as_millis());
            }
            self.steps.pop_front();
        }
        Duration::from_millis(u32::try_from(self.called).expect("hours"))
    }
}

/// What halves the calls.
#[derive(Clone, Copy, Debug)]
enum Halved {
    /// A slab in an emergency, and a supply at its limit that the return confirms.
    HotSupply,
    /// Three sensors lost in cold weather.
    Blind,
}

fn bench(halved: Halved, slab: f64, outdoor: f64, settings: Settings) -> Bench {
    let mut bench = Bench::booted(settings, Restart::ORDINARY);
    bench.read(6.0, 12.0, slab, outdoor);
    if let Halved::Blind = halved {
        for sensor in [Sensor::Supply, Sensor::Return, Sensor::Slab] {
            bench.lose(sensor);
        }
    }
    bench
}

fn boilers() -> impl Strategy<Value = Settings> {
    let boiler = prop_oneof![Just(BoilerKind::Firing), Just(BoilerKind::Injection)];
    // A blind call is released, not dropped: a fire's shortest call of more than half an hour would have its time.
    (boiler, 15_u32..=30, 15_u32..=30, 2_u32..=15, 1_u32..=20).prop_map(
        |(boiler, on, off, inject, cycle)| {
            settings(|raw: &mut RawSettings| {
                raw.boiler = boiler;
                raw.firing_min_on = mins(on);
                raw.firing_min_off = mins(off);
                raw.injection_min_on = mins(inject);
                raw.injection_min_off = mins(inject);
                raw.sensor_cycle = secs(cycle);
            })
        },
    )
}

proptest! {
    #![proptest_config(config(60))]

    /// A limit that halves takes half of any hour, give or take a cycle at each end, and the other half is called.
    #[test]
    fn a_halved_call_is_half_of_any_hour(
        hot in any::<bool>(),
        slab in 0.8_f64..1.75,
        outdoor in -18.0_f64..-4.5,
        supply in 41.0_f64..44.0,
        settings in boilers(),
    ) {
        let halved = if hot { Halved::HotSupply } else { Halved::Blind };
        let cycle = settings.sensor_cycle;
        let mut bench = bench(halved, slab, outdoor, settings);
        let mut sliding = Sliding::new(hours(1));
        let most = mins(30) + cycle.times(3);
        let mut begun = None;
        while bench.time() < hours(9) {
            if hot {
                // Hotter in a call, so that heat is seen; hot enough in between.
                let rise = if bench.watch.calls > 0 && bench.boiler() { 4.0 } else { 0.0 };
                bench.set(Sensor::Supply, supply + rise);
            }
            let report = bench.step();
            let (now, call) = (report.row.now, report.outputs.boiler_call);
            let called = sliding.step(now, call);
            prop_assert!(called <= most, "{halved:?}: {} s of an hour at {:?}, cycle {cycle:?}", called.as_secs(), bench.time());
            if bench.time() >= hours(3) {
                begun = begun.or(Some(bench.watch.call_time));
            }
        }
        let called = (bench.watch.call_time - begun.expect("three hours on")) / 60_000;
        prop_assert!(called >= 150, "{halved:?}: {called} min of six hours: {}", bench.words());
    }
}

/// The window's sum is right, or nothing above means anything.
#[test]
fn a_sliding_window_counts_what_is_in_it() {
    let mut sliding = Sliding::new(mins(10));
    let at = |n| Instant::from_millis(0) + mins(n);
    let called: Vec<u32> = (0..30)
        .map(|n| sliding.step(at(n), n % 15 < 5).as_secs() / 60)
        .collect();
    assert_eq!(called[..6], [0, 1, 2, 3, 4, 5]);
    assert_eq!(called[10], 5);
    assert_eq!(called[13], 2);
    assert_eq!(called[15..21], [0, 1, 2, 3, 4, 5]);
}
