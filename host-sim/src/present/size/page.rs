//! The check as a page.

use super::section::section;
use super::tables::{Headed, sweep as sweep_table, tables};
use crate::files::quantity::{Dimension, Units, convert};
use crate::present::cautions;
use crate::present::page::{Block, Headline, Page, Section, Table, Tone};
use crate::present::palette::{Dash, Ink, stroke};
use crate::present::plot::{Mark, Panel, Plot, Shape, X};
use crate::questions::size::lines::Group;
use crate::questions::size::{Shown, Sweep, Verdict, balance};
use crate::sim::plant::config::PlantConfig;
use crate::sim::plant::hydraulics::system_head_m;
use crate::sim::plant::operating::{LoopDesign, Path, REFERENCE_C};

/// Points of a drawn curve, and how far beyond the operating point it goes.
const CURVE_POINTS: usize = 60;
const CURVE_TO: f64 = 1.6;

/// The page of a check of `plant`.
#[must_use]
pub fn page(shown: &Shown<'_>, plant: &PlantConfig) -> Page {
    let mut sections = Vec::new();
    if let Some(swept) = shown.sweep {
        let mut section = table_section(sweep_table(swept, shown.units));
        section
            .blocks
            .insert(1, plotted(sweep_plot(swept, shown.units)));
        sections.push(section);
    }
    sections.push(Section::new(
        "The loop in pictures",
        vec![
            plotted(head_plot(shown, plant)),
            Block::Drawing(section(plant, shown.units)),
            plotted(cliff_plot(shown, plant)),
        ],
    ));
    sections.extend(Group::ALL.map(|group| judged(shown, group)));
    let mut rows = tables(shown.check, shown.units).into_iter();
    sections.extend(rows.next().map(table_section));
    if let Some(tiring) = rows.next() {
        let mut section = table_section(tiring);
        section.blocks.push(plotted(tiring_plot(shown)));
        sections.push(section);
    }
    sections.extend(rows.map(table_section));
    if !shown.notes.is_empty() {
        sections.push(Section::new(
            "Remarks",
            vec![Block::List(shown.notes.clone())],
        ));
    }
    Page {
        title: "Design check of the loop".to_owned(),
        house: shown.house.clone(),
        subtitle: Some(
            shown
                .used
                .iter()
                .map(|(name, used)| format!("{name}: {used}"))
                .collect::<Vec<_>>()
                .join(" · "),
        ),
        headline: Some(headline(shown)),
        sections,
        foot: cautions(),
    }
}

fn headline(shown: &Shown<'_>) -> Headline {
    let points = Verdict::RAISED.into_iter().flat_map(|verdict| {
        let lines = shown
            .points
            .iter()
            .filter(move |line| line.verdict == verdict);
        lines.map(move |line| {
            format!(
                "{}: {}, {}",
                capital(verdict.words()),
                line.what,
                line.shown
            )
        })
    });
    let details = std::iter::once(shown.plainly.clone())
        .chain(points)
        .collect();
    Headline {
        word: shown.verdict.words().to_owned(),
        tone: match shown.verdict {
            Verdict::Fine => Tone::Good,
            Verdict::Look | Verdict::Caution => Tone::Neutral,
            Verdict::WillNotWork => Tone::Bad,
        },
        sentence: shown.answer.clone(),
        details,
    }
}

fn judged(shown: &Shown<'_>, group: Group) -> Section {
    let rows = shown
        .points
        .iter()
        .filter(|line| line.group == group)
        .map(|line| {
            vec![
                line.what.clone(),
                line.shown.clone(),
                line.verdict.words().to_owned(),
                line.why.clone(),
                format!("{} [{}]", line.rule, line.source),
                line.change.clone(),
            ]
        })
        .collect();
    let head = [
        "What",
        "Value",
        "Verdict",
        "What it means",
        "Rule",
        "What would change it",
    ];
    Section::new(
        group.heading(),
        vec![Block::Table(Table {
            head: head.map(str::to_owned).to_vec(),
            rows,
            numbers: 1,
        })],
    )
}

fn table_section(headed: Headed) -> Section {
    Section::new(
        headed.heading,
        vec![Block::Paragraph(headed.remark), Block::Table(headed.table)],
    )
}

