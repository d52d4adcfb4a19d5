//! What a person sees: the table of all drills, and the timeline of one.

use std::fmt::Write as _;

use controller_core::alarm::AlarmSet;
use controller_core::reason::Reason;
use controller_core::{Event as CoreEvent, Outputs};

use crate::files::quantity::show::{Show, counted};
use crate::files::quantity::{Units, told};
use crate::present::{WIDTH, cause_text, remedy};
use crate::questions::drill::file::Drill;
use crate::questions::drill::house::Ending;
use crate::questions::drill::run::{Outcome, Step};
use crate::questions::drill::values::Span;

/// Every drill's name, situation and what happens.
#[must_use]
pub fn list(drills: &[Drill], units: Units) -> String {
    let mut text = String::new();
    for drill in drills {
        let _ = writeln!(
            text,
            "{}\n    {}\n    {}",
            drill.name,
            told(&drill.situation, units),
            told(&drill.happens(), units)
        );
    }
    let _ = writeln!(text, "\n{} drills", drills.len());
    text
}

/// One table: what happens, what is required by when, what was measured.
#[must_use]
pub fn table(results: &[(&Drill, &Outcome)], units: Units) -> String {
    const REQUIRED: usize = 52;
    const DEADLINE: usize = 26;
    const MEASURED: usize = 22;
    let mut text = String::new();
    for (drill, outcome) in results {
        let _ = writeln!(text, "{}: {}", drill.name, told(&drill.happens(), units));
        for verdict in &outcome.verdicts {
            let word = if verdict.holds { "pass" } else { "FAIL" };
            let _ = writeln!(
                text,
                "    {:<REQUIRED$}  {:<DEADLINE$}  {:<MEASURED$}  {word}",
                told(&verdict.required, units),
                told(&verdict.deadline, units),
                told(&verdict.measured, units)
            );
        }
        if let Some(ending) = &outcome.ending {
            let _ = writeln!(text, "    {}", ends(ending, units));
        }
    }
    let failed = results
        .iter()
        .filter(|(_, outcome)| !outcome.holds())
        .count();
    let checks: usize = results
        .iter()
        .map(|(_, outcome)| outcome.verdicts.len())
        .sum();
    let _ = match failed {
        0 => writeln!(
            text,
            "\n{}, {}: all hold",
            counted(results.len() as u64, "drill"),
            counted(checks as u64, "requirement")
        ),
        n => writeln!(
            text,
            "\n{}, {}: {} FAIL",
            counted(results.len() as u64, "drill"),
            counted(checks as u64, "requirement"),
            counted(n as u64, "drill")
        ),
    };
    text
}

/// How the simulated house ends, in a sentence or two.
#[must_use]
pub fn ends(ending: &Ending, units: Units) -> String {
    let show = Show(units);
    let slab = format!(
        "Coldest part of the slab with tube {} after {}, {} at the end; coldest house air {}.",
        show.temperature(ending.slab_min_c),
        Span(ending.slab_min_ms).words(),
        show.temperature(ending.slab_end_c),
        show.temperature(ending.air_min_c)
    );
    match ending.frozen_ms {
        Some(ms) => format!("{} {slab}", froze(ms)),
        None => slab,
    }
}

/// The one sentence before all others.
#[must_use]
pub fn froze(frozen_ms: u64) -> String {
    format!(
        "Water froze solid after {}: tubes are likely damaged.",
        Span(frozen_ms).words()
    )
}

/// Lines kept of a timeline.
const MOST_LINES: usize = 400;

/// Writes down every change of a run.
#[derive(Debug, Default)]
pub struct Timeline {
    units: Units,
    lines: Vec<String>,
    left_out: usize,
    last: Option<(Outputs, Reason, AlarmSet, u8)>,
    told: AlarmSet,
}

impl Timeline {
    /// Nothing yet, to be said in these units.
    #[must_use]
    pub fn new(units: Units) -> Self {
        Self {
            units,
            ..Self::default()
        }
    }

    /// Takes one step.
    pub fn push(&mut self, step: &Step<'_>) {
        let row = &step.report.row;
        for what in step.happened {
            let what = told(what, self.units);
            self.line(format!("{:>14}  ** {what}", Span(step.now_ms).words()));
        }
        let state = (row.outputs, row.reason, row.alarms, row.lost);
        if self.last == Some(state) && row.event == CoreEvent::None {
            return;
        }
        self.last = Some(state);
        self.told = row
            .alarms
            .iter()
            .fold(self.told, |told, alarm| told.with(alarm, true));
        let on = |bit| if bit { "on" } else { "off" };
        let mut text = format!(
            "{:>14}  circulator {:<3}  boiler {:<3}  {}",
            Span(step.now_ms).words(),
            on(row.outputs.circulator),
            on(row.outputs.boiler_call),
            row.reason.name().replace('_', " ")
        );
        let cause = cause_text(&row.cause, Show(self.units));
        if !cause.is_empty() {
            let _ = write!(text, ": {cause}");
        }
        if !row.alarms.is_empty() {
            let names: Vec<_> = row
                .alarms
                .iter()
                .map(controller_core::alarm::Alarm::name)
                .collect();
            let _ = write!(text, "  alarms: {}", names.join(" "));
        }
        match row.event {
            CoreEvent::None => {}
            CoreEvent::Boot(_) => text.push_str("  [boot]"),
            CoreEvent::Stalled(_) => text.push_str("  [stalled]"),
            CoreEvent::Command(_) => text.push_str("  [command]"),
            CoreEvent::Settings => text.push_str("  [settings]"),
        }
        self.line(text);
    }

    fn line(&mut self, line: String) {
        if self.lines.len() < MOST_LINES {
            self.lines.push(line);
        } else {
            self.left_out += 1;
        }
    }

    /// The whole text.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = self.lines.join("\n");
        if self.left_out > 0 {
            let _ = write!(
                text,
                "\n… {} more lines; --trace FILE.csv has every step",
                self.left_out
            );
        }
        text.push('\n');
        if !self.told.is_empty() {
            text.push_str("\nAlarms, and what to do:\n");
        }
        for alarm in self.told.iter() {
            let name = alarm.name().replace('_', " ");
            let kind = if alarm.is_advice() { "advice" } else { "alarm" };
            let _ = writeln!(text, "  {name}, {kind}: {}", alarm.meaning());
            for line in remedy(alarm, WIDTH) {
                let _ = writeln!(text, "{line}");
            }
        }
        text
    }
}
