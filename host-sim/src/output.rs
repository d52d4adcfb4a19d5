//! Results appear complete or not at all: files are written under another name in their own folder and take their place when
//! the whole run has succeeded.
//!
//! An [`OutputFile`] that is dropped leaves nothing behind, so an error or a cancelled run needs no cleaning up. Long runs ask
//! [`Cancel`] now and then; Ctrl-C does not end the program by itself, it only makes them stop.

use std::{
    error, fmt,
    fs::{self, File},
    io::{self, BufWriter, Write},
    path::{Path, PathBuf},
    sync::{
        Arc,
        atomic::{AtomicBool, Ordering},
    },
};

use tempfile::{NamedTempFile, TempPath};

/// Bytes gathered before they go to the file.
const BUFFER: usize = 256 * 1024;

/// A wish to stop, shared between those who may have it and those who fulfil it.
#[derive(Clone, Debug, Default)]
pub struct Cancel(Arc<AtomicBool>);

impl Cancel {
    /// No wish yet.
    pub fn new() -> Cancel {
        Cancel::default()
    }

    /// One that Ctrl-C (and with it the other polite signals the `ctrlc` crate is built for) sets. To be called once.
    ///
    /// # Errors
    /// The handler cannot be installed, or there is one.
    pub fn on_ctrl_c() -> Result<Cancel, OutputError> {
        let cancel = Cancel::new();
        let wish = cancel.clone();
        ctrlc::set_handler(move || wish.request()).map_err(OutputError::Handler)?;
        Ok(cancel)
    }

    /// Asks to stop.
    pub fn request(&self) {
        self.0.store(true, Ordering::Relaxed);
    }

    /// Whether to stop.
    pub fn requested(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }

    /// Whether to stop, for use with `?`.
    ///
    /// # Errors
    /// [`Cancelled`] when a stop was requested.
    pub fn check(&self) -> Result<(), Cancelled> {
        if self.requested() {
            Err(Cancelled)
        } else {
            Ok(())
        }
    }
}

/// The run was stopped on request.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cancelled;

impl error::Error for Cancelled {}

impl fmt::Display for Cancelled {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("stopped on request; nothing was written")
    }
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
            OutputError::Io { path, error } => {
                write!(f, "{}: cannot be written: {error}", path.display())
            }
            OutputError::Cancelled(cancelled) => cancelled.fmt(f),
            OutputError::Handler(error) => write!(f, "Ctrl-C cannot be caught: {error}"),
        }
    }
}

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
        let target = resolve(path).map_err(io_error)?;
        if inputs
            .iter()
            .any(|input| resolve(input).is_ok_and(|input| input == target))
        {
            return Err(OutputError::IsInput(path.to_owned()));
        }
        let sink = match fs::metadata(&target) {
            Ok(metadata) if metadata.is_dir() => {
                return Err(OutputError::IsFolder(path.to_owned()));
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
        self.writer.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.writer.flush()
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

/// Writes to standard output; a reader that has gone away is no error.
///
/// # Errors
/// Standard output cannot be written to for another reason.
pub fn print(text: &str) -> io::Result<()> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        result => result,
    }
}

/// The path without links; of a file that does not exist yet, that of its folder with its name.
fn resolve(path: &Path) -> io::Result<PathBuf> {
    match fs::canonicalize(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            let name = path.file_name().ok_or(error)?;
            Ok(fs::canonicalize(folder(path))?.join(name))
        }
        result => result,
    }
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
        Ok(_) => Some(keep(target)?),
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
#[path = "output_tests.rs"]
mod tests;
