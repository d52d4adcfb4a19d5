//! The text of a log of rows as they come: header, rows with their dates, remarks between them; and such a log in memory.

use std::io;
use std::path::PathBuf;

use jiff::{SignedDuration, Timestamp, ZonedDateTime};

use super::log_file::{Keeper, LogFileError};

/// The column of dates and times, behind the unit's own.
pub(super) const CLOCK: &str = ",time";
/// Before a row from which on times are moved. Readers of logs skip such lines.
pub(super) const MOVED: (&str, &str) = ("# from here on time_s is the unit's plus ", " s");
/// Before the header and before the first row of another firmware.
pub(super) const FIRMWARE: &str = "# firmware ";

/// Where a log in memory ends: some weeks of rows.
const LONGEST: usize = 64 << 20;

/// The remark before a row from which on times are moved.
pub(super) fn moved(seconds: u64) -> String {
    format!("{}{seconds}{}", MOVED.0, MOVED.1)
}

/// Dates of rows, which never go back.
#[derive(Debug, Default)]
pub(super) struct Dates(Option<Timestamp>);

impl Dates {
    /// Goes on behind a row of this date.
    pub(super) const fn after(last: Timestamp) -> Self {
        Self(Some(last))
    }

    /// A row with the date and time at which it came. A clock that was set back stands still until it is where it was.
    pub(super) fn dated(&mut self, row: &str, wall: &ZonedDateTime) -> String {
        let least = self
            .0
            .and_then(|last| last.checked_add(SignedDuration::from_millis(1)).ok());
        let at = least.map_or(wall.timestamp(), |least| least.max(wall.timestamp()));
        self.0 = Some(at);
        let at = at.display_with_offset(wall.offset());
        format!("{row},{at:.3}")
    }
}

/// What the unit runs, and how much of that a log says.
#[derive(Debug, Default)]
pub(super) struct Firmware {
    said: Option<String>,
    now: Option<String>,
}

impl Firmware {
    /// The log says this.
    pub(super) fn is_said(&mut self, firmware: &str) {
        self.said = Some(firmware.to_owned());
        self.now = None;
    }

    /// The unit runs this.
    pub(super) fn runs(&mut self, firmware: &str) {
        self.now = Some(firmware.to_owned());
    }

    /// What the log has to say before its next header or row, if anything.
    pub(super) fn unsaid(&self) -> Option<String> {
        self.now
            .clone()
            .filter(|now| self.said.as_ref() != Some(now))
    }
}

/// A log that is kept in memory until somebody saves it.
#[derive(Debug, Default)]
pub struct LogText {
    text: String,
    header: Option<String>,
    dates: Dates,
    firmware: Firmware,
}

impl LogText {
    /// The log so far.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// As a file's name, in messages.
    fn path() -> PathBuf {
        PathBuf::from("the log kept here")
    }

    fn name_firmware(&mut self) -> Result<(), LogFileError> {
        if let Some(firmware) = self.firmware.unsaid() {
            self.append(&format!("{FIRMWARE}{firmware}"))?;
            self.firmware.is_said(&firmware);
        }
        Ok(())
    }

    fn append(&mut self, line: &str) -> Result<(), LogFileError> {
        if self.text.len() + line.len() >= LONGEST {
            return Err(LogFileError::Io {
                path: Self::path(),
                error: io::Error::other(format!("it has grown to {} MB", LONGEST >> 20)),
            });
        }
        self.text.push_str(line);
        self.text.push('\n');
        Ok(())
    }
}

impl Keeper for LogText {
    fn header(&self) -> Option<&str> {
        self.header.as_deref()
    }

    fn last_ms(&self) -> Option<u64> {
        None
    }

    fn offset_ms(&self) -> u64 {
        0
    }

    fn other_header(&self, found: &str) -> LogFileError {
        LogFileError::OtherHeader {
            path: Self::path(),
            line: 1,
            found: self.header.clone().unwrap_or_default(),
            expected: found.to_owned(),
        }
    }

    fn firmware(&mut self, firmware: &str) {
        self.firmware.runs(firmware);
    }

    fn begin(&mut self, header: &str) -> Result<(), LogFileError> {
        self.name_firmware()?;
        self.append(&format!("{header}{CLOCK}"))?;
        self.header = Some(header.to_owned());
        Ok(())
    }

    fn moved(&mut self, seconds: u64) -> Result<(), LogFileError> {
        self.append(&moved(seconds))
    }

    fn row(&mut self, row: &str, wall: &ZonedDateTime) -> Result<(), LogFileError> {
        self.name_firmware()?;
        let row = self.dates.dated(row, wall);
        self.append(&row)
    }
}
