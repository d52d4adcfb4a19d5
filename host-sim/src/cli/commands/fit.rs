//! `host-sim fit`

use std::io::{IsTerminal as _, Write as _};

use anyhow::{Context as _, bail};
use indicatif::{ProgressBar, ProgressStyle};
use jiff::civil::{Date, DateTime};

use super::{Inputs, Outcome, progress_bar};
use crate::cli::Fit;
use crate::files;
use crate::files::log::{LogReader, Noticed, Quantity, ReaderOptions};
use crate::files::output::{self, OutputSet};
use crate::files::site::{Site, demo_toml};
use crate::files::{input, weather::WeatherError};
use crate::present::fit::{Shown, page, terminal, to_json};
use crate::present::house;
use crate::questions::fit::compare::compare;
use crate::questions::fit::estimate;
use crate::questions::fit::model::Case;
use crate::questions::fit::plan::Plan;
use crate::questions::fit::record::{self, LONGEST_MS, Record};
use crate::questions::fit::verdict::{Fitted, fit, gate, nothing};
use crate::questions::fit::weather::Beside;
use crate::questions::fit::written::{Change, changes, site_file};

/// A weather file whose outdoor air follows the log's less closely than this is of other dates or another place.
const LEAST_CORRELATION: f64 = 0.8;

pub(super) fn run(args: &Fit) -> anyhow::Result<Outcome> {
    let units = args.answer.shown.units;
    let mut inputs = Inputs::new();
    inputs.add([&args.log]);
    inputs.add(args.weather.iter().chain(&args.compare));
    let site = inputs.site(args.site.as_ref())?;
    let original = match &args.site {
        Some(path) => input::text(path).with_context(|| path.display().to_string())?,
        None => demo_toml(units),
    };
    let earlier = args
        .compare
        .as_deref()
        .map(|path| input::text(path).with_context(|| path.display().to_string()))
        .transpose()?;
    let written = inputs.output(args.write.as_ref())?;
    let report = inputs.output(args.answer.report.as_ref())?;
    let cancel = output::cancel_on_ctrl_c()?;

    let (record, mut notes) = read(args)?;
    let (beside, sun) = beside(args, &record, &site)?;
    let days = (record.start.date(), record.at(record.minutes.len()).date());
    let conditions = beside.conditions(&record);
    let plan = plan(args, &record, &conditions, days.0)?;
    let refused = gate(&plan);
    let case = Case::new(record, conditions, plan, args.weather.is_some());
    let bar = bar();
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(usize::from(args.cores))
        .build()
        .context("--cores")?;
    let plant = &site.config.plant;
    let fitted = match refused {
        Some(refused) => nothing(plant, refused),
        None => pool.install(|| fit(&case, plant, &cancel, &bar)),
    };
    bar.finish_and_clear();

    let changes = changes(&fitted, &site.config);
    let compared = earlier.map_or_else(Vec::new, |earlier| compare(&earlier, &changes));
    if args.compare.is_some() && compared.is_empty() {
        notes.push(
            "The earlier file holds no fitted value that this log tells: nothing is compared."
                .to_owned(),
        );
    }
    let is_written = fitted.is_worth_writing();
    notes.push(said_of_file(args, &fitted));
    notes.extend(site.remarks(units));
    let name = house(site.config.name.as_deref(), args.site.as_deref());
    let used = [
        ("Log".to_owned(), args.log.display().to_string()),
        (
            "Site".to_owned(),
            args.site.as_ref().map_or_else(
                || "the demo's, as no file was given".to_owned(),
                |path| path.display().to_string(),
            ),
        ),
        ("Sun and sky".to_owned(), sun),
    ];
    let shown = Shown {
        fitted: &fitted,
        case: &case,
        changes: &changes,
        compared: &compared,
        house: &name,
        days,
        used: &used,
        notes: &notes,
        units,
    };
    let mut outputs = OutputSet::new();
    if let Some(mut file) = written.filter(|_| is_written) {
        let text = checked(&original, &changes, case.plan.nights, days)?;
        file.write_all(text.as_bytes())?;
        outputs.add(file)?;
    }
    if let Some(mut file) = report {
        page(&shown).write(&mut file)?;
        outputs.add(file)?;
    }
    // Ctrl-C asked for the best so far: it is written.
    outputs.persist(&crate::sim::cancel::Cancel::new())?;
    output::print(&if args.answer.json {
        to_json(&shown)?
    } else {
        terminal(&shown)
    })?;
    Ok(if is_written {
        Outcome::Done
    } else {
        Outcome::DoesNotHold
    })
}

