//! What a laid circuit comes to: lengths, corners, marks, ties, and the limits it crosses.

use serde::Serialize;

use super::floor::Floor;
use super::grid::{DIRECTIONS, Grid};
use super::outline::{Way, distance, sense};
use super::round::{Course, Piece, round};
use super::{BALANCED, GAP_DIAMETERS, Laid, Limit, NOT_SERVED, Question};
use crate::files::plan::{Plan, Point};
use crate::files::quantity::Units;
use crate::files::site::{Changeable, longest_usual_m};
use crate::sim::plant::exchanger::Layout;

/// Tube left free at the manifold for each end, m, and share ordered on top (common practice, no source).
const MANIFOLD_M: f64 = 1.5;
const SPARE: f64 = 0.02;
/// Distance of ties, m (common practice, no source: every 2 to 3 ft, on both sides of a bend and not in it).
const TIE_M: f64 = 0.75;
/// A straight shorter than this has one tie, m (judgement).
const SHORT_M: f64 = 0.3;
/// Quarter bends one way that mean the coil's curl is against the bends for good.
const TURNED: usize = 3;
/// Loss of a quarter bend of large radius and of manifold with valves, velocity heads (common practice, no source).
const BEND_LOSS: f64 = 0.45;
const MANIFOLD_LOSS: f64 = 8.0;

/// A laid circuit.
#[derive(Clone, Debug)]
pub struct Circuit {
    /// The tube in the concrete between its first and last node.
    pub course: Course,
    /// From the first node and from the last to the manifold, m.
    pub leads_m: [f64; 2],
    /// Where the tube comes up at the wall, first and last.
    pub risers: [Point; 2],
    /// Half turns: two bends alike a spacing apart.
    pub half_turns: usize,
    /// Branches that end.
    pub branch_ends: usize,
    /// Ties, each with the direction of the tube there.
    pub ties: Vec<(Point, f64)>,
    /// Tube to order, m.
    pub order_m: f64,
    /// Corner after which the coil is turned over, and the tube used there; none where it need not be.
    pub turn_over: Option<(usize, f64)>,
    /// Place, tube used and heading at every mark.
    pub marks: Vec<(f64, Point, f64)>,
    /// The table to lay by: the beginning, every corner, the end.
    pub table: Vec<CornerRow>,
}

/// A row of the table to lay by.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CornerRow {
    /// Place, m.
    pub at: Point,
    /// `left`, `right`, `start` or `end`.
    pub turn: &'static str,
    /// Radius, m; 0 at the ends.
    pub radius_m: f64,
    /// One of the two corners of a bulb.
    pub bulb: bool,
    /// Tube used up to the middle of the bend, m.
    pub tube_m: f64,
    /// Figure printed on the tube there, m, if the reading at the beginning is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub printed_m: Option<f64>,
}

/// A value for the site file.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SiteLine {
    /// `section.key`.
    pub key: &'static str,
    /// As the file writes it.
    pub value: String,
}

impl SiteLine {
    /// The value as TOML has it: words and lengths in quotes, pure numbers without.
    #[must_use]
    pub fn toml(&self) -> String {
        if self.value.parse::<f64>().is_ok() {
            self.value.clone()
        } else {
            format!("\"{}\"", self.value)
        }
    }
}

impl Circuit {
    /// Tube in the concrete with both leads, m.
    #[must_use]
    pub fn whole_m(&self) -> f64 {
        self.course.length_m + self.leads_m[0] + self.leads_m[1]
    }

    /// The smallest radius, m.
    #[must_use]
    pub fn least_radius_m(&self) -> f64 {
        self.course
            .corners
            .iter()
            .map(|corner| corner.radius_m)
            .fold(f64::INFINITY, f64::min)
    }
}

