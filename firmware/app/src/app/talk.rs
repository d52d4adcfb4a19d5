//! Requests: what is done, what is refused, and the reply. Every reply starts with `ok` or `no`.

use core::fmt::Write;

use controller_core::Command;
use controller_core::settings::{Problem, RawSettings, Settings};

use super::guided::Guided;
use super::show::Listing;
use super::{Adoption, App, Counters};
use crate::bindings::{Source, holder};
use crate::board::Board;
use crate::log;
use crate::request::Request;
use serial_line::line::{Line, LineFault, checksum};
use serial_line::note;
use serial_line::refusal::Refusal;
use serial_line::value;

impl<B: Board> App<B> {
    /// Takes a line in; what it asks is done in the next poll.
    pub(super) fn hear(&mut self, line: Result<Line, LineFault>) {
        let line = match line {
            Ok(line) => line,
            Err(fault) => {
                Counters::count(match fault {
                    LineFault::TooLong => &mut self.counters.too_long,
                    LineFault::NotText => &mut self.counters.not_text,
                    LineFault::WrongChecksum => &mut self.counters.wrong_checksum,
                });
                return self.refuse(Refusal::Line(fault));
            }
        };
        match Request::parse(&line) {
            Ok(request) if self.requests.push_back(request).is_ok() => {
                Counters::count(&mut self.counters.lines);
            }
            Ok(_) => self.refuse(Refusal::Busy),
            Err(Refusal::NoChecksum) => {
                Counters::count(&mut self.counters.refused);
                let sum = checksum(line.text.as_bytes());
                let (word, why) = (Refusal::NoChecksum.word(), Refusal::NoChecksum.text());
                self.output
                    .line(|out| write!(out, "no {word}: {why} ({}~{sum:04x})", line.text));
            }
            Err(refusal) => self.refuse(refusal),
        }
    }

    /// One request a poll, then the listing under way as far as there is room.
    pub(super) fn talk(&mut self) {
        if let Some(request) = self.requests.pop_front() {
            match self.answer(request) {
                Ok(()) => {}
                Err(refusal) => self.refuse(refusal),
            }
        }
        self.list();
    }

    pub(super) fn refuse(&mut self, refusal: Refusal) {
        Counters::count(&mut self.counters.refused);
        log::info!("refused: {}", refusal.text());
        self.output.line(|line| {
            write!(line, "no {}: {}", refusal.word(), refusal.text())?;
            match refusal {
                Refusal::AlreadyBound(sensor) => write!(line, " ({})", sensor.name()),
                _ => Ok(()),
            }
        });
    }

    pub(super) fn agree(&mut self, text: &str) {
        self.output.line(|line| write!(line, "ok {text}"));
    }

    fn answer(&mut self, request: Request) -> Result<(), Refusal> {
        match request {
            Request::Help => self.start_listing(Listing::Help(0)),
            Request::Settings => self.start_listing(Listing::Settings(0)),
            Request::Log => self.start_listing(Listing::log()),
            Request::Sensors => self.start_listing(Listing::chips()),
            Request::Status => {
                self.status();
                Ok(())
            }
            Request::Columns => {
                self.columns();
                Ok(())
            }
            Request::Resets => {
                self.show_resets();
                Ok(())
            }
            Request::Show(key) => {
                self.show_setting(key.field());
                Ok(())
            }
            Request::Set(key, bits) => {
                let mut draft = self.draft.unwrap_or_else(|| self.newest_settings());
                if !draft.set_bits(key, bits) {
                    return Err(Refusal::Value(value::ValueFault::OutOfRange));
                }
                self.draft = Some(draft);
                self.show_draft(key.field());
                Ok(())
            }
            Request::Check => {
                let sum = value::fingerprint(self.checked_draft()?.raw());
                self.output.line(|line| {
                    write!(line, "ok draft {sum:04x} keeps every rule; apply adopts it")
                });
                Ok(())
            }
            Request::Apply => self.apply(),
            Request::ApplyDefaults => {
                // A word of its own: a draft that a boot took away must not become the defaults.
                if self.chosen || self.draft.is_some() {
                    return Err(Refusal::NotUnset);
                }
                self.draft = Some(self.newest_settings());
                self.apply()
            }
            Request::Discard => {
                self.draft = None;
                self.agree("draft dropped");
                Ok(())
            }
            Request::Command(command) => {
                self.wanted.push_back(command).map_err(|_| Refusal::Busy)?;
                if command == Command::Acknowledge {
                    self.silence();
                }
                self.agree("taken at the next step");
                Ok(())
            }
            Request::Bind(sensor, source) => {
                match holder(&self.bindings, source) {
                    Some(other) if other != sensor => return Err(Refusal::AlreadyBound(other)),
                    Some(_) | None => {}
                }
                let mut bindings = self.bindings;
                *bindings.get_mut(sensor) = source;
                self.rebind(bindings)
            }
            Request::Exchange(one, other) => {
                let mut bindings = self.bindings;
                *bindings.get_mut(one) = *self.bindings.get(other);
                *bindings.get_mut(other) = *self.bindings.get(one);
                self.rebind(bindings)
            }
            Request::Identify => self.start_identify(),
            Request::TrimPair => self.start_trim(),
            Request::Test(tested) => self.start_test(tested),
            Request::Answer(yes) => self.answered(yes),
            Request::Stop => {
                self.listing = Listing::Nothing;
                self.end_guided("stopped");
                self.agree("stopped");
                Ok(())
            }
        }
    }

