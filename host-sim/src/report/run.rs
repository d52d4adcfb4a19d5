//! The page of any run up to the pictures: the answer, key numbers, the timeline, why, day by day.

use controller_core::reason::Reason;
use plotly::Bar as BarTrace;
use plotly::common::{Marker, Orientation, Pattern, PatternFillMode, PatternShape};
use plotly::layout::BarMode;

use super::page::{Block, Headline, Page, Section, Table, Tone};
use super::plot::{self, Plot, hundredth};
use super::show::{Show, fixed, length};
use super::tiles::tiles;
use super::timeline::{TimeAxis, timeline};
use super::words::{self, reason_label, reason_meaning, verdict};
use super::{CAUTIONS, Report, palette};
use crate::metrics::DAY_MS;

pub(super) fn page(report: &Report<'_>) -> Page {
    let context = report.context;
    let answer = verdict(report.numbers, context);
    let subtitle = [
        context.period.clone(),
        Some(format!(
            "{} days, {} steps",
            fixed(report.numbers.days, 1),
            report.numbers.rows
        )),
    ];
    Page {
        title: context.title.clone(),
        subtitle: Some(
            subtitle
                .into_iter()
                .flatten()
                .collect::<Vec<_>>()
                .join(" · "),
        ),
        headline: Some(Headline {
            word: answer.word().to_owned(),
            tone: match answer.held {
                Some(true) => Tone::Good,
                Some(false) => Tone::Bad,
                None => Tone::Neutral,
            },
            sentence: answer.headline,
            details: [context.questions.clone(), answer.details].concat(),
        }),
        sections: vec![
            Section::new(
                "Key numbers",
                vec![
                    Block::Tiles(tiles(report.numbers, Show(context.units))),
                    Block::Note(words::standing(context).to_owned()),
                ],
            ),
            temperatures(report),
            reasons(report),
        ]
        .into_iter()
        .chain((report.numbers.days >= 1.0).then(|| by_day(report)))
        .collect(),
        foot: CAUTIONS
            .iter()
            .map(|(title, text)| ((*title).to_owned(), (*text).to_owned()))
            .collect(),
    }
}

fn temperatures(report: &Report<'_>) -> Section {
    let series = report.series;
    let mut blocks = vec![Block::Plot(Box::new(timeline(report)))];
    let merged = [
        ("reasons", series.reasons.merged()),
        ("circulator runs or rests", series.circulator.merged()),
        ("boiler calls or rests", series.boiler.merged()),
    ];
    for (what, merged) in merged {
        if merged.count > 0 {
            blocks.push(Block::Note(format!(
                "The drawing leaves out the {} shortest stretches of {what}, of {} at most: they count in the numbers, \
                 but are drawn as part of the stretch before them.",
                merged.count,
                length(merged.longest_ms)
            )));
        }
    }
    Section::new("Temperatures, relays and reasons", blocks)
}

fn reasons(report: &Report<'_>) -> Section {
    let mut sorted: Vec<(Reason, f64)> = report
        .numbers
        .reasons
        .iter()
        .filter_map(|(name, h)| words::reason(name).map(|reason| (reason, *h)))
        .collect();
    sorted.sort_by(|a, b| b.1.total_cmp(&a.1));
    let total: f64 = sorted.iter().map(|(_, h)| h).sum();
    let mut chart = Plot::new(
        "Hours by reason, the longest on top.",
        40 + 26 * sorted.len().max(2) as u32 + 44,
        plot::layout()
            .show_legend(false)
            .x_axis(plot::axis("hours"))
            .y_axis(plot::axis("").auto_margin(true).fixed_range(true)),
    );
    // The plot's categories go upwards.
    for (reason, h) in sorted.iter().rev() {
        let name = reason_label(*reason);
        chart.add(
            BarTrace::new(vec![hundredth(*h)], vec![name.clone()])
                .orientation(Orientation::Horizontal)
                .marker(reason_marker(*reason))
                .name(name.as_str())
                .hover_template("%{y}: %{x} h<extra></extra>"),
        );
    }
    let rows = sorted
        .iter()
        .map(|(reason, h)| {
            let share = if total > 0.0 { 100.0 * h / total } else { 0.0 };
            vec![
                reason_label(*reason),
                fixed(*h, 1),
                format!("{} %", fixed(share, 1)),
                reason_meaning(*reason).to_owned(),
            ]
        })
        .collect();
    let table = Table {
        head: ["Reason", "Hours", "Share", "Meaning"]
            .map(str::to_owned)
            .to_vec(),
        rows,
        numbers: 2,
    };
    Section::new(
        "Why",
        vec![Block::Plot(Box::new(chart)), Block::Table(table)],
    )
}

fn reason_marker(reason: Reason) -> Marker {
    let fill = palette::reason(reason);
    marker(fill.colour, fill.pattern)
}

pub(super) fn marker(colour: &'static str, pattern: PatternShape) -> Marker {
    Marker::new().color(colour).pattern(
        Pattern::new()
            .shape(pattern)
            .fill_mode(PatternFillMode::Overlay)
            .foreground_color("#ffffff")
            .size(6.0),
    )
}

/// The middle of each day on the time axis.
pub(super) fn day_places(report: &Report<'_>, time: TimeAxis) -> Vec<f64> {
    report
        .series
        .days
        .iter()
        .map(|day| time.at(day.start_ms + day.length_ms / 2))
        .collect()
}

fn by_day(report: &Report<'_>) -> Section {
    let days = report.series.days();
    let time = TimeAxis::new(report.context.start);
    let x = day_places(report, time);
    let width = time.length(DAY_MS) * 0.9;
    let mut starts = Plot::new(
        "Circulator starts a day. Many starts wear it: widen the slab band, or trim the sensor pair.",
        260,
        plot::layout()
            .show_legend(false)
            .x_axis(time.axis())
            .y_axis(plot::axis("starts")),
    );
    starts.add(
        BarTrace::new(x.clone(), days.iter().map(|day| day.starts).collect())
            .width(width)
            .marker(marker(palette::BLUE, PatternShape::None))
            .name("starts")
            .hover_template("%{x}: %{y} starts<extra></extra>"),
    );
    let mut stacked = Plot::new(
        "Hours by reason, day by day.",
        360,
        plot::layout()
            .bar_mode(BarMode::Stack)
            .x_axis(time.axis())
            .y_axis(plot::axis("hours")),
    );
    for reason in Reason::ALL {
        let hours: Vec<f64> = days
            .iter()
            .map(|day| hundredth(day.reason_ms[reason as usize] as f64 / 3.6e6))
            .collect();
        if hours.iter().any(|h| *h > 0.0) {
            let name = reason_label(reason);
            stacked.add(
                BarTrace::new(x.clone(), hours)
                    .width(width)
                    .marker(reason_marker(reason))
                    .name(name.as_str())
                    .hover_template(format!("{name} %{{y}} h<br>%{{x}}<extra></extra>").as_str()),
            );
        }
    }
    Section::new(
        "Day by day",
        vec![
            Block::Plot(Box::new(stacked)),
            Block::Plot(Box::new(starts)),
            Block::Plot(Box::new(super::winter::heat_by_day(report))),
        ],
    )
}
