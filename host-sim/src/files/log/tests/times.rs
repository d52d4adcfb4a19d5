//! Times: every form, the order of day and month, offsets, seconds.

use std::io::{Cursor, Read};

use jiff::{Timestamp, civil, tz::Offset};
use proptest::prelude::*;

use super::{
    super::{
        DateOrder, LogError, LogErrorKind, LogReader, LogStart, ReaderOptions, TimeFault,
        form::TimeForm, input::Input, time::TimeReader,
    },
    all, error, error_with, open, open_with, options,
};

fn read(text: &str) -> Result<i64, TimeFault> {
    TimeReader::new(TimeForm::DateTime, None, None).read(text.as_bytes())
}

#[track_caller]
fn utc(text: &str) -> i64 {
    text.parse::<Timestamp>()
        .expect("RFC 3339")
        .as_millisecond()
}

#[track_caller]
fn fault(error: &LogError) -> TimeFault {
    match error.kind() {
        LogErrorKind::NotATime { fault, .. } => *fault,
        other => panic!("not about a time: {other:?}"),
    }
}

#[test]
fn examples_of_rfc_3339() {
    // RFC 3339 (2002), section 5.8.
    assert_eq!(read("1985-04-12T23:20:50.52Z"), Ok(482_196_050_520));
    assert_eq!(
        read("1996-12-19T16:39:57-08:00"),
        Ok(utc("1996-12-20T00:39:57Z"))
    );
    assert_eq!(
        read("1937-01-01T12:00:27.87+00:20"),
        Ok(utc("1937-01-01T11:40:27.87Z"))
    );
    // A leap second: here the second before it once more.
    assert_eq!(
        read("1990-12-31T23:59:60Z"),
        Ok(utc("1990-12-31T23:59:59Z"))
    );
}

#[test]
fn common_forms_are_one_time() {
    let expected = utc("2017-01-15T00:05:00Z");
    for text in [
        "2017-01-15T00:05:00Z",
        "2017-01-15t00:05:00z",
        "2017-01-15 00:05:00",
        "2017-01-15 00:05",
        "2017-01-15  0:05",
        " 2017-01-15 00:05:00 ",
        "2017-01-15 00:05:00.000",
        "2017-01-15 00:05:00,000000",
        "2017-01-15 00:05:00 UTC",
        "2017-01-15T01:05:00+01:00",
        "2017-01-15 01:05:00 +0100",
        "2017-01-14T16:05:00-08",
        "2017/01/15 00:05:00",
        "2017-1-15 0:05",
        "15.01.2017 00:05",
        "15.1.2017 00:05:00",
        "15.01.2017, 00:05",
        "2017-01-15 12:05 AM",
    ] {
        assert_eq!(read(text), Ok(expected), "{text}");
    }
    assert_eq!(read("2017-01-15"), Ok(utc("2017-01-15T00:00:00Z")));
    assert_eq!(
        read("2017-01-15 12:05:06 pm"),
        Ok(utc("2017-01-15T12:05:06Z"))
    );
    assert_eq!(
        read("2017-01-15 1:05:06PM"),
        Ok(utc("2017-01-15T13:05:06Z"))
    );
    assert_eq!(read("2017-01-15 24:00:00"), Ok(utc("2017-01-16T00:00:00Z")));
    assert_eq!(read("2017-01-15 00:05:00.0004999"), Ok(expected));
    assert_eq!(read("2017-01-15 00:05:00.0005"), Ok(expected + 1));
    assert_eq!(read("2017-01-15 00:05:00.9996"), Ok(expected + 1000));
}

