//! `host-sim replay`

use std::path::Path;

use jiff::civil::DateTime;

use super::{Files, Outcome, Shown, progress_bar, settings, show};
use crate::cli::Replay;
use crate::log::{LogReader, LogStart, Quantity, ReaderOptions};
use crate::output::{Cancel, OutputSet};
use crate::replay::{reader_options, replay};
use crate::report::{self, Context};
use crate::settings_file;
use crate::sinks::RunSinks;

pub(super) fn run(args: &Replay) -> anyhow::Result<Outcome> {
    let (settings, settings_name) = settings(args.settings.as_deref())?;
    let options = reader_options(ReaderOptions {
        columns: args.columns.clone(),
        date_order: args.date_order,
        ..ReaderOptions::default()
    });
    let reader = LogReader::open(&args.log, &options)?;
    let inputs: Vec<&Path> = [Some(args.log.as_path()), args.settings.as_deref()]
        .into_iter()
        .flatten()
        .collect();
    let files = Files::open(&args.results, &inputs)?;
    let cancel = Cancel::on_ctrl_c()?;
    let start = wall_clock(reader.start());
    let mut sinks = RunSinks::new(&settings, start, files.report.is_some(), files.trace);

    let bar = progress_bar(reader.total_bytes(), true);
    let reader = replay(reader, &settings, &mut sinks, &cancel, &mut |bytes| {
        bar.set_position(bytes)
    })?;
    bar.finish_and_clear();

    let mut outputs = OutputSet::new();
    let (mut numbers, series) = sinks.finish(&mut outputs)?;
    let clock = reader.start();
    numbers.label_times(|ms| clock.label(i64::try_from(ms).unwrap_or(i64::MAX)));
    numbers.settings_sha256 = Some(settings_file::sha256(settings.raw()));

    let mut context = Context::new(
        format!(
            "Replay of {}",
            args.log
                .file_name()
                .unwrap_or(args.log.as_os_str())
                .to_string_lossy()
        ),
        &settings,
        args.results.shown.units,
    );
    context.start = start;
    context.period = Some(period(&reader, numbers.days));
    context.used = vec![
        ("Log".to_owned(), args.log.display().to_string()),
        ("Settings".to_owned(), settings_name),
    ];
    context.notes = notes(&reader);
    let text = report::terminal(&numbers, &context);
    let shown = Shown {
        numbers: &numbers,
        series: series.as_ref(),
        context: &context,
        winter: None,
    };
    show(&shown, &args.results, files.report, outputs, &cancel, &text)?;
    Ok(Outcome::Done)
}

/// The log's first time on a wall clock, if it has one.
fn wall_clock(start: LogStart) -> Option<DateTime> {
    match start {
        LogStart::Local(time) => Some(time),
        LogStart::Instant { at, offset } => Some(offset.to_datetime(at)),
        LogStart::Seconds { .. } => None,
    }
}

fn period(reader: &LogReader, days: f64) -> String {
    let start = reader.start().label(0);
    let last = (days * 86_400_000.0) as i64;
    format!(
        "{start} to {}, {} rows",
        reader.start().label(last),
        reader.summary().rows
    )
}

/// What a person should know of the log itself.
fn notes(reader: &LogReader) -> Vec<String> {
    let summary = reader.summary();
    let mut notes = Vec::new();
    for quantity in [
        Quantity::Supply,
        Quantity::Return,
        Quantity::Slab,
        Quantity::Outdoor,
    ] {
        if !reader.has(quantity) {
            notes.push(format!(
                "no column {}: that sensor counts as lost (name one with --column {}=HEADER)",
                quantity.name(),
                quantity.name()
            ));
        }
    }
    if reader.has(Quantity::Circulator) || reader.has(Quantity::BoilerCall) {
        notes.push(
            "alarms about flow and heat judge the logged water against this controller's relays: where those differ from the \
             logged ones, they tell of the difference and of nothing broken"
                .to_owned(),
        );
    }
    if summary.gaps > 0 {
        let longest = summary.longest_gap_ms as f64 / 60_000.0;
        notes.push(format!(
            "{} gaps, the longest {longest:.0} min: readings count as missing there",
            summary.gaps
        ));
    }
    if summary.duplicates > 0 {
        notes.push(format!(
            "{} rows with a repeated time: the last one stands",
            summary.duplicates
        ));
    }
    let out_of_range: u64 = summary.out_of_range.iter().sum();
    if out_of_range > 0 {
        notes.push(format!(
            "{out_of_range} readings beyond ±255 °C count as impossible"
        ));
    }
    if summary.newest_first {
        notes.push("the log is newest first and was read from its end".to_owned());
    }
    notes
}
