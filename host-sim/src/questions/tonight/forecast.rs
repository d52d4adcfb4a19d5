//! The forecast as weather: what a person types, or hours from a file, made into the hourly rows the simulated house lives in.
//!
//! Past hours come from the log where there is one. What the outdoor sensor shows now is taken as true; see [`Outlook::new`].

use jiff::civil::{Date, DateTime};

use super::axis::{Axis, DAYS};
use super::start::History;
use crate::files::weather::modelled::{DEW_BELOW_LOW_K, WIND_M_S, modelled};
use crate::files::weather::shape::SunTimes;
use crate::sim::weather::{Glazing, Hour, Origin, PeriodError, Series, Station, WeatherYear};

/// Time in which the difference between reading and forecast fades, s.
const FADE_S: f64 = 6.0 * 3600.0;
/// Least share of the day's range left at which a reading can set the scale of what is left.
const LEAST_SHARE: f64 = 0.02;

/// The sky, as people say it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SkyCover {
    /// Stars.
    Clear,
    /// Nobody said.
    Unknown,
    /// Overcast.
    Cloudy,
}

impl SkyCover {
    /// Opaque cover, tenths: means of the winter nights below 3, from 3 to 7 and above 7 tenths in the two weather files.
    pub(super) fn tenths(self) -> f64 {
        match self {
            SkyCover::Clear => 1.2,
            SkyCover::Unknown => 4.9,
            SkyCover::Cloudy => 9.1,
        }
    }

    /// In words.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            SkyCover::Clear => "clear",
            SkyCover::Unknown => "sky not said",
            SkyCover::Cloudy => "cloudy",
        }
    }
}

/// One hour of a forecast from a file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HourAhead {
    /// When, local standard time.
    pub at: DateTime,
    /// Air, °C.
    pub air_c: f64,
    /// Dew point, °C, where told.
    pub dew_point_c: Option<f64>,
    /// Opaque cover, tenths, where told.
    pub opaque_tenths: Option<f64>,
    /// Wind, m/s, where told.
    pub wind_m_s: Option<f64>,
}

/// A forecast.
#[derive(Clone, Debug, PartialEq)]
pub enum Forecast {
    /// Tonight's low and the day's high, with a word about the sky.
    LowHigh {
        /// The coldest of the night, °C.
        low_c: f64,
        /// The warmest of the day, °C.
        high_c: f64,
        /// The sky.
        sky: SkyCover,
    },
    /// Hours from a table, in rising order, with a word about the sky for those that tell none.
    Hours(Vec<HourAhead>, SkyCover),
    /// Hours from a weather file, by month, day and hour.
    Year(Box<WeatherYear>),
}

/// The forecast made ready.
#[derive(Clone, Debug)]
pub struct Outlook {
    /// The times.
    pub axis: Axis,
    /// Rows of the axis; row k ends at (k + 1) h.
    pub hours: Vec<Hour>,
    /// The same, at any second, with the sun on the glazing.
    pub series: Series,
    /// Whether the forecast names a low, which is then the coldest of the night.
    pub names_low: bool,
    /// Share of the day's range at each row's stamp.
    pub share: Vec<f64>,
}

impl Outlook {
    /// Prepares a forecast; `outdoor_c` is what the sensor shows now, where there is one. From there the air goes to a typed low in
    /// the shape's own course; an hourly forecast is moved by the difference now, which fades in six hours.
    ///
    /// # Errors
    /// The period cannot be laid out: a fault of this program.
    pub fn new(
        forecast: &Forecast,
        station: &Station,
        glazing: &Glazing,
        axis: Axis,
        outdoor_c: Option<f64>,
        history: Option<&History>,
    ) -> Result<Outlook, PeriodError> {
        let stamps = u64::from(DAYS) * 24;
        let mut share = Vec::new();
        let mut hours: Vec<Hour> = (1..=stamps)
            .map(|k| {
                // The row that ends at midnight belongs to the day that ends.
                let date = axis.at(k * 3600 - 1).date();
                let hour = ((k - 1) % 24 + 1) as u8;
                let sun = SunTimes::of(station, date);
                share.push(sun.share_of_range(f64::from(hour) % 24.0));
                forecast.row(
                    station,
                    axis.at(k * 3600),
                    date,
                    hour,
                    *share.last().unwrap_or(&0.0),
                )
            })
            .collect();
        lead_to_reading(&mut hours, forecast, station, &axis, &share, outdoor_c);
        for (row, k) in hours.iter_mut().zip(1..) {
            let past_c = history
                .filter(|_| k * 3600 <= axis.now_s)
                .and_then(|history| history.outdoor_c.at(k * 3600));
            if let Some(past_c) = past_c {
                move_air(row, past_c - row.dry_bulb_c);
            }
        }
        let year = WeatherYear {
            station: station.clone(),
            hours,
            notes: Vec::new(),
            told: Vec::new(),
            origin: Origin::TypicalYear,
        };
        let series = Series::new(&year, year.period(axis.first, DAYS)?, glazing);
        Ok(Outlook {
            axis,
            hours: year.hours,
            series,
            names_low: matches!(forecast, Forecast::LowHigh { .. }),
            share,
        })
    }

    /// Air at a row's stamps from now on, first and last second of the question included.
    pub(super) fn rows_ahead(&self) -> std::ops::RangeInclusive<usize> {
        let first = (self.axis.now_s / 3600).max(1) as usize - 1;
        let last = self.axis.until_s.div_ceil(3600) as usize - 1;
        first..=last.min(self.hours.len() - 1)
    }

    /// Outdoor air at a second, °C.
    #[must_use]
    pub fn air_c(&self, second: u64) -> f64 {
        self.series.conditions(second).air_c
    }
}

