//! The comparison as a table and two sentences: on the screen and on a page.

use crate::files::quantity::show::Show;
use crate::files::quantity::{Dimension, Units};
use crate::present::cautions;
use crate::present::page::{Block, Headline, Page, Section, Table, Tone};
use crate::present::palette::{Hatch, Ink, fill};
use crate::present::plot::{Bar, Mark, Panel, Plot};
use crate::questions::compare::{Compared, Count, Line};
use crate::questions::spells::risk::Risk;

mod faults;

/// Pounds in a kilogram; degrees Fahrenheit in a kelvin.
const POUNDS: f64 = 2.204_62;
const FAHRENHEIT: f64 = 1.8;

/// How to read the columns.
const READ: &str = "Below: true slab under its target. Useless: a boiler call without which the slab would have held for\n\
                    eight hours by the store alone, or that gave no heat. Earth: net of what was carried back.";

/// How to read the columns of the ways of tending.
const READ_WAYS: &str = "Feeds: times wood was put on; wakings: those of them in the hours of sleep; nights: those with a feed, noon to noon.\n\
                         A way with more below its target saves wood by letting the slab freeze.";

/// A column after the name: heading, unit, width on the screen, and its cell.
struct Column {
    head: &'static str,
    unit: fn(Units) -> &'static str,
    width: usize,
    cell: fn(&Count, Units) -> String,
}

const fn column(
    head: &'static str,
    unit: fn(Units) -> &'static str,
    width: usize,
    cell: fn(&Count, Units) -> String,
) -> Column {
    Column {
        head,
        unit,
        width,
        cell,
    }
}

const NO_UNIT: fn(Units) -> &'static str = |_| "";
const BELOW: Column = column(
    "below",
    |units| match units {
        Units::Si => "K·h",
        Units::Us => "°F·h",
    },
    10,
    |c, units| {
        let degrees = match units {
            Units::Si => 1.0,
            Units::Us => FAHRENHEIT,
        };
        format!("{:.2}", c.below_target_kh * degrees)
    },
);
const WOOD: Column = column("wood", mass_unit, 8, |c, units| {
    format!("{:.0}", mass(c.wood_kg, units))
});
const PUMP: Column = column("pump", |_| "kWh", 8, |c, _| format!("{:.1}", c.pump_kwh));

/// What controls are compared by.
static CONTROLS: [Column; 7] = [
    BELOW,
    WOOD,
    PUMP,
    column(
        "earth",
        |units| Show(units).heat_unit(),
        8,
        |c, units| format!("{:.0}", Show(units).heat_value(c.earth_heat_kwh)),
    ),
    column("starts", NO_UNIT, 8, |c, _| c.starts.to_string()),
    column("calls", NO_UNIT, 7, |c, _| c.calls.to_string()),
    column("useless", NO_UNIT, 9, |c, _| c.useless_calls.to_string()),
];

/// What ways of tending are compared by.
static TENDING: [Column; 7] = [
    BELOW,
    WOOD,
    column(
        "boiler",
        |units| Show(units).heat_unit(),
        8,
        |c, units| format!("{:.0}", Show(units).heat_value(c.boiler_heat_kwh)),
    ),
    column("feeds", NO_UNIT, 8, |c, _| c.feeds.to_string()),
    column("wakings", NO_UNIT, 9, |c, _| c.wakings.to_string()),
    column("nights", NO_UNIT, 8, |c, _| c.fed_nights.to_string()),
    PUMP,
];

const fn mass_unit(units: Units) -> &'static str {
    match units {
        Units::Si => "kg",
        Units::Us => "lb",
    }
}

fn mass(kg: f64, units: Units) -> f64 {
    match units {
        Units::Si => kg,
        Units::Us => kg * POUNDS,
    }
}

/// All lines in the order shown.
fn lines(compared: &Compared) -> impl Iterator<Item = &Line> {
    let equal = compared.equal.iter().map(|equal| &equal.line);
    std::iter::once(&compared.ours)
        .chain(&compared.without)
        .chain(&compared.plain)
        .chain(equal)
}

fn title(compared: &Compared) -> String {
    format!(
        "What each rule is worth, over {}",
        compared.winters.join("; ")
    )
}

