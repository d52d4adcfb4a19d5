//! The folders of the crate are layers: each uses only those below it. Read from the code's own paths. The lowest is the crate of
//! the engine, known here as `sim`.

use std::fs;
use std::path::{Path, PathBuf};

/// The lowest first; those on one line know nothing of each other.
const LAYERS: [&[&str]; 7] = [
    &["sim"],
    &["files"],
    &["account"],
    &["questions", "serial"],
    &["watch"],
    &["present"],
    &["cli"],
];

/// What an engine without files, threads, clock or terminal has no use for.
const NOT_IN_THE_ENGINE: [&str; 8] = [
    "std::fs",
    "std::io",
    "std::env",
    "std::path",
    "std::thread",
    "std::time",
    "rayon",
    "println!",
];

fn rank(layer: &str) -> Option<usize> {
    LAYERS.iter().position(|names| names.contains(&layer))
}

/// Code files below a folder, without tests.
fn code(folder: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).expect("a folder of the crate") {
            let path = entry.expect("an entry of it").path();
            let name = path.file_name().unwrap_or_default().to_string_lossy();
            if path.is_dir() && name != "tests" {
                folders.push(path);
            } else if name.ends_with(".rs") && !name.ends_with("tests.rs") {
                files.push(path);
            }
        }
    }
    files
}

/// Names of the layers that a text uses, with the lines: what follows `crate::`, alone or in braces.
fn used(text: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    for (at, _) in text.match_indices("crate::") {
        let line = text[..at].lines().count();
        let rest = &text[at + "crate::".len()..];
        let names = match rest.strip_prefix('{') {
            Some(group) => group.split('}').next().unwrap_or_default(),
            None => rest
                .split(|c: char| !c.is_alphanumeric() && c != '_')
                .next()
                .unwrap_or_default(),
        };
        let first = |name: &str| {
            let name = name.trim();
            name.split(':').next().unwrap_or_default().to_owned()
        };
        found.extend(names.split(',').map(|name| (line, first(name))));
    }
    found
}

/// Uses that go upwards or sideways, as sentences.
fn wrong_uses(layer: &str, file: &str, text: &str) -> Vec<String> {
    let own = rank(layer);
    used(text)
        .into_iter()
        .filter(|(_, name)| name != layer && rank(name).is_some() && rank(name) >= own)
        .map(|(line, name)| format!("{file}, line {line}: {layer} uses {name}"))
        .collect()
}

fn source() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

fn folder(layer: &str) -> PathBuf {
    match layer {
        "sim" => source().join("../engine/src"),
        _ => source().join(layer),
    }
}

#[test]
fn every_layer_uses_only_those_below() {
    let mut wrong = Vec::new();
    for layer in LAYERS.into_iter().flatten() {
        let files = code(&folder(layer));
        assert!(!files.is_empty(), "{layer} holds no code");
        for file in files {
            let text = fs::read_to_string(&file).expect("a source file");
            wrong.extend(wrong_uses(layer, &file.display().to_string(), &text));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_folder_is_a_layer() {
    for entry in fs::read_dir(source()).expect("the crate's source") {
        let path = entry.expect("an entry of it").path();
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        assert!(
            rank(&name).is_some() || name == "lib.rs" || name == "main.rs",
            "{name} is no layer"
        );
    }
}

#[test]
fn the_engine_knows_no_files_threads_clock_or_terminal() {
    for file in code(&folder("sim")) {
        let text = fs::read_to_string(&file).expect("a source file");
        for name in NOT_IN_THE_ENGINE {
            assert!(!text.contains(name), "{} has {name}", file.display());
        }
    }
}

#[test]
fn a_use_upwards_is_found_in_any_form() {
    let upwards = "use crate::present::Page;\nuse crate::{files::log, cli};\nlet x = crate::questions::replay::run();";
    let found = wrong_uses("account", "a.rs", upwards);
    assert_eq!(found.len(), 3, "{found:?}");
    assert!(found[1].ends_with("account uses cli"), "{found:?}");
    assert!(wrong_uses("serial", "a.rs", "use crate::questions::size;").len() == 1);
    assert!(wrong_uses("cli", "a.rs", upwards).is_empty());
}
