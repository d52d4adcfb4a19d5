//! Where a run's weather is from: a file, or a climate in one line.

use std::fmt;
use std::path::{Path, PathBuf};

use super::climate::{Climate, ClimateError};
use super::error::WeatherError;
use super::{WeatherYear, own_log, synthetic};
use crate::files::log::{LogErrorKind, LogReader, ReaderOptions};

/// A weather file, a log with outdoor readings, or a climate.
#[derive(Clone, Debug, PartialEq)]
pub enum Source {
    /// EPW, TMY3, or a log, by its content.
    File(PathBuf),
    /// Made into a year.
    Climate(Box<Climate>),
}

/// What is needed beside the source itself.
#[derive(Clone, Debug)]
pub struct Asked {
    /// Latitude of a log, ° (+ north).
    pub latitude_deg: f64,
    /// How a log is to be read.
    pub form: ReaderOptions,
    /// Seed of a climate's weather.
    pub seed: u64,
}

impl Default for Asked {
    /// At the demonstration site's latitude.
    fn default() -> Self {
        Self {
            latitude_deg: Self::DEMO_LATITUDE_DEG,
            form: ReaderOptions::default(),
            seed: 1,
        }
    }
}

impl Asked {
    /// Latitude of the demonstration site's weather, °.
    pub const DEMO_LATITUDE_DEG: f64 = 39.74;
}

impl Source {
    /// A climate where the text is meant as one, else a file.
    ///
    /// # Errors
    /// A climate that cannot be.
    pub fn parse(text: &str) -> Result<Self, ClimateError> {
        if Climate::is_meant(text) {
            Climate::parse(text).map(|climate| Self::Climate(Box::new(climate)))
        } else {
            Ok(Self::File(PathBuf::from(text)))
        }
    }

    /// The file it is read from.
    #[must_use]
    pub fn path(&self) -> Option<&PathBuf> {
        match self {
            Self::File(path) => Some(path),
            Self::Climate(_) => None,
        }
    }

    /// Reads or makes the weather.
    ///
    /// # Errors
    /// [`WeatherError`]: the file cannot be read, is of another form, or is broken at a named place.
    pub fn read(&self, asked: &Asked) -> Result<WeatherYear, WeatherError> {
        match self {
            Self::Climate(climate) => Ok(synthetic::year(climate, asked.seed)),
            Self::File(path) => match super::read(path) {
                Err(error @ WeatherError::NotWeather { .. }) => log(path, asked, error),
                read => read,
            },
        }
    }
}

/// A log, or why the file is neither.
fn log(path: &Path, asked: &Asked, not_weather: WeatherError) -> Result<WeatherYear, WeatherError> {
    let reader = match LogReader::open(path, &own_log::options(&asked.form)) {
        Ok(reader) => reader,
        Err(error) => {
            // A file without a time or a reading in its header is no log either.
            return Err(match error.kind() {
                LogErrorKind::NoTimeColumn { .. }
                | LogErrorKind::NoHeader
                | LogErrorKind::Utf16
                | LogErrorKind::Foreign { .. }
                | LogErrorKind::FieldCount { .. }
                | LogErrorKind::NoRows
                    if asked.form.columns.is_empty() =>
                {
                    not_weather
                }
                _ => WeatherError::Log {
                    file: String::new(),
                    text: error.to_string(),
                },
            });
        }
    };
    own_log::read(reader, &path.display().to_string(), asked.latitude_deg)
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File(path) => path.display().fmt(f),
            Self::Climate(climate) => climate.fmt(f),
        }
    }
}
