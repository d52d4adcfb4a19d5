//! `host-sim spells` as a person runs it: tables, files, exit codes, messages.

use crate::support::{Folder, host_sim, text};

/// Short spells of one house.
const SHORT: [&str; 7] = [
    "spells", "--house", "oncall", "--days", "7", "--seeds", "0..4",
];

fn shown(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn tables_and_json_are_of_the_same_spells_and_the_exit_code_says_what_they_came_to() {
    let out = host_sim(&SHORT);
    let table = shown(&out.stdout);
    assert!(
        table
            .lines()
            .any(|line| line.starts_with("oncall ") && line.contains("  4 ")),
        "{table}"
    );
    assert!(
        table.lines().any(|line| line.starts_with("all ")),
        "{table}"
    );
    let json = host_sim(&[&SHORT[..], &["--json", "--cores", "1"]].concat());
    assert_eq!(json.status.code(), out.status.code());
    let all: serde_json::Value = serde_json::from_slice(&json.stdout).expect("one JSON object");
    let spells = all["spells"].as_array().expect("spells");
    assert_eq!(spells.len(), 4);
    let sum: f64 = spells
        .iter()
        .filter_map(|spell| spell["ours"]["pump_kwh"].as_f64())
        .sum();
    let mean = all["table"]["all"]["pump_kwh"].as_f64().expect("a number");
    assert!((sum / 4.0 - mean).abs() < 1e-6 && mean > 0.0);
    let fails = spells.iter().any(|spell| {
        let avoidable = &spell["avoidable"];
        avoidable["freeze"] == true || avoidable["damage"] == true || !spell["violation"].is_null()
    });
    assert_eq!(out.status.code(), Some(i32::from(fails)));
}

#[test]
fn a_file_of_results_is_gone_on_with_and_the_same_whatever_the_cores() {
    let folder = Folder::new();
    let (a, b) = (folder.path("a.jsonl"), folder.path("b.jsonl"));
    let run = |path, seeds, cores| {
        let out = host_sim(&[
            "spells",
            "--house",
            "demo",
            "--days",
            "7",
            "--seeds",
            seeds,
            "--cores",
            cores,
            "--out",
            text(path),
        ]);
        assert_ne!(out.status.code(), Some(2), "{}", shown(&out.stderr));
        std::fs::read_to_string(path).expect("written")
    };
    let first = run(&a, "0..2", "1");
    let both = run(&a, "0..4", "2");
    assert!(
        both.starts_with(&first) && both.lines().count() == 5,
        "{both}"
    );
    assert_eq!(run(&b, "0..4", "3"), both);
    let other = host_sim(&[
        "spells",
        "--house",
        "roof",
        "--days",
        "7",
        "--seeds",
        "0..4",
        "--out",
        text(&a),
    ]);
    let message = shown(&other.stderr);
    assert_eq!(other.status.code(), Some(2));
    assert!(
        message.contains("roof") && message.contains("demo"),
        "{message}"
    );
    assert_eq!(std::fs::read_to_string(&a).expect("kept"), both);
    let changed = both.replacen("\"starts\":", "\"starts\":9", 1);
    let path = folder.file("changed.jsonl", &changed);
    let other = host_sim(&[
        "spells",
        "--house",
        "demo",
        "--days",
        "7",
        "--seeds",
        "0..4",
        "--out",
        text(&path),
    ]);
    assert_eq!(other.status.code(), Some(2));
    assert!(
        shown(&other.stderr).contains("number 0"),
        "{}",
        shown(&other.stderr)
    );
}

#[test]
fn one_seed_tells_its_story_and_writes_its_steps() {
    let folder = Folder::new();
    let trace = folder.path("steps.csv");
    let out = host_sim(&[
        "spells",
        "--house",
        "demo",
        "--days",
        "7",
        "--seed",
        "3",
        "--trace",
        text(&trace),
        "--every",
        "1 h",
    ]);
    let story = shown(&out.stdout);
    for word in [
        "Seed 3: house demo",
        "Faults:",
        "this controller",
        "with nothing wrong",
        "thermostats on the truth",
        "Avoidable:",
    ] {
        assert!(story.contains(word), "{word:?} is not in:\n{story}");
    }
    let steps = std::fs::read_to_string(&trace).expect("written");
    let columns = steps.lines().next().expect("a header").split(',').count();
    assert!(steps.starts_with("day,true_slab_min_c,"));
    let days: Vec<f64> = steps
        .lines()
        .skip(1)
        .map(|line| {
            assert_eq!(line.split(',').count(), columns, "{line}");
            line.split(',')
                .next()
                .and_then(|day| day.parse().ok())
                .expect("a day")
        })
        .collect();
    assert!(days.len() >= 7 * 24 && days.is_sorted() && days.last().is_some_and(|day| *day > 6.9));
}

#[test]
fn an_owners_site_is_run_with_settings_derived_from_it() {
    let folder = Folder::new();
    let site = folder.file("site.toml", "[slab]\ncircuit_length = \"90 m\"\n");
    let settings = folder.file("settings.toml", "transit = \"170 s\"\n");
    let base = [
        "spells",
        "--site",
        text(&site),
        "--days",
        "7",
        "--seeds",
        "0..1",
        "--faults",
        "0",
        "--json",
    ];
    let run = |more: &[&str]| {
        let out = host_sim(&[&base[..], more].concat());
        assert_eq!(out.status.code(), Some(0), "{}", shown(&out.stderr));
        let all: serde_json::Value = serde_json::from_slice(&out.stdout).expect("one JSON object");
        assert_eq!(all["spells"][0]["house"], "site");
        all["spells"][0]["ours"].clone()
    };
    assert!(run(&[])["pump_kwh"].as_f64() > Some(0.0));
    assert!(run(&["--settings", text(&settings)])["pump_kwh"].as_f64() > Some(0.0));
}

#[test]
fn winters_with_nothing_wrong_stand_beside_the_plain_pair() {
    let out = host_sim(&[
        "spells",
        "--fault-free",
        "--house",
        "demo",
        "--days",
        "7",
        "--seeds",
        "1..3",
        "--scatter",
        "0.05 K",
        "--scatter",
        "0.25 K",
        "--json",
    ]);
    assert_eq!(out.status.code(), Some(0), "{}", shown(&out.stderr));
    let winters: serde_json::Value = serde_json::from_slice(&out.stdout).expect("JSON");
    let winters = winters.as_array().expect("a list");
    assert_eq!(winters.len(), 2 * 4 * 2, "scatters, weathers, seeds");
    for (number, winter) in winters.iter().enumerate() {
        assert_eq!(winter["number"], number);
        assert!(
            winter["ours"]["slab_min_c"].as_f64() > Some(0.0),
            "{winter}"
        );
        assert!(
            winter["plain"]["slab_min_c"].as_f64() > Some(0.0),
            "{winter}"
        );
    }
    assert_ne!(winters[0]["ours"], winters[1]["ours"], "seeds differ");
    assert_ne!(winters[0]["ours"], winters[2]["ours"], "scatters differ");
}

#[test]
fn what_cannot_be_used_is_refused_with_what_to_do() {
    let refused = |args: &[&str], words: &[&str]| {
        let out = host_sim(&[&["spells"], args].concat());
        let message = shown(&out.stderr);
        assert_eq!(out.status.code(), Some(2), "{args:?}: {message}");
        assert!(out.stdout.is_empty());
        for word in words {
            assert!(message.contains(word), "{word:?} is not in: {message}");
        }
    };
    let folder = Folder::new();
    let file = folder.path("never.jsonl");
    refused(
        &["--house", "villa", "--out", text(&file)],
        &["villa", "oncall"],
    );
    assert!(folder.names().is_empty(), "nothing is written");
    refused(&["--seeds", "5..5"], &["5..5", "0..200"]);
    refused(&["--seed", "1", "--seeds", "0..9"], &["--seeds"]);
    refused(&["--trace", "x.csv"], &["--seed"]);
    refused(&["--faults", "3"], &["3"]);
    refused(&["--fault-free", "--scatter", "9 K"], &["9 K", "2 K"]);
    refused(&["--house", "demo", "--site", "x.toml"], &["--site"]);
}
