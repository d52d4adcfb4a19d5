//! The answer in words: one screen in the terminal.

use std::fmt::Write as _;

use super::words::{Words, digits, shown, value};
use crate::files::quantity::show::{counted, fixed};
use crate::files::quantity::{Dimension, Units};
use crate::questions::tune::effects::{Move, Swept};
use crate::questions::tune::score::{AIMS, Aim, Score, WINTERS};
use crate::questions::tune::screen::{COLD_DAYS, ERRORS, LEAD_DAYS, Winter};
use crate::questions::tune::{Judged, Stages, Task, Trial, Tuned, WEEKS, better, sums};

/// Names of winters in one line.
#[must_use]
pub fn winters_line(winters: &[Winter]) -> String {
    let names: Vec<&str> = winters.iter().map(|winter| winter.name.as_str()).collect();
    names.join("; ")
}

/// The answer in one sentence.
#[must_use]
pub fn answer(task: &Task, tuned: &Tuned, words: &Words) -> String {
    if let Some(why) = &tuned.why {
        return format!(
            "No settings hold this house: with the best found the slab still falls to {}.",
            words.temperature(why.slab_c)
        );
    }
    if tuned.stopped {
        return "Stopped on request: these are the best settings so far.".to_owned();
    }
    if tuned.space.changed(&tuned.chosen).is_empty() {
        return "Nothing better was found than the settings started from.".to_owned();
    }
    let (before, after) = sums(tuned.kept_back.iter());
    let how = if better(&after, &before) {
        "better than those started from also"
    } else if better(&before, &after) {
        "NOT better than those started from"
    } else {
        "as good as those started from, no better,"
    };
    match task.take {
        Some(number) => {
            format!("Number {number}, as asked for: {how} in winters it was not tuned on.")
        }
        None => format!("Settings were found that are {how} in winters they were not tuned on."),
    }
}

/// Why a slab is not held, in sentences.
#[must_use]
pub fn why(tuned: &Tuned, words: &Words) -> Vec<String> {
    let Some(why) = &tuned.why else {
        return Vec::new();
    };
    let percent = |share: f64| fixed(share * 100.0, 0);
    let mut lines = vec![format!(
        "Coldest on {} in {}: {}. In the 24 hours before it was {} outdoors on average; the circulator ran {} % and \
             the boiler was called {} % of the time.",
        why.when.strftime("%-d %B %H:%M"),
        why.winter,
        words.temperature(why.slab_c),
        words.temperature(why.outdoor_c),
        percent(why.ran),
        percent(why.called),
    )];
    if why.boiler {
        lines.push(format!(
            "The boiler brought {} kW on average that day and the day before.",
            fixed(why.boiler_kw, 1)
        ));
    }
    lines.push(if !why.boiler {
        "The house has no boiler: the store alone does not hold the slab in such cold.".to_owned()
    } else if why.called >= 0.5 {
        "Heat was called for and was not enough: settings cannot mend that. Less loss (a curtain, edge insulation), more \
         boiler, or a larger loop can."
            .to_owned()
    } else {
        "Heat was called for only part of the time: calls were ended by limits, brought no heat, or came too late. \
         `host-sim winter --report` with these settings shows which."
            .to_owned()
    });
    lines
}

/// The screen.
#[must_use]
pub fn terminal(task: &Task, stages: &Stages, tuned: &Tuned, units: Units) -> String {
    let words = Words::new(units);
    let mut text = format!("{}\n", answer(task, tuned, &words));
    for line in why(tuned, &words)
        .into_iter()
        .chain(warnings(task, tuned, &words))
    {
        let _ = writeln!(text, "{line}");
    }
    let _ = writeln!(text, "\nTuned on");
    for (index, winter) in task.tuned_on.iter().enumerate() {
        let _ = writeln!(text, "  {} {}", index + 1, winter.name);
    }
    let _ = writeln!(text, "Kept back");
    for (index, winter) in task.kept_back.iter().enumerate() {
        let _ = writeln!(text, "  {} {}", index + 1, winter.name);
    }
    trials(&mut text, "Winters tuned on", &tuned.tuned_on, &words);
    trials(&mut text, "Winters kept back", &tuned.kept_back, &words);
    changes(&mut text, tuned, &words, units);
    no_matter(&mut text, tuned, units);
    pairs(&mut text, tuned, &words);
    trade_offs(&mut text, tuned, &words);
    work(&mut text, stages, tuned);
    if !task.notes.is_empty() {
        text.push_str("\nNotes\n");
        for note in &task.notes {
            let _ = writeln!(text, "  {note}");
        }
    }
    text
}

