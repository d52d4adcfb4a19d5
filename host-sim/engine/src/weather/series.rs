//! Conditions outdoors at any second of a period.
//!
//! Temperatures, infrared and wind hold at the row's stamp and run linearly from stamp to stamp. Radiation is the
//! sum over the hour: each of its three components is spread over the part of the hour in which the sun stands above
//! the horizon, so that its sum over the hour stays exactly the file's, and is then laid on the glazing with the
//! sun where it stands in each part. All of it is prepared once; a question costs a look-up.

use super::glazing::{Glazing, Plane, Sunlight};
use super::period::{Calendar, Period, day_of_year};
use super::sun::{Place, SunOfHour, SunPosition, days_since_j2000, extraterrestrial_normal_w_m2};
use super::{Hour, Origin, WeatherYear};

/// Parts into which an hour of sunshine is cut.
const PARTS: usize = 6;

/// Length of a part, s.
const PART_S: u64 = 3600 / PARTS as u64;

/// What it is like outdoors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conditions {
    /// Dry bulb, °C.
    pub air_c: f64,
    /// Dew point, °C.
    pub dew_point_c: f64,
    /// Infrared from the sky on a horizontal plane, W/m².
    pub infrared_w_m2: f64,
    /// Wind speed, m/s.
    pub wind_m_s: f64,
    /// Sunlight on the outside of all glazing together, W.
    pub solar_incident_w: f64,
    /// Day of a 365-day year, 1.0 at the beginning of 1 January.
    pub day_of_year: f64,
}

/// State of the air at a stamp.
#[derive(Debug, Clone, Copy)]
struct Air {
    air_c: f64,
    dew_point_c: f64,
    infrared_w_m2: f64,
    wind_m_s: f64,
}

/// Day of the period.
#[derive(Debug, Clone, Copy)]
struct Day {
    month: u8,
    day: u8,
    day_of_year: u16,
}

/// A period made ready.
#[derive(Debug, Clone)]
pub struct Series {
    /// At the beginning and at the end of each hour.
    air: Vec<Air>,
    /// Mean W in each part of an hour.
    solar_w: Vec<f64>,
    days: Vec<Day>,
    sunless_wh_m2: f64,
}

impl Series {
    /// Prepares `period` of `year` for a house with this glazing.
    #[must_use]
    pub fn new(year: &WeatherYear, period: Period, glazing: &Glazing) -> Self {
        let rows = year.hours.len();
        let row = |index: usize| &year.hours[index % rows];
        // The state at the beginning of the first hour is that of the row before; a log has none before its first.
        let before = match (year.origin, period.first_row) {
            (Origin::Log, 0) => 0,
            _ => period.first_row + rows - 1,
        };
        let air = std::iter::once(before)
            .chain(period.first_row..period.first_row + period.hours)
            .map(|index| Air::of(row(index)))
            .collect();
        let days = (0..period.days())
            .map(|day| Day::of(row(period.first_row + day * 24)))
            .collect();

        let sky = Sky {
            place: Place::new(year.station.latitude_deg, year.station.longitude_deg),
            utc_offset_h: year.station.utc_offset_h,
            planes: glazing.surfaces.iter().map(Plane::new).collect(),
            glazing,
        };
        let mut solar_w = Vec::with_capacity(period.hours * PARTS);
        let mut sunless_wh_m2 = 0.0;
        for index in 0..period.hours {
            let hour = row(period.first_row + index);
            let light = hour.direct_normal_wh_m2
                + hour.diffuse_horizontal_wh_m2
                + hour.global_horizontal_wh_m2;
            if light > 0.0 {
                let (parts, sunless) = sky.spread(hour);
                solar_w.extend(parts);
                sunless_wh_m2 += sunless;
            } else {
                solar_w.extend([0.0; PARTS]);
            }
        }
        Self {
            air,
            solar_w,
            days,
            sunless_wh_m2,
        }
    }

    /// Conditions at a second since the beginning; after the end, those at the end.
    #[must_use]
    pub fn conditions(&self, second: u64) -> Conditions {
        let second = second.min(self.duration_s() - 1);
        let hour = (second / 3600) as usize;
        let share = (second % 3600) as f64 / 3600.0;
        let (from, to) = (&self.air[hour], &self.air[hour + 1]);
        let between = |from: f64, to: f64| from + (to - from) * share;
        let day = self.days[hour / 24].day_of_year;
        Conditions {
            air_c: between(from.air_c, to.air_c),
            dew_point_c: between(from.dew_point_c, to.dew_point_c),
            infrared_w_m2: between(from.infrared_w_m2, to.infrared_w_m2),
            wind_m_s: between(from.wind_m_s, to.wind_m_s),
            solar_incident_w: self.solar_w[(second / PART_S) as usize],
            day_of_year: f64::from(day) + (second % 86_400) as f64 / 86_400.0,
        }
    }

