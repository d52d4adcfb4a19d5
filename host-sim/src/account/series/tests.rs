//! Bounds hold, extremes stay, days are split where they end.

use controller_core::reason::{Cause, Reason};
use controller_core::units::Celsius;
use jiff::civil::date;

use super::curve::{Curves, Value};
use super::*;
use crate::account::metrics::sample::{row, row_at};

/// A repeatable scatter of numbers below `limit` (Knuth's multiplier, TAOCP 3.3.4).
struct Scatter(u64);

impl Scatter {
    fn next(&mut self, limit: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % limit
    }
}

fn recorder(start: Option<DateTime>) -> Recorder {
    Recorder::new(RecorderOptions::from_settings(&Settings::default(), start))
}

#[test]
fn merging_keeps_every_extreme_in_its_place() {
    let mut scatter = Scatter(1);
    let mut curves = Curves::new(64, None);
    let mut naive = Vec::new();
    let mut time = 0;
    for _ in 0..5_000 {
        let value = scatter.next(60_000) as i32 - 30_000;
        let dt = 1_000 + scatter.next(20_000);
        naive.push((time, value));
        let mut values = [Value::number(None); 8];
        values[0] = Value::point(Some(Celsius::from_bits(value)));
        curves.push(time, time + dt, &values);
        time += dt;
    }
    let curve = curves.finish().swap_remove(0);
    let points: Vec<Option<f64>> = curve.points_c().collect();
    assert!(
        points.len() <= 2 * 64 && points.len() > 64,
        "{}",
        points.len()
    );
    // Against the plain list: in every bin the extremes of what started in it or stood into it, in order.
    for (place, pair) in points.chunks(2).enumerate() {
        let from = place as u64 * curve.bin_ms;
        let to = from + curve.bin_ms;
        let inside = |i: usize| {
            let (start, _) = naive[i];
            let end = naive.get(i + 1).map_or(time, |next| next.0);
            start < to && end > from
        };
        let values: Vec<i32> = (0..naive.len())
            .filter(|i| inside(*i))
            .map(|i| naive[i].1)
            .collect();
        let (low, high) = (values.iter().min(), values.iter().max());
        let (Some(low), Some(high)) = (low, high) else {
            panic!("no gaps in this log")
        };
        let first_low = values.iter().position(|v| v == low);
        let first_high = values.iter().position(|v| v == high);
        let expected = if first_low <= first_high {
            [low, high]
        } else {
            [high, low]
        };
        let found: Vec<i32> = pair
            .iter()
            .flatten()
            .map(|c| (c * 65_536.0).round() as i32)
            .collect();
        assert_eq!(found.iter().collect::<Vec<_>>(), expected, "bin {place}");
    }
}

#[test]
fn a_gap_in_the_log_is_a_gap_in_the_curve() {
    let mut recorder = recorder(None);
    recorder.push(&row_at(0), 60_000, &Extra::default());
    recorder.push(&row_at(10), 60_000, &Extra::default());
    let series = recorder.finish();
    let curve = series.curve(CurveName::Slab).expect("the slab is read");
    let known = curve.points_c().filter(Option::is_some).count();
    assert_eq!(known, 2 * 120, "two minutes in bins of a second");
    assert!(series.curve(CurveName::Air).is_none());
}

#[test]
fn memory_stays_flat_however_long_the_log() {
    let options = RecorderOptions {
        bins: 100,
        spans: 50,
        ..RecorderOptions::from_settings(&Settings::default(), None)
    };
    let mut recorder = Recorder::new(options);
    let mut scatter = Scatter(2);
    for n in 0..20_000_u64 {
        let mut row = row_at(n);
        row.outputs.circulator = scatter.next(2) == 0;
        row.reason = Reason::ALL[scatter.next(Reason::ALL.len() as u64) as usize];
        recorder.push(&row, 60_000, &Extra::default());
        assert!(recorder.reasons.list().len() <= 50 && recorder.circulator.list().len() <= 50);
    }
    let series = recorder.finish();
    let slab = series.curve(CurveName::Slab).expect("read");
    assert!(slab.points_c().count() <= 200);
    assert!(series.reasons.merged().count > 0);
    // Nothing is lost from the time axis, and the day's hours are not touched by merging.
    let covered: u64 = series.reasons.list().iter().map(Span::length_ms).sum();
    assert_eq!(covered, 20_000 * 60_000);
    let by_day: u64 = series.days().iter().flat_map(|day| day.reason_ms).sum();
    assert_eq!(by_day, 20_000 * 60_000);
}

