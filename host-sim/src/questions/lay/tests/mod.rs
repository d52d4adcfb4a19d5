//! The laid tube against closed forms, figures worked out by hand, and its own table.
//!
//! Lengths "by hand": (N − 1) s − n (2 − π/2) r with N nodes, n quarter bends of radius r.

mod any;
mod maps;

use std::f64::consts::PI;

use super::grid::{Grid, Lines};
use super::round::bulb;
use super::*;

/// (2 − π/2): what a quarter bend saves, radii.
const SAVED: f64 = 2.0 - PI / 2.0;

fn question<'a>(plan: &'a Plan, plant: &'a PlantConfig, spacing_m: f64) -> Question<'a> {
    Question {
        stretch: false,
        fill: false,
        coils_m: vec![50.0, 100.0, 120.0, 200.0, 240.0],
        ..Question::usual(plan, plant, spacing_m)
    }
}

fn plan(corners: &[Point], edge_m: f64, bend_radius_m: f64) -> Plan {
    Plan {
        edge_m,
        bend_radius_m: Some(bend_radius_m),
        count: Some(1),
        ..Plan::of_outline(corners.to_vec())
    }
}

fn rectangle(length_m: f64, width_m: f64, edge_m: f64) -> Plan {
    plan(&Plan::rectangle(width_m, length_m).corners, edge_m, 0.08)
}

fn l_shape() -> Plan {
    let corners = [
        [0.0, 0.0],
        [6.0, 0.0],
        [6.0, 2.4],
        [3.0, 2.4],
        [3.0, 4.8],
        [0.0, 4.8],
    ];
    plan(&corners, 0.10, 0.08)
}

fn nodes(laid: &Laid) -> f64 {
    (laid.served_m2 / (laid.pitch_m[0] * laid.pitch_m[1])).round()
}

#[track_caller]
fn one(plan: &Plan, spacing_m: f64) -> Laid {
    lay(&question(plan, &PlantConfig::default(), spacing_m)).expect("a floor that can be laid")
}

#[test]
fn floors_worked_by_hand() {
    for (name, plan, spacing_m, count, bends, length_m) in [
        (
            "6 x 3.6 m",
            rectangle(6.0, 3.6, 0.125),
            0.25,
            336.0,
            26,
            82.355,
        ),
        ("L", l_shape(), 0.20, 528.0, 38, 103.769),
        (
            "2 x 2 m",
            rectangle(2.0, 2.0, 0.125),
            0.25,
            64.0,
            14,
            14.999,
        ),
        (
            "3 x 3 m",
            rectangle(3.0, 3.0, 0.10),
            0.20,
            196.0,
            26,
            37.884,
        ),
    ] {
        let laid = one(&plan, spacing_m);
        let circuit = &laid.circuits[0];
        assert_eq!(nodes(&laid), count, "{name}");
        assert_eq!(circuit.course.corners.len(), bends, "{name}");
        assert!(
            (circuit.course.length_m - length_m).abs() < 5e-4,
            "{name}: {}",
            circuit.course.length_m
        );
        let by_hand = (count - 1.0) * spacing_m - bends as f64 * SAVED * spacing_m / 2.0;
        assert!((circuit.course.length_m - by_hand).abs() < 1e-9, "{name}");
        assert!(circuit.course.length_m <= laid.floor_m2 / spacing_m);
    }
}

#[test]
fn the_coil_is_turned_over_at_the_first_outward_bend() {
    for (plan, spacing_m, square_m) in [
        (rectangle(6.0, 3.6, 0.125), 0.25, 48.0),
        (l_shape(), 0.20, 57.6),
    ] {
        let laid = one(&plan, spacing_m);
        let circuit = &laid.circuits[0];
        let (corner, tube_m) = circuit.turn_over.expect("a spiral turns once");
        let node = circuit.course.corners[corner].node;
        assert!(
            (node as f64 * spacing_m - square_m).abs() < 1e-9,
            "{}",
            node as f64 * spacing_m
        );
        assert!(tube_m < square_m && tube_m > 0.97 * square_m);
    }
}

