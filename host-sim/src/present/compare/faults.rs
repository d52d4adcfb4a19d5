//! What faults add in a hundred winters: a table on the screen and on a page.

use super::{FAHRENHEIT, mass, mass_unit};
use crate::files::quantity::Units;
use crate::present::page::{Block, Section, Table};
use crate::questions::spells::risk::{Harm, Risk, Share};

const HEADING: &str = "What faults add, in a hundred winters";

fn read(risk: &Risk, units: Units) -> String {
    let kh = match units {
        Units::Si => "K·h",
        Units::Us => "°F·h",
    };
    format!(
        "Each family of faults: {} cold fortnights with one fault drawn from it, with and without the fault, times the faults a\n\
         winter. Below 0: hours with a part of the slab below freezing; short: {kh} under the target; tubes: winters in which a\n\
         tube froze solid; wood: {}. Plain: two thermostats that read the same sensors; they have no program, settings or\n\
         modes, so the processor's and a person's faults do not reach them. How often a fault comes is judgement (--rates).",
        risk.spells,
        mass_unit(units)
    )
}

/// Numbers of a control: below 0, short, tubes, wood.
fn numbers(harm: &Harm, units: Units) -> [String; 4] {
    let degrees = match units {
        Units::Si => 1.0,
        Units::Us => FAHRENHEIT,
    };
    [
        format!("{:.0}", harm.below_0_h),
        format!("{:.0}", harm.below_target_kh * degrees),
        format!("{:.1}", harm.frozen_tubes),
        format!("{:.0}", mass(harm.wood_kg, units)),
    ]
    .map(|text| {
        // A difference may round to a zero that is negative.
        if text
            .trim_start_matches('-')
            .chars()
            .all(|c| "0.".contains(c))
        {
            text.trim_start_matches('-').to_owned()
        } else {
            text
        }
    })
}

fn rows(risk: &Risk, units: Units) -> Vec<[String; 10]> {
    let row = |name: &str, rate: String, ours: &Harm, pair: &Harm| {
        let [a, b, c, d] = numbers(ours, units);
        let [e, f, g, h] = numbers(pair, units);
        [name.to_owned(), rate, a, b, c, d, e, f, g, h]
    };
    let mut rows: Vec<[String; 10]> = risk
        .families
        .iter()
        .map(|share: &Share| {
            row(
                share.words,
                share.rate.to_string(),
                &share.ours,
                &share.pair,
            )
        })
        .collect();
    let rates: f64 = risk.families.iter().map(|share| share.rate).sum();
    rows.push(row("all", format!("{rates:.2}"), &risk.ours, &risk.pair));
    rows
}

const HEAD: [&str; 10] = [
    "", "a winter", "below 0", "short", "tubes", "wood", "below 0", "short", "tubes", "wood",
];

pub(super) fn text(risk: &Risk, units: Units) -> String {
    let mut text = format!("\n{HEADING}\n\n{:<28}{:>9}", "", "faults");
    text.push_str(&format!(
        "{:>33}{:>33}\n",
        "this controller", "plain differential"
    ));
    let head = HEAD.map(str::to_owned);
    for row in std::iter::once(head).chain(rows(risk, units)) {
        let [name, rate, rest @ ..] = &row;
        text.push_str(&format!("{name:<28}{rate:>9}"));
        for (place, cell) in rest.iter().enumerate() {
            let width = if place % 4 == 0 {
                10
            } else {
                [0, 8, 7, 8][place % 4]
            };
            text.push_str(&format!("{cell:>width$}"));
        }
        text.push('\n');
    }
    text + "\n" + &read(risk, units) + "\n"
}

pub(super) fn section(risk: &Risk, units: Units) -> Section {
    let head = HEAD.iter().enumerate().map(|(place, head)| match place {
        0 => "faults of".to_owned(),
        1 => "faults a winter".to_owned(),
        2..=5 => format!("{head}, this controller"),
        _ => format!("{head}, plain"),
    });
    Section::new(
        HEADING,
        vec![
            Block::Table(Table {
                numbers: HEAD.len() - 1,
                head: head.collect(),
                rows: rows(risk, units).into_iter().map(Vec::from).collect(),
            }),
            Block::Note(read(risk, units).replace('\n', " ")),
        ],
    )
}
