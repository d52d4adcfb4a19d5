//! `host-sim compare` as a person runs it: few days, exit codes, messages.

use crate::support::{Folder, host_sim, text};

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

/// A rate of nothing costs nothing, a larger one in proportion; the sum is the families' sum.
#[test]
fn what_faults_add_follows_their_rates() {
    let risk = |rates: &str| -> serde_json::Value {
        let faults = ["--faults", "1", "--rates", rates, "--json"];
        let out = host_sim(&[&FEW_DAYS[..], &faults].concat());
        assert_eq!(out.status.code(), Some(0), "{out:?}");
        let all: serde_json::Value = serde_json::from_slice(&out.stdout).expect("one JSON object");
        assert!(all["ours"]["total"].is_object(), "the comparison is there");
        all["under_faults"].clone()
    };
    let once = risk("sensor=1,exchanged=0,plant=1,power=0,processor=0,person=0");
    let twice = risk("sensor=2,exchanged=0,plant=2,power=0,processor=0,person=0");
    let families = once["families"].as_array().expect("families");
    assert_eq!(families.len(), 6);
    for control in ["ours", "pair"] {
        let harm =
            |risk: &serde_json::Value, key: &str| risk[control][key].as_f64().expect("a number");
        let mut any = 0.0_f64;
        for key in ["below_0_h", "below_target_kh", "frozen_tubes", "wood_kg"] {
            let sum: f64 = families.iter().map(|family| harm(family, key)).sum();
            let all = harm(&once, key);
            assert!((sum - all).abs() < 1e-6, "{control} {key}: {sum} {all}");
            assert!(
                (harm(&twice, key) - 2.0 * all).abs() < 1e-6,
                "{control} {key}"
            );
            any = any.max(all.abs());
        }
        assert!(any > 0.0, "{control}: a fault changes nothing");
    }
    for family in families.iter().filter(|family| family["rate"] == 0.0) {
        assert_eq!(family["ours"]["wood_kg"].as_f64(), Some(0.0));
    }
}

#[test]
fn rates_that_are_none_are_refused() {
    for (rates, found) in [
        ("sensors=1", "expected one of sensor, exchanged, plant"),
        ("power", "for example power=0.5"),
        ("power=often", "faults a winter, 0 to 100"),
        ("power=-1", "faults a winter, 0 to 100"),
        ("power=NaN", "faults a winter, 0 to 100"),
    ] {
        let out = host_sim(&["compare", "--faults", "1", "--rates", rates]);
        assert_eq!(out.status.code(), Some(2), "{rates}");
        let message = String::from_utf8_lossy(&out.stderr);
        assert!(message.contains(found), "{message}");
    }
    let out = host_sim(&["compare", "--rates", "power=1"]);
    assert_eq!(out.status.code(), Some(2), "rates without faults");
}
