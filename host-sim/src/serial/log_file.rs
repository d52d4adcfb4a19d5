//! The log file that grows in place: header first, whole rows only, each in the file when it came.
//!
//! Every row ends with the date and time at which it came, by this machine's clock: the unit itself counts only the time it
//! has power. These times never go back either, whatever is done to the clock.
//!
//! It is gone on with only if its header is the unit's. Whoever stops at whatever moment leaves a log
//! that `replay` takes: at most the last line is unfinished, and that is cut off the next time.

use std::fs::{File, TryLockError};
use std::io::{self, BufRead as _, BufReader, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};
use std::{error, fmt};

use jiff::ZonedDateTime;

use super::capture::millis;
use super::log_text::{CLOCK, Dates, FIRMWARE, Firmware, MOVED, moved};

/// Why a file cannot be gone on with.
#[derive(Debug)]
pub enum LogFileError {
    /// The file system refused.
    Io {
        /// The file.
        path: PathBuf,
        /// Why.
        error: io::Error,
    },
    /// A folder or device.
    NoFile(PathBuf),
    /// Another program is writing to it.
    Locked(PathBuf),
    /// Its header is not the unit's.
    OtherHeader {
        /// The file.
        path: PathBuf,
        /// Where its header stands.
        line: u64,
        /// What stands there.
        found: String,
        /// What the unit has.
        expected: String,
    },
}

impl error::Error for LogFileError {}

impl fmt::Display for LogFileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Io { path, error } => write!(
                f,
                "{}: cannot be written: {error}; free space or choose another name",
                path.display()
            ),
            Self::NoFile(path) => write!(
                f,
                "{}: found a folder or device; expected the name of a log file to begin or go on with",
                path.display()
            ),
            Self::Locked(path) => write!(
                f,
                "{}: found another program writing to it; expected a log of its own; stop the other or choose another name",
                path.display()
            ),
            Self::OtherHeader {
                path,
                line,
                found,
                expected,
            } => write!(
                f,
                "{}: line {line}: found the header \"{}\"; expected the unit's, \"{}\"; the file stays as it is, choose another name",
                path.display(),
                short(found),
                short(expected),
            ),
        }
    }
}

/// The beginning of a long header.
fn short(header: &str) -> String {
    const LONGEST: usize = 60;
    match header.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{}…", &header[..end]),
        None => header.to_owned(),
    }
}

/// What keeps the rows: one file, or a folder of them.
pub trait Keeper {
    /// The unit's part of the header that must be gone on with, if there is one.
    fn header(&self) -> Option<&str>;

    /// The last row's time, ms.
    fn last_ms(&self) -> Option<u64>;

    /// By how much times are moved at the end, ms.
    fn offset_ms(&self) -> u64;

    /// The message for a unit with other columns.
    fn other_header(&self, found: &str) -> LogFileError;

    /// Notes what the unit runs, for the next header or row.
    fn firmware(&mut self, firmware: &str);

    /// Begins a log with this header.
    ///
    /// # Errors
    /// The file system refused.
    fn begin(&mut self, header: &str) -> Result<(), LogFileError>;

    /// Notes that times are moved by so many seconds from here on.
    ///
    /// # Errors
    /// As [`Self::begin`].
    fn moved(&mut self, seconds: u64) -> Result<(), LogFileError>;

    /// Keeps a row that came at `wall`.
    ///
    /// # Errors
    /// As [`Self::begin`].
    fn row(&mut self, row: &str, wall: &ZonedDateTime) -> Result<(), LogFileError>;
}

/// The file.
#[derive(Debug)]
pub struct LogFile {
    path: PathBuf,
    file: File,
    /// Line and text of the header, if it has one.
    header: Option<(u64, String)>,
    /// Rows end with a date and time; a log that was begun without goes on without.
    has_clock: bool,
    dates: Dates,
    last_ms: Option<u64>,
    offset_ms: u64,
    firmware: Firmware,
    /// Length up to the end of the last whole line.
    whole: u64,
    /// Bytes of an unfinished line behind that.
    unfinished: u64,
}

