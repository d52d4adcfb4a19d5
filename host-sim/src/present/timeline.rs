//! Temperatures over time, what matters apart from what is hot, with relay bars and the ribbon of reasons on one time axis.

use controller_core::reason::Reason;

use super::palette::{Dash, Hatch, Ink, fill, stroke};
use super::plot::{Bar, FREEZING, Mark, Panel, Plot, TARGET};
use super::words::{cause_text, reason_label};
use super::{Report, palette};
use crate::account::series::{Curve, CurveName, Span};
use crate::files::quantity::show::{Show, length};

/// Supply this near its limit shows the limit, K: elsewhere the line would flatten the rest.
const NEAR_LIMIT_K: f64 = 10.0;
/// So far above the target the picture of the slab reaches at most, K: a sunny noon would flatten the band that matters.
pub(super) const ABOVE_TARGET_K: f64 = 12.0;
/// Height of a row of the ribbon, px.
const ROW: f64 = 22.0;

/// What a run's picture shows between two times.
pub(super) fn timeline(report: &Report<'_>, from_ms: u64, until_ms: u64, when: &str) -> Plot {
    let caption = format!(
        "{when}: slab and store, air, water in the pipes, relays and the reason for them. {} On a wide screen, point at a bar for its \
         reason, the reading behind it and the limit, where there are few enough.",
        cut_off(report)
    );
    let plot = Plot::over_time(report.context.start, from_ms, until_ms, caption);
    [
        slab(report, from_ms, until_ms),
        air(report, from_ms, until_ms),
        water(report, from_ms, until_ms),
        ribbon(report, from_ms, until_ms),
    ]
    .into_iter()
    .filter(|panel| !panel.marks.is_empty())
    .fold(plot, Plot::with)
}

/// Curves between two times.
fn curves(report: &Report<'_>, names: &[CurveName], times_ms: [u64; 2], panel: Panel) -> Panel {
    let show = Show(report.context.units);
    names
        .iter()
        .filter_map(|name| report.series.curve(*name))
        .fold(panel, |panel, curve| {
            panel.with(line(curve, times_ms, show))
        })
}

fn line(curve: &Curve, [from_ms, until_ms]: [u64; 2], show: Show) -> Mark {
    Mark::Line {
        name: curve.name.label().to_owned(),
        stroke: palette::curve(curve.name),
        points: curve
            .timed_c()
            .filter(|(ms, _)| (from_ms..=until_ms).contains(ms))
            .map(|(ms, c)| (ms as f64, c.map(|c| show.degrees(c))))
            .collect(),
    }
}

/// What the picture of the slab leaves out at its top, in a sentence.
pub(super) fn cut_off(report: &Report<'_>) -> String {
    let top_c = report.context.limits.target_c + ABOVE_TARGET_K;
    let show = Show(report.context.units);
    format!(
        "The first picture reaches to {} at most, so that cold nights are seen.",
        show.temperature(top_c)
    )
}

/// Bottom and top of the picture of the slab between two times, in the shown unit.
pub(super) fn slab_range(
    report: &Report<'_>,
    names: &[CurveName],
    from_ms: u64,
    until_ms: u64,
) -> Option<[f64; 2]> {
    let show = Show(report.context.units);
    let target_c = report.context.limits.target_c;
    let seen = names
        .iter()
        .filter_map(|name| report.series.curve(*name)?.extremes_c(from_ms, until_ms));
    let (low, high) = seen.reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))?;
    let low = low.min(target_c);
    let high = high.max(target_c).min(target_c + ABOVE_TARGET_K);
    let margin = (0.06 * (high - low)).max(0.2);
    let top = (high + margin)
        .min(target_c + ABOVE_TARGET_K)
        .max(low + 1.0);
    Some([show.degrees(low - margin), show.degrees(top)])
}

/// The band that matters: slab and store, with the limits of the slab.
fn slab(report: &Report<'_>, from_ms: u64, until_ms: u64) -> Panel {
    let context = report.context;
    let (show, limits) = (Show(context.units), context.limits);
    let names = [CurveName::StoreEstimate, CurveName::Store, CurveName::Slab];
    let mut panel = Panel::new(format!("slab and store, {}", show.degree_unit()), 250.0);
    panel.range = slab_range(
        report,
        &[CurveName::Store, CurveName::Slab],
        from_ms,
        until_ms,
    );
    let mut panel = curves(report, &names, [from_ms, until_ms], panel);
    if panel.marks.is_empty() {
        return panel;
    }
    let mut levels = vec![
        ("target", limits.target_c, TARGET),
        (
            "frost protection",
            limits.frost_on_c,
            stroke(Ink::Blue, Dash::Chain, 1.0),
        ),
    ];
    if limits.backup_slab_c != limits.frost_on_c {
        let orange = stroke(Ink::Orange, Dash::Long, 1.0);
        levels.push(("boiler called", limits.backup_slab_c, orange));
    }
    for (name, celsius, stroke) in levels {
        let name = format!("{name} {}", show.temperature(celsius));
        panel = panel.with(Mark::level(name, stroke, show.degrees(celsius)));
    }
    match coldest(report).filter(|(ms, _)| (from_ms..=until_ms).contains(ms)) {
        Some((ms, celsius)) => panel.with(Mark::note(
            Ink::Vermillion,
            ms as f64,
            show.degrees(celsius),
            show.temperature(celsius),
        )),
        None => panel,
    }
}

