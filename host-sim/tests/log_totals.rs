//! Totals of a replay against an independent integration of the same rows, whatever their times: jitter, any
//! rate, changing rates, newest first, gaps.
//!
//! The referee below reads log and trace with the csv crate and shares no code with the reader.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use controller_core::settings::Settings;
use host_sim::account::metrics::SummaryNumbers;
use host_sim::account::sinks::{RunSinks, TraceWriter};
use host_sim::files::log::{LogReader, ReaderOptions};
use host_sim::files::output::{OutputFile, OutputSet};
use host_sim::questions::replay::{reader_options, replay};
use host_sim::sim::cancel::Cancel;
use proptest::prelude::*;

/// A stretch of a log at one rate.
#[derive(Clone, Debug)]
struct Stretch {
    every_ms: i64,
    /// Largest part of the interval a row comes late by, 1/100.
    jitter: i64,
    rows: i64,
    /// Intervals without a row behind it.
    gap: i64,
}

fn stretches() -> impl Strategy<Value = Vec<Stretch>> {
    let rate = prop_oneof![
        Just(100),
        Just(500),
        Just(1_000),
        Just(7_000),
        Just(10_000),
        Just(15_000),
        Just(30_000),
        Just(60_000),
        Just(300_000),
        Just(3_600_000),
        100_i64..3_600_000
    ];
    let one = (
        rate,
        0_i64..45,
        3_i64..260,
        prop_oneof![Just(0_i64), 2_i64..40],
    );
    let one = one.prop_map(|(every_ms, jitter, rows, gap)| Stretch {
        every_ms,
        jitter,
        rows: rows.min(400_000_000 / every_ms).max(3),
        gap: gap.min(200_000_000 / every_ms),
    });
    prop::collection::vec(one, 1..4)
}

/// The rows' times, ms, and slab readings, 1/128 K: a slow wave about the target.
fn rows(stretches: &[Stretch], mut seed: u64) -> Vec<(i64, i64)> {
    let mut random = move || {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        i64::try_from(seed >> 40).unwrap_or(0)
    };
    let mut rows = Vec::new();
    let mut begin_ms = 0;
    for stretch in stretches {
        for index in 0..stretch.rows {
            let late_ms = stretch.every_ms * (random() % (stretch.jitter + 1)) / 100;
            let time_ms = begin_ms + index * stretch.every_ms + late_ms;
            let wave = (time_ms as f64 / 40_000_000.0).sin() * 260.0 + 192.0;
            rows.push((time_ms, wave.round() as i64));
        }
        begin_ms += (stretch.rows + stretch.gap) * stretch.every_ms;
    }
    rows
}

fn log_text(rows: &[(i64, i64)], newest_first: bool) -> String {
    let mut lines: Vec<String> = rows
        .iter()
        .map(|(time_ms, slab)| {
            format!(
                "{}.{:03},7.5,6,{:.7},-2.25\n",
                time_ms / 1_000,
                time_ms % 1_000,
                *slab as f64 / 128.0
            )
        })
        .collect();
    if newest_first {
        lines.reverse();
    }
    let mut text = String::from("time_s,supply_c,return_c,slab_c,outdoor_c\n");
    lines.iter().for_each(|line| text.push_str(line));
    text
}

/// What the referee makes of log and trace.
#[derive(Debug, Default)]
struct Referee {
    covered_ms: i64,
    gap_ms: i64,
    gaps: i64,
    longest_row_ms: i64,
    below_ms: i64,
    deficit_k_h: f64,
    circulator_ms: i64,
    reasons_ms: BTreeMap<String, i64>,
    alarms_ms: BTreeMap<String, i64>,
}

/// Stretches of time in which a row stands: until the next row, at most one and a half of the median of the latest 101
/// intervals, in the first rows of the first 101.
fn covered(times: &[i64]) -> Vec<(i64, i64)> {
    let intervals: Vec<i64> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let mut stands = Vec::new();
    for (index, interval) in intervals.iter().enumerate() {
        let window = if index < 101 {
            0..intervals.len().min(101)
        } else {
            index - 101..index
        };
        let mut latest = intervals[window].to_vec();
        latest.sort_unstable();
        let median = latest[(latest.len() - 1) / 2];
        stands.push((
            times[index],
            times[index] + (*interval).min(median + median / 2),
        ));
    }
    stands
}

