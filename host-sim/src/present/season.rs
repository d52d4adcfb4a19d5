//! A season at a glance: what every day was at its lowest and highest, since hours are finer than the picture.

use super::Report;
use super::page::{Block, Section};
use super::palette::{Dash, Hatch, Ink, fill, stroke};
use super::plot::{FREEZING, Mark, Panel, Plot, TARGET};
use super::timeline::{coldest, cut_off, slab_range};
use crate::account::series::CurveName;
use crate::files::quantity::Dimension;
use crate::files::quantity::show::{Show, fixed};

/// From so many days on a run is drawn by day, and its coldest week apart.
pub(super) const FROM_DAYS: f64 = 21.0;

/// Low and high of every day of a curve, in the middle of the day, °C.
pub(super) fn daily_c(report: &Report<'_>, name: CurveName) -> Vec<(f64, Option<(f64, f64)>)> {
    let Some(curve) = report.series.curve(name) else {
        return Vec::new();
    };
    report
        .series
        .days()
        .iter()
        .map(|day| {
            let end = day.start_ms + day.length_ms;
            let middle = (day.start_ms + day.length_ms / 2) as f64;
            (middle, curve.extremes_c(day.start_ms, end))
        })
        .collect()
}

/// The picture.
pub(super) fn season(report: &Report<'_>) -> Plot {
    let context = report.context;
    let show = Show(context.units);
    let unit = show.degree_unit();
    let caption = format!(
        "The season by day: each band reaches from the day's lowest to its highest, bars are hours a day. {}",
        cut_off(report)
    );
    let mut plot = Plot::over_time(context.start, 0, report.series.end_ms, caption);
    let freezing = Mark::level(
        format!("freezing {}", show.number(0.0, Dimension::Temperature, 0)),
        FREEZING,
        show.degrees(0.0),
    );
    let target = Mark::level(
        format!("target {}", show.temperature(context.limits.target_c)),
        TARGET,
        show.degrees(context.limits.target_c),
    );
    let bands = [
        (CurveName::Slab, "slab", Ink::Black, 220.0),
        (CurveName::Air, "house air", Ink::Purple, 130.0),
        (CurveName::Outdoor, "outdoors", Ink::Sky, 130.0),
        (CurveName::Store, "store", Ink::Green, 100.0),
    ];
    for (name, words, ink, height) in bands {
        let points: Vec<_> = daily_c(report, name)
            .into_iter()
            .map(|(x, band)| {
                let degrees = |(low, high): (f64, f64)| (show.degrees(low), show.degrees(high));
                (x, band.map(degrees))
            })
            .collect();
        if points.iter().all(|(_, band)| band.is_none()) {
            continue;
        }
        // Where the top is cut off the lows alone tell.
        let lows = points
            .iter()
            .map(|(x, band)| (*x, band.map(|(low, _)| low)));
        let lows = Mark::Line {
            name: format!("{words}, lowest of the day"),
            stroke: stroke(ink, Dash::Solid, 1.6),
            points: lows.collect(),
        };
        let band = Mark::Band {
            name: format!("{words}, low to high"),
            ink,
            points,
        };
        let mut panel = Panel::new(format!("{words}, {unit}"), height).with(band);
        if name == CurveName::Slab {
            panel.range = slab_range(report, &[name], 0, u64::MAX);
            panel = panel.with(lows);
        }
        plot = plot.with(match name {
            CurveName::Slab => with_coldest(report, panel.with(target.clone())),
            CurveName::Store => panel,
            _ => panel.with(freezing.clone()),
        });
    }
    let hours = |of: fn(&crate::account::series::Day) -> u64| {
        let days = report.series.days().iter();
        days.map(|day| {
            let end = (day.start_ms + day.length_ms) as f64;
            [day.start_ms as f64, end, 0.0, of(day) as f64 / 3.6e6]
        })
        .collect::<Vec<_>>()
    };
    let on = [
        (
            "circulator, h a day",
            Ink::Green,
            Hatch::None,
            hours(|day| day.pump_ms),
        ),
        (
            "boiler called, h a day",
            Ink::Vermillion,
            Hatch::None,
            hours(|day| day.boiler_ms),
        ),
    ];
    for (name, ink, hatch, boxes) in on {
        plot = plot.with(Panel::new(name, 70.0).with(Mark::Boxes {
            name: String::new(),
            fill: fill(ink, hatch),
            boxes,
        }));
    }
    plot
}

/// The picture of a season that is still being simulated, with what it came to so far, as a piece of a page.
#[must_use]
pub fn growing(report: &Report<'_>) -> String {
    let show = Show(report.context.units);
    let n = report.numbers;
    let days = n.days.round();
    let sentence = n.slab_min_c.map_or_else(String::new, |slab_c| {
        format!(
            "{days:.0} days so far: slab down to {}, {} h below target.",
            show.temperature(slab_c),
            fixed(n.slab_hours_below_target.unwrap_or(0.0), 1)
        )
    });
    let section = Section::new(sentence, vec![Block::Plot(Box::new(season(report)))]);
    section.html()
}

fn with_coldest(report: &Report<'_>, panel: Panel) -> Panel {
    let show = Show(report.context.units);
    match coldest(report) {
        Some((ms, celsius)) => panel.with(Mark::note(
            Ink::Vermillion,
            ms as f64,
            show.degrees(celsius),
            show.temperature(celsius),
        )),
        None => panel,
    }
}
