//! Lines on the serial line: printable ASCII, then `~` and four hexadecimal digits of checksum.
//!
//! The checksum is CRC-16 with polynomial 1021h, start FFFFh, nothing reflected (catalogued as
//! CRC-16/IBM-3740, check value 29B1h for "123456789"), over everything before the `~`.
//! Both directions are bounded and count what they lose.

use core::fmt::{self, Write};

use crc::{CRC_16_IBM_3740, Crc, NoTable};
use heapless::{Deque, String};

static CRC: Crc<u16, NoTable> = Crc::<u16, NoTable>::new(&CRC_16_IBM_3740);

/// Longest line taken in, without its checksum.
pub const LONGEST: usize = 96;
/// Characters waiting to be sent. The longest line, a trace row, takes less than 700.
pub const WAITING: usize = 4_096;

/// Checksum of these bytes.
#[must_use]
pub fn checksum<'a>(bytes: impl IntoIterator<Item = &'a u8>) -> u16 {
    let mut digest = digest();
    for byte in bytes {
        digest.update(core::slice::from_ref(byte));
    }
    digest.finalize()
}

/// A checksum that is begun.
pub(crate) fn digest() -> crc::Digest<'static, u16, NoTable> {
    CRC.digest()
}

/// A line that came in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// Without checksum and line end.
    pub text: String<LONGEST>,
    /// It carried a right checksum.
    pub checked: bool,
}

/// Why a line was dropped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LineFault {
    /// Longer than [`LONGEST`].
    TooLong,
    /// Bytes outside printable ASCII.
    NotText,
    /// The checksum is not the line's.
    WrongChecksum,
}

/// What came in so far.
#[derive(Clone, Debug, Default)]
pub struct Input {
    text: String<{ LONGEST + 5 }>,
    fault: Option<LineFault>,
}

impl Input {
    /// Takes one byte; gives a line when one ends. Empty lines are nothing.
    pub fn push(&mut self, byte: u8) -> Option<Result<Line, LineFault>> {
        match byte {
            b'\r' | b'\n' => {
                let fault = self.fault.take();
                let text = core::mem::take(&mut self.text);
                match fault {
                    Some(fault) => Some(Err(fault)),
                    None if text.is_empty() => None,
                    None => Some(split(&text)),
                }
            }
            // Backspace and delete, for a person at a terminal.
            0x08 | 0x7F => {
                let _ = self.text.pop();
                None
            }
            b' '..=b'~' => {
                if self.text.push(char::from(byte)).is_err() && self.fault.is_none() {
                    self.fault = Some(LineFault::TooLong);
                }
                None
            }
            _ => {
                self.fault = self.fault.or(Some(LineFault::NotText));
                None
            }
        }
    }
}

fn split(text: &str) -> Result<Line, LineFault> {
    // By hand: the library's search from the end keeps a panic path.
    let mark = text.bytes().rposition(|byte| byte == b'~');
    let (body, checked) = match mark.and_then(|mark| text.split_at_checked(mark)) {
        None => (text, false),
        Some((body, sum)) => {
            let sum = sum.strip_prefix('~').unwrap_or_default();
            if !is_checksum(sum, checksum(body.as_bytes())) {
                return Err(LineFault::WrongChecksum);
            }
            (body, true)
        }
    };
    let text = String::try_from(body).map_err(|_| LineFault::TooLong)?;
    Ok(Line { text, checked })
}

fn is_checksum(text: &str, sum: u16) -> bool {
    text.len() == 4
        && text.bytes().all(|byte| byte.is_ascii_hexdigit())
        && u16::from_str_radix(text, 16) == Ok(sum)
}

/// Characters on their way out.
#[derive(Clone, Debug, Default)]
pub struct Output {
    waiting: Deque<u8, WAITING>,
    lost: u32,
}

impl Output {
    /// Puts out a line whole, with its checksum, or counts it as lost.
    pub fn line(&mut self, write: impl FnOnce(&mut LineWriter<'_>) -> fmt::Result) {
        // Everything that does not hang on `write` stands apart: there are dozens of these in an image.
        let before = self.waiting.len();
        let mut writer = self.writer();
        let body = write(&mut writer);
        if body.and_then(|()| writer.end()).is_err() {
            self.take_back(before);
        }
    }

    #[inline(never)]
    fn writer(&mut self) -> LineWriter<'_> {
        LineWriter {
            waiting: &mut self.waiting,
            digest: CRC.digest(),
        }
    }

    #[inline(never)]
    fn take_back(&mut self, before: usize) {
        while self.waiting.len() > before {
            let _ = self.waiting.pop_back();
        }
        self.lost = self.lost.saturating_add(1);
    }

