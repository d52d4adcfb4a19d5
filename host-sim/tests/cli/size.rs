//! `host-sim size` as a person or a program calls it: exit codes, messages, files.

use crate::support::{self, Folder, host_sim, text};

#[track_caller]
fn json(args: &[&str], code: i32) -> serde_json::Value {
    support::json(&[&["size", "--json"], args].concat(), code)
}

#[track_caller]
fn refused(folder: &Folder, args: &[&str], parts: &[&str]) {
    let report = folder.path("report.html");
    let before = folder.names();
    let out = host_sim(&[&["size", "--report", text(&report)], args].concat());
    let message = String::from_utf8_lossy(&out.stderr);
    assert_eq!(out.status.code(), Some(2), "{message}");
    assert!(out.stdout.is_empty());
    for part in parts {
        assert!(message.contains(part), "{part:?} is not in: {message}");
    }
    assert_eq!(folder.names(), before, "nothing is written");
}

#[test]
fn the_demo_is_checked_in_words_and_for_programs() {
    let out = host_sim(&["size"]);
    assert_eq!(out.status.code(), Some(0));
    let shown = String::from_utf8(out.stdout).expect("UTF-8");
    for part in [
        "THE LOOP WILL WORK",
        "  caution: operating point: head",
        "  check: slab and store floor: velocity",
        "Rule: ",
        "Changes it: ",
        "How the store tires",
        "99.6 % heating design temperature",
        "-18.8 °C",
    ] {
        assert!(shown.contains(part), "{part:?} is not in:\n{shown}");
    }
    assert!(!shown.contains('\u{1b}'), "no colour in a pipe");

    let numbers = json(&["--store", "9 °C"], 0);
    let held = numbers["balance"][0]["slab"]["outdoor_c"].as_f64().unwrap();
    assert!((held + 7.2997).abs() < 1e-3, "{held}");
    let lines = numbers["lines"].as_array().unwrap();
    assert!(lines.len() > 20);
    for line in lines {
        for key in [
            "key", "what", "shown", "verdict", "rule", "source", "why", "change",
        ] {
            assert!(line[key].is_string(), "{key} in {line}");
        }
    }
}

/// Every line of the documentation's output blocks is a line of the program's output.
#[test]
fn the_documentation_shows_what_the_program_says() {
    let out = host_sim(&["size", "--vary", "spacing=0.15..0.30 m"]);
    let shown = String::from_utf8(out.stdout).expect("UTF-8");
    let shown: Vec<&str> = shown.lines().collect();
    let page = include_str!("../../../docs/design-check.md");
    let mut is_output = false;
    let mut checked = 0;
    for line in page.lines() {
        match line {
            "```text" => is_output = true,
            "```" => is_output = false,
            _ if is_output => {
                assert!(shown.contains(&line), "not said any more: {line}");
                checked += 1;
            }
            _ => {}
        }
    }
    assert!(checked > 25, "{checked} lines");
}

#[test]
fn us_units_change_what_is_shown_and_nothing_else() {
    let out = host_sim(&["size", "--units", "us"]);
    let shown = String::from_utf8(out.stdout).expect("UTF-8");
    for part in ["282 ft", "gpm", "°F", "Btu/h"] {
        assert!(shown.contains(part), "{part}");
    }
    assert!(!shown.contains(" °C") && !shown.contains("L/s"), "{shown}");
    let (si, us) = (json(&[], 0), json(&["--units", "us"], 0));
    for key in [
        "floors", "pump", "heat", "balance", "tiring", "backup", "freeze", "vessel",
    ] {
        assert_eq!(si[key], us[key], "{key}");
    }
}

#[test]
fn the_documented_site_is_the_demo() {
    let site = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/demo-site.toml");
    let (with, without) = (json(&["--site", site], 0), json(&[], 0));
    assert_eq!(with["lines"], without["lines"]);
}