/// When the slab was coldest, and how cold.
pub(super) fn coldest(report: &Report<'_>) -> Option<(u64, f64)> {
    let numbers = report.numbers;
    Some((numbers.slab_min_time_ms?, numbers.slab_min_c?))
}

fn air(report: &Report<'_>, from_ms: u64, until_ms: u64) -> Panel {
    let show = Show(report.context.units);
    let title = format!("air, {}", show.degree_unit());
    let names = [CurveName::Outdoor, CurveName::OutdoorMean, CurveName::Air];
    let panel = curves(
        report,
        &names,
        [from_ms, until_ms],
        Panel::new(title, 150.0),
    );
    if panel.marks.is_empty() {
        return panel;
    }
    let name = show.number(0.0, crate::files::quantity::Dimension::Temperature, 0);
    panel.with(Mark::level(
        format!("freezing {name}"),
        FREEZING,
        show.degrees(0.0),
    ))
}

fn water(report: &Report<'_>, from_ms: u64, until_ms: u64) -> Panel {
    let show = Show(report.context.units);
    let title = format!("water in the pipes, {}", show.degree_unit());
    let names = [CurveName::Supply, CurveName::Return];
    let panel = curves(
        report,
        &names,
        [from_ms, until_ms],
        Panel::new(title, 120.0),
    );
    let limit_c = report.context.limits.supply_soft_c;
    let is_near = report
        .series
        .curve(CurveName::Supply)
        .and_then(|supply| supply.extremes_c(0, u64::MAX))
        .is_some_and(|(_, hottest)| hottest >= limit_c - NEAR_LIMIT_K);
    if !is_near {
        return panel;
    }
    panel.with(Mark::level(
        format!("supply limit {}", show.temperature(limit_c)),
        stroke(Ink::Orange, Dash::Chain, 1.0),
        show.degrees(limit_c),
    ))
}

/// Relays and reasons in rows.
fn ribbon(report: &Report<'_>, from_ms: u64, until_ms: u64) -> Panel {
    let series = report.series;
    let relays = [
        (
            "circulator",
            "circulator on",
            Ink::Green,
            &series.circulator,
        ),
        ("boiler", "boiler called", Ink::Vermillion, &series.boiler),
        (
            "circulator, log",
            "circulator on in the log",
            Ink::Grey,
            &series.logged_circulator,
        ),
        (
            "boiler, log",
            "boiler called in the log",
            Ink::Grey,
            &series.logged_boiler,
        ),
    ];
    let known: Vec<_> = relays
        .into_iter()
        .filter(|(.., spans)| !spans.list().is_empty())
        .collect();
    if known.is_empty() {
        return Panel::default();
    }
    let mut rows = vec!["reason".to_owned()];
    rows.extend(known.iter().map(|(row, ..)| (*row).to_owned()));
    let mut panel = Panel::of_rows(rows, ROW);
    let within = |from: u64, until: u64| from < until_ms && until > from_ms;
    for reason in Reason::ALL.into_iter().rev() {
        let name = reason_label(reason);
        let show = Show(report.context.units);
        let bars: Vec<Bar> = series
            .reasons
            .list()
            .iter()
            .filter(|span| span.kind.reason == reason)
            .filter(|span| within(span.start_ms, span.end_ms))
            .map(|span| {
                let cause = cause_text(&span.kind.cause, show);
                let separator = if cause.is_empty() { "" } else { ": " };
                let text = format!("{name}{separator}{cause}; {}", length(span.length_ms()));
                bar(0.0, span, text)
            })
            .collect();
        if !bars.is_empty() {
            panel = panel.with(Mark::Bars {
                name,
                fill: palette::reason(reason),
                thick: 0.8,
                bars,
            });
        }
    }
    for (row, (_, name, ink, spans)) in (1..).zip(known) {
        let bars = spans
            .list()
            .iter()
            .filter(|span| span.kind && within(span.start_ms, span.end_ms))
            .map(|span| {
                bar(
                    f64::from(row),
                    span,
                    format!("{name}, {}", length(span.length_ms())),
                )
            })
            .collect();
        panel = panel.with(Mark::Bars {
            name: String::new(),
            fill: fill(ink, Hatch::None),
            thick: 0.6,
            bars,
        });
    }
    panel
}

fn bar<T>(row: f64, span: &Span<T>, text: String) -> Bar {
    Bar {
        row,
        from: span.start_ms as f64,
        to: span.end_ms as f64,
        text,
    }
}