/// The log by the minute, and what is to be said of it.
fn read(args: &Fit) -> anyhow::Result<(Record, Vec<String>)> {
    let options = ReaderOptions {
        prefer_dates: true,
        ..args.form.options()
    };
    let mut reader = LogReader::open(&args.log, &options)?;
    let name = args.log.display();
    for (quantity, example) in [
        (Quantity::Slab, "slab_c"),
        (Quantity::Outdoor, "outdoor_c"),
        (Quantity::Circulator, "circulator"),
    ] {
        if !reader.has(quantity) {
            bail!(
                "{name}: found no column {example}; expected it, since nights are told by the slab's and the outdoor temperature and by \
                 when the circulator ran; name it with --column {example}=HEADER"
            );
        }
    }
    let first = match (args.start, record::first_row(reader.start())) {
        (Some(start), _) => start,
        (None, Some(first)) => first,
        (None, None) => bail!(
            "{name}: found times in seconds, which tell no date; expected dates, or the time of the first row with \
             --start \"YYYY-MM-DD HH:MM\""
        ),
    };
    let bar = progress_bar(reader.total_bytes(), true);
    let record = record::read(&mut reader, first, &mut |bytes| bar.set_position(bytes))?;
    bar.finish_and_clear();
    if record.interval_ms > LONGEST_MS {
        bail!(
            "{name}: found rows {} min apart; expected {} min or less, since a run of the circulator is shorter",
            record.interval_ms / 60_000,
            LONGEST_MS / 60_000
        );
    }
    let noticed = Noticed::of(&reader, &[], None);
    Ok((record, noticed.questions))
}

/// Sun and sky beside the log, and where they are from.
fn beside(args: &Fit, record: &Record, site: &Site) -> anyhow::Result<(Beside, String)> {
    let Some(path) = &args.weather else {
        let judged = Beside::judged(record, &site.config)?;
        let name =
            "judged from the log's daily swing; a weather file of these dates would tell more";
        return Ok((judged, name.to_owned()));
    };
    let year = files::weather::read(path)?;
    let measured = Beside::measured(record, &year, &site.config).map_err(|error| match error {
        WeatherError::Log { text, .. } => anyhow::anyhow!("{}: {text}", path.display()),
        error => error.into(),
    })?;
    let correlation = measured.air_correlation(record);
    if correlation < LEAST_CORRELATION {
        bail!(
            "{}: found outdoor air that follows the log's with a correlation of {correlation:.2}; expected {LEAST_CORRELATION} or more. \
             This weather is of other dates, another place or another time zone; a typical year will not do",
            path.display()
        );
    }
    Ok((measured, path.display().to_string()))
}

/// The plan, with days kept back and days left out by the person.
fn plan(
    args: &Fit,
    record: &Record,
    conditions: &[crate::sim::plant::OutdoorConditions],
    first: Date,
) -> anyhow::Result<Plan> {
    let days = record.minutes.len() / (24 * 60);
    let kept = args
        .keep_back
        .map_or_else(|| days.div_ceil(4).max(3), usize::from);
    let mut excluded = Vec::new();
    for text in &args.leave_out {
        let (from, to) = text.split_once("..").unwrap_or((text, text));
        let day = |text: &str| {
            let date: Date = text.trim().parse().with_context(|| {
                format!(
                    "--leave-out: found \"{text}\"; expected YYYY-MM-DD or YYYY-MM-DD..YYYY-MM-DD"
                )
            })?;
            // A day of the plan goes from noon to noon; that of a date begins at its noon.
            let days = first.until(date).map_or(0, |span| span.get_days());
            anyhow::Ok(usize::try_from(days + 1).unwrap_or(0))
        };
        excluded.extend(day(from)?..=day(to)?);
    }
    Ok(Plan::new(record, conditions, kept, &excluded))
}

/// The site file with the changes, read back before anybody relies on it.
fn checked(
    original: &str,
    changes: &[Change],
    nights: usize,
    days: (Date, Date),
) -> anyhow::Result<String> {
    let text = site_file(original, changes, nights, days)
        .map_err(|error| anyhow::anyhow!("the site file cannot be changed: {error}"))?;
    Site::parse(&text, "the fitted site file").context("a value found is not possible")?;
    Ok(text)
}

/// Whether the file was written.
fn said_of_file(args: &Fit, fitted: &Fitted) -> String {
    match (&args.write, fitted.is_worth_writing()) {
        (Some(path), true) => format!("The site file with these values is {}.", path.display()),
        (Some(path), false) => format!("{} is not written.", path.display()),
        (None, true) => "Give --write FILE.toml to have a site file with these values.".to_owned(),
        (None, false) => "There is nothing worth writing into a site file.".to_owned(),
    }
}

/// Runs of the house, with the time left, where a person looks.
fn bar() -> ProgressBar {
    if !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let style = ProgressStyle::with_template("{bar:32} {percent:>3} %  {eta} left  fitting")
        .unwrap_or_else(|_| ProgressStyle::default_bar());
    ProgressBar::new(estimate::RUNS).with_style(style)
}

/// A time as typed for `--start`.
pub(crate) fn start(text: &str) -> Result<DateTime, String> {
    text.trim()
        .parse()
        .map_err(|_| "expected a date and a time, such as \"2025-12-01 18:00\"".to_owned())
}
