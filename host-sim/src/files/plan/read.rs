//! From the text of a plan file to the plan.

use std::ops::Range;

use toml::de::{DeTable, DeValue};

use super::outline;
use super::{Plan, Point, Rect};
use crate::files::quantity::{self, Dimension, Units};
use crate::files::site::SiteError;
use crate::files::site::error::{Problem, nearest, refuse};

/// Possible lengths, m: of sides and places, of the distance from edges, of the mesh, of bends.
const SIDE_M: (f64, f64) = (0.5, 200.0);
const PLACE_M: (f64, f64) = (-200.0, 200.0);
const EDGE_M: (f64, f64) = (0.03, 1.0);
const MESH_M: (f64, f64) = (0.03, 0.5);
const BEND_M: (f64, f64) = (0.02, 1.0);
/// Most corners, obstacles, joints and circuits.
const MOST_CORNERS: usize = 200;
const MOST_OF_A_KIND: usize = 100;
const MOST_CIRCUITS: u32 = 50;
/// The entry is at a wall if not farther from one, m.
const AT_WALL_M: f64 = 0.3;

const FLOOR_KEYS: [&str; 10] = [
    "corners",
    "width",
    "length",
    "entry",
    "edge_distance",
    "mesh",
    "mesh_start",
    "bend_radius",
    "circuits",
    "sensor",
];
const SECTIONS: [&str; 4] = ["floor", "obstacle", "joint", "circuit"];

type Place = Range<usize>;

/// Reads a text; everything wrong with it is told at once.
pub(super) fn plan(text: &str, file: &str) -> Result<Plan, SiteError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let root = DeTable::parse(text).map_err(|error| {
        let problem = Problem {
            span: error.span().unwrap_or(text.len()..text.len()),
            key: String::new(),
            found: format!("text that is no TOML ({})", error.message()),
            expected: "lines such as [floor] and width = \"3.6 m\"".to_owned(),
            advice: "correct the line; a value with a unit stands in quotes".to_owned(),
        };
        refuse(vec![problem], file, text)
    })?;
    let mut reader = Reader {
        units: quantity::units_in(text),
        problems: Vec::new(),
    };
    let plan = reader.plan(root.get_ref(), text.len());
    if reader.problems.is_empty() {
        return Ok(plan);
    }
    Err(refuse(reader.problems, file, text))
}

struct Reader {
    units: Units,
    problems: Vec<Problem>,
}

impl Reader {
    fn refuse(
        &mut self,
        span: Place,
        key: &str,
        found: String,
        expected: impl Into<String>,
        advice: &str,
    ) {
        self.problems.push(Problem {
            span,
            key: key.to_owned(),
            found,
            expected: expected.into(),
            advice: advice.to_owned(),
        });
    }

    fn said(&self, metres: f64) -> String {
        quantity::format(metres, Dimension::Length, self.units)
    }

    fn said_place(&self, [x, y]: Point) -> String {
        format!("\"{}, {}\"", self.said(x), self.said(y))
    }

    fn said_range(&self, (low, high): (f64, f64)) -> String {
        format!("{} to {}", self.said(low), self.said(high))
    }