#[test]
fn what_is_no_time_is_told_apart() {
    for (text, fault) in [
        ("", TimeFault::Form),
        ("NaN", TimeFault::Form),
        ("1484438400", TimeFault::Form),
        ("2017-01-15T", TimeFault::Form),
        ("2017-01-15 00", TimeFault::Form),
        ("2017-01-15 00:05:", TimeFault::Form),
        ("2017-01-15 00:05:00.", TimeFault::Form),
        ("2017-01-15 00:05:00 CET", TimeFault::Form),
        ("2017-01-15 00:05:00Z Z", TimeFault::Form),
        ("2017-01/15 00:05", TimeFault::Form),
        ("20170115T000500Z", TimeFault::Form),
        ("00:05:00", TimeFault::NoDate),
        ("15.01.17 00:05", TimeFault::ShortYear),
        ("01/15/17 00:05", TimeFault::ShortYear),
        ("2017-02-29 00:05", TimeFault::Calendar),
        ("2017-13-01 00:05", TimeFault::Calendar),
        ("31.04.2017 00:05", TimeFault::Calendar),
        ("2017-01-15 25:00", TimeFault::Calendar),
        ("2017-01-15 24:00:01", TimeFault::Calendar),
        ("2017-01-15 00:60", TimeFault::Calendar),
        ("2017-01-15 13:05 PM", TimeFault::Calendar),
        ("2017-01-15 00:05:00+26:00", TimeFault::Calendar),
        ("01/02/2017 00:05", TimeFault::AmbiguousOrder),
    ] {
        assert_eq!(read(text), Err(fault), "{text}");
    }
}

fn slashed(dates: &[&str]) -> String {
    dates.iter().fold("time,slab_c\n".to_owned(), |text, date| {
        text + date + ",3.5\n"
    })
}

fn span_h(text: &str, order: Option<DateOrder>) -> i64 {
    let options = ReaderOptions {
        date_order: order,
        ..ReaderOptions::default()
    };
    let mut reader = open_with(text, &options).expect("a log");
    all(&mut reader)
        .expect("rows")
        .last()
        .expect("a row")
        .time_ms
        / 3_600_000
}

#[test]
fn the_file_shows_the_order_of_day_and_month() {
    assert_eq!(
        span_h(&slashed(&["01/12/2017 0:00", "01/13/2017 0:00"]), None),
        24
    );
    assert_eq!(
        span_h(&slashed(&["12/01/2017 0:00", "13/01/2017 0:00"]), None),
        24
    );
    assert_eq!(
        span_h(&slashed(&["12-01-2017 0:00", "13-01-2017 0:00"]), None),
        24
    );
    assert_eq!(
        span_h(
            &slashed(&["01/02/2017 1:00 PM", "01/13/2017 1:00 AM"]),
            None
        ),
        11 * 24 - 12
    );
    let ambiguous = slashed(&["01/02/2017 0:00", "02/02/2017 0:00"]);
    let error = error(&ambiguous);
    assert_eq!(fault(&error), TimeFault::AmbiguousOrder);
    assert_eq!(error.line(), Some(2));
    assert!(error.to_string().contains("--date-order"), "{error}");
    assert_eq!(span_h(&ambiguous, Some(DateOrder::DayFirst)), 24);
    assert_eq!(span_h(&ambiguous, Some(DateOrder::MonthFirst)), 31 * 24);
}

#[test]
fn an_order_of_day_and_month_that_breaks_later_is_an_error() {
    let error = error(slashed(&[
        "01/12/2017 0:00",
        "01/13/2017 0:00",
        "14/01/2017 0:00",
    ]));
    assert_eq!(
        (fault(&error), error.line()),
        (TimeFault::Calendar, Some(4))
    );
}

/// Minutes of January in more than 1 MiB before the first day beyond the twelfth.
fn long_month(date: fn(i32) -> String) -> String {
    let mut text = "time,slab_c,note\n".to_owned();
    for minute in 0..13 * 1440 {
        let (day, hour) = (minute / 1440 + 1, minute / 60 % 24);
        text.push_str(&format!(
            "{} {hour:02}:{:02},3.5,{:60}\n",
            date(day),
            minute % 60,
            "-"
        ));
    }
    text
}

