//! `docs/control-rules.md` and `docs/hazards.md` tell the truth: every test and drill they name
//! exists, and every rule is held by something.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

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
    for folder in ["controller-core", "host-sim", "firmware/app", "tests/tests"] {
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
    let drills = host_sim::questions::drill::built_in().expect("the built-in drills");
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
fn every_drill_stands_on_a_page() {
    let pages = [read("docs/control-rules.md"), read("docs/hazards.md")];
    let named: BTreeSet<String> = pages.iter().flat_map(|page| quoted(page)).collect();
    let drills = host_sim::questions::drill::built_in().expect("the built-in drills");
    let orphans: Vec<_> = drills
        .iter()
        .map(|drill| drill.name.as_str())
        .filter(|name| !named.contains(*name))
        .collect();
    assert!(orphans.is_empty(), "{orphans:?}");
}

#[test]
fn hazards_name_rules_and_drills_that_exist() {
    let rules = rules(&read("docs/control-rules.md"));
    let drills = host_sim::questions::drill::built_in().expect("the built-in drills");
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
