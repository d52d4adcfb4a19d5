//! The core's modules stand in one order: each uses only those before it. Read from the code's own paths.

use std::fs;
use std::path::{Path, PathBuf};

/// What needs least first.
const ORDER: [&str; 14] = [
    "time",
    "units",
    "reason",
    "settings",
    "sensor",
    "guard",
    "restart",
    "alarm",
    "shadow",
    "estimate",
    "decision",
    "io",
    "trace",
    "controller",
];

fn place(module: &str) -> Option<usize> {
    ORDER.iter().position(|name| *name == module)
}

/// Code files of a module, without tests.
fn code(module: &str) -> Vec<PathBuf> {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    let file = source.join(module).with_extension("rs");
    if file.exists() {
        files.push(file);
    }
    let mut folders = vec![source.join(module)];
    while let Some(folder) = folders.pop() {
        let Ok(entries) = fs::read_dir(folder) else {
            continue;
        };
        for entry in entries {
            let path = entry.expect("an entry of the folder").path();
            let name = path.file_name().unwrap_or_default().to_string_lossy();
            // The guard's search over its states is a test.
            let is_test = name.contains("tests") || name.starts_with("states");
            match (path.is_dir(), is_test) {
                (_, true) => {}
                (true, false) => folders.push(path),
                (false, false) => files.push(path),
            }
        }
    }
    files
}

/// Uses of modules that come later, as sentences.
fn wrong_uses(module: &str, file: &str, text: &str) -> Vec<String> {
    let own = place(module);
    text.match_indices("crate::")
        .filter_map(|(at, path)| {
            let rest = &text[at + path.len()..];
            let name: String = rest
                .chars()
                .take_while(|c| c.is_ascii_lowercase() || *c == '_')
                .collect();
            let line = text[..at].lines().count().max(1);
            let later = name != module && place(&name).is_some() && place(&name) > own;
            later.then(|| format!("{file}, line {line}: {module} uses {name}"))
        })
        .collect()
}

#[test]
fn every_module_uses_only_those_before_it() {
    let mut wrong = Vec::new();
    for module in ORDER {
        let files = code(module);
        assert!(!files.is_empty(), "{module} holds no code");
        for file in files {
            let text = fs::read_to_string(&file).expect("a source file");
            let tests = text.find("#[cfg(test)]").unwrap_or(text.len());
            wrong.extend(wrong_uses(
                module,
                &file.display().to_string(),
                &text[..tests],
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_module_has_its_place() {
    let lib = include_str!("../src/lib.rs");
    for line in lib.lines() {
        let module = line
            .trim_start_matches("pub ")
            .strip_prefix("mod ")
            .and_then(|rest| rest.strip_suffix(';'));
        if let Some(module) = module {
            assert!(place(module).is_some(), "{module} has no place");
        }
    }
}

#[test]
fn a_use_of_a_later_module_is_found() {
    let text = "use crate::time::Duration;\nuse crate::controller::Controller;";
    let found = wrong_uses("trace", "trace.rs", text);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(
        found[0].ends_with("line 2: trace uses controller"),
        "{found:?}"
    );
}