/// The whole screen.
#[must_use]
pub fn text(compared: &Compared, risk: Option<&Risk>, units: Units) -> String {
    let controls = screen_table(&CONTROLS, lines(compared), units);
    let answer = answer(compared, Show(units));
    let tending = match compared.ways.is_empty() && compared.bounds.is_empty() {
        true => String::new(),
        false => format!(
            "\nThe fire, tended in one way or another under this controller\n\n{}\n{READ_WAYS}\n",
            screen_table(
                &TENDING,
                compared.ways.iter().chain(&compared.bounds),
                units
            )
        ),
    };
    let faults = risk.map_or_else(String::new, |risk| faults::text(risk, units));
    format!(
        "{}\n\n{controls}\n{READ}\n{answer}{tending}{faults}",
        title(compared)
    )
}

fn screen_table<'a>(
    columns: &[Column],
    lines: impl Iterator<Item = &'a Line>,
    units: Units,
) -> String {
    let mut text = String::new();
    let mut row = |name: &str, cell: &dyn Fn(&Column) -> String| {
        text.push_str(&format!("{name:<42}"));
        for column in columns {
            text.push_str(&format!("{:>width$}", cell(column), width = column.width));
        }
        text.truncate(text.trim_end().len());
        text.push('\n');
    };
    row("", &|column| column.head.to_owned());
    row("", &|column| (column.unit)(units).to_owned());
    for line in lines {
        row(&line.name, &|column| (column.cell)(&line.total, units));
    }
    text
}

/// The same as a page.
#[must_use]
pub fn page(
    compared: &Compared,
    risk: Option<&Risk>,
    house: &str,
    used: &[(String, String)],
    units: Units,
) -> Page {
    let mut sections = vec![Section::new(
        "All winters together",
        vec![
            Block::Table(table(
                &CONTROLS,
                lines(compared).map(|l| (l.name.as_str(), &l.total)),
                units,
            )),
            Block::Note(READ.replace('\n', " ")),
            Block::Plot(Box::new(chart(compared, units))),
        ],
    )];
    if !compared.ways.is_empty() || !compared.bounds.is_empty() {
        let rows = compared
            .ways
            .iter()
            .chain(&compared.bounds)
            .map(|l| (l.name.as_str(), &l.total));
        sections.push(Section::new(
            "The fire, tended in one way or another",
            vec![
                Block::Table(table(&TENDING, rows, units)),
                Block::Note(READ_WAYS.replace('\n', " ")),
            ],
        ));
    }
    sections.extend(risk.map(|risk| faults::section(risk, units)));
    for (place, winter) in compared.winters.iter().enumerate() {
        let rows = lines(compared).filter_map(|line| {
            let count = line.winters.get(place)?;
            Some((line.name.as_str(), count))
        });
        sections.push(Section::new(
            format!("Winter: {winter}"),
            vec![Block::Table(table(&CONTROLS, rows, units))],
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
        subtitle: Some(compared.winters.join("; ")),
        headline: Some(Headline {
            word: "Beside plain controls".to_owned(),
            tone: Tone::Neutral,
            sentence: answer(compared, Show(units))
                .replace('\n', " ")
                .trim()
                .to_owned(),
            details: Vec::new(),
        }),
        sections,
        foot: cautions(),
    }
}

fn table<'a>(
    columns: &[Column],
    rows: impl Iterator<Item = (&'a str, &'a Count)>,
    units: Units,
) -> Table {
    let heading = |column: &Column| match (column.unit)(units) {
        "" => column.head.to_owned(),
        unit => format!("{}, {unit}", column.head),
    };
    let mut head = vec!["control".to_owned()];
    head.extend(columns.iter().map(heading));
    Table {
        numbers: columns.len(),
        head,
        rows: rows
            .map(|(name, count)| {
                let mut row = vec![name.to_owned()];
                row.extend(columns.iter().map(|column| (column.cell)(count, units)));
                row
            })
            .collect(),
    }
}

/// Degree-hours below target and wood of every line.
fn chart(compared: &Compared, units: Units) -> Plot {
    let names: Vec<String> = lines(compared).map(|line| line.name.clone()).collect();
    let wood: Vec<f64> = lines(compared)
        .map(|line| mass(line.total.wood_kg, units))
        .collect();
    let bars = (0..).zip(&wood).zip(&names).map(|((row, wood), name)| Bar {
        row: f64::from(row),
        from: 0.0,
        to: *wood,
        text: format!("{name}: {wood:.0}"),
    });
    let bars = bars.collect();
    Plot::over(
        format!("wood, {}", mass_unit(units)),
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
fn answer(compared: &Compared, show: Show) -> String {
    let Some(equal) = &compared.equal else {
        return "No call limit makes the plain pair keep the slab as well.\n".to_owned();
    };
    let (ours, plain) = (&compared.ours.total, &equal.line.total);
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
