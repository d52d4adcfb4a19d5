//! Time cells to milliseconds: any common form of date and time, or plain seconds.

use jiff::{
    Timestamp,
    civil::Date,
    tz::{Offset, TimeZone},
};

use super::{
    LogStart, TimeFault,
    decimal::Decimal,
    form::{DAY_NUMBER_1970, TimeForm, whole},
    mapping::DateOrder,
    zone::Zone,
};

pub(super) const SECOND_MS: i64 = 1000;
const MINUTE_MS: i64 = 60 * SECOND_MS;
pub(super) const HOUR_MS: i64 = 60 * MINUTE_MS;
/// Seconds beyond this are some other unit.
const SECONDS_LIMIT: i64 = 10_000_000_000;

/// Reads one column's time cells. Rows follow each other closely, so the date and all else around the clock is compared with
/// the row before and only read again when it changed.
#[derive(Clone, Debug)]
pub(super) struct TimeReader {
    form: TimeForm,
    order: Option<DateOrder>,
    /// The first row's offset from UTC: None before it, Some(None) for times without one.
    first_offset: Option<Option<Offset>>,
    pattern: Option<Pattern>,
    zone: Option<Zone>,
    /// The last cell was a date without a time of day.
    is_date_only: bool,
}

/// A cell of the form date, `HH:MM:SS`, rest; date and rest are those of the row before.
#[derive(Clone, Debug)]
struct Pattern {
    before: Vec<u8>,
    after: Vec<u8>,
    /// What the cell is with a clock of 00:00:00, ms.
    base_ms: i64,
}

impl TimeReader {
    pub(super) fn new(
        form: TimeForm,
        order: Option<DateOrder>,
        zone: Option<TimeZone>,
    ) -> TimeReader {
        TimeReader {
            form,
            order,
            first_offset: None,
            pattern: None,
            zone: zone.map(Zone::new),
            is_date_only: false,
        }
    }

    /// The same without the place's zone: for the order in which local times stand.
    pub(super) fn without_zone(&self) -> TimeReader {
        TimeReader {
            zone: None,
            ..self.clone()
        }
    }

    /// Whether the last cell read was a date without a time of day.
    pub(super) fn is_date_only(&self) -> bool {
        self.is_date_only
    }

    pub(super) fn form(&self) -> TimeForm {
        self.form
    }

    /// Milliseconds since the column's own zero: that of its seconds, or 1970-01-01 in UTC, or in local time where the times
    /// carry no offset. Finer fractions are rounded.
    #[inline]
    pub(super) fn read(&mut self, cell: &[u8]) -> Result<i64, TimeFault> {
        match self.form {
            TimeForm::Seconds => seconds(cell),
            TimeForm::DateTime => {
                let time_ms = match self.pattern.as_ref().and_then(|pattern| pattern.read(cell)) {
                    Some(time_ms) => time_ms,
                    None => self.read_in_full(cell)?,
                };
                match (&mut self.zone, self.first_offset) {
                    (Some(zone), Some(None)) => Ok(zone.utc_ms(time_ms)),
                    _ => Ok(time_ms),
                }
            }
            TimeForm::Unix => seconds(cell),
            TimeForm::UnixMillis => whole(cell.trim_ascii()).ok_or(TimeFault::Number),
            TimeForm::DayNumber => {
                let days = Decimal::parse(cell.trim_ascii()).ok_or(TimeFault::Number)?;
                let local_ms = days.day_milliseconds() - DAY_NUMBER_1970 * 24 * HOUR_MS;
                Ok(self
                    .zone
                    .as_mut()
                    .map_or(local_ms, |zone| zone.utc_ms(local_ms)))
            }
        }
    }

    /// What stands at `time_ms`, the time of the first row.
    pub(super) fn start(&self, time_ms: i64) -> LogStart {
        // Every time that was read passed through the calendar, so it is within its range.
        let at = Timestamp::from_millisecond(time_ms).unwrap_or(Timestamp::MAX);
        match (self.form, self.first_offset) {
            (TimeForm::Seconds, _) => LogStart::Seconds { ms: time_ms },
            (TimeForm::DateTime, Some(Some(offset))) => LogStart::Instant { at, offset },
            (TimeForm::Unix | TimeForm::UnixMillis, _) => LogStart::Instant {
                at,
                offset: Offset::UTC,
            },
            (TimeForm::DateTime | TimeForm::DayNumber, _) => match &self.zone {
                Some(zone) => LogStart::Instant {
                    at,
                    offset: zone.offset_at(at),
                },
                None => LogStart::Local(Offset::UTC.to_datetime(at)),
            },
        }
    }

