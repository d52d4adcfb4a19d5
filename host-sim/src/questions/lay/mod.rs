//! Where the tube goes, before the pour.
//!
//! Pure: a plan, a site and a question ([`Question`]) → grid → tree → way round the tree → detours → rounded course → figures and map
//! ([`Laid`]). The length follows from the grid: nodes × spacing, less one, less what rounding saves.

mod circuits;
mod coils;
mod evenness;
mod figures;
mod fill;
mod floor;
mod grid;
mod outline;
mod round;
mod tree;
mod warmth;

use std::fmt;

use serde::Serialize;

use crate::files::plan::{Plan, Point};
use crate::files::site::longest_usual_m;
use crate::sim::plant::config::PlantConfig;
use crate::sim::plant::exchanger::Layout;
pub use coils::Coil;
pub use figures::{Circuit, CornerRow, SiteLine, house_lines, is_other_floor};
use floor::Floor;
use grid::{Grid, Lines};
pub use round::{Corner, Course, Piece};
pub use warmth::Warmth;

/// Least radius of a bend made by hand, outside diameters (common practice, no source: 6 to 8; 5 with a bend support).
const BEND_DIAMETERS: f64 = 6.0;
/// Between two runs at a bulb there stay so many outside diameters (judgement).
const GAP_DIAMETERS: f64 = 3.0;
/// The entry is at most so far from the first pad, m.
const ENTRY_M: f64 = 1.0;
/// Lengths of circuits differ by at most this share of the longest.
const BALANCED: f64 = 0.1;
/// Share of the floor that may stay without tube.
const NOT_SERVED: f64 = 0.1;
/// Most nodes of a grid that are laid: a hundred times a large plant house.
const MOST_NODES: f64 = 400_000.0;
/// Most circuits, and counts of them that are tried until each is short enough.
const MOST_CIRCUITS: usize = 50;
const TRIES: usize = 3;

/// What the tube's printed metres say at the beginning of each circuit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Printed {
    /// The reading at the first node, m.
    pub start_m: f64,
    /// Whether the figures fall along the tube.
    pub falls: bool,
}

/// What is to be laid, and how.
#[derive(Clone, Debug)]
pub struct Question<'a> {
    /// The floor.
    pub plan: &'a Plan,
    /// The site, for tube, water and losses.
    pub plant: &'a PlantConfig,
    /// Wanted distance of runs, m.
    pub spacing_m: f64,
    /// Double spiral or to and fro.
    pub layout: Layout,
    /// Whether the spacing may be stretched by a tenth so that the lines fill the floor; not on a mesh.
    pub stretch: bool,
    /// Whether strips beside the pads are closed by detours.
    pub fill: bool,
    /// Reading of the tube at the beginning.
    pub printed: Option<Printed>,
    /// Coils that are sold, m.
    pub coils_m: Vec<f64>,
    /// Distance of marks along the tube, m.
    pub mark_m: f64,
    /// The slab is held at this, °C, by a store at that.
    pub hold_c: f64,
    /// Floor of the store, °C.
    pub store_c: f64,
}

impl<'a> Question<'a> {
    /// A double spiral that fills the floor, marks every 10 m, coils of 100 and 200 m, the slab held at 2 °C by a store at 9 °C.
    #[must_use]
    pub fn usual(plan: &'a Plan, plant: &'a PlantConfig, spacing_m: f64) -> Self {
        Self {
            plan,
            plant,
            spacing_m,
            layout: Layout::CounterFlow,
            stretch: true,
            fill: true,
            printed: None,
            coils_m: vec![100.0, 200.0],
            mark_m: 10.0,
            hold_c: 2.0,
            store_c: 9.0,
        }
    }
}

/// Why nothing can be laid.
#[derive(Clone, Debug, PartialEq)]
pub enum LayError {
    /// No pad of two by two lines has room.
    TooSmall,
    /// More nodes than can be laid.
    TooLarge,
    /// The spacing is no whole multiple of the mesh: spacing and mesh, m.
    OffMesh(f64, f64),
    /// The entry is this far from the nearest pad at a wall, m.
    FarEntry(f64),
    /// The pads do not make so many circuits.
    NotSplit(usize),
    /// A region drawn for a circuit has no pads, or pads in several pieces, or none at a wall.
    Region,
}

impl std::error::Error for LayError {}

