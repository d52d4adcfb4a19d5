//! The houses: variations of the demo site, each with settings derived from its site file.

use controller_core::settings::{Rule, Settings};

use crate::files::site::Site;
use crate::files::site::SiteConfig;
use crate::questions::own_settings::settings_for;

/// The site files.
const FILES: [(&str, &str); 10] = [
    (
        "demo",
        include_str!("../../../../tests/data/houses/demo.toml"),
    ),
    (
        "oncall",
        include_str!("../../../../tests/data/houses/oncall.toml"),
    ),
    (
        "no-boiler",
        include_str!("../../../../tests/data/houses/no-boiler.toml"),
    ),
    (
        "injection",
        include_str!("../../../../tests/data/houses/injection.toml"),
    ),
    (
        "long",
        include_str!("../../../../tests/data/houses/long.toml"),
    ),
    (
        "small",
        include_str!("../../../../tests/data/houses/small.toml"),
    ),
    (
        "wide",
        include_str!("../../../../tests/data/houses/wide.toml"),
    ),
    (
        "glycol",
        include_str!("../../../../tests/data/houses/glycol.toml"),
    ),
    (
        "roof",
        include_str!("../../../../tests/data/houses/roof.toml"),
    ),
    (
        "unmixed",
        include_str!("../../../../tests/data/houses/unmixed.toml"),
    ),
];

/// A house with a hazard that is known: it is run only when asked for, and its freezes are told apart.
const KNOWN_HAZARD: &str = "unmixed";

/// A house to run.
#[derive(Clone, Debug)]
pub struct House {
    /// Its name.
    pub name: String,
    /// The site.
    pub site: SiteConfig,
    /// The controller's settings there.
    pub settings: Settings,
}

impl House {
    /// A site with settings derived from it.
    ///
    /// # Errors
    /// Names the settings that the controller refuses.
    pub fn new(name: &str, site: Site) -> Result<Self, String> {
        let settings = Settings::check(settings_for(&site)).map_err(|problems| {
            let keys: Vec<&str> = problems.iter().map(|problem| problem.key().name()).collect();
            format!(
                "{name}: found a site whose settings are refused ({}); expected settings the controller accepts. Give --settings with it",
                keys.join(", ")
            )
        })?;
        Ok(Self::with_settings(name, site.config, settings))
    }

    /// A site with settings of its own.
    #[must_use]
    pub fn with_settings(name: &str, site: SiteConfig, settings: Settings) -> Self {
        Self {
            name: name.to_owned(),
            site,
            settings,
        }
    }

    /// The same house with a rule of the controller left out.
    #[must_use]
    pub fn without(mut self, rule: Rule) -> Self {
        self.settings = self.settings.without(rule);
        self
    }

    /// A house that is built in.
    ///
    /// # Errors
    /// There is none of this name.
    pub fn built_in(name: &str) -> Result<Self, String> {
        let found = FILES.iter().find(|(known, _)| *known == name);
        let Some((name, text)) = found else {
            let known: Vec<&str> = names().collect();
            return Err(format!(
                "--house: found \"{name}\"; expected one of {}",
                known.join(", ")
            ));
        };
        let site = Site::parse(text, &format!("{name}.toml")).map_err(|error| error.to_string())?;
        Self::new(name, site)
    }

    /// All built-in houses but the one with a known hazard.
    ///
    /// # Errors
    /// A built-in site file cannot be used: a fault of this program.
    pub fn usual() -> Result<Vec<Self>, String> {
        names()
            .filter(|name| *name != KNOWN_HAZARD)
            .map(Self::built_in)
            .collect()
    }

    /// Is its hazard known, so that its freezes are told apart?
    #[must_use]
    pub fn is_known_hazard(&self) -> bool {
        self.name == KNOWN_HAZARD
    }
}

/// Names of the built-in houses.
pub fn names() -> impl Iterator<Item = &'static str> {
    FILES.iter().map(|(name, _)| *name)
}
