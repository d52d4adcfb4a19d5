//! The map of evenness in the site's own terms: how warm each part of the floor is at the balance point.

use super::evenness::{Slab, excess, pads};
use super::figures::Circuit;
use super::floor::Floor;
use super::grid::Grid;
use super::outline::{distance, sense};
use super::{Laid, Question, SiteLine, figures};
use crate::files::plan::Point;
use crate::files::quantity::Units;
use crate::questions::size::balance;
use crate::sim::plant::balance::{Given, balance_point};
use crate::sim::plant::operating::{LoopDesign, Path, REFERENCE_C, TubeResistance};

/// How much colder than what is held the coldest pad may be, K (common practice, no source).
const COLD_PAD_K: f64 = 1.0;
/// A metre further from the manifold weighs as much as this much off the floor's mean, K.
const SENSOR_K_M: f64 = 0.05;
/// The sensor stays this far from edges, m.
const SENSOR_EDGE_M: f64 = 0.5;

/// How warm the floor is at the balance point, with the store alone.
#[derive(Clone, Debug, PartialEq)]
pub struct Warmth {
    /// Outdoors at the balance point, °C.
    pub outdoor_c: f64,
    /// Water into the slab, °C.
    pub supply_c: f64,
    /// Mean, warmest and coldest pad of two by two runs, °C.
    pub mean_c: f64,
    /// Warmest pad, °C.
    pub warmest_c: f64,
    /// Coldest pad, °C.
    pub coldest_c: f64,
    /// Coldest pad with the edge's loss spread over the floor, as the design check has it, °C: what the laying alone does.
    pub laying_c: f64,
    /// Excess of the warmest pad over that of the coldest, the same way.
    pub ratio: f64,
    /// Coldest cell without tube, °C.
    pub bare_c: Option<f64>,
    /// What the coldest pad should have by its laying, °C.
    pub wanted_c: f64,
    /// Middle and temperature of each cell, m and °C.
    pub cells: Vec<(Point, f64)>,
}

/// The floor's warmth, and the excess of each node's cell.
pub(super) fn warmth(
    question: &Question<'_>,
    floor: &Floor<'_>,
    grid: &Grid,
    ways: &[Vec<usize>],
    circuits: &[Circuit],
    served_m2: f64,
) -> (Warmth, Vec<f64>) {
    let mut plant = question.plant.clone();
    let count = circuits.len().max(1) as f64;
    plant.floor.circuits = circuits.len().max(1) as u32;
    plant.floor.circuit_length_m = circuits.iter().map(Circuit::whole_m).sum::<f64>() / count;
    plant.floor.spacing_m = served_m2 / (plant.floor.circuit_length_m * count);
    plant.floor.layout = question.layout;
    let point = LoopDesign::new(&plant).flow_point(Path::Series, REFERENCE_C);
    let fluid = plant.fluid.properties(REFERENCE_C);
    let resistance = TubeResistance::of(&plant.floor, &fluid, point.flow_l_s / count);
    let losses = balance::losses(&plant);
    let area_m2 = plant.floor.heated_area_m2();
    let slab = Slab {
        tube_w_mk: 1.0 / resistance.total_mk_w(),
        capacity_w_k: point.capacity_w_k / count,
        loss_w_m2k: losses.through_air_w_k() / area_m2,
        along_w_k: plant.floor.conductivity_w_mk * plant.floor.thickness_m,
        edge_w_mk: plant.house.edge_loss_w_mk,
    };
    let spread = Slab {
        loss_w_m2k: losses.total_w_k() / area_m2,
        edge_w_mk: 0.0,
        ..slab
    };
    let (map, _) = excess(floor, grid, ways, &slab);
    let by_laying = pads(grid, &excess(floor, grid, ways, &spread).0);
    let held = balance_point(
        &plant,
        Given::Floor(question.hold_c),
        question.store_c,
        &balance::options(&plant),
    );
    let celsius = |share: f64| held.outdoor_c + share * (held.supply_c - held.outdoor_c);
    let pads = pads(grid, &map);
    let least = |pads: &[f64]| pads.iter().copied().fold(f64::INFINITY, f64::min);
    let most = |pads: &[f64]| pads.iter().copied().fold(0.0, f64::max);
    let mut has_tube = vec![false; map.len()];
    ways.iter()
        .flatten()
        .for_each(|node| has_tube[*node] = true);
    let bare = (0..map.len())
        .filter(|node| !has_tube[*node] && !map[*node].is_nan())
        .map(|node| map[node])
        .min_by(f64::total_cmp);
    let warmth = Warmth {
        outdoor_c: held.outdoor_c,
        supply_c: held.supply_c,
        mean_c: celsius(pads.iter().sum::<f64>() / pads.len().max(1) as f64),
        warmest_c: celsius(most(&pads)),
        coldest_c: celsius(least(&pads)),
        laying_c: celsius(least(&by_laying)),
        ratio: most(&by_laying) / least(&by_laying),
        bare_c: bare.map(celsius),
        wanted_c: question.hold_c - COLD_PAD_K,
        cells: (0..map.len())
            .filter(|node| !map[*node].is_nan())
            .map(|node| (grid.place(node), celsius(map[node])))
            .collect(),
    };
    (warmth, map)
}

/// A place between two straight runs that is as warm as the floor's mean and not far from the manifold.
pub(super) fn sensor(
    question: &Question<'_>,
    grid: &Grid,
    ways: &[Vec<usize>],
    map: &[f64],
) -> Option<Point> {
    let mut straight = vec![false; map.len()];
    for three in ways.iter().flat_map(|way| way.windows(3)) {
        straight[three[1]] = sense(grid, [three[0], three[1], three[2]]) == 0;
    }
    let mean = pads(grid, map);
    let mean = mean.iter().sum::<f64>() / mean.len().max(1) as f64;
    let plan = question.plan;
    let keep = Floor::new(plan, SENSOR_EDGE_M.max(plan.edge_m));
    let candidates = (0..grid.pads.len())
        .filter(|pad| grid.pads[*pad])
        .filter_map(|pad| {
            let ring = grid.ring(pad);
            let middle = grid.middle(pad);
            ring.iter().all(|node| straight[*node]).then(|| {
                let off = ring.iter().map(|node| map[*node]).sum::<f64>() / 4.0 - mean;
                let is_inside = keep
                    .allowed_on(middle[0])
                    .iter()
                    .any(|[low, high]| (*low..=*high).contains(&middle[1]));
                // The water's whole excess is of the order of ten kelvin.
                let cost = (10.0 * off).abs()
                    + SENSOR_K_M * distance(middle, plan.entry)
                    + if is_inside { 0.0 } else { 10.0 };
                (cost, middle)
            })
        });
    candidates
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, middle)| middle)
}

impl Laid {
    /// Values for the site file, as it writes them.
    #[must_use]
    pub fn site_lines(&self, units: Units) -> Vec<SiteLine> {
        figures::site_lines(self, units)
    }
}
