//! `host-sim lay` as a person or a program calls it: exit codes, messages, files.

use crate::support::{self, Folder, host_sim, text};

const L_SHAPE: &str = r#"
[floor]
corners = ["0 m, 0 m", "6 m, 0 m", "6 m, 2.4 m", "3 m, 2.4 m", "3 m, 4.8 m", "0 m, 4.8 m"]
edge_distance = "0.10 m"
bend_radius = "0.08 m"
"#;

#[track_caller]
fn json(args: &[&str], code: i32) -> serde_json::Value {
    support::json(&[&["lay", "--json"], args].concat(), code)
}

#[track_caller]
fn refused(folder: &Folder, args: &[&str], parts: &[&str]) {
    let drawing = folder.path("plan.svg");
    let before = folder.names();
    let out = host_sim(&[&["lay", "--write-svg", text(&drawing)], args].concat());
    let message = String::from_utf8_lossy(&out.stderr);
    assert_eq!(out.status.code(), Some(2), "{message}");
    assert!(out.stdout.is_empty());
    for part in parts {
        assert!(message.contains(part), "{part:?} is not in: {message}");
    }
    assert_eq!(folder.names(), before, "nothing is written");
}

#[test]
fn the_demo_floor_is_laid_in_words_and_for_programs() {
    let out = host_sim(&["lay", "--printed", "37 m"]);
    let shown = String::from_utf8(out.stdout).expect("UTF-8");
    assert_eq!(out.status.code(), Some(0), "{shown}");
    for part in [
        "IT CAN BE LAID AS DRAWN",
        "double spiral of 16x2.0",
        "Turn the coil over at corner",
        "A coil of 100.0 m",
        "Corners of circuit 1",
        "printed there",
        "circuit_length = \"",
        "docs/laying.md tells",
    ] {
        assert!(shown.contains(part), "{part:?} is not in:\n{shown}");
    }
    assert!(!shown.contains('\u{1b}'), "no colour in a pipe");
    let numbers = json(&["--printed", "137 m down"], 0);
    let circuit = &numbers["circuits"][0];
    let corners = circuit["corners"].as_array().expect("a table");
    assert_eq!(
        corners.len(),
        circuit["bends"].as_u64().expect("bends") as usize + 2
    );
    let last = corners.last().expect("an end");
    let sum = last["printed_m"].as_f64().unwrap() + last["tube_m"].as_f64().unwrap();
    assert!((sum - 137.0).abs() < 1e-9);
    assert!(
        (last["tube_m"].as_f64().unwrap() - circuit["length_m"].as_f64().unwrap()).abs() < 1e-9
    );
    assert!(numbers["served_m2"].as_f64().unwrap() > 20.5);
}

