//! Any floor with right angles: what must hold of every laid tube.

use std::collections::{HashMap, HashSet};
use std::f64::consts::{FRAC_PI_2, SQRT_2};

use proptest::prelude::*;

use super::super::outline::distance;
use super::*;
use crate::files::plan::Rect;

/// Length of a circuit from its table alone: straights between corners, arcs by their radii, bulbs by their form.
pub(super) fn length_by_table(table: &[CornerRow]) -> f64 {
    let mut length_m = 0.0;
    let mut at = 1;
    while at < table.len() {
        let row = &table[at];
        length_m += distance(table[at - 1].at, row.at);
        if row.bulb {
            let width_m = distance(row.at, table[at + 1].at);
            let [_, depth_m, bulb_m] = bulb(width_m, row.radius_m);
            length_m += bulb_m - 2.0 * (depth_m + row.radius_m);
            at += 1;
        } else {
            length_m -= (2.0 - FRAC_PI_2) * row.radius_m;
        }
        at += 1;
    }
    length_m
}

/// A floor: a rectangle, an L or a U, perhaps with a post and a joint.
#[derive(Clone, Debug)]
struct Any {
    plan: Plan,
    spacing_m: f64,
    layout: Layout,
    stretch: bool,
    fill: bool,
}

fn any_floor() -> impl Strategy<Value = Any> {
    let size = (2.5..9.0_f64, 2.0..7.0_f64);
    let notch = (0..3_u8, 0.3..0.7_f64, 0.3..0.7_f64, 0.1..0.2_f64);
    let post = (
        any::<bool>(),
        0.1..0.7_f64,
        0.1..0.7_f64,
        0.2..0.8_f64,
        0.2..0.8_f64,
    );
    let wishes = (
        any::<bool>(),
        any::<bool>(),
        any::<bool>(),
        1..4_u32,
        any::<bool>(),
    );
    let spacing = (
        prop::sample::select(vec![0.15, 0.2, 0.25, 0.3]),
        0.1..0.2_f64,
        0.06..0.1_f64,
    );
    (size, notch, post, wishes, spacing, 0.0..1.0_f64).prop_map(
        |(
            (w, h),
            (shape, a, b, c),
            (has_post, px, py, pw, ph),
            (spiral, stretch, fill, count, joint),
            (spacing_m, edge_m, radius_m),
            entry,
        )| {
            let (a, b) = (a * w, b * h);
            let corners = match shape {
                0 => vec![[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]],
                1 => vec![[0.0, 0.0], [w, 0.0], [w, b], [a, b], [a, h], [0.0, h]],
                _ => vec![
                    [0.0, 0.0],
                    [w, 0.0],
                    [w, h],
                    [a + c * w, h],
                    [a + c * w, b],
                    [a, b],
                    [a, h],
                    [0.0, h],
                ],
            };
            let (x, y) = (px * w, py * h);
            let mut plan = Plan {
                edge_m,
                bend_radius_m: Some(radius_m),
                count: Some(if count == 3 { 2 } else { 1 }),
                entry: [entry * w, 0.0],
                ..Plan::of_outline(corners)
            };
            if has_post {
                plan.obstacles.push(Rect {
                    low: [x, y],
                    high: [x + pw, y + ph],
                });
            }
            if joint && !stretch {
                plan.joints.push([[a * 0.9, 0.0], [a * 0.9, h]]);
            }
            let layout = if spiral {
                Layout::CounterFlow
            } else {
                Layout::Serpentine
            };
            Any {
                plan,
                spacing_m,
                layout,
                stretch,
                fill,
            }
        },
    )
}

/// Distance of a place from the walls, m.
fn from_walls_m(plan: &Plan, place: Point) -> f64 {
    floor::sides(&plan.corners)
        .map(|[a, b]| {
            let [dx, dy] = [0, 1].map(|axis| {
                let (low, high) = (a[axis].min(b[axis]), a[axis].max(b[axis]));
                (low - place[axis]).max(place[axis] - high).max(0.0)
            });
            libm::hypot(dx, dy)
        })
        .fold(f64::INFINITY, f64::min)
}

