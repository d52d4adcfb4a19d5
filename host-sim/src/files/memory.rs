//! Files where there is no disk, as in a browser: a table of names and bytes. Whoever runs a command puts its inputs in and takes
//! its outputs, and what it printed, out.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};

#[derive(Default)]
struct Table {
    files: BTreeMap<PathBuf, Vec<u8>>,
    printed: String,
}

thread_local! {
    static TABLE: RefCell<Table> = RefCell::default();
}

/// Puts a file in place of one of that name.
pub fn put(path: &Path, bytes: Vec<u8>) {
    TABLE.with_borrow_mut(|table| table.files.insert(path.to_owned(), bytes));
}

/// Takes a file out.
#[must_use]
pub fn take(path: &Path) -> Option<Vec<u8>> {
    TABLE.with_borrow_mut(|table| table.files.remove(path))
}

/// Takes out what was printed since this was last asked.
#[must_use]
pub fn take_printed() -> String {
    TABLE.with_borrow_mut(|table| std::mem::take(&mut table.printed))
}

pub(super) fn print(text: &str) {
    TABLE.with_borrow_mut(|table| table.printed.push_str(text));
}

/// A file's bytes.
///
/// # Errors
/// There is none of that name.
pub fn read(path: &Path) -> io::Result<Vec<u8>> {
    TABLE.with_borrow(|table| {
        table
            .files
            .get(path)
            .cloned()
            .ok_or_else(|| io::ErrorKind::NotFound.into())
    })
}
