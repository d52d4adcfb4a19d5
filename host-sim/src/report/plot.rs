//! A chart for a page: traces and layout as data, drawn by the embedded script when the page opens.

use std::borrow::Cow;
use std::io::{self, Write};
use std::sync::LazyLock;

use plotly::common::{Anchor, Font, Line, Mode, Orientation, Title};
use plotly::configuration::DisplayModeBar;
use plotly::layout::{Axis, Legend, Margin};
use plotly::{Configuration, Layout, Scatter, Trace, Traces};
use serde::Serialize;

use super::page::escape;

/// A chart with its caption.
#[derive(Clone)]
pub struct Plot {
    /// What is seen, also for those who cannot see it.
    pub caption: String,
    /// Height, px.
    pub height: u32,
    traces: Traces,
    layout: Layout,
}

impl std::fmt::Debug for Plot {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Plot")
            .field("caption", &self.caption)
            .field("traces", &self.traces.len())
            .finish_non_exhaustive()
    }
}

impl Plot {
    /// A chart without anything in it yet.
    #[must_use]
    pub fn new(caption: impl Into<String>, height: u32, layout: Layout) -> Self {
        Self {
            caption: caption.into(),
            height,
            traces: Traces::new(),
            layout,
        }
    }

    /// Adds a trace. Its texts must have gone through [`label`] if a person wrote them.
    pub fn add(&mut self, trace: Box<dyn Trace>) {
        self.traces.push(trace);
    }

    /// With one more trace.
    #[must_use]
    pub fn with(mut self, trace: Box<dyn Trace>) -> Self {
        self.add(trace);
        self
    }

    pub(super) fn write(&self, out: &mut impl Write, number: usize) -> io::Result<()> {
        let data = json(&self.traces)?;
        let layout = json(&self.layout)?;
        let configuration = json(
            &Configuration::new()
                .responsive(true)
                .display_logo(false)
                .display_mode_bar(DisplayModeBar::Hover)
                .scroll_zoom(true),
        )?;
        let caption = escape(&self.caption);
        writeln!(
            out,
            "<figure>\n<div id=\"plot{number}\" style=\"height:{}px\" role=\"img\" aria-label=\"{caption}\"></div>\n\
             <script>Plotly.newPlot(\"plot{number}\",{data},{layout},{configuration});</script>\n\
             <figcaption>{caption}</figcaption>\n</figure>",
            self.height
        )
    }
}

/// JSON that cannot end the script element it stands in.
fn json(value: &impl Serialize) -> io::Result<String> {
    let text = serde_json::to_string(value).map_err(io::Error::other)?;
    Ok(text
        .replace('<', "\\u003c")
        .replace('\u{2028}', "\\u2028")
        .replace('\u{2029}', "\\u2029"))
}

/// The plotting script's element, without the formula setter that comes with it and that no chart
/// here uses: it would make every page a third larger.
pub(super) fn script() -> &'static str {
    static SCRIPT: LazyLock<String> = LazyLock::new(|| {
        let sources = plotly::Plot::offline_js_sources();
        let end = sources
            .find("</script>")
            .map_or(sources.len(), |place| place + "</script>".len());
        sources[..end].trim_start().to_owned()
    });
    &SCRIPT
}

/// A text for a legend, axis or hover box: the script reads tags in those.
#[must_use]
pub fn label(text: &str) -> String {
    escape(text)
}

/// A layout as all charts here have it: no title (the caption says it), legend above.
#[must_use]
pub fn layout() -> Layout {
    Layout::new()
        .font(Font::new().family("system-ui, sans-serif").size(13))
        .margin(Margin::new().left(64).right(24).top(28).bottom(44))
        .paper_background_color("#ffffff")
        .plot_background_color("#ffffff")
        .legend(legend().y(1.0).y_anchor(Anchor::Bottom))
}

/// A legend in lines, from the left.
pub(crate) fn legend() -> Legend {
    Legend::new()
        .orientation(Orientation::Horizontal)
        .x(0.0)
        .x_anchor(Anchor::Left)
}

/// An axis with this title, which is text and not markup.
#[must_use]
pub fn axis(title: &str) -> Axis {
    Axis::new()
        .title(Title::with_text(label(title)))
        .grid_color("#e6e6e6")
        .line_color("#888888")
        .show_line(true)
        .zero_line(false)
}

/// A straight line across the chart, labelled at its right end.
#[must_use]
pub fn level(name: &str, x: [f64; 2], y: f64, line: Line) -> Box<dyn Trace> {
    let text = label(name);
    Scatter::new(x.to_vec(), vec![y, y])
        .mode(Mode::Lines)
        .line(line)
        .name(text.as_str())
        .hover_template(format!("{text}<extra></extra>").as_str())
}

/// To the nearest hundredth: what a chart can show.
#[must_use]
pub(super) fn hundredth(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// Bars from one time to another on a line of their own: what the typed bar of the plotting library
/// has no field for is the beginning (`base`).
#[derive(Clone, Debug, Serialize)]
pub struct TimeBars {
    r#type: &'static str,
    orientation: &'static str,
    name: String,
    base: Vec<f64>,
    x: Vec<f64>,
    y: Vec<f64>,
    width: f64,
    hovertemplate: &'static str,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    hovertext: Vec<String>,
    marker: serde_json::Value,
    xaxis: &'static str,
    yaxis: &'static str,
    showlegend: bool,
}

impl Trace for TimeBars {
    fn to_json(&self) -> String {
        serde_json::to_string(self).unwrap_or_default()
    }
}

/// How bars are filled.
#[derive(Clone, Debug)]
pub struct BarFill {
    /// Colour.
    pub colour: Cow<'static, str>,
    /// Pattern over it, for those who do not see colours.
    pub pattern: plotly::common::PatternShape,
}

/// One bar: beginning, length (both in units of the x axis) and hover text.
#[derive(Clone, Debug)]
pub struct Bar {
    /// Beginning.
    pub base: f64,
    /// Length.
    pub length: f64,
    /// Hover text; escaped here.
    pub text: String,
}

impl TimeBars {
    /// Bars on the line `y` of the second y axis.
    #[must_use]
    pub fn new(name: &str, y: f64, fill: &BarFill, bars: Vec<Bar>, in_legend: bool) -> Box<Self> {
        Box::new(Self {
            r#type: "bar",
            orientation: "h",
            name: label(name),
            base: bars.iter().map(|bar| bar.base).collect(),
            x: bars.iter().map(|bar| bar.length).collect(),
            y: vec![y; bars.len()],
            width: 0.8,
            hovertemplate: "%{hovertext}<extra></extra>",
            hovertext: bars.iter().map(|bar| label(&bar.text)).collect(),
            marker: serde_json::json!({
                "color": fill.colour,
                "line": { "width": 0 },
                "pattern": { "shape": fill.pattern, "fgcolor": "#ffffff", "fillmode": "overlay", "size": 6 },
            }),
            xaxis: "x",
            yaxis: "y2",
            showlegend: in_legend,
        })
    }
}
