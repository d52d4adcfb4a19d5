//! Many spells as a page: the tables of the screen, and the avoidable spells with their faults.

use super::story::avoidable;
use super::table::{READ, Table};
use crate::files::quantity::show::counted;
use crate::files::quantity::{Units, told};
use crate::present::cautions;
use crate::present::page::{self, Block, Headline, Page, Section, Tone};
use crate::questions::spells::Spell;

/// The page; `hazards` are the spells of a house with a known hazard.
#[must_use]
pub fn page(house: &str, table: &Table, hazards: &Table, spells: &[Spell], units: Units) -> Page {
    let mut sections = Vec::new();
    for (name, tables) in [("", table), ("A house with a known hazard: ", hazards)] {
        if tables.all.spells == 0 {
            continue;
        }
        let tables = tables.pages(units).map(|(heading, table)| {
            let heading = if name.is_empty() {
                heading.to_owned()
            } else {
                format!("{name}{}", heading.to_lowercase())
            };
            Section::new(heading, vec![Block::Table(table)])
        });
        sections.extend(tables);
    }
    if let Some(last) = sections.last_mut() {
        last.blocks
            .push(Block::Note(told(&READ.replace('\n', " "), units)));
    }
    let worst = avoidable(spells);
    if !worst.is_empty() {
        sections.push(Section::new(
            "Avoidable, coldest first",
            vec![listed(&worst, units)],
        ));
    }
    let broken: Vec<String> = spells
        .iter()
        .filter_map(|spell| {
            let violation = spell.violation.as_ref()?;
            Some(format!("Seed {}: {violation}", spell.seed))
        })
        .collect();
    if !broken.is_empty() {
        sections.push(Section::new("Broken rules", vec![Block::List(broken)]));
    }
    Page {
        title: "Cold spells with faults".to_owned(),
        house: house.to_owned(),
        subtitle: Some(format!(
            "{}, faults drawn by seed; a model's spells, not measured ones",
            counted(spells.len() as u64, "spell")
        )),
        headline: Some(headline(table, hazards)),
        sections,
        foot: cautions(),
    }
}

fn headline(table: &Table, hazards: &Table) -> Headline {
    let all = &table.all;
    let freezes = all.avoidable_single + all.avoidable_two;
    let harm = freezes + all.avoidable_damage + all.violations + hazards.all.violations;
    let (word, tone) = if harm == 0 {
        ("Nothing avoidable", Tone::Good)
    } else {
        ("Avoidable harm", Tone::Bad)
    };
    Headline {
        word: word.to_owned(),
        tone,
        sentence: format!(
            "Of {} the slab was below freezing in {}; in {freezes} thermostats that read the truth would have held it.",
            counted(u64::from(all.spells), "spell"),
            all.below_0
        ),
        details: vec![format!(
            "{} froze solid, {} of them avoidably; in {} no bell rang, in {} one rang in time.",
            counted(u64::from(all.damaged), "tube"),
            all.avoidable_damage,
            all.silent,
            all.told
        )],
    }
}

fn listed(worst: &[&Spell], units: Units) -> Block {
    let rows = worst
        .iter()
        .map(|spell| {
            vec![
                spell.seed.to_string(),
                told(&format!("{:.2} °C", spell.ours.slab_min_c), units),
                spell.house.clone(),
                spell.weather.clone(),
                super::story::faults(spell),
            ]
        })
        .collect();
    let head = ["Seed", "Coldest slab", "House", "Weather", "Faults"];
    Block::Table(page::Table {
        head: head.map(str::to_owned).to_vec(),
        rows,
        numbers: 1,
    })
}
