//! The walk round the tree, cut open at the manifold: the way of the tube from node to node.

use super::floor::Floor;
use super::grid::{DIRECTIONS, Grid};
use super::tree::{self, Tree};
use crate::files::plan::Point;
use crate::sim::plant::exchanger::Layout;

/// Pads nearest to the entry that are tried as the start.
const STARTS: usize = 6;
/// None of them is farther from the entry than the nearest by more than this, m: leads are no place to save bends.
const FARTHER_M: f64 = 1.0;
/// Bends that a metre of lead weighs.
const LEAD_BENDS: f64 = 4.0;
/// A node counts as along the wall within this many spacings of the least distance.
const ALONG_WALL: f64 = 0.75;

/// The way of one circuit.
#[derive(Clone, Debug)]
pub(super) struct Way {
    /// Nodes in order, supply first.
    pub(super) nodes: Vec<usize>,
    /// Where the branches of its tree end.
    pub(super) ends: usize,
    /// From the entry to the first node and from the last, m.
    pub(super) leads_m: [f64; 2],
    /// Where the tube comes up at the wall, for both ends.
    pub(super) risers: [Point; 2],
}

/// What decides between two ways, the lesser the better.
#[derive(PartialEq, PartialOrd)]
struct Rank(usize, f64, f64);

/// A start: its pad and the direction of the wall.
struct Start {
    pad: usize,
    outward: usize,
    away_m: f64,
}

/// The best way through the pads of one circuit; `None` where none of them is at a wall.
pub(super) fn best(
    floor: &Floor<'_>,
    grid: &Grid,
    is_mine: &[bool],
    entry: Point,
    layout: Layout,
) -> Option<Way> {
    let by_wall: Vec<bool> = walls(floor, grid, is_mine);
    let mut best: Option<(Rank, Way)> = None;
    for start in starts(floor, grid, is_mine, entry) {
        for tree in trees(floor, grid, is_mine, start.pad, layout) {
            let ends = tree.ends(|pad| is_mine[pad]);
            let ring = grid.ring(start.pad);
            // The side of the ring that faces outward: south is its first.
            let side = (start.outward + 1) % 4;
            let (from, to) = (ring[side], ring[(side + 1) % 4]);
            let walk = walk(grid, &tree, to);
            debug_assert_eq!(walk.last(), Some(&from));
            let bends = bends(grid, &walk);
            let ways = [walk.clone(), walk.into_iter().rev().collect::<Vec<_>>()];
            for nodes in ways {
                let Some(way) = led(floor, grid, nodes, ends, entry, start.outward) else {
                    continue;
                };
                let along: f64 = way
                    .nodes
                    .iter()
                    .enumerate()
                    .filter(|(_, node)| by_wall[**node])
                    .map(|(at, _)| at as f64)
                    .sum();
                // Rounded, so that mirror images rank alike.
                let cost = (f64::from(bends) + LEAD_BENDS * way.leads_m.iter().sum::<f64>()) * 1e6;
                let rank = Rank(ends, cost.round(), along);
                if best.as_ref().is_none_or(|(known, _)| rank < *known) {
                    best = Some((rank, way));
                }
            }
        }
    }
    best.map(|(_, way)| way)
}

/// Nodes near a wall of the floor.
fn walls(floor: &Floor<'_>, grid: &Grid, is_mine: &[bool]) -> Vec<bool> {
    let mut near = vec![false; grid.open.len()];
    let reach = floor.edge_m() + ALONG_WALL * grid.pitch[0].max(grid.pitch[1]);
    for pad in (0..is_mine.len()).filter(|pad| is_mine[*pad]) {
        for node in grid.ring(pad) {
            let place = grid.place(node);
            near[node] = DIRECTIONS.into_iter().any(|direction| {
                floor
                    .to_wall_m(place, direction)
                    .is_some_and(|away| away < reach)
            });
        }
    }
    near
}

