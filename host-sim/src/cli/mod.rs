//! The command line as typed.

pub mod commands;
#[cfg(feature = "pc")]
mod fit;
mod lay;
mod log_form;
#[cfg(feature = "pc")]
mod page;
#[cfg(feature = "pc")]
mod serial_line;
#[cfg(feature = "pc")]
mod spells;
#[cfg(feature = "pc")]
mod watch;

use std::path::PathBuf;

use clap::error::{ContextKind, ContextValue, ErrorKind};
use clap::{Args, Parser, Subcommand};

use crate::files::quantity::Units;
use crate::files::weather::Climate;
#[cfg(feature = "pc")]
use crate::questions::spells::risk::Rates;

#[cfg(feature = "pc")]
pub use fit::Fit;
pub use lay::{LaidAs, Lay};
pub use log_form::LogForm;
#[cfg(feature = "pc")]
pub use page::Page;
#[cfg(feature = "pc")]
pub use serial_line::{Identify, Listen, SendSettings};
#[cfg(feature = "pc")]
pub use spells::Spells;
#[cfg(feature = "pc")]
pub use watch::Watch;

/// Replays sensor logs through the slab controller and simulates its winters on a PC.
#[derive(Debug, Parser)]
#[command(name = "host-sim", version, about, after_help = CAUTION, disable_help_subcommand = true, max_term_width = 120)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub verb: Option<Verb>,
}

/// Shown at the foot of every help page.
pub const CAUTION: &str = "Not a safety device: fit an independent manual-reset high limit, relief valve and expansion, and a \
frost thermostat in parallel with the circulator relay. Mains wiring is for a licensed electrician; local codes rule.";

/// What a bare `host-sim` shows.
pub const FIRST: &str = "\
host-sim replays sensor logs through the slab controller and simulates its winters.

Your own house, in two commands:
  host-sim site --ask --out site.toml                              fifteen questions; --units us for feet and °F
  host-sim size --site site.toml --write-settings settings.toml    is the loop right? and settings that fit it
Try first:
  host-sim replay host-sim/data/demo-week.csv --report demo.html   a cold week, replayed and drawn
  host-sim size                                                    is the demo's loop right, before the pour?
  host-sim lay --write-pdf plan.pdf                                where the tube goes, drawn to scale
  host-sim winter --report winter.html                             the demo house through a winter
  host-sim drill                                                   everything that can go wrong, rehearsed
  host-sim spells                                                  cold weeks with faults, beside simpler controls
  host-sim tune --write found.toml --report tune.html              settings for this site, found in minutes
  host-sim tonight --help                                          light the fire tonight?
  host-sim fit --help                                              your house from its own log
  host-sim page --help                                             all of this in a browser, for somebody without the program
  host-sim settings > settings.toml                                what is yours to choose, to edit (--all: every setting)
  host-sim site > site.toml                                        the demo house with every key, to edit
With a unit on the serial line:
  host-sim listen /dev/ttyUSB0 --out house.csv                     its rows, as a log to replay
  host-sim watch /dev/ttyUSB0 --folder house                       its log, a page, and a message when something is wrong
  host-sim send-settings /dev/ttyUSB0 settings.toml --dry-run      what the file would change in it

`host-sim VERB --help` tells the rest.
";

/// The verbs.
#[derive(Debug, Subcommand)]
pub enum Verb {
    /// Replay a log: what would the controller have decided, and why?
    Replay(Replay),
    /// Simulate a winter: will the house hold, and what does it cost?
    Winter(Winter),
    /// Check the loop's design: is it right, before the concrete is poured?
    Size(Size),
    /// Draw where the tube goes: how long, how bent and how even does it become, before the concrete is poured?
    Lay(Lay),
    /// Rehearse what can go wrong: does the controller do what it must, in time?
    Drill(Drill),
    #[cfg(feature = "pc")]
    /// Run cold spells with faults drawn by seed: does the slab freeze where a simpler control would have held it?
    Spells(Spells),
    #[cfg(feature = "pc")]
    /// Write a unit's rows to a log file over the serial line, or read out its own log or settings.
    Listen(Listen),
    #[cfg(feature = "pc")]
    /// Watch a unit for whoever sleeps: keep its log, show a page, and tell a person in time.
    Watch(Watch),
    #[cfg(feature = "pc")]
    /// Which sensor is which? Shows every sensor of a unit as it reads; hold one in your hand and see which rises.
    Identify(Identify),
    #[cfg(feature = "pc")]
    /// Send a settings file to a unit over the serial line: checked here, then there, and read back.
    SendSettings(SendSettings),
    /// This afternoon: will the store alone hold the slab until morning, or light the fire by when?
    Tonight(Tonight),
    #[cfg(feature = "pc")]
    /// Learn the house from its own log: what the site file could only guess, with ranges, and what the log cannot tell.
    Fit(Fit),
    #[cfg(feature = "pc")]
    /// Find settings for this site: which hold the slab, and what do they cost?
    Tune(Tune),
    #[cfg(feature = "pc")]
    /// Compare with simpler controls: what is each rule worth?
    Compare(Compare),
    #[cfg(feature = "pc")]
    /// Write one page that holds the simulator: try everything in a browser, without installing, without a network.
    Page(Page),
    /// Print a settings file: what is yours to choose, or every setting, with range and meaning.
    Settings(SettingsFile),
    /// Print the demo site file with every key, its range and meaning, or a short one for your own house from a few questions.
    Site(SiteFile),
}

