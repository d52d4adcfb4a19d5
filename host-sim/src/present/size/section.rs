//! A section through both floors, drawn to scale from the site's data: slab, tube, what is under it, store and earth.

use crate::files::quantity::Units;
use crate::files::quantity::show::{Show, fixed};
use crate::present::drawing::Drawing;
use crate::present::palette::{Hatch, Ink, fill};
use crate::sim::plant::config::{FloorConfig, PlantConfig};

/// Width of the drawing and of what is cut through, px, and tubes shown.
const WIDTH: f64 = 380.0;
const LEFT: f64 = 16.0;
const CUT: f64 = 280.0;
const TUBES: u32 = 4;
/// A floor is drawn at least and at most so thick, px; between these to the scale of the spacing.
const THICK: (f64, f64) = (24.0, 120.0);
/// Heights of what is not to scale, px.
const LINE: f64 = 17.0;
const ROOM: f64 = 70.0;
/// The store floor's words reach into the room by so much.
const RISE: f64 = 20.0;
/// Between a floor's words and its surface: the measure of the spacing.
const MEASURE: f64 = 30.0;
const EARTH: f64 = 54.0;
const INSULATION: f64 = 12.0;
const MM_AN_INCH: f64 = 25.4;

/// A small length as a person measures it: millimetres or inches.
fn small(metres: f64, units: Units) -> String {
    let mm = metres * 1e3;
    match units {
        Units::Si => format!("{} mm", fixed(mm, 0)),
        Units::Us => format!("{} in", fixed(mm / MM_AN_INCH, 1)),
    }
}

/// The drawing.
pub(crate) fn section(plant: &PlantConfig, units: Units) -> Drawing {
    let show = Show(units);
    let store = &plant.store;
    let scale = CUT / (f64::from(TUBES) * plant.floor.spacing_m);
    let thick = |floor: &FloorConfig| (floor.thickness_m * scale).clamp(THICK.0, THICK.1);
    let (slab, below) = (thick(&plant.floor), thick(&store.floor));
    let height =
        2.0 * (2.0 * LINE + MEASURE) + slab + below + INSULATION + ROOM - RISE + EARTH + 8.0;
    let mut drawing = Drawing::new(
        "Section through both floors, from the site's data. Floors and tubes are to the scale of the slab's spacing, the store's \
         height and the earth are not.",
        WIDTH,
        height,
    );
    let mut y = floor(
        &mut drawing,
        "House slab",
        &plant.floor,
        0.0,
        scale,
        Ink::Vermillion,
        units,
    );
    let underside = plant.floor.underside_w_m2k;
    if underside == 0.0 {
        let insulation = fill(Ink::Orange, Hatch::Diagonal);
        drawing.rectangle(insulation, [LEFT, y], [CUT, INSULATION]);
    }
    y += INSULATION;
    let under = if underside == 0.0 {
        "underside taken as insulated".to_owned()
    } else {
        let coefficient = show.scaled(
            underside,
            crate::files::quantity::Dimension::HeatLossCoefficient,
        );
        format!("underside: {coefficient} to the store")
    };
    drawing.text([LEFT + 4.0, y + 18.0], "start", &under);
    let room = format!(
        "store: walls {} high, floor {} below ground",
        show.number(
            store.wall_height_m,
            crate::files::quantity::Dimension::Length,
            1
        ),
        show.number(store.depth_m, crate::files::quantity::Dimension::Length, 1)
    );
    drawing.text([LEFT + 4.0, y + 18.0 + LINE], "start", &room);
    y += ROOM;
    y = floor(
        &mut drawing,
        "Store floor",
        &store.floor,
        y - RISE,
        scale,
        Ink::Blue,
        units,
    );
    drawing.rectangle(fill(Ink::Light, Hatch::Diagonal), [LEFT, y], [CUT, EARTH]);
    let earth = format!(
        "earth, {} over the year at its surface",
        show.temperature(plant.ground.mean_c)
    );
    drawing.text([LEFT + 4.0, y + EARTH - 10.0], "start", &earth);
    drawing
}

/// One floor with its words above it; answers where its underside is.
fn floor(
    drawing: &mut Drawing,
    name: &str,
    floor: &FloorConfig,
    top: f64,
    scale: f64,
    water: Ink,
    units: Units,
) -> f64 {
    let thick = (floor.thickness_m * scale).clamp(THICK.0, THICK.1);
    // Depth to the scale of the thickness as drawn.
    let deep = floor.tube_depth_m / floor.thickness_m * thick;
    let words = format!("{name}: {} of concrete", small(floor.thickness_m, units));
    let tube = format!(
        "tube {} every {}, its axis {} deep",
        floor.tube.name,
        small(floor.spacing_m, units),
        small(floor.tube_depth_m, units)
    );
    drawing.text([LEFT, top + LINE], "start", &words);
    drawing.text([LEFT, top + 2.0 * LINE], "start", &tube);
    let surface = top + 2.0 * LINE + MEASURE;
    drawing.rectangle(fill(Ink::Light, Hatch::Dots), [LEFT, surface], [CUT, thick]);
    let axis = surface + deep;
    let mut x = LEFT + floor.spacing_m * scale / 2.0;
    let first = x;
    while x < LEFT + CUT {
        let outside = (floor.tube.outside_m * scale).max(6.0);
        let inside = outside * floor.tube.inside_m / floor.tube.outside_m;
        drawing.tube([x, axis], outside, inside, water);
        x += floor.spacing_m * scale;
    }
    let second = first + floor.spacing_m * scale;
    if second < LEFT + CUT {
        drawing.measure([first, surface - 8.0], [second, surface - 8.0]);
        let middle = f64::midpoint(first, second);
        drawing.text(
            [middle, surface - 13.0],
            "middle",
            &small(floor.spacing_m, units),
        );
    }
    let beside = LEFT + CUT + 10.0;
    drawing.measure([beside, surface], [beside, surface + thick]);
    drawing.text(
        [beside + 8.0, surface + thick / 2.0 + 4.0],
        "start",
        &small(floor.thickness_m, units),
    );
    surface + thick
}
