//! Logs as people have them, made here: `host-sim replay` reads them, or says exactly what to do.

mod times;

use std::fmt::Write as _;
use std::io::Write as _;

use crate::support::{Folder, host_sim, text};
use serde_json::Value;

const HEADER: &str = "time,supply_c,return_c,slab_c,outdoor_c\n";

/// Date and time so many minutes after the first of a day.
fn stamp(day: &str, minutes: u32) -> String {
    let start: jiff::civil::DateTime = format!("{day}T00:00:00").parse().expect("a day");
    let at = start.saturating_add(jiff::SignedDuration::from_mins(minutes.into()));
    at.strftime("%Y-%m-%d %H:%M").to_string()
}

/// A plain log of a cold day, one row so many minutes.
fn plain(rows: u32, every_min: u32) -> String {
    (0..rows).fold(HEADER.to_owned(), |log, row| {
        log + &format!("{},7.5,6,4.25,-3\n", stamp("2025-01-10", row * every_min))
    })
}

/// Replays and gives JSON and text.
#[track_caller]
fn replayed(log: &str, more: &[&str]) -> (Value, String) {
    let folder = Folder::new();
    let log = folder.file("house.csv", log);
    let run = |last: &[&str]| {
        let out = host_sim(&[&["replay", text(&log)], more, last].concat());
        let message = String::from_utf8_lossy(&out.stderr).into_owned();
        assert_eq!(out.status.code(), Some(0), "{message}");
        String::from_utf8(out.stdout).expect("text")
    };
    let json = serde_json::from_str(&run(&["--json"])).expect("one JSON object");
    (json, run(&[]))
}

/// Refused with exit code 2 and all these parts in the message.
#[track_caller]
fn refused(log: &[u8], more: &[&str], parts: &[&str]) -> String {
    let folder = Folder::new();
    let path = folder.path("house.csv");
    std::fs::write(&path, log).expect("a file");
    let out = host_sim(&[&["replay", text(&path)], more].concat());
    let message = String::from_utf8_lossy(&out.stderr).into_owned();
    assert_eq!(out.status.code(), Some(2), "{message}");
    for part in parts {
        assert!(message.contains(part), "{part:?} is not in: {message}");
    }
    message
}

fn number(json: &Value, key: &str) -> f64 {
    json[key]
        .as_f64()
        .unwrap_or_else(|| panic!("{key} in {json}"))
}

fn first_line(screen: &str) -> String {
    // A sentence may be wrapped.
    screen.split("\n\n").next().unwrap_or("").replace('\n', " ")
}

// --- What was noticed --------------------------------------------------------------------------

#[test]
fn what_was_left_out_is_on_the_screen_and_in_json() {
    let mut log = plain(600, 1)
        .replace("slab_c", "slabb_c")
        .replace("outdoor_c", "outdoor_c,humidity,air_quality");
    log = log.replace(",-3\n", ",-3,55,3\n");
    // Two rows once more, and an hour missing.
    let twice: String = log
        .lines()
        .skip(100)
        .take(2)
        .map(|line| format!("{line}\n{line}\n"))
        .collect();
    let once: String = log
        .lines()
        .skip(100)
        .take(2)
        .map(|line| format!("{line}\n"))
        .collect();
    let log = log.replace(&once, &twice);
    let hour: String = log
        .lines()
        .skip(300)
        .take(60)
        .map(|line| format!("{line}\n"))
        .collect();
    let log = log.replace(&hour, "");
    let (json, screen) = replayed(&log, &[]);
    let noticed = &json["log"];
    assert_eq!(noticed["rows"], 540);
    assert_eq!(
        (&noticed["gaps"], &noticed["repeated_times"]),
        (&Value::from(1), &Value::from(2))
    );
    assert_eq!(noticed["missing_columns"], serde_json::json!(["slab_c"]));
    assert_eq!(noticed["unused_columns"]["slabb_c"], "slab_c");
    assert_eq!(noticed["unused_columns"]["humidity"], Value::Null);
    assert!(
        first_line(&screen).starts_with("Is the column \"slabb_c\" slab_c?"),
        "{screen}"
    );
    let flat = screen.replace("\n  ", " ");
    for part in [
        "--column \"slab_c=slabb_c\"",
        "no column slab_c: that sensor counts as lost",
        "columns that are not used: humidity, air_quality (like air_c?)",
        "2 of 542 rows have the time of a later row and were left out, the first at 2025-01-10T01:",
        "1 gap, 1.0 h in all",
    ] {
        assert!(
            flat.replace('\n', " ").contains(part),
            "{part:?} is not in:\n{screen}"
        );
    }
    assert!(
        screen.lines().all(|line| line.chars().count() <= 80),
        "{screen}"
    );
}

