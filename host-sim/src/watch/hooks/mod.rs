//! Hooks: how a message reaches a person. Each has a thread of its own, so that one that hangs holds up nobody.
//!
//! A message that does not arrive is tried again, first after five seconds, then less and less often, at most every ten minutes.
//! So many an hour are sent one by one; what is beyond goes out together when its time has come.

mod command;
pub mod file;
mod mqtt;
mod post;

use std::collections::VecDeque;
use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::time::{Duration, Instant};

use jiff::Timestamp;
use serde::Serialize;

use super::message::{Kind, Message, Stage};

pub use command::Command;
pub use mqtt::Mqtt;
pub use post::{Body, Post};

/// First pause after a failure; it doubles up to the longest.
const PAUSE: Duration = Duration::from_secs(5);
const LONGEST_PAUSE: Duration = Duration::from_secs(600);
/// How often a hook looks after itself.
const TURN: Duration = Duration::from_millis(200);
const HOUR: Duration = Duration::from_secs(3_600);

/// A hook as the file describes it.
pub struct Hook {
    /// Its name.
    pub name: String,
    /// What it is told.
    pub about: Vec<Kind>,
    /// Messages an hour at most; more go out together.
    pub most_per_hour: usize,
    /// How they get there.
    pub way: Box<dyn Deliver>,
}

/// A way to a person.
pub trait Deliver: Send {
    /// Delivers, or says why not.
    ///
    /// # Errors
    /// In words, for the page and the log of the service.
    fn deliver(&mut self, parcel: &Parcel) -> Result<(), String>;

    /// Keeps a connection alive while there is nothing to deliver.
    fn idle(&mut self) {}
}

/// What is delivered at once: a message, or several in one.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Parcel {
    /// The house.
    pub house: String,
    /// Number of the newest message in it.
    pub id: u64,
    /// Its date and time, RFC 3339.
    pub time: String,
    /// What the most urgent message in it is about.
    pub kind: Kind,
    /// Its condition.
    pub condition: String,
    /// Where that stands.
    pub stage: Stage,
    /// In full sentences.
    pub text: String,
    /// What to do; may be empty.
    pub remedy: String,
}

impl Parcel {
    /// Of at least one message.
    fn new(house: &str, messages: &[Message]) -> Option<Self> {
        let newest = messages.last()?;
        let urgent = messages.iter().min_by_key(|message| message.kind)?;
        let (text, remedy) = match messages {
            [one] => (one.text.clone(), one.remedy.clone()),
            several => {
                let lines: Vec<String> = several
                    .iter()
                    .map(|message| {
                        format!("{} {}", message.at.strftime("%H:%M"), message.sentences())
                    })
                    .collect();
                let text = format!("{} messages.\n{}", several.len(), lines.join("\n"));
                (text, String::new())
            }
        };
        Some(Self {
            house: house.to_owned(),
            id: newest.id,
            time: newest
                .at
                .timestamp()
                .display_with_offset(newest.at.offset())
                .to_string(),
            kind: urgent.kind,
            condition: urgent.condition.clone(),
            stage: urgent.stage,
            text,
            remedy,
        })
    }

    /// Everything in one text.
    #[must_use]
    pub fn sentences(&self) -> String {
        match self.remedy.as_str() {
            "" => self.text.clone(),
            remedy => format!("{} {remedy}", self.text),
        }
    }
}

/// What comes of delivering.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Report {
    /// These arrived.
    Sent(Vec<u64>),
    /// Nothing got through; why.
    Failed(String),
}

/// When the next parcel goes out, and what is in it. Knows no clock but the one it is given.
#[derive(Debug)]
struct Queue {
    waiting: VecDeque<Message>,
    most_per_hour: usize,
    sent_at: VecDeque<Instant>,
    failures: u32,
    not_before: Option<Instant>,
}

impl Queue {
    fn new(most_per_hour: usize) -> Self {
        Self {
            waiting: VecDeque::new(),
            most_per_hour,
            sent_at: VecDeque::new(),
            failures: 0,
            not_before: None,
        }
    }

    /// How many of those waiting go out now.
    fn due(&mut self, now: Instant) -> usize {
        while self
            .sent_at
            .front()
            .is_some_and(|at| now.duration_since(*at) >= HOUR)
        {
            self.sent_at.pop_front();
        }
        let free = self.most_per_hour.saturating_sub(self.sent_at.len());
        let is_pause = self.not_before.is_some_and(|at| now < at);
        match (self.waiting.len(), free) {
            (0, _) | (_, 0) => 0,
            _ if is_pause => 0,
            (waiting, free) if waiting > free => waiting,
            _ => 1,
        }
    }

    fn sent(&mut self, count: usize, now: Instant) -> Vec<u64> {
        self.sent_at.push_back(now);
        (self.failures, self.not_before) = (0, None);
        self.waiting
            .drain(..count)
            .map(|message| message.id)
            .collect()
    }

    fn failed(&mut self, now: Instant) {
        let pause = PAUSE.saturating_mul(1 << self.failures.min(10));
        self.failures += 1;
        self.not_before = Some(now + pause.min(LONGEST_PAUSE));
    }
}

/// Delivers until nobody sends any more; what then still waits is left to the next run.
pub fn run(mut hook: Hook, house: &str, inbox: &Receiver<Message>, report: &dyn Fn(Report)) {
    let mut queue = Queue::new(hook.most_per_hour);
    loop {
        match inbox.recv_timeout(TURN) {
            Ok(message) => {
                queue.waiting.push_back(message);
                queue.waiting.extend(inbox.try_iter());
            }
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => return,
        }
        let now = Timestamp::now();
        queue.waiting.retain(|message| !message.is_stale(now));
        let count = queue.due(Instant::now());
        let parcel = Parcel::new(house, &queue.waiting.make_contiguous()[..count]);
        let Some(parcel) = parcel else {
            hook.way.idle();
            continue;
        };
        match hook.way.deliver(&parcel) {
            Ok(()) => report(Report::Sent(queue.sent(count, Instant::now()))),
            Err(why) => {
                queue.failed(Instant::now());
                report(Report::Failed(why));
            }
        }
    }
}

#[cfg(test)]
#[path = "../hooks_tests.rs"]
mod tests;
