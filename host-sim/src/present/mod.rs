//! What a person reads of a run: one screen in the terminal, one page in a browser.
//!
//! Takes finished numbers and series and only words and draws them; it decides nothing and computes
//! nothing a summary does not hold, but for the fits it says it made. The page is one file that
//! opens without a network: its pictures are SVG inside, and its own policy forbids it to load or run anything.
//!
//! The page, its pictures and its drawings know nothing of the controller: other commands build their pages from them.

#[cfg(feature = "pc")]
pub mod app;
mod balance;
mod cautions;
mod closing;
pub mod compare;
pub(crate) mod drawing;
pub mod drill;
mod first;
#[cfg(feature = "pc")]
pub mod fit;
pub mod lay;
pub mod page;
pub(crate) mod palette;
pub(crate) mod plot;
mod run;
mod season;
pub mod size;
pub mod spells;
mod terminal;
mod tiles;
mod timeline;
pub mod tonight;
#[cfg(feature = "pc")]
pub mod tune;
#[cfg(feature = "cli")]
pub mod watch;
mod winter;
mod words;

use std::io::{self, Write};
use std::path::Path;

use controller_core::settings::Settings;
use controller_core::units::Celsius;
use jiff::civil::DateTime;

use crate::account::metrics::SummaryNumbers;
use crate::account::series::Series;
use crate::files::quantity::Units;
use page::Page;

pub use cautions::CAUTIONS;
pub use season::growing;
pub use terminal::terminal;
pub(crate) use terminal::{WIDTH, remedy, wrap_at};
pub use winter::{DayHeat, Variant, WinterExtras};
pub(crate) use words::cause_text;
pub use words::held;

/// What the numbers stand for.
#[derive(Clone, Debug)]
pub struct Context {
    /// What was run.
    pub title: String,
    /// The house or log it is about: a file's name, or the demo's.
    pub house: String,
    /// A model's slab, not a measured one.
    pub simulated: bool,
    /// From when to when, as text.
    pub period: Option<String>,
    /// What it rests on: settings, site, weather, log; name and text.
    pub used: Vec<(String, String)>,
    /// What makes the answer doubtful: stands beside it.
    pub questions: Vec<String>,
    /// Honest remarks: gaps, missing columns, assumptions.
    pub notes: Vec<String>,
    /// Units to show.
    pub units: Units,
    /// Wall clock of the first row, if known.
    pub start: Option<DateTime>,
    /// Temperatures to hold the slab and the water against.
    pub limits: Limits,
}

impl Context {
    /// With the settings' limits; everything else is still to be filled in.
    #[must_use]
    pub fn new(title: impl Into<String>, settings: &Settings, units: Units) -> Self {
        Self {
            title: title.into(),
            house: String::new(),
            simulated: false,
            period: None,
            used: Vec::new(),
            questions: Vec::new(),
            notes: Vec::new(),
            units,
            start: None,
            limits: Limits::from_settings(settings),
        }
    }
}

/// Temperatures that matter, °C.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// The slab must hold this.
    pub target_c: f64,
    /// Slab at which the circulator runs against frost.
    pub frost_on_c: f64,
    /// Slab at which backup may be called.
    pub backup_slab_c: f64,
    /// Supply that ends a boiler call.
    pub supply_soft_c: f64,
}

impl Limits {
    /// As set.
    #[must_use]
    pub fn from_settings(settings: &Settings) -> Self {
        let number = |t: Celsius| f64::from(t.to_bits()) / 65_536.0;
        Self {
            target_c: number(settings.target),
            frost_on_c: number(settings.frost_on),
            backup_slab_c: number(settings.backup_slab),
            supply_soft_c: number(settings.soft_limit()),
        }
    }
}

/// The name a page goes by: the house's own, that of the file it is about, or the demo's.
#[must_use]
pub fn house(name: Option<&str>, path: Option<&Path>) -> String {
    let file = |path: &Path| {
        let name = path.file_stem().unwrap_or(path.as_os_str());
        name.to_string_lossy().into_owned()
    };
    name.map(str::to_owned)
        .or_else(|| path.map(file))
        .unwrap_or_else(|| "the demo house".to_owned())
}

/// The cautions as a page's foot has them.
pub(crate) fn cautions() -> Vec<(String, String)> {
    CAUTIONS
        .iter()
        .map(|(title, text)| ((*title).to_owned(), (*text).to_owned()))
        .collect()
}

/// A run's page.
#[derive(Clone, Copy, Debug)]
pub struct Report<'a> {
    /// The numbers, times already labelled.
    pub numbers: &'a SummaryNumbers,
    /// What to draw.
    pub series: &'a Series,
    /// What it stands for.
    pub context: &'a Context,
    /// What only a simulated winter knows.
    pub winter: Option<&'a WinterExtras>,
}

impl Report<'_> {
    /// The page, for a caller who wants to add to it.
    #[must_use]
    pub fn page(&self) -> Page {
        let mut page = run::page(self);
        if let Some(extras) = self.winter {
            page.sections.extend(winter::sections(self, extras));
        }
        page.sections.extend(closing::sections(self));
        page
    }

    /// Writes the whole file.
    ///
    /// # Errors
    /// Only the writer's.
    pub fn write(&self, out: &mut impl Write) -> io::Result<()> {
        self.page().write(out)
    }
}

#[cfg(test)]
mod tests;
