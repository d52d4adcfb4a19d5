//! Fluid, circulator and the pipes between the floors.
//!
//! Ranges are common practice, no source, unless a line names one.

use super::macros::{choice, quantity, tube};
use super::{Key, Kind, Section};
use crate::sim::plant::config::Surroundings;
use crate::sim::plant::fluid::Fluid;
use crate::sim::plant::glycol::USUAL_SHARE;

#[rustfmt::skip]
pub(super) const FLUID: Section = Section {
    name: "fluid",
    doc: "What runs in the tubes.",
    fit: None,
    keys: &[
        Key {
            name: "kind",
            doc: "What it is.",
            is_listed: true,
            kind: Kind::Choice {
                options: || vec!["water", "propylene glycol", "ethylene glycol"],
                read: |site| {
                    Some(match site.plant.fluid {
                        Fluid::Water => "water",
                        Fluid::Propylene(_) => "propylene glycol",
                        Fluid::Ethylene(_) => "ethylene glycol",
                    })
                },
                write: |site, text| {
                    let fluid = match text {
                        "water" => Fluid::Water,
                        "propylene glycol" => Fluid::Propylene(USUAL_SHARE),
                        "ethylene glycol" => Fluid::Ethylene(USUAL_SHARE),
                        _ => return false,
                    };
                    site.plant.fluid = fluid;
                    true
                },
            },
        },
        Key {
            name: "glycol",
            doc: "Share of glycol by mass; only for a glycol.",
            is_listed: false,
            kind: Kind::Quantity {
                dimension: crate::files::quantity::Dimension::Fraction,
                typical: (0.2, 0.4),
                allowed: (0.15, 0.5),
                read: |site| match site.plant.fluid {
                    Fluid::Water => None,
                    Fluid::Propylene(share) | Fluid::Ethylene(share) => Some(share),
                },
                write: |site, value| match &mut site.plant.fluid {
                    Fluid::Water => {}
                    Fluid::Propylene(share) | Fluid::Ethylene(share) => *share = value,
                },
            },
        },
    ],
};

#[rustfmt::skip]
pub(super) const CIRCULATOR: Section = Section {
    name: "circulator",
    doc: "The circulator: head H = shut-off head - a Q2, zero at the largest flow.",
    fit: None,
    keys: &[
        quantity!("shutoff_head", Head, typical (1.5, 10.0), possible (0.1, 100.0), plant.circulator.shutoff_head_m,
            "Head with the valve shut, from the data sheet."),
        quantity!("maximum_flow", FlowRate, typical (1.0 / 3.6, 8.0 / 3.6), possible (0.1 / 3.6, 180.0 / 3.6),
            |site| Some(site.plant.circulator.runout_m3_h / 3.6),
            |site, flow_l_s| site.plant.circulator.runout_m3_h = flow_l_s * 3.6,
            "Flow without any resistance, from the data sheet."),
        quantity!("power", Power, typical (5.0, 100.0), possible (0.5, 3000.0), plant.circulator.electrical_w,
            "Electrical power while it runs."),
        quantity!("heat_to_water", Fraction, typical (0.5, 1.0), possible (0.0, 1.0), plant.circulator.heat_to_water,
            "Share of the electrical power that ends up in the water."),
        Key {
            name: "measured_flow",
            doc: "Flow as measured at the finished loop; it then stands for the one worked out from heads.",
            is_listed: false,
            kind: Kind::Quantity {
                dimension: crate::files::quantity::Dimension::FlowRate,
                typical: (0.03, 0.3),
                allowed: (0.001, 10.0),
                read: |site| site.plant.circulator.measured_flow_l_s,
                write: |site, flow_l_s| site.plant.circulator.measured_flow_l_s = Some(flow_l_s),
            },
        },
    ],
};

/// The keys of a pipe run, at a path of the configuration.
macro_rules! run_keys {
    ($($run:ident).+) => {
        &[
            quantity!("length", Length, typical (1.0, 20.0), possible (0.1, 300.0), $($run).+.length_m, "Length."),
            tube!("tube", $($run).+.tube, "Tube size by its standard name."),
            quantity!("tube_conductivity", Conductivity, typical (0.35, 0.45), possible (0.1, 400.0),
                $($run).+.tube_conductivity_w_mk, "Thermal conductivity of the tube wall."),
            quantity!("insulation", Length, typical (0.009, 0.05), possible (0.0, 0.3), $($run).+.insulation_m,
                "Thickness of the insulation; zero for none."),
            quantity!("insulation_conductivity", Conductivity, typical (0.03, 0.05), possible (0.01, 1.0),
                $($run).+.insulation_w_mk, "Thermal conductivity of the insulation."),
            quantity!("surface_film", HeatLossCoefficient, typical (8.0, 25.0), possible (1.0, 200.0),
                $($run).+.surface_w_m2k, "Heat transfer from the outside to the surroundings: 10 W/m2K still, 25 W/m2K windy."),
            quantity!("minor_losses", Fraction, typical (0.0, 20.0), possible (0.0, 1000.0), $($run).+.fittings_k,
                "Sum of the loss coefficients of its fittings, in velocity heads."),
            choice!("surroundings", $($run).+.surroundings, [("house air", Surroundings::HouseAir),
                ("store air", Surroundings::StoreAir), ("outdoor", Surroundings::Outdoor)], "Where the pipe runs."),
        ]
    };
}

#[rustfmt::skip]
pub(super) const SUPPLY_RUN: Section = Section {
    name: "supply_run",
    doc: "The pipe from the store's floor to the slab.",
    fit: None,
    keys: run_keys!(plant.supply_run),
};

#[rustfmt::skip]
pub(super) const RETURN_RUN: Section = Section {
    name: "return_run",
    doc: "The pipe from the slab back to the store's floor.",
    fit: None,
    keys: run_keys!(plant.return_run),
};
