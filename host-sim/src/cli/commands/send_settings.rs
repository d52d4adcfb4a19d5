//! `host-sim send-settings`

use std::fmt::Write as _;
use std::io::{BufRead as _, IsTerminal as _, Write as _};

use anyhow::{Context as _, anyhow, bail};
use controller_core::settings::{Field, Key, Kind, RawSettings};
use serde::Serialize;
use serial_line::note;

use super::Outcome;
use crate::cli::SendSettings;
use crate::files::output;
use crate::files::quantity::Units;
use crate::files::settings_file::{self, value_text};
use crate::serial::conversation::Conversation;
use crate::serial::difference::{self, Change};
use crate::serial::port::SerialPort;
use crate::serial::settings::{self, SendError};

/// How it ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
enum Ending {
    /// The unit has these settings already.
    Equal,
    /// Only shown.
    DryRun,
    /// A person said no.
    Declined,
    /// In force, read back and equal.
    InForce,
    /// The unit refused.
    Refused,
    /// Read back, something else is in force.
    Differs,
}

#[derive(Serialize)]
struct Sent<'a> {
    port: &'a str,
    file: String,
    result: Ending,
    changes: Vec<Changed>,
    /// Steps in force of those needed.
    steps_in_force: usize,
    steps: usize,
    /// What the unit said against it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    problems: Vec<String>,
    /// Fingerprint of the file's settings.
    settings_sha256: String,
}

#[derive(Serialize)]
struct Changed {
    setting: &'static str,
    now: String,
    after: String,
    now_raw: i32,
    after_raw: i32,
    in_file: bool,
}

pub(super) fn run(args: &SendSettings) -> anyhow::Result<Outcome> {
    let (wanted, keys) = settings_file::read_with_keys(&args.file)?;
    let wanted = wanted.raw();
    let asks = !args.dry_run && !args.yes;
    if asks && !std::io::stdin().is_terminal() {
        bail!(
            "found no terminal to ask on; expected --yes to send without asking, or --dry-run to see what would change"
        );
    }
    let mut port = SerialPort::new(&args.port);
    let mut conversation = Conversation::open(&mut port)?;
    let now = settings::read(&mut conversation)?;
    let changes = difference::changes(&now, wanted);
    let steps = difference::steps(&now, wanted, note::LONGEST).ok_or_else(|| {
        anyhow!(
            "{}: found more changes that only go together than the unit takes at once; expected less; send a file that is \
             nearer to the unit's settings first",
            args.file.display()
        )
    })?;
    let changed = changed(&changes, &keys, args.shown.units);
    let mut sent = Sent {
        port: &args.port,
        file: args.file.display().to_string(),
        result: Ending::Equal,
        changes: changed,
        steps_in_force: 0,
        steps: steps.len(),
        problems: Vec::new(),
        settings_sha256: settings_file::sha256(wanted),
    };
    if !args.json {
        output::print(&table(&sent, &changes))?;
    }
    sent.result = if changes.is_empty() {
        if !args.dry_run {
            settings::confirm(&mut conversation)?;
        }
        Ending::Equal
    } else if args.dry_run {
        Ending::DryRun
    } else if asks && !agreed(&sent)? {
        Ending::Declined
    } else {
        send(&mut conversation, &now, &steps, &mut sent)?
    };
    let text = if args.json {
        serde_json::to_string_pretty(&sent)? + "\n"
    } else {
        ending(&sent)
    };
    output::print(&text)?;
    Ok(match sent.result {
        Ending::Equal | Ending::DryRun | Ending::Declined | Ending::InForce => Outcome::Done,
        Ending::Refused | Ending::Differs => Outcome::DoesNotHold,
    })
}

/// Sends step by step.
fn send(
    conversation: &mut Conversation<'_>,
    now: &RawSettings,
    steps: &[RawSettings],
    sent: &mut Sent<'_>,
) -> anyhow::Result<Ending> {
    let mut stands = *now;
    for step in steps {
        match settings::send(conversation, &stands, step) {
            Ok(()) => {}
            Err(SendError::Before(error)) => {
                let state = before(sent);
                return Err(anyhow!("{error}")).with_context(|| state);
            }
            Err(SendError::After(error)) => {
                return Err(anyhow!("{error}")).context(
                    "the unit may have the new settings or the old ones; look with --dry-run",
                );
            }
            Err(SendError::Refused {
                asked,
                why,
                problems,
            }) => {
                sent.problems = problems;
                sent.problems.push(format!("{asked}: {why}"));
                return Ok(Ending::Refused);
            }
            Err(SendError::Differs(found)) => {
                sent.problems = difference::changes(&found, step)
                    .iter()
                    .map(|change| {
                        let [found, wanted] = texts(change, Units::Si);
                        format!("{} is {found}, not {wanted}", change.field.name)
                    })
                    .collect();
                return Ok(Ending::Differs);
            }
        }
        sent.steps_in_force += 1;
        stands = *step;
    }
    Ok(Ending::InForce)
}