    fn plan(&mut self, root: &DeTable<'_>, end: usize) -> Plan {
        for (name, _) in root
            .iter()
            .filter(|(name, _)| !SECTIONS.contains(&name.get_ref().as_ref()))
        {
            let expected = format!(
                "[floor], [[obstacle]], [[joint]] or [[circuit]]; the nearest is {}",
                nearest(SECTIONS, name.get_ref())
            );
            self.refuse(
                name.span(),
                name.get_ref(),
                "an unknown section".to_owned(),
                expected,
                "correct the name or take it out",
            );
        }
        let floor = match root.get_key_value("floor") {
            Some((name, value)) => match value.get_ref() {
                DeValue::Table(table) => Some((name.span(), table)),
                _ => None,
            },
            None => None,
        };
        let Some((header, table)) = floor else {
            self.refuse(
                end..end,
                "floor",
                "no section [floor]".to_owned(),
                "a floor",
                "write [floor] with width and length, or with corners",
            );
            return Plan::of_outline(Vec::new());
        };
        self.known(table, "floor", &FLOOR_KEYS);
        let mut plan = Plan::of_outline(self.outline(table, header));
        plan.edge_m = self
            .length(table, "floor.edge_distance", EDGE_M)
            .unwrap_or(super::EDGE_M);
        plan.mesh_m = self.length(table, "floor.mesh", MESH_M);
        plan.mesh_start = self
            .place(table, "floor.mesh_start")
            .map(|(_, place)| place);
        plan.bend_radius_m = self.length(table, "floor.bend_radius", BEND_M);
        plan.sensor = self.place(table, "floor.sensor").map(|(_, place)| place);
        plan.count = self.count(table);
        for (span, obstacle) in self.rectangles(root, "obstacle") {
            if !plan.corners.is_empty() && !is_on(&plan.corners, &obstacle) {
                let found = format!(
                    "an obstacle from {} to {}",
                    self.said_place(obstacle.low),
                    self.said_place(obstacle.high)
                );
                self.refuse(
                    span,
                    "obstacle",
                    found,
                    "an obstacle on the floor",
                    "keep it within the walls; a wall is part of the corners",
                );
            }
            plan.obstacles.push(obstacle);
        }
        plan.circuits = self
            .rectangles(root, "circuit")
            .into_iter()
            .map(|(_, rect)| rect)
            .collect();
        plan.joints = self.joints(root);
        if let Some((span, entry)) = self.place(table, "floor.entry") {
            plan.entry = entry;
            if !plan.corners.is_empty() && from_wall_m(&plan.corners, entry) > AT_WALL_M {
                let expected = format!(
                    "a place at a wall, at most {} from it",
                    self.said(AT_WALL_M)
                );
                self.refuse(
                    span,
                    "floor.entry",
                    self.said_place(entry),
                    expected,
                    "move it to the wall where the tubes come up",
                );
            }
        }
        plan
    }

    /// Keys that are not known.
    fn known(&mut self, table: &DeTable<'_>, section: &str, keys: &[&str]) {
        for (name, _) in table
            .iter()
            .filter(|(name, _)| !keys.contains(&name.get_ref().as_ref()))
        {
            let expected = format!(
                "a key of [{section}]; the nearest is {}",
                nearest(keys.iter().copied(), name.get_ref())
            );
            self.refuse(
                name.span(),
                &format!("{section}.{}", name.get_ref()),
                "an unknown key".to_owned(),
                expected,
                "correct the name or take the line out",
            );
        }
    }

    /// The corners, or those of the rectangle; none where they cannot be used.
    fn outline(&mut self, table: &DeTable<'_>, header: Place) -> Vec<Point> {
        let corners = table.get("corners");
        let is_rectangle = table.get("width").is_some() || table.get("length").is_some();
        if corners.is_some() == is_rectangle {
            let found = if is_rectangle {
                "corners beside width or length"
            } else {
                "neither corners nor width and length"
            };
            let advice = "give the floor once: as corners, or as width and length";
            self.refuse(header, "floor", found.to_owned(), "one of the two", advice);
            return Vec::new();
        }
        let Some(corners) = corners else {
            let [width, length] = ["width", "length"].map(|name| {
                let found = self.length(table, &format!("floor.{name}"), SIDE_M);
                if table.get(name).is_none() {
                    let advice = "add it; width is up, length across the plan";
                    self.refuse(
                        header.clone(),
                        "floor",
                        format!("no {name}"),
                        "width and length",
                        advice,
                    );
                }
                found
            });
            return width.zip(length).map_or_else(Vec::new, |(width, length)| {
                Plan::rectangle(width, length).corners
            });
        };
        let (span, items) = match corners.get_ref() {
            DeValue::Array(items) if (4..=MOST_CORNERS).contains(&items.len()) => {
                (corners.span(), items)
            }
            DeValue::Array(items) => {
                let expected = format!("4 to {MOST_CORNERS} corners");
                self.refuse(
                    corners.span(),
                    "floor.corners",
                    format!("{} corners", items.len()),
                    expected,
                    "give every corner once",
                );
                return Vec::new();
            }
            _ => {
                let expected = "a list such as [\"0 m, 0 m\", \"6 m, 0 m\", …]";
                self.refuse(
                    corners.span(),
                    "floor.corners",
                    "no list".to_owned(),
                    expected,
                    "put the corners in brackets",
                );
                return Vec::new();
            }
        };
        let mut places = Vec::new();
        let mut spans = Vec::new();
        for item in items.iter() {
            places.extend(self.place_of(item.get_ref(), item.span(), "floor.corners"));
            spans.push(item.span());
        }
        if places.len() < items.len() {
            return Vec::new();
        }
        let units = self.units;
        let said = |[x, y]: Point| {
            let [x, y] = [x, y].map(|metres| quantity::format(metres, Dimension::Length, units));
            format!("\"{x}, {y}\"")
        };
        match outline::checked(&places, said) {
            Err(wrong) => {
                let span = spans.get(wrong.corner).cloned().unwrap_or(span);
                self.refuse(
                    span,
                    "floor.corners",
                    wrong.found,
                    wrong.expected,
                    wrong.advice,
                );
                Vec::new()
            }
            Ok(corners) => corners,
        }
    }

