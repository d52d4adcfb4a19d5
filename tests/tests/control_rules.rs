//! `docs/control-rules.md` and `docs/hazards.md` tell the truth: every test and drill they name
//! exists, every rule is held by something, and the table of lost sensors is the one in the code.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use controller_core::fallback::{self, Always, CallOn, Row, SlabFrom, Timed, Worth};
use controller_core::time::Duration;
use controller_core::units::Celsius;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn read(path: &str) -> String {
    let path = root().join(path);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// One numbered rule with the names it gives as its proof.
#[derive(Debug)]
struct Rule {
    number: usize,
    tests: Vec<String>,
    drills: Vec<String>,
}

/// Everything in back quotes.
fn quoted(text: &str) -> Vec<String> {
    text.split('`')
        .skip(1)
        .step_by(2)
        .map(str::to_owned)
        .collect()
}

/// Paragraphs of the page; a rule is one that begins with its number.
fn rules(page: &str) -> Vec<Rule> {
    page.split("\n\n")
        .filter_map(|paragraph| {
            let (number, rest) = paragraph.strip_prefix("**R")?.split_once("**")?;
            let (_, held) = rest
                .split_once("Held by ")
                .unwrap_or_else(|| panic!("rule {number} says nothing of its tests"));
            let (tests, drills) = held.split_once("drills ").unwrap_or((held, ""));
            Some(Rule {
                number: number.parse().expect("a number"),
                tests: quoted(tests),
                drills: quoted(drills),
            })
        })
        .collect()
}

/// Names of all tests in the sources of the workspace.
fn tests() -> BTreeSet<String> {
    fn visit(folder: &Path, found: &mut BTreeSet<String>) {
        for entry in std::fs::read_dir(folder).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.is_dir() && path.file_name().is_some_and(|name| name != "target") {
                visit(&path, found);
            } else if path.extension().is_some_and(|extension| extension == "rs") {
                let text = std::fs::read_to_string(&path).expect("UTF-8");
                for part in text.split("#[test]").skip(1) {
                    let name = part.split("fn ").nth(1).unwrap_or_default();
                    let name = name.split(['(', '<']).next().unwrap_or_default();
                    found.insert(name.trim().to_owned());
                }
            }
        }
    }
    let mut found = BTreeSet::new();
    for folder in ["controller-core", "host-sim", "tests/tests"] {
        visit(&root().join(folder), &mut found);
    }
    found
}

#[test]
fn every_rule_is_numbered_and_held_by_tests_and_drills_that_exist() {
    let rules = rules(&read("docs/control-rules.md"));
    let numbers: Vec<_> = rules.iter().map(|rule| rule.number).collect();
    assert_eq!(numbers, (1..=rules.len()).collect::<Vec<_>>());
    assert!(rules.len() > 40, "{}", rules.len());
    let known = tests();
    let drills = host_sim::drill::built_in().expect("the built-in drills");
    let mut missing = Vec::new();
    for rule in &rules {
        if rule.tests.is_empty() && rule.drills.is_empty() {
            missing.push(format!("R{}: held by nothing", rule.number));
        }
        for test in rule.tests.iter().filter(|test| !known.contains(*test)) {
            missing.push(format!("R{}: no test {test}", rule.number));
        }
        for name in &rule.drills {
            if !drills.iter().any(|drill| drill.name == *name) {
                missing.push(format!("R{}: no drill {name}", rule.number));
            }
        }
    }
    assert!(missing.is_empty(), "{}", missing.join("\n"));
}

#[test]
fn every_drill_holds_a_rule() {
    let rules = rules(&read("docs/control-rules.md"));
    let drills = host_sim::drill::built_in().expect("the built-in drills");
    let orphans: Vec<_> = drills
        .iter()
        .map(|drill| drill.name.as_str())
        .filter(|name| {
            !rules
                .iter()
                .any(|rule| rule.drills.iter().any(|d| d == name))
        })
        .collect();
    assert!(orphans.is_empty(), "{orphans:?}");
}

