//! `host-sim replay`

use std::path::Path;

use super::{Files, Outcome, Shown, progress_bar, settings, show};
use crate::account::metrics::{MetricsOptions, SummaryNumbers};
use crate::account::sinks::RunSinks;
use crate::cli::Replay;
use crate::files::log::{LogReader, Noticed, Quantity};
use crate::files::output::{self, OutputSet};
use crate::files::settings_file;
use crate::present::{self, Context, wrap_at};
use crate::questions::replay::{KNOWN_COLUMNS, is_trace, reader_options, replay, settings_for};

/// Width of the screen.
const WIDTH: usize = 80;

pub(super) fn run(args: &Replay) -> anyhow::Result<Outcome> {
    let (asked, settings_name) = settings(args.settings.as_deref())?;
    let options = reader_options(args.form.options());
    let reader = LogReader::open(&args.log, &options)?;
    let settings = settings_for(&reader, &asked);
    let inputs: Vec<&Path> = [Some(args.log.as_path()), args.settings.as_deref()]
        .into_iter()
        .flatten()
        .collect();
    // Before there is a file that would stay behind.
    let cancel = output::cancel_on_ctrl_c()?;
    let files = Files::open(&args.results, &inputs)?;
    let start = reader.clock().first();
    let mut sinks = RunSinks::new(&settings, start, files.report.is_some(), files.trace);

    let bar = progress_bar(reader.total_bytes(), true);
    let reader = replay(reader, &settings, &mut sinks, &cancel, &mut |bytes| {
        bar.set_position(bytes)
    })?;
    bar.finish_and_clear();

    let mut outputs = OutputSet::new();
    let (mut numbers, series) = sinks.finish(&mut outputs)?;
    let clock = reader.clock();
    numbers.label_times(|ms| clock.label(i64::try_from(ms).unwrap_or(i64::MAX)));
    numbers.settings_sha256 = Some(settings_file::sha256(settings.raw()));
    let options = MetricsOptions::from_settings(&settings, start);
    numbers.cop = per_logged_electricity(&numbers, options.pump_w);
    let mut noticed = Noticed::of(&reader, &KNOWN_COLUMNS, numbers.gap_hours);
    if settings.sensor_cycle != asked.sensor_cycle {
        noticed.remarks.push(
            "rows come faster than the sensor cycle set: the controller is stepped once a second, as with sensor_cycle = \"1 s\""
                .to_owned(),
        );
    }

    if !is_trace(&reader) {
        noticed.remarks.extend(unknown_relays(&reader));
    }

    let mut context = Context::new(
        format!(
            "Replay of {}",
            args.log
                .file_name()
                .unwrap_or(args.log.as_os_str())
                .to_string_lossy()
        ),
        &settings,
        args.results.answer.shown.units,
    );
    context.house = present::house(None, Some(&args.log));
    context.start = start;
    context.period = Some(format!(
        "{} to {}",
        clock.label(0),
        clock.label(reader.summary().last_ms)
    ));
    context.used = vec![
        ("Log".to_owned(), args.log.display().to_string()),
        ("Settings".to_owned(), settings_name),
    ];
    context.questions.clone_from(&noticed.questions);
    context.notes = notes(&reader, &noticed);
    let text = screen(&present::terminal(&numbers, &context), &noticed);
    numbers.log = Some(noticed);
    let shown = Shown {
        numbers: &numbers,
        series: series.as_ref(),
        context: &context,
        winter: None,
    };
    show(&shown, &args.results, files.report, outputs, &cancel, &text)?;
    Ok(Outcome::Done)
}

/// Heat of the logged water by the electricity of the circulator that moved it: known only where the log tells when it ran.
fn per_logged_electricity(numbers: &SummaryNumbers, pump_w: f64) -> Option<f64> {
    let ratio = numbers.cop?;
    let logged = numbers.agreement.as_ref()?.circulator.as_ref()?;
    if logged.ours_on_theirs_off_hours == 0.0 && logged.ours_off_theirs_on_hours == 0.0 {
        return Some(ratio);
    }
    /// Share of the time for which the log tells it.
    const KNOWN: f64 = 0.99;
    let hours = numbers.circulator_hours - logged.ours_on_theirs_off_hours
        + logged.ours_off_theirs_on_hours;
    let kwh = hours * pump_w / 1_000.0;
    let is_known = logged.compared_hours >= KNOWN * numbers.days * 24.0 && kwh > 0.0;
    let heat = numbers.earth_heat_kwh.filter(|_| is_known)?;
    Some((heat / kwh * 1_000.0).round() / 1_000.0)
}

/// Questions first: they may make the answer worthless. Remarks after it.
fn screen(answer: &str, noticed: &Noticed) -> String {
    let mut text = String::new();
    let add = |text: &mut String, marks: [&str; 2], line: &str| {
        let width = WIDTH - marks[0].len();
        for (n, line) in wrap_at(line, width).iter().enumerate() {
            text.push_str(marks[n.min(1)]);
            text.push_str(&line.replace(char::is_control, "\u{fffd}"));
            text.push('\n');
        }
    };
    for question in &noticed.questions {
        add(&mut text, ["", ""], question);
    }
    if !noticed.questions.is_empty() {
        text.push('\n');
    }
    text.push_str(answer);
    if !noticed.remarks.is_empty() {
        text.push_str("Of the log:\n");
    }
    for remark in &noticed.remarks {
        add(&mut text, ["- ", "  "], remark);
    }
    text
}

/// What follows from relays that the log does not tell.
fn unknown_relays(reader: &LogReader) -> Option<String> {
    let (what, then) = match (
        reader.has(Quantity::Circulator),
        reader.has(Quantity::BoilerCall),
    ) {
        (true, true) => return None,
        (true, false) => ("boiler", "fire and heat"),
        (false, true) => ("circulator", "flow"),
        (false, false) => ("circulator and boiler", "flow, fire and heat"),
    };
    Some(format!(
        "the log does not tell when the {what} ran: taken as decided here, and no alarm is about {then}"
    ))
}

/// What a report says of the log itself.
fn notes(reader: &LogReader, noticed: &Noticed) -> Vec<String> {
    let mut notes = vec![format!("{} rows of the log were read", noticed.rows)];
    notes.extend(noticed.remarks.iter().cloned());
    if !is_trace(reader) {
        notes.push(
            "the relays of a log are somebody else's: the controller runs in shadow mode, and flow, heat, proofs and alarms follow what ran, \
             as far as the log tells"
                .to_owned(),
        );
    }
    notes
}
