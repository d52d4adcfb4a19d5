//! What a time column turns out to hold, where its name leaves that open.

use super::{TimeFault, decimal::Decimal, time::SECOND_MS};

/// What a time column holds.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum TimeForm {
    /// Date and time, with or without an offset from UTC.
    DateTime,
    /// Seconds since any start.
    Seconds,
    /// Seconds since 1970.
    Unix,
    /// Milliseconds since 1970.
    UnixMillis,
    /// A spreadsheet's day number: days and parts of a day in local time.
    DayNumber,
}

/// Day number of 1970-01-01 in a spreadsheet, from memory; held by a test against a known day.
pub(super) const DAY_NUMBER_1970: i64 = 25_569;
/// Day numbers of 1954 to 2173, seconds and milliseconds of 2001 to 2096: no two overlap.
const DAY_NUMBERS: (i64, i64) = (20_000, 100_000);
const UNIX_SECONDS: (i64, i64) = (1_000_000_000, 4_000_000_000);

impl TimeForm {
    /// What a column is whose first cell is this, where it is named as one of dates and times.
    pub(super) fn of_dates(cell: &[u8]) -> Result<TimeForm, TimeFault> {
        let cell = cell.trim_ascii();
        let Some(value) = Decimal::parse(cell) else {
            return Ok(TimeForm::DateTime);
        };
        if value.is_within(DAY_NUMBERS.0, DAY_NUMBERS.1) {
            Ok(TimeForm::DayNumber)
        } else if value.is_within(UNIX_SECONDS.0, UNIX_SECONDS.1) {
            Ok(TimeForm::Unix)
        } else if whole(cell)
            .is_some_and(|ms| (UNIX_SECONDS.0..=UNIX_SECONDS.1).contains(&(ms / SECOND_MS)))
        {
            Ok(TimeForm::UnixMillis)
        } else {
            Err(TimeFault::Number)
        }
    }

    /// Whether seconds with this first cell are a spreadsheet's day number.
    pub(super) fn is_day_number(cell: &[u8]) -> bool {
        Decimal::parse(cell.trim_ascii()).is_some_and(|value| {
            value.is_within(DAY_NUMBERS.0, DAY_NUMBERS.1) && value.is_finer_than_a_thousandth()
        })
    }
}

pub(super) fn whole(cell: &[u8]) -> Option<i64> {
    std::str::from_utf8(cell).ok()?.parse().ok()
}
