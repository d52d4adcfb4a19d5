//! `host-sim`: see the library.

use std::process::ExitCode;

use clap::Parser as _;
use host_sim::cli::commands::{self, Outcome};
use host_sim::cli::{self, Cli};
use host_sim::files::message::{chain, plain};
use host_sim::files::output;

fn main() -> ExitCode {
    let outcome = match Cli::try_parse() {
        Ok(cli) => commands::run(cli),
        Err(error) if error.use_stderr() => Err(anyhow::Error::msg(cli::refusal(&error))),
        // Help and version.
        Err(error) => output::print(&error.render().to_string())
            .map(|()| Outcome::Done)
            .map_err(|error| {
                anyhow::Error::new(error).context("standard output cannot be written")
            }),
    };
    match outcome {
        Ok(Outcome::Done) => ExitCode::SUCCESS,
        Ok(Outcome::DoesNotHold) => ExitCode::from(1),
        Err(error) => {
            eprintln!("host-sim: {}", plain(&chain(&error)));
            ExitCode::from(2)
        }
    }
}