    #[cold]
    fn read_in_full(&mut self, cell: &[u8]) -> Result<i64, TimeFault> {
        let cell = cell.trim_ascii();
        let parts = Parts::split(cell)?;
        self.is_date_only = parts.is_date_only;
        let (year, month, day) = parts.date.ordered(self.order)?;
        let date = Date::new(year, month, day).map_err(|_| TimeFault::Calendar)?;
        let midnight = Offset::UTC
            .to_timestamp(date.at(0, 0, 0, 0))
            .map_err(|_| TimeFault::Calendar)?;
        if self
            .first_offset
            .is_some_and(|first| first.is_some() != parts.offset.is_some())
        {
            return Err(TimeFault::MixedOffset);
        }
        self.first_offset.get_or_insert(parts.offset);
        let offset_ms = parts
            .offset
            .map_or(0, |offset| i64::from(offset.seconds()) * SECOND_MS);
        let time_ms = midnight.as_millisecond() - offset_ms + parts.time_of_day_ms;
        self.pattern = parts.clock_at.and_then(|at| Pattern::of(cell, at, time_ms));
        Ok(time_ms)
    }
}

impl Pattern {
    /// The pattern of a cell that was read as `time_ms`, with its clock at `at`; a constant fraction is part of what follows.
    fn of(cell: &[u8], at: usize, time_ms: i64) -> Option<Pattern> {
        let (before, after) = (cell[..at].to_vec(), cell[at + 8..].to_vec());
        let from_zero = Pattern {
            before,
            after,
            base_ms: 0,
        };
        let clock_ms = from_zero.read(cell)?;
        Some(Pattern {
            base_ms: time_ms - clock_ms,
            ..from_zero
        })
    }

    #[inline]
    fn read(&self, cell: &[u8]) -> Option<i64> {
        let clock = cell
            .strip_prefix(self.before.as_slice())?
            .strip_suffix(self.after.as_slice())?;
        let &[h1, h0, b':', m1, m0, b':', s1, s0] = clock else {
            return None;
        };
        let (hour, minute, second) = (
            two_digits(h1, h0)?,
            two_digits(m1, m0)?,
            two_digits(s1, s0)?,
        );
        (hour < 24 && minute < 60 && second < 60)
            .then(|| self.base_ms + hour * HOUR_MS + minute * MINUTE_MS + second * SECOND_MS)
    }
}

#[inline]
fn two_digits(tens: u8, ones: u8) -> Option<i64> {
    let (tens, ones) = (tens.wrapping_sub(b'0'), ones.wrapping_sub(b'0'));
    (tens <= 9 && ones <= 9).then(|| i64::from(tens) * 10 + i64::from(ones))
}

#[inline]
fn seconds(cell: &[u8]) -> Result<i64, TimeFault> {
    let value = Decimal::parse(cell)
        .or_else(|| Decimal::parse(cell.trim_ascii()))
        .ok_or(TimeFault::Seconds)?;
    let time_ms = value.milliseconds();
    if time_ms.abs() > SECONDS_LIMIT * SECOND_MS {
        return Err(TimeFault::TooManySeconds);
    }
    Ok(time_ms)
}

/// The order of day and month that a cell shows by itself: None when either would do, or when the form leaves no doubt.
pub(super) fn order_shown(cell: &[u8]) -> Option<DateOrder> {
    match Parts::split(cell.trim_ascii()).ok()?.date {
        DateParts::Unordered { first: 13.., .. } => Some(DateOrder::DayFirst),
        DateParts::Unordered { second: 13.., .. } => Some(DateOrder::MonthFirst),
        _ => None,
    }
}

/// Whether the cell is a time of day without its date.
pub(super) fn is_time_of_day(cell: &[u8]) -> bool {
    matches!(Parts::split(cell.trim_ascii()), Err(TimeFault::NoDate))
}

/// Whether the cell's form leaves the order of day and month open.
pub(super) fn needs_order(cell: &[u8]) -> bool {
    Parts::split(cell.trim_ascii())
        .is_ok_and(|parts| matches!(parts.date, DateParts::Unordered { .. }))
}

/// A date as it is written.
#[derive(Clone, Copy, Debug)]
enum DateParts {
    Known {
        year: i16,
        month: i8,
        day: i8,
    },
    Unordered {
        first: i8,
        second: i8,
        year: i16,
    },
    /// Two digits each: the order must be said.
    Short {
        parts: [i8; 3],
    },
}

