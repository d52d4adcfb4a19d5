//! The log's rows, one ahead, and what they say of each reading.

use controller_core::sensor::{BySensor, ReadFault, Sample};
use controller_core::time::Instant;
use controller_core::units::Celsius;

use super::event::{Recorded, parse_event};
use super::{TRACE_COLUMNS, at};
use crate::log::{Cell, LogError, LogReader, LogRow};

/// Index of the extra columns.
const FEEDBACK: usize = 4;
const EVENT: usize = 5;

pub(super) struct Rows {
    reader: LogReader,
    is_trace: bool,
    /// The row that stands and its statuses.
    standing: Option<(LogRow, [Status; 4])>,
    /// The row after it, already read.
    ahead: Option<(LogRow, [Status; 4])>,
    first_ms: i64,
    last: Instant,
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
        let mut rows = Self {
            reader,
            is_trace,
            standing: None,
            ahead: None,
            first_ms: 0,
            last: Instant::from_millis(0),
        };
        if !is_trace {
            rows.ahead = rows.read()?;
            rows.first_ms = rows.ahead.map_or(0, |(row, _)| row.time_ms);
        }
        Ok(rows)
    }

    pub(super) const fn is_trace(&self) -> bool {
        self.is_trace
    }
    pub(super) const fn first_ms(&self) -> i64 {
        self.first_ms
    }
    pub(super) fn median_ms(&self) -> Option<i64> {
        self.reader.median_interval_ms()
    }
    pub(super) fn bytes_read(&self) -> u64 {
        self.reader.bytes_read()
    }
    pub(super) fn into_reader(self) -> LogReader {
        self.reader
    }

    /// The latest time the log is known to reach.
    pub(super) const fn end(&self) -> Instant {
        self.last
    }

    fn read(&mut self) -> Result<Option<(LogRow, [Status; 4])>, LogError> {
        let Some(row) = self.reader.next_row()? else { return Ok(None) };
        self.last = at(row.time_ms);
        let mut statuses = [Status::Unsaid; 4];
        if self.is_trace {
            for (index, status) in statuses.iter_mut().enumerate() {
                *status = self.status(index)?;
            }
        }
        Ok(Some((row, statuses)))
    }

    fn status(&self, index: usize) -> Result<Status, LogError> {
        let word = self.reader.extra(index);
        match word {
            b"" | b"ok" => return Ok(Status::Unsaid),
            b"frame" => return Ok(Status::Framed),
            _ => {}
        }
        Sample::FAULT_WORDS
            .iter()
            .find(|(known, _)| known.as_bytes() == word)
            .map(|(_, fault)| Status::Failed(*fault))
            .ok_or_else(|| self.reader.reject_extra(index, "ok, frame, or why the read failed: missing, absent, checksum, power_on, short, impossible"))
    }

    /// The next row of a trace.
    pub(super) fn next_row(&mut self) -> Result<Option<LogRow>, LogError> {
        self.standing = self.read()?;
        Ok(self.standing.map(|(row, _)| row))
    }

    /// Makes the last row read the one that stands, with nothing read ahead.
    pub(super) fn stand(&mut self, row: LogRow) {
        let statuses = self.standing.map_or([Status::Unsaid; 4], |(_, statuses)| statuses);
        self.standing = Some((row, statuses));
        self.ahead = None;
    }

    /// Moves on to the last row not after `wanted`; false when the log ends before it.
    pub(super) fn advance_to(&mut self, wanted: Instant) -> Result<bool, LogError> {
        loop {
            if self.ahead.is_none() {
                self.ahead = self.read()?;
            }
            match self.ahead {
                Some((row, _)) if at(row.time_ms) <= wanted => self.standing = self.ahead.take(),
                Some(_) => return Ok(true),
                // The last row stands at its own time and no longer.
                None => return Ok(self.standing.is_some_and(|(row, _)| at(row.time_ms) == wanted)),
            }
        }
    }

    /// The row that stands at `wanted`, unless it is too old.
    pub(super) fn standing_at(&self, wanted: Instant) -> Option<LogRow> {
        let (row, _) = self.standing?;
        let age = wanted.since(at(row.time_ms)).as_millis();
        let limit = self.reader.median_interval_ms().unwrap_or(0);
        let limit = u32::try_from(limit + limit / 2).unwrap_or(u32::MAX);
        (age <= limit).then_some(row)
    }

    /// The samples of a row; all missing in a gap.
    pub(super) fn samples(&self, row: Option<&LogRow>) -> Result<BySensor<Sample>, LogError> {
        let Some(row) = row else { return Ok(BySensor::from_fn(|_| Sample::default())) };
        let statuses = self.standing.map_or([Status::Unsaid; 4], |(_, statuses)| statuses);
        let [supply, ret, slab, outdoor] = statuses;
        Ok(BySensor {
            supply: sample(row.supply, supply),
            ret: sample(row.return_, ret),
            slab: sample(row.slab, slab),
            outdoor: sample(row.outdoor, outdoor),
        })
    }

    /// What the trace's feedback column says.
    pub(super) fn pump_feedback(&self) -> Result<Option<bool>, LogError> {
        match self.reader.extra(FEEDBACK) {
            b"" => Ok(None),
            b"0" => Ok(Some(false)),
            b"1" => Ok(Some(true)),
            _ => Err(self.reader.reject_extra(FEEDBACK, "0, 1 or nothing")),
        }
    }

    /// What the trace's event column says.
    pub(super) fn recorded(&self) -> Result<Recorded, LogError> {
        let text = std::str::from_utf8(self.reader.extra(EVENT)).unwrap_or("?");
        parse_event(text).map_err(|expected| self.reader.reject_extra(EVENT, &expected))
    }
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
