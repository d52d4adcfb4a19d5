//! The grid: nodes where the tube's middle may lie, in pads of two by two.

use super::floor::{Floor, NEAR_M};
use crate::files::plan::Point;

/// How far the spacing may be stretched or pressed so that the lines fill the floor.
const STRETCH: f64 = 0.1;
/// Served areas that differ by less are alike, m².
const ALIKE_M2: f64 = 1e-6;

/// East, north, west, south: the bits of a pad's links are in this order.
pub(super) const DIRECTIONS: [[i32; 2]; 4] = [[1, 0], [0, 1], [-1, 0], [0, -1]];

/// Nodes and pads. Pad (i, j) has the nodes (2i, 2j) to (2i + 1, 2j + 1).
#[derive(Clone, Debug)]
pub(super) struct Grid {
    /// Place of node (0, 0), m.
    pub(super) origin: Point,
    /// Distance of lines across and up, m.
    pub(super) pitch: Point,
    /// Pads across and up.
    pub(super) size: [usize; 2],
    /// Nodes where tube may lie, row by row, twice as many each way as pads.
    pub(super) open: Vec<bool>,
    /// Pads that are served: the largest connected set.
    pub(super) pads: Vec<bool>,
}

/// What the lines must sit on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Lines {
    /// The spacing as asked, anywhere.
    Exact,
    /// The spacing stretched a little where that fills the floor.
    Stretched,
    /// Bars of a mesh of this pitch, the first at this place.
    Bars(f64, Point),
}

impl Grid {
    /// The grid that serves most floor; of those alike the one nearest to the spacing asked for, then the best centred.
    pub(super) fn best(floor: &Floor<'_>, spacing_m: f64, lines: Lines) -> Option<Self> {
        let pitches = [0, 1].map(|axis| pitches(floor, spacing_m, lines, axis));
        let mut best: Option<(Rank, Self)> = None;
        for &x in &pitches[0] {
            for &y in &pitches[1] {
                let pitch = [x, y];
                let rows = origins(floor, y, lines, 1);
                for west in origins(floor, x, lines, 0) {
                    let columns = Columns::new(floor, west, x);
                    for &south in &rows {
                        let least = best.as_ref().map_or(0.0, |(rank, _)| rank.served_m2);
                        let Some(grid) = Self::at(floor, [west, south], pitch, &columns, least)
                        else {
                            continue;
                        };
                        let rank = grid.rank(floor, spacing_m);
                        if best.as_ref().is_none_or(|(known, _)| rank.beats(known)) {
                            best = Some((rank, grid));
                        }
                    }
                }
            }
        }
        best.map(|(_, grid)| grid)
    }

    /// The grid at a place; `None` where it serves less than `least_m2`, or nothing.
    fn at(
        floor: &Floor<'_>,
        origin: Point,
        pitch: Point,
        columns: &Columns,
        least_m2: f64,
    ) -> Option<Self> {
        let [_, high] = floor.bounds();
        let across = columns.allowed.len() / 2;
        let up = ((high[1] - origin[1]) / (2.0 * pitch[1])).ceil().max(0.0) as usize;
        let mut open = vec![false; 4 * across * up];
        for (i, allowed) in columns.allowed.iter().enumerate() {
            for [from, to] in allowed {
                let first = ((from - origin[1]) / pitch[1] - 1e-7).ceil().max(0.0) as usize;
                let end = ((to - origin[1]) / pitch[1] + 1e-7).floor() + 1.0;
                for j in first..(end.max(0.0) as usize).min(2 * up) {
                    open[j * 2 * across + i] = true;
                }
            }
        }
        let mut grid = Self {
            origin,
            pitch,
            size: [across, up],
            open,
            pads: vec![false; across * up],
        };
        let has_joints = !floor.plan().joints.is_empty();
        for pad in 0..grid.pads.len() {
            let ring = grid.ring(pad);
            let is_cut = || {
                let next = ring.iter().cycle().skip(1);
                ring.iter()
                    .zip(next)
                    .any(|(a, b)| floor.crosses_joint(grid.place(*a), grid.place(*b)))
            };
            grid.pads[pad] = ring.iter().all(|node| grid.open[*node]) && !(has_joints && is_cut());
        }
        let pad_m2 = 4.0 * pitch[0] * pitch[1];
        let most = grid.pads.iter().filter(|pad| **pad).count() as f64 * pad_m2;
        if most == 0.0 || most < least_m2 - ALIKE_M2 {
            return None;
        }
        grid.pads = grid.largest();
        Some(grid)
    }

