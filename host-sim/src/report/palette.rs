//! Colours that stay apart for every kind of colour vision, and a second sign beside each.
//!
//! Okabe and Ito, "Color Universal Design" (2008), as in Wong, Nature Methods 8, 441 (2011). Whatever
//! shares a colour differs in pattern or dash.

use controller_core::reason::Reason;
use plotly::common::{DashType, PatternShape};

use crate::series::CurveName;

pub(crate) const BLACK: &str = "#000000";
pub(crate) const ORANGE: &str = "#E69F00";
pub(crate) const SKY: &str = "#56B4E9";
pub(crate) const GREEN: &str = "#009E73";
pub(crate) const BLUE: &str = "#0072B2";
pub(crate) const VERMILLION: &str = "#D55E00";
pub(crate) const PURPLE: &str = "#CC79A7";
pub(crate) const GREY: &str = "#999999";
pub(crate) const LIGHT: &str = "#DDDDDD";

/// Fill of a reason.
#[derive(Clone, Debug)]
pub(crate) struct Fill {
    pub(crate) colour: &'static str,
    pub(crate) pattern: PatternShape,
}

const fn fill(colour: &'static str, pattern: PatternShape) -> Fill {
    Fill { colour, pattern }
}

pub(crate) const fn reason(reason: Reason) -> Fill {
    use PatternShape as P;
    match reason {
        Reason::Boot => fill(GREY, P::Cross),
        Reason::Drained => fill(BLACK, P::Dot),
        Reason::Overheat => fill(BLACK, P::None),
        Reason::Frost => fill(BLUE, P::None),
        Reason::Backup => fill(VERMILLION, P::None),
        Reason::Harvest => fill(GREEN, P::None),
        Reason::PostRun => fill(VERMILLION, P::RightDiagonalLine),
        Reason::Manual => fill(PURPLE, P::None),
        Reason::Exercise => fill(PURPLE, P::RightDiagonalLine),
        Reason::MinimumTime => fill(GREY, P::RightDiagonalLine),
        Reason::NotWorthwhile => fill(ORANGE, P::None),
        Reason::Satisfied => fill(LIGHT, P::None),
    }
}

/// Stroke of a curve: colour, dash, width in pixels.
pub(crate) const fn curve(name: CurveName) -> (&'static str, DashType, f64) {
    match name {
        CurveName::Slab => (BLACK, DashType::Solid, 2.0),
        CurveName::Supply => (VERMILLION, DashType::Solid, 1.0),
        CurveName::Return => (ORANGE, DashType::Dot, 1.2),
        CurveName::Outdoor => (SKY, DashType::Solid, 1.0),
        CurveName::OutdoorMean => (BLUE, DashType::Dash, 1.6),
        CurveName::StoreEstimate => (GREEN, DashType::Dot, 1.6),
        CurveName::Air => (PURPLE, DashType::Solid, 1.0),
        CurveName::Store => (GREEN, DashType::Solid, 1.6),
    }
}
