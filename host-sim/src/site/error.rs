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
    /// One place in the file is wrong.
    Fault(Box<Fault>),
}

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
            Self::Fault(fault) => fault.fmt(f),
        }
    }
}

impl std::error::Error for SiteError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match self {
            Self::Unreadable { cause, .. } => Some(cause),
            Self::Fault(_) => None,
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
    pub(crate) fn placed(self, file: &str, text: &str) -> SiteError {
        let before = text.get(..self.span.start).unwrap_or(text);
        let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
        SiteError::Fault(Box::new(Fault {
            file: file.to_owned(),
            line: before.matches('\n').count() + 1,
            column: before[line_start..].chars().count() + 1,
            key: self.key,
            found: self.found,
            expected: self.expected,
            advice: self.advice,
        }))
    }
}