    /// The next character to send.
    pub fn pop(&mut self) -> Option<u8> {
        self.waiting.pop_front()
    }

    /// Is there room for any line?
    #[must_use]
    pub fn has_room(&self) -> bool {
        self.waiting.len() < WAITING / 2
    }

    /// Lines lost because the other side did not keep up.
    #[must_use]
    pub const fn lost(&self) -> u32 {
        self.lost
    }
}

/// Writes the body of one line.
pub struct LineWriter<'a> {
    waiting: &'a mut Deque<u8, WAITING>,
    digest: crc::Digest<'static, u16, NoTable>,
}

impl LineWriter<'_> {
    /// Checksum and line end.
    #[inline(never)]
    fn end(&mut self) -> fmt::Result {
        let sum = self.digest.clone().finalize();
        write!(self, "~{sum:04x}")?;
        for byte in *b"\r\n" {
            self.waiting.push_back(byte).map_err(|_| fmt::Error)?;
        }
        Ok(())
    }
}

impl Write for LineWriter<'_> {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        for character in text.chars() {
            // Nothing else may look like a line's end; what is not ASCII becomes a question mark.
            let printable = Some(character).filter(|c| matches!(c, ' '..='~'));
            let byte = printable.and_then(|c| u8::try_from(c).ok()).unwrap_or(b'?');
            self.digest.update(&[byte]);
            self.waiting.push_back(byte).map_err(|_| fmt::Error)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::vec::Vec;

    fn feed(input: &mut Input, bytes: &[u8]) -> Vec<Result<Line, LineFault>> {
        bytes.iter().filter_map(|byte| input.push(*byte)).collect()
    }

    fn sent(output: &mut Output) -> Vec<u8> {
        core::iter::from_fn(|| output.pop()).collect()
    }

    #[test]
    fn checksum_is_the_catalogued_one() {
        // Published check value of CRC-16/IBM-3740.
        assert_eq!(checksum(b"123456789"), 0x29B1);
    }

    #[test]
    fn a_line_out_is_a_line_in() {
        let mut output = Output::default();
        output.line(|line| line.write_str("set target 1.5"));
        let bytes = sent(&mut output);
        let lines = feed(&mut Input::default(), &bytes);
        let text = String::try_from("set target 1.5").unwrap();
        assert_eq!(
            lines,
            [Ok(Line {
                text,
                checked: true
            })]
        );
    }

    #[test]
    fn any_single_wrong_bit_is_found() {
        let mut output = Output::default();
        output.line(|line| line.write_str("mode drained"));
        let good = sent(&mut output);
        for n in 0..(good.len() - 2) * 8 {
            let mut bad = good.clone();
            bad[n / 8] ^= 1 << (n % 8);
            for line in feed(&mut Input::default(), &bad).into_iter().flatten() {
                // Only the case of a checksum's letter may differ.
                assert!(!line.checked || line.text == "mode drained", "{line:?}");
            }
        }
    }

    #[test]
    fn long_foreign_and_edited_lines() {
        let mut input = Input::default();
        let flood = [b'a'; 5_000];
        assert_eq!(feed(&mut input, &flood), []);
        assert_eq!(feed(&mut input, b"\n"), [Err(LineFault::TooLong)]);
        assert_eq!(feed(&mut input, &[b'a'; 98]), []);
        assert_eq!(feed(&mut input, b"\n"), [Err(LineFault::TooLong)]);
        assert_eq!(
            feed(&mut input, b"st\xC3\xA4tus\r\n"),
            [Err(LineFault::NotText)]
        );
        let status = feed(&mut input, b"stt\x08atus\r\n\r\n");
        assert_eq!(status[0].as_ref().unwrap().text, "status");
        assert_eq!(status.len(), 1, "an empty line is nothing");
        assert_eq!(
            feed(&mut input, b"x~\n~\n~12345\n"),
            [const { Err(LineFault::WrongChecksum) }; 3]
        );
    }

    #[test]
    fn a_full_queue_loses_whole_lines_and_counts_them() {
        let mut output = Output::default();
        for _ in 0..100 {
            output.line(|line| (0..20).try_for_each(|_| line.write_str("0123456789")));
        }
        let bytes = sent(&mut output);
        assert_eq!(bytes.len() % 207, 0);
        assert_eq!(bytes.len() / 207 + output.lost() as usize, 100);
        assert!(output.lost() > 0);
    }

    proptest! {
        #[test]
        fn noise_never_makes_a_checked_line(noise in proptest::collection::vec(any::<u8>(), 0..2_000)) {
            let mut input = Input::default();
            for line in feed(&mut input, &noise).into_iter().flatten() {
                // One in 65 536 right by chance would need a '~' and four matching digits.
                prop_assert!(!line.checked, "{:?}", line);
            }
        }
    }
}
