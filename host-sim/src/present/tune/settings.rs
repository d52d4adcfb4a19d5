//! The settings found, as a file that says what was changed and why it was trusted.

use std::fmt::Write as _;

use super::words::Words;
use crate::files::quantity::Units;
use crate::files::settings_file;
use crate::questions::tune::score::WINTERS;
use crate::questions::tune::screen::Winter;
use crate::questions::tune::{Task, Tuned, sums};

/// Every setting with its meaning and range, to the last bit what was tried; those changed also with their value before and
/// what the change is worth.
#[must_use]
pub fn file(task: &Task, tuned: &Tuned, units: Units) -> String {
    let words = Words::new(units);
    let mut text = String::from("# Found by host-sim tune.\n");
    for line in verdict(task, tuned, &words) {
        let _ = writeln!(text, "# {line}");
    }
    text.push_str("#\n");
    let changed = tuned.space.changed(&tuned.chosen);
    for line in settings_file::to_toml(tuned.chosen.raw(), units).lines() {
        let name = line.split(" = ").next().unwrap_or_default();
        if let Some(parameter) = changed.iter().find(|p| p.key.field().name == name) {
            let field = parameter.key.field();
            let before = settings_file::value_text(
                field,
                tuned.space.base().raw().bits(parameter.key),
                units,
            );
            let _ = writeln!(
                text,
                "# Changed from {before}.{}",
                worth(tuned, field.name, &words)
            );
        }
        text.push_str(line);
        text.push('\n');
    }
    text
}

/// What the file rests on.
fn verdict(task: &Task, tuned: &Tuned, words: &Words) -> Vec<String> {
    let mut lines = vec!["Tuned on:".to_owned()];
    lines.extend(task.tuned_on.iter().map(named));
    lines.push(format!(
        "Seed {}; fingerprint of the settings started from {}….",
        task.seed,
        &settings_file::sha256(task.base.raw())[..16]
    ));
    if tuned.stopped {
        lines.push("STOPPED EARLY: the best so far.".to_owned());
    }
    if tuned.kept_back.is_empty() {
        lines.push("NOT TRIED on winters that were not tuned on.".to_owned());
    } else {
        let (before, after) = sums(tuned.kept_back.iter());
        lines.push("Tried on winters that were not tuned on:".to_owned());
        lines.extend(task.kept_back.iter().map(named));
        lines.push(format!(
            "There, a winter: {}.",
            words.from_to(&before, &after)
        ));
    }
    lines.extend(super::text::warnings(task, tuned, words));
    if !tuned.holds() {
        lines.push(
            "THE SLAB IS NOT HELD with these settings either; the report shows why.".to_owned(),
        );
    }
    lines
}

fn named(winter: &Winter) -> String {
    format!("  {}", winter.name)
}

/// What a change is worth, if that was looked at.
fn worth(tuned: &Tuned, name: &str, words: &Words) -> String {
    let found = tuned
        .reverted
        .iter()
        .find(|r| r.parameter.key.field().name == name);
    match (found.and_then(|r| r.score.as_ref()), &tuned.in_turn) {
        (Some(without), Some(with)) => {
            format!(
                " Without this change alone: {} a winter.",
                words.change(with, without, WINTERS)
            )
        }
        _ => String::new(),
    }
}
