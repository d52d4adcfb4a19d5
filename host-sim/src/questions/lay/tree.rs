//! A tree over the pads of one circuit; the tube goes once round it.
//!
//! Spanning-tree coverage (Gabriely and Rimon 2001, from memory; LaValle, *Planning Algorithms*, 2006, section 7.6).

use super::floor::Floor;
use super::grid::{DIRECTIONS, Grid};

/// Links of each pad: a bit for each of [`DIRECTIONS`].
#[derive(Clone, Debug)]
pub(super) struct Tree(Vec<u8>);

impl Tree {
    fn new(grid: &Grid) -> Self {
        Self(vec![0; grid.pads.len()])
    }

    fn link(&mut self, from: usize, direction: usize, to: usize) {
        self.0[from] |= 1 << direction;
        self.0[to] |= 1 << ((direction + 2) % 4);
    }

    /// Whether a pad is linked with the one beside it.
    pub(super) fn has(&self, pad: usize, direction: usize) -> bool {
        self.0[pad] & (1 << direction) != 0
    }

    /// Pads with one link: where a branch ends.
    pub(super) fn ends(&self, is_mine: impl Fn(usize) -> bool) -> usize {
        (0..self.0.len())
            .filter(|pad| is_mine(*pad) && self.0[*pad].count_ones() <= 1)
            .count()
    }
}

/// A pad beside another across a joint.
fn is_gate(floor: &Floor<'_>, grid: &Grid, from: usize, to: usize) -> bool {
    !floor.plan().joints.is_empty() && floor.crosses_joint(grid.middle(from), grid.middle(to))
}

/// A double spiral: the tree grows along the wall, which stays on one hand. `turn` is 1 with the wall at the left and 3 with the wall at the
/// right: quarter turns towards it, counter-clockwise. Pockets become branches; a joint is crossed only when nothing is left on
/// this side.
pub(super) fn spiral(
    floor: &Floor<'_>,
    grid: &Grid,
    is_mine: &[bool],
    start: usize,
    first: usize,
    turn: usize,
) -> Tree {
    let mut tree = Tree::new(grid);
    let mut seen = vec![false; grid.pads.len()];
    seen[start] = true;
    let free = |pad: usize, direction: usize, seen: &[bool]| {
        grid.beside(pad, DIRECTIONS[direction])
            .filter(|to| is_mine[*to] && !seen[*to] && !is_gate(floor, grid, pad, *to))
    };
    let mut order = vec![start];
    // The start has no wall behind it yet: straight on comes first.
    let mut stack = vec![(start, first, [0, 4 - turn, turn, 2])];
    loop {
        while let Some((pad, heading, turns)) = stack.last().copied() {
            let step = turns
                .into_iter()
                .map(|quarter| (heading + quarter) % 4)
                .find_map(|direction| free(pad, direction, &seen).map(|to| (direction, to)));
            match step {
                Some((direction, to)) => {
                    seen[to] = true;
                    order.push(to);
                    tree.link(pad, direction, to);
                    stack.push((to, direction, [turn, 0, 4 - turn, 2]));
                }
                None => {
                    stack.pop();
                }
            }
        }
        let gate = order.iter().find_map(|pad| {
            (0..4).find_map(|direction| {
                let to = grid.beside(*pad, DIRECTIONS[direction])?;
                (is_mine[to] && !seen[to]).then_some((*pad, direction, to))
            })
        });
        let Some((pad, direction, to)) = gate else {
            return tree;
        };
        seen[to] = true;
        order.push(to);
        tree.link(pad, direction, to);
        stack.push((to, direction, [turn, 0, 4 - turn, 2]));
    }
}

/// To and fro: the tree is a comb, whose teeth lie along one axis and whose back is the line of pads at `back`, the column or row
/// of pads the circuit begins in.
pub(super) fn comb(
    floor: &Floor<'_>,
    grid: &Grid,
    is_mine: &[bool],
    start: usize,
    teeth: usize,
) -> Tree {
    let across = grid.size[0];
    let along = |pad: usize| {
        if teeth == 0 {
            pad % across
        } else {
            pad / across
        }
    };
    let back = along(start);
    // Teeth first, then the back, then what lies further from it; joints last.
    let mut links: Vec<(bool, usize, usize, usize, usize)> = Vec::new();
    for pad in (0..is_mine.len()).filter(|pad| is_mine[*pad]) {
        for (direction, way) in DIRECTIONS.iter().enumerate().take(2) {
            if let Some(to) = grid.beside(pad, *way).filter(|to| is_mine[*to]) {
                let away = if direction == teeth {
                    0
                } else {
                    1 + along(pad).abs_diff(back)
                };
                links.push((is_gate(floor, grid, pad, to), away, pad, direction, to));
            }
        }
    }
    links.sort_unstable();
    let mut tree = Tree::new(grid);
    let mut set: Vec<usize> = (0..is_mine.len()).collect();
    for (_, _, pad, direction, to) in links {
        let (one, other) = (root(&mut set, pad), root(&mut set, to));
        if one != other {
            set[one] = other;
            tree.link(pad, direction, to);
        }
    }
    tree
}

/// The representative of a set, with the way to it halved.
fn root(set: &mut [usize], mut of: usize) -> usize {
    while set[of] != of {
        set[of] = set[set[of]];
        of = set[of];
    }
    of
}