    /// The largest connected set of pads.
    fn largest(&self) -> Vec<bool> {
        let mut seen = vec![false; self.pads.len()];
        let mut best: Vec<usize> = Vec::new();
        for pad in 0..self.pads.len() {
            if self.pads[pad] && !seen[pad] {
                let set = self.connected(pad, &mut seen, |pad| self.pads[pad]);
                if set.len() > best.len() {
                    best = set;
                }
            }
        }
        let mut largest = vec![false; self.pads.len()];
        best.into_iter().for_each(|pad| largest[pad] = true);
        largest
    }

    /// Pads connected with one, among those that count.
    pub(super) fn connected(
        &self,
        pad: usize,
        seen: &mut [bool],
        counts: impl Fn(usize) -> bool,
    ) -> Vec<usize> {
        let mut set = vec![pad];
        seen[pad] = true;
        let mut next = 0;
        while let Some(&pad) = set.get(next) {
            next += 1;
            for direction in DIRECTIONS {
                if let Some(beside) = self
                    .beside(pad, direction)
                    .filter(|beside| counts(*beside) && !seen[*beside])
                {
                    seen[beside] = true;
                    set.push(beside);
                }
            }
        }
        set
    }

    /// The pad beside another, inside the grid.
    pub(super) fn beside(&self, pad: usize, [dx, dy]: [i32; 2]) -> Option<usize> {
        let [across, up] = self.size;
        let column = (pad % across)
            .checked_add_signed(dx as isize)
            .filter(|i| *i < across)?;
        let row = (pad / across)
            .checked_add_signed(dy as isize)
            .filter(|j| *j < up)?;
        Some(row * across + column)
    }

    /// The node beside another, inside the grid.
    pub(super) fn node_beside(&self, node: usize, [dx, dy]: [i32; 2]) -> Option<usize> {
        let [across, up] = self.size.map(|size| 2 * size);
        let column = (node % across)
            .checked_add_signed(dx as isize)
            .filter(|i| *i < across)?;
        let row = (node / across)
            .checked_add_signed(dy as isize)
            .filter(|j| *j < up)?;
        Some(row * across + column)
    }

    /// A pad's nodes, counter-clockwise from its south-west.
    pub(super) fn ring(&self, pad: usize) -> [usize; 4] {
        let across = 2 * self.size[0];
        let first = 2 * (pad / self.size[0]) * across + 2 * (pad % self.size[0]);
        [first, first + 1, first + across + 1, first + across]
    }

    /// The pad a node belongs to.
    pub(super) fn pad_of(&self, node: usize) -> usize {
        let across = 2 * self.size[0];
        node / across / 2 * self.size[0] + node % across / 2
    }

    /// Column and row of a node.
    pub(super) fn column_row(&self, node: usize) -> [i32; 2] {
        let across = 2 * self.size[0];
        [(node % across) as i32, (node / across) as i32]
    }

    /// Where a node is, m.
    pub(super) fn place(&self, node: usize) -> Point {
        let [column, row] = self.column_row(node);
        [
            self.origin[0] + f64::from(column) * self.pitch[0],
            self.origin[1] + f64::from(row) * self.pitch[1],
        ]
    }

    /// The middle of a pad, m.
    pub(super) fn middle(&self, pad: usize) -> Point {
        let [x, y] = self.place(self.ring(pad)[0]);
        [x + self.pitch[0] / 2.0, y + self.pitch[1] / 2.0]
    }

