//! The drawing as sheets to print: the floor on one large sheet, or whole and then in tiles to glue together; then the tables to tick.

use pdf_writer::{Content, Finish as _, Name, Pdf, Rect, Ref, Str, TextStr};

use super::Shown;
use super::map::map;
use super::paper::{MARGIN_MM, OVERLAP_MM, Sheet};
use super::scene::{Anchor, Ink, Pen, Scene, Shape, TEXT_MM, scene};
use super::text::table;
use crate::files::plan::Point;
use crate::questions::lay::Piece;

const POINTS_MM: f64 = 72.0 / 25.4;
const FONT: Name<'static> = Name(b"F1");
const FIXED: Name<'static> = Name(b"F2");
/// Mean width of a letter of Helvetica, heights.
const LETTER_WIDTH: f64 = 0.5;
/// Height and distance of a table's lines, mm.
const ROW_MM: f64 = 3.0;
const ROW_STEP_MM: f64 = 4.4;

/// A page: its size in mm and what is on it.
struct Page {
    sheet: Sheet,
    content: Content,
}

/// The whole file.
#[must_use]
pub fn pdf(shown: &Shown<'_>) -> Vec<u8> {
    let scale = shown.scale();
    let mut pages = match shown.turned(scale) {
        Some(sheet) => vec![whole(&scene(shown, scale), sheet)],
        None => tiles(shown, scale),
    };
    pages.push(warmth(shown));
    pages.extend(tables(shown));
    file(pages, &super::words::title(shown, scale))
}

fn file(pages: Vec<Page>, title: &str) -> Vec<u8> {
    let mut pdf = Pdf::new();
    let [catalog, tree, font, fixed, info] = [1, 2, 3, 4, 5].map(Ref::new);
    let ids: Vec<[Ref; 2]> = (0..pages.len() as i32)
        .map(|page| [Ref::new(6 + 2 * page), Ref::new(7 + 2 * page)])
        .collect();
    pdf.catalog(catalog).pages(tree);
    pdf.document_info(info).title(TextStr(title));
    pdf.pages(tree)
        .kids(ids.iter().map(|[page, _]| *page))
        .count(ids.len() as i32);
    for (page, [id, content]) in pages.into_iter().zip(&ids) {
        let mut written = pdf.page(*id);
        let [width, height] = page.sheet.map(|mm| (mm * POINTS_MM) as f32);
        written.media_box(Rect::new(0.0, 0.0, width, height));
        written.parent(tree);
        written.contents(*content);
        let mut resources = written.resources();
        resources.fonts().pair(FONT, font).pair(FIXED, fixed);
        resources.finish();
        written.finish();
        pdf.stream(*content, &page.content.finish());
    }
    for (id, name) in [(font, Name(b"Helvetica")), (fixed, Name(b"Courier"))] {
        pdf.type1_font(id)
            .base_font(name)
            .encoding_predefined(Name(b"WinAnsiEncoding"));
    }
    pdf.finish()
}

/// The map of evenness on a small sheet.
fn warmth(shown: &Shown<'_>) -> Page {
    let [short, long] = shown.sheets()[1];
    let fits = |sheet: Sheet| {
        let size = map(shown, 1000.0).size_mm();
        (0..2)
            .map(|axis| size[axis] / (sheet[axis] - 4.0 * MARGIN_MM))
            .fold(0.0, f64::max)
    };
    let sheet = if fits([long, short]) < fits([short, long]) {
        [long, short]
    } else {
        [short, long]
    };
    // Words are of one height on any sheet: a second look brings the size that goes with them.
    let mut scale = 1000.0 * fits(sheet);
    for _ in 0..8 {
        let size = map(shown, scale).size_mm();
        scale *= (0..2)
            .map(|axis| size[axis] / (sheet[axis] - 2.0 * MARGIN_MM))
            .fold(0.0, f64::max);
    }
    whole(&map(shown, scale), sheet)
}

/// A scene in the middle of a sheet.
fn whole(scene: &Scene, sheet: Sheet) -> Page {
    let size = scene.size_mm();
    let corner = [0, 1].map(|axis: usize| (sheet[axis] - size[axis]) / 2.0);
    let mut content = Content::new();
    View {
        low: scene.low,
        scale: scene.scale,
        corner,
    }
    .draw(scene, &mut content);
    Page { sheet, content }
}

