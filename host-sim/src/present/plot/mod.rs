//! A chart for a page as data: panels one below the other on one x axis, drawn as SVG when the page is written.
//!
//! It is drawn twice, for a wide and for a narrow screen, and needs no script. What has more points than there are pixels is
//! thinned to the least and greatest of every pixel or two, so that no peak is lost.

mod axis;
mod draw;
mod marks;
mod paths;
#[cfg(test)]
mod tests;

use jiff::civil::DateTime;

use super::palette::{Dash, Fill, Ink, Stroke, stroke};

pub(crate) use draw::{hatchings, write};

/// A chart with its caption.
#[derive(Clone, Debug)]
pub struct Plot {
    /// What is seen, also for those who cannot see it.
    pub(crate) caption: String,
    pub(crate) x: X,
    pub(crate) panels: Vec<Panel>,
}

/// What runs to the right.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum X {
    /// A number, or named places.
    Number {
        title: String,
        /// Names instead of numbers.
        names: Vec<(f64, String)>,
    },
    /// Time, ms since the first row; with dates where the wall clock is known.
    Time {
        start: Option<DateTime>,
        from_ms: f64,
        until_ms: f64,
    },
}

/// One picture of a chart.
#[derive(Clone, Debug, Default)]
pub(crate) struct Panel {
    /// What runs upwards, with its unit.
    pub(crate) title: String,
    /// Height, px.
    pub(crate) height: f64,
    /// Least and greatest shown; without it all there is.
    pub(crate) range: Option<[f64; 2]>,
    /// By powers of ten.
    pub(crate) log: bool,
    /// Names of rows from above, in place of numbers: row 0 is the first.
    pub(crate) rows: Vec<String>,
    pub(crate) marks: Vec<Mark>,
}

/// What is drawn; a name stands in the legend, none if it is empty.
#[derive(Clone, Debug)]
pub(crate) enum Mark {
    /// A curve; `None` breaks it.
    Line {
        name: String,
        stroke: Stroke,
        points: Vec<(f64, Option<f64>)>,
    },
    /// From a low to a high value.
    Band {
        name: String,
        ink: Ink,
        points: Vec<(f64, Option<(f64, f64)>)>,
    },
    /// Single points, each with a text beside it that may be empty.
    Dots {
        name: String,
        ink: Ink,
        shape: Shape,
        size: f64,
        points: Vec<(f64, f64, String)>,
    },
    /// A straight line across.
    Level {
        name: String,
        stroke: Stroke,
        y: f64,
    },
    /// A straight line upwards with its text.
    Upright {
        text: String,
        stroke: Stroke,
        x: f64,
    },
    /// Boxes from one x to another and from one height to another.
    Boxes {
        name: String,
        fill: Fill,
        boxes: Vec<[f64; 4]>,
    },
    /// Bars in rows, so many rows high.
    Bars {
        name: String,
        fill: Fill,
        thick: f64,
        bars: Vec<Bar>,
    },
}

/// A bar in a row from one x to another, with the text that shows when it is pointed at.
#[derive(Clone, Debug)]
pub(crate) struct Bar {
    pub(crate) row: f64,
    pub(crate) from: f64,
    pub(crate) to: f64,
    pub(crate) text: String,
}

/// Shape of a point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Shape {
    Disc,
    Ring,
    #[cfg_attr(not(feature = "pc"), expect(dead_code, reason = "the tuner's"))]
    Square,
    Diamond,
}

impl Plot {
    /// A chart over a number.
    pub(crate) fn over(x_title: impl Into<String>, caption: impl Into<String>) -> Self {
        Self {
            caption: caption.into(),
            x: X::Number {
                title: x_title.into(),
                names: Vec::new(),
            },
            panels: Vec::new(),
        }
    }

    /// A chart over time.
    pub(crate) fn over_time(
        start: Option<DateTime>,
        from_ms: u64,
        until_ms: u64,
        caption: impl Into<String>,
    ) -> Self {
        Self {
            caption: caption.into(),
            x: X::Time {
                start,
                from_ms: from_ms as f64,
                until_ms: until_ms.max(from_ms + 1) as f64,
            },
            panels: Vec::new(),
        }
    }

