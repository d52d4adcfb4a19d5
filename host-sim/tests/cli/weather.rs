//! `host-sim winter` with weather of one's own place: a log, a climate in one line.

use crate::support::{Folder, host_sim, text};

/// Hourly rows from midnight of 1 January 2026 on: cold nights, a mild stretch in the middle.
fn log(header: &str, hours: std::ops::Range<i64>, skip: impl Fn(i64) -> bool) -> String {
    let start = jiff::civil::date(2026, 1, 1).at(0, 0, 0, 0);
    let mut text = format!("{header}\n");
    for hour in hours.filter(|hour| !skip(*hour)) {
        let at = start.saturating_add(jiff::Span::new().hours(hour));
        let day = (hour % 24 - 14).abs();
        text.push_str(&format!("{},{}\n", at.strftime("%Y-%m-%d %H:%M"), 8 - day));
    }
    text
}

#[track_caller]
fn winter(args: &[&str], code: i32) -> (String, String) {
    let out = host_sim(&[&["winter"], args].concat());
    let said = (
        String::from_utf8_lossy(&out.stdout).into_owned(),
        String::from_utf8_lossy(&out.stderr).into_owned(),
    );
    assert_eq!(out.status.code(), Some(code), "{} {}", said.0, said.1);
    said
}

#[test]
fn a_log_of_the_place_is_weather() {
    let folder = Folder::new();
    let file = folder.file(
        "own.csv",
        &log("time,outdoor_c", 0..24 * 5, |hour| (50..53).contains(&hour)),
    );
    let (said, _) = winter(&["--weather", text(&file), "--latitude", "48 N"], 0);
    for part in [
        "5 days from 2026-01-01",
        "3 hours without an outdoor reading bridged",
        "sun of a clear sky at latitude 48.0°",
    ] {
        assert!(said.contains(part), "{part} is not in {said}");
    }
    // The same days by their own dates, as a program sees them.
    let (json, _) = winter(
        &[
            "--weather",
            text(&file),
            "--from",
            "2026-01-02",
            "--days",
            "2",
            "--json",
        ],
        0,
    );
    let numbers: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    assert_eq!(numbers["days"], 2.0);
    let coldest_c = numbers["outdoor_min_c"].as_f64().expect("a number");
    assert!((coldest_c + 6.0).abs() < 0.5, "{coldest_c}");
    let (us, _) = winter(
        &["--weather", text(&file), "--units", "us", "--days", "1"],
        0,
    );
    assert!(
        us.contains("dew point 4.5 °F below") && !us.contains("°C"),
        "{us}"
    );
}

#[test]
fn other_headers_fahrenheit_and_a_site_file_are_taken() {
    let folder = Folder::new();
    let file = folder.file("own.csv", &log("When,Backyard", 0..48, |_| false));
    let args = [
        "--weather",
        text(&file),
        "--column",
        "time=When",
        "--column",
        "outdoor_f=Backyard",
        "--days",
        "1",
        "--json",
    ];
    let (json, _) = winter(&args, 1);
    let numbers: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    let coldest_c = numbers["outdoor_min_c"].as_f64().expect("a number");
    assert!((coldest_c + 21.1).abs() < 0.5, "{coldest_c}");
    folder.file("plain.csv", &log("time,outdoor_c", 0..48, |_| false));
    let site = folder.file(
        "site.toml",
        "[place]\nweather = \"plain.csv\"\nlatitude = \"60 deg\"\n",
    );
    let (said, _) = winter(&["--site", text(&site), "--days", "1"], 0);
    assert!(said.contains("latitude 60.0°"), "{said}");
    let out = host_sim(&["size", "--site", text(&site)]);
    let said = String::from_utf8_lossy(&out.stdout).into_owned();
    assert!(
        said.contains("colder in 0.4 % of the hours of the outdoor readings of"),
        "{said}"
    );
}

#[test]
fn a_climate_is_weather_and_its_seed_decides() {
    let line = "40 N, -22 C, -2 -1 4 9 14 20 23 22 17 10 3 -2";
    let args = [
        "--climate",
        line,
        "--from",
        "2026-01-01",
        "--days",
        "4",
        "--json",
    ];
    let (one, _) = winter(&args, 0);
    assert_eq!(one, winter(&args, 0).0);
    let mut other = args.to_vec();
    other.extend(["--seed", "2"]);
    let out = host_sim(&[&["winter"], other.as_slice()].concat());
    assert_ne!(one.as_bytes(), out.stdout);
    let (said, _) = winter(&["--climate", line, "--days", "2"], 0);
    assert!(
        said.contains("made up from latitude, design night and monthly means, seed 1"),
        "{said}"
    );
}

#[test]
fn weather_that_cannot_be_used_says_what_to_do() {
    let folder = Folder::new();
    let holes = folder.file(
        "holes.csv",
        &log("time,outdoor_c", 0..24 * 6, |hour| (30..40).contains(&hour)),
    );
    let slab = folder.file("slab.csv", &log("time,slab_c", 0..48, |_| false));
    let text_file = folder.file("notes.csv", "these are notes\nand no log\n");
    let readings = folder.file("names.csv", &log("time,backyard", 0..48, |_| false));
    for (args, parts) in [
        (
            vec!["--weather", text(&holes), "--from", "2026-01-01"],
            vec!["2026-01-02", "--from 2026-01-03 --days 4"],
        ),
        (
            vec!["--weather", text(&slab)],
            vec![
                "slab.csv",
                "no column with outdoor readings",
                "--column outdoor_c=HEADER",
            ],
        ),
        (
            vec!["--weather", text(&text_file)],
            vec!["notes.csv", "EPW"],
        ),
        (
            vec!["--weather", text(&readings)],
            vec!["names.csv", "backyard", "--column"],
        ),
        (
            vec!["--climate", "40 N, -22 C, 1 2 3"],
            vec!["3 monthly means", "twelve"],
        ),
        (
            vec!["--climate", "99 N, -22 C, -2 -1 4 9 14 20 23 22 17 10 3 -2"],
            vec!["99 N", "0 to 75"],
        ),
        (vec!["--latitude", "40 N"], vec!["--weather"]),
        (
            vec!["--weather", text(&holes), "--latitude", "north"],
            vec!["40 N or 35.5 S"],
        ),
    ] {
        let before = folder.names();
        let report = folder.path("report.html");
        let (_, said) = winter(&[args.as_slice(), &["--report", text(&report)]].concat(), 2);
        assert_eq!(folder.names(), before, "nothing is written");
        for part in parts {
            assert!(said.contains(part), "{part} is not in {said}");
        }
    }
}
