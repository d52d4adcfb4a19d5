//! With sensors lost, the share of time in which heat is called.

use std::collections::VecDeque;

use controller_core::fallback::{self, CallOn};
use controller_core::sensor::{ReadFault, Sensor};
use controller_core::settings::{BoilerKind, RawSettings, Settings};
use controller_core::time::{Duration, Instant};
use proptest::prelude::*;

use crate::config;
use crate::support::{Bench, Plant, c, hours, mins, secs, settings};

/// Hundredths of time in which a row of the table lets the boiler be called with these settings, worked out from the
/// table and the settings alone.
fn allowed(lost: u8, settings: &Settings) -> u32 {
    let call = fallback::row(lost).call;
    let percent = match call.on {
        CallOn::Blind => (settings.blind_duty.as_secs() / 36).min(u32::from(call.duty_percent)),
        _ => u32::from(call.duty_percent),
    };
    let untested = call.needs_hard_limit && !settings.hard_limit_tested;
    // Ten minutes an hour are no fire.
    let too_little = settings.boiler == BoilerKind::Firing && percent < 20;
    if untested || too_little { 0 } else { percent }
}

/// A window over which a share must hold: whole cycles of call and rest, an hour or more.
fn window(percent: u32, settings: &Settings) -> Duration {
    let call = match settings.boiler {
        BoilerKind::Injection => settings
            .injection_period
            .share(percent, 100)
            .max(settings.injection_min_on),
        BoilerKind::Firing | BoilerKind::None => settings.firing_min_on,
    };
    let cycle = call.share(100, percent);
    cycle.times(hours(1).as_millis().div_ceil(cycle.as_millis()))
}

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

/// A house that asks for heat whatever is lost: a slab that stays cold, bitter outdoors, a poor store.
#[derive(Clone, Debug)]
struct House {
    lost: u8,
    slab: f64,
    store: f64,
    outdoor: f64,
    boiler_w: f64,
}

impl House {
    fn bench(&self, settings: Settings) -> Bench {
        let mut bench = Bench::booted(settings, controller_core::restart::Restart::ORDINARY);
        bench.plant = Some(Plant {
            slab: self.slab,
            store: self.store,
            outdoor: self.outdoor,
            boiler_w: self.boiler_w,
            around: self.slab,
            capacity: 1e12,
            ..Plant::default()
        });
        for (bit, sensor) in Sensor::ALL.into_iter().enumerate() {
            if self.lost >> bit & 1 == 1 {
                bench.fail(sensor, ReadFault::Absent);
            }
        }
        bench
    }

    /// Lives for so long; gives the share asked for, and the hundredths of time called while the row was in force.
    fn called(&self, settings: &Settings, time: Duration) -> (u32, f64) {
        let percent = allowed(self.lost, settings);
        let cycle = settings.sensor_cycle;
        let mut bench = self.bench(settings.clone());
        // The row is in force when the sensors are given up; a call from before it ends by itself.
        bench.until(mins(20));
        let window = window(percent.max(1), settings);
        let mut sliding = Sliding::new(window);
        // A call may begin, and end, a step late.
        let calls = window.as_millis() / settings.boiler_min_on().as_millis() + 1;
        let slack = cycle.times(calls + 1);
        let most = window.share(percent, 100) + slack;
        let (begun, before) = (bench.time(), bench.watch.call_time);
        while bench.time() < time {
            let report = bench.step();
            let (now, call) = (report.row.now, report.outputs.boiler_call);
            assert_eq!(report.row.lost, self.lost, "{self:?}");
            let called = sliding.step(now, call);
            if percent < 100 {
                assert!(
                    called <= most,
                    "{self:?}: called {} s of {} s, {percent} % allowed",
                    called.as_secs(),
                    window.as_secs()
                );
            }
        }
        let called = (bench.watch.call_time - before) as f64 / 10.0;
        (
            percent,
            called / f64::from((bench.time().as_millis() - begun.as_millis()) / 1_000),
        )
    }
}

fn house() -> impl Strategy<Value = House> {
    (0_u8..16, 0.8..2.1, 3.0..5.5, -18.0..-8.0, 2_000.0..9_000.0).prop_map(
        |(lost, slab, store, outdoor, boiler_w)| House {
            lost,
            slab,
            store,
            outdoor,
            boiler_w,
        },
    )
}

fn duties() -> impl Strategy<Value = Settings> {
    let boiler = prop_oneof![Just(BoilerKind::Firing), Just(BoilerKind::Injection)];
    (
        boiler,
        15_u32..=60,
        2_u32..=15,
        10_u32..=60,
        0_u32..=10,
        any::<bool>(),
        1_u32..=20,
    )
        .prop_map(|(boiler, fire, inject, period, blind, tested, cycle)| {
            settings(|raw: &mut RawSettings| {
                raw.boiler = boiler;
                raw.firing_min_on = mins(fire);
                raw.firing_min_off = mins(15);
                raw.injection_min_on = mins(inject);
                raw.injection_min_off = mins(2);
                raw.injection_period = mins(period);
                raw.hard_limit_tested = tested;
                raw.blind_duty = mins(if tested { blind } else { 0 });
                raw.sensor_cycle = secs(cycle);
            })
        })
}

proptest! {
    #![proptest_config(config(60))]

    /// With sensors lost heat is called for no more than the row's share of any hour, or of the whole cycles of call and
    /// rest that an hour takes; not at all where the row allows none.
    #[test]
    fn no_row_calls_for_more_than_its_share_of_any_hour(house in house(), settings in duties()) {
        house.called(&settings, hours(8));
    }
}

/// The rows that allow heat do call, or the property above would hold of a boiler that never burns.
#[test]
fn every_row_that_may_call_does() {
    for boiler in [BoilerKind::Firing, BoilerKind::Injection] {
        for lost in 0..16 {
            let settings = settings(|raw| {
                raw.boiler = boiler;
                raw.hard_limit_tested = true;
                raw.blind_duty = mins(10);
                // Antifreeze: else cold pipes start the circulator before the slab's water can be looked at after a rest.
                raw.pipe_on = c(-20.0);
                raw.pipe_off = c(-19.0);
            });
            let house = House {
                lost,
                slab: 1.6,
                store: 3.5,
                outdoor: -12.0,
                boiler_w: 4_000.0,
            };
            let (percent, called) = house.called(&settings, hours(10));
            if percent == 0 {
                assert_eq!(called, 0.0, "{boiler:?} {lost:04b}");
            } else {
                assert!(
                    called > 5.0,
                    "{boiler:?} {lost:04b}: {called} % of {percent} %"
                );
            }
        }
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
