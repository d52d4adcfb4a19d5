//! `host-sim listen`

use std::fmt::Write as _;
use std::path::Path;
use std::time::Duration;

use anyhow::{Context as _, bail};
use controller_core::sensor::Sensor;
use indicatif::{ProgressBar, ProgressStyle};
use jiff::ZonedDateTime;
use serde::Serialize;

use super::Outcome;
use crate::cli::Listen;
use crate::files::log::{LogError, LogReader, ReaderOptions};
use crate::files::output::{self, OutputFile};
use crate::files::quantity::{self, Dimension, Units};
use crate::files::settings_file;
use crate::serial::capture::Captured;
use crate::serial::conversation::Conversation;
use crate::serial::history;
use crate::serial::listen::listen;
use crate::serial::log_file::LogFile;
use crate::serial::port::SerialPort;
use crate::serial::row::{Columns, Row};
use crate::serial::session::News;
use crate::serial::settings;

pub(super) fn run(args: &Listen) -> anyhow::Result<Outcome> {
    let mut port = SerialPort::new(&args.port);
    match (&args.out, &args.history, &args.settings) {
        (Some(out), ..) => to_log(args, &mut port, out),
        (_, Some(history), _) => read_history(args, &mut port, history),
        (.., Some(settings)) => read_settings(args, &mut port, settings),
        (None, None, None) => bail!("expected --out, --history or --settings"),
    }
}

/// What came of listening.
#[derive(Serialize)]
struct Listened<'a> {
    file: &'a str,
    /// `replay` takes the file.
    replayable: bool,
    /// Why it does not.
    #[serde(skip_serializing_if = "Option::is_none")]
    fault: Option<String>,
    /// Rows in the whole file.
    #[serde(skip_serializing_if = "Option::is_none")]
    file_rows: Option<u64>,
    #[serde(flatten)]
    captured: &'a Captured,
}

fn to_log(args: &Listen, port: &mut SerialPort, out: &Path) -> anyhow::Result<Outcome> {
    let time = args.time.as_deref().map(duration).transpose()?;
    let mut file = LogFile::open(out)?;
    let cancel = output::cancel_on_ctrl_c()?;
    let mut show = Show::new(args.shown.units);
    if file.unfinished() > 0 {
        show.say("the file ends in half a line, which the first row takes the place of");
    }
    let result = listen(port, &mut file, time, &cancel, &mut |news| show.news(news));
    show.bar.finish_and_clear();
    file.close()?;
    let captured = result?;

    let checked = (captured.rows > 0).then(|| count_rows(out));
    let name = out.display().to_string();
    let (replayable, fault, file_rows) = match checked {
        None => (false, None, None),
        Some(Ok(rows)) => (true, None, Some(rows)),
        Some(Err(error)) => (false, Some(error.to_string()), None),
    };
    let listened = Listened {
        file: &name,
        replayable,
        fault,
        file_rows,
        captured: &captured,
    };
    let text = if args.json {
        serde_json::to_string_pretty(&listened)? + "\n"
    } else {
        summary(&listened)
    };
    output::print(&text)?;
    Ok(if replayable {
        Outcome::Done
    } else {
        Outcome::DoesNotHold
    })
}

pub(super) fn duration(text: &str) -> anyhow::Result<Duration> {
    let seconds = quantity::parse(text, Dimension::Duration)
        .with_context(|| format!("--for: found \"{text}\"; expected a time such as \"8 h\""))?;
    Duration::try_from_secs_f64(seconds)
        .with_context(|| format!("--for: found \"{text}\"; expected a time above zero"))
}

/// Reads the file as `replay` would.
fn count_rows(path: &Path) -> Result<u64, LogError> {
    let mut reader = LogReader::open(path, &ReaderOptions::default())?;
    while reader.next_row()?.is_some() {}
    Ok(reader.summary().rows)
}

