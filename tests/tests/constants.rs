//! `docs/constants.md` is what the code says, and every number of the code says what it is.

use std::path::Path;

#[path = "../examples/constants.rs"]
mod page;

#[test]
fn the_page_of_constants_is_the_codes() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs/constants.md");
    let written = std::fs::read_to_string(&path).expect("docs/constants.md");
    assert!(
        written == page::page(),
        "docs/constants.md is out of date: cargo run -q -p system-tests --example constants > docs/constants.md"
    );
}

#[test]
fn every_constant_says_what_it_is() {
    let page = page::page();
    let bare: Vec<&str> = page.lines().filter(|line| line.ends_with("|  |")).collect();
    assert!(bare.is_empty(), "without a doc line: {bare:#?}");
    assert!(page.lines().filter(|line| line.starts_with("| `")).count() > 80);
}

#[test]
fn a_constant_without_words_of_its_own_has_those_of_its_group() {
    let text = "/// Waits, first and later.\nconst A: Duration = Duration::from_secs(1);\nconst B: u8 = 2; // x\n\n\
                const C: u8 = 3;\n    const D: u8 = 4;\n";
    let found = page::constants(text);
    let told: Vec<_> = found
        .iter()
        .map(|c| (c.name.as_str(), c.value.as_str(), c.doc.as_str()))
        .collect();
    assert_eq!(
        told,
        [
            ("A", "Duration::from_secs(1)", "Waits, first and later."),
            ("B", "2", "Waits, first and later."),
            ("C", "3", ""),
        ]
    );
}
