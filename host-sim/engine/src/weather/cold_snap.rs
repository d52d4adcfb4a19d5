//! Colder weather on purpose: a cold snap laid over a year, the same for the same seed.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

use super::period::{Period, PeriodError};
use super::{Origin, WeatherYear};

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// When a cold snap's full depth begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SnapStart {
    /// At 00:00 of a day.
    On {
        /// Month, 1–12.
        month: u8,
        /// Day of the month.
        day: u8,
    },
    /// At an hour between 1 December and 28 February drawn from this seed (ChaCha, 8 rounds).
    Seeded(u64),
}

/// A stretch of weather made colder: a smooth fall, some days at full depth, a smooth rise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ColdSnap {
    /// How much colder than the file, K, 0–60.
    pub depth_k: f64,
    /// Days at full depth, more than 0, at most 60.
    pub days: f64,
    /// Length of the fall before and of the rise after, h, 0–240; a front takes about a day (common practice, no source).
    pub ramp_h: f64,
    /// When the full depth begins.
    pub start: SnapStart,
}

impl ColdSnap {
    /// A snap with a day of fall and rise.
    #[must_use]
    pub fn new(depth_k: f64, days: f64, start: SnapStart) -> Self {
        Self {
            depth_k,
            days,
            ramp_h: 24.0,
            start,
        }
    }

    /// Share of the full depth `hours` after the full depth began: half cosines before and after.
    fn share(&self, hours: f64) -> f64 {
        let length_h = self.days * 24.0;
        let outside = if hours < 0.0 {
            -hours
        } else {
            (hours - length_h).max(0.0)
        };
        if outside == 0.0 {
            1.0
        } else if outside < self.ramp_h {
            (1.0 + libm::cos(core::f64::consts::PI * outside / self.ramp_h)) / 2.0
        } else {
            0.0
        }
    }

    fn check(&self) -> Result<(), PeriodError> {
        if !(0.0..=60.0).contains(&self.depth_k) {
            return Err(PeriodError::Shape("a depth of 0 to 60 K"));
        }
        if !(self.days > 0.0 && self.days <= 60.0) {
            return Err(PeriodError::Shape(
                "a length of more than 0, at most 60 days",
            ));
        }
        if !(0.0..=240.0).contains(&self.ramp_h) {
            return Err(PeriodError::Shape("a ramp of 0 to 240 h"));
        }
        Ok(())
    }
}

impl WeatherYear {
    /// The year with a cold snap laid over it; it may reach over the turn of the year.
    ///
    /// Dew point falls with dry bulb, infrared as a clear sky's would; cloud, sun and wind stay.
    ///
    /// # Errors
    /// The day does not exist in the file, or depth, length or ramp are out of range.
    pub fn with_cold_snap(&self, snap: &ColdSnap) -> Result<Self, PeriodError> {
        snap.check()?;
        let start_row = self.snap_start_row(snap.start)?;
        let mut year = self.clone();
        let rows = year.hours.len();
        // Far enough to both sides; a whole year at most, so that no row is touched twice.
        let reach_h = snap.ramp_h.ceil() as usize;
        let length_h = (snap.days * 24.0).ceil() as usize + 2 * reach_h + 1;
        let is_log = self.origin == Origin::Log;
        for offset in 0..length_h.min(rows) {
            // A log does not go on from its end at its beginning.
            if is_log && !(reach_h..rows + reach_h).contains(&(start_row + offset)) {
                continue;
            }
            let row = (start_row + rows + offset - reach_h) % rows;
            // A row's stamp is the end of its hour.
            let hours = offset as f64 - reach_h as f64 + 1.0;
            let shift_k = -snap.depth_k * snap.share(hours);
            if shift_k != 0.0 {
                year.hours[row].shift(shift_k);
            }
        }
        let begins = &self.hours[start_row];
        year.told.push(format!(
            "The cold snap is {} K deep for {} days from {} {} at {:02}:00.",
            snap.depth_k,
            snap.days,
            begins.day,
            MONTHS[usize::from(begins.month - 1).min(11)],
            begins.hour - 1
        ));
        Ok(year)
    }

    /// Does a cold snap's full depth begin within a period of this year?
    ///
    /// # Errors
    /// As [`WeatherYear::with_cold_snap`].
    pub fn snap_begins_within(&self, snap: &ColdSnap, period: Period) -> Result<bool, PeriodError> {
        let rows = self.hours.len();
        let begins = (self.snap_start_row(snap.start)? + rows - period.first_row) % rows;
        Ok(begins < period.hours)
    }

    /// The day with the coldest hour.
    fn coldest_day(&self) -> usize {
        let hours = self.hours.iter().enumerate();
        hours
            .filter(|(_, hour)| !hour.dry_bulb_c.is_nan())
            .min_by(|a, b| a.1.dry_bulb_c.total_cmp(&b.1.dry_bulb_c))
            .map_or(0, |(row, _)| row / 24)
    }

    /// Row whose hour begins at the start of the full depth.
    fn snap_start_row(&self, start: SnapStart) -> Result<usize, PeriodError> {
        match start {
            SnapStart::On { month, day } => self.row_of_day(month, day),
            SnapStart::Seeded(seed) => {
                const WINDOW_H: u64 = 90 * 24;
                // A log may have no December: its coldest day then.
                if self.origin == Origin::Log {
                    return Ok(self.coldest_day() * 24);
                }
                let first = self.row_of_day(12, 1)?;
                let mut random = ChaCha8Rng::seed_from_u64(seed);
                // The bias of a remainder of 64 bits is below 1e-15.
                let hours = (random.next_u64() % WINDOW_H) as usize;
                Ok((first + hours) % self.hours.len())
            }
        }
    }
}
