//! Curves as SVG paths, thinned to what a screen can show.

use std::fmt::Write as _;

/// Points of a curve in pixels, from left to right; `None` breaks it.
pub(super) type Points = Vec<(f64, Option<f64>)>;

/// Width of what keeps its least and greatest, px.
const COLUMN: f64 = 1.5;

/// The least and the greatest of every column of the screen, in the order they come; a curve with few points stays as it is.
pub(super) fn thinned(points: Points, pixels: f64) -> Points {
    let most = 2.0 * pixels / COLUMN;
    if points.len() as f64 <= most {
        return points;
    }
    let mut thin: Points = Vec::with_capacity(most as usize);
    let mut rest = points.iter().peekable();
    while let Some(&(x, y)) = rest.next() {
        let column = (x / COLUMN).floor();
        let (mut low, mut high) = (y.map(|y| (x, y)), y.map(|y| (x, y)));
        while let Some(&&(x, y)) = rest.peek() {
            if (x / COLUMN).floor() != column {
                break;
            }
            rest.next();
            let Some(y) = y else { continue };
            if low.is_none_or(|(_, least)| y < least) {
                low = Some((x, y));
            }
            if high.is_none_or(|(_, most)| y > most) {
                high = Some((x, y));
            }
        }
        match (low, high) {
            (Some(low), Some(high)) if low == high => thin.push((low.0, Some(low.1))),
            (Some(low), Some(high)) => {
                let (first, last) = if low.0 <= high.0 {
                    (low, high)
                } else {
                    (high, low)
                };
                thin.push((first.0, Some(first.1)));
                thin.push((last.0, Some(last.1)));
            }
            _ => thin.push((x, None)),
        }
    }
    thin
}

/// The path of a curve.
pub(super) fn path(points: &Points) -> String {
    let mut pen = Pen::default();
    for run in points.split(|(_, y)| y.is_none()) {
        let places: Vec<Place> = run
            .iter()
            .filter_map(|(x, y)| Some((tenths(*x), tenths((*y)?))))
            .collect();
        for (n, place) in places.iter().enumerate() {
            // The middle of three at one height says nothing.
            let neighbours = n
                .checked_sub(1)
                .and_then(|n| places.get(n))
                .zip(places.get(n + 1));
            let is_between = neighbours.is_some_and(|(a, b)| a.1 == place.1 && place.1 == b.1);
            match n {
                0 => pen.move_to(*place),
                _ if is_between => {}
                _ => pen.line_to(*place),
            }
        }
        // A point alone is a dot.
        if places.len() == 1 {
            pen.d.push_str("h0");
        }
    }
    pen.d
}

/// The path around a band, from gap to gap; values are pixels, the upper edge first.
pub(super) fn around(points: &[(f64, Option<(f64, f64)>)]) -> String {
    let mut pen = Pen::default();
    for run in points.split(|(_, band)| band.is_none()) {
        let upper = run.iter().filter_map(|(x, band)| Some((*x, (*band)?.1)));
        let lower = run
            .iter()
            .rev()
            .filter_map(|(x, band)| Some((*x, (*band)?.0)));
        for (n, (x, y)) in upper.chain(lower).enumerate() {
            let place = (tenths(x), tenths(y));
            if n == 0 {
                pen.move_to(place);
            } else {
                pen.line_to(place);
            }
        }
        if !run.is_empty() {
            pen.d.push('z');
        }
    }
    pen.d
}

/// The path of rectangles, each from one x to another and one y to another.
pub(super) fn rectangles(all: impl IntoIterator<Item = ([f64; 2], [f64; 2])>) -> String {
    let mut d = String::new();
    for (x, y) in all {
        let (left, right) = (tenths(x[0].min(x[1])), tenths(x[0].max(x[1])));
        let (top, bottom) = (tenths(y[0].min(y[1])), tenths(y[0].max(y[1])));
        // What is finer than a tenth of a pixel is a tenth wide.
        let width = (right - left).max(1);
        let _ = write!(
            d,
            "M{}h{}v{}h{}z",
            pair((left, top)),
            text(width),
            text(bottom - top),
            text(-width)
        );
    }
    d
}

/// A place in tenths of a pixel: finer nobody sees.
type Place = (i64, i64);

fn tenths(pixels: f64) -> i64 {
    (pixels * 10.0).round() as i64
}

/// Writes steps from place to place: shorter than the places themselves.
#[derive(Default)]
struct Pen {
    d: String,
    at: Place,
    drawing: bool,
}

impl Pen {
    fn move_to(&mut self, place: Place) {
        let _ = write!(self.d, "M{}", pair(place));
        (self.at, self.drawing) = (place, false);
    }

    fn line_to(&mut self, place: Place) {
        let step = pair((place.0 - self.at.0, place.1 - self.at.1));
        if !self.drawing {
            self.d.push('l');
        } else if !step.starts_with('-') {
            self.d.push(' ');
        }
        self.d.push_str(&step);
        (self.at, self.drawing) = (place, true);
    }
}

fn pair((x, y): Place) -> String {
    let (x, y) = (text(x), text(y));
    let between = if y.starts_with('-') { "" } else { " " };
    format!("{x}{between}{y}")
}

/// A number of tenths, as short as it can be written.
fn text(tenths: i64) -> String {
    let (whole, part) = (tenths.abs() / 10, tenths.abs() % 10);
    let sign = if tenths < 0 { "-" } else { "" };
    match (whole, part) {
        (_, 0) => format!("{sign}{whole}"),
        (0, _) => format!("{sign}.{part}"),
        _ => format!("{sign}{whole}.{part}"),
    }
}

/// A number of pixels, to a tenth.
pub(super) fn number(pixels: f64) -> String {
    text(tenths(pixels))
}
