//! A laid floor as a person reads it in a terminal, and the tables to tick while laying.

use std::fmt::Write as _;

use super::Shown;
use super::words::{area, layout, length, limit, small, spacing, temperature, tube};
use crate::files::plan::Point;
use crate::files::quantity::Units;
use crate::present::page::Table;
use crate::present::wrap_at;
use crate::questions::lay::{Circuit, Laid, is_other_floor};
use crate::sim::plant::exchanger::Layout;

const WIDTH: usize = 96;
const STANDING: &str = "Common practice stands behind radii, lengths, ties and edges, no standard: the tube maker's sheet, local code and licensed \
practice go before. docs/laying.md tells how it is done and what can hurt.";
/// Metres that two people lay in an hour on a mesh (common practice, no source).
const METRES_AN_HOUR: f64 = 50.0;

/// The whole text.
#[must_use]
pub fn text(shown: &Shown<'_>) -> String {
    let laid = shown.laid;
    let mut text = format!(
        "Where the tube goes, before the pour\n\n{}\n",
        answer(laid).to_uppercase()
    );
    for crossed in &laid.limits {
        paragraph(&mut text, &limit(crossed, shown.units), 2);
    }
    for (heading, lines) in points(shown) {
        let _ = writeln!(text, "\n{heading}");
        for line in lines {
            paragraph(&mut text, &line, 2);
        }
    }
    text.push('\n');
    for line in table(shown) {
        let _ = writeln!(text, "{}", line.trim_end());
    }
    paragraph(&mut text, STANDING, 0);
    text
}

/// What is to be said, under headings.
pub(super) fn points(shown: &Shown<'_>) -> Vec<(&'static str, Vec<String>)> {
    let laid = shown.laid;
    let units = shown.units;
    let circuits = laid
        .circuits
        .iter()
        .zip(1..)
        .flat_map(|(circuit, number)| about(circuit, number, laid.layout, units))
        .collect();
    let mut points = vec![
        ("The floor", floor(shown)),
        ("Circuits", circuits),
        ("To buy and to bring", to_bring(shown)),
        ("How even it becomes", warmth(laid, units)),
    ];
    if let Some(other) = shown.other {
        points.push(("The other layout", vec![beside(other, units)]));
    }
    points.push(("Measure on the floor before you begin", measures(shown)));
    let lines = laid.site_lines(units);
    points.push((
        "For [slab] of the site file, so that host-sim size judges what is laid (--write-site does it)",
        lines.iter().map(|line| format!("{} = {}", line.key.trim_start_matches("slab."), line.toml())).collect(),
    ));
    points
}

/// Whether it can be laid as drawn.
pub(super) fn answer(laid: &Laid) -> String {
    match laid.limits.len() {
        0 => "It can be laid as drawn.".to_owned(),
        1 => "It is drawn, but one limit is crossed.".to_owned(),
        count => format!("It is drawn, but {count} limits are crossed."),
    }
}

fn floor(shown: &Shown<'_>) -> Vec<String> {
    let laid = shown.laid;
    let units = shown.units;
    let mut lines = vec![format!(
        "{} of floor, {} with tube ({:.0} %): {} of {}, runs every {}.",
        area(laid.floor_m2, units),
        area(laid.served_m2, units),
        100.0 * laid.covered(),
        layout(laid.layout),
        shown.tube,
        spacing(laid, units)
    )];
    if shown.plan.mesh_m.is_some() && shown.plan.mesh_start.is_none() {
        let [x, y] = laid.first_node.map(|along| length(along, units));
        lines.push(format!("Lay the mesh so that bars cross at {x} across and {y} up: every run then sits on a bar."));
    }
    if is_other_floor(laid.floor_m2, shown.site_floor_m2) {
        lines.push(format!(
            "The site's house has {} of floor, this plan {}: losses and evenness are the site's. A rectangle's sides go into the site file with \
             --write-site; for another floor set house.width and house.length to a rectangle of its area.",
            area(shown.site_floor_m2, units),
            area(laid.floor_m2, units)
        ));
    }
    if laid.detours > 0 {
        lines.push(format!(
            "Strips beside obstacles and inner corners are closed by {} detours of one spacing; --leave-strips leaves them bare and saves their bends.",
            laid.detours
        ));
    }
    if !laid.bare.is_empty() {
        let cold = laid.warmth.bare_c.map_or(String::new(), |bare_c| {
            format!(
                " The coldest of it has {} where the floor's mean is {}.",
                temperature(bare_c, units),
                temperature(laid.warmth.mean_c, units)
            )
        });
        let least_m = laid.least_radius_m;
        lines.push(format!(
            "No tube on {} in {} (hatched): a detour would have to bend tighter than {}, or there is no room for two nodes side by side.{cold}",
            area(laid.bare_m2(), units),
            if laid.bare.len() == 1 { "one strip".to_owned() } else { format!("{} strips", laid.bare.len()) },
            small(least_m, units)
        ));
    }
    if !laid.crossings.is_empty() {
        lines.push(format!(
            "Joints are crossed {} times, each in a sleeve of {}.",
            laid.crossings.len(),
            length(0.3, units)
        ));
    }
    lines
}

