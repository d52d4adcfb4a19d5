//! The program and a folder for it to work in.

#[cfg(unix)]
pub(crate) mod bench;
#[cfg(unix)]
mod unit;

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// The evening's question for a cold clear night over a cool store.
pub(crate) const COLD_NIGHT: [&str; 14] = [
    "tonight",
    "--low",
    "-9 °C",
    "--high",
    "-1 °C",
    "--clear",
    "--slab",
    "6 °C",
    "--store",
    "8 °C",
    "--outdoor",
    "-2 °C",
    "--now",
    "2025-01-15 18:00",
];

/// A temporary folder, gone when dropped.
pub(crate) struct Folder(tempfile::TempDir);

impl Folder {
    pub(crate) fn new() -> Self {
        Self(tempfile::tempdir().expect("a temporary folder"))
    }
    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }
    pub(crate) fn file(&self, name: &str, text: &str) -> PathBuf {
        let path = self.path(name);
        std::fs::write(&path, text).expect("a file can be written");
        path
    }
    pub(crate) fn names(&self) -> Vec<String> {
        let mut names: Vec<_> = std::fs::read_dir(self.0.path())
            .expect("the folder can be read")
            .map(|entry| {
                entry
                    .expect("an entry")
                    .file_name()
                    .to_string_lossy()
                    .into_owned()
            })
            .collect();
        names.sort();
        names
    }
    /// Nothing half written is left behind.
    #[track_caller]
    pub(crate) fn has_no_partial(&self) {
        let names = self.names();
        assert!(
            names.iter().all(|name| !name.contains("partial")),
            "{names:?}"
        );
    }
}

pub(crate) fn host_sim(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_host-sim"))
        .args(args)
        .output()
        .expect("host-sim runs")
}

/// The JSON of a command that ends with this exit code.
#[track_caller]
pub(crate) fn json(args: &[&str], code: i32) -> serde_json::Value {
    let out = host_sim(args);
    let message = String::from_utf8_lossy(&out.stderr);
    assert_eq!(out.status.code(), Some(code), "{message}");
    serde_json::from_slice(&out.stdout).expect("one JSON object and nothing else")
}

pub(crate) fn text(path: &Path) -> &str {
    path.to_str().expect("a plain path")
}
