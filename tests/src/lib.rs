//! Helpers shared by the system tests.

#[cfg(feature = "emulated")]
pub mod emulated;
pub mod fuzz;

use std::path::PathBuf;

use host_sim::files;
use host_sim::files::site::SiteConfig;
use host_sim::sim::plant::OutdoorConditions;
use host_sim::sim::weather::{Conditions, Series, WeatherYear};

/// A station whose weather is kept with the program.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Station {
    /// Golden, Colorado: the demonstration's.
    Golden,
    /// Chicago, Illinois: the hard winter.
    Chicago,
}

impl Station {
    /// Its year.
    ///
    /// # Panics
    /// The file kept with the program cannot be read.
    #[must_use]
    pub fn year(self) -> WeatherYear {
        let file = match self {
            Self::Golden => "golden-co-724666-tmy3.epw",
            Self::Chicago => "chicago-il-725300-tmy3.epw",
        };
        let path: PathBuf = [env!("CARGO_MANIFEST_DIR"), "..", "host-sim", "data", file]
            .iter()
            .collect();
        files::weather::read(&path).unwrap_or_else(|error| panic!("{error}"))
    }

    /// Its weather on the demo house for `days` from 2025-`month`-`day`.
    ///
    /// # Panics
    /// As [`Station::year`], or the period is impossible.
    #[must_use]
    pub fn weather(self, month: i8, day: i8, days: u32) -> Series {
        let year = self.year();
        let period = year.period(jiff::civil::date(2025, month, day), days);
        let period = period.unwrap_or_else(|error| panic!("{error}"));
        Series::new(&year, period, &SiteConfig::default().glazing())
    }
}

/// Weather as the plant takes it.
#[must_use]
pub fn outdoor(weather: &Conditions) -> OutdoorConditions {
    OutdoorConditions {
        air_c: weather.air_c,
        dew_point_c: weather.dew_point_c,
        infrared_w_m2: weather.infrared_w_m2,
        wind_m_s: weather.wind_m_s,
        solar_incident_w: weather.solar_incident_w,
        ground_day: weather.day_of_year,
    }
}

/// A dull day: no sun, no wind, a sky as warm as the air.
#[must_use]
pub fn dull(air_c: f64, ground_day: f64) -> OutdoorConditions {
    let kelvin = air_c + 273.15;
    OutdoorConditions {
        air_c,
        infrared_w_m2: host_sim::sim::plant::house::STEFAN_BOLTZMANN * kelvin.powi(4),
        ground_day,
        ..OutdoorConditions::default()
    }
}
