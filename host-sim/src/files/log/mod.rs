//! Reads a sensor log: CSV in, plain rows out, oldest first, in flat memory whatever the log's length.
//!
//! A log is a header line and one row a sensor cycle. The reader finds the columns by their headers or by the caller's
//! mappings, reads every number exactly (no float), and refuses what it cannot read with file, line, column, what was found,
//! what was expected and what to do. It never guesses: an ambiguous date is an error, not a habit of some country.
//!
//! It never judges a reading, which is the controller's business, and never fills a gap, which is the replay's.
//!
//! - Delimiter comma, semicolon or tab, as the header shows; decimal point or comma (under a comma delimiter in quotes).
//! - UTF-8 with or without its mark; other single-byte encodings survive in headers and unread columns. Quoted fields after
//!   RFC 4180, LF or CRLF, blank lines and lines that start with `#`.
//! - A newest-first log is read from its end. Rows with one time are one row: the last in the order of reading stands.
//! - A date and a time of day in two columns are one time; numbers under `time` are seconds or milliseconds since 1970 or a
//!   spreadsheet's day numbers. With the place's zone an hour that comes twice in local times is read twice.
//! - A long table, one row a value, is sorted and made into rows first; it is held in memory meanwhile.
//! - Times must not go back. Gaps, jitter and a changing interval are no error.

mod clock;
mod columns;
mod decimal;
mod error;
mod form;
mod head;
mod input;
mod long;
mod mapping;
mod median;
mod noticed;
mod reader;
mod records;
mod reverse;
mod row;
mod time;
mod zone;

#[cfg(test)]
mod tests;

use std::borrow::Cow;

use jiff::{
    SignedDuration, Timestamp, civil,
    tz::{Offset, TimeZone},
};

pub use clock::Clock;
pub use columns::UnusedColumn;
pub use decimal::push_reading;
pub use error::{ErrorColumn, LogError, LogErrorKind, TimeFault};
pub use mapping::{ColumnMapping, DateOrder, LongTable, MappingError};
#[cfg(feature = "cli")]
pub(crate) use median::MovingMedian;
pub use noticed::Noticed;
pub use reader::LogReader;
pub use row::{Cell, LogRow, Quantity};

/// How a log is to be read.
#[derive(Clone, Debug, Default)]
pub struct ReaderOptions {
    /// Columns whose headers are not the usual ones.
    pub columns: Vec<ColumnMapping>,
    /// The order of day and month; without it the log itself must show it.
    pub date_order: Option<DateOrder>,
    /// Headers of further columns wanted as text; a log need not have them.
    pub extra_columns: Vec<String>,
    /// Which of them tells of a boot: such a row stands beside another of the same time.
    pub boots: Option<usize>,
    /// Where local times are from; without it they are a clock that is never set.
    pub zone: Option<TimeZone>,
    /// Cells with this text are missing, whatever the case.
    pub missing: Vec<String>,
    /// Lines above the header.
    pub skip_lines: u64,
    /// How long a value stands without another, ms; without it one and a half of the log's interval.
    pub holds_ms: Option<i64>,
    /// Refuse rows that are further apart, ms.
    pub longest_gap_ms: Option<i64>,
    /// A table with one row a value.
    pub long: Option<LongTable>,
    /// Go by dates where the log has both dates and seconds.
    pub prefer_dates: bool,
}

/// The absolute time of a log's first row, as far as the log tells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LogStart {
    /// Seconds since an unknown start (or since 1970, where the log counts so).
    Seconds {
        /// The first row's value, ms.
        ms: i64,
    },
    /// Local time of an unknown place.
    Local(civil::DateTime),
    /// An instant.
    Instant {
        /// When.
        at: Timestamp,
        /// The offset from UTC in the first row.
        offset: Offset,
    },
}

impl LogStart {
    /// The absolute time of a row with that [`LogRow::time_ms`], as text: RFC 3339, date and time, or seconds. Local times
    /// keep the first row's offset.
    pub fn label(self, time_ms: i64) -> String {
        let span = SignedDuration::from_millis(time_ms);
        match self {
            LogStart::Seconds { ms } => {
                let ms = ms.saturating_add(time_ms);
                let sign = if ms < 0 { "-" } else { "" };
                let text = format!(
                    "{sign}{}.{:03}",
                    ms.unsigned_abs() / 1000,
                    ms.unsigned_abs() % 1000
                );
                format!("{} s", text.trim_end_matches('0').trim_end_matches('.'))
            }
            LogStart::Local(start) => start.saturating_add(span).to_string(),
            LogStart::Instant { at, offset } => {
                let at = at.saturating_add(span).unwrap_or(at);
                if offset == Offset::UTC {
                    at.to_string()
                } else {
                    at.display_with_offset(offset).to_string()
                }
            }
        }
    }
}

/// What was met on the way, up to the current row.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct LogSummary {
    /// Rows returned.
    pub rows: u64,
    /// Rows replaced by a later one of the same time.
    pub duplicates: u64,
    /// The first of these times, ms since the first row.
    pub first_duplicate_ms: Option<i64>,
    /// Time of the last row, ms since the first.
    pub last_ms: i64,
    /// Intervals in which the row before no longer stands: longer than 1.5 × the median interval then, unless said otherwise.
    pub gaps: u64,
    /// The longest of these, ms.
    pub longest_gap_ms: i64,
    /// Rows in which a quantity was missing, by [`Quantity`] as index; absent columns are missing in all.
    pub missing: [u64; 8],
    /// Rows in which a temperature was beyond what a reading can hold, by [`Quantity`] as index.
    pub out_of_range: [u64; 8],
    /// Rows in which a temperature was colder than that place can be for long, by [`Quantity`] as index.
    pub too_cold: [u64; 6],
    /// The same for warmer.
    pub too_hot: [u64; 6],
    /// Whether the log is newest first and is read from its end.
    pub newest_first: bool,
}

/// Bytes as text: UTF-8, or else one character a byte (ISO 8859-1), so that no byte is lost.
fn text(bytes: &[u8]) -> Cow<'_, str> {
    match std::str::from_utf8(bytes) {
        Ok(text) => Cow::Borrowed(text),
        Err(_) => bytes
            .iter()
            .map(|&byte| char::from(byte))
            .collect::<String>()
            .into(),
    }
}
