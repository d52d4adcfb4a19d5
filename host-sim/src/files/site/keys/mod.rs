//! The table of keys: name, meaning, usual and possible range, and where the value goes.

mod boiler;
mod floors;
mod house;
mod macros;
mod pipes;
mod sensors;

use super::SiteConfig;
use crate::files::quantity::Dimension;
use crate::files::weather::ClimateError;

/// A section of the site file.
pub(super) struct Section {
    pub(super) name: &'static str,
    pub(super) doc: &'static str,
    /// For a part that need not be there.
    pub(super) fit: Option<Fit>,
    pub(super) keys: &'static [Key],
}

/// Asks for and sets the presence of an optional part; a part made present that was not gets usual values.
#[derive(Clone, Copy)]
pub(super) struct Fit {
    pub(super) is_fitted: fn(&SiteConfig) -> bool,
    pub(super) set: fn(&mut SiteConfig, bool),
}

/// A key of a section.
pub(super) struct Key {
    pub(super) name: &'static str,
    pub(super) doc: &'static str,
    /// Whether a full site file gives it; the others override something that follows from a listed key.
    pub(super) is_listed: bool,
    pub(super) kind: Kind,
}

/// What a key's value is, and where it goes. Readers answer `None` where the part is not fitted; writers do nothing then.
pub(super) enum Kind {
    /// A physical value, in the dimension's base unit.
    Quantity {
        dimension: Dimension,
        typical: (f64, f64),
        allowed: (f64, f64),
        read: fn(&SiteConfig) -> Option<f64>,
        write: fn(&mut SiteConfig, f64),
    },
    /// A whole number.
    Count {
        typical: (u32, u32),
        allowed: (u32, u32),
        read: fn(&SiteConfig) -> Option<u32>,
        write: fn(&mut SiteConfig, u32),
    },
    /// A word from a list; the writer says whether it knows it.
    Choice {
        options: fn() -> Vec<&'static str>,
        read: fn(&SiteConfig) -> Option<&'static str>,
        write: fn(&mut SiteConfig, &str) -> bool,
    },
    /// Yes or no.
    Flag {
        read: fn(&SiteConfig) -> bool,
        write: fn(&mut SiteConfig, bool),
    },
    /// The name of a file or a climate.
    Text {
        read: fn(&SiteConfig) -> Option<String>,
        write: fn(&mut SiteConfig, &str) -> Result<(), ClimateError>,
    },
}

/// All sections in the order in which the demonstration file shows them and in which values are put in place.
pub(super) static SECTIONS: &[Section] = &[
    house::PLACE,
    house::HOUSE,
    house::CURTAIN,
    house::VENT,
    house::THERMAL_MASS,
    floors::SLAB,
    floors::STORE_FLOOR,
    floors::STORE,
    floors::EARTH,
    pipes::FLUID,
    pipes::CIRCULATOR,
    pipes::SUPPLY_RUN,
    pipes::RETURN_RUN,
    boiler::BOILER,
    sensors::SUPPLY,
    sensors::RETURN,
    sensors::SLAB,
    sensors::OUTDOOR,
    sensors::AIR,
    sensors::STORE,
    sensors::PLACING,
    house::START,
];
