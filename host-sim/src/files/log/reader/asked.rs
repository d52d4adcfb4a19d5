//! What callers ask of a log beside its rows.

use super::super::{Clock, LogError, LogErrorKind, LogStart, LogSummary, Quantity, UnusedColumn};
use super::super::{error::quote, form::TimeForm};
use super::LogReader;

impl LogReader {
    /// Time from the current row to the next one, ms; None after the last.
    pub fn next_interval_ms(&self) -> Option<i64> {
        Some(self.ahead?.row.time_ms - self.first_ms - self.current.time_ms?)
    }

    /// The absolute time of the first row; known from the start.
    pub fn start(&self) -> LogStart {
        self.time.start(self.first_ms)
    }

    /// The log's interval, ms: the median of the 101 intervals up to the current row, in the log's first rows of the first
    /// 101; known from the start. None for a log of one row.
    pub fn median_interval_ms(&self) -> Option<i64> {
        self.interval.median()
    }

    /// How long a row stands at most, ms: as the options say, or one and a half of the log's interval.
    pub fn holds_ms(&self) -> i64 {
        self.holds_ms.unwrap_or_else(|| {
            let median = self.interval.median().unwrap_or(0);
            median + median / 2
        })
    }

    /// The wall clock along the log, as far as read.
    pub fn clock(&self) -> Clock {
        let zero = self.start();
        match &self.wall {
            Some(wall) if !wall.marks.is_empty() => Clock::of_wall(zero, wall),
            _ => Clock::of_start(zero),
        }
    }

    /// What the time column turned out to hold, where its name did not say so.
    pub fn time_note(&self) -> Option<&'static str> {
        match self.time.form() {
            TimeForm::DateTime | TimeForm::Seconds => None,
            TimeForm::Unix => Some("the time is read as seconds since 1970 in UTC"),
            TimeForm::UnixMillis => Some("the time is read as milliseconds since 1970 in UTC"),
            TimeForm::DayNumber => Some("the time is read as a spreadsheet's day number"),
        }
    }

    /// What was made of the log before it was read, in words.
    pub fn told(&self) -> Option<&str> {
        self.told.as_deref()
    }

    /// The columns that nothing is read from, but those named `known`.
    pub fn unused_columns(&self, known: &[&str]) -> Vec<UnusedColumn> {
        self.log.columns.unused(known)
    }

    /// The header that a quantity is read from.
    pub fn header_of(&self, quantity: Quantity) -> Option<&str> {
        let columns = &self.log.columns;
        let index = quantity as usize;
        let field = match index.checked_sub(columns.readings.len()) {
            None => columns.readings[index].map(|column| column.field),
            Some(relay) => columns.relays[relay].map(|column| column.field),
        };
        columns.headers.get(field?).map(String::as_str)
    }

    /// Whether that column is one in °F.
    pub fn is_fahrenheit(&self, quantity: Quantity) -> bool {
        let column = self.log.columns.readings.get(quantity as usize);
        column
            .copied()
            .flatten()
            .is_some_and(|column| column.is_fahrenheit)
    }

    /// Whether the log has a column for a quantity; where not, it reads as missing.
    pub fn has(&self, quantity: Quantity) -> bool {
        self.log.columns.has(quantity)
    }

    /// The current row's text in the column [`extra_columns`](crate::files::log::ReaderOptions::extra_columns)`[index]`; empty where there is none.
    pub fn extra(&self, index: usize) -> &[u8] {
        self.current.extras.get(index).map_or(&[], Vec::as_slice)
    }

    /// Whether the log has that extra column.
    pub fn has_extra(&self, index: usize) -> bool {
        self.log
            .columns
            .extras
            .get(index)
            .is_some_and(Option::is_some)
    }

    /// An error about the current row's text in an extra column, for the caller that cannot use it. `expected` goes on from
    /// "expected" and says what to do.
    pub fn reject_extra(&self, index: usize, expected: &str) -> LogError {
        let field = self.log.columns.extras.get(index).copied().flatten();
        let kind = LogErrorKind::Unusable {
            found: quote(self.extra(index)),
            expected: expected.to_owned(),
        };
        self.log.error(self.current.lines_before, field, kind)
    }

    /// The current row's line in the file, from 1.
    pub fn line(&self) -> u64 {
        self.log.numbering.line(self.current.lines_before)
    }

    /// Bytes read so far, up to [`LogReader::total_bytes`].
    pub fn bytes_read(&self) -> u64 {
        self.head_bytes + self.records.consumed()
    }

    /// The log's size in bytes; None for a pipe.
    pub fn total_bytes(&self) -> Option<u64> {
        self.total_bytes
    }

    /// What was met up to the current row.
    pub fn summary(&self) -> &LogSummary {
        &self.summary
    }

    /// Bytes of memory the splitting of records holds.
    #[cfg(test)]
    pub(in crate::files::log) fn held_bytes(&self) -> usize {
        self.records.held_bytes()
    }
}
