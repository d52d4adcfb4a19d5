//! The log in a folder: a file a month, the newest months kept, and what a full disk refuses held in memory until it does not.

use std::collections::{BTreeSet, VecDeque};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::{fs, io};

use jiff::ZonedDateTime;

use super::state::LogState;
use crate::serial::log_file::{Keeper, LogFile, LogFileError};

/// Lines held while the disk is full: three weeks of a row every 10 s, some 60 MB.
const HELD: usize = 200_000;

/// What is to be written.
#[derive(Clone, Debug)]
enum Line {
    Firmware(String),
    Header(String),
    Moved(u64),
    Row(String, ZonedDateTime),
}

/// The folder.
#[derive(Debug)]
pub struct KeptLog {
    folder: PathBuf,
    /// Months kept.
    months: usize,
    file: Option<(Name, LogFile)>,
    header: Option<String>,
    firmware: Option<String>,
    last_ms: Option<u64>,
    offset_ms: u64,
    held: VecDeque<Line>,
    /// For whoever shows it.
    state: Arc<Mutex<LogState>>,
}

/// A file's name: its month and, where a unit with other columns came, its number.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Name {
    month: String,
    number: u32,
}

impl Name {
    /// `log-2026-11.csv`, `log-2026-11-2.csv`.
    fn read(name: &str) -> Option<Self> {
        let stem = name.strip_prefix("log-")?.strip_suffix(".csv")?;
        let (month, number) = match stem.len() {
            7 => (stem, 1),
            _ => (
                stem.get(..7)?,
                stem.get(7..)?.strip_prefix('-')?.parse().ok()?,
            ),
        };
        let digits = month.bytes().enumerate().all(|(at, byte)| match at {
            4 => byte == b'-',
            _ => byte.is_ascii_digit(),
        });
        digits.then(|| Self {
            month: month.to_owned(),
            number,
        })
    }

    fn file(&self) -> String {
        match self.number {
            1 => format!("log-{}.csv", self.month),
            number => format!("log-{}-{number}.csv", self.month),
        }
    }
}

impl KeptLog {
    /// Opens the folder; nothing is written yet.
    ///
    /// # Errors
    /// The folder or its newest log cannot be read.
    pub fn open(folder: &Path, months: usize) -> io::Result<Self> {
        let mut log = Self {
            folder: folder.to_owned(),
            months,
            file: None,
            header: None,
            firmware: None,
            last_ms: None,
            offset_ms: 0,
            held: VecDeque::new(),
            state: Arc::default(),
        };
        if let Some(newest) = log.names()?.into_iter().next_back() {
            let file = LogFile::open(&folder.join(newest.file())).map_err(io::Error::other)?;
            log.last_ms = file.last_ms();
            log.offset_ms = file.offset_ms();
            log.file = Some((newest, file));
        }
        Ok(log)
    }

    /// The files, oldest first.
    fn names(&self) -> io::Result<BTreeSet<Name>> {
        let mut names = BTreeSet::new();
        for entry in fs::read_dir(&self.folder)? {
            names.extend(Name::read(&entry?.file_name().to_string_lossy()));
        }
        Ok(names)
    }

    /// The newest two files, the older first: the last days may lie in both.
    ///
    /// # Errors
    /// The folder cannot be read.
    pub fn newest(&self) -> io::Result<Vec<PathBuf>> {
        let names = self.names()?;
        let older = names.len().saturating_sub(2);
        let newest = names.iter().skip(older);
        Ok(newest.map(|name| self.folder.join(name.file())).collect())
    }

    /// How it is, for another thread.
    #[must_use]
    pub fn shared(&self) -> Arc<Mutex<LogState>> {
        Arc::clone(&self.state)
    }

