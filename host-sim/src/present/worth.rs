//! The comparison as a table and two sentences: on the screen and on a page.

use crate::files::quantity::show::Show;
use crate::files::quantity::{Dimension, Units};
use crate::present::cautions;
use crate::present::page::{Block, Headline, Page, Section, Table, Tone};
use crate::present::palette::{Hatch, Ink, fill};
use crate::present::plot::{Bar, Mark, Panel, Plot};
use crate::questions::worth::{Count, Line, Worth};

/// Pounds in a kilogram; degrees Fahrenheit in a kelvin.
const POUNDS: f64 = 2.204_62;
const FAHRENHEIT: f64 = 1.8;

/// How to read the columns.
const READ: &str = "Below: true slab under its target. Useless: a boiler call without which the slab would have held for\n\
                    eight hours by the store alone, or that gave no heat. Earth: net of what was carried back.";

/// Columns of the table after the name: heading, unit, width on the screen.
fn columns(units: Units) -> [(&'static str, &'static str, usize); 7] {
    let (mass, degree_hours) = match units {
        Units::Si => ("kg", "K·h"),
        Units::Us => ("lb", "°F·h"),
    };
    [
        ("below", degree_hours, 10),
        ("wood", mass, 8),
        ("pump", "kWh", 8),
        ("earth", Show(units).heat_unit(), 8),
        ("starts", "", 8),
        ("calls", "", 7),
        ("useless", "", 9),
    ]
}

/// A line's numbers in the order of [`columns`].
fn cells(c: &Count, units: Units) -> [String; 7] {
    let (mass, degree_hours) = match units {
        Units::Si => (1.0, 1.0),
        Units::Us => (POUNDS, FAHRENHEIT),
    };
    [
        format!("{:.2}", c.below_target_kh * degree_hours),
        format!("{:.0}", c.wood_kg * mass),
        format!("{:.1}", c.pump_kwh),
        format!("{:.0}", Show(units).heat_value(c.earth_heat_kwh)),
        c.starts.to_string(),
        c.calls.to_string(),
        c.useless_calls.to_string(),
    ]
}

/// All lines in the order shown.
fn lines(worth: &Worth) -> impl Iterator<Item = &Line> {
    let equal = worth.equal.iter().map(|equal| &equal.line);
    std::iter::once(&worth.ours)
        .chain(&worth.without)
        .chain(&worth.plain)
        .chain(equal)
}

fn title(worth: &Worth) -> String {
    format!("What each rule is worth, over {}", worth.winters.join("; "))
}

/// The whole screen.
#[must_use]
pub fn text(worth: &Worth, units: Units) -> String {
    let mut text = title(worth) + "\n\n";
    let columns = columns(units);
    let mut row = |name: &str, cells: [&str; 7]| {
        text.push_str(&format!("{name:<42}"));
        for (cell, (_, _, width)) in cells.into_iter().zip(columns) {
            text.push_str(&format!("{cell:>width$}"));
        }
        text.truncate(text.trim_end().len());
        text.push('\n');
    };
    row("", columns.map(|column| column.0));
    row("", columns.map(|column| column.1));
    for line in lines(worth) {
        let cells = cells(&line.total, units);
        row(&line.name, cells.each_ref().map(String::as_str));
    }
    format!("{text}\n{READ}\n{}", answer(worth, Show(units)))
}

