//! The log's rows, one ahead, and what they say of each reading.
//!
//! An ordinary log is read on a thread of its own, a batch ahead, since reading costs as much as
//! deciding. A trace is read in place: its rows need their statuses and events.

use std::sync::mpsc::{Receiver, sync_channel};
use std::thread::JoinHandle;

use controller_core::sensor::{BySensor, ReadFault, Sample};
use controller_core::time::Instant;
use controller_core::units::Celsius;

use super::event::{Recorded, parse_event};
use super::{TRACE_COLUMNS, at};
use crate::log::{Cell, LogError, LogReader, LogRow, LogStart};

/// Index of the extra columns.
const FEEDBACK: usize = 4;
const EVENT: usize = 5;

pub(super) struct Rows {
    source: Source,
    is_trace: bool,
    /// Median interval when the log was opened.
    median_ms: Option<i64>,
    /// The row that stands.
    standing: Option<Read>,
    /// The row after it, already read.
    ahead: Option<Read>,
    first_ms: i64,
    last: Instant,
}

/// Where rows come from.
enum Source {
    InPlace(Box<LogReader>),
    Ahead(ReadAhead),
    /// Only while one turns into the other.
    Gone,
}

/// A row with how long it may stand.
#[derive(Clone, Copy)]
struct Read {
    row: LogRow,
    statuses: [Status; 4],
    /// The trace's feedback column.
    feedback: Option<bool>,
    stands_ms: u32,
}

/// Batches read by a thread.
struct ReadAhead {
    batches: Receiver<Batch>,
    batch: Vec<Read>,
    next: usize,
    bytes: u64,
    thread: JoinHandle<LogReader>,
}

struct Batch {
    rows: Vec<Read>,
    bytes: u64,
    error: Option<LogError>,
}

/// Rows in a batch, and batches waiting: some hundred kilobytes.
const BATCH: usize = 1_024;
const WAITING: usize = 4;

impl ReadAhead {
    fn start(mut reader: LogReader) -> Self {
        let (sender, batches) = sync_channel(WAITING);
        let thread = std::thread::spawn(move || {
            loop {
                let mut batch = Batch {
                    rows: Vec::with_capacity(BATCH),
                    bytes: 0,
                    error: None,
                };
                let mut ended = false;
                while batch.rows.len() < BATCH && !ended {
                    match reader.next_row() {
                        Ok(Some(row)) => batch.rows.push(Read::new(row, &reader)),
                        Ok(None) => ended = true,
                        Err(error) => {
                            batch.error = Some(error);
                            ended = true;
                        }
                    }
                }
                batch.bytes = reader.bytes_read();
                // Nobody listens any more when the replay was stopped.
                if sender.send(batch).is_err() || ended {
                    return reader;
                }
            }
        });
        Self {
            batches,
            batch: Vec::new(),
            next: 0,
            bytes: 0,
            thread,
        }
    }

    fn read(&mut self) -> Result<Option<Read>, LogError> {
        if let Some(read) = self.batch.get(self.next) {
            self.next += 1;
            return Ok(Some(*read));
        }
        let Ok(batch) = self.batches.recv() else {
            return Ok(None);
        };
        self.bytes = batch.bytes;
        self.batch = batch.rows;
        self.next = 1;
        match (self.batch.first(), batch.error) {
            (Some(first), None) => Ok(Some(*first)),
            // Rows before the wrong one do not matter: nothing will be written.
            (_, Some(error)) => Err(error),
            (None, None) => Ok(None),
        }
    }
}

impl Read {
    /// A log in seconds keeps its own zero, so that a trace read back has the same times.
    fn new(mut row: LogRow, reader: &LogReader) -> Self {
        if let LogStart::Seconds { ms } = reader.start() {
            row.time_ms += ms.max(0);
        }
        let median = reader.median_interval_ms().unwrap_or(0);
        Self {
            row,
            statuses: [Status::Unsaid; 4],
            feedback: None,
            stands_ms: u32::try_from(median + median / 2).unwrap_or(u32::MAX),
        }
    }
}

/// What a status column says beside the number.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Status {
    /// No such column, or empty: as the cell says.
    Unsaid,
    Framed,
    Failed(ReadFault),
}

impl Rows {
    pub(super) fn new(reader: LogReader) -> Result<Self, LogError> {
        let is_trace = (0..TRACE_COLUMNS.len()).all(|index| reader.has_extra(index));
        let median_ms = reader.median_interval_ms();
        let source = if is_trace {
            Source::InPlace(Box::new(reader))
        } else {
            Source::Ahead(ReadAhead::start(reader))
        };
        let mut rows = Self {
            source,
            is_trace,
            median_ms,
            standing: None,
            ahead: None,
            first_ms: 0,
            last: Instant::from_millis(0),
        };
        if !is_trace {
            rows.ahead = rows.read()?;
            rows.first_ms = rows.ahead.map_or(0, |read| read.row.time_ms);
        }
        Ok(rows)
    }

