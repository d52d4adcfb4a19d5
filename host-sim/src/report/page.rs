//! A page as data: sections of paragraphs, tiles, tables and plots, written as one HTML file.
//!
//! Every text is escaped here and nowhere else. The file carries a policy that lets it load nothing.

use std::fmt::Write as _;
use std::io::{self, Write};

use super::plot::{Plot, script};

/// A whole page.
#[derive(Clone, Debug, Default)]
pub struct Page {
    /// Title, in the window and at the top.
    pub title: String,
    /// A line under it.
    pub subtitle: Option<String>,
    /// The answer: a word and its sentences.
    pub headline: Option<Headline>,
    /// In order.
    pub sections: Vec<Section>,
    /// Small print at the foot, title and text.
    pub foot: Vec<(String, String)>,
}

/// The answer at the top of a page.
#[derive(Clone, Debug)]
pub struct Headline {
    /// One or two words.
    pub word: String,
    /// Does it call for attention?
    pub tone: Tone,
    /// The main sentence.
    pub sentence: String,
    /// Sentences that go with it.
    pub details: Vec<String>,
}

/// How something is to be taken. Shown by words and a border, never by colour alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tone {
    /// As it should be.
    Good,
    /// Not as it should be.
    Bad,
    /// Neither.
    Neutral,
}

/// A part of a page under a heading.
#[derive(Clone, Debug, Default)]
pub struct Section {
    /// Its heading.
    pub heading: String,
    /// In order.
    pub blocks: Vec<Block>,
}

impl Section {
    /// A section of these blocks.
    #[must_use]
    pub fn new(heading: impl Into<String>, blocks: Vec<Block>) -> Self {
        Self {
            heading: heading.into(),
            blocks,
        }
    }
}

/// A piece of a section.
#[derive(Clone, Debug)]
pub enum Block {
    /// Running text.
    Paragraph(String),
    /// A remark set apart.
    Note(String),
    /// Points.
    List(Vec<String>),
    /// Key numbers.
    Tiles(Vec<Tile>),
    /// A table.
    Table(Table),
    /// A plot.
    Plot(Box<Plot>),
}

/// One key number.
#[derive(Clone, Debug)]
pub struct Tile {
    /// What it is.
    pub label: String,
    /// The number with its unit.
    pub value: String,
    /// How to read it.
    pub remark: String,
}

/// A table; the first column names the row, the others may be numbers.
#[derive(Clone, Debug, Default)]
pub struct Table {
    /// Column heads.
    pub head: Vec<String>,
    /// Rows of as many cells.
    pub rows: Vec<Vec<String>>,
    /// How many columns from the second on hold numbers (set to the right).
    pub numbers: usize,
}

