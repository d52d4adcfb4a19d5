//! The way with its corners rounded: straight pieces and arcs, with the tube's own length along them.
//!
//! A half turn narrower than the tube can bend becomes a bulb of three arcs: out by α, round by π + 2α, back by α, all of one
//! radius R; cos α = (R + s/2)/(2R), as deep as x₀ = √(4R² − (R + s/2)²), R(π + 4α) long.

use std::f64::consts::{FRAC_PI_2, PI};

use super::outline::distance;
use crate::files::plan::Point;

/// Shorter than this is nothing, m.
const NEAR_M: f64 = 1e-9;

/// A piece of tube.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Piece {
    /// Straight.
    Line {
        /// Its beginning.
        from: Point,
        /// Its end.
        to: Point,
    },
    /// Part of a circle; angles in radians, counter-clockwise from east.
    Arc {
        /// Middle of the circle.
        centre: Point,
        /// Its radius, m.
        radius_m: f64,
        /// Where it begins.
        from_rad: f64,
        /// How far it goes, positive to the left.
        sweep_rad: f64,
    },
}

impl Piece {
    /// Length, m.
    #[must_use]
    pub fn length_m(&self) -> f64 {
        match self {
            Self::Line { from, to } => distance(*from, *to),
            Self::Arc {
                radius_m,
                sweep_rad,
                ..
            } => radius_m * sweep_rad.abs(),
        }
    }

    /// The point so far along it, m.
    #[must_use]
    pub fn at(&self, along_m: f64) -> Point {
        match self {
            Self::Line { from, to } => {
                let share = along_m / distance(*from, *to).max(NEAR_M);
                [0, 1].map(|axis| from[axis] + share * (to[axis] - from[axis]))
            }
            Self::Arc {
                centre,
                radius_m,
                from_rad,
                sweep_rad,
            } => {
                let angle = from_rad + along_m / radius_m * sweep_rad.signum();
                [
                    centre[0] + radius_m * libm::cos(angle),
                    centre[1] + radius_m * libm::sin(angle),
                ]
            }
        }
    }

    /// The part between two lengths along it, m.
    #[must_use]
    pub fn part(&self, from_m: f64, to_m: f64) -> Self {
        match *self {
            Self::Line { .. } => Self::Line {
                from: self.at(from_m),
                to: self.at(to_m),
            },
            Self::Arc {
                centre,
                radius_m,
                from_rad,
                sweep_rad,
            } => Self::Arc {
                centre,
                radius_m,
                from_rad: from_rad + from_m / radius_m * sweep_rad.signum(),
                sweep_rad: (to_m - from_m) / radius_m * sweep_rad.signum(),
            },
        }
    }

    /// The direction so far along it, rad counter-clockwise from east.
    #[must_use]
    pub fn heading_rad(&self, along_m: f64) -> f64 {
        match self {
            Self::Line { from, to } => libm::atan2(to[1] - from[1], to[0] - from[0]),
            Self::Arc {
                radius_m,
                from_rad,
                sweep_rad,
                ..
            } => from_rad + (along_m / radius_m + FRAC_PI_2) * sweep_rad.signum(),
        }
    }
}

/// A quarter bend.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Corner {
    /// Where the straights beside it would meet, m.
    pub at: Point,
    /// Whether it turns left.
    pub left: bool,
    /// Radius, m.
    pub radius_m: f64,
    /// Tube used up to its middle, m.
    pub tube_m: f64,
    /// One of the two of a bulb.
    pub bulb: bool,
    /// Its node's place along the way.
    pub(super) node: usize,
}

/// A rounded way.
#[derive(Clone, Debug, PartialEq)]
pub struct Course {
    /// In order.
    pub pieces: Vec<Piece>,
    /// In order.
    pub corners: Vec<Corner>,
    /// First and last point, m.
    pub ends: [Point; 2],
    /// Length of all pieces, m.
    pub length_m: f64,
}

/// A bulb's angle α (rad), depth x₀ (m) and length (m) for lines `width_m` apart.
pub(super) fn bulb(width_m: f64, radius_m: f64) -> [f64; 3] {
    let out = radius_m + width_m / 2.0;
    let angle = libm::acos((out / (2.0 * radius_m)).min(1.0));
    let depth = (4.0 * radius_m * radius_m - out * out).max(0.0).sqrt();
    [angle, depth, radius_m * (PI + 4.0 * angle)]
}