    /// Length, s.
    #[must_use]
    pub fn duration_s(&self) -> u64 {
        self.days.len() as u64 * 86_400
    }

    /// Month, day and time of day at a second since the beginning; after the end, the last second's.
    #[must_use]
    pub fn calendar(&self, second: u64) -> Calendar {
        let second = second.min(self.duration_s() - 1);
        let Day { month, day, .. } = self.days[(second / 86_400) as usize];
        let of_day = second % 86_400;
        // Each is below 60.
        Calendar {
            month,
            day,
            hour: (of_day / 3600) as u8,
            minute: (of_day / 60 % 60) as u8,
            second: (of_day % 60) as u8,
        }
    }

    /// Direct sun, Wh/m², in hours of the file in which the sun never stands above the horizon: left out.
    #[must_use]
    pub fn sunless_direct_wh_m2(&self) -> f64 {
        self.sunless_wh_m2
    }
}

impl Air {
    fn of(hour: &Hour) -> Self {
        Self {
            air_c: hour.dry_bulb_c,
            dew_point_c: hour.dew_point_c,
            infrared_w_m2: hour.infrared_w_m2,
            wind_m_s: hour.wind_m_s,
        }
    }
}

impl Day {
    fn of(hour: &Hour) -> Self {
        Self {
            month: hour.month,
            day: hour.day,
            day_of_year: day_of_year(hour.month, hour.day),
        }
    }
}

/// What turns an hour's sums into watts on the glazing.
struct Sky<'a> {
    place: Place,
    utc_offset_h: f64,
    planes: Vec<Plane>,
    glazing: &'a Glazing,
}

impl Sky<'_> {
    /// Mean W on all planes in each part of the hour, and the direct sun that could not be placed, Wh/m².
    fn spread(&self, hour: &Hour) -> ([f64; PARTS], f64) {
        let suns = self.suns(hour);
        let extraterrestrial_normal =
            extraterrestrial_normal_w_m2(f64::from(day_of_year(hour.month, hour.day)));
        let (lights, sunless) = shares(hour, &suns);
        let mut parts = [0.0; PARTS];
        for ((part, sun), light) in parts.iter_mut().zip(&suns).zip(&lights) {
            let light = Sunlight {
                extraterrestrial_normal,
                ..*light
            };
            *part = self
                .planes
                .iter()
                .map(|plane| {
                    plane.incident_w(
                        &light,
                        sun,
                        self.glazing.diffuse,
                        self.glazing.ground_albedo,
                    )
                })
                .sum();
        }
        (parts, sunless)
    }

    /// The sun at the middle of each part of the hour.
    fn suns(&self, hour: &Hour) -> [SunPosition; PARTS] {
        let begin_ut = f64::from(hour.hour) - 1.0 - self.utc_offset_h;
        let middle_ut = begin_ut + 0.5;
        let days = days_since_j2000(i32::from(hour.year), hour.month, hour.day, middle_ut);
        let sun = SunOfHour::at(days);
        std::array::from_fn(|part| {
            sun.seen_from(&self.place, begin_ut + (part as f64 + 0.5) / PARTS as f64)
        })
    }
}

/// Shares an hour's sums out over its parts: direct sun evenly over the parts with the sun up, the rest by the sine of
/// its height. The mean over the parts is the hour's sum. Without sun in any part (twilight), sky light is even.
fn shares(hour: &Hour, suns: &[SunPosition; PARTS]) -> ([Sunlight; PARTS], f64) {
    let heights: [f64; PARTS] = std::array::from_fn(|part| suns[part].up.max(0.0));
    let sum: f64 = heights.iter().sum();
    let up = heights.iter().filter(|&&height| height > 0.0).count();
    let parts = PARTS as f64;
    let lights = std::array::from_fn(|part| {
        let (sky, sun) = if up == 0 {
            (1.0, 0.0)
        } else {
            let is_up = if heights[part] > 0.0 { 1.0 } else { 0.0 };
            (heights[part] * parts / sum, is_up * parts / up as f64)
        };
        Sunlight {
            global_horizontal: hour.global_horizontal_wh_m2 * sky,
            direct_normal: hour.direct_normal_wh_m2 * sun,
            diffuse_horizontal: hour.diffuse_horizontal_wh_m2 * sky,
            extraterrestrial_normal: 0.0,
        }
    });
    let sunless = if up == 0 {
        hour.direct_normal_wh_m2
    } else {
        0.0
    };
    (lights, sunless)
}

#[cfg(test)]
#[path = "series_tests.rs"]
mod tests;
