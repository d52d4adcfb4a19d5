//! What happened, for people: one spell with its trace, and many as tables.

use std::fmt::Write as _;
use std::io::{self, Write};

use controller_core::alarm::AlarmSet;
use controller_core::trace;

use super::table::Table;
use crate::files::quantity::show::Show;
use crate::files::quantity::{Dimension, Units, convert, told};
use crate::questions::spells::judge::Brief;
use crate::questions::spells::{Measured, Spell, Step};

/// Avoidable spells listed below the tables, at most.
const LISTED: usize = 20;

/// The trace of one spell: the truth, then the controller's row.
pub struct Trace<'a> {
    out: &'a mut dyn Write,
    every_ms: u64,
    next_ms: u64,
    last: (bool, bool, AlarmSet),
    line: String,
    failed: Option<io::Error>,
}

impl<'a> Trace<'a> {
    /// Begins one; rows that say nothing new are `every_ms` apart.
    ///
    /// # Errors
    /// It cannot be written.
    pub fn new(out: &'a mut dyn Write, every_ms: u64) -> io::Result<Self> {
        writeln!(
            out,
            "day,true_slab_min_c,true_slab_c,true_supply_c,true_return_c,true_outdoor_c,true_flow_l_s,true_boiler_c,true_ice,{}",
            trace::HEADER
        )?;
        Ok(Self {
            out,
            every_ms,
            next_ms: 0,
            last: (false, false, AlarmSet::NONE),
            line: String::new(),
            failed: None,
        })
    }

    /// One step.
    pub fn step(&mut self, step: &Step<'_>) {
        let outputs = step.report.outputs;
        let now = (
            outputs.circulator,
            outputs.boiler_call,
            step.report.row.alarms,
        );
        if step.now_ms < self.next_ms && now == self.last || self.failed.is_some() {
            return;
        }
        self.last = now;
        self.next_ms = step.now_ms - step.now_ms % self.every_ms.max(1) + self.every_ms;
        self.failed = self.row(step).err();
    }

    fn row(&mut self, step: &Step<'_>) -> io::Result<()> {
        let t = step.truth;
        self.line.clear();
        let boiler = t
            .boiler_water_c
            .map_or(String::new(), |c| format!("{c:.2}"));
        let _ = write!(
            self.line,
            "{:.5},{:.3},{:.3},{:.3},{:.3},{:.2},{:.4},{boiler},{:.4},",
            step.now_ms as f64 / 86_400e3,
            t.slab_min_c,
            t.slab_sensor_c,
            t.supply_c,
            t.return_c,
            t.outdoor_c,
            t.flow_l_s,
            t.ice_fraction
        );
        step.report
            .row
            .write_csv(step.origin, "", &mut self.line)
            .map_err(io::Error::other)?;
        writeln!(self.out, "{}", self.line)
    }

    /// Ends it.
    ///
    /// # Errors
    /// A row could not be written.
    pub fn finish(self) -> io::Result<()> {
        self.failed.map_or(Ok(()), Err)
    }
}

pub(crate) fn faults(spell: &Spell) -> String {
    if spell.faults.is_empty() {
        return "nothing wrong".to_owned();
    }
    let one = |fault: &crate::questions::spells::Named| {
        let details = if fault.details.is_empty() {
            String::new()
        } else {
            format!(" ({})", fault.details)
        };
        format!(
            "{}{details}, day {:.2} to {:.2}",
            fault.key,
            fault.from_h / 24.0,
            fault.to_h / 24.0
        )
    };
    let all: Vec<String> = spell.faults.iter().map(one).collect();
    all.join("; ")
}

