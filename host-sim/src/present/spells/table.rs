//! The results as tables: by house, and by kind of fault.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::files::quantity::{Dimension, Units, convert, told};
use crate::present::page;
use crate::questions::spells::Spell;

/// Sums over some spells.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Line {
    /// What they have in common.
    pub name: String,
    /// How many.
    pub spells: u32,
    /// Of those, with a slab zone below 0 °C.
    pub below_0: u32,
    /// Avoidable freezes with one fault.
    pub avoidable_single: u32,
    /// Avoidable freezes with two.
    pub avoidable_two: u32,
    /// Avoidable freezes, whatever the controller does with nothing wrong.
    pub avoidable_in_any_case: u32,
    /// A tube frozen solid.
    pub damaged: u32,
    /// Of those, avoidable.
    pub avoidable_damage: u32,
    /// Avoidable ice.
    pub avoidable_ice: u32,
    /// Below 0 °C without a bell.
    pub silent: u32,
    /// Below 0 °C with a bell in time.
    pub told: u32,
    /// Rules of the outputs broken, and panics.
    pub violations: u32,
    /// Wood, kg a spell.
    pub wood_kg: f64,
    /// Boiler's heat, kWh a spell.
    pub boiler_kwh: f64,
    /// Circulator's electricity, kWh a spell.
    pub pump_kwh: f64,
}

impl Line {
    fn add(&mut self, spell: &Spell) {
        let count = |yes: bool| u32::from(yes);
        let faults = spell.faults.len();
        self.spells += 1;
        self.below_0 += count(spell.is_frozen());
        self.avoidable_single += count(spell.avoidable.freeze && faults < 2);
        self.avoidable_two += count(spell.avoidable.freeze && faults >= 2);
        self.avoidable_in_any_case += count(spell.avoidable_in_any_case.freeze);
        self.damaged += count(spell.ours.damaged);
        self.avoidable_damage += count(spell.avoidable.damage);
        self.avoidable_ice += count(spell.avoidable.ice);
        self.silent += count(spell.warning.silent);
        self.told += count(spell.warning.told == Some(true));
        self.violations += count(spell.violation.is_some());
        self.wood_kg += spell.ours.wood_kg;
        self.boiler_kwh += spell.ours.boiler_kwh;
        self.pump_kwh += spell.ours.pump_kwh;
    }

    fn mean(mut self) -> Self {
        let spells = f64::from(self.spells.max(1));
        self.wood_kg /= spells;
        self.boiler_kwh /= spells;
        self.pump_kwh /= spells;
        self
    }
}

/// Both tables.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Table {
    /// All houses together.
    pub all: Line,
    /// House by house.
    pub houses: Vec<Line>,
    /// Kind by kind of fault; a spell with two counts for both.
    pub faults: Vec<Line>,
}

