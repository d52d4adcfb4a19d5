//! Outputs on a disk.

use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use tempfile::{NamedTempFile, TempPath};

use super::{OutputError, named};
use crate::files::message::plain;
use crate::sim::cancel::Cancel;

/// Bytes gathered before they go to the file.
const BUFFER: usize = 256 * 1024;

/// A file on its way: written beside its target, in place only when an [`OutputSet`] puts it there. A target that is no file
/// but a device or a pipe (`/dev/null`, `/dev/stdout`) is written at once.
#[derive(Debug)]
pub struct OutputFile {
    target: PathBuf,
    writer: BufWriter<Sink>,
}

#[derive(Debug)]
enum Sink {
    Beside(NamedTempFile),
    Device(File),
}

impl OutputFile {
    /// Begins a file for `path`, which must not be one of the `inputs`. A symbolic link is followed.
    ///
    /// # Errors
    /// The path is a folder or an input, or its folder cannot be written to.
    pub fn create(path: &Path, inputs: &[&Path]) -> Result<OutputFile, OutputError> {
        let io_error = |error| OutputError::Io {
            path: path.to_owned(),
            error,
        };
        if names_folder(path) {
            return Err(OutputError::IsFolder(path.to_owned()));
        }
        let target = resolve(path, LINKS).map_err(io_error)?;
        check_apart(path, inputs)?;
        let sink = match fs::metadata(&target) {
            Ok(metadata) if metadata.is_dir() => {
                return Err(OutputError::IsFolder(path.to_owned()));
            }
            Ok(metadata) if metadata.is_file() && metadata.permissions().readonly() => {
                return Err(OutputError::ReadOnly(path.to_owned()));
            }
            Ok(metadata) if !metadata.is_file() => Sink::Device(
                File::options()
                    .write(true)
                    .open(&target)
                    .map_err(io_error)?,
            ),
            _ => Sink::Beside(beside(&target).map_err(io_error)?),
        };
        Ok(OutputFile {
            target,
            writer: BufWriter::with_capacity(BUFFER, sink),
        })
    }

    /// Where the file will stand.
    pub fn path(&self) -> &Path {
        &self.target
    }

    /// Everything on the disk, still under its other name; None for a device, which has it all.
    fn finish(self) -> io::Result<Option<(TempPath, PathBuf)>> {
        match self
            .writer
            .into_inner()
            .map_err(io::IntoInnerError::into_error)?
        {
            Sink::Beside(file) => {
                file.as_file().sync_all()?;
                Ok(Some((file.into_temp_path(), self.target)))
            }
            Sink::Device(_) => Ok(None),
        }
    }
}

impl Write for OutputFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.writer
            .write(bytes)
            .map_err(|error| named(&self.target, error))
    }

    fn flush(&mut self) -> io::Result<()> {
        self.writer
            .flush()
            .map_err(|error| named(&self.target, error))
    }
}

impl Write for Sink {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        match self {
            Sink::Beside(file) => file.write(bytes),
            // Whoever read has seen enough.
            Sink::Device(device) => match device.write(bytes) {
                Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(bytes.len()),
                result => result,
            },
        }
    }

    fn flush(&mut self) -> io::Result<()> {
        match self {
            Sink::Beside(file) => file.flush(),
            Sink::Device(device) => device.flush(),
        }
    }
}

/// The outputs of one run, which appear together.
#[derive(Debug, Default)]
pub struct OutputSet {
    files: Vec<OutputFile>,
}

impl OutputSet {
    /// None yet.
    pub fn new() -> OutputSet {
        OutputSet::default()
    }

    /// Adds a file that is written in full.
    ///
    /// # Errors
    /// Another file of the set has its path.
    pub fn add(&mut self, file: OutputFile) -> Result<(), OutputError> {
        if self.files.iter().any(|other| {
            other.target == file.target && matches!(other.writer.get_ref(), Sink::Beside(_))
        }) {
            return Err(OutputError::Repeated(file.target));
        }
        self.files.push(file);
        Ok(())
    }

    /// Puts all files in place. When one cannot be, those before it are taken away again and what stood there before returns.
    ///
    /// # Errors
    /// A stop was requested, or the file system refused; then no output has changed.
    pub fn persist(self, cancel: &Cancel) -> Result<(), OutputError> {
        let mut finished = Vec::new();
        for file in self.files {
            let path = file.target.clone();
            finished.extend(
                file.finish()
                    .map_err(|error| OutputError::Io { path, error })?,
            );
        }
        cancel.check()?;
        let mut placed = Vec::new();
        for (file, target) in finished {
            match place(file, &target) {
                Ok(before) => placed.push((target, before)),
                Err(error) => {
                    placed
                        .into_iter()
                        .rev()
                        .for_each(|(target, before)| take_back(&target, before));
                    return Err(OutputError::Io {
                        path: target,
                        error,
                    });
                }
            }
        }
        Ok(())
    }
}