#[test]
fn a_spiral_in_a_rectangle_has_four_bends_a_lap() {
    for short in 2..=12 {
        for long in short..=12 {
            let side = |pads: u32| f64::from(pads) * 0.4;
            let laid = one(&rectangle(side(long), side(short), 0.1), 0.2);
            let circuit = &laid.circuits[0];
            assert_eq!(
                circuit.course.corners.len() as u32,
                4 * short - 2,
                "{long} x {short}"
            );
            assert_eq!(circuit.branch_ends, 2, "{long} x {short}");
            assert_eq!(circuit.half_turns, 2, "{long} x {short}");
        }
    }
}

#[test]
fn on_a_mesh_every_line_is_a_bar() {
    let mut floor = rectangle(6.0, 3.6, 0.15);
    floor.mesh_m = Some(0.15);
    floor.entry = [3.0, 0.0];
    let laid = one(&floor, 0.30);
    assert_eq!(nodes(&laid), 240.0);
    let circuit = &laid.circuits[0];
    let by_hand = 239.0 * 0.30 - circuit.course.corners.len() as f64 * SAVED * 0.15;
    assert!((circuit.course.length_m - by_hand).abs() < 1e-9);
    assert!(
        circuit.course.corners.len() <= 31,
        "{}",
        circuit.course.corners.len()
    );
    floor.entry = [0.0, 0.0];
    assert_eq!(one(&floor, 0.30).circuits[0].course.corners.len(), 22);
    // Bars that are known: 0.05 m from either wall.
    floor.mesh_start = Some([0.05, 0.05]);
    let laid = one(&floor, 0.30);
    for corner in &laid.circuits[0].course.corners {
        for place in corner.at {
            let bars = (place - 0.05) / 0.15;
            assert!((bars - bars.round()).abs() < 1e-9, "{place}");
        }
    }
    let plant = PlantConfig::default();
    let off = lay(&question(&floor, &plant, 0.25)).expect_err("no bar every 0.25 m");
    assert_eq!(off, LayError::OffMesh(0.25, 0.15));
}

#[test]
fn lines_are_stretched_to_fill_the_floor() {
    let floor = rectangle(6.0, 3.6, 0.125);
    let plant = PlantConfig::default();
    let laid = lay(&Question {
        stretch: true,
        ..question(&floor, &plant, 0.25)
    })
    .expect("laid");
    assert!((laid.pitch_m[0] - 0.25).abs() < 1e-9);
    assert!((laid.pitch_m[1] - 3.35 / 13.0).abs() < 1e-9);
    assert_eq!(nodes(&laid), 336.0);
    assert!((laid.served_m2 - 21.65).abs() < 0.005, "{}", laid.served_m2);
}

#[test]
fn a_post_and_a_tight_tube_give_bulbs() {
    let mut floor = rectangle(9.0, 4.0, 0.15);
    floor.bend_radius_m = Some(0.095);
    floor.entry = [0.0, 2.0];
    floor.obstacles.push(crate::files::plan::Rect {
        low: [4.0, 1.5],
        high: [5.0, 2.3],
    });
    let laid = one(&floor, 0.15);
    assert!(nodes(&laid) >= 1312.0, "{}", nodes(&laid));
    let circuit = &laid.circuits[0];
    let corners = &circuit.course.corners;
    let bulbs = corners.iter().filter(|corner| corner.bulb).count() / 2;
    assert_eq!(bulbs, circuit.half_turns);
    assert!(corners.iter().all(|corner| corner.radius_m >= 0.095 - 1e-9));
    let plain: f64 = corners
        .iter()
        .filter(|corner| !corner.bulb)
        .map(|corner| corner.radius_m)
        .sum();
    // A bulb is 0.0290 m longer than a half circle with its straights; that half circle saves two quarter bends.
    let by_hand =
        (nodes(&laid) - 1.0) * 0.15 - plain * SAVED + bulbs as f64 * (0.0290 - 2.0 * SAVED * 0.075);
    assert!(
        (circuit.course.length_m - by_hand).abs() < 1e-4 * bulbs as f64,
        "{} {by_hand}",
        circuit.course.length_m
    );
}