impl Table {
    /// Sums of `spells` but those in houses that are told `apart`.
    pub fn of<'a>(spells: impl Iterator<Item = &'a Spell> + Clone) -> Self {
        let mut all = Line {
            name: "all".to_owned(),
            ..Line::default()
        };
        let mut houses: Vec<Line> = Vec::new();
        let mut faults: BTreeMap<String, Line> = BTreeMap::new();
        for spell in spells {
            all.add(spell);
            let place = houses.iter().position(|line| line.name == spell.house);
            let place = place.unwrap_or_else(|| {
                houses.push(named(&spell.house));
                houses.len() - 1
            });
            houses[place].add(spell);
            let mut keys: Vec<&str> = spell
                .faults
                .iter()
                .map(|fault| fault.key.as_str())
                .collect();
            keys.dedup();
            for key in keys {
                faults
                    .entry(key.to_owned())
                    .or_insert_with(|| named(key))
                    .add(spell);
            }
        }
        houses.sort_by(|a, b| a.name.cmp(&b.name));
        Self {
            all: all.mean(),
            houses: houses.into_iter().map(Line::mean).collect(),
            faults: faults.into_values().map(Line::mean).collect(),
        }
    }

    /// The tables of a page, with their headings.
    #[must_use]
    pub fn pages(&self, units: Units) -> [(&'static str, page::Table); 2] {
        let table = |first: &str, lines: &mut dyn Iterator<Item = &Line>| {
            let mut head = vec![first.to_owned()];
            head.extend(COLUMNS.map(|column| {
                let said = told(column.2, units);
                match said.strip_suffix("kg") {
                    Some(before) => format!("{before}{}", Dimension::Mass.display_unit(units)),
                    None => said,
                }
            }));
            page::Table {
                numbers: head.len() - 1,
                head,
                rows: lines
                    .map(|line| {
                        std::iter::once(line.name.clone())
                            .chain(cells(line, units))
                            .collect()
                    })
                    .collect(),
            }
        };
        let mut houses = self.houses.iter().chain(std::iter::once(&self.all));
        [
            ("House by house", table("house", &mut houses)),
            ("Fault by fault", table("fault", &mut self.faults.iter())),
        ]
    }

    /// The tables as text.
    #[must_use]
    pub fn text(&self, units: Units) -> String {
        let mut text = head("house", units);
        for line in &self.houses {
            text.push_str(&row(line, units));
        }
        text.push_str(&row(&self.all, units));
        text.push('\n');
        text.push_str(&head("fault", units));
        for line in &self.faults {
            text.push_str(&row(line, units));
        }
        text.push_str(&format!("\n{}\n", told(READ, units)));
        text
    }
}

fn named(name: &str) -> Line {
    Line {
        name: name.to_owned(),
        ..Line::default()
    }
}

/// How to read the columns.
pub const READ: &str = "Below 0: a slab zone below 0 °C. Avoidable with one fault and with two: a reference held by more than half a\n\
    kelvin, and so did the controller with nothing wrong; any: whatever it does then. Solid: a tube frozen solid, and\n\
    of those avoidable. Silent: below 0 °C and no bell. Told: below 0 °C, a bell in time. Means a spell at the right.";

/// Columns after the first: both lines of the screen's heading with the width, and the page's.
const COLUMNS: [((&str, &str), usize, &str); 12] = [
    (("spells", ""), 7, "spells"),
    (("below", "0 °C"), 7, "below 0 °C"),
    (("avoid", "1"), 6, "avoidable, one fault"),
    (("able", "2"), 5, "avoidable, two"),
    (("any", ""), 5, "avoidable in any case"),
    (("solid", ""), 7, "solid"),
    (("avoid.", ""), 7, "solid, avoidable"),
    (("silent", ""), 7, "silent"),
    (("told", ""), 6, "told"),
    (("wood", "kg"), 8, "wood, kg"),
    (("boiler", "kWh"), 8, "boiler, kWh"),
    (("pump", "kWh"), 8, "pump, kWh"),
];

fn head(first: &str, units: Units) -> String {
    let said = |word: &str| match word {
        "kg" => Dimension::Mass.display_unit(units).to_owned(),
        word => told(word, units),
    };
    let line = |name: &str, of: fn((&'static str, &'static str)) -> &'static str| {
        COLUMNS
            .into_iter()
            .fold(format!("{name:<26}"), |line, (words, width, _)| {
                format!("{line}{:>width$}", said(of(words)))
            })
            + "\n"
    };
    line(first, |words| words.0) + &line("", |words| words.1)
}

fn cells(line: &Line, units: Units) -> [String; 12] {
    [
        line.spells.to_string(),
        line.below_0.to_string(),
        line.avoidable_single.to_string(),
        line.avoidable_two.to_string(),
        line.avoidable_in_any_case.to_string(),
        line.damaged.to_string(),
        line.avoidable_damage.to_string(),
        line.silent.to_string(),
        line.told.to_string(),
        format!("{:.0}", convert(line.wood_kg, Dimension::Mass, units).0),
        format!("{:.0}", line.boiler_kwh),
        format!("{:.2}", line.pump_kwh),
    ]
}

fn row(line: &Line, units: Units) -> String {
    let columns = cells(line, units).into_iter().zip(COLUMNS);
    columns.fold(
        format!("{:<26}", line.name),
        |text, (cell, (_, width, _))| format!("{text}{cell:>width$}"),
    ) + "\n"
}
