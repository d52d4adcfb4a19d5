//! Which part of a weather year is simulated, and what the calendar shows at a second of it.

use std::fmt;

use super::{Origin, WeatherYear};

/// A run of whole days that begins at 00:00 local standard time and may go on from the last row to the first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Period {
    /// Row that ends at 01:00 of the first day.
    pub(super) first_row: usize,
    /// Length, h.
    pub(super) hours: usize,
}

impl Period {
    /// Length in days.
    #[must_use]
    pub fn days(&self) -> usize {
        self.hours / 24
    }
}

/// Month, day and time of day, local standard time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Calendar {
    /// Month, 1–12.
    pub month: u8,
    /// Day of the month, 1–31.
    pub day: u8,
    /// Hour, 0–23.
    pub hour: u8,
    /// Minute, 0–59.
    pub minute: u8,
    /// Second, 0–59.
    pub second: u8,
}

impl fmt::Display for Calendar {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{:02}-{:02} {:02}:{:02}",
            self.month, self.day, self.hour, self.minute
        )
    }
}

/// Why a stretch of the year cannot be picked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PeriodError {
    /// The file has no such day.
    NoSuchDay {
        /// Month.
        month: u8,
        /// Day.
        day: u8,
    },
    /// No days, or more than the file has.
    Length {
        /// Days asked for.
        days: u32,
        /// Days in the file.
        available: usize,
    },
    /// A log that ends, or has a hole, within the days asked for.
    NotLogged {
        /// The first day that is not whole in the log.
        missing: String,
        /// The longest stretch that is, as first day and number of days.
        whole: (String, usize),
    },
    /// A cold snap's depth, length or ramp is not a usable number.
    Shape(&'static str),
}

impl fmt::Display for PeriodError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoSuchDay { month, day } => {
                write!(f, "the weather has no {month:02}-{day:02}; ")?;
                if (*month, *day) == (2, 29) {
                    write!(f, "a typical year has no 29 February: take 02-28 or 03-01")
                } else {
                    write!(f, "give a date that exists")
                }
            }
            Self::Length { days, available } => {
                write!(f, "{days} days asked for, expected 1 to {available}")
            }
            Self::NotLogged { missing, whole } => write!(
                f,
                "found no outdoor readings for {missing}; expected days that the log has; its longest stretch is --from {} \
                 --days {}",
                whole.0, whole.1
            ),
            Self::Shape(expected) => write!(f, "cold snap: expected {expected}"),
        }
    }
}

impl std::error::Error for PeriodError {}

impl WeatherYear {
    /// `days` days from 00:00 of the month and day of `from`; its year is a label only, since the weather is a typical one.
    ///
    /// # Errors
    /// The file has no such day, or fewer days than asked for.
    pub fn period(&self, from: jiff::civil::Date, days: u32) -> Result<Period, PeriodError> {
        if self.origin == Origin::Log {
            return self.period_of_log(from, days as usize);
        }
        let available = self.hours.len() / 24;
        let hours = days as usize * 24;
        if hours == 0 || hours > self.hours.len() {
            return Err(PeriodError::Length { days, available });
        }
        // Month and day of a civil date are small positive numbers.
        let first_row = self.row_of_day(from.month().unsigned_abs(), from.day().unsigned_abs())?;
        Ok(Period { first_row, hours })
    }

    /// Days of a log: those of the very year, or of that month and day where the log has them once only.
    fn period_of_log(&self, from: jiff::civil::Date, days: usize) -> Result<Period, PeriodError> {
        let is_whole = |day: usize| {
            self.hours
                .get(day * 24..day * 24 + 24)
                .is_some_and(|hours| hours.iter().all(|hour| !hour.dry_bulb_c.is_nan()))
        };
        let all_days = 0..self.hours.len() / 24;
        let is_like = |day: &usize| {
            self.date_of_day(*day)
                .is_some_and(|date| (date.month(), date.day()) == (from.month(), from.day()))
        };
        let mut alike = all_days.clone().filter(is_like);
        let (like, like_it) = (alike.next(), alike.next());
        let first_day = all_days
            .clone()
            .find(|day| self.date_of_day(*day) == Some(from))
            .or(like.filter(|_| like_it.is_none()));
        // Days after the first that the log does not have whole.
        let missing = match first_day {
            None => Some(0),
            Some(first) => (0..days).find(|after| !is_whole(first + after)),
        };
        if let (Some(first), None) = (first_day, missing) {
            return Ok(Period {
                first_row: first * 24,
                hours: days * 24,
            });
        }
        let begin = first_day
            .and_then(|day| self.date_of_day(day))
            .unwrap_or(from);
        let after = jiff::Span::new().days(
            missing
                .and_then(|days| i64::try_from(days).ok())
                .unwrap_or(0),
        );
        let (first, length) = self.longest_stretch();
        let named = |date: Option<jiff::civil::Date>| {
            date.map_or_else(String::new, |date| date.to_string())
        };
        Err(PeriodError::NotLogged {
            missing: named(begin.checked_add(after).ok()),
            whole: (named(self.date_of_day(first)), length),
        })
    }

    /// The longest run of whole days, at most a year, as first day and length; of a typical year all of it.
    #[must_use]
    pub fn longest_stretch(&self) -> (usize, usize) {
        let mut longest = (0, 0);
        let mut first = 0;
        for (day, hours) in self.hours.chunks_exact(24).enumerate() {
            if hours.iter().any(|hour| hour.dry_bulb_c.is_nan()) {
                first = day + 1;
            }
            // Of several years the last, which is remembered best.
            first = first.max((day + 1).saturating_sub(365));
            if day + 1 - first >= longest.1 && day + 1 > first {
                longest = (first, day + 1 - first);
            }
        }
        longest
    }

    /// Date of a day of the source, counted from its first.
    #[must_use]
    pub fn date_of_day(&self, day: usize) -> Option<jiff::civil::Date> {
        let hour = self.hours.get(day * 24)?;
        jiff::civil::Date::new(hour.year, hour.month.cast_signed(), hour.day.cast_signed()).ok()
    }

    /// Row that ends at 01:00 of a day.
    ///
    /// # Errors
    /// The year has no such day.
    pub fn row_of_day(&self, month: u8, day: u8) -> Result<usize, PeriodError> {
        self.hours
            .iter()
            .position(|hour| (hour.month, hour.day, hour.hour) == (month, day, 1))
            .ok_or(PeriodError::NoSuchDay { month, day })
    }
}

/// Day of a 365-day year, 1 January is 1; 29 February counts as 28 February.
pub(super) fn day_of_year(month: u8, day: u8) -> u16 {
    const BEFORE_MONTH: [u16; 12] = [0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334];
    let day = if (month, day) == (2, 29) { 28 } else { day };
    BEFORE_MONTH[usize::from(month - 1)] + u16::from(day)
}
