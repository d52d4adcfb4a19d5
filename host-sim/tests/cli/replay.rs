//! `host-sim replay` as a person runs it: exit codes, messages, files.

use crate::support::{Folder, host_sim, text};

/// Refused with exit code 2, all parts in the message, nothing on standard output.
#[track_caller]
fn refused(args: &[&str], parts: &[&str]) {
    let out = host_sim(args);
    let message = String::from_utf8_lossy(&out.stderr);
    assert_eq!(out.status.code(), Some(2), "{message}");
    assert!(
        out.stdout.is_empty(),
        "{}",
        String::from_utf8_lossy(&out.stdout)
    );
    for part in parts {
        assert!(message.contains(part), "{part:?} is not in: {message}");
    }
}

const LOG: &str = "time,supply_c,return_c,slab_c,outdoor_c\n\
2025-01-10 00:00:00,7,5,4,-3\n2025-01-10 00:01:00,7,5,4,-3\n2025-01-10 00:02:00,7,5,4,-3\n";

#[test]
fn bare_host_sim_shows_what_to_try_first() {
    let out = host_sim(&[]);
    assert_eq!(out.status.code(), Some(0));
    assert!(String::from_utf8_lossy(&out.stdout).contains("replay"));
}

#[test]
fn the_demo_log_is_what_the_code_makes() {
    let made = host_sim::questions::demo::log().expect("the demo can be made");
    let kept = include_str!("../../data/demo-week.csv");
    assert!(
        made == kept,
        "host-sim/data/demo-week.csv is out of date: see examples/demo_log.rs"
    );
}

