//! Whether corners make a floor: right angles, sides that do not meet.

use super::Point;

/// Lengths that differ by less are one, m.
const NEAR_M: f64 = 1e-6;

/// What is wrong with an outline, and at which of its corners.
pub(super) struct Wrong {
    pub(super) corner: usize,
    pub(super) found: String,
    pub(super) expected: &'static str,
    pub(super) advice: &'static str,
}

/// Corners that follow one another on one straight taken out.
///
/// # Errors
/// The first corner from which a side is oblique, of no length, or meets another side. `said` shows a place.
pub(super) fn checked(
    corners: &[Point],
    said: impl Fn(Point) -> String,
) -> Result<Vec<Point>, Wrong> {
    let count = corners.len();
    let next = |corner: usize| (corner + 1) % count;
    for (corner, from) in corners.iter().enumerate() {
        let to = corners[next(corner)];
        let [dx, dy] = [0, 1].map(|axis| (to[axis] - from[axis]).abs());
        let between = || format!("from {} to {}", said(*from), said(to));
        if dx < NEAR_M && dy < NEAR_M {
            return Err(Wrong {
                corner,
                found: format!("a side of no length at {}", said(*from)),
                expected: "each corner once, the first not again at the end",
                advice: "take one of the two out",
            });
        }
        if dx >= NEAR_M && dy >= NEAR_M {
            return Err(Wrong {
                corner,
                found: format!("a side {} that is oblique", between()),
                expected: "sides along two directions, so that all angles are right ones",
                advice: "correct a corner; lay an oblique floor out as steps of right angles",
            });
        }
    }
    let plain: Vec<(usize, Point)> = (0..count)
        .filter(|corner| {
            let [before, at, after] = [(corner + count - 1) % count, *corner, next(*corner)]
                .map(|corner| corners[corner]);
            let is_straight = |axis: usize| {
                (before[axis] - at[axis]).abs() < NEAR_M && (at[axis] - after[axis]).abs() < NEAR_M
            };
            let goes_on = |axis: usize| (at[axis] - before[axis]) * (after[axis] - at[axis]) > 0.0;
            !(is_straight(0) && goes_on(1) || is_straight(1) && goes_on(0))
        })
        .map(|corner| (corner, corners[corner]))
        .collect();
    let side = |at: usize| [plain[at].1, plain[(at + 1) % plain.len()].1];
    for one in 0..plain.len() {
        for other in one + 1..plain.len() {
            let are_neighbours = other == one + 1 || (one == 0 && other + 1 == plain.len());
            let meet = if are_neighbours {
                fold_back(side(one), side(other))
            } else {
                touch(side(one), side(other))
            };
            if meet {
                let [from, to] = side(other);
                let [first, second] = side(one);
                return Err(Wrong {
                    corner: plain[other].0,
                    found: format!(
                        "a side from {} to {} that meets the side from {} to {}",
                        said(from),
                        said(to),
                        said(first),
                        said(second)
                    ),
                    expected: "an outline that does not cross or touch itself",
                    advice: "give the corners in order, once round the floor",
                });
            }
        }
    }
    Ok(plain.into_iter().map(|(_, place)| place).collect())
}

fn span([from, to]: [Point; 2], axis: usize) -> [f64; 2] {
    [from[axis].min(to[axis]), from[axis].max(to[axis])]
}

/// Whether two sides along the axes have a point in common.
fn touch(one: [Point; 2], other: [Point; 2]) -> bool {
    (0..2).all(|axis| {
        let ([a, b], [c, d]) = (span(one, axis), span(other, axis));
        a <= d + NEAR_M && c <= b + NEAR_M
    })
}

/// Whether a side goes back along the one before it.
fn fold_back(one: [Point; 2], other: [Point; 2]) -> bool {
    (0..2).any(|axis| {
        let is_flat = |side: [Point; 2]| (side[0][axis] - side[1][axis]).abs() < NEAR_M;
        is_flat(one) && is_flat(other)
    })
}