/// Nodes on the way between corners, by the table alone.
fn nodes_by_table(table: &[CornerRow], pitch: Point) -> Vec<[i64; 2]> {
    let first = table[0].at;
    let index = |place: Point| {
        [0, 1].map(|axis| ((place[axis] - first[axis]) / pitch[axis]).round() as i64)
    };
    let mut nodes = vec![index(first)];
    for two in table.windows(2) {
        let to = index(two[1].at);
        while let Some(last) = nodes.last().copied().filter(|last| *last != to) {
            nodes.push([0, 1].map(|axis: usize| last[axis] + (to[axis] - last[axis]).signum()));
        }
    }
    nodes
}

/// Everything that must hold of a laid floor; `Err` says what does not. A wish that cannot be had is no fault.
fn holds(case: &Any) -> Result<bool, String> {
    let plant = PlantConfig::default();
    let question = Question {
        layout: case.layout,
        stretch: case.stretch,
        fill: case.fill,
        ..question(&case.plan, &plant, case.spacing_m)
    };
    let laid = match lay(&question) {
        Ok(laid) => laid,
        Err(LayError::TooSmall | LayError::NotSplit(_) | LayError::FarEntry(_)) => {
            return Ok(false);
        }
        Err(error) => return Err(error.to_string()),
    };
    let say = |what: String| Err(format!("{what} in {case:?}"));
    let mut met = HashSet::new();
    let origin = laid.circuits[0].table[0].at;
    let pitch_m = laid.pitch_m[0].min(laid.pitch_m[1]);
    let least_m = laid.least_radius_m;
    let mut points: Vec<(usize, f64, Point, bool)> = Vec::new();
    let mut count = 0;
    for (number, circuit) in laid.circuits.iter().enumerate() {
        let course = &circuit.course;
        let nodes = nodes_by_table(&circuit.table, laid.pitch_m);
        let start = [0, 1].map(|axis: usize| {
            ((circuit.table[0].at[axis] - origin[axis]) / laid.pitch_m[axis]).round() as i64
        });
        count += nodes.len();
        for node in &nodes {
            if !met.insert([0, 1].map(|axis: usize| node[axis] + start[axis])) {
                return say(format!("a node is met twice: {node:?}"));
            }
        }
        let by_table = length_by_table(&circuit.table);
        let pieces_m: f64 = course.pieces.iter().map(Piece::length_m).sum();
        if (by_table - course.length_m).abs() > 1e-9 * by_table.max(1.0)
            || (pieces_m - course.length_m).abs() > 1e-9 * pieces_m.max(1.0)
        {
            return say(format!(
                "length {} by table {by_table} by pieces {pieces_m}",
                course.length_m
            ));
        }
        let [a, b] = course.ends;
        let apart = distance(a, b);
        if laid
            .pitch_m
            .iter()
            .all(|pitch| (apart - pitch).abs() > 1e-9)
        {
            return say(format!("the ends are {apart} m apart"));
        }
        // Each piece begins where the one before ends.
        let mut at = course.ends[0];
        for piece in &course.pieces {
            if distance(at, piece.at(0.0)) > 1e-7 {
                return say(format!("a gap before {piece:?}"));
            }
            at = piece.at(piece.length_m());
        }
        if distance(at, course.ends[1]) > 1e-7 {
            return say("a gap at the end".to_owned());
        }
        let bulbs: Vec<f64> = course
            .corners
            .iter()
            .filter(|corner| corner.bulb)
            .map(|corner| corner.tube_m)
            .collect();
        let samples = course.every(0.0, 0.02);
        let chords: f64 = samples
            .windows(2)
            .map(|two| distance(two[0].1, two[1].1))
            .sum();
        let last_m = samples.last().map_or(0.0, |(tube_m, ..)| *tube_m);
        // Chords of 2 cm on the tightest bend are a third of a thousandth short.
        if (chords - last_m).abs() > 2e-3 * last_m + 1e-6 {
            return say(format!("length {last_m} by samples {chords}"));
        }
        points.extend(samples.into_iter().step_by(3).map(|(tube_m, place, _)| {
            let near_bulb = bulbs
                .iter()
                .any(|bulb| (bulb - tube_m).abs() < 3.0 * least_m);
            (number, tube_m, place, near_bulb)
        }));
    }
    if count as f64 * laid.pitch_m[0] * laid.pitch_m[1] - laid.served_m2 > 1e-6 {
        return say("served area is not its nodes".to_owned());
    }
    let flagged = |what: fn(&Limit) -> bool| laid.limits.iter().any(what);
    let tight = laid
        .circuits
        .iter()
        .flat_map(|circuit| &circuit.course.corners)
        .any(|corner| corner.radius_m < least_m - 1e-9);
    if tight && !flagged(|limit| matches!(limit, Limit::TightBends(..))) {
        return say("a tight bend nobody tells".to_owned());
    }
    let gap_m = if flagged(|limit| matches!(limit, Limit::NarrowGap(_))) {
        0.0
    } else {
        3.0 * plant.floor.tube.outside_m
    };
    // Round an inner corner the bend cuts the diagonal by (√2 - 1) of its radius.
    let radius_m = laid
        .circuits
        .iter()
        .flat_map(|circuit| &circuit.course.corners)
        .map(|corner| corner.radius_m)
        .fold(0.0, f64::max);
    let edge_m = case
        .plan
        .edge_m
        .min(SQRT_2 * case.plan.edge_m - (SQRT_2 - 1.0) * radius_m);
    let mut cells: HashMap<[i64; 2], Vec<usize>> = HashMap::new();
    let cell = |place: Point| place.map(|along| (along / pitch_m).floor() as i64);
    for (at, (_, _, place, near_bulb)) in points.iter().enumerate() {
        cells.entry(cell(*place)).or_default().push(at);
        let wall_m = from_walls_m(&case.plan, *place);
        if !near_bulb && wall_m < edge_m - 1e-6 {
            return say(format!("{wall_m} m from a wall at {place:?}"));
        }
        for Rect { low, high } in &case.plan.obstacles {
            let [dx, dy] =
                [0, 1].map(|axis: usize| (low[axis] - place[axis]).max(place[axis] - high[axis]));
            if !near_bulb && libm::hypot(dx.max(0.0), dy.max(0.0)) < edge_m - 1e-6 {
                return say(format!("too near an obstacle at {place:?}"));
            }
        }
    }
    for (at, (number, tube_m, place, near_bulb)) in points.iter().enumerate() {
        let [x, y] = cell(*place);
        for beside in [[0, 0], [1, 0], [0, 1], [1, 1], [-1, 1]] {
            for other in cells
                .get(&[x + beside[0], y + beside[1]])
                .into_iter()
                .flatten()
            {
                let (other_number, other_m, other_place, other_bulb) = points[*other];
                let is_same = *number == other_number
                    && (tube_m - other_m).abs() < 3.2 * pitch_m.max(2.0 * least_m);
                if is_same || *other == at {
                    continue;
                }
                let apart = distance(*place, other_place);
                let least = if *near_bulb || other_bulb {
                    gap_m
                } else {
                    pitch_m
                };
                if apart < least - 1e-9 {
                    return say(format!("runs {apart} m apart, not {least}, at {place:?}"));
                }
            }
        }
    }
    if !case.plan.joints.is_empty()
        && laid.circuits.len() == 1
        && case.layout == Layout::CounterFlow
        && !case.fill
        && laid.crossings.len() % 2 != 0
    {
        return say(format!("{} crossings of a joint", laid.crossings.len()));
    }
    Ok(true)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_floor_is_laid_without_a_fault(case in any_floor()) {
        holds(&case).map_err(TestCaseError::fail)?;
    }
}

/// Ten thousand floors: `cargo test --release -p host-sim ten_thousand_floors -- --ignored --nocapture`.
#[test]
#[ignore = "half a minute; 300 of them are in the ordinary tests"]
fn ten_thousand_floors() {
    let mut runner = proptest::test_runner::TestRunner::new(ProptestConfig {
        cases: 10_000,
        failure_persistence: None,
        ..ProptestConfig::default()
    });
    let laid = std::cell::Cell::new(0);
    let done = runner.run(&any_floor(), |case| {
        let is_laid = holds(&case).map_err(TestCaseError::fail)?;
        laid.set(laid.get() + u32::from(is_laid));
        Ok(())
    });
    println!("{} floors laid", laid.get());
    assert!(done.is_ok(), "{done:?}");
    assert!(laid.get() > 8_000, "{}", laid.get());
}