/// Widths of the columns of numbers: one for each aim and one for the coldest slab.
const COLUMNS: [usize; 6] = [11, 12, 13, 13, 13, 11];

fn head(words: &Words, first: &str, width: usize) -> String {
    let mut line = format!("{first:<width$}");
    for (aim, width) in AIMS.iter().zip(COLUMNS) {
        let name = match aim.aim {
            Aim::Danger => "danger".to_owned(),
            Aim::Hold => "below".to_owned(),
            _ => aim.name.to_owned(),
        };
        let name = format!("{name} {}", words.number(aim.aim, 0.0).1);
        let name = name
            .replace("electricity", "electric")
            .trim_end()
            .to_owned();
        let _ = write!(line, "  {name:>width$}");
    }
    let coldest = format!(
        "coldest {}",
        Dimension::Temperature.display_unit(words.show.0)
    );
    let _ = write!(line, "  {coldest:>width$}", width = COLUMNS[AIMS.len()]);
    line
}

/// One cell for each column, each made by `cell`.
fn cells(words: &Words, scores: &[&Score]) -> String {
    let mut line = String::new();
    let mut write = |width: usize, of: &dyn Fn(&Score) -> String| {
        let texts: Vec<String> = scores.iter().map(|score| of(score)).collect();
        let _ = write!(line, "  {:>width$}", texts.join(" → "));
    };
    for (aim, width) in AIMS.iter().zip(COLUMNS) {
        write(width, &|score| {
            let (value, _) = words.number(aim.aim, shown(score, aim.aim));
            fixed(value, digits(aim.aim, value))
        });
    }
    write(COLUMNS[AIMS.len()], &|score| {
        fixed(words.show.degrees(score.slab_min_c()), 1)
    });
    line
}

/// Means by winter, by sensor error and of all; the report has each winter with each error.
fn trials(text: &mut String, title: &str, trials: &[Trial], words: &Words) {
    const WIDTH: usize = 18;
    if trials.is_empty() {
        return;
    }
    let _ = writeln!(text, "\n{}", head(words, title, WIDTH));
    let mut line = |name: String, of: &dyn Fn(&Trial) -> bool| {
        let (before, after) = sums(trials.iter().filter(|trial| of(trial)));
        let _ = writeln!(text, "{name:<WIDTH$}{}", cells(words, &[&before, &after]));
    };
    let winters = trials.iter().map(|trial| trial.winter).max().unwrap_or(0);
    for winter in 0..=winters {
        line(format!("  winter {}", winter + 1), &|t| t.winter == winter);
    }
    for error in ERRORS {
        line(format!("  {}", error.name), &|t| t.error == error);
    }
    line("  all".to_owned(), &|_| true);
}

