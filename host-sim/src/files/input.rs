//! Reading of whole files that people write: never more than such a file can hold, whatever stands behind the name.

#[cfg(not(target_family = "wasm"))]
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

/// Most bytes of a settings, site or drill file: a thousand times what a long one has.
const TEXT_LIMIT: u64 = 4 << 20;

/// Most bytes of a weather file: a year by the hour has under 2 MB.
const WEATHER_LIMIT: u64 = 64 << 20;

/// A settings, site or drill file.
///
/// # Errors
/// The file cannot be read, is too long, or is no UTF-8 text.
pub fn text(path: &Path) -> io::Result<String> {
    String::from_utf8(bytes(path, TEXT_LIMIT)?).map_err(|_| {
        io::Error::new(
            io::ErrorKind::InvalidData,
            "found bytes that are no UTF-8 text",
        )
    })
}

/// A weather file.
///
/// # Errors
/// The file cannot be read or is too long.
pub fn weather(path: &Path) -> io::Result<Vec<u8>> {
    bytes(path, WEATHER_LIMIT)
}

fn bytes(path: &Path, limit: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    open(path)?.take(limit + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > limit {
        return Err(io::Error::new(
            io::ErrorKind::FileTooLarge,
            format!(
                "found more than {} MB; expected a file of at most that length",
                limit >> 20
            ),
        ));
    }
    Ok(bytes)
}

#[cfg(not(target_family = "wasm"))]
fn open(path: &Path) -> io::Result<impl Read> {
    let file = File::open(path)?;
    if file.metadata()?.is_dir() {
        return Err(io::Error::new(
            io::ErrorKind::IsADirectory,
            "found a folder; expected a file",
        ));
    }
    Ok(file)
}

#[cfg(target_family = "wasm")]
fn open(path: &Path) -> io::Result<impl Read> {
    super::memory::read(path).map(io::Cursor::new)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_as_long_as_may_be_is_read_and_one_byte_more_is_not() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("long.toml");
        std::fs::write(&path, vec![b'#'; TEXT_LIMIT as usize]).expect("written");
        assert_eq!(text(&path).expect("text").len() as u64, TEXT_LIMIT);
        std::fs::write(&path, vec![b'#'; TEXT_LIMIT as usize + 1]).expect("written");
        let error = text(&path).expect_err("too long").to_string();
        assert!(error.contains("more than 4 MB"), "{error}");
    }

    #[cfg(unix)]
    #[test]
    fn a_source_without_end_ends() {
        for source in ["/dev/zero", "/dev/urandom"] {
            let error = text(Path::new(source)).expect_err("no end").to_string();
            assert!(error.contains("at most"), "{error}");
            let error = weather(Path::new(source)).expect_err("no end").to_string();
            assert!(error.contains("more than 64 MB"), "{error}");
        }
    }
}
