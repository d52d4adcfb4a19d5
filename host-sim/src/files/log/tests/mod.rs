//! Tests of the log reader, by what they look at.

mod columns;
mod errors;
mod forms;
mod long;
mod numbers;
mod order;
mod times;

use super::{LogError, LogReader, LogRow, ReaderOptions};

/// The options a command line would make of these.
fn options(mappings: &[&str]) -> ReaderOptions {
    let columns = mappings
        .iter()
        .map(|mapping| mapping.parse().expect("a mapping"))
        .collect();
    ReaderOptions {
        columns,
        ..ReaderOptions::default()
    }
}

fn open_with(text: impl AsRef<[u8]>, options: &ReaderOptions) -> Result<LogReader, LogError> {
    LogReader::from_bytes("house.csv", text.as_ref().to_vec(), options)
}

#[track_caller]
fn open(text: impl AsRef<[u8]>) -> LogReader {
    open_with(text, &ReaderOptions::default()).expect("a log that can be read")
}

fn all(reader: &mut LogReader) -> Result<Vec<LogRow>, LogError> {
    std::iter::from_fn(|| reader.next_row().transpose()).collect()
}

#[track_caller]
fn rows(text: impl AsRef<[u8]>) -> Vec<LogRow> {
    all(&mut open(text)).expect("rows that can be read")
}

/// What reading to the end ends with.
#[track_caller]
fn error_with(text: impl AsRef<[u8]>, options: &ReaderOptions) -> LogError {
    match open_with(text, options).and_then(|mut reader| all(&mut reader)) {
        Ok(rows) => panic!("expected an error, read {} rows", rows.len()),
        Err(error) => error,
    }
}

#[track_caller]
fn error(text: impl AsRef<[u8]>) -> LogError {
    error_with(text, &ReaderOptions::default())
}
