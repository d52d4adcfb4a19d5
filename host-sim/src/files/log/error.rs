//! What makes a log unusable: the place, what was found, what was expected and what to do.

use std::{error, fmt, io};

use super::records::{RECORD_LIMIT, RecordFault};

/// Why a log cannot be read, and where.
#[derive(Debug)]
pub struct LogError(Box<Report>);

/// A day, ms.
const DAY_MS: f64 = 86_400_000.0;

#[derive(Debug)]
struct Report {
    log: String,
    line: Option<u64>,
    column: Option<ErrorColumn>,
    kind: LogErrorKind,
}

/// The cell an error is about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ErrorColumn {
    /// The header as it stands in the log.
    pub header: String,
    /// The field's number in its row, from 1.
    pub field: usize,
}

/// The kinds of error; texts in them are quoted from the log.
#[derive(Debug)]
#[non_exhaustive]
pub enum LogErrorKind {
    /// The file could not be opened or read.
    Io(io::Error),
    /// The text is UTF-16.
    Utf16,
    /// Another kind of file.
    Foreign {
        /// What it is.
        format: &'static str,
        /// What to do.
        advice: &'static str,
    },
    /// Lines stand above the header.
    Preamble {
        /// The first line.
        found: String,
        /// How many lines are to be skipped.
        skip: u64,
    },
    /// A date or a time of day is named without the other.
    HalfTime,
    /// Two rows have the same date, and no time of day.
    DateRepeated {
        /// The cell.
        found: String,
    },
    /// More time than any gap between two rows.
    LongGap {
        /// The time before it, as text.
        before: String,
        /// The time after it, as text.
        after: String,
        /// How long, ms.
        by_ms: i64,
        /// The longest allowed, ms.
        limit_ms: i64,
    },
    /// A number that may have a decimal comma or a mark between thousands.
    Thousands {
        /// The cell.
        found: String,
    },
    /// The log has no header line.
    NoHeader,
    /// No column holds the time.
    NoTimeColumn {
        /// The headers there are.
        headers: Vec<String>,
    },
    /// None of supply, return, slab and outdoor has a column.
    NoReadingColumn {
        /// The headers there are.
        headers: Vec<String>,
    },
    /// A mapping names a header the log does not have.
    UnknownHeader {
        /// The header looked for.
        header: String,
        /// The headers there are.
        headers: Vec<String>,
    },
    /// A long table without the entity wanted, or none is wanted.
    NoEntity {
        /// What a mapping names.
        wanted: Option<String>,
        /// The header of the entities.
        column: String,
        /// Those there are, but for the ones mapped.
        entities: String,
    },
    /// Two columns claim to be the same quantity.
    RepeatedColumn {
        /// The quantity.
        name: String,
        /// The first column's field number, from 1.
        first: usize,
        /// The second column's field number, from 1.
        second: usize,
    },
    /// No row follows the header.
    NoRows,
    /// A row has more or fewer fields than the header.
    FieldCount {
        /// Fields in the row.
        found: usize,
        /// Fields in the header.
        expected: usize,
    },
    /// A quoted field does not end.
    OpenQuote,
    /// A record longer than any log's.
    TooLong,
    /// A reading that is no number.
    NotANumber {
        /// The cell.
        found: String,
    },
    /// A relay state that is none.
    NotARelayState {
        /// The cell.
        found: String,
    },
    /// A time that cannot be read.
    NotATime {
        /// The cell.
        found: String,
        /// What is wrong with it.
        fault: TimeFault,
    },
    /// A time earlier than the row before.
    TimeWentBack {
        /// The cell.
        found: String,
        /// By how much, ms.
        by_ms: i64,
        /// Whether the times carry no offset from UTC.
        is_local: bool,
        /// Whether the log is read from its end.
        newest_first: bool,
    },
    /// A newest-first log that cannot be read from its end.
    NewestFirstPipe,
    /// A cell a caller cannot use.
    Unusable {
        /// The cell.
        found: String,
        /// What the caller expected.
        expected: String,
    },
}

/// What is wrong with a time.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum TimeFault {
    /// No known form of date and time.
    Form,
    /// No known form of seconds.
    Seconds,
    /// More than 10¹⁰ seconds.
    TooManySeconds,
    /// A spreadsheet's day number under a column of seconds.
    DayNumber,
    /// A bare number that is no time known.
    Number,
    /// A time of day without its date.
    NoDate,
    /// A year of two digits.
    ShortYear,
    /// A day, month or hour that does not exist.
    Calendar,
    /// The order of day and month cannot be told from the log.
    AmbiguousOrder,
    /// An offset from UTC that other rows do not have, or the other way round.
    MixedOffset,
}

impl LogError {
    pub(super) fn new(
        log: &str,
        line: Option<u64>,
        column: Option<ErrorColumn>,
        kind: LogErrorKind,
    ) -> LogError {
        LogError(Box::new(Report {
            log: log.to_owned(),
            line,
            column,
            kind,
        }))
    }