/// A way rounded and counted; `nodes` are the way's with its detours.
pub(super) fn circuit(
    question: &Question<'_>,
    grid: &Grid,
    way: &Way,
    nodes: &[usize],
    least_m: f64,
) -> Circuit {
    let senses: Vec<(usize, i32)> = nodes
        .windows(3)
        .enumerate()
        .map(|(at, three)| (at + 1, sense(grid, [three[0], three[1], three[2]])))
        .filter(|(_, sense)| *sense != 0)
        .collect();
    let mut points = vec![(grid.place(nodes[0]), 0)];
    points.extend(senses.iter().map(|(at, _)| (grid.place(nodes[*at]), *at)));
    let last = nodes.len() - 1;
    points.push((grid.place(nodes[last]), last));
    let course = round(
        &points,
        least_m.max(grid.pitch[0].min(grid.pitch[1]) / 2.0),
        least_m,
    );
    let whole_m = course.length_m + way.leads_m.iter().sum::<f64>();
    let printed = |tube_m: f64| {
        question.printed.map(|printed| {
            if printed.falls {
                printed.start_m - tube_m
            } else {
                printed.start_m + tube_m
            }
        })
    };
    let row = |at, turn, radius_m, bulb, tube_m| CornerRow {
        at,
        turn,
        radius_m,
        bulb,
        tube_m,
        printed_m: printed(tube_m),
    };
    let mut table = vec![row(course.ends[0], "start", 0.0, false, 0.0)];
    table.extend(course.corners.iter().map(|corner| {
        let turn = if corner.left { "left" } else { "right" };
        row(corner.at, turn, corner.radius_m, corner.bulb, corner.tube_m)
    }));
    table.push(row(course.ends[1], "end", 0.0, false, course.length_m));
    let turn_over = match question.layout {
        Layout::CounterFlow => {
            turned(&senses).map(|corner| (corner, course.corners[corner].tube_m))
        }
        Layout::Serpentine => None,
    };
    Circuit {
        half_turns: senses
            .windows(2)
            .filter(|two| two[1].0 == two[0].0 + 1 && two[1].1 == two[0].1)
            .count(),
        ties: ties(&course),
        order_m: (whole_m + 2.0 * MANIFOLD_M) * (1.0 + SPARE),
        marks: course.every(question.mark_m, question.mark_m),
        leads_m: way.leads_m,
        risers: way.risers,
        branch_ends: way.ends,
        turn_over,
        table,
        course,
    }
}

/// On every straight one at either end, and between them so that none is further than it may be; none in a bend.
fn ties(course: &Course) -> Vec<(Point, f64)> {
    let straights = course
        .pieces
        .iter()
        .filter(|piece| matches!(piece, Piece::Line { .. }));
    straights
        .flat_map(|piece| {
            let length_m = piece.length_m();
            let gaps = (length_m / TIE_M).ceil().max(1.0);
            let count = if length_m < SHORT_M {
                1
            } else {
                gaps as u32 + 1
            };
            let first = if count == 1 { 0.5 } else { 0.0 };
            (0..count).map(move |tie| {
                let along_m = length_m * (first + f64::from(tie) / gaps);
                (piece.at(along_m), piece.heading_rad(along_m))
            })
        })
        .collect()
}

/// The first corner from which the bends go the other way for good: three running.
fn turned(senses: &[(usize, i32)]) -> Option<usize> {
    let usual = senses.first()?.1;
    senses
        .windows(TURNED)
        .position(|run| run.iter().all(|(_, sense)| *sense != usual))
}

/// Places that differ by less are one, m; and the share of a direction that is square to a joint but for rounding.
const NEAR_M: f64 = 1e-7;
const SQUARE: f64 = 0.999;

/// Where a joint is crossed.
pub(super) struct Crossing {
    pub(super) at: Point,
    pub(super) heading_rad: f64,
    /// Whether the tube is straight and square to it there.
    pub(super) square: bool,
}