#[test]
fn the_demo_replays_with_every_output() {
    let folder = Folder::new();
    let (trace, report) = (folder.path("trace.csv"), folder.path("report.html"));
    let log = concat!(env!("CARGO_MANIFEST_DIR"), "/data/demo-week.csv");
    let out = host_sim(&[
        "replay",
        log,
        "--trace",
        text(&trace),
        "--report",
        text(&report),
        "--json",
    ]);
    assert_eq!(
        out.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    let json: serde_json::Value = serde_json::from_slice(&out.stdout).expect("one JSON object");
    assert!((json["days"].as_f64().unwrap() - 7.0).abs() < 0.01);
    let hours: f64 = json["reasons"]
        .as_object()
        .unwrap()
        .values()
        .filter_map(serde_json::Value::as_f64)
        .sum();
    assert!(
        (hours - 168.0).abs() < 0.05,
        "reasons' hours add up to the week: {hours}"
    );
    assert_eq!(json["trace_sha256"].as_str().map(str::len), Some(64));
    assert!(
        json["agreement"]["circulator"]["equal_share"]
            .as_f64()
            .unwrap()
            < 1.0
    );
    assert!(
        json.get("wood_kg").is_none(),
        "nothing is known of wood in a log"
    );

    // The trace is itself a log, and replaying it gives the same bytes.
    let again = folder.path("again.csv");
    let out = host_sim(&["replay", text(&trace), "--trace", text(&again)]);
    assert_eq!(out.status.code(), Some(0));
    assert!(std::fs::read(&trace).unwrap() == std::fs::read(&again).unwrap());
    assert!(
        std::fs::read_to_string(&report)
            .unwrap()
            .contains("</html>")
    );
}

/// The numbers, that is; every alarm follows with what to do.
#[test]
fn the_summary_fits_a_screen() {
    let log = concat!(env!("CARGO_MANIFEST_DIR"), "/data/demo-week.csv");
    let out = host_sim(&["replay", log]);
    let shown = String::from_utf8(out.stdout).unwrap();
    let numbers = shown.lines().take_while(|line| !line.contains(" alarm"));
    assert!(numbers.count() <= 24, "{shown}");
    assert!(shown.lines().count() <= 30, "{shown}");
    assert!(
        shown.lines().all(|line| line.chars().count() <= 80),
        "{shown}"
    );
}

/// The demo log is of this controller's own winter; one night the slab sensor's plug is loose, and nothing else is broken.
#[test]
fn the_demo_rings_for_its_loose_plug_and_for_nothing_else() {
    let log = concat!(env!("CARGO_MANIFEST_DIR"), "/data/demo-week.csv");
    let out = host_sim(&["replay", log, "--json"]);
    let json: serde_json::Value = serde_json::from_slice(&out.stdout).expect("one JSON object");
    let alarms: Vec<&str> = json["alarms"]
        .as_array()
        .expect("alarms")
        .iter()
        .filter_map(|alarm| alarm["name"].as_str())
        .collect();
    assert_eq!(alarms, ["slab_lost"], "{json}");
    assert_eq!(json["boiler_calls_without_heat"], 0);
    // A step in ten seconds and a row in sixty: the decisions are a minute apart at most.
    for relay in ["circulator", "boiler"] {
        let share = json["agreement"][relay]["equal_share"].as_f64();
        assert!(share.is_some_and(|share| share > 0.95), "{json}");
    }
    let out = host_sim(&["replay", log]);
    let shown = String::from_utf8_lossy(&out.stdout).replace('\n', " ");
    for part in [
        "Decided as logged: circulator 9",
        "slab lost",
        "plug and cable",
    ] {
        assert!(shown.contains(part), "{part} is not in {shown}");
    }
}

/// The same week with a circulator that never ran and a boiler that nobody called, and with neither in the log.
#[test]
fn a_log_rings_by_the_relays_it_tells_and_by_no_others() {
    let log = include_str!("../../data/demo-week.csv");
    let folder = Folder::new();
    let header = log.lines().next().expect("a header");
    let resting = log
        .lines()
        .skip(1)
        .fold(format!("{header}\n"), |text, line| {
            let readings = line.rsplitn(3, ',').nth(2).expect("readings");
            text + readings + ",0,0\n"
        });
    let unknown = log.replacen("circulator,boiler_call", "note,remark", 1);
    let of_relays = [
        "no_flow",
        "fire_out",
        "heat_barred",
        "flow_with_pump_off",
        "many_starts",
    ];
    for (name, text_of_it) in [("resting", &resting), ("unknown", &unknown)] {
        let path = folder.file(&format!("{name}.csv"), text_of_it);
        let out = host_sim(&["replay", text(&path), "--json"]);
        let json: serde_json::Value = serde_json::from_slice(&out.stdout).expect("one JSON object");
        let rung = json["alarms"].to_string();
        assert!(rung.contains("slab_lost"), "{name}: {rung}");
        for alarm in of_relays
            .iter()
            .filter(|alarm| **alarm != "flow_with_pump_off" || name == "unknown")
        {
            assert!(!rung.contains(alarm), "{name}: {alarm} in {rung}");
        }
        let remarks = json["log"]["remarks"].to_string();
        let says = remarks.contains("does not tell when the circulator and boiler ran");
        assert_eq!(says, name == "unknown", "{remarks}");
    }
}

#[test]
fn wrong_logs_are_refused_with_their_place_and_leave_nothing() {
    let folder = Folder::new();
    let trace = folder.path("trace.csv");
    for (name, log, parts) in [
        (
            "text",
            LOG.replace("00:01:00,7", "00:01:00,seven"),
            vec!["line 3", "supply_c", "seven"],
        ),
        ("back", LOG.replace("00:02:00", "00:00:30"), vec!["line 4"]),
        (
            "short",
            LOG.replace("00:02:00,7,5,4,-3", "00:02:00,7,5"),
            vec!["line 4"],
        ),
        ("empty", String::new(), vec!["empty.csv"]),
        (
            "header",
            "time,supply_c,return_c,slab_c,outdoor_c\n".to_owned(),
            vec!["header.csv"],
        ),
        (
            "columns",
            "time,a,b\n2025-01-10 00:00:00,1,2\n".to_owned(),
            vec!["supply_c"],
        ),
    ] {
        let log = folder.file(&format!("{name}.csv"), &log);
        let mut all = vec![name];
        all.extend(parts);
        refused(&["replay", text(&log), "--trace", text(&trace)], &all);
        assert!(!trace.exists(), "{name}");
    }
    folder.has_no_partial();
}

#[test]
fn wrong_arguments_and_settings_are_refused() {
    let folder = Folder::new();
    let log = folder.file("log.csv", LOG);
    let settings = folder.file("s.toml", "slab_set = \"40 °C\"\n");
    refused(
        &["replay", text(&log), "--settings", text(&settings)],
        &["s.toml", "line 1", "slab_set", "40 °C", "12 °C"],
    );
    refused(&["replay", text(&folder.path("none.csv"))], &["none.csv"]);
    refused(&["replay", text(&log), "--column", "supply=x"], &["supply"]);
    refused(
        &["replay", text(&log), "--column", "supply_c=nowhere"],
        &["nowhere"],
    );
    refused(&["replay", text(&log), "--units", "metric"], &["metric"]);
    refused(&["replay", text(&log), "--trace", text(&log)], &["log.csv"]);
    refused(&["reply"], &["reply"]);
}

#[cfg(unix)]
#[test]
fn ctrl_c_leaves_no_half_file() {
    use std::fmt::Write as _;
    use std::process::Command;
    let folder = Folder::new();
    let mut long = String::from("time_s,supply_c,return_c,slab_c,outdoor_c\n");
    for second in 0..2_000_000_u32 {
        let _ = writeln!(long, "{second},7,5,4,-3");
    }
    let log = folder.file("long.csv", &long);
    let mut child = Command::new(env!("CARGO_BIN_EXE_host-sim"))
        .args([
            "replay",
            text(&log),
            "--trace",
            text(&folder.path("trace.csv")),
        ])
        .stderr(std::process::Stdio::piped())
        .spawn()
        .expect("host-sim runs");
    // Once it has begun to write, it is in the middle.
    while folder.names().len() < 2 {
        std::thread::sleep(std::time::Duration::from_millis(5));
        assert!(
            child.try_wait().unwrap().is_none(),
            "it ended before it began"
        );
    }
    let stopped = Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status()
        .unwrap();
    assert!(stopped.success());
    let out = child.wait_with_output().unwrap();
    assert_eq!(
        out.status.code(),
        Some(2),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    assert_eq!(folder.names(), ["long.csv"]);
}
