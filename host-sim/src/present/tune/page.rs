//! The report.

use super::text;
use super::words::{self, Words};
use crate::files::quantity::{Units, told};
use crate::present::cautions;
use crate::present::page::{Block, Headline, Page, Section, Table, Tone};
use crate::present::tune::charts;
use crate::questions::tune::score::{AIMS, Aim, Score, WINTERS};
use crate::questions::tune::screen::ERRORS;
use crate::questions::tune::{Stages, Task, Trial, Tuned, sums};

/// The page of a house with settings started from: the answer, trade-offs, what matters, winters kept back, the coldest night, what it rests on.
#[must_use]
pub fn page(
    task: &Task,
    stages: &Stages,
    tuned: &Tuned,
    [house, settings]: [&str; 2],
    units: Units,
) -> Page {
    let words = Words::new(units);
    let mut sections = Vec::new();
    if let Some(night) = &tuned.night {
        let target = task.base.target.to_fixed().to_num();
        let heading = if tuned.why.is_some() {
            "Where the slab is lost"
        } else {
            "A cold night, before and after"
        };
        let chart = charts::night(night, target, units);
        sections.push(Section::new(heading, vec![Block::Plot(Box::new(chart))]));
    }
    sections.push(changes(tuned, &words, units));
    if !tuned.finals.is_empty() {
        sections.push(trade_offs(tuned, &words));
    }
    if !tuned.swept.is_empty() {
        sections.push(sensitivity(tuned, &words, units));
    }
    if !tuned.kept_back.is_empty() {
        sections.push(winters(
            "Winters kept back: not tuned on",
            &text::winters_line(&task.kept_back),
            &tuned.kept_back,
            &words,
        ));
    }
    if !tuned.tuned_on.is_empty() {
        let title = "Winters tuned on";
        let names = text::winters_line(&task.tuned_on);
        sections.push(winters(title, &names, &tuned.tuned_on, &words));
    }
    sections.push(rests_on(task, stages, tuned, settings, units));
    Page {
        title: "Settings for this site".to_owned(),
        house: house.to_owned(),
        subtitle: Some(format!(
            "{} days from {}, {} winters tuned on, {} kept back",
            task.season.days,
            task.season.from.strftime("%-d %B"),
            task.tuned_on.len(),
            task.kept_back.len()
        )),
        headline: Some(headline(task, tuned, &words)),
        sections,
        foot: cautions(),
    }
}

fn headline(task: &Task, tuned: &Tuned, words: &Words) -> Headline {
    let (before, after) = sums(tuned.kept_back.iter());
    let (word, tone) = match tuned {
        _ if !tuned.holds() => ("Does not hold", Tone::Bad),
        _ if tuned.stopped => ("Stopped", Tone::Neutral),
        _ if crate::questions::tune::better(&before, &after) => ("No better", Tone::Bad),
        _ if crate::questions::tune::better(&after, &before) => ("Better", Tone::Good),
        _ => ("As good", Tone::Neutral),
    };
    let mut details = text::why(tuned, words);
    if !tuned.kept_back.is_empty() {
        details.push(format!(
            "In winters kept back, a winter: {}.",
            words.from_to(&before, &after)
        ));
    }
    details.extend(text::warnings(task, tuned, words));
    Headline {
        word: word.to_owned(),
        tone,
        sentence: text::answer(task, tuned, words),
        details,
    }
}

fn table<const N: usize>(head: [&str; N], numbers: usize, rows: Vec<Vec<String>>) -> Block {
    Block::Table(Table {
        head: head.map(str::to_owned).to_vec(),
        rows,
        numbers,
    })
}

fn changes(tuned: &Tuned, words: &Words, units: Units) -> Section {
    let with = tuned.in_turn.unwrap_or_default();
    let rows: Vec<Vec<String>> = tuned
        .space
        .changed(&tuned.chosen)
        .iter()
        .map(|p| {
            let found = tuned.reverted.iter().find(|r| r.parameter.key == p.key);
            let worth = match found {
                Some(reverted) => reverted.score.as_ref().map_or_else(
                    || "cannot be taken back alone".to_owned(),
                    |without| words.change(&with, without, WINTERS),
                ),
                None => "not looked at".to_owned(),
            };
            vec![
                p.key.field().name.to_owned(),
                words::value(p.key, p.of(tuned.space.base().raw()), units),
                words::value(p.key, p.of(tuned.chosen.raw()), units),
                worth,
                p.why.to_owned(),
            ]
        })
        .collect();
    let mut blocks = Vec::new();
    if rows.is_empty() {
        blocks.push(Block::Paragraph("Nothing.".to_owned()));
    } else {
        blocks.push(table(
            [
                "Setting",
                "Before",
                "Found",
                "Without this change alone, a whole winter",
                "What it weighs",
            ],
            0,
            rows,
        ));
    }
    let pairs = text::pair_lines(tuned, words);
    if !pairs.is_empty() {
        blocks.push(Block::Paragraph(
            "Two at a time: what two moves away from the settings found do together beyond what each does alone \
             (coldest weeks). Changes are moved back, other settings that matter half way to an end of their range."
                .to_owned(),
        ));
        let rows = pairs.into_iter().map(|pair| pair.to_vec()).collect();
        blocks.push(table(["One", "The other", "Beyond each alone"], 0, rows));
    } else if !tuned.pairs.is_empty() {
        blocks.push(Block::Paragraph(
            "No two settings do more together than alone by anything worth noticing.".to_owned(),
        ));
    }
    Section::new("What was changed", blocks)
}

