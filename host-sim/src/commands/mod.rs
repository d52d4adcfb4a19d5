//! The verbs: arguments as typed → checked inputs → run → results.

mod drill;
mod listen;
mod replay;
mod send_settings;
mod size;
mod spells;
mod tonight;
mod tune;
mod winter;
mod worth;

use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};

use controller_core::settings::{RawSettings, Settings};
use indicatif::{ProgressBar, ProgressStyle};

use crate::cli::{Cli, FIRST, Results, Verb};
use crate::metrics::SummaryNumbers;
use crate::output::{self, Cancel, OutputFile, OutputSet};
use crate::report::{Context, Report, WinterExtras};
use crate::series::Series;
use crate::sinks::TraceWriter;
use crate::site::{Site, SiteError};
use crate::{settings_file, site};

/// How a run ended; the process's exit code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Done.
    Done,
    /// Done, and what was asked to be checked does not hold.
    DoesNotHold,
}

/// Runs one command line.
///
/// # Errors
/// Arguments, settings, site or input that cannot be used, in words.
pub fn run(cli: Cli) -> anyhow::Result<Outcome> {
    match cli.verb {
        None => {
            output::print(FIRST)?;
            Ok(Outcome::Done)
        }
        Some(Verb::Replay(args)) => replay::run(&args),
        Some(Verb::Winter(args)) => winter::run(&args),
        Some(Verb::Drill(args)) => drill::run(&args),
        Some(Verb::Listen(args)) => listen::run(&args),
        Some(Verb::SendSettings(args)) => send_settings::run(&args),
        Some(Verb::Size(args)) => size::run(&args),
        Some(Verb::Spells(args)) => spells::run(&args),
        Some(Verb::Tonight(args)) => tonight::run(&args),
        Some(Verb::Worth(args)) => worth::run(&args),
        Some(Verb::Tune(args)) => tune::run(&args),
        Some(Verb::Settings(shown)) => {
            output::print(&settings_file::to_toml(&RawSettings::DEFAULT, shown.units))?;
            Ok(Outcome::Done)
        }
        Some(Verb::Site) => {
            output::print(&site::demo_toml())?;
            Ok(Outcome::Done)
        }
    }
}

/// The site asked for.
fn site(path: Option<&Path>) -> Result<Site, SiteError> {
    path.map_or_else(|| Ok(Site::demo()), Site::read)
}

/// The settings asked for, and how to speak of them.
fn settings(path: Option<&Path>) -> anyhow::Result<(Settings, String)> {
    match path {
        Some(path) => Ok((settings_file::read(path)?, path.display().to_string())),
        None => Ok((
            Settings::default(),
            "the demo's, as no file was given".to_owned(),
        )),
    }
}

/// Output files on their way, opened before the work so that a bad name costs nothing.
struct Files {
    trace: Option<TraceWriter>,
    report: Option<OutputFile>,
}

impl Files {
    fn open(results: &Results, inputs: &[&Path]) -> anyhow::Result<Self> {
        let create = |path: &Option<PathBuf>| {
            path.as_deref()
                .map(|path| OutputFile::create(path, inputs))
                .transpose()
        };
        let trace = create(&results.trace)?;
        let wanted = trace.is_some() || results.fingerprint;
        Ok(Self {
            trace: wanted.then(|| TraceWriter::new(trace)),
            report: create(&results.report)?,
        })
    }
}

/// Everything shown at the end of a run.
struct Shown<'a> {
    numbers: &'a SummaryNumbers,
    series: Option<&'a Series>,
    context: &'a Context,
    winter: Option<&'a WinterExtras>,
}

/// Puts every file in place and prints the summary.
fn show(
    shown: &Shown<'_>,
    results: &Results,
    report: Option<OutputFile>,
    mut outputs: OutputSet,
    cancel: &Cancel,
    text: &str,
) -> anyhow::Result<()> {
    if let (Some(mut file), Some(series)) = (report, shown.series) {
        Report {
            numbers: shown.numbers,
            series,
            context: shown.context,
            winter: shown.winter,
        }
        .write(&mut file)?;
        outputs.add(file)?;
    }
    outputs.persist(cancel)?;
    if results.json {
        let mut json = serde_json::to_string_pretty(shown.numbers)?;
        json.push('\n');
        output::print(&json)?;
    } else {
        output::print(text)?;
    }
    Ok(())
}

/// A bar on standard error, only where a person looks and the work is long enough.
fn progress_bar(total: Option<u64>, unit_is_bytes: bool) -> ProgressBar {
    const WORTH_A_BAR: u64 = 8 << 20;
    let long = total.is_some_and(|total| !unit_is_bytes || total > WORTH_A_BAR);
    if !std::io::stderr().is_terminal() || !long {
        return ProgressBar::hidden();
    }
    let template = if unit_is_bytes {
        "{bar:40} {percent:>3} %  {decimal_bytes} of {decimal_total_bytes}  {eta} left"
    } else {
        "{bar:40} {percent:>3} %  {eta} left"
    };
    let style =
        ProgressStyle::with_template(template).unwrap_or_else(|_| ProgressStyle::default_bar());
    ProgressBar::new(total.unwrap_or(0)).with_style(style)
}
