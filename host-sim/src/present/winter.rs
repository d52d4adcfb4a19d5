//! What a season adds up to: heat against cold, the store under draw, how often how cold, and variants.

use super::Report;
use super::balance::fit;
use super::page::{Block, Section};
use super::palette::{Dash, Hatch, Ink, fill, stroke};
use super::plot::{Mark, Panel, Plot, Shape, TARGET};
use super::run::day_box;
use crate::account::metrics::{DAY_MS, SummaryNumbers};
use crate::files::quantity::show::Show;

/// What only a simulated winter knows.
#[derive(Clone, Debug, Default)]
pub struct WinterExtras {
    /// The same winter with and without parts; this run first.
    pub variants: Vec<Variant>,
    /// Heat by day from the model; empty: as the controller meters it.
    pub plant_days: Vec<DayHeat>,
    /// Outdoor temperature down to which the store alone holds, by the design computation, °C.
    pub design_balance_c: Option<f64>,
}

/// One way the winter could have been.
#[derive(Clone, Debug)]
pub struct Variant {
    /// What is different.
    pub name: String,
    /// How it went.
    pub numbers: SummaryNumbers,
}

/// One day's heat and cold.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct DayHeat {
    /// Its beginning, ms since the first row.
    pub start_ms: u64,
    /// Heat from the earth, kWh.
    pub earth_kwh: f64,
    /// Heat from the boiler into the loop, kWh.
    pub boiler_kwh: f64,
    /// Circulator electricity, kWh.
    pub pump_kwh: f64,
    /// Mean outdoor temperature, °C.
    pub outdoor_mean_c: Option<f64>,
    /// Store at the day's end, °C.
    pub store_end_c: Option<f64>,
}

/// The model's days where given, else the metered ones.
fn days(report: &Report<'_>) -> Vec<DayHeat> {
    match report.winter {
        Some(extras) if !extras.plant_days.is_empty() => extras.plant_days.clone(),
        _ => report
            .series
            .days
            .iter()
            .map(|day| DayHeat {
                start_ms: day.start_ms,
                earth_kwh: day.earth_kwh(),
                boiler_kwh: day.boiler_kwh(),
                pump_kwh: day.pump_kwh(),
                outdoor_mean_c: day.outdoor_mean_c(),
                store_end_c: day.store_c(),
            })
            .collect(),
    }
}

fn is_metered(report: &Report<'_>) -> bool {
    report
        .winter
        .is_none_or(|extras| extras.plant_days.is_empty())
}

/// Heat from earth and boiler and the circulator's electricity, stacked by day.
pub(super) fn heat_by_day(report: &Report<'_>) -> Plot {
    let show = Show(report.context.units);
    let days = days(report);
    let source = if is_metered(report) {
        "as metered by the water after the settling time"
    } else {
        "from the model"
    };
    type Of = fn(&DayHeat) -> f64;
    let parts: [(&str, Ink, Hatch, Of); 3] = [
        ("earth", Ink::Green, Hatch::None, |d| d.earth_kwh),
        ("boiler", Ink::Vermillion, Hatch::Diagonal, |d| d.boiler_kwh),
        ("circulator electricity", Ink::Black, Hatch::None, |d| {
            d.pump_kwh
        }),
    ];
    let mut panel = Panel::new(format!("{} a day", show.heat_unit()), 200.0);
    // Heat carried back into the store hangs below zero.
    let mut ends = vec![(0.0, 0.0); days.len()];
    for (name, ink, hatch, of) in parts {
        let mut boxes = Vec::new();
        for (day, (below, above)) in days.iter().zip(&mut ends) {
            let heat = show.heat_value(of(day));
            let end = if heat < 0.0 { below } else { above };
            if heat != 0.0 {
                boxes.push(day_box(day.start_ms, DAY_MS, *end, *end + heat));
                *end += heat;
            }
        }
        if !boxes.is_empty() {
            panel = panel.with(Mark::Boxes {
                name: name.to_owned(),
                fill: fill(ink, hatch),
                boxes,
            });
        }
    }
    let caption = format!("Heat and electricity a day, {source}.");
    Plot::over_time(report.context.start, 0, report.series.end_ms, caption).with(panel)
}

pub(super) fn sections(report: &Report<'_>, extras: &WinterExtras) -> Vec<Section> {
    let mut sections = vec![Section::new("Heat against cold", signature(report, extras))];
    let mut long_run = Vec::new();
    long_run.extend(exceedance(report));
    long_run.extend(store_under_draw(report));
    if !long_run.is_empty() {
        sections.push(Section::new("Slab and store over the season", long_run));
    }
    sections
}

