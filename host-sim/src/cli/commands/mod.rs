//! The verbs: arguments as typed → checked inputs → run → results.

#[cfg(feature = "pc")]
mod compare;
mod drill;
#[cfg(feature = "pc")]
mod fit;
#[cfg(feature = "pc")]
mod identify;
mod lay;
#[cfg(feature = "pc")]
mod listen;
#[cfg(feature = "pc")]
mod page;
mod progress;
mod replay;
#[cfg(feature = "pc")]
mod send_settings;
mod site_file;
mod size;
#[cfg(feature = "pc")]
mod spells;
mod tonight;
#[cfg(feature = "pc")]
mod tune;
#[cfg(feature = "pc")]
mod watch;
pub mod winter;

use std::path::{Path, PathBuf};

use controller_core::settings::{BoilerKind, RawSettings, Settings};

use crate::account::metrics::SummaryNumbers;
use crate::account::series::Series;
use crate::account::sinks::TraceWriter;
use crate::cli::{Cli, FIRST, Results, Verb};
use crate::files::output::{self, OutputError, OutputFile, OutputSet};
#[cfg(feature = "pc")]
use crate::files::quantity::Dimension;
use crate::files::quantity::Units;
#[cfg(feature = "pc")]
use crate::files::quantity::show::Show;
use crate::files::settings_file;
use crate::files::site::{Site, SiteError};
use crate::files::weather::Source;
use crate::present::{Context, Report, WinterExtras};
#[cfg(feature = "pc")]
use crate::questions::compare::ways::tend_on_call;
use crate::questions::own_settings::{mismatches, settings_for};
use crate::sim::cancel::Cancel;

#[cfg(feature = "pc")]
pub(crate) use fit::start as fit_start;
use progress::progress_bar;

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
        Some(Verb::Winter(args)) => winter::run(args),
        Some(Verb::Drill(args)) => drill::run(&args),
        #[cfg(feature = "pc")]
        Some(Verb::Identify(args)) => identify::run(&args),
        Some(Verb::Lay(args)) => lay::run(&args),
        #[cfg(feature = "pc")]
        Some(Verb::Listen(args)) => listen::run(&args),
        #[cfg(feature = "pc")]
        Some(Verb::SendSettings(args)) => send_settings::run(&args),
        Some(Verb::Size(args)) => size::run(&args),
        #[cfg(feature = "pc")]
        Some(Verb::Spells(args)) => spells::run(&args),
        Some(Verb::Tonight(args)) => tonight::run(&args),
        #[cfg(feature = "pc")]
        Some(Verb::Compare(args)) => compare::run(&args),
        #[cfg(feature = "pc")]
        Some(Verb::Fit(args)) => fit::run(&args),
        #[cfg(feature = "pc")]
        Some(Verb::Page(args)) => page::run(&args),
        #[cfg(feature = "pc")]
        Some(Verb::Tune(args)) => tune::run(&args),
        #[cfg(feature = "pc")]
        Some(Verb::Watch(args)) => watch::run(&args),
        Some(Verb::Settings(args)) => {
            let units = args.shown.units;
            let settings = settings_file::rounded(&RawSettings::DEFAULT, units);
            let text = if args.all {
                settings_file::to_toml(&settings, units)
            } else {
                settings_file::yours(&settings, units)
            };
            output::print(&text)?;
            Ok(Outcome::Done)
        }
        Some(Verb::Site(args)) => site_file::run(&args),
    }
}

/// Every file a run reads, those that are named in other files among them: no output may take the place of one.
#[derive(Debug, Default)]
struct Inputs(Vec<PathBuf>);

impl Inputs {
    fn new() -> Self {
        Self::default()
    }

    fn add<'a>(&mut self, paths: impl IntoIterator<Item = &'a PathBuf>) {
        self.0.extend(paths.into_iter().cloned());
    }

    /// The site asked for, and the weather file it names.
    fn site(&mut self, path: Option<&PathBuf>) -> Result<Site, SiteError> {
        self.add(path);
        let site = path.map_or_else(|| Ok(Site::demo()), |path| Site::read(path))?;
        self.add(site.config.weather.as_ref().and_then(Source::path));
        Ok(site)
    }

    /// The settings for a site: those of the file, or without one those that follow from the site.
    fn settings(
        &mut self,
        path: Option<&PathBuf>,
        site: &Site,
        units: Units,
    ) -> anyhow::Result<Chosen> {
        self.add(path);
        Chosen::new(path, site, units)
    }

    fn paths(&self) -> Vec<&Path> {
        self.0.iter().map(PathBuf::as_path).collect()
    }

    /// Begins an output that is none of them.
    fn output(&self, path: Option<&PathBuf>) -> Result<Option<OutputFile>, OutputError> {
        path.map(|path| OutputFile::create(path, &self.paths()))
            .transpose()
    }
}

/// Settings for a site, and what is to be said of them.
struct Chosen {
    settings: Settings,
    /// What they are, in words.
    name: String,
    /// Where they do not fit the site.
    notes: Vec<String>,
}

impl Chosen {
    fn new(path: Option<&PathBuf>, site: &Site, units: Units) -> anyhow::Result<Self> {
        let plant = &site.config.plant;
        let (settings, name) = match path {
            Some(path) => (settings_file::read(path)?, path.display().to_string()),
            None => {
                let settings = Settings::check(settings_for(site)).map_err(|problems| {
                    let first = problems.iter().next().map(ToString::to_string);
                    anyhow::anyhow!(
                        "found a site for which no settings can be made: {}; expected a settings file with --settings",
                        first.unwrap_or_default()
                    )
                })?;
                let name = if *settings.raw() == RawSettings::DEFAULT {
                    "the demo's, as no file was given"
                } else {
                    "made for this site, as no file was given"
                };
                (settings, name.to_owned())
            }
        };
        let mut notes = mismatches(plant, settings.raw(), units);
        let mut raw = *settings.raw();
        if plant.boiler.is_none() && raw.boiler != BoilerKind::None {
            raw.boiler = BoilerKind::None;
            notes.push("The site has no boiler: none is called.".to_owned());
        }
        let settings = Settings::check(raw).unwrap_or(settings);
        Ok(Self {
            settings,
            name,
            notes,
        })
    }
}

#[cfg(feature = "pc")]
/// Has a fire fed by habit taken as fed on call with a sized load, unless it is to stay as tended; says so.
fn taken_as_on_call(site: &mut Site, as_tended: bool, units: Units) -> Option<String> {
    if as_tended {
        return None;
    }
    let load_kg = tend_on_call(&mut site.config.plant)?;
    Some(format!(
        "The fire is taken as fed on call, {} at a time, not by habit: --as-tended leaves it as it is.",
        Show(units).number(load_kg, Dimension::Mass, 0)
    ))
}

/// The settings asked for where there is no site, and how to speak of them.
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
            report: create(&results.answer.report)?,
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
    if results.answer.json {
        let mut json = serde_json::to_string_pretty(shown.numbers)?;
        json.push('\n');
        output::print(&json)?;
    } else {
        output::print(text)?;
    }
    Ok(())
}
