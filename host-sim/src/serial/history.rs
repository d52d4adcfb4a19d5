//! The log of the last days that the unit keeps in its flash, read out whole or not at all.

use super::conversation::{Ask, Conversation, LineError};

/// Whole readings tried.
const TRIES: u32 = 3;

/// The log as read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct History {
    /// CSV with its header, below a comment that names the firmware.
    pub csv: String,
    /// Rows of it.
    pub rows: u64,
    /// Rows missing in between, by the unit's own count.
    pub lost: u64,
}

/// Reads the log. `progress` hears of the rows so far.
///
/// # Errors
/// [`LineError`]: nothing whole came in several tries.
pub fn read(
    conversation: &mut Conversation<'_>,
    progress: &mut dyn FnMut(u64),
) -> Result<History, LineError> {
    for tried in 1..=TRIES {
        let mut rows = 0;
        let answer =
            conversation.ask("log", Ask::Again, &|last| end(last).is_some(), &mut |_| {
                rows += 1;
                progress(rows);
            })?;
        let last = match &answer.verdict {
            Ok(last) => last,
            Err(why) => {
                return Err(LineError::Foreign {
                    port: conversation.name().to_owned(),
                    found: format!("the answer \"no {why}\" to \"log\""),
                    expected: "the rows of the log".to_owned(),
                });
            }
        };
        let (firmware, lines) = match answer.lines.split_first() {
            Some((first, rest)) if first.starts_with("log # ") => (&first["log ".len()..], rest),
            _ => ("", answer.lines.as_slice()),
        };
        // A damaged line in between is one row too few; an older firmware does not name itself.
        if let (Some(whole), Some((rows, lost))) = (table(lines), end(last))
            && whole.len() as u64 == rows + 1
            && (!firmware.is_empty() || tried == TRIES)
        {
            let mut csv = match firmware {
                "" => String::new(),
                name => format!("{name}\n"),
            };
            csv.push_str(&whole.join("\n"));
            csv.push('\n');
            return Ok(History { csv, rows, lost });
        }
    }
    Err(LineError::Silent {
        port: conversation.name().to_owned(),
        asked: "log".to_owned(),
        damaged: conversation.faults().damaged(),
    })
}

/// Rows and losses as the last line tells them.
fn end(last: &str) -> Option<(u64, u64)> {
    let (rows, lost) = last.strip_prefix("end rows=")?.split_once(" lost=")?;
    Some((rows.parse().ok()?, lost.parse().ok()?))
}

/// Header and rows, if they are of one width and begin with the time.
fn table(lines: &[String]) -> Option<Vec<&str>> {
    let rows: Option<Vec<_>> = lines.iter().map(|line| line.strip_prefix("log ")).collect();
    let rows = rows?;
    let header = rows.first().filter(|row| row.starts_with("time_s,"))?;
    let width = header.split(',').count();
    rows.iter()
        .all(|row| row.split(',').count() == width)
        .then_some(rows)
}