#[test]
fn drawing_sheets_and_report_are_to_scale_and_safe() {
    let folder = Folder::new();
    let plan = folder.file("plan.toml", L_SHAPE);
    let [svg, pdf, report] = ["plan.svg", "plan.pdf", "plan.html"].map(|name| folder.path(name));
    let args = [
        "lay",
        "--plan",
        text(&plan),
        "--spacing",
        "0.20 m",
        "--scale",
        "20",
        "--write-svg",
        text(&svg),
        "--write-pdf",
        text(&pdf),
        "--report",
        text(&report),
    ];
    let out = host_sim(&args);
    assert_eq!(
        out.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    let drawing = std::fs::read_to_string(&svg).expect("a drawing");
    // 1:20: a metre of the viewBox is 50 mm of paper.
    let number = |after: &str| -> f64 {
        let rest = &drawing[drawing.find(after).expect(after) + after.len()..];
        rest[..rest.find(['m', '"', ' ']).expect("an end")]
            .parse()
            .expect("a number")
    };
    assert!((number("width=\"") / number("viewBox=\"0 0 ") - 50.0).abs() < 0.01);
    assert!(drawing.contains("1 m: measure this bar") && drawing.contains("stroke-dasharray"));
    assert!(!drawing.contains("<script") && !drawing.contains("NaN"));
    let sheets = std::fs::read(&pdf).expect("sheets");
    assert!(sheets.starts_with(b"%PDF-"));
    let page = std::fs::read_to_string(&report).expect("a page");
    assert!(
        page.matches("<figure").count() == 2 && page.contains("</html>") && page.len() < 700_000
    );
}

#[test]
fn size_judges_what_is_written() {
    let folder = Folder::new();
    let site = folder.file(
        "site.toml",
        "# mine\n[house]\nwidth = \"3.6 m\" # measured\n\n[slab]\nspacing = \"0.20 m\"\n",
    );
    let laid = folder.path("laid.toml");
    let numbers = json(&["--site", text(&site), "--write-site", text(&laid)], 0);
    let written = std::fs::read_to_string(&laid).expect("a site file");
    assert!(
        written.starts_with("# mine\n[house]\nwidth = \"3.6 m\" # measured\n"),
        "{written}"
    );
    for line in numbers["size_lines"].as_array().expect("lines") {
        let key = line["key"].as_str().unwrap().trim_start_matches("slab.");
        assert!(
            written.contains(&format!("# As drawn by host-sim lay.\n{key} = ")),
            "{key} in {written}"
        );
    }
    let out = host_sim(&["size", "--json", "--site", text(&laid)]);
    let check: serde_json::Value = serde_json::from_slice(&out.stdout).expect("a check");
    let slab = &check["floors"][0];
    let served = numbers["served_m2"].as_f64().unwrap();
    assert!(
        (slab["heated_area_m2"].as_f64().unwrap() - served).abs() < 0.02,
        "{slab}"
    );
    // Without a site a file of its own, and never in the place of an input.
    let own = folder.path("own.toml");
    json(&["--write-site", text(&own)], 0);
    assert_eq!(
        host_sim(&["size", "--site", text(&own)]).status.code(),
        Some(0)
    );
    let out = host_sim(&["lay", "--site", text(&site), "--write-site", text(&site)]);
    assert_eq!(out.status.code(), Some(2));
}

/// A plan that is another rectangle than the site's house: its sides go into the file as well.
#[test]
fn a_larger_plan_can_be_judged() {
    let folder = Folder::new();
    let plan = folder.file("plan.toml", "[floor]\nwidth = \"4 m\"\nlength = \"7 m\"\n");
    let laid = folder.path("laid.toml");
    let out = host_sim(&["lay", "--plan", text(&plan), "--write-site", text(&laid)]);
    assert!(String::from_utf8_lossy(&out.stdout).contains("this plan 28.0 m²"));
    let written = std::fs::read_to_string(&laid).expect("a site file");
    assert!(
        written.contains("width = \"4 m\"") && written.contains("length = \"7 m\""),
        "{written}"
    );
    let size = host_sim(&["size", "--site", text(&laid)]);
    assert!(
        size.status.code().is_some_and(|code| code < 2),
        "{}",
        String::from_utf8_lossy(&size.stderr)
    );
}

#[test]
fn both_layouts_are_compared() {
    let numbers = json(&["--layout", "both"], 0);
    let ratio = |of: &serde_json::Value| of["evenness"]["ratio"].as_f64().expect("a ratio");
    assert!(ratio(&numbers) < ratio(&numbers["other_layout"]));
    let out = host_sim(&["lay", "--layout", "both"]);
    assert!(String::from_utf8_lossy(&out.stdout).contains("to and fro: "));
}

#[test]
fn us_units_change_what_is_shown_and_nothing_else() {
    let out = host_sim(&["lay", "--units", "us"]);
    let shown = String::from_utf8(out.stdout).expect("UTF-8");
    for part in ["ft²", "°F", " in", "A coil of 300.0 ft", "' "] {
        assert!(shown.contains(part), "{part}");
    }
    assert!(
        !shown.contains(" °C") && !shown.contains(" mm") && !shown.contains(" m "),
        "{shown}"
    );
    let [si, us] = ["si", "us"].map(|units| json(&["--units", units], 0));
    for key in ["served_m2", "evenness", "left_out"] {
        assert_eq!(si[key], us[key], "{key}");
    }
}

#[test]
fn a_crossed_limit_gives_one_and_the_drawing_all_the_same() {
    let folder = Folder::new();
    let svg = folder.path("plan.svg");
    let out = host_sim(&["lay", "--spacing", "0.07 m", "--write-svg", text(&svg)]);
    let shown = String::from_utf8_lossy(&out.stdout);
    assert_eq!(out.status.code(), Some(1), "{shown}");
    assert!(
        shown.contains("LIMIT") && shown.contains("Spacing too small for this tube's bend"),
        "{shown}"
    );
    assert!(
        std::fs::read_to_string(&svg)
            .expect("a drawing")
            .ends_with("</svg>\n")
    );
}

#[test]
fn what_cannot_be_used_is_refused_and_nothing_is_written() {
    let folder = Folder::new();
    let crossing = folder.file(
        "crossing.toml",
        "[floor]\ncorners = [\"0 m, 0 m\", \"4 m, 0 m\", \"4 m, 3 m\", \"2 m, 3 m\", \"2 m, -1 m\", \"0 m, -1 m\"]\n",
    );
    let plan = folder.file("plan.toml", L_SHAPE);
    let tiny = folder.file(
        "tiny.toml",
        "[floor]\nwidth = \"0.5 m\"\nlength = \"0.6 m\"\n",
    );
    let huge = folder.file(
        "huge.toml",
        "[floor]\nwidth = \"190 m\"\nlength = \"190 m\"\n",
    );
    let mesh = folder.file(
        "mesh.toml",
        "[floor]\nwidth = \"3 m\"\nlength = \"6 m\"\nmesh = \"0.15 m\"\n",
    );
    let many = folder.file(
        "many.toml",
        "[floor]\nwidth = \"1 m\"\nlength = \"1 m\"\ncircuits = 9\n",
    );
    for (args, parts) in [
        (
            vec!["--plan", text(&crossing)],
            vec![
                "crossing.toml: line 2, column",
                "floor.corners",
                "meets the side",
                "expected",
            ],
        ),
        (
            vec!["--plan", text(&tiny)],
            vec!["without room", "expected"],
        ),
        (
            vec!["--plan", text(&huge), "--spacing", "0.1 m"],
            vec!["400 000", "units"],
        ),
        (
            vec!["--plan", text(&mesh), "--spacing", "0.2 m"],
            vec!["200 mm on a mesh of 150 mm", "150 mm or 300 mm"],
        ),
        (vec!["--plan", text(&many)], vec!["9 circuits", "expected"]),
        (
            vec!["--spacing", "0.2"],
            vec!["--spacing", "without a unit"],
        ),
        (vec!["--spacing", "5 m"], vec!["--spacing", "0.05 m to 1 m"]),
        (vec!["--spacing", "0.2 kg"], vec!["--spacing", "a mass"]),
        (vec!["--printed", "soon"], vec!["--printed"]),
        (vec!["--coils", "none"], vec!["--coils"]),
        (vec!["--scale", "1"], vec!["--scale"]),
        (vec!["--layout", "round"], vec!["--layout", "counter-flow"]),
        (
            vec!["--plan", "/nowhere/plan.toml"],
            vec!["/nowhere/plan.toml"],
        ),
        (
            vec!["--plan", text(&plan), "--write-pdf", text(&plan)],
            vec!["an input of this run"],
        ),
    ] {
        refused(&folder, &args, &parts);
    }
}
