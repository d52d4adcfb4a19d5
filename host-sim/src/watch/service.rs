//! The service: one thread listens and keeps, one for each hook delivers, and one in the middle decides.

use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use jiff::ZonedDateTime;

use super::conditions::{Conditions, Heard, Now};
use super::hooks::file::Hooks;
use super::hooks::{self, Hook, Report};
use super::journal::Journal;
use super::kept::KeptLog;
use super::message::{self, Message};
use super::state::{HookState, LogState, SHOWN, State};
use crate::files::now::{self, Moment};
use crate::serial::listen::listen;
use crate::serial::port::Port;
use crate::serial::session::News;
use crate::sim::cancel::Cancel;

/// Pause before a port that is not there is tried again, or one that no unit speaks on.
const RETRY: Duration = Duration::from_secs(2);
/// How often time is looked at.
const TURN: Duration = Duration::from_millis(500);
/// How long hooks are waited for at the end.
const LAST: Duration = Duration::from_secs(10);

/// The state, shared with whoever shows it.
pub type Shared = Arc<Mutex<State>>;

/// Looks at the state; a thread that panicked with it in hand does not take it along.
pub fn look(shared: &Shared) -> MutexGuard<'_, State> {
    shared.lock().unwrap_or_else(PoisonError::into_inner)
}

/// What happens.
enum Event {
    News(News, ZonedDateTime),
    /// The port cannot be opened, or no unit speaks there.
    NoUnit(String),
    Log(LogState),
    Hook(usize, Report),
}

/// What is watched with.
pub struct Given {
    /// Where the unit is.
    pub port: Box<dyn Port + Send>,
    /// Where its rows go.
    pub log: KeptLog,
    /// Where what was told goes.
    pub journal: Journal,
    /// Who is told what.
    pub hooks: Hooks,
}

/// Watches until asked to stop. `say` is told what the service's own log should have.
pub fn watch(given: Given, shared: &Shared, cancel: &Cancel, say: &mut dyn FnMut(&str)) {
    let Given {
        port,
        log,
        mut journal,
        hooks,
    } = given;
    let began = Moment::now();
    let (events, happens) = mpsc::channel();
    let conditions = Conditions::after(hooks.rules, journal.messages());
    let house = look(shared).house.clone();
    let posts: Vec<Outbox> = hooks
        .hooks
        .into_iter()
        .enumerate()
        .map(|(number, hook)| Outbox::start(number, hook, &house, &mut journal, &events))
        .collect();
    {
        let cancel = cancel.clone();
        thread::spawn(move || keep_listening(port, log, &cancel, &events));
    }
    let mut middle = Middle {
        began,
        journal,
        conditions,
        no_unit: String::new(),
        lost_before: 0,
        posts,
        shared,
        say,
    };
    middle.until_cancelled(&happens, cancel);
    middle.end(&happens);
}

/// A hook's thread and what is on its way there.
struct Outbox {
    name: String,
    about: Vec<message::Kind>,
    /// None at the end.
    messages: Option<Sender<Message>>,
    fault: Option<String>,
}

impl Outbox {
    fn start(
        number: usize,
        hook: Hook,
        house: &str,
        journal: &mut Journal,
        events: &Sender<Event>,
    ) -> Self {
        let (messages, inbox) = mpsc::channel();
        journal.hook(&hook.name);
        let now = ZonedDateTime::now().timestamp();
        for message in journal.waiting(&hook.name, now) {
            if hook.about.contains(&message.kind) {
                // Its thread has not begun: it is there.
                let _ = messages.send(message.clone());
            }
        }
        let (name, about) = (hook.name.clone(), hook.about.clone());
        let (events, house) = (events.clone(), house.to_owned());
        thread::spawn(move || {
            hooks::run(hook, &house, &inbox, &|report| {
                // Nobody listens any more at the very end.
                let _ = events.send(Event::Hook(number, report));
            });
        });
        Self {
            name,
            about,
            messages: Some(messages),
            fault: None,
        }
    }

    fn waiting(&self, journal: &Journal) -> usize {
        let now = ZonedDateTime::now().timestamp();
        let waiting = journal.waiting(&self.name, now);
        waiting
            .iter()
            .filter(|message| self.about.contains(&message.kind))
            .count()
    }
}

/// Listens, whatever becomes of port and unit.
fn keep_listening(
    mut port: Box<dyn Port + Send>,
    mut log: KeptLog,
    cancel: &Cancel,
    events: &Sender<Event>,
) {
    // The one in the middle goes last: it takes whatever comes.
    let tell = |event| {
        let _ = events.send(event);
    };
    let log_state = log.shared();
    let mut told = LogState::default();
    while !cancel.requested() {
        let result = listen(port.as_mut(), &mut log, None, cancel, &mut |news| {
            tell(Event::News(news.clone(), ZonedDateTime::now()));
            let state = log_state.lock().unwrap_or_else(PoisonError::into_inner);
            if *state != told {
                told = state.clone();
                tell(Event::Log(told.clone()));
            }
        });
        if let Err(error) = result {
            tell(Event::NoUnit(error.to_string()));
        }
        if !cancel.requested() {
            port.wait(RETRY);
        }
    }
}

/// The one in the middle.
struct Middle<'a> {
    began: Moment,
    journal: Journal,
    conditions: Conditions,
    /// Why there is no unit, as told last.
    no_unit: String,
    /// Rows lost before the log's fault began.
    lost_before: u64,
    posts: Vec<Outbox>,
    shared: &'a Shared,
    say: &'a mut dyn FnMut(&str),
}

