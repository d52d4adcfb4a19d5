//! What can be wrong with a weather file, and what the person should do about it.

use std::fmt;

/// Why a weather file cannot be used. Every message names the file and, where there is one, the line and the column.
#[derive(Debug)]
pub enum WeatherError {
    /// The file could not be opened or read.
    Unreadable {
        /// The file as the person named it.
        file: String,
        /// What the operating system said.
        cause: std::io::Error,
    },
    /// The content is neither EPW nor TMY3.
    NotWeather {
        /// The file as the person named it.
        file: String,
        /// What the file looks like instead.
        found: String,
    },
    /// A log of the place that cannot be taken for weather.
    Log {
        /// The file, where the text does not name it.
        file: String,
        /// What is wrong with it and what to do.
        text: String,
    },
    /// The form is known, but one place in the file is not as the form demands.
    Malformed {
        /// The file as the person named it.
        file: String,
        /// Line number, the first line is 1.
        line: usize,
        /// The column's number (the first is 1) and name; empty where the whole line is meant.
        column: String,
        /// What stands there.
        found: String,
        /// What should stand there.
        expected: String,
        /// What to do about it.
        advice: &'static str,
    },
}

impl fmt::Display for WeatherError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unreadable { file, cause } => {
                write!(
                    f,
                    "{file}: cannot be read: {cause}; check the path and the permissions"
                )
            }
            Self::NotWeather { file, found } => write!(
                f,
                "{file}: line 1: found {found}; expected an EPW file (first line begins \"LOCATION,\") or a TMY3 file \
                 (second line begins \"Date (MM/DD/YYYY),Time (HH:MM)\"); give the unpacked hourly weather file itself"
            ),
            Self::Log { file, text } if file.is_empty() => f.write_str(text),
            Self::Log { file, text } => write!(f, "{file}: {text}"),
            Self::Malformed {
                file,
                line,
                column,
                found,
                expected,
                advice,
            } => {
                write!(f, "{file}: line {line}")?;
                if !column.is_empty() {
                    write!(f, ", column {column}")?;
                }
                write!(f, ": found {found}; expected {expected}; {advice}")
            }
        }
    }
}

impl std::error::Error for WeatherError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Unreadable { cause, .. } => Some(cause),
            Self::NotWeather { .. } | Self::Log { .. } | Self::Malformed { .. } => None,
        }
    }
}
