//! A log by the minute: the mean of every reading, the share of the minute the circulator ran, the wall clock.
//!
//! Rows closer than a minute are averaged; between rows further apart a reading goes in a straight line and a relay and the
//! water stand as they were. Nothing is bridged that lasts longer than half an hour.

use jiff::civil::DateTime;
use jiff::{SignedDuration, Timestamp};

use crate::files::log::{Cell, LogError, LogReader, LogRow, LogStart};

/// Readings kept of a row: slab, outdoor, store, air (which go in a line between rows), then supply and return (which stand).
pub const READINGS: usize = 6;
/// Index of each.
pub const SLAB: usize = 0;
/// Outdoor air.
pub const OUTDOOR: usize = 1;
/// Store air.
pub const STORE: usize = 2;
/// House air.
pub const AIR: usize = 3;
/// Water entering the slab.
pub const SUPPLY: usize = 4;
/// Water leaving the slab.
pub const RETURN: usize = 5;

/// Longest time a row stands for, ms.
pub const LONGEST_MS: i64 = 30 * 60_000;
const MINUTE_MS: i64 = 60_000;

/// One row of a log as numbers; not a number where nothing is known.
#[derive(Clone, Copy, Debug)]
pub struct Row {
    /// Readings, °C, in the order of the constants above.
    pub readings: [f64; READINGS],
    /// Whether the circulator ran.
    pub runs: Option<bool>,
    /// Whether the boiler was called.
    pub called: bool,
}

impl From<&LogRow> for Row {
    fn from(row: &LogRow) -> Self {
        let cells = [
            row.slab,
            row.outdoor,
            row.store,
            row.air,
            row.supply,
            row.return_,
        ];
        let celsius = |cell| match cell {
            Cell::Reading(n) => f64::from(n) / 128.0,
            Cell::Missing | Cell::OutOfRange => f64::NAN,
        };
        Self {
            readings: cells.map(celsius),
            runs: row.circulator,
            called: row.boiler_call == Some(true),
        }
    }
}

/// A minute of the log.
#[derive(Clone, Copy, Debug)]
pub struct Minute {
    /// Means, °C; not a number where nothing was read.
    pub readings: [f32; READINGS],
    /// By how much supply and return rose while the circulator ran, K: what a sensor that lags has still to show.
    pub rise_k: [f32; 2],
    /// Share of the minute the circulator ran; not a number where the log does not say.
    pub runs: f32,
    /// Whether the boiler was called at any time of it.
    pub called: bool,
}

impl Minute {
    const NOTHING: Minute = Minute {
        readings: [f32::NAN; READINGS],
        rise_k: [0.0; 2],
        runs: f32::NAN,
        called: false,
    };

    /// One reading, if there is one.
    #[must_use]
    pub fn reading(&self, which: usize) -> Option<f64> {
        let value = f64::from(self.readings[which]);
        (!value.is_nan()).then_some(value)
    }
}

/// A log by the minute.
#[derive(Clone, Debug)]
pub struct Record {
    /// Local time at the beginning of the first minute; its seconds are zero.
    pub start: DateTime,
    /// Minute by minute.
    pub minutes: Vec<Minute>,
    /// The log's usual interval, ms.
    pub interval_ms: i64,
}

/// Sums of the minute that is being read.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    readings: [(f64, f64); READINGS],
    rise_k: [f64; 2],
    ran_ms: f64,
    told_ms: f64,
    called: bool,
}

impl Sums {
    fn minute(&self) -> Minute {
        let mean = |(sum, weight): (f64, f64)| {
            if weight > 0.0 {
                (sum / weight) as f32
            } else {
                f32::NAN
            }
        };
        Minute {
            readings: self.readings.map(mean),
            rise_k: self.rise_k.map(|rise| rise as f32),
            runs: mean((self.ran_ms, self.told_ms)),
            called: self.called,
        }
    }
}

/// Makes a [`Record`] of rows in order of time.
#[derive(Debug)]
pub struct Recorder {
    /// From the first minute's beginning to the first row, ms.
    into_ms: i64,
    start: DateTime,
    minutes: Vec<Minute>,
    minute: usize,
    sums: Sums,
    before: Option<(i64, Row)>,
}

