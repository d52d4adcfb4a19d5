//! What has been tried already, in memory and, if wanted, in a file that grows with every batch.
//!
//! The file is JSON, one line a candidate and stage. Its first line says what it belongs to; a search that is started
//! again with the same question finds there what it knows and does the rest. A last line cut short by a power cut is
//! dropped.

use std::collections::HashMap;
use std::fs::{File, OpenOptions};
use std::io::{Read as _, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::score::Score;

/// Form of the file.
const FORM: u32 = 1;

/// The first line.
#[derive(Debug, PartialEq, Eq, Serialize, Deserialize)]
struct Head {
    host_sim_tune: u32,
    program: String,
    question_sha256: String,
}

/// Every other line.
#[derive(Debug, Serialize, Deserialize)]
struct Line {
    stage: String,
    bits: Vec<i32>,
    scores: Vec<Score>,
}

/// Why a resume file cannot be used.
#[derive(Debug)]
pub enum ResumeError {
    /// The file system refused.
    Io(PathBuf, std::io::Error),
    /// A line is not what this program writes.
    Line {
        /// The file.
        file: PathBuf,
        /// Counted from 1.
        line: usize,
        /// What stands there.
        found: String,
    },
    /// The file belongs to another question: another site, weather, settings, season, seed or program.
    OtherQuestion(PathBuf),
    /// What the file says of the starting settings is not what they do here.
    OtherAnswer(PathBuf),
}

impl std::fmt::Display for ResumeError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Io(file, error) => write!(f, "{}: {error}", file.display()),
            Self::Line { file, line, found } => write!(
                f,
                "{}, line {line}: found {found}; expected a line that host-sim tune wrote. Give another file, or none",
                file.display()
            ),
            Self::OtherQuestion(file) => write!(
                f,
                "{}: found what was tried for another site, weather, settings, season, seed or program; expected this \
                 one's. Give another file, or the same inputs as then",
                file.display()
            ),
            Self::OtherAnswer(file) => write!(
                f,
                "{}: found numbers for the starting settings that they do not give here; expected those of this very \
                 program. Give another file",
                file.display()
            ),
        }
    }
}

impl std::error::Error for ResumeError {}

/// What is known.
#[derive(Debug, Default)]
pub struct Memory {
    known: HashMap<(String, Vec<i32>), Vec<Score>>,
    file: Option<(File, PathBuf)>,
}

impl Memory {
    /// Nothing known and nothing kept.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// With what a file knows about this question; a new file is begun if there is none.
    ///
    /// # Errors
    /// The file cannot be read or written, or is not of this question.
    pub fn open(path: &Path, question_sha256: &str) -> Result<Self, ResumeError> {
        let io = |error| ResumeError::Io(path.to_owned(), error);
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(path)
            .map_err(io)?;
        let mut text = String::new();
        file.read_to_string(&mut text).map_err(io)?;
        let head = Head {
            host_sim_tune: FORM,
            program: env!("CARGO_PKG_VERSION").to_owned(),
            question_sha256: question_sha256.to_owned(),
        };
        // What follows the last line feed was being written when the power went.
        let whole = text.rfind('\n').map_or(0, |end| end + 1);
        let known = read(path, &text[..whole], &head)?;
        if whole == 0 && !text.is_empty() && !text.starts_with("{\"host_sim_tune\"") {
            return Err(not_ours(path, 1, &text));
        }
        file.set_len(whole as u64).map_err(io)?;
        file.seek(SeekFrom::End(0)).map_err(io)?;
        if whole == 0 {
            let line = serde_json::to_string(&head).map_err(std::io::Error::other);
            file.write_all(format!("{}\n", line.map_err(io)?).as_bytes())
                .map_err(io)?;
        }
        Ok(Self {
            known,
            file: Some((file, path.to_owned())),
        })
    }

    /// How many are known.
    #[must_use]
    pub fn len(&self) -> usize {
        self.known.len()
    }

    /// Is nothing known?
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.known.is_empty()
    }

    /// What a candidate scored in the scenarios of a stage, if known.
    #[must_use]
    pub fn get(&self, stage: &str, bits: &[i32]) -> Option<&[Score]> {
        self.known
            .get(&(stage.to_owned(), bits.to_vec()))
            .map(Vec::as_slice)
    }

    /// Keeps what a candidate scored.
    ///
    /// # Errors
    /// The file cannot be written.
    pub fn keep(
        &mut self,
        stage: &str,
        bits: Vec<i32>,
        scores: Vec<Score>,
    ) -> Result<(), ResumeError> {
        if let Some((file, path)) = &mut self.file {
            let line = Line {
                stage: stage.to_owned(),
                bits: bits.clone(),
                scores: scores.clone(),
            };
            serde_json::to_string(&line)
                .map_err(std::io::Error::other)
                .and_then(|text| file.write_all(format!("{text}\n").as_bytes()))
                .map_err(|error| ResumeError::Io(path.clone(), error))?;
        }
        self.known.insert((stage.to_owned(), bits), scores);
        Ok(())
    }

    /// Compares what is known of a candidate with what it scores now.
    ///
    /// # Errors
    /// They differ: the file is another program's.
    pub fn confirm(&self, stage: &str, bits: &[i32], scores: &[Score]) -> Result<(), ResumeError> {
        match (self.get(stage, bits), &self.file) {
            (Some(known), Some((_, path))) if known != scores => {
                Err(ResumeError::OtherAnswer(path.clone()))
            }
            _ => Ok(()),
        }
    }
}

fn not_ours(path: &Path, line: usize, text: &str) -> ResumeError {
    let start: String = text.chars().take(40).collect();
    ResumeError::Line {
        file: path.to_owned(),
        line,
        found: format!("\"{start}\""),
    }
}

type Known = HashMap<(String, Vec<i32>), Vec<Score>>;

fn read(path: &Path, text: &str, expected: &Head) -> Result<Known, ResumeError> {
    let mut known = Known::new();
    for (index, line) in text.lines().enumerate() {
        if index == 0 {
            let head: Head = serde_json::from_str(line).map_err(|_| not_ours(path, 1, line))?;
            if head != *expected {
                return Err(ResumeError::OtherQuestion(path.to_owned()));
            }
            continue;
        }
        let line: Line = serde_json::from_str(line).map_err(|_| not_ours(path, index + 1, line))?;
        known.insert((line.stage, line.bits), line.scores);
    }
    Ok(known)
}
