//! The drawing as a list of shapes, from which screen and paper are made alike: places in metres on the floor, sizes in millimetres on paper.

use std::f64::consts::{FRAC_PI_2, PI};

use super::Shown;
use super::words;
use crate::files::plan::{Point, Rect};
use crate::files::quantity::Units;
use crate::questions::lay::{Circuit, Course, Piece};

/// Red, green and blue, 0..1.
pub(super) type Ink = [f32; 3];

pub(super) const BLACK: Ink = [0.0; 3];
const GREY: Ink = [0.45; 3];
const LIGHT: Ink = [0.8; 3];
const CONCRETE: Ink = [0.965, 0.965, 0.945];
/// Vermillion and blue of Okabe and Ito; solid and thick, dashed and thin.
const SUPPLY: Ink = [0.835, 0.369, 0.0];
const RETURN: Ink = [0.0, 0.447, 0.698];

/// Text, mm high: never less than what can be read on a building site.
pub(super) const TEXT_MM: f64 = 2.5;
const HEADING_MM: f64 = 4.0;
const LINE_MM: f64 = 4.2;
/// Room round the floor, mm.
const ROUND_MM: f64 = 12.0;
/// Room for the measure at the right, mm.
const MEASURE_MM: f64 = 10.0;
/// Distance of arrows along the tube, m.
const ARROW_M: f64 = 2.0;
/// Characters of a foot line on a millimetre of paper.
const CHARACTERS_MM: f64 = 0.72;

/// A line as it is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Pen {
    pub(super) ink: Ink,
    pub(super) width_mm: f64,
    /// Strokes and gaps, mm; none: solid.
    pub(super) dash_mm: &'static [f64],
}

const fn pen(ink: Ink, width_mm: f64, dash_mm: &'static [f64]) -> Pen {
    Pen {
        ink,
        width_mm,
        dash_mm,
    }
}

const WALL: Pen = pen(BLACK, 0.7, &[]);
const THIN: Pen = pen(BLACK, 0.25, &[]);
const HAIR: Pen = pen(LIGHT, 0.1, &[]);
const JOINT: Pen = pen(BLACK, 0.35, &[4.0, 1.0, 0.6, 1.0]);
const HATCH: Pen = pen(GREY, 0.15, &[]);
const SUPPLY_PEN: Pen = pen(SUPPLY, 0.9, &[]);
const RETURN_PEN: Pen = pen(RETURN, 0.6, &[2.4, 1.0]);
const TIE: Pen = pen(GREY, 0.2, &[]);
const SLEEVE: Pen = pen(GREY, 2.0, &[]);
const SENSOR: Pen = pen(BLACK, 0.3, &[1.0, 1.0]);

/// Where words stand beside their place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
}

/// Something drawn.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Shape {
    /// Straights from point to point.
    Line(Vec<Point>, Pen),
    /// A closed area.
    Area(Vec<Point>, Ink, Option<Pen>),
    /// Tube.
    Tube(Vec<Piece>, Pen),
    /// A dot of this radius, mm.
    Dot(Point, f64, Ink),
    /// Words of this height, mm.
    Words(Point, f64, Anchor, String),
}

/// A drawing at a scale.
#[derive(Clone, Debug)]
pub(super) struct Scene {
    pub(super) shapes: Vec<Shape>,
    /// Corners of all that is drawn, m.
    pub(super) low: Point,
    pub(super) high: Point,
    /// One to so many.
    pub(super) scale: f64,
    /// What it shows, in a sentence.
    pub(super) title: String,
}

impl Scene {
    /// Size on paper, mm.
    pub(super) fn size_mm(&self) -> [f64; 2] {
        [0, 1].map(|axis| (self.high[axis] - self.low[axis]) * 1000.0 / self.scale)
    }
}