fn trade_offs(tuned: &Tuned, words: &Words) -> Section {
    let number = |score: &Score, aim: Aim| words.amount(aim, words::shown(score, aim));
    let rows = text::front(tuned)
        .into_iter()
        .map(|(place, judged)| {
            let name = match text::mark(tuned, place) {
                "*" => format!("{place} (found)"),
                "o" => format!("{place} (started from)"),
                _ => place.to_string(),
            };
            let mut row = vec![name];
            row.extend(AIMS.iter().map(|line| number(&judged.score, line.aim)));
            row.push(words.temperature(judged.score.slab_min_c()));
            row.push(words::list(&tuned.space, &judged.candidate, words.units()));
            row
        })
        .collect();
    let note = format!(
        "Aims in their order: {}. Numbers within one step of each other count as the same, and the next aim decides. \
         --take NUMBER writes another row instead.",
        AIMS.iter()
            .map(|line| format!("{} (step {})", line.name, words.amount(line.aim, line.step)))
            .collect::<Vec<_>>()
            .join(", ")
    );
    Section::new(
        "Trade-offs",
        vec![
            Block::Plot(Box::new(charts::trade_offs(tuned, words, Aim::Wood, Aim::Hold))),
            Block::Plot(Box::new(charts::trade_offs(
                tuned,
                words,
                Aim::Electricity,
                Aim::Starts,
            ))),
            Block::Paragraph(
                "None of these beats another in every aim; whole winters, each with one sensor error in turn."
                    .to_owned(),
            ),
            table(
                ["Number", "In danger", "Below target", "Wood", "Electricity", "Starts", "Coldest", "Changes"],
                6,
                rows,
            ),
            Block::Note(note),
            Block::Plot(Box::new(charts::tried(tuned, words))),
        ],
    )
}

fn sensitivity(tuned: &Tuned, words: &Words, units: Units) -> Section {
    let mut blocks: Vec<Block> = [Aim::Hold, Aim::Wood, Aim::Starts]
        .into_iter()
        .filter_map(|aim| charts::sensitivity(tuned, words, aim, units))
        .map(|plot| Block::Plot(Box::new(plot)))
        .collect();
    let none: Vec<&str> = text::without_effect(tuned)
        .iter()
        .map(|swept| swept.parameter.key.field().name)
        .collect();
    blocks.push(Block::Paragraph(if none.is_empty() {
        "Every setting tried matters here.".to_owned()
    } else {
        format!(
            "What does not matter here: {}. Moved to either end of its range, nothing changes by a step.",
            none.join(", ")
        )
    }));
    Section::new("What matters", blocks)
}

fn winters(title: &str, names: &str, trials: &[Trial], words: &Words) -> Section {
    let by_error: Vec<(String, Score, Score)> = ERRORS
        .iter()
        .map(|error| {
            let (before, after) = sums(trials.iter().filter(|trial| trial.error == *error));
            (error.name.to_owned(), before, after)
        })
        .collect();
    let row = |name: String, before: &Score, after: &Score| {
        let both = |of: &dyn Fn(&Score) -> String| format!("{} → {}", of(before), of(after));
        let mut row = vec![name];
        row.extend(
            AIMS.iter()
                .map(|line| both(&|s| words.amount(line.aim, words::shown(s, line.aim)))),
        );
        row.push(both(&|s| format!("{:.0}", s.nights())));
        row.push(both(&|s| words.temperature(s.slab_min_c())));
        row
    };
    let mut rows: Vec<Vec<String>> = trials
        .iter()
        .map(|t| {
            row(
                format!("{}, {}", t.winter + 1, t.error.name),
                &t.before,
                &t.after,
            )
        })
        .collect();
    rows.extend(
        by_error
            .iter()
            .map(|(name, before, after)| row(format!("all, {name}"), before, after)),
    );
    let mut blocks = vec![Block::Paragraph(format!("Winters: {names}."))];
    blocks.extend(
        [Aim::Hold, Aim::Wood]
            .into_iter()
            .filter_map(|aim| charts::errors(&by_error, words, aim))
            .map(|plot| Block::Plot(Box::new(plot))),
    );
    blocks.push(table(
        [
            "Winter",
            "In danger",
            "Below target",
            "Wood",
            "Electricity",
            "Starts",
            "Nights with fire",
            "Coldest",
        ],
        7,
        rows,
    ));
    Section::new(title, blocks)
}

fn rests_on(task: &Task, stages: &Stages, tuned: &Tuned, settings: &str, units: Units) -> Section {
    let mut points = vec![
        format!("Settings started from: {settings}. Seed {}.", task.seed),
        format!(
            "Sensor errors: slab and outdoor {} K warm or cold, and 0.2 K between supply and return the way that makes it \
             worse. The slab is judged where its sensor is, without the sensor's error.",
            task.error_k
        ),
        "Danger is a slab at or below 0.5 °C, or a circulator stopped by the supply limit.".to_owned(),
        "Frost and pipe limits, supply, slab and store limits, minimum times and the emergency call are not tuned.".to_owned(),
        "A model of the house and typical years, not your house and next winter: trust differences more than numbers. A \
         winter that is another spell laid over the same year shares its other days."
            .to_owned(),
    ];
    points.extend(text::work_lines(stages, tuned));
    let mut points: Vec<String> = points.iter().map(|point| told(point, units)).collect();
    points.extend(task.notes.iter().cloned());
    Section::new("What this rests on", vec![Block::List(points)])
}
