//! The order of rows: newest first, duplicates, gaps, the interval.

use std::io::{Cursor, Read};

use proptest::prelude::*;

use super::{
    super::{
        Cell, LogErrorKind, LogReader, ReaderOptions,
        input::Input,
        median::{MovingMedian, WINDOW},
        reverse::ReverseLines,
    },
    all, error, open, rows,
};

const HEADER: &str = "# remark\ntime,slab_c,note\n";

/// A log of `count` rows at changing intervals, as lines.
fn lines(count: usize) -> Vec<String> {
    let start = jiff::civil::date(2017, 1, 15).at(0, 0, 0, 0);
    (0..count)
        .map(|index| {
            let second = index as i64 * 10 + if index > count / 2 { 7200 } else { 0 };
            let at = start.saturating_add(jiff::SignedDuration::from_secs(second));
            format!("{at},{}.5,{}\n", index % 20, "n".repeat(index % 90))
        })
        .collect()
}

fn log(lines: &[String]) -> String {
    HEADER.to_owned() + &lines.concat()
}

fn newest_first(lines: &[String]) -> String {
    HEADER.to_owned() + &lines.iter().rev().map(String::as_str).collect::<String>()
}

#[test]
fn newest_first_is_oldest_first_reversed() {
    // Some rows; some blocks of rows.
    for count in [2, 3, 150, 20_000] {
        let lines = lines(count);
        let mut forward = open(log(&lines));
        let mut backward = open(newest_first(&lines));
        assert!(!forward.summary().newest_first && backward.summary().newest_first);
        assert_eq!(forward.start(), backward.start());
        assert_eq!(forward.median_interval_ms(), backward.median_interval_ms());
        loop {
            let row = forward.next_row().expect("rows");
            assert_eq!(row, backward.next_row().expect("rows"));
            if row.is_none() {
                break;
            }
            assert_eq!(forward.median_interval_ms(), backward.median_interval_ms());
            // The header is line 2 of both.
            assert_eq!(forward.line() - 3, count as u64 + 2 - backward.line());
        }
        assert_eq!(forward.summary().gaps, backward.summary().gaps);
        assert!(backward.held_bytes() < 1024 * 1024);
    }
}

#[test]
fn newest_first_from_a_file_without_a_last_line_ending() {
    let file = tempfile::NamedTempFile::new().expect("a file");
    let lines = lines(9000);
    let text = newest_first(&lines);
    std::fs::write(file.path(), text.trim_end()).expect("written");
    let mut reader = LogReader::open(file.path(), &ReaderOptions::default()).expect("a log");
    assert_eq!(all(&mut reader).expect("rows"), rows(log(&lines)));
}

#[test]
fn newest_first_in_a_pipe_is_read_when_it_is_short() {
    let pipe =
        |text: String| Input::pipe(Box::new(Cursor::new(text.into_bytes()))).expect("a pipe");
    let short = lines(100);
    let mut reader = LogReader::new(
        "standard input",
        pipe(newest_first(&short)),
        &ReaderOptions::default(),
    )
    .expect("a log");
    assert_eq!(all(&mut reader).expect("rows"), rows(log(&short)));
    let long = newest_first(&lines(20_000));
    assert!(long.len() > 1024 * 1024);
    let error = LogReader::new("standard input", pipe(long), &ReaderOptions::default())
        .err()
        .expect("an error");
    assert!(matches!(error.kind(), LogErrorKind::NewestFirstPipe));
}

#[test]
fn errors_in_a_newest_first_log_name_the_line_in_the_file() {
    let mut reversed = lines(5000);
    reversed[4000] = "2017-01-15T13:06:40,?,\n".to_owned();
    let error = error(newest_first(&reversed));
    // Rows 4999 … 0 stand in lines 3 … 5002.
    assert_eq!(error.line(), Some(3 + 4999 - 4000));
    let swapped = HEADER.to_owned()
        + "2017-01-15 00:00:30,1,\n2017-01-15 00:00:20,1,\n2017-01-15 00:00:25,1,\n2017-01-15 00:00:10,1,\n";
    let error = super::error(swapped);
    assert_eq!(error.line(), Some(4));
    assert!(
        matches!(
            error.kind(),
            LogErrorKind::TimeWentBack {
                newest_first: true,
                ..
            }
        ),
        "{error}"
    );
    let spanning = HEADER.to_owned()
        + "2017-01-15 00:00:30,1,\n2017-01-15 00:00:20,1,\"two\nlines\"\n2017-01-15 00:00:10,1,\n";
    assert_eq!(super::error(spanning).line(), Some(5));
}