impl LogFile {
    /// Opens a file to go on with, or begins one. Nothing is written yet.
    ///
    /// # Errors
    /// [`LogFileError`]
    pub fn open(path: &Path) -> Result<Self, LogFileError> {
        let io = |error| LogFileError::Io {
            path: path.to_owned(),
            error,
        };
        if path.metadata().is_ok_and(|metadata| !metadata.is_file()) {
            return Err(LogFileError::NoFile(path.to_owned()));
        }
        let file = File::options()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(path)
            .map_err(io)?;
        match file.try_lock() {
            Err(TryLockError::WouldBlock) => return Err(LogFileError::Locked(path.to_owned())),
            // A file system without locks is no reason to refuse.
            Err(TryLockError::Error(_)) | Ok(()) => {}
        }
        let mut log = Self {
            path: path.to_owned(),
            file,
            header: None,
            has_clock: true,
            dates: Dates::default(),
            last_ms: None,
            offset_ms: 0,
            firmware: Firmware::default(),
            whole: 0,
            unfinished: 0,
        };
        log.read().map_err(io)?;
        Ok(log)
    }

    /// Finds header, last row and where whole lines end.
    fn read(&mut self) -> io::Result<()> {
        let mut reader = BufReader::with_capacity(1 << 18, &self.file);
        let mut line = Vec::new();
        let mut number = 0;
        while reader.read_until(b'\n', &mut line)? > 0 {
            let Some(text) = line.strip_suffix(b"\n") else {
                self.unfinished = line.len() as u64;
                if self.header.is_none() {
                    // No header of ours: never to be cut off as if it were half a row.
                    let text = String::from_utf8_lossy(&line);
                    self.header = Some((number + 1, format!("{text} (without line end)")));
                }
                break;
            };
            self.whole += line.len() as u64;
            number += 1;
            let text = text.strip_suffix(b"\r").unwrap_or(text);
            match text.first() {
                None => {}
                Some(b'#') => {
                    let text = String::from_utf8_lossy(text);
                    if let Some(firmware) = text.strip_prefix(FIRMWARE) {
                        self.firmware.is_said(firmware);
                    }
                    let offset = text
                        .strip_prefix(MOVED.0)
                        .and_then(|text| text.strip_suffix(MOVED.1))
                        .and_then(|seconds| seconds.parse::<u64>().ok());
                    if let Some(seconds) = offset {
                        self.offset_ms = seconds.saturating_mul(1_000);
                    }
                }
                Some(_) if self.header.is_none() => {
                    let header = String::from_utf8_lossy(text).into_owned();
                    let unit = header.strip_suffix(CLOCK);
                    self.has_clock = unit.is_some();
                    self.header = Some((number, unit.unwrap_or(&header).to_owned()));
                }
                Some(_) => {
                    let wall = text.rsplit(|byte| *byte == b',').next().unwrap_or_default();
                    let wall = std::str::from_utf8(wall).ok();
                    if let Some(wall) = wall.and_then(|wall| wall.parse().ok()) {
                        self.dates = Dates::after(wall);
                    }
                    let time = text.split(|byte| *byte == b',').next().unwrap_or_default();
                    let time = std::str::from_utf8(time).ok().and_then(millis);
                    self.last_ms = time.or(self.last_ms);
                }
            }
            line.clear();
        }
        Ok(())
    }

    /// Bytes of an unfinished last line, which the first row written takes the place of.
    #[must_use]
    pub const fn unfinished(&self) -> u64 {
        self.unfinished
    }

