//! The screen.

use std::fmt::Write as _;

use super::Shown;
use crate::present::wrap_at;

/// Longest line, characters.
const WIDTH: usize = 100;

/// What stands on the screen.
#[must_use]
pub fn terminal(shown: &Shown<'_>) -> String {
    let mut text = String::new();
    let mut paragraph = |words: &str, indent: &str| {
        for (i, line) in wrap_at(words, WIDTH - indent.len()).iter().enumerate() {
            let indent = if i == 0 { "" } else { indent };
            let _ = writeln!(text, "{indent}{line}");
        }
    };
    paragraph(&format!("{}: {}", shown.word(), shown.sentence()), "");
    for detail in shown.details() {
        paragraph(&detail, "");
    }
    let rows = shown.rows();
    if !rows.is_empty() {
        let _ = writeln!(
            text,
            "\nKnown now (the range holds the truth nine times of ten)"
        );
        for row in &rows {
            let [now, range, file, words] = &row.cells;
            let _ = writeln!(text, "  {:<46} {now} ({range}), file {file}", row.name);
            let _ = writeln!(text, "  {:<46} {words}", "");
        }
    }
    for (title, lines) in [
        ("Not known", shown.unknown()),
        ("Sensors and what is left", shown.findings()),
        ("Since the earlier fit", shown.changes_since()),
        ("Beside it", shown.notes.to_vec()),
    ] {
        if lines.is_empty() {
            continue;
        }
        let _ = writeln!(text, "\n{title}");
        for line in lines {
            for (i, part) in wrap_at(&line, WIDTH - 4).iter().enumerate() {
                let mark = if i == 0 { "-" } else { " " };
                let _ = writeln!(text, "  {mark} {part}");
            }
        }
    }
    text
}
