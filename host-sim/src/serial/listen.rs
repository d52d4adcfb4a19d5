//! Listening to a unit for as long as wanted, whatever happens to the cable.

use std::fmt;
use std::time::Duration;

use super::capture::{Capture, Captured};
use super::conversation::LineError;
use super::frame::sealed;
use super::log_file::Keeper;
use super::port::{self, Line, Port};
use super::session::{KeepError, News, Session};
use crate::sim::cancel::Cancel;

/// Pause between two tries to open a port that went away.
const RETRY: Duration = Duration::from_millis(500);
/// How long the last word of the unit is waited for.
const LAST_WORD: Duration = Duration::from_secs(1);

/// Why listening ended early. What was written stands.
#[derive(Debug)]
pub enum ListenError {
    /// The port cannot be opened to begin with.
    Line(LineError),
    /// Rows cannot be kept.
    Keep(KeepError),
}

impl std::error::Error for ListenError {}

impl fmt::Display for ListenError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Line(error) => error.fmt(f),
            Self::Keep(error) => error.fmt(f),
        }
    }
}

impl From<KeepError> for ListenError {
    fn from(error: KeepError) -> Self {
        Self::Keep(error)
    }
}

/// Keeps the unit's rows until stopped or until so much time has passed.
///
/// # Errors
/// [`ListenError`]; a port that goes away later is none.
pub fn listen(
    port: &mut dyn Port,
    file: &mut dyn Keeper,
    until: Option<Duration>,
    cancel: &Cancel,
    news: &mut dyn FnMut(&News),
) -> Result<Captured, ListenError> {
    let line = port.open().map_err(|cause| {
        ListenError::Line(LineError::NoPort {
            port: port.name().to_owned(),
            cause,
        })
    })?;
    let begin = port.now();
    let capture = Capture::after(file.header(), file.last_ms(), file.offset_ms());
    let mut listener = Listener {
        port,
        file,
        capture,
        news,
    };
    let mut line = Some(line);
    loop {
        let stop = |now: Duration| {
            cancel.requested() || until.is_some_and(|until| now.saturating_sub(begin) >= until)
        };
        match line.take() {
            Some(open) => listener.connected(open, &stop)?,
            None => line = listener.reopened(&stop),
        }
        if stop(listener.port.now()) {
            return Ok(listener.capture.finish());
        }
    }
}

struct Listener<'a> {
    port: &'a mut dyn Port,
    file: &'a mut dyn Keeper,
    capture: Capture,
    news: &'a mut dyn FnMut(&News),
}

impl Listener<'_> {
    /// Listens until the connection is gone or the end has come.
    fn connected(
        &mut self,
        mut line: Box<dyn Line>,
        stop: &dyn Fn(Duration) -> bool,
    ) -> Result<(), KeepError> {
        let mut buffer = [0; 4_096];
        let mut session = Session::begin(&mut self.capture, self.port.now());
        let mut end: Option<Duration> = None;
        port::say(line.as_mut(), "\r\n");
        loop {
            let now = self.port.now();
            let asks = session.asks(&self.capture, now);
            if !asks.is_empty() {
                port::say(line.as_mut(), &asks);
            }
            match end {
                // One last question: what did the unit itself lose?
                None if stop(now) => {
                    port::say(line.as_mut(), &sealed("status"));
                    end = Some(now + LAST_WORD);
                }
                Some(end) if now >= end => return Ok(()),
                _ => {}
            }
            let Ok(bytes) = port::read_some(line.as_mut(), &mut buffer) else {
                session.end(&mut self.capture);
                (self.news)(&News::Unplugged);
                return Ok(());
            };
            let wall = self.port.wall();
            let is_status =
                session.hears(bytes, now, &wall, &mut self.capture, self.file, self.news)?;
            if is_status && end.is_some() {
                return Ok(());
            }
        }
    }

    /// Waits for the port to come back; `None` if the end came first.
    fn reopened(&mut self, stop: &dyn Fn(Duration) -> bool) -> Option<Box<dyn Line>> {
        let gone = self.port.now();
        while !stop(self.port.now()) {
            if let Ok(line) = self.port.open() {
                self.capture.counts().reconnections += 1;
                (self.news)(&News::Back(self.port.now().saturating_sub(gone)));
                return Some(line);
            }
            self.port.wait(RETRY);
        }
        None
    }
}
