//! Where weather comes from: hourly files, a place's own log, a climate in one line.
//!
//! A [`Source`] becomes a [`WeatherYear`]: checked, gaps reported.

mod cells;
mod climate;
mod epw;
mod error;
mod fill;
pub(crate) mod modelled;
mod own_log;
mod rows;
pub(crate) mod shape;
mod source;
mod synthetic;
mod tmy3;

use std::path::Path;

use crate::files::input;
use crate::sim::weather::{Hour, Method, Note, Origin, Station, WeatherYear, sky, sun};

pub(crate) use climate::latitude_deg;
pub use climate::{Climate, ClimateError};
pub use error::WeatherError;
pub use source::{Asked, Source};

/// Weather of the demonstration site: Golden CO, TMY3, public domain (see the README beside the file).
#[cfg(not(target_family = "wasm"))]
const DEMO: &[u8] = include_bytes!("../../../data/golden-co-724666-tmy3.epw");

/// Name of the file that holds it where it is not built in, as in a browser, since it would be larger than the program.
pub const DEMO_FILE: &str = "built-in weather.epw";

/// Name of the demonstration weather in messages.
const DEMO_LABEL: &str = "golden-co-724666-tmy3.epw (built in)";

/// The hard weather beside it: Chicago IL, TMY3, public domain (see the README beside the file).
const HARD: &[u8] = include_bytes!("../../../data/chicago-il-725300-tmy3.epw");

/// Name of the hard weather in messages.
const HARD_LABEL: &str = "chicago-il-725300-tmy3.epw (built in)";

/// Reads a file, EPW or TMY3 by its content.
///
/// # Errors
/// [`WeatherError`]: the file cannot be read, is of another form, or is broken at a named place.
pub fn read(path: &Path) -> Result<WeatherYear, WeatherError> {
    let file = path.display().to_string();
    match input::weather(path) {
        Ok(bytes) => parse(&bytes, &file),
        Err(cause) => Err(WeatherError::Unreadable { file, cause }),
    }
}

/// Reads a file's bytes; `file` names it in messages.
///
/// # Errors
/// As [`read`].
pub fn parse(bytes: &[u8], file: &str) -> Result<WeatherYear, WeatherError> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    match detect(bytes) {
        Ok(Form::Epw) => epw::parse(bytes, file),
        Ok(Form::Tmy3) => tmy3::parse(bytes, file),
        Err(found) => Err(WeatherError::NotWeather {
            file: file.to_owned(),
            found,
        }),
    }
}

/// The weather of a log's own outdoor readings; `name` stands for it in messages.
///
/// # Errors
/// The log is broken, has no outdoor readings, no dates, or no whole day.
pub fn from_log(
    reader: crate::files::log::LogReader,
    name: &str,
    latitude_deg: f64,
) -> Result<WeatherYear, WeatherError> {
    own_log::read(reader, name, latitude_deg)
}

/// The built-in demonstration weather.
///
/// # Errors
/// None in a sound build; the error is kept so that nothing here can panic.
#[cfg(not(target_family = "wasm"))]
pub fn demo() -> Result<WeatherYear, WeatherError> {
    parse(DEMO, DEMO_LABEL)
}

/// The demonstration weather, from [`DEMO_FILE`]; read once.
///
/// # Errors
/// There is no such file, or it is another.
#[cfg(target_family = "wasm")]
pub fn demo() -> Result<WeatherYear, WeatherError> {
    thread_local! {
        static READ: std::cell::OnceCell<WeatherYear> = const { std::cell::OnceCell::new() };
    }
    READ.with(|read| match read.get() {
        Some(year) => Ok(year.clone()),
        None => {
            let bytes = input::weather(Path::new(DEMO_FILE));
            let bytes = bytes.map_err(|cause| WeatherError::Unreadable {
                file: DEMO_FILE.to_owned(),
                cause,
            })?;
            let year = parse(&bytes, DEMO_LABEL)?;
            Ok(read.get_or_init(|| year).clone())
        }
    })
}

/// The built-in hard weather.
///
/// # Errors
/// As [`demo`].
pub fn hard() -> Result<WeatherYear, WeatherError> {
    parse(HARD, HARD_LABEL)
}

/// The demonstration weather without the columns that nothing is read from: a quarter of the bytes once packed, the same year.
#[cfg(not(target_family = "wasm"))]
#[must_use]
pub fn lean_demo() -> Vec<u8> {
    epw::lean(DEMO)
}

/// The file forms.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    Epw,
    Tmy3,
}

/// The form of a file by its content, or what it looks like instead.
fn detect(bytes: &[u8]) -> Result<Form, String> {
    let described = match bytes {
        [] => Some("an empty file"),
        [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => Some("UTF-16 text; save it as UTF-8"),
        [b'P', b'K', 3, 4, ..] => Some("a ZIP archive; unpack it first"),
        [0x1f, 0x8b, ..] => Some("a gzip archive; unpack it first"),
        _ => None,
    };
    if let Some(found) = described {
        return Err(found.to_owned());
    }
    let mut lines = cells::lines(bytes).map(|(_, line)| line);
    let first = lines.next().unwrap_or_default();
    let second = lines.next().unwrap_or_default();
    let begins = |line: &[u8], with: &str| {
        line.get(..with.len())
            .is_some_and(|start| start.eq_ignore_ascii_case(with.as_bytes()))
    };
    if begins(first, "LOCATION,") {
        return Ok(Form::Epw);
    }
    if begins(second, &format!("{},{}", tmy3::DATE, tmy3::TIME)) {
        return Ok(Form::Tmy3);
    }
    Err(cells::shown(first))
}

#[cfg(test)]
mod cold_snap_tests;
#[cfg(test)]
mod series_tests;
#[cfg(test)]
mod tests;
