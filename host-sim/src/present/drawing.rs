//! A drawing to scale as SVG: shapes in millimetres, texts beside them.

use std::fmt::Write as _;
use std::io;

use super::page::escape;
use super::palette::{Fill, Ink};

/// A drawing with its caption.
#[derive(Clone, Debug)]
pub struct Drawing {
    caption: String,
    width: f64,
    height: f64,
    body: String,
    /// As wide as the page allows.
    wide: bool,
}

impl Drawing {
    /// An empty one, so many units wide and high.
    pub(crate) fn new(caption: impl Into<String>, width: f64, height: f64) -> Self {
        Self {
            caption: caption.into(),
            width,
            height,
            body: String::new(),
            wide: false,
        }
    }

    /// One whose shapes are drawn already, as SVG.
    pub(crate) fn drawn(
        caption: impl Into<String>,
        [width, height]: [f64; 2],
        body: String,
    ) -> Self {
        Self {
            body,
            wide: true,
            ..Self::new(caption, width, height)
        }
    }

    /// A filled rectangle.
    pub(crate) fn rectangle(&mut self, fill: Fill, [x, y]: [f64; 2], [width, height]: [f64; 2]) {
        let place =
            format!("x=\"{x:.1}\" y=\"{y:.1}\" width=\"{width:.1}\" height=\"{height:.1}\"");
        let _ = write!(
            self.body,
            "<rect class=\"{}\" fill=\"currentColor\" {place}/>",
            fill.ink.class()
        );
        if let Some(id) = fill.hatch.id() {
            let _ = write!(self.body, "<rect fill=\"url(#{id})\" {place}/>");
        }
    }

    /// A ring: a tube cut across.
    pub(crate) fn tube(&mut self, [x, y]: [f64; 2], outer: f64, inner: f64, water: Ink) {
        for (class, diameter) in [("black", outer), (water.class(), inner)] {
            let _ = write!(
                self.body,
                "<circle class=\"{class}\" fill=\"currentColor\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{:.1}\"/>",
                diameter / 2.0
            );
        }
    }

    /// A line between two points, with a short stroke at either end: a measure.
    pub(crate) fn measure(&mut self, [x1, y1]: [f64; 2], [x2, y2]: [f64; 2]) {
        let (dx, dy) = if (x2 - x1).abs() > (y2 - y1).abs() {
            (0.0, 4.0)
        } else {
            (4.0, 0.0)
        };
        let mut d = format!("M{x1:.1} {y1:.1}L{x2:.1} {y2:.1}");
        for (x, y) in [(x1, y1), (x2, y2)] {
            let _ = write!(
                d,
                "M{:.1} {:.1}l{:.1} {:.1}",
                x - dx,
                y - dy,
                2.0 * dx,
                2.0 * dy
            );
        }
        let _ = write!(
            self.body,
            "<path class=\"black\" fill=\"none\" stroke=\"currentColor\" d=\"{d}\"/>"
        );
    }

    /// Words at a place; `anchor` is start, middle or end.
    pub(crate) fn text(&mut self, [x, y]: [f64; 2], anchor: &str, words: &str) {
        let _ = write!(
            self.body,
            "<text class=\"label\" text-anchor=\"{anchor}\" x=\"{x:.1}\" y=\"{y:.1}\">{}</text>",
            escape(words)
        );
    }

    pub(super) fn write(&self, out: &mut impl io::Write) -> io::Result<()> {
        let caption = escape(&self.caption);
        // A plan's words are read on a small screen too: there it is scrolled.
        let (plan, begin, end) = match self.wide {
            true => (
                " plan",
                "<div class=\"scroll\" tabindex=\"0\" role=\"region\" aria-label=\"Drawing\">",
                "</div>",
            ),
            false => ("", "", ""),
        };
        writeln!(
            out,
            "<figure class=\"drawing{plan}\">\n{begin}<svg viewBox=\"0 0 {:.0} {:.0}\" role=\"img\" aria-label=\"{caption}\">{}</svg>{end}\n\
             <figcaption>{caption}</figcaption>\n</figure>",
            self.width, self.height, self.body
        )
    }
}
