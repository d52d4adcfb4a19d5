//! Time as the core sees it: milliseconds since the counter started, passed in by the caller.
//!
//! There is no clock here and no calendar. Differences saturate: a step backwards is no time at
//! all, never a large one, and a very long time is [`Duration::MAX`], never a short one.

use core::ops::{Add, Sub};

/// A point in time, milliseconds of a counter that never goes back while powered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Instant(u64);

/// A length of time, milliseconds, at most 49.7 days.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Duration(u32);

impl Instant {
    /// From the counter's milliseconds.
    #[must_use]
    pub const fn from_millis(millis: u64) -> Self {
        Self(millis)
    }

    /// In milliseconds of the counter.
    #[must_use]
    pub const fn as_millis(self) -> u64 {
        self.0
    }

    /// Time from `earlier` until this instant; zero if `earlier` is later.
    #[must_use]
    pub const fn since(self, earlier: Self) -> Duration {
        let millis = self.0.saturating_sub(earlier.0);
        if millis > u32::MAX as u64 {
            Duration::MAX
        } else {
            Duration(millis as u32)
        }
    }
}

impl Duration {
    /// No time.
    pub const ZERO: Self = Self(0);
    /// The longest time kept, 49.7 days; stands for "that or longer".
    pub const MAX: Self = Self(u32::MAX);

    /// From milliseconds.
    #[must_use]
    pub const fn from_millis(millis: u32) -> Self {
        Self(millis)
    }

    /// From seconds, saturating.
    #[must_use]
    pub const fn from_secs(secs: u32) -> Self {
        Self(secs.saturating_mul(1_000))
    }

    /// From minutes, saturating.
    #[must_use]
    pub const fn from_mins(mins: u32) -> Self {
        Self(mins.saturating_mul(60_000))
    }

    /// From hours, saturating.
    #[must_use]
    pub const fn from_hours(hours: u32) -> Self {
        Self(hours.saturating_mul(3_600_000))
    }

    /// In milliseconds.
    #[must_use]
    pub const fn as_millis(self) -> u32 {
        self.0
    }

    /// In whole seconds.
    #[must_use]
    pub const fn as_secs(self) -> u32 {
        self.0 / 1_000
    }

    /// In hours with 16 fraction bits: a multiplication, since small processors divide slowly.
    pub(crate) const fn hours(self) -> i32 {
        // 2³² × 2¹⁶ / 3 600 000, rounded up, so that whole hours stay whole; at most 1 194 hours.
        ((self.0 as u64).wrapping_mul(78_187_494) >> 32) as i32
    }

    /// In minutes with 16 fraction bits, at most 32 767; a multiplication too.
    pub(crate) const fn minutes(self) -> i32 {
        // 2³¹ × 2¹⁶ / 60 000, rounded up: below 2³², so that the product fits.
        let bits = (self.0 as u64).wrapping_mul(2_345_624_806) >> 31;
        if bits > i32::MAX as u64 {
            i32::MAX
        } else {
            bits as i32
        }
    }

    /// What is left after `other`, or nothing.
    #[must_use]
    pub const fn saturating_sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }

    /// `n` times as long, saturating.
    #[must_use]
    pub const fn times(self, n: u32) -> Self {
        Self(self.0.saturating_mul(n))
    }

    /// `numerator / denominator` of this time, saturating; zero denominator gives [`Self::MAX`].
    #[must_use]
    pub const fn share(self, numerator: u32, denominator: u32) -> Self {
        match (self.0 as u64)
            .saturating_mul(numerator as u64)
            .checked_div(denominator as u64)
        {
            Some(millis) if millis <= u32::MAX as u64 => Self(millis as u32),
            _ => Self::MAX,
        }
    }
}

impl Add<Duration> for Instant {
    type Output = Self;
    fn add(self, time: Duration) -> Self {
        Self(self.0.saturating_add(time.0 as u64))
    }
}

impl Sub<Duration> for Instant {
    type Output = Self;
    fn sub(self, time: Duration) -> Self {
        Self(self.0.saturating_sub(time.0 as u64))
    }
}

impl Add for Duration {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn differences_saturate_both_ways() {
        let early = Instant::from_millis(5);
        let late = Instant::from_millis(u64::MAX);
        assert_eq!(early.since(late), Duration::ZERO);
        assert_eq!(late.since(early), Duration::MAX);
        assert_eq!(late + Duration::MAX, late);
    }

    #[test]
    fn crossing_a_32_bit_boundary_is_nothing_special() {
        let before = Instant::from_millis(u64::from(u32::MAX) - 30_000);
        let after = before + Duration::from_mins(1);
        assert_eq!(after.since(before), Duration::from_secs(60));
    }

    #[test]
    fn hours_and_minutes_are_those_of_a_division() {
        for n in 0..=1_000_u32 {
            for time in [
                Duration::from_millis(n * 4_294_967),
                Duration::from_secs(n),
                Duration::from_mins(n),
            ] {
                let ms = u64::from(time.as_millis());
                let hours = (ms << 16) / 3_600_000;
                assert!(
                    (i64::from(time.hours()) - hours as i64).abs() <= 1,
                    "{time:?}"
                );
                let minutes = ((ms << 16) / 60_000).min(i32::MAX as u64);
                assert!(
                    (i64::from(time.minutes()) - minutes as i64).abs() <= 1,
                    "{time:?}"
                );
            }
            assert_eq!(Duration::from_hours(n).hours(), (n as i32) << 16);
            assert_eq!(Duration::from_mins(n).minutes(), (n as i32) << 16);
        }
        assert_eq!(Duration::MAX.minutes(), i32::MAX);
    }

    #[test]
    fn shares() {
        let hour = Duration::from_hours(1);
        assert_eq!(hour.share(1, 2), Duration::from_mins(30));
        assert_eq!(hour.share(1, 0), Duration::MAX);
    }
}
