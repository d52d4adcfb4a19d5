//! A trace replayed comes to the numbers of the run that wrote it: for every built-in drill and a winter.
//!
//! Not compared, since no trace can hold them: `air_min_c`, `air_hours_below_zero`, `slab_true_min_c` and `store_true_min_c` (no column of them), what a winter takes from
//! the plant's own account (`earth_heat_kwh`, `earth_heat_error_kwh`, `boiler_heat_kwh`, `pump_kwh`, `cop`,
//! `wood_kg`, `energy_closure`), and the wall clock of `slab_min_time` and `first_time`: a trace counts seconds.
//! `agreement` and `log` are there only when a log is read; `gap_hours` is the time without power.

use std::process::Command;

use controller_core::settings::Settings;
use controller_core::time::Instant;
use controller_core::trace;
use host_sim::account::sinks::{RunSinks, TraceWriter};
use host_sim::files::log::{LogReader, ReaderOptions};
use host_sim::files::output::OutputSet;
use host_sim::questions::drill::{self, Drill};
use host_sim::questions::replay::{reader_options, replay};
use host_sim::sim::cancel::Cancel;
use serde_json::{Map, Value};

/// The numbers of a replayed trace as JSON, with the fingerprint of the trace it writes.
fn replayed(csv: String, settings: &Settings) -> Value {
    let options = reader_options(ReaderOptions::default());
    let reader = LogReader::from_bytes("trace", csv.into_bytes(), &options).expect("a log");
    let mut sinks = RunSinks::new(settings, None, true, Some(TraceWriter::new(None)));
    replay(reader, settings, &mut sinks, &Cancel::new(), &mut |_| {}).expect("it replays");
    finished(sinks)
}

fn finished(sinks: RunSinks) -> Value {
    let (numbers, series) = sinks.finish(&mut OutputSet::new()).expect("numbers");
    let series = series.expect("a picture");
    let mut json = serde_json::to_value(numbers).expect("JSON");
    // What a report draws besides.
    json["days_drawn"] = Value::from(format!("{:?}", series.days()));
    json["end_ms"] = Value::from(series.end_ms());
    json
}

/// Every key of one side is on the other with the same value, but for the keys named.
#[track_caller]
fn assert_same(what: &str, run: &Value, again: &Value, but: &[&str]) {
    let keys = |json: &Value| {
        let object: &Map<String, Value> = json.as_object().expect("an object");
        let names = object.keys().filter(|key| !but.contains(&key.as_str()));
        names.cloned().collect::<Vec<_>>()
    };
    assert!(keys(run).len() > 20, "{what}: {run}");
    assert_eq!(keys(run), keys(again), "{what}");
    for key in keys(run) {
        assert_eq!(run[&key], again[&key], "{what}: {key}");
    }
}

/// Runs a drill; a step stands until the next one or the next row, whichever is earlier, and the last one not at all.
fn written(drill: &Drill) -> (String, Value) {
    let settings = drill.checked_settings().expect("settings");
    let mut sinks = RunSinks::new(&settings, None, true, Some(TraceWriter::new(None)));
    let mut csv = format!("{}\n", trace::HEADER);
    let mut steps = Vec::new();
    drill::run(drill, &mut |step| {
        let origin = Instant::from_millis(step.report.row.now.as_millis() - step.now_ms);
        step.report
            .row
            .write_csv(origin, step.note, &mut csv)
            .expect("text");
        csv.push('\n');
        let mut report = step.report.clone();
        let wanted_ms = report.next.as_millis() - origin.as_millis();
        // All times from the boot on, as the trace has them.
        let from_boot = |at: Instant| Instant::from_millis(at.as_millis() - origin.as_millis());
        let (now, free_at) = (report.row.now, report.row.status.free_at);
        (report.row.now, report.row.status.free_at) = (from_boot(now), free_at.map(from_boot));
        steps.push((report, wanted_ms, step.note.to_owned()));
        Ok(())
    })
    .expect("the drill runs");
    let times: Vec<u64> = steps
        .iter()
        .map(|(report, ..)| report.row.now.as_millis())
        .collect();
    for (index, (report, wanted_ms, note)) in steps.iter().enumerate() {
        let next_ms = times.get(index + 1).copied().unwrap_or(times[index]);
        let stands_ms = next_ms.min(*wanted_ms) - times[index];
        sinks
            .push(
                report,
                stands_ms,
                &host_sim::sim::beside::Extra::default(),
                note,
            )
            .expect("it counts");
    }
    (csv, finished(sinks))
}