/// Three arcs laid end to end in another program: spacing, radius, α, x₀, length, more than a half circle with its straights.
#[test]
fn bulbs_are_as_laid_end_to_end() {
    for (width_m, radius_m, angle, depth_m, length_m, more_m) in [
        (0.15, 0.095, 0.4630, 0.0849, 0.4744, 0.0290),
        (0.20, 0.128, 0.4721, 0.1164, 0.6438, 0.0408),
    ] {
        let found = bulb(width_m, radius_m);
        let straights = 2.0 * (found[1] + radius_m - width_m / 2.0) + PI * width_m / 2.0;
        for (got, want) in [
            (found[0], angle),
            (found[1], depth_m),
            (found[2], length_m),
            (found[2] - straights, more_m),
        ] {
            assert!((got - want).abs() < 6e-5, "{got} {want}");
        }
    }
}

#[test]
fn two_halves_from_the_middle_of_a_wall_are_equal() {
    let mut floor = rectangle(9.0, 4.0, 0.15);
    floor.entry = [4.5, 0.0];
    floor.count = Some(2);
    let laid = one(&floor, 0.20);
    assert_eq!(laid.circuits.len(), 2);
    // 22 x 18 lines each. Two rooms of 4.5 x 4 m have 34 bends and 77.54 m; here the tube cannot begin at a wall between them.
    for circuit in &laid.circuits {
        assert_eq!(circuit.course.corners.len(), 35);
        let by_hand = 395.0 * 0.2 - 35.0 * SAVED * 0.1;
        assert!(
            (circuit.course.length_m - by_hand).abs() < 1e-9,
            "{}",
            circuit.course.length_m
        );
    }
    let [one, other] = [0, 1].map(|circuit: usize| laid.circuits[circuit].course.length_m);
    assert!((one - other).abs() < 1e-9);
    // Drawn by hand, the same.
    floor.circuits = vec![
        crate::files::plan::Rect {
            low: [0.0, 0.0],
            high: [4.5, 4.0],
        },
        crate::files::plan::Rect {
            low: [4.5, 0.0],
            high: [9.0, 4.0],
        },
    ];
    let drawn = self::one(&floor, 0.20);
    assert!((drawn.circuits[0].course.length_m - one).abs() < 1e-9);
}

#[test]
fn from_a_corner_further_circuits_keep_the_row_along_the_wall() {
    for count in 2..=5 {
        for entry in [[0.0, 0.0], [6.0, 0.0], [12.0, 0.0]] {
            let mut floor = rectangle(12.0, 6.0, 0.15);
            floor.count = Some(count);
            floor.entry = entry;
            let laid = one(&floor, 0.20);
            let lengths: Vec<f64> = laid.circuits.iter().map(Circuit::whole_m).collect();
            let (least, most) = lengths
                .iter()
                .fold((f64::INFINITY, 0.0_f64), |(a, b), l| (a.min(*l), b.max(*l)));
            assert!(
                1.0 - least / most < 0.1,
                "{count} at {entry:?}: {lengths:?}"
            );
            // From 30 × 15 lines 28 are pads' each way up.
            assert!((nodes(&laid) * 0.04 - laid.served_m2).abs() < 1e-6);
            for circuit in &laid.circuits {
                assert!(
                    circuit.leads_m[0] < 0.5 * f64::from(count) + 0.5,
                    "{:?}",
                    circuit.leads_m
                );
            }
        }
    }
}