impl fmt::Display for LayError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mm = |metres: f64| format!("{:.0} mm", 1e3 * metres);
        match self {
            Self::TooSmall => f.write_str(
                "found a floor without room for a pad of two by two runs; expected room between its edges and obstacles; lay it closer, or check the lengths",
            ),
            Self::TooLarge => f.write_str(
                "found a floor of more than 400 000 crossings of runs; expected a plant house; check the lengths and their units, or lay it in parts",
            ),
            Self::OffMesh(spacing_m, mesh_m) => write!(
                f,
                "found a spacing of {} on a mesh of {}; expected a whole multiple; take {} or {}",
                mm(*spacing_m),
                mm(*mesh_m),
                mm((spacing_m / mesh_m).floor().max(1.0) * mesh_m),
                mm(((spacing_m / mesh_m).floor() + 1.0) * mesh_m)
            ),
            Self::FarEntry(away_m) => write!(
                f,
                "found an entry {away_m:.2} m from the nearest run; expected at most {ENTRY_M} m; move floor.entry along the wall to where tube can lie"
            ),
            Self::NotSplit(count) => write!(
                f,
                "found no way to {count} circuits, each in one piece from the manifold's wall; expected fewer, or regions; \
                 lower circuits, move floor.entry to the middle of a long wall, or draw each region as [[circuit]]"
            ),
            Self::Region => f.write_str(
                "found a [[circuit]] whose pads are none, in several pieces or at no wall; expected a region in one piece that reaches the wall; widen it",
            ),
        }
    }
}

/// A limit that the plan crosses.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Limit {
    /// Bends tighter than the tube's least radius: how many, the tightest radius and the least, m.
    TightBends(usize, f64, f64),
    /// Runs at a bulb come nearer than three diameters: the gap, m.
    NarrowGap(f64),
    /// A circuit longer than is usual for the tube: its number, length and limit, m.
    LongCircuit(usize, f64, f64),
    /// Circuits differ in length by this share.
    Unbalanced(f64),
    /// The coldest pad by its laying and what it should have, °C.
    Uneven(f64, f64),
    /// This share of the floor has no tube.
    NotServed(f64),
    /// Joints that the tube crosses askew.
    SkewJoint(usize),
    /// A circuit needs more tube than the longest coil has: its number.
    NoCoil(usize),
}

/// A laid floor.
#[derive(Clone, Debug)]
pub struct Laid {
    /// How it is laid.
    pub layout: Layout,
    /// Distance of lines across and up, m.
    pub pitch_m: Point,
    /// A crossing of lines: node of the first column and row that carries tube, m.
    pub first_node: Point,
    /// Each circuit.
    pub circuits: Vec<Circuit>,
    /// Coils to buy; none where a circuit is too long for any.
    pub coils: Vec<Coil>,
    /// The floor without obstacles, and what of it has tube, m².
    pub floor_m2: f64,
    /// Nodes × spacing², m².
    pub served_m2: f64,
    /// Cells of the grid that have no tube, by their middles, in pieces, m.
    pub bare: Vec<Vec<Point>>,
    /// Detours that close strips, and the tube and bends they cost.
    pub detours: u32,
    /// Where tubes cross joints, with the direction of the tube.
    pub crossings: Vec<(Point, f64)>,
    /// How warm each part becomes.
    pub warmth: Warmth,
    /// Where to put the slab's sensor, m: between two runs; none where no place is straight.
    pub sensor: Option<Point>,
    /// Radius that the tube may be bent to, m.
    pub least_radius_m: f64,
    /// Limits that are crossed.
    pub limits: Vec<Limit>,
}

impl Laid {
    /// Share of the floor with tube.
    #[must_use]
    pub fn covered(&self) -> f64 {
        self.served_m2 / self.floor_m2
    }

    /// Floor without tube within the grid, m².
    #[must_use]
    pub fn bare_m2(&self) -> f64 {
        self.bare.iter().map(Vec::len).sum::<usize>() as f64 * self.pitch_m[0] * self.pitch_m[1]
    }
}

/// Lays the tube.
///
/// # Errors
/// A floor, entry or wish for which there is no way.
pub fn lay(question: &Question<'_>) -> Result<Laid, LayError> {
    let plan = question.plan;
    let floor = Floor::new(plan, plan.edge_m);
    let grid = best_grid(question, &floor)?;
    let entry_m = figures::entry_m(&floor, &grid).ok_or(LayError::TooSmall)?;
    if entry_m > ENTRY_M {
        return Err(LayError::FarEntry(entry_m));
    }
    let limit_m = longest_usual_m(&question.plant.floor.tube).unwrap_or(f64::INFINITY);
    let nodes = grid.pads.iter().filter(|pad| **pad).count() as f64 * 4.0;
    let length_m = nodes * f64::midpoint(grid.pitch[0], grid.pitch[1]);
    let needed = ((length_m / limit_m).ceil() as usize).clamp(1, MOST_CIRCUITS);
    if !plan.circuits.is_empty() {
        let regions = circuits::drawn(&grid, plan).ok_or(LayError::Region)?;
        return laid(question, &floor, &grid, &regions).ok_or(LayError::Region);
    }
    if let Some(count) = plan.count {
        let count = count as usize;
        let regions =
            circuits::split(&floor, &grid, plan.entry, count).ok_or(LayError::NotSplit(count))?;
        return laid(question, &floor, &grid, &regions).ok_or(LayError::NotSplit(count));
    }
    // As few as are short enough; the longest says how many more it takes.
    let mut found = None;
    let mut count = needed;
    for _ in 0..TRIES {
        let regions = circuits::split(&floor, &grid, plan.entry, count);
        let Some(laid) = regions.and_then(|regions| laid(question, &floor, &grid, &regions)) else {
            count += 1;
            continue;
        };
        let longest_m = laid
            .circuits
            .iter()
            .map(Circuit::whole_m)
            .fold(0.0, f64::max);
        let more = (count as f64 * longest_m / limit_m).ceil() as usize;
        found = Some(laid);
        if longest_m <= limit_m || count == MOST_CIRCUITS {
            break;
        }
        count = more.max(count + 1).min(MOST_CIRCUITS);
    }
    found.ok_or(LayError::NotSplit(needed))
}