    fn rebind(&mut self, bindings: crate::bindings::Bindings) -> Result<(), Refusal> {
        if !self.save_as(self.newest_settings(), bindings) {
            return Err(Refusal::NotStored);
        }
        self.bindings = bindings;
        self.agree("named and stored");
        Ok(())
    }

    /// The settings in force, or those about to be.
    pub(super) fn newest_settings(&self) -> RawSettings {
        match &self.adoption {
            Some(adoption) => *adoption.settings.raw(),
            None => *self.controller.settings().raw(),
        }
    }

    /// Checks the draft and lists what is wrong with it.
    fn checked_draft(&mut self) -> Result<Settings, Refusal> {
        let draft = self.draft.ok_or(Refusal::NoDraft)?;
        Settings::check(draft).map_err(|problems| {
            for problem in &problems {
                self.output.line(|line| match problem {
                    Problem::Range(key) => {
                        write!(line, "problem {} is out of its range", key.name())
                    }
                    Problem::Relation(relation) => {
                        write!(
                            line,
                            "problem {}: must keep {}",
                            relation.key.name(),
                            relation.text
                        )
                    }
                });
            }
            Refusal::BadDraft
        })
    }

    fn apply(&mut self) -> Result<(), Refusal> {
        if self.adoption.is_some() {
            return Err(Refusal::Busy);
        }
        let settings = self.checked_draft()?;
        let before = self.controller.settings().raw();
        let note = note::changes(before, settings.raw()).ok_or(Refusal::TooMuch)?;
        let chosen = core::mem::replace(&mut self.chosen, true);
        if !self.save_as(*settings.raw(), self.bindings) {
            self.chosen = chosen;
            return Err(Refusal::NotStored);
        }
        self.draft = None;
        if note.is_empty() {
            self.agree("stored; already in force");
            return Ok(());
        }
        self.adoption = Some(Adoption { settings, note });
        self.agree("stored; in force from the next step");
        Ok(())
    }

    fn start_listing(&mut self, listing: Listing) -> Result<(), Refusal> {
        if !matches!(self.listing, Listing::Nothing) {
            return Err(Refusal::Busy);
        }
        self.listing = listing;
        Ok(())
    }

    pub(super) fn start_guided(&mut self, guided: Guided) -> Result<(), Refusal> {
        if !matches!(self.guided, Guided::Nothing) {
            return Err(Refusal::Busy);
        }
        self.guided = guided;
        Ok(())
    }

    /// What the source of a reading is called on the line.
    pub(super) fn write_source(out: &mut impl Write, source: Source) -> core::fmt::Result {
        match source {
            Source::Unbound => out.write_str("unbound"),
            Source::Chip(rom) => rom.iter().try_for_each(|byte| write!(out, "{byte:02x}")),
            Source::Thermistor(channel) => write!(out, "input {channel}"),
        }
    }
}
