//! Temperatures over time with relay bars and the ribbon of reasons under them, on one time axis.

use controller_core::reason::Reason;
use jiff::civil::DateTime;
use plotly::Scatter;
use plotly::common::{Anchor, DashType, Line, Mode};
use plotly::layout::update_menu::{
    Button, ButtonMethod, UpdateMenu, UpdateMenuDirection, UpdateMenuType,
};
use plotly::layout::{Axis, BarMode, HoverMode};
use serde_json::json;

use super::plot::{self, Bar, BarFill, Plot, TimeBars, hundredth};
use super::show::{Show, length};
use super::words::{cause_text, reason_label};
use super::{Context, Report, palette};
use crate::metrics::DAY_MS;
use crate::series::{Curve, CurveName, Span, Spans};

/// Time on a plot's axis: dates where the wall clock is known, else hours.
#[derive(Clone, Copy, Debug)]
pub(super) struct TimeAxis {
    start_ms: Option<f64>,
}

impl TimeAxis {
    pub(super) fn new(start: Option<DateTime>) -> Self {
        let epoch = |t: DateTime| {
            let timestamp = jiff::tz::Offset::UTC.to_timestamp(t).ok()?;
            Some(timestamp.as_millisecond() as f64)
        };
        Self {
            start_ms: start.and_then(epoch),
        }
    }

    pub(super) fn at(self, time_ms: u64) -> f64 {
        match self.start_ms {
            Some(start) => start + time_ms as f64,
            None => time_ms as f64 / 3.6e6,
        }
    }

    pub(super) fn length(self, ms: u64) -> f64 {
        match self.start_ms {
            Some(_) => ms as f64,
            None => ms as f64 / 3.6e6,
        }
    }

    pub(super) fn axis(self) -> Axis {
        match self.start_ms {
            Some(_) => plot::axis("").type_(plotly::layout::AxisType::Date),
            None => plot::axis("hours since the first row"),
        }
    }
}

/// The lines of the ribbon, from below.
const REASONS: f64 = 0.0;
const BOILER: f64 = 1.0;
const CIRCULATOR: f64 = 2.0;
const LOGGED_BOILER: f64 = 3.0;
const LOGGED_CIRCULATOR: f64 = 4.0;

/// Curves in the order they are drawn: what matters most comes last, on top.
const DRAWN: [CurveName; 8] = [
    CurveName::Outdoor,
    CurveName::Air,
    CurveName::Supply,
    CurveName::Return,
    CurveName::OutdoorMean,
    CurveName::StoreEstimate,
    CurveName::Store,
    CurveName::Slab,
];

