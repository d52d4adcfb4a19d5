//! What a recent log tells: the readings of its end, and the two days before it.
//!
//! Only the last two days are kept in memory, whatever the log's length. Where the store has no thermometer its floor is known from the
//! water of the last run: water that enters the store at T_r and leaves it at T_s has come nearer to the floor T_c by the floor's
//! effectiveness ε, so T_c = T_r + (T_s − T_r) / ε.

use std::collections::VecDeque;
use std::fmt;

use jiff::civil::DateTime;

use super::axis::Axis;
use super::night::SAMPLE_S;
use super::start::{History, LOGGED_HISTORY_S, Track};
use crate::files::log::{Cell, LogError, LogReader, LogRow, LogStart};
use crate::sim::plant::PlantConfig;
use crate::sim::plant::operating::{LoopDesign, Path, REFERENCE_C};
use crate::sim::weather::Station;
use controller_core::settings::Settings;

/// How old a reading may be at the log's end to count as present, ms.
pub const RECENT_MS: i64 = 3 * 3_600_000;
/// The same for the store, which moves little in a day, ms.
pub const STORE_RECENT_MS: i64 = 24 * 3_600_000;
/// A reading is the mean of so long a stretch before it, ms.
const MEAN_MS: i64 = 600_000;
/// Time after a boiler call in which the water tells nothing of the store, ms.
const CALL_FADES_MS: i64 = 3_600_000;

/// One row, as plain numbers.
#[derive(Clone, Copy, Debug)]
struct Row {
    time_ms: i64,
    /// Outdoor, slab, store, store floor by the water.
    values: [Option<f64>; 4],
}

/// What a row of a log is kept for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Known {
    /// Outdoor air.
    Outdoor,
    /// Slab.
    Slab,
    /// Store air.
    Store,
    /// The store's floor, by the water.
    StoreFloor,
}

/// A reading with its age at the log's end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Aged {
    /// °C.
    pub celsius: f64,
    /// ms.
    pub age_ms: i64,
}

/// The end of a log.
#[derive(Clone, Debug)]
pub struct Recent {
    start: LogStart,
    rows: VecDeque<Row>,
}

/// The log's times cannot be put on a clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NoClock;

impl fmt::Display for NoClock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(
            "found times in seconds, which tell no date; expected dates, or give the time of the newest row with \
             --now \"YYYY-MM-DD HH:MM\"",
        )
    }
}

impl std::error::Error for NoClock {}

impl Recent {
    /// Reads a log to its end.
    ///
    /// # Errors
    /// The first thing wrong in it.
    pub fn read(
        reader: &mut LogReader,
        plant: &PlantConfig,
        settings: &Settings,
    ) -> Result<Recent, LogError> {
        let mut water = Water::new(plant, settings);
        let mut rows: VecDeque<Row> = VecDeque::new();
        let keep_ms = i64::try_from(LOGGED_HISTORY_S * 1_000).unwrap_or(i64::MAX);
        while let Some(row) = reader.next_row()? {
            let floor = water.store_floor_c(&row);
            rows.push_back(Row {
                time_ms: row.time_ms,
                values: [
                    celsius(row.outdoor),
                    celsius(row.slab),
                    celsius(row.store),
                    floor,
                ],
            });
            while rows
                .front()
                .is_some_and(|r| r.time_ms < row.time_ms - keep_ms)
            {
                rows.pop_front();
            }
        }
        Ok(Recent {
            start: reader.start(),
            rows,
        })
    }

    fn end_ms(&self) -> i64 {
        self.rows.back().map_or(0, |row| row.time_ms)
    }

    /// The clock at the newest row: local standard time of the station for logs that carry an offset, the log's own otherwise.
    ///
    /// # Errors
    /// The log counts seconds.
    pub fn end(&self, station: &Station) -> Result<DateTime, NoClock> {
        let span = jiff::SignedDuration::from_millis(self.end_ms());
        match self.start {
            LogStart::Local(start) => Ok(start.saturating_add(span)),
            LogStart::Instant { at, .. } => {
                let hours = jiff::SignedDuration::from_secs_f64(station.utc_offset_h * 3600.0);
                let at = at.saturating_add(span + hours).unwrap_or(at);
                Ok(jiff::tz::Offset::UTC.to_datetime(at))
            }
            LogStart::Seconds { .. } => Err(NoClock),
        }
    }

    /// The newest reading, a mean over ten minutes, however old.
    #[must_use]
    pub fn newest(&self, known: Known) -> Option<Aged> {
        let of = |row: &Row| row.values[known as usize];
        let newest = self.rows.iter().rev().find(|row| of(row).is_some())?;
        let values: Vec<f64> = self
            .rows
            .iter()
            .rev()
            .skip_while(|row| row.time_ms > newest.time_ms)
            .take_while(|row| row.time_ms > newest.time_ms - MEAN_MS)
            .filter_map(of)
            .collect();
        Some(Aged {
            celsius: values.iter().sum::<f64>() / values.len() as f64,
            age_ms: self.end_ms() - newest.time_ms,
        })
    }