#[test]
fn a_file_is_searched_to_its_end_for_the_order_but_a_pipe_is_not() {
    let text = long_month(|day| format!("01/{day:02}/2017"));
    assert!(text.len() > 1_200_000);
    assert_eq!(span_h(&text, None), 13 * 24 - 1);
    let pipe = Input::pipe(Box::new(Cursor::new(text.into_bytes()))).expect("a pipe");
    let error = LogReader::new("standard input", pipe, &ReaderOptions::default())
        .err()
        .expect("an error");
    assert_eq!(fault(&error), TimeFault::AmbiguousOrder);
}

#[test]
fn offsets_in_some_rows_only_are_an_error() {
    let error = error("time,slab_c\n2017-01-15T00:00:00Z,3\n2017-01-15T00:01:00,3\n");
    assert_eq!(
        (fault(&error), error.line()),
        (TimeFault::MixedOffset, Some(3))
    );
    let error = super::error("time,slab_c\n2017-01-15T00:00:00,3\n2017-01-15T00:01:00Z,3\n");
    assert_eq!(
        (fault(&error), error.line()),
        (TimeFault::MixedOffset, Some(3))
    );
}

#[test]
fn the_hour_summer_time_ends_needs_offsets_or_the_zone() {
    let local = "time,slab_c\n2017-10-29 02:59:00,3\n2017-10-29 02:00:00,3\n";
    // Two rows only: this looks newest first.
    assert_eq!(super::rows(local).len(), 2);
    let local =
        "time,slab_c\n2017-10-29 02:58:00,3\n2017-10-29 02:59:00,3\n2017-10-29 02:00:00,3\n";
    let error = error(local);
    assert_eq!(error.line(), Some(4));
    assert!(matches!(
        error.kind(),
        LogErrorKind::TimeWentBack {
            by_ms: 3_540_000,
            is_local: true,
            ..
        }
    ));
    assert!(error.to_string().contains("--zone"), "{error}");
    let with_offset = "time,slab_c\n2017-10-29T02:58:00+02:00,3\n2017-10-29T02:59:00+02:00,3\n2017-10-29T02:00:00+01:00,3\n";
    assert_eq!(super::rows(with_offset)[2].time_ms, 120_000);
}

#[test]
fn seconds_keep_milliseconds() {
    let rows = super::rows("time_s,slab_c\n0,3\n0.5,3\n10.001,3\n10.0015,3\n1e2,3\n");
    let times: Vec<i64> = rows.iter().map(|row| row.time_ms).collect();
    assert_eq!(times, [0, 500, 10_001, 10_002, 100_000]);
    assert_eq!(
        fault(&error("time_s,slab_c\n2017-01-15 00:00,3\n")),
        TimeFault::Seconds
    );
    assert_eq!(fault(&error("time_s,slab_c\n,3\n")), TimeFault::Seconds);
    // Milliseconds since 1970.
    assert_eq!(
        fault(&error("time_s,slab_c\n1484438400000,3\n")),
        TimeFault::TooManySeconds
    );
    // Under the name of a date and time both are known.
    for text in ["1484438400", "1484438400000"] {
        let log = open(format!("time,slab_c\n{text},3\n"));
        assert_eq!(log.start().label(0), "2017-01-15T00:00:00Z");
    }
    assert_eq!(fault(&error("time,slab_c\n12,3\n")), TimeFault::Number);
}