    /// Where it stands.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    fn name_firmware(&mut self) -> Result<(), LogFileError> {
        if let Some(firmware) = self.firmware.unsaid() {
            self.append(&format!("{FIRMWARE}{firmware}"))?;
            self.firmware.is_said(&firmware);
        }
        Ok(())
    }

    fn append(&mut self, line: &str) -> Result<(), LogFileError> {
        let line = format!("{line}\n");
        let written = self.cut().and_then(|()| {
            self.file.seek(SeekFrom::Start(self.whole))?;
            self.file.write_all(line.as_bytes())
        });
        match written {
            Ok(()) => {
                self.whole += line.len() as u64;
                Ok(())
            }
            Err(error) => {
                // A line half on the disk is taken back as far as a full disk lets us.
                let _ = self.file.set_len(self.whole);
                Err(LogFileError::Io {
                    path: self.path.clone(),
                    error,
                })
            }
        }
    }

    fn cut(&mut self) -> io::Result<()> {
        if self.unfinished > 0 {
            self.file.set_len(self.whole)?;
            self.unfinished = 0;
        }
        Ok(())
    }

    /// Brings everything to the disk; a file that nothing was written to is taken away again.
    ///
    /// # Errors
    /// The file system refused.
    pub fn close(self) -> Result<(), LogFileError> {
        let result = if self.whole == 0 && self.unfinished == 0 {
            std::fs::remove_file(&self.path)
        } else {
            self.file.sync_all()
        };
        result.map_err(|error| LogFileError::Io {
            path: self.path,
            error,
        })
    }
}

impl Keeper for LogFile {
    fn header(&self) -> Option<&str> {
        self.header.as_ref().map(|(_, header)| header.as_str())
    }

    fn last_ms(&self) -> Option<u64> {
        self.last_ms
    }

    fn offset_ms(&self) -> u64 {
        self.offset_ms
    }

    fn other_header(&self, found: &str) -> LogFileError {
        let (line, header) = self.header.clone().unwrap_or_default();
        LogFileError::OtherHeader {
            path: self.path.clone(),
            line,
            found: header,
            expected: found.to_owned(),
        }
    }

    fn firmware(&mut self, firmware: &str) {
        self.firmware.runs(firmware);
    }

    fn begin(&mut self, header: &str) -> Result<(), LogFileError> {
        self.name_firmware()?;
        self.append(&format!("{header}{CLOCK}"))?;
        self.header = Some((1, header.to_owned()));
        Ok(())
    }

    fn moved(&mut self, seconds: u64) -> Result<(), LogFileError> {
        self.append(&moved(seconds))
    }

