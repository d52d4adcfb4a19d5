//! How even the floor becomes: every cell of the grid with its own heat balance, water marched through them in the tube's order.
//!
//! A cell passes heat to its surroundings, at an outer side to the outdoors, and along the concrete to the cells beside it. All
//! temperatures are excesses over the surroundings as shares of the water's at the inlet. Checked against the closed forms of
//! [`crate::sim::plant::evenness`].

use super::floor::Floor;
use super::grid::{DIRECTIONS, Grid};

/// What a slab does with the water's heat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Slab {
    /// Water to slab per metre of tube, W/(m K).
    pub(super) tube_w_mk: f64,
    /// Heat capacity flow of the water in one circuit, W/K.
    pub(super) capacity_w_k: f64,
    /// Slab to its surroundings, W/(m² K).
    pub(super) loss_w_m2k: f64,
    /// Along the slab: conductivity times thickness, W/K.
    pub(super) along_w_k: f64,
    /// Slab to outdoors at its outer sides, W/(m K).
    pub(super) edge_w_mk: f64,
}

/// Change at which the cells have settled.
const SETTLED: f64 = 1e-9;
/// More rounds are never needed: each takes off more than a tenth.
const ROUNDS: usize = 2_000;

/// A cell's constants.
struct Cell {
    node: usize,
    /// Cells beside it and what passes to them, W/K.
    beside: [Option<(usize, f64)>; 4],
    /// To surroundings and outdoors, W/K.
    loss_w_k: f64,
    /// Share of its excess over the cell that the water leaves there, 1 - e^(-NTU); 0 without tube.
    given: f64,
}

/// Excess of each node's cell, 0..1, `NaN` where there is no floor; and the water's excess at the outlet of each way. Nodes where tube
/// may lie and does not are cells without tube.
pub(super) fn excess(
    floor: &Floor<'_>,
    grid: &Grid,
    ways: &[Vec<usize>],
    slab: &Slab,
) -> (Vec<f64>, Vec<f64>) {
    let [dx, dy] = grid.pitch;
    let mut index = vec![usize::MAX; grid.open.len()];
    let mut order: Vec<usize> = ways.iter().flatten().copied().collect();
    order
        .iter()
        .enumerate()
        .for_each(|(at, node)| index[*node] = at);
    for (node, place) in index.iter_mut().enumerate() {
        if grid.open[node] && *place == usize::MAX {
            *place = order.len();
            order.push(node);
        }
    }
    let step = |from: usize, to: usize| {
        if grid.column_row(from)[0] == grid.column_row(to)[0] {
            dy
        } else {
            dx
        }
    };
    let mut lengths = vec![0.0; order.len()];
    for way in ways {
        for (at, node) in way.iter().enumerate() {
            let before = at.checked_sub(1).map(|before| step(way[before], *node));
            let after = way.get(at + 1).map(|after| step(*node, *after));
            lengths[index[*node]] = match (before, after) {
                (Some(before), Some(after)) => f64::midpoint(before, after),
                (one, other) => one.or(other).unwrap_or(0.0),
            };
        }
    }
    let cells: Vec<Cell> = order
        .iter()
        .zip(&lengths)
        .map(|(&node, length_m)| {
            let mut outer_m = 0.0;
            let beside = DIRECTIONS.map(|direction| {
                let (side_m, apart_m) = if direction[0] == 0 {
                    (dx, dy)
                } else {
                    (dy, dx)
                };
                let other = grid
                    .node_beside(node, direction)
                    .map(|other| index[other])
                    .filter(|other| *other != usize::MAX);
                if other.is_none() && floor.to_wall_m(grid.place(node), direction).is_some() {
                    outer_m += side_m;
                }
                other.map(|other| (other, slab.along_w_k * side_m / apart_m))
            });
            Cell {
                node,
                beside,
                loss_w_k: slab.loss_w_m2k * dx * dy + slab.edge_w_mk * outer_m,
                given: -libm::expm1(-slab.tube_w_mk * length_m / slab.capacity_w_k),
            }
        })
        .collect();
    let mut excess = vec![0.5; cells.len()];
    let mut outlets = vec![1.0; ways.len()];
    for _ in 0..ROUNDS {
        let mut moved: f64 = 0.0;
        let mut at = 0;
        let mut settle = |at: usize, water: f64| {
            let cell = &cells[at];
            let from_water_w_k = cell.given * slab.capacity_w_k;
            let (mut heat_w, mut losses_w_k) =
                (from_water_w_k * water, from_water_w_k + cell.loss_w_k);
            for (other, passes_w_k) in cell.beside.iter().flatten() {
                heat_w += passes_w_k * excess[*other];
                losses_w_k += passes_w_k;
            }
            let new = heat_w / losses_w_k;
            moved = moved.max((new - excess[at]).abs());
            excess[at] = new;
            water + (new - water) * cell.given
        };
        for (way, outlet) in ways.iter().zip(&mut outlets) {
            let mut water = 1.0;
            for _ in way {
                water = settle(at, water);
                at += 1;
            }
            *outlet = water;
        }
        while at < cells.len() {
            settle(at, 0.0);
            at += 1;
        }
        if moved < SETTLED {
            break;
        }
    }
    let mut map = vec![f64::NAN; grid.open.len()];
    cells
        .iter()
        .zip(&excess)
        .for_each(|(cell, excess)| map[cell.node] = *excess);
    (map, outlets)
}

/// Mean of each pad's cells, for pads that are served.
pub(super) fn pads(grid: &Grid, map: &[f64]) -> Vec<f64> {
    (0..grid.pads.len())
        .filter(|pad| grid.pads[*pad])
        .map(|pad| grid.ring(pad).iter().map(|node| map[*node]).sum::<f64>() / 4.0)
        .collect()
}