fn plotted(plot: Plot) -> Block {
    Block::Plot(Box::new(plot))
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

fn scaled(value: f64, dimension: Dimension, units: Units) -> f64 {
    convert(value, dimension, units).0
}

/// The name of an axis with its unit.
fn of(name: &str, dimension: Dimension, units: Units) -> String {
    format!("{name}, {}", dimension.display_unit(units))
}

/// The operating point with its numbers beside it.
fn operating_point(x: f64, y: f64, words: String) -> Mark {
    Mark::Dots {
        name: "operating point".to_owned(),
        ink: Ink::Vermillion,
        shape: Shape::Diamond,
        size: 13.0,
        points: vec![(x, y, words)],
    }
}

/// Flows to draw at, L/s.
fn flows(shown: &Shown<'_>) -> Vec<f64> {
    let most = CURVE_TO * shown.check.pump.flow_l_s;
    (1..=CURVE_POINTS)
        .map(|point| most * point as f64 / CURVE_POINTS as f64)
        .collect()
}

fn head_plot(shown: &Shown<'_>, plant: &PlantConfig) -> Plot {
    let units = shown.units;
    let design = LoopDesign::new(plant);
    let fluid = plant.fluid.properties(REFERENCE_C);
    let stretches = design.stretches(Path::Series);
    let pump = design.pump();
    let curve = |head_m: &dyn Fn(f64) -> f64| -> Vec<(f64, f64)> {
        let at = |q: f64| {
            let head = scaled(head_m(q), Dimension::Head, units);
            (scaled(q, Dimension::FlowRate, units), head)
        };
        flows(shown).into_iter().map(at).collect()
    };
    let check = &shown.check.pump;
    let at = scaled(check.flow_l_s, Dimension::FlowRate, units);
    let head = scaled(check.head_m, Dimension::Head, units);
    let words = format!(
        "{at:.2} {}, {head:.1} {}",
        Dimension::FlowRate.display_unit(units),
        Dimension::Head.display_unit(units)
    );
    let panel = Panel::new(of("head", Dimension::Head, units), 260.0)
        .with(Mark::line(
            "the loop needs",
            stroke(Ink::Blue, Dash::Solid, 2.0),
            curve(&|q| system_head_m(&stretches, &fluid, q)),
        ))
        .with(Mark::line(
            "the circulator has",
            stroke(Ink::Black, Dash::Dashed, 2.0),
            curve(&|q| pump.head_m(q).max(0.0)),
        ))
        .with(operating_point(at, head, words));
    Plot::over(
        of("flow", Dimension::FlowRate, units),
        "Head the loop needs and head the circulator has, by flow; they meet at the operating point.",
    )
    .with(panel)
}

fn cliff_plot(shown: &Shown<'_>, plant: &PlantConfig) -> Plot {
    let units = shown.units;
    let conductance = flows(shown).into_iter().map(|q| {
        let w_k = balance::conductance_at_w_k(plant, q);
        (
            scaled(q, Dimension::FlowRate, units),
            scaled(w_k, Dimension::HeatLoss, units),
        )
    });
    let at = scaled(shown.check.pump.flow_l_s, Dimension::FlowRate, units);
    let here = scaled(shown.check.heat.conductance_w_k, Dimension::HeatLoss, units);
    let unit = Dimension::HeatLoss.display_unit(units);
    let panel = Panel::new(of("loop", Dimension::HeatLoss, units), 220.0)
        .with(Mark::line(
            "loop",
            stroke(Ink::Blue, Dash::Solid, 2.0),
            conductance,
        ))
        .with(operating_point(at, here, format!("{here:.0} {unit}")));
    Plot::over(
        of("flow", Dimension::FlowRate, units),
        "Heat per kelvin from store to slab, by flow. The step is the laminar cliff; beyond the knee more flow buys little.",
    )
    .with(panel)
}

/// A curve with its points marked.
fn marked(panel: Panel, name: &str, line: (Ink, Dash), points: Vec<(f64, f64)>) -> Panel {
    let dots = points
        .iter()
        .map(|(x, y)| (*x, *y, String::new()))
        .collect();
    panel
        .with(Mark::line(name, stroke(line.0, line.1, 2.0), points))
        .with(Mark::Dots {
            name: String::new(),
            ink: line.0,
            shape: Shape::Disc,
            size: 5.0,
            points: dots,
        })
}

fn tiring_plot(shown: &Shown<'_>) -> Plot {
    let units = shown.units;
    let points = |value: fn(&crate::questions::size::TiredRow) -> f64| {
        let rows = shown.check.tiring.iter();
        rows.map(|row| (row.days, scaled(value(row), Dimension::Temperature, units)))
            .collect()
    };
    type Of = fn(&crate::questions::size::TiredRow) -> f64;
    let curves: [(&str, (Ink, Dash), Of); 4] = [
        ("store floor", (Ink::Green, Dash::Solid), |row| row.floor_c),
        ("holds the slab down to", (Ink::Blue, Dash::Solid), |row| {
            row.outdoor_c
        }),
        (
            "store floor, earth alone",
            (Ink::Green, Dash::Dotted),
            |row| row.earth_alone_c,
        ),
        (
            "holds down to, earth alone",
            (Ink::Blue, Dash::Dotted),
            |row| row.earth_alone_outdoor_c,
        ),
    ];
    let panel = Panel::new(of("temperature", Dimension::Temperature, units), 240.0);
    let panel = curves.into_iter().fold(panel, |panel, (name, line, of)| {
        marked(panel, name, line, points(of))
    });
    Plot::over(
        "days without pause",
        "The store under a circulator that never rests: its floor, and the outdoor temperature that still holds the slab.",
    )
    .with(panel)
}

fn sweep_plot(sweep: &Sweep, units: Units) -> Plot {
    let points = &sweep.points;
    let unit = sweep.dimension.map_or("", |of| of.display_unit(units));
    let x: Vec<f64> = points
        .iter()
        .zip(1_u32..)
        .map(|(point, place)| match (point.number, sweep.dimension) {
            (Some(number), Some(dimension)) => scaled(number, dimension, units),
            (Some(number), None) => number,
            (None, _) => f64::from(place),
        })
        .collect();
    let title = if unit.is_empty() {
        sweep.key.clone()
    } else {
        format!("{}, {unit}", sweep.key)
    };
    let has_words = points.iter().any(|point| point.number.is_none());
    let names = points
        .iter()
        .zip(&x)
        .filter(|_| has_words)
        .map(|(point, x)| (*x, point.setting.trim_matches('"').to_owned()))
        .collect();
    let curve =
        |value: fn(&crate::questions::size::SweepPoint) -> f64, dimension| -> Vec<(f64, f64)> {
            let of =
                |point: &crate::questions::size::SweepPoint| scaled(value(point), dimension, units);
            x.iter().copied().zip(points.iter().map(of)).collect()
        };
    let temperature = Dimension::Temperature;
    let mut holds = Panel::new(of("holds down to", temperature, units), 220.0);
    type Of = fn(&crate::questions::size::SweepPoint) -> f64;
    let curves: [(&str, (Ink, Dash), Of); 3] = [
        ("slab, fresh store", (Ink::Black, Dash::Solid), |p| {
            p.slab_outdoor_c
        }),
        ("slab, after a week", (Ink::Black, Dash::Dashed), |p| {
            p.tired_outdoor_c
        }),
        ("air, fresh store", (Ink::Green, Dash::Solid), |p| {
            p.air_outdoor_c
        }),
    ];
    for (name, line, value) in curves {
        holds = marked(holds, name, line, curve(value, temperature));
    }
    let conductance = marked(
        Panel::new(of("loop", Dimension::HeatLoss, units), 130.0),
        "loop",
        (Ink::Blue, Dash::Dotted),
        curve(|p| p.conductance_w_k, Dimension::HeatLoss),
    );
    let caption = format!(
        "What {} does: outdoor temperatures the store alone holds in (lower is better), and the loop's heat per kelvin.",
        sweep.key
    );
    let mut plot = Plot::over(String::new(), caption)
        .with(holds)
        .with(conductance);
    plot.x = X::Number { title, names };
    plot
}