    fn rank(&self, floor: &Floor<'_>, spacing_m: f64) -> Rank {
        let [low, high] = floor.bounds();
        let mut ends = [[f64::INFINITY, f64::NEG_INFINITY]; 2];
        let mut count = 0;
        for pad in (0..self.pads.len()).filter(|pad| self.pads[*pad]) {
            count += 1;
            let ring = self.ring(pad);
            for (node, end) in [(ring[0], 0), (ring[2], 1)] {
                let place = self.place(node);
                for axis in 0..2 {
                    ends[axis][end] = if end == 0 {
                        ends[axis][0].min(place[axis])
                    } else {
                        ends[axis][1].max(place[axis])
                    };
                }
            }
        }
        let off_centre =
            |axis: usize| ((ends[axis][0] - low[axis]) - (high[axis] - ends[axis][1])).abs();
        Rank {
            served_m2: f64::from(count) * 4.0 * self.pitch[0] * self.pitch[1],
            off_spacing_m: self
                .pitch
                .iter()
                .map(|pitch| (pitch - spacing_m).abs())
                .sum(),
            off_centre_m: off_centre(0) + off_centre(1),
        }
    }
}

/// What decides between two grids.
struct Rank {
    served_m2: f64,
    off_spacing_m: f64,
    off_centre_m: f64,
}

impl Rank {
    fn beats(&self, other: &Self) -> bool {
        if (self.served_m2 - other.served_m2).abs() > ALIKE_M2 {
            return self.served_m2 > other.served_m2;
        }
        if (self.off_spacing_m - other.off_spacing_m).abs() > NEAR_M {
            return self.off_spacing_m < other.off_spacing_m;
        }
        self.off_centre_m < other.off_centre_m - NEAR_M
    }
}

/// Where nodes may lie on each line of columns of a grid.
struct Columns {
    allowed: Vec<Vec<[f64; 2]>>,
}

impl Columns {
    fn new(floor: &Floor<'_>, west: f64, pitch: f64) -> Self {
        let [_, high] = floor.bounds();
        let pads = ((high[0] - west) / (2.0 * pitch)).ceil().max(0.0) as usize;
        let allowed = (0..2 * pads)
            .map(|column| floor.allowed_on(west + column as f64 * pitch))
            .collect();
        Self { allowed }
    }
}

/// Distances of lines that are tried along an axis.
fn pitches(floor: &Floor<'_>, spacing_m: f64, lines: Lines, axis: usize) -> Vec<f64> {
    let mut tried = vec![spacing_m];
    if lines == Lines::Stretched {
        let [low, high] = floor.bounds();
        let width_m = high[axis] - low[axis] - 2.0 * floor.edge_m();
        let count = 2.0 * ((width_m / spacing_m + 1.0) / 2.0).round();
        let pitch = width_m / (count - 1.0);
        if count >= 2.0
            && (pitch / spacing_m - 1.0).abs() <= STRETCH + NEAR_M
            && (pitch - spacing_m).abs() > NEAR_M
        {
            tried.push(pitch);
        }
    }
    tried
}

/// Where the first line of pads may be along an axis: a best grid touches something, so the places where a line touches are all
/// that need be tried, and the one in the middle. The first is at or before the floor's beginning.
fn origins(floor: &Floor<'_>, pitch: f64, lines: Lines, axis: usize) -> Vec<f64> {
    let [low, high] = floor.bounds();
    let period = 2.0 * pitch;
    let mut tried: Vec<f64> = match lines {
        Lines::Bars(mesh_m, first) => {
            let bars = (period / mesh_m).round() as usize;
            (0..bars)
                .map(|bar| first[axis] + bar as f64 * mesh_m)
                .collect()
        }
        Lines::Exact | Lines::Stretched => {
            let middle = f64::midpoint(low[axis], high[axis]);
            let mut places = floor.touching(axis);
            places.extend([middle - pitch / 2.0, middle + pitch / 2.0]);
            places
                .iter()
                .flat_map(|place| [*place, place - pitch])
                .collect()
        }
    };
    for place in &mut tried {
        *place -= ((*place - low[axis]) / period - 1e-9).ceil() * period;
    }
    tried.sort_by(f64::total_cmp);
    tried.dedup_by(|a, b| (*a - *b).abs() < NEAR_M);
    tried
}
