//! The start of a log: encoding mark, delimiter, header.

use memchr::memchr;

use super::{LogErrorKind, records::Records, text};

/// What stands before the first row.
pub(super) struct Head {
    pub(super) delimiter: u8,
    pub(super) headers: Vec<String>,
    /// The header's line, from 1.
    pub(super) header_line: u64,
    /// Bytes and lines up to the first row.
    pub(super) bytes: usize,
    pub(super) lines: u64,
}

impl Head {
    /// Reads it from the log's first bytes, behind `skipped` lines. What is wrong comes with its line, if it is in one.
    pub(super) fn read(start: &[u8], skipped: u64) -> Result<Head, (Option<u64>, LogErrorKind)> {
        if start.starts_with(b"\xFF\xFE") || start.starts_with(b"\xFE\xFF") {
            return Err((None, LogErrorKind::Utf16));
        }
        if let Some((_, format, advice)) = FOREIGN.iter().find(|(mark, ..)| start.starts_with(mark))
        {
            let (format, advice) = workbook(start).unwrap_or((format, advice));
            return Err((None, LogErrorKind::Foreign { format, advice }));
        }
        let mut at = if start.starts_with(b"\xEF\xBB\xBF") {
            3
        } else {
            0
        };
        let mut lines = 0;
        while lines < skipped {
            match memchr(b'\n', &start[at..]) {
                Some(end) => at += end + 1,
                None => return Err((None, LogErrorKind::NoHeader)),
            }
            lines += 1;
        }
        let mut announced = None;
        loop {
            let rest = &start[at..];
            if rest.is_empty() {
                return Err((None, LogErrorKind::NoHeader));
            }
            let whole = memchr(b'\n', rest).map_or(rest.len(), |end| end + 1);
            let line = rest[..whole].trim_ascii();
            // Spreadsheets write their delimiter into a line of its own.
            let announcement = announced_delimiter(line);
            if announcement.is_none() && !line.is_empty() && line[0] != b'#' {
                match line.iter().filter(|byte| **byte == 0).count() {
                    0 => {}
                    // Every other byte, in plain letters.
                    zeros if 3 * zeros > line.len() => return Err((None, LogErrorKind::Utf16)),
                    _ => {
                        let (format, advice) =
                            ("bytes that are no text", "export the log as CSV, UTF-8");
                        return Err((None, LogErrorKind::Foreign { format, advice }));
                    }
                }
                let delimiter = announced.unwrap_or_else(|| likely_delimiter(line));
                let mut records = Records::new(rest, delimiter);
                records
                    .advance()
                    .map_err(|fault| (Some(lines + 1), fault.into()))?;
                let headers = (0..records.fields().count())
                    .map(|field| text(records.fields().get(field)).trim().to_owned())
                    .collect();
                let bytes = at + records.consumed() as usize;
                return Ok(Head {
                    delimiter,
                    headers,
                    header_line: lines + 1,
                    bytes,
                    lines: lines + records.lines_through(),
                });
            }
            announced = announced.or(announcement);
            at += whole;
            lines += 1;
        }
    }
}

const SPREADSHEET: &str = "open it in a spreadsheet program, go to the sheet with the rows, save that sheet as \"CSV UTF-8\" and give \
    the new file; if its headers are others, name them with --column";
const UNPACK: &str = "unpack it first; gzip alone is read as it is";
const TABLE: &str = "write the table out as CSV, UTF-8, with the program it comes from";

/// First bytes of files that people have instead of CSV: from the formats' own descriptions, from memory.
const FOREIGN: [(&[u8], &str, &str); 11] = [
    (
        b"PK\x03\x04",
        "a ZIP archive",
        "unpack it and give the CSV file in it; gzip alone is read as it is",
    ),
    (b"\xD0\xCF\x11\xE0", "an old spreadsheet (xls)", SPREADSHEET),
    (b"\x28\xB5\x2F\xFD", "a Zstandard archive", UNPACK),
    (b"BZh", "a bzip2 archive", UNPACK),
    (b"\xFD7zXZ", "an xz archive", UNPACK),
    (b"7z\xBC\xAF", "a 7z archive", UNPACK),
    (b"PAR1", "a Parquet table", TABLE),
    (b"ARROW1", "an Arrow or Feather table", TABLE),
    (b"FEA1", "a Feather table", TABLE),
    (b"SQLite format 3\0", "an SQLite database", TABLE),
    (b"%PDF", "a PDF document", TABLE),
];

/// A ZIP archive that is a workbook, by the name of its first part.
fn workbook(start: &[u8]) -> Option<(&'static str, &'static str)> {
    /// The first part's head, name and, in ods, kind stand within this.
    const HEAD: usize = 160;
    let head = &start[..start.len().min(HEAD)];
    let has = |name: &[u8]| head.windows(name.len()).any(|part| part == name);
    let format = if has(b"[Content_Types].xml") || has(b"xl/") || has(b"_rels/") {
        "a spreadsheet's workbook (xlsx)"
    } else if has(b"application/vnd.oasis.opendocument.spreadsheet") {
        "a spreadsheet's workbook (ods)"
    } else {
        return None;
    };
    head.starts_with(b"PK").then_some((format, SPREADSHEET))
}

/// How many lines stand above the header, where the first line is none.
pub(super) fn skipped_to_header(
    start: &[u8],
    is_header: impl Fn(Vec<String>) -> bool,
) -> Option<u64> {
    /// Lines looked at.
    const MOST: u64 = 40;
    (1..MOST).find_map(|skipped| {
        let head = Head::read(start, skipped).ok()?;
        is_header(head.headers).then_some(head.header_line - 1)
    })
}

fn announced_delimiter(line: &[u8]) -> Option<u8> {
    let line = line
        .strip_prefix(b"\"")
        .and_then(|line| line.strip_suffix(b"\""))
        .unwrap_or(line);
    match line {
        [
            b's' | b'S',
            b'e' | b'E',
            b'p' | b'P',
            b'=',
            delimiter @ (b',' | b';'),
        ] => Some(*delimiter),
        // Trimmed: the tab is gone.
        [b's' | b'S', b'e' | b'E', b'p' | b'P', b'='] => Some(b'\t'),
        _ => None,
    }
}

/// The one of comma, semicolon and tab that the header holds most of outside quotes; the comma where none.
fn likely_delimiter(header: &[u8]) -> u8 {
    let mut is_quoted = false;
    let mut counts = [(0, b'\t'), (0, b';'), (0, b',')];
    for byte in header {
        is_quoted ^= *byte == b'"';
        if let Some((count, _)) = counts
            .iter_mut()
            .find(|(_, delimiter)| delimiter == byte && !is_quoted)
        {
            *count += 1;
        }
    }
    // The last of equal maxima wins, hence the comma last.
    counts
        .into_iter()
        .max_by_key(|&(count, _)| count)
        .map_or(b',', |(_, delimiter)| delimiter)
}