impl Middle<'_> {
    fn until_cancelled(&mut self, happens: &Receiver<Event>, cancel: &Cancel) {
        while !cancel.requested() {
            match happens.recv_timeout(TURN) {
                Ok(event) => self.take(event),
                Err(RecvTimeoutError::Timeout) => self.hear(Heard::Nothing),
                Err(RecvTimeoutError::Disconnected) => return,
            }
            for event in happens.try_iter() {
                self.take(event);
            }
            self.show();
        }
    }

    /// Waits until the last rows are kept and what is being delivered has arrived, so that it is not sent twice.
    fn end(&mut self, happens: &Receiver<Event>) {
        for post in &mut self.posts {
            post.messages = None;
        }
        let end = Instant::now() + LAST;
        while let Ok(event) = happens.recv_timeout(end.saturating_duration_since(Instant::now())) {
            self.take(event);
        }
        self.show();
    }

    fn take(&mut self, event: Event) {
        match event {
            Event::News(news, at) => self.news(news, &at),
            Event::NoUnit(why) => {
                if self.no_unit != why {
                    (self.say)(&why);
                    self.no_unit = why;
                }
                self.hear(Heard::NoPort);
            }
            Event::Log(log) => {
                let before = std::mem::replace(&mut look(self.shared).log, log.clone());
                if let Some(heard) = of_log(&before, &log, &mut self.lost_before) {
                    self.hear(heard);
                }
            }
            Event::Hook(number, report) => self.report(number, report),
        }
    }

    fn news(&mut self, news: News, at: &ZonedDateTime) {
        match news {
            News::Began(columns) => {
                look(self.shared).begun(&columns);
                (self.say)("the unit speaks");
            }
            News::Row(text) => {
                let row = look(self.shared).heard(&text, at.clone());
                if let Some(row) = row {
                    self.hear(Heard::Row(&row));
                }
            }
            News::Boot(cause) => {
                look(self.shared).boots += 1;
                (self.say)(&format!("the unit has booted: {cause}"));
            }
            News::Unplugged => {
                (self.say)("the port went away");
                self.hear(Heard::NoPort);
            }
            News::Back(after) => {
                (self.say)(&format!("the port is back after {} s", after.as_secs()))
            }
            News::Held(held) => self.hear(Heard::Held(held)),
            News::Gap(_) | News::Moved(_) | News::Quiet(..) => {}
        }
    }

    fn hear(&mut self, heard: Heard<'_>) {
        let now = Now {
            running: self.began.elapsed(),
            date: now::here(),
        };
        for message in self.conditions.hear(heard, &now) {
            (self.say)(&message.sentences());
            self.journal.told(&message);
            let posts = self
                .posts
                .iter()
                .filter(|post| post.about.contains(&message.kind));
            for outbox in posts.filter_map(|post| post.messages.as_ref()) {
                // A hook whose thread failed is seen by what waits.
                let _ = outbox.send(message.clone());
            }
        }
    }

    fn report(&mut self, number: usize, report: Report) {
        let Some(post) = self.posts.get_mut(number) else {
            return;
        };
        match report {
            Report::Sent(ids) => {
                self.journal.sent(&post.name, &ids);
                post.fault = None;
            }
            Report::Failed(why) => {
                if post.fault.as_ref() != Some(&why) {
                    (self.say)(&format!("{}: not delivered, tried again: {why}", post.name));
                }
                post.fault = Some(why);
            }
        }
    }

    fn show(&mut self) {
        if !self.journal.is_whole() {
            // Tried again with every turn.
            let _ = self.journal.write();
        }
        let hooks = self.posts.iter().map(|post| HookState {
            name: post.name.clone(),
            waiting: post.waiting(&self.journal),
            fault: post.fault.clone(),
        });
        let mut state = look(self.shared);
        state.hooks = hooks.collect();
        state.standing = self.conditions.standing();
        let newest = state.messages.first().map(|message| message.id);
        if self.journal.messages().next_back().map(|last| last.id) != newest {
            state.messages = self.journal.messages().rev().take(SHOWN).cloned().collect();
        }
    }
}

/// What the log's state says; `lost_before` is what was lost before its fault began.
fn of_log<'a>(before: &LogState, now: &'a LogState, lost_before: &mut u64) -> Option<Heard<'a>> {
    if before.fault.is_none() {
        *lost_before = before.lost;
    }
    match (&before.fault, &now.fault) {
        (_, Some(why)) => Some(Heard::LogFault(why)),
        (Some(_), None) => Some(Heard::LogMended(now.lost - *lost_before)),
        (None, None) => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_full_disk_cost_is_counted_from_its_beginning() {
        let state = |fault: Option<&str>, lost| LogState {
            file: None,
            fault: fault.map(str::to_owned),
            lost,
        };
        let mut before = state(None, 2);
        let mut lost_before = 0;
        let mut heard = Vec::new();
        for now in [
            state(Some("full"), 2),
            state(Some("full"), 3),
            state(Some("full"), 7),
            state(None, 7),
            state(None, 7),
        ] {
            heard.push(match of_log(&before, &now, &mut lost_before) {
                Some(Heard::LogFault(why)) => why.to_owned(),
                Some(Heard::LogMended(lost)) => format!("{lost} lost"),
                _ => String::new(),
            });
            before = now;
        }
        assert_eq!(heard, ["full", "full", "full", "5 lost", ""]);
    }
}