#[test]
fn a_clean_log_has_no_remarks() {
    let (json, screen) = replayed(&plain(200, 1), &[]);
    // Its relays are not logged, which is said; nothing else is.
    let remarks = json["log"]["remarks"].as_array().expect("remarks");
    assert_eq!(remarks.len(), 1, "{remarks:?}");
    assert!(
        screen.contains("does not tell when the circulator and boiler ran"),
        "{screen}"
    );
    assert_eq!(json["log"]["questions"], serde_json::json!([]));
    assert!(
        screen.starts_with(
            "Replay of house.csv\n2025-01-10T00:00:00 to 2025-01-10T03:19:00, 0.1 days, "
        ),
        "{screen}"
    );
}

#[test]
fn fahrenheit_kelvin_and_open_sensors_are_asked_about_first() {
    let with = |slab: &str, outdoor: &str| {
        (0..600).fold(HEADER.to_owned(), |log, row| {
            log + &format!("{},7.5,6,{slab},{outdoor}\n", stamp("2025-01-10", row))
        })
    };
    for (log, question, advice) in [
        (
            with("41.5", "28"),
            "Is \"slab_c\" in °F?",
            "--column \"slab_f=slab_c\"",
        ),
        (
            with("4", "270.5"),
            "Is \"outdoor_c\" a temperature in °C?",
            "kelvin",
        ),
        (
            with("-39.9", "1"),
            "Does a number in \"slab_c\" mean no reading?",
            "--missing -39.9",
        ),
        (
            with("-127", "1"),
            "Does a number in \"slab_c\" mean no reading?",
            "--missing -127",
        ),
    ] {
        let (json, screen) = replayed(&log, &[]);
        assert!(first_line(&screen).starts_with(question), "{screen}");
        assert!(first_line(&screen).contains(advice), "{screen}");
        assert_eq!(
            json["log"]["questions"].as_array().map(Vec::len),
            Some(1),
            "{json}"
        );
    }
    // On the page it stands beside the answer.
    let folder = Folder::new();
    let (log, page) = (
        folder.file("house.csv", &with("41.5", "28")),
        folder.path("page.html"),
    );
    host_sim(&["replay", text(&log), "--report", text(&page)]);
    let page = std::fs::read_to_string(page).expect("a page");
    let question = page
        .find("Is &quot;slab_c&quot; in °F?")
        .expect("the question");
    assert!(question < page.find("Key numbers").expect("the numbers"));
    // As the questions say.
    let (json, screen) = replayed(&with("41.5", "28"), &["--column", "slab_f=slab_c"]);
    assert!((number(&json, "slab_min_c") - 5.278).abs() < 0.01, "{json}");
    assert!(screen.starts_with("Replay"), "{screen}");
    let (json, screen) = replayed(&with("-39.9", "1"), &["--missing", "-39.9"]);
    assert_eq!(json.get("slab_min_c"), None);
    assert!(
        screen.contains("There is no slab reading to go by, since its sensor counts as lost"),
        "{screen}"
    );
    // A short spell is no question.
    let (json, _) = replayed(
        &(plain(500, 1) + &format!("{},7,6,41,3\n", stamp("2025-01-10", 500))),
        &[],
    );
    assert_eq!(json["log"]["questions"], serde_json::json!([]));
}

// --- Gaps --------------------------------------------------------------------------------------

#[test]
fn gaps_of_the_log_are_no_decisions() {
    // Five rows an hour apart, then five hours nothing, and so on.
    let log = (0..400_u32)
        .filter(|hour| hour % 10 < 5)
        .fold(HEADER.to_owned(), |log, hour| {
            log + &format!("{},7.5,6,8,5\n", stamp("2025-01-10", hour * 60))
        });
    let (json, _) = replayed(&log, &[]);
    // Each of the 40 groups stands four hours and one and a half intervals, the last one four.
    let covered_h = 39.0 * 5.5 + 4.0;
    let reasons: f64 = json["reasons"]
        .as_object()
        .unwrap()
        .values()
        .filter_map(Value::as_f64)
        .sum();
    assert!(
        (number(&json, "days") * 24.0 - covered_h).abs() < 0.05,
        "{json}"
    );
    assert!(
        (number(&json, "gap_hours") - (394.0 - covered_h)).abs() < 0.05,
        "{json}"
    );
    assert!((reasons - covered_h).abs() < 0.2, "{json}");
    assert!(number(&json, "circulator_hours") < 30.0, "{json}");
    let lost = json["faults"]["slab"]["lost_hours"].as_f64().unwrap_or(0.0);
    assert!(lost < 1.0, "a gap is no lost sensor: {json}");
    let rung = json["alarms"].to_string();
    assert!(!rung.contains("lost"), "{rung}");
}

