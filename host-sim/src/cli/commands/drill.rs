//! `host-sim drill`

use std::path::Path;

use anyhow::{Context as _, bail};
use rayon::prelude::*;
use serde::Serialize;

use super::Outcome as Ended;
use crate::account::sinks::{RunSinks, TraceWriter};
use crate::cli::Drill as Args;
use crate::files::input;
use crate::files::output::{self, OutputFile, OutputSet};
use crate::files::quantity::{self, Units};
use crate::present::drill::Timeline;
use crate::present::page::{Headline, Tone};
use crate::present::{self, Context, Report};
use crate::questions::drill::{self, Drill, Outcome};

pub(super) fn run(args: &Args) -> anyhow::Result<Ended> {
    let (drills, from) = drills(args.file.as_deref())?;
    if args.list {
        let text = if args.json {
            json_list(&drills)?
        } else {
            present::drill::list(&drills, args.shown.units)
        };
        output::print(&text)?;
        return Ok(Ended::Done);
    }
    match &args.drill {
        Some(name) => one(args, find(&drills, name)?, &from),
        None if args.report.is_some() || args.trace.is_some() => {
            bail!(
                "--report and --trace show one drill: name it with --drill NAME; --list shows all"
            )
        }
        None => all(args, &drills),
    }
}

/// The drills asked for, and where they are from.
fn drills(file: Option<&Path>) -> anyhow::Result<(Vec<Drill>, String)> {
    let Some(path) = file else {
        return Ok((drill::built_in()?, "built in".to_owned()));
    };
    let name = path.display().to_string();
    let text = input::text(path).with_context(|| format!("{name}: cannot be read"))?;
    Ok((drill::parse(&text, &name)?, name))
}

fn find<'a>(drills: &'a [Drill], name: &str) -> anyhow::Result<&'a Drill> {
    drills.iter().find(|drill| drill.name == name).with_context(|| {
        let near: Vec<_> = drills
            .iter()
            .filter(|drill| name.split('-').any(|word| word.len() > 2 && drill.name.contains(word)))
            .map(|drill| drill.name.as_str())
            .collect();
        let near = if near.is_empty() { String::new() } else { format!("; like it: {}", near.join(", ")) };
        format!("--drill: found \"{name}\"; expected a drill's name{near}. `host-sim drill --list` shows all")
    })
}

/// Runs every drill and prints the table.
fn all(args: &Args, drills: &[Drill]) -> anyhow::Result<Ended> {
    let outcomes = drills
        .par_iter()
        .map(|drill| drill::run(drill, &mut |_| Ok(())).with_context(|| drill.name.clone()))
        .collect::<anyhow::Result<Vec<_>>>()?;
    let results: Vec<_> = drills.iter().zip(&outcomes).collect();
    let text = if args.json {
        json(&results)?
    } else {
        frozen(&results) + &present::drill::table(&results, args.shown.units)
    };
    output::print(&text)?;
    Ok(ended(&outcomes))
}

/// What comes before all others: in which drills water froze solid.
fn frozen(results: &[(&Drill, &Outcome)]) -> String {
    let names: Vec<&str> = results
        .iter()
        .filter(|(_, outcome)| {
            outcome
                .ending
                .is_some_and(|ending| ending.frozen_ms.is_some())
        })
        .map(|(drill, _)| drill.name.as_str())
        .collect();
    if names.is_empty() {
        return String::new();
    }
    format!(
        "Water froze solid in {}: tubes are likely damaged.\n",
        names.join(", ")
    )
}

/// Runs one drill with its timeline, and draws it if wanted.
fn one(args: &Args, drill: &Drill, from: &str) -> anyhow::Result<Ended> {
    let inputs: Vec<&Path> = args.file.as_deref().into_iter().collect();
    let create = |path: &Option<_>| {
        path.as_deref()
            .map(|path| OutputFile::create(path, &inputs))
            .transpose()
    };
    let trace = create(&args.trace)?.map(|file| TraceWriter::new(Some(file)));
    let report = create(&args.report)?;
    let cancel = output::cancel_on_ctrl_c()?;
    let settings = drill.checked_settings().map_err(anyhow::Error::msg)?;
    let mut sinks = RunSinks::new(&settings, None, report.is_some(), trace);
    let mut timeline = Timeline::new(args.shown.units);
    let outcome = drill::run(drill, &mut |step| {
        timeline.push(step);
        if cancel.requested() {
            return Err(std::io::ErrorKind::Interrupted.into());
        }
        sinks.push(step.report, step.stands_ms, step.extra, step.note)
    })?;
    let mut outputs = OutputSet::new();
    let (numbers, series) = sinks.finish(&mut outputs)?;
    if let (Some(mut file), Some(series)) = (report, &series) {
        let mut context = Context::new(
            format!("Drill: {}", drill.name),
            &settings,
            args.shown.units,
        );
        context.simulated = true;
        context.house = present::house(None, args.file.as_deref());
        context.used = vec![("Drills".to_owned(), from.to_owned())];
        context.notes = vec![quantity::told(&drill.situation, args.shown.units)];
        let mut page = Report {
            numbers: &numbers,
            series,
            context: &context,
            winter: None,
        }
        .page();
        page.headline = Some(headline(drill, &outcome, args.shown.units));
        page.write(&mut file)?;
        outputs.add(file)?;
    }
    outputs.persist(&cancel)?;
    let results = [(drill, &outcome)];
    let text = if args.json {
        json(&results)?
    } else {
        let first = outcome.ending.and_then(|ending| ending.frozen_ms);
        format!(
            "{}{}\n{}\n{}",
            first.map_or(String::new(), |ms| present::drill::froze(ms) + "\n"),
            quantity::told(&drill.situation, args.shown.units),
            timeline.text(),
            present::drill::table(&results, args.shown.units)
        )
    };
    output::print(&text)?;
    Ok(ended(std::slice::from_ref(&outcome)))
}

