//! The page: answer, what is known against the file, measured and modelled on evenings kept back, what is not known and what would tell.

use jiff::SignedDuration;

use super::Shown;
use crate::files::quantity::{Dimension, convert};
use crate::present::cautions;
use crate::present::page::{Block, Headline, Page, Section, Table, Tone};
use crate::present::palette::{Dash, Hatch, Ink, fill, stroke};
use crate::present::plot::{Bar, Mark, Panel, Plot};
use crate::questions::fit::parameters::PARAMETERS;
use crate::questions::fit::plan::{AHEAD, BLOCK};
use crate::questions::fit::verdict::NINETY;

/// Evenings drawn at most: the last ones.
const MOST_EVENINGS: usize = 7;
const BLOCK_MS: usize = BLOCK * 60_000;

/// The page.
#[must_use]
pub fn page(shown: &Shown<'_>) -> Page {
    let tone = if shown.fitted.is_worth_writing() {
        Tone::Good
    } else {
        Tone::Bad
    };
    let mut sections = Vec::new();
    let rows = shown.rows();
    if !rows.is_empty() {
        let table = Table {
            head: [
                "Value",
                "Found",
                "Nine times of ten",
                "File",
                "Against the file",
            ]
            .map(str::to_owned)
            .to_vec(),
            rows: rows
                .into_iter()
                .map(|row| {
                    let mut cells = vec![row.name];
                    cells.extend(row.cells);
                    cells
                })
                .collect(),
            numbers: 3,
        };
        let mut blocks = vec![Block::Table(table)];
        let bars = bars(shown);
        if !bars.is_empty() {
            blocks.push(Block::Plot(Box::new(bars)));
        }
        sections.push(Section::new("What this log tells", blocks));
    }
    if !shown.fitted.kept.evenings.is_empty() {
        sections.push(Section::new(
            "Evenings kept back",
            vec![Block::Plot(Box::new(evenings(shown)))],
        ));
    }
    sections.push(Section::new(
        "What it does not tell, and what would",
        vec![Block::List(shown.unknown())],
    ));
    for (title, lines) in [
        ("Sensors, and what is left", shown.findings()),
        ("Since the earlier fit", shown.changes_since()),
    ] {
        if !lines.is_empty() {
            sections.push(Section::new(title, vec![Block::List(lines)]));
        }
    }
    let used = shown
        .used
        .iter()
        .map(|(name, text)| format!("{name}: {text}"));
    let mut closing = vec![Block::List(used.collect())];
    closing.extend(left_out(shown));
    closing.extend(shown.notes.iter().cloned().map(Block::Note));
    sections.push(Section::new("What this rests on", closing));
    Page {
        title: "Fit".to_owned(),
        house: shown.house.to_owned(),
        subtitle: Some(format!("{} to {}", shown.days.0, shown.days.1)),
        headline: Some(Headline {
            word: shown.word().to_owned(),
            tone,
            sentence: shown.sentence(),
            details: shown.details(),
        }),
        sections,
        foot: cautions(),
    }
}

fn left_out(shown: &Shown<'_>) -> Option<Block> {
    let plan = &shown.case.plan;
    let lines: Vec<String> = plan
        .left_out
        .iter()
        .map(|left| {
            let at = shown.case.record.at(left.block * BLOCK);
            format!("{}: {}", at.strftime("%Y-%m-%d %H:%M"), left.why)
        })
        .collect();
    (!lines.is_empty()).then(|| Block::Folded(format!("{} left out", lines.len()), lines))
}