#[test]
fn of_rows_with_one_time_the_last_stands() {
    let mut reader = open("time_s,slab_c\n0,1\n0,2\n10,3\n20,4\n20,5\n20,6\n30,7\n");
    let slabs: Vec<Cell> = all(&mut reader)
        .expect("rows")
        .iter()
        .map(|row| row.slab)
        .collect();
    assert_eq!(slabs, [2, 3, 6, 7].map(|slab| Cell::Reading(slab * 128)));
    assert_eq!((reader.summary().rows, reader.summary().duplicates), (4, 3));
    let mut reversed = open("time_s,slab_c\n30,7\n30,8\n20,6\n10,3\n");
    // Read from the end, the row above comes later.
    assert_eq!(
        all(&mut reversed).expect("rows")[2].slab,
        Cell::Reading(7 * 128)
    );
}

#[test]
fn gaps_are_counted_against_the_interval() {
    let mut reader =
        open("time_s,slab_c\n0,1\n10,1\n20,1\n35,1\n45,1\n61,1\n71,999\n4000,1\n4010,1\n");
    assert_eq!(reader.median_interval_ms(), Some(10_000));
    all(&mut reader).expect("rows");
    // 15 s is 1.5 intervals and no more.
    assert_eq!(
        (reader.summary().gaps, reader.summary().longest_gap_ms),
        (2, 3_929_000)
    );
    assert_eq!(reader.summary().out_of_range[2], 1);
}

#[test]
fn the_interval_follows_a_changed_logging_rate() {
    let times = (0..400)
        .map(|index| index * 10)
        .chain((0..400).map(|index| 4000 + index * 300));
    let text: String = "time_s,slab_c\n"
        .chars()
        .chain(times.flat_map(|second| format!("{second},1\n").chars().collect::<Vec<_>>()))
        .collect();
    let mut reader = open(text);
    let mut changed_after = None;
    while let Some(row) = reader.next_row().expect("rows") {
        if reader.median_interval_ms() == Some(300_000) && changed_after.is_none() {
            changed_after = Some((row.time_ms / 1000 - 4000) / 300);
        }
    }
    assert_eq!(changed_after, Some(WINDOW as i64 / 2 + 1));
    assert_eq!(open("time_s,slab_c\n0,1\n0,2\n").median_interval_ms(), None);
}

proptest! {
    #[test]
    fn the_moving_median_is_the_median_of_the_window(
        intervals in prop::collection::vec(prop_oneof![Just(10_000_i64), 1..20_000_i64], 1..400),
        short in any::<bool>(),
    ) {
        let intervals = if short { &intervals[..intervals.len().min(WINDOW / 2)] } else { &intervals[..] };
        let mut moving = MovingMedian::seeded(intervals);
        let first = &intervals[..intervals.len().min(WINDOW)];
        for end in 1..=intervals.len() {
            moving.push(intervals[end - 1]);
            let window = if end < WINDOW { first } else { &intervals[end - WINDOW..end] };
            let mut sorted = window.to_vec();
            sorted.sort();
            prop_assert_eq!(moving.median(), Some(sorted[(sorted.len() - 1) / 2]));
        }
    }

    #[test]
    fn reversed_lines_are_the_lines_reversed(
        lines in prop::collection::vec("[a-z]{0,30}", 0..60),
        floor in 0..20_usize,
        long in 0..3_usize,
        ends in any::<bool>(),
        step in 1..50_usize,
    ) {
        let mut lines = lines;
        // Lines that cross blocks.
        lines.extend((0..long).map(|index| "x".repeat(60_000 - index)));
        lines.extend((0..long * 20).map(|index| "y".repeat(20_000 + index)));
        let body = lines.join("\n") + if ends { "\n" } else { "" };
        let text = "h".repeat(floor) + &body;
        let mut expected: Vec<&str> = body.split('\n').collect();
        if expected.last() == Some(&"") {
            expected.pop();
        }
        let expected: String = expected.iter().rev().flat_map(|line| [*line, "\n"]).collect();
        let mut reader = ReverseLines::new(Cursor::new(text.as_bytes()), floor as u64).expect("a source");
        let mut found = Vec::new();
        let mut piece = vec![0; step * 997];
        loop {
            let count = reader.read(&mut piece).expect("read");
            if count == 0 {
                break;
            }
            found.extend_from_slice(&piece[..count]);
        }
        prop_assert!(found == expected.as_bytes());
    }
}
