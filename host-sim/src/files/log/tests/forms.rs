//! The forms a log's text can have: delimiters, decimal marks, quotes, encodings, line endings.

use std::io::Cursor;

use proptest::prelude::*;

use super::{
    super::{
        Cell, LogErrorKind, LogReader, ReaderOptions,
        input::Input,
        records::{RECORD_LIMIT, Records},
    },
    all, error, open, open_with, options, rows,
};

const PLAIN: &str = "time_s,supply_c,slab_c,note\n0,9.5,3.25,a\n10,9.25,-0.5,b\n";

#[test]
fn one_log_in_many_forms() {
    let expected = rows(PLAIN);
    assert_eq!(expected[1].slab, Cell::Reading(-64));
    for text in [
        PLAIN.replace('\n', "\r\n"),
        PLAIN.trim_end().to_owned(),
        format!("\u{feff}{PLAIN}"),
        PLAIN.replace(',', ";"),
        PLAIN.replace(',', ";").replace('.', ","),
        PLAIN.replace(',', "\t").replace('.', ","),
        format!("sep=;\n{}", PLAIN.replace(',', ";")),
        format!("\"sep=;\"\r\n{}", PLAIN.replace(',', ";")),
        format!("\n# a remark, with \"one quote\n\n{PLAIN}"),
        PLAIN.replace("10,", "# remark \" here\n\n   \n10,"),
        PLAIN.replace("9.5,3.25,a", "\"9.5\",\"3,25\",\"a, with a comma\""),
        PLAIN
            .replace("time_s", "\"time_s\"")
            .replace("10,", "\"10\","),
        PLAIN.replace(",a", ",\"two\nlines\""),
        PLAIN.replace(",a", ",\"a \"\"quoted\"\" word\""),
        PLAIN.replace(",a", ",5\" pipe"),
        PLAIN.replace(",a", ",a,").replace(",b", ",b,,"),
        PLAIN.replace(",9", ", 9"),
    ] {
        assert_eq!(rows(&text), expected, "{text:?}");
    }
}

#[test]
fn other_encodings_survive_where_nothing_is_read() {
    // ISO 8859-1: a degree sign in a header, an umlaut in a cell.
    let text = b"time_s,T Vorlauf \xB0C,note\n0,9.5,\xFCber\n".to_vec();
    let mapped = options(&["supply_c=T Vorlauf °C"]);
    let row = open_with(text, &mapped)
        .expect("a log")
        .next_row()
        .expect("a row")
        .expect("a row");
    assert_eq!(row.supply, Cell::Reading(1216));
    let wide: Vec<u8> = PLAIN.encode_utf16().flat_map(u16::to_le_bytes).collect();
    assert!(matches!(error(&wide).kind(), LogErrorKind::Utf16));
    let marked: Vec<u8> = [0xFF, 0xFE].into_iter().chain(wide).collect();
    assert!(matches!(error(marked).kind(), LogErrorKind::Utf16));
}

#[test]
fn a_comma_in_a_quoted_header_is_no_delimiter() {
    let text = "\"supply, of the loop\";\"return, too, and more\";slab_c;time_s\n1;2;3,5;0\n";
    assert_eq!(rows(text)[0].slab, Cell::Reading(448));
}

#[test]
fn a_quote_that_never_closes_does_not_fill_the_memory() {
    let mut text = PLAIN.replace(",b", ",\"b");
    let short = error(&text);
    assert!(matches!(short.kind(), LogErrorKind::OpenQuote));
    assert_eq!(short.line(), Some(3));
    text.extend((20..20_000).map(|second| format!("{second},9.5,3.25,a\n")));
    let long = error(&text);
    assert!(matches!(long.kind(), LogErrorKind::TooLong), "{long}");
    assert_eq!(long.line(), Some(3));
}

#[test]
fn a_line_too_long_is_refused_at_its_line() {
    let note = "x".repeat(RECORD_LIMIT);
    let long = error(format!("{PLAIN}20,9.5,3.25,{note}\n"));
    assert!(matches!(long.kind(), LogErrorKind::TooLong));
    assert_eq!(long.line(), Some(4));
    let endless = error(format!("{PLAIN}20,9.5,3.25,{}", note.repeat(20)));
    assert!(matches!(endless.kind(), LogErrorKind::TooLong));
    let header = error(note.repeat(3));
    assert!(matches!(header.kind(), LogErrorKind::TooLong));
}