    /// The line in the file, from 1, where the error is in a line.
    pub fn line(&self) -> Option<u64> {
        self.0.line
    }

    /// The column, where the error is in a cell.
    pub fn column(&self) -> Option<&ErrorColumn> {
        self.0.column.as_ref()
    }

    /// What is wrong.
    pub fn kind(&self) -> &LogErrorKind {
        &self.0.kind
    }
}

impl From<RecordFault> for LogErrorKind {
    fn from(fault: RecordFault) -> LogErrorKind {
        match fault {
            RecordFault::Io(error) => LogErrorKind::Io(error),
            RecordFault::TooLong => LogErrorKind::TooLong,
            RecordFault::OpenQuote => LogErrorKind::OpenQuote,
        }
    }
}

impl error::Error for LogError {
    fn source(&self) -> Option<&(dyn error::Error + 'static)> {
        // What the file system said is part of the message.
        None
    }
}

impl fmt::Display for LogError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Report {
            log,
            line,
            column,
            kind,
        } = &*self.0;
        write!(f, "{log}")?;
        if let Some(line) = line {
            write!(f, ", line {line}")?;
        }
        if let Some(ErrorColumn { header, field }) = column {
            let header = quote(header.as_bytes());
            write!(f, ", column \"{header}\" (field {field})")?;
        }
        write!(f, ": {kind}")
    }
}

impl fmt::Display for LogErrorKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            LogErrorKind::Io(error) => write!(f, "cannot be read: {error}"),
            LogErrorKind::Utf16 => f.write_str("found UTF-16 text; expected UTF-8 or plain ASCII; save the log as \"CSV UTF-8\""),
            LogErrorKind::Foreign { format, advice } => {
                write!(f, "found {format}; expected CSV text; {advice}")
            }
            LogErrorKind::Preamble { found, skip } => write!(
                f,
                "found \"{found}\", and what looks like the header only in line {}; expected the column names in the first line; \
                 skip what stands above them with --skip-lines {skip}",
                skip + 1
            ),
            LogErrorKind::HalfTime => f.write_str(
                "found only one of date and time_of_day among the --column options; expected both, as in --column date=DAY --column \
                 time_of_day=CLOCK, or --column time=HEADER for a column that holds both",
            ),
            LogErrorKind::DateRepeated { found } => write!(
                f,
                "found the date \"{found}\" without a time of day, in more than one row; expected date and time; if the time of day \
                 stands in a column of its own, name both: --column date=HEADER --column time_of_day=HEADER"
            ),
            LogErrorKind::LongGap { before, after, by_ms, limit_ms } => write!(
                f,
                "found the time {after}, {:.1} days after the row before it ({before}); expected rows at most {:.1} days apart; \
                 remove rows from before the clock was set or with a wrong date, split the log there, or allow it with \
                 --longest-gap \"{:.0} d\"",
                *by_ms as f64 / DAY_MS,
                *limit_ms as f64 / DAY_MS,
                (*by_ms as f64 / DAY_MS).ceil()
            ),
            LogErrorKind::Thousands { found } => write!(
                f,
                "found \"{found}\", which may be a thousand and more or one with a decimal comma; expected a number with a decimal \
                 point and no mark between thousands; export it without one"
            ),
            LogErrorKind::NoHeader => f.write_str("found no header line; expected column names such as time,supply_c,return_c,slab_c,outdoor_c in the first line"),
            LogErrorKind::NoTimeColumn { headers } => write!(
                f,
                "found no time among the headers {}; expected a column time (date and time) or time_s (seconds); name it with --column time=HEADER, or with \
                 --column date=HEADER --column time_of_day=HEADER where it stands in two columns",
                list(headers)
            ),
            LogErrorKind::NoReadingColumn { headers } => write!(
                f,
                "found no reading among the headers {}; expected at least one of supply_c, return_c, slab_c, outdoor_c (or _f in °F); name them with --column supply_c=HEADER and so on",
                list(headers)
            ),
            LogErrorKind::UnknownHeader { header, headers } => {
                write!(f, "found no header \"{}\"; expected one of {}; correct the --column option", quote(header.as_bytes()), list(headers))
            }
            LogErrorKind::NoEntity { wanted, column, entities } => {
                let found = wanted.as_ref().map_or_else(
                    || "no --column for a long table".to_owned(),
                    |wanted| format!("no row with \"{wanted}\" under {column}"),
                );
                write!(
                    f,
                    "{found}; expected entities such as {entities}; name one for each reading, as in --column \"supply_c=ENTITY\""
                )
            }
            LogErrorKind::RepeatedColumn { name, first, second } => write!(
                f,
                "found {name} twice, in fields {first} and {second}; expected one column for it; rename one header, or choose with --column"
            ),
            LogErrorKind::NoRows => f.write_str("found no row after the header; expected at least one row with a time"),
            LogErrorKind::FieldCount { found, expected } if found < expected => write!(
                f,
                "found {found} fields; expected {expected}, as in the header; complete the row or remove it"
            ),
            LogErrorKind::FieldCount { found, expected } => write!(
                f,
                "found {found} fields; expected {expected}, as in the header; a decimal comma or other text with the delimiter in it needs quotes"
            ),
            LogErrorKind::OpenQuote => f.write_str(
                "found a quote that does not close; expected a second one at the end of the field; in a newest-first log a quoted field must not span lines",
            ),
            LogErrorKind::TooLong => write!(
                f,
                "found a row longer than {} KiB; expected one row a line; look for a quote that does not close",
                RECORD_LIMIT / 1024
            ),
            LogErrorKind::NotANumber { found } => write!(
                f,
                "found \"{found}\"; expected a number, or nothing, NaN or null for a missing reading; if it means that there is none: \
                 --missing {}; otherwise correct the cell or empty it",
                if found.chars().count() <= 20 { format!("\"{found}\"") } else { "TEXT".to_owned() }
            ),
            LogErrorKind::NotARelayState { found } => write!(
                f,
                "found \"{found}\"; expected 1, 0, true, false, on, off, yes, no or nothing; for a measured quantity give its limit, as in --column circulator=HEADER>0.05"
            ),
            LogErrorKind::NotATime { found, fault } => write!(f, "found \"{found}\"; {fault}"),
            LogErrorKind::TimeWentBack { found, by_ms, is_local, newest_first } => {
                let order = if *newest_first {
                    "the log begins newest first and is read from its end, where times must grow from row to row"
                } else {
                    "times must not go back from row to row"
                };
                let seconds = by_ms / 1000;
                let milliseconds = by_ms % 1000;
                write!(f, "found \"{found}\", {seconds}.{milliseconds:03} s before the row before it; {order}; ")?;
                if *is_local && *by_ms <= 2 * 3_600_000 {
                    f.write_str("if the clocks went back here, name the place's zone, as in --zone America/Denver, and both hours are read; otherwise sort the rows by time")
                } else {
                    f.write_str("sort the rows by time, or split the log where the clock was set")
                }
            }
            LogErrorKind::NewestFirstPipe => f.write_str(
                "found the newest row first in a pipe of more than 1 MiB; expected the oldest first; give the log as a file, which is read from its end",
            ),
            LogErrorKind::Unusable { found, expected } => write!(f, "found \"{found}\"; expected {expected}"),
        }
    }
}

