//! `host-sim`: see the library.

use std::process::ExitCode;

use clap::Parser as _;
use host_sim::cli::Cli;
use host_sim::commands::{self, Outcome};

fn main() -> ExitCode {
    match commands::run(Cli::parse()) {
        Ok(Outcome::Done) => ExitCode::SUCCESS,
        Ok(Outcome::DoesNotHold) => ExitCode::from(1),
        Err(error) => {
            eprintln!("host-sim: {error:#}");
            ExitCode::from(2)
        }
    }
}