#[test]
fn every_drills_trace_comes_to_the_drills_numbers() {
    let drills = drill::built_in().expect("drills");
    assert!(drills.len() > 40);
    for drill in &drills {
        let (csv, run) = written(drill);
        let again = replayed(csv, &drill.checked_settings().expect("settings"));
        assert_same(&drill.name, &run, &again, &["agreement", "gap_hours"]);
    }
}

#[test]
fn a_winters_trace_comes_to_the_winters_numbers() {
    let folder = tempfile::tempdir().expect("a folder");
    let trace = folder.path().join("trace.csv");
    let trace = trace.to_str().expect("a name");
    let json = |args: &[&str]| -> Value {
        let command = Command::new(env!("CARGO_BIN_EXE_host-sim"))
            .args(args)
            .output();
        let out = command.expect("host-sim runs");
        let message = String::from_utf8_lossy(&out.stderr).into_owned();
        assert!(matches!(out.status.code(), Some(0 | 1)), "{message}");
        serde_json::from_slice(&out.stdout).expect("one JSON object")
    };
    let run = json(&[
        "winter",
        "--days",
        "12",
        "--from",
        "2026-01-02",
        "--json",
        "--trace",
        trace,
    ]);
    let mut again = json(&["replay", trace, "--json", "--fingerprint"]);
    assert_eq!(run["days"], 12.0);
    // Alarms: all but the words for their first time.
    let mut run = run;
    for json in [&mut run, &mut again] {
        for alarm in json["alarms"].as_array_mut().expect("alarms") {
            alarm
                .as_object_mut()
                .expect("an alarm")
                .remove("first_time");
        }
    }
    let of_the_plant = [
        "air_min_c",
        "air_hours_below_zero",
        "slab_true_min_c",
        "store_true_min_c",
        "earth_heat_kwh",
        "earth_heat_error_kwh",
        "boiler_heat_kwh",
        "pump_kwh",
        "cop",
        "wood_kg",
        "energy_closure",
    ];
    let of_the_log = ["slab_min_time", "agreement", "log"];
    assert_same(
        "winter",
        &run,
        &again,
        &[&of_the_plant[..], &of_the_log].concat(),
    );
    assert_eq!(again["agreement"]["circulator"]["equal_share"], 1.0);
}

/// Rows that are missing in a trace, without a boot that would explain it, are a gap, told once.
#[test]
fn a_hole_in_a_trace_is_counted_once() {
    let drills = drill::built_in().expect("drills");
    let long = |drill: &&Drill| written(drill).0.lines().count() > 3_000;
    let (csv, _) = written(drills.iter().find(long).expect("a long drill"));
    let lines: Vec<&str> = csv.lines().collect();
    let seconds = |line: &str| -> f64 {
        let time = line.split(',').next().unwrap_or_default();
        time.parse().expect("a time")
    };
    let (last, next) = (lines[1_000], lines[1_500]);
    let rest = [&lines[..=1_000], &lines[1_500..]].concat().join("\n");
    let again = replayed(rest + "\n", &Settings::default());
    let hours = (seconds(next) - seconds(last)) / 3_600.0;
    let days = (seconds(lines[lines.len() - 1]) - seconds(lines[1])) / 86_400.0;
    // The row before the hole stands for a cycle; numbers are given to a thousandth.
    let gap = again["gap_hours"].as_f64().expect("a gap");
    assert!((gap - hours).abs() < 0.01, "{gap} of {hours} h");
    let counted = again["days"].as_f64().expect("days");
    assert!(
        (counted + gap / 24.0 - days).abs() < 0.002,
        "{counted} and {gap} of {days}"
    );
}