/// A floor's drawing at one to `scale`.
pub(super) fn scene(shown: &Shown<'_>, scale: f64) -> Scene {
    let mm = scale / 1000.0;
    let corners = &shown.plan.corners;
    let floor = [0, 1].map(|axis| {
        let along = || corners.iter().map(|corner| corner[axis]);
        [
            along().fold(f64::INFINITY, f64::min),
            along().fold(f64::NEG_INFINITY, f64::max),
        ]
    });
    let mut shapes = vec![Shape::Area(corners.clone(), CONCRETE, Some(WALL))];
    mesh(shown, floor, &mut shapes);
    bare(shown, &mut shapes);
    for Rect { low, high } in &shown.plan.obstacles {
        let ring = vec![*low, [high[0], low[1]], *high, [low[0], high[1]]];
        shapes.push(Shape::Area(ring, LIGHT, Some(THIN)));
        shapes.push(Shape::Line(vec![*low, *high], THIN));
        shapes.push(Shape::Line(
            vec![[low[0], high[1]], [high[0], low[1]]],
            THIN,
        ));
    }
    for joint in &shown.plan.joints {
        shapes.push(Shape::Line(joint.to_vec(), JOINT));
    }
    for (at, heading) in &shown.laid.crossings {
        let [dx, dy] = [0.15 * libm::cos(*heading), 0.15 * libm::sin(*heading)];
        shapes.push(Shape::Line(
            vec![[at[0] - dx, at[1] - dy], [at[0] + dx, at[1] + dy]],
            SLEEVE,
        ));
    }
    for (number, circuit) in shown.laid.circuits.iter().enumerate() {
        tube(shown, number, circuit, mm, &mut shapes);
    }
    sensor(shown, floor, mm, &mut shapes);
    let (bar_m, bar_words) = match shown.units {
        Units::Si => (1.0, "1 m: measure this bar on the print".to_owned()),
        Units::Us => (
            4.0 * 0.3048,
            "4 ft: measure this bar on the print".to_owned(),
        ),
    };
    let width_mm = (floor[0][1] - floor[0][0]) / mm;
    let mut y = floor[1][0] - (ROUND_MM + 3.0) * mm;
    let x = floor[0][0];
    shapes.push(Shape::Line(
        vec![[x, y], [x + bar_m, y]],
        pen(BLACK, 1.0, &[]),
    ));
    for end in [x, x + bar_m] {
        shapes.push(Shape::Line(
            vec![[end, y - 1.5 * mm], [end, y + 1.5 * mm]],
            THIN,
        ));
    }
    shapes.push(Shape::Words(
        [x + bar_m + 3.0 * mm, y - mm],
        TEXT_MM,
        Anchor::Start,
        bar_words,
    ));
    let title = words::title(shown, scale);
    y -= 8.0 * mm;
    shapes.push(Shape::Words(
        [x, y],
        HEADING_MM,
        Anchor::Start,
        title.clone(),
    ));
    let columns = ((width_mm.max(150.0)) * CHARACTERS_MM) as usize;
    for line in words::foot(shown)
        .iter()
        .flat_map(|line| crate::present::wrap_at(line, columns))
    {
        y -= LINE_MM * mm;
        shapes.push(Shape::Words([x, y], TEXT_MM, Anchor::Start, line));
    }
    let right = floor[0][1]
        .max(x + 150.0 * mm)
        .max(x + title.len() as f64 * HEADING_MM * 0.55 * mm);
    let top = floor[1][1] + ROUND_MM * mm;
    measures(shown, floor, mm, &mut shapes);
    Scene {
        shapes,
        low: [x - ROUND_MM * mm, y - 3.0 * mm],
        high: [right + (ROUND_MM + MEASURE_MM) * mm, top],
        scale,
        title,
    }
}

/// Length and width beside the floor.
fn measures(shown: &Shown<'_>, [x, y]: [[f64; 2]; 2], mm: f64, shapes: &mut Vec<Shape>) {
    let above = y[1] + 5.0 * mm;
    let beside = x[1] + 4.0 * mm;
    let across = words::length(x[1] - x[0], shown.units);
    let up = words::length(y[1] - y[0], shown.units);
    shapes.push(Shape::Line(vec![[x[0], above], [x[1], above]], THIN));
    for end in x {
        shapes.push(Shape::Line(
            vec![[end, above - mm], [end, above + mm]],
            THIN,
        ));
    }
    shapes.push(Shape::Words(
        [f64::midpoint(x[0], x[1]), above + 1.5 * mm],
        TEXT_MM,
        Anchor::Middle,
        across,
    ));
    shapes.push(Shape::Line(vec![[beside, y[0]], [beside, y[1]]], THIN));
    for end in y {
        shapes.push(Shape::Line(
            vec![[beside - mm, end], [beside + mm, end]],
            THIN,
        ));
    }
    shapes.push(Shape::Words(
        [beside + 1.5 * mm, f64::midpoint(y[0], y[1])],
        TEXT_MM,
        Anchor::Start,
        up,
    ));
}