#[test]
fn a_wrong_date_stops_with_words_and_at_once() {
    let good = plain(400, 1);
    let first = good.replacen(&stamp("2025-01-10", 0), "1970-01-01 00:00", 1);
    let last = good.replace(&stamp("2025-01-10", 399), "2099-01-01 00:00");
    let begin = std::time::Instant::now();
    refused(
        first.as_bytes(),
        &[],
        &[
            "line 3",
            "2025-01-10T00:01:00",
            "20098.0 days after",
            "1970-01-01",
            "--longest-gap",
        ],
    );
    refused(
        last.as_bytes(),
        &[],
        &["line 401", "2099-01-01", "clock was set"],
    );
    refused(
        b"time_s,slab_c\n12,4\n1736467200,4\n1736467260,4\n",
        &[],
        &["line 3", "days after"],
    );
    assert!(begin.elapsed().as_secs() < 10, "{:?}", begin.elapsed());
    let month = HEADER.to_owned()
        + "2025-01-10 00:00,7,6,4,1\n2025-02-09 00:00,7,6,4,1\n2025-02-09 00:01,7,6,4,1\n";
    refused(
        month.as_bytes(),
        &[],
        &["30.0 days after", "--longest-gap \"30 d\""],
    );
    let (json, _) = replayed(&month, &["--longest-gap", "30 d"]);
    assert!(number(&json, "gap_hours") > 700.0);
}

// --- Cells and columns -------------------------------------------------------------------------

#[test]
fn cells_as_loggers_write_them() {
    let log = "time,slab_c,circulator\n2025-01-10 00:00,unavailable,yes\n2025-01-10 00:01,4,No\n2025-01-10 00:02,4,no\n";
    refused(log.as_bytes(), &[], &["line 2", "unavailable"]);
    let (json, _) = replayed(log, &["--missing", "Unavailable"]);
    assert_eq!(number(&json, "slab_min_c"), 4.0);
    // A mark between thousands is no decimal comma; a decimal comma in quotes is one.
    let power = |cell: &str| {
        format!(
            "time,slab_c,power_w\n2025-01-10 00:00,4,980\n2025-01-10 00:01,\"4,5\",{cell}\n2025-01-10 00:02,4,15.5\n"
        )
    };
    let limit = ["--column", "circulator=power_w>500"];
    refused(
        power("\"1,234\"").as_bytes(),
        &limit,
        &["line 3", "power_w", "1,234", "thousand"],
    );
    refused(
        power("\"1,234.5\"").as_bytes(),
        &limit,
        &["line 3", "thousand"],
    );
    let (json, _) = replayed(&power("\"12,5\""), &limit);
    assert_eq!(json["log"]["rows"], 3);
}

#[test]
fn lines_above_the_header_are_found_and_skipped() {
    let log = format!("Plant house export\nmade 2025-02-01\n\n{}", plain(30, 1));
    refused(
        log.as_bytes(),
        &[],
        &["line 1", "Plant house export", "line 4", "--skip-lines 3"],
    );
    let (json, _) = replayed(&log, &["--skip-lines", "3"]);
    assert_eq!(json["log"]["rows"], 30);
    refused(log.as_bytes(), &["--skip-lines", "99"], &["no header"]);
}

