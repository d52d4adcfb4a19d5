//! The map of evenness: how warm each cell of the floor becomes at the balance point.

use super::Shown;
use super::scene::{Anchor, BLACK, Ink, Pen, Scene, Shape, TEXT_MM};
use super::words;

/// Cold and warm ends of the scale; the figures on the map say the same.
const COLD: Ink = [0.62, 0.79, 0.93];
const WARM: Ink = [0.98, 0.78, 0.60];
/// Distance of the figures, m.
const FIGURE_M: f64 = 0.75;
/// Room round the floor, mm.
const ROUND_MM: f64 = 6.0;
/// Room of the words below, mm.
const BELOW_MM: f64 = 14.0;

/// The map at one to `scale`.
pub(super) fn map(shown: &Shown<'_>, scale: f64) -> Scene {
    let mm = scale / 1000.0;
    let warmth = &shown.laid.warmth;
    let temperatures = || warmth.cells.iter().map(|(_, celsius)| *celsius);
    let (least, most) = (
        temperatures().fold(f64::INFINITY, f64::min),
        temperatures().fold(f64::NEG_INFINITY, f64::max),
    );
    let ink = |celsius: f64| {
        let share = ((celsius - least) / (most - least).max(1e-6)) as f32;
        [0, 1, 2].map(|part| COLD[part] + share * (WARM[part] - COLD[part]))
    };
    let [dx, dy] = shown.laid.pitch_m.map(|pitch| pitch / 2.0);
    let mut shapes: Vec<Shape> = warmth
        .cells
        .iter()
        .map(|([x, y], celsius)| {
            let ring = vec![
                [x - dx, y - dy],
                [x + dx, y - dy],
                [x + dx, y + dy],
                [x - dx, y + dy],
            ];
            Shape::Area(ring, ink(*celsius), None)
        })
        .collect();
    let corners = &shown.plan.corners;
    let mut outline = corners.clone();
    outline.extend(corners.first());
    let wall = Pen {
        ink: BLACK,
        width_mm: 0.5,
        dash_mm: &[],
    };
    shapes.push(Shape::Line(outline, wall));
    // A figure on the first cell of each square of the raster.
    let mut said: Vec<[i64; 2]> = Vec::new();
    let raster_m = FIGURE_M.max(9.0 * mm);
    for ([x, y], celsius) in &warmth.cells {
        let square = [x, y].map(|along| (along / raster_m).floor() as i64);
        let is_middle = [x, y].iter().zip([dx, dy]).all(|(along, half)| {
            ((*along / raster_m).fract().abs() - 0.5).abs() * raster_m <= half
        });
        if is_middle && !said.contains(&square) {
            said.push(square);
            let figure = words::temperature(*celsius, shown.units);
            let number = figure.split(' ').next().unwrap_or_default().to_owned();
            shapes.push(Shape::Words(
                [*x, y - 0.9 * mm],
                TEXT_MM,
                Anchor::Middle,
                number,
            ));
        }
    }
    let low = [0, 1].map(|axis| {
        corners
            .iter()
            .map(|corner| corner[axis])
            .fold(f64::INFINITY, f64::min)
    });
    let high = [0, 1].map(|axis| {
        corners
            .iter()
            .map(|corner| corner[axis])
            .fold(f64::NEG_INFINITY, f64::max)
    });
    let unit = words::temperature(0.0, shown.units);
    let unit = unit.split(' ').next_back().unwrap_or_default();
    let title = format!(
        "How warm the floor becomes, {unit}: {} to {}",
        words::temperature(least, shown.units),
        words::temperature(most, shown.units)
    );
    let second = format!(
        "Store alone at the balance point: {} outdoors, water in at {}. Cells without tube are included.",
        words::temperature(warmth.outdoor_c, shown.units),
        words::temperature(warmth.supply_c, shown.units)
    );
    for (line, words) in [(5.0, title.clone()), (9.5, second.clone())] {
        shapes.push(Shape::Words(
            [low[0], low[1] - line * mm],
            TEXT_MM,
            Anchor::Start,
            words,
        ));
    }
    let right = high[0].max(low[0] + second.len() as f64 * TEXT_MM * 0.5 * mm);
    Scene {
        shapes,
        low: [low[0] - ROUND_MM * mm, low[1] - BELOW_MM * mm],
        high: [right + ROUND_MM * mm, high[1] + ROUND_MM * mm],
        scale,
        title,
    }
}
