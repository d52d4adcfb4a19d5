//! The times of a question: one axis of seconds from some days before now to the morning.

use jiff::civil::{Date, DateTime};

use super::night::SAMPLE_S;
use crate::files::weather::shape::{COLDEST_AFTER_SUNRISE_H, SunTimes};
use crate::sim::weather::Station;

/// Whole days prepared before the day of the question: two days of history, and one so that the first hour has a beginning.
const DAYS_BEFORE: i64 = 3;
/// Days prepared in all: the question's own day and the morning after come on top.
pub(super) const DAYS: u32 = 5;
/// The morning, after sunrise, h: until then the sun has not warmed the slab yet (estimate).
const MORNING_AFTER_SUNRISE_H: f64 = 2.0;
/// The times of the question, s since 00:00 of [`Axis::first`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Axis {
    /// The first day prepared.
    pub first: Date,
    /// Now.
    pub now_s: u64,
    /// The end of the question.
    pub until_s: u64,
    /// The next sunrise.
    pub sunrise_s: u64,
    /// The sunset before that sunrise.
    pub sunset_s: u64,
}

impl Axis {
    /// The night that follows `now` at a station; `until` is a clock time that ends it instead of the usual morning.
    #[must_use]
    pub fn new(station: &Station, now: DateTime, until: Option<jiff::civil::Time>) -> Axis {
        let day = jiff::SignedDuration::from_hours(24);
        let first = now.date().saturating_sub(day * DAYS_BEFORE as i32);
        let of_day = |time: jiff::civil::Time| {
            u64::try_from(i64::from(time.hour()) * 3600 + i64::from(time.minute()) * 60)
                .unwrap_or(0)
        };
        let today_s = DAYS_BEFORE as u64 * 86_400;
        // On whole samples: now a little earlier, the end a little later.
        let now_s = floor_to_sample(today_s + of_day(now.time()));
        let on = |midnight_s: u64, hour: f64| midnight_s + (hour.clamp(0.0, 24.0) * 3600.0) as u64;
        let sun = |date: Date| SunTimes::of(station, date);
        let (today, tomorrow) = (sun(now.date()), sun(now.date().saturating_add(day)));
        let morning =
            |midnight_s, sun: SunTimes| on(midnight_s, sun.rise_h + MORNING_AFTER_SUNRISE_H);
        let until_s = match until {
            Some(time) if today_s + of_day(time) > now_s => today_s + of_day(time),
            Some(time) => today_s + 86_400 + of_day(time),
            None if morning(today_s, today) >= now_s + 3600 => morning(today_s, today),
            None => morning(today_s + 86_400, tomorrow),
        };
        let (sunrise_s, sunset_s) = if now_s >= on(today_s, today.rise_h) {
            (
                on(today_s + 86_400, tomorrow.rise_h),
                on(today_s, today.set_h),
            )
        } else {
            (on(today_s, today.rise_h), on(today_s - 86_400, today.set_h))
        };
        Axis {
            first,
            now_s,
            until_s: floor_to_sample(until_s + SAMPLE_S - 1),
            sunrise_s,
            sunset_s,
        }
    }

    /// The wall clock at a second of the axis.
    #[must_use]
    pub fn at(&self, second: u64) -> DateTime {
        let span = jiff::SignedDuration::from_secs(i64::try_from(second).unwrap_or(0));
        self.first
            .to_datetime(jiff::civil::Time::midnight())
            .saturating_add(span)
    }

    /// The second of a wall clock, if it lies on the axis.
    #[must_use]
    pub fn second(&self, at: DateTime) -> Option<u64> {
        let start = self.first.to_datetime(jiff::civil::Time::midnight());
        let since = at.duration_since(start).as_secs();
        u64::try_from(since)
            .ok()
            .filter(|&s| s <= u64::from(DAYS) * 86_400)
    }

    /// When the air is usually coldest.
    #[must_use]
    pub fn coldest_s(&self) -> u64 {
        self.sunrise_s
            .saturating_add_signed((COLDEST_AFTER_SUNRISE_H * 3600.0) as i64)
    }
}

fn floor_to_sample(second: u64) -> u64 {
    second - second % SAMPLE_S
}