/// `settings`.
#[derive(Debug, Args)]
pub struct SettingsFile {
    /// Every setting, in groups, not only those that are yours to choose.
    #[arg(long)]
    pub all: bool,
    /// What is shown.
    #[command(flatten)]
    pub shown: Shown,
}

/// What is shown, and where it goes.
#[derive(Debug, Args)]
pub struct Shown {
    /// Units shown: si or us.
    #[arg(long, default_value = "si", value_name = "si|us")]
    pub units: Units,
}

/// How an answer is shown.
#[derive(Debug, Args)]
pub struct Answer {
    /// Write a report to open in a browser.
    #[arg(long, value_name = "FILE.html")]
    pub report: Option<PathBuf>,
    /// Print one JSON object instead of text.
    #[arg(long)]
    pub json: bool,
    /// What is shown.
    #[command(flatten)]
    pub shown: Shown,
}

/// The house a run is about, and its controller.
#[derive(Debug, Args)]
pub struct House {
    /// Site file; without one the demo site is used.
    #[arg(long, value_name = "FILE")]
    pub site: Option<PathBuf>,
    /// Settings file; without one they follow from the site.
    #[arg(long, value_name = "FILE")]
    pub settings: Option<PathBuf>,
}

/// Where results go.
#[derive(Debug, Args)]
pub struct Results {
    /// Write every step with its reason, as CSV.
    #[arg(long, value_name = "FILE.csv")]
    pub trace: Option<PathBuf>,
    /// Fingerprint the trace even if it is not written.
    #[arg(long)]
    pub fingerprint: bool,
    /// Report, JSON and units.
    #[command(flatten)]
    pub answer: Answer,
}

/// Shown at the foot of `site --help`.
const SITE: &str = "\
For example:
  host-sim site --ask --out site.toml
  host-sim size --site site.toml --write-settings settings.toml

--ask asks fifteen questions, on standard error, each in a line with what is usual and, in brackets, the answer that an empty line \
stands for. A number alone counts in the unit of that answer. Answers may come from a pipe, one a line, with a remark behind \" #\"; \
at the end of the input the defaults stand for the rest. An answer that cannot be used is asked for again, in a pipe it ends the \
command with exit code 2.
";

/// `site`
#[derive(Debug, Args)]
#[command(after_help = format!("{SITE}\n{CAUTION}"))]
pub struct SiteFile {
    /// Ask for what matters of a house, and write only that.
    #[arg(long)]
    pub ask: bool,
    /// Write to a file instead of standard output.
    #[arg(long, value_name = "FILE.toml")]
    pub out: Option<PathBuf>,
    /// What is shown, and asked.
    #[command(flatten)]
    pub shown: Shown,
}

/// `replay`
#[derive(Debug, Args)]
#[command(after_help = CAUTION)]
pub struct Replay {
    /// The log, CSV; - for standard input.
    pub log: PathBuf,
    /// Settings file; without one the demo's settings are used.
    #[arg(long, value_name = "FILE")]
    pub settings: Option<PathBuf>,
    /// Where results go.
    #[command(flatten)]
    pub results: Results,
    /// How the log is to be read; last, since its heading goes on to the end of the help.
    #[command(flatten)]
    pub form: LogForm,
}

/// Shown at the foot of `winter --help`.
const WINTER: &str = "\
Exit code 0: the slab held; 1: it did not, which is when its reading was below its target at any time, or a part of it with tube was \
below 0 °C, or water froze solid anywhere; 2: the input cannot be used.
";