    fn state(&self) -> MutexGuard<'_, LogState> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn keep(&mut self, line: Line) {
        self.held.push_back(line);
        if self.held.len() > HELD {
            let oldest_row = self
                .held
                .iter()
                .position(|line| matches!(line, Line::Row(..)));
            let is_lost = oldest_row.and_then(|at| self.held.remove(at)).is_some();
            self.state().lost += u64::from(is_lost);
        }
        self.write();
    }

    /// Writes what is held, as far as the disk takes it.
    pub fn write(&mut self) {
        while let Some(line) = self.held.front().cloned() {
            match self.line(&line) {
                Ok(()) => {
                    self.held.pop_front();
                }
                Err(error) => {
                    self.state().fault = Some(error.to_string());
                    return;
                }
            }
        }
        let file = self.file.as_ref().map(|(name, _)| name.file());
        let mut state = self.state();
        (state.fault, state.file) = (None, file);
    }

    fn line(&mut self, line: &Line) -> Result<(), LogFileError> {
        match line {
            Line::Firmware(firmware) => {
                self.firmware = Some(firmware.clone());
                if let Some((_, file)) = &mut self.file {
                    file.firmware(firmware);
                }
                Ok(())
            }
            Line::Header(header) => {
                self.header = Some(header.clone());
                Ok(())
            }
            Line::Moved(seconds) => {
                self.offset_ms = seconds * 1_000;
                match &mut self.file {
                    Some((_, file)) if file.header().is_some() => file.moved(*seconds),
                    _ => Ok(()),
                }
            }
            Line::Row(row, at) => self.file_for(at)?.row(row, at),
        }
    }

    /// The file for a row of this time: the month's, of these columns.
    fn file_for(&mut self, at: &ZonedDateTime) -> Result<&mut LogFile, LogFileError> {
        let header = self.header.clone().unwrap_or_default();
        let month = at.strftime("%Y-%m").to_string();
        let mut name = match &self.file {
            // A clock that was set back begins no older file.
            Some((name, _)) if name.month >= month => name.clone(),
            _ => Name { month, number: 1 },
        };
        loop {
            let is_open = self.file.as_ref().is_some_and(|(open, _)| *open == name);
            if !is_open {
                let path = self.folder.join(name.file());
                let file = LogFile::open(&path)?;
                if let Some((_, before)) = self.file.replace((name.clone(), file)) {
                    before.close()?;
                }
                self.prune();
            }
            let (_, file) = self
                .file
                .as_mut()
                .ok_or_else(|| LogFileError::NoFile(self.folder.clone()))?;
            match file.header() {
                Some(other) if other != header => name.number += 1,
                Some(_) => break,
                None => {
                    if let Some(firmware) = &self.firmware {
                        file.firmware(firmware);
                    }
                    file.begin(&header)?;
                    if self.offset_ms > 0 {
                        file.moved(self.offset_ms / 1_000)?;
                    }
                    break;
                }
            }
        }
        match &mut self.file {
            Some((_, file)) => Ok(file),
            None => Err(LogFileError::NoFile(self.folder.clone())),
        }
    }

    /// Takes the oldest months away. By count, so that a clock that was set wrong takes nothing with it.
    fn prune(&self) {
        let Ok(names) = self.names() else {
            return;
        };
        let months: BTreeSet<&str> = names.iter().map(|name| name.month.as_str()).collect();
        let Some(oldest) = months.iter().rev().nth(self.months.saturating_sub(1)) else {
            return;
        };
        for name in names.iter().filter(|name| name.month.as_str() < *oldest) {
            // Another month is tried again at the next one's beginning.
            let _ = fs::remove_file(self.folder.join(name.file()));
        }
    }
}

impl Keeper for KeptLog {
    /// Whatever columns come, there is a file for them.
    fn header(&self) -> Option<&str> {
        None
    }

    fn last_ms(&self) -> Option<u64> {
        self.last_ms
    }

    fn offset_ms(&self) -> u64 {
        self.offset_ms
    }

    fn other_header(&self, _: &str) -> LogFileError {
        LogFileError::NoFile(self.folder.clone())
    }

    fn firmware(&mut self, firmware: &str) {
        self.keep(Line::Firmware(firmware.to_owned()));
    }

    fn begin(&mut self, header: &str) -> Result<(), LogFileError> {
        self.keep(Line::Header(header.to_owned()));
        Ok(())
    }

    fn moved(&mut self, seconds: u64) -> Result<(), LogFileError> {
        self.keep(Line::Moved(seconds));
        Ok(())
    }

    fn row(&mut self, row: &str, wall: &ZonedDateTime) -> Result<(), LogFileError> {
        let time = row.split(',').next().unwrap_or_default();
        self.last_ms = crate::serial::capture::millis(time).or(self.last_ms);
        self.keep(Line::Row(row.to_owned(), wall.clone()));
        Ok(())
    }
}

#[cfg(test)]
#[path = "kept_tests.rs"]
mod tests;
