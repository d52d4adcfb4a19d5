//! Which pads belong to which circuit.
//!
//! Strips across the manifold's wall, each with a path of its own to the manifold: a further strip's supply and return run side by side
//! in a row of pads along the wall, below those of the nearer ones, so that nothing crosses.

use super::floor::Floor;
use super::grid::{DIRECTIONS, Grid};
use super::outline::distance;
use crate::files::plan::{Plan, Point, Rect};

/// Regions that differ by less than one in so many are alike.
const ALIKE: usize = 20;

/// A circuit's pads, as a mark on every pad of the grid.
pub(super) type Region = Vec<bool>;

/// The whole of the grid as one circuit, or split into so many alike; `None` where the pads do not make so many.
pub(super) fn split(
    floor: &Floor<'_>,
    grid: &Grid,
    entry: Point,
    count: usize,
) -> Option<Vec<Region>> {
    if count == 1 {
        return Some(vec![grid.pads.clone()]);
    }
    let view = View::of(floor, grid, entry)?;
    // The strip with the manifold in it may be any: alike in size first, then the shortest paths to the manifold.
    let share = grid.pads.iter().filter(|pad| **pad).count() / count;
    // The manifold's column may move by a pad or two where the halves become more alike.
    let left = view
        .places
        .iter()
        .filter(|(_, [along, _])| *along < view.own)
        .count();
    // As many regions are at the left as there are pads for, one more or less.
    let least = (left / share.max(1)).saturating_sub(1).min(count - 1);
    let owns = least..(least + 4).min(count);
    [0, -1, 1, -2, 2]
        .into_iter()
        .flat_map(|aside| owns.clone().map(move |own| (aside, own)))
        .filter_map(|(aside, own)| Some((aside, view.strips(grid, count, own, aside)?)))
        .min_by_key(|(aside, strips)| {
            let sizes = || {
                strips
                    .regions
                    .iter()
                    .map(|region| region.iter().filter(|pad| **pad).count())
            };
            let unlike = sizes().max().unwrap_or(0) - sizes().min().unwrap_or(0);
            (
                ALIKE * unlike / share.max(1),
                aside.abs(),
                strips.shared,
                unlike,
            )
        })
        .map(|(_, strips)| strips.regions)
}

/// The regions a person has drawn: pads whose middle is in the rectangle; `None` where one has no pads in one piece.
pub(super) fn drawn(grid: &Grid, plan: &Plan) -> Option<Vec<Region>> {
    let regions: Vec<Region> = plan
        .circuits
        .iter()
        .map(|Rect { low, high }| {
            let is_in = |pad: usize| {
                let [x, y] = grid.middle(pad);
                (low[0]..high[0]).contains(&x) && (low[1]..high[1]).contains(&y)
            };
            (0..grid.pads.len())
                .map(|pad| grid.pads[pad] && is_in(pad))
                .collect()
        })
        .collect();
    regions
        .iter()
        .all(|region| is_whole(grid, region))
        .then_some(regions)
}

/// Whether a region is one piece and not nothing.
fn is_whole(grid: &Grid, region: &[bool]) -> bool {
    let Some(first) = region.iter().position(|is_in| *is_in) else {
        return false;
    };
    let mut seen = vec![false; region.len()];
    grid.connected(first, &mut seen, |pad| region[pad]).len()
        == region.iter().filter(|is_in| **is_in).count()
}

/// The pads as seen from the manifold: so far along its wall, so far from it.
struct View {
    /// Along and away of each pad, away from the wall's row.
    places: Vec<(usize, [i32; 2])>,
    /// The manifold's own column.
    own: i32,
}

/// Regions, and pads that a circuit has below another's strip.
struct Strips {
    regions: Vec<Region>,
    shared: usize,
}

impl View {
    fn of(floor: &Floor<'_>, grid: &Grid, entry: Point) -> Option<Self> {
        let served = || (0..grid.pads.len()).filter(|pad| grid.pads[*pad]);
        let (nearest, outward) = served()
            .flat_map(|pad| (0..4).map(move |outward| (pad, outward)))
            .filter(|(pad, outward)| {
                let is_outer = grid
                    .beside(*pad, DIRECTIONS[*outward])
                    .is_none_or(|beside| !grid.pads[beside]);
                is_outer
                    && floor
                        .to_wall_m(grid.middle(*pad), DIRECTIONS[*outward])
                        .is_some()
            })
            .min_by(|a, b| {
                // In a corner the longer wall is along which the strips lie.
                let key = |(pad, outward): &(usize, usize)| {
                    (
                        distance(grid.middle(*pad), entry),
                        -(grid.size[1 - outward % 2] as f64),
                    )
                };
                key(a)
                    .partial_cmp(&key(b))
                    .unwrap_or(std::cmp::Ordering::Equal)
            })?;
        let along_axis = 1 - outward % 2;
        let sign = if outward < 2 { -1 } else { 1 };
        let seen = |pad: usize| {
            let place = [(pad % grid.size[0]) as i32, (pad / grid.size[0]) as i32];
            [place[along_axis], sign * place[1 - along_axis]]
        };
        let [own, row] = seen(nearest);
        Some(Self {
            places: served()
                .map(|pad| {
                    let [along, away] = seen(pad);
                    (pad, [along, away - row])
                })
                .collect(),
            own,
        })
    }

    /// So many regions, `own` of them left of the manifold's, which begins so many pads aside of its column; `None` where they are not each in one piece.
    fn strips(&self, grid: &Grid, count: usize, own: usize, aside: i32) -> Option<Strips> {
        let share = self.places.len() / count;
        let mut owner: Vec<Option<usize>> = vec![None; grid.pads.len()];
        let mut shared = 0;
        for (side, strips) in [(-1, own), (1, count - 1 - own)] {
            // From the far end towards the manifold.
            let mut order: Vec<(usize, [i32; 2])> = self
                .places
                .iter()
                .map(|(pad, [along, away])| (*pad, [side * (along - self.own - aside), *away]))
                .filter(|(_, [along, _])| *along > 0)
                .collect();
            order.sort_by_key(|(pad, [along, away])| (-along, -away, *pad));
            for strip in (1..=strips).rev() {
                let number = if side < 0 { own - strip } else { own + strip };
                let row = (strips - strip) as i32;
                let column = strip as i32;
                let is_path = |[along, away]: [i32; 2]| {
                    (away == row && along >= column)
                        || (along == column && (0..=row).contains(&away))
                };
                let free: Vec<(usize, [i32; 2])> = order
                    .iter()
                    .copied()
                    .filter(|(pad, _)| owner[*pad].is_none())
                    .collect();
                let (path, field): (Vec<_>, Vec<_>) =
                    free.into_iter().partition(|(_, place)| is_path(*place));
                let field: Vec<_> = field
                    .into_iter()
                    .take(share.saturating_sub(path.len()))
                    .collect();
                let begins = field
                    .iter()
                    .map(|(_, [along, _])| *along)
                    .min()
                    .unwrap_or(0);
                shared += path
                    .iter()
                    .filter(|(_, [along, _])| *along < begins)
                    .count();
                for (pad, _) in path.into_iter().chain(field) {
                    owner[pad] = Some(number);
                }
            }
        }
        let mut regions = vec![vec![false; grid.pads.len()]; count];
        for (pad, _) in &self.places {
            regions[owner[*pad].unwrap_or(own)][*pad] = true;
        }
        regions
            .iter()
            .all(|region| is_whole(grid, region))
            .then_some(Strips { regions, shared })
    }
}
