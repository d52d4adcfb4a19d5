//! Listening to a unit for as long as wanted, whatever happens to the cable.

use std::fmt;
use std::time::Duration;

use super::capture::{Capture, Captured, OtherColumns, Step};
use super::conversation::LineError;
use super::frame::{Deframer, sealed};
use super::log_file::{Keeper, LogFileError};
use super::port::{self, Line, Port};
use crate::sim::cancel::Cancel;

/// Pause between two tries to open a port that went away.
const RETRY: Duration = Duration::from_millis(500);
/// Pause before the columns' names are asked for again.
const ASK_AGAIN: Duration = Duration::from_secs(3);
/// How often the unit is asked what it lost.
const ASK_LOSSES: Duration = Duration::from_secs(600);
/// Without a row for so long is worth a word, and again; one comes every 20 s at the latest.
const QUIET: [Duration; 3] = [
    Duration::from_secs(60),
    Duration::from_secs(600),
    Duration::from_secs(3_600),
];
/// How long the last word of the unit is waited for.
const LAST_WORD: Duration = Duration::from_secs(1);

/// What a person may want to know while it happens.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum News {
    /// The unit has said its columns, and rows are being written.
    Began(String),
    /// A row was written.
    Row(String),
    /// The unit started; the cause.
    Boot(String),
    /// Time between two rows, s.
    Gap(u64),
    /// The outputs rest after three watchdog resets, or they do not.
    Held(bool),
    /// Times went back and are moved on by so many seconds.
    Moved(u64),
    /// The port went away.
    Unplugged,
    /// It is back, after so long.
    Back(Duration),
    /// No row came for so long; damaged lines so far.
    Quiet(Duration, u64),
}

/// Why listening ended early. What was written stands.
#[derive(Debug)]
pub enum ListenError {
    /// The port cannot be opened to begin with.
    Line(LineError),
    /// The file cannot be written or gone on with.
    File(LogFileError),
    /// The unit's columns make no log.
    Columns(OtherColumns),
}

impl std::error::Error for ListenError {}

impl fmt::Display for ListenError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Line(error) => error.fmt(f),
            Self::File(error) => error.fmt(f),
            Self::Columns(OtherColumns { found, expected }) => write!(
                f,
                "the unit's columns: found \"{found}\"; expected \"{expected}\"; is this the right port?"
            ),
        }
    }
}

impl From<LogFileError> for ListenError {
    fn from(error: LogFileError) -> Self {
        Self::File(error)
    }
}

/// Keeps the unit's rows until stopped or until so much time has passed.
///
/// # Errors
/// [`ListenError`]; a port that goes away later is none.
pub fn listen(
    port: &mut dyn Port,
    file: &mut dyn Keeper,
    until: Option<Duration>,
    cancel: &Cancel,
    news: &mut dyn FnMut(&News),
) -> Result<Captured, ListenError> {
    let line = port.open().map_err(|cause| {
        ListenError::Line(LineError::NoPort {
            port: port.name().to_owned(),
            cause,
        })
    })?;
    let begin = port.now();
    let capture = Capture::after(file.header(), file.last_ms(), file.offset_ms());
    let mut listener = Listener {
        port,
        file,
        capture,
        news,
    };
    let mut line = Some(line);
    loop {
        let stop = |now: Duration| {
            cancel.requested() || until.is_some_and(|until| now.saturating_sub(begin) >= until)
        };
        match line.take() {
            Some(open) => listener.connected(open, &stop)?,
            None => line = listener.reopened(&stop),
        }
        if stop(listener.port.now()) {
            return Ok(listener.capture.finish());
        }
    }
}

struct Listener<'a> {
    port: &'a mut dyn Port,
    file: &'a mut dyn Keeper,
    capture: Capture,
    news: &'a mut dyn FnMut(&News),
}

