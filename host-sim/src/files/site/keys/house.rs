//! Place, house, and what the house may have besides.
//!
//! Ranges are common practice, no source, unless a line names one.

use super::macros::{choice, flag, quantity};
use super::{Fit, Key, Kind, Section};
use crate::files::site::SiteConfig;
use crate::files::weather::Source;
use crate::sim::plant::config::{Curtain, OutsideFilm, ThermalMass, Vent};
use crate::sim::weather::DiffuseModel;

/// Heat capacity of water by volume, J/m³K, at 20 °C (IAPWS-95: 998.25 kg/m³ × 4183.7 J/kgK).
const WATER_J_M3K: f64 = 4.176e6;

#[rustfmt::skip]
pub(super) const PLACE: Section = Section {
    name: "place",
    doc: "Where the house stands and which weather it gets.",
    fit: None,
    keys: &[
        Key {
            name: "name",
            doc: "What the house is called at the head of a page. Left out: this file's name.",
            is_listed: false,
            kind: Kind::Text {
                read: |site| site.name.clone(),
                write: |site, text| {
                    site.name = Some(text.trim().to_owned());
                    Ok(())
                },
            },
        },
        Key {
            name: "weather",
            doc: "Hourly weather file, EPW or TMY3, or a log of the outdoor temperature, from this file's folder on; or latitude, \
                design night and monthly means, such as \"40 N, -22 C, -2 -1 4 9 14 20 23 22 17 10 3 -2\". Left out: the \
                built-in weather.",
            is_listed: false,
            kind: Kind::Text {
                read: |site| site.weather.as_ref().map(ToString::to_string),
                write: |site, text| {
                    site.weather = Some(Source::parse(text)?);
                    Ok(())
                },
            },
        },
        Key {
            name: "latitude",
            doc: "Latitude for the sun of a log: north is positive. Weather files and climates tell their own.",
            is_listed: false,
            kind: Kind::Quantity {
                dimension: crate::files::quantity::Dimension::Angle,
                typical: (25.0, 60.0),
                allowed: (-75.0, 75.0),
                read: |site| site.latitude_deg,
                write: |site, degrees| site.latitude_deg = Some(degrees),
            },
        },
        quantity!("gable_direction", Angle, typical (0.0, 360.0), possible (0.0, 360.0), gable_azimuth_deg,
            "Direction in which one gable faces, clockwise from north; 90 deg: the ridge runs east-west."),
        quantity!("ground_reflectance", Fraction, typical (0.15, 0.7), possible (0.0, 1.0), ground_albedo,
            "Share of sunlight the ground throws back: 0.2 grass or soil, 0.7 fresh snow."),
        choice!("sky_model", diffuse, [("isotropic", DiffuseModel::Isotropic), ("hay-davies",
            DiffuseModel::HayDavies)],
            "How the light of the sky is spread."),
    ],
};

#[rustfmt::skip]
pub(super) const HOUSE: Section = Section {
    name: "house",
    doc: "The plant house: straight sides, symmetric pitched roof.",
    fit: None,
    keys: &[
        quantity!("width", Length, typical (2.0, 10.0), possible (1.0, 50.0), plant.house.width_m,
            "Width of the gable, outside."),
        quantity!("length", Length, typical (2.5, 30.0), possible (1.0, 200.0), plant.house.length_m,
            "Length along the ridge, outside."),
        quantity!("eaves", Length, typical (1.2, 3.5), possible (0.2, 10.0), plant.house.eaves_m,
            "Height of the eaves above the slab."),
        quantity!("ridge", Length, typical (2.0, 5.0), possible (0.3, 15.0), plant.house.ridge_m,
            "Height of the ridge above the slab."),
        quantity!("glazing_u_value", HeatLossCoefficient, typical (1.5, 6.8), possible (0.2, 12.0),
            plant.house.glazing_u_w_m2k,
            "Heat loss coefficient of the glazing: single glass 6 W/m2K, double film 4 W/m2K, twin-wall 3.3 to 3.7 W/m2K; \
            an R-value such as R-1.7 is taken as well."),
        quantity!("air_changes", AirChange, typical (0.3, 2.0), possible (0.0, 20.0), plant.house.air_changes_per_h,
            "Air changes by leakage: 0.5 to 1 new and tight, 1 to 2 old glass, more if broken."),
        quantity!("edge_loss", LinearLoss, typical (0.5, 1.5), possible (0.0, 5.0), plant.house.edge_loss_w_mk,
            "Heat loss of the slab's edge to outdoors by its length: 1.26 W/mK bare, 0.93 W/mK behind R-10 of 0.6 m depth; the \
            R-value of insulation so deep is taken as well."),
        quantity!("transmittance", Fraction, typical (0.5, 0.92), possible (0.0, 1.0), plant.house.transmittance,
            "Share of sunlight the glazing lets through: glass 0.88, twin-wall 0.8, double film 0.76."),
        quantity!("sun_to_floor", Fraction, typical (0.1, 0.7), possible (0.0, 1.0), plant.house.sun_to_floor,
            "Share of the sunlight let in that warms the floor."),
        quantity!("sun_to_air", Fraction, typical (0.1, 0.6), possible (0.0, 1.0), plant.house.sun_to_air,
            "Share of the sunlight let in that warms the air; the rest goes into plants' evaporation and out again."),
        quantity!("sky_view", Fraction, typical (0.3, 1.0), possible (0.0, 1.0), plant.house.sky_view,
            "Share of the glazing's surroundings that is open sky; 0 leaves the sky's cold out."),
        quantity!("glazing_emissivity", Fraction, typical (0.6, 0.95), possible (0.0, 1.0), plant.house.emissivity,
            "Share of long-wave radiation the glazing takes and gives: 0.9 glass and plates, less for film."),
        quantity!("air_heat_capacity", HeatCapacityVolumetric, typical (900.0, 1350.0), possible (600.0, 1600.0),
            plant.house.air_heat_capacity_j_m3k,
            "Heat capacity of the air by volume: 1290 J/m3K at the sea and 2 °C, a tenth less for each 900 m of height."),
        choice!("outside_film",
            plant.house.outside_film, [("standard", OutsideFilm::Standard), ("wind", OutsideFilm::Wind)],
            "Whether wind changes the heat loss coefficient of the glazing."),
    ],
};

