//! Asking a unit something and waiting for the answer, in spite of rows in between and lost lines.

use std::collections::VecDeque;
use std::time::Duration;
use std::{fmt, io};

use serial_line::line::LineFault;
use serial_line::refusal::Refusal;

use super::frame::{Deframer, Faults, sealed};
use super::port::{self, Line, Port};

/// How long an answer may keep silent.
const SILENCE: Duration = Duration::from_secs(3);
/// How often a request is sent before the line is given up. Only a request that may be repeated is.
const TRIES: u32 = 4;
/// How long a unit may be busy with what was asked before.
const BUSY: Duration = Duration::from_secs(40);
/// Pause before a busy unit is asked again.
const PAUSE: Duration = Duration::from_secs(1);

/// What the unit says of a line that was damaged on its way: nothing was done, send it again.
const SEND_AGAIN: [Refusal; 3] = [
    Refusal::Line(LineFault::TooLong),
    Refusal::Line(LineFault::NotText),
    Refusal::Line(LineFault::WrongChecksum),
];

/// Why a unit could not be talked with.
#[derive(Debug)]
pub enum LineError {
    /// The port cannot be opened.
    NoPort {
        /// Its name.
        port: String,
        /// Why.
        cause: io::Error,
    },
    /// The port went away.
    Gone {
        /// Its name.
        port: String,
    },
    /// No whole answer after several tries.
    Silent {
        /// Its name.
        port: String,
        /// What was asked.
        asked: String,
        /// Damaged lines meanwhile.
        damaged: u64,
    },
    /// The unit started anew meanwhile.
    Booted {
        /// Its name.
        port: String,
    },
    /// The unit's firmware does not match this program.
    Foreign {
        /// Its name.
        port: String,
        /// What came.
        found: String,
        /// What should have come.
        expected: String,
    },
}

impl fmt::Display for LineError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoPort { port, cause } => {
                let present = port::present();
                let present = if present.is_empty() {
                    "no serial port was found on this machine".to_owned()
                } else {
                    format!("there are: {}", present.join(", "))
                };
                write!(
                    f,
                    "{port}: cannot be opened: {cause}; expected a serial port that no other program has open; {present}"
                )
            }
            Self::Gone { port } => write!(f, "{port}: went away; plug it in and try again"),
            Self::Silent {
                port,
                asked,
                damaged,
            } => write!(
                f,
                "{port}: found no answer to \"{asked}\" ({damaged} damaged lines came); expected a unit that speaks at {} \
                 baud; check port, cable and power",
                port::BAUD
            ),
            Self::Booted { port } => {
                write!(f, "{port}: the unit started anew meanwhile; try again")
            }
            Self::Foreign {
                port,
                found,
                expected,
            } => write!(
                f,
                "{port}: found {found}; expected {expected}; firmware and this program must be of one version"
            ),
        }
    }
}

impl std::error::Error for LineError {}

/// An answer: lines before the last, and the last.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answer {
    /// Lines of the answer but the last, rows and the like left out.
    pub lines: Vec<String>,
    /// What follows `ok`, or what follows `no`.
    pub verdict: Result<String, String>,
}

/// Who is waited for, and whether asking twice does no harm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ask {
    /// May be sent again if no answer comes.
    Again,
    /// Is sent once.
    Once,
}

/// An open line to a unit.
pub struct Conversation<'a> {
    port: &'a mut dyn Port,
    line: Box<dyn Line>,
    deframer: Deframer,
    ready: VecDeque<String>,
    faults: Faults,
}

impl<'a> Conversation<'a> {
    /// Opens the port and ends whatever half line stands at the unit.
    ///
    /// # Errors
    /// [`LineError::NoPort`] or [`LineError::Gone`].
    pub fn open(port: &'a mut dyn Port) -> Result<Self, LineError> {
        let line = port.open().map_err(|cause| LineError::NoPort {
            port: port.name().to_owned(),
            cause,
        })?;
        let mut conversation = Self {
            port,
            line,
            deframer: Deframer::default(),
            ready: VecDeque::new(),
            faults: Faults::default(),
        };
        conversation.send("\r\n")?;
        conversation.pass(Duration::from_millis(300))?;
        Ok(conversation)
    }

    /// The port's name.
    #[must_use]
    pub fn name(&self) -> &str {
        self.port.name()
    }

    /// Lines not used so far.
    #[must_use]
    pub const fn faults(&self) -> &Faults {
        &self.faults
    }

