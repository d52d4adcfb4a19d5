//! The event column of a trace: boots, stalls, commands and settings, read back.

use std::fmt::Write as _;

use controller_core::restart::{Restart, RestartCause};
use controller_core::settings::{Field, Key, Mode, RawSettings, Settings};
use controller_core::{Command, Switch};

/// An event as recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Recorded {
    /// None.
    Nothing,
    /// A boot with its record.
    Boot(Restart),
    /// The caller was late.
    Stalled,
    /// A command.
    Command(Command),
    /// Settings, as `name=bits` pairs.
    Settings(String),
}

impl Recorded {
    /// A boot that the caller made.
    pub(crate) fn boot(&self) -> Option<Restart> {
        match self {
            Self::Boot(restart) => Some(*restart),
            _ => None,
        }
    }

    pub(crate) fn explains_lateness(&self) -> bool {
        matches!(self, Self::Stalled | Self::Boot(_))
    }

    pub(crate) const fn command(&self) -> Option<Command> {
        match self {
            Self::Command(command) => Some(*command),
            _ => None,
        }
    }

    pub(crate) fn note(&self) -> &str {
        match self {
            Self::Settings(note) => note,
            _ => "",
        }
    }

    /// The settings after the change, if they pass the checks.
    pub(crate) fn settings(&self, now: &Settings) -> Option<Settings> {
        let Self::Settings(note) = self else {
            return None;
        };
        let mut raw = *now.raw();
        for pair in note.split_whitespace() {
            let (name, bits) = pair.split_once('=')?;
            if !raw.set_bits(Key::from_name(name)?, bits.parse().ok()?) {
                return None;
            }
        }
        Settings::check(raw).ok()
    }
}

/// What differs between two sets of settings, as a settings event carries it.
#[must_use]
pub fn settings_note(before: &RawSettings, after: &RawSettings) -> String {
    let mut note = String::new();
    for field in Field::all() {
        let bits = after.bits(field.key);
        if bits != before.bits(field.key) {
            let separator = if note.is_empty() { "" } else { " " };
            let _ = write!(note, "{separator}{}={bits}", field.name);
        }
    }
    note
}

/// Reads one event cell.
///
/// # Errors
/// What was expected instead.
pub fn parse_event(text: &str) -> Result<Recorded, String> {
    let (kind, rest) = text.split_once(' ').unwrap_or((text, ""));
    match kind {
        "" => Ok(Recorded::Nothing),
        "boot" => boot(rest).map(Recorded::Boot),
        "stalled" => Ok(Recorded::Stalled),
        "command" => command(rest).map(Recorded::Command),
        "settings" => Ok(Recorded::Settings(rest.to_owned())),
        _ => Err("nothing, or an event: boot, stalled, command or settings".to_owned()),
    }
}

fn boot(text: &str) -> Result<Restart, String> {
    let mut words = text.split_whitespace();
    let cause = words.next().unwrap_or("");
    let cause = RestartCause::ALL
        .into_iter()
        .find(|known| known.name() == cause)
        .ok_or_else(|| "a boot's cause: power_on, brown_out, watchdog or requested".to_owned())?;
    let mut restart = Restart {
        cause,
        ..Restart::ORDINARY
    };
    for word in words {
        let value = |text: &str| {
            text.parse::<u8>()
                .map_err(|_| "a number from 0 to 255 after =".to_owned())
        };
        match word.split_once('=') {
            Some(("boots", n)) => restart.boots_last_hour = value(n)?,
            Some(("post_run", n)) => restart.post_run_owed = value(n)? != 0,
            Some(("settings_lost", n)) => restart.settings_lost = value(n)? != 0,
            Some(("jitter", n)) => restart.jitter_s = value(n)?,
            _ => {
                return Err("boots=, post_run=, settings_lost= or jitter=".to_owned());
            }
        }
    }
    Ok(restart)
}

fn command(text: &str) -> Result<Command, String> {
    let switch = |word: &str| {
        [Switch::Auto, Switch::On, Switch::Off]
            .into_iter()
            .find(|switch| switch.name() == word)
            .ok_or_else(|| "auto, on or off".to_owned())
    };
    match text.split_once('=') {
        None if text == "acknowledge" => Ok(Command::Acknowledge),
        Some(("mode", word)) => Mode::ALL
            .into_iter()
            .find(|mode| mode.name() == word)
            .map(Command::Mode)
            .ok_or_else(|| "winter, summer, drained or commissioning".to_owned()),
        Some(("pump", word)) => switch(word).map(Command::Pump),
        Some(("boiler", word)) => switch(word).map(Command::Boiler),
        _ => Err("mode=, pump=, boiler= or acknowledge".to_owned()),
    }
}
