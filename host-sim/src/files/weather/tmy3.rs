//! The TMY3 form: a station line, a line of column names with units, then one row an hour.
//!
//! Source: Wilcox and Marion, *Users Manual for TMY3 Data Sets*, NREL/TP-581-43156 (2008). Columns are found by name,
//! since files exist with 68 and with 71 of them. −9900 means missing; there is no infrared column.

use super::cells::{self, Line};
use super::error::WeatherError;
use super::fill;
use super::rows::{QUANTITIES, Quantity, RawRow, Stamp};
use super::{Station, WeatherYear};

/// A column: its full name, quantity, factor to the quantity's unit.
struct Column(&'static str, Quantity, f64);

const COLUMNS: [Column; 8] = [
    Column("GHI (W/m^2)", Quantity::GlobalHorizontal, 1.0),
    Column("DNI (W/m^2)", Quantity::DirectNormal, 1.0),
    Column("DHI (W/m^2)", Quantity::DiffuseHorizontal, 1.0),
    Column("OpqCld (tenths)", Quantity::OpaqueCover, 1.0),
    Column("Dry-bulb (C)", Quantity::DryBulb, 1.0),
    Column("Dew-point (C)", Quantity::DewPoint, 1.0),
    Column("Pressure (mbar)", Quantity::Pressure, 100.0),
    Column("Wspd (m/s)", Quantity::Wind, 1.0),
];

/// The names the second line begins with.
pub(super) const DATE: &str = "Date (MM/DD/YYYY)";
pub(super) const TIME: &str = "Time (HH:MM)";

/// The code for a missing value.
const MISSING: f64 = -9900.0;

/// Reads a TMY3 file; `file` is its name in messages.
pub(super) fn parse(bytes: &[u8], file: &str) -> Result<WeatherYear, WeatherError> {
    let mut lines = cells::lines(bytes);
    let (first, second) = (lines.next(), lines.next());
    let (Some((station_number, station_line)), Some((names_number, names_line))) = (first, second)
    else {
        return Err(WeatherError::NotWeather {
            file: file.to_owned(),
            found: "fewer than two lines".to_owned(),
        });
    };
    let station = station(file, station_number, station_line)?;
    let names = Line::cut(file, names_number, names_line);
    let mut places = [0; COLUMNS.len()];
    for (place, Column(name, ..)) in places.iter_mut().zip(&COLUMNS) {
        *place = position(&names, name)?;
    }

    let mut data = Vec::with_capacity(8784);
    for (number, line) in lines {
        data.push(row(
            &Line::cut(file, number, line),
            names.cells.len(),
            &places,
        )?);
    }
    let mut columns = std::array::from_fn(|_| String::new());
    for (place, &Column(name, quantity, _)) in places.iter().zip(&COLUMNS) {
        columns[quantity as usize] = format!("{} ({name})", place + 1);
    }
    fill::complete(file, station, data, columns)
}

/// Where a column stands, from 0.
fn position(names: &Line<'_>, wanted: &str) -> Result<usize, WeatherError> {
    names
        .cells
        .iter()
        .position(|cell| cell.eq_ignore_ascii_case(wanted.as_bytes()))
        .ok_or_else(|| {
            names.wrong_line(
                format!(
                    "{} and none named \"{wanted}\"",
                    cells::count(names.cells.len(), "column")
                ),
                format!("a column named \"{wanted}\", unit included"),
                "take the unchanged TMY3 file from its source",
            )
        })
}

/// The station line; its name may be quoted and may hold a comma.
fn station(file: &str, number: usize, bytes: &[u8]) -> Result<Station, WeatherError> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(bytes);
    let mut record = csv::ByteRecord::new();
    // Reading from memory cannot fail, and a single record has no other to differ in length from.
    let _ = reader.read_byte_record(&mut record);
    let line = Line {
        file,
        number,
        cells: record.iter().map(<[u8]>::trim_ascii).collect(),
    };
    let text = |column: usize| cells::decoded(line.cells.get(column).copied().unwrap_or_default());
    Ok(Station {
        name: [text(1), text(2)].join(", "),
        utc_offset_h: line.required(3, "time zone h", -12.0, 14.0)?,
        latitude_deg: line.required(4, "latitude °", -90.0, 90.0)?,
        longitude_deg: line.required(5, "longitude °", -180.0, 180.0)?,
        elevation_m: line.required(6, "elevation m", -500.0, 9000.0)?,
        heating_design_c: None,
    })
}

fn row(
    line: &Line<'_>,
    cells: usize,
    places: &[usize; COLUMNS.len()],
) -> Result<RawRow, WeatherError> {
    if line.cells.len() != cells {
        return Err(line.wrong_line(
            cells::count(line.cells.len(), "cell"),
            format!("{cells}, one for each column name"),
            "the row is cut short or spliced; take the file anew from its source",
        ));
    }
    let mut values = [None; QUANTITIES];
    for (&place, &Column(_, quantity, scale)) in places.iter().zip(&COLUMNS) {
        values[quantity as usize] =
            line.measured(place, quantity, scale, |value| value == MISSING)?;
    }
    Ok(RawRow {
        line: line.number,
        stamp: stamp(line)?,
        values,
    })
}

/// Date MM/DD/YYYY and time 01:00 to 24:00, the end of the hour, in the first two cells.
fn stamp(line: &Line<'_>) -> Result<Stamp, WeatherError> {
    let whole =
        |bytes: &[u8]| -> Option<i16> { std::str::from_utf8(bytes).ok()?.trim().parse().ok() };
    let date: Vec<Option<i16>> = line.cells[0]
        .split(|&byte| byte == b'/')
        .map(whole)
        .collect();
    let time: Vec<Option<i16>> = line.cells[1]
        .split(|&byte| byte == b':')
        .map(whole)
        .collect();
    let &[Some(month @ 1..=12), Some(day @ 1..=31), Some(year)] = date.as_slice() else {
        return Err(line.wrong(0, DATE, "a date MM/DD/YYYY", "correct the date"));
    };
    let &[Some(hour @ 1..=24), Some(0)] = time.as_slice() else {
        return Err(line.wrong(
            1,
            TIME,
            "01:00 to 24:00, the end of the hour",
            "correct the time",
        ));
    };
    let stamp = Stamp {
        year,
        month: month as u8,
        day: day as u8,
        hour: hour as u8,
    };
    if stamp.has_valid_day() {
        Ok(stamp)
    } else {
        Err(line.wrong(0, DATE, "a day this month has", "correct the date"))
    }
}