/// What stands at a place where the way turns.
#[derive(Clone, Copy)]
enum Turn {
    /// One corner.
    Quarter(usize),
    /// Two, as a bulb.
    Bulb(usize),
}

impl Turn {
    const fn first(self) -> usize {
        match self {
            Self::Quarter(corner) | Self::Bulb(corner) => corner,
        }
    }

    const fn last(self) -> usize {
        match self {
            Self::Quarter(corner) => corner,
            Self::Bulb(corner) => corner + 1,
        }
    }
}

/// Rounds a way: `points` with the corner points between its ends, each with the place of its node along the way. The radius wanted is
/// had where half of either leg is as long; where a half turn would be tighter than `least_m` a bulb is tried.
pub(super) fn round(points: &[(Point, usize)], wanted_m: f64, least_m: f64) -> Course {
    let count = points.len().saturating_sub(2);
    // Leg i leads to corner i; the last one to the end.
    let legs: Vec<f64> = points
        .windows(2)
        .map(|two| distance(two[0].0, two[1].0))
        .collect();
    let lefts: Vec<bool> = points
        .windows(3)
        .map(|three| turns_left(three[0].0, three[1].0, three[2].0))
        .collect();
    let turns = turns(&legs, &lefts, least_m);
    let reach = |turn: Option<&Turn>| match turn {
        Some(Turn::Bulb(corner)) => Some(bulb_reach_m(legs[corner + 1], least_m)),
        _ => None,
    };
    // What a quarter bend may use of a leg whose other end has this turn.
    let room = |leg: f64, other: Option<&Turn>| match (other, reach(other)) {
        (None, _) => leg,
        (_, Some(reach)) => leg - reach,
        _ => leg / 2.0,
    };
    let mut course = Course {
        pieces: Vec::new(),
        corners: Vec::with_capacity(count),
        ends: [points.first(), points.last()]
            .map(|point| point.map_or([0.0; 2], |(place, _)| *place)),
        length_m: 0.0,
    };
    let mut from = course.ends[0];
    for (at, turn) in turns.iter().enumerate() {
        let before = at.checked_sub(1).and_then(|before| turns.get(before));
        let after = turns.get(at + 1);
        let (first, last) = (turn.first(), turn.last());
        let (place, node) = points[first + 1];
        let ahead = direction(points[first].0, place);
        let left = lefts[first];
        let side = rotated(ahead, left);
        match turn {
            Turn::Quarter(_) => {
                let radius_m = wanted_m
                    .min(room(legs[first], before))
                    .min(room(legs[first + 1], after));
                let begin = along(place, ahead, -radius_m);
                course.line(from, begin);
                let centre = along(begin, side, radius_m);
                let tube_m = course.length_m + radius_m * FRAC_PI_2 / 2.0;
                course.arc(
                    centre,
                    begin,
                    radius_m,
                    if left { FRAC_PI_2 } else { -FRAC_PI_2 },
                );
                from = along(place, side, radius_m);
                course.corners.push(Corner {
                    at: place,
                    left,
                    radius_m,
                    tube_m,
                    bulb: false,
                    node,
                });
            }
            Turn::Bulb(_) => {
                let width_m = legs[first + 1];
                let [angle, depth, length_m] = bulb(width_m, least_m);
                let sign = if left { 1.0 } else { -1.0 };
                let begin = along(place, ahead, -(depth + least_m));
                course.line(from, begin);
                let middle_m = course.length_m + length_m / 2.0;
                course.arc(along(begin, side, -least_m), begin, least_m, -sign * angle);
                let turned = along(
                    along(begin, ahead, least_m * libm::sin(angle)),
                    side,
                    -least_m * (1.0 - libm::cos(angle)),
                );
                course.arc(
                    along(along(begin, ahead, depth), side, width_m / 2.0),
                    turned,
                    least_m,
                    sign * (PI + 2.0 * angle),
                );
                let back = along(
                    turned,
                    side,
                    width_m + 2.0 * least_m * (1.0 - libm::cos(angle)),
                );
                course.arc(
                    along(begin, side, width_m + least_m),
                    back,
                    least_m,
                    -sign * angle,
                );
                from = along(begin, side, width_m);
                for (corner, apart) in [(first, -1.0), (last, 1.0)] {
                    let (place, node) = points[corner + 1];
                    let tube_m = middle_m + apart * least_m * FRAC_PI_2 / 2.0;
                    course.corners.push(Corner {
                        at: place,
                        left,
                        radius_m: least_m,
                        tube_m,
                        bulb: true,
                        node,
                    });
                }
            }
        }
    }
    let end = course.ends[1];
    course.line(from, end);
    course
}

