//! When the night begins and ends, and how the air cools between the day's high and the night's low.

use jiff::civil::Date;

use super::Station;
use super::sun::{SunOfHour, days_since_j2000};

/// Height of the sun's centre at which its upper edge touches the horizon, with refraction, ° (NOAA).
const HORIZON_DEG: f64 = -0.833;

/// Hours from noon to the warmest air (Parton and Logan 1981, table 1, air at 1.5 m).
const WARMEST_AFTER_NOON_H: f64 = 1.86;
/// How fast the night cools (same table).
const NIGHT_COOLING: f64 = 2.20;
/// Hours from sunrise to the coldest air (same table).
pub(crate) const COLDEST_AFTER_SUNRISE_H: f64 = -0.17;

/// Sunrise and sunset of a day, hours after midnight, local standard time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct SunTimes {
    /// Sunrise, h.
    pub(crate) rise_h: f64,
    /// Sunset, h.
    pub(crate) set_h: f64,
}

impl SunTimes {
    /// At a station on a date. Where the sun does not rise, both are noon; where it does not set, they are 24 h apart.
    #[must_use]
    pub(crate) fn of(station: &Station, date: Date) -> SunTimes {
        let (month, day) = (date.month().unsigned_abs(), date.day().unsigned_abs());
        let noon_ut = 12.0 - station.utc_offset_h;
        let sun = SunOfHour::at(days_since_j2000(
            i32::from(date.year()),
            month,
            day,
            noon_ut,
        ));
        let degree = core::f64::consts::PI / 180.0;
        let (sin_place, cos_place) = libm::sincos(station.latitude_deg * degree);
        let (sin_sun, cos_sun) = libm::sincos(sun.declination_deg() * degree);
        let cosine =
            (libm::sin(HORIZON_DEG * degree) - sin_place * sin_sun) / (cos_place * cos_sun);
        let half_h = libm::acos(cosine.clamp(-1.0, 1.0)) / degree / 15.0;
        let noon_h = 12.0 - sun.equation_of_time_min() / 60.0 - station.longitude_deg / 15.0
            + station.utc_offset_h;
        SunTimes {
            rise_h: noon_h - half_h,
            set_h: noon_h + half_h,
        }
    }

    /// How far the air is from the low (0) to the high (1) at an hour of the day.
    ///
    /// Source: Parton, W. J. and Logan, J. A. (1981), "A model for diurnal variation in soil and air temperature",
    /// Agricultural Meteorology 23: 205–216; a sine by day and an exponential fall by night, fitted to Colorado. Their fall stops a
    /// tenth of the way above the low and jumps; here it is stretched to meet it.
    #[must_use]
    pub(crate) fn share_of_range(&self, hour: f64) -> f64 {
        let day_h = (self.set_h - self.rise_h).clamp(1.0, 23.0);
        let night_h = 24.0 - day_h;
        let by_day = |since_low_h: f64| {
            libm::sin(core::f64::consts::PI * since_low_h / (day_h + 2.0 * WARMEST_AFTER_NOON_H))
        };
        let since_low_h = hour - self.rise_h - COLDEST_AFTER_SUNRISE_H;
        let since_set_h = hour - self.set_h;
        if since_low_h >= 0.0 && since_set_h <= 0.0 {
            return by_day(since_low_h);
        }
        let night_so_far_h = if since_set_h > 0.0 {
            since_set_h
        } else {
            since_set_h + 24.0
        };
        let fall = |h: f64| libm::exp(-NIGHT_COOLING * h / night_h);
        let end = fall(night_h + COLDEST_AFTER_SUNRISE_H);
        let left = ((fall(night_so_far_h) - end) / (1.0 - end)).max(0.0);
        by_day(day_h - COLDEST_AFTER_SUNRISE_H) * left
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn golden() -> Station {
        Station {
            name: "Golden".to_owned(),
            latitude_deg: 39.74,
            longitude_deg: -105.18,
            utc_offset_h: -7.0,
            elevation_m: 1829.0,
            heating_design_c: None,
        }
    }

    /// By hand: declination −21.1°, equation of time −9.3 min; half a day of acos(0.3005) = 72.5° = 4.83 h about 12:10.
    #[test]
    fn sunrise_and_sunset_of_a_winter_day() {
        let sun = SunTimes::of(&golden(), date(2025, 1, 15));
        assert!((sun.rise_h - 7.34).abs() < 0.05, "{}", sun.rise_h);
        assert!((sun.set_h - 17.00).abs() < 0.05, "{}", sun.set_h);
    }

    #[test]
    fn at_the_equinox_the_day_is_a_little_longer_than_the_night() {
        let sun = SunTimes::of(&golden(), date(2025, 3, 20));
        let day_h = sun.set_h - sun.rise_h;
        assert!(day_h > 12.0 && day_h < 12.25, "{day_h}");
    }

    #[test]
    fn without_a_sunrise_noon_stands_for_both() {
        let far_north = Station {
            latitude_deg: 75.0,
            ..golden()
        };
        let sun = SunTimes::of(&far_north, date(2025, 12, 21));
        assert_eq!(sun.rise_h, sun.set_h);
    }

    /// Closed form: the high comes a = 1.86 h after solar noon, the low c = −0.17 h from sunrise, and both are met exactly.
    #[test]
    fn the_shape_meets_low_and_high_where_the_paper_puts_them() {
        let sun = SunTimes {
            rise_h: 7.0,
            set_h: 17.0,
        };
        assert!(sun.share_of_range(6.83).abs() < 1e-9);
        assert!((sun.share_of_range(12.0 + 1.86 - 0.17 / 2.0) - 1.0).abs() < 2e-3);
        // Two hours after sunset, by hand: sin(π·10.17/13.72) = 0.7259; (e^(−0.3143) − e^(−2.1733)) / (1 − e^(−2.1733)) = 0.6961.
        assert!((sun.share_of_range(19.0) - 0.7259 * 0.6961).abs() < 2e-3);
        let mut hour = 17.0;
        while hour < 30.7 {
            let (now, later) = (
                sun.share_of_range(hour % 24.0),
                sun.share_of_range((hour + 0.1) % 24.0),
            );
            assert!(later < now, "at {hour}");
            hour += 0.1;
        }
    }
}
