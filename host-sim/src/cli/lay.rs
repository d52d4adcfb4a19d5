//! `lay` as typed.

use std::path::PathBuf;

use clap::Args;

use super::{Answer, CAUTION};

/// Shown at the foot of `lay --help`.
const LAY: &str = "\
For example:
  host-sim lay --site site.toml --write-pdf plan.pdf
  host-sim lay --plan plan.toml --spacing \"0.20 m\" --printed \"37 m\" --write-svg plan.svg --write-site site.toml

Without --plan the floor is the site's rectangle, with the manifold in a corner. docs/formats.md tells what a plan file says, docs/laying.md how \
the tube is laid.

Exit code 0: it can be laid as drawn; 1: it is drawn, but a limit is crossed; 2: the input cannot be used.
";

/// `lay`
#[derive(Debug, Args)]
#[command(after_help = format!("{LAY}\n{CAUTION}"))]
pub struct Lay {
    /// Site file, for tube, spacing, water and losses; without one the demo site is used.
    #[arg(long, value_name = "FILE")]
    pub site: Option<PathBuf>,
    /// Plan file: corners, manifold, mesh, obstacles, joints; without one a rectangle of the site's width and length.
    #[arg(long, value_name = "FILE")]
    pub plan: Option<PathBuf>,
    /// Distance from run to run; without it the site's.
    #[arg(long, value_name = "LENGTH")]
    pub spacing: Option<String>,
    /// As a double spiral, to and fro, or both compared and the first drawn.
    #[arg(long, value_enum, default_value_t = LaidAs::CounterFlow)]
    pub layout: LaidAs,
    /// Leave strips beside obstacles and inner corners bare instead of closing them by detours.
    #[arg(long)]
    pub leave_strips: bool,
    /// Figure printed on the tube where the first run begins, such as "37 m", or "137 m down" where the figures fall.
    #[arg(long, value_name = "LENGTH")]
    pub printed: Option<String>,
    /// Coils that are sold, such as "100, 120, 200 m"; without it 50, 100, 120, 200 and 240 m, with --units us 300, 500 and 1000 ft.
    #[arg(long, value_name = "LENGTHS")]
    pub coils: Option<String>,
    /// Scale of the drawing, one to so many; without it the largest usual one at which the floor fits a large sheet.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(5..=500))]
    pub scale: Option<u32>,
    /// Write the drawing as SVG, true to scale when printed at 100 %.
    #[arg(long, value_name = "FILE.svg")]
    pub write_svg: Option<PathBuf>,
    /// Write sheets to print, A3 or tiles of A4, with --units us tabloid or letter, and the table of corners to tick.
    #[arg(long, value_name = "FILE.pdf")]
    pub write_pdf: Option<PathBuf>,
    /// Write the site file with the tube as drawn, so that size judges it.
    #[arg(long, value_name = "FILE.toml")]
    pub write_site: Option<PathBuf>,
    /// Report, JSON and units.
    #[command(flatten)]
    pub answer: Answer,
}

/// How `lay` lays.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum LaidAs {
    /// As a double spiral.
    CounterFlow,
    /// To and fro.
    Serpentine,
    /// Both, to compare.
    Both,
}
