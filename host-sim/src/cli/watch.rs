//! `watch` as typed.

use std::path::PathBuf;

use clap::Args;

use super::{CAUTION, Shown};

/// `watch`
#[derive(Debug, Args)]
#[command(after_help = CAUTION)]
pub struct Watch {
    /// The serial port, such as /dev/ttyACM0, /dev/ttyUSB0 or COM3. It is waited for if it is not there.
    pub port: String,
    /// The folder that the log, a file a month, and what was told go to. It must be there.
    #[arg(long, value_name = "FOLDER")]
    pub folder: PathBuf,
    /// Who is told what, and how: a file of hooks. Without one the page alone shows it.
    #[arg(long, value_name = "FILE.toml")]
    pub hooks: Option<PathBuf>,
    /// Where the page is: address and port. Anybody who reaches it can read it and nobody can change anything; off for no page.
    #[arg(
        long,
        default_value = "127.0.0.1:8080",
        value_name = "ADDRESS:PORT|off"
    )]
    pub page: String,
    /// Months of log kept.
    #[arg(long, default_value_t = 14, value_name = "N", value_parser = clap::value_parser!(u16).range(2..=600))]
    pub months: u16,
    /// Ask `tonight` every hour, with this forecast: a file that something renews.
    #[arg(long, value_name = "FILE", requires = "site")]
    pub forecast: Option<PathBuf>,
    /// The house, for `tonight`.
    #[arg(long, value_name = "FILE", requires = "forecast")]
    pub site: Option<PathBuf>,
    /// The controller's settings, for `tonight`; without it those that follow from the site.
    #[arg(long, value_name = "FILE", requires = "forecast")]
    pub settings: Option<PathBuf>,
    /// What is shown.
    #[command(flatten)]
    pub shown: Shown,
}
