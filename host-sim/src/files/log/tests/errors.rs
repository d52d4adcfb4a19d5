//! Malformed rows: the exact place, what was found, what to do.

use std::path::Path;

use super::{
    super::{LogErrorKind, LogReader, ReaderOptions},
    error, error_with, options, rows,
};

const HEADER: &str = "time_s,supply_c,circulator,slab_c";

#[test]
fn messages_name_the_place_and_the_remedy() {
    for (row, message) in [
        (
            "20,cold,0,3.5",
            "house.csv, line 5, column \"supply_c\" (field 2): found \"cold\"; expected a number, or nothing, NaN or null for a missing reading; if it means that there is none: --missing \"cold\"; otherwise correct the cell or empty it",
        ),
        (
            "20,9.5,running,3.5",
            "house.csv, line 5, column \"circulator\" (field 3): found \"running\"; expected 1, 0, true, false, on, off, yes, no or nothing; for a measured quantity give its limit, as in --column circulator=HEADER>0.05",
        ),
        (
            "soon,9.5,0,3.5",
            "house.csv, line 5, column \"time_s\" (field 1): found \"soon\"; expected seconds as a number such as 86400 or 12.5; for a date and time name the column time",
        ),
        (
            "20,9.5,0",
            "house.csv, line 5: found 3 fields; expected 4, as in the header; complete the row or remove it",
        ),
        (
            "20,9,5,0,3,5",
            "house.csv, line 5: found 6 fields; expected 4, as in the header; a decimal comma or other text with the delimiter in it needs quotes",
        ),
        (
            "5,9.5,0,3.5",
            "house.csv, line 5, column \"time_s\" (field 1): found \"5\", 5.000 s before the row before it; times must not go back from row to row; sort the rows by time, or split the log where the clock was set",
        ),
    ] {
        let text =
            format!("{HEADER}\n0,9.5,0,3.5\n# a remark\n10,9.5,0,3.5\n{row}\n30,9.5,0,3.5\n");
        let error = error(&text);
        assert_eq!(error.to_string(), message);
        assert_eq!(error.line(), Some(5));
    }
}

#[test]
fn lines_count_all_lines() {
    let text =
        format!("# remark\n\n{HEADER}\r\n0,9.5,0,3.5\r\n\r\n10,\"9.5\n\",0,3.5\n20,?,0,3.5\n");
    let error = error(&text);
    assert_eq!(error.line(), Some(8));
    assert_eq!(error.column().map(|column| column.field), Some(2));
}

#[test]
fn mapped_columns_keep_their_own_header_in_messages() {
    let error = error_with(
        "time_s,Floor temp,slab_c\n0,x,3\n",
        &options(&["supply_f=floor TEMP"]),
    );
    assert_eq!(
        error.column().map(|column| column.header.as_str()),
        Some("Floor temp")
    );
}

#[test]
fn long_and_unprintable_cells_are_shortened() {
    let error = error(format!("time_s,slab_c\n0,{}\u{7}\n", "y".repeat(39)));
    assert!(error.to_string().contains("y\\u{7}\""), "{error}");
    let error = super::error(format!("time_s,slab_c\n0,{}\n", "y".repeat(1000)));
    assert!(error.to_string().contains("yyy…\""), "{error}");
    assert!(error.to_string().len() < 300, "{error}");
}

#[test]
fn an_unusable_header_is_placed_and_unprintable_ones_are_shown_escaped() {
    let error = error("# remark\ntime_s,\"slab_c\n0,3\n");
    assert_eq!(error.line(), Some(2), "{error}");
    let error = super::error("time_s,slab\u{1b}[2J\n0,3\n");
    assert!(error.to_string().contains("slab\\u{1b}[2J"), "{error}");
    let error = super::error("time_s,slab_c,slab\u{7}\n0,3\n");
    assert!(!error.to_string().contains('\u{7}'), "{error}");
}

#[test]
fn a_row_in_front_of_an_error_is_no_less_an_error() {
    assert_eq!(rows("time_s,slab_c\n0,3\n0,4\n").len(), 1);
    assert_eq!(error("time_s,slab_c\n0,3\n0,?\n").line(), Some(3));
    assert_eq!(error("time_s,slab_c\n?,3\n").line(), Some(2));
}

#[test]
fn a_file_that_is_not_there_is_named() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("nowhere.csv");
    let error = LogReader::open(&path, &ReaderOptions::default())
        .err()
        .expect("no file");
    assert!(matches!(error.kind(), LogErrorKind::Io(_)));
    assert!(
        error.to_string().contains("nowhere.csv: cannot be read"),
        "{error}"
    );
    let error = LogReader::open(folder.path(), &ReaderOptions::default())
        .err()
        .expect("a folder");
    assert!(error.to_string().contains("folder"), "{error}");
    assert!(LogReader::open(Path::new(""), &ReaderOptions::default()).is_err());
}
