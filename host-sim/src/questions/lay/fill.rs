//! Strips that the pads leave empty, taken in by detours: two nodes beside a straight run, a to b, become a to c to d to b.

use super::floor::Floor;
use super::grid::{DIRECTIONS, Grid};
use super::outline::sense;

/// Takes free nodes into the ways, those first that cost the fewest bends; answers how many detours were made.
///
/// `taken` marks the nodes of all ways. Ends of a way stay as they are, since the leads begin there; a detour crosses no joint.
pub(super) fn fill(
    floor: &Floor<'_>,
    grid: &Grid,
    ways: &mut [Vec<usize>],
    taken: &mut [bool],
) -> u32 {
    let mut count = 0;
    for most in [0, 2, 4] {
        loop {
            let made: u32 = ways
                .iter_mut()
                .map(|way| pass(floor, grid, way, taken, most))
                .sum();
            if made == 0 {
                break;
            }
            count += made;
        }
    }
    count
}

/// Once along a way; every detour that adds at most so many bends.
fn pass(
    floor: &Floor<'_>,
    grid: &Grid,
    way: &mut Vec<usize>,
    taken: &mut [bool],
    most: i32,
) -> u32 {
    let mut made = 0;
    let mut longer: Vec<usize> = Vec::with_capacity(way.len());
    for at in 0..way.len() {
        longer.push(way[at]);
        if at == 0 || at + 2 >= way.len() {
            continue;
        }
        let (before, a, b, after) = (longer[longer.len() - 2], way[at], way[at + 1], way[at + 2]);
        for direction in DIRECTIONS {
            let (Some(c), Some(d)) = (
                grid.node_beside(a, direction),
                grid.node_beside(b, direction),
            ) else {
                continue;
            };
            let is_free = |node: usize| grid.open[node] && !taken[node];
            if !is_free(c)
                || !is_free(d)
                || [(a, c), (c, d), (d, b)]
                    .iter()
                    .any(|(from, to)| floor.crosses_joint(grid.place(*from), grid.place(*to)))
            {
                continue;
            }
            let bend = |x, y, z| sense(grid, [x, y, z]).abs();
            let added =
                bend(before, a, c) + 2 + bend(d, b, after) - bend(before, a, b) - bend(a, b, after);
            if added <= most {
                taken[c] = true;
                taken[d] = true;
                longer.extend([c, d]);
                made += 1;
                break;
            }
        }
    }
    *way = longer;
    made
}
