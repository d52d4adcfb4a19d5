//! `host-sim winter` and `host-sim site` as a person runs them: exit codes, messages, files, repeatability.

use crate::support::{Folder, host_sim, text};

/// A run that must come to its end, whether the slab held or not.
#[track_caller]
fn ended(out: &std::process::Output) {
    assert!(
        matches!(out.status.code(), Some(0 | 1)),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
}

/// Its JSON.
#[track_caller]
fn json(args: &[&str]) -> serde_json::Value {
    let out = host_sim(args);
    ended(&out);
    serde_json::from_slice(&out.stdout).expect("one JSON object and nothing else")
}

/// A run with trace and report that must be refused: exit code 2, every part in the message, nothing on standard output and
/// nothing written.
#[track_caller]
fn refused(folder: &Folder, args: &[&str], parts: &[&str]) {
    let before = folder.names();
    let (trace, report) = (folder.path("trace.csv"), folder.path("report.html"));
    let outputs = [
        "--trace",
        text(&trace),
        "--report",
        text(&report),
        "--days",
        "2",
    ];
    let out = host_sim(&[&["winter"], args, &outputs].concat());
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
    assert!(
        message.lines().count() <= 2,
        "one message, not a trail: {message}"
    );
    assert_eq!(folder.names(), before, "nothing is written");
}

/// A real weather file, by lines.
fn golden() -> Vec<String> {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/data/golden-co-724666-tmy3.epw"
    );
    let file = std::fs::read_to_string(path).expect("the weather file kept with the program");
    file.lines().map(str::to_owned).collect()
}

/// Replaces one cell, line and column counted from 1.
fn set_cell(lines: &mut [String], line: usize, column: usize, value: &str) {
    let mut cells: Vec<&str> = lines[line - 1].split(',').collect();
    cells[column - 1] = value;
    lines[line - 1] = cells.join(",");
}

/// The first data row stands in line 9.
const FIRST_ROW: usize = 9;

#[test]
fn the_documented_site_is_the_demonstration_site() {
    let out = host_sim(&["site"]);
    assert_eq!(out.status.code(), Some(0));
    let kept = include_str!("../../../docs/demo-site.toml");
    assert!(
        out.stdout == kept.as_bytes(),
        "docs/demo-site.toml is out of date: host-sim site > docs/demo-site.toml"
    );
}

#[test]
fn the_documented_site_gives_the_same_winter_as_none() {
    let site = concat!(env!("CARGO_MANIFEST_DIR"), "/../docs/demo-site.toml");
    let short = [
        "winter",
        "--from",
        "2025-12-18",
        "--days",
        "2",
        "--json",
        "--fingerprint",
    ];
    let with = json(&[&short[..], &["--site", site]].concat());
    let without = json(&short);
    assert_eq!(with["trace_sha256"].as_str().map(str::len), Some(64));
    assert_eq!(with, without);
}

#[test]
fn thirty_days_close_their_heat_balance_in_the_json() {
    let numbers = json(&["winter", "--from", "2025-12-01", "--days", "30", "--json"]);
    let closure = numbers["energy_closure"]
        .as_f64()
        .expect("the residual is there");
    assert!(closure < 1e-6, "{closure}");
    assert!((numbers["days"].as_f64().unwrap() - 30.0).abs() < 1e-6);
    // All that only the plant knows is there too.
    for key in [
        "boiler_heat_kwh",
        "wood_kg",
        "earth_heat_kwh",
        "pump_kwh",
        "slab_min_c",
        "slab_min_time",
        "settings_sha256",
    ] {
        assert!(!numbers[key].is_null(), "{key} in {numbers}");
    }
    let hours: f64 = numbers["reasons"]
        .as_object()
        .unwrap()
        .values()
        .filter_map(serde_json::Value::as_f64)
        .sum();
    assert!(
        (hours - 720.0).abs() < 0.1,
        "one reason at a time: {hours} h"
    );
}

#[test]
fn the_trace_depends_on_the_seed_and_on_nothing_that_is_shown() {
    let folder = Folder::new();
    let run = |trace: &str, more: &[&str]| {
        let path = folder.path(trace);
        let base = [
            "winter",
            "--from",
            "2025-12-18",
            "--days",
            "2",
            "--trace",
            text(&path),
        ];
        let out = host_sim(&[&base[..], more].concat());
        ended(&out);
        std::fs::read(&path).expect("a trace")
    };
    let report = folder.path("report.html");
    let plain = run("plain.csv", &[]);
    assert!(
        plain.len() > 1_000_000,
        "two days at ten seconds: {} bytes",
        plain.len()
    );
    for (name, more) in [
        ("again.csv", &[][..]),
        ("seed.csv", &["--seed", "1"]),
        ("report.csv", &["--report", text(&report)]),
        ("json.csv", &["--json", "--fingerprint"]),
        ("us.csv", &["--units", "us"]),
    ] {
        assert!(plain == run(name, more), "{name} differs");
    }
    assert!(
        plain != run("other.csv", &["--seed", "2"]),
        "another seed is another run"
    );
    assert!(
        std::fs::read_to_string(&report)
            .unwrap()
            .contains("</html>")
    );
    folder.has_no_partial();
}