    /// Lets time pass and drops what comes meanwhile.
    ///
    /// # Errors
    /// [`LineError::Gone`].
    pub fn pass(&mut self, time: Duration) -> Result<(), LineError> {
        let until = self.port.now() + time;
        while self.next(until)?.is_some() {}
        Ok(())
    }

    /// Time on the port's clock.
    #[must_use]
    pub fn now(&self) -> Duration {
        self.port.now()
    }

    /// Asks with checksum and waits for the last line of the answer, which `is_last` knows among those
    /// that start with `ok`; any other such line is left over from something else. `hear` is told of
    /// every line of the answer as it comes.
    ///
    /// # Errors
    /// [`LineError::Gone`], [`LineError::Silent`] or [`LineError::Booted`].
    pub fn ask(
        &mut self,
        text: &str,
        repeat: Ask,
        is_last: &dyn Fn(&str) -> bool,
        hear: &mut dyn FnMut(&str),
    ) -> Result<Answer, LineError> {
        let patient_until = self.port.now() + BUSY;
        let mut tries = 0;
        while tries < TRIES {
            self.send(&sealed(text))?;
            match self.answer(is_last, hear)? {
                Some(answer) => match &answer.verdict {
                    Err(why) if is(why, Refusal::Busy) && self.port.now() < patient_until => {
                        self.pass(PAUSE)?;
                        continue;
                    }
                    _ => return Ok(answer),
                },
                // The unit says the line was damaged and nothing done, or says nothing.
                None if repeat == Ask::Once => break,
                None => tries += 1,
            }
        }
        Err(LineError::Silent {
            port: self.name().to_owned(),
            asked: text.to_owned(),
            damaged: self.faults.damaged(),
        })
    }

    /// `None` if the request or its answer was lost.
    fn answer(
        &mut self,
        is_last: &dyn Fn(&str) -> bool,
        hear: &mut dyn FnMut(&str),
    ) -> Result<Option<Answer>, LineError> {
        let mut lines = Vec::new();
        let mut until = self.port.now() + SILENCE;
        while let Some(line) = self.next(until)? {
            let (word, rest) = line.split_once(' ').unwrap_or((&line, ""));
            match word {
                "hello;" => {
                    return Err(LineError::Booted {
                        port: self.name().to_owned(),
                    });
                }
                // What the unit says by itself.
                "row" | "columns" | "held" | "rises" | "test" => continue,
                "no" if SEND_AGAIN.iter().any(|again| is(rest, *again)) => return Ok(None),
                "ok" if !is_last(rest) => continue,
                "ok" | "no" => {
                    let rest = rest.to_owned();
                    let verdict = if word == "ok" { Ok(rest) } else { Err(rest) };
                    return Ok(Some(Answer { lines, verdict }));
                }
                _ => {
                    hear(&line);
                    lines.push(line);
                    until = self.port.now() + SILENCE;
                }
            }
        }
        Ok(None)
    }

    fn send(&mut self, text: &str) -> Result<(), LineError> {
        match self.line.write_all(text.as_bytes()) {
            Err(error) if !port::is_only_slow(&error) => Err(self.gone()),
            // What did not get out is asked again.
            _ => Ok(()),
        }
    }

    /// The next line with a right checksum, or `None` if it has not come by then.
    fn next(&mut self, until: Duration) -> Result<Option<String>, LineError> {
        let mut buffer = [0; 1_024];
        loop {
            if let Some(line) = self.ready.pop_front() {
                return Ok(Some(line));
            }
            if self.port.now() >= until {
                return Ok(None);
            }
            let Ok(bytes) = port::read_some(self.line.as_mut(), &mut buffer) else {
                return Err(self.gone());
            };
            for byte in bytes {
                match self.deframer.push(*byte) {
                    Some(Ok(line)) => self.ready.push_back(line),
                    Some(Err(fault)) => self.faults.count(fault),
                    None => {}
                }
            }
        }
    }

    fn gone(&self) -> LineError {
        LineError::Gone {
            port: self.name().to_owned(),
        }
    }
}

/// Is this, after `no`, that refusal? Its word says so, whatever the sentence behind it.
fn is(why: &str, refusal: Refusal) -> bool {
    why.split_once(':')
        .is_some_and(|(word, _)| word == refusal.word())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn refusals_are_known_by_their_word_whatever_the_sentence() {
        assert!(is("busy: wait", Refusal::Busy));
        for why in [
            "something else is under way; wait or say stop",
            "busy",
            "",
            "busybody: wait",
        ] {
            assert!(!is(why, Refusal::Busy), "{why}");
        }
        for again in SEND_AGAIN {
            assert!(is(&format!("{}: {}", again.word(), again.text()), again));
        }
    }
}
