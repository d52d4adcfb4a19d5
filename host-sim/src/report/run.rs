//! The page of any run: the answer, key numbers, the timeline, why, alarms and the log's own relays.

use controller_core::reason::Reason;
use plotly::Bar as BarTrace;
use plotly::common::{Marker, Orientation, Pattern, PatternShape};
use plotly::layout::BarMode;

use super::page::{Block, Headline, Page, Section, Table, Tile, Tone};
use super::plot::{self, Plot, hundredth};
use super::show::{Show, counted, electricity, fixed, hours, length};
use super::timeline::{TimeAxis, timeline};
use super::words::{self, reason_label, reason_meaning, verdict};
use super::{CAUTIONS, Report, palette};
use crate::metrics::{Agreement, DAY_MS, RelayAgreement, SummaryNumbers};

/// Most alarms and sensors are few; nothing is cut here.
pub(super) fn page(report: &Report<'_>) -> Page {
    let context = report.context;
    let answer = verdict(report.numbers, context);
    let subtitle = [
        context.period.clone(),
        Some(format!(
            "{} days, {} rows",
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
            details: answer.details,
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
            by_day(report),
        ],
        foot: CAUTIONS
            .iter()
            .map(|(title, text)| ((*title).to_owned(), (*text).to_owned()))
            .collect(),
    }
}

/// What comes last: alarms, sensors, the log's relays, what it all rests on.
pub(super) fn closing(report: &Report<'_>) -> Vec<Section> {
    let mut sections = vec![alarms(report.numbers)];
    if !report.numbers.faults.is_empty() {
        sections.push(sensors(report.numbers));
    }
    if let Some(agreement) = &report.numbers.agreement {
        sections.push(comparison(agreement));
    }
    sections.push(rests_on(report));
    sections
}

fn tile(label: &str, value: Option<String>, remark: impl Into<String>) -> Option<Tile> {
    value.map(|value| Tile {
        label: label.to_owned(),
        value,
        remark: remark.into(),
    })
}

fn tiles(n: &SummaryNumbers, show: Show) -> Vec<Tile> {
    let temperature = |t: Option<f64>| t.map(|t| show.temperature(t));
    let at = n.slab_min_time.clone().unwrap_or_default();
    let spell = n.slab_longest_hours_below_target.filter(|h| *h > 0.0);
    let store = match (n.store_first_c, n.store_last_c) {
        (Some(first), Some(last)) => format!(
            "first {}, last {}: water after the purge",
            show.temperature(first),
            show.temperature(last)
        ),
        _ => String::new(),
    };
    [
        tile("Coldest slab", temperature(n.slab_min_c), at),
        tile(
            "Slab below target",
            n.slab_hours_below_target.map(hours),
            spell.map_or(String::new(), |h| {
                format!("longest in one piece {}", hours(h))
            }),
        ),
        tile(
            "Degree-hours below target",
            n.slab_degree_hours_below_target
                .map(|kh| show.degree_hours(kh)),
            "how far and how long",
        ),
        tile(
            "Slab below freezing",
            n.slab_hours_below_zero.map(hours),
            "",
        ),
        tile(
            "Coldest outdoors",
            temperature(n.outdoor_min_c),
            n.outdoor_degree_hours_below_target
                .map_or(String::new(), |kh| {
                    format!("{} below the target in all", show.degree_hours(kh))
                }),
        ),
        tile("Coldest house air", temperature(n.air_min_c), ""),
        tile(
            "Held without boiler",
            temperature(n.outdoor_mean_held_alone_c),
            "coldest outdoor mean at which the slab kept its target, a day or more after any call",
        ),
        tile(
            "Circulator",
            Some(hours(n.circulator_hours)),
            format!(
                "{}, at most {} a day",
                counted(n.circulator_starts, "start"),
                n.circulator_starts_per_day_max
            ),
        ),
        tile(
            "Circulator electricity",
            Some(electricity(n.pump_kwh)),
            "hours times its set power, not metered",
        ),
        tile(
            "Heat from the earth",
            n.earth_heat_kwh
                .map(|kwh| show.heat_within(kwh, n.earth_heat_error_kwh)),
            "by the water after the purge; the band is what the sensor pair may be off",
        ),
        tile(
            "Heat per electricity",
            n.heat_to_pump_ratio.map(|ratio| fixed(ratio, 1)),
            "earth heat over all circulator electricity; 5 is good, under 2 run less",
        ),
        tile(
            "Boiler calls",
            Some(n.boiler_calls.to_string()),
            format!(
                "{} in all; {} without heat",
                hours(n.boiler_call_hours),
                n.boiler_calls_without_heat
            ),
        ),
        tile(
            "Heat from the boiler",
            n.boiler_heat_kwh.map(|kwh| show.heat(kwh)),
            "",
        ),
        tile("Wood burnt", n.wood_kg.map(|kg| show.mass(kg)), ""),
        tile("Coldest store", temperature(n.store_min_c), store),
        tile(
            "Warmest return to the store",
            temperature(n.return_max_c),
            n.return_hours_above_limit.map_or(String::new(), |h| {
                format!("{} above the limit for the store", hours(h))
            }),
        ),
        tile(
            "Frost protection",
            Some(hours(n.frost_override_hours)),
            "time it decided",
        ),
    ]
    .into_iter()
    .flatten()
    .collect()
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

fn alarms(numbers: &SummaryNumbers) -> Section {
    if numbers.alarms.is_empty() {
        let none = Block::Paragraph("None came.".to_owned());
        return Section::new("Alarms", vec![none]);
    }
    let rows = numbers
        .alarms
        .iter()
        .map(|alarm| {
            let known = words::alarm(&alarm.name);
            let kind = match (alarm.advice, alarm.standing) {
                (true, true) => "advice, still standing",
                (true, false) => "advice",
                (false, true) => "alarm, still standing",
                (false, false) => "alarm",
            };
            vec![
                alarm.name.replace('_', " "),
                fixed(alarm.hours, 1),
                alarm.count.to_string(),
                kind.to_owned(),
                alarm
                    .first_time
                    .clone()
                    .unwrap_or_else(|| length(alarm.first_time_ms)),
                known.map_or("", |alarm| alarm.meaning()).to_owned(),
                known.map_or("", |alarm| alarm.remedy()).to_owned(),
            ]
        })
        .collect();
    let head = [
        "Name",
        "Hours",
        "Times",
        "Kind",
        "First",
        "Meaning",
        "What to do",
    ];
    Section::new(
        "Alarms",
        vec![Block::Table(Table {
            head: head.map(str::to_owned).to_vec(),
            rows,
            numbers: 2,
        })],
    )
}

fn sensors(numbers: &SummaryNumbers) -> Section {
    let rows = numbers
        .faults
        .iter()
        .map(|(sensor, faults)| {
            let kinds = faults
                .kinds
                .iter()
                .map(|(kind, h)| format!("{} {}", kind.replace('_', " "), hours(*h)))
                .collect::<Vec<_>>()
                .join(", ");
            vec![
                sensor.clone(),
                faults.times.to_string(),
                fixed(faults.doubted_hours, 1),
                fixed(faults.lost_hours, 1),
                kinds,
            ]
        })
        .collect();
    Section::new(
        "Sensors not fully believed",
        vec![Block::Table(Table {
            head: [
                "Sensor",
                "Times",
                "Hours doubted",
                "Hours lost",
                "What was wrong",
            ]
            .map(str::to_owned)
            .to_vec(),
            rows,
            numbers: 3,
        })],
    )
}

fn comparison(agreement: &Agreement) -> Section {
    let relay = |name: &str, relay: &Option<RelayAgreement>| {
        relay.as_ref().map(|r| {
            vec![
                name.to_owned(),
                format!("{} %", fixed(100.0 * r.equal_share, 2)),
                fixed(r.ours_on_theirs_off_hours, 1),
                fixed(r.ours_off_theirs_on_hours, 1),
                fixed(r.compared_hours, 1),
            ]
        })
    };
    let rows = [
        relay("circulator", &agreement.circulator),
        relay("boiler call", &agreement.boiler),
    ];
    let mut blocks = vec![Block::Table(Table {
        head: [
            "Relay",
            "Same",
            "Hours on here, off in the log",
            "Hours off here, on in the log",
            "Hours compared",
        ]
        .map(str::to_owned)
        .to_vec(),
        rows: rows.into_iter().flatten().collect(),
        numbers: 4,
    })];
    if !agreement.differing.is_empty() {
        let rows = agreement
            .differing
            .iter()
            .map(|d| {
                let reason = words::reason(&d.reason);
                vec![
                    d.start_time
                        .clone()
                        .unwrap_or_else(|| length(d.start_time_ms)),
                    fixed(d.hours, 2),
                    d.relay.clone(),
                    if d.ours_on {
                        "on here, off in the log"
                    } else {
                        "off here, on in the log"
                    }
                    .to_owned(),
                    reason.map_or_else(
                        || d.reason.clone(),
                        |r| format!("{}: {}", reason_label(r), reason_meaning(r)),
                    ),
                ]
            })
            .collect();
        blocks.push(Block::Paragraph(
            "The longest stretches that differ:".to_owned(),
        ));
        blocks.push(Block::Table(Table {
            head: ["From", "Hours", "Relay", "How", "Reason here, as it began"]
                .map(str::to_owned)
                .to_vec(),
            rows,
            numbers: 1,
        }));
    }
    Section::new("Against the relays in the log", blocks)
}

fn rests_on(report: &Report<'_>) -> Section {
    let n = report.numbers;
    let mut rows: Vec<Vec<String>> = report
        .context
        .used
        .iter()
        .map(|(name, text)| vec![name.clone(), text.clone()])
        .collect();
    if let Some(closure) = n.energy_closure {
        rows.push(vec![
            "Heat balance of the model".to_owned(),
            format!("closes to {closure:.1e} of the heat moved"),
        ]);
    }
    if let Some(unmeasured) = n.heat_hours_unmeasured {
        rows.push(vec![
            "Heat not metered".to_owned(),
            format!(
                "{} of flow without supply and return to meter by",
                hours(unmeasured)
            ),
        ]);
    }
    for (name, sum) in [
        ("Trace, SHA-256", &n.trace_sha256),
        ("Settings, SHA-256", &n.settings_sha256),
    ] {
        if let Some(sum) = sum {
            rows.push(vec![name.to_owned(), sum.clone()]);
        }
    }
    let mut blocks = Vec::new();
    if !report.context.notes.is_empty() {
        blocks.push(Block::List(report.context.notes.clone()));
    }
    if !rows.is_empty() {
        blocks.push(Block::Table(Table {
            head: vec!["What".to_owned(), String::new()],
            rows,
            numbers: 0,
        }));
    }
    Section::new("What this rests on", blocks)
}
