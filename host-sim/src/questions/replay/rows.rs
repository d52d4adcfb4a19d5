//! The log's rows, one looked at ahead, and the samples they make.
//!
//! An ordinary log is read on a thread of its own, batches ahead, and each row is made ready there:
//! what is left beside the controller's step is one copy. A trace is read in place: its rows need their
//! statuses and events.

use std::sync::mpsc::{Receiver, sync_channel};
use std::thread::JoinHandle;

use controller_core::ActualRelays;
use controller_core::sensor::{BySensor, ReadFault, Sample};
use controller_core::time::Instant;
use controller_core::units::Celsius;

use super::{at, is_trace};
use crate::account::event::{Recorded, parse_event};
use crate::files::log::{Cell, LogError, LogReader, LogRow, LogStart};

/// Index of the extra columns.
const FEEDBACK: usize = 4;
pub(super) const EVENT: usize = 5;
const SHADOW: usize = 6;
const ACTUAL: [usize; 2] = [7, 8];

pub(super) struct Rows {
    source: Source,
    is_trace: bool,
    first_ms: i64,
    /// Rows already read, and how many of them have been taken.
    batch: Vec<Read>,
    taken: usize,
    /// The row that stands.
    standing: Option<Read>,
    /// Up to where the log was accounted for, and the time since last asked in which a row stood, ms.
    accounted_ms: u64,
    covered_ms: u64,
}

/// Where rows come from.
enum Source {
    InPlace(Box<LogReader>),
    Ahead(ReadAhead),
    /// Only while one turns into the other.
    Gone,
}

/// A row as the controller takes it.
#[derive(Clone, Copy)]
pub(super) struct Read {
    pub(super) row: LogRow,
    pub(super) time: Instant,
    pub(super) samples: BySensor<Sample>,
    /// The trace's feedback column.
    pub(super) feedback: Option<bool>,
    /// In a trace of a controller in shadow mode: what ran.
    pub(super) shadow: Option<ActualRelays>,
    /// How long it may stand, ms.
    stands_ms: u32,
}

/// Batches read by a thread.
struct ReadAhead {
    batches: Receiver<Batch>,
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

/// Makes the next rows ready; true at the log's end.
fn gather(reader: &mut LogReader, rows: &mut Vec<Read>) -> Result<bool, LogError> {
    while rows.len() < BATCH {
        match reader.next_row()? {
            Some(row) => rows.push(Read::new(row, reader)),
            None => return Ok(true),
        }
    }
    Ok(false)
}

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
                let ended = match gather(&mut reader, &mut batch.rows) {
                    Ok(ended) => ended,
                    Err(error) => {
                        batch.error = Some(error);
                        true
                    }
                };
                batch.bytes = reader.bytes_read();
                // Nobody listens any more when the replay was stopped.
                if sender.send(batch).is_err() || ended {
                    return reader;
                }
            }
        });
        Self {
            batches,
            bytes: 0,
            thread,
        }
    }

    fn read(&mut self, rows: &mut Vec<Read>) -> Result<(), LogError> {
        let Ok(batch) = self.batches.recv() else {
            return Ok(());
        };
        self.bytes = batch.bytes;
        *rows = batch.rows;
        // Rows before the wrong one do not matter: nothing will be written.
        batch.error.map_or(Ok(()), Err)
    }
}

impl Read {
    /// A log in seconds keeps its own zero, so that a trace read back has the same times.
    fn new(mut row: LogRow, reader: &LogReader) -> Self {
        if let LogStart::Seconds { ms } = reader.start() {
            row.time_ms += ms.max(0);
        }
        Self {
            row,
            time: at(row.time_ms),
            samples: BySensor {
                supply: sample(row.supply),
                ret: sample(row.return_),
                slab: sample(row.slab),
                outdoor: sample(row.outdoor),
            },
            feedback: None,
            shadow: None,
            stands_ms: u32::try_from(reader.holds_ms()).unwrap_or(u32::MAX),
        }
    }

    /// With what a trace's further columns say.
    fn of_trace(row: LogRow, reader: &LogReader) -> Result<Self, LogError> {
        let mut read = Self::new(row, reader);
        let samples = &mut read.samples;
        for (index, sample) in [
            &mut samples.supply,
            &mut samples.ret,
            &mut samples.slab,
            &mut samples.outdoor,
        ]
        .into_iter()
        .enumerate()
        {
            *sample = with_status(*sample, reader, index)?;
        }
        let flag = |column| match reader.extra(column) {
            b"" => Ok(None),
            b"0" => Ok(Some(false)),
            b"1" => Ok(Some(true)),
            _ => Err(reader.reject_extra(column, "0, 1 or nothing")),
        };
        read.feedback = flag(FEEDBACK)?;
        if flag(SHADOW)? == Some(true) {
            let actual = ActualRelays {
                circulator: flag(ACTUAL[0])?,
                boiler_call: flag(ACTUAL[1])?,
            };
            read.shadow = Some(actual);
            (read.row.circulator, read.row.boiler_call) = (actual.circulator, actual.boiler_call);
        }
        Ok(read)
    }
}

