//! Outdoor weather for the simulated winters: a year's hours, sky and sun, and the conditions at any second.
//!
//! A [`WeatherYear`] holds the hours; a [`Period`] picks the days; a [`Series`] answers
//! what it is like outside at a given second and how many watts of sun fall on the glazing. Nothing here knows the
//! plant or the controller. All figures are the same on every machine: no clock, no random source but a given seed,
//! transcendental functions through `libm`.

mod cold_snap;
mod glazing;
mod period;
mod series;
pub mod sky;
pub mod sun;

pub use cold_snap::{ColdSnap, SnapStart};
pub use glazing::{DiffuseModel, GROUND_ALBEDO, Glazing, Sunlight, Surface, tilted_irradiance};
pub use period::{Calendar, Period, PeriodError};
pub use series::{Conditions, Series};

use std::fmt;

/// Where a weather file was measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Station {
    /// Name with state and country as the file gives them.
    pub name: String,
    /// Latitude, ° (+ north).
    pub latitude_deg: f64,
    /// Longitude, ° (+ east).
    pub longitude_deg: f64,
    /// Local standard time minus universal time, h.
    pub utc_offset_h: f64,
    /// Height above the sea, m.
    pub elevation_m: f64,
    /// Heating dry bulb of 99.6 % from many years' records (ASHRAE), °C, where the file's head has it.
    pub heating_design_c: Option<f64>,
}

/// One row: the hour that ends at the stamp, in local standard time.
///
/// Temperatures, wind, pressure and infrared hold at the stamp; radiation is the sum over the hour before it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hour {
    /// Year the row was measured in; typical years mix several.
    pub year: i16,
    /// Month, 1–12.
    pub month: u8,
    /// Day of the month, 1–31.
    pub day: u8,
    /// Hour, 1–24, ending.
    pub hour: u8,
    /// Dry bulb, °C.
    pub dry_bulb_c: f64,
    /// Dew point, °C.
    pub dew_point_c: f64,
    /// Pressure of the air, Pa.
    pub pressure_pa: f64,
    /// Infrared from the sky on a horizontal plane, W/m².
    pub infrared_w_m2: f64,
    /// Sun and sky on a horizontal plane, Wh/m² in the hour.
    pub global_horizontal_wh_m2: f64,
    /// Sun on a plane facing it, Wh/m² in the hour.
    pub direct_normal_wh_m2: f64,
    /// Sky on a horizontal plane, Wh/m² in the hour.
    pub diffuse_horizontal_wh_m2: f64,
    /// Wind speed, m/s.
    pub wind_m_s: f64,
    /// Opaque sky cover, tenths, where the file has it.
    pub opaque_tenths: Option<f64>,
    /// Snow depth, cm, where the file has it.
    pub snow_depth_cm: Option<f64>,
}

/// How missing values were filled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// Linearly between the neighbours.
    Interpolated,
    /// Walton's sky emissivity from dew point and opaque cover.
    Walton,
    /// Standard atmosphere at the station's height.
    StandardAtmosphere,
}

/// A quantity some of whose values were missing and have been filled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Note {
    /// Name with unit.
    pub quantity: &'static str,
    /// Hours filled.
    pub hours: usize,
    /// Longest run of missing hours.
    pub longest_run_h: usize,
    /// How they were filled.
    pub method: Method,
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let how = match self.method {
            Method::Interpolated => "interpolated",
            Method::Walton => "computed from dew point and opaque cover",
            Method::StandardAtmosphere => {
                "taken from the standard atmosphere at the station's height"
            }
        };
        write!(
            f,
            "{}: {} missing (longest run {} h), {how}",
            self.quantity,
            if self.hours == 1 {
                "1 hour".to_owned()
            } else {
                format!("{} hours", self.hours)
            },
            self.longest_run_h
        )
    }
}

/// Where hours of weather are from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// A typical year: whole, its last hour followed by its first.
    TypicalYear,
    /// A climate's line, made into such a year by a seed.
    Climate,
    /// A log of its own days, in which hours may be missing (not a number).
    Log,
}

/// Hourly weather in the source's order: a whole year without gaps, or the days of a log.
#[derive(Debug, Clone, PartialEq)]
pub struct WeatherYear {
    /// The station.
    pub station: Station,
    /// 8760 rows, or 8784 with 29 February; of a log as many whole days as it has.
    pub hours: Vec<Hour>,
    /// What had to be filled.
    pub notes: Vec<Note>,
    /// What else has to be known of it, in sentences.
    pub told: Vec<String>,
    /// Where it is from.
    pub origin: Origin,
}

impl WeatherYear {
    /// Everything to be said of it.
    #[must_use]
    pub fn remarks(&self) -> Vec<String> {
        let notes = self.notes.iter().map(ToString::to_string);
        self.told.iter().cloned().chain(notes).collect()
    }

    /// The same year with every temperature `kelvin` higher (or lower, if negative).
    ///
    /// Dew point moves with dry bulb, and infrared as the clear sky's would; cloud, sun and wind stay.
    #[must_use]
    pub fn with_offset(&self, kelvin: f64) -> Self {
        let mut year = self.clone();
        for hour in &mut year.hours {
            hour.shift(kelvin);
        }
        year
    }
}

impl Hour {
    /// Moves the temperatures and scales the infrared as that of a clear sky; Walton's cloud factor cancels.
    fn shift(&mut self, kelvin: f64) {
        let clear = |hour: &Self| {
            let emissivity = sky::walton_emissivity(hour.dew_point_c, 0.0);
            sky::horizontal_infrared_w_m2(emissivity, hour.dry_bulb_c)
        };
        let before = clear(self);
        self.dry_bulb_c += kelvin;
        self.dew_point_c += kelvin;
        self.infrared_w_m2 *= clear(self) / before;
    }
}