/// `winter`
#[derive(Debug, Args)]
#[command(after_help = format!("{WINTER}\n{CAUTION}"))]
pub struct Winter {
    /// Site and settings.
    #[command(flatten)]
    pub house: House,
    /// Weather file, EPW or TMY3, or a log of the place's own outdoor temperature, CSV; without one the site's, or the demo's
    /// (Golden CO).
    #[arg(long, value_name = "FILE")]
    pub weather: Option<PathBuf>,
    /// Instead: a year made up from latitude, design night and twelve monthly means, January first, such as
    /// "40 N, -22 C, -2 -1 4 9 14 20 23 22 17 10 3 -2".
    #[arg(long, value_name = "LATITUDE, NIGHT, MEANS", allow_hyphen_values = true, conflicts_with = "weather", value_parser = climate)]
    pub climate: Option<Climate>,
    /// Where a log's sun stands, such as "40 N"; without it as the site file says, or at the demo's 39.7 N.
    #[arg(long, value_name = "LATITUDE", allow_hyphen_values = true, requires = "weather", value_parser = latitude)]
    pub latitude: Option<f64>,
    /// First day, without it 2025-10-15; only month and day count, since weather files are typical years. Of a log its own
    /// date; without it where its longest stretch of whole days begins.
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub from: Option<jiff::civil::Date>,
    /// Number of days, 1 to 365; without it 182, or of a log those up to the stretch's end.
    #[arg(long, value_parser = clap::value_parser!(u32).range(1..=365))]
    pub days: Option<u32>,
    /// Instead: whole years one after another, store and earth carried over, told year by year.
    #[arg(long, value_name = "N", conflicts_with = "days", value_parser = clap::value_parser!(u32).range(1..=20))]
    pub years: Option<u32>,
    /// Seed of sensor scatter and noise, and of a made-up year.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Deepen a spell of the weather: kelvin and days, such as "6 K, 4 d"; placed by the seed, in a log on its coldest day.
    #[arg(long, value_name = "DEPTH, DAYS")]
    pub cold_snap: Option<String>,
    /// Where results go.
    #[command(flatten)]
    pub results: Results,
    /// How a log of the weather is to be read; last, since its heading goes on to the end of the help.
    #[command(flatten)]
    pub form: LogForm,
}

fn climate(text: &str) -> Result<Climate, String> {
    Climate::parse(text).map_err(|error| error.to_string())
}

/// A latitude, ° (+ north).
fn latitude(text: &str) -> Result<f64, String> {
    crate::files::weather::latitude_deg(text)
        .filter(|degrees| degrees.abs() <= 89.0)
        .ok_or_else(|| "expected degrees with N or S, such as 40 N or 35.5 S".to_owned())
}

/// `compare`
#[cfg(feature = "pc")]
#[derive(Debug, Args)]
#[command(after_help = CAUTION)]
pub struct Compare {
    /// Site and settings.
    #[command(flatten)]
    pub house: House,
    /// Take the fire as the site file has it tended; without this, one that is fed by habit is taken as fed on call with a
    /// sized load, since the habit burns most of its wood whatever is called.
    #[arg(long)]
    pub as_tended: bool,
    /// Weather files, EPW or TMY3, each a winter; without one the site's, or the demo's. One alone is also run with a cold
    /// snap.
    #[arg(long, value_name = "FILE")]
    pub weather: Vec<PathBuf>,
    /// Also show how little would do for somebody who knows the weather to come; takes about as long again.
    #[arg(long)]
    pub bound: bool,
    /// Also show what faults add in a hundred winters: so many cold fortnights for each family of faults, 1 to 10000. With 40 it
    /// takes about as long again.
    #[arg(long, value_name = "FORTNIGHTS", value_parser = clap::value_parser!(u64).range(1..=10_000))]
    pub faults: Option<u64>,
    /// Faults that stand in a winter's coldest fortnight, on average, where you know better than the table's judgement: families
    /// sensor, exchanged, plant, power, processor, person.
    #[arg(long, value_name = "FAMILY=RATE,…", requires = "faults", value_parser = Rates::parse)]
    pub rates: Option<Rates>,
    /// First day; only month and day count, since weather files are typical years.
    #[arg(long, value_name = "YYYY-MM-DD", default_value = "2025-10-15")]
    pub from: jiff::civil::Date,
    /// Number of days, 1 to 365.
    #[arg(long, default_value_t = 182, value_parser = clap::value_parser!(u32).range(1..=365))]
    pub days: u32,
    /// Seed of sensor scatter and noise, and of the cold snap.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Report, JSON and units.
    #[command(flatten)]
    pub answer: Answer,
}