#[test]
fn hazards_name_rules_and_drills_that_exist() {
    let rules = rules(&read("docs/control-rules.md"));
    let drills = host_sim::drill::built_in().expect("the built-in drills");
    let page = read("docs/hazards.md");
    let rows: Vec<Vec<&str>> = page
        .lines()
        .filter(|line| line.starts_with("| ") && !line.starts_with("| Hazard"))
        .map(|line| line.split('|').map(str::trim).collect())
        .collect();
    assert!(rows.len() > 20, "{}", rows.len());
    for row in &rows {
        let [_, hazard, _, held, proof, ..] = row.as_slice() else {
            panic!("{row:?} has too few cells");
        };
        for rule in held.split(", ").filter_map(|name| name.strip_prefix('R')) {
            let number: usize = rule.parse().expect("a rule's number");
            assert!((1..=rules.len()).contains(&number), "{hazard}: R{number}");
        }
        for name in quoted(proof) {
            assert!(
                drills.iter().any(|d| d.name == name),
                "{hazard}: no drill {name}"
            );
        }
    }
}

#[test]
fn the_table_is_the_code_s() {
    let page = read("docs/control-rules.md");
    let table: Vec<Vec<&str>> = page
        .lines()
        .skip_while(|line| !line.starts_with("| Lost |"))
        .skip(2)
        .take_while(|line| line.starts_with("| "))
        .map(|line| line.trim_matches('|').split('|').map(str::trim).collect())
        .collect();
    assert_eq!(table.len(), 16);
    for (lost, line) in (0_u8..).zip(&table) {
        let (reason, cells) = line.split_last().expect("cells");
        assert_eq!(cells, expected(lost), "row {lost:04b}");
        assert!(!reason.is_empty(), "row {lost:04b} gives no reason");
    }
}

/// A row of the code in the page's words.
fn expected(lost: u8) -> Vec<String> {
    let row: &Row = fallback::row(lost);
    let names = ["supply", "return", "slab", "outdoor"];
    let lost: Vec<_> = names
        .into_iter()
        .enumerate()
        .filter(|(bit, _)| lost >> bit & 1 == 1)
        .map(|(_, name)| name)
        .collect();
    let none = || "–".to_owned();
    let worth = match row.worth {
        Worth::Difference => "difference",
        Worth::Return => "return",
        Worth::Supply => "supply",
        Worth::Unjudged => "unjudged",
    };
    let slab = match row.slab {
        SlabFrom::Sensor => "sensor",
        SlabFrom::Water => "water",
    };
    let always = match row.always {
        Always::Never => none(),
        Always::Winter => "in winter".to_owned(),
        Always::OutdoorBelow(limit) => format!("outdoor mean below {}", degrees(limit)),
        Always::WaterBelow(limit) => format!("water below {}", degrees(limit)),
        Always::SupplyAbove(limit) => format!("supply from {}", degrees(limit)),
    };
    let on = match row.call.on {
        CallOn::Everything => "everything",
        CallOn::Slab => "slab",
        CallOn::WaterOrOutdoor => "water or outdoor",
        CallOn::Water => "water",
        CallOn::Outdoor => "outdoor",
        CallOn::ColdReturn => "cold return",
        CallOn::ColdSupply => "cold supply",
        CallOn::Blind => "blind",
    };
    let yes = |yes: bool| if yes { "yes".to_owned() } else { none() };
    let limit = |limit: Celsius| if binds(limit) { degrees(limit) } else { none() };
    vec![
        if lost.is_empty() {
            "none".to_owned()
        } else {
            lost.join(", ")
        },
        worth.to_owned(),
        slab.to_owned(),
        always,
        row.timed.map_or_else(none, |timed| clock(&timed)),
        row.supply_stop.map_or_else(none, degrees),
        yes(row.long_runs),
        on.to_owned(),
        yes(row.call.needs_hard_limit),
        format!("{} %", row.call.duty_percent),
        limit(row.call.supply_target),
        limit(row.call.supply_soft),
        row.call.return_stop.map_or_else(none, degrees),
    ]
}

/// Warmer than anything in this house: no limit at all.
fn binds(limit: Celsius) -> bool {
    limit < Celsius::from_milli(200_000)
}

fn degrees(t: Celsius) -> String {
    format!("{} °C", f64::from(t.to_bits()) / 65_536.0)
}

fn clock(timed: &Timed) -> String {
    let minutes = |time: Duration| time.as_secs() / 60;
    let times = format!("{} on, {} off", minutes(timed.on), minutes(timed.off));
    if binds(timed.outdoor_below) {
        format!(
            "{times}, outdoor mean below {}",
            degrees(timed.outdoor_below)
        )
    } else {
        times
    }
}