fn about(circuit: &Circuit, number: usize, layout: Layout, units: Units) -> Vec<String> {
    let course = &circuit.course;
    let bulbs = course.corners.iter().filter(|corner| corner.bulb).count() / 2;
    let mut lines = vec![format!(
        "{number}: {} between first and last run, and {} of leads; {} bends, {} half turns, smallest radius {}; {} ties.",
        tube(course.length_m, units),
        tube(circuit.leads_m.iter().sum(), units),
        course.corners.len(),
        circuit.half_turns,
        small(circuit.least_radius_m(), units),
        circuit.ties.len()
    )];
    if bulbs > 0 {
        lines.push(format!("   {bulbs} of its half turns are bulbs: out, round and back, since half a spacing is less than the tube takes."));
    }
    match (layout, circuit.turn_over) {
        (Layout::CounterFlow, Some((corner, tube_m))) => lines.push(format!(
            "   Turn the coil over at corner {}, {} from the beginning: from there the bends go the other way.",
            corner + 1,
            tube(tube_m, units)
        )),
        (Layout::CounterFlow, None) => {}
        (Layout::Serpentine, _) => lines.push("   Turn the coil over at every half turn, or bend against its curl.".to_owned()),
    }
    lines
}

fn to_bring(shown: &Shown<'_>) -> Vec<String> {
    let laid = shown.laid;
    let units = shown.units;
    let mut lines: Vec<String> = laid
        .coils
        .iter()
        .map(|coil| {
            let circuits: Vec<String> = coil.circuits.iter().map(ToString::to_string).collect();
            format!(
                "A coil of {} for circuit {}: {} are left.",
                tube(coil.length_m, units),
                circuits.join(" and "),
                tube(coil.left_m, units)
            )
        })
        .collect();
    let whole_m: f64 = laid.circuits.iter().map(Circuit::whole_m).sum();
    let ordered: f64 = laid.circuits.iter().map(|circuit| circuit.order_m).sum();
    lines.push(format!(
        "{} of tube: runs, leads, {} for each end at the manifold, and 2 % more. No joint belongs into concrete.",
        tube(ordered, units),
        length(1.5, units)
    ));
    let ties: usize = laid.circuits.iter().map(|circuit| circuit.ties.len()).sum();
    let sleeves = 2 * laid.circuits.len() + laid.crossings.len();
    lines.push(format!(
        "{ties} ties, {sleeves} sleeves, a tube for the slab's sensor, edge insulation for {}.",
        length(perimeter_m(&shown.plan.corners), units)
    ));
    lines.push(format!(
        "Two people for about {:.0} hours (common practice: {} an hour on a mesh).",
        (whole_m / METRES_AN_HOUR).ceil().max(1.0),
        tube(METRES_AN_HOUR, units)
    ));
    lines
}

fn perimeter_m(corners: &[Point]) -> f64 {
    let next = corners.iter().cycle().skip(1);
    corners
        .iter()
        .zip(next)
        .map(|(a, b)| libm::hypot(a[0] - b[0], a[1] - b[1]))
        .sum()
}

fn warmth(laid: &Laid, units: Units) -> Vec<String> {
    let warmth = &laid.warmth;
    vec![
        format!(
            "With the store alone at its balance point ({} outdoors, water in at {}): floor {} on average, warmest pad {}, coldest pad {}. \
             A pad is two runs by two.",
            temperature(warmth.outdoor_c, units),
            temperature(warmth.supply_c, units),
            temperature(warmth.mean_c, units),
            temperature(warmth.warmest_c, units),
            temperature(warmth.coldest_c, units)
        ),
        format!(
            "By its laying alone, the edge's loss spread over the floor as in size, the coldest pad has {} (at least {} wanted). \
             What corners are colder than that is the edge's: insulate it.",
            temperature(warmth.laying_c, units),
            temperature(warmth.wanted_c, units)
        ),
    ]
}

fn beside(other: &Laid, units: Units) -> String {
    let whole_m: f64 = other.circuits.iter().map(Circuit::whole_m).sum();
    let bends: usize = other
        .circuits
        .iter()
        .map(|circuit| circuit.course.corners.len())
        .sum();
    format!(
        "{}: {} of tube, {bends} bends, warmest pad {}, coldest pad {}, by its laying alone {}. {}",
        layout(other.layout),
        tube(whole_m, units),
        temperature(other.warmth.warmest_c, units),
        temperature(other.warmth.coldest_c, units),
        temperature(other.warmth.laying_c, units),
        answer(other)
    )
}