/// Moves a row's air; the dew point stays unless the air falls below it.
fn move_air(row: &mut Hour, kelvin: f64) {
    let before = row.dry_bulb_c + 273.15;
    row.dry_bulb_c += kelvin;
    row.dew_point_c = row.dew_point_c.min(row.dry_bulb_c);
    let ratio = (row.dry_bulb_c + 273.15) / before;
    row.infrared_w_m2 *= ratio * ratio * ratio * ratio;
}

/// Leads the forecast through what is read now. A typed low is approached from the reading in the shape's own course, if the air is
/// on its way down; everything else is moved by the difference at the present, which fades, forwards and backwards.
fn lead_to_reading(
    hours: &mut [Hour],
    forecast: &Forecast,
    station: &Station,
    axis: &Axis,
    share: &[f64],
    outdoor_c: Option<f64>,
) {
    let Some(outdoor_c) = outdoor_c else {
        return;
    };
    let row = (axis.now_s / 3600).max(1) as usize - 1;
    let (Some(from), Some(to)) = (hours.get(row), hours.get(row + 1)) else {
        return;
    };
    let between = (axis.now_s % 3600) as f64 / 3600.0;
    let difference = outdoor_c - (from.dry_bulb_c + (to.dry_bulb_c - from.dry_bulb_c) * between);
    let now_h = (axis.now_s % 86_400) as f64 / 3600.0;
    let share_now = SunTimes::of(station, axis.at(axis.now_s).date()).share_of_range(now_h);
    let falling = share.get(row + 1).is_some_and(|&next| next < share_now);
    let low_c = match forecast {
        Forecast::LowHigh { low_c, .. } if falling && share_now > LEAST_SHARE => Some(*low_c),
        _ => None,
    };
    for ((row, &share), k) in hours.iter_mut().zip(share).zip(1_u64..) {
        let away_s = (k * 3600) as f64 - axis.now_s as f64;
        let by = match low_c {
            Some(low_c) if away_s > -3600.0 => {
                if k * 3600 > axis.coldest_s() + 3600 {
                    continue;
                }
                low_c + (outdoor_c - low_c) * share / share_now - row.dry_bulb_c
            }
            // Rows on either side of the present carry it whole, so that the line between them passes through the reading.
            _ if away_s.abs() < 3600.0 => difference,
            _ => difference * (1.0 - away_s.abs() / FADE_S).max(0.0),
        };
        move_air(row, by);
    }
}

impl Forecast {
    /// The row that ends at `at`, hour `hour` of `date`, as the forecast has it.
    fn row(&self, station: &Station, at: DateTime, date: Date, hour: u8, share: f64) -> Hour {
        match self {
            Forecast::LowHigh { low_c, high_c, sky } => {
                let air_c = low_c + (high_c - low_c) * share;
                let dew_c = low_c - DEW_BELOW_LOW_K;
                modelled(station, date, hour, air_c, dew_c, sky.tenths(), WIND_M_S)
            }
            Forecast::Hours(hours, sky) => {
                let (air_c, dew_c, tenths, wind_m_s) = between(hours, at, *sky);
                modelled(station, date, hour, air_c, dew_c, tenths, wind_m_s)
            }
            Forecast::Year(year) => {
                let (month, day) = (date.month().unsigned_abs(), date.day().unsigned_abs());
                // A typical year has no 29 February: its 28th stands for it.
                let day = if (month, day) == (2, 29) { 28 } else { day };
                year.hours
                    .iter()
                    .find(|row| (row.month, row.day, row.hour) == (month, day, hour))
                    .map_or_else(
                        || modelled(station, date, hour, 0.0, -DEW_BELOW_LOW_K, 5.0, WIND_M_S),
                        |row| Hour {
                            month: date.month().unsigned_abs(),
                            day: date.day().unsigned_abs(),
                            year: date.year(),
                            ..*row
                        },
                    )
            }
        }
    }

    /// The first and the last time it tells of, where it does not tell of all.
    #[must_use]
    pub fn covers(&self) -> Option<(DateTime, DateTime)> {
        match self {
            Forecast::Hours(hours, _) => Some((hours.first()?.at, hours.last()?.at)),
            _ => None,
        }
    }
}

/// A table's values at a time, linearly; beyond its ends, those of the end.
fn between(hours: &[HourAhead], at: DateTime, sky: SkyCover) -> (f64, f64, f64, f64) {
    let low_c = hours
        .iter()
        .map(|row| row.air_c)
        .fold(f64::INFINITY, f64::min);
    let of = |row: &HourAhead| {
        (
            row.air_c,
            row.dew_point_c.unwrap_or(low_c - DEW_BELOW_LOW_K),
            row.opaque_tenths.unwrap_or(sky.tenths()),
            row.wind_m_s.unwrap_or(WIND_M_S),
        )
    };
    let later = hours.partition_point(|row| row.at < at);
    match (
        later.checked_sub(1).and_then(|i| hours.get(i)),
        hours.get(later),
    ) {
        (Some(before), Some(after)) => {
            let whole = after.at.duration_since(before.at).as_secs_f64();
            let share = at.duration_since(before.at).as_secs_f64() / whole;
            let (a, b) = (of(before), of(after));
            let mix = |from: f64, to: f64| from + (to - from) * share;
            (mix(a.0, b.0), mix(a.1, b.1), mix(a.2, b.2), mix(a.3, b.3))
        }
        (Some(end), None) | (None, Some(end)) => of(end),
        (None, None) => (0.0, -DEW_BELOW_LOW_K, sky.tenths(), WIND_M_S),
    }
}
