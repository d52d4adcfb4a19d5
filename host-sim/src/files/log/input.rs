//! Where a log comes from, and what its first rows tell about the rest: direction, order of dates, interval.

#[cfg(not(target_family = "wasm"))]
use std::fs::File;
use std::{
    io::{self, Cursor, Read, Seek, SeekFrom},
    path::Path,
};

use flate2::read::MultiGzDecoder;
use memchr::{memchr_iter, memrchr};

use super::{
    LogErrorKind, ReaderOptions, TimeFault,
    columns::{Columns, TimeField},
    error::quote,
    form::TimeForm,
    head::Head,
    mapping::DateOrder,
    median::{MovingMedian, WINDOW},
    records::Records,
    reverse::ReverseLines,
    time::{TimeReader, is_time_of_day, needs_order, order_shown},
};

/// Rows looked at for a day number under a column of seconds.
const DAY_NUMBER_ROWS: usize = 8;

/// Bytes read before anything is decided; a pipe's are kept.
const START: usize = 1024 * 1024;

/// First bytes of a gzip stream (RFC 1952).
const GZIP: &[u8] = b"\x1F\x8B";

trait Seekable: Read + Seek + Send {}
impl<T: Read + Seek + Send> Seekable for T {}

/// A log's bytes.
pub(super) struct Input {
    /// The first bytes, at most [`START`].
    pub(super) start: Vec<u8>,
    rest: Rest,
}

enum Rest {
    /// The whole log, from its first byte.
    Whole {
        source: Box<dyn Seekable>,
        length: u64,
    },
    /// What a pipe brings after the first bytes.
    Pipe(Box<dyn Read + Send>),
}

impl Input {
    /// A file of the table.
    #[cfg(target_family = "wasm")]
    pub(super) fn open(path: &Path) -> io::Result<Input> {
        let bytes = crate::files::memory::read(path)?;
        if bytes.starts_with(GZIP) {
            return Input::unpacked(Box::new(Cursor::new(bytes)));
        }
        Ok(Input::memory(bytes))
    }

    /// A file, a named pipe, or standard input for `-`.
    #[cfg(not(target_family = "wasm"))]
    pub(super) fn open(path: &Path) -> io::Result<Input> {
        if path.as_os_str() == "-" {
            return Input::pipe(Box::new(io::stdin()));
        }
        let mut file = File::open(path)?;
        let metadata = file.metadata()?;
        if metadata.is_dir() {
            return Err(io::Error::new(
                io::ErrorKind::IsADirectory,
                "it is a folder, not a file",
            ));
        }
        if !metadata.is_file() {
            return Input::pipe(Box::new(file));
        }
        let mut start = Vec::new();
        file.by_ref().take(START as u64).read_to_end(&mut start)?;
        if start.starts_with(GZIP) {
            return Input::unpacked(Box::new(Cursor::new(start).chain(file)));
        }
        Ok(Input {
            start,
            rest: Rest::Whole {
                source: Box::new(file),
                length: metadata.len(),
            },
        })
    }

    pub(super) fn memory(bytes: Vec<u8>) -> Input {
        let start = bytes[..bytes.len().min(START)].to_vec();
        let length = bytes.len() as u64;
        Input {
            start,
            rest: Rest::Whole {
                source: Box::new(Cursor::new(bytes)),
                length,
            },
        }
    }

    #[cfg(not(target_family = "wasm"))]
    pub(super) fn pipe(mut source: Box<dyn Read + Send>) -> io::Result<Input> {
        let mut start = Vec::new();
        source.by_ref().take(START as u64).read_to_end(&mut start)?;
        if start.starts_with(GZIP) {
            return Input::unpacked(Box::new(Cursor::new(start).chain(source)));
        }
        // A pipe that is empty by now is a log in memory.
        if start.len() < START {
            Ok(Input::memory(start))
        } else {
            Ok(Input {
                start,
                rest: Rest::Pipe(source),
            })
        }
    }

    /// A packed log, unpacked on the way.
    fn unpacked(packed: Box<dyn Read + Send>) -> io::Result<Input> {
        let mut source = MultiGzDecoder::new(packed);
        let mut start = Vec::new();
        source.by_ref().take(START as u64).read_to_end(&mut start)?;
        Ok(if start.len() < START {
            Input::memory(start)
        } else {
            Input {
                start,
                rest: Rest::Pipe(Box::new(source)),
            }
        })
    }

    pub(super) fn length(&self) -> Option<u64> {
        match self.rest {
            Rest::Whole { length, .. } => Some(length),
            Rest::Pipe(_) => None,
        }
    }

