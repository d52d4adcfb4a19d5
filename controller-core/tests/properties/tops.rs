//! Counters at their tops: whatever is counted for months stops at the top and goes on meaning "many".

use controller_core::FlowProof;
use controller_core::alarm::Alarm;
use controller_core::guard::{
    BoilerRequest, BootDelays, Guard, PumpRequest, Request, Stop, Urgency,
};
use controller_core::restart::BootHistory;
use controller_core::sensor::{
    Cycle, Excitation, ReadFault, Reading, Sample, Sensor, SensorCheck, Trust, Verdict,
};
use controller_core::settings::Settings;
use controller_core::time::{Duration, Instant};
use proptest::prelude::*;

use crate::config;
use crate::support::{Bench, Plant, c, hours, mins, secs, settings};

const CYCLE: Duration = Duration::from_secs(10);

/// Reads of one kind, so many times, then a good one again and again: what is trusted from there on.
fn recovery(sensor: Sensor, bad: &[Sample], times: u32) -> Vec<(Trust, bool)> {
    let settings = Settings::default();
    let mut check = SensorCheck::new(sensor);
    let mut read = |sample| read(&mut check, sample, &settings);
    for _ in 0..30 {
        read(Sample::Framed(c(5.0)));
    }
    for n in 0..times {
        read(bad[n as usize % bad.len()]);
    }
    (0..150)
        .map(|n| {
            let moving = if n % 2 == 0 { 5.0 } else { 5.0625 };
            let reading = read(Sample::Framed(c(moving)));
            (reading.trust, reading.value.is_some())
        })
        .collect()
}

/// Just below, at and above the tops of 8 and 16 bits.
const TOPS: [u32; 8] = [254, 255, 256, 257, 258, 65_534, 65_536, 65_538];

proptest! {
    #![proptest_config(config(300))]

    /// The starts of an hour are counted right however many there are: economy starts again exactly when fewer than the
    /// number allowed are left in the hour.
    #[test]
    fn starts_beyond_the_ring_are_counted_as_many(
        gaps in prop::collection::vec((30_u32..300, 10_u32..300), 1..60),
        cap in 2_u8..=8,
    ) {
        let settings = settings(|raw| {
            raw.pump_starts = cap;
            raw.pump_min_off = mins(3);
            raw.frost_min_off = secs(30);
        });
        let none = Duration::ZERO;
        let delays = BootDelays { pump: none, frost: none, boiler: none };
        let mut now = Instant::from_millis(1 << 33);
        let mut guard = Guard::new(now, delays, false);
        let mut ask = |now, pump| {
            let request = Request { pump, boiler: BoilerRequest::Release, heat_proven: false };
            guard.apply(now, request, &settings)
        };
        let mut starts = Vec::new();
        let recent = |starts: &[Instant], now: Instant| {
            starts.iter().filter(|at| now.since(**at) < hours(1)).count()
        };
        for (rest, run) in gaps {
            now = now + secs(rest);
            let status = ask(now, PumpRequest::Run(Urgency::Frost));
            prop_assert!(status.pump, "frost is never refused by the number of starts");
            starts.push(now);
            prop_assert_eq!(usize::from(status.starts_last_hour), recent(&starts, now).min(8));
            now = now + secs(run);
            prop_assert!(!ask(now, PumpRequest::Rest(Stop::Early)).pump);
        }
        now = now + mins(3);
        let asked = now;
        loop {
            let status = ask(now, PumpRequest::Run(Urgency::Normal));
            let room = recent(&starts, now) < usize::from(cap);
            prop_assert_eq!(status.pump, room, "{} starts in the hour", recent(&starts, now));
            if status.pump {
                break;
            }
            now = now + secs(7);
            prop_assert!(now.since(asked) <= hours(1));
        }
    }

    /// Boots are counted in powered time as a list of them says, up to the top of the counter of seconds (136 years) and
    /// however many come.
    #[test]
    fn boots_are_counted_up_to_the_top(
        begin in prop_oneof![Just(0_u32), Just(u32::MAX - 40_000), any::<u32>()],
        apart in prop::collection::vec(prop_oneof![3 => 0_u32..900, 1 => 0_u32..30_000], 1..120),
    ) {
        let mut history = BootHistory::default();
        let mut boots = Vec::new();
        let mut powered = begin;
        for by in apart {
            // The last second is kept free: at the very top the counter stands still.
            powered = powered.saturating_add(by).min(u32::MAX - 1);
            boots.push(powered);
            let recent = boots.iter().filter(|at| powered - **at < 3_600).count();
            prop_assert_eq!(usize::from(history.boot(powered)), recent.min(8));
        }
    }
}

/// A fault that lasts for a week or so, with its counters at their tops, is got over as one that lasted an hour.
#[test]
fn however_long_a_fault_lasts_coming_back_is_the_same() {
    let value = |n| Sample::Value(c(n));
    let faults: [&[Sample]; 6] = [
        &[Sample::Failed(ReadFault::Absent)],
        &[Sample::Failed(ReadFault::Checksum)],
        &[Sample::Failed(ReadFault::PowerOn)],
        &[Sample::Failed(ReadFault::Missing)],
        &[Sample::Failed(ReadFault::Impossible)],
        &[value(-50.0), value(120.0)],
    ];
    for sensor in Sensor::ALL {
        for bad in faults {
            let once = recovery(sensor, bad, 360);
            assert!(once[0].0 == Trust::Bad, "{sensor:?} {bad:?}");
            assert!(once[149].0 == Trust::Good, "{sensor:?} {bad:?}");
            for times in TOPS {
                let times = times / bad.len() as u32 * bad.len() as u32;
                assert_eq!(
                    recovery(sensor, bad, times.max(254)),
                    once,
                    "{bad:?} {times}"
                );
            }
        }
    }
}