/// Rows without end, made as they are read.
struct Endless {
    second: u64,
    row: Cursor<Vec<u8>>,
    left: usize,
}

impl std::io::Read for Endless {
    fn read(&mut self, out: &mut [u8]) -> std::io::Result<usize> {
        let count = self.row.read(out)?.min(self.left);
        if count == 0 && self.left > 0 {
            self.second += 1;
            self.row =
                Cursor::new(format!("{},9.5,3.25,\"a \"\"b\"\"\"\n", self.second).into_bytes());
            return self.read(out);
        }
        self.left -= count;
        Ok(count)
    }
}

#[test]
fn memory_stays_flat_over_a_long_log() {
    let header = Cursor::new(b"time_s,supply_c,slab_c,note\n".to_vec());
    let source = Endless {
        second: 0,
        row: header,
        left: 24 * 1024 * 1024,
    };
    let input = Input::pipe(Box::new(source)).expect("a pipe");
    let mut reader =
        LogReader::new("standard input", input, &ReaderOptions::default()).expect("a log");
    let mut count = 0_u64;
    loop {
        match reader.next_row() {
            Ok(Some(_)) => count += 1,
            Ok(None) => break,
            // The last row is cut where the bytes end.
            Err(error) => {
                assert_eq!(error.line(), Some(count + 3));
                break;
            }
        }
    }
    assert!(count > 800_000, "{count}");
    assert!(reader.bytes_read() > 23 * 1024 * 1024);
    assert!(reader.held_bytes() < 1024 * 1024, "{}", reader.held_bytes());
}

#[test]
fn progress_reaches_the_end() {
    let mut reader = open(PLAIN);
    assert_eq!(reader.total_bytes(), Some(PLAIN.len() as u64));
    all(&mut reader).expect("rows");
    assert_eq!(Some(reader.bytes_read()), reader.total_bytes());
}

/// Fields with everything that needs quotes, and bytes beyond ASCII.
fn field() -> impl Strategy<Value = Vec<u8>> {
    prop_oneof![
        prop::collection::vec(
            prop::sample::select(b"ab,;\"\r\n #\xE4-+!#\x0B\x8A\xA2\xAC\0".to_vec()),
            0..12
        ),
        "[0-9.]{1,8}".prop_map(String::into_bytes),
    ]
}

proptest! {
    /// Against the csv crate as writer and as reader.
    #[test]
    fn records_are_those_of_the_csv_crate(
        mut records in prop::collection::vec(prop::collection::vec(field(), 2..6), 1..20),
        quote_all in any::<bool>(),
        crlf in any::<bool>(),
    ) {
        let mut writer = csv::WriterBuilder::new()
            .flexible(true)
            .quote_style(if quote_all { csv::QuoteStyle::Always } else { csv::QuoteStyle::Necessary })
            .terminator(if crlf { csv::Terminator::CRLF } else { csv::Terminator::Any(b'\n') })
            .from_writer(Vec::new());
        for record in &mut records {
            // No record is a remark.
            record[0].insert(0, b'x');
            writer.write_byte_record(&record.iter().map(Vec::as_slice).collect()).expect("written");
        }
        let text = writer.into_inner().expect("written");
        let mut reader = csv::ReaderBuilder::new()
            .flexible(true)
            .has_headers(false)
            .from_reader(text.as_slice());
        let mut ours = Records::new(text.as_slice(), b',');
        for expected in reader.byte_records() {
            let expected = expected.expect("read");
            prop_assert!(ours.advance().expect("a record"));
            let fields = ours.fields();
            let found: Vec<&[u8]> = (0..fields.count()).map(|field| fields.get(field)).collect();
            prop_assert_eq!(found, expected.iter().collect::<Vec<_>>());
        }
        prop_assert!(!ours.advance().expect("the end"));
        prop_assert_eq!(ours.consumed() as usize, text.len());
    }

    #[test]
    fn any_bytes_are_a_log_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..300), quotes in any::<bool>()) {
        let mut text = b"time_s,slab_c,note\n0,1,2\n".to_vec();
        if quotes {
            text.extend_from_slice(b"1,2,\"");
        }
        text.extend_from_slice(&bytes);
        for text in [bytes, text] {
            if let Ok(mut reader) = LogReader::from_bytes("house.csv", text, &ReaderOptions::default()) {
                let _ = all(&mut reader);
            }
        }
    }
}
