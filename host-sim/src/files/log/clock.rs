//! The wall clock along a log: of its own times, or of dates beside powered seconds.
//!
//! A unit counts the time it has power; the PC that listens writes its own clock beside. Where the two come apart (the unit was
//! without power, the cable was out, a clock was set) a mark is kept, so that every time has its label.

use jiff::civil::DateTime;

use super::{LogStart, form::TimeForm, time::TimeReader};

/// Two clocks that differ by less go on together, ms.
const TOGETHER_MS: i64 = 30_000;
/// Marks kept: two clocks come apart some times a week.
const MARKS: usize = 10_000;

/// Dates read beside a column of seconds.
#[derive(Clone, Debug)]
pub(super) struct Wall {
    pub(super) reader: TimeReader,
    /// Time since the first row and the wall clock then, ms, wherever they came apart.
    pub(super) marks: Vec<(i64, i64)>,
}

impl Default for Wall {
    fn default() -> Wall {
        Wall {
            reader: TimeReader::new(TimeForm::DateTime, None, None),
            marks: Vec::new(),
        }
    }
}

impl Wall {
    pub(super) fn note(&mut self, time_ms: i64, wall_ms: i64) {
        let apart = self
            .marks
            .last()
            .is_none_or(|(t, wall)| (wall_ms - wall - (time_ms - t)).abs() > TOGETHER_MS);
        if apart && self.marks.len() < MARKS {
            self.marks.push((time_ms, wall_ms));
        }
    }
}

/// From a time since the first row to its label.
#[derive(Clone, Debug, PartialEq)]
pub struct Clock {
    start: LogStart,
    /// As in [`Wall`]; one for a log with one clock.
    marks: Vec<(i64, i64)>,
}

impl Clock {
    pub(super) fn of_start(start: LogStart) -> Clock {
        Clock {
            start,
            marks: Vec::new(),
        }
    }

    pub(super) fn of_wall(zero: LogStart, wall: &Wall) -> Clock {
        let Some(&(_, first_ms)) = wall.marks.first() else {
            return Clock::of_start(zero);
        };
        Clock {
            start: wall.reader.start(first_ms),
            marks: wall.marks.clone(),
        }
    }

    /// The label of a time since the first row, ms.
    #[must_use]
    pub fn label(&self, time_ms: i64) -> String {
        self.start.label(self.since_start_ms(time_ms))
    }

    fn since_start_ms(&self, time_ms: i64) -> i64 {
        let at = self.marks.partition_point(|(t, _)| *t <= time_ms);
        match (self.marks.first(), self.marks.get(at.saturating_sub(1))) {
            (Some((_, first_ms)), Some((t, wall_ms))) => time_ms - t + wall_ms - first_ms,
            _ => time_ms,
        }
    }

    /// Date and time of the first row, if the log tells.
    #[must_use]
    pub fn first(&self) -> Option<DateTime> {
        match self.start {
            LogStart::Local(time) => Some(time),
            LogStart::Instant { at, offset } => Some(offset.to_datetime(at)),
            LogStart::Seconds { .. } => None,
        }
    }

    /// Whether times are those of a clock on the wall, of no zone that is known.
    #[must_use]
    pub fn is_local(&self) -> bool {
        matches!(self.start, LogStart::Local(_))
    }

    /// Stretches in which the wall clock went on and the unit's did not: begin and end as labels, and length, ms.
    #[must_use]
    pub fn dark(&self) -> Vec<(String, String, i64)> {
        self.marks
            .windows(2)
            .map(|pair| {
                let [(t, wall), (next_t, next_wall)] = [pair[0], pair[1]];
                let dark_ms = next_wall - wall - (next_t - t);
                let end = self.label(next_t);
                let begin = self
                    .start
                    .label(self.since_start_ms(next_t) - dark_ms.max(0));
                (begin, end, dark_ms)
            })
            .filter(|(.., dark_ms)| *dark_ms > 0)
            .collect()
    }

    /// The first row's instant or local time.
    #[must_use]
    pub const fn start(&self) -> LogStart {
        self.start
    }
}
