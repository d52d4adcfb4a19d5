//! What can be wrong with a site file, and what the person should do about it.

use std::fmt;
use std::ops::Range;

/// Why a site file cannot be used.
#[derive(Debug)]
pub enum SiteError {
    /// The file could not be opened or read.
    Unreadable {
        /// The file as the person named it.
        file: String,
        /// What the operating system said.
        cause: std::io::Error,
    },
    /// Places in the file are wrong, at least one, in their order.
    Faults(Vec<Fault>),
}

/// Most wrong places told of one file.
const MOST_TOLD: usize = 20;

/// A wrong place in a site file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// The file as the person named it.
    pub file: String,
    /// Line, the first is 1.
    pub line: usize,
    /// Column in characters, the first is 1.
    pub column: usize,
    /// `section.key`, empty where the text is no TOML at all.
    pub key: String,
    /// What stands there.
    pub found: String,
    /// What should stand there.
    pub expected: String,
    /// What to do about it.
    pub advice: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}: line {}, column {}",
            self.file, self.line, self.column
        )?;
        if !self.key.is_empty() {
            write!(f, ", {}", self.key)?;
        }
        write!(
            f,
            ": found {}; expected {}; {}",
            self.found, self.expected, self.advice
        )
    }
}

impl fmt::Display for SiteError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unreadable { file, cause } => {
                write!(
                    f,
                    "{file}: cannot be read: {cause}; check the path and the permissions"
                )
            }
            Self::Faults(faults) => {
                for (index, fault) in faults.iter().take(MOST_TOLD).enumerate() {
                    let between = if index == 0 { "" } else { "\n" };
                    write!(f, "{between}{fault}")?;
                }
                match faults.len().saturating_sub(MOST_TOLD) {
                    0 => Ok(()),
                    more => write!(f, "\nand {more} more"),
                }
            }
        }
    }
}

impl std::error::Error for SiteError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Unreadable { cause, .. } => Some(cause),
            Self::Faults(_) => None,
        }
    }
}

/// A wrong place not yet turned into line and column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Problem {
    /// Bytes of the text it is about.
    pub(crate) span: Range<usize>,
    pub(crate) key: String,
    pub(crate) found: String,
    pub(crate) expected: String,
    pub(crate) advice: String,
}

impl Problem {
    fn placed(self, file: &str, text: &str) -> Fault {
        let before = text.get(..self.span.start).unwrap_or(text);
        let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
        Fault {
            file: file.to_owned(),
            line: before.matches('\n').count() + 1,
            column: before[line_start..].chars().count() + 1,
            key: self.key,
            found: self.found,
            expected: self.expected,
            advice: self.advice,
        }
    }
}

/// All that is wrong with a file, in the order of its lines.
pub(crate) fn refuse(mut problems: Vec<Problem>, file: &str, text: &str) -> SiteError {
    problems.sort_by_key(|problem| problem.span.start);
    SiteError::Faults(
        problems
            .into_iter()
            .map(|problem| problem.placed(file, text))
            .collect(),
    )
}

/// The known name most like another.
pub(crate) fn nearest<'n>(names: impl IntoIterator<Item = &'n str>, name: &str) -> &'n str {
    names
        .into_iter()
        .min_by_key(|known| strsim::damerau_levenshtein(known, name))
        .unwrap_or_default()
}