#[test]
fn the_start_is_known_before_the_first_row() {
    let seconds = open("time_s,slab_c\n86400.25,3\n86401,3\n");
    assert_eq!(seconds.start(), LogStart::Seconds { ms: 86_400_250 });
    assert_eq!(seconds.start().label(750), "86401 s");
    assert_eq!(seconds.start().label(-86_400_251), "-0.001 s");
    let local = open("time,slab_c\n15.01.2017 00:00,3\n");
    assert_eq!(
        local.start(),
        LogStart::Local(civil::date(2017, 1, 15).at(0, 0, 0, 0))
    );
    assert_eq!(local.start().label(90_061_500), "2017-01-16T01:01:01.5");
    let instant = open("time,slab_c\n2017-01-15T01:00:00+01:00,3\n");
    let at = "2017-01-15T00:00:00Z".parse().expect("RFC 3339");
    let start = LogStart::Instant {
        at,
        offset: Offset::constant(1),
    };
    assert_eq!(instant.start(), start);
    assert_eq!(start.label(60_000), "2017-01-15T01:01:00+01:00");
    assert_eq!(
        open("time,slab_c\n2017-01-15T01:00:00Z,3\n")
            .start()
            .label(0),
        "2017-01-15T01:00:00Z"
    );
}

#[test]
fn the_order_option_has_three_values() {
    assert_eq!("dmy".parse(), Ok(DateOrder::DayFirst));
    assert_eq!("mdy".parse(), Ok(DateOrder::MonthFirst));
    assert_eq!("ymd".parse(), Ok(DateOrder::YearFirst));
    assert!(
        "ydm"
            .parse::<DateOrder>()
            .expect_err("no order")
            .to_string()
            .contains("dmy")
    );
}

#[test]
fn a_mapped_time_is_of_the_form_its_name_says() {
    let options = options(&["time_s=clock"]);
    assert_eq!(
        fault(&error_with("clock,slab_c\n2017-01-15,3\n", &options)),
        TimeFault::Seconds
    );
    let mut reader =
        open_with("clock,slab_c\n1484438400,3\n1484438460.5,3\n", &options).expect("a log");
    assert_eq!(all(&mut reader).expect("rows")[1].time_ms, 60_500);
}

proptest! {
    /// Against the calendar library's own parser, over rows that share and change every part of the text.
    #[test]
    fn times_are_those_of_the_calendar_library(
        start in -2_000_000_000_i64..4_000_000_000,
        steps in prop::collection::vec((0..200_000_i64, 0..1000_i64), 1..30),
        form in 0..3,
    ) {
        let mut reader = TimeReader::new(TimeForm::DateTime, None, None);
        let mut at_ms = start * 1000;
        for (seconds, milliseconds) in steps {
            at_ms += seconds * 1000 + if form == 2 { milliseconds } else { 0 };
            let at = Timestamp::from_millisecond(at_ms).expect("in range");
            let text = match form {
                0 => at.to_string(),
                1 => at.display_with_offset(Offset::constant(-7)).to_string(),
                _ => Offset::UTC.to_datetime(at).to_string().replace('T', " "),
            };
            prop_assert_eq!(reader.read(text.as_bytes()), Ok(at_ms), "{}", text);
        }
    }

    #[test]
    fn any_bytes_are_a_time_or_refused(cells in prop::collection::vec("[0-9:./ TZ+,-]{0,30}|\\PC{0,10}", 1..4)) {
        let mut reader = TimeReader::new(TimeForm::DateTime, Some(DateOrder::DayFirst), None);
        for cell in cells {
            let _ = reader.read(cell.as_bytes());
        }
    }
}

#[test]
fn a_pipe_is_read_like_a_file() {
    let text = long_month(|day| format!("2017-01-{day:02}"));
    let expected = super::rows(&text);
    // A source that gives a few bytes at a time.
    struct Trickle(Cursor<Vec<u8>>);
    impl Read for Trickle {
        fn read(&mut self, out: &mut [u8]) -> std::io::Result<usize> {
            let count = out.len().min(1000);
            self.0.read(&mut out[..count])
        }
    }
    let pipe = Input::pipe(Box::new(Trickle(Cursor::new(text.into_bytes())))).expect("a pipe");
    let mut reader =
        LogReader::new("standard input", pipe, &ReaderOptions::default()).expect("a log");
    assert_eq!(reader.total_bytes(), None);
    assert!(all(&mut reader).expect("rows") == expected);
}