/// `tune`
#[cfg(feature = "pc")]
#[derive(Debug, Args)]
#[command(after_help = CAUTION)]
pub struct Tune {
    /// Site and settings.
    #[command(flatten)]
    pub house: House,
    /// Take the fire as the site file has it tended; without this, one that is fed by habit is taken as fed on call with a
    /// sized load, since the habit burns most of its wood whatever is called.
    #[arg(long)]
    pub as_tended: bool,
    /// Weather file to tune on, EPW or TMY3; may be given again. Seeded cold snaps over the first make at least three winters.
    #[arg(long, value_name = "FILE")]
    pub weather: Vec<PathBuf>,
    /// Weather file kept back to judge by; may be given again. Two other cold snaps over the first winter are always kept back.
    #[arg(long, value_name = "FILE")]
    pub keep_back: Vec<PathBuf>,
    /// First day; only month and day count, since weather files are typical years.
    #[arg(long, value_name = "YYYY-MM-DD", default_value = "2025-10-15")]
    pub from: jiff::civil::Date,
    /// Number of days, 1 to 365.
    #[arg(long, default_value_t = 182, value_parser = clap::value_parser!(u32).range(1..=365))]
    pub days: u32,
    /// How wrong the slab and outdoor sensors may be, either way.
    #[arg(long, default_value = "0.5 K", value_name = "DIFFERENCE")]
    pub sensor_error: String,
    /// Candidates tried on the coldest weeks.
    #[arg(long, default_value_t = 400, value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    pub candidates: u32,
    /// Candidates tried on whole winters.
    #[arg(long, default_value_t = 24, value_parser = clap::value_parser!(u32).range(2..=10_000))]
    pub finalists: u32,
    /// Seed of the search, the cold snaps and the sensors' noise: same seed, same answer.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Cores used; 0 for all. The answer does not depend on it.
    #[arg(long, default_value_t = 0, value_name = "N", value_parser = clap::value_parser!(u16).range(0..=1024))]
    pub cores: u16,
    /// Keep what was tried in a file, and go on from it.
    #[arg(long, value_name = "FILE")]
    pub resume: Option<PathBuf>,
    /// Write another of the trade-offs instead of the one found, by its number in the table.
    #[arg(long, value_name = "NUMBER")]
    pub take: Option<usize>,
    /// Write the settings found, with comments.
    #[arg(long, value_name = "FILE.toml")]
    pub write: Option<PathBuf>,
    /// Report, JSON and units.
    #[command(flatten)]
    pub answer: Answer,
}

/// `drill`
#[derive(Debug, Args)]
#[command(after_help = CAUTION)]
pub struct Drill {
    /// Only list the drills.
    #[arg(long)]
    pub list: bool,
    /// Run one, with its timeline.
    #[arg(long, value_name = "NAME")]
    pub drill: Option<String>,
    /// Drills of your own instead of the built-in ones; docs/drill-format.md tells how to write them.
    #[arg(long, value_name = "FILE")]
    pub file: Option<PathBuf>,
    /// Write every step of the one drill, as CSV.
    #[arg(long, value_name = "FILE.csv")]
    pub trace: Option<PathBuf>,
    /// Draw the one drill, to open in a browser.
    #[arg(long, value_name = "FILE.html")]
    pub report: Option<PathBuf>,
    /// Print one JSON object instead of text.
    #[arg(long)]
    pub json: bool,
    /// What is shown.
    #[command(flatten)]
    pub shown: Shown,
}

/// `size`
#[derive(Debug, Args)]
#[command(after_help = CAUTION)]
pub struct Size {
    /// Site file; without one the demo site is used.
    #[arg(long, value_name = "FILE")]
    pub site: Option<PathBuf>,
    /// Temperature to be held, of the slab's core and once more of the air.
    #[arg(
        long,
        value_name = "TEMPERATURE",
        default_value = "2 °C",
        allow_hyphen_values = true
    )]
    pub hold: String,
    /// Floor of the store before anything is drawn from it; without it the undisturbed earth's as winter begins.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub store: Option<String>,
    /// Cold night to be ready for; without it the weather file's 99.6 % heating design temperature.
    #[arg(long, value_name = "TEMPERATURE", allow_hyphen_values = true)]
    pub design: Option<String>,
    /// Weather file the design night is taken from, EPW or TMY3; without one the site's, or the demo's (Golden CO).
    #[arg(long, value_name = "FILE", conflicts_with = "design")]
    pub weather: Option<PathBuf>,
    /// Check once for each value of a key of the site file: "spacing=0.15..0.30 m", "tube=16x2.0, 20x2.0".
    #[arg(long, value_name = "KEY=VALUES")]
    pub vary: Option<String>,
    /// Write settings for the controller that fit this loop and boiler, complete and with comments.
    #[arg(long, value_name = "FILE.toml")]
    pub write_settings: Option<PathBuf>,
    /// Points of a range.
    #[arg(long, default_value_t = 7, requires = "vary", value_parser = clap::value_parser!(u8).range(2..=50))]
    pub points: u8,
    /// Report, JSON and units.
    #[command(flatten)]
    pub answer: Answer,
}