/// Every place where tube crosses a joint.
pub(super) fn crossings(plan: &Plan, circuits: &[Circuit]) -> Vec<Crossing> {
    let mut found = Vec::new();
    for [a, b] in &plan.joints {
        let along = usize::from((a[0] - b[0]).abs() < 1e-9);
        let across = 1 - along;
        let (low, high) = (a[along].min(b[along]), a[along].max(b[along]));
        for piece in circuits.iter().flat_map(|circuit| &circuit.course.pieces) {
            let length_m = piece.length_m();
            let [from, to] = [piece.at(0.0), piece.at(length_m)];
            // A piece that ends on the joint crosses it, the next one does not.
            let is_before = |point: Point| point[across] < a[across] - NEAR_M;
            if is_before(from) == is_before(to) {
                continue;
            }
            let share = (a[across] - from[across]) / (to[across] - from[across]);
            let at = [0, 1].map(|axis| from[axis] + share * (to[axis] - from[axis]));
            if (low - 1e-9..=high + 1e-9).contains(&at[along]) {
                let heading_rad = piece.heading_rad(share * length_m);
                let across_share = if across == 0 {
                    libm::cos(heading_rad)
                } else {
                    libm::sin(heading_rad)
                };
                found.push(Crossing {
                    at,
                    heading_rad,
                    square: across_share.abs() > SQUARE,
                });
            }
        }
    }
    found
}

/// Cells of the grid where tube may lie and none does, in connected pieces, by their middles.
pub(super) fn bare(grid: &Grid, taken: &[bool]) -> Vec<Vec<Point>> {
    let mut seen: Vec<bool> = taken
        .iter()
        .zip(&grid.open)
        .map(|(taken, open)| *taken || !*open)
        .collect();
    let mut pieces = Vec::new();
    for node in 0..seen.len() {
        if seen[node] {
            continue;
        }
        seen[node] = true;
        let mut piece = vec![node];
        let mut next = 0;
        while let Some(&node) = piece.get(next) {
            next += 1;
            for beside in DIRECTIONS
                .into_iter()
                .filter_map(|direction| grid.node_beside(node, direction))
            {
                if !seen[beside] {
                    seen[beside] = true;
                    piece.push(beside);
                }
            }
        }
        pieces.push(piece.into_iter().map(|node| grid.place(node)).collect());
    }
    pieces
}

/// From the entry to the nearest node of a pad at a wall, m; `None` where no pad is at one.
pub(super) fn entry_m(floor: &Floor<'_>, grid: &Grid) -> Option<f64> {
    (0..grid.pads.len())
        .filter(|pad| grid.pads[*pad])
        .filter(|pad| {
            (0..4).any(|outward| {
                grid.beside(*pad, DIRECTIONS[outward])
                    .is_none_or(|beside| !grid.pads[beside])
                    && floor
                        .to_wall_m(grid.middle(*pad), DIRECTIONS[outward])
                        .is_some()
            })
        })
        .flat_map(|pad| grid.ring(pad))
        .map(|node| distance(grid.place(node), floor.plan().entry))
        .min_by(f64::total_cmp)
}

/// Limits that are crossed.
pub(super) fn limits(question: &Question<'_>, laid: &Laid, skew_joints: usize) -> Vec<Limit> {
    let mut limits = Vec::new();
    let tube = &question.plant.floor.tube;
    let least_m = laid.least_radius_m;
    let corners = || {
        laid.circuits
            .iter()
            .flat_map(|circuit| &circuit.course.corners)
    };
    let tight = corners()
        .filter(|corner| corner.radius_m < least_m - 1e-9)
        .count();
    if tight > 0 {
        let tightest_m = corners()
            .map(|corner| corner.radius_m)
            .fold(f64::INFINITY, f64::min);
        limits.push(Limit::TightBends(tight, tightest_m, least_m));
    }
    if corners().any(|corner| corner.bulb) {
        let pitch_m = laid.pitch_m[0].min(laid.pitch_m[1]);
        let gap_m = pitch_m - bulges(laid) * (least_m - pitch_m / 2.0);
        if gap_m < GAP_DIAMETERS * tube.outside_m {
            limits.push(Limit::NarrowGap(gap_m));
        }
    }
    let longest_m = longest_usual_m(tube).unwrap_or(f64::INFINITY);
    for (number, circuit) in laid.circuits.iter().enumerate() {
        if circuit.whole_m() > longest_m {
            limits.push(Limit::LongCircuit(number + 1, circuit.whole_m(), longest_m));
        }
        if laid.coils.is_empty() && !question.coils_m.iter().any(|coil| *coil >= circuit.order_m) {
            limits.push(Limit::NoCoil(number + 1));
        }
    }
    let whole = || laid.circuits.iter().map(Circuit::whole_m);
    let (least, most) = (
        whole().fold(f64::INFINITY, f64::min),
        whole().fold(0.0, f64::max),
    );
    if 1.0 - least / most > BALANCED {
        limits.push(Limit::Unbalanced(1.0 - least / most));
    }
    let warmth = &laid.warmth;
    if warmth.laying_c < warmth.wanted_c {
        limits.push(Limit::Uneven(warmth.laying_c, warmth.wanted_c));
    }
    let bare = 1.0 - laid.covered();
    if bare > NOT_SERVED {
        limits.push(Limit::NotServed(bare));
    }
    if skew_joints > 0 {
        limits.push(Limit::SkewJoint(skew_joints));
    }
    limits
}

