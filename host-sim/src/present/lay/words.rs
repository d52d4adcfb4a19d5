//! Words of the drawing and the tables.

use super::Shown;
use crate::files::plan::Point;
use crate::files::quantity::{self, Dimension, Units};
use crate::questions::lay::{Laid, Limit};
use crate::sim::plant::exchanger::Layout;

const FOOT_M: f64 = 0.3048;
const INCH_M: f64 = 0.0254;

/// A length along walls or tube: metres and centimetres, or feet and inches.
pub(super) fn length(metres: f64, units: Units) -> String {
    match units {
        Units::Si => format!("{metres:.2} m"),
        Units::Us => {
            let sign = if metres < 0.0 { "-" } else { "" };
            let halves = (metres.abs() / INCH_M * 2.0).round();
            let (feet, inches) = ((halves / 24.0).floor(), halves % 24.0 / 2.0);
            format!("{sign}{feet}' {inches}\"")
        }
    }
}

/// A radius or spacing: millimetres or inches.
pub(super) fn small(metres: f64, units: Units) -> String {
    match units {
        Units::Si => format!("{:.0} mm", metres * 1e3),
        Units::Us => format!("{:.1} in", metres / INCH_M),
    }
}

/// Tube used, with a decimal.
pub(super) fn tube(metres: f64, units: Units) -> String {
    match units {
        Units::Si => format!("{metres:.1} m"),
        Units::Us => format!("{:.1} ft", metres / FOOT_M),
    }
}

/// A mark on the tube.
pub(super) fn mark(metres: f64, units: Units) -> String {
    match units {
        Units::Si => format!("{metres:.0} m"),
        Units::Us => format!("{:.0} ft", metres / FOOT_M),
    }
}

pub(super) fn area(m2: f64, units: Units) -> String {
    let (value, unit) = quantity::convert(m2, Dimension::Area, units);
    format!("{value:.1} {unit}")
}

pub(super) fn temperature(celsius: f64, units: Units) -> String {
    let (value, unit) = quantity::convert(celsius, Dimension::Temperature, units);
    crate::files::quantity::show::fixed(value, 1) + " " + unit
}

/// A point so far from one towards another, m.
pub(super) fn towards(from: Point, to: Point, away_m: f64) -> Point {
    let length = libm::hypot(to[0] - from[0], to[1] - from[1]).max(1e-9);
    [0, 1].map(|axis| from[axis] + (to[axis] - from[axis]) / length * away_m)
}

/// How it is laid.
pub(super) const fn layout(layout: Layout) -> &'static str {
    match layout {
        Layout::CounterFlow => "double spiral",
        Layout::Serpentine => "to and fro",
    }
}

/// The drawing's heading.
pub(super) fn title(shown: &Shown<'_>, scale: f64) -> String {
    format!("{}: {}", shown.house, tube_laid(shown, scale))
}

/// How much tube, laid how, and the drawing's scale.
pub(super) fn tube_laid(shown: &Shown<'_>, scale: f64) -> String {
    let whole: f64 = shown
        .laid
        .circuits
        .iter()
        .map(|circuit| circuit.whole_m())
        .sum();
    format!(
        "{} of {} tube, {}, 1:{scale:.0}",
        tube(whole, shown.units),
        shown.tube,
        layout(shown.laid.layout)
    )
}

/// The spacing as laid.
pub(super) fn spacing(laid: &Laid, units: Units) -> String {
    let [x, y] = laid.pitch_m;
    if (x - y).abs() < 5e-4 {
        small(x, units)
    } else {
        format!("{} across and {} up", small(x, units), small(y, units))
    }
}

/// Small print below the drawing.
pub(super) fn foot(shown: &Shown<'_>) -> Vec<String> {
    let units = shown.units;
    let mark = match units {
        Units::Si => "10 m",
        Units::Us => "25 ft",
    };
    vec![
        format!(
            "Made {}. Supply: thick and solid; return: thin and dashed; arrows with the water. Dots: every {mark} of tube from the first run on. \
             Numbers: corners of the table. Short strokes: ties. T: turn the coil over. Grey bars: sleeves. Hatched: no tube.",
            shown.made
        ),
        format!("Spacing {}; bends not below {}.", spacing(shown.laid, units), small(shown.laid.least_radius_m, units)),
        "Print at 100 % and measure the bar. Check the floor's diagonals first. Put the circuit under pressure before the pour and keep it there during it. \
         The tube maker's sheet, local code and licensed practice go before this drawing."
            .to_owned(),
    ]
}

/// A limit in a sentence: what, what should be, what to do.
pub(super) fn limit(limit: &Limit, units: Units) -> String {
    match *limit {
        Limit::TightBends(count, tightest_m, least_m) => format!(
            "Tight bends: {count} of {}, where the tube takes {}. Lay it wider, give a bend support's radius as bend_radius, or move the obstacle's edge.",
            small(tightest_m, units),
            small(least_m, units)
        ),
        Limit::NarrowGap(gap_m) => format!(
            "Spacing too small for this tube's bend: runs come as near as {} to each other at a half turn. Lay it wider or take a thinner tube.",
            small(gap_m.max(0.0), units)
        ),
        Limit::LongCircuit(circuit, length_m, longest_m) => format!(
            "Circuit {circuit} is {} long, where {} is usual for this tube. Make more circuits.",
            tube(length_m, units),
            tube(longest_m, units)
        ),
        Limit::Unbalanced(share) => format!(
            "Circuits differ in length by {:.0} %, where 10 % is bearable. Balance them with valves, or move the manifold.",
            100.0 * share
        ),
        Limit::Uneven(coldest_c, wanted_c) => format!(
            "Uneven: the coldest pad has {} at the balance point, where {} is wanted. More flow, shorter circuits, or the double spiral.",
            temperature(coldest_c, units),
            temperature(wanted_c, units)
        ),
        Limit::NotServed(share) => format!(
            "{:.0} % of the floor has no tube, where 10 % is bearable. Lower edge_distance, change the spacing, or move the obstacle in the plan.",
            100.0 * share
        ),
        Limit::SkewJoint(count) => format!(
            "{count} crossings of a joint are in a bend. Move the joint by half a spacing, or the first bar of the mesh."
        ),
        Limit::NoCoil(circuit) => format!(
            "No coil is long enough for circuit {circuit}. Make more circuits, or name longer coils with --coils."
        ),
    }
}
