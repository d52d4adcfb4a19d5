//! What a season adds up to: heat against cold, the store under draw, how often how cold, and variants.

use plotly::common::{DashType, Line, Marker, MarkerSymbol, Mode, PatternShape};
use plotly::layout::BarMode;
use plotly::{Bar as BarTrace, Scatter};

use super::balance::fit;
use super::page::{Block, Section, Table};
use super::plot::{self, Plot, hundredth};
use super::run::{day_places, marker};
use super::show::{Show, electricity, fixed, hours};
use super::timeline::TimeAxis;
use super::{Report, palette};
use crate::metrics::{DAY_MS, SummaryNumbers};

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
    let time = TimeAxis::new(report.context.start);
    let days = days(report);
    let x = if is_metered(report) {
        day_places(report, time)
    } else {
        days.iter()
            .map(|d| time.at(d.start_ms + DAY_MS / 2))
            .collect()
    };
    let source = if is_metered(report) {
        "as metered by the water after the purge"
    } else {
        "from the model"
    };
    let mut chart = Plot::new(
        format!("Heat and electricity a day, {source}."),
        320,
        plot::layout()
            .bar_mode(BarMode::Stack)
            .x_axis(time.axis())
            .y_axis(plot::axis(&format!("{} a day", show.heat_unit()))),
    );
    type Of = fn(&DayHeat) -> f64;
    let parts: [(&str, &'static str, PatternShape, Of); 3] = [
        ("earth", palette::GREEN, PatternShape::None, |d| d.earth_kwh),
        (
            "boiler",
            palette::VERMILLION,
            PatternShape::RightDiagonalLine,
            |d| d.boiler_kwh,
        ),
        (
            "circulator electricity",
            palette::BLACK,
            PatternShape::None,
            |d| d.pump_kwh,
        ),
    ];
    for (name, colour, pattern, of) in parts {
        let heat = days
            .iter()
            .map(|d| hundredth(show.heat_value(of(d))))
            .collect();
        chart.add(
            BarTrace::new(x.clone(), heat)
                .width(time.length(DAY_MS) * 0.9)
                .marker(marker(colour, pattern))
                .name(name)
                .hover_template(
                    format!(
                        "{name} %{{y}} {}<br>%{{x}}<extra></extra>",
                        show.heat_unit()
                    )
                    .as_str(),
                ),
        );
    }
    chart
}

