//! The weather of one member of the ensemble: the forecast with its errors drawn.

use super::forecast::Outlook;
use crate::files::weather::modelled::sun_through_cloud;
use crate::sim::plant::OutdoorConditions;
use crate::sim::weather::sky;

/// Standard deviations of what a forecast leaves open.
///
/// Air: one-night forecasts of the low are wrong by 1.5 to 2 K on the mean (verification by weather services, from memory). The
/// course between low and high, from 18:00 on winter nights of the two weather files kept with the program, strays from the
/// shape by 1.7 K (Chicago) and 2.4 K (Golden), and an hour's stray is 0.88 to 0.95 of the one before. Sky and dew point:
/// scatter within the classes of the same nights, and half as much again for what is called clear and is not.
pub(super) mod spread {
    /// Tonight's low and the day's high, K.
    pub(in super::super) const LOW_HIGH_K: f64 = 2.0;
    /// Course of the air between them, K.
    pub(in super::super) const COURSE_K: f64 = 2.0;
    /// How much of an hour's stray is left in the next.
    pub(in super::super) const COURSE_KEPT: f64 = 0.9;
    /// Level of an hourly forecast, K.
    pub(in super::super) const HOURLY_K: f64 = 1.5;
    /// Course of an hourly forecast, K.
    pub(in super::super) const HOURLY_COURSE_K: f64 = 1.0;
    /// Opaque cover, tenths.
    pub(in super::super) const COVER_TENTHS: f64 = 1.5;
    /// Opaque cover if nobody said, tenths.
    pub(in super::super) const COVER_UNKNOWN_TENTHS: f64 = 3.3;
    /// Dew point, K.
    pub(in super::super) const DEW_K: f64 = 3.5;
}
/// Time over which the low's error grows from nothing at the reading, h.
const GROWS_H: f64 = 4.0;

/// Standard normal numbers of one member.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct WeatherDraw {
    /// Of the low, or of the level.
    pub(super) low: f64,
    /// Of the high.
    pub(super) high: f64,
    /// Of the cover.
    pub(super) cover: f64,
    /// Of the dew point.
    pub(super) dew: f64,
    /// Of the course, hour by hour.
    pub(super) course: Vec<f64>,
}

/// What is known of the forecast's sky.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Doubt {
    /// Standard deviation of the cover, tenths.
    pub(super) cover_tenths: f64,
}

/// A member's weather; the forecast's own for a draw of zeros.
#[derive(Clone, Debug)]
pub(super) struct MemberWeather<'a> {
    outlook: &'a Outlook,
    /// Row of `hours` that the first entry below belongs to.
    first_row: usize,
    /// Air, °C, and infrared, W/m², at each row's stamp.
    rows: Vec<(f64, f64)>,
    /// Share of the forecast's sun.
    sun: f64,
}

impl<'a> MemberWeather<'a> {
    /// The forecast as it stands.
    pub(super) fn forecast(outlook: &'a Outlook) -> MemberWeather<'a> {
        MemberWeather {
            outlook,
            first_row: 0,
            rows: outlook
                .hours
                .iter()
                .map(|row| (row.dry_bulb_c, row.infrared_w_m2))
                .collect(),
            sun: 1.0,
        }
    }

    /// With errors.
    pub(super) fn drawn(
        outlook: &'a Outlook,
        draw: &WeatherDraw,
        doubt: Doubt,
    ) -> MemberWeather<'a> {
        let range = outlook.rows_ahead();
        let first_row = *range.start();
        let air_c = air(outlook, draw);
        let (cover, dew_k) = (draw.cover * doubt.cover_tenths, draw.dew * spread::DEW_K);
        let mut sun = (0.0, 0.0);
        let rows = range
            .zip(&air_c)
            .map(|(row, &air_c)| {
                let hour = &outlook.hours[row];
                let tenths = hour.opaque_tenths.unwrap_or(5.0);
                let drawn = (tenths + cover).clamp(0.0, 10.0);
                let before = sky::walton_emissivity(hour.dew_point_c, tenths);
                let after = sky::walton_emissivity((hour.dew_point_c + dew_k).min(air_c), drawn);
                sun.0 += sun_through_cloud(drawn) * hour.global_horizontal_wh_m2;
                sun.1 += sun_through_cloud(tenths) * hour.global_horizontal_wh_m2;
                let ratio = (air_c + 273.15) / (hour.dry_bulb_c + 273.15);
                let fourth = ratio * ratio * ratio * ratio;
                (air_c, hour.infrared_w_m2 * fourth * after / before)
            })
            .collect();
        MemberWeather {
            outlook,
            first_row,
            rows,
            sun: if sun.1 > 0.0 { sun.0 / sun.1 } else { 1.0 },
        }
    }

