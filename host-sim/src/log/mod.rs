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
//! - Times must not go back. Gaps, jitter and a changing interval are no error.

mod columns;
mod decimal;
mod error;
mod head;
mod input;
mod median;
mod reader;
mod records;
mod reverse;
mod row;
mod time;

#[cfg(test)]
mod tests;

use std::borrow::Cow;

use jiff::{SignedDuration, Timestamp, civil, tz::Offset};

pub use columns::{ColumnMapping, DateOrder, MappingError};
pub use decimal::push_reading;
pub use error::{ErrorColumn, LogError, LogErrorKind, TimeFault};
pub(crate) use median::MovingMedian;
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
    /// Intervals longer than 1.5 × the median interval then.
    pub gaps: u64,
    /// The longest of these, ms.
    pub longest_gap_ms: i64,
    /// Rows in which a quantity was missing, by [`Quantity`] as index; absent columns are missing in all.
    pub missing: [u64; 8],
    /// Rows in which a temperature was beyond what a reading can hold, by [`Quantity`] as index.
    pub out_of_range: [u64; 8],
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
