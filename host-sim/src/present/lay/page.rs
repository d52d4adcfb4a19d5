//! A laid floor as a page.

use super::Shown;
use super::map::map;
use super::scene::scene;
use super::svg::drawing;
use super::text::{answer, points};
use super::words::limit;
use crate::present::cautions;
use crate::present::page::{Block, Headline, Page, Section, Tone};

/// The page: drawing, map, what to bring, tables.
#[must_use]
pub fn page(shown: &Shown<'_>) -> Page {
    let scale = shown.scale();
    let limits = &shown.laid.limits;
    let mut sections = vec![Section::new(
        "The tube on the floor",
        vec![
            Block::Drawing(drawing(
                &scene(shown, scale),
                "Not to scale on a screen: --write-pdf makes sheets to measure on.",
            )),
            Block::Drawing(drawing(&map(shown, scale), "How warm each part becomes.")),
        ],
    )];
    sections.extend(
        points(shown)
            .into_iter()
            .map(|(heading, lines)| Section::new(heading, vec![Block::List(lines)])),
    );
    sections.extend(
        super::text::corner_tables(shown)
            .into_iter()
            .map(|(heading, table)| Section::new(heading, vec![Block::Table(table)])),
    );
    Page {
        title: "Where the tube goes, before the pour".to_owned(),
        house: shown.house.to_owned(),
        subtitle: Some(super::words::tube_laid(shown, scale)),
        headline: Some(Headline {
            word: if limits.is_empty() { "Fine" } else { "Look" }.to_owned(),
            tone: if limits.is_empty() {
                Tone::Good
            } else {
                Tone::Bad
            },
            sentence: answer(shown.laid),
            details: limits
                .iter()
                .map(|crossed| limit(crossed, shown.units))
                .collect(),
        }),
        sections,
        foot: cautions(),
    }
}
