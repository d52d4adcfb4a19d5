//! Settings for a site of one's own: written whole, taken from the site where no file is given, and held against it where one is.

use crate::support::{Folder, host_sim, text};

/// A slow loop with a strong circulator and an injection boiler.
const SITE: &str = "[slab]\ntube = \"1/2 in\"\n[store_floor]\ntube = \"1/2 in\"\n[circulator]\npower = \"87 W\"\n\
                    measured_flow = \"0.043 L/s\"\n[boiler]\nkind = \"injection\"\n";

#[track_caller]
fn json(args: &[&str]) -> serde_json::Value {
    let out = host_sim(args);
    assert!(
        matches!(out.status.code(), Some(0 | 1)),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    serde_json::from_slice(&out.stdout).expect("one JSON object")
}

#[test]
fn size_writes_settings_that_winter_takes_without_a_word() {
    let folder = Folder::new();
    let site = folder.file("site.toml", SITE);
    for units in ["si", "us"] {
        let settings = folder.path(&format!("{units}.toml"));
        let out = host_sim(&[
            "size",
            "--site",
            text(&site),
            "--write-settings",
            text(&settings),
            "--units",
            units,
        ]);
        assert!(matches!(out.status.code(), Some(0 | 1)), "{out:?}");
        let written = std::fs::read_to_string(&settings).expect("settings");
        for part in [
            "Made by host-sim size for",
            "boiler = \"injection\"",
            "# Range:",
        ] {
            assert!(written.contains(part), "{part} is not in {written}");
        }
        let sign = if units == "us" { " °F\"" } else { " °C\"" };
        assert!(written.contains(sign), "{written}");
        let out = host_sim(&[
            "winter",
            "--days",
            "1",
            "--site",
            text(&site),
            "--settings",
            text(&settings),
        ]);
        let said = String::from_utf8_lossy(&out.stdout);
        assert!(matches!(out.status.code(), Some(0 | 1)), "{out:?}");
        assert!(!said.contains("do not fit"), "{said}");
    }
    assert_eq!(folder.names(), ["si.toml", "site.toml", "us.toml"]);
}

#[test]
fn without_a_settings_file_the_sites_own_values_run() {
    let folder = Folder::new();
    let site = folder.file("site.toml", SITE);
    let settings = folder.path("own.toml");
    host_sim(&[
        "size",
        "--site",
        text(&site),
        "--write-settings",
        text(&settings),
    ]);
    let run = ["winter", "--days", "1", "--json", "--site", text(&site)];
    let without = json(&run);
    let with = json(&[&run[..], &["--settings", text(&settings)]].concat());
    assert_eq!(without["settings_sha256"], with["settings_sha256"]);
    let demo = json(&["winter", "--days", "1", "--json"]);
    assert_ne!(without["settings_sha256"], demo["settings_sha256"]);
}

#[test]
fn settings_of_another_house_are_said_and_electricity_is_the_plants() {
    let folder = Folder::new();
    let site = folder.file("site.toml", SITE);
    let settings = folder.file("demo.toml", "boiler = \"injection\"\n");
    let run = [
        "winter",
        "--from",
        "2025-12-18",
        "--days",
        "3",
        "--site",
        text(&site),
        "--settings",
        text(&settings),
    ];
    let out = host_sim(&run);
    let said = String::from_utf8_lossy(&out.stdout);
    for part in [
        "pump_power is 45 W and the site's is 87 W, -48 %",
        "flow is 0.06 L/s and the site's is 0.043 L/s, +40 %",
    ] {
        assert!(said.contains(part), "{part} is not in {said}");
    }
    let numbers = json(&[&run[..], &["--json"]].concat());
    let (hours, kwh) = (
        numbers["circulator_hours"].as_f64().expect("hours"),
        numbers["pump_kwh"].as_f64().expect("kWh"),
    );
    assert!(hours > 1.0, "{hours}");
    assert!(
        (kwh / hours - 0.087).abs() < 0.002,
        "{kwh} kWh in {hours} h"
    );
    for verb in [
        &["compare", "--days", "1"][..],
        &[
            "tonight", "--low", "1 °C", "--high", "8 °C", "--slab", "6 °C", "--store", "8 °C",
            "--now", "18:00", "--nights", "20",
        ],
    ] {
        let files = ["--site", text(&site), "--settings", text(&settings)];
        let out = host_sim(&[verb, &files].concat());
        let said = String::from_utf8_lossy(&out.stdout);
        assert!(said.contains("do not fit the site"), "{verb:?}: {said}");
    }
}

#[test]
fn a_site_without_a_boiler_gets_no_calls() {
    let folder = Folder::new();
    let site = folder.file("site.toml", "[boiler]\nfitted = false\n");
    let settings = folder.file("firing.toml", "boiler = \"firing\"\n");
    let run = [
        "winter",
        "--from",
        "2026-01-05",
        "--days",
        "6",
        "--json",
        "--site",
        text(&site),
    ];
    for more in [&[][..], &["--settings", text(&settings)]] {
        let numbers = json(&[&run[..], more].concat());
        assert_eq!(numbers["boiler_calls"], 0, "{more:?}");
    }
    let out = host_sim(
        &[
            &run[..5],
            &["--site", text(&site), "--settings", text(&settings)],
        ]
        .concat(),
    );
    assert!(
        String::from_utf8_lossy(&out.stdout).contains("The site has no boiler: none is called."),
        "{out:?}"
    );
}

#[test]
fn the_sweep_of_the_help_page_runs() {
    let out = host_sim(&["size", "--vary", "tube=16x2.0, 20x2.0"]);
    let said = String::from_utf8_lossy(&out.stdout);
    assert!(matches!(out.status.code(), Some(0 | 1)), "{out:?}");
    assert!(
        said.contains("Sweep of slab.tube and store_floor.tube"),
        "{said}"
    );
    let out = host_sim(&["size", "--vary", "spacing=6, 9, 12 in"]);
    let said = String::from_utf8_lossy(&out.stdout);
    assert!(said.contains("6 in") && said.contains("12 in"), "{out:?}");
}

#[test]
fn every_help_page_fits_the_screen_it_is_read_on() {
    for verb in [
        "replay",
        "winter",
        "size",
        "drill",
        "spells",
        "listen",
        "send-settings",
        "tonight",
        "tune",
        "compare",
        "settings",
        "site",
    ] {
        for columns in ["80", "100"] {
            let out = std::process::Command::new(env!("CARGO_BIN_EXE_host-sim"))
                .args([verb, "--help"])
                .env("COLUMNS", columns)
                .output()
                .expect("host-sim runs");
            assert!(out.status.success(), "{out:?}");
            let shown = String::from_utf8(out.stdout).expect("UTF-8");
            // A usage line has no place to be broken.
            let lines = shown.lines().filter(|line| !line.starts_with("Usage:"));
            let longest = lines.map(|line| line.chars().count()).max();
            assert!(
                longest <= columns.parse().ok(),
                "{verb} at {columns}:\n{shown}"
            );
        }
    }
}

#[test]
fn arguments_that_are_nearly_right_are_told_what_to_type() {
    for (args, parts) in [
        (&["winter", "--days", "-5"][..], &["-5", "equals sign"][..]),
        (
            &["winter", "--from", "11/01/2025"],
            &["11/01/2025", "--from 2025-11-01"],
        ),
        (&["winter", "--seed", "-1"], &["--seed=-1"]),
    ] {
        let out = host_sim(args);
        let said = String::from_utf8_lossy(&out.stderr);
        assert_eq!(out.status.code(), Some(2), "{said}");
        for part in parts {
            assert!(said.contains(part), "{part} is not in {said}");
        }
        assert!(said.starts_with("host-sim: "), "{said}");
    }
}

#[test]
fn settings_prints_what_is_yours_and_all_of_them_when_asked() {
    let short = host_sim(&["settings"]);
    let all = host_sim(&["settings", "--all", "--units", "us"]);
    assert!(short.status.success() && all.status.success());
    let (short, all) = (text_of(&short.stdout), text_of(&all.stdout));
    assert!(short.contains("\nslab_set = \"4 °C\"\n"), "{short}");
    assert!(short.contains("--all"), "{short}");
    assert!(!short.contains("supply_trip"), "{short}");
    assert!(all.contains("\nsupply_trip = \"122 °F\"\n"), "{all}");
}

fn text_of(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}
