//! The site file: what the house, its floors, its earth, its pump and its boiler are.
//!
//! TOML in which every physical value is a string with a unit, SI or US. One table of keys says for each
//! key where its value goes, what it measures, what is usual and what is possible; reading, refusing, linting and
//! printing the documented demonstration file are all done from that table. A key left out keeps the demonstration
//! site's value, and [`Site::left_out`] names it.

pub mod ask;
mod change;
mod document;
pub(crate) mod error;
pub mod form;
mod keys;
mod lints;
mod relations;
pub(crate) mod spoken;
mod value;

use std::path::Path;

use crate::files::input;
use crate::files::quantity::Units;
use crate::files::weather::{Asked, Source, WeatherError};
use crate::sim::plant::config::PlantConfig;
use crate::sim::weather::{DiffuseModel, GROUND_ALBEDO, Glazing, WeatherYear};

pub use change::{ChangeError, Changeable, Setting};
pub use document::demo_toml;
pub use error::{Fault, SiteError};
pub use lints::Lint;
pub(crate) use lints::longest_usual_m;

/// Everything a site file says.
#[derive(Debug, Clone, PartialEq)]
pub struct SiteConfig {
    /// What the house is called.
    pub name: Option<String>,
    /// House, floors, store, earth, circulator, boiler and sensors.
    pub plant: PlantConfig,
    /// Direction in which one gable faces, ° clockwise from north.
    pub gable_azimuth_deg: f64,
    /// Share of sunlight the ground throws back, 0–1.
    pub ground_albedo: f64,
    /// How diffuse light is spread over the sky.
    pub diffuse: DiffuseModel,
    /// Weather of the site; `None` is the built-in one. A relative path starts at the site file's folder.
    pub weather: Option<Source>,
    /// Latitude for weather that does not tell it, ° (+ north).
    pub latitude_deg: Option<f64>,
}

impl Default for SiteConfig {
    /// The demonstration site: its ridge runs east–west, so that one roof plane faces south.
    fn default() -> Self {
        Self {
            name: None,
            plant: PlantConfig::default(),
            gable_azimuth_deg: 90.0,
            ground_albedo: GROUND_ALBEDO,
            diffuse: DiffuseModel::default(),
            weather: None,
            latitude_deg: None,
        }
    }
}

impl SiteConfig {
    /// Latitude for a log's sun, ° (+ north); the demonstration site's where the file does not say.
    #[must_use]
    pub fn latitude_deg(&self) -> f64 {
        self.latitude_deg.unwrap_or(Asked::DEMO_LATITUDE_DEG)
    }

    /// The site's own weather; `None` where the built-in one stands for it. A made-up year is always the same one.
    ///
    /// # Errors
    /// As [`Source::read`].
    pub fn own_weather(&self) -> Result<Option<WeatherYear>, WeatherError> {
        let asked = Asked {
            latitude_deg: self.latitude_deg(),
            ..Asked::default()
        };
        self.weather
            .as_ref()
            .map(|source| source.read(&asked))
            .transpose()
    }

    /// The glazed planes of the house.
    #[must_use]
    pub fn glazing(&self) -> Glazing {
        let house = &self.plant.house;
        Glazing {
            ground_albedo: self.ground_albedo,
            diffuse: self.diffuse,
            ..Glazing::pitched_house(
                house.width_m,
                house.length_m,
                house.eaves_m,
                house.ridge_m,
                self.gable_azimuth_deg,
            )
        }
    }
}

/// A site file that has been read and checked.
#[derive(Debug, Clone, PartialEq)]
pub struct Site {
    /// What it says.
    pub config: SiteConfig,
    /// What is possible but unusual or unwise.
    pub lints: Vec<Lint>,
    /// Keys the file leaves out: the demonstration site's values stand for them.
    pub left_out: Vec<String>,
}

impl Site {
    /// Reads and checks a file.
    ///
    /// # Errors
    /// [`SiteError`]: the file cannot be read, or the first wrong place in it.
    pub fn read(path: &Path) -> Result<Self, SiteError> {
        let file = path.display().to_string();
        let text = input::text(path).map_err(|cause| SiteError::Unreadable {
            file: file.clone(),
            cause,
        })?;
        let mut site = Self::parse(&text, &file)?;
        if let (Some(Source::File(weather)), Some(folder)) = (&site.config.weather, path.parent()) {
            site.config.weather = Some(Source::File(folder.join(weather)));
        }
        Ok(site)
    }

    /// Reads and checks a text; `file` names it in messages.
    ///
    /// # Errors
    /// The first wrong place in the text.
    pub fn parse(text: &str, file: &str) -> Result<Self, SiteError> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let refuse = |problems| error::refuse(problems, file, text);
        let (document, mut problems) =
            document::Document::parse(text).map_err(|problem| refuse(vec![problem]))?;
        let (config, left_out, unusable) = document.apply(SiteConfig::default());
        problems.extend(unusable);
        // What was not understood leaves the demonstration site's values in place: relations would be judged by those.
        if problems.is_empty() {
            problems = relations::broken(&config, &document);
        }
        if !problems.is_empty() {
            return Err(refuse(problems));
        }
        let lints = lints::lints(&config, document.units);
        Ok(Self {
            config,
            lints,
            left_out,
        })
    }

    /// What is unusual or unwise, in these units.
    #[must_use]
    pub fn lints_in(&self, units: Units) -> Vec<Lint> {
        lints::lints(&self.config, units)
    }

    /// What is to be said of it, in these units: what is unusual, and what the file leaves out.
    #[must_use]
    pub fn remarks(&self, units: Units) -> Vec<String> {
        let mut remarks: Vec<String> = self
            .lints_in(units)
            .iter()
            .map(ToString::to_string)
            .collect();
        if !self.left_out.is_empty() {
            remarks.push(left_out(&self.left_out));
        }
        remarks
    }

    /// The demonstration site.
    #[must_use]
    pub fn demo() -> Self {
        let config = SiteConfig::default();
        let lints = lints::lints(&config, Units::Si);
        Self {
            config,
            lints,
            left_out: Vec::new(),
        }
    }
}

/// That keys are left out: each by its name, or only how many where they are many.
fn left_out(keys: &[String]) -> String {
    const MOST_NAMED: usize = 40;
    let which = if keys.len() <= MOST_NAMED {
        keys.join(", ")
    } else {
        let mut sections: Vec<&str> = keys
            .iter()
            .filter_map(|key| key.split_once('.').map(|(section, _)| section))
            .collect();
        sections.dedup();
        format!(
            "{} keys of {} (host-sim site prints them)",
            keys.len(),
            sections.join(", ")
        )
    };
    format!("Not in the site file, so the demo site's values stand: {which}.")
}

#[cfg(test)]
mod tests;
