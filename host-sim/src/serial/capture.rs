//! What the unit's lines mean for a log: rows in order of time, gaps, boots, and what was lost.
//!
//! Lines go in, what is to be written or told comes out; no port, no file, no clock.

use std::collections::{BTreeMap, VecDeque};
use std::fmt;

use serde::Serialize;

use super::frame::Faults;
use crate::files::log::MovingMedian;

/// Rows kept until the columns' names are known.
const HELD: usize = 64;
/// Intervals that must be known before one can be called a gap.
const KNOWN: u32 = 4;

/// What a line leads to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Step {
    /// What the unit runs, as it says itself: version, board and build.
    Firmware(String),
    /// The names of the columns, the first time they are heard.
    Header(String),
    /// A comment that must stand before the next row: times are moved on from here.
    Moved(u64),
    /// A row for the file.
    Row(String),
    /// The unit has started; the cause as the row says it.
    Boot(String),
    /// More time between two rows than there should be, s.
    Gap(u64),
    /// Do the outputs rest after three watchdog resets, whatever the rows decide?
    Held(bool),
}

/// Everything counted while listening.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Captured {
    /// Rows for the file.
    pub rows: u64,
    /// First row's time in the file, s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_s: Option<f64>,
    /// Last row's time in the file, s.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_s: Option<f64>,
    /// Boots by cause.
    pub boots: BTreeMap<String, u64>,
    /// Intervals longer than 1.5 times the median, boots left out.
    pub gaps: u64,
    /// The longest of these, s.
    pub longest_gap_s: f64,
    /// How often times went back and were moved on.
    pub times_moved: u64,
    /// Rows dropped since the columns' names never came.
    pub early_rows: u64,
    /// Rows with a right checksum that do not fit the columns.
    pub misfit_rows: u64,
    /// Lines the unit itself dropped since the line was too slow.
    pub lines_lost_by_unit: u64,
    /// Lines that could not be used.
    pub lines: Faults,
    /// How often the port went away and came back.
    pub reconnections: u64,
}

/// A set of columns that cannot be written to this file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OtherColumns {
    /// What the unit says.
    pub found: String,
    /// What the file has.
    pub expected: String,
}

/// The meaning of lines heard so far.
#[derive(Debug, Default)]
pub struct Capture {
    /// The file's columns.
    columns: Option<Columns>,
    /// The unit of this connection has said that it has the same.
    confirmed: bool,
    held: VecDeque<String>,
    /// Time of the last row in the file, ms.
    last_ms: Option<u64>,
    /// What is added to the unit's times, ms; whole seconds.
    offset_ms: u64,
    intervals: MovingMedian,
    known: u32,
    unit_lost: Option<u64>,
    /// The outputs rest, as the unit said last.
    resting: Option<bool>,
    counts: Captured,
}

#[derive(Debug)]
struct Columns {
    header: String,
    count: usize,
    event: Option<usize>,
}

impl Capture {
    /// Goes on behind a file's last row; `header` is the file's, `offset_ms` what its times are moved by.
    #[must_use]
    pub fn after(header: Option<&str>, last_ms: Option<u64>, offset_ms: u64) -> Self {
        Self {
            columns: header.map(Columns::new),
            last_ms,
            offset_ms,
            ..Self::default()
        }
    }

    /// A connection begins: it may be to another unit, so its rows wait until it has said its columns.
    pub fn connected(&mut self) {
        self.counts.early_rows += self.held.len() as u64;
        self.held.clear();
        self.confirmed = false;
    }

    /// Has the unit of this connection said its columns?
    #[must_use]
    pub const fn is_confirmed(&self) -> bool {
        self.confirmed
    }

    /// The columns, once known.
    #[must_use]
    pub fn header(&self) -> Option<&str> {
        self.columns.as_ref().map(|columns| columns.header.as_str())
    }

    /// What was counted so far.
    pub fn counts(&mut self) -> &mut Captured {
        &mut self.counts
    }

    /// The counts at the end.
    #[must_use]
    pub fn finish(mut self) -> Captured {
        self.counts.early_rows += self.held.len() as u64;
        self.counts
    }

    /// Takes a line that had a right checksum.
    ///
    /// # Errors
    /// [`OtherColumns`]: nothing more can be written to this file.
    pub fn line(&mut self, line: &str) -> Result<Vec<Step>, OtherColumns> {
        let mut steps = Vec::new();
        let (word, rest) = line.split_once(' ').unwrap_or((line, ""));
        match word {
            "columns" => self.columns(rest, &mut steps)?,
            "row" if !self.confirmed => {
                if self.held.len() == HELD {
                    self.held.pop_front();
                    self.counts.early_rows += 1;
                }
                self.held.push_back(rest.to_owned());
            }
            "row" => self.row(rest, &mut steps),
            "held" => self.held(true, &mut steps),
            "status" => self.status(rest, &mut steps),
            _ => {}
        }
        if matches!(word, "status" | "hello;") {
            steps.extend(firmware(rest).map(Step::Firmware));
        }
        Ok(steps)
    }

    fn columns(&mut self, header: &str, steps: &mut Vec<Step>) -> Result<(), OtherColumns> {
        let expected = match &self.columns {
            Some(known) if known.header == header => None,
            Some(known) => Some(known.header.clone()),
            None if header.starts_with("time_s,") => {
                self.columns = Some(Columns::new(header));
                steps.push(Step::Header(header.to_owned()));
                None
            }
            None => Some("time_s,…".to_owned()),
        };
        if let Some(expected) = expected {
            return Err(OtherColumns {
                found: header.to_owned(),
                expected,
            });
        }
        self.confirmed = true;
        for row in std::mem::take(&mut self.held) {
            self.row(&row, steps);
        }
        Ok(())
    }

