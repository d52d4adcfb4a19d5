//! Weather from a place's own log: its outdoor readings by the hour, short gaps bridged, the sun judged.
//!
//! A thermometer outdoors tells the air. What else the house feels is judged from it, plainly: how cloudy a day was from how
//! little it warmed between its low and its high, against the days of the same weeks; the dew point from the night's low; the
//! wind a usual one. A column `sun_w_m2` (sun on a horizontal plane) stands for the judgement by day.

use jiff::Span;
use jiff::civil::{Date, Time};

use super::error::WeatherError;
use super::fill::LONGEST_FILLED_RUN_H;
use super::modelled::{DEW_BELOW_LOW_K, WIND_M_S, cover_of_sun, modelled, sunshine};
use super::sky::{horizontal_infrared_w_m2, walton_emissivity};
use super::{Hour, Origin, Station, WeatherYear};
use crate::files::log::{Cell, LogReader, LogStart, Noticed, Quantity, ReaderOptions};

/// Column with the sun on a horizontal plane, W/m².
pub(super) const SUN: &str = "sun_w_m2";
/// Most sun a sensor can show on this earth, W/m².
const MOST_SUN_W_M2: f64 = 1500.0;
/// Days on either side that a day's warming is compared with.
const WEEKS_DAYS: usize = 15;
/// Of those days the one that counts as clear, and the one that counts as overcast, by rank from the smallest warming.
const RANKS: (f64, f64) = (0.1, 0.9);
/// Cover of a clear and of an overcast day, tenths: means of days below 3 and above 7 tenths in the two weather files.
const COVERS: (f64, f64) = (1.2, 9.1);
/// Least difference between their warmings that tells anything, K.
const LEAST_DIFFERENCE_K: f64 = 2.0;
/// Cover where nothing tells, tenths.
const UNKNOWN_TENTHS: f64 = 4.9;

/// An hour's readings.
#[derive(Clone, Copy, Debug, Default)]
struct Bucket {
    air: (f64, u32),
    sun: (f64, u32),
}

impl Bucket {
    fn mean((sum, count): (f64, u32)) -> Option<f64> {
        (count > 0).then(|| sum / f64::from(count))
    }
}

/// Reads a log; `file` names it in messages.
pub(super) fn read(
    mut reader: LogReader,
    file: &str,
    latitude_deg: f64,
) -> Result<WeatherYear, WeatherError> {
    let refuse = |found: &str, expected: &str, advice: &'static str| WeatherError::Log {
        file: file.to_owned(),
        text: format!("found {found}; expected {expected}; {advice}"),
    };
    if !reader.has(Quantity::Outdoor) {
        return Err(refuse(
            "no column with outdoor readings",
            "outdoor_c or outdoor_f",
            "name one with --column outdoor_c=HEADER",
        ));
    }
    let start = match reader.start() {
        LogStart::Local(start) => start,
        LogStart::Instant { at, offset } => offset.to_datetime(at),
        LogStart::Seconds { .. } => {
            return Err(refuse(
                "times in seconds, which tell no date",
                "a column time with dates",
                "name it with --column time=HEADER",
            ));
        }
    };
    let first_day = start.date();
    let into_first = start.time().duration_since(Time::midnight());
    let into_first_ms = i64::try_from(into_first.as_millis()).unwrap_or(0);
    let has_sun = reader.has_extra(0);
    let mut buckets: Vec<Bucket> = Vec::new();
    while let Some(row) = reader.next_row().map_err(|error| WeatherError::Log {
        file: String::new(),
        text: error.to_string(),
    })? {
        let since_ms = into_first_ms + row.time_ms;
        // The air of a stamp is the mean of half an hour on either side; the sun that of the hour before it.
        let air = nearest_row(since_ms + HOUR_MS / 2);
        if let (Cell::Reading(value), Some(row)) = (row.outdoor, air) {
            let air = &mut at(&mut buckets, row).air;
            *air = (air.0 + f64::from(value) / 128.0, air.1 + 1);
        }
        if has_sun {
            let text = String::from_utf8_lossy(reader.extra(0)).trim().to_owned();
            let value = sun_w_m2(&text).map_err(|()| WeatherError::Log {
                file: String::new(),
                text: reader
                    .reject_extra(
                        0,
                        "sun on a horizontal plane, 0 to 1500 W/m², or nothing; correct the cell",
                    )
                    .to_string(),
            })?;
            if let (Some(value), Some(row)) = (value, nearest_row(since_ms + HOUR_MS - 1)) {
                let sun = &mut at(&mut buckets, row).sun;
                *sun = (sun.0 + value, sun.1 + 1);
            }
        }
    }
    let station = Station {
        name: format!("the outdoor readings of {file}"),
        latitude_deg,
        longitude_deg: 0.0,
        utc_offset_h: 0.0,
        elevation_m: 0.0,
        heating_design_c: None,
    };
    let (mut air_c, bridged) = bridged(&buckets);
    let first_hour = trimmed(&mut air_c);
    let first = first_day
        .checked_add(Span::new().days((first_hour / 24) as i64))
        .unwrap_or(first_day);
    let mut sun: Vec<Option<f64>> = buckets
        .iter()
        .skip(first_hour)
        .map(|bucket| Bucket::mean(bucket.sun))
        .collect();
    sun.resize(air_c.len(), None);
    if air_c.is_empty() {
        return Err(refuse(
            "no whole day of outdoor readings",
            "at least one from midnight to midnight",
            "give a longer log",
        ));
    }
    let hours = hours(&station, first, &air_c, &sun, has_sun);
    let mut told = vec![format!(
        "Weather from a log: air as logged; {}; dew point {DEW_BELOW_LOW_K} K below the day's low; a usual wind.",
        if has_sun {
            format!("sun from its column {SUN}, the sky at night by the day's sun")
        } else {
            format!(
                "sun of a clear sky at latitude {latitude_deg:.1}°, dimmed by a cover judged from how much each day warms"
            )
        }
    )];
    // What looks like °F or an open sensor outdoors comes first.
    let noticed = Noticed::of(&reader, &[SUN], None);
    let doubts = noticed.questions.into_iter();
    told.splice(0..0, doubts.filter(|question| question.contains("outdoor")));
    if bridged.0 > 0 {
        told.push(format!(
            "{} {} without an outdoor reading bridged in a straight line (longest {} h, {LONGEST_FILLED_RUN_H} h at most).",
            bridged.0,
            if bridged.0 == 1 { "hour" } else { "hours" },
            bridged.1
        ));
    }
    Ok(WeatherYear {
        station,
        hours,
        notes: Vec::new(),
        told,
        origin: Origin::Log,
    })
}

