//! `host-sim spells`

use std::ops::Range;
use std::path::{Path, PathBuf};

use anyhow::{Context as _, anyhow, bail};
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::{Outcome, progress_bar};
use crate::cli::Spells;
use crate::files::output::{self, OutputError, OutputFile, OutputSet};
use crate::files::quantity::{self, Dimension};
use crate::files::settings_file;
use crate::files::site::Site;
use crate::present::house;
use crate::present::spells::table::Table;
use crate::present::spells::{page, story};
use crate::questions::spells::houses::House;
use crate::questions::spells::results::{Numbered, Results};
use crate::questions::spells::winters::{self, Winters};
use crate::questions::spells::{FaultCount, Question, Spell, Windows, batch};
use crate::sim::cancel::Cancel;

/// Length of a spell unless said otherwise, d.
const DAYS: u32 = 14;
/// Seeds unless said otherwise.
const SEEDS: Range<u64> = 0..200;
const WINTER_SEEDS: Range<u64> = 1..5;
/// Largest scatter of a sensor that is one, K.
const MOST_SCATTER_K: f64 = 2.0;

pub(super) fn run(args: &Spells) -> anyhow::Result<Outcome> {
    let mut houses = houses(args)?;
    if let Some(rule) = args.without {
        houses = houses
            .into_iter()
            .map(|house| house.without(rule))
            .collect();
    }
    if args.fault_free {
        return fault_free(args, houses);
    }
    let question = Question {
        houses,
        windows: Windows::new(args.days.unwrap_or(DAYS))?,
        faults: args.faults.map_or(FaultCount::Mixed, FaultCount::Exactly),
        references: args.references || args.seed.is_some(),
    };
    match args.seed {
        Some(seed) => one(args, &question, seed),
        None => many(args, &question),
    }
}

fn houses(args: &Spells) -> anyhow::Result<Vec<House>> {
    let named = |names: &[String]| {
        let houses: Result<Vec<House>, String> =
            names.iter().map(|name| House::built_in(name)).collect();
        houses.map_err(|problem| anyhow!(problem))
    };
    match &args.site {
        None if args.house.is_empty() => House::usual().map_err(|problem| anyhow!(problem)),
        None => named(&args.house),
        Some(path) => {
            let site = Site::read(path)?;
            let house = match &args.settings {
                Some(file) => House::with_settings("site", site.config, settings_file::read(file)?),
                None => House::new("site", site).map_err(|problem| anyhow!(problem))?,
            };
            Ok(vec![house])
        }
    }
}

/// Files this run reads.
fn inputs(args: &Spells) -> Vec<&Path> {
    args.site
        .iter()
        .chain(&args.settings)
        .map(PathBuf::as_path)
        .collect()
}

/// One seed with its story.
fn one(args: &Spells, question: &Question, seed: u64) -> anyhow::Result<Outcome> {
    let every_s = quantity::parse(&args.every, Dimension::Duration).context("--every")?;
    let file = args
        .trace
        .as_deref()
        .map(|path| OutputFile::create(path, &inputs(args)))
        .transpose()?;
    let cancel = output::cancel_on_ctrl_c()?;
    let mut outputs = OutputSet::new();
    let spell = match file {
        None => question.spell(seed, &cancel, None)?,
        Some(mut file) => {
            let mut trace = story::Trace::new(&mut file, (every_s * 1e3) as u64)?;
            let spell = question.spell(seed, &cancel, Some(&mut |step| trace.step(step)))?;
            trace.finish()?;
            outputs.add(file)?;
            spell
        }
    };
    outputs.persist(&cancel)?;
    let text = if args.json {
        serde_json::to_string_pretty(&spell)? + "\n"
    } else {
        story::text(&spell, args.shown.units)
    };
    output::print(&text)?;
    Ok(outcome([&spell].into_iter(), question))
}

/// All the results of a run.
#[derive(Serialize)]
struct All<'a> {
    table: &'a Table,
    spells: &'a [Spell],
}

