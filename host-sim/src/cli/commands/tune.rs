//! `host-sim tune`

use std::io::{IsTerminal as _, Write as _};
use std::path::PathBuf;

use anyhow::{Context as _, bail};
use controller_core::settings::Mode;
use indicatif::{ProgressBar, ProgressStyle};

use super::{Inputs, Outcome, taken_as_on_call};
use crate::cli::Tune;
use crate::files;
use crate::files::output::{self, OutputSet};
use crate::files::quantity::{self, Dimension, Units};
use crate::files::site::Site;
use crate::present;
use crate::present::house;
use crate::questions::tune::resume::Memory;
use crate::questions::tune::screen::{Season, Winter};
use crate::questions::tune::{self, Budget, Stages, Task, winters};
use crate::sim::cancel::Cancel;

pub(super) fn run(args: &Tune) -> anyhow::Result<Outcome> {
    let units = args.answer.shown.units;
    let mut inputs = Inputs::new();
    let mut site = inputs.site(args.house.site.as_ref())?;
    let fire = taken_as_on_call(&mut site, args.as_tended, units);
    let chosen = inputs.settings(args.house.settings.as_ref(), &site, units)?;
    let (base, settings_name) = (chosen.settings, chosen.name);
    inputs.add(args.weather.iter().chain(&args.keep_back));
    if base.mode != Mode::Winter {
        bail!(
            "{settings_name}: found mode = {}; expected winter, since winters are tuned for",
            base.mode.name()
        );
    }
    let error_k = quantity::parse(&args.sensor_error, Dimension::TemperatureDifference)
        .context("--sensor-error")?;
    if !(0.0..=2.0).contains(&error_k) {
        bail!(
            "--sensor-error: found \"{}\"; expected {}; a digital sensor is good to half a kelvin",
            args.sensor_error,
            quantity::told("0 K to 2 K", units)
        );
    }
    let (tuned_on, kept_back) = winters(args, &site)?;
    let mut notes = notes(&site, &tuned_on, units);
    notes.splice(0..0, chosen.notes.into_iter().chain(fire));
    let house_name = house(site.config.name.as_deref(), args.house.site.as_deref());
    let task = Task {
        site: site.config,
        base,
        tuned_on,
        kept_back,
        season: Season {
            from: args.from,
            days: args.days,
        },
        error_k,
        budget: Budget {
            candidates: args.candidates as usize,
            finalists: args.finalists as usize,
            last: 4,
        },
        seed: args.seed,
        take: args.take,
        notes,
    };
    let stages = Stages::new(&task)?;
    let settings_file = inputs.output(args.write.as_ref())?;
    let report = inputs.output(args.answer.report.as_ref())?;
    let cancel = output::cancel_on_ctrl_c()?;
    let bar = bar(stages.days(&task.budget));
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(usize::from(args.cores))
        .build()
        .context("--cores")?;
    // Last of all: it begins a file.
    let memory = match &args.resume {
        Some(path) => {
            let outputs = [&args.write, &args.answer.report].into_iter().flatten();
            if outputs
                .clone()
                .any(|output| output::same_file(path, output))
            {
                bail!(
                    "{}: found an output of this run; expected another name for the resume file",
                    path.display()
                )
            }
            output::check_apart(path, &inputs.paths())?;
            Memory::open(path, &task.sha256())?
        }
        None => Memory::new(),
    };
    let tuned = pool.install(|| tune::tune(&task, &stages, memory, &cancel, &bar))?;
    bar.finish_and_clear();

    let mut outputs = OutputSet::new();
    if let Some(mut file) = settings_file {
        file.write_all(present::tune::settings_file(&task, &tuned, units).as_bytes())?;
        outputs.add(file)?;
    }
    if let Some(mut file) = report {
        present::tune::page(&task, &stages, &tuned, [&house_name, &settings_name], units)
            .write(&mut file)?;
        outputs.add(file)?;
    }
    // Ctrl-C asked for the best so far: it is written.
    outputs.persist(&Cancel::new())?;
    let text = if args.answer.json {
        present::tune::to_json(&task, &tuned)?
    } else {
        quantity::told(
            &present::tune::terminal(&task, &stages, &tuned, units),
            units,
        )
    };
    output::print(&text)?;
    Ok(if tuned.holds() {
        Outcome::Done
    } else {
        Outcome::DoesNotHold
    })
}

/// Winters to tune on, and winters kept back: the files given, else the site's, else the demo's with its hard one.
fn winters(args: &Tune, site: &Site) -> anyhow::Result<(Vec<Winter>, Vec<Winter>)> {
    let read = |paths: &[PathBuf]| {
        paths
            .iter()
            .map(|path| files::weather::read(path))
            .collect::<Result<Vec<_>, _>>()
    };
    let (mut years, mut back) = (read(&args.weather)?, read(&args.keep_back)?);
    if years.is_empty() {
        years.extend(site.config.own_weather()?);
    }
    if years.is_empty() {
        years.push(files::weather::demo()?);
        if back.is_empty() {
            back.push(files::weather::hard()?);
        }
    }
    let tuned_on = winters::tuned_on(years, args.seed)?;
    let kept_back = winters::kept_back(back, &tuned_on[0], args.seed)?;
    Ok((tuned_on, kept_back))
}

/// What is unusual, left out or filled in, in the site and the weather tuned on.
fn notes(site: &Site, winters: &[Winter], units: Units) -> Vec<String> {
    let mut notes = site.remarks(units);
    for note in winters.iter().flat_map(|winter| winter.year.remarks()) {
        let note = quantity::told(&note, units);
        if !notes.contains(&note) {
            notes.push(note);
        }
    }
    notes
}

/// Days simulated, with the time left, where a person looks.
fn bar(days: u64) -> ProgressBar {
    if !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let style = ProgressStyle::with_template("{bar:32} {percent:>3} %  {eta} left  {msg}")
        .unwrap_or_else(|_| ProgressStyle::default_bar());
    ProgressBar::new(days).with_style(style)
}