    fn row(&mut self, row: &str, wall: &ZonedDateTime) -> Result<(), LogFileError> {
        self.name_firmware()?;
        if !self.has_clock {
            return self.append(row);
        }
        let row = self.dates.dated(row, wall);
        self.append(&row)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    fn wall(text: &str) -> ZonedDateTime {
        text.parse().expect("a time")
    }

    fn noon() -> ZonedDateTime {
        wall("2026-01-05T12:00:00+01:00[+01:00]")
    }

    fn folder() -> tempfile::TempDir {
        tempfile::tempdir().unwrap()
    }

    #[test]
    fn a_file_begins_with_its_header_and_grows_row_by_row() {
        let folder = folder();
        let path = folder.path().join("log.csv");
        let mut log = LogFile::open(&path).unwrap();
        assert_eq!(log.header(), None);
        log.begin("time_s,slab_c").unwrap();
        log.row("1,3.5", &noon()).unwrap();
        assert_eq!(
            fs::read_to_string(&path).unwrap(),
            "time_s,slab_c,time\n1,3.5,2026-01-05T12:00:00.000+01:00\n"
        );
        log.moved(322).unwrap();
        log.row("11.25,3.5", &noon()).unwrap();
        log.close().unwrap();
        let log = LogFile::open(&path).unwrap();
        assert_eq!(log.header(), Some("time_s,slab_c"));
        assert_eq!((log.last_ms(), log.offset_ms()), (Some(11_250), 322_000));
    }

    #[test]
    fn the_firmware_stands_above_the_header_and_where_it_changes() {
        let folder = folder();
        let path = folder.path().join("log.csv");
        let mut log = LogFile::open(&path).unwrap();
        log.firmware("version=1 board=bench build=a");
        log.begin("time_s,slab_c").unwrap();
        log.row("1,3.5", &noon()).unwrap();
        drop(log);
        let mut log = LogFile::open(&path).unwrap();
        for (time, build) in [(11, "a"), (21, "b"), (31, "b")] {
            log.firmware(&format!("version=1 board=bench build={build}"));
            log.row(&format!("{time},3.5"), &noon()).unwrap();
        }
        drop(log);
        let text = fs::read_to_string(&path).unwrap();
        let lines: Vec<&str> = text
            .lines()
            .map(|line| match line {
                comment if comment.starts_with('#') => comment,
                row => row.split(',').next().unwrap(),
            })
            .collect();
        let (a, b) = (
            "# firmware version=1 board=bench build=a",
            "# firmware version=1 board=bench build=b",
        );
        assert_eq!(lines, [a, "time_s", "1", "11", b, "21", "31"]);
        let log = LogFile::open(&path).unwrap();
        assert_eq!(log.header(), Some("time_s,slab_c"));
    }

    #[test]
    fn dates_never_go_back_whatever_is_done_to_the_clock() {
        let folder = folder();
        let path = folder.path().join("log.csv");
        let mut log = LogFile::open(&path).unwrap();
        log.begin("time_s,slab_c").unwrap();
        log.row("1,3.5", &noon()).unwrap();
        // Set back an hour, then gone on with by another run of the program, in summer time.
        log.row("11,3.5", &wall("2026-01-05T11:00:10+01:00[+01:00]"))
            .unwrap();
        drop(log);
        let mut log = LogFile::open(&path).unwrap();
        log.row("21,3.5", &wall("2026-01-05T12:00:00+02:00[+02:00]"))
            .unwrap();
        log.row("31,3.5", &wall("2026-01-05T13:10:00+02:00[+02:00]"))
            .unwrap();
        drop(log);
        let text = fs::read_to_string(&path).unwrap();
        let times: Vec<&str> = text
            .lines()
            .skip(1)
            .map(|row| &row[row.rfind(',').unwrap() + 1..])
            .collect();
        assert_eq!(
            times,
            [
                "2026-01-05T12:00:00.000+01:00",
                "2026-01-05T12:00:00.001+01:00",
                "2026-01-05T13:00:00.002+02:00",
                "2026-01-05T13:10:00.000+02:00",
            ]
        );
    }

    #[test]
    fn an_unfinished_line_stays_until_a_row_takes_its_place() {
        let folder = folder();
        let path = folder.path().join("log.csv");
        let before = "\n# a note\ntime_s,slab_c\r\n1,3.5\r\n11,3.";
        fs::write(&path, before).unwrap();
        let log = LogFile::open(&path).unwrap();
        assert_eq!((log.unfinished(), log.last_ms()), (5, Some(1_000)));
        let error = log.other_header("time_s,air_c").to_string();
        assert!(
            error.contains("log.csv: line 3: found the header \"time_s,slab_c\""),
            "{error}"
        );
        log.close().unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), before, "only looked at");
        let mut log = LogFile::open(&path).unwrap();
        log.row("21,3.5", &noon()).unwrap();
        drop(log);
        // A log from before rows had dates goes on without.
        let after = "\n# a note\ntime_s,slab_c\r\n1,3.5\r\n21,3.5\n";
        assert_eq!(fs::read_to_string(&path).unwrap(), after);
    }

    #[test]
    fn a_foreign_line_without_end_is_no_header_to_go_on_with() {
        let folder = folder();
        let path = folder.path().join("notes.txt");
        fs::write(&path, "time_s,slab_c").unwrap();
        let log = LogFile::open(&path).unwrap();
        assert_ne!(log.header(), Some("time_s,slab_c"));
        assert!(log.header().is_some());
    }

    #[test]
    fn a_file_nothing_came_for_is_not_left_behind() {
        let folder = folder();
        let path = folder.path().join("log.csv");
        LogFile::open(&path).unwrap().close().unwrap();
        assert!(!path.exists());
    }

    #[test]
    fn folders_and_files_in_use_are_refused() {
        let folder = folder();
        assert!(matches!(
            LogFile::open(folder.path()),
            Err(LogFileError::NoFile(_))
        ));
        let path = folder.path().join("log.csv");
        let _first = LogFile::open(&path).unwrap();
        assert!(matches!(LogFile::open(&path), Err(LogFileError::Locked(_))));
        let nowhere = folder.path().join("missing/log.csv");
        assert!(matches!(
            LogFile::open(&nowhere),
            Err(LogFileError::Io { .. })
        ));
    }
}
