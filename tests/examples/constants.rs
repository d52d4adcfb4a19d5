//! Prints `docs/constants.md`: every number the decisions rest on that is not a setting, read from
//! the sources of `controller-core` with its doc line.
//!
//! `cargo run -q -p system-tests --example constants > docs/constants.md`

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Types whose constants are numbers a person may want to look up.
const NUMBERS: [&str; 15] = [
    "Duration",
    "Celsius",
    "Kelvin",
    "KelvinPerHour",
    "Ratio",
    "Watts",
    "(Kelvin, Kelvin)",
    "(Ratio, Ratio)",
    "u8",
    "u16",
    "u32",
    "u64",
    "i16",
    "i32",
    "usize",
];

const HEAD: &str = "# Constants

Every number the decisions rest on that is not a setting, as it stands in the code. Settings, with ranges and
defaults, are printed by `host-sim settings --all`. Units are in the value (milli is a thousandth of °C, K or 1; a
duration says its own). Where a line names no source the value is a judgement of ours, from how such houses
behave; the tests and drills named in [control-rules.md](control-rules.md) hold what follows from it. Constants
of the simulated house, with their sources, are in [physics.md](physics.md).

This page is printed by `cargo run -q -p system-tests --example constants`; a test compares.
";

#[allow(dead_code, reason = "a test takes this file as a module")]
fn main() {
    print!("{}", page());
}

/// The whole page.
pub(crate) fn page() -> String {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../controller-core/src");
    let mut files = Vec::new();
    visit(&root, &mut files);
    files.sort();
    let mut page = HEAD.to_owned();
    for path in files {
        let text = std::fs::read_to_string(&path).expect("UTF-8");
        let found = constants(&text);
        if found.is_empty() {
            continue;
        }
        let name = path
            .strip_prefix(&root)
            .expect("below")
            .display()
            .to_string();
        let name = name.replace('\\', "/");
        let _ = write!(
            page,
            "\n## {name}\n\n| constant | value | what |\n|---|---|---|\n"
        );
        for constant in found {
            let Constant { name, value, doc } = constant;
            let _ = writeln!(page, "| `{name}` | `{value}` | {doc} |");
        }
    }
    page
}

/// One number of the code.
pub(crate) struct Constant {
    /// As the code calls it.
    pub(crate) name: String,
    /// As the code writes it.
    pub(crate) value: String,
    /// Its doc line, or that of the group it stands in.
    pub(crate) doc: String,
}

/// All constants at the left margin of one file, up to its tests.
pub(crate) fn constants(text: &str) -> Vec<Constant> {
    let text = text
        .split("#[cfg(test)]\nmod tests")
        .next()
        .unwrap_or_default();
    let mut found = Vec::new();
    let mut doc = String::new();
    let mut in_doc = false;
    for line in text.lines() {
        if let Some(words) = line.strip_prefix("/// ") {
            if !in_doc {
                doc.clear();
            }
            in_doc = true;
            if !doc.is_empty() {
                doc.push(' ');
            }
            doc.push_str(words);
            continue;
        }
        in_doc = false;
        let visible = line
            .trim_start_matches("pub(crate) ")
            .trim_start_matches("pub(super) ")
            .trim_start_matches("pub ");
        let Some((name, rest)) = visible
            .strip_prefix("const ")
            .and_then(|rest| rest.split_once(": "))
        else {
            if !line.starts_with("//") {
                doc.clear();
            }
            continue;
        };
        let Some((kind, value)) = rest.split_once(" = ") else {
            continue;
        };
        if NUMBERS.contains(&kind) && value.contains(';') {
            let value = value.split(';').next().unwrap_or_default();
            found.push(Constant {
                name: name.to_owned(),
                value: value.to_owned(),
                doc: doc.replace('|', "or"),
            });
        }
    }
    found
}

fn visit(folder: &Path, files: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            visit(&path, files);
        } else if path.extension().is_some_and(|extension| extension == "rs")
            && path.file_stem().is_some_and(|stem| stem != "tests")
        {
            files.push(path);
        }
    }
}