impl DateParts {
    fn ordered(self, order: Option<DateOrder>) -> Result<(i16, i8, i8), TimeFault> {
        match (self, order) {
            (DateParts::Known { year, month, day }, _) => Ok((year, month, day)),
            (
                DateParts::Unordered {
                    first,
                    second,
                    year,
                },
                Some(DateOrder::DayFirst),
            ) => Ok((year, second, first)),
            (
                DateParts::Unordered {
                    first,
                    second,
                    year,
                },
                Some(DateOrder::MonthFirst),
            ) => Ok((year, first, second)),
            (DateParts::Unordered { .. }, Some(DateOrder::YearFirst) | None) => {
                Err(TimeFault::AmbiguousOrder)
            }
            (DateParts::Short { parts: [a, b, c] }, Some(order)) => Ok(match order {
                DateOrder::DayFirst => (2000 + i16::from(c), b, a),
                DateOrder::MonthFirst => (2000 + i16::from(c), a, b),
                DateOrder::YearFirst => (2000 + i16::from(a), b, c),
            }),
            (DateParts::Short { .. }, None) => Err(TimeFault::ShortYear),
        }
    }
}

/// A cell taken apart.
struct Parts {
    date: DateParts,
    time_of_day_ms: i64,
    offset: Option<Offset>,
    is_date_only: bool,
    /// Where a clock of the form `HH:MM:SS` stands, unless AM or PM changes its meaning.
    clock_at: Option<usize>,
}

impl Parts {
    fn split(cell: &[u8]) -> Result<Parts, TimeFault> {
        let mut cursor = Cursor { text: cell, at: 0 };
        let date = cursor.date()?;
        if cursor.is_at_end() {
            return Ok(Parts {
                date,
                time_of_day_ms: 0,
                offset: None,
                is_date_only: true,
                clock_at: None,
            });
        }
        cursor.gap()?;
        let clock_at = cursor.at;
        let (time_of_day_ms, is_fixed) = cursor.clock()?;
        let offset = cursor.offset()?;
        if !cursor.is_at_end() {
            return Err(TimeFault::Form);
        }
        Ok(Parts {
            date,
            time_of_day_ms,
            offset,
            is_date_only: false,
            clock_at: is_fixed.then_some(clock_at),
        })
    }
}

struct Cursor<'a> {
    text: &'a [u8],
    at: usize,
}