#[test]
fn mirror_images_and_turns_have_the_same_length_and_bends() {
    let base = {
        let mut floor = l_shape();
        floor.entry = [0.0, 1.1];
        floor.obstacles.push(crate::files::plan::Rect {
            low: [1.0, 2.9],
            high: [1.6, 3.3],
        });
        floor
    };
    let map = |place: Point, turn: u32| {
        let [x, y] = if turn & 1 == 0 {
            place
        } else {
            [6.0 - place[0], place[1]]
        };
        let [x, y] = if turn & 2 == 0 { [x, y] } else { [x, 4.8 - y] };
        if turn & 4 == 0 { [x, y] } else { [y, x] }
    };
    let measured: Vec<(usize, i64)> = (0..8)
        .map(|turn| {
            let mut floor = base.clone();
            floor
                .corners
                .iter_mut()
                .for_each(|corner| *corner = map(*corner, turn));
            floor.entry = map(floor.entry, turn);
            for rect in &mut floor.obstacles {
                let [a, b] = [map(rect.low, turn), map(rect.high, turn)];
                rect.low = [0, 1].map(|axis| a[axis].min(b[axis]));
                rect.high = [0, 1].map(|axis| a[axis].max(b[axis]));
            }
            let laid = one(&floor, 0.20);
            let course = &laid.circuits[0].course;
            (course.corners.len(), (course.length_m * 1e6).round() as i64)
        })
        .collect();
    assert!(
        measured.iter().all(|other| *other == measured[0]),
        "{measured:?}"
    );
}

#[test]
fn strips_beside_an_inner_corner_are_closed_by_detours() {
    let floor = l_shape();
    let plant = PlantConfig::default();
    let without = one(&floor, 0.20);
    assert!((without.bare_m2() - 12.0 * 0.04).abs() < 1e-9);
    let laid = lay(&Question {
        fill: true,
        ..question(&floor, &plant, 0.20)
    })
    .expect("laid");
    assert_eq!(laid.detours, 6);
    assert_eq!(nodes(&laid), 540.0);
    assert!(laid.bare.is_empty());
    let bends = laid.circuits[0].course.corners.len() as f64;
    let by_hand = 539.0 * 0.2 - bends * SAVED * 0.1;
    assert!((laid.circuits[0].course.length_m - by_hand).abs() < 1e-9);
    // A tube too stiff for half a spacing makes no detour, and says what stays bare.
    let mut stiff = floor.clone();
    stiff.bend_radius_m = Some(0.12);
    let laid = lay(&Question {
        fill: true,
        ..question(&stiff, &plant, 0.20)
    })
    .expect("laid");
    assert_eq!(laid.detours, 0);
    assert_eq!(laid.bare.len(), 1);
}

#[test]
fn to_and_fro_comes_back_to_the_manifold() {
    let floor = rectangle(6.0, 3.6, 0.125);
    let plant = PlantConfig::default();
    let laid = lay(&Question {
        layout: Layout::Serpentine,
        ..question(&floor, &plant, 0.25)
    })
    .expect("laid");
    let circuit = &laid.circuits[0];
    assert_eq!(nodes(&laid), 336.0);
    // 14 lines: 2 (14 - 1) bends of the lines, and one where the way back along the wall begins.
    assert_eq!(circuit.course.corners.len(), 27);
    assert_eq!(circuit.half_turns, 13);
    let [a, b] = circuit.course.ends;
    assert!((outline::distance(a, b) - 0.25).abs() < 1e-9);
}

/// A joint is crossed twice, supply and return, straight and square.
#[test]
fn joints_are_crossed_square_and_only_twice() {
    let mut floor = rectangle(6.0, 3.6, 0.125);
    floor.joints.push([[3.0, 0.0], [3.0, 3.6]]);
    let laid = one(&floor, 0.25);
    assert_eq!(laid.crossings.len(), 2);
    assert!(
        laid.limits
            .iter()
            .all(|limit| !matches!(limit, Limit::SkewJoint(_))),
        "{:?}",
        laid.limits
    );
    assert_eq!(nodes(&laid), 336.0);
}