/// What remains dangerous, in sentences.
pub(crate) fn warnings(task: &Task, tuned: &Tuned, words: &Words) -> Vec<String> {
    const MOST: usize = 4;
    let lists = [
        (&tuned.tuned_on, &task.tuned_on),
        (&tuned.kept_back, &task.kept_back),
    ];
    let mut warnings: Vec<String> = lists
        .into_iter()
        .flat_map(|(trials, winters)| trials.iter().map(move |trial| (trial, winters)))
        .filter(|(trial, _)| !trial.after.is_safe())
        .map(|(trial, winters)| {
            format!(
                "DANGER with the settings found: {}, sensors {}: slab down to {}, {} in danger{} (before: {}).",
                winters[trial.winter].name,
                trial.error.name,
                words.temperature(trial.after.slab_min_c()),
                words.amount(Aim::Danger, trial.after.danger_s as f64 / 3_600.0),
                if trial.after.frozen > 0 { ", WATER FREEZES" } else { "" },
                words.amount(Aim::Danger, trial.before.danger_s as f64 / 3_600.0),
            )
        })
        .collect();
    if let Some(more) = warnings.len().checked_sub(MOST).filter(|more| *more > 0) {
        warnings.truncate(MOST);
        warnings.push(format!("… and in {more} more; the report has all."));
    }
    warnings
}

fn changes(text: &mut String, tuned: &Tuned, words: &Words, units: Units) {
    if tuned.reverted.is_empty() {
        text.push_str("\nChanged\n");
        for parameter in tuned.space.changed(&tuned.chosen) {
            let of = |raw| value(parameter.key, parameter.of(raw), units);
            let _ = writeln!(
                text,
                "  {} {} → {}",
                parameter.key.field().name,
                of(tuned.space.base().raw()),
                of(tuned.chosen.raw())
            );
        }
        return;
    }
    let _ = writeln!(
        text,
        "\nChanged, and what a winter would lose or gain without that change alone"
    );
    let with = tuned.in_turn.unwrap_or_default();
    for reverted in &tuned.reverted {
        let key = reverted.parameter.key;
        let worth = reverted.score.as_ref().map_or_else(
            || "cannot be taken back alone".to_owned(),
            |without| words.change(&with, without, WINTERS),
        );
        let _ = writeln!(
            text,
            "  {:<18} {:>9} → {:<9}  {worth}",
            key.field().name,
            value(key, reverted.before, units),
            value(key, reverted.after, units),
        );
    }
}

/// Settings that change nothing worth a step between the ends of their ranges.
pub(crate) fn without_effect(tuned: &Tuned) -> Vec<&Swept> {
    let reference = tuned.in_weeks.unwrap_or_default();
    tuned
        .swept
        .iter()
        .filter(|swept| swept.matters(&reference, WEEKS) < 1.0)
        .collect()
}

fn no_matter(text: &mut String, tuned: &Tuned, units: Units) {
    if tuned.swept.is_empty() {
        return;
    }
    let _ = writeln!(
        text,
        "\nWhat does not matter here (in the coldest weeks, moved to either end of its range)"
    );
    let list = without_effect(tuned);
    if list.is_empty() {
        let _ = writeln!(text, "  every setting tried matters");
    }
    for swept in list {
        let key = swept.parameter.key;
        let ends: Vec<String> = swept
            .ends
            .iter()
            .map(|(at, _)| value(key, *at, units))
            .collect();
        let _ = writeln!(text, "  {:<18} {}", key.field().name, ends.join(" to "));
    }
}

/// A pair in words: the one move, the other, and what the two do beyond each alone, in aims in which it is worth a step.
pub(crate) fn pair_lines(tuned: &Tuned, words: &Words) -> Vec<[String; 3]> {
    let chosen = tuned.in_weeks.unwrap_or_default();
    let to = |step: &Move| {
        let at = value(step.parameter.key, step.to, words.units());
        format!("{} to {at}", step.parameter.key.field().name)
    };
    tuned
        .pairs
        .iter()
        .filter_map(|pair| {
            let parts: Vec<String> = AIMS
                .iter()
                .filter_map(|line| {
                    let together = pair.together(&chosen, line.aim);
                    (together.abs() >= line.step * WEEKS.share)
                        .then(|| format!("{} {}", line.name, words.signed(line.aim, together)))
                })
                .collect();
            let [one, other] = pair.moves.map(|step| to(&step));
            (!parts.is_empty()).then(|| [one, other, parts.join(", ")])
        })
        .collect()
}