/// Daily heat over mean outdoor temperature with the fitted knee.
fn signature(report: &Report<'_>, extras: &WinterExtras) -> Vec<Block> {
    let show = Show(report.context.units);
    let points: Vec<(f64, f64)> = days(report)
        .iter()
        .filter_map(|d| d.outdoor_mean_c.map(|t| (t, d.earth_kwh + d.boiler_kwh)))
        .collect();
    let mut panel =
        Panel::new(format!("heat, {} a day", show.heat_unit()), 280.0).with(Mark::Dots {
            name: "a day".to_owned(),
            ink: Ink::Blue,
            shape: Shape::Ring,
            size: 7.0,
            points: points
                .iter()
                .map(|p| (show.degrees(p.0), show.heat_value(p.1), String::new()))
                .collect(),
        });
    let mut blocks = Vec::new();
    if let Some(knee) = fit(&points) {
        let coldest = points.iter().map(|p| p.0).fold(f64::INFINITY, f64::min);
        let warmest = points.iter().map(|p| p.0).fold(f64::NEG_INFINITY, f64::max);
        let x = [coldest, knee.balance_c, warmest];
        panel = panel.with(Mark::line(
            "fitted",
            stroke(Ink::Black, Dash::Solid, 2.0),
            x.map(|t| (show.degrees(t), show.heat_value(knee.heat(t)))),
        ));
        let watts_per_kelvin = knee.slope_kwh_k * 1_000.0 / 24.0;
        blocks.push(Block::Paragraph(format!(
            "Heat begins to be needed below about {} outdoors and rises by {} of cold. \
             A rise of that from year to year means lost insulation or a leak.",
            show.temperature(knee.balance_c),
            show.heat_loss(watts_per_kelvin)
        )));
    } else {
        blocks.push(Block::Paragraph(
            "No knee could be fitted: too few days, or heat did not rise with the cold.".to_owned(),
        ));
    }
    let held = report.numbers.outdoor_mean_held_alone_c;
    let design = extras.design_balance_c;
    let claim = match (design, held) {
        (Some(design), Some(held)) => Some(format!(
            "The design computation says the store alone holds the slab in a steady {}; \
             in this run it did so down to an outdoor mean of {}.",
            show.temperature(design),
            show.temperature(held)
        )),
        (Some(design), None) => Some(format!(
            "The design computation says the store alone holds the slab in a steady {}.",
            show.temperature(design)
        )),
        (None, _) => None,
    };
    blocks.extend(claim.map(Block::Paragraph));
    let chart = Plot::over(
        format!("mean outdoor, {}", show.degree_unit()),
        "Heat into the slab a day against that day's mean outdoor temperature; the line is fitted in two pieces.",
    );
    blocks.insert(0, Block::Plot(Box::new(chart.with(panel))));
    blocks
}

/// How many hours the slab was colder than this.
fn exceedance(report: &Report<'_>) -> Option<Block> {
    let show = Show(report.context.units);
    let curve = report.series.slab_hours.hours_colder();
    let (_, total) = *curve.last()?;
    let target = report.context.limits.target_c;
    let panel = Panel::new("hours colder", 220.0)
        .with(Mark::line(
            "slab",
            stroke(Ink::Black, Dash::Solid, 2.0),
            curve.iter().map(|p| (show.degrees(p.0), p.1)),
        ))
        .with(Mark::line(
            format!("target {}", show.temperature(target)),
            TARGET,
            [(show.degrees(target), 0.0), (show.degrees(target), total)],
        ));
    let chart = Plot::over(
        format!("slab, {}", show.degree_unit()),
        "How many hours the slab was colder than a temperature. Left of the dashed line it was below its target.",
    );
    Some(Block::Plot(Box::new(chart.with(panel))))
}

/// Store temperature over the heat drawn from it so far.
fn store_under_draw(report: &Report<'_>) -> Option<Block> {
    let show = Show(report.context.units);
    let mut drawn = 0.0;
    let points: Vec<(f64, f64)> = days(report)
        .iter()
        .filter_map(|day| {
            drawn += day.earth_kwh;
            day.store_end_c.map(|store| (drawn, store))
        })
        .collect();
    if points.len() < 2 {
        return None;
    }
    let drawn = || {
        points
            .iter()
            .map(|p| (show.heat_value(p.0), show.degrees(p.1)))
    };
    let panel = Panel::new(format!("store, {}", show.degree_unit()), 220.0)
        .with(Mark::line(
            "",
            stroke(Ink::Green, Dash::Solid, 1.2),
            drawn(),
        ))
        .with(Mark::Dots {
            name: String::new(),
            ink: Ink::Green,
            shape: Shape::Disc,
            size: 5.0,
            points: drawn().map(|(x, y)| (x, y, String::new())).collect(),
        });
    let chart = Plot::over(
        format!("heat drawn, {}", show.heat_unit()),
        "Store temperature against the heat drawn from it so far, a point a day. A steep fall is over-draw.",
    );
    Some(Block::Plot(Box::new(chart.with(panel))))
}