const HOUR_MS: i64 = 3_600_000;

/// Row whose stamp is the whole hour before that time; row 0 ends at 01:00 of the first day.
fn nearest_row(ms: i64) -> Option<usize> {
    usize::try_from(ms.div_euclid(HOUR_MS) - 1).ok()
}

fn at(buckets: &mut Vec<Bucket>, row: usize) -> &mut Bucket {
    if buckets.len() <= row {
        buckets.resize(row + 1, Bucket::default());
    }
    &mut buckets[row]
}

fn sun_w_m2(text: &str) -> Result<Option<f64>, ()> {
    if text.is_empty() || text.eq_ignore_ascii_case("nan") || text.eq_ignore_ascii_case("null") {
        return Ok(None);
    }
    match text.parse::<f64>() {
        // Sensors show a little less than nothing at night.
        Ok(value) if (-20.0..=MOST_SUN_W_M2).contains(&value) => Ok(Some(value.max(0.0))),
        _ => Err(()),
    }
}

/// Air by the hour, not a number where a gap is longer than may be bridged; hours bridged and the longest run of them.
fn bridged(buckets: &[Bucket]) -> (Vec<f64>, (usize, usize)) {
    let mut air_c: Vec<f64> = buckets
        .iter()
        .map(|bucket| Bucket::mean(bucket.air).unwrap_or(f64::NAN))
        .collect();
    let mut bridged = (0, 0);
    let mut last: Option<usize> = None;
    for row in 0..air_c.len() {
        if air_c[row].is_nan() {
            continue;
        }
        if let Some(before) = last {
            let missing = row - before - 1;
            if (1..=LONGEST_FILLED_RUN_H).contains(&missing) {
                bridged = (bridged.0 + missing, bridged.1.max(missing));
                let (from, to) = (air_c[before], air_c[row]);
                for step in 1..=missing {
                    air_c[before + step] = from + (to - from) * step as f64 / (missing + 1) as f64;
                }
            }
        }
        last = Some(row);
    }
    // A log by the hour ends an hour before midnight.
    if air_c.len() % 24 == 23
        && let Some(end) = air_c.last().copied()
    {
        air_c.push(end);
    }
    (air_c, bridged)
}

/// Cuts a log to whole days, from the first to the last day with readings throughout; the first hour kept.
fn trimmed(air_c: &mut Vec<f64>) -> usize {
    let is_whole = |day: &[f64]| day.len() == 24 && day.iter().all(|air| !air.is_nan());
    let days: Vec<bool> = air_c.chunks(24).map(is_whole).collect();
    let (Some(first), Some(last)) = (
        days.iter().position(|whole| *whole),
        days.iter().rposition(|whole| *whole),
    ) else {
        air_c.clear();
        return 0;
    };
    air_c.truncate((last + 1) * 24);
    air_c.drain(..first * 24);
    first * 24
}

