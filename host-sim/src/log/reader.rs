//! The reader: records to rows, one row of look-ahead, and what callers ask about them.

use std::{io::Read, path::Path};

use super::{
    LogError, LogErrorKind, LogRow, LogStart, LogSummary, Quantity, ReaderOptions,
    columns::Columns,
    error::{ErrorColumn, quote},
    head::Head,
    input::{Input, Numbering, Rows},
    median::MovingMedian,
    records::{Fields, Records},
    row::{self, Cell},
    time::TimeReader,
};

/// Reads a log row by row, oldest first.
pub struct LogReader {
    log: Log,
    records: Records<Box<dyn Read + Send>>,
    time: TimeReader,
    interval: MovingMedian,
    head_bytes: u64,
    total_bytes: Option<u64>,
    /// The first row's time on the scale of the time column, ms.
    first_ms: i64,
    current: Current,
    /// The row after the current one; only it tells that the current one is not to be replaced.
    ahead: Option<Ahead>,
    ahead_extras: Vec<Vec<u8>>,
    summary: LogSummary,
}

/// What a message about a log needs.
struct Log {
    name: String,
    columns: Columns,
    numbering: Numbering,
}

/// The row that was returned last.
struct Current {
    lines_before: u64,
    time_ms: Option<i64>,
    extras: Vec<Vec<u8>>,
}

/// A row that was read and not yet returned, its time on the scale of the time column.
#[derive(Clone, Copy)]
struct Ahead {
    row: LogRow,
    lines_before: u64,
}

impl LogReader {
    /// Opens a file, a named pipe, or standard input for `-`, and reads as much as tells how to read the rest.
    ///
    /// # Errors
    /// The file, its header or its first row cannot be used.
    pub fn open(path: &Path, options: &ReaderOptions) -> Result<LogReader, LogError> {
        let name = if path.as_os_str() == "-" {
            "standard input".into()
        } else {
            path.to_string_lossy()
        };
        let input =
            Input::open(path).map_err(|error| LogError::new(&name, None, None, error.into()))?;
        LogReader::new(&name, input, options)
    }

    /// Reads a log in memory; `name` stands for the file in messages.
    ///
    /// # Errors
    /// The header or the first row cannot be used.
    pub fn from_bytes(
        name: &str,
        bytes: Vec<u8>,
        options: &ReaderOptions,
    ) -> Result<LogReader, LogError> {
        LogReader::new(name, Input::memory(bytes), options)
    }

    pub(super) fn new(
        name: &str,
        input: Input,
        options: &ReaderOptions,
    ) -> Result<LogReader, LogError> {
        let refuse = |line, kind| LogError::new(name, line, None, kind);
        let total_bytes = input.length();
        let mut head = Head::read(&input.start).map_err(|(line, kind)| refuse(line, kind))?;
        let headers = std::mem::take(&mut head.headers);
        let columns = Columns::resolve(headers, &options.columns, &options.extra_columns)
            .map_err(|kind| refuse(Some(head.header_line), kind))?;
        let Rows {
            head_bytes,
            records,
            time,
            interval,
            numbering,
        } = input
            .into_rows(&head, &columns, options.date_order)
            .map_err(|kind| refuse(None, kind))?;
        let extras = vec![Vec::new(); columns.extras.len()];
        let mut reader = LogReader {
            log: Log {
                name: name.to_owned(),
                columns,
                numbering,
            },
            records,
            time,
            interval,
            head_bytes,
            total_bytes,
            first_ms: 0,
            current: Current {
                lines_before: 0,
                time_ms: None,
                extras: extras.clone(),
            },
            ahead: None,
            ahead_extras: extras,
            summary: LogSummary {
                newest_first: numbering.is_reversed(),
                ..LogSummary::default()
            },
        };
        let first = reader
            .read_record()?
            .ok_or_else(|| refuse(None, LogErrorKind::NoRows))?;
        reader.first_ms = first.row.time_ms;
        reader.ahead = Some(first);
        Ok(reader)
    }