#[test]
fn the_figures_beside_the_path_follow_from_it() {
    let floor = rectangle(6.0, 3.6, 0.125);
    let plant = PlantConfig::default();
    for falls in [false, true] {
        let printed = Some(Printed {
            start_m: 137.0,
            falls,
        });
        let laid = lay(&Question {
            printed,
            ..question(&floor, &plant, 0.25)
        })
        .expect("laid");
        let circuit = &laid.circuits[0];
        // At least one every 0.75 m of straight tube and one on each side of the straights between bends; none in a bend.
        let bends_m: f64 = circuit
            .course
            .corners
            .iter()
            .map(|corner| corner.radius_m * PI / 2.0)
            .sum();
        let straights = circuit
            .course
            .pieces
            .iter()
            .filter(|piece| matches!(piece, Piece::Line { .. }))
            .count() as f64;
        let least = (circuit.course.length_m - bends_m) / 0.75;
        let count = circuit.ties.len() as f64;
        assert!(
            count >= least && count <= least + 2.0 * straights,
            "{count} {least}"
        );
        assert!((circuit.order_m - (circuit.whole_m() + 3.0) * 1.02).abs() < 1e-9);
        assert_eq!(circuit.marks.len(), 8);
        for row in &circuit.table {
            let sign = if falls { -1.0 } else { 1.0 };
            assert!((row.printed_m.expect("a reading") - 137.0 - sign * row.tube_m).abs() < 1e-9);
        }
        // 82.4 m and what the manifold takes.
        assert_eq!(laid.coils[0].length_m, 100.0);
        // Every mark within a millimetre of its place along the tube.
        for (tube_m, place, _) in &circuit.marks {
            let mut passed_m = 0.0;
            let near = circuit.course.pieces.iter().any(|piece| {
                let along_m = tube_m - passed_m;
                passed_m += piece.length_m();
                (0.0..=piece.length_m()).contains(&along_m)
                    && outline::distance(piece.at(along_m), *place) < 1e-3
            });
            assert!(near, "{tube_m}");
        }
    }
}

#[test]
fn what_cannot_be_laid_is_said() {
    let plant = PlantConfig::default();
    let tiny = rectangle(0.6, 0.6, 0.15);
    assert_eq!(
        lay(&question(&tiny, &plant, 0.4)).expect_err("tiny"),
        LayError::TooSmall
    );
    let huge = rectangle(190.0, 190.0, 0.15);
    assert_eq!(
        lay(&question(&huge, &plant, 0.1)).expect_err("huge"),
        LayError::TooLarge
    );
    let mut few = rectangle(1.0, 1.0, 0.15);
    few.count = Some(9);
    assert_eq!(
        lay(&question(&few, &plant, 0.2)).expect_err("few pads"),
        LayError::NotSplit(9)
    );
    let mut far = rectangle(6.0, 3.0, 0.15);
    far.entry = [0.0, 0.0];
    far.obstacles.push(crate::files::plan::Rect {
        low: [0.0, 0.0],
        high: [2.5, 2.5],
    });
    assert!(matches!(
        lay(&question(&far, &plant, 0.2)).expect_err("far"),
        LayError::FarEntry(_)
    ));
    let mut drawn = rectangle(6.0, 3.0, 0.15);
    drawn.circuits.push(crate::files::plan::Rect {
        low: [20.0, 20.0],
        high: [22.0, 22.0],
    });
    assert_eq!(
        lay(&question(&drawn, &plant, 0.2)).expect_err("elsewhere"),
        LayError::Region
    );
}

/// Somebody with nothing but the table of corners: the way is drawn again and comes out at the same tube.
#[test]
fn the_table_alone_makes_the_tube() {
    let mut post = rectangle(9.0, 4.0, 0.15);
    post.bend_radius_m = Some(0.095);
    post.obstacles.push(crate::files::plan::Rect {
        low: [4.0, 1.5],
        high: [5.0, 2.3],
    });
    for (plan, spacing_m) in [
        (rectangle(6.0, 3.6, 0.125), 0.25),
        (l_shape(), 0.20),
        (post, 0.15),
    ] {
        let laid = one(&plan, spacing_m);
        let table = &laid.circuits[0].table;
        let rebuilt = any::length_by_table(table);
        let told = table.last().expect("an end").tube_m;
        assert!((rebuilt - told).abs() < 1e-6, "{rebuilt} {told}");
        let [first, last] = [table[0].at, table[table.len() - 1].at];
        assert!(
            (outline::distance(first, last) - spacing_m).abs() < 1e-9,
            "it ends beside its beginning"
        );
    }
}
