//! The summary on a screen of 80 columns: plain words first, then numbers, reasons and alarms, each with its remedy.

use controller_core::alarm::Alarm;
use controller_core::reason::Reason;

use super::Context;
use super::words::{self, reason_label, verdict};
use crate::account::metrics::SummaryNumbers;
use crate::files::quantity::show::{Show, counted, electricity, fixed, hours};

/// Columns of a screen.
pub(crate) const WIDTH: usize = 80;
/// Lines of a screen: without alarms the summary is no longer.
const HEIGHT: usize = 24;
/// Reasons shown at most, and bars this long.
const REASONS: usize = 5;
const BAR: usize = 40;

/// Lines of at most 80 characters, without colour or control codes: at most 24, and those of the alarms, which are never cut.
#[must_use]
pub fn terminal(numbers: &SummaryNumbers, context: &Context) -> String {
    let mut lines = Vec::new();
    lines.push(context.title.clone());
    let mut when = vec![format!(
        "{} days, {} steps",
        fixed(numbers.days, 1),
        numbers.rows
    )];
    when.splice(0..0, context.period.clone());
    lines.extend(wrap(&when.join(", ")));
    lines.push(String::new());
    let answer = verdict(numbers, context);
    let mut words = wrap(&answer.headline);
    words.extend(wrap(&answer.details.join(" ")));
    words.truncate(6);
    lines.extend(words);
    lines.push(String::new());
    lines.extend(columns(&cells(numbers, Show(context.units))));
    lines.push(String::new());
    lines.extend(reasons(numbers));
    if let Some(words) = numbers.agreement.as_ref().and_then(words::about_agreement) {
        lines.extend(wrap(&words));
    }
    lines.truncate(HEIGHT - 1);
    lines.extend(alarms(numbers));
    lines.iter().map(|line| cut(line, WIDTH) + "\n").collect()
}

fn cells(n: &SummaryNumbers, show: Show) -> Vec<(&'static str, String)> {
    let mut cells = Vec::new();
    let mut add = |name, value: Option<String>| cells.extend(value.map(|v| (name, v)));
    add("Slab below target", n.slab_hours_below_target.map(hours));
    add("Circulator", Some(hours(n.circulator_hours)));
    add(
        "  degree-hours",
        n.slab_degree_hours_below_target
            .map(|kh| show.degree_hours(kh)),
    );
    add(
        "  starts",
        Some(format!(
            "{}, most {}/d",
            n.circulator_starts, n.circulator_starts_per_day_max
        )),
    );
    add(
        "Coldest outdoors",
        n.outdoor_min_c.map(|t| show.temperature(t)),
    );
    add("  electricity", Some(electricity(n.pump_kwh)));
    add(
        "Coldest store",
        n.store_true_min_c
            .or(n.store_min_c)
            .map(|t| show.temperature(t)),
    );
    add(
        "Earth heat",
        n.earth_heat_kwh
            .map(|kwh| show.heat_within(kwh, n.earth_heat_error_kwh)),
    );
    add("Boiler called", Some(hours(n.boiler_call_hours)));
    add("  per electricity", n.cop.map(|r| fixed(r, 1)));
    add("Boiler heat", n.boiler_heat_kwh.map(|kwh| show.heat(kwh)));
    add("Wood burnt", n.wood_kg.map(|kg| show.mass(kg)));
    cells
}

/// Two names and numbers a line.
fn columns(cells: &[(&str, String)]) -> Vec<String> {
    let one = |(name, value): &(&str, String)| format!("{name:<18}{value:>18}");
    cells
        .chunks(2)
        .map(|pair| pair.iter().map(one).collect::<Vec<_>>().join("    "))
        .collect()
}

fn reasons(numbers: &SummaryNumbers) -> Vec<String> {
    let mut sorted: Vec<(&String, f64)> = numbers.reasons.iter().map(|(n, h)| (n, *h)).collect();
    sorted.sort_by(|a, b| b.1.total_cmp(&a.1));
    let total: f64 = sorted.iter().map(|r| r.1).sum();
    let line = |name: String, h: f64| {
        let share = if total > 0.0 { h / total } else { 0.0 };
        let bar = "#".repeat((share * BAR as f64).round() as usize);
        format!(
            "{name:<16}{:>9} h  {:>5.1} % {bar}",
            fixed(h, 1),
            100.0 * share
        )
    };
    let shown = if sorted.len() > REASONS {
        REASONS - 1
    } else {
        REASONS
    };
    let mut lines: Vec<String> = sorted
        .iter()
        .take(shown)
        .map(|(name, h)| {
            let label = Reason::named(name).map_or_else(|| (*name).clone(), reason_label);
            line(label, *h)
        })
        .collect();
    let others = sorted.get(shown..).unwrap_or_default();
    if !others.is_empty() {
        let h = others.iter().map(|r| r.1).sum();
        lines.push(line(format!("{} others", others.len()), h));
    }
    lines
}

/// Every alarm: how long, what it means, and what to do in a line of its own.
fn alarms(numbers: &SummaryNumbers) -> Vec<String> {
    let all = &numbers.alarms;
    if all.is_empty() {
        return vec!["No alarms.".to_owned()];
    }
    let ringing = all.iter().filter(|a| !a.advice).count() as u64;
    let advice = all.len() as u64 - ringing;
    let heading = format!(
        "{}, {}",
        counted(ringing, "alarm"),
        if advice == 1 {
            "1 piece of advice".to_owned()
        } else {
            format!("{advice} pieces of advice")
        }
    );
    let mut lines = vec![heading + ":"];
    for alarm in all {
        let known = Alarm::named(&alarm.name);
        let now = if alarm.standing { "standing" } else { "over" };
        let name = alarm.name.replace('_', " ");
        let text = known.map_or("", |known| known.meaning());
        let told = format!("{name}, {}, {now}: {text}", hours(alarm.hours));
        for (n, line) in wrap_at(&told, WIDTH - 4).into_iter().enumerate() {
            lines.push(format!("{}{line}", if n == 0 { "  " } else { "    " }));
        }
        lines.extend(known.into_iter().flat_map(|known| remedy(known, WIDTH)));
    }
    lines
}

/// What to do about an alarm, in lines of its own.
pub(crate) fn remedy(alarm: Alarm, width: usize) -> Vec<String> {
    wrap_at(&format!("> {}", alarm.remedy()), width - 6)
        .into_iter()
        .enumerate()
        .map(|(n, line)| format!("    {}{line}", if n == 0 { "" } else { "  " }))
        .collect()
}

fn wrap(text: &str) -> Vec<String> {
    wrap_at(text, WIDTH)
}

/// Breaks at blanks so that no line is longer than `width`, where a blank allows it.
pub(crate) fn wrap_at(text: &str, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let length = line.chars().count();
        if length > 0 && length + 1 + word.chars().count() > width {
            lines.push(std::mem::take(&mut line));
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// At most so many characters, none of which moves the cursor; an ellipsis stands for what is cut.
fn cut(line: &str, width: usize) -> String {
    let safe: String = line
        .trim_end()
        .chars()
        .map(|c| if c.is_control() { '\u{fffd}' } else { c })
        .collect();
    if safe.chars().count() <= width {
        return safe;
    }
    let kept: String = safe.chars().take(width - 1).collect();
    kept + "…"
}
