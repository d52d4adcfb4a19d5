//! What comes after the pictures: alarms, sensors, the log's own relays, what it all rests on.

use controller_core::alarm::Alarm;
use controller_core::reason::Reason;

use super::Report;
use super::page::{Block, Section, Table};
use super::words::{self, reason_label, reason_meaning};
use crate::account::metrics::{Agreement, RelayAgreement, SummaryNumbers};
use crate::files::quantity::show::{fixed, hours, length};

/// So many remarks are shown as they are.
const MANY_NOTES: usize = 8;

/// These sections, as far as there is anything to say.
pub(super) fn sections(report: &Report<'_>) -> Vec<Section> {
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

fn alarms(numbers: &SummaryNumbers) -> Section {
    if numbers.alarms.is_empty() {
        let none = Block::Paragraph("None came.".to_owned());
        return Section::new("Alarms", vec![none]);
    }
    let rows = numbers
        .alarms
        .iter()
        .map(|alarm| {
            let known = Alarm::named(&alarm.name);
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
        "Sensors not fully trusted",
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
    if let Some(words) = words::about_agreement(agreement) {
        blocks.push(Block::Note(words));
    }
    if !agreement.differing.is_empty() {
        let rows = agreement
            .differing
            .iter()
            .map(|d| {
                let reason = Reason::named(&d.reason);
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
    match report.context.notes.as_slice() {
        [] => {}
        notes if notes.len() <= MANY_NOTES => blocks.push(Block::List(notes.to_vec())),
        notes => {
            let (first, rest) = notes.split_at(MANY_NOTES);
            blocks.push(Block::List(first.to_vec()));
            blocks.push(Block::Folded(
                format!("{} more remarks", rest.len()),
                rest.to_vec(),
            ));
        }
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