fn referee(log: &str, trace: &str) -> Referee {
    let mut found = Referee::default();
    let mut rows: Vec<(i64, f64)> = Vec::new();
    for record in csv::Reader::from_reader(log.as_bytes()).records() {
        let record = record.expect("a row");
        let number = |field: usize| record[field].parse::<f64>().expect("a number");
        rows.push(((number(0) * 1_000.0).round() as i64, number(3)));
    }
    rows.sort_by_key(|row| row.0);
    rows.dedup_by_key(|row| row.0);
    let times: Vec<i64> = rows.iter().map(|row| row.0).collect();
    let stands = covered(&times);
    for ((from, until), (row, next)) in stands.iter().zip(rows.iter().zip(&times[1..])) {
        found.covered_ms += until - from;
        found.gap_ms += next - until;
        found.gaps += i64::from(next > until);
        found.longest_row_ms = found.longest_row_ms.max(until - from);
        if row.1 < 1.5 {
            found.below_ms += until - from;
            found.deficit_k_h += (1.5 - row.1) * (until - from) as f64 / 3.6e6;
        }
    }
    let mut reader = csv::Reader::from_reader(trace.as_bytes());
    let headers = reader.headers().expect("a header").clone();
    let field = |name: &str| {
        headers
            .iter()
            .position(|header| header == name)
            .expect("a column")
    };
    let (circulator, reason, alarms) = (field("circulator"), field("reason"), field("alarms"));
    let steps: Vec<csv::StringRecord> = reader
        .records()
        .map(|record| record.expect("a step"))
        .collect();
    let time_ms = |record: &csv::StringRecord| {
        (record[0].parse::<f64>().expect("s") * 1_000.0).round() as i64
    };
    let mut first = 0;
    let (mut before, mut of_gap) = (BTreeSet::new(), BTreeSet::new());
    for (index, step) in steps.iter().enumerate() {
        let from = time_ms(step);
        let until = steps
            .get(index + 1)
            .map_or(times[times.len() - 1], time_ms)
            .max(from);
        while first < stands.len() && stands[first].1 <= from {
            first += 1;
        }
        let overlap = |(begin, end): &(i64, i64)| (until.min(*end) - from.max(*begin)).max(0);
        let ms: i64 = stands[first..]
            .iter()
            .take_while(|row| row.0 < until)
            .map(overlap)
            .sum();
        found.circulator_ms += if &step[circulator] == "1" { ms } else { 0 };
        *found.reasons_ms.entry(step[reason].to_owned()).or_default() += ms;
        let rings: BTreeSet<&str> = step[alarms].split_whitespace().collect();
        if stands.get(first).is_some_and(|stand| stand.0 <= from) {
            of_gap.retain(|alarm| rings.contains(alarm));
            before = rings.difference(&of_gap).copied().collect();
            for alarm in &before {
                *found.alarms_ms.entry((*alarm).to_owned()).or_default() += ms;
            }
        } else {
            // What begins to ring where the log has no row is the gap's, not the house's, until it ends.
            of_gap.extend(rings.difference(&before));
        }
    }
    found
}

fn replayed(log: String) -> (SummaryNumbers, String) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("trace.csv");
    let settings = Settings::default();
    let options = reader_options(ReaderOptions::default());
    let reader = LogReader::from_bytes("log", log.into_bytes(), &options).expect("a log");
    let writer = TraceWriter::new(Some(OutputFile::create(&path, &[]).expect("a file")));
    let mut sinks = RunSinks::new(&settings, None, false, Some(writer));
    replay(reader, &settings, &mut sinks, &Cancel::new(), &mut |_| {}).expect("it replays");
    let mut outputs = OutputSet::new();
    let (numbers, _) = sinks.finish(&mut outputs).expect("numbers");
    outputs.persist(&Cancel::new()).expect("a trace");
    (numbers, std::fs::read_to_string(path).expect("a trace"))
}

