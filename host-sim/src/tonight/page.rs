//! The answer as a page: the sentence, the lines, and the night drawn as a fan.

use plotly::common::{DashType, Fill, Line, Mode};
use plotly::{Layout, Scatter};

use super::Verdict;
use super::ensemble::Range;
use super::show::{COVERS, Shown};
use crate::quantity::{Dimension, convert};
use crate::report::CAUTIONS;
use crate::report::page::{Block, Headline, Page, Section, Table, Tone};
use crate::report::plot::{self, Plot};

/// Slab and outdoor air (Okabe and Ito's black and sky blue), and the lines of the limits.
const SLAB: (&str, &str) = ("#000000", "rgba(0,0,0,0.18)");
const OUTDOOR: (&str, &str) = ("#0072B2", "rgba(86,180,233,0.30)");
const TARGET: &str = "#D55E00";

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
        head: vec!["Tonight".to_owned(), String::new()],
        rows: rows.collect(),
        numbers: 0,
    };
    let mut closing: Vec<Block> = shown.notes.iter().cloned().map(Block::Note).collect();
    let used = shown
        .used
        .iter()
        .map(|(name, value)| format!("{name}: {value}"));
    closing.push(Block::List(used.collect()));
    Page {
        title: "Tonight".to_owned(),
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
                "The night on the store alone",
                vec![Block::Plot(Box::new(fan(shown)))],
            ),
            Section::new("What this rests on", closing),
        ],
        foot: CAUTIONS
            .iter()
            .map(|(title, text)| ((*title).to_owned(), (*text).to_owned()))
            .collect(),
    }
}

/// Slab and outdoor air until morning, eight nights of ten shaded, with the limits.
fn fan(shown: &Shown<'_>) -> Plot {
    let answer = shown.answer;
    let alone = &answer.alone;
    let now_s = answer.axis.now_s;
    let unit = Dimension::Temperature.display_unit(shown.units);
    let degrees =
        |c: f64| (convert(c, Dimension::Temperature, shown.units).0 * 100.0).round() / 100.0;
    let times: Vec<String> = alone
        .times_s(now_s)
        .map(|s| answer.axis.at(s).strftime("%Y-%m-%d %H:%M").to_string())
        .collect();
    let layout: Layout = plot::layout()
        .x_axis(plot::axis("").tick_format("%H:%M"))
        .y_axis(plot::axis(unit));
    let mut chart = Plot::new(
        format!(
            "Slab and outdoor air in {} nights that fit readings and forecast, without a fire: middle and, shaded, eight of ten; \
             with the slab's limits.",
            alone.members
        ),
        430,
        layout,
    );
    for (name, ranges, (line, shade)) in [
        ("Outdoor air", &alone.outdoor_c, OUTDOOR),
        ("Slab", &alone.fan_c, SLAB),
    ] {
        let of =
            |pick: fn(&Range) -> f64| ranges.iter().map(|r| degrees(pick(r))).collect::<Vec<_>>();
        let edge = |values: Vec<f64>| {
            Scatter::new(times.clone(), values)
                .mode(Mode::Lines)
                .line(Line::new().width(0.0).color(line))
                .show_legend(false)
                .hover_template(format!("%{{y}} {unit}<extra>{name}, one in ten</extra>").as_str())
        };
        chart.add(edge(of(|r| r.low)));
        chart.add(edge(of(|r| r.high)).fill(Fill::ToNextY).fill_color(shade));
        chart.add(
            Scatter::new(times.clone(), of(|r| r.middle))
                .mode(Mode::Lines)
                .line(Line::new().width(2.0).color(line))
                .name(name)
                .hover_template(format!("%{{y}} {unit}<extra>{name}, middle</extra>").as_str()),
        );
    }
    for (name, celsius, dash) in [
        ("Target", answer.target_c, DashType::Dash),
        ("Freezing", 0.0, DashType::Dot),
    ] {
        let ends = [times.first(), times.last()];
        let ends: Vec<String> = ends.into_iter().flatten().cloned().collect();
        chart.add(
            Scatter::new(ends, vec![degrees(celsius); 2])
                .mode(Mode::Lines)
                .line(Line::new().color(TARGET).width(1.4).dash(dash))
                .name(name),
        );
    }
    chart
}