/// Every known factor with its range, against the file and what was open before.
fn bars(shown: &Shown<'_>) -> Plot {
    let known: Vec<_> = shown
        .fitted
        .values
        .iter()
        .filter(|value| value.known && PARAMETERS[value.index].factor)
        .collect();
    let percent = |x: f64| 100.0 * libm::expm1(x);
    let bar = |row: usize, x: f64, sigma: f64, what: &str| Bar {
        row: row as f64,
        from: percent(x - NINETY * sigma),
        to: percent(x + NINETY * sigma),
        text: format!(
            "{what}: {:.0} to {:.0} %",
            percent(x - NINETY * sigma),
            percent(x + NINETY * sigma)
        ),
    };
    let before = known
        .iter()
        .enumerate()
        .map(|(row, value)| bar(row, 0.0, PARAMETERS[value.index].prior, "before"));
    let after = known
        .iter()
        .enumerate()
        .map(|(row, value)| bar(row, value.x, value.sigma, "now"));
    let names = known
        .iter()
        .map(|value| PARAMETERS[value.index].name.to_owned())
        .collect();
    let mut plot = Plot::over(
        "against the file, %",
        "Each value that this log tells, against the site file (0 %): what was open before, and the range now, which holds the truth nine times of ten.",
    );
    if !known.is_empty() {
        let panel = Panel::of_rows(names, 34.0)
            .with(Mark::Bars {
                name: "open before".to_owned(),
                fill: fill(Ink::Light, Hatch::None),
                thick: 0.7,
                bars: before.collect(),
            })
            .with(Mark::Bars {
                name: "now".to_owned(),
                fill: fill(Ink::Blue, Hatch::None),
                thick: 0.35,
                bars: after.collect(),
            })
            .with(Mark::Upright {
                text: String::new(),
                stroke: stroke(Ink::Black, Dash::Dotted, 1.2),
                x: 0.0,
            });
        plot = plot.with(panel);
    }
    plot
}

/// Slab measured and modelled, fifteen hours from each evening.
fn evenings(shown: &Shown<'_>) -> Plot {
    let kept = &shown.fitted.kept;
    let first = kept.evenings.len().saturating_sub(MOST_EVENINGS);
    let drawn = &kept.evenings[first..];
    let begin = drawn[0];
    let end = drawn[drawn.len() - 1] + AHEAD;
    let degrees = |c: f64| convert(c, Dimension::Temperature, shown.units).0;
    let at = |block: usize| ((block - begin) * BLOCK_MS) as f64;
    let is_drawn = |block: usize| {
        drawn
            .iter()
            .any(|evening| (*evening..evening + AHEAD).contains(&block))
    };
    let curve = |of: &dyn Fn(usize) -> f64| -> Vec<(f64, Option<f64>)> {
        (begin..end)
            .map(|block| {
                let c = if is_drawn(block) { of(block) } else { f64::NAN };
                (at(block), (!c.is_nan()).then(|| degrees(c)))
            })
            .collect()
    };
    let line = |name: &str, ink, dash, width, points| Mark::Line {
        name: name.to_owned(),
        stroke: stroke(ink, dash, width),
        points,
    };
    let unit = Dimension::Temperature.display_unit(shown.units);
    let panel = Panel::new(format!("slab, {unit}"), 260.0)
        .with(line(
            "measured",
            Ink::Black,
            Dash::Solid,
            2.0,
            curve(&|b| shown.case.slab_c(b)),
        ))
        .with(line(
            "as fitted",
            Ink::Blue,
            Dash::Solid,
            1.6,
            curve(&|b| kept.modelled_c[0][b]),
        ))
        .with(line(
            "as the file was",
            Ink::Orange,
            Dash::Dashed,
            1.6,
            curve(&|b| kept.modelled_c[1][b]),
        ));
    let start = shown
        .case
        .record
        .start
        .saturating_add(SignedDuration::from_mins((begin * BLOCK) as i64));
    let length_ms = ((end - begin) * BLOCK_MS) as u64;
    Plot::over_time(
        Some(start),
        0,
        length_ms,
        "Slab on evenings that were not fitted, 15 h ahead from 18:00: measured, as fitted, and as the site file said before. Outdoor air, \
         relays and water as logged.",
    )
    .with(panel)
}
