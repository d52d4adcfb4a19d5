//! The slab, the floor of the store, the store and the earth.
//!
//! Ranges are common practice, no source, unless a line names one.

use super::macros::{choice, flag, quantity, tube};
use super::{Key, Kind, Section};
use crate::sim::plant::exchanger::Layout;

/// Heat capacity of stored fruit and vegetables, J/kgK: potatoes 3.7, apples 3.8, carrots 3.9 kJ/kgK (ASHRAE Refrigeration
/// handbook, from memory), rounded.
const PRODUCE_J_KGK: f64 = 4000.0;

/// Inner surface below a ceiling, m² K/W (ISO 6946, upward flow).
const CEILING_M2K_W: f64 = 0.10;

/// The keys of a floor with tube in it, at a path of the configuration.
macro_rules! floor_keys {
    ($($floor:ident).+) => {
        &[
            quantity!("thickness", Length, typical (0.075, 0.2), possible (0.03, 0.6), $($floor).+.thickness_m,
                "Thickness of the concrete."),
            quantity!("conductivity", Conductivity, typical (1.3, 2.3), possible (0.2, 4.0), $($floor).+.conductivity_w_mk,
                "Thermal conductivity of the concrete: 1.65 W/mK plain, 2.3 W/mK reinforced (ISO 10456)."),
            quantity!("heat_capacity", HeatCapacityVolumetric, typical (1.8e6, 2.5e6), possible (0.5e6, 4.5e6),
                $($floor).+.heat_capacity_j_m3k, "Heat capacity of the concrete by volume."),
            tube!("tube", $($floor).+.tube, "Tube size by its standard name."),
            Key {
                name: "tube_inside",
                doc: "Inside diameter as measured, where it differs from the standard's; walls run thick.",
                is_listed: false,
                kind: Kind::Quantity {
                    dimension: crate::files::quantity::Dimension::Length,
                    typical: (0.009, 0.023),
                    allowed: (0.004, 0.06),
                    read: |site| Some(site.$($floor).+.tube.inside_m),
                    write: |site, inside_m| site.$($floor).+.tube.inside_m = inside_m,
                },
            },
            quantity!("tube_conductivity", Conductivity, typical (0.35, 0.45), possible (0.1, 400.0),
                $($floor).+.tube_conductivity_w_mk,
                "Thermal conductivity of the tube wall: 0.35 to 0.41 W/mK for cross-linked polyethylene."),
            quantity!("tube_roughness", Length, typical (1e-6, 1e-5), possible (0.0, 1e-3), $($floor).+.tube_roughness_m,
                "Roughness of the tube's inside: 1.5 µm drawn plastic, 7 µm to be careful."),
            quantity!("circuit_length", Length, typical (20.0, 100.0), possible (1.0, 1000.0), $($floor).+.circuit_length_m,
                "Length of one circuit in this floor."),
            Key {
                name: "circuits",
                doc: "Circuits side by side in this floor.",
                is_listed: true,
                kind: Kind::Count {
                    typical: (1, 4),
                    allowed: (1, 50),
                    read: |site| Some(site.$($floor).+.circuits),
                    write: |site, circuits| site.$($floor).+.circuits = circuits,
                },
            },
            quantity!("spacing", Length, typical (0.1, 0.3), possible (0.03, 1.0), $($floor).+.spacing_m,
                "Distance from tube to tube."),
            quantity!("tube_depth", Length, typical (0.03, 0.12), possible (0.005, 0.6), $($floor).+.tube_depth_m,
                "Depth of the tube's middle below the surface."),
            choice!("layout", $($floor).+.layout, [("serpentine", Layout::Serpentine), ("counter-flow", Layout::CounterFlow)],
                "How the tube is laid: to and fro, or as a double spiral."),
            quantity!("minor_losses", Fraction, typical (5.0, 40.0), possible (0.0, 1000.0), $($floor).+.fittings_k,
                "Sum of the loss coefficients of bends, tees and valves in one circuit, in velocity heads; a U-turn has 0.8."),
            quantity!("film_above", HeatLossCoefficient, typical (5.0, 11.0), possible (0.0, 50.0),
                $($floor).+.surface_above_w_m2k, "Surface coefficient above that the tube's resistance is worked out with."),
            quantity!("film_below", HeatLossCoefficient, typical (0.0, 6.0), possible (0.0, 50.0),
                $($floor).+.surface_below_w_m2k, "The same below; 0 for insulation or earth."),
            quantity!("underside_heat_loss", HeatLossCoefficient, typical (0.0, 2.0), possible (0.0, 20.0),
                $($floor).+.underside_w_m2k,
                "Heat loss coefficient from the slab's underside to the store's air: 0.6 with 55 mm of foam, 10 bare. Not used in the store."),
            Key {
                name: "underside_insulation",
                doc: "Insulation below the slab, instead of underside_heat_loss: R-9 or 1.6 m2K/W are 55 mm of foam.",
                is_listed: false,
                kind: Kind::Quantity {
                    dimension: crate::files::quantity::Dimension::ThermalResistance,
                    typical: (0.0, 5.0),
                    allowed: (0.0, 20.0),
                    read: |site| {
                        let through_w_m2k = site.$($floor).+.underside_w_m2k;
                        (through_w_m2k > 0.0).then(|| 1.0 / through_w_m2k - CEILING_M2K_W)
                    },
                    write: |site, m2k_w| site.$($floor).+.underside_w_m2k = 1.0 / (m2k_w + CEILING_M2K_W),
                },
            },
            quantity!("exchange", Fraction, typical (0.7, 1.3), possible (0.2, 5.0), $($floor).+.exchange,
                "Heat exchange of water and floor against the computed one; 1 unless a log has shown another."),
        ]
    };
}

