//! `fit` as typed.

use std::path::PathBuf;

use clap::Args;
use jiff::civil::DateTime;

use super::commands::fit_start;
use super::{Answer, CAUTION, LogForm};

/// Answer at the foot of `fit --help`.
const FIT: &str = "\
For example:
  host-sim fit house.csv --site site.toml --write fitted.toml --report fit.html
  host-sim fit house.csv --site fitted.toml --compare fitted-last-year.toml

The log needs the slab's and the outdoor temperature and when the circulator ran; supply, return and store tell more. Four weeks with
cold nights are good, two may do. Exit code 1: the log tells too little, or the fitted house is no better on the days kept back; then
only the report is written.
";

/// `fit`
#[derive(Debug, Args)]
#[command(after_help = format!("{FIT}\n{CAUTION}"))]
pub struct Fit {
    /// Log of the house; `-` for standard input.
    #[arg(value_name = "LOG")]
    pub log: PathBuf,
    /// Site file to start from; without one the demo site is used.
    #[arg(long, value_name = "FILE")]
    pub site: Option<PathBuf>,
    /// Weather file of the same dates and place, EPW or TMY3, for sun and sky.
    #[arg(long, value_name = "FILE")]
    pub weather: Option<PathBuf>,
    /// Time of the first row, where the log counts seconds.
    #[arg(long, value_name = "YYYY-MM-DD HH:MM", value_parser = fit_start)]
    pub start: Option<DateTime>,
    /// Days to leave out, such as days with snow on the glazing; may be given again.
    #[arg(long, value_name = "FROM..TO")]
    pub leave_out: Vec<String>,
    /// Days at the end that are not fitted but judged by; without it a quarter, three at least.
    #[arg(long, value_name = "DAYS")]
    pub keep_back: Option<u16>,
    /// Site file of an earlier fit: what has changed beyond both ranges?
    #[arg(long, value_name = "FILE")]
    pub compare: Option<PathBuf>,
    /// Write the site file with what was found, each change commented.
    #[arg(long, value_name = "FILE.toml")]
    pub write: Option<PathBuf>,
    /// Cores used; 0 for all. The answer does not depend on it.
    #[arg(long, default_value_t = 0, value_name = "N", value_parser = clap::value_parser!(u16).range(0..=1024))]
    pub cores: u16,
    /// Report, JSON and units.
    #[command(flatten)]
    pub answer: Answer,
    /// How the log is to be read; last, since its heading goes on to the end of the help.
    #[command(flatten)]
    pub form: LogForm,
}