    /// With one more panel.
    #[must_use]
    pub(crate) fn with(mut self, panel: Panel) -> Self {
        self.panels.push(panel);
        self
    }

    /// Is there nothing to see?
    pub(crate) fn is_empty(&self) -> bool {
        self.panels.iter().all(|panel| panel.marks.is_empty())
    }
}

impl Panel {
    /// An empty one.
    pub(crate) fn new(title: impl Into<String>, height: f64) -> Self {
        Self {
            title: title.into(),
            height,
            ..Self::default()
        }
    }

    /// An empty one of named rows, from above.
    pub(crate) fn of_rows(rows: Vec<String>, row_height: f64) -> Self {
        Self {
            height: row_height * rows.len().max(1) as f64,
            rows,
            ..Self::default()
        }
    }

    /// With one more mark.
    #[must_use]
    pub(crate) fn with(mut self, mark: Mark) -> Self {
        self.marks.push(mark);
        self
    }
}

impl Mark {
    /// A curve without gaps.
    pub(crate) fn line(
        name: impl Into<String>,
        stroke: Stroke,
        points: impl IntoIterator<Item = (f64, f64)>,
    ) -> Self {
        Self::Line {
            name: name.into(),
            stroke,
            points: points.into_iter().map(|(x, y)| (x, Some(y))).collect(),
        }
    }

    /// A limit.
    pub(crate) fn level(name: impl Into<String>, stroke: Stroke, y: f64) -> Self {
        Self::Level {
            name: name.into(),
            stroke,
            y,
        }
    }

    /// A point with its text, of which no legend speaks.
    pub(crate) fn note(ink: Ink, x: f64, y: f64, text: impl Into<String>) -> Self {
        Self::Dots {
            name: String::new(),
            ink,
            shape: Shape::Disc,
            size: 7.0,
            points: vec![(x, y, text.into())],
        }
    }

    pub(super) fn name(&self) -> &str {
        match self {
            Self::Line { name, .. }
            | Self::Band { name, .. }
            | Self::Dots { name, .. }
            | Self::Level { name, .. }
            | Self::Boxes { name, .. }
            | Self::Bars { name, .. } => name,
            Self::Upright { .. } => "",
        }
    }

    /// Every x it draws; none of what spans the whole panel.
    fn xs(&self) -> Box<dyn Iterator<Item = f64> + '_> {
        match self {
            Self::Line { points, .. } => Box::new(points.iter().map(|p| p.0)),
            Self::Band { points, .. } => Box::new(points.iter().map(|p| p.0)),
            Self::Dots { points, .. } => Box::new(points.iter().map(|p| p.0)),
            Self::Upright { x, .. } => Box::new(std::iter::once(*x)),
            Self::Boxes { boxes, .. } => Box::new(boxes.iter().flat_map(|b| [b[0], b[1]])),
            Self::Bars { bars, .. } => Box::new(bars.iter().flat_map(|b| [b.from, b.to])),
            Self::Level { .. } => Box::new(std::iter::empty()),
        }
    }

    /// Every y it draws.
    fn ys(&self) -> Box<dyn Iterator<Item = f64> + '_> {
        match self {
            Self::Line { points, .. } => Box::new(points.iter().filter_map(|p| p.1)),
            Self::Band { points, .. } => Box::new(
                points
                    .iter()
                    .filter_map(|p| p.1)
                    .flat_map(|(low, high)| [low, high]),
            ),
            Self::Dots { points, .. } => Box::new(points.iter().map(|p| p.1)),
            Self::Level { y, .. } => Box::new(std::iter::once(*y)),
            Self::Boxes { boxes, .. } => Box::new(boxes.iter().flat_map(|b| [b[2], b[3]])),
            Self::Upright { .. } | Self::Bars { .. } => Box::new(std::iter::empty()),
        }
    }
}

/// The line of a target that must hold.
pub(crate) const TARGET: Stroke = stroke(Ink::Vermillion, Dash::Dashed, 1.6);
/// The line of 0 °C.
pub(crate) const FREEZING: Stroke = stroke(Ink::Blue, Dash::Dotted, 1.4);