#[test]
fn the_shortest_stretches_are_given_up_first() {
    let mut spans = Spans::new(8);
    let lengths = [50, 1, 60, 2, 70, 80, 90, 100, 110];
    let mut at = 0;
    for (n, length) in lengths.into_iter().enumerate() {
        spans.push(at, at + length, n % 2 == 0);
        at += length;
    }
    assert_eq!(
        spans.merged(),
        Merged {
            count: 2,
            longest_ms: 2
        }
    );
    let told: Vec<(u64, bool)> = spans
        .list()
        .iter()
        .map(|s| (s.length_ms(), s.kind))
        .collect();
    // 50, 1, 60, 2 and 70 fuse: all "on" but for the two given up.
    assert_eq!(
        told,
        [
            (183, true),
            (80, false),
            (90, true),
            (100, false),
            (110, true)
        ]
    );
}

#[test]
fn stretches_apart_stay_apart() {
    let mut spans = Spans::new(4);
    for n in 0..12_u64 {
        spans.push(n * 10, n * 10 + 1 + n / 6, true);
    }
    assert!(spans.list().len() <= 4);
    assert!(spans.merged().count >= 8);
}

#[test]
fn a_stretch_keeps_the_cause_that_began_it() {
    let mut recorder = recorder(None);
    let mut first = row_at(0);
    first.cause = Cause::time(
        controller_core::reason::What::Rest,
        Duration::from_mins(40),
        Duration::ZERO,
    );
    let mut second = row_at(1);
    second.reason = first.reason;
    second.cause = Cause::NONE;
    recorder.push(&first, 60_000, &Extra::default());
    recorder.push(&second, 60_000, &Extra::default());
    let series = recorder.finish();
    assert_eq!(series.reasons.list().len(), 1);
    assert_eq!(series.reasons.list()[0].kind.cause, first.cause);
}

#[test]
fn days_end_at_midnight_and_split_what_stands_across() {
    let start = Some(date(2025, 1, 14).at(22, 0, 0, 0));
    let mut recorder = recorder(start);
    let mut row = row();
    row.outputs.circulator = true;
    row.reason = Reason::StoreHeat;
    row.estimate.earth_wh = 400;
    // Thirty hours: two to midnight, a day, four more.
    recorder.push(&row, 30 * 3_600_000, &Extra::default());
    let series = recorder.finish();
    let hours: Vec<u64> = series
        .days()
        .iter()
        .map(|d| d.covered_ms / 3_600_000)
        .collect();
    assert_eq!(hours, [2, 24, 4]);
    let starts: Vec<u32> = series.days().iter().map(|d| d.starts).collect();
    assert_eq!(starts, [1, 0, 0]);
    assert_eq!(series.days()[0].earth_kwh(), 0.4);
    // 24 h at the demo's 45 W.
    assert!((series.days()[1].pump_kwh() - 1.08).abs() < 1e-9);
    assert_eq!(
        series.days()[1].reason_ms[Reason::StoreHeat as usize],
        24 * 3_600_000
    );
    assert_eq!(series.days()[1].outdoor_mean_c(), Some(-3.0));
    assert_eq!(series.days()[1].slab_min_c(), Some(4.0));
}

#[test]
fn hours_colder_than_a_temperature() {
    let mut hours = SlabHours::new(Celsius::from_milli(1_500));
    for (milli, ms) in [(-50, 3_600_000), (150, 7_200_000), (99_000, 3_600_000)] {
        hours.push(Celsius::from_milli(milli), ms);
    }
    let curve = hours.hours_colder();
    let at = |t: f64| curve.iter().find(|p| (p.0 - t).abs() < 1e-9).map(|p| p.1);
    assert_eq!(curve.first(), Some(&(-0.1, 0.0)));
    assert_eq!(at(0.0), Some(1.0));
    assert_eq!(at(0.1), Some(1.0));
    assert_eq!(at(0.2), Some(3.0));
    assert_eq!(curve.last(), Some(&(60.0, 4.0)));
}
