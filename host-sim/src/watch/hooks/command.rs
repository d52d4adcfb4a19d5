//! A command is run for each message.

use std::io::Write as _;
use std::process::{self, Stdio};
use std::time::{Duration, Instant};

use super::{Deliver, Parcel};

/// A command that takes longer is ended and counts as failed.
const LONGEST: Duration = Duration::from_secs(60);
/// Pause between two looks at it.
const LOOK: Duration = Duration::from_millis(20);

/// A program with its arguments. It is not given to a shell; the message is in its environment (`MESSAGE_TEXT`, `MESSAGE_KIND`, …)
/// and, as JSON, on its standard input.
#[derive(Debug)]
pub struct Command {
    /// The program.
    pub program: String,
    /// Its arguments.
    pub arguments: Vec<String>,
}

impl Deliver for Command {
    fn deliver(&mut self, parcel: &Parcel) -> Result<(), String> {
        let program = &self.program;
        let failed = |error: std::io::Error| format!("{program}: {error}");
        let json = serde_json::to_string(parcel).map_err(|error| error.to_string())?;
        let stage = serde_json::to_value(parcel.stage).unwrap_or_default();
        let mut child = process::Command::new(program)
            .args(&self.arguments)
            .env("MESSAGE_HOUSE", &parcel.house)
            .env("MESSAGE_ID", parcel.id.to_string())
            .env("MESSAGE_TIME", &parcel.time)
            .env("MESSAGE_KIND", parcel.kind.name())
            .env("MESSAGE_CONDITION", &parcel.condition)
            .env("MESSAGE_STAGE", stage.as_str().unwrap_or_default())
            .env("MESSAGE_TEXT", parcel.sentences())
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .spawn()
            .map_err(failed)?;
        if let Some(mut input) = child.stdin.take() {
            // A program that does not read it has the environment.
            let _ = input.write_all(json.as_bytes());
        }
        let begin = Instant::now();
        loop {
            match child.try_wait().map_err(failed)? {
                Some(status) if status.success() => return Ok(()),
                Some(status) => return Err(format!("{program}: ended with {status}")),
                None if begin.elapsed() > LONGEST => {
                    let _ = child.kill();
                    let _ = child.wait();
                    return Err(format!(
                        "{program}: did not end within {} s",
                        LONGEST.as_secs()
                    ));
                }
                None => std::thread::sleep(LOOK),
            }
        }
    }
}
