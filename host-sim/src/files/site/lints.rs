//! What is possible but unusual or unwise: said, not refused.

use std::fmt;

use super::SiteConfig;
use super::keys::{Kind, SECTIONS};
use super::value::{Scale, written};
use crate::files::quantity::{self, Dimension, Units};
use crate::sim::plant::config::{FloorConfig, Surroundings};
use crate::sim::plant::fluid::Fluid;
use crate::sim::plant::hydraulics::{
    PumpCurve, QUIET_M_S, Stretch, operating_flow_l_s, system_head_m,
};
use crate::sim::plant::tube::Tube;

/// Temperature at which flow and head are worked out, °C: a winter night's.
const WATER_C: f64 = 7.0;

/// Below this velocity bubbles stay where they are even in level tube, m/s (hydronics course texts, from memory).
const STAGNANT_BUBBLES_M_S: f64 = 0.4;

/// Above this an edge counts as bare, W/mK: 0.73 Btu/h·ft·°F, the unheated, uninsulated slab of ASHRAE 90.1-type tables, is 1.26.
const BARE_EDGE_W_MK: f64 = 1.2;

/// Longest usual circuit by inside diameter up to which it holds, both m (common practice, no source: 200, 300, 400, 500 ft).
const LONGEST_CIRCUIT: [(f64, f64); 4] = [
    (0.0105, 60.0),
    (0.0135, 90.0),
    (0.0162, 120.0),
    (0.020, 150.0),
];

/// A remark on a site that can be simulated.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lint {
    /// The key to look at, `section.key`.
    pub key: String,
    /// What is unusual about it.
    pub text: String,
}

impl fmt::Display for Lint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.key, self.text)
    }
}

fn lint(key: impl Into<String>, text: impl Into<String>) -> Lint {
    Lint {
        key: key.into(),
        text: text.into(),
    }
}

/// All remarks, those about the whole first.
pub(super) fn lints(config: &SiteConfig, units: Units) -> Vec<Lint> {
    let mut lints = hydraulics(config, units);
    for (section, floor) in floors(config) {
        lints.extend(circuit_length(section, floor, units));
    }
    lints.extend(edge(config, units));
    lints.extend(outdoor_runs(config));
    lints.extend(unmixed_boiler(config));
    // What was said of a key says more than that it is unusual.
    let unusual = untypical(config, units);
    let new = |lint: &Lint| lints.iter().all(|said| said.key != lint.key);
    let unusual: Vec<Lint> = unusual.into_iter().filter(new).collect();
    lints.extend(unusual);
    lints
}