/// Writes to standard output; a reader that has gone away is no error.
///
/// # Errors
/// Standard output cannot be written to for another reason.
pub fn print(text: &str) -> io::Result<()> {
    let mut out = io::stdout().lock();
    match out
        .write_all(plain(text).as_bytes())
        .and_then(|()| out.flush())
    {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        result => result,
    }
}

/// Refuses a file that is one of the inputs by whatever name, also of those that are read from standard input.
///
/// # Errors
/// It is one of them.
pub fn check_apart(path: &Path, inputs: &[&Path]) -> Result<(), OutputError> {
    let is_input = inputs.iter().any(|input| {
        if input.as_os_str() == "-" {
            standard_input().is_some_and(|input| identity(path) == Some(input))
        } else {
            same_file(path, input)
        }
    });
    if is_input {
        Err(OutputError::IsInput(path.to_owned()))
    } else {
        Ok(())
    }
}

/// Whether two names are of one file, there or still to be written.
#[must_use]
pub fn same_file(one: &Path, other: &Path) -> bool {
    match (identity(one), identity(other)) {
        (Some(one), Some(other)) => one == other,
        (None, None) => match (resolve(one, LINKS), resolve(other, LINKS)) {
            // A device has a name as well, and nothing in it to lose.
            (Ok(one), Ok(other)) => one == other && !one.exists(),
            _ => false,
        },
        _ => false,
    }
}

/// What a file is, whatever it is called: device and number in it. Devices and pipes are no files to lose.
#[cfg(unix)]
fn identity(path: &Path) -> Option<(u64, u64)> {
    fs::metadata(path)
        .ok()
        .and_then(|metadata| numbers(&metadata))
}

#[cfg(unix)]
fn numbers(metadata: &fs::Metadata) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt as _;
    metadata.is_file().then(|| (metadata.dev(), metadata.ino()))
}

#[cfg(unix)]
fn standard_input() -> Option<(u64, u64)> {
    use std::os::fd::AsFd as _;
    let input = File::from(io::stdin().as_fd().try_clone_to_owned().ok()?);
    numbers(&input.metadata().ok()?)
}

/// What a file is where files have no numbers: its path without links.
#[cfg(not(unix))]
fn identity(path: &Path) -> Option<PathBuf> {
    fs::canonicalize(path).ok().filter(|path| path.is_file())
}

#[cfg(not(unix))]
fn standard_input() -> Option<PathBuf> {
    None
}

/// Most links followed one after another to a file that is not there yet; as many as Linux follows.
const LINKS: u32 = 40;

/// The path without links; of a file that does not exist yet, that of its folder with its name, also by way of links to it.
fn resolve(path: &Path, links: u32) -> io::Result<PathBuf> {
    match fs::canonicalize(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => match fs::read_link(path) {
            Ok(link) if links > 0 => resolve(&folder(path).join(link), links - 1),
            _ => {
                let name = path.file_name().ok_or(error)?;
                Ok(fs::canonicalize(folder(path))?.join(name))
            }
        },
        result => result,
    }
}

/// Whether a name can only be a folder's: `x/`.
fn names_folder(path: &Path) -> bool {
    path.as_os_str()
        .as_encoded_bytes()
        .last()
        .is_some_and(|byte| std::path::is_separator(char::from(*byte)))
}

fn folder(path: &Path) -> &Path {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    }
}

/// A new file in the target's folder, which vanishes unless it is put in place.
fn beside(target: &Path) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".partial-");
    // An ordinary file's rights, less what the user's mask takes away.
    #[cfg(unix)]
    builder.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
    builder.tempfile_in(folder(target))
}

/// Puts a file in place and returns what stood there, under another name.
fn place(file: TempPath, target: &Path) -> io::Result<Option<TempPath>> {
    let before = match fs::metadata(target) {
        Ok(metadata) => {
            // Who may read it stays as it was.
            fs::set_permissions(&file, metadata.permissions())?;
            Some(keep(target)?)
        }
        Err(_) => None,
    };
    file.persist(target).map_err(|error| error.error)?;
    Ok(before)
}

/// A second name for a file, or a copy where the file system has no second names; it vanishes when dropped.
fn keep(target: &Path) -> io::Result<TempPath> {
    let link = tempfile::Builder::new()
        .prefix(".before-")
        .make_in(folder(target), |path| fs::hard_link(target, path));
    match link {
        Ok(link) => Ok(link.into_temp_path()),
        Err(_) => {
            let copy = beside(target)?.into_temp_path();
            fs::copy(target, &copy)?;
            Ok(copy)
        }
    }
}

/// Undoes [`place`]. Nothing more can be done where the file system refuses even this.
fn take_back(target: &Path, before: Option<TempPath>) {
    match before {
        Some(before) => drop(before.persist(target)),
        None => drop(fs::remove_file(target)),
    }
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
