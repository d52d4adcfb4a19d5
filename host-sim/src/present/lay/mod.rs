//! A laid floor as text, JSON, drawing and sheets to print.

mod json;
mod map;
mod page;
mod paper;
mod pdf;
mod scene;
mod svg;
mod text;
mod words;

use crate::files::plan::Plan;
use crate::files::quantity::Units;
use crate::questions::lay::Laid;

pub use json::json;
pub use page::page;
pub use pdf::pdf;
pub use svg::svg;
pub use text::text;

/// What is shown, and how.
#[derive(Clone, Copy, Debug)]
pub struct Shown<'a> {
    /// The laid floor that is drawn.
    pub laid: &'a Laid,
    /// The same floor laid the other way, where both were asked for.
    pub other: Option<&'a Laid>,
    /// The plan.
    pub plan: &'a Plan,
    /// The tube's name.
    pub tube: &'a str,
    /// The house's name.
    pub house: &'a str,
    /// When it was made.
    pub made: &'a str,
    /// The house's floor as the site has it, m².
    pub site_floor_m2: f64,
    /// The scale asked for, one to so many.
    pub scale: Option<u32>,
    /// Units shown.
    pub units: Units,
}

#[cfg(test)]
mod tests;
