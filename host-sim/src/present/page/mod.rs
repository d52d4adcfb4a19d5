//! A page as data: sections of paragraphs, tiles, tables and pictures, written as one HTML file.
//!
//! Every text is escaped here and nowhere else. The file carries a policy that lets it load nothing and run nothing.

use std::fmt::Write as _;
use std::io::{self, Write};

use super::drawing::Drawing;
use super::plot::{self, Plot};
use crate::files::now::now;

/// A whole page.
#[derive(Clone, Debug, Default)]
pub struct Page {
    /// Title, in the window and at the top.
    pub title: String,
    /// The house, site or log it is about.
    pub house: String,
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

    /// By itself, as a piece of a page that has the style.
    #[must_use]
    pub fn html(&self) -> String {
        let mut text = Vec::new();
        // A vector takes everything.
        let _ = self.write(&mut text, &mut 0);
        String::from_utf8_lossy(&text).into_owned()
    }

    fn write(&self, out: &mut impl Write, pictures: &mut usize) -> io::Result<()> {
        writeln!(out, "<section>\n<h2>{}</h2>", escape(&self.heading))?;
        for block in &self.blocks {
            block.write(out, pictures)?;
        }
        writeln!(out, "</section>")
    }
}

/// A piece of a section.
#[derive(Clone, Debug)]
pub enum Block {
    /// Running text.
    Paragraph(String),
    /// A remark set apart.
    Note(String),
    /// Lines as a terminal shows them.
    Terminal(String),
    /// Points.
    List(Vec<String>),
    /// Points that are seen when the line above them is opened.
    Folded(String, Vec<String>),
    /// Key numbers.
    Tiles(Vec<Tile>),
    /// A table.
    Table(Table),
    /// A plot.
    Plot(Box<Plot>),
    /// A drawing.
    Drawing(Drawing),
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

pub(super) const STYLE: &str = include_str!("style.css");

/// Nothing may be loaded and nothing runs.
const POLICY: &str =
    "default-src 'none'; style-src 'unsafe-inline'; form-action 'none'; base-uri 'none'";

/// A table of more columns than this is shown row by row on a narrow screen.
const NARROW_COLUMNS: usize = 4;

/// When a page is made, in words: now, or the time that the environment gives so that a page can be made again byte for byte
/// (`SOURCE_DATE_EPOCH`, reproducible-builds.org).
fn made_at(environment: Option<&str>) -> String {
    let given = environment
        .and_then(|text| text.trim().parse().ok())
        .and_then(|seconds| jiff::Timestamp::from_second(seconds).ok());
    let time = given.map_or_else(
        || {
            let (now, zone) = now();
            zone.to_datetime(now)
        },
        |at| jiff::tz::Offset::UTC.to_datetime(at),
    );
    time.strftime("%Y-%m-%d %H:%M").to_string()
}

/// When this run makes its pages and drawings, in words.
pub(crate) fn made() -> String {
    made_at(std::env::var("SOURCE_DATE_EPOCH").ok().as_deref())
}

impl Page {
    /// Writes the file.
    ///
    /// # Errors
    /// Only the writer's.
    pub fn write(&self, out: &mut impl Write) -> io::Result<()> {
        self.write_made(out, &made(), None)
    }

    /// Writes it for a server that has this script under this name, which alone may run and ask the server for more.
    ///
    /// # Errors
    /// Only the writer's.
    pub fn write_served(&self, out: &mut impl Write, script: &str) -> io::Result<()> {
        self.write_made(out, &made(), Some(script))
    }