/// How many bulbs bulge into the narrowest gap: two where bulbs lie side by side.
fn bulges(laid: &Laid) -> f64 {
    let bulbs: Vec<Point> = laid
        .circuits
        .iter()
        .flat_map(|circuit| &circuit.course.corners)
        .filter(|corner| corner.bulb)
        .map(|corner| corner.at)
        .collect();
    let reach = 2.5 * laid.pitch_m[0].max(laid.pitch_m[1]);
    let are_close =
        |a: &Point, b: &Point| (a[0] - b[0]).abs() < reach && (a[1] - b[1]).abs() < reach;
    // The two corners of one bulb are close as well: three close ones are two bulbs.
    let is_crowded = bulbs
        .iter()
        .any(|one| bulbs.iter().filter(|other| are_close(one, other)).count() > 2);
    if is_crowded { 2.0 } else { 1.0 }
}

/// What the site file is told.
#[must_use]
pub(super) fn site_lines(laid: &Laid, units: Units) -> Vec<SiteLine> {
    let count = laid.circuits.len() as f64;
    let length_m = laid.circuits.iter().map(Circuit::whole_m).sum::<f64>() / count;
    let bends = laid
        .circuits
        .iter()
        .map(|circuit| circuit.course.corners.len())
        .max()
        .unwrap_or(0);
    let number = |key: &'static str, value: f64| {
        Changeable::find(key).ok().map(|place| SiteLine {
            key,
            value: place.written_in(value, units).to_string(),
        })
    };
    let layout = match laid.layout {
        Layout::Serpentine => "serpentine",
        Layout::CounterFlow => "counter-flow",
    };
    [
        number("slab.circuit_length", (length_m * 100.0).round() / 100.0),
        number("slab.circuits", count),
        // Floor served per metre of tube, so that length, circuits and spacing make the floor that has tube.
        number(
            "slab.spacing",
            (laid.served_m2 / (length_m * count) * 1e4).round() / 1e4,
        ),
        Some(SiteLine {
            key: "slab.layout",
            value: layout.to_owned(),
        }),
        number(
            "slab.minor_losses",
            MANIFOLD_LOSS + BEND_LOSS * bends as f64,
        ),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Whether a plan's floor is another than the site's, by more than the rounding of a drawing; both m².
#[must_use]
pub fn is_other_floor(plan_m2: f64, site_m2: f64) -> bool {
    (plan_m2 / site_m2 - 1.0).abs() > 0.02
}

/// Width and length for the site file, where the plan is a rectangle: the site knows no other floor.
#[must_use]
pub fn house_lines(plan: &Plan, units: Units) -> Vec<SiteLine> {
    let [a, b, c, _] = plan.corners[..] else {
        return Vec::new();
    };
    let (one, other) = (distance(a, b), distance(b, c));
    [
        ("house.width", one.min(other)),
        ("house.length", one.max(other)),
    ]
    .into_iter()
    .filter_map(|(key, value)| {
        let place = Changeable::find(key).ok()?;
        Some(SiteLine {
            key,
            value: place.written_in(value, units).to_string(),
        })
    })
    .collect()
}
