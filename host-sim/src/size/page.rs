//! The check as a page.

use plotly::Scatter;
use plotly::common::{AxisSide, DashType, Line as Stroke, Marker, MarkerSymbol, Mode};
use plotly::layout::Axis;

use super::lines::Group;
use super::tables::{Headed, sweep as sweep_table, tables};
use super::{Shown, Sweep, Verdict, balance};
use crate::plant::config::PlantConfig;
use crate::plant::hydraulics::system_head_m;
use crate::plant::operating::{LoopDesign, Path, REFERENCE_C};
use crate::quantity::{Dimension, Units, convert};
use crate::report::page::{Block, Headline, Page, Section, Table, Tone};
use crate::report::plot::{self, Plot};
use crate::report::{CAUTIONS, palette};

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
    sections.extend(Group::ALL.map(|group| judged(shown, group)));
    let mut rows = tables(shown.check, shown.units).into_iter();
    sections.extend(rows.next().map(table_section));
    if let Some(tiring) = rows.next() {
        let mut section = table_section(tiring);
        section.blocks.push(plotted(tiring_plot(shown)));
        sections.push(section);
    }
    sections.extend(rows.map(table_section));
    sections.push(Section::new(
        "Curves",
        vec![
            plotted(head_plot(shown, plant)),
            plotted(cliff_plot(shown, plant)),
        ],
    ));
    if !shown.notes.is_empty() {
        sections.push(Section::new(
            "Remarks",
            vec![Block::List(shown.notes.clone())],
        ));
    }
    Page {
        title: "Design check of the loop".to_owned(),
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
        foot: CAUTIONS
            .iter()
            .map(|(title, text)| ((*title).to_owned(), (*text).to_owned()))
            .collect(),
    }
}

