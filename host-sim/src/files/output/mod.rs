//! Results appear complete or not at all: files are written under another name in their own folder and take their place when
//! the whole run has succeeded.
//!
//! An [`OutputFile`] that is dropped leaves nothing behind, so an error or a cancelled run needs no cleaning up. Long runs ask
//! [`Cancel`] now and then; Ctrl-C does not end the program by itself, it only makes them stop.

#[cfg(not(target_family = "wasm"))]
mod disk;
#[cfg(target_family = "wasm")]
mod memory;

use std::path::{Path, PathBuf};
use std::{error, fmt, io};

#[cfg(not(target_family = "wasm"))]
pub use disk::{OutputFile, OutputSet, check_apart, print, same_file};
#[cfg(target_family = "wasm")]
pub use memory::{OutputFile, OutputSet, check_apart, print, same_file};

use crate::sim::cancel::{Cancel, Cancelled};

/// A wish to stop that Ctrl-C (and with it the other polite signals the `ctrlc` crate is built for) makes. To be called once.
///
/// # Errors
/// The handler cannot be installed, or there is one.
#[cfg(feature = "pc")]
pub fn cancel_on_ctrl_c() -> Result<Cancel, OutputError> {
    let cancel = Cancel::new();
    let wish = cancel.clone();
    ctrlc::set_handler(move || wish.request()).map_err(OutputError::Handler)?;
    Ok(cancel)
}

/// Where there is no terminal nobody asks to stop.
///
/// # Errors
/// None.
#[cfg(not(feature = "pc"))]
pub fn cancel_on_ctrl_c() -> Result<Cancel, OutputError> {
    Ok(Cancel::new())
}

/// Why an output cannot be written.
#[derive(Debug)]
#[non_exhaustive]
pub enum OutputError {
    /// The path is a folder.
    IsFolder(PathBuf),
    /// The path is one of the inputs.
    IsInput(PathBuf),
    /// Two outputs have one path.
    Repeated(PathBuf),
    /// The file is protected against writing.
    ReadOnly(PathBuf),
    /// The file system refused.
    Io {
        /// The output.
        path: PathBuf,
        /// Why.
        error: io::Error,
    },
    /// The run was stopped on request.
    Cancelled(Cancelled),
    /// Ctrl-C cannot be caught.
    #[cfg(feature = "pc")]
    Handler(ctrlc::Error),
}

impl From<Cancelled> for OutputError {
    fn from(cancelled: Cancelled) -> OutputError {
        OutputError::Cancelled(cancelled)
    }
}

impl error::Error for OutputError {
    fn source(&self) -> Option<&(dyn error::Error + 'static)> {
        match self {
            OutputError::Io { error, .. } => Some(error),
            #[cfg(feature = "pc")]
            OutputError::Handler(error) => Some(error),
            _ => None,
        }
    }
}

impl fmt::Display for OutputError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            OutputError::IsFolder(path) => {
                write!(
                    f,
                    "{}: found a folder; expected the name of a file to write",
                    path.display()
                )
            }
            OutputError::IsInput(path) => {
                write!(
                    f,
                    "{}: found an input of this run; expected another name for the output",
                    path.display()
                )
            }
            OutputError::Repeated(path) => {
                write!(
                    f,
                    "{}: found two outputs of this name; expected a name for each",
                    path.display()
                )
            }
            OutputError::ReadOnly(path) => {
                write!(
                    f,
                    "{}: found a file that is protected against writing; expected one that may be replaced, or another name",
                    path.display()
                )
            }
            OutputError::Io { path, error } => match error.get_ref() {
                Some(inner) if inner.is::<Unwritable>() => error.fmt(f),
                _ => write!(f, "{}: cannot be written: {error}", path.display()),
            },
            OutputError::Cancelled(cancelled) => cancelled.fmt(f),
            #[cfg(feature = "pc")]
            OutputError::Handler(error) => write!(f, "Ctrl-C cannot be caught: {error}"),
        }
    }
}

/// Writes one file in full, or none.
///
/// # Errors
/// As for [`OutputFile::create`] and [`OutputSet::persist`], and what `write` returns.
pub fn write_atomic(
    path: &Path,
    inputs: &[&Path],
    write: impl FnOnce(&mut OutputFile) -> io::Result<()>,
) -> Result<(), OutputError> {
    let mut file = OutputFile::create(path, inputs)?;
    write(&mut file).map_err(|error| OutputError::Io {
        path: path.to_owned(),
        error,
    })?;
    let mut set = OutputSet::new();
    set.add(file)?;
    set.persist(&Cancel::new())
}

/// An error of writing that says of which file, wherever it comes up again.
#[derive(Debug)]
struct Unwritable {
    path: PathBuf,
    error: io::Error,
}

impl error::Error for Unwritable {}

impl fmt::Display for Unwritable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{}: cannot be written: {}",
            self.path.display(),
            self.error
        )
    }
}

#[cfg(not(target_family = "wasm"))]
fn named(path: &Path, error: io::Error) -> io::Error {
    let path = path.to_owned();
    io::Error::new(error.kind(), Unwritable { path, error })
}