impl Listener<'_> {
    /// Listens until the connection is gone or the end has come.
    fn connected(
        &mut self,
        mut line: Box<dyn Line>,
        stop: &dyn Fn(Duration) -> bool,
    ) -> Result<(), ListenError> {
        let mut deframer = Deframer::default();
        let mut buffer = [0; 4_096];
        let begin = self.port.now();
        let (mut columns_due, mut losses_due) = (begin, begin);
        let (mut row_at, mut told) = (begin, 0);
        let mut end: Option<Duration> = None;
        self.capture.connected();
        port::say(line.as_mut(), "\r\n");
        loop {
            let now = self.port.now();
            // First what the unit runs, so that it stands above the header.
            if now >= losses_due {
                port::say(line.as_mut(), &sealed("status"));
                losses_due = now + ASK_LOSSES;
            }
            if !self.capture.is_confirmed() && now >= columns_due {
                port::say(line.as_mut(), &sealed("columns"));
                columns_due = now + ASK_AGAIN;
            }
            match end {
                // One last question: what did the unit itself lose?
                None if stop(now) => {
                    port::say(line.as_mut(), &sealed("status"));
                    end = Some(now + LAST_WORD);
                }
                Some(end) if now >= end => return Ok(()),
                _ => {}
            }
            let Ok(bytes) = port::read_some(line.as_mut(), &mut buffer) else {
                if let Some(fault) = deframer.end() {
                    self.capture.counts().lines.count(fault);
                }
                (self.news)(&News::Unplugged);
                return Ok(());
            };
            for byte in bytes {
                match deframer.push(*byte) {
                    Some(Ok(text)) => {
                        if self.line(&text)? {
                            (row_at, told) = (now, 0);
                        }
                        if end.is_some() && text.contains(" lines_lost=") {
                            return Ok(());
                        }
                    }
                    Some(Err(fault)) => self.capture.counts().lines.count(fault),
                    None => {}
                }
            }
            let quiet = now.saturating_sub(row_at);
            if QUIET.get(told).is_some_and(|next| quiet >= *next) {
                told += 1;
                let damaged = self.capture.counts().lines.damaged();
                (self.news)(&News::Quiet(quiet, damaged));
            }
        }
    }

    /// Waits for the port to come back; `None` if the end came first.
    fn reopened(&mut self, stop: &dyn Fn(Duration) -> bool) -> Option<Box<dyn Line>> {
        let gone = self.port.now();
        while !stop(self.port.now()) {
            if let Ok(line) = self.port.open() {
                self.capture.counts().reconnections += 1;
                (self.news)(&News::Back(self.port.now().saturating_sub(gone)));
                return Some(line);
            }
            self.port.wait(RETRY);
        }
        None
    }

    /// Takes a line; did it bring a row?
    fn line(&mut self, text: &str) -> Result<bool, ListenError> {
        let mut brought = false;
        let was_confirmed = self.capture.is_confirmed();
        let steps = self.capture.line(text).map_err(|other| {
            if self.file.header().is_some() {
                ListenError::File(self.file.other_header(&other.found))
            } else {
                ListenError::Columns(other)
            }
        })?;
        if self.capture.is_confirmed() && !was_confirmed {
            let columns = self.capture.header().unwrap_or_default().to_owned();
            (self.news)(&News::Began(columns));
        }
        for step in steps {
            match step {
                Step::Firmware(firmware) => self.file.firmware(&firmware),
                Step::Header(header) => self.file.begin(&header)?,
                Step::Moved(seconds) => {
                    self.file.moved(seconds)?;
                    (self.news)(&News::Moved(seconds));
                }
                Step::Row(row) => {
                    self.file.row(&row, &self.port.wall())?;
                    brought = true;
                    (self.news)(&News::Row(row));
                }
                Step::Boot(cause) => (self.news)(&News::Boot(cause)),
                Step::Gap(seconds) => (self.news)(&News::Gap(seconds)),
                Step::Held(held) => (self.news)(&News::Held(held)),
            }
        }
        Ok(brought)
    }
}
