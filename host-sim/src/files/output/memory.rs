//! Outputs where there is no disk: they go to the table of files when the whole run has succeeded.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use super::OutputError;
use crate::files::memory;
use crate::files::message::plain;
use crate::sim::cancel::Cancel;

/// A file on its way.
#[derive(Debug)]
pub struct OutputFile {
    target: PathBuf,
    bytes: Vec<u8>,
}

impl OutputFile {
    /// Begins a file for `path`, which must not be one of the `inputs`.
    ///
    /// # Errors
    /// It is one of them.
    pub fn create(path: &Path, inputs: &[&Path]) -> Result<OutputFile, OutputError> {
        check_apart(path, inputs)?;
        Ok(OutputFile {
            target: path.to_owned(),
            bytes: Vec::new(),
        })
    }

    /// Where the file will stand.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.target
    }
}

impl Write for OutputFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.bytes.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// The outputs of one run, which appear together.
#[derive(Debug, Default)]
pub struct OutputSet {
    files: Vec<OutputFile>,
}

impl OutputSet {
    /// None yet.
    #[must_use]
    pub fn new() -> OutputSet {
        OutputSet::default()
    }

    /// Adds a file that is written in full.
    ///
    /// # Errors
    /// Another file of the set has its path.
    pub fn add(&mut self, file: OutputFile) -> Result<(), OutputError> {
        if self.files.iter().any(|other| other.target == file.target) {
            return Err(OutputError::Repeated(file.target));
        }
        self.files.push(file);
        Ok(())
    }

    /// Puts all files in place.
    ///
    /// # Errors
    /// A stop was requested; then no output has changed.
    pub fn persist(self, cancel: &Cancel) -> Result<(), OutputError> {
        cancel.check()?;
        for file in self.files {
            memory::put(&file.target, file.bytes);
        }
        Ok(())
    }
}

/// Keeps a text for whoever shows it.
///
/// # Errors
/// None.
pub fn print(text: &str) -> io::Result<()> {
    memory::print(&plain(text));
    Ok(())
}

/// Refuses a file that is one of the inputs.
///
/// # Errors
/// It is one of them.
pub fn check_apart(path: &Path, inputs: &[&Path]) -> Result<(), OutputError> {
    if inputs.contains(&path) {
        return Err(OutputError::IsInput(path.to_owned()));
    }
    Ok(())
}

/// Whether two names are of one file.
#[must_use]
pub fn same_file(one: &Path, other: &Path) -> bool {
    one == other
}
