//! The check as a person reads it in a terminal or a pipe.

use std::fmt::Write as _;

use super::tables::{Headed, sweep, tables};
use crate::files::quantity::{Units, told};
use crate::present::page::Table;
use crate::present::wrap_at;
use crate::questions::size::lines::{Group, Line};
use crate::questions::size::{Shown, Verdict};

const WIDTH: usize = 96;
const INDENT: usize = 6;

/// The whole text.
#[must_use]
pub fn text(shown: &Shown<'_>) -> String {
    let mut text = String::from("Design check of the loop\n");
    for (name, used) in &shown.used {
        let _ = writeln!(text, "  {name}: {used}");
    }
    let _ = writeln!(text, "\n{}", shown.answer.to_uppercase());
    paragraph(&mut text, &shown.plainly, 0);
    for verdict in Verdict::RAISED {
        for line in shown.points.iter().filter(|line| line.verdict == verdict) {
            let _ = writeln!(text, "  {}: {}, {}", verdict.words(), line.what, line.shown);
        }
    }
    for group in Group::ALL {
        let _ = writeln!(text, "\n{}", group.heading());
        for line in shown.points.iter().filter(|line| line.group == group) {
            text.push_str(&judged(line, shown.units));
        }
    }
    for headed in tables(shown.check, shown.units) {
        text.push_str(&under_heading(&headed));
    }
    if let Some(swept) = shown.sweep {
        text.push_str(&under_heading(&sweep(swept, shown.units)));
    }
    if !shown.notes.is_empty() {
        text.push_str("\nRemarks\n");
        for note in &shown.notes {
            paragraph(&mut text, note, 2);
        }
    }
    text
}

fn judged(line: &Line, units: Units) -> String {
    let mut text = String::new();
    let _ = writeln!(
        text,
        "  {:<58} {:>14}  {}",
        line.what,
        line.shown,
        line.verdict.words()
    );
    paragraph(&mut text, &format!("{}.", capital(&line.why)), INDENT);
    paragraph(
        &mut text,
        &format!("Rule: {} [{}].", line.rule, told(line.source, units)),
        INDENT,
    );
    paragraph(&mut text, &format!("Changes it: {}.", line.change), INDENT);
    text
}

fn capital(text: &str) -> String {
    let mut characters = text.chars();
    characters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(characters).collect()
    })
}

fn paragraph(text: &mut String, words: &str, indent: usize) {
    for line in wrap_at(words, WIDTH - indent) {
        let _ = writeln!(text, "{:indent$}{line}", "");
    }
}

fn under_heading(headed: &Headed) -> String {
    let mut text = format!("\n{}\n", headed.heading);
    paragraph(&mut text, &headed.remark, 2);
    text.push_str(&columns(&headed.table));
    text
}

/// Cells in columns as wide as their widest, the first to the left, the others to the right.
fn columns(table: &Table) -> String {
    let widths: Vec<usize> = (0..table.head.len())
        .map(|column| {
            table
                .rows
                .iter()
                .chain([&table.head])
                .filter_map(|row| row.get(column))
                .map(|cell| cell.chars().count())
                .max()
                .unwrap_or(0)
        })
        .collect();
    let mut text = String::new();
    for row in std::iter::once(&table.head).chain(&table.rows) {
        let mut line = String::from("  ");
        for (column, (cell, width)) in row.iter().zip(&widths).enumerate() {
            let _ = match column {
                0 => write!(line, "{cell:<width$}"),
                _ => write!(line, "  {cell:>width$}"),
            };
        }
        let _ = writeln!(text, "{}", line.trim_end());
    }
    text
}