/// Shown at the foot of `tonight --help`.
const TONIGHT: &str = "\
For example:
  host-sim tonight --low \"-9 °C\" --high \"-1 °C\" --clear \\
    --slab \"6 °C\" --store \"8 °C\" --outdoor \"-2 °C\" --now 18:00
  host-sim tonight --low \"-9 °C\" --high \"-1 °C\" --log house.csv --report tonight.html

Exit code 0: the store alone holds in at least nine of ten nights that fit readings and forecast; 1: it does not; 2: the input cannot be used.
";

/// `tonight`
#[derive(Debug, Args)]
#[command(after_help = format!("{TONIGHT}\n{CAUTION}"))]
pub struct Tonight {
    /// Forecast low of the night, such as "-9 °C".
    #[arg(
        long,
        value_name = "T",
        allow_hyphen_values = true,
        conflicts_with = "forecast"
    )]
    pub low: Option<String>,
    /// Forecast high of the next day, such as "-1 °C".
    #[arg(
        long,
        value_name = "T",
        allow_hyphen_values = true,
        conflicts_with = "forecast"
    )]
    pub high: Option<String>,
    /// A clear night.
    #[arg(long, conflicts_with = "cloudy")]
    pub clear: bool,
    /// A cloudy night; without either word both are reckoned with.
    #[arg(long)]
    pub cloudy: bool,
    /// Forecast by the hour instead: a table with time and outdoor_c, or an EPW or TMY3 file by month and day.
    #[arg(long, value_name = "FILE")]
    pub forecast: Option<PathBuf>,
    /// What the slab's sensor shows now.
    #[arg(long, value_name = "T", allow_hyphen_values = true)]
    pub slab: Option<String>,
    /// What the thermometer in the store shows now.
    #[arg(long, value_name = "T", allow_hyphen_values = true)]
    pub store: Option<String>,
    /// What the outdoor sensor shows now.
    #[arg(long, value_name = "T", allow_hyphen_values = true)]
    pub outdoor: Option<String>,
    /// A recent log instead of readings, CSV, - for standard input; its newest row is the moment asked from.
    #[arg(long, value_name = "FILE")]
    pub log: Option<PathBuf>,
    /// Time of the readings, local standard time: 18:00 (today) or "2025-01-15 18:00". With a log: refuse one that ended hours before.
    #[arg(long, value_name = "TIME")]
    pub now: Option<String>,
    /// End of the night; without it two hours after sunrise.
    #[arg(long, value_name = "HH:MM")]
    pub until: Option<String>,
    /// Site and settings.
    #[command(flatten)]
    pub house: House,
    /// How many nights that fit readings and forecast are run.
    #[arg(long, value_name = "N", default_value_t = 200, value_parser = clap::value_parser!(u32).range(20..=20_000))]
    pub nights: u32,
    /// Seed of everything random.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Report, JSON and units.
    #[command(flatten)]
    pub answer: Answer,
    /// How the log is to be read; last, since its heading goes on to the end of the help.
    #[command(flatten)]
    pub form: LogForm,
}

/// What the argument parser refuses, in this program's words where those say more.
#[must_use]
pub fn refusal(error: &clap::Error) -> String {
    let text = error.render().to_string();
    let text = text.strip_prefix("error: ").unwrap_or(&text).trim_end();
    let advice = match error.get(ContextKind::InvalidArg) {
        // An argument that begins with a hyphen and goes on with a number is the value of the option before it.
        Some(ContextValue::String(found))
            if error.kind() == ErrorKind::UnknownArgument && is_negative(found) =>
        {
            format!(
                "\n\nFor a value that begins with a hyphen write the option, an equals sign and the value, such as --seed={found}; \
                 a number of days or of candidates cannot be negative."
            )
        }
        Some(ContextValue::String(option))
            if error.kind() == ErrorKind::ValueValidation && option.starts_with("--from") =>
        {
            "\n\nWrite the day as year, month and day, such as --from 2025-11-01.".to_owned()
        }
        _ => String::new(),
    };
    format!("{text}{advice}")
}

fn is_negative(text: &str) -> bool {
    text.strip_prefix('-')
        .is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit()))
}