#[test]
fn bad_weather_files_are_refused_with_their_place_and_leave_nothing() {
    let folder = Folder::new();
    let check = |name: &str, lines: &[String], parts: &[&str]| {
        let file = folder.file(name, &(lines.join("\n") + "\n"));
        refused(
            &folder,
            &["--weather", text(&file)],
            &[&[name], parts].concat(),
        );
    };
    let whole = golden();

    let early = &whole[..5_000];
    check(
        "early.epw",
        early,
        &["line 5000", "4992 data rows", "8760", "ends early"],
    );

    let mut column = whole.clone();
    let cells: Vec<&str> = whole[499].split(',').collect();
    column[499] = cells[..cells.len() - 1].join(",");
    check(
        "column.epw",
        &column,
        &["line 500", "found 34", "expected 35"],
    );

    // A day and a half without dry bulb: too long to be filled.
    let mut missing = whole.clone();
    (1000..1036).for_each(|line| set_cell(&mut missing, line, 7, "99.9"));
    check(
        "missing.epw",
        &missing,
        &["line 1000", "column 7 (dry bulb", "36 successive hours"],
    );

    let mut order = whole.clone();
    order.swap(2_000, 2_001);
    check("order.epw", &order, &["line 2001", "date and hour"]);

    let mut cell = whole.clone();
    set_cell(&mut cell, FIRST_ROW + 41, 7, "cold");
    check(
        "cell.epw",
        &cell,
        &["line 50", "column 7 (dry bulb", "cold"],
    );

    check(
        "log.epw",
        &["time,supply_c".to_owned(), "2025-01-01,7".to_owned()],
        &["no column with outdoor readings", "outdoor_c"],
    );
    check("zip.epw", &["PK\u{3}\u{4}".to_owned()], &["ZIP"]);
    check("none.epw", &[], &["line 1"]);
    refused(
        &folder,
        &["--weather", text(&folder.path("absent.epw"))],
        &["absent.epw", "cannot be read"],
    );
}

#[test]
fn what_can_be_filled_is_filled_and_said() {
    let folder = Folder::new();
    let mut lines = golden();
    (1000..1004).for_each(|line| set_cell(&mut lines, line, 7, "99.9"));
    let file = folder.file("gap.epw", &(lines.join("\n") + "\n"));
    let report = folder.path("report.html");
    let out = host_sim(&[
        "winter",
        "--weather",
        text(&file),
        "--days",
        "2",
        "--report",
        text(&report),
    ]);
    assert_eq!(
        out.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    let page = std::fs::read_to_string(report).unwrap();
    assert!(
        page.contains("dry bulb") && page.contains("4 hours"),
        "the report names what was filled"
    );
}

#[test]
fn bad_sites_are_refused_at_their_key_and_leave_nothing() {
    let folder = Folder::new();
    for (name, site, parts) in [
        (
            "negative.toml",
            "[house]\nwidth = \"-3.6 m\"\n",
            &["line 2", "house.width", "-3.6 m", "1 to 50 m"][..],
        ),
        (
            "absurd.toml",
            "[slab]\nconductivity = \"180 W/mK\"\n",
            &["line 2", "slab.conductivity", "180", "4 W/mK"],
        ),
        (
            "contradiction.toml",
            "[house]\neaves = \"3.0 m\"\n",
            &["line 2", "house.ridge, house.eaves", "below eaves"],
        ),
        (
            "tube.toml",
            "[slab]\n\n\ntube_depth = \"98 mm\"\n",
            &["line 4", "slab.tube_depth", "98 mm"],
        ),
        (
            "unit.toml",
            "[house]\nwidth = 3.6\n",
            &["line 2", "house.width", "unit"],
        ),
        (
            "dimension.toml",
            "[house]\nwidth = \"3.6 kg\"\n",
            &["line 2", "house.width", "kg"],
        ),
        (
            "unknown.toml",
            "[house]\nwidht = \"3.6 m\"\n",
            &["line 2", "widht", "width"],
        ),
        (
            "infinite.toml",
            "[earth]\nmean = \"inf °C\"\n",
            &["line 2", "earth.mean"],
        ),
        ("broken.toml", "[house\n", &["line 1", "TOML"]),
    ] {
        let file = folder.file(name, site);
        refused(
            &folder,
            &["--site", text(&file)],
            &[&[name], parts].concat(),
        );
    }
    refused(
        &folder,
        &["--site", text(&folder.path("absent.toml"))],
        &["absent.toml", "cannot be read"],
    );
}

#[test]
fn bad_arguments_are_refused() {
    let folder = Folder::new();
    for (args, parts) in [
        (&["--from", "2025-13-01"][..], &["--from", "2025-13-01"][..]),
        (&["--cold-snap", "much"], &["--cold-snap", "much"]),
        (&["--cold-snap", "6 K, 4 m"], &["--cold-snap", "4 m"]),
        (&["--seed=-1"], &["--seed", "-1"]),
        (&["--settings", "absent.toml"], &["absent.toml"]),
    ] {
        refused_arguments(&folder, args, parts);
    }
    let out = host_sim(&["winter", "--days", "0"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&out.stderr).contains("1..=365"));
}

/// As [`refused`], whatever the argument parser adds to its message.
#[track_caller]
fn refused_arguments(folder: &Folder, args: &[&str], parts: &[&str]) {
    let trace = folder.path("trace.csv");
    let out = host_sim(&[&["winter", "--days", "2", "--trace", text(&trace)], args].concat());
    let message = String::from_utf8_lossy(&out.stderr);
    assert_eq!(out.status.code(), Some(2), "{args:?}: {message}");
    for part in parts {
        assert!(message.contains(part), "{part:?} is not in: {message}");
    }
    assert!(out.stdout.is_empty() && folder.names().is_empty());
}

#[test]
fn an_output_may_not_be_an_input() {
    let folder = Folder::new();
    let site = folder.file("site.toml", "[house]\nwidth = \"3.6 m\"\n");
    let out = host_sim(&[
        "winter",
        "--days",
        "1",
        "--site",
        text(&site),
        "--report",
        text(&site),
    ]);
    assert_eq!(out.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&out.stderr).contains("site.toml"));
    assert_eq!(
        std::fs::read_to_string(site).unwrap(),
        "[house]\nwidth = \"3.6 m\"\n"
    );
}