/// Reads that go to and fro for a week are noisy from beginning to end.
#[test]
fn noise_for_a_week_is_noise() {
    let settings = Settings::default();
    let mut check = SensorCheck::new(Sensor::Outdoor);
    let mut noisy = Vec::new();
    for n in 0..66_000_u32 {
        let t = if n % 2 == 0 { -3.0 } else { 3.0 };
        let reading = read(&mut check, Sample::Framed(c(t)), &settings);
        noisy.push(reading.noisy);
    }
    assert!(noisy.iter().skip(100).all(|noisy| *noisy));
}

/// A fire that is out for weeks: every try is made, the count of failures stands at its top, and it rings.
#[test]
fn three_hundred_failed_calls_are_still_failed_calls() {
    let mut bench = Bench::with(|raw| raw.sensor_cycle = secs(20));
    bench.plant = Some(Plant {
        slab: 1.6,
        store: 5.0,
        boiler_w: 0.0,
        capacity: 1e12,
        ..Plant::default()
    });
    bench.wait_for(hours(2), "a failed call", |r| {
        r.row.summary.failed_calls == 1
    });
    bench.wait_for(hours(24 * 31), "the top", |r| {
        r.row.summary.failed_calls == 255
    });
    let (calls, from) = (bench.watch.calls, bench.time());
    bench.always(hours(48), "the top stands and it rings", |r| {
        r.row.summary.failed_calls == 255 && r.row.alarms.has(Alarm::FireOut)
    });
    let tries = bench.watch.calls - calls;
    let passed = bench.time().saturating_sub(from).as_secs() / 3_600;
    // A call of 20 min, then a wait of 80.
    assert!((28..=30).contains(&tries), "{tries} calls in {passed} h");
}

/// A circulator that moves nothing for a week: tried by the same clock to the end, and it rings.
#[test]
fn three_hundred_runs_without_flow_are_still_without_flow() {
    let mut bench = Bench::with(|raw| raw.sensor_cycle = secs(20));
    bench.stirred = false;
    bench.read(6.0, 6.0, 1.9, -3.0);
    let absent = |n| {
        move |r: &controller_core::StepReport| r.row.estimate.flow_proof == FlowProof::Absent(n)
    };
    bench.wait_for(hours(2), "two runs without flow", absent(2));
    bench.wait_for(hours(24 * 7), "the top", absent(255));
    let (starts, ran) = (bench.watch.starts, bench.watch.pump_time);
    bench.always(hours(26), "the top stands and it rings", |r| {
        absent(255)(r) && r.row.alarms.has(Alarm::NoFlow)
    });
    let (starts, ran) = (
        bench.watch.starts - starts,
        (bench.watch.pump_time - ran) / 60_000,
    );
    // 16 min of every 26.
    assert!((57..=62).contains(&starts), "{starts} tries in 26 h");
    assert!((900..=1_000).contains(&ran), "{ran} min in 26 h");
}

/// Two months in which nothing happens: every clock that stands for "that or longer" is at its top of 49.7 days, and
/// the next frost, the next call and the next exercise come as ever.
#[test]
fn after_two_months_every_clock_at_its_top_means_long_ago() {
    let mut bench = Bench::with(|raw| raw.sensor_cycle = secs(20));
    bench.read(5.0, 5.0, 8.0, 8.0);
    let two_months = 61 * 86_400_000;
    let mut steps = 0_u32;
    while bench.now.as_millis() - bench.origin.as_millis() < two_months {
        let moved = f64::from(steps % 7) / 16.0;
        bench.read(
            5.0 + moved,
            5.0 - moved / 2.0,
            8.0 + moved / 8.0,
            8.0 + moved,
        );
        // As late as a caller may be without a word.
        bench.step_late(secs(5));
        steps += 1;
    }
    assert_eq!(bench.now.since(bench.origin), Duration::MAX);
    // Exercised once a week all the while.
    assert!(
        (8..=9).contains(&bench.watch.starts),
        "{}",
        bench.watch.starts
    );
    let began = bench.now;
    bench.read(5.0, 4.6, 8.0, -3.0);
    let mut slab = 8.0;
    while !bench.pump() {
        slab -= 0.1;
        bench.set(Sensor::Slab, f64::max(slab, 1.5));
        bench.step();
        assert!(bench.now.since(began) < mins(60), "{}", bench.words());
    }
    while !bench.boiler() {
        slab -= 0.1;
        bench.set(Sensor::Slab, f64::max(slab, 1.5));
        bench.step();
        assert!(bench.now.since(began) < hours(3), "{}", bench.words());
    }
}

/// What a sensor makes of a sample in a quiet cycle with nothing said against it.
fn read(check: &mut SensorCheck, sample: Sample, settings: &Settings) -> Reading {
    let cycle = Cycle {
        step: CYCLE,
        excitation: Excitation::Quiet,
        verdict: Verdict::Fine,
        water: None,
        settings,
    };
    let mut reading = Reading::default();
    check.update(sample, &cycle, &mut reading);
    reading
}
