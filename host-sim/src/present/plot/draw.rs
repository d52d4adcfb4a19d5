//! A chart as SVG: for a wide screen and for a narrow one, with one legend.

use std::fmt::Write as _;
use std::io;

use super::axis::{Scale, time_ticks};
use super::marks::{Area, dot, draw, filled, stroked};
use super::paths::number;
use super::{Mark, Panel, Plot, X};
use crate::present::page::escape;
use crate::present::palette::{Dash, Hatch, Stroke};

/// Widths drawn for, px.
pub(crate) const WIDE: f64 = 960.0;
pub(crate) const NARROW: f64 = 380.0;

/// Room right of the panels, above each for its title, below the last for ticks and for a title, px.
const RIGHT: f64 = 14.0;
const ABOVE: f64 = 24.0;
const BELOW: f64 = 22.0;
const X_TITLE: f64 = 20.0;
/// A letter's usual width at the size of the labels, px: wide enough not to cut a label.
const LETTER: f64 = 7.3;
/// Rows' names take at most this share of the width.
const NAMES_SHARE: f64 = 0.42;
/// Pixels between ticks, about.
const X_TICK: f64 = 60.0;
const Y_TICK: f64 = 38.0;
/// Bars with a text of their own each, at most, in a whole chart: beyond that they are finer than a pointer.
const MOST_TEXTS: usize = 400;

/// Writes the figure.
///
/// # Errors
/// Only the writer's.
pub(crate) fn write(plot: &Plot, out: &mut impl io::Write, id: usize) -> io::Result<()> {
    let caption = escape(&plot.caption);
    writeln!(out, "<figure>")?;
    for (class, width) in [("wide", WIDE), ("narrow", NARROW)] {
        let (svg, height) = svg(plot, width, id);
        writeln!(
            out,
            "<svg class=\"{class}\" viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"{caption}\">{svg}</svg>",
            number(width),
            number(height)
        )?;
    }
    writeln!(
        out,
        "{}<figcaption>{caption}</figcaption>\n</figure>",
        legend(plot)
    )
}

fn svg(plot: &Plot, width: f64, id: usize) -> (String, f64) {
    let x_range = x_range(plot);
    let left = left(plot, width);
    let right = width - RIGHT;
    let x = Scale::new(x_range, [left, right], false);
    let mut body = String::new();
    let mut top = 0.0;
    for (n, panel) in plot.panels.iter().enumerate() {
        let title = if panel.title.is_empty() { 6.0 } else { ABOVE };
        top += title;
        let bottom = top + panel.height;
        let is_wide = width > NARROW;
        let area = Area {
            x,
            y: Scale::new(y_range(panel), [bottom, top], panel.log),
            left,
            right,
            top,
            bottom,
            is_wide,
        };
        if !panel.title.is_empty() {
            let _ = write!(
                body,
                "<text class=\"title\" x=\"{}\" y=\"{}\">{}</text>",
                number(left.min(4.0)),
                number(top - 8.0),
                escape(&panel.title)
            );
        }
        grid(&mut body, panel, plot, &area);
        let clip = format!("clip{id}-{n}{}", if is_wide { 'w' } else { 'n' });
        let _ = write!(
            body,
            "<clipPath id=\"{clip}\"><path d=\"M{l} {t}H{r}V{b}H{l}z\"/></clipPath><g clip-path=\"url(#{clip})\">",
            l = number(left - 1.0),
            r = number(right + 1.0),
            t = number(top - 1.0),
            b = number(bottom + 1.0)
        );
        let texts = texts(plot);
        for mark in &panel.marks {
            draw(&mut body, mark, panel, &area, texts);
        }
        body.push_str("</g>");
        labels(&mut body, panel, &area);
        top = bottom;
    }
    let mut height = top + BELOW;
    if let X::Number { title, .. } = &plot.x {
        height += X_TITLE;
        let _ = write!(
            body,
            "<text class=\"title\" text-anchor=\"middle\" x=\"{}\" y=\"{}\">{}</text>",
            number((left + right) / 2.0),
            number(height - 5.0),
            escape(title)
        );
    }
    if let X::Time { start: None, .. } = &plot.x {
        height += X_TITLE;
        let _ = write!(
            body,
            "<text class=\"title\" text-anchor=\"middle\" x=\"{}\" y=\"{}\">hours since the first row</text>",
            number((left + right) / 2.0),
            number(height - 5.0)
        );
    }
    (body, height)
}