pub(super) fn sections(report: &Report<'_>, extras: &WinterExtras) -> Vec<Section> {
    let mut sections = vec![Section::new("Heat against cold", signature(report, extras))];
    let mut long_run = Vec::new();
    long_run.extend(exceedance(report));
    long_run.extend(store_under_draw(report));
    if !long_run.is_empty() {
        sections.push(Section::new("Slab and store over the season", long_run));
    }
    if !extras.variants.is_empty() {
        sections.push(variants(report, extras));
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
    let mut chart = Plot::new(
        "Heat into the slab a day against that day's mean outdoor temperature; the line is fitted in two pieces.",
        380,
        plot::layout()
            .x_axis(plot::axis(&format!("mean outdoor, {}", show.degree_unit())))
            .y_axis(plot::axis(&format!("heat, {} a day", show.heat_unit()))),
    )
    .with(
        Scatter::new(
            points.iter().map(|p| hundredth(show.degrees(p.0))).collect(),
            points.iter().map(|p| hundredth(show.heat_value(p.1))).collect(),
        )
        .mode(Mode::Markers)
        .marker(Marker::new().color(palette::BLUE).size(7).symbol(MarkerSymbol::CircleOpen))
        .name("a day"),
    );
    let mut blocks = Vec::new();
    if let Some(knee) = fit(&points) {
        let coldest = points.iter().map(|p| p.0).fold(f64::INFINITY, f64::min);
        let warmest = points.iter().map(|p| p.0).fold(f64::NEG_INFINITY, f64::max);
        let x = [coldest, knee.balance_c, warmest];
        chart.add(
            Scatter::new(
                x.map(|t| hundredth(show.degrees(t))).to_vec(),
                x.map(|t| hundredth(show.heat_value(knee.heat(t)))).to_vec(),
            )
            .mode(Mode::Lines)
            .line(Line::new().color(palette::BLACK).width(2.0))
            .name("fitted"),
        );
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
    blocks.insert(0, Block::Plot(Box::new(chart)));
    blocks
}

/// How many hours the slab was colder than this.
fn exceedance(report: &Report<'_>) -> Option<Block> {
    let show = Show(report.context.units);
    let curve = report.series.slab_hours.hours_colder();
    let (_, total) = *curve.last()?;
    let target = report.context.limits.target_c;
    let chart = Plot::new(
        "How many hours the slab was colder than a temperature. Left of the dashed line it was below its target.",
        320,
        plot::layout()
            .x_axis(plot::axis(&format!("slab, {}", show.degree_unit())))
            .y_axis(plot::axis("hours colder")),
    )
    .with(
        Scatter::new(
            curve.iter().map(|p| hundredth(show.degrees(p.0))).collect(),
            curve.iter().map(|p| hundredth(p.1)).collect(),
        )
        .mode(Mode::Lines)
        .line(Line::new().color(palette::BLACK).width(2.0))
        .name("slab")
        .hover_template("colder than %{x}: %{y} h<extra></extra>"),
    )
    .with(
        Scatter::new(vec![show.degrees(target); 2], vec![0.0, total])
            .mode(Mode::Lines)
            .line(Line::new().color(palette::BLUE).dash(DashType::Dash).width(1.5))
            .name(format!("target {}", show.temperature(target)).as_str()),
    );
    Some(Block::Plot(Box::new(chart)))
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
    let chart = Plot::new(
        "Store temperature against the heat drawn from it so far, a point a day. A steep fall is over-draw.",
        320,
        plot::layout()
            .show_legend(false)
            .x_axis(plot::axis(&format!("heat drawn, {}", show.heat_unit())))
            .y_axis(plot::axis(&format!("store, {}", show.degree_unit()))),
    )
    .with(
        Scatter::new(
            points.iter().map(|p| hundredth(show.heat_value(p.0))).collect(),
            points.iter().map(|p| hundredth(show.degrees(p.1))).collect(),
        )
        .mode(Mode::LinesMarkers)
        .line(Line::new().color(palette::GREEN).width(1.2))
        .marker(Marker::new().color(palette::GREEN).size(5))
        .name("store"),
    );
    Some(Block::Plot(Box::new(chart)))
}

fn variants(report: &Report<'_>, extras: &WinterExtras) -> Section {
    let show = Show(report.context.units);
    let unknown = || "not known".to_owned();
    type Row<'a> = (&'a str, Box<dyn Fn(&SummaryNumbers) -> String + 'a>);
    let rows: [Row<'_>; 11] = [
        (
            "Coldest slab",
            Box::new(|n| n.slab_min_c.map_or_else(unknown, |t| show.temperature(t))),
        ),
        (
            "Slab below target",
            Box::new(|n| n.slab_hours_below_target.map_or_else(unknown, hours)),
        ),
        (
            "Degree-hours below target",
            Box::new(|n| {
                n.slab_degree_hours_below_target
                    .map_or_else(unknown, |kh| show.degree_hours(kh))
            }),
        ),
        (
            "Water frozen solid",
            Box::new(|n| {
                n.water_froze_solid_time
                    .clone()
                    .unwrap_or_else(|| "never".to_owned())
            }),
        ),
        (
            "Coldest house air",
            Box::new(|n| n.air_min_c.map_or_else(unknown, |t| show.temperature(t))),
        ),
        (
            "Slab below freezing",
            Box::new(|n| n.slab_hours_below_zero.map_or_else(unknown, hours)),
        ),
        (
            "Heat from the earth",
            Box::new(|n| n.earth_heat_kwh.map_or_else(unknown, |kwh| show.heat(kwh))),
        ),
        (
            "Heat from the boiler",
            Box::new(|n| n.boiler_heat_kwh.map_or_else(unknown, |kwh| show.heat(kwh))),
        ),
        (
            "Wood burnt",
            Box::new(|n| n.wood_kg.map_or_else(unknown, |kg| show.mass(kg))),
        ),
        (
            "Circulator electricity",
            Box::new(|n| electricity(n.pump_kwh)),
        ),
        (
            "Coldest store",
            Box::new(|n| n.store_min_c.map_or_else(unknown, |t| show.temperature(t))),
        ),
    ];
    let mut head = vec![String::new()];
    head.extend(extras.variants.iter().map(|v| v.name.clone()));
    let rows = rows
        .iter()
        .map(|(name, of)| {
            let mut cells = vec![(*name).to_owned()];
            cells.extend(extras.variants.iter().map(|v| of(&v.numbers)));
            cells
        })
        .collect();
    let mut blocks = vec![Block::Table(Table {
        head,
        rows,
        numbers: extras.variants.len(),
    })];
    blocks.extend(worth(extras, show).map(Block::Paragraph));
    Section::new("The same winter otherwise", blocks)
}

/// In a sentence, what leaving each part out did to the coldest slab.
fn worth(extras: &WinterExtras, show: Show) -> Option<String> {
    let (this, others) = extras.variants.split_first()?;
    let with = this.numbers.slab_min_c?;
    let parts: Vec<String> = others
        .iter()
        .filter_map(|v| {
            let without = v.numbers.slab_min_c?;
            let change = without - with;
            let word = if change < 0.0 { "colder" } else { "warmer" };
            Some(format!(
                "{}: {} {word} at its coldest",
                v.name,
                show.difference(change.abs())
            ))
        })
        .collect();
    (!parts.is_empty()).then(|| {
        format!(
            "Against \"{}\" ({} days): {}.",
            this.name,
            fixed(this.numbers.days, 0),
            parts.join("; ")
        )
    })
}
