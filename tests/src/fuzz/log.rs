//! Any bytes as a sensor log.

use jiff::tz::TimeZone;

use host_sim::files::log::{DateOrder, LogErrorKind, LogReader, Quantity, ReaderOptions};

/// Reads the bytes as a log; the first of them says how. Times grow from row to row, rows and times are counted
/// and can be shown, and a refusal names the file and, wherever it is about a line, a line that exists.
///
/// # Panics
/// Something of that does not hold.
pub fn log_reader(bytes: &[u8]) {
    let Some((how, text)) = bytes.split_first() else {
        return;
    };
    let options = ReaderOptions {
        columns: Vec::new(),
        date_order: match how & 3 {
            0 => Some(DateOrder::DayFirst),
            1 => Some(DateOrder::MonthFirst),
            _ => None,
        },
        extra_columns: match how & 4 {
            0 => vec!["event".to_owned(), "air_c".to_owned()],
            _ => Vec::new(),
        },
        boots: None,
        zone: (how & 8 != 0).then(|| TimeZone::posix("MST7MDT,M3.2.0,M11.1.0").expect("a rule")),
        holds_ms: (how & 16 != 0).then_some(3_600_000),
        missing: match how & 32 {
            0 => Vec::new(),
            _ => vec!["-127".to_owned(), "n/a".to_owned()],
        },
        skip_lines: u64::from(how >> 7),
        longest_gap_ms: (how & 64 != 0).then_some(86_400_000),
        prefer_dates: how & 16 != 0,
        long: (how & 3 == 3).then(|| "event=air_c".parse().expect("two columns")),
    };
    // A line ends with LF or CRLF; what a lone CR is, is the reader's to say.
    let ends = text.iter().filter(|byte| matches!(byte, b'\n' | b'\r'));
    let lines = 1 + ends.count() as u64;
    let refused = |error: &host_sim::files::log::LogError| {
        let message = error.to_string();
        assert!(message.starts_with("any.csv"), "{message}");
        assert!(!message.contains(char::is_control), "{message:?}");
        match error.line() {
            Some(line) => {
                assert!((1..=lines).contains(&line), "of {lines} lines: {message}");
                assert!(message.contains(&format!("line {line}")), "{message}");
            }
            None => assert!(
                matches!(
                    error.kind(),
                    LogErrorKind::Io(_)
                        | LogErrorKind::Utf16
                        | LogErrorKind::Foreign { .. }
                        | LogErrorKind::NoHeader
                        | LogErrorKind::NoRows
                        | LogErrorKind::NewestFirstPipe
                ),
                "no line: {message}"
            ),
        }
    };
    let mut reader = match LogReader::from_bytes("any.csv", text.to_vec(), &options) {
        Ok(reader) => reader,
        Err(error) => return refused(&error),
    };
    let (mut rows, mut before) = (0, None);
    loop {
        match reader.next_row() {
            Ok(Some(row)) => {
                rows += 1;
                assert!(before.is_none_or(|t| row.time_ms > t), "times grow");
                assert!(
                    before.is_some() || row.time_ms == 0,
                    "the first row is at zero"
                );
                before = Some(row.time_ms);
                assert!(!reader.start().label(row.time_ms).is_empty());
                assert!((1..=lines).contains(&reader.line()), "{}", reader.line());
                assert!(reader.extra(0).len() <= text.len());
            }
            Ok(None) => break,
            Err(error) => {
                refused(&error);
                break;
            }
        }
        assert_eq!(reader.summary().rows, rows);
    }
    let summary = reader.summary();
    assert!(rows + summary.duplicates <= lines, "more rows than lines");
    assert!(summary.missing.iter().all(|missing| *missing <= rows));
    let some = [
        Quantity::Supply,
        Quantity::Return,
        Quantity::Slab,
        Quantity::Outdoor,
    ];
    assert!(some.into_iter().any(|quantity| reader.has(quantity)));
}