/// What the drill asks for and what came of it, instead of a season's answer.
fn headline(drill: &Drill, outcome: &Outcome, units: Units) -> Headline {
    let failed = outcome.verdicts.iter().filter(|v| !v.holds).count();
    let below_zero = outcome.ending.is_some_and(|ending| ending.slab_min_c < 0.0);
    let (word, tone, sentence) = match failed {
        0 if below_zero => (
            "The slab froze",
            Tone::Bad,
            "Everything required holds, but the slab fell below freezing.".to_owned(),
        ),
        0 => ("Holds", Tone::Good, "Everything required holds.".to_owned()),
        n => (
            "Fails",
            Tone::Bad,
            format!("{n} of {} required do not hold.", outcome.verdicts.len()),
        ),
    };
    let sentence = match &outcome.ending {
        Some(ending) if ending.frozen_ms.is_some() => {
            format!("{} {sentence}", present::drill::ends(ending, units))
        }
        Some(ending) => format!("{sentence} {}", present::drill::ends(ending, units)),
        None => sentence,
    };
    let verdicts = outcome.verdicts.iter().map(|verdict| {
        let word = if verdict.holds {
            "holds"
        } else {
            "DOES NOT HOLD"
        };
        format!(
            "{} ({}): {}, {word}",
            quantity::told(&verdict.required, units),
            quantity::told(&verdict.deadline, units),
            quantity::told(&verdict.measured, units)
        )
    });
    Headline {
        word: word.to_owned(),
        tone,
        sentence,
        details: std::iter::once(quantity::told(&drill.happens(), units))
            .chain(verdicts)
            .collect(),
    }
}

fn ended(outcomes: &[Outcome]) -> Ended {
    if outcomes.iter().all(Outcome::holds) {
        Ended::Done
    } else {
        Ended::DoesNotHold
    }
}

#[derive(Serialize)]
struct ListedJson<'a> {
    name: &'a str,
    situation: &'a str,
    happens: String,
}

#[derive(Serialize)]
struct DrillJson<'a> {
    name: &'a str,
    situation: &'a str,
    happens: String,
    requirements: Vec<VerdictJson<'a>>,
    holds: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    ends: Option<EndsJson>,
}

#[derive(Serialize)]
struct EndsJson {
    #[serde(skip_serializing_if = "Option::is_none")]
    water_froze_solid_after_s: Option<f64>,
    slab_true_min_c: f64,
    slab_true_min_after_s: f64,
    slab_true_end_c: f64,
    air_min_c: f64,
}

impl From<drill::Ending> for EndsJson {
    fn from(ending: drill::Ending) -> Self {
        let hundredth = |value: f64| (value * 100.0).round() / 100.0;
        let seconds = |ms: u64| ms as f64 / 1_000.0;
        Self {
            water_froze_solid_after_s: ending.frozen_ms.map(seconds),
            slab_true_min_c: hundredth(ending.slab_min_c),
            slab_true_min_after_s: seconds(ending.slab_min_ms),
            slab_true_end_c: hundredth(ending.slab_end_c),
            air_min_c: hundredth(ending.air_min_c),
        }
    }
}

#[derive(Serialize)]
struct VerdictJson<'a> {
    required: &'a str,
    deadline: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    deadline_s: Option<f64>,
    measured: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    measured_value: Option<f64>,
    holds: bool,
}

#[derive(Serialize)]
struct AllJson<'a> {
    drills: Vec<DrillJson<'a>>,
    failed: usize,
}

fn json_list(drills: &[Drill]) -> anyhow::Result<String> {
    let listed: Vec<_> = drills
        .iter()
        .map(|drill| ListedJson {
            name: &drill.name,
            situation: &drill.situation,
            happens: drill.happens(),
        })
        .collect();
    let mut text = serde_json::to_string_pretty(&serde_json::json!({ "drills": listed }))?;
    text.push('\n');
    Ok(text)
}

fn json(results: &[(&Drill, &Outcome)]) -> anyhow::Result<String> {
    let drills: Vec<_> = results
        .iter()
        .map(|(drill, outcome)| DrillJson {
            name: &drill.name,
            situation: &drill.situation,
            happens: drill.happens(),
            requirements: outcome
                .verdicts
                .iter()
                .map(|v| VerdictJson {
                    required: &v.required,
                    deadline: &v.deadline,
                    deadline_s: v.deadline_s,
                    measured: &v.measured,
                    measured_value: v.measured_value,
                    holds: v.holds,
                })
                .collect(),
            holds: outcome.holds(),
            ends: outcome.ending.map(EndsJson::from),
        })
        .collect();
    let failed = drills.iter().filter(|drill| !drill.holds).count();
    let mut text = serde_json::to_string_pretty(&AllJson { drills, failed })?;
    text.push('\n');
    Ok(text)
}