fn best_grid(question: &Question<'_>, floor: &Floor<'_>) -> Result<Grid, LayError> {
    let spacing_m = question.spacing_m;
    let [low, high] = floor.bounds();
    if (high[0] - low[0]) * (high[1] - low[1]) / (spacing_m * spacing_m) > MOST_NODES {
        return Err(LayError::TooLarge);
    }
    let lines = match (question.plan.mesh_m, question.plan.mesh_start) {
        (Some(mesh_m), _)
            if ((spacing_m / mesh_m).round() * mesh_m - spacing_m).abs() > 1e-3
                || spacing_m < mesh_m - 1e-3 =>
        {
            return Err(LayError::OffMesh(spacing_m, mesh_m));
        }
        (Some(mesh_m), Some(start)) => Lines::Bars(mesh_m, start),
        (None, _) if question.stretch => Lines::Stretched,
        _ => Lines::Exact,
    };
    Grid::best(floor, spacing_m, lines).ok_or(LayError::TooSmall)
}

/// Ways through the regions, rounded and counted; `None` where a region has no pad at a wall.
fn laid(
    question: &Question<'_>,
    floor: &Floor<'_>,
    grid: &Grid,
    regions: &[Vec<bool>],
) -> Option<Laid> {
    let ways: Vec<outline::Way> = regions
        .iter()
        .map(|region| outline::best(floor, grid, region, question.plan.entry, question.layout))
        .collect::<Option<_>>()?;
    let mut taken = vec![false; grid.open.len()];
    let mut nodes: Vec<Vec<usize>> = ways.iter().map(|way| way.nodes.clone()).collect();
    nodes.iter().flatten().for_each(|node| taken[*node] = true);
    let radius = radius_m(question);
    let has_room = grid.pitch[0].min(grid.pitch[1]) / 2.0 >= radius - 1e-9;
    let detours = if question.fill && has_room {
        fill::fill(floor, grid, &mut nodes, &mut taken)
    } else {
        0
    };
    let circuits: Vec<Circuit> = ways
        .iter()
        .zip(&nodes)
        .map(|(way, nodes)| figures::circuit(question, grid, way, nodes, radius))
        .collect();
    let served_m2 =
        nodes.iter().map(Vec::len).sum::<usize>() as f64 * grid.pitch[0] * grid.pitch[1];
    let needed_m: Vec<f64> = circuits.iter().map(|circuit| circuit.order_m).collect();
    let coils = coils::choose(&needed_m, &question.coils_m).unwrap_or_default();
    let crossings = figures::crossings(question.plan, &circuits);
    let (warmth, map) = warmth::warmth(question, floor, grid, &nodes, &circuits, served_m2);
    let mut laid = Laid {
        layout: question.layout,
        pitch_m: grid.pitch,
        first_node: nodes
            .iter()
            .flatten()
            .map(|node| grid.place(*node))
            .fold([f64::INFINITY; 2], |least, place| {
                [0, 1].map(|axis| least[axis].min(place[axis]))
            }),
        sensor: question
            .plan
            .sensor
            .or_else(|| warmth::sensor(question, grid, &nodes, &map)),
        floor_m2: floor.area_m2(),
        served_m2,
        bare: figures::bare(grid, &taken),
        detours,
        crossings: crossings
            .iter()
            .map(|crossing| (crossing.at, crossing.heading_rad))
            .collect(),
        warmth,
        least_radius_m: radius,
        limits: Vec::new(),
        circuits,
        coils,
    };
    laid.limits = figures::limits(
        question,
        &laid,
        crossings.iter().filter(|crossing| !crossing.square).count(),
    );
    Some(laid)
}

/// Least radius of the tube's bends, m: as the plan says, or by its diameter.
fn radius_m(question: &Question<'_>) -> f64 {
    question
        .plan
        .bend_radius_m
        .unwrap_or(BEND_DIAMETERS * question.plant.floor.tube.outside_m)
}

#[cfg(test)]
mod tests;