/// Corners as single turns and bulbs: a bulb where a half turn is too narrow and both straights beside it have room for it.
fn turns(legs: &[f64], lefts: &[bool], least_m: f64) -> Vec<Turn> {
    let mut turns = Vec::new();
    let mut corner = 0;
    while corner < lefts.len() {
        let is_narrow = corner + 1 < lefts.len()
            && lefts[corner] == lefts[corner + 1]
            && legs[corner + 1] / 2.0 < least_m - NEAR_M
            && has_room(legs, corner, least_m, turns.last());
        turns.push(if is_narrow {
            Turn::Bulb(corner)
        } else {
            Turn::Quarter(corner)
        });
        corner += if is_narrow { 2 } else { 1 };
    }
    turns
}

/// Whether the straights before and after a half turn hold a bulb, and beside it a bend or the bulb before.
fn has_room(legs: &[f64], corner: usize, least_m: f64, before: Option<&Turn>) -> bool {
    let reach = bulb_reach_m(legs[corner + 1], least_m);
    let taken_before = match before {
        None => 0.0,
        Some(Turn::Quarter(_)) => least_m,
        Some(Turn::Bulb(other)) => bulb_reach_m(legs[other + 1], least_m),
    };
    let is_last = corner + 3 == legs.len();
    let taken_after = if is_last { 0.0 } else { least_m };
    reach + taken_before <= legs[corner] + NEAR_M
        && reach + taken_after <= legs[corner + 2] + NEAR_M
}

/// How far a bulb reaches back along the straights beside it, m.
fn bulb_reach_m(width_m: f64, radius_m: f64) -> f64 {
    bulb(width_m, radius_m)[1] + radius_m
}

impl Course {
    fn line(&mut self, from: Point, to: Point) {
        let length_m = distance(from, to);
        if length_m > NEAR_M {
            self.pieces.push(Piece::Line { from, to });
            self.length_m += length_m;
        }
    }

    fn arc(&mut self, centre: Point, from: Point, radius_m: f64, sweep_rad: f64) {
        if radius_m > NEAR_M {
            let from_rad = libm::atan2(from[1] - centre[1], from[0] - centre[0]);
            self.pieces.push(Piece::Arc {
                centre,
                radius_m,
                from_rad,
                sweep_rad,
            });
            self.length_m += radius_m * sweep_rad.abs();
        }
    }

    /// Points along the tube, one every so many metres from `first_m` on, with the heading there.
    pub fn every(&self, first_m: f64, step_m: f64) -> Vec<(f64, Point, f64)> {
        let mut found = Vec::new();
        let mut passed_m = 0.0;
        let mut next_m = first_m;
        for piece in &self.pieces {
            let length_m = piece.length_m();
            while next_m <= passed_m + length_m {
                let along_m = next_m - passed_m;
                found.push((next_m, piece.at(along_m), piece.heading_rad(along_m)));
                next_m = first_m + found.len() as f64 * step_m;
            }
            passed_m += length_m;
        }
        found
    }
}

fn direction(from: Point, to: Point) -> Point {
    let length = distance(from, to).max(NEAR_M);
    [(to[0] - from[0]) / length, (to[1] - from[1]) / length]
}

fn along([x, y]: Point, [dx, dy]: Point, length: f64) -> Point {
    [x + dx * length, y + dy * length]
}

fn rotated([dx, dy]: Point, left: bool) -> Point {
    if left { [-dy, dx] } else { [dy, -dx] }
}

fn turns_left(a: Point, b: Point, c: Point) -> bool {
    (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]) > 0.0
}