/// What stands in the unit when a step failed before it was adopted.
fn before(sent: &Sent<'_>) -> String {
    match sent.steps_in_force {
        0 => "nothing was changed in the unit".to_owned(),
        done => format!(
            "{done} of {} steps are in force and the rest is not; send the file again",
            sent.steps
        ),
    }
}

fn changed(changes: &[Change], keys: &[Key], units: Units) -> Vec<Changed> {
    changes
        .iter()
        .map(|change| {
            let [now, after] = texts(change, units);
            Changed {
                setting: change.field.name,
                now,
                after,
                now_raw: change.now,
                after_raw: change.after,
                in_file: keys.contains(&change.field.key),
            }
        })
        .collect()
}

/// Both values; with their bits where they look alike.
fn texts(change: &Change, units: Units) -> [String; 2] {
    let text = |bits| value_text(change.field, bits, units);
    let both = [change.now, change.after].map(text);
    if both[0] != both[1] {
        return both;
    }
    [change.now, change.after].map(|bits| format!("{} (raw {bits})", text(bits)))
}

/// The difference as a table.
fn table(sent: &Sent<'_>, changes: &[Change]) -> String {
    let mut text = format!("{} → unit at {}\n", sent.file, sent.port);
    if sent.changes.is_empty() {
        return text;
    }
    let width = |cell: fn(&Changed) -> &str, title: &str| {
        let longest = sent.changes.iter().map(|c| cell(c).chars().count()).max();
        longest.unwrap_or(0).max(title.len())
    };
    let names = width(|c| c.setting, "setting");
    let nows = width(|c| &c.now, "now");
    let afters = width(|c| &c.after, "after");
    let mut row = |name: &str, now: &str, after: &str, note: &str| {
        let line = format!("{name:names$}  {now:>nows$}  {after:>afters$}  {note}");
        // Writing to a string cannot fail.
        let _ = writeln!(text, "{}", line.trim_end());
    };
    row("setting", "now", "after", "");
    for c in &sent.changes {
        let note = if c.in_file {
            ""
        } else {
            "not in the file: its default"
        };
        row(c.setting, &c.now, &c.after, note);
    }
    if changes.iter().any(|change| is_trim(change.field)) {
        text.push_str(
            "A trim was found for one sensor at commissioning: to keep it, write it into the file \
             (`host-sim listen PORT --settings FILE` reads it).\n",
        );
    }
    text
}

fn is_trim(field: &Field) -> bool {
    field.kind == Kind::Difference && field.name.ends_with("_trim")
}

fn agreed(sent: &Sent<'_>) -> anyhow::Result<bool> {
    let mut out = std::io::stderr().lock();
    write!(
        out,
        "Send {} to the unit? yes or no: ",
        plural(sent.changes.len(), "change")
    )?;
    out.flush()?;
    let mut answer = String::new();
    std::io::stdin().lock().read_line(&mut answer)?;
    Ok(matches!(answer.trim(), "y" | "yes"))
}

fn plural(count: usize, what: &str) -> String {
    let s = if count == 1 { "" } else { "s" };
    format!("{count} {what}{s}")
}

fn ending(sent: &Sent<'_>) -> String {
    let mut text = match sent.result {
        Ending::Equal => "The unit has these settings already.".to_owned(),
        Ending::DryRun => format!(
            "{}; nothing was sent.",
            plural(sent.changes.len(), "change")
        ),
        Ending::Declined => "Nothing was sent.".to_owned(),
        Ending::InForce => format!(
            "{} in force and stored; read back and equal.",
            plural(sent.changes.len(), "change")
        ),
        Ending::Refused => format!("The unit refused; {}:", before(sent)),
        Ending::Differs => "Sent, but the unit has something else in force:".to_owned(),
    };
    text.push('\n');
    for problem in &sent.problems {
        let _ = writeln!(text, "  {problem}");
    }
    text
}