#[rustfmt::skip]
pub(super) const SLAB: Section = Section {
    name: "slab",
    doc: "The slab of the house.",
    fit: None,
    keys: floor_keys!(plant.floor),
};

#[rustfmt::skip]
pub(super) const STORE_FLOOR: Section = Section {
    name: "store_floor",
    doc: "The floor of the store, which takes heat out of the earth.",
    fit: None,
    keys: floor_keys!(plant.store.floor),
};

#[rustfmt::skip]
pub(super) const STORE: Section = Section {
    name: "store",
    doc: "The store: a room in the earth below the house.",
    fit: None,
    keys: &[
        Key {
            name: "floor_area",
            doc: "Area of the store's floor, where it is not that of the house.",
            is_listed: false,
            kind: Kind::Quantity {
                dimension: crate::files::quantity::Dimension::Area,
                typical: (10.0, 200.0),
                allowed: (0.5, 5000.0),
                read: |site| site.plant.store.floor_area_m2,
                write: |site, area_m2| site.plant.store.floor_area_m2 = Some(area_m2),
            },
        },
        quantity!("depth", Length, typical (1.5, 4.0), possible (0.1, 30.0), plant.store.depth_m,
            "Depth of the store's floor below the ground outside."),
        quantity!("wall_height", Length, typical (1.8, 3.0), possible (0.1, 20.0), plant.store.wall_height_m,
            "Height of the walls."),
        quantity!("wall_area", Area, typical (10.0, 100.0), possible (0.1, 2000.0), plant.store.wall_area_m2,
            "Area of the walls against the earth."),
        quantity!("wall_thickness", Length, typical (0.2, 0.8), possible (0.01, 3.0), plant.store.wall_thickness_m,
            "Thickness of the walls."),
        quantity!("wall_conductivity", Conductivity, typical (0.8, 2.8), possible (0.02, 5.0),
            plant.store.wall_conductivity_w_mk,
            "Thermal conductivity of the walls: stone 1.7 to 2.8 W/mK."),
        quantity!("wall_heat_capacity", HeatCapacityVolumetric, typical (1.5e6, 2.5e6), possible (0.1e6, 4.5e6),
            plant.store.wall_heat_capacity_j_m3k,
            "Heat capacity of the walls by volume."),
        quantity!("air_volume", Volume, typical (20.0, 200.0), possible (0.1, 5000.0), plant.store.air_volume_m3,
            "Volume of air in the store."),
        quantity!("contents", Mass, typical (0.0, 5000.0), possible (0.0, 500_000.0),
            |site| Some(site.plant.store.contents_j_k / PRODUCE_J_KGK),
            |site, mass_kg| site.plant.store.contents_j_k = mass_kg * PRODUCE_J_KGK,
            "Fruit and vegetables kept in it."),
    ],
};

#[rustfmt::skip]
pub(super) const EARTH: Section = Section {
    name: "earth",
    doc: "The earth round and below the store.",
    fit: None,
    keys: &[
        quantity!("conductivity", Conductivity, typical (0.5, 2.5), possible (0.2, 5.0), plant.ground.conductivity_w_mk,
            "Thermal conductivity: dry sand or clay 0.5 W/mK, moist 1.2 to 1.8 W/mK, wet sand 2.4 W/mK."),
        quantity!("heat_capacity", HeatCapacityVolumetric, typical (1.3e6, 2.8e6), possible (0.5e6, 4.5e6),
            plant.ground.heat_capacity_j_m3k,
            "Heat capacity by volume: dry 1.5 MJ/m3K, moist 2.2 MJ/m3K, saturated 2.6 MJ/m3K."),
        quantity!("mean", Temperature, typical (4.0, 18.0), possible (-10.0, 35.0), plant.ground.mean_c,
            "Temperature over the whole year, the same at every depth: the yearly mean of the air, or 1 to 2 K more."),
        quantity!("amplitude", TemperatureDifference, typical (3.0, 18.0), possible (0.0, 40.0),
            plant.ground.amplitude_k,
            "Half the yearly swing at the surface; much less below house and snow than in the open."),
        quantity!("coldest_day", Duration, typical (864_000.0, 5_184_000.0), possible (0.0, 31_536_000.0),
            |site| Some(site.plant.ground.coldest_day * 86_400.0),
            |site, seconds| site.plant.ground.coldest_day = seconds / 86_400.0,
            "When the surface is coldest, counted from the beginning of the year."),
        quantity!("column_depth", Length, typical (8.0, 15.0), possible (1.0, 100.0), plant.ground.column_depth_m,
            "Depth below the store's floor down to which the earth is reckoned with; 10 to 13 m for a season."),
        flag!("lateral_gain",
            |site| site.plant.ground.lateral_gain, |site, is_on| site.plant.ground.lateral_gain = is_on,
            "Whether heat also comes in from the sides below the store's floor; it matters after a month."),
    ],
};
