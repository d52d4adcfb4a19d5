//! An hourly forecast from a file: a table, or a weather file's hours of that day and month.

use std::path::Path;

use anyhow::{Context as _, bail};
use jiff::civil::DateTime;

use super::forecast::{Forecast, HourAhead, SkyCover};
use super::recent::NoClock;
use crate::files;
use crate::files::log::{Cell, LogReader, LogStart, Quantity, ReaderOptions};
use crate::files::weather::WeatherError;
use crate::sim::weather::Station;

/// Columns a table may have beside `time` and `outdoor_c`, with what each may hold.
const EXTRAS: [(&str, f64, f64); 3] = [
    ("dew_point_c", -60.0, 30.0),
    ("opaque_tenths", 0.0, 10.0),
    ("wind_m_s", 0.0, 60.0),
];
/// Longest gap between two rows, h: beyond that the night between them is anybody's guess.
const LONGEST_GAP_H: f64 = 6.0;

/// Reads a file: EPW or TMY3 by its content, else a table.
///
/// # Errors
/// The file cannot be read, or the first thing wrong in it.
pub fn read(path: &Path, sky: SkyCover, station: &Station) -> anyhow::Result<(Forecast, String)> {
    match files::weather::read(path) {
        Ok(year) => {
            let name = format!("the hours of {} ({})", path.display(), year.station.name);
            Ok((Forecast::Year(Box::new(year)), name))
        }
        Err(WeatherError::NotWeather { .. }) => {
            let hours = table(path, station)?;
            let name = format!("{} hours from {}", hours.len(), path.display());
            Ok((Forecast::Hours(hours, sky), name))
        }
        Err(error) => Err(error.into()),
    }
}

fn table(path: &Path, station: &Station) -> anyhow::Result<Vec<HourAhead>> {
    let options = ReaderOptions {
        extra_columns: EXTRAS.map(|(name, ..)| name.to_owned()).to_vec(),
        ..ReaderOptions::default()
    };
    let mut reader = LogReader::open(path, &options)?;
    let file = path.display();
    if !reader.has(Quantity::Outdoor) {
        bail!(
            "{file}: found no column outdoor_c or outdoor_f; expected the forecast's air temperature there"
        );
    }
    let start = reader.start();
    let mut hours: Vec<HourAhead> = Vec::new();
    while let Some(row) = reader.next_row()? {
        let Cell::Reading(air) = row.outdoor else {
            bail!(
                "{file}, line {}: found no outdoor temperature that can be; expected one in each row of a forecast",
                reader.line()
            );
        };
        let extra = |index: usize| -> anyhow::Result<Option<f64>> {
            let text = String::from_utf8_lossy(reader.extra(index))
                .trim()
                .to_owned();
            let (_, least, most) = EXTRAS[index];
            if text.is_empty() {
                return Ok(None);
            }
            match text.parse::<f64>() {
                Ok(value) if (least..=most).contains(&value) => Ok(Some(value)),
                _ => Err(reader
                    .reject_extra(
                        index,
                        &format!("a number from {least} to {most}, or nothing"),
                    )
                    .into()),
            }
        };
        let at = clock(start, row.time_ms, station).with_context(|| file.to_string())?;
        let hour = HourAhead {
            at,
            air_c: f64::from(air) / 128.0,
            dew_point_c: extra(0)?,
            opaque_tenths: extra(1)?,
            wind_m_s: extra(2)?,
        };
        if let Some(before) = hours.last() {
            let gap_h = hour.at.duration_since(before.at).as_secs_f64() / 3600.0;
            if gap_h > LONGEST_GAP_H {
                bail!(
                    "{file}, line {}: found {gap_h:.1} h since the row before; expected rows at most {LONGEST_GAP_H:.0} h apart",
                    reader.line()
                );
            }
        }
        hours.push(hour);
    }
    Ok(hours)
}

fn clock(start: LogStart, time_ms: i64, station: &Station) -> Result<DateTime, NoClock> {
    let span = jiff::SignedDuration::from_millis(time_ms);
    match start {
        LogStart::Local(at) => Ok(at.saturating_add(span)),
        LogStart::Instant { at, .. } => {
            let hours = jiff::SignedDuration::from_secs_f64(station.utc_offset_h * 3600.0);
            let at = at.saturating_add(span + hours).unwrap_or(at);
            Ok(jiff::tz::Offset::UTC.to_datetime(at))
        }
        LogStart::Seconds { .. } => Err(NoClock),
    }
}