const STYLE: &str = "
:root{color-scheme:light}
body{margin:0;background:#f6f6f3;color:#1b1b1b;font:16px/1.5 system-ui,sans-serif}
main{max-width:1180px;margin:0 auto;padding:1.5rem 1.25rem 3rem}
h1{font-size:1.7rem;margin:0}
.sub{margin:.15rem 0 1.2rem;color:#555}
.answer{background:#fff;border:1px solid #ccc;border-left:10px solid #666;padding:.9rem 1.2rem;margin-bottom:1.4rem}
.answer.good{border-left-color:#009E73}
.answer.bad{border-left:10px double #D55E00}
.answer b{display:inline-block;font-size:1.05rem;border:2px solid currentColor;padding:0 .5rem;margin-right:.6rem}
.answer .sentence{font-size:1.2rem;font-weight:600;margin:0}
.answer ul{margin:.5rem 0 0;padding-left:1.2rem}
section{background:#fff;border:1px solid #ddd;padding:.9rem 1.2rem 1.1rem;margin:0 0 1.2rem}
h2{font-size:1.15rem;margin:0 0 .6rem}
p{margin:.4rem 0}
.note{border-left:4px solid #0072B2;padding:.1rem .7rem;color:#333;font-size:.95rem}
.tiles{display:grid;margin-bottom:.6rem;grid-template-columns:repeat(auto-fill,minmax(172px,1fr));gap:.7rem}
.tile{border:1px solid #ddd;padding:.5rem .7rem}
.tile .label{color:#555;font-size:.85rem}
.tile .value{font-size:1.22rem;font-weight:600}
.tile .remark{color:#555;font-size:.8rem;line-height:1.3}
.scroll{overflow-x:auto;margin:.2rem 0 .6rem}
table{border-collapse:collapse;font-size:.93rem;width:100%}
th,td{text-align:left;vertical-align:top;padding:.3rem .8rem .3rem 0;border-bottom:1px solid #e4e4e4}
th{border-bottom:2px solid #888}
.number{text-align:right;white-space:nowrap;font-variant-numeric:tabular-nums}
figure{margin:.4rem 0 1rem}
figcaption{color:#444;font-size:.9rem}
footer{font-size:.85rem;color:#333}
footer dt{font-weight:600;float:left;clear:left;margin-right:.5rem}
footer dd{margin:0 0 .3rem}
@media print{body{background:#fff}section,.answer{break-inside:avoid}}
";

/// Nothing may be loaded; only what is inside runs.
const POLICY: &str = "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; \
                      img-src data: blob:; form-action 'none'; base-uri 'none'";

impl Page {
    /// Writes the file.
    ///
    /// # Errors
    /// Only the writer's.
    pub fn write(&self, out: &mut impl Write) -> io::Result<()> {
        let title = escape(&self.title);
        write!(
            out,
            "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
             <meta http-equiv=\"Content-Security-Policy\" content=\"{POLICY}\">\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
             <title>{title}</title>\n<style>{STYLE}</style>\n"
        )?;
        if self.has_plots() {
            writeln!(out, "{}", script())?;
        }
        write!(out, "</head>\n<body>\n<main>\n<h1>{title}</h1>\n")?;
        if let Some(subtitle) = &self.subtitle {
            writeln!(out, "<p class=\"sub\">{}</p>", escape(subtitle))?;
        }
        if let Some(headline) = &self.headline {
            headline.write(out)?;
        }
        let mut plots = 0;
        for section in &self.sections {
            writeln!(out, "<section>\n<h2>{}</h2>", escape(&section.heading))?;
            for block in &section.blocks {
                block.write(out, &mut plots)?;
            }
            writeln!(out, "</section>")?;
        }
        self.write_foot(out)?;
        write!(out, "</main>\n</body>\n</html>\n")
    }

    fn has_plots(&self) -> bool {
        self.sections
            .iter()
            .flat_map(|section| &section.blocks)
            .any(|block| matches!(block, Block::Plot(_)))
    }

    fn write_foot(&self, out: &mut impl Write) -> io::Result<()> {
        if self.foot.is_empty() {
            return Ok(());
        }
        writeln!(out, "<footer>\n<dl>")?;
        for (title, text) in &self.foot {
            writeln!(out, "<dt>{}</dt><dd>{}</dd>", escape(title), escape(text))?;
        }
        writeln!(out, "</dl>\n</footer>")
    }
}

impl Headline {
    fn write(&self, out: &mut impl Write) -> io::Result<()> {
        let class = match self.tone {
            Tone::Good => " good",
            Tone::Bad => " bad",
            Tone::Neutral => "",
        };
        writeln!(
            out,
            "<div class=\"answer{class}\">\n<p class=\"sentence\"><b>{}</b>{}</p>",
            escape(&self.word),
            escape(&self.sentence)
        )?;
        write_list(out, &self.details)?;
        writeln!(out, "</div>")
    }
}

impl Block {
    fn write(&self, out: &mut impl Write, plots: &mut usize) -> io::Result<()> {
        match self {
            Self::Paragraph(text) => writeln!(out, "<p>{}</p>", escape(text)),
            Self::Note(text) => writeln!(out, "<p class=\"note\">{}</p>", escape(text)),
            Self::List(points) => write_list(out, points),
            Self::Tiles(tiles) => {
                writeln!(out, "<div class=\"tiles\">")?;
                for tile in tiles {
                    writeln!(
                        out,
                        "<div class=\"tile\"><div class=\"label\">{}</div>\
                         <div class=\"value\">{}</div><div class=\"remark\">{}</div></div>",
                        escape(&tile.label),
                        escape(&tile.value),
                        escape(&tile.remark)
                    )?;
                }
                writeln!(out, "</div>")
            }
            Self::Table(table) => table.write(out),
            Self::Plot(plot) => {
                *plots += 1;
                plot.write(out, *plots)
            }
        }
    }
}

impl Table {
    fn write(&self, out: &mut impl Write) -> io::Result<()> {
        let class = |column: usize| {
            if column >= 1 && column <= self.numbers {
                " class=\"number\""
            } else {
                ""
            }
        };
        let line = |out: &mut dyn Write, tag: &str, cells: &[String]| {
            write!(out, "<tr>")?;
            for (column, cell) in cells.iter().enumerate() {
                write!(out, "<{tag}{}>{}</{tag}>", class(column), escape(cell))?;
            }
            writeln!(out, "</tr>")
        };
        writeln!(out, "<div class=\"scroll\"><table>\n<thead>")?;
        line(out, "th", &self.head)?;
        writeln!(out, "</thead>\n<tbody>")?;
        for row in &self.rows {
            line(out, "td", row)?;
        }
        writeln!(out, "</tbody>\n</table></div>")
    }
}

fn write_list(out: &mut impl Write, points: &[String]) -> io::Result<()> {
    if points.is_empty() {
        return Ok(());
    }
    writeln!(out, "<ul>")?;
    for point in points {
        writeln!(out, "<li>{}</li>", escape(point))?;
    }
    writeln!(out, "</ul>")
}

/// Text for HTML, inside elements and quoted attributes.
pub(super) fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            // Control characters have no place in HTML.
            c if c.is_control() && c != '\n' && c != '\t' => {
                let _ = write!(safe, "\u{fffd}");
            }
            c => safe.push(c),
        }
    }
    safe
}
