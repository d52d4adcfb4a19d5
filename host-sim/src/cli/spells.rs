//! What `spells` is asked.

use std::path::PathBuf;

use clap::Args;
use controller_core::settings::Rule;

use super::{CAUTION, Shown};

/// `spells`
#[derive(Debug, Args)]
#[command(after_help = CAUTION)]
pub struct Spells {
    /// A built-in house; may be given again. Without one all but "unmixed", whose hazard is known.
    #[arg(long, value_name = "NAME", conflicts_with = "site")]
    pub house: Vec<String>,
    /// A site file of your own instead.
    #[arg(long, value_name = "FILE")]
    pub site: Option<PathBuf>,
    /// Settings for that site; without them they are derived from it.
    #[arg(long, value_name = "FILE", requires = "site")]
    pub settings: Option<PathBuf>,
    /// Seeds, from the first to before the second; without it 0..200, or 1..5 for whole winters.
    #[arg(long, value_name = "FROM..TO", value_parser = seeds)]
    pub seeds: Option<std::ops::Range<u64>>,
    /// Run one seed alone and tell what happened.
    #[arg(long, value_name = "NUMBER", conflicts_with_all = ["seeds", "out"])]
    pub seed: Option<u64>,
    /// Write the steps of the one seed with the truth beside them, as CSV.
    #[arg(long, value_name = "FILE.csv", requires = "seed")]
    pub trace: Option<PathBuf>,
    /// Rows of the trace are this far apart, but where a relay or an alarm changes.
    #[arg(long, value_name = "TIME", default_value = "5 min", requires = "trace")]
    pub every: String,
    /// Faults in each spell: 0, 1 or 2; without it one in eleven spells of eighteen, else two.
    #[arg(long, value_name = "0|1|2", value_parser = clap::value_parser!(u8).range(0..=2))]
    pub faults: Option<u8>,
    /// Days of a spell or a winter, 7 to 182; without it 14 or 182.
    #[arg(long, value_parser = clap::value_parser!(u32).range(7..=182))]
    pub days: Option<u32>,
    /// Instead: whole winters with nothing wrong but the sensors' scatter, beside a plain pair of thermostats.
    #[arg(long, conflicts_with_all = ["seed", "faults", "references"])]
    pub fault_free: bool,
    /// Scatter of the sensors in those winters, such as "0.25 K"; may be given again. Without it the site's own.
    #[arg(long, value_name = "DIFFERENCE", requires = "fault_free")]
    pub scatter: Vec<String>,
    /// Run the references in every spell, not only where the slab gets cold.
    #[arg(long)]
    pub references: bool,
    /// Cores used; 0 for all. The answer does not depend on it.
    #[arg(long, default_value_t = 0, value_name = "N", value_parser = clap::value_parser!(u16).range(0..=1024))]
    pub cores: u16,
    /// Leave out a rule of the controller, by its number in the list that a wrong number shows.
    #[arg(long, value_name = "N", value_parser = rule)]
    pub without: Option<Rule>,
    /// Keep every result in a file as it comes, one JSON object a line, and go on from it.
    #[arg(long, value_name = "FILE.jsonl")]
    pub out: Option<PathBuf>,
    /// Write the tables as a report to open in a browser.
    #[arg(long, value_name = "FILE.html", conflicts_with_all = ["seed", "fault_free"])]
    pub report: Option<PathBuf>,
    /// Print one JSON object instead of text.
    #[arg(long)]
    pub json: bool,
    /// What is shown.
    #[command(flatten)]
    pub shown: Shown,
}

/// A rule by its number.
fn rule(text: &str) -> Result<Rule, String> {
    let rules = Rule::ALL;
    let place = text.parse::<usize>().ok().and_then(|n| n.checked_sub(1));
    place
        .and_then(|place| rules.get(place))
        .map(|(rule, _)| *rule)
        .ok_or_else(|| {
            let list = rules.iter().enumerate();
            let list: Vec<String> = list
                .map(|(n, (_, words))| format!("{} {words}", n + 1))
                .collect();
            format!("found \"{text}\"; expected one of: {}", list.join(", "))
        })
}

/// FROM..TO
fn seeds(text: &str) -> Result<std::ops::Range<u64>, String> {
    let parsed = text
        .split_once("..")
        .and_then(|(from, to)| Some(from.trim().parse().ok()?..to.trim().parse().ok()?));
    parsed
        .filter(|seeds: &std::ops::Range<u64>| !seeds.is_empty())
        .ok_or_else(|| {
            format!("found \"{text}\"; expected two numbers, the second greater, such as 0..200")
        })
}