    /// Looks at the first rows and sets up the reading of them all.
    pub(super) fn into_rows(
        mut self,
        head: &Head,
        columns: &Columns,
        options: &ReaderOptions,
    ) -> Result<Rows, LogErrorKind> {
        let order = match options.date_order {
            None if columns.time_form == TimeForm::DateTime => {
                self.order_of_dates(head, columns)?
            }
            order => order,
        };
        let time = TimeReader::new(columns.time_form, order, options.zone.clone());
        let delimiter = head.delimiter;
        // A record may be cut at the end of the first bytes: leave it out.
        let rows = &self.start[head.bytes..];
        let whole_rows = if self.start.len() < START {
            rows
        } else {
            &rows[..memrchr(b'\n', rows).map_or(0, |at| at + 1)]
        };
        let mut times = first_times(
            Records::new(whole_rows, delimiter),
            columns.time,
            time.without_zone(),
        );
        let is_newest_first = matches!(times[..], [first, second, ..] if second < first);
        if !is_newest_first && options.zone.is_some() {
            times = first_times(
                Records::new(whole_rows, delimiter),
                columns.time,
                time.clone(),
            );
        }
        let floor = head.bytes as u64;
        let mut lines = None;
        let source: Box<dyn Read + Send> = match (self.rest, is_newest_first) {
            (Rest::Whole { mut source, .. }, false) => {
                source.seek(SeekFrom::Start(floor))?;
                Box::new(source)
            }
            (Rest::Whole { mut source, .. }, true) => {
                source.seek(SeekFrom::Start(floor))?;
                lines = Some(count_lines(&mut source)?);
                times = first_times(
                    Records::new(ReverseLines::new(&mut source, floor)?, delimiter),
                    columns.time,
                    time.clone(),
                );
                Box::new(ReverseLines::new(source, floor)?)
            }
            (Rest::Pipe(_), true) => return Err(LogErrorKind::NewestFirstPipe),
            (Rest::Pipe(pipe), false) => {
                self.start.drain(..head.bytes);
                Box::new(Cursor::new(self.start).chain(pipe))
            }
        };
        let intervals: Vec<i64> = times
            .windows(2)
            .map(|pair| pair[1] - pair[0])
            .filter(|&interval| interval > 0)
            .collect();
        Ok(Rows {
            head_bytes: floor,
            records: Records::new(source, delimiter),
            time,
            interval: MovingMedian::seeded(&intervals),
            numbering: Numbering {
                lines_before: head.lines,
                reversed_lines: lines,
                table_lines: None,
            },
        })
    }

    /// What the first row shows of its time: a time of day with its date in another column, or a number. What is wrong
    /// comes with its line.
    pub(super) fn form_of_time(
        &self,
        head: &Head,
        columns: &mut Columns,
    ) -> Result<(), (u64, LogErrorKind)> {
        let mut first_rows = Records::new(&self.start[head.bytes..], head.delimiter);
        // What is wrong with a record is told when its row is read.
        if !matches!(first_rows.advance(), Ok(true)) {
            return Ok(());
        }
        let mut joined = Vec::new();
        let cell = columns.time.cell(first_rows.fields(), &mut joined);
        let line = head.lines + first_rows.lines_before() + 1;
        let refuse = |fault| {
            let found = quote(cell);
            (line, LogErrorKind::NotATime { found, fault })
        };
        match columns.time_form {
            TimeForm::DateTime if columns.time.time_of_day.is_none() => {
                if let Some(date) = columns.date.filter(|_| is_time_of_day(cell)) {
                    columns.time = TimeField {
                        field: date,
                        time_of_day: Some(columns.time.field),
                    };
                } else {
                    columns.time_form = TimeForm::of_dates(cell).map_err(refuse)?;
                }
            }
            TimeForm::Seconds => {
                // The first one may be a midnight, without a part of a day.
                let mut rows = Records::new(&self.start[head.bytes..], head.delimiter);
                for _ in 0..DAY_NUMBER_ROWS {
                    if !matches!(rows.advance(), Ok(true)) {
                        break;
                    }
                    let mut joined = Vec::new();
                    let cell = columns.time.cell(rows.fields(), &mut joined);
                    if TimeForm::is_day_number(cell) {
                        let kind = LogErrorKind::NotATime {
                            found: quote(cell),
                            fault: TimeFault::DayNumber,
                        };
                        return Err((head.lines + rows.lines_before() + 1, kind));
                    }
                }
            }
            _ => {}
        }
        Ok(())
    }