#[test]
fn values_that_stand_until_they_change_hold_as_long_as_said() {
    // A cell when it changes, rows minutes to hours apart.
    let mut log = HEADER.to_owned();
    for hour in 0..48_u32 {
        let _ = writeln!(log, "{},7.5,,,", stamp("2025-01-10", hour * 60));
        let _ = writeln!(
            log,
            "{},,6,4.25,-3",
            stamp("2025-01-10", hour * 60 + 1 + hour % 7)
        );
    }
    let (starved, _) = replayed(&log, &[]);
    assert!(
        starved["faults"]["slab"]["lost_hours"]
            .as_f64()
            .unwrap_or(0.0)
            > 1.0,
        "{starved}"
    );
    let (json, _) = replayed(&log, &["--hold", "2 h"]);
    assert!((number(&json, "days") * 24.0 - 47.1).abs() < 0.05, "{json}");
    assert!(
        json["faults"]["slab"]["lost_hours"].as_f64().unwrap_or(0.0) < 0.1,
        "{json}"
    );
    assert_eq!(json.get("gap_hours"), None);
}

#[test]
fn other_kinds_of_file_are_named() {
    for (start, name) in [
        (&b"PK\x03\x04\x14\0\x06\0xl/worksheets"[..], "xlsx"),
        (b"PAR1\x15\0\x15\x1C", "Parquet"),
        (b"SQLite format 3\0\x10\0\x01\x01", "SQLite"),
        (b"ARROW1\0\0\xFF\xFF", "Feather"),
        (b"\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1", "xls"),
        (b"\x28\xB5\x2F\xFD\x04\0", "Zstandard"),
        (b"BZh91AY", "bzip2"),
        (b"\xFD7zXZ\0", "xz"),
        (b"%PDF-1.7\n\0", "PDF"),
        (b"\x7FELF\x02\x01\x01\0\x11\x12\x13\x14", "no text"),
    ] {
        let message = refused(start, &[], &[name, "CSV"]);
        assert!(!message.contains("UTF-16"), "{message}");
    }
    // As the two kinds of workbook begin, and an archive that holds a log.
    for (name, kind, advice) in [
        (
            "[Content_Types].xml",
            "(xlsx)",
            "save that sheet as \"CSV UTF-8\"",
        ),
        (
            "mimetypeapplication/vnd.oasis.opendocument.spreadsheet",
            "(ods)",
            "save that sheet as \"CSV UTF-8\"",
        ),
        ("house.csv", "a ZIP archive", "give the CSV file in it"),
    ] {
        let mut start = b"PK\x03\x04\x14\0\x06\0\x08\0\0\0\x21\0".to_vec();
        start.extend([0; 16]);
        start.extend(name.as_bytes());
        refused(&start, &[], &[kind, advice]);
    }
    let wide: Vec<u8> = "time,slab_c\n".bytes().flat_map(|byte| [byte, 0]).collect();
    refused(&wide, &[], &["UTF-16"]);
}

#[test]
fn a_packed_log_is_read_as_it_is() {
    let folder = Folder::new();
    let path = folder.path("house.csv.gz");
    let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    packed
        .write_all(plain(20_000, 1).as_bytes())
        .expect("memory");
    std::fs::write(&path, packed.finish().expect("memory")).expect("a file");
    let out = host_sim(&["replay", text(&path), "--json"]);
    let json: Value = serde_json::from_slice(&out.stdout).expect("one JSON object");
    assert_eq!(json["log"]["rows"], 20_000);
    let whole = std::fs::read(&path).expect("bytes");
    assert_eq!(folder.names(), ["house.csv.gz"]);
    let message = refused(&whole[..whole.len() / 2], &[], &["house.csv"]);
    assert!(message.contains("cannot be read"), "{message}");
}

// --- What follows ------------------------------------------------------------------------------

#[test]
fn rows_faster_than_the_cycle_replay_to_themselves_with_the_same_settings() {
    let folder = Folder::new();
    let fast = (0..3_000).fold(
        "time_s,supply_c,return_c,slab_c,outdoor_c\n".to_owned(),
        |log, second| log + &format!("{second},7.5,6,4.25,-3\n"),
    );
    let log = folder.file("fast.csv", &fast);
    let (first, second) = (folder.path("first.csv"), folder.path("second.csv"));
    let json = |args: &[&str]| -> Value {
        let out = host_sim(args);
        serde_json::from_slice(&out.stdout)
            .unwrap_or_else(|_| panic!("{}", String::from_utf8_lossy(&out.stderr)))
    };
    let made = json(&["replay", text(&log), "--trace", text(&first), "--json"]);
    let again = json(&["replay", text(&first), "--trace", text(&second), "--json"]);
    assert!(std::fs::read(&first).unwrap() == std::fs::read(&second).unwrap());
    assert_eq!(made["days"], again["days"]);
    assert_eq!(made["circulator_hours"], again["circulator_hours"]);
    // The settings it was replayed with, and that are told.
    let settings = folder.file("settings.toml", "sensor_cycle = \"1 s\"\n");
    let same = json(&[
        "replay",
        text(&log),
        "--settings",
        text(&settings),
        "--json",
    ]);
    assert_eq!(made["settings_sha256"], same["settings_sha256"]);
    assert!(
        made["log"]["remarks"][0]
            .as_str()
            .unwrap()
            .contains("sensor_cycle = \"1 s\""),
        "{made}"
    );
    assert!(
        !same["log"]["remarks"].to_string().contains("sensor_cycle"),
        "{same}"
    );
}