fn headline(shown: &Shown<'_>) -> Headline {
    let points = [Verdict::WillNotWork, Verdict::Look]
        .into_iter()
        .flat_map(|verdict| {
            let lines = shown
                .points
                .iter()
                .filter(move |line| line.verdict == verdict);
            lines.map(move |line| format!("{}: {}, {}", verdict.words(), line.what, line.shown))
        });
    let details = std::iter::once(shown.plainly.clone())
        .chain(points)
        .collect();
    Headline {
        word: shown.verdict.words().to_owned(),
        tone: match shown.verdict {
            Verdict::Fine => Tone::Good,
            Verdict::Look => Tone::Neutral,
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

/// Numbers for a chart, in the person's units, with its axis title.
fn scaled(values: Vec<f64>, dimension: Dimension, units: Units) -> Vec<f64> {
    values
        .into_iter()
        .map(|value| convert(value, dimension, units).0)
        .collect()
}

fn axis_of(name: &str, dimension: Dimension, units: Units) -> Axis {
    plot::axis(&format!("{name}, {}", dimension.display_unit(units)))
}

fn curve(
    name: &str,
    x: Vec<f64>,
    y: Vec<f64>,
    colour: &'static str,
    dash: DashType,
) -> Box<Scatter<f64, f64>> {
    Scatter::new(x, y)
        .mode(Mode::Lines)
        .line(Stroke::new().color(colour).dash(dash).width(2.0))
        .name(plot::label(name))
}

fn point(name: &str, x: f64, y: f64) -> Box<Scatter<f64, f64>> {
    Scatter::new(vec![x], vec![y])
        .mode(Mode::Markers)
        .marker(
            Marker::new()
                .color(palette::VERMILLION)
                .symbol(MarkerSymbol::Diamond)
                .size(11),
        )
        .name(plot::label(name))
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
    let flow = flows(shown);
    let x = scaled(flow.clone(), Dimension::FlowRate, units);
    let head = |of: &dyn Fn(f64) -> f64| {
        scaled(
            flow.iter().map(|&q| of(q)).collect(),
            Dimension::Head,
            units,
        )
    };
    let check = &shown.check.pump;
    let (at, _) = convert(check.flow_l_s, Dimension::FlowRate, units);
    let (here, _) = convert(check.head_m, Dimension::Head, units);
    Plot::new(
        "Head the loop needs and head the circulator has, by flow; they meet at the operating point.",
        340,
        plot::layout()
            .x_axis(axis_of("flow", Dimension::FlowRate, units))
            .y_axis(axis_of("head", Dimension::Head, units)),
    )
    .with(curve(
        "loop needs",
        x.clone(),
        head(&|q| system_head_m(&stretches, &fluid, q)),
        palette::BLUE,
        DashType::Solid,
    ))
    .with(curve(
        "circulator has",
        x,
        head(&|q| pump.head_m(q).max(0.0)),
        palette::BLACK,
        DashType::Dash,
    ))
    .with(point("operating point", at, here))
}

fn cliff_plot(shown: &Shown<'_>, plant: &PlantConfig) -> Plot {
    let units = shown.units;
    let flow = flows(shown);
    let heat = &shown.check.heat;
    let conductance = flow
        .iter()
        .map(|&q| balance::conductance_at_w_k(plant, q))
        .collect();
    let (at, _) = convert(shown.check.pump.flow_l_s, Dimension::FlowRate, units);
    let (here, _) = convert(heat.conductance_w_k, Dimension::HeatLoss, units);
    Plot::new(
        "Heat per kelvin from store to slab, by flow. The step is the laminar cliff; beyond the knee more flow buys little.",
        340,
        plot::layout()
            .x_axis(axis_of("flow", Dimension::FlowRate, units))
            .y_axis(axis_of("loop", Dimension::HeatLoss, units)),
    )
    .with(curve(
        "loop",
        scaled(flow, Dimension::FlowRate, units),
        scaled(conductance, Dimension::HeatLoss, units),
        palette::BLUE,
        DashType::Solid,
    ))
    .with(point("operating point", at, here))
}

fn tiring_plot(shown: &Shown<'_>) -> Plot {
    let units = shown.units;
    let tiring = &shown.check.tiring;
    let days: Vec<f64> = tiring.iter().map(|row| row.days).collect();
    let of = |value: fn(&super::TiredRow) -> f64| {
        scaled(
            tiring.iter().map(value).collect(),
            Dimension::Temperature,
            units,
        )
    };
    let marked =
        |name, y, colour, dash| curve(name, days.clone(), y, colour, dash).mode(Mode::LinesMarkers);
    Plot::new(
        "The store under a circulator that never rests: its floor, and the outdoor temperature that still holds the slab.",
        340,
        plot::layout()
            .x_axis(plot::axis("days without pause"))
            .y_axis(axis_of("temperature", Dimension::Temperature, units)),
    )
    .with(marked("store floor", of(|row| row.floor_c), palette::GREEN, DashType::Solid))
    .with(marked("holds the slab down to", of(|row| row.outdoor_c), palette::BLUE, DashType::Solid))
    .with(marked("store floor, earth alone", of(|row| row.earth_alone_c), palette::GREEN, DashType::Dot))
    .with(marked(
        "holds down to, earth alone",
        of(|row| row.earth_alone_outdoor_c),
        palette::BLUE,
        DashType::Dot,
    ))
}

fn sweep_plot(sweep: &Sweep, units: Units) -> Plot {
    let points = &sweep.points;
    let (unit, x): (&str, Vec<f64>) = match sweep.dimension {
        Some(dimension) => (
            dimension.display_unit(units),
            scaled(
                points.iter().filter_map(|point| point.number).collect(),
                dimension,
                units,
            ),
        ),
        None => (
            "",
            points
                .iter()
                .zip(1_u32..)
                .map(|(point, place)| point.number.unwrap_or_else(|| f64::from(place)))
                .collect(),
        ),
    };
    let title = if unit.is_empty() {
        sweep.key.clone()
    } else {
        format!("{}, {unit}", sweep.key)
    };
    let mut axis = plot::axis(&title);
    if points.iter().any(|point| point.number.is_none()) {
        axis = axis.tick_values(x.clone()).tick_text(
            points
                .iter()
                .map(|point| plot::label(&point.setting))
                .collect(),
        );
    }
    let of = |value: fn(&super::SweepPoint) -> f64, dimension| {
        scaled(points.iter().map(value).collect(), dimension, units)
    };
    let marked =
        |name, y, colour, dash| curve(name, x.clone(), y, colour, dash).mode(Mode::LinesMarkers);
    let temperature = Dimension::Temperature;
    Plot::new(
        format!(
            "What {} does: outdoor temperatures the store alone holds in (lower is better), and the loop's heat per kelvin.",
            sweep.key
        ),
        380,
        plot::layout()
            .x_axis(axis)
            .y_axis(axis_of("holds down to", temperature, units))
            .y_axis2(
                axis_of("loop", Dimension::HeatLoss, units)
                    .overlaying("y")
                    .side(AxisSide::Right)
                    .show_grid(false),
            )
            .margin(plotly::layout::Margin::new().left(64).right(72).top(28).bottom(44)),
    )
    .with(marked("slab, fresh store", of(|p| p.slab_outdoor_c, temperature), palette::BLACK, DashType::Solid))
    .with(marked("slab, after a week", of(|p| p.tired_outdoor_c, temperature), palette::BLACK, DashType::Dash))
    .with(marked("air, fresh store", of(|p| p.air_outdoor_c, temperature), palette::GREEN, DashType::Solid))
    .with(
        marked("loop (right)", of(|p| p.conductance_w_k, Dimension::HeatLoss), palette::BLUE, DashType::Dot)
            .y_axis("y2"),
    )
}
