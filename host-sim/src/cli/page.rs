//! `page` as typed.

use std::path::PathBuf;

use clap::Args;

use super::{CAUTION, House, Shown};

/// `page`
#[derive(Debug, Args)]
#[command(after_help = CAUTION)]
pub struct Page {
    /// Where the page goes.
    #[arg(long, value_name = "FILE.html")]
    pub write: PathBuf,
    /// Site and settings that the page opens with.
    #[command(flatten)]
    pub house: House,
    /// Weather file that the page opens with, EPW or TMY3; without one the site's, or the demo's (Golden CO).
    #[arg(long, value_name = "FILE")]
    pub weather: Option<PathBuf>,
    /// Log that the page opens with, CSV.
    #[arg(long, value_name = "FILE")]
    pub log: Option<PathBuf>,
    /// The simulator as WebAssembly, as page/build.sh writes it; a program built with the feature page holds it.
    #[arg(long, value_name = "FILE.wasm")]
    pub simulator: Option<PathBuf>,
    /// What is shown.
    #[command(flatten)]
    pub shown: Shown,
}
