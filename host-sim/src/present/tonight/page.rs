//! The answer as a page: the sentence, the lines, and the night drawn as a fan.

use super::text::{COVERS, Shown};
use crate::files::quantity::{Dimension, convert};
use crate::present::cautions;
use crate::present::page::{Block, Headline, Page, Section, Table, Tone};
use crate::present::palette::{Dash, Ink, stroke};
use crate::present::plot::{FREEZING, Mark, Panel, Plot, TARGET};
use crate::questions::tonight::ensemble::Range;
use crate::questions::tonight::night::SAMPLE_S;
use crate::questions::tonight::{Answer, Verdict};

/// The page.
#[must_use]
pub fn page(shown: &Shown<'_>) -> Page {
    let answer = shown.answer;
    let axis = &answer.axis;
    let at = |second: u64| axis.at(second).strftime("%Y-%m-%d %H:%M").to_string();
    let (word, tone) = match answer.verdict() {
        Verdict::Holds => ("Holds", Tone::Good),
        Verdict::Doubtful => ("May not hold", Tone::Bad),
        Verdict::Fails => ("Will not hold", Tone::Bad),
    };
    let rows = shown
        .lines()
        .into_iter()
        .map(|(name, value)| vec![name, value]);
    let table = Table {
        head: vec!["What".to_owned(), "Tonight".to_owned()],
        rows: rows.collect(),
        numbers: 0,
    };
    let used = shown
        .used
        .iter()
        .map(|(name, value)| format!("{name}: {value}"));
    let mut closing = vec![Block::List(used.collect())];
    match shown.notes.as_slice() {
        [] => {}
        notes if notes.len() <= FEW_NOTES => {
            closing.extend(notes.iter().cloned().map(Block::Note));
        }
        notes => closing.push(Block::Folded(
            format!("{} remarks", notes.len()),
            notes.to_vec(),
        )),
    }
    Page {
        title: "Tonight".to_owned(),
        house: shown.house.clone(),
        subtitle: Some(format!(
            "{} to {}, local standard time",
            at(axis.now_s),
            at(axis.until_s)
        )),
        headline: Some(Headline {
            word: word.to_owned(),
            tone,
            sentence: shown.headline(),
            details: vec![COVERS.to_owned()],
        }),
        sections: vec![
            Section::new("In short", vec![Block::Table(table)]),
            Section::new(
                if answer.fire.is_some() {
                    "The night on the store alone, and with the fire"
                } else {
                    "The night on the store alone"
                },
                vec![Block::Plot(Box::new(fan(shown)))],
            ),
            Section::new("What this rests on", closing),
        ],
        foot: cautions(),
    }
}

/// Remarks that are shown as they are; more of them are folded away.
const FEW_NOTES: usize = 2;

/// Slab and outdoor air until morning, eight nights of ten shaded, with the limits and the time to light the fire.
fn fan(shown: &Shown<'_>) -> Plot {
    let answer = shown.answer;
    let alone = &answer.alone;
    let axis = &answer.axis;
    let unit = Dimension::Temperature.display_unit(shown.units);
    let degrees = |c: f64| convert(c, Dimension::Temperature, shown.units).0;
    let with_fire = answer.fire.as_ref();
    let caption = format!(
        "Slab and outdoor air in {} nights that fit readings and forecast: middle and, shaded, eight of ten, without a fire{}.",
        alone.members,
        with_fire.map_or(String::new(), |fire| format!(
            ", and the slab with it in {} of them",
            fire.nights
        ))
    );
    let times = |ranges: &[Range]| -> Vec<(f64, Range)> {
        let at = |k: usize| (k as u64 * SAMPLE_S * 1_000) as f64;
        ranges
            .iter()
            .enumerate()
            .map(|(k, r)| (at(k), *r))
            .collect()
    };
    let marks = |panel: Panel, name: &str, ink: Ink, dash: Dash, ranges: &[Range]| {
        let points = times(ranges);
        let band = points
            .iter()
            .map(|(x, r)| (*x, Some((degrees(r.low), degrees(r.high)))))
            .collect();
        panel
            .with(Mark::Band {
                name: String::new(),
                ink,
                points: band,
            })
            .with(Mark::line(
                name,
                stroke(ink, dash, 2.0),
                points.iter().map(|(x, r)| (*x, degrees(r.middle))),
            ))
    };
    let mut slab = Panel::new(format!("slab, {unit}"), 270.0);
    slab = marks(slab, "slab, no fire", Ink::Black, Dash::Solid, &alone.fan_c);
    if let Some(fire) = with_fire {
        let name = "slab with the fire";
        slab = marks(slab, name, Ink::Orange, Dash::Long, &fire.fan_c);
    }
    for (name, stroke, celsius) in [
        ("target", TARGET, answer.target_c),
        ("freezing", FREEZING, 0.0),
    ] {
        let shown = convert(celsius, Dimension::Temperature, shown.units).0;
        let name = format!("{name} {shown:.1} {unit}");
        slab = slab.with(Mark::level(name, stroke, shown));
    }
    for (text, second, stroke) in moments(answer, shown) {
        if (axis.now_s..=axis.until_s).contains(&second) {
            slab = slab.with(Mark::Upright {
                text,
                stroke,
                x: ((second - axis.now_s) * 1_000) as f64,
            });
        }
    }
    let air = marks(
        Panel::new(format!("outdoor air, {unit}"), 120.0),
        "outdoor air",
        Ink::Sky,
        Dash::Solid,
        &alone.outdoor_c,
    );
    let length_ms = (axis.until_s - axis.now_s) * 1_000;
    Plot::over_time(Some(axis.at(axis.now_s)), 0, length_ms, caption)
        .with(slab)
        .with(air)
}

/// Times worth a line: when to light the fire, and sunrise.
fn moments(
    answer: &Answer,
    shown: &Shown<'_>,
) -> Vec<(String, u64, crate::present::palette::Stroke)> {
    let clock = |second: u64| shown.at(second as f64).strftime("%H:%M").to_string();
    let mut moments = Vec::new();
    if let Some(light_s) = answer.fire.as_ref().and_then(|fire| fire.light_by_s) {
        // To ten minutes, as the sentence says it.
        let light_s = (light_s + 300) / 600 * 600;
        let line = stroke(Ink::Vermillion, Dash::Solid, 2.0);
        moments.push((format!("light by {}", clock(light_s)), light_s, line));
    }
    let line = stroke(Ink::Grey, Dash::Dotted, 1.2);
    moments.push((
        format!("sunrise {}", clock(answer.axis.sunrise_s)),
        answer.axis.sunrise_s,
        line,
    ));
    moments
}