    /// A length within its possible range; `None` where the key is left out or no such value.
    fn length(&mut self, table: &DeTable<'_>, key: &str, range: (f64, f64)) -> Option<f64> {
        let value = table.get(last(key))?;
        let metres = match value.get_ref() {
            DeValue::String(text) => match quantity::parse(text, Dimension::Length) {
                Ok(metres) => metres,
                Err(error) => {
                    let expected = format!("a length with its unit, {}", self.said_range(range));
                    self.refuse(
                        value.span(),
                        key,
                        error.found(),
                        expected,
                        "write number and unit",
                    );
                    return None;
                }
            },
            _ => {
                let expected = format!("a text in quotes, {}", self.said_range(range));
                self.refuse(
                    value.span(),
                    key,
                    "a value without quotes".to_owned(),
                    expected,
                    "write number and unit in quotes",
                );
                return None;
            }
        };
        if (range.0..=range.1).contains(&metres) {
            return Some(metres);
        }
        let found = self.said(metres);
        self.refuse(
            value.span(),
            key,
            found,
            self.said_range(range),
            "correct the number or the unit",
        );
        None
    }

    /// A place, with where it stands.
    fn place(&mut self, table: &DeTable<'_>, key: &str) -> Option<(Place, Point)> {
        let value = table.get(last(key))?;
        self.place_of(value.get_ref(), value.span(), key)
            .map(|place| (value.span(), place))
    }

    fn place_of(&mut self, value: &DeValue<'_>, span: Place, key: &str) -> Option<Point> {
        let expected = "two lengths with their units, across and up, such as \"3 m, 2.4 m\"";
        let text = value.as_str().unwrap_or_default();
        let Some((x, y)) = text.split_once(',') else {
            let found = if text.is_empty() {
                "no text in quotes".to_owned()
            } else {
                format!("\"{text}\"")
            };
            self.refuse(
                span,
                key,
                found,
                expected,
                "put both in one pair of quotes, with a comma between",
            );
            return None;
        };
        let mut place = [0.0; 2];
        for (axis, text) in [x, y].into_iter().enumerate() {
            match quantity::parse(text, Dimension::Length) {
                Ok(metres) if (PLACE_M.0..=PLACE_M.1).contains(&metres) => place[axis] = metres,
                Ok(metres) => {
                    let found = self.said(metres);
                    self.refuse(
                        span,
                        key,
                        found,
                        self.said_range(PLACE_M),
                        "correct the number or the unit",
                    );
                    return None;
                }
                Err(error) => {
                    self.refuse(
                        span,
                        key,
                        error.found(),
                        expected,
                        "write number and unit; decimals with a point",
                    );
                    return None;
                }
            }
        }
        Some(place)
    }

    fn count(&mut self, table: &DeTable<'_>) -> Option<u32> {
        let value = table.get("circuits")?;
        let count = value
            .get_ref()
            .as_integer()
            .and_then(|integer| u32::from_str_radix(integer.as_str(), integer.radix()).ok())
            .filter(|count| (1..=MOST_CIRCUITS).contains(count));
        if count.is_none() {
            let expected = format!("a whole number without quotes, 1 to {MOST_CIRCUITS}");
            self.refuse(
                value.span(),
                "floor.circuits",
                "another value".to_owned(),
                expected,
                "correct the number",
            );
        }
        count
    }

    /// The tables of a `[[name]]`, each with the place of its key for messages.
    fn tables<'t, 'a>(
        &mut self,
        root: &'t DeTable<'a>,
        name: &str,
    ) -> Vec<(Place, &'t DeTable<'a>)> {
        let Some((key, value)) = root.get_key_value(name) else {
            return Vec::new();
        };
        let tables: Option<Vec<_>> = match value.get_ref() {
            DeValue::Array(items) if items.len() <= MOST_OF_A_KIND => items
                .iter()
                .map(|item| match item.get_ref() {
                    DeValue::Table(table) => Some((item.span(), table)),
                    _ => None,
                })
                .collect(),
            _ => None,
        };
        let Some(tables) = tables else {
            let expected = format!("at most {MOST_OF_A_KIND} of [[{name}]], each with from and to");
            self.refuse(
                key.span(),
                name,
                "another value".to_owned(),
                expected,
                "write two pairs of brackets",
            );
            return Vec::new();
        };
        for (_, table) in &tables {
            self.known(table, name, &["from", "to"]);
        }
        tables
    }