/// Whether bars have texts of their own: a few do.
fn texts(plot: &Plot) -> bool {
    let bars = |mark: &Mark| match mark {
        Mark::Bars { bars, .. } => bars.len(),
        _ => 0,
    };
    let count: usize = plot.panels.iter().flat_map(|p| &p.marks).map(bars).sum();
    count <= MOST_TEXTS
}

fn x_range(plot: &Plot) -> [f64; 2] {
    if let X::Time {
        from_ms, until_ms, ..
    } = plot.x
    {
        return [from_ms, until_ms];
    }
    let marks = plot.panels.iter().flat_map(|panel| &panel.marks);
    let [low, high] = extent(marks.flat_map(Mark::xs));
    let has_bars = |panel: &Panel| !panel.rows.is_empty();
    if plot.panels.iter().any(has_bars) {
        // Bars stand on zero.
        let (low, high) = (low.min(0.0), high.max(0.0));
        let margin = 0.03 * (high - low);
        return [
            if low < 0.0 { low - margin } else { low },
            if high > 0.0 { high + margin } else { high },
        ];
    }
    let margin = 0.03 * (high - low);
    [low - margin, high + margin]
}

fn y_range(panel: &Panel) -> [f64; 2] {
    if let Some(range) = panel.range {
        return range;
    }
    let [low, high] = extent(panel.marks.iter().flat_map(Mark::ys));
    if panel.log {
        return [low / 1.5, high * 1.5];
    }
    let margin = 0.06 * (high - low);
    let is_box = |mark: &Mark| matches!(mark, Mark::Boxes { .. });
    if panel.marks.iter().any(is_box) {
        return [
            if low < 0.0 { low - margin } else { 0.0 },
            (high + margin).max(1e-9),
        ];
    }
    [low - margin, high + margin]
}

fn extent(values: impl Iterator<Item = f64>) -> [f64; 2] {
    values
        .filter(|v| v.is_finite())
        .fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], v| {
            [low.min(v), high.max(v)]
        })
}

fn y_ticks(panel: &Panel) -> Vec<(f64, String)> {
    let scale = Scale::new(y_range(panel), [0.0, 1.0], panel.log);
    let most = panel.height / Y_TICK;
    // One number alone is no scale.
    let ticks = scale.ticks(most);
    if ticks.len() < 2 {
        return scale.ticks(2.0 * most);
    }
    ticks
}

/// Room for the longest label at the left.
fn left(plot: &Plot, width: f64) -> f64 {
    let label = |panel: &Panel| {
        let letters = |text: &String| text.chars().count() as f64 * LETTER;
        if panel.rows.is_empty() {
            y_ticks(panel)
                .iter()
                .map(|t| letters(&t.1))
                .fold(0.0, f64::max)
        } else {
            panel.rows.iter().map(letters).fold(0.0, f64::max)
        }
    };
    let longest = plot.panels.iter().map(label).fold(0.0, f64::max);
    (longest + 10.0).clamp(34.0, NAMES_SHARE * width)
}

/// Ticks, grid lines and frame.
fn grid(body: &mut String, panel: &Panel, plot: &Plot, area: &Area) {
    let (left, right, top, bottom) = (
        number(area.left),
        number(area.right),
        number(area.top),
        number(area.bottom),
    );
    let text = |body: &mut String, anchor: &str, x: f64, y: f64, text: &str| {
        let _ = write!(
            body,
            "<text text-anchor=\"{anchor}\" x=\"{}\" y=\"{}\">{}</text>",
            number(x),
            number(y),
            escape(text)
        );
    };
    let mut lines = String::new();
    if panel.rows.is_empty() {
        for (value, label) in y_ticks(panel) {
            let y = area.y.at(value);
            let _ = write!(lines, "M{left} {}H{right}", number(y));
            text(body, "end", area.left - 5.0, y + 4.0, &label);
        }
    } else {
        for (row, name) in panel.rows.iter().enumerate() {
            let y = area.row(row as f64, panel.rows.len());
            let most = ((area.left - 8.0) / LETTER) as usize;
            text(body, "end", area.left - 5.0, y + 4.0, &cut(name, most));
        }
    }
    let is_last = plot
        .panels
        .last()
        .is_some_and(|last| std::ptr::eq(last, panel));
    let most = ((area.right - area.left) / X_TICK).max(2.0);
    let ticks = match &plot.x {
        X::Number { names, .. } if !names.is_empty() => names.clone(),
        X::Number { .. } => area.x.ticks(most),
        X::Time {
            start,
            from_ms,
            until_ms,
        } => time_ticks(*start, *from_ms, *until_ms, most),
    };
    for (value, label) in &ticks {
        let x = area.x.at(*value);
        let _ = write!(lines, "M{} {top}V{bottom}", number(x));
        if is_last {
            // The outermost labels stay within the picture.
            let half = label.chars().count() as f64 * LETTER / 2.0;
            let x = x.clamp(half.min(area.left), area.right + RIGHT - half);
            text(body, "middle", x, area.bottom + 16.0, label);
        }
    }
    let _ = write!(
        body,
        "<path class=\"grid\" d=\"{lines}\"/><path class=\"frame\" d=\"M{left} {top}V{bottom}H{right}\"/>"
    );
}