/// The whole floor at a scale that fits, with the tiles on it; then each tile.
fn tiles(shown: &Shown<'_>, scale: f64) -> Vec<Page> {
    let sheet = shown.sheets()[1];
    let room = sheet.map(|mm| mm - 2.0 * MARGIN_MM);
    let scene = scene(shown, scale);
    let size = scene.size_mm();
    // Upright or turned, whichever needs fewer sheets.
    let count = |room: Sheet| {
        [0, 1].map(|axis: usize| {
            ((size[axis] - OVERLAP_MM) / (room[axis] - OVERLAP_MM))
                .ceil()
                .max(1.0) as usize
        })
    };
    let turned = [room[1], room[0]];
    let (sheet, room) =
        if count(turned).iter().product::<usize>() < count(room).iter().product::<usize>() {
            ([sheet[1], sheet[0]], turned)
        } else {
            (sheet, room)
        };
    let [columns, rows] = count(room);
    let step = room.map(|mm| (mm - OVERLAP_MM) * scale / 1000.0);
    let fitting = (size[0] / room[0]).max(size[1] / room[1]) * scale * 1.02;
    let mut first = whole(&overview(shown, &scene, fitting), sheet);
    let view = View {
        low: scene.low,
        scale: fitting,
        corner: [0, 1].map(|axis: usize| (sheet[axis] - size[axis] * scale / fitting) / 2.0),
    };
    let mut pages = Vec::new();
    for row in (0..rows).rev() {
        for column in 0..columns {
            let low = [
                scene.low[0] + column as f64 * step[0],
                scene.low[1] + row as f64 * step[1],
            ];
            let high = [0, 1].map(|axis: usize| low[axis] + room[axis] * scale / 1000.0);
            let name = format!(
                "{}{}",
                char::from(b'A' + (rows - 1 - row).min(25) as u8),
                column + 1
            );
            view.frame(low, high, &mut first.content);
            view.words(
                &[
                    f64::midpoint(low[0], high[0]),
                    f64::midpoint(low[1], high[1]),
                ],
                8.0,
                Anchor::Middle,
                &name,
                &mut first.content,
            );
            let mut content = Content::new();
            let tile = View {
                low,
                scale,
                corner: [MARGIN_MM; 2],
            };
            content.save_state();
            tile.clip(room, &mut content);
            tile.draw(&scene, &mut content);
            content.restore_state();
            tile.crop_marks(room, &mut content);
            let says = format!(
                "Sheet {name} of {columns} by {rows}; glue with 10 mm of overlap. {}",
                scene.title
            );
            page_words([MARGIN_MM, 4.0], TEXT_MM, FONT, &says, &mut content);
            pages.push(Page { sheet, content });
        }
    }
    pages.insert(0, first);
    pages
}

/// The scene for a smaller sheet: the same shapes, without words that could not be read.
fn overview(shown: &Shown<'_>, large: &Scene, scale: f64) -> Scene {
    let mut scene = scene(shown, scale);
    scene
        .shapes
        .retain(|shape| !matches!(shape, Shape::Words(..)));
    scene.low = large.low;
    scene.high = large.high;
    scene
}

/// Tables of corners, line by line, as many sheets as they need.
fn tables(shown: &Shown<'_>) -> Vec<Page> {
    let sheet = shown.sheets()[1];
    let rows = ((sheet[1] - 2.0 * MARGIN_MM - 6.0) / ROW_STEP_MM) as usize;
    let lines = table(shown);
    lines
        .chunks(rows)
        .map(|lines| {
            let mut content = Content::new();
            let mut y = sheet[1] - MARGIN_MM - ROW_MM;
            for line in lines {
                page_words([MARGIN_MM + 4.0, y], ROW_MM, FIXED, line, &mut content);
                y -= ROW_STEP_MM;
            }
            Page { sheet, content }
        })
        .collect()
}

/// Words on a page, mm from its lower left.
fn page_words([x, y]: [f64; 2], size_mm: f64, font: Name<'_>, words: &str, content: &mut Content) {
    content.begin_text();
    content.set_fill_rgb(0.0, 0.0, 0.0);
    content.set_font(font, (size_mm * POINTS_MM) as f32);
    content.next_line((x * POINTS_MM) as f32, (y * POINTS_MM) as f32);
    content.show(Str(&bytes(words)));
    content.end_text();
}

/// Where the floor is on a page: its point `low` at `corner`, mm from the page's lower left.
struct View {
    low: Point,
    scale: f64,
    corner: [f64; 2],
}

impl View {
    /// A place on the page, points.
    fn at(&self, place: &Point) -> [f32; 2] {
        [0, 1].map(|axis| {
            ((self.corner[axis] + (place[axis] - self.low[axis]) * 1000.0 / self.scale) * POINTS_MM)
                as f32
        })
    }

    fn draw(&self, scene: &Scene, content: &mut Content) {
        for shape in &scene.shapes {
            match shape {
                Shape::Line(points, pen) => {
                    set(*pen, content);
                    self.path(points, content);
                    content.stroke();
                }
                Shape::Area(points, ink, pen) => {
                    fill(*ink, content);
                    self.path(points, content);
                    match pen {
                        Some(pen) => {
                            set(*pen, content);
                            content.close_fill_nonzero_and_stroke();
                        }
                        None => {
                            content.close_path();
                            content.fill_nonzero();
                        }
                    }
                }
                Shape::Tube(pieces, pen) => {
                    set(*pen, content);
                    self.tube(pieces, content);
                    content.stroke();
                }
                Shape::Dot(at, radius_mm, ink) => {
                    fill(*ink, content);
                    let circle = Piece::Arc {
                        centre: *at,
                        radius_m: radius_mm * self.scale / 1000.0,
                        from_rad: 0.0,
                        sweep_rad: 2.0 * std::f64::consts::PI,
                    };
                    self.tube(&[circle], content);
                    content.fill_nonzero();
                }
                Shape::Words(at, size_mm, anchor, words) => {
                    self.words(at, *size_mm, *anchor, words, content)
                }
            }
        }
    }

