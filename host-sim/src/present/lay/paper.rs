//! Paper and scale: on which sheet a floor goes, and how large.

use super::Shown;
use crate::files::quantity::Units;

/// Width and height of a sheet held upright, mm.
pub(super) type Sheet = [f64; 2];

const A3: Sheet = [297.0, 420.0];
const A4: Sheet = [210.0, 297.0];
const TABLOID: Sheet = [279.4, 431.8];
const LETTER: Sheet = [215.9, 279.4];

/// Not printed on at any edge, mm.
pub(super) const MARGIN_MM: f64 = 10.0;
/// Shown on both of two neighbouring sheets, mm.
pub(super) const OVERLAP_MM: f64 = 10.0;

impl Shown<'_> {
    /// The large sheet that takes a whole floor, and the small one of the tables and tiles.
    pub(super) const fn sheets(&self) -> [Sheet; 2] {
        match self.units {
            Units::Si => [A3, A4],
            Units::Us => [TABLOID, LETTER],
        }
    }

    /// One to so many: as asked, else the largest usual scale at which the floor fits the large sheet, else the largest.
    pub(super) fn scale(&self) -> f64 {
        // Half an inch and three eighths to the foot.
        let usual: [u32; 2] = match self.units {
            Units::Si => [20, 25],
            Units::Us => [24, 32],
        };
        let fits = |scale: &u32| self.turned(f64::from(*scale)).is_some();
        f64::from(
            self.scale
                .or_else(|| usual.into_iter().find(fits))
                .unwrap_or(usual[0]),
        )
    }

    /// The large sheet held as the drawing at this scale fits it; `None` where it does not.
    pub(super) fn turned(&self, scale: f64) -> Option<Sheet> {
        let [width, height] = super::scene::scene(self, scale).size_mm();
        let [short, long] = self.sheets()[0];
        [[long, short], [short, long]].into_iter().find(|sheet| {
            width <= sheet[0] - 2.0 * MARGIN_MM && height <= sheet[1] - 2.0 * MARGIN_MM
        })
    }
}
