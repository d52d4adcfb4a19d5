//! Bytes to records: lines, quotes, comments, with one buffer of bounded size whatever the length of the source.

use std::io::{self, Read};

use memchr::memchr;

/// Bytes asked from the source at a time.
pub(super) const BLOCK: usize = 256 * 1024;
/// Longest record; a longer one is a quote that never closes or no log at all.
pub(super) const RECORD_LIMIT: usize = 64 * 1024;

/// What stops the splitting of a source into records.
#[derive(Debug)]
pub(super) enum RecordFault {
    Io(io::Error),
    TooLong,
    OpenQuote,
}

/// A source split into records (RFC 4180, any line ending of LF or CRLF). Blank lines and lines that start with `#` are
/// passed over.
pub(super) struct Records<R> {
    source: R,
    delimiter: u8,
    buffer: Vec<u8>,
    start: usize,
    end: usize,
    finished: bool,
    /// Bytes of the source that were split into records.
    consumed: u64,
    /// Lines that ended before the current record, and before the next one.
    line: u64,
    next_line: u64,
    /// Where the current record, fields joined by one byte, starts in `buffer`, unless it is in `unquoted`.
    record: usize,
    unquoted: Vec<u8>,
    is_unquoted: bool,
    /// Where each field ends, counted from the record's start.
    ends: Vec<usize>,
}

impl<R: Read> Records<R> {
    pub(super) fn new(source: R, delimiter: u8) -> Records<R> {
        Records {
            source,
            delimiter,
            buffer: vec![0; BLOCK],
            start: 0,
            end: 0,
            finished: false,
            consumed: 0,
            line: 0,
            next_line: 0,
            record: 0,
            unquoted: Vec::new(),
            is_unquoted: false,
            ends: Vec::new(),
        }
    }

    /// Moves to the next record; false at the end of the source.
    #[inline]
    pub(super) fn advance(&mut self) -> Result<bool, RecordFault> {
        loop {
            self.line = self.next_line;
            self.ends.clear();
            let rest = &self.buffer[self.start..self.end];
            let line = match scan(rest, self.delimiter, &mut self.ends) {
                Stop::LineEnd(at) => Line {
                    text: at - usize::from(rest[..at].ends_with(b"\r")),
                    whole: at + 1,
                },
                Stop::Quote => {
                    let Some(line) = self.line_from(0)? else {
                        return Ok(false);
                    };
                    if self.buffer[self.start] != b'#' {
                        return self.split_quoted(line);
                    }
                    line
                }
                Stop::End if !self.finished => {
                    self.fill()?;
                    continue;
                }
                Stop::End if rest.is_empty() => return Ok(false),
                Stop::End => Line {
                    text: rest.len(),
                    whole: rest.len(),
                },
            };
            if line.whole > RECORD_LIMIT {
                return Err(RecordFault::TooLong);
            }
            let text = &self.buffer[self.start..self.start + line.text];
            let is_record = text.first().is_some_and(|first| *first != b'#')
                && !text.trim_ascii_start().is_empty();
            if is_record {
                self.ends.push(line.text);
                self.record = self.start;
                self.is_unquoted = false;
            }
            self.consume(line.whole, 1);
            if is_record {
                return Ok(true);
            }
        }
    }

    /// The current record's fields.
    #[inline]
    pub(super) fn fields(&self) -> Fields<'_> {
        let text = if self.is_unquoted {
            &self.unquoted[..]
        } else {
            &self.buffer[self.record..]
        };
        Fields {
            text,
            ends: &self.ends,
        }
    }

    /// Whether the current record has a quoted field.
    pub(super) fn is_quoted(&self) -> bool {
        self.is_unquoted
    }

    /// What stands between two fields.
    pub(super) fn delimiter(&self) -> u8 {
        self.delimiter
    }

    /// Lines of the source before the current record.
    pub(super) fn lines_before(&self) -> u64 {
        self.line
    }

    /// Lines of the source up to and with the current record.
    pub(super) fn lines_through(&self) -> u64 {
        self.next_line
    }

    /// Bytes of the source up to and with the current record.
    pub(super) fn consumed(&self) -> u64 {
        self.consumed
    }

    fn consume(&mut self, bytes: usize, lines: u64) {
        self.start += bytes;
        self.consumed += bytes as u64;
        self.next_line += lines;
    }

    /// Bytes of memory it holds.
    #[cfg(test)]
    pub(super) fn held_bytes(&self) -> usize {
        self.buffer.capacity()
            + self.unquoted.capacity()
            + self.ends.capacity() * size_of::<usize>()
    }

    /// The line that starts `skip` bytes after the buffer's start; None at the end of the source.
    #[cold]
    fn line_from(&mut self, skip: usize) -> Result<Option<Line>, RecordFault> {
        let mut searched = skip;
        loop {
            let rest = &self.buffer[self.start + searched..self.end];
            if let Some(at) = memchr(b'\n', rest) {
                let text = searched + at;
                let carriage_return = text > skip && self.buffer[self.start + text - 1] == b'\r';
                return Ok(Some(Line {
                    text: text - usize::from(carriage_return),
                    whole: text + 1,
                }));
            }
            searched = self.end - self.start;
            if self.finished {
                return Ok((searched > skip).then_some(Line {
                    text: searched,
                    whole: searched,
                }));
            }
            self.fill()?;
        }
    }

    /// Reads one block more behind what is still unread.
    #[cold]
    fn fill(&mut self) -> Result<(), RecordFault> {
        self.buffer.copy_within(self.start..self.end, 0);
        self.end -= self.start;
        self.start = 0;
        if self.end > RECORD_LIMIT {
            return Err(RecordFault::TooLong);
        }
        self.buffer
            .resize((self.end + BLOCK).max(self.buffer.len()), 0);
        while self.end < self.buffer.len() {
            match self.source.read(&mut self.buffer[self.end..]) {
                Ok(0) => {
                    self.finished = true;
                    break;
                }
                Ok(count) => {
                    self.end += count;
                    break;
                }
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(RecordFault::Io(error)),
            }
        }
        Ok(())
    }

    /// Splits a record with quotes in it; a quoted field may hold delimiters, doubled quotes and line breaks.
    #[cold]
    fn split_quoted(&mut self, first: Line) -> Result<bool, RecordFault> {
        let mut line = first;
        let mut lines = 1;
        loop {
            if line.whole > RECORD_LIMIT {
                return Err(RecordFault::TooLong);
            }
            match unquote(
                &self.buffer[self.start..self.start + line.text],
                self.delimiter,
                &mut self.unquoted,
                &mut self.ends,
            ) {
                Ok(()) => break,
                Err(OpenQuote) => {
                    line = self.line_from(line.whole)?.ok_or(RecordFault::OpenQuote)?;
                    lines += 1;
                }
            }
        }
        self.is_unquoted = true;
        self.consume(line.whole, lines);
        Ok(true)
    }
}

