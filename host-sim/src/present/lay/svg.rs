//! The drawing as SVG, true to scale when printed at 100 %.

use std::fmt::Write as _;

use super::Shown;
use super::scene::{Anchor, Ink, Pen, Scene, Shape, scene};
use crate::files::plan::Point;
use crate::present::drawing::Drawing;
use crate::present::page::escape;
use crate::questions::lay::Piece;

/// The whole floor on one sheet of its own size; `viewBox` in metres.
#[must_use]
pub fn svg(shown: &Shown<'_>) -> String {
    let scene = scene(shown, shown.scale());
    let [width_mm, height_mm] = scene.size_mm();
    let [width, height] = [0, 1].map(|axis| scene.high[axis] - scene.low[axis]);
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width_mm:.2}mm\" height=\"{height_mm:.2}mm\" viewBox=\"0 0 {width:.4} {height:.4}\" \
         role=\"img\">\n<title>{}</title>\n{}</svg>\n",
        escape(&scene.title),
        body(&scene)
    )
}

/// A scene as a drawing of a page.
pub(super) fn drawing(scene: &Scene, caption: &str) -> Drawing {
    let scaled = format!(
        "<g transform=\"scale({:.4})\">\n{}</g>",
        1000.0 / scene.scale,
        body(scene)
    );
    Drawing::drawn(caption, scene.size_mm(), scaled)
}

/// White ground and every shape, in metres.
fn body(scene: &Scene) -> String {
    let [width, height] = [0, 1].map(|axis| scene.high[axis] - scene.low[axis]);
    let mut text = format!(
        "<rect width=\"{width:.4}\" height=\"{height:.4}\" fill=\"#fff\"/>\n<g font-family=\"Helvetica, Arial, sans-serif\" fill=\"#000\">\n"
    );
    for shape in &scene.shapes {
        draw(scene, shape, &mut text);
    }
    text.push_str("</g>\n");
    text
}

fn draw(scene: &Scene, shape: &Shape, text: &mut String) {
    let mm = scene.scale / 1000.0;
    let place = |point: &Point| {
        format!(
            "{:.4} {:.4}",
            point[0] - scene.low[0],
            scene.high[1] - point[1]
        )
    };
    let _ = match shape {
        Shape::Line(points, pen) => {
            let points: Vec<String> = points.iter().map(place).collect();
            writeln!(
                text,
                "<path d=\"M{}\" fill=\"none\" {}/>",
                points.join("L"),
                stroke(*pen, mm)
            )
        }
        Shape::Area(points, ink, pen) => {
            let points: Vec<String> = points.iter().map(place).collect();
            let stroke = pen.map_or_else(String::new, |pen| stroke(pen, mm));
            writeln!(
                text,
                "<path d=\"M{}Z\" fill=\"{}\" {stroke}/>",
                points.join("L"),
                colour(*ink)
            )
        }
        Shape::Tube(pieces, pen) => {
            let mut d = String::new();
            for piece in pieces {
                let end = place(&piece.at(piece.length_m()));
                if d.is_empty() {
                    let _ = write!(d, "M{}", place(&piece.at(0.0)));
                }
                let _ = match piece {
                    Piece::Line { .. } => write!(d, "L{end}"),
                    // Up is down on a screen: to the left is the sweep against the clock.
                    Piece::Arc {
                        radius_m,
                        sweep_rad,
                        ..
                    } => write!(
                        d,
                        "A{radius_m:.4} {radius_m:.4} 0 {} {} {end}",
                        u8::from(sweep_rad.abs() > std::f64::consts::PI),
                        u8::from(*sweep_rad < 0.0)
                    ),
                };
            }
            writeln!(
                text,
                "<path d=\"{d}\" fill=\"none\" stroke-linejoin=\"round\" {}/>",
                stroke(*pen, mm)
            )
        }
        Shape::Dot(at, radius_mm, ink) => writeln!(
            text,
            "<circle cx=\"{:.4}\" cy=\"{:.4}\" r=\"{:.4}\" fill=\"{}\"/>",
            at[0] - scene.low[0],
            scene.high[1] - at[1],
            radius_mm * mm,
            colour(*ink)
        ),
        Shape::Words(at, size_mm, anchor, words) => writeln!(
            text,
            "<text x=\"{:.4}\" y=\"{:.4}\" font-size=\"{:.4}\" fill=\"#000\" stroke=\"none\"{}>{}</text>",
            at[0] - scene.low[0],
            scene.high[1] - at[1],
            size_mm * mm,
            match anchor {
                Anchor::Start => "",
                Anchor::Middle => " text-anchor=\"middle\"",
            },
            escape(words)
        ),
    };
}

fn stroke(pen: Pen, mm: f64) -> String {
    let mut text = format!(
        "stroke=\"{}\" stroke-width=\"{:.4}\"",
        colour(pen.ink),
        pen.width_mm * mm
    );
    if !pen.dash_mm.is_empty() {
        let dashes: Vec<String> = pen
            .dash_mm
            .iter()
            .map(|dash| format!("{:.4}", dash * mm))
            .collect();
        let _ = write!(text, " stroke-dasharray=\"{}\"", dashes.join(" "));
    }
    text
}

fn colour(ink: Ink) -> String {
    let [red, green, blue] = ink.map(|part| (part * 255.0).round() as u8);
    format!("#{red:02x}{green:02x}{blue:02x}")
}
