//! A unit heard where there are no threads, files or network, as in a browser: bytes come, and what is known now and the log so
//! far can be looked at. Words and pictures are those of a unit that is watched on a computer.

use super::conditions::{Conditions, Heard, Now, Rules};
use super::state::{SHOWN, State};
use crate::files::now::{self, Moment};
use crate::files::quantity::Units;
use crate::serial::capture::{Capture, Captured};
use crate::serial::log_text::LogText;
use crate::serial::session::{KeepError, News, Session};

/// What was heard so far, over however many connections.
#[derive(Debug)]
pub struct Live {
    began: Moment,
    capture: Capture,
    session: Option<Session>,
    log: LogText,
    conditions: Conditions,
    state: State,
}

impl Live {
    /// Nothing yet.
    #[must_use]
    pub fn new(units: Units) -> Self {
        let rules = Rules::usual(units);
        let mut state = State::new(String::new(), now::here(), rules.silence);
        state.log.file = Some("in this page until you save it".to_owned());
        Self {
            began: Moment::now(),
            capture: Capture::default(),
            session: None,
            log: LogText::default(),
            conditions: Conditions::after(rules, []),
            state,
        }
    }

    /// The port is open again.
    pub fn connect(&mut self) {
        self.session = Some(Session::begin(&mut self.capture, self.began.elapsed()));
    }

    /// Takes the bytes that came since, which may be none; what is to be sent to the unit: questions, or nothing.
    ///
    /// # Errors
    /// [`KeepError`]: nothing more can be kept in this log.
    pub fn hear(&mut self, bytes: &[u8]) -> Result<String, KeepError> {
        let (running, date) = (self.began.elapsed(), now::here());
        let mut news = Vec::new();
        let session = self
            .session
            .get_or_insert_with(|| Session::begin(&mut self.capture, running));
        let tell = &mut |new: &News| news.push(new.clone());
        let (capture, log) = (&mut self.capture, &mut self.log);
        session.hears(bytes, running, &date, capture, log, tell)?;
        let asks = session.asks(&self.capture, running);
        for new in news {
            match new {
                News::Began(columns) => self.state.begun(&columns),
                News::Row(text) => {
                    if let Some(row) = self.state.heard(&text, date.clone()) {
                        self.tell(Heard::Row(&row));
                    }
                }
                News::Boot(_) => self.state.boots += 1,
                News::Held(held) => self.tell(Heard::Held(held)),
                News::Gap(_)
                | News::Moved(_)
                | News::Quiet(..)
                | News::Unplugged
                | News::Back(_) => {}
            }
        }
        self.tell(Heard::Nothing);
        Ok(asks)
    }

    /// The port is gone.
    pub fn unplugged(&mut self) {
        if let Some(session) = self.session.take() {
            session.end(&mut self.capture);
        }
        self.tell(Heard::NoPort);
    }

    fn tell(&mut self, heard: Heard<'_>) {
        let now = Now {
            running: self.began.elapsed(),
            date: now::here(),
        };
        for message in self.conditions.hear(heard, &now) {
            self.state.messages.insert(0, message);
        }
        self.state.messages.truncate(SHOWN);
        self.state.standing = self.conditions.standing();
    }

    /// What is known now.
    #[must_use]
    pub const fn state(&self) -> &State {
        &self.state
    }

    /// The log so far, CSV.
    #[must_use]
    pub fn log(&self) -> &str {
        self.log.text()
    }

    /// What was counted so far.
    pub fn counts(&mut self) -> &Captured {
        self.capture.counts()
    }
}

#[cfg(test)]
#[path = "live_tests.rs"]
mod tests;