    fn path(&self, points: &[Point], content: &mut Content) {
        for (number, point) in points.iter().enumerate() {
            let [x, y] = self.at(point);
            if number == 0 {
                content.move_to(x, y);
            } else {
                content.line_to(x, y);
            }
        }
    }

    /// Straights and arcs; an arc as cubic curves of at most a quarter circle, each within 0.03 % of its radius.
    fn tube(&self, pieces: &[Piece], content: &mut Content) {
        for (number, piece) in pieces.iter().enumerate() {
            if number == 0 {
                let [x, y] = self.at(&piece.at(0.0));
                content.move_to(x, y);
            }
            match piece {
                Piece::Line { to, .. } => {
                    let [x, y] = self.at(to);
                    content.line_to(x, y);
                }
                Piece::Arc {
                    centre,
                    radius_m,
                    from_rad,
                    sweep_rad,
                } => {
                    let parts = (sweep_rad.abs() / std::f64::consts::FRAC_PI_2 - 1e-9)
                        .ceil()
                        .max(1.0);
                    let step = sweep_rad / parts;
                    let reach = 4.0 / 3.0 * libm::tan(step / 4.0) * radius_m;
                    let on = |angle: f64| {
                        [
                            centre[0] + radius_m * libm::cos(angle),
                            centre[1] + radius_m * libm::sin(angle),
                        ]
                    };
                    for part in 0..parts as u32 {
                        let (a, b) = (
                            from_rad + f64::from(part) * step,
                            from_rad + f64::from(part + 1) * step,
                        );
                        let ([x0, y0], [x1, y1]) = (on(a), on(b));
                        let one = self.at(&[x0 - reach * libm::sin(a), y0 + reach * libm::cos(a)]);
                        let two = self.at(&[x1 + reach * libm::sin(b), y1 - reach * libm::cos(b)]);
                        let end = self.at(&[x1, y1]);
                        content.cubic_to(one[0], one[1], two[0], two[1], end[0], end[1]);
                    }
                }
            }
        }
    }

    fn words(&self, at: &Point, size_mm: f64, anchor: Anchor, words: &str, content: &mut Content) {
        let back_mm = match anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => words.chars().count() as f64 * LETTER_WIDTH * size_mm / 2.0,
        };
        let place = self.at(at).map(|points| f64::from(points) / POINTS_MM);
        page_words(
            [place[0] - back_mm, place[1]],
            size_mm,
            FONT,
            words,
            content,
        );
    }

    fn frame(&self, low: Point, high: Point, content: &mut Content) {
        let ([x, y], [right, top]) = (self.at(&low), self.at(&high));
        set(
            Pen {
                ink: [0.0; 3],
                width_mm: 0.2,
                dash_mm: &[2.0, 1.0],
            },
            content,
        );
        content.rect(x, y, right - x, top - y);
        content.stroke();
    }

    fn clip(&self, room: [f64; 2], content: &mut Content) {
        let [x, y, width, height] =
            [self.corner[0], self.corner[1], room[0], room[1]].map(|mm| (mm * POINTS_MM) as f32);
        content.rect(x, y, width, height);
        content.clip_nonzero();
        content.end_path();
    }

    /// A cross at each corner of what the sheet shows.
    fn crop_marks(&self, room: [f64; 2], content: &mut Content) {
        set(
            Pen {
                ink: [0.0; 3],
                width_mm: 0.2,
                dash_mm: &[],
            },
            content,
        );
        for x in [self.corner[0], self.corner[0] + room[0]] {
            for y in [self.corner[1], self.corner[1] + room[1]] {
                for [dx, dy] in [[4.0, 0.0], [0.0, 4.0]] {
                    let [x0, y0, x1, y1] =
                        [x - dx, y - dy, x + dx, y + dy].map(|mm| (mm * POINTS_MM) as f32);
                    content.move_to(x0, y0);
                    content.line_to(x1, y1);
                    content.stroke();
                }
            }
        }
    }
}

fn set(pen: Pen, content: &mut Content) {
    let [red, green, blue] = pen.ink;
    content.set_stroke_rgb(red, green, blue);
    content.set_line_width((pen.width_mm * POINTS_MM) as f32);
    content.set_dash_pattern(pen.dash_mm.iter().map(|mm| (mm * POINTS_MM) as f32), 0.0);
}

fn fill([red, green, blue]: Ink, content: &mut Content) {
    content.set_fill_rgb(red, green, blue);
}

/// Text in the encoding of the standard fonts, which has Latin-1 and little else.
fn bytes(words: &str) -> Vec<u8> {
    words
        .chars()
        .map(|c| u8::try_from(u32::from(c)).unwrap_or(b'?'))
        .collect()
}