fn hours(
    station: &Station,
    first: Date,
    air_c: &[f64],
    sun: &[Option<f64>],
    has_sun: bool,
) -> Vec<Hour> {
    let days: Vec<(f64, f64)> = air_c
        .chunks(24)
        .map(|day| {
            day.iter()
                .copied()
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), air| {
                    // A day with a hole in it has no low and no high.
                    (if air.is_nan() { air } else { low.min(air) }, high.max(air))
                })
        })
        .collect();
    let warmings: Vec<f64> = days.iter().map(|(low, high)| high - low).collect();
    let mut hours = Vec::with_capacity(air_c.len());
    for (day, (air_c, (low_c, _))) in air_c.chunks(24).zip(&days).enumerate() {
        let date = first
            .checked_add(Span::new().days(day as i64))
            .unwrap_or(first);
        let by_warming = cover_by_warming(&warmings, day);
        let logged = sun.get(day * 24..day * 24 + 24).filter(|_| has_sun);
        let of_day = logged
            .and_then(|logged| cover_by_sun(station, date, logged))
            .unwrap_or(by_warming);
        for (air_c, hour) in air_c.iter().zip(1_u8..) {
            let dew_c = low_c - DEW_BELOW_LOW_K;
            let mut row = modelled(station, date, hour, *air_c, dew_c, of_day, WIND_M_S);
            let measured = logged.and_then(|logged| logged[usize::from(hour) - 1]);
            if let Some(measured) = measured {
                shine(&mut row, station, date, measured);
            }
            hours.push(row);
        }
    }
    hours
}

/// Cover, tenths, from how much a day warms against the days of the same weeks.
fn cover_by_warming(warmings: &[f64], day: usize) -> f64 {
    let near = day.saturating_sub(WEEKS_DAYS)..(day + WEEKS_DAYS + 1).min(warmings.len());
    let mut sorted: Vec<f64> = warmings[near]
        .iter()
        .copied()
        .filter(|warming| warming.is_finite())
        .collect();
    sorted.sort_by(f64::total_cmp);
    let rank = |share: f64| {
        let place = (share * sorted.len().saturating_sub(1) as f64).round() as usize;
        sorted.get(place).copied()
    };
    match (rank(RANKS.0), rank(RANKS.1), warmings.get(day)) {
        (Some(least), Some(most), Some(warming))
            if most - least >= LEAST_DIFFERENCE_K && warming.is_finite() =>
        {
            let share = ((warming - least) / (most - least)).clamp(0.0, 1.0);
            COVERS.1 + (COVERS.0 - COVERS.1) * share
        }
        _ => UNKNOWN_TENTHS,
    }
}

/// Cover, tenths, from a day's measured sun against a clear sky's; `None` where it tells nothing.
fn cover_by_sun(station: &Station, date: Date, logged: &[Option<f64>]) -> Option<f64> {
    let (mut sun, mut clear) = (0.0, 0.0);
    for (logged, hour) in logged.iter().zip(1_u8..) {
        if let Some(logged) = logged {
            sun += logged;
            clear += sunshine(station, date, hour, 0.0)[0];
        }
    }
    (clear > 100.0).then(|| cover_of_sun(sun / clear))
}

/// Puts measured sun into a row, shared out between sun and sky as under a cover that would leave as much.
fn shine(row: &mut Hour, station: &Station, date: Date, measured_wh_m2: f64) {
    let [clear, ..] = sunshine(station, date, row.hour, 0.0);
    let tenths = if clear > 0.0 {
        cover_of_sun(measured_wh_m2 / clear)
    } else {
        10.0
    };
    let [global, direct, diffuse] = sunshine(station, date, row.hour, tenths);
    let scale = if global > 0.0 {
        measured_wh_m2 / global
    } else {
        0.0
    };
    row.global_horizontal_wh_m2 = measured_wh_m2;
    (row.direct_normal_wh_m2, row.diffuse_horizontal_wh_m2) = if global > 0.0 {
        (direct * scale, diffuse * scale)
    } else {
        (0.0, measured_wh_m2)
    };
    if clear > 0.0 {
        row.opaque_tenths = Some(tenths);
        row.infrared_w_m2 =
            horizontal_infrared_w_m2(walton_emissivity(row.dew_point_c, tenths), row.dry_bulb_c);
    }
}

/// Options with the column of the sun added.
pub(super) fn options(options: &ReaderOptions) -> ReaderOptions {
    ReaderOptions {
        extra_columns: vec![SUN.to_owned()],
        // The unit's own log has seconds and dates.
        prefer_dates: true,
        ..options.clone()
    }
}

#[cfg(test)]
#[path = "own_log_tests.rs"]
mod tests;
