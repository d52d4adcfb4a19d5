//! `listen`, `identify` and `send-settings` as typed.

use std::path::PathBuf;

use clap::{ArgGroup, Args};

use super::{CAUTION, Shown};

/// `listen`
#[derive(Debug, Args)]
#[command(after_help = CAUTION, group(ArgGroup::new("what").required(true).args(["out", "history", "settings"])))]
pub struct Listen {
    /// The serial port, such as /dev/ttyUSB0 or COM3.
    pub port: String,
    /// The log; grows row by row until Ctrl-C, and is gone on with if its header is the unit's.
    #[arg(long, value_name = "FILE.csv")]
    pub out: Option<PathBuf>,
    /// Instead: read out the last days that the unit keeps in its flash.
    #[arg(long, value_name = "FILE.csv")]
    pub history: Option<PathBuf>,
    /// Instead: write the settings in force in the unit, to the last bit, as a settings file.
    #[arg(long, value_name = "FILE.toml")]
    pub settings: Option<PathBuf>,
    /// Stop by itself after so long, such as "8 h".
    #[arg(long = "for", value_name = "TIME", requires = "out")]
    pub time: Option<String>,
    /// Print one JSON object instead of text.
    #[arg(long)]
    pub json: bool,
    /// What is shown.
    #[command(flatten)]
    pub shown: Shown,
}

/// `identify`
#[derive(Debug, Args)]
#[command(after_help = CAUTION)]
pub struct Identify {
    /// The serial port, such as /dev/ttyACM0, /dev/ttyUSB0 or COM3.
    pub port: String,
    /// Stop by itself after so long, such as "5 min"; otherwise Ctrl-C ends it.
    #[arg(long = "for", value_name = "TIME")]
    pub time: Option<String>,
    /// Print one JSON object of the last readings instead of text.
    #[arg(long)]
    pub json: bool,
    /// What is shown.
    #[command(flatten)]
    pub shown: Shown,
}

/// `send-settings`
#[derive(Debug, Args)]
#[command(after_help = CAUTION)]
pub struct SendSettings {
    /// The serial port, such as /dev/ttyUSB0 or COM3.
    pub port: String,
    /// The settings file; a setting left out gets its default.
    pub file: PathBuf,
    /// Only show what would change.
    #[arg(long)]
    pub dry_run: bool,
    /// Send without asking.
    #[arg(long, conflicts_with = "dry_run")]
    pub yes: bool,
    /// Print one JSON object instead of text.
    #[arg(long)]
    pub json: bool,
    /// What is shown.
    #[command(flatten)]
    pub shown: Shown,
}
