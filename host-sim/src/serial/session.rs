//! One connection to a unit, as bytes come and time passes: what is asked, what goes into the log, what is news.
//!
//! No port and no clock: a serial port on a PC and one in a browser stand on it alike. The unit is asked for its columns and its
//! status, and nothing else.

use std::fmt;
use std::time::Duration;

use jiff::ZonedDateTime;

use super::capture::{Capture, OtherColumns, Step};
use super::frame::{Deframer, sealed};
use super::log_file::{Keeper, LogFileError};

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

/// Why rows cannot be kept. What was written stands.
#[derive(Debug)]
pub enum KeepError {
    /// The file cannot be written or gone on with.
    File(LogFileError),
    /// The unit's columns make no log.
    Columns(OtherColumns),
}

impl std::error::Error for KeepError {}

impl fmt::Display for KeepError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File(error) => error.fmt(f),
            Self::Columns(OtherColumns { found, expected }) => write!(
                f,
                "the unit's columns: found \"{found}\"; expected \"{expected}\"; is this the right port?"
            ),
        }
    }
}

impl From<LogFileError> for KeepError {
    fn from(error: LogFileError) -> Self {
        Self::File(error)
    }
}

/// The connection.
#[derive(Debug)]
pub struct Session {
    deframer: Deframer,
    columns_due: Duration,
    losses_due: Duration,
    row_at: Duration,
    /// Steps of [`QUIET`] that were told.
    told: usize,
}

impl Session {
    /// A connection begins now; `now` is of any clock that nobody sets.
    pub fn begin(capture: &mut Capture, now: Duration) -> Self {
        capture.connected();
        Self {
            deframer: Deframer::default(),
            columns_due: now,
            losses_due: now,
            row_at: now,
            told: 0,
        }
    }

    /// What is to be sent now, if anything.
    pub fn asks(&mut self, capture: &Capture, now: Duration) -> String {
        let mut asks = String::new();
        // First what the unit runs, so that it stands above the header.
        if now >= self.losses_due {
            asks += &sealed("status");
            self.losses_due = now + ASK_LOSSES;
        }
        if !capture.is_confirmed() && now >= self.columns_due {
            asks += &sealed("columns");
            self.columns_due = now + ASK_AGAIN;
        }
        asks
    }

    /// Takes what came since, which may be nothing; did the unit say its status?
    ///
    /// # Errors
    /// [`KeepError`]
    pub fn hears(
        &mut self,
        bytes: &[u8],
        now: Duration,
        wall: &ZonedDateTime,
        capture: &mut Capture,
        keeper: &mut dyn Keeper,
        news: &mut dyn FnMut(&News),
    ) -> Result<bool, KeepError> {
        let mut is_status = false;
        for byte in bytes {
            match self.deframer.push(*byte) {
                Some(Ok(text)) => {
                    if line(&text, wall, capture, keeper, news)? {
                        (self.row_at, self.told) = (now, 0);
                    }
                    is_status |= text.contains(" lines_lost=");
                }
                Some(Err(fault)) => capture.counts().lines.count(fault),
                None => {}
            }
        }
        let quiet = now.saturating_sub(self.row_at);
        if QUIET.get(self.told).is_some_and(|next| quiet >= *next) {
            self.told += 1;
            news(&News::Quiet(quiet, capture.counts().lines.damaged()));
        }
        Ok(is_status)
    }

    /// The connection is gone.
    pub fn end(self, capture: &mut Capture) {
        if let Some(fault) = self.deframer.end() {
            capture.counts().lines.count(fault);
        }
    }
}

/// Takes a line; did it bring a row?
fn line(
    text: &str,
    wall: &ZonedDateTime,
    capture: &mut Capture,
    keeper: &mut dyn Keeper,
    news: &mut dyn FnMut(&News),
) -> Result<bool, KeepError> {
    let mut brought = false;
    let was_confirmed = capture.is_confirmed();
    let steps = capture.line(text).map_err(|other| {
        if keeper.header().is_some() {
            KeepError::File(keeper.other_header(&other.found))
        } else {
            KeepError::Columns(other)
        }
    })?;
    if capture.is_confirmed() && !was_confirmed {
        news(&News::Began(
            capture.header().unwrap_or_default().to_owned(),
        ));
    }
    for step in steps {
        match step {
            Step::Firmware(firmware) => keeper.firmware(&firmware),
            Step::Header(header) => keeper.begin(&header)?,
            Step::Moved(seconds) => {
                keeper.moved(seconds)?;
                news(&News::Moved(seconds));
            }
            Step::Row(row) => {
                keeper.row(&row, wall)?;
                brought = true;
                news(&News::Row(row));
            }
            Step::Boot(cause) => news(&News::Boot(cause)),
            Step::Gap(seconds) => news(&News::Gap(seconds)),
            Step::Held(held) => news(&News::Held(held)),
        }
    }
    Ok(brought)
}