/// What a person should know at the end.
fn summary(listened: &Listened<'_>) -> String {
    let c = listened.captured;
    let mut text = String::new();
    // Writing to a string cannot fail.
    let _ = match (c.first_s, c.last_s) {
        (Some(first), Some(last)) => writeln!(
            text,
            "{}: {} rows, {:.1} h by the unit's clock",
            listened.file,
            c.rows,
            (last - first) / 3_600.0
        ),
        _ => writeln!(text, "{}: no row came; nothing was written", listened.file),
    };
    if let Some(rows) = listened.file_rows {
        let _ = writeln!(
            text,
            "The file is a log that `host-sim replay` takes, with {rows} rows in all."
        );
    }
    if let Some(fault) = &listened.fault {
        let _ = writeln!(text, "`host-sim replay` does not take it: {fault}");
    }
    let boots: Vec<_> = c
        .boots
        .iter()
        .map(|(cause, n)| format!("{cause} {n}"))
        .collect();
    let told = [
        (
            c.boots.values().sum(),
            "boots of the unit",
            boots.join(", "),
        ),
        (
            c.gaps,
            "gaps between rows",
            format!("the longest {:.0} s", c.longest_gap_s),
        ),
        (
            c.times_moved,
            "times the unit's clock went back",
            "its times were moved on, a comment in the file says by how much".to_owned(),
        ),
        (
            c.reconnections,
            "times the port went away and came back",
            String::new(),
        ),
        (
            c.lines.damaged(),
            "damaged lines",
            format!(
                "wrong checksum {}, none {}, no text {}, too long {}",
                c.lines.wrong_checksum, c.lines.no_checksum, c.lines.not_text, c.lines.too_long
            ),
        ),
        (
            c.lines.half,
            "half lines where the port was opened or went away",
            String::new(),
        ),
        (
            c.lines_lost_by_unit,
            "lines dropped by the unit, as the line was too slow",
            String::new(),
        ),
        (
            c.misfit_rows,
            "rows that do not fit the columns",
            String::new(),
        ),
        (
            c.early_rows,
            "rows that came before the unit said its columns",
            String::new(),
        ),
    ];
    for (count, what, more) in told.iter().filter(|(count, ..)| *count > 0) {
        let more = if more.is_empty() {
            String::new()
        } else {
            format!(" ({more})")
        };
        let _ = writeln!(text, "{count} {what}{more}");
    }
    text
}

/// The course of it on standard error: what happens in lines, the last row in place on a terminal.
struct Show {
    bar: ProgressBar,
    show: quantity::show::Show,
    columns: Option<Columns>,
    rows: u64,
}

impl Show {
    fn new(units: Units) -> Self {
        // Hidden by itself where standard error is no terminal.
        let bar = ProgressBar::no_length();
        let style = ProgressStyle::with_template("{wide_msg}");
        bar.set_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
        Self {
            bar,
            show: quantity::show::Show(units),
            columns: None,
            rows: 0,
        }
    }

    fn say(&self, text: &str) {
        let stamp = ZonedDateTime::now().strftime("%F %T").to_string();
        self.bar.suspend(|| eprintln!("{stamp} {text}"));
    }

    fn news(&mut self, news: &News) {
        let text = match news {
            News::Row(row) => {
                self.rows += 1;
                let row = self.columns.as_ref().and_then(|columns| columns.row(row));
                let row = row.map_or(String::new(), |row| format!("; {}", short(&row, self.show)));
                self.bar.set_message(format!("{} rows{row}", self.rows));
                return;
            }
            News::Began(columns) => {
                self.columns = Some(Columns::new(columns));
                "the unit speaks; Ctrl-C ends".to_owned()
            }
            News::Held(false) => return,
            News::Held(true) => "the unit's outputs rest after three watchdog resets; acknowledge there or cut its power".to_owned(),
            News::Boot(cause) => format!("the unit has booted: {cause}"),
            News::Gap(seconds) => format!("no row for {seconds} s of the unit's time"),
            News::Moved(seconds) => {
                format!("the unit's clock went back; its times are moved on by {seconds} s")
            }
            News::Unplugged => "the port went away; waiting for it".to_owned(),
            News::Back(after) => format!("the port is back after {} s", after.as_secs()),
            News::Quiet(quiet, damaged) => format!(
                "no row for {} min ({damaged} damaged lines so far): has the unit power, is the cable whole, is it the right port?",
                quiet.as_secs() / 60
            ),
        };
        self.say(&text);
    }
}

