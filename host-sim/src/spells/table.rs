//! The results as tables: by house, and by kind of fault.

use std::collections::BTreeMap;

use serde::Serialize;

use super::Spell;
use crate::quantity::{Dimension, Units, convert, told};

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
        text.push_str(&told(
            "\nBelow 0: a slab zone below 0 °C. Avoidable with one fault and with two: a reference held by more than half a\n\
             kelvin, and so did the controller with nothing wrong; any: whatever it does then. Solid: a tube frozen solid, and\n\
             of those avoidable. Silent: below 0 °C and no bell. Told: below 0 °C, a bell in time. Means a spell at the right.\n",
            units,
        ));
        text
    }
}

fn named(name: &str) -> Line {
    Line {
        name: name.to_owned(),
        ..Line::default()
    }
}

fn head(first: &str, units: Units) -> String {
    format!(
        "{first:<26}{:>7}{:>7}{:>6}{:>5}{:>5}{:>7}{:>7}{:>7}{:>6}{:>8}{:>8}{:>8}\n",
        "spells",
        "below",
        "avoid",
        "able",
        "any",
        "solid",
        "avoid.",
        "silent",
        "told",
        "wood",
        "boiler",
        "pump"
    ) + &format!(
        "{:<26}{:>7}{:>7}{:>6}{:>5}{:>5}{:>7}{:>7}{:>7}{:>6}{:>8}{:>8}{:>8}\n",
        "",
        "",
        told("0 °C", units),
        "1",
        "2",
        "",
        "",
        "",
        "",
        "",
        Dimension::Mass.display_unit(units),
        "kWh",
        "kWh"
    )
}

fn row(line: &Line, units: Units) -> String {
    format!(
        "{:<26}{:>7}{:>7}{:>6}{:>5}{:>5}{:>7}{:>7}{:>7}{:>6}{:>8.0}{:>8.0}{:>8.2}\n",
        line.name,
        line.spells,
        line.below_0,
        line.avoidable_single,
        line.avoidable_two,
        line.avoidable_in_any_case,
        line.damaged,
        line.avoidable_damage,
        line.silent,
        line.told,
        convert(line.wood_kg, Dimension::Mass, units).0,
        line.boiler_kwh,
        line.pump_kwh
    )
}