/// A record's fields, quotes removed.
#[derive(Clone, Copy)]
pub(super) struct Fields<'a> {
    /// The fields, joined by one byte.
    text: &'a [u8],
    ends: &'a [usize],
}

impl<'a> Fields<'a> {
    pub(super) fn count(self) -> usize {
        self.ends.len()
    }

    /// A field's text; empty beyond the last field.
    #[inline]
    pub(super) fn get(self, index: usize) -> &'a [u8] {
        let Some(&end) = self.ends.get(index) else {
            return &[];
        };
        let start = if index == 0 {
            0
        } else {
            self.ends[index - 1] + 1
        };
        &self.text[start..end]
    }
}

/// A line's length without and with its ending, from the buffer's start.
#[derive(Clone, Copy)]
struct Line {
    text: usize,
    whole: usize,
}

/// Where a look for field and line ends stopped.
enum Stop {
    /// At a line feed.
    LineEnd(usize),
    /// At a quote.
    Quote,
    /// At the end of the bytes.
    End,
}

/// Notes where the delimiters are, up to the first line feed or quote: eight bytes at a time, because rows are short and
/// fields shorter.
#[inline]
fn scan(bytes: &[u8], delimiter: u8, ends: &mut Vec<usize>) -> Stop {
    let (words, tail) = bytes.as_chunks::<8>();
    let mut last = [0; 8];
    last[..tail.len()].copy_from_slice(tail);
    for (index, word) in words.iter().chain([&last]).enumerate() {
        let word = u64::from_le_bytes(*word);
        let stops = equal_bytes(word, b'\n') | equal_bytes(word, b'"');
        // All marks below the lowest stop.
        let mut delimiters = equal_bytes(word, delimiter) & (stops.wrapping_sub(1) & !stops);
        let start = index * 8;
        while delimiters != 0 {
            ends.push(start + delimiters.trailing_zeros() as usize / 8);
            delimiters &= delimiters - 1;
        }
        if stops != 0 {
            let at = start + stops.trailing_zeros() as usize / 8;
            return if bytes[at] == b'\n' {
                Stop::LineEnd(at)
            } else {
                Stop::Quote
            };
        }
    }
    Stop::End
}

/// The top bit of every byte of `word` that equals `byte`.
#[inline]
fn equal_bytes(word: u64, byte: u8) -> u64 {
    const LOW_BITS: u64 = u64::from_ne_bytes([0x7F; 8]);
    let difference = word ^ u64::from_ne_bytes([byte; 8]);
    // A byte is zero when neither its top bit nor any other is set; the sum carries the others into the top bit.
    !(((difference & LOW_BITS) + LOW_BITS) | difference | LOW_BITS)
}

struct OpenQuote;

/// Writes the record's fields, unquoted and joined by one byte, to `out` and their ends to `ends`. A quote opens only at the
/// start of a field; anywhere else it is text.
fn unquote(
    record: &[u8],
    delimiter: u8,
    out: &mut Vec<u8>,
    ends: &mut Vec<usize>,
) -> Result<(), OpenQuote> {
    out.clear();
    ends.clear();
    let mut rest = record;
    loop {
        if let [b'"', quoted @ ..] = rest {
            rest = quoted;
            loop {
                let at = memchr(b'"', rest).ok_or(OpenQuote)?;
                out.extend_from_slice(&rest[..at]);
                rest = &rest[at + 1..];
                match rest {
                    [b'"', after @ ..] => {
                        out.push(b'"');
                        rest = after;
                    }
                    _ => break,
                }
            }
        }
        let end = memchr(delimiter, rest).unwrap_or(rest.len());
        out.extend_from_slice(&rest[..end]);
        ends.push(out.len());
        if end == rest.len() {
            return Ok(());
        }
        out.push(delimiter);
        rest = &rest[end + 1..];
    }
}