/// A row as a person reads it.
fn short(row: &Row, show: quantity::show::Show) -> String {
    let mut text = format!("at {} s", row.time_s);
    for sensor in Sensor::ALL {
        if let Some(celsius) = row.reading_c(sensor) {
            text += &format!(", {} {}", sensor.name(), show.temperature(celsius));
        }
    }
    let bits = [
        (row.circulator, "circulator on"),
        (row.boiler_call, "boiler called"),
        (row.bell, "alarm"),
    ];
    for (_, word) in bits.iter().filter(|(is, _)| *is) {
        text += &format!(", {word}");
    }
    text + &row
        .reason
        .map_or(String::new(), |reason| format!(", {}", reason.name()))
}

/// What came of reading the log out.
#[derive(Serialize)]
struct ReadOut<'a> {
    file: &'a str,
    rows: u64,
    rows_lost: u64,
    damaged_lines: u64,
}

fn read_history(args: &Listen, port: &mut SerialPort, path: &Path) -> anyhow::Result<Outcome> {
    // A name that cannot be written is told before the line is read.
    drop(OutputFile::create(path, &[])?);
    let bar = super::progress_bar(None, false);
    let mut conversation = Conversation::open(port)?;
    let history = history::read(&mut conversation, &mut |rows| bar.set_position(rows))?;
    bar.finish_and_clear();
    let name = path.display().to_string();
    if history.rows == 0 {
        bail!(
            "{}: the unit has no row in its log yet; nothing was written",
            args.port
        );
    }
    // Whole, and of use.
    let options = ReaderOptions::default();
    let mut reader = LogReader::from_bytes(&name, history.csv.clone().into_bytes(), &options)?;
    while reader.next_row()?.is_some() {}
    output::write_atomic(path, &[], |file| {
        std::io::Write::write_all(file, history.csv.as_bytes())
    })?;
    let read = ReadOut {
        file: &name,
        rows: history.rows,
        rows_lost: history.lost,
        damaged_lines: conversation.faults().damaged(),
    };
    let text = if args.json {
        serde_json::to_string_pretty(&read)? + "\n"
    } else {
        let lost = match history.lost {
            0 => String::new(),
            lost => format!(", {lost} rows missing in between"),
        };
        format!(
            "{name}: {} rows{lost}; a log that `host-sim replay` takes\n",
            history.rows
        )
    };
    output::print(&text)?;
    Ok(Outcome::Done)
}

/// What came of reading the settings.
#[derive(Serialize)]
struct SettingsRead<'a> {
    file: &'a str,
    settings_sha256: String,
}

fn read_settings(args: &Listen, port: &mut SerialPort, path: &Path) -> anyhow::Result<Outcome> {
    drop(OutputFile::create(path, &[])?);
    let mut conversation = Conversation::open(port)?;
    let settings = settings::read(&mut conversation)?;
    let toml = settings_file::to_toml(&settings, args.shown.units);
    output::write_atomic(path, &[], |file| {
        std::io::Write::write_all(file, toml.as_bytes())
    })?;
    let name = path.display().to_string();
    let text = if args.json {
        serde_json::to_string_pretty(&SettingsRead {
            file: &name,
            settings_sha256: settings_file::sha256(&settings),
        })? + "\n"
    } else {
        format!(
            "{name}: the settings in force in the unit at {}\n",
            args.port
        )
    };
    output::print(&text)?;
    Ok(Outcome::Done)
}
