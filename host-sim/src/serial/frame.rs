//! Bytes to lines with a right checksum, and back. What is no such line is counted.

use serde::Serialize;
use serial_line::line::checksum;

/// Longest line taken in, bytes. A row with the longest note takes less than half of it.
const LONGEST: usize = 2_048;

/// Why a line is not used.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// The rest of a line that began before the port was opened, or one cut off when it went away.
    Half,
    /// Longer than any line of the unit.
    TooLong,
    /// Bytes outside printable ASCII.
    NotText,
    /// Every line of the unit has a checksum; this has none.
    NoChecksum,
    /// The checksum is not the line's.
    WrongChecksum,
}

/// How many lines were not used, by [`Fault`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Faults {
    /// [`Fault::Half`]
    pub half: u64,
    /// [`Fault::TooLong`]
    pub too_long: u64,
    /// [`Fault::NotText`]
    pub not_text: u64,
    /// [`Fault::NoChecksum`]
    pub no_checksum: u64,
    /// [`Fault::WrongChecksum`]
    pub wrong_checksum: u64,
}

impl Faults {
    /// Counts one.
    pub fn count(&mut self, fault: Fault) {
        *match fault {
            Fault::Half => &mut self.half,
            Fault::TooLong => &mut self.too_long,
            Fault::NotText => &mut self.not_text,
            Fault::NoChecksum => &mut self.no_checksum,
            Fault::WrongChecksum => &mut self.wrong_checksum,
        } += 1;
    }

    /// Lines that were damaged; half lines at plugging in are none.
    #[must_use]
    pub fn damaged(&self) -> u64 {
        self.too_long + self.not_text + self.no_checksum + self.wrong_checksum
    }
}

/// Takes bytes of one connection apart.
#[derive(Clone, Debug, Default)]
pub struct Deframer {
    text: Vec<u8>,
    fault: Option<Fault>,
    /// A line's end was seen, so that what comes is whole.
    in_step: bool,
}

impl Deframer {
    /// Takes one byte; gives a line's text without checksum, or why it is not used, when one ends.
    pub fn push(&mut self, byte: u8) -> Option<Result<String, Fault>> {
        match byte {
            b'\r' | b'\n' => {
                let was_in_step = std::mem::replace(&mut self.in_step, true);
                let text = std::mem::take(&mut self.text);
                let result = match self.fault.take() {
                    Some(fault) => Err(fault),
                    None if text.is_empty() => return None,
                    None => unsealed(&text),
                };
                Some(result.map_err(|fault| if was_in_step { fault } else { Fault::Half }))
            }
            b' '..=b'~' if self.text.len() < LONGEST => {
                self.text.push(byte);
                None
            }
            b' '..=b'~' => {
                self.fault = self.fault.or(Some(Fault::TooLong));
                None
            }
            _ => {
                self.fault = self.fault.or(Some(Fault::NotText));
                None
            }
        }
    }

    /// The connection has ended: is part of a line left over?
    #[must_use]
    pub fn end(&self) -> Option<Fault> {
        (!self.text.is_empty() || self.fault.is_some()).then_some(Fault::Half)
    }
}

fn unsealed(line: &[u8]) -> Result<String, Fault> {
    let mark = line.iter().rposition(|byte| *byte == b'~');
    let (body, sum) = line.split_at(mark.ok_or(Fault::NoChecksum)?);
    let expected = format!("~{:04x}", checksum(body));
    if !sum.eq_ignore_ascii_case(expected.as_bytes()) {
        return Err(Fault::WrongChecksum);
    }
    String::from_utf8(body.to_vec()).map_err(|_| Fault::NotText)
}

/// A line as it is sent: with its checksum and end.
#[must_use]
pub fn sealed(text: &str) -> String {
    format!("{text}~{:04x}\r\n", checksum(text.as_bytes()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn feed(bytes: &[u8]) -> Vec<Result<String, Fault>> {
        let mut deframer = Deframer::default();
        bytes
            .iter()
            .filter_map(|byte| deframer.push(*byte))
            .collect()
    }

    #[test]
    fn a_sealed_line_comes_out_and_the_firmware_takes_it() {
        // The line of the format's page.
        let line = sealed("log 71,5.000,4.000,1.875,-8.000,1,0,1,frost,0");
        assert!(line.ends_with("~92a6\r\n"), "{line}");
        assert_eq!(
            feed(line.as_bytes()),
            [Ok(
                "log 71,5.000,4.000,1.875,-8.000,1,0,1,frost,0".to_owned()
            )]
        );
        let mut unit = serial_line::line::Input::default();
        let heard: Vec<_> = sealed("apply")
            .bytes()
            .filter_map(|b| unit.push(b))
            .collect();
        assert!(heard.len() == 1 && heard[0].as_ref().is_ok_and(|line| line.checked));
    }

    #[test]
    fn every_kind_of_damage_has_its_name() {
        let flood = [b'a'; 5_000];
        let mut bytes = b"0,0~92a6\r\n".to_vec();
        bytes.extend(flood);
        bytes.extend(b"\nst\xC3\xA4tus~0000\nhello\nhello~0000\nhello~\n");
        bytes.extend(sealed("hello").into_bytes());
        assert_eq!(
            feed(&bytes),
            [
                Err(Fault::Half),
                Err(Fault::TooLong),
                Err(Fault::NotText),
                Err(Fault::NoChecksum),
                Err(Fault::WrongChecksum),
                Err(Fault::WrongChecksum),
                Ok("hello".to_owned()),
            ]
        );
    }

    #[test]
    fn the_rest_of_a_cut_connection_is_a_half_line() {
        let mut deframer = Deframer::default();
        assert_eq!(deframer.end(), None);
        b"row 1,2".iter().for_each(|b| drop(deframer.push(*b)));
        assert_eq!(deframer.end(), Some(Fault::Half));
    }

    proptest! {
        #[test]
        fn noise_is_never_a_line(noise in proptest::collection::vec(any::<u8>(), 0..4_000)) {
            // One in 65 536 right by chance would need a '~' and four matching digits.
            prop_assert!(feed(&noise).iter().all(Result::is_err));
        }

        #[test]
        fn any_flipped_bit_is_found(text in "[ -}]{1,80}", place in 0_usize..640) {
            let mut bytes = sealed(&text).into_bytes();
            let place = place % (8 * (bytes.len() - 2));
            bytes[place / 8] ^= 1 << (place % 8);
            for line in feed(&bytes).into_iter().flatten() {
                // Only the case of a checksum's letter may differ.
                prop_assert_eq!(&line, &text);
            }
        }
    }
}
