//! The houses: variations of the demo site, each with settings derived from its site file.

use controller_core::settings::{BoilerKind as CallKind, Field, Key, RawSettings, Settings};
use controller_core::time::Duration;
use controller_core::units::{JoulesPerKilogramKelvin, MillilitresPerSecond, Ratio, Watts};

use crate::plant::config::{BoilerKind, Piping, PlantConfig, Tending};
use crate::site::{Site, SiteConfig};
use crate::size::{Check, Question};

/// The site files.
const FILES: [(&str, &str); 10] = [
    ("demo", include_str!("../../../tests/data/houses/demo.toml")),
    (
        "oncall",
        include_str!("../../../tests/data/houses/oncall.toml"),
    ),
    (
        "no-boiler",
        include_str!("../../../tests/data/houses/no-boiler.toml"),
    ),
    (
        "injection",
        include_str!("../../../tests/data/houses/injection.toml"),
    ),
    ("long", include_str!("../../../tests/data/houses/long.toml")),
    (
        "small",
        include_str!("../../../tests/data/houses/small.toml"),
    ),
    ("wide", include_str!("../../../tests/data/houses/wide.toml")),
    (
        "glycol",
        include_str!("../../../tests/data/houses/glycol.toml"),
    ),
    ("roof", include_str!("../../../tests/data/houses/roof.toml")),
    (
        "unmixed",
        include_str!("../../../tests/data/houses/unmixed.toml"),
    ),
];

/// A house with a hazard that is known: it is run only when asked for, and its freezes are told apart.
const KNOWN_HAZARD: &str = "unmixed";

/// A call on a fire that is only laid when called for shows heat late. Status: judgement; longest the settings allow.
const PROOF_ON_CALL: Duration = Duration::from_mins(45);

/// A house to run.
#[derive(Clone, Debug)]
pub struct House {
    /// Its name.
    pub name: String,
    /// The site.
    pub site: SiteConfig,
    /// The controller's settings there.
    pub settings: Settings,
    /// Settings raised beyond what the site says because the controller refuses them otherwise.
    pub raised: Vec<&'static str>,
}

impl House {
    /// A site with settings derived from it.
    ///
    /// # Errors
    /// Names the settings that the controller refuses whatever is raised.
    pub fn new(name: &str, site: SiteConfig) -> Result<Self, String> {
        let (settings, raised) = settings_for(&site.plant)
            .map_err(|keys| format!("{name}: found a site whose settings are refused ({keys}); expected settings the controller accepts. Give --settings with it"))?;
        Ok(Self {
            name: name.to_owned(),
            site,
            settings,
            raised,
        })
    }

    /// A site with settings of its own.
    #[must_use]
    pub fn with_settings(name: &str, site: SiteConfig, settings: Settings) -> Self {
        Self {
            name: name.to_owned(),
            site,
            settings,
            raised: Vec::new(),
        }
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
        Self::new(name, site.config)
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

/// The settings a careful owner would put for a house, from the design check's figures, and the names of those that
/// had to be raised for the controller to accept the whole.
///
/// # Errors
/// The settings still refused.
pub fn settings_for(plant: &PlantConfig) -> Result<(Settings, Vec<&'static str>), String> {
    // The question decides figures that are not used here.
    let check = Check::of(
        plant,
        &Question {
            hold_c: 2.0,
            store_c: 8.0,
            design_c: -15.0,
        },
    );
    let mut raw = RawSettings::DEFAULT;
    let whole = |value: f64| value.round() as i32;
    raw.flow = MillilitresPerSecond::from_milli(1_000 * whole(1_000.0 * check.pump.flow_l_s));
    raw.specific_heat = JoulesPerKilogramKelvin::from_milli(
        100_000 * whole(check.heat.specific_heat_j_kgk / 100.0),
    );
    raw.pump_power = Watts::from_milli(1_000 * whole(check.pump.electrical_w));
    raw.loop_yield = Ratio::from_milli(10 * whole(100.0 * check.floors[0].effectiveness));
    let transit_s = check.heat.transit_s.round() as u32;
    raw.transit = Duration::from_secs(transit_s);
    raw.purge = raw
        .purge
        .max(Duration::from_mins((2 * transit_s).div_ceil(60)));
    match &plant.boiler {
        None => raw.boiler = CallKind::None,
        Some(boiler) => {
            raw.return_to_store = boiler.piping == Piping::Series;
            match &boiler.kind {
                BoilerKind::Injection { .. } => raw.boiler = CallKind::Injection,
                BoilerKind::HandFired(fire) => {
                    raw.boiler = CallKind::Firing;
                    if fire.tending == Tending::OnCall {
                        raw.proof_time = PROOF_ON_CALL;
                    }
                }
            }
        }
    }
    accepted(raw)
}

/// Raises what the controller names as too low, by a hundredth of its range at a time, until it accepts the whole.
fn accepted(mut raw: RawSettings) -> Result<(Settings, Vec<&'static str>), String> {
    const STEPS: i32 = 100;
    let mut raised: Vec<&'static str> = Vec::new();
    loop {
        let problems = match Settings::check(raw) {
            Ok(settings) => return Ok((settings, raised)),
            Err(problems) => problems,
        };
        let keys: Vec<Key> = problems.iter().map(|problem| problem.key()).collect();
        let mut is_raised = false;
        for field in keys
            .iter()
            .filter_map(|key| Field::all().iter().find(|field| field.key == *key))
        {
            let step = ((field.max - field.min) / STEPS).max(1);
            let bits = raw.bits(field.key);
            if bits < field.max && raw.set_bits(field.key, bits.saturating_add(step).min(field.max))
            {
                is_raised = true;
                if !raised.contains(&field.name) {
                    raised.push(field.name);
                }
            }
        }
        if !is_raised {
            let named: Vec<&str> = keys.iter().map(|key| key.name()).collect();
            return Err(named.join(", "));
        }
    }
}
