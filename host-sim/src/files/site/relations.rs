//! Numbers that are each possible but cannot be true together.

use super::SiteConfig;
use super::document::Document;
use super::error::Problem;
use super::value::written;
use crate::files::quantity::{Dimension, Units};
use crate::sim::plant::config::FloorConfig;
use crate::sim::plant::fluid::Fluid;

/// How much longer than floor area over spacing a circuit may be: bends, and the way to the manifold.
const TUBE_ALLOWANCE: f64 = 1.10;

/// Shares of glycol for which the properties of the mixture are known.
const ETHYLENE_SHARES: (f64, f64) = (0.20, 0.40);

/// Every broken relation, each at the first of its keys that the file gives.
pub(super) fn broken(config: &SiteConfig, document: &Document<'_>) -> Vec<Problem> {
    let units = document.units;
    let relations = [roof, sunshine, vent, fluid, earth, start]
        .into_iter()
        .filter_map(|relation| relation(config, units));
    let floors = [
        ("slab", &config.plant.floor),
        ("store_floor", &config.plant.store.floor),
    ];
    let floors = floors
        .into_iter()
        .filter_map(|(section, floor)| floor_fits(section, floor, config, units));
    let mut broken: Vec<Broken> = relations
        .chain(floors)
        .chain(glycol_in_water(config, document))
        .collect();
    if broken.is_empty() {
        broken.extend(anything_else(config));
    }
    broken
        .into_iter()
        .map(|broken| broken.placed(document))
        .collect()
}

/// A broken relation and the keys it is about, the one to correct most likely first.
struct Broken {
    keys: Vec<(&'static str, &'static str)>,
    key: String,
    found: String,
    expected: String,
    advice: String,
}

impl Broken {
    fn new(
        keys: Vec<(&'static str, &'static str)>,
        found: String,
        expected: impl Into<String>,
        advice: impl Into<String>,
    ) -> Self {
        let key = keys
            .iter()
            .map(|(section, key)| format!("{section}.{key}"))
            .collect::<Vec<_>>()
            .join(", ");
        Self {
            keys,
            key,
            found,
            expected: expected.into(),
            advice: advice.into(),
        }
    }

    fn placed(self, document: &Document<'_>) -> Problem {
        let given = self
            .keys
            .iter()
            .find(|(section, key)| document.has(section, key));
        let (section, key) = given.or(self.keys.first()).copied().unwrap_or(("", ""));
        Problem {
            span: document.place(section, key),
            key: self.key,
            found: self.found,
            expected: self.expected,
            advice: self.advice,
        }
    }
}

fn length(value: f64, units: Units) -> String {
    written(value, Dimension::Length, units)
}

fn degrees(value: f64, units: Units) -> String {
    written(value, Dimension::Temperature, units)
}

fn roof(config: &SiteConfig, units: Units) -> Option<Broken> {
    let house = &config.plant.house;
    (house.ridge_m < house.eaves_m).then(|| {
        Broken::new(
            vec![("house", "ridge"), ("house", "eaves")],
            format!(
                "a ridge of {} below eaves of {}",
                length(house.ridge_m, units),
                length(house.eaves_m, units)
            ),
            "a ridge at least as high as the eaves",
            "correct one of the two",
        )
    })
}

fn sunshine(config: &SiteConfig, _: Units) -> Option<Broken> {
    let house = &config.plant.house;
    let sum = house.sun_to_floor + house.sun_to_air;
    (sum > 1.0 + 1e-9).then(|| {
        Broken::new(
            vec![("house", "sun_to_floor"), ("house", "sun_to_air")],
            format!("shares of the sun that add up to {sum:.3}"),
            "at most 1 together",
            "lower one of the two",
        )
    })
}

fn vent(config: &SiteConfig, units: Units) -> Option<Broken> {
    let vent = config.plant.house.vent?;
    (vent.full_c <= vent.opens_c).then(|| {
        Broken::new(
            vec![("vent", "full"), ("vent", "opens")],
            format!(
                "a vent that opens at {} and is open at {}",
                degrees(vent.opens_c, units),
                degrees(vent.full_c, units)
            ),
            "fully open at a higher temperature than it begins to open at",
            "correct one of the two",
        )
    })
}

fn fluid(config: &SiteConfig, _: Units) -> Option<Broken> {
    let Fluid::Ethylene(share) = config.plant.fluid else {
        return None;
    };
    (!(ETHYLENE_SHARES.0..=ETHYLENE_SHARES.1).contains(&share)).then(|| {
        Broken::new(
            vec![("fluid", "glycol"), ("fluid", "kind")],
            format!("{share} ethylene glycol"),
            format!("{} to {}", ETHYLENE_SHARES.0, ETHYLENE_SHARES.1),
            "properties outside these shares are not known to the program",
        )
    })
}