/// Two diagonals that show whether the floor is as drawn, and where the first run is.
fn measures(shown: &Shown<'_>) -> Vec<String> {
    let corners = &shown.plan.corners;
    let units = shown.units;
    let away = |a: Point, b: Point| libm::hypot(a[0] - b[0], a[1] - b[1]);
    let said = |[x, y]: Point| format!("({}, {})", length(x, units), length(y, units));
    let mut lines: Vec<String> = corners
        .iter()
        .take(2)
        .filter_map(|from| {
            let far = corners
                .iter()
                .max_by(|a, b| away(*from, **a).total_cmp(&away(*from, **b)))?;
            Some(format!(
                "From corner {} to corner {}: {}.",
                said(*from),
                said(*far),
                length(away(*from, *far), units)
            ))
        })
        .collect();
    let [x, y] = shown.laid.first_node;
    let low = [0, 1].map(|axis| {
        corners
            .iter()
            .map(|corner| corner[axis])
            .fold(f64::INFINITY, f64::min)
    });
    lines.push(format!(
        "First run along each wall: {} from the left end and {} from the lower end of the floor.",
        length(x - low[0], units),
        length(y - low[1], units)
    ));
    lines
}

/// The tables of corners, line by line, with a box to tick.
pub(super) fn table(shown: &Shown<'_>) -> Vec<String> {
    let units = shown.units;
    let mut lines = Vec::new();
    for (number, circuit) in shown.laid.circuits.iter().enumerate() {
        let printed = circuit.table.iter().any(|row| row.printed_m.is_some());
        lines.push(format!(
            "Corners of circuit {}: tube used up to the middle of each bend",
            number + 1
        ));
        lines.push(format!(
            "     {:>6}  {:>10}  {:>10}  {:<6} {:>8}  {:>10}{}",
            "corner",
            "across",
            "up",
            "turn",
            "radius",
            "tube used",
            if printed { "  printed there" } else { "" }
        ));
        let last = circuit.table.len() - 1;
        for (at, row) in circuit.table.iter().enumerate() {
            let name = if at == 0 || at == last {
                String::new()
            } else {
                at.to_string()
            };
            let radius = match (row.radius_m > 0.0, row.bulb) {
                (false, _) => String::new(),
                (true, false) => small(row.radius_m, units),
                (true, true) => format!("{} b", small(row.radius_m, units)),
            };
            let there = row.printed_m.map_or(String::new(), |metres| {
                format!("  {:>13}", tube(metres, units))
            });
            lines.push(format!(
                "[ ]  {name:>6}  {:>10}  {:>10}  {:<6} {radius:>8}  {:>10}{there}",
                length(row.at[0], units),
                length(row.at[1], units),
                row.turn,
                tube(row.tube_m, units)
            ));
        }
        if circuit.table.iter().any(|row| row.bulb) {
            lines.push("b: one of the two corners of a bulb".to_owned());
        }
        lines.push(format!(
            "Off by {} at a corner is usual, by {} is a mistake: look back before you tie on.",
            tube(0.5, units),
            tube(2.0, units)
        ));
        lines.push(String::new());
    }
    lines
}

/// The same tables for a page.
pub(super) fn corner_tables(shown: &Shown<'_>) -> Vec<(String, Table)> {
    let units = shown.units;
    let circuits = shown.laid.circuits.iter().zip(1..);
    circuits
        .map(|(circuit, number)| {
            let has_print = circuit.table.iter().any(|row| row.printed_m.is_some());
            let mut head = vec!["corner", "across", "up", "tube used", "radius"];
            head.extend(has_print.then_some("printed there"));
            head.push("turn");
            let rows = circuit.table.iter().enumerate().map(|(at, row)| {
                let mut cells = vec![
                    at.to_string(),
                    length(row.at[0], units),
                    length(row.at[1], units),
                    tube(row.tube_m, units),
                    small(row.radius_m, units),
                ];
                cells.extend(row.printed_m.map(|metres| tube(metres, units)));
                cells.push(row.turn.to_owned());
                cells
            });
            let table = Table {
                rows: rows.collect(),
                numbers: head.len() - 2,
                head: head.into_iter().map(str::to_owned).collect(),
            };
            (
                format!("Corners of circuit {number}: tube used up to the middle of each bend"),
                table,
            )
        })
        .collect()
}

fn paragraph(text: &mut String, words: &str, indent: usize) {
    let hanging = words.len() - words.trim_start().len();
    for line in wrap_at(words.trim_start(), WIDTH - indent - hanging) {
        let _ = writeln!(text, "{:width$}{line}", "", width = indent + hanging);
    }
}