fn many(args: &Spells, question: &Question) -> anyhow::Result<Outcome> {
    let report = args
        .report
        .as_deref()
        .map(|path| OutputFile::create(path, &inputs(args)))
        .transpose()?;
    let cancel = output::cancel_on_ctrl_c()?;
    let file = open(args, &question.arguments(), &question.fingerprint())?;
    let seeds = args.seeds.clone().unwrap_or(SEEDS);
    let spells = all(args, seeds, file, &cancel, |seed| {
        Ok(question.spell(seed, &cancel, None)?)
    })?;
    let apart = |spell: &&Spell| question.is_known_hazard(spell);
    let table = Table::of(spells.iter().filter(|spell| !apart(spell)));
    let hazards = Table::of(spells.iter().filter(apart));
    let mut outputs = OutputSet::new();
    if let Some(mut file) = report {
        let house = match (&args.site, args.house.as_slice()) {
            (None, []) => "the built-in houses".to_owned(),
            (None, names) => names.join(", "),
            (site, _) => house(
                question
                    .houses
                    .first()
                    .and_then(|house| house.site.name.as_deref()),
                site.as_deref(),
            ),
        };
        page(&house, &table, &hazards, &spells, args.shown.units).write(&mut file)?;
        outputs.add(file)?;
    }
    outputs.persist(&cancel)?;
    let text = if args.json {
        let all = All {
            table: &table,
            spells: &spells,
        };
        serde_json::to_string_pretty(&all)? + "\n"
    } else {
        story::tables(&table, &hazards, &spells, args.shown.units)
    };
    output::print(&text)?;
    Ok(outcome(spells.iter(), question))
}

/// Whole winters with nothing wrong.
fn fault_free(args: &Spells, houses: Vec<House>) -> anyhow::Result<Outcome> {
    let mut scatters_k = Vec::new();
    for text in &args.scatter {
        let scatter_k =
            quantity::parse(text, Dimension::TemperatureDifference).context("--scatter")?;
        if !(0.0..=MOST_SCATTER_K).contains(&scatter_k) {
            let expected = format!("0 K to {MOST_SCATTER_K} K");
            let expected = quantity::told(&expected, args.shown.units);
            bail!("--scatter: found \"{text}\"; expected {expected}");
        }
        scatters_k.push(Some(scatter_k));
    }
    if scatters_k.is_empty() {
        scatters_k.push(None);
    }
    let seeds = args.seeds.clone().unwrap_or(WINTER_SEEDS);
    let question = Winters::new(houses, scatters_k, seeds, args.days)?;
    let cancel = output::cancel_on_ctrl_c()?;
    let file = open(args, &question.arguments(), &question.fingerprint())?;
    let winters = all(args, 0..question.len(), file, &cancel, |number| {
        question.winter(number, &cancel)
    })?;
    let text = if args.json {
        serde_json::to_string_pretty(&winters)? + "\n"
    } else {
        winters::text(&winters, args.shown.units)
    };
    output::print(&text)?;
    Ok(Outcome::Done)
}

/// The file of results, if one is asked for.
fn open<T>(args: &Spells, arguments: &str, question: &str) -> anyhow::Result<Option<Results<T>>>
where
    T: Numbered + Serialize + DeserializeOwned + PartialEq,
{
    match &args.out {
        Some(path) if inputs(args).contains(&path.as_path()) => {
            Err(OutputError::IsInput(path.clone()).into())
        }
        Some(path) => Ok(Some(Results::open(path, arguments, question)?)),
        None => Ok(None),
    }
}

/// Results of all these numbers in order: those the file knows, and the others run now.
fn all<T>(
    args: &Spells,
    numbers: Range<u64>,
    mut file: Option<Results<T>>,
    cancel: &Cancel,
    run: impl Fn(u64) -> anyhow::Result<T> + Sync,
) -> anyhow::Result<Vec<T>>
where
    T: Numbered + Serialize + DeserializeOwned + PartialEq + Clone + Send,
{
    let mut results: Vec<T> = Vec::new();
    if let Some(file) = &file {
        results.extend(
            file.known()
                .range(numbers.clone())
                .map(|(_, known)| known.clone()),
        );
        if let Some(first) = results.first() {
            file.confirm(&run(first.number())?)?;
        }
    }
    let is_missing = |number: &u64| {
        file.as_ref()
            .is_none_or(|file| !file.known().contains_key(number))
    };
    let missing: Vec<u64> = numbers.filter(is_missing).collect();
    let bar = progress_bar(Some(missing.len() as u64), false);
    let ended = batch::in_order(
        &missing,
        usize::from(args.cores),
        |number| {
            let result = run(number);
            bar.inc(1);
            result
        },
        |result| {
            if let Some(file) = &mut file {
                file.add(&result)?;
            }
            results.push(result);
            Ok(())
        },
    );
    if let (true, Some(path)) = (cancel.requested(), &args.out) {
        bail!(
            "stopped on request; {} has the {} results so far, and the same command goes on from it",
            path.display(),
            results.len()
        );
    }
    ended?;
    bar.finish_and_clear();
    results.sort_by_key(Numbered::number);
    Ok(results)
}

/// Avoidable harm does not hold, but where the hazard is known.
fn outcome<'a>(mut spells: impl Iterator<Item = &'a Spell>, question: &Question) -> Outcome {
    let fails = |spell: &Spell| {
        spell.violation.is_some() || spell.is_avoidable() && !question.is_known_hazard(spell)
    };
    if spells.any(fails) {
        Outcome::DoesNotHold
    } else {
        Outcome::Done
    }
}
