//! Checks of the readers: the real files, and each quirk on files made here.

use std::fmt::Write;

use super::*;

const GOLDEN: &[u8] = include_bytes!("../../../data/golden-co-724666-tmy3.epw");
const CHICAGO: &[u8] = include_bytes!("../../../data/chicago-il-725300-tmy3.epw");

/// Days of the months of a common year.
const MONTHS: [u8; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

const TMY3_NAMES: &str = "Date (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2),DNI (W/m^2),DHI (W/m^2),OpqCld (tenths),\
                          Dry-bulb (C),Dew-point (C),Pressure (mbar),Wspd (m/s),Extra";

/// A made-up EPW year; a month's year is 1990 plus its number, so that the years jump at month ends.
fn epw_lines() -> Vec<String> {
    let mut lines: Vec<String> = [
        "LOCATION,Testfield,XX,YYY,made up,000000,47.5,8.25,1.0,432.0",
        "DESIGN CONDITIONS,0",
        "TYPICAL/EXTREME PERIODS,0",
        "GROUND TEMPERATURES,0",
        "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
        "COMMENTS 1,a lone \" quote",
        "COMMENTS 2,",
        "DATA PERIODS,1,1,Data,Sunday,1/1,12/31",
    ]
    .map(str::to_owned)
    .into();
    for (month, days) in (1..).zip(MONTHS) {
        for day in 1..=days {
            for hour in 1..=24 {
                let sun = if (8..=16).contains(&hour) { 100 } else { 0 };
                lines.push(format!(
                    "{},{month},{day},{hour},0,?,{}.0,-5.0,80,96000,0,0,250,{sun},0,{sun},0,0,0,0,180,3.0,5,5,10,1000,9,\
                     999999999,10,0.1,0,88,0.2,999,99",
                    1990 + month,
                    hour - 12
                ));
            }
        }
    }
    lines
}

fn tmy3_lines() -> Vec<String> {
    let mut lines = vec![
        "123456,\"TESTFIELD, NORTH\",XX,-9.0,55.317,-160.517,7".to_owned(),
        TMY3_NAMES.to_owned(),
    ];
    for (month, days) in (1..).zip(MONTHS) {
        for day in 1..=days {
            for hour in 1..=24 {
                lines.push(format!(
                    "{month:02}/{day:02}/{},{hour:02}:00,0,0,0,5,{}.0,-5.0,1012,2.1,x",
                    1990 + month,
                    hour - 12
                ));
            }
        }
    }
    lines
}

/// Replaces one comma-separated cell (both counted from 1).
fn set_cell(lines: &mut [String], line: usize, column: usize, value: &str) {
    let mut cells: Vec<&str> = lines[line - 1].split(',').collect();
    cells[column - 1] = value;
    lines[line - 1] = cells.join(",");
}

fn parse(lines: &[String]) -> Result<WeatherYear, WeatherError> {
    super::parse(lines.join("\n").as_bytes(), "made.epw")
}

#[track_caller]
fn refused(lines: &[String], parts: &[&str]) {
    let message = parse(lines).expect_err("must be refused").to_string();
    for part in parts {
        assert!(message.contains(part), "\"{part}\" is not in: {message}");
    }
}

fn extremes(year: &WeatherYear) -> (f64, usize, usize) {
    let lowest = year
        .hours
        .iter()
        .map(|h| h.dry_bulb_c)
        .fold(f64::INFINITY, f64::min);
    let below_ten = year.hours.iter().filter(|h| h.dry_bulb_c < -10.0).count();
    let longest = year
        .hours
        .split(|h| h.dry_bulb_c >= 0.0)
        .map(<[Hour]>::len)
        .max();
    (lowest, below_ten, longest.unwrap_or(0))
}

/// Counted apart from this program with a spreadsheet-like script over the same files.
#[test]
fn real_files_have_their_known_figures() {
    let golden = super::parse(GOLDEN, "golden").unwrap();
    assert_eq!(extremes(&golden), (-25.0, 179, 91));
    assert_eq!(golden.station.name, "Denver Centennial Golden Nr, CO, USA");
    assert_eq!(golden.station.latitude_deg, 39.74);
    assert_eq!(golden.station.longitude_deg, -105.18);
    assert_eq!(golden.station.utc_offset_h, -7.0);
    assert_eq!(golden.station.elevation_m, 1829.0);
    assert_eq!(golden.station.heating_design_c, Some(-18.8));
    assert!(golden.notes.is_empty());
    let first = golden.hours[0];
    assert_eq!(
        (first.year, first.month, first.day, first.hour),
        (1999, 1, 1, 1)
    );
    assert_eq!(
        (first.dry_bulb_c, first.dew_point_c, first.pressure_pa),
        (-3.0, -4.0, 80_600.0)
    );
    assert_eq!(
        (first.infrared_w_m2, first.opaque_tenths),
        (257.0, Some(8.0))
    );

    let chicago = super::parse(CHICAGO, "chicago").unwrap();
    assert_eq!(extremes(&chicago), (-22.8, 382, 365));
    assert_eq!(chicago.station.heating_design_c, Some(-20.0));
    assert_eq!(chicago.hours.len(), 8760);
}

/// The infrared column of these files is itself Walton's, rounded: rms 0.3 W/m².
#[test]
fn walton_reproduces_the_files_infrared() {
    for bytes in [GOLDEN, CHICAGO] {
        let year = super::parse(bytes, "real").unwrap();
        let squares: f64 = year
            .hours
            .iter()
            .map(|h| {
                let emissivity = sky::walton_emissivity(h.dew_point_c, h.opaque_tenths.unwrap());
                let error =
                    sky::horizontal_infrared_w_m2(emissivity, h.dry_bulb_c) - h.infrared_w_m2;
                error * error
            })
            .sum();
        let rms = (squares / year.hours.len() as f64).sqrt();
        assert!(rms < 0.5, "rms {rms}");
    }
}

#[test]
fn line_ends_byte_order_mark_and_minute_60_make_no_difference() {
    let plain = parse(&epw_lines()).unwrap();
    let mut lines = epw_lines();
    for line in 9..=lines.len() {
        set_cell(&mut lines, line, 5, "60");
    }
    let text = format!("\u{feff}{}\r\n\r\n", lines.join("\r\n"));
    assert_eq!(super::parse(text.as_bytes(), "x").unwrap(), plain);
    assert_eq!(plain.hours[0].year, 1991);
    assert_eq!(plain.hours[8759].year, 2002);
}

#[test]
fn latin_1_survives() {
    let mut lines = epw_lines();
    lines[0] = lines[0].replace("Testfield", "Z@rich");
    let bytes: Vec<u8> = lines
        .join("\n")
        .bytes()
        .map(|byte| if byte == b'@' { 0xfc } else { byte })
        .collect();
    let year = super::parse(&bytes, "x").unwrap();
    assert_eq!(year.station.name, "Zürich, XX, YYY");
}

#[test]
fn leap_years_have_8784_rows() {
    let mut lines = epw_lines();
    let march = 8 + 59 * 24;
    let leap_day: Vec<String> = lines[march - 24..march]
        .iter()
        .map(|line| line.replacen("1992,2,28", "1992,2,29", 1))
        .collect();
    lines.splice(march..march, leap_day);
    let year = parse(&lines).unwrap();
    assert_eq!(year.hours.len(), 8784);
    assert_eq!(
        year.period(jiff::civil::date(2024, 2, 29), 1)
            .unwrap()
            .days(),
        1
    );
    // A leap day in a file that is a day short elsewhere is no year.
    lines.truncate(lines.len() - 24);
    refused(
        &lines,
        &["8760 data rows", "2002-12-30 hour 24", "one whole year"],
    );
}

#[test]
fn a_year_may_begin_in_july() {
    let lines = epw_lines();
    let july = 8 + 181 * 24;
    let turned: Vec<String> = [&lines[..8], &lines[july..], &lines[8..july]].concat();
    let year = parse(&turned).unwrap();
    assert_eq!((year.hours[0].month, year.hours[8759].month), (7, 6));
}

#[test]
fn missing_codes_are_filled_and_reported() {
    let mut lines = epw_lines();
    set_cell(&mut lines, 20, 7, "99.9"); // hour 12
    set_cell(&mut lines, 21, 7, "");
    set_cell(&mut lines, 30, 22, "999");
    set_cell(&mut lines, 31, 13, "9999");
    set_cell(&mut lines, 32, 13, "9999.0");
    set_cell(&mut lines, 40, 10, "999999");
    let year = parse(&lines).unwrap();
    // Hour 11 is −1 °C, hour 14 is 2 °C.
    assert!((year.hours[11].dry_bulb_c - 0.0).abs() < 1e-12);
    assert!((year.hours[12].dry_bulb_c - 1.0).abs() < 1e-12);
    let walton = |row: usize| {
        let hour = &year.hours[row];
        sky::horizontal_infrared_w_m2(sky::walton_emissivity(-5.0, 5.0), hour.dry_bulb_c)
    };
    assert_eq!(year.hours[22].infrared_w_m2, walton(22));
    // ISO 2533 at 432 m: 962.4 hPa.
    assert!((year.hours[31].pressure_pa - 96_240.0).abs() < 30.0);
    let notes: Vec<String> = year.notes.iter().map(ToString::to_string).collect();
    assert_eq!(
        notes,
        [
            "dry bulb °C: 2 hours missing (longest run 2 h), interpolated",
            "wind speed m/s: 1 hour missing (longest run 1 h), interpolated",
            "pressure Pa: 1 hour missing (longest run 1 h), taken from the standard atmosphere at the station's height",
            "horizontal infrared W/m²: 2 hours missing (longest run 2 h), computed from dew point and opaque cover",
        ]
    );
}

#[test]
fn a_gap_over_the_turn_of_the_year_is_one_gap() {
    let mut lines = epw_lines();
    let last = lines.len();
    for line in [last - 1, last, 9, 10] {
        set_cell(&mut lines, line, 8, "99.9");
    }
    let year = parse(&lines).unwrap();
    assert_eq!((year.notes[0].hours, year.notes[0].longest_run_h), (4, 4));
    assert_eq!(year.hours[8759].dew_point_c, -5.0);
}

#[test]
fn long_gaps_are_refused_by_line_and_column() {
    let mut lines = epw_lines();
    for line in 100..107 {
        set_cell(&mut lines, line, 7, "99.9");
    }
    refused(
        &lines,
        &[
            "made.epw: line 100, column 7 (dry bulb °C)",
            "7 successive hours",
            "at most 6 h",
        ],
    );
    set_cell(&mut lines, 106, 7, "1.0");
    assert_eq!(parse(&lines).unwrap().notes[0].longest_run_h, 6);

    let mut lines = epw_lines();
    for line in 9..=lines.len() {
        set_cell(&mut lines, line, 16, "9999");
    }
    refused(
        &lines,
        &[
            "line 9, column 16 (diffuse horizontal Wh/m²)",
            "8760 successive hours",
        ],
    );
}

/// Opaque cover matters only where infrared must be computed.
#[test]
fn cover_is_asked_for_only_where_infrared_is_missing() {
    let mut lines = epw_lines();
    for line in 200..220 {
        set_cell(&mut lines, line, 24, "99");
    }
    let year = parse(&lines).unwrap();
    assert!(year.notes.is_empty());
    assert_eq!(year.hours[200].opaque_tenths, None);
    set_cell(&mut lines, 210, 13, "9999");
    refused(&lines, &["line 200, column 24 (opaque sky cover tenths)"]);
}

#[test]
fn files_that_end_early_are_refused() {
    let mut lines = epw_lines();
    lines.truncate(4000);
    refused(
        &lines,
        &[
            "line 4000",
            "the last of 3992 data rows",
            "8760",
            "ends early",
        ],
    );
    lines.truncate(8);
    refused(&lines, &["without a single data row"]);
    lines.truncate(3);
    refused(&lines, &["no DATA PERIODS line"]);
    // A row cut in the middle.
    let text = epw_lines().join("\n");
    let cut = super::parse(&text.as_bytes()[..text.len() - 30], "made.epw");
    let message = cut.unwrap_err().to_string();
    assert!(message.contains("line 8768: found"), "{message}");
    assert!(
        message.contains("expected 35, as in the first data row"),
        "{message}"
    );
}

#[test]
fn rows_out_of_order_are_refused() {
    let mut lines = epw_lines();
    lines.remove(50 - 1);
    refused(
        &lines,
        &[
            "line 50, column date and hour",
            "1991-01-02 hour 19",
            "expected 1991-01-02 hour 18",
        ],
    );
    let mut lines = epw_lines();
    lines.insert(50, lines[50 - 1].clone());
    refused(&lines, &["line 51", "put back the missing or doubled row"]);
    let mut lines = epw_lines();
    for line in 33..=lines.len() {
        set_cell(&mut lines, line, 1, "2005");
    }
    refused(
        &lines,
        &["line 33", "2005-01-02 hour 1", "expected 1991-01-02 hour 1"],
    );
    // Sorting by date would tear typical years apart: months in another order are refused, not mended.
    let mut lines = epw_lines();
    let february: Vec<String> = lines.drain(8 + 31 * 24..8 + 59 * 24).collect();
    lines.extend(february);
    refused(
        &lines,
        &["line 753", "expected month 2, day 1, hour 1 (any year)"],
    );
}

#[test]
fn bad_cells_are_named() {
    for (column, value, parts) in [
        (
            7,
            "warm",
            ["line 77, column 7 (dry bulb °C)", "\"warm\"", "a number"],
        ),
        (7, "-271", ["column 7", "-271", "-90 to 70"]),
        (7, "nan", ["column 7", "\"nan\"", "a number"]),
        (2, "13", ["column 2 (month)", "13", "1 to 12"]),
        (3, "31.5", ["column 3 (day)", "31.5", "a whole number"]),
        (4, "0", ["column 4 (hour)", "\"0\"", "1 to 24"]),
        (5, "30", ["column 5 (minute)", "30", "0 or 60"]),
        (
            15,
            "-3",
            ["column 15 (direct normal Wh/m²)", "-3", "0 to 1500"],
        ),
    ] {
        let mut lines = epw_lines();
        set_cell(&mut lines, 77, column, value);
        refused(&lines, &parts);
    }
    let mut lines = epw_lines();
    set_cell(&mut lines, 1, 7, "97.5");
    refused(
        &lines,
        &["line 1, column 7 (latitude °)", "97.5", "-90 to 90"],
    );
    let mut lines = epw_lines();
    set_cell(&mut lines, 8, 3, "4");
    refused(&lines, &["line 8", "one record an hour"]);
    let mut lines = epw_lines();
    for line in &mut lines[8..] {
        *line = line.split(',').take(20).collect::<Vec<_>>().join(",");
    }
    refused(&lines, &["line 9", "20 cells", "at least 24"]);
}

#[test]
fn tmy3_columns_are_found_by_name() {
    let plain = parse(&tmy3_lines()).unwrap();
    assert_eq!(plain.station.name, "TESTFIELD, NORTH, XX");
    assert_eq!(plain.station.utc_offset_h, -9.0);
    assert_eq!(plain.hours[0].pressure_pa, 101_200.0);
    assert_eq!(plain.hours[0].snow_depth_cm, None);
    // No infrared column: all computed, and said so.
    assert_eq!(plain.notes.len(), 1);
    assert_eq!(
        (plain.notes[0].hours, plain.notes[0].method),
        (8760, Method::Walton)
    );
    // The same columns in another order, with further ones between.
    let turned: Vec<String> = tmy3_lines()
        .iter()
        .enumerate()
        .map(|(index, line)| {
            let mut cells: Vec<&str> = line.split(',').collect();
            if index > 0 {
                cells[2..].reverse();
            }
            let mut out = cells.join(",");
            if index > 0 {
                let _ = write!(out, ",more,9");
            }
            out
        })
        .collect();
    assert_eq!(parse(&turned).unwrap(), plain);
}

#[test]
fn tmy3_faults_are_named() {
    let mut lines = tmy3_lines();
    lines[1] = lines[1].replace("Dry-bulb (C)", "Dry-bulb (F)");
    refused(&lines, &["line 2", "\"Dry-bulb (C)\"", "unit included"]);
    for (column, value, parts) in [
        (
            1,
            "2001-01-01",
            [
                "line 9, column 1 (Date (MM/DD/YYYY))",
                "2001-01-01",
                "MM/DD/YYYY",
            ],
        ),
        (
            1,
            "02/30/1991",
            ["column 1", "02/30/1991", "a day this month has"],
        ),
        (2, "07:30", ["column 2 (Time (HH:MM))", "07:30", "24:00"]),
        (
            9,
            "101200",
            ["column 9 (pressure Pa)", "101200", "the cell times 100"],
        ),
        (7, "-9900.5", ["column 7", "-9900.5", "missing code"]),
    ] {
        let mut lines = tmy3_lines();
        set_cell(&mut lines, 9, column, value);
        refused(&lines, &parts);
    }
    let mut lines = tmy3_lines();
    set_cell(&mut lines, 9, 7, "-9900");
    set_cell(&mut lines, 10, 10, "-9900.0");
    let year = parse(&lines).unwrap();
    assert_eq!(year.hours[6].dry_bulb_c, -5.0);
    assert_eq!(year.notes.len(), 3);
    lines.truncate(100);
    refused(&lines, &["line 100", "98 data rows"]);
}

#[test]
fn other_files_are_refused_by_content() {
    for (bytes, part) in [
        (&b""[..], "an empty file"),
        (b"PK\x03\x04rest", "ZIP"),
        (b"\x1f\x8brest", "gzip"),
        (b"\xff\xfeL\0O\0", "UTF-16"),
        (b"time,supply_c\n2020,1\n", "\"time,supply_c\""),
        (b"<!DOCTYPE html>\n<html>\n", "<!DOCTYPE html>"),
        (b"LOCATION,x", "column 7 (latitude °): found no such column"),
    ] {
        let message = super::parse(bytes, "thing.epw").unwrap_err().to_string();
        assert!(message.starts_with("thing.epw: line 1"), "{message}");
        assert!(message.contains(part), "{message}");
    }
    let absent = read(Path::new("no/such/file.epw")).unwrap_err();
    assert!(matches!(absent, WeatherError::Unreadable { .. }));
    assert!(
        absent
            .to_string()
            .starts_with("no/such/file.epw: cannot be read")
    );
}

mod damaged {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Whatever happens to a file, the answer is a year or a message that names the file.
        #[test]
        fn files_never_panic(
            is_epw in any::<bool>(),
            at in 0_usize..4000,
            cut in 0_usize..200,
            put in proptest::collection::vec(any::<u8>(), 0..40),
        ) {
            let lines = if is_epw { epw_lines() } else { tmy3_lines() };
            let mut bytes = lines[..60].join("\n").into_bytes();
            let at = at.min(bytes.len());
            let end = (at + cut).min(bytes.len());
            bytes.splice(at..end, put);
            let error = super::super::parse(&bytes, "made.epw").expect_err("no whole year");
            prop_assert!(error.to_string().starts_with("made.epw: line "));
        }
    }
}

#[test]
fn the_demonstration_weather_is_the_same_without_the_columns_nothing_is_read_from() {
    let lean = lean_demo();
    assert!(lean.len() < DEMO.len() / 2, "{} bytes", lean.len());
    let year = super::parse(&lean, DEMO_LABEL).expect("a year");
    assert_eq!(year, demo().expect("a year"));
}