/// One spell as text.
#[must_use]
pub fn text(spell: &Spell, units: Units) -> String {
    let mut text = format!(
        "Seed {}: house {}, {}\nFaults: {}\n\n",
        spell.seed,
        spell.house,
        spell.weather,
        faults(spell)
    );
    let _ = writeln!(
        text,
        "{:<28}{:>10}{:>10}{:>7}{:>7}{:>8}{:>8}{:>8}",
        "", "coldest", "below 0", "ice", "solid", "wood", "boiler", "pump"
    );
    let degree = Dimension::Temperature.display_unit(units);
    let mass = Dimension::Mass.display_unit(units);
    let mut row = |name: &str, brief: &Brief| {
        let _ = writeln!(
            text,
            "{name:<28}{:>7.2} {degree}{:>8.1} h{:>7.2}{:>7}{:>5.0} {mass}{:>4.0} kWh{:>4.1} kWh",
            convert(brief.slab_min_c, Dimension::Temperature, units).0,
            brief.below_0_h,
            brief.ice,
            if brief.damaged { "yes" } else { "no" },
            convert(brief.wood_kg, Dimension::Mass, units).0,
            brief.boiler_kwh,
            brief.pump_kwh
        );
    };
    row("this controller", &Brief::from(&spell.ours));
    if let Some(beside) = &spell.beside {
        row("with nothing wrong", &beside.fault_free);
        row("thermostats on the truth", &beside.plain);
        row("circulator always on", &beside.always_on);
        row("nothing", &beside.nothing);
    }
    let Measured {
        slab_min_d,
        below_target_kh,
        supply_over_50_h,
        starts,
        calls,
        call_without_flow_min,
        ..
    } = &spell.ours;
    let _ = write!(
        text,
        "\nColdest on day {slab_min_d:.2}; {} below {}; {} for {supply_over_50_h:.1} h;\n\
         {starts} starts, {calls} calls, {call_without_flow_min:.0} min of a call without flow at most; {} late boots\n",
        Show(units).degree_hours(*below_target_kh),
        Show(units).temperature(1.5),
        told("supply above 50 °C", units),
        spell.late_boots
    );
    for told in &spell.alarms {
        let kind = if told.is_advice { "advice" } else { "rings" };
        let after = told.first_after_fault_h.map_or_else(
            || "before the fault only".to_owned(),
            |h| format!("first {h:.2} h after the fault"),
        );
        let _ = writeln!(
            text,
            "  {:<20} {kind:<7}{:>5} times {:>7.1} h, {after}",
            told.alarm, told.onsets, told.hours
        );
    }
    if let Some(violation) = &spell.violation {
        let _ = writeln!(text, "BROKEN: {violation}");
    }
    let avoidable = &spell.avoidable;
    let harm: Vec<&str> = [
        (avoidable.freeze, "a slab below 0 °C"),
        (avoidable.damage, "a tube frozen solid"),
        (avoidable.ice, "ice in a tube"),
    ]
    .into_iter()
    .filter_map(|(yes, words)| yes.then_some(words))
    .collect();
    let harm = if harm.is_empty() {
        "nothing".to_owned()
    } else {
        harm.join(", ")
    };
    let _ = writeln!(text, "Avoidable: {harm}");
    if let Some(told) = spell.warning.told {
        let words = match (told, spell.warning.silent) {
            (true, _) => "a bell rang in time",
            (false, true) => "no bell rang",
            (false, false) => "a bell rang too late",
        };
        let _ = writeln!(text, "Warning: {words}");
    }
    text
}

/// Those with avoidable harm, the coldest first.
pub(crate) fn avoidable(spells: &[Spell]) -> Vec<&Spell> {
    let mut worst: Vec<&Spell> = spells.iter().filter(|spell| spell.is_avoidable()).collect();
    worst.sort_by(|a, b| a.ours.slab_min_c.total_cmp(&b.ours.slab_min_c));
    worst
}

/// Many spells as text; those of a house with a known hazard apart.
#[must_use]
pub fn tables(table: &Table, hazards: &Table, spells: &[Spell], units: Units) -> String {
    let mut text = String::new();
    if table.all.spells > 0 {
        text.push_str(&table.text(units));
    }
    if hazards.all.spells > 0 {
        let _ = write!(
            text,
            "\nA house with a known hazard, apart:\n{}",
            hazards.text(units)
        );
    }
    let worst = avoidable(spells);
    if !worst.is_empty() {
        let _ = writeln!(
            text,
            "\nAvoidable, coldest first; `--seed NUMBER --house NAME` tells each:"
        );
    }
    for spell in worst.iter().take(LISTED) {
        let _ = writeln!(
            text,
            "  {:>6} {:<10} {:>6.2} {}  {}",
            spell.seed,
            spell.house,
            convert(spell.ours.slab_min_c, Dimension::Temperature, units).0,
            Dimension::Temperature.display_unit(units),
            faults(spell)
        );
    }
    if worst.len() > LISTED {
        let _ = writeln!(text, "  and {} more", worst.len() - LISTED);
    }
    for spell in spells.iter() {
        if let Some(violation) = &spell.violation {
            let _ = writeln!(text, "BROKEN in seed {}: {violation}", spell.seed);
        }
    }
    text
}
