//! The rules: each figure against practice or standard, with the source, in words.
//!
//! A rule says "will not work" only where the loop cannot do what is asked of it; a caution is
//! for what can stop, freeze or cool a loop that works; practice that is not followed is to be checked.

mod heat;
mod rest;
mod tubes;

use super::Check;
use super::lines::{Draft, Figure, Group, Line};
use crate::files::quantity::show::{Show, fixed};
use crate::files::quantity::{Dimension, Units};

/// Every line, in the order of [`Group::ALL`].
#[must_use]
pub fn lines(check: &Check, units: Units) -> Vec<Line> {
    let with = With {
        check,
        show: Show(units),
        units,
    };
    let mut lines = tubes::circuits(&with);
    lines.extend(tubes::circulator(&with));
    lines.extend(heat::heat(&with));
    lines.extend(heat::store(&with));
    lines.extend(rest::backup(&with));
    lines.extend(rest::frost(&with));
    lines.extend(rest::filling(&with));
    lines
}

/// What every rule looks at.
struct With<'a> {
    check: &'a Check,
    show: Show,
    units: Units,
}

impl With<'_> {
    fn draft(
        &self,
        group: Group,
        key: impl Into<String>,
        what: impl Into<String>,
        figure: Figure,
        (rule, source): (String, &'static str),
    ) -> Draft {
        Draft {
            group,
            key: key.into(),
            what: what.into(),
            figure,
            rule,
            source,
        }
    }

    fn temperature(&self, celsius: f64) -> String {
        self.show.temperature(celsius)
    }

    fn difference(&self, kelvin: f64) -> String {
        self.show.difference(kelvin)
    }

    fn length(&self, metres: f64) -> String {
        self.show.number(metres, Dimension::Length, 0)
    }

    fn head(&self, metres: f64) -> String {
        self.show.number(metres, Dimension::Head, 2)
    }

    fn flow(&self, litres_s: f64) -> String {
        self.show.number(litres_s, Dimension::FlowRate, 3)
    }

    fn power(&self, watts: f64) -> String {
        self.show.number(watts, Dimension::Power, 0)
    }

    fn volume(&self, litres: f64) -> String {
        Figure::Litres(litres).text(self.units)
    }

    /// Metres a second; feet a second in US units.
    fn velocity(&self, m_s: f64) -> String {
        Figure::Velocity(m_s).text(self.units)
    }
}

/// A share in whole per cent.
fn percent(share: f64) -> String {
    format!("{} %", fixed(100.0 * share, 0))
}

/// A section of the site file as a person calls it.
fn place(section: &str) -> String {
    section.replace('_', " ")
}
