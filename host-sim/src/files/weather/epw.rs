//! The EPW form: eight header lines, then one comma-separated row an hour.
//!
//! Source: EnergyPlus "Auxiliary Programs", weather file data dictionary. A value at or above its missing code is
//! missing. The minute field is 0 or 60 in different files and means "hour ending" in both.

use super::cells::{self, Line};
use super::error::WeatherError;
use super::fill;
use super::rows::{QUANTITIES, Quantity, RawRow, Stamp};
use super::{Station, WeatherYear};

/// A column of the data rows: number from 1, quantity, missing code.
struct Column(usize, Quantity, f64);

const COLUMNS: [Column; QUANTITIES] = [
    Column(7, Quantity::DryBulb, 99.9),
    Column(8, Quantity::DewPoint, 99.9),
    Column(10, Quantity::Pressure, 999_999.0),
    Column(13, Quantity::Infrared, 9999.0),
    Column(14, Quantity::GlobalHorizontal, 9999.0),
    Column(15, Quantity::DirectNormal, 9999.0),
    Column(16, Quantity::DiffuseHorizontal, 9999.0),
    Column(22, Quantity::Wind, 999.0),
    Column(24, Quantity::OpaqueCover, 99.0),
    Column(31, Quantity::SnowDepth, 999.0),
];

/// A row must reach at least the opaque sky cover; later columns are optional.
const FEWEST_CELLS: usize = 24;

/// The header lines after which DATA PERIODS must have come.
const HEADER_LINES: usize = 8;

/// Reads an EPW file; `file` is its name in messages.
pub(super) fn parse(bytes: &[u8], file: &str) -> Result<WeatherYear, WeatherError> {
    let mut lines = cells::lines(bytes).map(|(number, line)| Line::cut(file, number, line));
    let mut station = lines
        .next()
        .map_or_else(|| Err(no_header(file)), |line| station(&line))?;
    let periods = lines
        .by_ref()
        .take(HEADER_LINES - 1)
        .inspect(|line| {
            station.heating_design_c = station.heating_design_c.or(heating_design_c(line));
        })
        .find(|line| {
            line.cells
                .first()
                .is_some_and(|cell| cell.eq_ignore_ascii_case(b"DATA PERIODS"))
        })
        .ok_or_else(|| no_header(file))?;
    if periods.whole(1, "number of data periods", 1, i16::MAX)? != 1
        || periods.whole(2, "records per hour", 1, i16::MAX)? != 1
    {
        return Err(periods.wrong_line(
            cells::shown(&periods.cells.join(&b","[..])),
            "DATA PERIODS,1,1,…: one data period, one record an hour".to_owned(),
            "take the hourly file of one year",
        ));
    }

    let mut data = Vec::with_capacity(8784);
    let mut cells = None;
    for line in lines {
        data.push(row(&line, *cells.get_or_insert(line.cells.len()))?);
    }
    let mut columns = std::array::from_fn(|_| String::new());
    for &Column(number, quantity, _) in &COLUMNS {
        columns[quantity as usize] = format!("{number} ({})", quantity.described().0);
    }
    fill::complete(file, station, data, columns)
}

/// The file with empty cells in the columns that nothing is read from.
#[cfg(not(target_family = "wasm"))]
pub(super) fn lean(bytes: &[u8]) -> Vec<u8> {
    /// Year, month, day, hour and minute.
    const STAMP: usize = 5;
    let is_read = |number| number <= STAMP || COLUMNS.iter().any(|column| column.0 == number);
    let mut lean = Vec::with_capacity(bytes.len());
    for (line, text) in bytes.split_inclusive(|byte| *byte == b'\n').enumerate() {
        if line < HEADER_LINES {
            lean.extend_from_slice(text);
            continue;
        }
        for (number, cell) in (1..).zip(text.trim_ascii_end().split(|byte| *byte == b',')) {
            if number > 1 {
                lean.push(b',');
            }
            if is_read(number) {
                lean.extend_from_slice(cell);
            }
        }
        lean.push(b'\n');
    }
    lean
}

fn no_header(file: &str) -> WeatherError {
    WeatherError::Malformed {
        file: file.to_owned(),
        line: 1,
        column: String::new(),
        found: format!("no DATA PERIODS line among the first {HEADER_LINES} lines"),
        expected: "the eight EPW header lines, LOCATION to DATA PERIODS".to_owned(),
        advice: "take the file anew from its source",
    }
}

fn station(line: &Line<'_>) -> Result<Station, WeatherError> {
    let text = |column: usize| {
        let cell = line.cells.get(column).copied().unwrap_or_default();
        cells::decoded(cell)
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
    };
    let name = [text(1), text(2), text(3)]
        .into_iter()
        .filter(|part| !part.is_empty())
        .collect::<Vec<_>>()
        .join(", ");
    Ok(Station {
        name,
        latitude_deg: line.required(6, "latitude °", -90.0, 90.0)?,
        longitude_deg: line.required(7, "longitude °", -180.0, 180.0)?,
        utc_offset_h: line.required(8, "time zone h", -12.0, 14.0)?,
        elevation_m: line.required(9, "elevation m", -500.0, 9000.0)?,
        heating_design_c: None,
    })
}

/// The 99.6 % heating dry bulb in a DESIGN CONDITIONS line: the second cell after the word Heating, which the month of the
/// coldest weather follows. Nothing that is not plainly there is an error: files without it are common.
fn heating_design_c(line: &Line<'_>) -> Option<f64> {
    let mut cells = line.cells.iter().copied();
    let is_design = cells.next()?.eq_ignore_ascii_case(b"DESIGN CONDITIONS");
    let mut values = cells.skip_while(|cell| !cell.eq_ignore_ascii_case(b"Heating"));
    let cell = values.nth(2).filter(|_| is_design)?;
    let celsius: f64 = std::str::from_utf8(cell).ok()?.parse().ok()?;
    (-80.0..=30.0).contains(&celsius).then_some(celsius)
}

fn row(line: &Line<'_>, cells: usize) -> Result<RawRow, WeatherError> {
    if line.cells.len() < FEWEST_CELLS || line.cells.len() != cells {
        let expected = if line.cells.len() < FEWEST_CELLS {
            format!("at least {FEWEST_CELLS} comma-separated cells (35 in a full EPW row)")
        } else {
            format!("{cells}, as in the first data row")
        };
        return Err(line.wrong_line(
            cells::count(line.cells.len(), "cell"),
            expected,
            "the row is cut short or spliced; take the file anew from its source",
        ));
    }
    let stamp = Stamp {
        year: line.whole(0, "year", 1800, 2200)?,
        month: line.whole(1, "month", 1, 12)? as u8,
        day: line.whole(2, "day", 1, 31)? as u8,
        hour: line.whole(3, "hour", 1, 24)? as u8,
    };
    if !stamp.has_valid_day() {
        return Err(line.wrong(
            2,
            "day",
            "a day this month has",
            "correct the date or take the file anew",
        ));
    }
    if !matches!(line.whole(4, "minute", 0, 60)?, 0 | 60) {
        return Err(line.wrong(
            4,
            "minute",
            "0 or 60, both meaning the full hour",
            "take the hourly file",
        ));
    }
    let mut values = [None; QUANTITIES];
    for &Column(number, quantity, missing) in &COLUMNS {
        values[quantity as usize] = line.measured(number - 1, quantity, 1.0, |value| {
            // No sky sends nothing: some files write 0 where infrared was not known.
            value >= missing || (quantity == Quantity::Infrared && value == 0.0)
        })?;
    }
    Ok(RawRow {
        line: line.number,
        stamp,
        values,
    })
}
