//! Every page as its reader gets it: small, whole, from disk alone, with house, date and version, the answer first.

use std::path::Path;
use std::process::Command;

use crate::support::{COLD_NIGHT, Folder, host_sim, text};

const LOG: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/data/demo-week.csv");

/// Runs a command at a date made that is given, and reads its page.
fn page(folder: &Folder, args: &[&str], name: &str) -> String {
    let report = folder.path(name);
    let out = Command::new(env!("CARGO_BIN_EXE_host-sim"))
        .args(args)
        .args(["--report", text(&report)])
        .env("SOURCE_DATE_EPOCH", "1700000000")
        .output()
        .expect("host-sim runs");
    assert!(
        matches!(out.status.code(), Some(0 | 1)),
        "{args:?}: {}",
        String::from_utf8_lossy(&out.stderr)
    );
    std::fs::read_to_string(&report).expect("a page")
}

/// What holds for all pages.
fn is_sound(page: &str, title: &str, house: &str) {
    assert!(page.len() < 700_000, "{title}: {} bytes", page.len());
    assert!(page.starts_with("<!doctype html>") && page.trim_end().ends_with("</html>"));
    for foreign in [
        "http:",
        "https:",
        "src=",
        "href=",
        "@import",
        "<script",
        "<link",
        "<img",
        "javascript",
        "onload",
    ] {
        assert!(!page.contains(foreign), "{title}: {foreign}");
    }
    assert!(!page.replace("url(#", "").contains("url("), "{title}");
    assert!(
        page.contains("<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none';")
    );
    assert!(page.contains("width=device-width"));
    assert!(
        page.contains(&format!("<title>{title} · {house}</title>")),
        "{title}"
    );
    let made = format!(
        "Made 2023-11-14 22:13 by host-sim {}",
        env!("CARGO_PKG_VERSION")
    );
    assert!(page.contains(&made), "{title}");
    for nonsense in ["NaN", "inf°", "Infinity"] {
        assert!(!page.contains(nonsense), "{title}: {nonsense}");
    }
    assert!(page.contains("Not a safety device"), "{title}");
}

/// Text between two marks.
fn between<'a>(page: &'a str, from: &str, to: &str) -> &'a str {
    let start = page
        .find(from)
        .unwrap_or_else(|| panic!("{from} is not in the page"))
        + from.len();
    let end = page[start..].find(to).expect("an end");
    &page[start..start + end]
}

#[test]
fn a_replays_page() {
    let folder = Folder::new();
    let html = page(&folder, &["replay", LOG], "replay.html");
    is_sound(&html, "Replay of demo-week.csv", "demo-week");
    let first = between(&html, "<table", "</table>");
    for row in [
        "Coldest slab",
        "Coldest house air",
        "House air below freezing",
        "Circulator electricity",
    ] {
        assert!(first.contains(row), "{row}");
    }
    // The coldest slab is in the sentence, in the first table and marked in the drawing: for both screens, in both pictures.
    let coldest = between(first, "Coldest slab</td><td class=\"number\">", "</td>");
    assert!(html.contains(&format!("Coldest {coldest}")));
    assert_eq!(
        html.matches(&format!(">{coldest}</text>")).count(),
        4,
        "{coldest}"
    );
    assert_eq!(folder.names(), ["replay.html"]);
    // The same again gives the same bytes.
    assert!(html == page(&folder, &["replay", LOG], "again.html"));
}

#[test]
fn a_winters_page_is_by_day_with_its_coldest_week() {
    let folder = Folder::new();
    let html = page(&folder, &["winter", "--days", "100"], "winter.html");
    is_sound(&html, "A winter of the plant house", "the demo house");
    assert!(html.contains("The season by day") && html.contains("The week about the coldest slab"));
    let first = between(&html, "<table", "</table>");
    for text in [
        "without the boiler",
        "without the loop",
        "Wood burnt",
        "Coldest house air",
        "Water frozen solid",
    ] {
        assert!(first.contains(text), "{text}");
    }
    assert!(html.find("<table") < html.find("<figure"));
    assert!(
        !html.contains("what the sensor pair may be off"),
        "that is a replay's remark"
    );
}