#[track_caller]
fn near(what: &str, hours: f64, ms: i64, within_ms: i64) {
    let truth = ms as f64 / 3.6e6;
    let within = within_ms as f64 / 3.6e6 + 0.001;
    assert!(
        (hours - truth).abs() <= within,
        "{what}: {hours} h, by the referee {truth} h ± {within}"
    );
}

fn judge(stretches: &[Stretch], seed: u64, newest_first: bool) {
    let rows = rows(stretches, seed);
    let log = log_text(&rows, newest_first);
    let (numbers, trace) = replayed(log.clone());
    let truth = referee(&log, &trace);
    // A row that comes in a gap counts with the step that sees it, at most a cycle later.
    let seen_late_ms = 10_000 * (truth.gaps + 1);
    near(
        "days",
        numbers.days * 24.0,
        truth.covered_ms,
        43_200 + seen_late_ms, // days are given to a thousandth
    );
    near(
        "gaps",
        numbers.gap_hours.unwrap_or(0.0),
        truth.gap_ms,
        seen_late_ms,
    );
    near(
        "circulator",
        numbers.circulator_hours,
        truth.circulator_ms,
        seen_late_ms,
    );
    for (reason, ms) in &truth.reasons_ms {
        near(
            reason,
            numbers.reasons.get(reason).copied().unwrap_or(0.0),
            *ms,
            seen_late_ms,
        );
    }
    let all: f64 = numbers.reasons.values().sum();
    near("reasons", all, truth.covered_ms, seen_late_ms + 3_600 * 16);
    for (alarm, ms) in &truth.alarms_ms {
        let hours = numbers
            .alarms
            .iter()
            .find(|a| a.name == *alarm)
            .map_or(0.0, |a| a.hours);
        near(alarm, hours, *ms, seen_late_ms);
    }
    // The slab crosses its target slowly: each crossing is seen a row or two minutes late, since the checked reading
    // is smoothed, and nothing is seen while the sensor is lost or just back from a gap.
    let crossings = 2 + (rows.last().map_or(0, |row| row.0) as f64 / 1.2e8) as i64;
    let unknown_ms = (numbers.slab_hours_unknown.unwrap_or(0.0) * 3.6e6) as i64;
    let within_ms = crossings * truth.longest_row_ms.max(120_000) + unknown_ms + seen_late_ms;
    near(
        "below target",
        numbers.slab_hours_below_target.unwrap_or(0.0),
        truth.below_ms,
        within_ms,
    );
    let sum = numbers.slab_degree_hours_below_target.unwrap_or(0.0);
    let within = within_ms as f64 / 3.6e6 * 2.1 + 0.03 * truth.below_ms as f64 / 3.6e6 + 0.01;
    assert!(
        (sum - truth.deficit_k_h).abs() <= within,
        "{sum} K·h, by the referee {} ± {within}",
        truth.deficit_k_h
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn totals_are_those_of_an_independent_integration(
        stretches in stretches(), seed in any::<u64>(), newest_first in any::<bool>()
    ) {
        judge(&stretches, seed, newest_first);
    }
}

/// Days counted by the logs that lost most: truth within a row.
#[test]
fn logs_off_the_grid_lose_no_time() {
    for (every_ms, jitter, rows) in [
        (10_000, 10, 60_480),
        (15_000, 14, 40_320),
        (30_000, 10, 20_160),
        (60_000, 5, 10_080),
        (300_000, 2, 2_016),
        (100, 0, 72_000),
        (500, 0, 14_400),
        (1_000, 30, 7_200),
    ] {
        judge(
            &[Stretch {
                every_ms,
                jitter,
                rows,
                gap: 0,
            }],
            7,
            false,
        );
    }
}

/// Where the rows are late by a constant, too.
#[test]
fn rows_that_all_come_late_are_counted_whole() {
    let mut log = String::from("time_s,supply_c,return_c,slab_c,outdoor_c\n0,7,5,4,-3\n");
    for minute in 1..=1_440 {
        let _ = writeln!(log, "{},7,5,4,-3", minute * 60 + 7);
    }
    let (numbers, _) = replayed(log);
    assert_eq!(numbers.days, 1.0);
}