#[test]
fn a_site_that_cannot_hold_gives_one_and_the_report_that_shows_why() {
    let folder = Folder::new();
    for (name, site, key) in [
        (
            "weak",
            "[circulator]\nshutoff_head = \"1.2 m\"\n",
            "slab.velocity",
        ),
        ("small", "[boiler]\npower = \"1.5 kW\"\n", "backup.needed"),
        ("none", "[boiler]\nfitted = false\n", "backup.needed"),
    ] {
        let file = folder.file(&format!("{name}.toml"), site);
        let report = folder.path(&format!("{name}.html"));
        let args = ["--site", text(&file), "--report", text(&report)];
        let numbers = json(&args, 1);
        assert_eq!(numbers["verdict"], "will not work");
        let against: Vec<_> = numbers["lines"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|line| line["verdict"] == "will not work")
            .collect();
        assert!(against.iter().any(|line| line["key"] == key), "{against:?}");
        let page = std::fs::read_to_string(&report).expect("the report is there all the same");
        assert!(page.contains("will not work"));
        assert!(page.contains("</html>"));
    }
    let warm = json(&["--hold", "8 °C", "--store", "7 °C"], 1);
    assert!(warm["answer"].as_str().unwrap().contains("will not work"));
}

#[test]
fn a_sweep_is_in_text_json_and_report() {
    let folder = Folder::new();
    let report = folder.path("sweep.html");
    let args = [
        "--vary",
        "spacing=0.15..0.30 m",
        "--points",
        "4",
        "--report",
        text(&report),
    ];
    let numbers = json(&args, 0);
    assert_eq!(numbers["sweep"]["points"].as_array().unwrap().len(), 4);
    let page = std::fs::read_to_string(&report).unwrap();
    assert!(page.contains("Sweep of slab.spacing"));
    assert!(page.matches("<figure>").count() >= 4);
    assert!(page.len() < 700_000, "{}", page.len());
    let out = host_sim(&["size", "--vary", "layout=serpentine, counter-flow"]);
    let shown = String::from_utf8(out.stdout).unwrap();
    assert!(
        shown.contains("Sweep of slab.layout and store_floor.layout"),
        "{shown}"
    );
}

#[test]
fn what_cannot_be_used_is_refused_and_nothing_is_written() {
    let folder = Folder::new();
    let broken = folder.file("broken.toml", "[slab]\nspacing = \"7 m\"\n");
    for (args, parts) in [
        (vec!["--vary", "spacing="], vec!["--vary", "no values"]),
        (
            vec!["--vary", "spaceing=0.1..0.2 m"],
            vec!["--vary", "unknown key", "like it: slab.spacing"],
        ),
        (
            vec!["--vary", "spacing=0.01..0.2 m"],
            vec!["--vary", "0.03 to 1 m"],
        ),
        (vec!["--vary", "spacing=0.2..0.2 m"], vec!["two different"]),
        (vec!["--points", "9"], vec!["--vary"]),
        (
            vec!["--vary", "spacing=0.2..0.3 m", "--points", "1"],
            vec!["2..=50"],
        ),
        (vec!["--hold", "2"], vec!["--hold", "without a unit"]),
        (vec!["--hold", "90 °C"], vec!["--hold", "-5 °C to 30 °C"]),
        (vec!["--hold", "90 °F"], vec!["--hold", "23 °F to 86 °F"]),
        (
            vec!["--design", "-100 °C"],
            vec!["--design", "-60 °C to 20 °C"],
        ),
        (vec!["--store", "cold"], vec!["--store"]),
        (
            vec!["--site", "/nowhere/site.toml"],
            vec!["/nowhere/site.toml"],
        ),
        (
            vec!["--site", text(&broken)],
            vec!["line 2", "slab.spacing"],
        ),
        (vec!["--weather", "/nowhere/w.epw"], vec!["/nowhere/w.epw"]),
    ] {
        refused(&folder, &args, &parts);
    }
    let out = host_sim(&["size", "--site", text(&broken), "--report", text(&broken)]);
    assert_eq!(out.status.code(), Some(2));
}

#[test]
fn small_lengths_and_steps_are_said_in_us_units() {
    let out = host_sim(&["size", "--units", "us", "--vary", "spacing=6, 9, 12 in"]);
    let said = String::from_utf8_lossy(&out.stdout);
    for part in [
        "6 in",
        "9 in",
        "store 3.6 °F colder",
        "flow",
        "\"0.951 gpm\"",
        "\"45 W\"",
    ] {
        assert!(said.contains(part), "{part} is not in {said}");
    }
    for part in ["0.49 ft", "25 mm", "2 K colder"] {
        assert!(!said.contains(part), "{part} is in {said}");
    }
}