pub(super) fn timeline(report: &Report<'_>) -> Plot {
    let series = report.series;
    let context = report.context;
    let time = TimeAxis::new(context.start);
    let show = Show(context.units);
    let ends = [time.at(0), time.at(series.end_ms)];
    let mut lines = vec![
        (REASONS, "reason"),
        (BOILER, "boiler"),
        (CIRCULATOR, "circulator"),
    ];
    if !series.logged_boiler.list().is_empty() {
        lines.push((LOGGED_BOILER, "boiler, log"));
    }
    if !series.logged_circulator.list().is_empty() {
        lines.push((LOGGED_CIRCULATOR, "circulator, log"));
    }
    let top = lines.iter().map(|(y, _)| *y).fold(0.0, f64::max) + 0.6;
    let share = 0.05 * (top + 0.6);
    // Without a clock the axis has a name of its own, above the legend.
    let below = if report.context.start.is_some() {
        -0.08
    } else {
        -0.13
    };
    let layout = plot::layout()
        .bar_mode(BarMode::Overlay)
        .hover_mode(HoverMode::Closest)
        .legend(plot::legend().y(below).y_anchor(Anchor::Top))
        .x_axis(time.axis().range(ends.to_vec()).anchor("y2"))
        .y_axis(plot::axis(show.degree_unit()).domain(&[share + 0.04, 1.0]))
        .y_axis2(
            plot::axis("")
                .domain(&[0.0, share])
                .range(vec![-0.6, top])
                .fixed_range(true)
                .auto_margin(true)
                .show_grid(false)
                .tick_values(lines.iter().map(|(y, _)| *y).collect())
                .tick_text(lines.iter().map(|(_, text)| (*text).to_owned()).collect()),
        )
        .update_menus(vec![zoom_menu(report, time)]);
    let caption = "Temperatures, relays and the reason for them. Drag to zoom, double-click for all; \
                   click a name to hide it; point at a bar for its reason, the reading behind it and the limit.";
    let mut chart = Plot::new(caption, 760, layout);
    for name in DRAWN {
        if let Some(curve) = series.curve(name) {
            chart.add(curve_trace(curve, time, show));
        }
    }
    for (name, celsius, colour, dash) in levels(context, series.curve(CurveName::Supply)) {
        let name = format!("{name} {}", show.temperature(celsius));
        let line = Line::new().color(colour).dash(dash).width(1.0);
        chart.add(plot::level(
            &name,
            ends,
            hundredth(show.degrees(celsius)),
            line,
        ));
    }
    for trace in reason_traces(&series.reasons, time, show) {
        chart.add(trace);
    }
    let relays = [
        (
            "circulator on",
            CIRCULATOR,
            palette::GREEN,
            &series.circulator,
        ),
        ("boiler called", BOILER, palette::VERMILLION, &series.boiler),
        (
            "circulator on in the log",
            LOGGED_CIRCULATOR,
            palette::GREY,
            &series.logged_circulator,
        ),
        (
            "boiler called in the log",
            LOGGED_BOILER,
            palette::GREY,
            &series.logged_boiler,
        ),
    ];
    for (name, y, colour, spans) in relays {
        let on: Vec<Bar> = spans
            .list()
            .iter()
            .filter(|span| span.kind)
            .map(|span| bar(span, time, format!("{name}, {}", length(span.length_ms()))))
            .collect();
        if !on.is_empty() {
            let fill = BarFill {
                colour: colour.into(),
                pattern: plotly::common::PatternShape::None,
            };
            chart.add(TimeBars::new(name, y, &fill, on, false));
        }
    }
    chart
}

/// Limits worth a line. That of the supply only where the supply came near it: it would flatten the rest.
fn levels(
    context: &Context,
    supply: Option<&Curve>,
) -> Vec<(&'static str, f64, &'static str, DashType)> {
    let limits = context.limits;
    let mut levels = vec![
        ("target", limits.target_c, palette::BLACK, DashType::Dash),
        (
            "frost protection",
            limits.frost_on_c,
            palette::BLUE,
            DashType::DashDot,
        ),
    ];
    if limits.backup_slab_c != limits.frost_on_c {
        levels.push((
            "backup",
            limits.backup_slab_c,
            palette::VERMILLION,
            DashType::LongDash,
        ));
    }
    let hottest = supply
        .into_iter()
        .flat_map(Curve::points_c)
        .flatten()
        .fold(f64::NEG_INFINITY, f64::max);
    if hottest >= limits.supply_soft_c - 10.0 {
        levels.push((
            "supply limit",
            limits.supply_soft_c,
            palette::ORANGE,
            DashType::LongDashDot,
        ));
    }
    levels
}

/// Equally spaced points need no times of their own.
fn curve_trace(curve: &Curve, time: TimeAxis, show: Show) -> Box<Scatter<f64, Option<f64>>> {
    let (colour, dash, width) = palette::curve(curve.name);
    let points = curve
        .points_c()
        .map(|point| point.map(|c| hundredth(show.degrees(c))))
        .collect();
    Box::<Scatter<f64, Option<f64>>>::default()
        .x0(time.at(curve.bin_ms / 4))
        .dx(time.length(curve.bin_ms) / 2.0)
        .y(points)
        .mode(Mode::Lines)
        .name(curve.name.label())
        .line(Line::new().color(colour).dash(dash).width(width))
        .hover_template(
            format!(
                "{} %{{y}} {}<br>%{{x}}<extra></extra>",
                curve.name.label(),
                show.degree_unit()
            )
            .as_str(),
        )
}