fn floors(config: &SiteConfig) -> [(&'static str, &FloorConfig); 2] {
    [
        ("slab", &config.plant.floor),
        ("store_floor", &config.plant.store.floor),
    ]
}

/// Tube of the whole loop, one stretch after another.
fn stretches(config: &SiteConfig) -> Vec<Stretch> {
    let floors = floors(config).map(|(_, floor)| Stretch {
        tube: floor.tube,
        length_m: floor.circuit_length_m,
        roughness_m: floor.tube_roughness_m,
        fittings_k: floor.fittings_k,
        parallel: floor.circuits,
    });
    let runs = [&config.plant.supply_run, &config.plant.return_run].map(|run| Stretch {
        tube: run.tube,
        length_m: run.length_m,
        roughness_m: config.plant.floor.tube_roughness_m,
        fittings_k: run.fittings_k,
        parallel: 1,
    });
    floors.into_iter().chain(runs).collect()
}

/// Velocity, flow and head.
fn hydraulics(config: &SiteConfig, units: Units) -> Vec<Lint> {
    let circulator = &config.plant.circulator;
    let pump = PumpCurve {
        shutoff_head_m: circulator.shutoff_head_m,
        runout_l_s: circulator.runout_m3_h / 3.6,
    };
    let fluid = config.plant.fluid.properties(WATER_C);
    let stretches = stretches(config);
    let mut lints = Vec::new();
    let flow_l_s = match circulator.measured_flow_l_s {
        Some(measured_l_s) => {
            let needed_m = system_head_m(&stretches, &fluid, measured_l_s);
            let given_m = pump.head_m(measured_l_s).max(0.0);
            // The friction formula itself is good to a few per cent, a person's measurement to ten.
            if needed_m > 1.2 * given_m {
                lints.push(lint(
                    "circulator.measured_flow",
                    format!(
                        "{} through this loop needs a head of {}, this circulator gives {} there: measure again, or check \
                         length, bore and pump curve",
                        said(measured_l_s, Dimension::FlowRate, units),
                        said(needed_m, Dimension::Head, units),
                        said(given_m, Dimension::Head, units)
                    ),
                ));
            }
            measured_l_s
        }
        None => operating_flow_l_s(&pump, &stretches, &fluid),
    };
    for (section, floor) in floors(config) {
        let velocity = floor
            .tube
            .velocity_m_s(flow_l_s / f64::from(floor.circuits));
        lints.extend(velocity_lint(
            section,
            floor.tube,
            flow_l_s / f64::from(floor.circuits),
            velocity,
            units,
        ));
    }
    lints
}

fn velocity_lint(
    section: &str,
    tube: Tube,
    flow_l_s: f64,
    velocity_m_s: f64,
    units: Units,
) -> Option<Lint> {
    let velocity = |m_s: f64| match units {
        Units::Si => format!("{} m/s", rounded(m_s)),
        Units::Us => format!(
            "{} ft/s",
            rounded(quantity::in_unit(m_s, Dimension::Length, "ft"))
        ),
    };
    let what = format!(
        "{} in {} bore runs at {}",
        said(flow_l_s, Dimension::FlowRate, units),
        match units {
            Units::Si => format!("{:.1} mm", tube.inside_m * 1e3),
            Units::Us => said(tube.inside_m, Dimension::Length, units),
        },
        velocity(velocity_m_s)
    );
    if velocity_m_s > QUIET_M_S {
        Some(lint(
            format!("{section}.tube"),
            format!("{what}, above the noise limit of {}", velocity(QUIET_M_S)),
        ))
    } else if velocity_m_s < STAGNANT_BUBBLES_M_S {
        Some(lint(
            format!("{section}.tube"),
            format!(
                "{what}; below {} air bubbles stay in the tube: a stronger circulator, wider tube or shorter circuits",
                velocity(STAGNANT_BUBBLES_M_S)
            ),
        ))
    } else {
        None
    }
}

/// A value with two significant digits in the unit that suits it; a loop's flow in litres a second.
fn said(value: f64, dimension: Dimension, units: Units) -> String {
    if dimension == Dimension::FlowRate && units == Units::Si {
        return format!("{} L/s", rounded(value));
    }
    let text = written(value, dimension, units);
    let (number, unit) = text.split_once(' ').unwrap_or((&text, ""));
    let number = number.parse().map_or(value, rounded);
    format!("{number} {unit}")
}

/// A length of tube in whole metres or feet.
fn whole(length_m: f64, units: Units) -> String {
    let (length, unit) = quantity::convert(length_m, Dimension::Length, units);
    format!("{length:.0} {unit}")
}

/// Two significant digits, as a person says it.
fn rounded(value: f64) -> f64 {
    format!("{value:.1e}").parse().unwrap_or(value)
}

/// Longest usual circuit of a tube, m; `None` for tube wider than practice has a figure for.
pub(crate) fn longest_usual_m(tube: &Tube) -> Option<f64> {
    LONGEST_CIRCUIT
        .into_iter()
        .find(|(bore_m, _)| tube.inside_m <= *bore_m)
        .map(|(_, longest_m)| longest_m)
}

fn circuit_length(section: &str, floor: &FloorConfig, units: Units) -> Option<Lint> {
    let longest_m = longest_usual_m(&floor.tube)?;
    (floor.circuit_length_m > longest_m).then(|| {
        lint(
            format!("{section}.circuit_length"),
            format!(
                "{} of {} is longer than the usual {} of that size: head rises and the far end stays cold; consider parallel \
                 circuits",
                whole(floor.circuit_length_m, units),
                floor.tube.name,
                whole(longest_m, units)
            ),
        )
    })
}

fn edge(config: &SiteConfig, units: Units) -> Option<Lint> {
    let edge_loss = config.plant.house.edge_loss_w_mk;
    (edge_loss >= BARE_EDGE_W_MK).then(|| {
        lint(
            "house.edge_loss",
            format!(
                "{} is a bare slab edge: {} run straight outdoors; insulate it before anything else",
                said(edge_loss, Dimension::LinearLoss, units),
                said(config.plant.house.edge_w_k(), Dimension::HeatLoss, units)
            ),
        )
    })
}

fn outdoor_runs(config: &SiteConfig) -> Vec<Lint> {
    if config.plant.fluid != Fluid::Water {
        return Vec::new();
    }
    [("supply_run", &config.plant.supply_run), ("return_run", &config.plant.return_run)]
        .into_iter()
        .filter(|(_, run)| run.surroundings == Surroundings::Outdoor)
        .map(|(section, _)| {
            lint(
                format!("{section}.surroundings"),
                "plain water in a pipe outdoors freezes within an hour or so of standing still on a hard night",
            )
        })
        .collect()
}

fn unmixed_boiler(config: &SiteConfig) -> Option<Lint> {
    let boiler = config.plant.boiler.as_ref()?;
    boiler.mixing_c.is_none().then(|| {
        lint(
            "boiler.mixing_valve",
            "without a mixing valve boiler-hot water enters the concrete and the boiler runs in short bursts",
        )
    })
}

/// Every value outside its usual range.
fn untypical(config: &SiteConfig, units: Units) -> Vec<Lint> {
    let keys = SECTIONS
        .iter()
        .flat_map(|section| section.keys.iter().map(move |key| (section, key)));
    keys.filter_map(|(section, key)| {
        let text = match &key.kind {
            Kind::Quantity {
                dimension,
                typical,
                read,
                ..
            } => {
                let value = read(config)?;
                let tolerance = 1e-9 * value.abs();
                if value >= typical.0 - tolerance && value <= typical.1 + tolerance {
                    return None;
                }
                let scale = Scale::of_key(*dimension, *typical, units);
                format!(
                    "{} is unusual, {} is common",
                    scale.value(value),
                    scale.range(*typical)
                )
            }
            Kind::Count { typical, read, .. } => {
                let value = read(config)?;
                if (typical.0..=typical.1).contains(&value) {
                    return None;
                }
                format!(
                    "{value} is unusual, {} to {} is common",
                    typical.0, typical.1
                )
            }
            Kind::Choice { .. } | Kind::Flag { .. } | Kind::Text { .. } => return None,
        };
        Some(lint(format!("{}.{}", section.name, key.name), text))
    })
    .collect()
}