    /// The days before the end, which is at `axis.now_s`; `None` if the log is shorter than an hour or tells nothing of the slab.
    #[must_use]
    pub fn history(&self, axis: &Axis) -> Option<History> {
        let begin_ms = self.rows.front()?.time_ms;
        let length_s = u64::try_from((self.end_ms() - begin_ms) / 1_000).ok()?;
        let length_s = (length_s - length_s % SAMPLE_S).min(LOGGED_HISTORY_S);
        if length_s < 3_600 {
            return None;
        }
        let start_s = axis.now_s - length_s;
        let count = (length_s / SAMPLE_S) as usize + 1;
        let mut sums = vec![[(0.0, 0_u32); 4]; count];
        for row in &self.rows {
            // Rows near a sample belong to it.
            let before_end_s = (self.end_ms() - row.time_ms) / 1_000;
            let back = (before_end_s + SAMPLE_S as i64 / 2) / SAMPLE_S as i64;
            let Some(place) = usize::try_from(back)
                .ok()
                .and_then(|back| (count - 1).checked_sub(back))
            else {
                continue;
            };
            for (sum, value) in sums[place].iter_mut().zip(row.values) {
                if let Some(value) = value {
                    *sum = (sum.0 + value, sum.1 + 1);
                }
            }
        }
        let track = |known: Known| Track {
            start_s,
            values: sums
                .iter()
                .map(|sample| sample[known as usize])
                .map(|(sum, n)| (n > 0).then(|| sum / f64::from(n)))
                .collect(),
        };
        Some(History {
            start_s,
            outdoor_c: track(Known::Outdoor),
            slab_c: track(Known::Slab),
            store_c: track(Known::Store),
        })
    }
}

fn celsius(cell: Cell) -> Option<f64> {
    match cell {
        Cell::Reading(n) => Some(f64::from(n) / 128.0),
        Cell::Missing | Cell::OutOfRange => None,
    }
}

/// The store's floor from the water of the runs.
struct Water {
    effectiveness: f64,
    pump_k: f64,
    settling_ms: i64,
    run_since_ms: Option<i64>,
    called_ms: i64,
}

impl Water {
    fn new(plant: &PlantConfig, settings: &Settings) -> Water {
        let point = LoopDesign::new(plant).flow_point(Path::Series, REFERENCE_C);
        let pump = &plant.circulator;
        Water {
            effectiveness: point.store_effectiveness,
            pump_k: pump.electrical_w * pump.heat_to_water / point.capacity_w_k,
            settling_ms: i64::from(settings.settling_time.as_millis()),
            run_since_ms: None,
            called_ms: i64::MIN / 2,
        }
    }

    fn store_floor_c(&mut self, row: &LogRow) -> Option<f64> {
        if row.boiler_call == Some(true) {
            self.called_ms = row.time_ms;
        }
        if row.circulator != Some(true) {
            self.run_since_ms = None;
            return None;
        }
        let since_ms = *self.run_since_ms.get_or_insert(row.time_ms);
        let told = row.time_ms - since_ms >= self.settling_ms
            && row.time_ms - self.called_ms >= CALL_FADES_MS;
        let (supply_c, return_c) = (celsius(row.supply)?, celsius(row.return_)?);
        told.then(|| return_c + (supply_c - self.pump_k - return_c) / self.effectiveness)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::log::ReaderOptions;

    fn recent(text: &str) -> Recent {
        let mut reader =
            LogReader::from_bytes("log", text.as_bytes().to_vec(), &ReaderOptions::default())
                .expect("a log");
        Recent::read(&mut reader, &PlantConfig::default(), &Settings::default()).expect("readable")
    }

    fn station() -> Station {
        Station {
            name: String::new(),
            latitude_deg: 39.74,
            longitude_deg: -105.18,
            utc_offset_h: -7.0,
            elevation_m: 1829.0,
            heating_design_c: None,
        }
    }

    #[test]
    fn the_newest_reading_is_a_mean_and_has_its_age() {
        let recent = recent(
            "time,slab_c,outdoor_c\n2025-01-10 12:00,9,1\n2025-01-10 17:00,6,-1\n2025-01-10 17:05,7,-2\n2025-01-10 17:30,,-3\n",
        );
        let slab = recent.newest(Known::Slab).expect("a slab");
        assert_eq!((slab.celsius, slab.age_ms), (6.5, 25 * 60_000));
        assert_eq!(recent.newest(Known::Outdoor).map(|o| o.celsius), Some(-3.0));
        assert_eq!(recent.newest(Known::Store), None);
        let end = recent.end(&station()).expect("a clock");
        assert_eq!(end.to_string(), "2025-01-10T17:30:00");
    }

    #[test]
    fn offsets_lead_to_local_standard_time_and_seconds_to_none() {
        let with =
            recent("time,slab_c\n2025-01-10T17:00:00+00:00,6\n2025-01-10T18:00:00+00:00,6\n");
        let end = with.end(&station()).expect("a clock");
        assert_eq!(end.to_string(), "2025-01-10T11:00:00");
        assert_eq!(
            recent("time_s,slab_c\n0,6\n60,6\n").end(&station()),
            Err(NoClock)
        );
    }

    /// Two floors in one loop (algebra): store 9 °C, slab 2 °C, both effectivenesses 0.6928 give 7.3549 °C and 3.6451 °C.
    #[test]
    fn the_water_tells_the_stores_floor() {
        let mut plant = PlantConfig::default();
        plant.circulator.electrical_w = 0.0;
        let mut water = Water::new(&plant, &Settings::default());
        water.effectiveness = 0.692_776;
        let row = |time_ms, circulator| LogRow {
            time_ms,
            supply: Cell::Reading((7.3549_f64 * 128.0).round() as i16),
            return_: Cell::Reading((3.6451_f64 * 128.0).round() as i16),
            slab: Cell::Missing,
            outdoor: Cell::Missing,
            air: Cell::Missing,
            store: Cell::Missing,
            circulator: Some(circulator),
            boiler_call: None,
        };
        assert_eq!(water.store_floor_c(&row(0, false)), None);
        assert_eq!(water.store_floor_c(&row(60_000, true)), None);
        let told = water.store_floor_c(&row(600_000, true)).expect("settled");
        assert!((told - 9.0).abs() < 0.02, "{told}");
        let called = LogRow {
            boiler_call: Some(true),
            ..row(660_000, true)
        };
        assert_eq!(water.store_floor_c(&called), None);
    }
}