    /// Conditions at a second of the axis.
    pub(super) fn at(&self, second: u64) -> OutdoorConditions {
        let base = self.outlook.series.conditions(second);
        let into = (second % 3600) as f64 / 3600.0;
        let hour = (second / 3600) as usize;
        // The row before the hour holds the state at its beginning.
        let entry = |row: usize| {
            let index = row.saturating_sub(self.first_row);
            self.rows.get(index).or(self.rows.last())
        };
        let (from, to) = match (entry(hour.saturating_sub(1)), entry(hour)) {
            (Some(from), Some(to)) => (*from, *to),
            _ => (
                (base.air_c, base.infrared_w_m2),
                (base.air_c, base.infrared_w_m2),
            ),
        };
        OutdoorConditions {
            air_c: from.0 + (to.0 - from.0) * into,
            dew_point_c: base.dew_point_c,
            infrared_w_m2: from.1 + (to.1 - from.1) * into,
            wind_m_s: base.wind_m_s,
            solar_incident_w: base.solar_incident_w * self.sun,
            ground_day: base.day_of_year,
        }
    }
}

/// Air at the rows ahead. A named low is the coldest of the night, at whatever hour the drawn course makes it.
fn air(outlook: &Outlook, draw: &WeatherDraw) -> Vec<f64> {
    let now_s = outlook.axis.now_s as f64;
    let named = outlook.names_low;
    let (level_k, course_k) = if named {
        (spread::LOW_HIGH_K, spread::COURSE_K)
    } else {
        (spread::HOURLY_K, spread::HOURLY_COURSE_K)
    };
    let fresh = (1.0 - spread::COURSE_KEPT * spread::COURSE_KEPT).sqrt();
    let mut stray = 0.0;
    let rows: Vec<usize> = outlook.rows_ahead().collect();
    let grown: Vec<f64> = rows
        .iter()
        .map(|row| ((row + 1) as f64 * 3600.0 - now_s) / (GROWS_H * 3600.0))
        .map(|share| share.clamp(0.0, 1.0))
        .collect();
    let mut air_c: Vec<f64> = rows
        .iter()
        .zip(&grown)
        .enumerate()
        .map(|(k, (&row, &grown))| {
            if grown > 0.0 {
                stray = spread::COURSE_KEPT * stray + fresh * draw.course.get(k).unwrap_or(&0.0);
            }
            let share = if named { outlook.share[row] } else { 0.0 };
            let level = draw.low * (1.0 - share) + draw.high * share;
            outlook.hours[row].dry_bulb_c + level_k * level * grown + course_k * stray
        })
        .collect();
    // Only where the coldest hour lies well ahead.
    if named && grown.last() == Some(&1.0) {
        let coldest = |air_c: &mut dyn Iterator<Item = f64>| air_c.fold(f64::INFINITY, f64::min);
        let forecast_c = coldest(&mut rows.iter().map(|&row| outlook.hours[row].dry_bulb_c));
        let wanted_c = forecast_c + level_k * draw.low;
        let coldest_c = coldest(&mut air_c.iter().copied());
        for (air, grown) in air_c.iter_mut().zip(&grown) {
            *air += (wanted_c - coldest_c) * grown;
        }
    }
    air_c
}
