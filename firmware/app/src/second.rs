//! A second port that says what the serial line says, for a PC that comes, sleeps, reads nothing or goes.
//!
//! The serial line sets the pace. What leaves it is copied here while a PC has the port open; lines there is no
//! room for are dropped whole and counted. Nobody waits for this port. Whoever moves the characters holds it beside
//! the application.

use heapless::Deque;

use serial_line::line::{Input, Line, LineFault};

/// Characters kept for a PC that reads slowly: some rows. The longest line takes less than 700.
const WAITING: usize = 2_048;

/// Which characters are copied.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
enum Copying {
    /// None: nobody has the port open.
    #[default]
    Nothing,
    /// None until the line under way has ended.
    FromNextLine,
    /// All.
    All,
}

/// The port.
#[derive(Clone, Debug, Default)]
pub struct SecondPort {
    input: Input,
    waiting: Deque<u8, WAITING>,
    /// Of these, those of a line that has not ended.
    begun: usize,
    /// The serial line stands inside a line.
    is_inside: bool,
    copying: Copying,
    lost: u32,
}

impl SecondPort {
    /// Somebody has opened or closed the port. One that was just opened begins with a whole line.
    pub fn set_open(&mut self, open: bool) {
        match (open, self.copying) {
            (true, Copying::Nothing) => {
                self.copying = if self.is_inside {
                    Copying::FromNextLine
                } else {
                    Copying::All
                };
            }
            (false, Copying::FromNextLine | Copying::All) => {
                // Half a request of a PC that went is none.
                let lost = self.lost;
                let is_inside = self.is_inside;
                *self = Self {
                    lost,
                    is_inside,
                    ..Self::default()
                };
            }
            (true, Copying::FromNextLine | Copying::All) | (false, Copying::Nothing) => {}
        }
    }

    /// Copies a character that leaves on the serial line.
    pub fn copy(&mut self, byte: u8) {
        let ends = byte == b'\n';
        self.is_inside = !ends;
        match self.copying {
            Copying::Nothing => {}
            Copying::FromNextLine if ends => self.copying = Copying::All,
            Copying::FromNextLine => {}
            Copying::All if self.waiting.push_back(byte).is_err() => {
                for _ in 0..self.begun {
                    let _ = self.waiting.pop_back();
                }
                self.begun = 0;
                self.lost = self.lost.saturating_add(1);
                if !ends {
                    self.copying = Copying::FromNextLine;
                }
            }
            Copying::All if ends => self.begun = 0,
            Copying::All => self.begun = self.begun.saturating_add(1),
        }
    }

    /// The next character of a whole line for this port.
    pub fn pop(&mut self) -> Option<u8> {
        if self.waiting.len() > self.begun {
            self.waiting.pop_front()
        } else {
            None
        }
    }

    /// Takes a character that came in; gives a line when one ends.
    pub fn push(&mut self, byte: u8) -> Option<Result<Line, LineFault>> {
        self.input.push(byte)
    }

    /// Lines lost because the PC had the port open and did not keep up.
    #[must_use]
    pub const fn lost(&self) -> u32 {
        self.lost
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::format;
    use std::string::String;
    use std::vec::Vec;

    fn copy(port: &mut SecondPort, text: &str) {
        text.bytes().for_each(|byte| port.copy(byte));
    }

    fn said(port: &mut SecondPort) -> String {
        let bytes: Vec<u8> = core::iter::from_fn(|| port.pop()).collect();
        String::from_utf8(bytes).unwrap()
    }

    #[test]
    fn whole_lines_are_copied_while_the_port_is_open() {
        let mut port = SecondPort::default();
        copy(&mut port, "nobody\nhal");
        port.set_open(true);
        copy(&mut port, "f\none\ntw");
        assert_eq!(said(&mut port), "one\n", "no half line at either end");
        copy(&mut port, "o\n");
        assert_eq!(said(&mut port), "two\n");
        port.set_open(false);
        copy(&mut port, "nobody\n");
        port.set_open(true);
        copy(&mut port, "three\n");
        assert_eq!(said(&mut port), "three\n");
        assert_eq!(port.lost(), 0, "nobody was there to lose them");
    }

    #[test]
    fn a_pc_that_reads_nothing_loses_whole_lines_and_they_are_counted() {
        let mut port = SecondPort::default();
        port.set_open(true);
        let line = |n: usize| format!("{n:099}\n");
        for n in 0..1_000 {
            copy(&mut port, &line(n));
        }
        let kept = said(&mut port);
        let whole = WAITING / 100;
        assert_eq!(kept, (0..whole).map(line).collect::<String>());
        assert_eq!(port.lost() as usize, 1_000 - whole);
        // It reads again: everything from here on comes.
        copy(&mut port, &line(7));
        assert_eq!(said(&mut port), line(7));
    }

    #[test]
    fn a_line_that_just_fits_and_one_that_just_does_not() {
        for (length, lost) in [(WAITING, 0), (WAITING + 1, 1), (WAITING + 2, 1)] {
            let mut port = SecondPort::default();
            port.set_open(true);
            let line = format!("{}\n", "x".repeat(length - 1));
            copy(&mut port, &line);
            assert_eq!(port.lost(), lost, "{length}");
            let expected = if lost == 0 { line } else { String::new() };
            assert_eq!(said(&mut port), expected, "{length}");
            copy(&mut port, "next\n");
            assert_eq!(said(&mut port), "next\n", "{length}");
        }
    }

    #[test]
    fn half_a_request_goes_with_the_pc_that_sent_it() {
        let mut port = SecondPort::default();
        port.set_open(true);
        for byte in *b"mode dra" {
            assert_eq!(port.push(byte), None);
        }
        port.set_open(false);
        port.set_open(true);
        let lines: Vec<_> = b"ined\n".iter().filter_map(|b| port.push(*b)).collect();
        assert_eq!(lines[0].as_ref().unwrap().text, "ined");
    }
}