impl Rows {
    pub(super) fn new(reader: LogReader) -> Result<Self, LogError> {
        let is_trace = is_trace(&reader);
        // A browser's WebAssembly has no threads.
        let source = if is_trace || cfg!(target_family = "wasm") {
            Source::InPlace(Box::new(reader))
        } else {
            Source::Ahead(ReadAhead::start(reader))
        };
        let mut rows = Self {
            source,
            is_trace,
            first_ms: 0,
            batch: Vec::new(),
            taken: 0,
            standing: None,
            accounted_ms: 0,
            covered_ms: 0,
        };
        if !is_trace && rows.read()? {
            rows.first_ms = rows.batch[0].row.time_ms;
        }
        Ok(rows)
    }

    pub(super) const fn is_trace(&self) -> bool {
        self.is_trace
    }
    pub(super) const fn first_ms(&self) -> i64 {
        self.first_ms
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

    /// The time of the row that stands; after the log's end that of its last row.
    pub(super) fn last_time(&self) -> Instant {
        self.standing.as_ref().map_or(at(0), |read| read.time)
    }

    /// The time of the row after the last one of a trace.
    pub(super) fn next_time(&self) -> Option<Instant> {
        match &self.source {
            Source::InPlace(reader) => {
                Some(at(self.standing?.row.time_ms + reader.next_interval_ms()?))
            }
            Source::Ahead(_) | Source::Gone => None,
        }
    }

    /// How long a row stood since this was last asked, ms.
    pub(super) fn take_covered(&mut self) -> u64 {
        std::mem::take(&mut self.covered_ms)
    }

    /// Counts the time in which the standing row stands, up to `until`.
    fn account(&mut self, until: Instant) {
        let until_ms = until.as_millis();
        if let Some(read) = &self.standing {
            let begin_ms = read.time.as_millis();
            let from_ms = self.accounted_ms.max(begin_ms);
            let to_ms = until_ms.min(begin_ms + u64::from(read.stands_ms));
            self.covered_ms += to_ms.saturating_sub(from_ms);
        }
        self.accounted_ms = until_ms;
    }

    /// Replaces the batch by the next rows; false when there are none.
    #[inline(never)]
    fn read(&mut self) -> Result<bool, LogError> {
        self.batch.clear();
        self.taken = 0;
        match &mut self.source {
            Source::InPlace(reader) if !self.is_trace => {
                gather(reader, &mut self.batch)?;
            }
            Source::InPlace(reader) => {
                if let Some(row) = reader.next_row()? {
                    self.batch.push(Read::of_trace(row, reader)?);
                }
            }
            Source::Ahead(ahead) => ahead.read(&mut self.batch)?,
            Source::Gone => {}
        }
        Ok(!self.batch.is_empty())
    }

    /// The next row of a trace.
    pub(super) fn next_row(&mut self) -> Result<Option<Read>, LogError> {
        self.standing = if self.read()? {
            self.taken = 1;
            Some(self.batch[0])
        } else {
            None
        };
        Ok(self.standing)
    }

    /// Moves on to the last row not after `wanted`; false when the log ends before it.
    pub(super) fn advance_to(&mut self, wanted: Instant) -> Result<bool, LogError> {
        loop {
            while let Some(read) = self.batch.get(self.taken) {
                if read.time > wanted {
                    self.account(wanted);
                    return Ok(true);
                }
                let read = *read;
                self.account(read.time);
                self.standing = Some(read);
                self.taken += 1;
            }
            if !self.read()? {
                // The last row stands at its own time and no longer.
                return Ok(self.standing.is_some_and(|read| read.time == wanted));
            }
        }
    }

    /// The row that stands at `wanted`, unless it is too old.
    pub(super) fn standing_at(&self, wanted: Instant) -> Option<&Read> {
        self.standing
            .as_ref()
            .filter(|read| wanted.since(read.time).as_millis() <= read.stands_ms)
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

/// What a cell says by itself.
fn sample(cell: Cell) -> Sample {
    match cell {
        Cell::Missing => Sample::Failed(ReadFault::Missing),
        Cell::OutOfRange => Sample::Failed(ReadFault::Impossible),
        Cell::Reading(n) => Sample::Value(Celsius::from_128ths(n)),
    }
}

/// The same with what a trace's status column says.
fn with_status(sample: Sample, reader: &LogReader, index: usize) -> Result<Sample, LogError> {
    let word = reader.extra(index);
    match (word, sample) {
        (b"" | b"ok", _) | (b"frame", Sample::Failed(_)) => return Ok(sample),
        (b"frame", Sample::Value(value) | Sample::Framed(value)) => {
            return Ok(Sample::Framed(value));
        }
        _ => {}
    }
    Sample::FAULT_WORDS
        .iter()
        .find(|(known, _)| known.as_bytes() == word)
        .map(|(_, fault)| Sample::Failed(*fault))
        .ok_or_else(|| {
            reader.reject_extra(
                index,
                "ok, frame, or why the read failed: missing, absent, checksum, power_on, short, impossible",
            )
        })
}
