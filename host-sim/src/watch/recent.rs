//! The last three days by the minute, for the page: from the log when the program begins, then from the rows as they come.

use std::collections::VecDeque;
use std::fs::File;
use std::io::{self, BufRead as _, BufReader, Seek as _, SeekFrom};
use std::path::{Path, PathBuf};

use controller_core::sensor::Sensor;
use jiff::Timestamp;

use crate::serial::row::{Columns, Row};

/// Minutes kept.
const MINUTES: i64 = 3 * 24 * 60;
/// So much of the log's end holds three days of rows.
const TAIL_BYTES: u64 = 12 << 20;

/// A minute: its last row.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// Minutes since 1970.
    pub minute: i64,
    /// Readings in the order of [`Sensor::ALL`], °C.
    pub readings_c: [Option<f64>; 4],
    /// The circulator ran in it.
    pub circulator: bool,
    /// The boiler was called in it.
    pub boiler_call: bool,
}

/// The minutes, oldest first; those without a row are not in it.
#[derive(Clone, Debug, Default)]
pub struct Recent(VecDeque<Point>);

impl Recent {
    /// What the ends of these logs have of them, the older first; nothing of one that cannot be read.
    #[must_use]
    pub fn of_logs(paths: &[PathBuf], now: Timestamp) -> Self {
        let mut recent = Self::default();
        for path in paths {
            // A page that begins empty is no reason to stop.
            let _ = recent.read(path);
        }
        recent.forget(now);
        recent
    }

    fn read(&mut self, path: &Path) -> io::Result<()> {
        let mut file = File::open(path)?;
        let columns = BufReader::new(&file)
            .lines()
            .map_while(Result::ok)
            .find(|line| !line.starts_with('#'))
            .map(|header| Columns::new(&header));
        let Some(columns) = columns else {
            return Ok(());
        };
        let length = file.metadata()?.len();
        file.seek(SeekFrom::Start(length.saturating_sub(TAIL_BYTES)))?;
        for line in BufReader::new(&file).lines() {
            let line = line?;
            let time = line.rsplit(',').next().and_then(|time| time.parse().ok());
            if let Some((row, at)) = columns.row(&line).zip(time) {
                self.push(&row, at);
            }
        }
        Ok(())
    }

    /// Takes a row that came at this time.
    pub fn push(&mut self, row: &Row, at: Timestamp) {
        let minute = at.as_second().div_euclid(60);
        let before = match self.0.back() {
            // A clock that was set back goes on where it was.
            Some(last) if last.minute > minute => return,
            Some(last) if last.minute == minute => self.0.pop_back(),
            _ => None,
        };
        let ran = |had: fn(&Point) -> bool, has: bool| has || before.as_ref().is_some_and(had);
        let point = Point {
            minute,
            readings_c: Sensor::ALL.map(|sensor| row.reading_c(sensor)),
            circulator: ran(|point| point.circulator, row.circulator),
            boiler_call: ran(|point| point.boiler_call, row.boiler_call),
        };
        self.0.push_back(point);
        self.forget(at);
    }

    fn forget(&mut self, now: Timestamp) {
        let oldest = now.as_second().div_euclid(60) - MINUTES;
        while self.0.front().is_some_and(|first| first.minute < oldest) {
            self.0.pop_front();
        }
    }

    /// The minutes.
    pub fn points(&self) -> impl Iterator<Item = &Point> {
        self.0.iter()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(slab: &str, circulator: &str) -> Row {
        let columns = Columns::new("time_s,slab_c,circulator");
        columns
            .row(&format!("1,{slab},{circulator}"))
            .expect("a row")
    }

    #[test]
    fn a_minute_has_its_last_reading_and_whatever_ran_in_it() {
        let mut recent = Recent::default();
        let at = |text: &str| text.parse::<Timestamp>().expect("a time");
        recent.push(&row("3.5", "1"), at("2026-01-05T12:00:05Z"));
        recent.push(&row("3.25", "0"), at("2026-01-05T12:00:55Z"));
        recent.push(&row("3", "0"), at("2026-01-05T12:01:05Z"));
        // Set back by an hour.
        recent.push(&row("9", "1"), at("2026-01-05T11:01:05Z"));
        let seen: Vec<_> = recent
            .points()
            .map(|point| (point.readings_c[Sensor::Slab as usize], point.circulator))
            .collect();
        assert_eq!(seen, [(Some(3.25), true), (Some(3.0), false)]);
        recent.push(&row("2", "0"), at("2026-01-08T12:00:30Z"));
        assert_eq!(recent.points().count(), 3);
        recent.push(&row("2", "0"), at("2026-01-08T12:02:30Z"));
        assert_eq!(recent.points().count(), 2, "three days and no more");
    }

    #[test]
    fn a_log_gives_back_what_it_was_written_from() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("log.csv");
        let text = "# firmware version=1\ntime_s,slab_c,circulator,time\n\
            1,3.5,1,2026-01-05T12:00:05.000+01:00\n11,3.25,0,2026-01-05T12:01:05.000+01:00\n21,3.";
        std::fs::write(&path, text).expect("written");
        let now = "2026-01-05T12:00:00Z".parse().expect("a time");
        let next = folder.path().join("next.csv");
        let more = "time_s,slab_c,circulator,time\n31,3,0,2026-01-05T12:02:05.000+01:00\n";
        std::fs::write(&next, more).expect("written");
        let recent = Recent::of_logs(&[path, next], now);
        let slab: Vec<_> = recent
            .points()
            .map(|point| point.readings_c[Sensor::Slab as usize])
            .collect();
        assert_eq!(slab, [Some(3.5), Some(3.25), Some(3.0)]);
        let none = folder.path().join("none");
        assert_eq!(Recent::of_logs(&[none], now).points().count(), 0);
    }
}