/// The same as a page.
#[must_use]
pub fn page(worth: &Worth, house: &str, used: &[(String, String)], units: Units) -> Page {
    let mut sections = vec![Section::new(
        "All winters together",
        vec![
            Block::Table(table(
                lines(worth).map(|l| (l.name.as_str(), &l.total)),
                units,
            )),
            Block::Note(READ.replace('\n', " ")),
            Block::Plot(Box::new(chart(worth, units))),
        ],
    )];
    for (place, winter) in worth.winters.iter().enumerate() {
        let rows = lines(worth).filter_map(|line| {
            let count = line.winters.get(place)?;
            Some((line.name.as_str(), count))
        });
        sections.push(Section::new(
            format!("Winter: {winter}"),
            vec![Block::Table(table(rows, units))],
        ));
    }
    sections.push(Section::new(
        "What this rests on",
        vec![Block::List(
            used.iter()
                .map(|(name, text)| format!("{name}: {text}"))
                .chain(std::iter::once(
                    "Everything is counted from a model of the house through these winters, not measured: trust differences more \
                     than numbers."
                        .to_owned(),
                ))
                .collect(),
        )],
    ));
    Page {
        title: "What each rule is worth".to_owned(),
        house: house.to_owned(),
        subtitle: Some(worth.winters.join("; ")),
        headline: Some(Headline {
            word: "Beside plain controls".to_owned(),
            tone: Tone::Neutral,
            sentence: answer(worth, Show(units))
                .replace('\n', " ")
                .trim()
                .to_owned(),
            details: Vec::new(),
        }),
        sections,
        foot: cautions(),
    }
}

fn table<'a>(rows: impl Iterator<Item = (&'a str, &'a Count)>, units: Units) -> Table {
    let heading = |(name, unit, _): (&str, &str, usize)| match unit {
        "" => name.to_owned(),
        _ => format!("{name}, {unit}"),
    };
    let mut head = vec!["control".to_owned()];
    head.extend(columns(units).map(heading));
    Table {
        numbers: head.len() - 1,
        head,
        rows: rows
            .map(|(name, count)| {
                let mut row = vec![name.to_owned()];
                row.extend(cells(count, units));
                row
            })
            .collect(),
    }
}

/// Degree-hours below target and wood of every line.
fn chart(worth: &Worth, units: Units) -> Plot {
    let names: Vec<String> = lines(worth).map(|line| line.name.clone()).collect();
    let wood: Vec<f64> = lines(worth)
        .map(|line| match units {
            Units::Si => line.total.wood_kg,
            Units::Us => line.total.wood_kg * POUNDS,
        })
        .collect();
    let bars = (0..).zip(&wood).zip(&names).map(|((row, wood), name)| Bar {
        row: f64::from(row),
        from: 0.0,
        to: *wood,
        text: format!("{name}: {wood:.0}"),
    });
    let [_, (_, unit, _), ..] = columns(units);
    let bars = bars.collect();
    Plot::over(
        format!("wood, {unit}"),
        "Wood burnt in all winters together.",
    )
    .with(Panel::of_rows(names, 22.0).with(Mark::Bars {
        name: String::new(),
        fill: fill(Ink::Vermillion, Hatch::Diagonal),
        thick: 0.65,
        bars,
    }))
}

/// Against the plain pair at equal care.
fn answer(worth: &Worth, show: Show) -> String {
    let Some(equal) = &worth.equal else {
        return "No call limit makes the plain pair keep the slab as well.\n".to_owned();
    };
    let (ours, plain) = (&worth.ours.total, &equal.line.total);
    let less = |ours: f64, plain: f64| {
        if plain <= 0.0 {
            return "nothing to compare".to_owned();
        }
        let percent = 100.0 * (1.0 - ours / plain);
        let word = if percent < 0.0 { "more" } else { "less" };
        format!("{:.0} % {word}", percent.abs())
    };
    format!(
        "Against a plain differential with a bare call at {}, which keeps the slab as well:\n\
         {} wood, {} boiler heat, {} electricity,\n{} circulator starts, {} useless calls.\n",
        show.number(equal.call_below_c, Dimension::Temperature, 2),
        less(ours.wood_kg, plain.wood_kg),
        less(ours.boiler_heat_kwh, plain.boiler_heat_kwh),
        less(ours.pump_kwh, plain.pump_kwh),
        less(f64::from(ours.starts), f64::from(plain.starts)),
        less(
            f64::from(ours.useless_calls),
            f64::from(plain.useless_calls)
        ),
    )
}
