//! The floor as a tube sees it: where its middle may lie.

use crate::files::plan::{Plan, Point, Rect};

/// Least distance of a run beside a joint, m: a saw cut wanders (judgement).
const JOINT_KEEP_M: f64 = 0.05;
/// Lengths that differ by less are one, m.
pub(super) const NEAR_M: f64 = 1e-9;

/// A floor with right angles, what stands on it, and how far the tube keeps away.
#[derive(Clone, Debug)]
pub(super) struct Floor<'a> {
    plan: &'a Plan,
    edge_m: f64,
}

impl<'a> Floor<'a> {
    pub(super) fn new(plan: &'a Plan, edge_m: f64) -> Self {
        Self { plan, edge_m }
    }

    /// Least distance of the tube's middle from an edge, m.
    pub(super) fn edge_m(&self) -> f64 {
        self.edge_m
    }

    pub(super) fn plan(&self) -> &Plan {
        self.plan
    }

    /// Low and high corner of the smallest rectangle round it.
    pub(super) fn bounds(&self) -> [Point; 2] {
        bounds(&self.plan.corners)
    }

    /// Coordinates along an axis at which a line of nodes touches something: the least and the most it may be.
    pub(super) fn touching(&self, axis: usize) -> Vec<f64> {
        let mut found = Vec::new();
        let mut both = |low: f64, high: f64, keep: f64| found.extend([low - keep, high + keep]);
        for [from, to] in sides(&self.plan.corners) {
            if (from[axis] - to[axis]).abs() < NEAR_M {
                both(from[axis], from[axis], self.edge_m);
            }
        }
        for Rect { low, high } in &self.plan.obstacles {
            both(low[axis], high[axis], self.edge_m);
        }
        for [from, to] in &self.plan.joints {
            if (from[axis] - to[axis]).abs() < NEAR_M {
                both(from[axis], from[axis], JOINT_KEEP_M);
            }
        }
        found
    }

    /// Where on the line x = `x` a node may lie: intervals of y, low to high.
    pub(super) fn allowed_on(&self, x: f64) -> Vec<[f64; 2]> {
        let mut crossings = Vec::new();
        let mut blocked: Vec<[f64; 2]> = Vec::new();
        for [from, to] in sides(&self.plan.corners) {
            let (low, high) = (
                [0, 1].map(|a| from[a].min(to[a])),
                [0, 1].map(|a| from[a].max(to[a])),
            );
            if (low[1] - high[1]).abs() < NEAR_M && low[0] <= x && x < high[0] {
                crossings.push(low[1]);
            }
            let beside = (low[0] - x).max(x - high[0]).max(0.0);
            if beside < self.edge_m - NEAR_M {
                blocked.push([low[1] - self.edge_m, high[1] + self.edge_m]);
            }
        }
        let mut keep_off = |low: Point, high: Point, keep: f64| {
            if low[0] - keep + NEAR_M < x && x < high[0] + keep - NEAR_M {
                blocked.push([low[1] - keep, high[1] + keep]);
            }
        };
        for Rect { low, high } in &self.plan.obstacles {
            keep_off(*low, *high, self.edge_m);
        }
        for [from, to] in &self.plan.joints {
            let (low, high) = (
                [0, 1].map(|a| from[a].min(to[a])),
                [0, 1].map(|a| from[a].max(to[a])),
            );
            keep_off(low, high, JOINT_KEEP_M);
        }
        crossings.sort_by(f64::total_cmp);
        blocked.sort_by(|a, b| a[0].total_cmp(&b[0]));
        let mut allowed = Vec::new();
        for pair in crossings.chunks_exact(2) {
            let mut from = pair[0];
            for [low, high] in blocked.iter().filter(|[low, _]| *low <= pair[1]) {
                if *high > from {
                    if *low >= from - NEAR_M {
                        allowed.push([from, *low]);
                    }
                    from = *high;
                }
            }
        }
        allowed
    }

    /// Whether a straight from node to node crosses a joint.
    pub(super) fn crosses_joint(&self, from: Point, to: Point) -> bool {
        self.plan.joints.iter().any(|[a, b]| {
            let along = usize::from((a[0] - b[0]).abs() < NEAR_M);
            let across = 1 - along;
            let place = a[across];
            let (low, high) = (a[along].min(b[along]), a[along].max(b[along]));
            from[across].min(to[across]) < place
                && place < from[across].max(to[across])
                && (low - NEAR_M..=high + NEAR_M).contains(&from[along])
        })
    }

    /// From a point straight along a direction of the grid to the floor's edge, m; `None` where something stands in between.
    pub(super) fn to_wall_m(&self, from: Point, [dx, dy]: [i32; 2]) -> Option<f64> {
        let (along, sign) = if dx != 0 {
            (0, f64::from(dx))
        } else {
            (1, f64::from(dy))
        };
        let across = 1 - along;
        let first = |low: Point, high: Point| {
            let is_met =
                low[across] - NEAR_M <= from[across] && from[across] <= high[across] + NEAR_M;
            let near = if sign > 0.0 { low[along] } else { high[along] };
            let away = (near - from[along]) * sign;
            (is_met && away > 0.0).then_some(away)
        };
        let nearest =
            |found: Option<f64>, away: f64| Some(found.map_or(away, |found: f64| found.min(away)));
        let wall = sides(&self.plan.corners)
            .filter(|[a, b]| (a[along] - b[along]).abs() < NEAR_M)
            .filter_map(|[a, b]| {
                first(
                    [0, 1].map(|k| a[k].min(b[k])),
                    [0, 1].map(|k| a[k].max(b[k])),
                )
            })
            .fold(None, nearest)?;
        let thing = self
            .plan
            .obstacles
            .iter()
            .filter_map(|rect| first(rect.low, rect.high))
            .fold(None, nearest);
        thing.is_none_or(|thing| thing > wall).then_some(wall)
    }

    /// Floor that is not under an obstacle, m².
    pub(super) fn area_m2(&self) -> f64 {
        let under: f64 = self
            .plan
            .obstacles
            .iter()
            .map(|Rect { low, high }| (high[0] - low[0]) * (high[1] - low[1]))
            .sum();
        area_m2(&self.plan.corners) - under
    }
}

/// Sides of a closed outline.
pub(super) fn sides(corners: &[Point]) -> impl Iterator<Item = [Point; 2]> + '_ {
    let next = corners.iter().cycle().skip(1);
    corners.iter().zip(next).map(|(from, to)| [*from, *to])
}

fn bounds(points: &[Point]) -> [Point; 2] {
    let least = |axis: usize| points.iter().map(|p| p[axis]).fold(f64::INFINITY, f64::min);
    let most = |axis: usize| {
        points
            .iter()
            .map(|p| p[axis])
            .fold(f64::NEG_INFINITY, f64::max)
    };
    [[least(0), least(1)], [most(0), most(1)]]
}

/// Area inside a closed outline, m² (the shoelace formula).
pub(super) fn area_m2(corners: &[Point]) -> f64 {
    let twice: f64 = sides(corners).map(|[a, b]| a[0] * b[1] - b[0] * a[1]).sum();
    (twice / 2.0).abs()
}
