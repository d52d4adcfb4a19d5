//! The reader: records to rows, one row of look-ahead, and what callers ask about them.

use std::{io::Read, path::Path};

use super::{
    LogError, LogErrorKind, LogRow, LogStart, LogSummary, Quantity, ReaderOptions,
    clock::Wall,
    columns::Columns,
    error::{ErrorColumn, quote},
    head::{Head, skipped_to_header},
    input::{Input, Numbering, Rows},
    long,
    median::MovingMedian,
    records::{Fields, Records},
    row::{self, Cell, Held},
    time::TimeReader,
};

/// What a reading can be for a row or two, but not for hours, 1/128 °C: by [`Quantity`]. Water and concrete of a house that is
/// kept from freezing, air outdoors and in it, the floor below; estimates, wide of anything but an open sensor or °F.
const BELIEVABLE: [(i16, i16); 6] = [
    (-30 * 128, i16::MAX),
    (-30 * 128, i16::MAX),
    (-30 * 128, 35 * 128),
    (-60 * 128, 45 * 128),
    (-40 * 128, 50 * 128),
    (-30 * 128, 30 * 128),
];

mod asked;

/// Reads a log row by row, oldest first.
pub struct LogReader {
    log: Log,
    records: Records<Box<dyn Read + Send>>,
    time: TimeReader,
    interval: MovingMedian,
    head_bytes: u64,
    total_bytes: Option<u64>,
    /// Cells that are no reading, and the longest gap allowed.
    missing: Vec<String>,
    boots: Option<usize>,
    longest_gap_ms: Option<i64>,
    holds_ms: Option<i64>,
    held: Held,
    /// A date and a time of day as one cell.
    joined: Vec<u8>,
    /// Dates beside a column of seconds.
    wall: Option<Wall>,
    /// The first row's time on the scale of the time column, ms.
    first_ms: i64,
    current: Current,
    /// What was made of the log before it was read.
    told: Option<String>,
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
    /// Where every value stands, from 1, in the long table that the log was made from.
    value_field: Option<usize>,
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
    wall_ms: Option<i64>,
    is_date_only: bool,
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
        LogReader::of_form(&name, input, options)
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
        LogReader::of_form(name, Input::memory(bytes), options)
    }

    /// The headers of a log in memory, read so far only to choose from them; `name` stands for the file in messages.
    ///
    /// # Errors
    /// There is no header.
    pub fn headers(name: &str, bytes: Vec<u8>, skip_lines: u64) -> Result<Vec<String>, LogError> {
        let input = Input::memory(bytes);
        Head::read(&input.start, skip_lines)
            .map(|head| head.headers)
            .map_err(|(line, kind)| LogError::new(name, line, None, kind))
    }

    /// A log as it is, or made from a long table.
    fn of_form(name: &str, input: Input, options: &ReaderOptions) -> Result<LogReader, LogError> {
        let Some(table) = &options.long else {
            return LogReader::new(name, input, options);
        };
        let wide = long::wide(name, input, table, options)?;
        let options = ReaderOptions {
            skip_lines: 0,
            holds_ms: options.holds_ms.or(wide.holds_ms),
            ..options.clone()
        };
        let mut reader = LogReader::new(name, Input::memory(wide.bytes), &options)?;
        reader.log.numbering = reader.log.numbering.of_table(wide.lines);
        reader.log.value_field = Some(wide.value_field);
        reader.told = Some(wide.told);
        Ok(reader)
    }

    pub(super) fn new(
        name: &str,
        input: Input,
        options: &ReaderOptions,
    ) -> Result<LogReader, LogError> {
        let refuse = |line, kind| LogError::new(name, line, None, kind);
        let total_bytes = input.length();
        let mut head = Head::read(&input.start, options.skip_lines)
            .map_err(|(line, kind)| refuse(line, kind))?;
        let headers = std::mem::take(&mut head.headers);
        let resolve = |headers| {
            Columns::resolve(
                headers,
                &options.columns,
                &options.extra_columns,
                options.prefer_dates,
            )
        };
        let mut columns = resolve(headers).map_err(|kind| {
            let skip = if options.skip_lines == 0 {
                skipped_to_header(&input.start, |headers| resolve(headers).is_ok())
            } else {
                None
            };
            match (kind, skip) {
                (
                    LogErrorKind::NoTimeColumn { headers }
                    | LogErrorKind::NoReadingColumn { headers },
                    Some(skip),
                ) => {
                    let found = quote(headers.join(", ").as_bytes());
                    refuse(
                        Some(head.header_line),
                        LogErrorKind::Preamble { found, skip },
                    )
                }
                (kind, _) => refuse(Some(head.header_line), kind),
            }
        })?;
        input
            .form_of_time(&head, &mut columns)
            .map_err(|(line, kind)| refuse(Some(line), kind))?;
        let Rows {
            head_bytes,
            records,
            time,
            interval,
            numbering,
        } = input
            .into_rows(&head, &columns, options)
            .map_err(|kind| refuse(None, kind))?;
        let wall = columns.wall.map(|_| Wall::default());
        let newest_first = numbering.is_reversed();
        let extras = vec![Vec::new(); columns.extras.len()];
        let mut reader = LogReader {
            log: Log {
                name: name.to_owned(),
                columns,
                numbering,
                value_field: None,
            },
            records,
            time,
            interval,
            head_bytes,
            total_bytes,
            missing: options.missing.clone(),
            boots: options.boots,
            longest_gap_ms: options.longest_gap_ms,
            holds_ms: options.holds_ms,
            held: Held::default(),
            joined: Vec::new(),
            wall,
            first_ms: 0,
            told: None,
            current: Current {
                lines_before: 0,
                time_ms: None,
                extras: extras.clone(),
            },
            ahead: None,
            ahead_extras: extras,
            summary: LogSummary {
                newest_first,
                ..LogSummary::default()
            },
        };
        let first = reader
            .read_record()?
            .ok_or_else(|| refuse(None, LogErrorKind::NoRows))?;
        reader.first_ms = first.row.time_ms;
        reader.ahead = Some(first);
        if let (Some(wall), Some(at_ms)) = (&mut reader.wall, first.wall_ms) {
            wall.note(0, at_ms);
        }
        Ok(reader)
    }

    /// The next row, its time later than that of the row before (a boot's may be the same); None at the end.
    ///
    /// # Errors
    /// A row cannot be read; the message names the place. Nothing can be read after an error.
    pub fn next_row(&mut self) -> Result<Option<LogRow>, LogError> {
        let Some(mut current) = self.ahead.take() else {
            return Ok(None);
        };
        std::mem::swap(&mut self.current.extras, &mut self.ahead_extras);
        while let Some(next) = self.read_record()? {
            if next.row.time_ms > current.row.time_ms
                || next.row.time_ms == current.row.time_ms && self.is_boot_ahead()
            {
                self.ahead = Some(next);
                break;
            }
            if next.row.time_ms < current.row.time_ms {
                return Err(self.went_back(current.row.time_ms - next.row.time_ms));
            }
            if next.is_date_only {
                return Err(self.date_repeated());
            }
            current = next;
            std::mem::swap(&mut self.current.extras, &mut self.ahead_extras);
            self.summary.duplicates += 1;
            self.summary
                .first_duplicate_ms
                .get_or_insert(next.row.time_ms - self.first_ms);
        }
        let mut row = LogRow {
            time_ms: current.row.time_ms - self.first_ms,
            ..current.row
        };
        if let Some(holds_ms) = self.holds_ms {
            self.held.fill(&mut row, holds_ms);
        }
        self.current.lines_before = current.lines_before;
        if let (Some(limit_ms), Some(before_ms)) = (self.longest_gap_ms, self.current.time_ms)
            && row.time_ms - before_ms > limit_ms
        {
            return Err(self.gap_too_long(before_ms, row.time_ms, limit_ms));
        }
        if let (Some(wall), Some(at_ms)) = (&mut self.wall, current.wall_ms) {
            wall.note(row.time_ms, at_ms);
        }
        self.count(&row);
        self.current.time_ms = Some(row.time_ms);
        Ok(Some(row))
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
        let cell = columns.time.cell(fields, &mut self.joined);
        let time_ms = self.time.read(cell).map_err(|fault| {
            let found = quote(cell);
            let field = columns.time.time_of_day.unwrap_or(columns.time.field);
            log.error(
                lines_before,
                Some(field),
                LogErrorKind::NotATime { found, fault },
            )
        })?;
        let wall_ms = match (&mut self.wall, columns.wall) {
            (Some(wall), Some(field)) => wall.reader.read(fields.get(field)).ok(),
            _ => None,
        };
        let missing = &self.missing;
        let is_missing = |text: &[u8]| {
            !missing.is_empty()
                && missing
                    .iter()
                    .any(|missing| missing.as_bytes().eq_ignore_ascii_case(text.trim_ascii()))
        };
        if self.records.is_quoted() && self.records.delimiter() == b',' {
            // A mark between thousands reads like a decimal comma.
            let used = columns.readings.iter().flatten().map(|column| column.field);
            let limited = columns.relays.iter().flatten().map(|column| column.field);
            let doubtful = |field: &usize| row::may_be_thousands(fields.get(*field));
            if let Some(field) = used.chain(limited).find(doubtful) {
                return Err(cell_error(field, |found| LogErrorKind::Thousands { found }));
            }
        }
        let mut readings = [Cell::Missing; 6];
        for (reading, column) in readings.iter_mut().zip(&columns.readings) {
            let Some(column) = column else { continue };
            let text = fields.get(column.field);
            if is_missing(text) {
                continue;
            }
            *reading = row::reading(text, column.is_fahrenheit).ok_or_else(|| {
                cell_error(column.field, |found| LogErrorKind::NotANumber { found })
            })?;
        }
        let mut relays = [None; 2];
        for (relay, column) in relays.iter_mut().zip(&columns.relays) {
            let Some(column) = column else { continue };
            let text = fields.get(column.field);
            if is_missing(text) {
                continue;
            }
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
        Ok(Some(Ahead {
            row,
            lines_before,
            wall_ms,
            is_date_only: self.time.is_date_only(),
        }))
    }

    fn is_boot_ahead(&self) -> bool {
        let event = self.boots.and_then(|index| self.ahead_extras.get(index));
        event.is_some_and(|event| event.starts_with(b"boot"))
    }

    #[cold]
    fn date_repeated(&mut self) -> LogError {
        let field = self.log.columns.time;
        let found = quote(field.cell(self.records.fields(), &mut self.joined));
        let kind = LogErrorKind::DateRepeated { found };
        self.log
            .error(self.records.lines_before(), Some(field.field), kind)
    }

    #[cold]
    fn gap_too_long(&self, before_ms: i64, after_ms: i64, limit_ms: i64) -> LogError {
        let start = self.start();
        let kind = LogErrorKind::LongGap {
            before: start.label(before_ms),
            after: start.label(after_ms),
            by_ms: after_ms - before_ms,
            limit_ms,
        };
        let field = self.log.columns.time.field;
        self.log.error(self.current.lines_before, Some(field), kind)
    }

    #[cold]
    fn went_back(&self, by_ms: i64) -> LogError {
        let time = self.log.columns.time;
        let field = time.time_of_day.unwrap_or(time.field);
        let kind = LogErrorKind::TimeWentBack {
            found: quote(time.cell(self.records.fields(), &mut Vec::new())),
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
        summary.last_ms = row.time_ms;
        for (index, reading) in row.readings().into_iter().enumerate() {
            if let Cell::Reading(n) = reading {
                let (lowest, highest) = BELIEVABLE[index];
                summary.too_cold[index] += u64::from(n < lowest);
                summary.too_hot[index] += u64::from(n > highest);
            }
            summary.missing[index] += u64::from(reading == Cell::Missing);
            summary.out_of_range[index] += u64::from(reading == Cell::OutOfRange);
        }
        summary.missing[Quantity::Circulator as usize] += u64::from(row.circulator.is_none());
        summary.missing[Quantity::BoilerCall as usize] += u64::from(row.boiler_call.is_none());
        if let Some(before_ms) = self.current.time_ms
            && row.time_ms > before_ms
        {
            let interval_ms = row.time_ms - before_ms;
            self.interval.push(interval_ms);
            let holds_ms = self.holds_ms.or_else(|| {
                let median = self.interval.median()?;
                Some(median + median / 2)
            });
            let summary = &mut self.summary;
            if holds_ms.is_some_and(|holds_ms| interval_ms > holds_ms) {
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
            field: self.value_field.unwrap_or(field + 1),
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