    /// The next row, its time later than that of the row before; None at the end.
    ///
    /// # Errors
    /// A row cannot be read; the message names the place. Nothing can be read after an error.
    pub fn next_row(&mut self) -> Result<Option<LogRow>, LogError> {
        let Some(mut current) = self.ahead.take() else {
            return Ok(None);
        };
        std::mem::swap(&mut self.current.extras, &mut self.ahead_extras);
        while let Some(next) = self.read_record()? {
            if next.row.time_ms > current.row.time_ms {
                self.ahead = Some(next);
                break;
            }
            if next.row.time_ms < current.row.time_ms {
                return Err(self.went_back(current.row.time_ms - next.row.time_ms));
            }
            current = next;
            std::mem::swap(&mut self.current.extras, &mut self.ahead_extras);
            self.summary.duplicates += 1;
        }
        let row = LogRow {
            time_ms: current.row.time_ms - self.first_ms,
            ..current.row
        };
        self.current.lines_before = current.lines_before;
        self.count(&row);
        self.current.time_ms = Some(row.time_ms);
        Ok(Some(row))
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

    /// Whether the log has a column for a quantity; where not, it reads as missing.
    pub fn has(&self, quantity: Quantity) -> bool {
        let columns = &self.log.columns;
        let index = quantity as usize;
        match index.checked_sub(columns.readings.len()) {
            None => columns.readings[index].is_some(),
            Some(relay) => columns.relays[relay].is_some(),
        }
    }

    /// The current row's text in the column [`ReaderOptions::extra_columns`]`[index]`; empty where there is none.
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
    pub(super) fn held_bytes(&self) -> usize {
        self.records.held_bytes()
    }

    fn read_record(&mut self) -> Result<Option<Ahead>, LogError> {
        let log = &self.log;
        match self.records.advance() {
            Ok(true) => {}
            Ok(false) => return Ok(None),
            Err(fault) => return Err(log.error(self.records.lines_before(), None, fault.into())),
        }
        let fields = self.records.fields();
        let lines_before = self.records.lines_before();
        let columns = &log.columns;
        let cell_error = |field, kind: fn(String) -> LogErrorKind| {
            log.error(lines_before, Some(field), kind(quote(fields.get(field))))
        };
        if fields.count() != columns.headers.len()
            && !has_only_empty_surplus(fields, columns.headers.len())
        {
            let kind = LogErrorKind::FieldCount {
                found: fields.count(),
                expected: columns.headers.len(),
            };
            return Err(log.error(lines_before, None, kind));
        }
        let time_ms = self.time.read(fields.get(columns.time)).map_err(|fault| {
            let found = quote(fields.get(columns.time));
            log.error(
                lines_before,
                Some(columns.time),
                LogErrorKind::NotATime { found, fault },
            )
        })?;
        let mut readings = [Cell::Missing; 6];
        for (reading, column) in readings.iter_mut().zip(&columns.readings) {
            let Some(column) = column else { continue };
            *reading =
                row::reading(fields.get(column.field), column.is_fahrenheit).ok_or_else(|| {
                    cell_error(column.field, |found| LogErrorKind::NotANumber { found })
                })?;
        }
        let mut relays = [None; 2];
        for (relay, column) in relays.iter_mut().zip(&columns.relays) {
            let Some(column) = column else { continue };
            let text = fields.get(column.field);
            *relay = match column.limit {
                None => row::relay(text).ok_or_else(|| {
                    cell_error(column.field, |found| LogErrorKind::NotARelayState { found })
                })?,
                Some(limit) => row::above(text, limit).ok_or_else(|| {
                    cell_error(column.field, |found| LogErrorKind::NotANumber { found })
                })?,
            };
        }
        for (extra, field) in self.ahead_extras.iter_mut().zip(&columns.extras) {
            extra.clear();
            extra.extend_from_slice(field.map_or(&[], |field| fields.get(field)));
        }
        let [supply, return_, slab, outdoor, air, store] = readings;
        let [circulator, boiler_call] = relays;
        let row = LogRow {
            time_ms,
            supply,
            return_,
            slab,
            outdoor,
            air,
            store,
            circulator,
            boiler_call,
        };
        Ok(Some(Ahead { row, lines_before }))
    }

    #[cold]
    fn went_back(&self, by_ms: i64) -> LogError {
        let field = self.log.columns.time;
        let kind = LogErrorKind::TimeWentBack {
            found: quote(self.records.fields().get(field)),
            by_ms,
            is_local: matches!(self.start(), LogStart::Local(_)),
            newest_first: self.log.numbering.is_reversed(),
        };
        self.log
            .error(self.records.lines_before(), Some(field), kind)
    }

    fn count(&mut self, row: &LogRow) {
        let summary = &mut self.summary;
        summary.rows += 1;
        for (index, reading) in row.readings().into_iter().enumerate() {
            summary.missing[index] += u64::from(reading == Cell::Missing);
            summary.out_of_range[index] += u64::from(reading == Cell::OutOfRange);
        }
        summary.missing[Quantity::Circulator as usize] += u64::from(row.circulator.is_none());
        summary.missing[Quantity::BoilerCall as usize] += u64::from(row.boiler_call.is_none());
        if let Some(before_ms) = self.current.time_ms {
            let interval_ms = row.time_ms - before_ms;
            self.interval.push(interval_ms);
            if self
                .interval
                .median()
                .is_some_and(|median| 2 * interval_ms > 3 * median)
            {
                summary.gaps += 1;
                summary.longest_gap_ms = summary.longest_gap_ms.max(interval_ms);
            }
        }
    }
}

impl Log {
    #[cold]
    fn error(&self, lines_before: u64, field: Option<usize>, kind: LogErrorKind) -> LogError {
        let column = field.map(|field| ErrorColumn {
            header: self.columns.headers.get(field).cloned().unwrap_or_default(),
            field: field + 1,
        });
        LogError::new(
            &self.name,
            Some(self.numbering.line(lines_before)),
            column,
            kind,
        )
    }
}

/// Some loggers end their rows with a delimiter.
#[cold]
fn has_only_empty_surplus(fields: Fields<'_>, expected: usize) -> bool {
    fields.count() > expected
        && (expected..fields.count()).all(|field| fields.get(field).is_empty())
}