#[test]
fn a_design_checks_page_draws_the_loop() {
    let folder = Folder::new();
    let site = folder.file("glass house.toml", "[slab]\nspacing = \"0.2 m\"\n");
    let args = ["size", "--site", text(&site), "--units", "us"];
    let html = page(&folder, &args, "size.html");
    is_sound(&html, "Design check of the loop", "glass house");
    for words in [
        "the loop needs",
        "the circulator has",
        "operating point",
        "Section through both floors",
        "House slab: 3.9 in of concrete",
        "every 7.9 in",
        "Store floor: ",
    ] {
        assert!(html.contains(words), "{words}");
    }
    // Cautions come before points to check.
    let answer = between(&html, "<div class=\"answer", "</div>");
    let (caution, check) = (answer.find("<li>Caution: "), answer.find("<li>Check: "));
    assert!(caution.is_some() && caution < check, "{answer}");
}

#[test]
fn tonights_page_draws_the_fire_and_when_to_light_it() {
    let folder = Folder::new();
    let html = page(&folder, &COLD_NIGHT, "tonight.html");
    is_sound(&html, "Tonight", "the demo house");
    for words in [
        "slab, no fire",
        "slab with the fire",
        "target 1.5 °C",
        "sunrise ",
    ] {
        assert!(html.contains(words), "{words}");
    }
    // The mark stands at the time of the table.
    let row = between(&html, "<td>Light the fire</td><td>by ", ";");
    assert_eq!(
        html.matches(&format!(">light by {row}</text>")).count(),
        2,
        "{row}"
    );
}

#[test]
fn a_page_of_what_rules_are_worth_has_the_tables_of_the_text() {
    let folder = Folder::new();
    let args = ["compare", "--from", "2025-12-20", "--days", "2"];
    let html = page(&folder, &args, "comparison.html");
    is_sound(&html, "What each rule is worth", "the demo house");
    let out = host_sim(&args);
    let screen = String::from_utf8(out.stdout).expect("UTF-8");
    let row = screen
        .lines()
        .find(|line| line.starts_with("plain thermostats"))
        .expect("a row");
    let first = between(&html, "<table", "</table>");
    let cells = between(first, "<tr><td>plain thermostats</td>", "</tr>");
    for number in row["plain thermostats".len()..].split_whitespace() {
        assert!(
            cells.contains(&format!(">{number}</td>")),
            "{number} in {cells}"
        );
    }
    assert_eq!(html.matches("<h2>Winter: ").count(), 2);
}

#[test]
fn a_page_of_spells_has_the_tables_of_the_text() {
    let folder = Folder::new();
    let args = [
        "spells", "--house", "demo", "--seeds", "0..2", "--days", "7",
    ];
    let html = page(&folder, &args, "spells.html");
    is_sound(&html, "Cold spells with faults", "demo");
    for words in [
        "House by house",
        "Fault by fault",
        "avoidable, one fault",
        "Means a spell at the right.",
    ] {
        assert!(html.contains(words), "{words}");
    }
    let refused = host_sim(&["spells", "--seed", "1", "--report", "x.html"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(!Path::new("x.html").exists());
}

#[test]
fn a_drills_page_and_screen_say_what_to_do() {
    let folder = Folder::new();
    let args = ["drill", "--drill", "fire-not-lit-in-the-house"];
    let html = page(&folder, &args, "drill.html");
    is_sound(&html, "Drill: fire-not-lit-in-the-house", "the demo house");
    let out = host_sim(&args);
    let screen = String::from_utf8(out.stdout).expect("UTF-8");
    let told = screen
        .split("Alarms, and what to do:\n")
        .nth(1)
        .expect("alarms");
    assert!(told.contains("  fire out, alarm: "), "{told}");
    assert!(
        told.contains("\n    > Light or feed the fire, then acknowledge to retry at once.\n"),
        "{told}"
    );
}