#[rustfmt::skip]
pub(super) const CURTAIN: Section = Section {
    name: "curtain",
    doc: "A curtain drawn at night.",
    fit: Some(Fit {
        is_fitted: |site| site.plant.house.curtain.is_some(),
        set: set_curtain,
    }),
    keys: &[
        flag!("fitted", |site| site.plant.house.curtain.is_some(), set_curtain, "Whether there is one."),
        quantity!("glazing_u_value", HeatLossCoefficient, typical (1.2, 3.0), possible (0.2, 12.0),
            in plant.house.curtain, u_w_m2k, "Heat loss coefficient of glazing and curtain together, drawn."),
        quantity!("air_changes", AirChange, typical (0.2, 1.0), possible (0.0, 20.0),
            in plant.house.curtain, air_changes_per_h, "Air changes by leakage with the curtain drawn."),
    ],
};

fn set_curtain(site: &mut SiteConfig, is_fitted: bool) {
    site.plant.house.curtain =
        is_fitted.then(|| site.plant.house.curtain.unwrap_or(Curtain::USUAL));
}

#[rustfmt::skip]
pub(super) const VENT: Section = Section {
    name: "vent",
    doc: "A roof vent that opens by the air's temperature.",
    fit: Some(Fit {
        is_fitted: |site| site.plant.house.vent.is_some(),
        set: set_vent,
    }),
    keys: &[
        flag!("fitted", |site| site.plant.house.vent.is_some(), set_vent, "Whether there is one."),
        quantity!("opens", Temperature, typical (8.0, 25.0), possible (0.0, 60.0), in plant.house.vent, opens_c,
            "Air temperature at which it begins to open."),
        quantity!("full", Temperature, typical (15.0, 32.0), possible (1.0, 70.0), in plant.house.vent, full_c,
            "Air temperature at which it is fully open."),
        quantity!("air_changes", AirChange, typical (5.0, 60.0), possible (0.0, 200.0),
            in plant.house.vent, air_changes_per_h, "Air changes with the vent fully open."),
    ],
};

fn set_vent(site: &mut SiteConfig, is_fitted: bool) {
    let usual = Vent {
        opens_c: 16.0,
        full_c: 24.0,
        air_changes_per_h: 30.0,
    };
    site.plant.house.vent = is_fitted.then(|| site.plant.house.vent.unwrap_or(usual));
}

#[rustfmt::skip]
pub(super) const THERMAL_MASS: Section = Section {
    name: "thermal_mass",
    doc: "Water barrels, beds or masonry that the air warms and cools.",
    fit: Some(Fit {
        is_fitted: |site| site.plant.house.mass.is_some(),
        set: set_thermal_mass,
    }),
    keys: &[
        flag!("fitted", |site| site.plant.house.mass.is_some(), set_thermal_mass, "Whether there is any."),
        quantity!("water", Volume, typical (0.1, 5.0), possible (0.001, 500.0), water_m3, set_water_m3,
            "Volume of water that holds as much heat; a cubic metre of moist soil counts as half of one of water."),
        quantity!("exchange", HeatLoss, typical (5.0, 300.0), possible (0.1, 20_000.0),
            in plant.house.mass, exchange_w_k, "Heat exchange with the air: about 8 W/m2K times its surface."),
    ],
};

fn water_m3(site: &SiteConfig) -> Option<f64> {
    site.plant
        .house
        .mass
        .map(|mass| mass.heat_capacity_j_k / WATER_J_M3K)
}

fn set_water_m3(site: &mut SiteConfig, volume_m3: f64) {
    if let Some(mass) = &mut site.plant.house.mass {
        mass.heat_capacity_j_k = volume_m3 * WATER_J_M3K;
    }
}

fn set_thermal_mass(site: &mut SiteConfig, is_fitted: bool) {
    let usual = ThermalMass {
        heat_capacity_j_k: 0.4 * WATER_J_M3K,
        exchange_w_k: 30.0,
    };
    site.plant.house.mass = is_fitted.then(|| site.plant.house.mass.unwrap_or(usual));
}

#[rustfmt::skip]
pub(super) const START: Section = Section {
    name: "start",
    doc: "Temperatures at the beginning of a simulated winter.",
    fit: None,
    keys: &[quantity!("slab", Temperature, typical (4.0, 20.0), possible (-20.0, 40.0), plant.start.slab_c,
        "Slab, water and air in the house.")],
};
