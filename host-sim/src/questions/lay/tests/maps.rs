//! The map of evenness against closed forms and a march in another program.
//!
//! U 9 W/m²K, C 252.0017 W/K, R' 0.289166 m K/W, as in the closed forms' own tests.

use super::super::evenness::{Slab, excess, pads};
use super::super::outline;
use super::*;

const SLAB: Slab = Slab {
    tube_w_mk: 1.0 / 0.289166,
    capacity_w_k: 252.0017,
    loss_w_m2k: 9.0,
    along_w_k: 0.0,
    edge_w_mk: 0.0,
};

fn ratio(values: &[f64]) -> f64 {
    let most = values.iter().copied().fold(0.0, f64::max);
    most / values.iter().copied().fold(f64::INFINITY, f64::min)
}

/// Warmest over coldest pad of a floor, as a spiral.
fn spiral(plan: &Plan, spacing_m: f64, slab: &Slab) -> f64 {
    let floor = Floor::new(plan, plan.edge_m);
    let mut grid = Grid::best(&floor, spacing_m, Lines::Exact).expect("a grid");
    let way =
        outline::best(&floor, &grid, &grid.pads, plan.entry, Layout::CounterFlow).expect("a way");
    // Cells with tube alone, as in the other program.
    grid.open.iter_mut().for_each(|open| *open = false);
    let (map, _) = excess(&floor, &grid, &[way.nodes], slab);
    ratio(&pads(&grid, &map))
}

#[test]
fn spirals_are_as_even_as_another_program_has_them() {
    let floor = rectangle(6.0, 3.6, 0.125);
    let conducting = Slab {
        along_w_k: 0.18,
        ..SLAB
    };
    for (slab, want) in [(SLAB, 1.136), (conducting, 1.149)] {
        let got = spiral(&floor, 0.25, &slab);
        assert!((got - want).abs() < 1e-3, "{got} {want}");
    }
    let with_edge = Slab {
        edge_w_mk: 0.9346,
        ..conducting
    };
    for (slab, want) in [(conducting, 1.20), (with_edge, 1.14)] {
        let got = spiral(&l_shape(), 0.20, &slab);
        assert!((got - want).abs() < 0.01, "{got} {want}");
    }
}

/// The same grid to and fro, row by row.
#[test]
fn to_and_fro_is_as_another_program_has_it() {
    let plan = rectangle(6.0, 3.6, 0.125);
    let floor = Floor::new(&plan, plan.edge_m);
    let grid = Grid::best(&floor, 0.25, Lines::Exact).expect("a grid");
    let across = 2 * grid.size[0];
    let served: Vec<usize> = (0..grid.open.len())
        .filter(|node| grid.pads[grid.pad_of(*node)])
        .collect();
    let rows: Vec<usize> = {
        let mut rows: Vec<usize> = served.iter().map(|node| node / across).collect();
        rows.dedup();
        rows
    };
    let way: Vec<usize> = rows
        .iter()
        .enumerate()
        .flat_map(|(at, row)| {
            let mut line: Vec<usize> = served
                .iter()
                .copied()
                .filter(|node| node / across == *row)
                .collect();
            if at % 2 == 1 {
                line.reverse();
            }
            line
        })
        .collect();
    assert_eq!(way.len(), 336);
    for (along_w_k, want) in [(0.0, 1.477), (0.18, 1.474)] {
        let slab = Slab { along_w_k, ..SLAB };
        let (map, _) = excess(&floor, &grid, std::slice::from_ref(&way), &slab);
        let got = ratio(&pads(&grid, &map));
        assert!((got - want).abs() < 1e-3, "{got} {want}");
    }
}