/// Nobody lights the fire, and the pipes freeze: what stands in them is no store.
#[test]
fn the_coldest_store_is_the_models_and_never_ice() {
    let folder = Folder::new();
    let site = folder.file("site.toml", "[boiler]\ntending = \"by hand\"\n");
    let weather = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/data/chicago-il-725300-tmy3.epw"
    );
    let numbers = json(&[
        "winter",
        "--site",
        text(&site),
        "--weather",
        weather,
        "--from",
        "2025-12-15",
        "--days",
        "45",
        "--json",
    ]);
    assert!(numbers["water_froze_solid_time"].is_string(), "{numbers}");
    let store = numbers["store_true_min_c"].as_f64().expect("a store");
    assert!(store > 2.0, "{numbers}");
    let measured = numbers["store_min_c"].as_f64();
    assert!(measured.is_none_or(|store| store >= -1.0), "{numbers}");
}

#[test]
fn a_cold_snap_says_when_it_is_and_lies_within_the_winter() {
    let base = [
        "winter",
        "--from",
        "2025-12-01",
        "--seed",
        "3",
        "--cold-snap",
        "6 K, 4 d",
    ];
    let out = host_sim(&[&base[..], &["--days", "5"]].concat());
    let said = String::from_utf8_lossy(&out.stderr).into_owned();
    assert_eq!(out.status.code(), Some(2), "{said}");
    for part in [
        "--cold-snap",
        "begins outside of the 5 days from 2025-12-01",
        "for 4 days from",
        "--seed",
    ] {
        assert!(said.contains(part), "{part} is not in {said}");
    }
    let out = host_sim(&[&base[..], &["--days", "100", "--units", "us"]].concat());
    let said = String::from_utf8_lossy(&out.stdout).replace('\n', " ");
    assert!(
        said.contains("The cold snap is 11 °F deep for 4 days from"),
        "{said}"
    );
}

#[test]
fn a_seeded_cold_snap_takes_its_degree_hours() {
    let cold = |more: &[&str]| {
        let numbers = json(
            &[
                &["winter", "--from", "2025-12-01", "--days", "100", "--json"][..],
                more,
            ]
            .concat(),
        );
        numbers["outdoor_degree_hours_below_target"]
            .as_f64()
            .expect("a number")
    };
    // 9 K for five days with half a day of fall and of rise: 9 · (120 + 12) K·h, less where it was warm enough to begin with.
    let added = cold(&["--cold-snap", "9 K, 5 d"]) - cold(&[]);
    assert!((600.0..1188.5).contains(&added), "{added} K·h");
}

/// Nothing warms the slab: the circuit is drained of heat, not of water.
const LEFT_ALONE: &str = "mode = \"drained\"\n";