fn earth(config: &SiteConfig, units: Units) -> Option<Broken> {
    let (mean_c, freezing_c) = (config.plant.ground.mean_c, config.plant.fluid.freezing_c());
    (mean_c <= freezing_c).then(|| {
        Broken::new(
            vec![("earth", "mean"), ("fluid", "glycol"), ("fluid", "kind")],
            format!(
                "earth of {} and a fluid that freezes at {}",
                degrees(mean_c, units),
                degrees(freezing_c, units)
            ),
            "earth warmer than the freezing point",
            "such earth cannot warm the slab; correct the temperature or take more glycol",
        )
    })
}

fn start(config: &SiteConfig, units: Units) -> Option<Broken> {
    let (slab_c, freezing_c) = (config.plant.start.slab_c, config.plant.fluid.freezing_c());
    (slab_c <= freezing_c).then(|| {
        Broken::new(
            vec![("start", "slab"), ("fluid", "glycol"), ("fluid", "kind")],
            format!(
                "a slab of {} with a fluid that freezes at {}",
                degrees(slab_c, units),
                degrees(freezing_c, units)
            ),
            "a beginning with the fluid liquid",
            "start warmer or take more glycol",
        )
    })
}

fn floor_fits(
    section: &'static str,
    floor: &FloorConfig,
    config: &SiteConfig,
    units: Units,
) -> Option<Broken> {
    let tube = floor.tube;
    if tube.inside_m >= tube.outside_m {
        return Some(Broken::new(
            vec![(section, "tube_inside"), (section, "tube")],
            format!("an inside diameter of {}", length(tube.inside_m, units)),
            format!(
                "less than the outside diameter {} of {}",
                length(tube.outside_m, units),
                tube.name
            ),
            "measure again or name another tube",
        ));
    }
    let radius_m = tube.outside_m / 2.0;
    if floor.tube_depth_m < radius_m || floor.tube_depth_m > floor.thickness_m - radius_m {
        return Some(Broken::new(
            vec![
                (section, "tube_depth"),
                (section, "thickness"),
                (section, "tube"),
            ],
            format!(
                "a tube {} deep in {} of concrete",
                length(floor.tube_depth_m, units),
                length(floor.thickness_m, units)
            ),
            format!(
                "{} to {}",
                length(radius_m, units),
                length(floor.thickness_m - radius_m, units)
            ),
            "the whole tube must lie in the concrete; correct depth or thickness",
        ));
    }
    let closest_m = core::f64::consts::PI * tube.outside_m;
    if floor.spacing_m <= closest_m {
        return Some(Broken::new(
            vec![(section, "spacing"), (section, "tube")],
            format!("a spacing of {}", length(floor.spacing_m, units)),
            format!("more than {} for {}", length(closest_m, units), tube.name),
            "so close the formulas for embedded tube do not hold; widen the spacing",
        ));
    }
    // The store may be larger than the house.
    if section != "slab" {
        return None;
    }
    let area_m2 = config.plant.house.floor_area_m2();
    let longest_m = area_m2 / floor.spacing_m * TUBE_ALLOWANCE;
    let length_m = floor.circuit_length_m * f64::from(floor.circuits);
    (length_m > longest_m).then(|| {
        Broken::new(
            vec![
                (section, "circuit_length"),
                (section, "circuits"),
                (section, "spacing"),
                ("house", "width"),
                ("house", "length"),
            ],
            format!(
                "{} of tube at {}",
                length(length_m, units),
                length(floor.spacing_m, units)
            ),
            format!(
                "at most {} on a floor of {}",
                length(round_down(longest_m), units),
                written(area_m2, Dimension::Area, units)
            ),
            "shorten the circuits, narrow the spacing or correct the house's width and length",
        )
    })
}

/// To a whole tenth of a metre, so that what is named is not too long.
fn round_down(length_m: f64) -> f64 {
    (length_m * 10.0).floor() / 10.0
}

fn glycol_in_water(config: &SiteConfig, document: &Document<'_>) -> Option<Broken> {
    (config.plant.fluid == Fluid::Water && document.has("fluid", "glycol")).then(|| {
        Broken::new(
            vec![("fluid", "glycol"), ("fluid", "kind")],
            "a share of glycol in water".to_owned(),
            "no such key for water",
            "name the glycol as the kind, or take the share out",
        )
    })
}

/// What the plant itself refuses and no relation above has named better.
fn anything_else(config: &SiteConfig) -> Option<Broken> {
    let error = config.plant.check().err()?;
    Some(Broken {
        keys: Vec::new(),
        key: String::new(),
        found: format!("{} = {}", error.field, error.found),
        expected: error.expected.to_owned(),
        advice: "correct the value".to_owned(),
    })
}
