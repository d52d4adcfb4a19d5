//! How a log is to be read, as typed.

use clap::Args;
use jiff::tz::TimeZone;

use crate::files::log::{ColumnMapping, DateOrder, LongTable, ReaderOptions};
use crate::files::quantity::{self, Dimension};

/// Rows further apart are asked about, ms.
const WEEK_MS: i64 = 7 * 86_400_000;

/// How a log is to be read, where its header and first rows do not say so.
#[derive(Debug, Args)]
#[command(next_help_heading = "How the log is to be read")]
pub struct LogForm {
    /// A column under another name: supply_c=Header, outdoor_f=Header, circulator=flow_m3h>0.05; a time in two columns:
    /// date=Header and time_of_day=Header.
    #[arg(long = "column", value_name = "NAME=HEADER")]
    pub columns: Vec<ColumnMapping>,
    /// A table with one row a value: the headers of what a row is of and of its value, such as entity_id=state. Then --column
    /// names what it is of, as in supply_c=sensor.flow, and time=HEADER the time.
    #[arg(long, value_name = "ENTITY=VALUE")]
    pub long: Option<LongTable>,
    /// Order of day and month where the log's dates leave it open; ymd is for years of two digits.
    #[arg(long, value_name = "dmy|mdy|ymd")]
    pub date_order: Option<DateOrder>,
    /// Zone of times without an offset, such as America/Denver: summer time is then known.
    #[arg(long, value_name = "ZONE", value_parser = zone)]
    pub zone: Option<TimeZone>,
    /// A cell with this text is no reading, such as unavailable or -127; may be given again.
    #[arg(long, value_name = "TEXT", allow_hyphen_values = true)]
    pub missing: Vec<String>,
    /// Lines above the header.
    #[arg(long, value_name = "N", default_value_t = 0)]
    pub skip_lines: u64,
    /// How long a value stands, such as "2 h", where the log has a row or a cell only when something changes.
    #[arg(long, value_name = "TIME", value_parser = milliseconds)]
    pub hold: Option<i64>,
    /// Longest time between two rows, 7 d unless given; with more, one of their dates is taken for wrong.
    #[arg(long, value_name = "TIME", value_parser = milliseconds)]
    pub longest_gap: Option<i64>,
}

impl LogForm {
    /// Is anything said of a log?
    #[must_use]
    pub fn is_given(&self) -> bool {
        !self.columns.is_empty()
            || !self.missing.is_empty()
            || self.long.is_some()
            || self.date_order.is_some()
            || self.zone.is_some()
            || self.skip_lines > 0
            || self.hold.is_some()
            || self.longest_gap.is_some()
    }

    /// For the reader.
    #[must_use]
    pub fn options(&self) -> ReaderOptions {
        ReaderOptions {
            columns: self.columns.clone(),
            date_order: self.date_order,
            zone: self.zone.clone(),
            missing: self.missing.clone(),
            skip_lines: self.skip_lines,
            holds_ms: self.hold,
            long: self.long.clone(),
            longest_gap_ms: Some(self.longest_gap.unwrap_or(WEEK_MS)),
            ..ReaderOptions::default()
        }
    }
}

/// A place's zone by its name in the time zone database, or as a POSIX rule.
fn zone(text: &str) -> Result<TimeZone, String> {
    TimeZone::get(text)
        .or_else(|_| TimeZone::posix(text))
        .map_err(|_| {
            "expected a zone of the time zone database such as America/Denver or Europe/Oslo, or a POSIX rule such as \
             MST7MDT,M3.2.0,M11.1.0"
                .to_owned()
        })
}

/// A time above zero, ms.
fn milliseconds(text: &str) -> Result<i64, String> {
    let seconds = quantity::parse(text, Dimension::Duration).map_err(|error| error.to_string())?;
    let ms = (seconds * 1_000.0).round();
    if (1.0..1e14).contains(&ms) {
        Ok(ms as i64)
    } else {
        Err("expected a time above zero".to_owned())
    }
}