/// The bars of the mesh within the walls.
fn mesh(shown: &Shown<'_>, floor: [[f64; 2]; 2], shapes: &mut Vec<Shape>) {
    let Some(mesh_m) = shown.plan.mesh_m else {
        return;
    };
    let start = shown.plan.mesh_start.unwrap_or(shown.laid.first_node);
    for axis in 0..2 {
        let [low, high] = floor[axis];
        let mut bar = start[axis] - ((start[axis] - low) / mesh_m).floor() * mesh_m;
        while bar < high {
            for [from, to] in inside(&shown.plan.corners, axis, bar) {
                let ends = if axis == 0 {
                    [[bar, from], [bar, to]]
                } else {
                    [[from, bar], [to, bar]]
                };
                shapes.push(Shape::Line(ends.to_vec(), HAIR));
            }
            bar += mesh_m;
        }
    }
}

/// Where a line at `place` along an axis is inside the walls.
fn inside(corners: &[Point], axis: usize, place: f64) -> Vec<[f64; 2]> {
    let next = corners.iter().cycle().skip(1);
    let mut met: Vec<f64> = corners
        .iter()
        .zip(next)
        .filter(|(a, b)| (a[axis] <= place) != (b[axis] <= place))
        .map(|(a, _)| a[1 - axis])
        .collect();
    met.sort_by(f64::total_cmp);
    met.chunks_exact(2).map(|pair| [pair[0], pair[1]]).collect()
}

/// Cells without tube, hatched.
fn bare(shown: &Shown<'_>, shapes: &mut Vec<Shape>) {
    let [dx, dy] = shown.laid.pitch_m.map(|pitch| pitch / 2.0);
    for [x, y] in shown.laid.bare.iter().flatten() {
        // Lines along x - y = off, in half pitches from the middle.
        for off in [-1.0_f64, 0.0, 1.0] {
            let ends = [(off - 1.0).max(-1.0), (off + 1.0).min(1.0)];
            let line = ends.map(|along| [x + along * dx, y + (along - off) * dy]);
            shapes.push(Shape::Line(line.to_vec(), HATCH));
        }
        let ring = vec![
            [x - dx, y - dy],
            [x + dx, y - dy],
            [x + dx, y + dy],
            [x - dx, y + dy],
            [x - dx, y - dy],
        ];
        shapes.push(Shape::Line(ring, HATCH));
    }
}

/// A circuit with its leads, arrows, ties, marks, numbers and the place where the coil is turned over.
fn tube(shown: &Shown<'_>, number: usize, circuit: &Circuit, mm: f64, shapes: &mut Vec<Shape>) {
    let course = &circuit.course;
    for (at, heading) in &circuit.ties {
        let across = heading + FRAC_PI_2;
        let [dx, dy] = [1.1 * mm * libm::cos(across), 1.1 * mm * libm::sin(across)];
        shapes.push(Shape::Line(
            vec![[at[0] - dx, at[1] - dy], [at[0] + dx, at[1] + dy]],
            TIE,
        ));
    }
    let [supply, back] = halves(&course.pieces, course.length_m / 2.0);
    for (riser, end, pen) in [
        (circuit.risers[0], course.ends[0], SUPPLY_PEN),
        (circuit.risers[1], course.ends[1], RETURN_PEN),
    ] {
        let out = words::towards(riser, end, 0.15);
        shapes.push(Shape::Line(vec![riser, out], SLEEVE));
        shapes.push(Shape::Line(vec![riser, end], pen));
    }
    shapes.push(Shape::Tube(back, RETURN_PEN));
    shapes.push(Shape::Tube(supply, SUPPLY_PEN));
    for (tube_m, at, heading) in course.every(ARROW_M / 2.0, ARROW_M) {
        let pen = if tube_m < course.length_m / 2.0 {
            pen(SUPPLY, 0.4, &[])
        } else {
            pen(RETURN, 0.4, &[])
        };
        let back = |turn: f64| {
            let angle = heading + PI + turn;
            [
                at[0] + 2.0 * mm * libm::cos(angle),
                at[1] + 2.0 * mm * libm::sin(angle),
            ]
        };
        shapes.push(Shape::Line(vec![back(0.5), at, back(-0.5)], pen));
    }
    for (corner, place) in course.corners.iter().zip(1..) {
        let [dx, dy] = outside(course, place - 1);
        // Clear of the sign for turning the coil over.
        let off_mm = if circuit
            .turn_over
            .is_some_and(|(turned, _)| turned + 1 == place)
        {
            3.2
        } else {
            1.7
        };
        let at = [
            corner.at[0] + off_mm * mm * dx,
            corner.at[1] + off_mm * mm * dy - 0.9 * mm,
        ];
        shapes.push(Shape::Words(at, TEXT_MM, Anchor::Middle, place.to_string()));
    }
    for (tube_m, at, _) in &circuit.marks {
        shapes.push(Shape::Dot(*at, 0.9, BLACK));
        let words = words::mark(*tube_m, shown.units);
        shapes.push(Shape::Words(
            [at[0] + 1.4 * mm, at[1] + 0.8 * mm],
            TEXT_MM,
            Anchor::Start,
            words,
        ));
    }
    if let Some((corner, _)) = circuit.turn_over {
        let at = course.corners[corner].at;
        let ring = [[0.0, 2.2], [2.2, 0.0], [0.0, -2.2], [-2.2, 0.0]]
            .map(|[x, y]| [at[0] + x * mm, at[1] + y * mm]);
        shapes.push(Shape::Area(
            ring.to_vec(),
            [1.0; 3],
            Some(pen(BLACK, 0.5, &[])),
        ));
        shapes.push(Shape::Words(
            [at[0], at[1] - 0.9 * mm],
            TEXT_MM,
            Anchor::Middle,
            "T".to_owned(),
        ));
    }
    let name = |way: &str| {
        if shown.laid.circuits.len() > 1 {
            format!("{} {way}", number + 1)
        } else {
            way.to_owned()
        }
    };
    for (riser, end, way) in [
        (circuit.risers[0], course.ends[0], "in"),
        (circuit.risers[1], course.ends[1], "out"),
    ] {
        shapes.push(Shape::Dot(riser, 1.1, BLACK));
        let [x, y] = words::towards(riser, end, -5.0 * mm);
        shapes.push(Shape::Words(
            [x, y - 0.9 * mm],
            TEXT_MM,
            Anchor::Middle,
            name(way),
        ));
    }
}