    pub(super) fn write_made(
        &self,
        out: &mut impl Write,
        made: &str,
        script: Option<&str>,
    ) -> io::Result<()> {
        let title = escape(&self.title);
        let house = escape(&self.house);
        let window = if house.is_empty() {
            title.clone()
        } else {
            format!("{title} · {house}")
        };
        let (more, script) = script.map_or((String::new(), String::new()), |name| {
            let more = "; script-src 'self'; connect-src 'self'".to_owned();
            (more, format!("<script src=\"{name}\" defer></script>\n"))
        });
        write!(
            out,
            "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
             <meta http-equiv=\"Content-Security-Policy\" content=\"{POLICY}{more}\">\n\
             <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
             <title>{window}</title>\n<style>\n{STYLE}</style>\n{script}</head>\n<body>\n"
        )?;
        if self.has_pictures() {
            writeln!(out, "{}", plot::hatchings())?;
        }
        write!(out, "<main>\n<h1>{title}</h1>\n")?;
        let under: Vec<String> = [Some(&self.house), self.subtitle.as_ref()]
            .into_iter()
            .flatten()
            .filter(|text| !text.is_empty())
            .map(|text| escape(text))
            .collect();
        writeln!(out, "<p class=\"sub\">{}</p>", under.join(" · "))?;
        writeln!(
            out,
            "<p class=\"made\">Made {} by host-sim {}</p>",
            escape(made),
            env!("CARGO_PKG_VERSION")
        )?;
        if let Some(headline) = &self.headline {
            headline.write(out)?;
        }
        let mut pictures = 0;
        for section in &self.sections {
            section.write(out, &mut pictures)?;
        }
        self.write_foot(out)?;
        write!(out, "</main>\n</body>\n</html>\n")
    }

    fn has_pictures(&self) -> bool {
        self.sections
            .iter()
            .flat_map(|section| &section.blocks)
            .any(|block| matches!(block, Block::Plot(_) | Block::Drawing(_)))
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
    fn write(&self, out: &mut impl Write, pictures: &mut usize) -> io::Result<()> {
        match self {
            Self::Paragraph(text) => writeln!(out, "<p>{}</p>", escape(text)),
            Self::Note(text) => writeln!(out, "<p class=\"note\">{}</p>", escape(text)),
            Self::Terminal(text) => writeln!(out, "<pre tabindex=\"0\">{}</pre>", escape(text)),
            Self::List(points) => write_list(out, points),
            Self::Folded(line, points) => {
                writeln!(out, "<details>\n<summary>{}</summary>", escape(line))?;
                write_list(out, points)?;
                writeln!(out, "</details>")
            }
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
                *pictures += 1;
                plot::write(plot, out, *pictures)
            }
            Self::Drawing(drawing) => drawing.write(out),
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
        let is_cards = self.head.len() > NARROW_COLUMNS;
        let kind = match self.head.len() {
            0..=2 => " class=\"pair\"",
            _ if is_cards => " class=\"cards\"",
            _ => "",
        };
        writeln!(out, "<div class=\"scroll\"><table{kind}>")?;
        if self.head.iter().any(|cell| !cell.is_empty()) {
            write!(out, "<thead>\n<tr>")?;
            for (column, cell) in self.head.iter().enumerate() {
                write!(out, "<th{}>{}</th>", class(column), escape(cell))?;
            }
            writeln!(out, "</tr>\n</thead>")?;
        }
        writeln!(out, "<tbody>")?;
        for row in &self.rows {
            write!(out, "<tr>")?;
            for (column, cell) in row.iter().enumerate() {
                let head = match self.head.get(column) {
                    Some(head) if is_cards && column > 0 => {
                        format!(" data-head=\"{}\"", escape(head))
                    }
                    _ => String::new(),
                };
                write!(out, "<td{}{head}>{}</td>", class(column), escape(cell))?;
            }
            writeln!(out, "</tr>")?;
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

/// Text for HTML and SVG, inside elements and quoted attributes.
pub(crate) fn escape(text: &str) -> String {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_date_made_can_be_given() {
        assert_eq!(made_at(Some("1700000000")), "2023-11-14 22:13");
        // Without one it is today's.
        let year = jiff::ZonedDateTime::now().year().to_string();
        assert!(made_at(None).starts_with(&year));
        assert!(made_at(Some("yesterday")).starts_with(&year));
    }
}