#[test]
fn heat_by_electricity_is_that_of_the_logged_circulator() {
    let row = |second: u32| -> String {
        let on = second % 1_200 < 600;
        let (supply, ret) = if on { ("8.5", "5.5") } else { ("8", "7.5") };
        format!("{second},{supply},{ret},3.25,-6,{}\n", u8::from(on))
    };
    let log = (0..20_000).step_by(10).fold(
        "time_s,supply_c,return_c,slab_c,outdoor_c,circulator\n".to_owned(),
        |log, second| log + &row(second),
    );
    let (json, _) = replayed(&log, &[]);
    let ratio = number(&json, "cop");
    // Ours runs otherwise; half the time the logged one ran, with the 45 W of the settings.
    let logged_kwh = 20_000.0 / 3_600.0 / 2.0 * 0.045;
    let expected = number(&json, "earth_heat_kwh") / logged_kwh;
    assert!(
        (ratio - expected).abs() < 0.02 * expected,
        "{ratio}, expected {expected}"
    );
    let without: String = log
        .lines()
        .map(|line| line[..line.rfind(',').unwrap()].to_owned() + "\n")
        .collect();
    assert_eq!(replayed(&without, &[]).0.get("cop"), None);
}

#[test]
fn a_log_with_seconds_and_dates_is_replayed_by_the_first_and_told_by_the_second() {
    // A day by the unit's seconds; four hours without power after half of it.
    let mut log = String::from("time_s,supply_c,return_c,slab_c,outdoor_c,store_c,time\n");
    for minute in 0..1_440_u32 {
        let wall = stamp(
            "2025-01-10",
            if minute < 720 { minute } else { minute + 240 },
        );
        let _ = writeln!(
            log,
            "{},7.5,6,6.25,-3,8,{}:00-07:00",
            5_000 + minute * 60,
            wall.replace(' ', "T")
        );
    }
    let (json, screen) = replayed(&log, &[]);
    assert!((number(&json, "days") - 0.999).abs() < 0.001, "{json}");
    assert_eq!(json["log"]["dark_hours"], 4.0);
    assert!(
        screen.contains("2025-01-10T00:00:00-07:00 to 2025-01-11T03:59:00-07:00"),
        "{screen}"
    );
    assert!(
        screen
            .replace("\n  ", " ")
            .contains("from 2025-01-10T12:00:00-07:00 to 2025-01-10T16:00:00-07:00, 4.0 h"),
        "{screen}"
    );
    let folder = Folder::new();
    let file = folder.file("house.csv", &log);
    let tonight = [
        "tonight",
        "--low",
        "-6 °C",
        "--high",
        "2 °C",
        "--nights",
        "20",
        "--json",
        "--log",
        text(&file),
    ];
    let out = host_sim(&tonight);
    let message = String::from_utf8_lossy(&out.stderr).into_owned();
    assert!(matches!(out.status.code(), Some(0 | 1)), "{message}");
}

#[test]
fn small_logs_and_missing_files_are_told_right() {
    let (json, screen) = replayed("time,slab_c\n2025-01-10 00:00,4\n", &[]);
    assert_eq!(number(&json, "slab_min_c"), 4.0);
    assert!(
        screen.contains("The rows cover no time") && !screen.contains("no slab reading"),
        "{screen}"
    );
    let (_, screen) = replayed(
        "time,slab_c\n2025-01-10 00:00,4\n2025-01-10 00:01,4\n2025-01-10 00:02,4\n",
        &[],
    );
    assert!(screen.contains("to 2025-01-10T00:02:00,"), "{screen}");
    let out = host_sim(&["replay", "nowhere.csv"]);
    let message = String::from_utf8_lossy(&out.stderr).into_owned();
    assert_eq!(message.matches("No such file").count(), 1, "{message}");
}