impl fmt::Display for TimeFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            TimeFault::Form => "expected a date and time such as 2017-01-15T00:00:00Z, 2017-01-15 00:00 or 15.01.2017 00:00; for seconds name the column time_s",
            TimeFault::Seconds => "expected seconds as a number such as 86400 or 12.5; for a date and time name the column time",
            TimeFault::TooManySeconds => "expected seconds, at most ten billion; milliseconds are to be divided by 1000",
            TimeFault::DayNumber => "expected seconds; this is a spreadsheet's day number, which is read under the name time: --column time=HEADER",
            TimeFault::Number => "expected a date and time, seconds or milliseconds since 1970, or a spreadsheet's day number; for seconds since the log's start name the column time_s",
            TimeFault::NoDate => "expected the date with the time of day; name both columns: --column date=HEADER --column time_of_day=HEADER",
            TimeFault::ShortYear => "expected a year of four digits, as in 2017-01-15 00:00; for years of two say the order with --date-order dmy, mdy or ymd",
            TimeFault::Calendar => "expected a day, month and time that exist; if day and month are in the other order, say so with --date-order dmy or mdy",
            TimeFault::AmbiguousOrder => "expected to see which is the day and which the month, and no row tells; say so with --date-order dmy or mdy",
            TimeFault::MixedOffset => "expected an offset from UTC (Z, +01:00) in all rows or in none; write all times in one form",
        })
    }
}

/// The headers as a person can scan them.
pub(super) fn list(headers: &[String]) -> String {
    const SHOWN: usize = 24;
    let mut text = headers
        .iter()
        .take(SHOWN)
        .map(|header| quote(header.as_bytes()))
        .collect::<Vec<_>>()
        .join(", ");
    if headers.len() > SHOWN {
        text.push_str(&format!(" and {} more", headers.len() - SHOWN));
    }
    text
}

/// A cell's text for a message: at most 40 characters, control characters escaped.
pub(super) fn quote(cell: &[u8]) -> String {
    const SHOWN: usize = 40;
    let text = super::text(cell);
    let mut shown: String = text
        .chars()
        .take(SHOWN)
        .flat_map(char::escape_debug)
        .collect();
    if text.chars().nth(SHOWN).is_some() {
        shown.push('…');
    }
    shown
}