/// Sides of pads that face a wall, those nearest to the entry; all that are as near as the last of them.
fn starts(floor: &Floor<'_>, grid: &Grid, is_mine: &[bool], entry: Point) -> Vec<Start> {
    let mut starts = Vec::new();
    for pad in (0..is_mine.len()).filter(|pad| is_mine[*pad]) {
        let middle = grid.middle(pad);
        for (outward, direction) in DIRECTIONS.into_iter().enumerate() {
            let is_outer = grid
                .beside(pad, direction)
                .is_none_or(|beside| !grid.pads[beside]);
            if is_outer && floor.to_wall_m(middle, direction).is_some() {
                starts.push(Start {
                    pad,
                    outward,
                    away_m: distance(middle, entry),
                });
            }
        }
    }
    starts.sort_by(|a, b| a.away_m.total_cmp(&b.away_m));
    let nearest_m = starts.first().map_or(0.0, |start| start.away_m);
    starts.retain(|start| start.away_m <= nearest_m + FARTHER_M);
    let mut pads = Vec::new();
    for start in &starts {
        if !pads.contains(&start.pad) {
            pads.push(start.pad);
        }
        if pads.len() == STARTS {
            let last_m = start.away_m + 1e-9;
            starts.retain(|start| start.away_m <= last_m);
            break;
        }
    }
    starts
}

/// Trees that begin at a pad.
fn trees(
    floor: &Floor<'_>,
    grid: &Grid,
    is_mine: &[bool],
    start: usize,
    layout: Layout,
) -> Vec<Tree> {
    let is_free = |direction: usize| {
        grid.beside(start, DIRECTIONS[direction % 4])
            .is_some_and(|pad| is_mine[pad])
    };
    match layout {
        Layout::Serpentine => [0, 1]
            .map(|teeth| tree::comb(floor, grid, is_mine, start, teeth))
            .into(),
        Layout::CounterFlow => {
            let mut trees = Vec::new();
            for turn in [1, 3] {
                for first in 0..4 {
                    if is_free(first) && !is_free(first + turn) {
                        trees.push(tree::spiral(floor, grid, is_mine, start, first, turn));
                    }
                }
            }
            if trees.is_empty() {
                // No wall beside it: a pad alone, or one that faces a wall at the end of a line.
                let first = (0..4).find(|direction| is_free(*direction)).unwrap_or(0);
                trees.extend(
                    [1, 3].map(|turn| tree::spiral(floor, grid, is_mine, start, first, turn)),
                );
            }
            trees
        }
    }
}

/// Once round the tree, counter-clockwise, from a node to the one before it.
fn walk(grid: &Grid, tree: &Tree, from: usize) -> Vec<usize> {
    let mut nodes = vec![from];
    let mut node = from;
    loop {
        let pad = grid.pad_of(node);
        // Corner of the pad: south-west 0, south-east 1, north-east 2, north-west 3. Past its side, or out along a link.
        let corner = grid
            .ring(pad)
            .iter()
            .position(|other| *other == node)
            .unwrap_or(0);
        let outward = (corner + 3) % 4;
        let direction = if tree.has(pad, outward) {
            outward
        } else {
            corner
        };
        let next = grid
            .node_beside(node, DIRECTIONS[direction])
            .unwrap_or(from);
        if next == from {
            return nodes;
        }
        nodes.push(next);
        node = next;
    }
}

/// Quarter bends of a way.
pub(super) fn bends(grid: &Grid, nodes: &[usize]) -> u32 {
    nodes
        .windows(3)
        .map(|three| u32::from(sense(grid, [three[0], three[1], three[2]]) != 0))
        .sum()
}

/// 1 where a way turns left, -1 right, 0 straight on.
pub(super) fn sense(grid: &Grid, nodes: [usize; 3]) -> i32 {
    let [a, b, c] = nodes.map(|node| grid.column_row(node));
    (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
}

/// A way with its leads: straight to the wall, then along it to the entry.
fn led(
    floor: &Floor<'_>,
    grid: &Grid,
    nodes: Vec<usize>,
    ends: usize,
    entry: Point,
    outward: usize,
) -> Option<Way> {
    let lead = |node: &usize| {
        let place = grid.place(*node);
        let away = floor.to_wall_m(place, DIRECTIONS[outward])?;
        let [dx, dy] = DIRECTIONS[outward].map(f64::from);
        let riser = [place[0] + dx * away, place[1] + dy * away];
        Some((away + distance(riser, entry), riser))
    };
    let (first, last) = (lead(nodes.first()?)?, lead(nodes.last()?)?);
    Some(Way {
        ends,
        leads_m: [first.0, last.0],
        risers: [first.1, last.1],
        nodes,
    })
}

pub(super) fn distance(a: Point, b: Point) -> f64 {
    libm::hypot(a[0] - b[0], a[1] - b[1])
}
