//! From the rows of a file to a whole year: short gaps are filled and reported, long ones refused.

use super::cells::count;
use super::error::WeatherError;
use super::rows::{QUANTITIES, Quantity, RawRow, check_order};
use super::sky;
use super::{Hour, Method, Note, Origin, Station, WeatherYear};

/// Longest run of missing values, in hours, that is filled by interpolation (common practice, no source).
pub(super) const LONGEST_FILLED_RUN_H: usize = 6;

/// Checks order and length, fills short gaps, and makes the year.
pub(super) fn complete(
    file: &str,
    station: Station,
    mut rows: Vec<RawRow>,
    columns: [String; QUANTITIES],
) -> Result<WeatherYear, WeatherError> {
    check_order(file, &rows)?;
    let mut notes = Vec::new();
    for quantity in [
        Quantity::DryBulb,
        Quantity::DewPoint,
        Quantity::GlobalHorizontal,
        Quantity::DirectNormal,
        Quantity::DiffuseHorizontal,
        Quantity::Wind,
    ] {
        interpolate(
            file,
            &mut rows,
            quantity,
            &columns[quantity as usize],
            &mut notes,
        )?;
    }
    fill_pressure(&mut rows, station.elevation_m, &mut notes);
    fill_infrared(file, &mut rows, &columns, &mut notes)?;
    let hours = rows.iter().map(hour_of).collect();
    Ok(WeatherYear {
        station,
        hours,
        notes,
        told: Vec::new(),
        origin: Origin::TypicalYear,
    })
}

/// Runs of rows without a value, as (first row, length), where a run may go on from the last row to the first.
fn missing_runs(rows: &[RawRow], quantity: Quantity) -> Vec<(usize, usize)> {
    let rows_n = rows.len();
    let is_missing = |row: usize| rows[row % rows_n].values[quantity as usize].is_none();
    let Some(known) = (0..rows_n).find(|&row| !is_missing(row)) else {
        return vec![(0, rows_n)];
    };
    let mut runs = Vec::new();
    let mut row = known;
    while row < known + rows_n {
        let length = (row..known + rows_n)
            .take_while(|&row| is_missing(row))
            .count();
        if length > 0 {
            runs.push((row % rows_n, length));
        }
        row += length.max(1);
    }
    runs
}

fn note_of(quantity: Quantity, runs: &[(usize, usize)], method: Method) -> Note {
    Note {
        quantity: quantity.described().0,
        hours: runs.iter().map(|run| run.1).sum(),
        longest_run_h: runs.iter().map(|run| run.1).max().unwrap_or(0),
        method,
    }
}

/// Fills runs of at most [`LONGEST_FILLED_RUN_H`] linearly; a longer one is an error.
fn interpolate(
    file: &str,
    rows: &mut [RawRow],
    quantity: Quantity,
    column: &str,
    notes: &mut Vec<Note>,
) -> Result<(), WeatherError> {
    let runs = missing_runs(rows, quantity);
    let rows_n = rows.len();
    for &(start, length) in &runs {
        let before = rows[(start + rows_n - 1) % rows_n].values[quantity as usize];
        let after = rows[(start + length) % rows_n].values[quantity as usize];
        let (Some(before), Some(after), true) = (before, after, length <= LONGEST_FILLED_RUN_H)
        else {
            return Err(WeatherError::Malformed {
                file: file.to_owned(),
                line: rows[start].line,
                column: column.to_owned(),
                found: format!(
                    "no value for {} from this line on",
                    count(length, "successive hour")
                ),
                expected: format!("gaps of at most {LONGEST_FILLED_RUN_H} h"),
                advice: "take another year or station, or fill the gap from a neighbouring station",
            });
        };
        for step in 1..=length {
            let share = step as f64 / (length + 1) as f64;
            rows[(start + step - 1) % rows_n].values[quantity as usize] =
                Some(before + (after - before) * share);
        }
    }
    if !runs.is_empty() {
        notes.push(note_of(quantity, &runs, Method::Interpolated));
    }
    Ok(())
}

/// Missing pressure becomes that of the standard atmosphere at the station's height.
fn fill_pressure(rows: &mut [RawRow], elevation_m: f64, notes: &mut Vec<Note>) {
    let runs = missing_runs(rows, Quantity::Pressure);
    if runs.is_empty() {
        return;
    }
    let standard = standard_pressure_pa(elevation_m);
    for row in rows {
        row.values[Quantity::Pressure as usize].get_or_insert(standard);
    }
    notes.push(note_of(
        Quantity::Pressure,
        &runs,
        Method::StandardAtmosphere,
    ));
}

/// Pressure of the standard atmosphere, Pa. Source: ISO 2533:1975 (troposphere), as ASHRAE Fundamentals prints it.
fn standard_pressure_pa(elevation_m: f64) -> f64 {
    101_325.0 * libm::pow(1.0 - 2.255_77e-5 * elevation_m, 5.2559)
}

/// Missing infrared is computed from dew point and opaque cover, which must then be known.
fn fill_infrared(
    file: &str,
    rows: &mut [RawRow],
    columns: &[String; QUANTITIES],
    notes: &mut Vec<Note>,
) -> Result<(), WeatherError> {
    let runs = missing_runs(rows, Quantity::Infrared);
    if runs.is_empty() {
        return Ok(());
    }
    let cover = Quantity::OpaqueCover as usize;
    interpolate(file, rows, Quantity::OpaqueCover, &columns[cover], notes)?;
    for row in rows {
        let value = |quantity: Quantity| row.values[quantity as usize].unwrap_or(f64::NAN);
        let emissivity =
            sky::walton_emissivity(value(Quantity::DewPoint), value(Quantity::OpaqueCover));
        let computed = sky::horizontal_infrared_w_m2(emissivity, value(Quantity::DryBulb));
        row.values[Quantity::Infrared as usize].get_or_insert(computed);
    }
    notes.push(note_of(Quantity::Infrared, &runs, Method::Walton));
    Ok(())
}

fn hour_of(row: &RawRow) -> Hour {
    let value = |quantity: Quantity| row.values[quantity as usize].unwrap_or(f64::NAN);
    Hour {
        year: row.stamp.year,
        month: row.stamp.month,
        day: row.stamp.day,
        hour: row.stamp.hour,
        dry_bulb_c: value(Quantity::DryBulb),
        dew_point_c: value(Quantity::DewPoint),
        pressure_pa: value(Quantity::Pressure),
        infrared_w_m2: value(Quantity::Infrared),
        global_horizontal_wh_m2: value(Quantity::GlobalHorizontal),
        direct_normal_wh_m2: value(Quantity::DirectNormal),
        diffuse_horizontal_wh_m2: value(Quantity::DiffuseHorizontal),
        wind_m_s: value(Quantity::Wind),
        opaque_tenths: row.values[Quantity::OpaqueCover as usize],
        snow_depth_cm: row.values[Quantity::SnowDepth as usize],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ICAO standard atmosphere table: 1000 m 89 874.6 Pa, 2000 m 79 495.2 Pa.
    #[test]
    fn standard_atmosphere_at_table_heights() {
        assert!((standard_pressure_pa(1000.0) - 89_874.6).abs() < 10.0);
        assert!((standard_pressure_pa(2000.0) - 79_495.2).abs() < 10.0);
    }
}