    fn row(&mut self, row: &str, steps: &mut Vec<Step>) {
        let Some((unit_ms, event)) = self.columns.as_ref().and_then(|columns| columns.read(row))
        else {
            self.counts.misfit_rows += 1;
            return;
        };
        let boot = event.and_then(|event| event.strip_prefix("boot "));
        if let Some(last_ms) = self.last_ms
            && unit_ms + self.offset_ms <= last_ms
        {
            // Whole seconds, so that the decimals stay as they are.
            self.offset_ms = ((last_ms - unit_ms) / 1_000 + 1) * 1_000;
            self.counts.times_moved += 1;
            steps.push(Step::Moved(self.offset_ms / 1_000));
        }
        let now_ms = unit_ms + self.offset_ms;
        if let Some(boot) = boot {
            let cause = boot.split(' ').next().unwrap_or_default().to_owned();
            *self.counts.boots.entry(cause.clone()).or_default() += 1;
            steps.push(Step::Boot(cause));
        } else if let Some(gap_ms) = self.gap(now_ms) {
            self.counts.gaps += 1;
            let gap_s = gap_ms as f64 / 1_000.0;
            self.counts.longest_gap_s = self.counts.longest_gap_s.max(gap_s);
            steps.push(Step::Gap(gap_ms / 1_000));
        }
        self.last_ms = Some(now_ms);
        self.counts.rows += 1;
        self.counts.first_s.get_or_insert(now_ms as f64 / 1_000.0);
        self.counts.last_s = Some(now_ms as f64 / 1_000.0);
        steps.push(Step::Row(match self.offset_ms {
            0 => row.to_owned(),
            _ => {
                let (_, cells) = row.split_once(',').unwrap_or((row, ""));
                format!("{},{cells}", Seconds(now_ms))
            }
        }));
    }

    /// The interval that ends now, if it is a gap; learns the usual one.
    fn gap(&mut self, now_ms: u64) -> Option<u64> {
        let interval = now_ms - self.last_ms?;
        let median = self.intervals.median();
        self.intervals.push(i64::try_from(interval).ok()?);
        self.known += 1;
        let median = median.filter(|_| self.known > KNOWN)?;
        (interval as f64 > 1.5 * median as f64).then_some(interval)
    }

    /// What the unit says of its outputs, told when it is news.
    fn held(&mut self, held: bool, steps: &mut Vec<Step>) {
        if self.resting.replace(held) != Some(held) {
            steps.push(Step::Held(held));
        }
    }

    /// The unit's own count of lines it lost: only ever rises, and starts anew at a boot.
    fn status(&mut self, status: &str, steps: &mut Vec<Step>) {
        let value = |name| status.split(' ').find_map(|word| word.strip_prefix(name));
        if let Some(held) = value("held=") {
            self.held(held == "1", steps);
        }
        let lost = value("lines_lost=").and_then(|count| count.parse::<u64>().ok());
        if let Some(lost) = lost {
            let before = self.unit_lost.replace(lost);
            self.counts.lines_lost_by_unit += match before {
                // Lost before anybody listened.
                None => 0,
                Some(before) if lost >= before => lost - before,
                Some(_) => lost,
            };
        }
    }

    /// Lines the unit says it has lost since it started, if it was asked.
    #[must_use]
    pub const fn unit_lost(&self) -> Option<u64> {
        self.unit_lost
    }
}

impl Columns {
    fn new(header: &str) -> Self {
        Self {
            header: header.to_owned(),
            count: header.split(',').count(),
            event: header.split(',').position(|name| name == "event"),
        }
    }

    /// A row's time, ms, and event.
    fn read<'a>(&self, row: &'a str) -> Option<(u64, Option<&'a str>)> {
        if row.split(',').count() != self.count {
            return None;
        }
        let time = millis(row.split(',').next()?)?;
        Some((time, self.event.and_then(|n| row.split(',').nth(n))))
    }
}

/// Version, board and build, if the line says them.
fn firmware(text: &str) -> Option<String> {
    let words: Option<Vec<_>> = ["version=", "board=", "build="]
        .iter()
        .map(|name| {
            let mut words = text.split([' ', ';']);
            words.find(|word| word.starts_with(name))
        })
        .collect();
    words.map(|words| words.join(" "))
}

/// Seconds with at most three decimals, as ms.
pub(crate) fn millis(text: &str) -> Option<u64> {
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    // Fifteen digits are more than the age of anything.
    if whole.is_empty() || whole.len() > 15 || part.len() > 3 || !digits(whole) || !digits(part) {
        return None;
    }
    let whole: u64 = whole.parse().ok()?;
    let part: u64 = format!("{part:0<3}").parse().ok()?;
    Some(whole * 1_000 + part)
}

/// Milliseconds printed as seconds, the way the trace does.
struct Seconds(u64);

impl fmt::Display for Seconds {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0 / 1_000)?;
        match self.0 % 1_000 {
            0 => Ok(()),
            rest => write!(f, ".{rest:03}"),
        }
    }
}

#[cfg(test)]
#[path = "capture_tests.rs"]
mod tests;