/// A name that has no room ends with an ellipsis.
fn cut(name: &str, most: usize) -> String {
    if name.chars().count() <= most {
        return name.to_owned();
    }
    let kept: String = name.chars().take(most.saturating_sub(1)).collect();
    kept + "…"
}

/// Texts of points and upright lines, over everything and never cut.
fn labels(body: &mut String, panel: &Panel, area: &Area) {
    let mut line = 0.0;
    let mut text = |x: f64, y: f64, words: &str, ink: &str| {
        let length = words.chars().count() as f64 * LETTER;
        let (anchor, x) = if x + 7.0 + length > area.right {
            ("end", x - 7.0)
        } else {
            ("start", x + 7.0)
        };
        let _ = write!(
            body,
            "<text class=\"label {ink}\" text-anchor=\"{anchor}\" x=\"{}\" y=\"{}\">{}</text>",
            number(x),
            number(y),
            escape(words)
        );
    };
    for mark in &panel.marks {
        match mark {
            Mark::Dots { points, ink, .. } => {
                for (x, y, words) in points.iter().filter(|point| !point.2.is_empty()) {
                    let at = area.y.at(*y);
                    // Below the point, or above it near the bottom: beside it is the curve.
                    let y = if at + 18.0 > area.bottom {
                        at - 8.0
                    } else {
                        at + 16.0
                    };
                    text(area.x.at(*x), y, words, ink.class());
                }
            }
            Mark::Upright {
                text: words,
                stroke,
                x,
            } if !words.is_empty() => {
                text(
                    area.x.at(*x) - 3.0,
                    area.top + 12.0 + 15.0 * line,
                    words,
                    stroke.ink.class(),
                );
                line += 1.0;
            }
            _ => {}
        }
    }
}

/// The names of the marks with a sample each; every name once.
fn legend(plot: &Plot) -> String {
    let mut seen: Vec<&str> = Vec::new();
    let mut entries = String::new();
    for mark in plot.panels.iter().flat_map(|panel| &panel.marks) {
        let name = mark.name();
        if name.is_empty() || seen.contains(&name) {
            continue;
        }
        seen.push(name);
        let mut sample = String::new();
        match mark {
            Mark::Line { stroke, .. } | Mark::Level { stroke, .. } => {
                let dashed = if stroke.dash == Dash::Solid {
                    2.0
                } else {
                    stroke.width
                };
                let stroke = Stroke {
                    width: dashed.max(stroke.width),
                    ..*stroke
                };
                let _ = write!(sample, "<path {} d=\"M0 6H26\"/>", stroked(stroke));
            }
            Mark::Band { ink, .. } => {
                let _ = write!(
                    sample,
                    "<path class=\"band {}\" fill=\"currentColor\" stroke=\"currentColor\" d=\"M1 1H25V11H1z\"/>",
                    ink.class()
                );
            }
            Mark::Dots {
                ink, shape, size, ..
            } => {
                let dot = dot(*shape, size.min(10.0), 13.0, 6.0);
                let _ = write!(sample, "<g class=\"{}\">{dot}</g>", ink.class());
            }
            Mark::Boxes { fill, .. } | Mark::Bars { fill, .. } => {
                filled(&mut sample, *fill, "M6 1H20V11H6z");
            }
            Mark::Upright { .. } => {}
        }
        let _ = write!(
            entries,
            "<span><svg viewBox=\"0 0 26 12\" aria-hidden=\"true\">{sample}</svg>{}</span>",
            escape(name)
        );
    }
    if entries.is_empty() {
        return String::new();
    }
    format!("<div class=\"legend\">{entries}</div>\n")
}

/// Hatchings that charts refer to; stands once in a page.
pub(crate) fn hatchings() -> String {
    let patterns: String = Hatch::DRAWN
        .iter()
        .filter_map(|(hatch, d)| {
            let id = hatch.id()?;
            Some(format!(
                "<pattern id=\"{id}\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\"><path class=\"hatch\" d=\"{d}\"/></pattern>"
            ))
        })
        .collect();
    format!("<svg class=\"hidden\" aria-hidden=\"true\"><defs>{patterns}</defs></svg>")
}