    pub(super) const fn is_trace(&self) -> bool {
        self.is_trace
    }
    pub(super) const fn first_ms(&self) -> i64 {
        self.first_ms
    }
    pub(super) const fn median_ms(&self) -> Option<i64> {
        self.median_ms
    }
    pub(super) fn bytes_read(&self) -> u64 {
        match &self.source {
            Source::InPlace(reader) => reader.bytes_read(),
            Source::Ahead(ahead) => ahead.bytes,
            Source::Gone => 0,
        }
    }

    /// The reader itself, with its account of the whole log. `None` if its thread died.
    pub(super) fn into_reader(mut self) -> Option<LogReader> {
        match std::mem::replace(&mut self.source, Source::Gone) {
            Source::InPlace(reader) => Some(*reader),
            Source::Ahead(ahead) => {
                drop(ahead.batches);
                ahead.thread.join().ok()
            }
            Source::Gone => None,
        }
    }

    /// The latest time the log is known to reach.
    pub(super) const fn end(&self) -> Instant {
        self.last
    }

    fn read(&mut self) -> Result<Option<Read>, LogError> {
        let read = match &mut self.source {
            Source::InPlace(reader) => match reader.next_row()? {
                Some(row) => {
                    let mut read = Read::new(row, reader);
                    for (index, status) in read.statuses.iter_mut().enumerate() {
                        *status = status_of(reader, index)?;
                    }
                    read.feedback = match reader.extra(FEEDBACK) {
                        b"" => None,
                        b"0" => Some(false),
                        b"1" => Some(true),
                        _ => return Err(reader.reject_extra(FEEDBACK, "0, 1 or nothing")),
                    };
                    Some(read)
                }
                None => None,
            },
            Source::Ahead(ahead) => ahead.read()?,
            Source::Gone => None,
        };
        if let Some(read) = &read {
            self.last = at(read.row.time_ms);
        }
        Ok(read)
    }

    /// The next row of a trace.
    pub(super) fn next_row(&mut self) -> Result<Option<LogRow>, LogError> {
        self.standing = self.read()?;
        Ok(self.standing.map(|read| read.row))
    }

    /// Moves on to the last row not after `wanted`; false when the log ends before it.
    pub(super) fn advance_to(&mut self, wanted: Instant) -> Result<bool, LogError> {
        loop {
            if self.ahead.is_none() {
                self.ahead = self.read()?;
            }
            match self.ahead {
                Some(read) if at(read.row.time_ms) <= wanted => self.standing = self.ahead.take(),
                Some(_) => return Ok(true),
                // The last row stands at its own time and no longer.
                None => {
                    return Ok(self
                        .standing
                        .is_some_and(|read| at(read.row.time_ms) == wanted));
                }
            }
        }
    }

    /// The row that stands at `wanted`, unless it is too old.
    pub(super) fn standing_at(&self, wanted: Instant) -> Option<LogRow> {
        let read = self.standing?;
        let age = wanted.since(at(read.row.time_ms)).as_millis();
        (age <= read.stands_ms).then_some(read.row)
    }

    /// The samples of a row; all missing in a gap.
    pub(super) fn samples(&self, row: Option<&LogRow>) -> BySensor<Sample> {
        let Some(row) = row else {
            return BySensor::from_fn(|_| Sample::default());
        };
        let statuses = self
            .standing
            .map_or([Status::Unsaid; 4], |read| read.statuses);
        let [supply, ret, slab, outdoor] = statuses;
        BySensor {
            supply: sample(row.supply, supply),
            ret: sample(row.return_, ret),
            slab: sample(row.slab, slab),
            outdoor: sample(row.outdoor, outdoor),
        }
    }

    /// What the trace's feedback column says of the row that stands.
    pub(super) fn pump_feedback(&self) -> Option<bool> {
        self.standing.and_then(|read| read.feedback)
    }

    /// What the trace's event column says.
    pub(super) fn recorded(&self) -> Result<Recorded, LogError> {
        let Source::InPlace(reader) = &self.source else {
            return Ok(Recorded::Nothing);
        };
        let text = std::str::from_utf8(reader.extra(EVENT)).unwrap_or("?");
        parse_event(text).map_err(|expected| reader.reject_extra(EVENT, &expected))
    }
}

/// What a trace's status column says.
fn status_of(reader: &LogReader, index: usize) -> Result<Status, LogError> {
    let word = reader.extra(index);
    match word {
        b"" | b"ok" => return Ok(Status::Unsaid),
        b"frame" => return Ok(Status::Framed),
        _ => {}
    }
    Sample::FAULT_WORDS
        .iter()
        .find(|(known, _)| known.as_bytes() == word)
        .map(|(_, fault)| Status::Failed(*fault))
        .ok_or_else(|| {
            reader.reject_extra(
                index,
                "ok, frame, or why the read failed: missing, absent, checksum, power_on, short, impossible",
            )
        })
}

fn sample(cell: Cell, status: Status) -> Sample {
    match (status, cell) {
        (Status::Failed(fault), _) => Sample::Failed(fault),
        (_, Cell::Missing) => Sample::Failed(ReadFault::Missing),
        (_, Cell::OutOfRange) => Sample::Failed(ReadFault::Impossible),
        (Status::Framed, Cell::Reading(n)) => Sample::Framed(Celsius::from_128ths(n)),
        (Status::Unsaid, Cell::Reading(n)) => Sample::Value(Celsius::from_128ths(n)),
    }
}
