//! The plan file: the floor on which tube is to be laid, with what stands on it.
//!
//! TOML like the site file: every length is a text with its unit, a place is two of them. What is wrong is told with its line and column.

mod outline;
mod read;

use std::path::Path;

use crate::files::input;
use crate::files::site::SiteError;

/// A place on the floor, m: across and up.
pub type Point = [f64; 2];

/// A rectangle along the walls, m.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rect {
    /// Its lower left corner.
    pub low: Point,
    /// Its upper right corner.
    pub high: Point,
}

/// A floor and what is to be known of it before tube is laid.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Corners in order, m; all angles are right ones.
    pub corners: Vec<Point>,
    /// Where the tubes come up, m: at a wall.
    pub entry: Point,
    /// Least distance of a tube's middle from edges and obstacles, m.
    pub edge_m: f64,
    /// Distance of the bars of the reinforcement mesh, m.
    pub mesh_m: Option<f64>,
    /// A crossing of its bars, m.
    pub mesh_start: Option<Point>,
    /// Least radius the tube may be bent to, m.
    pub bend_radius_m: Option<f64>,
    /// Circuits wanted.
    pub count: Option<u32>,
    /// Where the slab's sensor is to be, m.
    pub sensor: Option<Point>,
    /// Posts, drains, pits.
    pub obstacles: Vec<Rect>,
    /// Joints of the concrete, from end to end, m.
    pub joints: Vec<[Point; 2]>,
    /// Regions drawn for the circuits; none: they are found.
    pub circuits: Vec<Rect>,
}

/// Least distance from edges unless the plan says otherwise, m (common practice, no source: 3 to 6 in).
pub const EDGE_M: f64 = 0.15;

impl Plan {
    /// An empty rectangle with the manifold in a corner, m.
    #[must_use]
    pub fn rectangle(width_m: f64, length_m: f64) -> Self {
        Self::of_outline(vec![
            [0.0, 0.0],
            [length_m, 0.0],
            [length_m, width_m],
            [0.0, width_m],
        ])
    }

    /// An empty floor with the manifold in its first corner; corners in m.
    #[must_use]
    pub fn of_outline(corners: Vec<Point>) -> Self {
        Self {
            entry: corners.first().copied().unwrap_or_default(),
            corners,
            edge_m: EDGE_M,
            mesh_m: None,
            mesh_start: None,
            bend_radius_m: None,
            count: None,
            sensor: None,
            obstacles: Vec::new(),
            joints: Vec::new(),
            circuits: Vec::new(),
        }
    }

    /// Reads and checks a file.
    ///
    /// # Errors
    /// The file cannot be read, or every wrong place in it.
    pub fn read(path: &Path) -> Result<Self, SiteError> {
        let file = path.display().to_string();
        let text = input::text(path).map_err(|cause| SiteError::Unreadable {
            file: file.clone(),
            cause,
        })?;
        Self::parse(&text, &file)
    }

    /// Reads and checks a text; `file` names it in messages.
    ///
    /// # Errors
    /// Every wrong place in the text.
    pub fn parse(text: &str, file: &str) -> Result<Self, SiteError> {
        read::plan(text, file)
    }
}

#[cfg(test)]
mod tests;
