//! A unit's settings: read whole, changed by draft and `apply`, and read back.
//!
//! Nothing changes in the unit before `apply`, and then all of a step at once: a line that breaks
//! before leaves a draft that is dropped at the next try or reset.

use std::time::Duration;

use controller_core::settings::{Field, RawSettings};
use serial_line::value;

use super::conversation::{Ask, Conversation, LineError};
use super::difference::changes;

/// Whole readings tried.
const TRIES: u32 = 4;
/// How often `apply` is sent if it gets lost.
const APPLIED: u32 = 3;
/// Pause between two looks at whether settings are in force.
const LOOK: Duration = Duration::from_secs(1);

/// Why settings did not get into force.
#[derive(Debug)]
pub enum SendError {
    /// The line failed before `apply` was sent: the unit's settings are as they were.
    Before(LineError),
    /// The unit refused; its settings are as they were.
    Refused {
        /// Which request.
        asked: String,
        /// Its answer.
        why: String,
        /// Problems listed before it.
        problems: Vec<String>,
    },
    /// After `apply` the line failed: the unit may have them or not.
    After(LineError),
    /// What the unit has in force is something else, long enough after `apply`.
    Differs(Box<RawSettings>),
}

/// Reads every setting in force.
///
/// # Errors
/// [`LineError`]: no whole answer, or a firmware with other settings.
pub fn read(conversation: &mut Conversation<'_>) -> Result<RawSettings, LineError> {
    for _ in 0..TRIES {
        let answer =
            conversation.ask("settings", Ask::Again, &|last| last == "end", &mut |_| {})?;
        let lines: Vec<&str> = answer
            .lines
            .iter()
            .filter_map(|line| line.strip_prefix("setting "))
            .collect();
        // A damaged line in between leaves one out: once more. One that nobody knows is another firmware.
        let damaged = lines.len() < Field::all().len();
        match parse(&lines) {
            Ok(settings) if answer.verdict.is_ok() => return Ok(settings),
            Err((found, expected)) if !damaged => {
                return Err(LineError::Foreign {
                    port: conversation.name().to_owned(),
                    found,
                    expected,
                });
            }
            _ => {}
        }
    }
    Err(LineError::Silent {
        port: conversation.name().to_owned(),
        asked: "settings".to_owned(),
        damaged: conversation.faults().damaged(),
    })
}

/// Found and expected if the lines are not exactly this program's settings.
fn parse(lines: &[&str]) -> Result<RawSettings, (String, String)> {
    let mut settings = RawSettings::DEFAULT;
    let fields = Field::all();
    for (n, field) in fields.iter().enumerate() {
        let line = lines.get(n).copied().unwrap_or_default();
        let bits = line
            .rsplit_once(" raw ")
            .and_then(|(_, bits)| bits.parse().ok());
        let known = bits.is_some_and(|bits| {
            line == setting_line(field, bits) && settings.set_bits(field.key, bits)
        });
        if !known {
            let found = if line.is_empty() { "nothing" } else { line };
            let expected = setting_line(field, settings.bits(field.key));
            return Err((
                format!("the setting \"{found}\""),
                format!("one such as \"{expected}\""),
            ));
        }
    }
    match lines.get(fields.len()) {
        Some(line) => Err((
            format!("the setting \"{line}\""),
            format!("the {} settings this program knows", fields.len()),
        )),
        None => Ok(settings),
    }
}

/// The line the unit shows a setting with, range and all.
fn setting_line(field: &Field, bits: i32) -> String {
    let shown = |bits| {
        let mut text = String::new();
        // Writing to a string cannot fail.
        let _ = value::write(&mut text, field.kind, bits);
        text
    };
    format!(
        "{} {} range {} to {} raw {bits}",
        field.name,
        shown(bits),
        shown(field.min),
        shown(field.max)
    )
}

/// Tells a unit that the settings it has are meant: one whose settings were never stored rings until then.
///
/// # Errors
/// [`LineError`]
pub fn confirm(conversation: &mut Conversation<'_>) -> Result<(), LineError> {
    let stored = |last: &str| last.starts_with("stored");
    // A unit whose settings were stored before refuses, and that is well.
    conversation
        .ask("apply defaults", Ask::Again, &stored, &mut |_| {})
        .map(drop)
}

/// Brings the unit from `now` to `after` in one step and sees that it is there.
///
/// # Errors
/// [`SendError`]
pub fn send(
    conversation: &mut Conversation<'_>,
    now: &RawSettings,
    after: &RawSettings,
) -> Result<(), SendError> {
    if let Err(error) = draft(conversation, now, after) {
        // The draft would do no harm, but nobody asked for it.
        let _ = request(conversation, "discard", Ask::Again, &|_| true);
        return Err(error);
    }
    for _ in 0..APPLIED {
        let stored = |last: &str| last.starts_with("stored");
        let lost = match conversation.ask("apply", Ask::Once, &stored, &mut |_| {}) {
            Ok(answer) => {
                if let Err(why) = answer.verdict {
                    let _ = request(conversation, "discard", Ask::Again, &|_| true);
                    return Err(SendError::Refused {
                        asked: "apply".to_owned(),
                        why,
                        problems: answer.lines,
                    });
                }
                false
            }
            // Request or answer was lost: reading back tells which.
            Err(LineError::Silent { .. }) => true,
            Err(error) => return Err(SendError::After(error)),
        };
        match in_force(conversation, now, after) {
            Err(SendError::Differs(stands)) if lost && *stands == *now => {}
            result => return result,
        }
    }
    Err(SendError::Differs(Box::new(*now)))
}

/// Puts every change into a fresh draft and has it checked.
fn draft(
    conversation: &mut Conversation<'_>,
    now: &RawSettings,
    after: &RawSettings,
) -> Result<(), SendError> {
    request(conversation, "discard", Ask::Again, &|last| {
        last == "draft dropped"
    })?;
    for change in changes(now, after) {
        let taken = format!("draft {}", setting_line(change.field, change.after));
        let asked = format!("set {} raw {}", change.field.name, change.after);
        request(conversation, &asked, Ask::Again, &|last| last == taken)?;
    }
    // A unit that booted unheard has lost the first part of the draft: the fingerprint tells.
    let whole = format!("draft {:04x} keeps", value::fingerprint(after));
    request(conversation, "check", Ask::Again, &|last| {
        last.starts_with(&whole)
    })
}

fn request(
    conversation: &mut Conversation<'_>,
    asked: &str,
    repeat: Ask,
    is_last: &dyn Fn(&str) -> bool,
) -> Result<(), SendError> {
    let answer = conversation
        .ask(asked, repeat, is_last, &mut |_| {})
        .map_err(SendError::Before)?;
    answer.verdict.map(drop).map_err(|why| SendError::Refused {
        asked: asked.to_owned(),
        why,
        problems: answer.lines,
    })
}

/// Waits until the unit's next step has adopted the settings.
fn in_force(
    conversation: &mut Conversation<'_>,
    now: &RawSettings,
    after: &RawSettings,
) -> Result<(), SendError> {
    let cycle = now.sensor_cycle.max(after.sensor_cycle);
    let cycle = Duration::from_millis(cycle.as_millis().into());
    let until = conversation.now() + 3 * cycle + Duration::from_secs(10);
    loop {
        conversation.pass(LOOK).map_err(SendError::After)?;
        let stands = read(conversation).map_err(SendError::After)?;
        if stands == *after {
            return Ok(());
        }
        if conversation.now() >= until {
            return Err(SendError::Differs(Box::new(stands)));
        }
    }
}