impl Cursor<'_> {
    fn rest(&self) -> &[u8] {
        &self.text[self.at..]
    }

    fn is_at_end(&self) -> bool {
        self.at == self.text.len()
    }

    fn peek(&self) -> Option<u8> {
        self.rest().first().copied()
    }

    fn eat(&mut self, byte: u8) -> bool {
        let is_next = self.peek() == Some(byte);
        self.at += usize::from(is_next);
        is_next
    }

    fn eat_word(&mut self, word: &[u8]) -> bool {
        let is_next = self
            .rest()
            .get(..word.len())
            .is_some_and(|next| next.eq_ignore_ascii_case(word));
        self.at += if is_next { word.len() } else { 0 };
        is_next
    }

    fn spaces(&mut self) -> usize {
        let start = self.at;
        while self.eat(b' ') {}
        self.at - start
    }

    /// A run of up to nine digits: its value and length.
    fn number(&mut self) -> Option<(i32, usize)> {
        let digits = self
            .rest()
            .iter()
            .take_while(|byte| byte.is_ascii_digit())
            .count();
        if digits == 0 || digits > 9 {
            return None;
        }
        let value = self.rest()[..digits]
            .iter()
            .fold(0, |value, byte| value * 10 + i32::from(byte - b'0'));
        self.at += digits;
        Some((value, digits))
    }

    fn date(&mut self) -> Result<DateParts, TimeFault> {
        let (first, first_digits) = self.number().ok_or(TimeFault::Form)?;
        let separator = match self.peek() {
            Some(byte @ (b'-' | b'/' | b'.')) => byte,
            Some(b':') => return Err(TimeFault::NoDate),
            _ => return Err(TimeFault::Form),
        };
        self.at += 1;
        let (second, second_digits) = self.number().ok_or(TimeFault::Form)?;
        if !self.eat(separator) || second_digits > 2 {
            return Err(TimeFault::Form);
        }
        let (third, third_digits) = self.number().ok_or(TimeFault::Form)?;
        // Four digits fit i16, two fit i8.
        match (first_digits, third_digits) {
            (4, 1 | 2) => Ok(DateParts::Known {
                year: first as i16,
                month: second as i8,
                day: third as i8,
            }),
            // With dots the day comes first everywhere dots are used.
            (1 | 2, 4) if separator == b'.' => Ok(DateParts::Known {
                year: third as i16,
                month: second as i8,
                day: first as i8,
            }),
            (1 | 2, 4) => Ok(DateParts::Unordered {
                first: first as i8,
                second: second as i8,
                year: third as i16,
            }),
            (1 | 2, 1 | 2) => Ok(DateParts::Short {
                parts: [first as i8, second as i8, third as i8],
            }),
            _ => Err(TimeFault::Form),
        }
    }

    /// What stands between date and clock: T, spaces, or a comma and spaces.
    fn gap(&mut self) -> Result<(), TimeFault> {
        if self.eat_word(b"T") {
            return Ok(());
        }
        let comma = self.eat(b',');
        if self.spaces() > 0 || comma {
            Ok(())
        } else {
            Err(TimeFault::Form)
        }
    }

    /// `H:MM`, `HH:MM:SS`, with fraction, with AM or PM: milliseconds since midnight, and whether it is `HH:MM:SS` plain.
    fn clock(&mut self) -> Result<(i64, bool), TimeFault> {
        let start = self.at;
        let mut hour = self.pair()?;
        if !self.eat(b':') {
            return Err(TimeFault::Form);
        }
        let minute = self.pair()?;
        let has_seconds = self.eat(b':');
        let second = if has_seconds { self.pair()? } else { 0 };
        let is_fixed = has_seconds && self.at - start == 8;
        let fraction_ms = if has_seconds && (self.eat(b'.') || self.eat(b',')) {
            self.fraction()?
        } else {
            0
        };
        let before_half = self.at;
        self.spaces();
        let half = if self.eat_word(b"AM") {
            Some(0)
        } else if self.eat_word(b"PM") {
            Some(12)
        } else {
            self.at = before_half;
            None
        };
        if let Some(half) = half {
            if !(1..=12).contains(&hour) {
                return Err(TimeFault::Calendar);
            }
            hour = hour % 12 + half;
        }
        // ISO 8601: 24:00:00 is the end of the day; second 60 is a leap second, here the one before once more.
        let is_end_of_day = hour == 24 && minute == 0 && second == 0 && fraction_ms == 0;
        if (hour > 23 && !is_end_of_day) || minute > 59 || second > 60 {
            return Err(TimeFault::Calendar);
        }
        let time_ms =
            hour * HOUR_MS + minute * MINUTE_MS + second.min(59) * SECOND_MS + fraction_ms;
        Ok((time_ms, is_fixed && half.is_none()))
    }

    fn pair(&mut self) -> Result<i64, TimeFault> {
        match self.number() {
            Some((value, 1 | 2)) => Ok(i64::from(value)),
            _ => Err(TimeFault::Form),
        }
    }

    /// A fraction of a second as milliseconds, rounded.
    fn fraction(&mut self) -> Result<i64, TimeFault> {
        let digits = self
            .rest()
            .iter()
            .take_while(|byte| byte.is_ascii_digit())
            .count();
        if digits == 0 {
            return Err(TimeFault::Form);
        }
        let kept = self.rest()[..digits]
            .iter()
            .copied()
            .chain(std::iter::repeat(b'0'))
            .take(4);
        let tenths = kept.fold(0, |value, byte| value * 10 + i64::from(byte - b'0'));
        self.at += digits;
        Ok((tenths + 5) / 10)
    }

    /// `Z`, `UTC`, `±HH:MM`, `±HHMM`, `±HH`, after any spaces.
    fn offset(&mut self) -> Result<Option<Offset>, TimeFault> {
        let spaces = self.spaces();
        if self.is_at_end() && spaces == 0 {
            return Ok(None);
        }
        if self.eat_word(b"Z") || self.eat_word(b"UTC") {
            return Ok(Some(Offset::UTC));
        }
        let sign = match self.peek() {
            Some(b'+') => 1,
            Some(b'-') => -1,
            _ => return Err(TimeFault::Form),
        };
        self.at += 1;
        let (hours, minutes) = match self.number() {
            Some((hours, 2)) if self.eat(b':') => match self.number() {
                Some((minutes, 2)) => (hours, minutes),
                _ => return Err(TimeFault::Form),
            },
            Some((hours, 2)) => (hours, 0),
            Some((both, 4)) => (both / 100, both % 100),
            _ => return Err(TimeFault::Form),
        };
        if hours > 23 || minutes > 59 {
            return Err(TimeFault::Calendar);
        }
        Offset::from_seconds(sign * (hours * 3600 + minutes * 60))
            .map(Some)
            .map_err(|_| TimeFault::Calendar)
    }
}