fn pairs(text: &mut String, tuned: &Tuned, words: &Words) {
    const MOST: usize = 6;
    if tuned.pairs.is_empty() {
        return;
    }
    let lines = pair_lines(tuned, words);
    let _ = writeln!(
        text,
        "\nTwo at a time: {} of {} pairs do a step more or less together than each alone (coldest weeks)",
        lines.len(),
        tuned.pairs.len()
    );
    for [one, other, what] in lines.iter().take(MOST) {
        let _ = writeln!(text, "  {one} and {other}: {what}");
    }
}

/// Finalists on the front, those that hold best first.
pub(crate) fn front(tuned: &Tuned) -> Vec<(usize, &Judged)> {
    let mut front: Vec<(usize, &Judged)> = tuned
        .front
        .iter()
        .map(|place| (*place, &tuned.finals[*place]))
        .collect();
    let key =
        |judged: &Judged| [Aim::Danger, Aim::Hold, Aim::Wood].map(|aim| judged.score.mean(aim));
    front.sort_by(|a, b| {
        key(a.1)
            .partial_cmp(&key(b.1))
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    front
}

fn trade_offs(text: &mut String, tuned: &Tuned, words: &Words) {
    const MOST: usize = 8;
    const WIDTH: usize = 18;
    if tuned.front.is_empty() {
        return;
    }
    let scores: Vec<Judged> = tuned.finals.clone();
    let far_apart = crate::questions::tune::steps::spread(&scores);
    let shown = |place: usize| {
        !mark(tuned, place).is_empty() || far_apart.iter().take(MOST).any(|other| *other == place)
    };
    let rows: Vec<(usize, &Judged)> = front(tuned)
        .into_iter()
        .filter(|(place, _)| shown(*place))
        .collect();
    let _ = writeln!(
        text,
        "\nTrade-offs: none beats another in every aim ({} of {}; whole winters, one error each; the report has all)",
        rows.len(),
        tuned.front.len()
    );
    let _ = writeln!(text, "{}", head(words, "  number", WIDTH));
    for (place, judged) in rows {
        let name = match mark(tuned, place) {
            "*" => format!("  {place} found"),
            "o" => format!("  {place} started from"),
            _ => format!("  {place}"),
        };
        let _ = writeln!(text, "{name:<WIDTH$}{}", cells(words, &[&judged.score]));
    }
    let _ = writeln!(
        text,
        "  --take NUMBER writes another of them (at once, with the --resume file of this search)"
    );
}

/// Sign of a finalist.
pub(crate) fn mark(tuned: &Tuned, place: usize) -> &'static str {
    match place {
        _ if tuned.finals[place].candidate == tuned.chosen => "*",
        0 => "o",
        _ => "",
    }
}

/// What was run, line by line.
#[must_use]
pub fn work_lines(stages: &Stages, tuned: &Tuned) -> Vec<String> {
    let mut lines: Vec<String> = tuned
        .work
        .iter()
        .map(|(name, work)| {
            let known = match work.known {
                0 => String::new(),
                n => format!(", {n} of them from the resume file"),
            };
            format!(
                "{name}: {} ({}, {} simulated{known})",
                counted(work.candidates, "candidate"),
                counted(work.runs, "run"),
                counted(work.days, "day"),
            )
        })
        .collect();
    let weeks: Vec<String> = stages
        .weeks()
        .scenarios
        .iter()
        .map(|s| {
            format!(
                "winter {}, {} from {}, sensors {}",
                s.winter + 1,
                counted(u64::from(s.season.days), "day"),
                s.season.from.strftime("%-d %B"),
                s.error.name
            )
        })
        .collect();
    lines.push(format!(
        "The coldest weeks ({COLD_DAYS} days with {LEAD_DAYS} before them, or the season if that is shorter): {}",
        weeks.join("; ")
    ));
    lines
}

fn work(text: &mut String, stages: &Stages, tuned: &Tuned) {
    let _ = writeln!(text, "\nWhat was run");
    for line in work_lines(stages, tuned) {
        let _ = writeln!(text, "  {line}");
    }
}
