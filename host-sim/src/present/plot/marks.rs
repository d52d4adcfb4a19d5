//! One mark of a chart as SVG.

use std::fmt::Write as _;

use super::axis::Scale;
use super::paths::{around, number, path, rectangles, thinned};
use super::{Mark, Panel, Shape};
use crate::present::page::escape;
use crate::present::palette::{Fill, Stroke};

/// Bars closer than this are drawn as one, px: finer gaps are seen by nobody.
const JOINED: f64 = 1.0;

/// The room a panel has, in pixels.
pub(super) struct Area {
    pub(super) x: Scale,
    pub(super) y: Scale,
    pub(super) left: f64,
    pub(super) right: f64,
    pub(super) top: f64,
    pub(super) bottom: f64,
    /// For the wide screen.
    pub(super) is_wide: bool,
}

impl Area {
    /// The middle of a row.
    pub(super) fn row(&self, row: f64, rows: usize) -> f64 {
        let height = (self.bottom - self.top) / rows.max(1) as f64;
        self.top + (row + 0.5) * height
    }
}

/// What makes a stroke.
pub(super) fn stroked(stroke: Stroke) -> String {
    let dash = stroke.dash.array().map_or(String::new(), |array| {
        format!(" stroke-dasharray=\"{array}\"")
    });
    format!(
        "class=\"{}\" fill=\"none\" stroke=\"currentColor\" stroke-width=\"{}\"{dash}",
        stroke.ink.class(),
        number(stroke.width)
    )
}

/// A filled path, and its hatching over it.
pub(super) fn filled(body: &mut String, fill: Fill, d: &str) {
    if d.is_empty() {
        return;
    }
    let _ = write!(
        body,
        "<path class=\"{}\" fill=\"currentColor\" d=\"{d}\"/>",
        fill.ink.class()
    );
    if let Some(id) = fill.hatch.id() {
        let _ = write!(body, "<path fill=\"url(#{id})\" d=\"{d}\"/>");
    }
}

/// Draws a mark; `texts`: bars have their texts.
pub(super) fn draw(body: &mut String, mark: &Mark, panel: &Panel, area: &Area, texts: bool) {
    match mark {
        Mark::Line { stroke, points, .. } => {
            let pixels = points
                .iter()
                .filter(|(x, _)| area.x.holds(*x))
                .map(|(x, y)| {
                    let y = y.filter(|y| y.is_finite()).map(|y| area.y.at(y));
                    (area.x.at(*x), y)
                })
                .collect();
            let d = path(&thinned(pixels, area.right - area.left));
            let _ = write!(
                body,
                "<path {} stroke-linejoin=\"round\" stroke-linecap=\"round\" d=\"{d}\"/>",
                stroked(*stroke)
            );
        }
        Mark::Band { ink, points, .. } => {
            let pixels: Vec<_> = points
                .iter()
                .filter(|(x, _)| area.x.holds(*x))
                .map(|(x, band)| {
                    let band = band.map(|(low, high)| (area.y.at(low), area.y.at(high)));
                    (area.x.at(*x), band)
                })
                .collect();
            let _ = write!(
                body,
                "<path class=\"band {}\" fill=\"currentColor\" stroke=\"currentColor\" d=\"{}\"/>",
                ink.class(),
                around(&pixels)
            );
        }
        Mark::Dots {
            ink,
            shape,
            size,
            points,
            ..
        } => {
            let _ = write!(body, "<g class=\"{}\">", ink.class());
            for (x, y, _) in points.iter().filter(|p| p.0.is_finite() && p.1.is_finite()) {
                body.push_str(&dot(*shape, *size, area.x.at(*x), area.y.at(*y)));
            }
            body.push_str("</g>");
        }
        Mark::Level { stroke, y, .. } => {
            let _ = write!(
                body,
                "<path {} d=\"M{} {}H{}\"/>",
                stroked(*stroke),
                number(area.left),
                number(area.y.at(*y)),
                number(area.right)
            );
        }
        Mark::Upright { stroke, x, .. } => {
            let _ = write!(
                body,
                "<path {} d=\"M{} {}V{}\"/>",
                stroked(*stroke),
                number(area.x.at(*x)),
                number(area.top),
                number(area.bottom)
            );
        }
        Mark::Boxes { fill, boxes, .. } => {
            let places = boxes.iter().map(|[from, to, low, high]| {
                let x = [area.x.at(*from), area.x.at(*to)];
                (x, [area.y.at(*low), area.y.at(*high)])
            });
            filled(body, *fill, &rectangles(places));
        }
        Mark::Bars {
            fill, thick, bars, ..
        } => {
            let range = [area.left, area.right];
            let within = |x: f64| area.x.at(x).clamp(range[0], range[1]);
            let places = bars
                .iter()
                .map(|bar| ([within(bar.from), within(bar.to)], bar));
            let seen = places.filter(|(x, _)| x[0] != x[1]);
            let height = (area.bottom - area.top) / panel.rows.len().max(1) as f64;
            let half = thick * height / 2.0;
            let heights = |row: f64| {
                let middle = area.row(row, panel.rows.len());
                [middle - half, middle + half]
            };
            if texts && area.is_wide {
                for (x, bar) in seen {
                    let _ = write!(body, "<g><title>{}</title>", escape(&bar.text));
                    filled(body, *fill, &rectangles([(x, heights(bar.row))]));
                    body.push_str("</g>");
                }
                return;
            }
            // What lies closer is drawn as one.
            let mut joined: Vec<([f64; 2], f64)> = Vec::new();
            for (x, bar) in seen {
                match joined.last_mut() {
                    Some((last, row))
                        if *row == bar.row && x[0] >= last[0] && x[0] - last[1] < JOINED =>
                    {
                        last[1] = last[1].max(x[1]);
                    }
                    _ => joined.push((x, bar.row)),
                }
            }
            let places = joined.into_iter().map(|(x, row)| (x, heights(row)));
            filled(body, *fill, &rectangles(places));
        }
    }
}

/// A point in the colour around it.
pub(super) fn dot(shape: Shape, size: f64, x: f64, y: f64) -> String {
    let half = size / 2.0;
    let (x, y, r) = (number(x), number(y), number(half));
    match shape {
        Shape::Disc => {
            format!("<circle fill=\"currentColor\" cx=\"{x}\" cy=\"{y}\" r=\"{r}\"/>")
        }
        Shape::Ring => format!("<circle class=\"open\" cx=\"{x}\" cy=\"{y}\" r=\"{r}\"/>"),
        Shape::Square => format!(
            "<path class=\"open\" d=\"M{x} {y}m-{r}-{r}h{s}v{s}h-{s}z\"/>",
            s = number(size)
        ),
        Shape::Diamond => {
            format!("<path fill=\"currentColor\" d=\"M{x} {y}m-{r} 0l{r}-{r} {r} {r}-{r} {r}z\"/>")
        }
    }
}