    /// From and to of a table.
    fn ends(&mut self, span: Place, table: &DeTable<'_>, name: &str) -> Option<[Point; 2]> {
        let ends = ["from", "to"].map(|end| {
            if table.get(end).is_none() {
                self.refuse(
                    span.clone(),
                    name,
                    format!("no {end}"),
                    "from and to",
                    "add the two corners that face each other",
                );
            }
            self.place(table, &format!("{name}.{end}"))
                .map(|(_, place)| place)
        });
        ends[0].zip(ends[1]).map(|(from, to)| [from, to])
    }

    fn rectangles(&mut self, root: &DeTable<'_>, name: &str) -> Vec<(Place, Rect)> {
        let mut found: Vec<(Place, Rect)> = Vec::new();
        for (span, table) in self.tables(root, name) {
            let Some([from, to]) = self.ends(span.clone(), table, name) else {
                continue;
            };
            let low = [0, 1].map(|axis| from[axis].min(to[axis]));
            let high = [0, 1].map(|axis| from[axis].max(to[axis]));
            if (0..2).any(|axis| high[axis] - low[axis] < 1e-6) {
                let advice = "give two corners that face each other";
                self.refuse(
                    span,
                    name,
                    "a rectangle of no width".to_owned(),
                    "a rectangle",
                    advice,
                );
            } else if found.iter().any(|(_, other)| overlap(other, low, high)) {
                let found = format!("one of [[{name}]] that overlaps another");
                self.refuse(
                    span,
                    name,
                    found,
                    "rectangles beside each other",
                    "draw them as parts that do not overlap",
                );
            } else {
                found.push((span, Rect { low, high }));
            }
        }
        found
    }

    fn joints(&mut self, root: &DeTable<'_>) -> Vec<[Point; 2]> {
        let mut found = Vec::new();
        for (span, table) in self.tables(root, "joint") {
            let Some([from, to]) = self.ends(span.clone(), table, "joint") else {
                continue;
            };
            let alike = (0..2)
                .filter(|axis| (from[*axis] - to[*axis]).abs() < 1e-6)
                .count();
            if alike == 1 {
                found.push([from, to]);
            } else {
                let said = format!(
                    "a joint from {} to {}",
                    self.said_place(from),
                    self.said_place(to)
                );
                self.refuse(
                    span,
                    "joint",
                    said,
                    "a straight along one of the two directions",
                    "correct an end",
                );
            }
        }
        found
    }
}

fn last(key: &str) -> &str {
    key.rsplit('.').next().unwrap_or(key)
}

fn overlap(one: &Rect, low: Point, high: Point) -> bool {
    (0..2).all(|axis| low[axis] < one.high[axis] - 1e-9 && one.low[axis] < high[axis] - 1e-9)
}

/// Whether a rectangle is wholly on the floor: its middle is, and no side goes through it.
fn is_on(corners: &[Point], rect: &Rect) -> bool {
    let middle = [0, 1].map(|axis| f64::midpoint(rect.low[axis], rect.high[axis]));
    let mut sides = 0;
    for (from, to) in corners.iter().zip(corners.iter().cycle().skip(1)) {
        let low = [0, 1].map(|axis| from[axis].min(to[axis]));
        let high = [0, 1].map(|axis| from[axis].max(to[axis]));
        let enters = (0..2).all(|axis| {
            low[axis] < rect.high[axis] - 1e-9
                && rect.low[axis] + 1e-9 < high[axis].max(low[axis] + 2e-9)
        });
        if enters {
            return false;
        }
        if (from[1] > middle[1]) != (to[1] > middle[1]) && middle[0] < from[0] {
            sides += 1;
        }
    }
    sides % 2 == 1
}

/// Distance of a place from the nearest side, m.
fn from_wall_m(corners: &[Point], place: Point) -> f64 {
    let next = corners.iter().cycle().skip(1);
    corners
        .iter()
        .zip(next)
        .map(|(from, to)| {
            let [dx, dy] = [0, 1].map(|axis| {
                let (low, high) = (from[axis].min(to[axis]), from[axis].max(to[axis]));
                (low - place[axis]).max(place[axis] - high).max(0.0)
            });
            libm::hypot(dx, dy)
        })
        .fold(f64::INFINITY, f64::min)
}
