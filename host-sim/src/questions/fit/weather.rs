//! What it was like outdoors, minute by minute: the log's own air; sun and sky from a weather file of the same dates, or judged from
//! the log's daily swing.

use std::fmt::Write as _;

use jiff::civil::{Date, DateTime};

use super::record::{OUTDOOR, Record};
use crate::files;
use crate::files::log::{LogReader, ReaderOptions};
use crate::files::site::SiteConfig;
use crate::files::weather::WeatherError;
use crate::sim::plant::OutdoorConditions;
use crate::sim::plant::house::STEFAN_BOLTZMANN;
use crate::sim::weather::{Series, WeatherYear};

/// Weather beside a log.
#[derive(Clone, Debug)]
pub struct Beside {
    series: Series,
    /// Minutes from the series' beginning to the record's.
    into: usize,
    /// Whether the sun was measured, not judged.
    pub has_sun: bool,
}

impl Beside {
    /// Sun and sky judged from the log itself.
    ///
    /// # Errors
    /// The log has no outdoor readings at all.
    pub fn judged(record: &Record, site: &SiteConfig) -> Result<Self, WeatherError> {
        let hours = hourly(record);
        let days = hours.len() / 24;
        let first = record.start.date();
        let mut text = String::from("time,outdoor_c\n");
        for (hour, air_c) in hours.iter().enumerate() {
            // A stamp stands for half an hour on either side.
            let at = DateTime::from_parts(first, jiff::civil::Time::midnight())
                .saturating_add(jiff::SignedDuration::from_hours(hour as i64));
            let _ = writeln!(text, "{at},{air_c:.4}");
        }
        let reader = LogReader::from_bytes("the log", text.into_bytes(), &ReaderOptions::default())
            .map_err(|error| WeatherError::Log {
                file: String::new(),
                text: error.to_string(),
            })?;
        let year = files::weather::from_log(reader, "the log", site.latitude_deg())?;
        Self::of(record, &year, first, days, site, false)
    }

    /// Sun and sky from a file of the same dates.
    ///
    /// # Errors
    /// The file has no such days.
    pub fn measured(
        record: &Record,
        year: &WeatherYear,
        site: &SiteConfig,
    ) -> Result<Self, WeatherError> {
        let days = hourly(record).len() / 24;
        Self::of(record, year, record.start.date(), days, site, true)
    }

    fn of(
        record: &Record,
        year: &WeatherYear,
        first: Date,
        days: usize,
        site: &SiteConfig,
        has_sun: bool,
    ) -> Result<Self, WeatherError> {
        let days = u32::try_from(days).unwrap_or(u32::MAX);
        let period = year
            .period(first, days)
            .map_err(|error| WeatherError::Log {
                file: String::new(),
                text: error.to_string(),
            })?;
        Ok(Self {
            series: Series::new(year, period, &site.glazing()),
            into: record.into_day(),
            has_sun,
        })
    }

    /// How closely the weather's own air follows the log's, hour by hour: a correlation.
    #[must_use]
    pub fn air_correlation(&self, record: &Record) -> f64 {
        let pairs: Vec<(f64, f64)> = (0..record.minutes.len() / 60)
            .filter_map(|hour| {
                let logged_c = record.mean(OUTDOOR, hour * 60, hour * 60 + 60)?;
                let second = self.second(hour * 60 + 30);
                Some((logged_c, self.series.conditions(second).air_c))
            })
            .collect();
        let count = pairs.len().max(1) as f64;
        let mean = |of: &dyn Fn(&(f64, f64)) -> f64| pairs.iter().map(of).sum::<f64>() / count;
        let (a, b) = (mean(&|pair| pair.0), mean(&|pair| pair.1));
        let product = mean(&|pair| (pair.0 - a) * (pair.1 - b));
        let squares = mean(&|pair| (pair.0 - a).powi(2)) * mean(&|pair| (pair.1 - b).powi(2));
        if squares > 0.0 {
            product / squares.sqrt()
        } else {
            0.0
        }
    }

    fn second(&self, minute: usize) -> u64 {
        (self.into + minute) as u64 * 60 + 30
    }

    /// Conditions of every minute, the air as logged.
    #[must_use]
    pub fn conditions(&self, record: &Record) -> Vec<OutdoorConditions> {
        let air_c = bridged(record);
        let mut conditions: Vec<OutdoorConditions> = (0..record.minutes.len())
            .map(|minute| OutdoorConditions {
                air_c: air_c[minute],
                ..OutdoorConditions::from(self.series.conditions(self.second(minute)))
            })
            .collect();
        if !self.has_sun {
            even_sky(&mut conditions);
        }
        conditions
    }
}

/// Gives every minute the mean deficit of the sky's infrared in the dark. A sky that was only judged differs from the true one from
/// night to night; fitted as it stands, its effect would come out too small by the share of that noise.
fn even_sky(conditions: &mut [OutdoorConditions]) {
    let black_w_m2 =
        |outdoor: &OutdoorConditions| STEFAN_BOLTZMANN * libm::pow(outdoor.air_c + 273.15, 4.0);
    let (mut sum_w_m2, mut count) = (0.0, 0.0);
    for outdoor in conditions
        .iter()
        .filter(|outdoor| outdoor.solar_incident_w <= 0.0)
    {
        sum_w_m2 += black_w_m2(outdoor) - outdoor.infrared_w_m2;
        count += 1.0;
    }
    let mean_w_m2 = if count > 0.0 { sum_w_m2 / count } else { 0.0 };
    for outdoor in conditions {
        outdoor.infrared_w_m2 = black_w_m2(outdoor) - mean_w_m2;
    }
}

/// Outdoor air of every minute, gaps bridged in a straight line and the ends held; windows leave out what was bridged long.
fn bridged(record: &Record) -> Vec<f64> {
    let mut air_c: Vec<f64> = Vec::with_capacity(record.minutes.len());
    let mut last: Option<usize> = None;
    for (minute, now) in record.minutes.iter().enumerate() {
        let Some(value) = now.reading(OUTDOOR) else {
            air_c.push(last.map_or(0.0, |last| air_c[last]));
            continue;
        };
        match last {
            Some(before) => {
                let from = air_c[before];
                let steps = (minute - before) as f64;
                for (step, between) in (1..).zip(&mut air_c[before + 1..minute]) {
                    *between = from + (value - from) * f64::from(step) / steps;
                }
            }
            None => air_c.iter_mut().for_each(|early| *early = value),
        }
        air_c.push(value);
        last = Some(minute);
    }
    air_c
}

/// Air by the hour from the first midnight to the last, ends held.
fn hourly(record: &Record) -> Vec<f64> {
    let air_c = bridged(record);
    let into = record.into_day();
    let days = (into + air_c.len()).div_ceil(24 * 60);
    (0..days * 24)
        .map(|hour| {
            // Half an hour on either side of the stamp at the hour's beginning.
            let from = (hour * 60).saturating_sub(30 + into).min(air_c.len() - 1);
            let to = (hour * 60 + 30)
                .saturating_sub(into)
                .clamp(from + 1, air_c.len());
            air_c[from..to].iter().sum::<f64>() / (to - from) as f64
        })
        .collect()
}