#[test]
fn ice_comes_first_on_the_screen_on_the_page_in_the_json_and_in_the_exit_code() {
    let folder = Folder::new();
    let settings = folder.file("alone.toml", LEFT_ALONE);
    let report = folder.path("winter.html");
    let run = [
        "winter",
        "--from",
        "2025-12-18",
        "--days",
        "6",
        "--settings",
        text(&settings),
    ];
    let out = host_sim(&[&run[..], &["--report", text(&report), "--units", "us"]].concat());
    assert_eq!(out.status.code(), Some(1), "{out:?}");
    let said = String::from_utf8_lossy(&out.stdout);
    let first = said.lines().nth(3).expect("a first sentence");
    assert!(first.starts_with("Water froze solid on 2025-12-"), "{said}");
    assert!(
        said.contains("the air of the house") && said.contains("its coldest part"),
        "{said}"
    );
    assert!(!said.contains("°C"), "{said}");
    let page = std::fs::read_to_string(&report).expect("a page");
    let answer = page.split("class=\"sentence\"").nth(1).expect("an answer");
    let answer = answer.split("</p>").next().expect("its end");
    assert!(answer.contains("Water froze solid on 2025-12-"), "{answer}");
    assert!(answer.contains("the air of the house fell to"), "{answer}");
    let numbers = json(&[&run[..], &["--json"]].concat());
    assert!(
        numbers["water_froze_solid_time"].as_str().is_some(),
        "{numbers}"
    );
    assert!(
        numbers["air_hours_below_zero"].as_f64() > Some(24.0),
        "{numbers}"
    );
    assert!(
        numbers["slab_true_min_c"].as_f64() < numbers["slab_min_c"].as_f64(),
        "{numbers}"
    );
}

#[test]
fn a_mild_week_holds_and_exits_with_nought() {
    let out = host_sim(&["winter", "--from", "2025-10-15", "--days", "3"]);
    let said = String::from_utf8_lossy(&out.stdout);
    assert_eq!(out.status.code(), Some(0), "{said}");
    assert!(
        said.contains("The slab held") && said.contains("the air of the house"),
        "{said}"
    );
    let help = host_sim(&["winter", "--help"]);
    assert!(String::from_utf8_lossy(&help.stdout).contains("Exit code 0: the slab held; 1:"));
}

/// 43 m of tube on a floor that 86 m cover: what is said of the slab is said of the part with tube, the other part beside it.
#[test]
fn floor_without_tube_is_told_beside_what_held() {
    let folder = Folder::new();
    let site = folder.path("half.toml");
    std::fs::write(&site, "[slab]\ncircuit_length = \"43 m\"\n").expect("a site file");
    let run = [
        "winter",
        "--from",
        "2025-11-10",
        "--days",
        "4",
        "--site",
        text(&site),
    ];
    let out = host_sim(&run);
    let said = String::from_utf8_lossy(&out.stdout);
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        said.contains("50 % of the floor has no tube: there it fell to "),
        "{said}"
    );
    let numbers = json(&[&run[..], &["--json"]].concat());
    assert_eq!(numbers["slab_bare_share"].as_f64(), Some(0.502));
    assert!(
        numbers["slab_bare_min_c"].as_f64() < numbers["slab_true_min_c"].as_f64(),
        "{numbers}"
    );
    assert!(
        numbers["slab_bare_edge_kwh"].as_f64() > Some(0.0),
        "{numbers}"
    );
    let whole = json(&["winter", "--from", "2025-11-10", "--days", "2", "--json"]);
    assert!(whole.get("slab_bare_share").is_none(), "{whole}");
}

#[test]
fn years_follow_one_another_without_a_break() {
    let one = json(&["winter", "--years", "1", "--json"]);
    let two = json(&["winter", "--years", "2", "--json"]);
    let years = two["years"].as_array().expect("years");
    assert_eq!(years.len(), 2);
    assert_eq!(years[0], one["years"][0]);
    assert_eq!(two["days"].as_f64(), Some(730.0));
    let of = |year: usize, key: &str| years[year][key].as_f64().expect("a number");
    // The store begins its second winter where the first year left it: near where it began, not at undisturbed ground.
    let begins = |year| of(year, "store_floor_start_c");
    assert!(
        (begins(1) - begins(0)).abs() < 2.0 && begins(1) != begins(0),
        "{years:?}"
    );
    let heat = two["earth_heat_kwh"].as_f64().expect("heat");
    let sum = of(0, "earth_heat_kwh") + of(1, "earth_heat_kwh");
    assert!((heat - sum).abs() < 0.01, "{heat} {sum}");
    let out = host_sim(&["winter", "--years", "2", "--days", "9"]);
    assert_eq!(out.status.code(), Some(2));
}
