//! The file of results: a first line that says what it belongs to, then one JSON line a spell. It grows as spells end,
//! so that a run can be stopped and gone on with.

use std::collections::BTreeMap;
use std::fs::{File, OpenOptions};
use std::io::{Read as _, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

use crate::files::settings_file::hex;

/// Form of the file.
const FORM: u32 = 1;

/// The first line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
struct Head {
    host_sim_spells: u32,
    program: String,
    arguments: String,
    question_sha256: String,
}

/// Something with a number by which it is found again.
pub trait Numbered {
    /// Its number.
    fn number(&self) -> u64;
}

/// A file of results.
#[derive(Debug)]
pub struct Results<T> {
    file: File,
    path: PathBuf,
    known: BTreeMap<u64, T>,
}

/// Why a file of results cannot be used.
#[derive(Debug)]
pub enum ResultsError {
    /// The file system refused.
    Io(PathBuf, std::io::Error),
    /// A line is not what this program writes.
    Line(PathBuf, usize),
    /// It belongs to other arguments.
    OtherArguments {
        /// The file.
        path: PathBuf,
        /// Those it says.
        found: String,
        /// Those of this run.
        expected: String,
    },
    /// A spell run again came to something else: the controller or the model has changed.
    OtherProgram(PathBuf, u64),
}

impl std::fmt::Display for ResultsError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Io(path, error) => write!(f, "{}: {error}", path.display()),
            Self::Line(path, line) => write!(
                f,
                "{}, line {line}: found something else; expected a line that host-sim spells wrote. Give another file",
                path.display()
            ),
            Self::OtherArguments {
                path,
                found,
                expected,
            } => write!(
                f,
                "{}: found results of another question ({found}); expected this one's ({expected}). Give another file, \
                 or the same arguments, site and settings as then",
                path.display()
            ),
            Self::OtherProgram(path, number) => write!(
                f,
                "{}: found another result for number {number} than it has here; expected results of this very program. \
                 Give another file",
                path.display()
            ),
        }
    }
}

impl std::error::Error for ResultsError {}

impl<T: Numbered + Serialize + DeserializeOwned + PartialEq> Results<T> {
    /// Opens or begins a file. `arguments` are in words; `question` is everything the results depend on.
    ///
    /// # Errors
    /// The file cannot be used, or belongs to something else.
    pub fn open(path: &Path, arguments: &str, question: &str) -> Result<Self, ResultsError> {
        let io = |error| ResultsError::Io(path.to_owned(), error);
        let head = Head {
            host_sim_spells: FORM,
            program: env!("CARGO_PKG_VERSION").to_owned(),
            arguments: arguments.to_owned(),
            question_sha256: hex(&Sha256::digest(question.as_bytes())),
        };
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(path)
            .map_err(io)?;
        let mut text = String::new();
        file.read_to_string(&mut text).map_err(io)?;
        // What follows the last line feed was being written when the run ended.
        let whole = text.rfind('\n').map_or(0, |end| end + 1);
        if whole == 0 && !text.is_empty() && !text.starts_with("{\"host_sim_spells\"") {
            return Err(ResultsError::Line(path.to_owned(), 1));
        }
        let known = read(path, &text[..whole], &head)?;
        file.set_len(whole as u64).map_err(io)?;
        file.seek(SeekFrom::End(0)).map_err(io)?;
        let mut results = Self {
            file,
            path: path.to_owned(),
            known,
        };
        if whole == 0 {
            results.line(&head)?;
        }
        Ok(results)
    }

    /// What is known already.
    #[must_use]
    pub fn known(&self) -> &BTreeMap<u64, T> {
        &self.known
    }

    /// Holds a known result against what it comes to now.
    ///
    /// # Errors
    /// They differ.
    pub fn confirm(&self, again: &T) -> Result<(), ResultsError> {
        let number = again.number();
        match self.known.get(&number) {
            Some(known) if known != again => {
                Err(ResultsError::OtherProgram(self.path.clone(), number))
            }
            _ => Ok(()),
        }
    }

    /// Adds a result.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn add(&mut self, result: &T) -> Result<(), ResultsError> {
        self.line(result)
    }

    fn line(&mut self, value: &impl Serialize) -> Result<(), ResultsError> {
        serde_json::to_string(value)
            .map_err(std::io::Error::other)
            .and_then(|text| self.file.write_all(format!("{text}\n").as_bytes()))
            .map_err(|error| ResultsError::Io(self.path.clone(), error))
    }
}

fn read<T: Numbered + DeserializeOwned>(
    path: &Path,
    text: &str,
    expected: &Head,
) -> Result<BTreeMap<u64, T>, ResultsError> {
    let mut known = BTreeMap::new();
    for (index, line) in text.lines().enumerate() {
        let not_ours = |_| ResultsError::Line(path.to_owned(), index + 1);
        if index == 0 {
            let head: Head = serde_json::from_str(line).map_err(not_ours)?;
            if head != *expected {
                let words = |head: &Head| format!("host-sim {}, {}", head.program, head.arguments);
                return Err(ResultsError::OtherArguments {
                    path: path.to_owned(),
                    found: words(&head),
                    expected: words(expected),
                });
            }
            continue;
        }
        let result: T = serde_json::from_str(line).map_err(not_ours)?;
        known.insert(result.number(), result);
    }
    Ok(known)
}