impl Recorder {
    /// A log whose first row stands at `first`.
    #[must_use]
    pub fn new(first: DateTime) -> Self {
        let into_ms = i64::from(first.second()) * 1_000 + i64::from(first.millisecond());
        Self {
            into_ms,
            start: first.saturating_sub(SignedDuration::from_millis(into_ms)),
            minutes: Vec::new(),
            minute: 0,
            sums: Sums::default(),
            before: None,
        }
    }

    /// The next row, `time_ms` after the first.
    pub fn push(&mut self, time_ms: i64, row: Row) {
        if let Some((then_ms, before)) = self.before {
            self.between(then_ms, &before, time_ms, &row);
        }
        self.before = Some((time_ms, row));
    }

    /// What the time between two rows tells.
    fn between(&mut self, from_ms: i64, before: &Row, to_ms: i64, after: &Row) {
        let length_ms = to_ms - from_ms;
        if length_ms > LONGEST_MS {
            return;
        }
        let mut at_ms = from_ms;
        while at_ms < to_ms {
            let since_ms = at_ms + self.into_ms;
            let minute = (since_ms / MINUTE_MS) as usize;
            let until_ms = ((minute as i64 + 1) * MINUTE_MS - self.into_ms).min(to_ms);
            self.turn_to(minute);
            let weight = (until_ms - at_ms) as f64;
            // A log of more than one row a minute needs no line between rows.
            let share = if length_ms > MINUTE_MS {
                (0.5 * (at_ms + until_ms) as f64 - from_ms as f64) / length_ms as f64
            } else {
                0.0
            };
            self.add(before, after, share, weight, weight / length_ms as f64);
            at_ms = until_ms;
        }
    }

    fn add(&mut self, before: &Row, after: &Row, share: f64, weight: f64, part: f64) {
        let sums = &mut self.sums;
        for which in [SLAB, OUTDOOR, STORE, AIR] {
            let (from, to) = (before.readings[which], after.readings[which]);
            let value = if share > 0.0 {
                from + (to - from) * share
            } else {
                from
            };
            if !value.is_nan() {
                sums.readings[which].0 += value * weight;
                sums.readings[which].1 += weight;
            }
        }
        let Some(runs) = before.runs else { return };
        sums.told_ms += weight;
        sums.called |= before.called;
        if runs {
            sums.ran_ms += weight;
            // Water tells only while it moves.
            for (rise, which) in [SUPPLY, RETURN].into_iter().enumerate() {
                if !before.readings[which].is_nan() {
                    sums.readings[which].0 += before.readings[which] * weight;
                    sums.readings[which].1 += weight;
                }
                let risen = (after.readings[which] - before.readings[which]) * part;
                if !risen.is_nan() {
                    sums.rise_k[rise] += risen;
                }
            }
        }
    }

    fn turn_to(&mut self, minute: usize) {
        if minute == self.minute {
            return;
        }
        self.minutes.push(self.sums.minute());
        self.sums = Sums::default();
        self.minutes.resize(minute, Minute::NOTHING);
        self.minute = minute;
    }

    /// The end of the log; `interval_ms` is its usual interval.
    #[must_use]
    pub fn finish(mut self, interval_ms: i64) -> Record {
        self.minutes.push(self.sums.minute());
        Record {
            start: self.start,
            minutes: self.minutes,
            interval_ms,
        }
    }
}

/// When the first row was, by the wall clock at the house; `None` where the log counts seconds from an unknown start.
#[must_use]
pub fn first_row(start: LogStart) -> Option<DateTime> {
    match start {
        LogStart::Local(start) => Some(start),
        LogStart::Instant { at, offset } => Some(offset.to_datetime(at)),
        LogStart::Seconds { ms } => {
            // Seconds since 1970 are a date of this century; less is a unit's own time since its start.
            const YEAR_2000_MS: i64 = 946_684_800_000;
            let at = Timestamp::from_millisecond(ms).ok()?;
            (ms > YEAR_2000_MS).then(|| jiff::tz::Offset::UTC.to_datetime(at))
        }
    }
}