/// A pair of tubes that share each strip, as the closed form has it: lines so near each other that heat passes between them alone.
#[test]
fn a_pair_in_one_strip_is_the_closed_form() {
    let pairs = 172;
    let (dx, dy) = (0.25, 1e-4);
    let plan = plan(
        &[[-1.0, -1.0], [50.0, -1.0], [50.0, 1.0], [-1.0, 1.0]],
        0.1,
        0.08,
    );
    let floor = Floor::new(&plan, plan.edge_m);
    let grid = Grid {
        origin: [0.0, 0.0],
        pitch: [dx, dy],
        size: [pairs / 2, 1],
        open: vec![false; 2 * pairs],
        pads: vec![true; pairs / 2],
    };
    let way: Vec<usize> = (0..pairs).chain((pairs..2 * pairs).rev()).collect();
    let slab = Slab {
        loss_w_m2k: 9.0 * 0.25 / dy,
        along_w_k: 0.04,
        ..SLAB
    };
    let (map, outlets) = excess(&floor, &grid, &[way], &slab);
    let strip = |pair: usize| f64::midpoint(map[pair], map[pairs + pair]);
    let heat_w_k = SLAB.capacity_w_k * (1.0 - outlets[0]);
    // cosh and sinh, 86 m: 0.49557, 0.46340 and 91.7329 W/K; the march's own outer strip is 0.125 m inside.
    assert!((strip(0) - 0.49557).abs() < 5e-4, "{}", strip(0));
    // In the last pair the tube turns: it has half the tube of the others.
    assert!(
        (strip(pairs - 2) - 0.46340).abs() < 5e-4,
        "{}",
        strip(pairs - 2)
    );
    let turn = 0.25 / 86.0;
    assert!((heat_w_k / 91.7329 - 1.0).abs() < 5e-4 + turn, "{heat_w_k}");
}

/// What the cells lose is what the water gives.
#[test]
fn heat_given_is_heat_lost() {
    let plan = rectangle(6.0, 3.6, 0.125);
    let floor = Floor::new(&plan, plan.edge_m);
    let grid = Grid::best(&floor, 0.25, Lines::Exact).expect("a grid");
    let way =
        outline::best(&floor, &grid, &grid.pads, plan.entry, Layout::CounterFlow).expect("a way");
    let slab = Slab {
        along_w_k: 0.18,
        edge_w_mk: 0.93,
        ..SLAB
    };
    let (map, outlets) = excess(&floor, &grid, &[way.nodes], &slab);
    let given = SLAB.capacity_w_k * (1.0 - outlets[0]);
    let lines: [f64; 2] = [24.0, 14.0];
    let mut lost = 0.0;
    for (node, excess) in map
        .iter()
        .enumerate()
        .filter(|(_, excess)| !excess.is_nan())
    {
        let [column, row] = grid.column_row(node);
        let [first_column, first_row] = grid.column_row(
            map.iter()
                .position(|excess| !excess.is_nan())
                .expect("a cell"),
        );
        let place = [f64::from(column - first_column), f64::from(row - first_row)];
        let sides = (0..2)
            .map(|axis| u8::from(place[axis] == 0.0) + u8::from(place[axis] == lines[axis] - 1.0))
            .sum::<u8>();
        lost += excess * (9.0 * 0.0625 + 0.93 * 0.25 * f64::from(sides));
    }
    assert!((lost / given - 1.0).abs() < 1e-6, "{lost} {given}");
}

#[test]
fn a_colder_floor_beside_a_warmer_one_is_told() {
    let plan = rectangle(6.0, 3.6, 0.125);
    let plant = PlantConfig::default();
    let [spiral, rows] = [Layout::CounterFlow, Layout::Serpentine].map(|layout| {
        lay(&Question {
            layout,
            ..question(&plan, &plant, 0.25)
        })
        .expect("laid")
        .warmth
    });
    assert!(spiral.ratio < rows.ratio, "{} {}", spiral.ratio, rows.ratio);
    assert!(spiral.coldest_c <= spiral.mean_c && spiral.mean_c <= spiral.warmest_c);
    assert!(spiral.warmest_c < spiral.supply_c);
    // Edges lose where they are: corners are colder than by the laying alone.
    assert!(spiral.coldest_c < spiral.laying_c && spiral.laying_c > spiral.wanted_c);
}
