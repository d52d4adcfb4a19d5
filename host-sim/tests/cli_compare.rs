//! `host-sim compare` as a person runs it: few days, exit codes, messages.

mod support;

use support::{Folder, host_sim, text};

const FEW_DAYS: [&str; 5] = ["compare", "--from", "2025-12-20", "--days", "2"];

#[test]
fn every_line_counts_the_same_winters() {
    let out = host_sim(&[&FEW_DAYS[..], &["--json"]].concat());
    assert_eq!(
        out.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    let compared: serde_json::Value = serde_json::from_slice(&out.stdout).expect("one JSON object");
    // The weather itself, and once more with a cold snap.
    assert_eq!(compared["winters"].as_array().map(Vec::len), Some(2));
    let lines = |key: &str| compared[key].as_array().expect("lines").clone();
    let mut all = lines("plain");
    assert!(all.len() >= 2);
    all.push(compared["ours"].clone());
    for line in &all {
        let winters = line["winters"].as_array().expect("winter by winter");
        let sum: f64 = winters.iter().filter_map(|w| w["pump_kwh"].as_f64()).sum();
        let total = line["total"]["pump_kwh"].as_f64().expect("a number");
        assert!((sum - total).abs() < 1e-9 && total > 0.0, "{line}");
    }
}

#[test]
fn a_table_a_person_reads() {
    let out = host_sim(&FEW_DAYS);
    let shown = String::from_utf8_lossy(&out.stdout);
    for word in ["this controller", "plain thermostats", "useless", "K·h"] {
        assert!(shown.contains(word), "{word:?} is not in:\n{shown}");
    }
    assert!(shown.lines().all(|line| line.chars().count() <= 120));
}

#[test]
fn what_cannot_be_compared_is_refused() {
    let folder = Folder::new();
    let summer = folder.file("summer.toml", "mode = \"summer\"\n");
    let out = host_sim(&["compare", "--settings", text(&summer)]);
    assert_eq!(out.status.code(), Some(2));
    let message = String::from_utf8_lossy(&out.stderr);
    assert!(
        message.contains("mode = summer") && message.contains("expected winter"),
        "{message}"
    );
    let out = host_sim(&["compare", "--weather", text(&summer)]);
    assert_eq!(out.status.code(), Some(2));
    assert!(out.stdout.is_empty());
    assert_eq!(folder.names(), ["summer.toml"], "nothing is written");
}
