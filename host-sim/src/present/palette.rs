//! Colours that stay apart for every kind of colour vision, and a second sign beside each.
//!
//! Okabe and Ito, "Color Universal Design" (2008), as in Wong, Nature Methods 8, 441 (2011). Whatever
//! shares a colour differs in hatching or dash. The page's style gives each its shade on light and on dark.

use controller_core::reason::Reason;

use crate::account::series::CurveName;

/// A colour by its place in the palette.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ink {
    Black,
    Orange,
    Sky,
    Green,
    Blue,
    Vermillion,
    Purple,
    Grey,
    Light,
}

impl Ink {
    /// Its class in the page's style.
    pub(crate) const fn class(self) -> &'static str {
        match self {
            Self::Black => "black",
            Self::Orange => "orange",
            Self::Sky => "sky",
            Self::Green => "green",
            Self::Blue => "blue",
            Self::Vermillion => "vermillion",
            Self::Purple => "purple",
            Self::Grey => "grey",
            Self::Light => "light",
        }
    }
}

/// How a line is broken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Dash {
    Solid,
    Dashed,
    Dotted,
    Chain,
    Long,
}

impl Dash {
    /// Lengths of strokes and gaps.
    pub(crate) const fn array(self) -> Option<&'static str> {
        match self {
            Self::Solid => None,
            Self::Dashed => Some("6 4"),
            Self::Dotted => Some("2 3"),
            Self::Chain => Some("7 3 2 3"),
            Self::Long => Some("12 4"),
        }
    }
}

/// Colour, dash and width of a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Stroke {
    pub(crate) ink: Ink,
    pub(crate) dash: Dash,
    pub(crate) width: f64,
}

pub(crate) const fn stroke(ink: Ink, dash: Dash, width: f64) -> Stroke {
    Stroke { ink, dash, width }
}

/// What is laid over a filled area.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Hatch {
    None,
    Diagonal,
    Cross,
    Dots,
}

impl Hatch {
    /// All that are drawn, with the path of their tile of six by six.
    pub(crate) const DRAWN: [(Self, &'static str); 3] = [
        (Self::Diagonal, "M-1 1L1 -1M0 6L6 0M5 7L7 5"),
        (Self::Cross, "M0 3H6M3 0V6"),
        (Self::Dots, "M2 3H4"),
    ];

    pub(crate) const fn id(self) -> Option<&'static str> {
        match self {
            Self::None => None,
            Self::Diagonal => Some("diagonal"),
            Self::Cross => Some("cross"),
            Self::Dots => Some("dots"),
        }
    }
}

/// How an area is filled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Fill {
    pub(crate) ink: Ink,
    pub(crate) hatch: Hatch,
}

pub(crate) const fn fill(ink: Ink, hatch: Hatch) -> Fill {
    Fill { ink, hatch }
}

pub(crate) const fn reason(reason: Reason) -> Fill {
    use Hatch as H;
    match reason {
        Reason::Boot => fill(Ink::Grey, H::Cross),
        Reason::Drained => fill(Ink::Black, H::Dots),
        Reason::Overheat => fill(Ink::Black, H::None),
        Reason::Frost => fill(Ink::Blue, H::None),
        Reason::Backup => fill(Ink::Vermillion, H::None),
        Reason::StoreHeat => fill(Ink::Green, H::None),
        Reason::PostRun => fill(Ink::Vermillion, H::Diagonal),
        Reason::Manual => fill(Ink::Purple, H::None),
        Reason::Exercise => fill(Ink::Purple, H::Diagonal),
        Reason::MinimumTime => fill(Ink::Grey, H::Diagonal),
        Reason::NotWorthwhile => fill(Ink::Orange, H::None),
        Reason::WarmEnough => fill(Ink::Light, H::None),
    }
}

/// Stroke of a curve.
pub(crate) const fn curve(name: CurveName) -> Stroke {
    match name {
        CurveName::Slab => stroke(Ink::Black, Dash::Solid, 2.0),
        CurveName::Supply => stroke(Ink::Vermillion, Dash::Solid, 1.0),
        CurveName::Return => stroke(Ink::Orange, Dash::Dotted, 1.4),
        CurveName::Outdoor => stroke(Ink::Sky, Dash::Solid, 1.2),
        CurveName::OutdoorMean => stroke(Ink::Blue, Dash::Dashed, 1.6),
        CurveName::StoreEstimate => stroke(Ink::Green, Dash::Dotted, 1.6),
        CurveName::Air => stroke(Ink::Purple, Dash::Solid, 1.2),
        CurveName::Store => stroke(Ink::Green, Dash::Solid, 1.6),
    }
}
