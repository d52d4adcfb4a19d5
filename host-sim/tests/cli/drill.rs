//! `host-sim drill` as a person or a program calls it.

use std::process::{Command, Output};

fn drill(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_host-sim"))
        .arg("drill")
        .args(arguments)
        .output()
        .expect("the program starts")
}

fn text(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("UTF-8")
}

const MINE: &str = r#"
[[drill]]
name = "mine"
situation = "Slab 4 °C."
length = "1 h"
[[drill.event]]
what = "the slab falls to 2.1 °C"
at = "40 min"
slab = "2.1 °C"
[[drill.expect]]
what = "circulator runs"
that = "circulator = on"
within = "70 s"
"#;

fn mine(text: &str) -> (tempfile::TempDir, String) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("mine.toml");
    std::fs::write(&path, text).expect("written");
    let path = path.to_str().expect("UTF-8").to_owned();
    (folder, path)
}

#[test]
fn lists_every_drill() {
    let output = drill(&["--list"]);
    assert_eq!(output.status.code(), Some(0));
    for name in [
        "cold-slab",
        "sensor-bus-shorted",
        "fire-out-all-night",
        "clock-runs-over",
    ] {
        assert!(text(&output).lines().any(|line| line == name), "{name}");
    }
}

#[test]
fn one_drill_shows_its_timeline_and_leaves_trace_and_report() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name).to_str().expect("UTF-8").to_owned();
    let (report, trace) = (path("d.html"), path("d.csv"));
    let output = drill(&[
        "--drill",
        "very-cold-slab",
        "--report",
        &report,
        "--trace",
        &trace,
    ]);
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    let text = text(&output);
    assert!(text.contains("** the slab falls to 1.7 °C"), "{text}");
    assert!(text.contains("boiler on"), "{text}");
    let html = std::fs::read_to_string(report).expect("a report");
    assert!(html.contains("Drill: very-cold-slab"));
    let csv = std::fs::read_to_string(trace).expect("a trace");
    assert!(csv.starts_with("time_s,") && csv.lines().count() > 500);
}

#[test]
fn json_is_one_object_with_measured_figures() {
    let (_folder, path) = mine(MINE);
    let output = drill(&["--file", &path, "--json"]);
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(json["failed"], 0);
    let requirement = &json["drills"][0]["requirements"][0];
    assert_eq!(requirement["deadline_s"], 70.0);
    assert_eq!(requirement["measured_value"], 20.0);
    assert_eq!(requirement["holds"], true);
}

#[test]
fn a_requirement_that_does_not_hold_is_exit_code_1() {
    let (_folder, path) = mine(&MINE.replace("70 s", "15 s"));
    let output = drill(&["--file", &path]);
    assert_eq!(output.status.code(), Some(1));
    assert!(text(&output).contains("FAIL"), "{output:?}");
}

#[test]
fn what_cannot_be_used_is_exit_code_2_and_says_where() {
    let (_folder, path) = mine(&MINE.replace("\"2.1 °C\"", "2.1"));
    for (arguments, words) in [
        (vec!["--file", path.as_str()], vec!["mine.toml", "line 9"]),
        (
            vec!["--file", "/nowhere/mine.toml"],
            vec!["/nowhere/mine.toml"],
        ),
        (
            vec!["--drill", "cold-slap"],
            vec!["cold-slap", "cold-slab", "--list"],
        ),
        (vec!["--report", "x.html"], vec!["--drill NAME"]),
    ] {
        let output = drill(&arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(output.stdout.is_empty(), "{arguments:?}");
        let error = String::from_utf8_lossy(&output.stderr);
        for word in words {
            assert!(error.contains(word), "{word}: {error}");
        }
    }
}

#[test]
fn a_timeline_is_said_in_the_units_asked_and_in_words() {
    let output = drill(&["--drill", "very-cold-slab", "--units", "us"]);
    let text = text(&output);
    let started = text
        .lines()
        .find(|line| line.contains("circulator on ") && line.contains("frost: slab"))
        .expect("a run");
    assert!(started.contains(" °F (limit "), "{text}");
    assert!(
        text.contains("water last asked never (limit 105 min)"),
        "{text}"
    );
    // The alarm of a cold slab has a name that begins like the column.
    assert!(!text.replace("slab_cold", "").contains("slab_c"), "{text}");
}

#[test]
fn ice_is_the_first_sentence_of_a_drill_and_fails_it() {
    let (_folder, path) = mine(
        &MINE
            .replace("\"1 h\"", "\"2 d\"\nsettings = { mode = \"drained\" }\noutdoor = \"-25 °C\"\nhouse = { store = \"6 °C\" }")
            .replace("slab = \"2.1 °C\"\n", "outdoor = \"-25 °C\"\n")
            .replace("that = \"circulator = on\"\nwithin = \"70 s\"", "that = \"circulator = off\"\nstays = true"),
    );
    let folder = tempfile::tempdir().expect("a folder");
    let report = folder.path().join("d.html");
    let output = drill(&[
        "--file",
        &path,
        "--drill",
        "mine",
        "--report",
        report.to_str().expect("UTF-8"),
    ]);
    assert_eq!(output.status.code(), Some(1), "{output:?}");
    assert!(
        text(&output).starts_with("Water froze solid after "),
        "{output:?}"
    );
    let html = std::fs::read_to_string(report).expect("a report");
    assert!(html.contains("answer bad") && html.contains("</b>Water froze solid after"));
    let json = drill(&["--file", &path, "--json"]);
    let json: serde_json::Value = serde_json::from_slice(&json.stdout).expect("JSON");
    assert!(json["drills"][0]["ends"]["water_froze_solid_after_s"].as_f64() > Some(3600.0));
    assert_eq!(json["drills"][0]["holds"], false);
}

#[test]
fn no_page_is_green_over_a_slab_below_freezing() {
    let (_folder, path) = mine(
        &MINE
            .replace(
                "\"1 h\"",
                "\"3 h\"\nslab = \"1 °C\"\nsettings = { mode = \"drained\" }\noutdoor = \"-10 °C\"\nhouse = { store = \"6 °C\" }",
            )
            .replace("slab = \"2.1 °C\"\n", "outdoor = \"-10 °C\"\n")
            .replace("that = \"circulator = on\"\nwithin = \"70 s\"", "that = \"circulator = off\"\nstays = true"),
    );
    let folder = tempfile::tempdir().expect("a folder");
    let report = folder.path().join("d.html");
    let page = report.to_str().expect("UTF-8");
    let output = drill(&["--file", &path, "--drill", "mine", "--report", page]);
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    let html = std::fs::read_to_string(report).expect("a report");
    assert!(html.contains("answer bad") && html.contains("<b>The slab froze</b>"));
}