/// Reads a log to its end; `first` is when its first row was. `seen` hears how many bytes are done.
///
/// # Errors
/// The first thing wrong in the log.
pub fn read(
    reader: &mut LogReader,
    first: DateTime,
    seen: &mut dyn FnMut(u64),
) -> Result<Record, LogError> {
    let mut recorder = Recorder::new(first);
    let mut rows = 0_u64;
    while let Some(row) = reader.next_row()? {
        recorder.push(row.time_ms, Row::from(&row));
        rows += 1;
        if rows.is_multiple_of(4096) {
            seen(reader.bytes_read());
        }
    }
    Ok(recorder.finish(reader.median_interval_ms().unwrap_or(0)))
}

impl Record {
    /// Local time at the beginning of a minute.
    #[must_use]
    pub fn at(&self, minute: usize) -> DateTime {
        let minutes = i64::try_from(minute).unwrap_or(i64::MAX / 60_000);
        self.start
            .saturating_add(SignedDuration::from_mins(minutes))
    }

    /// Minutes from local midnight to the first minute.
    #[must_use]
    pub fn into_day(&self) -> usize {
        let time = self.start.time();
        usize::from(time.hour().unsigned_abs()) * 60 + usize::from(time.minute().unsigned_abs())
    }

    /// Mean of a reading over the minutes of a range, if at least half of them have one.
    #[must_use]
    pub fn mean(&self, which: usize, from: usize, to: usize) -> Option<f64> {
        let minutes = self.minutes.get(from..to)?;
        let (mut sum, mut count) = (0.0, 0_usize);
        for value in minutes.iter().filter_map(|minute| minute.reading(which)) {
            sum += value;
            count += 1;
        }
        (count > 0 && 2 * count >= minutes.len()).then(|| sum / count as f64)
    }

    /// Whether any row has this reading.
    #[must_use]
    pub fn has(&self, which: usize) -> bool {
        self.minutes
            .iter()
            .any(|minute| minute.reading(which).is_some())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(slab: f64, runs: bool) -> Row {
        let mut readings = [f64::NAN; READINGS];
        readings[SLAB] = slab;
        readings[SUPPLY] = 30.0;
        Row {
            readings,
            runs: Some(runs),
            called: false,
        }
    }

    fn start() -> DateTime {
        jiff::civil::datetime(2025, 12, 1, 23, 59, 30, 0)
    }

    #[test]
    fn rows_closer_than_a_minute_are_averaged_and_water_counts_only_while_it_moves() {
        let mut recorder = Recorder::new(start());
        for k in 0..12 {
            recorder.push(k * 10_000, row(k as f64, k < 6));
        }
        let record = recorder.finish(10_000);
        assert_eq!(record.at(0).to_string(), "2025-12-01T23:59:00");
        // Half a minute: rows 0 to 2; then rows 3 to 8, three of them running.
        assert_eq!(record.minutes[0].reading(SLAB), Some(1.0));
        assert_eq!(record.minutes[1].reading(SLAB), Some(5.5));
        assert!((f64::from(record.minutes[1].runs) - 0.5).abs() < 1e-6);
        assert_eq!(record.minutes[1].reading(SUPPLY), Some(30.0));
        assert_eq!(record.minutes[2].reading(SUPPLY), None);
    }

    #[test]
    fn rows_further_apart_are_joined_by_a_line_and_a_long_gap_is_left_empty() {
        let mut recorder = Recorder::new(jiff::civil::datetime(2025, 12, 1, 0, 0, 0, 0));
        recorder.push(0, row(0.0, true));
        recorder.push(600_000, row(10.0, false));
        recorder.push(600_000 + LONGEST_MS + 1, row(10.0, false));
        recorder.push(600_000 + LONGEST_MS + 60_001, row(10.0, false));
        let record = recorder.finish(600_000);
        assert_eq!(record.minutes[4].reading(SLAB), Some(4.5));
        assert_eq!(record.minutes[4].runs, 1.0);
        assert_eq!(record.minutes[20].reading(SLAB), None);
        assert_eq!(record.mean(SLAB, 0, 10), Some(5.0));
        assert_eq!(record.mean(SLAB, 0, 40), None);
    }
}
