//! The page of any run: the answer, its first table, the picture, key numbers, why, day by day.

use controller_core::reason::Reason;

use super::page::{Block, Headline, Page, Section, Table, Tone};
use super::palette::{Hatch, Ink, fill};
use super::plot::{Bar, Mark, Panel, Plot};
use super::season::{self, season};
use super::tiles::tiles;
use super::timeline::{coldest, timeline};
use super::words::{self, reason_label, reason_meaning, verdict};
use super::{Report, first, palette};
use crate::account::metrics::DAY_MS;
use crate::files::quantity::show::{fixed, length};

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
    let key_numbers = vec![
        Block::Tiles(tiles(report.numbers, context)),
        Block::Note(words::standing(context).to_owned()),
    ];
    Page {
        title: context.title.clone(),
        house: context.house.clone(),
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
        sections: [
            first::section(report),
            temperatures(report),
            Section::new("Key numbers", key_numbers),
            reasons(report),
        ]
        .into_iter()
        .chain((report.numbers.days >= 1.0).then(|| by_day(report)))
        .collect(),
        foot: super::cautions(),
    }
}

/// The whole run and its coldest stretch: by day and a week of it, or by the row and a day of it.
fn temperatures(report: &Report<'_>) -> Section {
    let series = report.series;
    let end = series.end_ms;
    let is_season = report.numbers.days >= season::FROM_DAYS;
    let whole = if is_season {
        season(report)
    } else {
        timeline(report, 0, end, "The whole run")
    };
    let (half, when) = if is_season {
        (DAY_MS * 7 / 2, "The week about the coldest slab")
    } else {
        (DAY_MS / 2, "The day about the coldest slab")
    };
    let mut blocks = vec![Block::Plot(Box::new(whole))];
    if let Some((ms, _)) = coldest(report).filter(|_| end > 3 * half) {
        let from = ms.saturating_sub(half).min(end - 2 * half);
        let closer = timeline(report, from, from + 2 * half, when);
        blocks.push(Block::Plot(Box::new(closer)));
    }
    blocks.retain(|block| !matches!(block, Block::Plot(plot) if plot.is_empty()));
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
        .filter_map(|(name, h)| Reason::named(name).map(|reason| (reason, *h)))
        .collect();
    sorted.sort_by(|a, b| b.1.total_cmp(&a.1));
    let total: f64 = sorted.iter().map(|(_, h)| h).sum();
    let names = sorted.iter().map(|(reason, _)| reason_label(*reason));
    let mut panel = Panel::of_rows(names.collect(), 26.0);
    for (row, (reason, h)) in (0..).zip(&sorted) {
        panel = panel.with(Mark::Bars {
            name: String::new(),
            fill: palette::reason(*reason),
            thick: 0.7,
            bars: vec![Bar {
                row: f64::from(row),
                from: 0.0,
                to: *h,
                text: format!("{} {} h", reason_label(*reason), fixed(*h, 1)),
            }],
        });
    }
    let chart = Plot::over("hours", "Hours by reason, the longest on top.").with(panel);
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

/// A box for each day with a value, as wide as the day but for a gap.
pub(super) fn day_box(start_ms: u64, length_ms: u64, low: f64, high: f64) -> [f64; 4] {
    let gap = 0.05 * DAY_MS as f64;
    [
        start_ms as f64 + gap,
        (start_ms + length_ms) as f64 - gap.min(length_ms as f64 / 3.0),
        low,
        high,
    ]
}

fn by_day(report: &Report<'_>) -> Section {
    let days = report.series.days();
    let over_days = |caption: &str| {
        let (start, end) = (report.context.start, report.series.end_ms);
        Plot::over_time(start, 0, end, caption)
    };
    let mut stacked = Panel::new("hours", 220.0);
    stacked.range = Some([0.0, 25.0]);
    let mut below = vec![0.0; days.len()];
    for reason in Reason::ALL {
        let mut boxes = Vec::new();
        for (day, below) in days.iter().zip(&mut below) {
            let hours = day.reason_ms[reason as usize] as f64 / 3.6e6;
            if hours > 0.0 {
                boxes.push(day_box(day.start_ms, day.length_ms, *below, *below + hours));
                *below += hours;
            }
        }
        if !boxes.is_empty() {
            stacked = stacked.with(Mark::Boxes {
                name: reason_label(reason),
                fill: palette::reason(reason),
                boxes,
            });
        }
    }
    let starts = Panel::new("starts", 150.0).with(Mark::Boxes {
        name: String::new(),
        fill: fill(Ink::Blue, Hatch::None),
        boxes: days
            .iter()
            .map(|day| day_box(day.start_ms, day.length_ms, 0.0, f64::from(day.starts)))
            .collect(),
    });
    let plots = [
        over_days("Hours by reason, day by day.").with(stacked),
        over_days("Circulator starts a day. Many starts wear it: widen the slab band, or trim the sensor pair.")
            .with(starts),
        super::winter::heat_by_day(report),
    ];
    Section::new(
        "Day by day",
        plots.map(|plot| Block::Plot(Box::new(plot))).to_vec(),
    )
}