    /// The order of day and month, where the times leave it open: as the first date with a day beyond 12 shows it, in a file
    /// wherever it stands.
    fn order_of_dates(
        &mut self,
        head: &Head,
        columns: &Columns,
    ) -> Result<Option<DateOrder>, LogErrorKind> {
        let rows = &self.start[head.bytes..];
        let mut first_rows = Records::new(rows, head.delimiter);
        // What is wrong with a record is told when its row is read.
        if !matches!(first_rows.advance(), Ok(true))
            || !needs_order(columns.time.cell(first_rows.fields(), &mut Vec::new()))
        {
            return Ok(None);
        }
        match &mut self.rest {
            Rest::Whole { source, .. } => {
                source.seek(SeekFrom::Start(head.bytes as u64))?;
                Ok(first_order(
                    Records::new(source, head.delimiter),
                    columns.time,
                ))
            }
            Rest::Pipe(_) => Ok(first_order(
                Records::new(rows, head.delimiter),
                columns.time,
            )),
        }
    }
}

/// A log set up for reading.
pub(super) struct Rows {
    /// Bytes before the first row.
    pub(super) head_bytes: u64,
    pub(super) records: Records<Box<dyn Read + Send>>,
    pub(super) time: TimeReader,
    pub(super) interval: MovingMedian,
    pub(super) numbering: Numbering,
}

/// From a record's place in the order of reading to its line in the file.
#[derive(Clone, Debug)]
pub(super) struct Numbering {
    /// Lines before the first row.
    lines_before: u64,
    /// Lines from there on, in a log that is read from its end.
    reversed_lines: Option<u64>,
    /// Line of each row in the table a log was made from.
    table_lines: Option<Vec<u64>>,
}

impl Numbering {
    /// The line, from 1, of a record with `lines_before` lines read before it.
    pub(super) fn line(&self, lines_before: u64) -> u64 {
        let of_table = self
            .table_lines
            .as_ref()
            .and_then(|lines| lines.get(usize::try_from(lines_before).ok()?));
        if let Some(line) = of_table {
            return *line;
        }
        match self.reversed_lines {
            None => self.lines_before + lines_before + 1,
            Some(lines) => self.lines_before + lines.saturating_sub(lines_before),
        }
    }

    /// With the lines of the table that a log was made from.
    pub(super) fn of_table(self, lines: Vec<u64>) -> Self {
        Self {
            table_lines: Some(lines),
            ..self
        }
    }

    pub(super) fn is_reversed(&self) -> bool {
        self.reversed_lines.is_some()
    }
}

/// The first distinct times, as many as the median's window asks for, up to the first row that cannot be read.
fn first_times<R: Read>(
    mut records: Records<R>,
    field: TimeField,
    mut time: TimeReader,
) -> Vec<i64> {
    let mut times: Vec<i64> = Vec::new();
    let mut joined = Vec::new();
    while times.len() <= WINDOW && matches!(records.advance(), Ok(true)) {
        let Ok(time_ms) = time.read(field.cell(records.fields(), &mut joined)) else {
            break;
        };
        if times.last() != Some(&time_ms) {
            times.push(time_ms);
        }
    }
    times
}

fn first_order<R: Read>(mut records: Records<R>, field: TimeField) -> Option<DateOrder> {
    let mut joined = Vec::new();
    // Most rows have the date of the row before.
    let mut date = Vec::new();
    while matches!(records.advance(), Ok(true)) {
        let cell = field.cell(records.fields(), &mut joined);
        let same = !date.is_empty() && cell.starts_with(&date);
        if !same {
            if let Some(order) = order_shown(cell) {
                return Some(order);
            }
            date.clear();
            date.extend(
                cell.iter()
                    .copied()
                    .take_while(|byte| *byte != b' ' && *byte != b'T'),
            );
        }
    }
    None
}

fn count_lines(source: &mut impl Read) -> io::Result<u64> {
    let mut block = vec![0; START];
    let mut lines = 0;
    let mut last = b'\n';
    loop {
        match source.read(&mut block) {
            Ok(0) => break,
            Ok(count) => {
                lines += memchr_iter(b'\n', &block[..count]).count() as u64;
                last = block[count - 1];
            }
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
    Ok(lines + u64::from(last != b'\n'))
}

impl From<io::Error> for LogErrorKind {
    fn from(error: io::Error) -> LogErrorKind {
        LogErrorKind::Io(error)
    }
}