fn reason_traces(
    reasons: &Spans<crate::series::Why>,
    time: TimeAxis,
    show: Show,
) -> Vec<Box<dyn plotly::Trace>> {
    // Where bars are finer than a pixel, the weightier reason is drawn over the other.
    Reason::ALL
        .into_iter()
        .rev()
        .filter_map(|reason| {
            let name = reason_label(reason);
            let bars: Vec<Bar> = reasons
                .list()
                .iter()
                .filter(|span| span.kind.reason == reason)
                .map(|span| {
                    let cause = cause_text(&span.kind.cause, show);
                    let separator = if cause.is_empty() { "" } else { ": " };
                    let text = format!("{name}{separator}{cause}; {}", length(span.length_ms()));
                    bar(span, time, text)
                })
                .collect();
            let fill = palette::reason(reason);
            let fill = BarFill {
                colour: fill.colour.into(),
                pattern: fill.pattern,
            };
            (!bars.is_empty())
                .then(|| TimeBars::new(&name, REASONS, &fill, bars, true) as Box<dyn plotly::Trace>)
        })
        .collect()
}

fn bar<T>(span: &Span<T>, time: TimeAxis, text: String) -> Bar {
    let exact = |v: f64| (v * 1_000.0).round() / 1_000.0;
    Bar {
        base: exact(time.at(span.start_ms)),
        length: exact(time.length(span.length_ms())),
        text,
    }
}

/// Buttons for the whole season and the coldest day and week, each with the heights that fit it.
fn zoom_menu(report: &Report<'_>, time: TimeAxis) -> UpdateMenu {
    let end = report.series.end_ms;
    let button = |name: &str, from: u64, to: u64| {
        let mut change = json!({ "xaxis.range": [time.at(from), time.at(to)] });
        match heights(report, from, to) {
            Some(range) => change["yaxis.range"] = json!(range),
            None => change["yaxis.autorange"] = json!(true),
        }
        Button::new()
            .label(name)
            .method(ButtonMethod::Relayout)
            .args(json!([change]))
    };
    let mut buttons = vec![button("all", 0, end)];
    if let Some(coldest) = report.numbers.slab_min_time_ms {
        for (name, half) in [
            ("coldest week", DAY_MS * 7 / 2),
            ("coldest day", DAY_MS / 2),
        ] {
            if end > 2 * half {
                let from = coldest.saturating_sub(half).min(end - 2 * half);
                buttons.push(button(name, from, from + 2 * half));
            }
        }
    }
    UpdateMenu::new()
        .ty(UpdateMenuType::Buttons)
        .direction(UpdateMenuDirection::Right)
        .buttons(buttons)
        .show_active(false)
        .x(0.0)
        .x_anchor(Anchor::Left)
        .y(1.0)
        .y_anchor(Anchor::Bottom)
}

/// Coldest and warmest of all curves in a stretch of time, in the shown unit, with a margin.
fn heights(report: &Report<'_>, from_ms: u64, to_ms: u64) -> Option<[f64; 2]> {
    let show = Show(report.context.units);
    let seen = report.series.curves.iter().flat_map(|curve| {
        let place = |ms: u64| (ms / curve.bin_ms) as usize * 2;
        let count = place(to_ms) + 2 - place(from_ms);
        curve.points_c().skip(place(from_ms)).take(count).flatten()
    });
    let (low, high) = seen.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), c| {
        (low.min(c), high.max(c))
    });
    (low <= high).then(|| {
        [
            hundredth(show.degrees(low - 1.0)),
            hundredth(show.degrees(high + 1.0)),
        ]
    })
}
