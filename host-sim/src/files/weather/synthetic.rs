//! A year of weather out of a climate's line: good enough for a first look, the same for the same seed.
//!
//! The air is the sum of three parts. The year's course meets the twelve means exactly. Over it lie the spells: an anomaly of
//! each day that keeps two thirds of the day before's, twice as large in midwinter as in midsummer, farther to the cold side than to
//! the mild one, and scaled so that 0.4 % of the hours are colder than the design night. Each day then swings between low and high in the shape of a clear night's cooling,
//! more on clear days than on cloudy ones. Cover, dew point, sun and sky follow from these.
//!
//! What a line cannot tell is a mean of the two weather files kept with the program: the daily swing (10 K in Chicago, 13.4 K
//! in Golden), the share of clouds, the persistence of a spell (0.70 and 0.65). `synthetic_tests.rs` holds how far off that is.

use jiff::civil::{Date, date};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;

use super::climate::Climate;
use super::modelled::{DEW_BELOW_LOW_K, WIND_M_S, modelled};
use super::shape::SunTimes;
use super::{Hour, Origin, Station, WeatherYear};
use crate::sim::plant::sensors::normal;

const DAYS: usize = 365;
const HOURS: usize = DAYS * 24;
/// Days in the months of a year of 365.
const MONTH_DAYS: [usize; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
/// Year the dates are labelled with; without 29 February.
const YEAR: i16 = 2001;

/// How much of a day's anomaly is left in the next: 0.70 in Chicago, 0.65 in Golden.
const KEPT: f64 = 0.67;
/// How much farther cold spells go than mild ones, per square of the anomaly: with none the frost of both files comes out a third
/// to a half too large. Status: fitted to the two files.
const SKEW: f64 = 0.3;
/// Anomalies above this are as warm as they get: beyond it the skew would turn them round.
const WARMEST: f64 = 1.6;
/// The anomalies' size in midsummer, of that in midwinter: 0.4 to 0.6 in the same files.
const SUMMER: f64 = 0.5;
/// Mean daily swing, K: 10.0 in Chicago, 13.4 in Golden.
const SWING_K: f64 = 11.0;
/// Half of what winter's swing is less than summer's, K.
const SWING_SEASON_K: f64 = 1.0;
/// Share of the mean swing on a day with a clear sky, and what full cover takes from it: winter days of the two files.
const SWING_CLEAR: (f64, f64) = (1.27, 0.5);
/// Opaque cover: mean, standard deviation, tenths (5.2 and 5.6; 3.0 and 2.3), and how much of a day's is left in the next.
const COVER: (f64, f64, f64) = (5.4, 3.2, 0.32);
/// Share of the hours that are colder than the design night.
const COLDER_SHARE: f64 = 0.004;

/// The weather of a climate by a seed.
pub(super) fn year(climate: &Climate, seed: u64) -> WeatherYear {
    let station = Station {
        name: format!("a year made up for {climate}"),
        latitude_deg: climate.latitude_deg,
        longitude_deg: 0.0,
        utc_offset_h: 0.0,
        elevation_m: 0.0,
        heating_design_c: Some(climate.design_c),
    };
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let course = Course::through(climate.monthly_c);
    let spells = spells(climate, &mut random);
    let cover = cover(&mut random);
    let swing = swing(climate, &station, &cover);
    let air = |scale: f64| -> Vec<f64> {
        (0..HOURS)
            .map(|hour| course.at(hour) + scale * spells[hour] + swing[hour])
            .collect()
    };
    let air_c = air(scale_for(&air, climate.design_c));
    let hours = (0..DAYS)
        .flat_map(|day| {
            let today = &air_c[day * 24..day * 24 + 24];
            let low_c = today.iter().copied().fold(f64::INFINITY, f64::min);
            let (station, date, tenths) = (&station, date_of(day), cover[day]);
            (1_u8..=24).zip(today).map(move |(hour, air_c)| -> Hour {
                let dew_c = low_c - DEW_BELOW_LOW_K;
                modelled(station, date, hour, *air_c, dew_c, tenths, WIND_M_S)
            })
        })
        .collect();
    WeatherYear {
        station,
        hours,
        notes: Vec::new(),
        told: vec![format!(
            "Weather made up from latitude, design night and monthly means, seed {seed}: a first look. A typical year or a log of \
             the place tells more."
        )],
        origin: Origin::Climate,
    }
}

/// Date of a day counted from 1 January.
fn date_of(day: usize) -> Date {
    date(YEAR, 1, 1).saturating_add(jiff::Span::new().days(day as i64))
}

/// First day of a month and the day after its last.
fn days_of(month: usize) -> std::ops::Range<usize> {
    let first = MONTH_DAYS[..month].iter().sum();
    first..first + MONTH_DAYS[month]
}

/// A course through the year in straight lines from mid-month to mid-month, with given means of the months.
struct Course([f64; 12]);

impl Course {
    /// The course whose months have these means.
    fn through(means: [f64; 12]) -> Self {
        let mut course = Self(means);
        // Each round leaves a tenth of the error or less: a month's mean is mostly its own.
        for _ in 0..30 {
            for (month, wanted) in means.iter().enumerate() {
                let hours = days_of(month).start * 24..days_of(month).end * 24;
                let count = hours.len() as f64;
                let mean = hours.map(|hour| course.at(hour)).sum::<f64>() / count;
                course.0[month] += wanted - mean;
            }
        }
        course
    }

    /// At the end of an hour of the year.
    fn at(&self, hour: usize) -> f64 {
        let middle = |month: usize| {
            let days = days_of(month);
            (days.start + days.end) as f64 * 12.0
        };
        let hour = hour as f64 + 1.0;
        let next = (0..12).find(|month| middle(*month) > hour).unwrap_or(12);
        let before = (next + 11) % 12;
        let year = HOURS as f64;
        let from = if next == 0 {
            middle(11) - year
        } else {
            middle(next - 1)
        };
        let to = if next == 12 {
            middle(0) + year
        } else {
            middle(next)
        };
        let share = (hour - from) / (to - from);
        self.0[before] + (self.0[next % 12] - self.0[before]) * share
    }
}

/// Anomalies by the hour, of size 1 in midwinter, with months' means of nothing.
fn spells(climate: &Climate, random: &mut ChaCha8Rng) -> Vec<f64> {
    let coldest = (0..12).min_by(|a, b| climate.monthly_c[*a].total_cmp(&climate.monthly_c[*b]));
    let midwinter = days_of(coldest.unwrap_or(0)).start as f64 + 15.0;
    let mut anomaly = 0.0;
    let mut daily: Vec<f64> = Vec::with_capacity(DAYS + 1);
    for day in 0..DAYS + 30 {
        anomaly = KEPT * anomaly + libm::sqrt(1.0 - KEPT * KEPT) * normal(random);
        // The first days are on their way to the usual size.
        if let Some(day) = day.checked_sub(30) {
            let angle = 2.0 * core::f64::consts::PI * (day as f64 - midwinter) / DAYS as f64;
            let size = f64::midpoint(1.0, SUMMER) + (1.0 - SUMMER) / 2.0 * libm::cos(angle);
            let mild = anomaly.min(WARMEST);
            daily.push((mild - SKEW * (mild * mild - 1.0)) * size);
        }
    }
    // From noon to noon in straight lines.
    let hourly = |hour: usize| {
        let at = (hour as f64 + 1.0) / 24.0 - 0.5;
        let before = at.floor();
        let share = at - before;
        let day = |day: f64| daily[(day + DAYS as f64) as usize % DAYS];
        day(before) + (day(before + 1.0) - day(before)) * share
    };
    let mut spells: Vec<f64> = (0..HOURS).map(hourly).collect();
    let mut means = [0.0; 12];
    for (month, mean) in means.iter_mut().enumerate() {
        let hours = days_of(month).start * 24..days_of(month).end * 24;
        *mean = spells[hours.clone()].iter().sum::<f64>() / hours.len() as f64;
    }
    let course = Course::through(means);
    for (hour, spell) in spells.iter_mut().enumerate() {
        *spell -= course.at(hour);
    }
    spells
}

/// Opaque cover of each day, tenths.
fn cover(random: &mut ChaCha8Rng) -> Vec<f64> {
    let (mean, deviation, kept) = COVER;
    let mut state = normal(random);
    (0..DAYS)
        .map(|_| {
            state = kept * state + libm::sqrt(1.0 - kept * kept) * normal(random);
            (mean + deviation * state).clamp(0.0, 10.0)
        })
        .collect()
}

/// The daily swing about the day's mean by the hour, K.
fn swing(climate: &Climate, station: &Station, cover: &[f64]) -> Vec<f64> {
    let warmest = (0..12).max_by(|a, b| climate.monthly_c[*a].total_cmp(&climate.monthly_c[*b]));
    let midsummer = days_of(warmest.unwrap_or(6)).start as f64 + 15.0;
    (0..DAYS)
        .flat_map(|day| {
            let sun = SunTimes::of(station, date_of(day));
            let share = move |hour: usize| sun.share_of_range((hour + 1) as f64 % 24.0);
            let mean = (0..24).map(share).sum::<f64>() / 24.0;
            let angle = 2.0 * core::f64::consts::PI * (day as f64 - midsummer) / DAYS as f64;
            let usual = SWING_K + SWING_SEASON_K * libm::cos(angle);
            let swing = usual * (SWING_CLEAR.0 - SWING_CLEAR.1 * cover[day] / 10.0);
            (0..24).map(move |hour| swing * (share(hour) - mean))
        })
        .collect()
}

/// The size of the spells with which the design night is as cold as said.
fn scale_for(air: &impl Fn(f64) -> Vec<f64>, design_c: f64) -> f64 {
    let colder = (COLDER_SHARE * HOURS as f64) as usize;
    let quantile = |scale: f64| {
        let mut sorted = air(scale);
        sorted.sort_by(f64::total_cmp);
        sorted[colder]
    };
    let (mut low, mut high) = (0.0, 20.0);
    for _ in 0..40 {
        let middle = f64::midpoint(low, high);
        if quantile(middle) > design_c {
            low = middle;
        } else {
            high = middle;
        }
    }
    f64::midpoint(low, high)
}

#[cfg(test)]
#[path = "synthetic_tests.rs"]
mod tests;