/// The direction from a corner away from its arc.
fn outside(course: &Course, corner: usize) -> Point {
    let at = course.corners[corner].at;
    let before = corner
        .checked_sub(1)
        .map_or(course.ends[0], |before| course.corners[before].at);
    let after = course
        .corners
        .get(corner + 1)
        .map_or(course.ends[1], |after| after.at);
    [0, 1].map(|axis| {
        // Of the two straights one lies along each axis; it leads back from where the number goes.
        let back = (at[axis] - before[axis]) + (at[axis] - after[axis]);
        if back.abs() < 1e-6 {
            0.0
        } else {
            back.signum()
        }
    })
}

/// Pieces up to a length, and from there on.
fn halves(pieces: &[Piece], half_m: f64) -> [Vec<Piece>; 2] {
    let mut parts = [Vec::new(), Vec::new()];
    let mut passed_m = 0.0;
    for piece in pieces {
        let length_m = piece.length_m();
        let before_m = (half_m - passed_m).clamp(0.0, length_m);
        if before_m > 0.0 {
            parts[0].push(piece.part(0.0, before_m));
        }
        if before_m < length_m {
            parts[1].push(piece.part(before_m, length_m));
        }
        passed_m += length_m;
    }
    parts
}

/// The slab's sensor with its tube, straight to the nearest wall.
fn sensor(shown: &Shown<'_>, [x, y]: [[f64; 2]; 2], mm: f64, shapes: &mut Vec<Shape>) {
    let Some(at) = shown.laid.sensor else {
        return;
    };
    let walls = [
        inside(&shown.plan.corners, 1, at[1])
            .into_iter()
            .flatten()
            .map(|x| [x, at[1]])
            .collect::<Vec<_>>(),
        inside(&shown.plan.corners, 0, at[0])
            .into_iter()
            .flatten()
            .map(|y| [at[0], y])
            .collect(),
    ];
    let away = |wall: &Point| libm::hypot(wall[0] - at[0], wall[1] - at[1]);
    let Some(wall) = walls
        .into_iter()
        .flatten()
        .min_by(|a, b| away(a).total_cmp(&away(b)))
    else {
        return;
    };
    debug_assert!(x[0] <= wall[0] && y[0] <= wall[1]);
    shapes.push(Shape::Line(vec![wall, at], SENSOR));
    shapes.push(Shape::Dot(at, 1.2, BLACK));
    shapes.push(Shape::Words(
        [at[0] + 1.4 * mm, at[1] + 1.0 * mm],
        TEXT_MM,
        Anchor::Start,
        "sensor".to_owned(),
    ));
}
