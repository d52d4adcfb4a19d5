//! What goes into the site file: every key that follows a value this log told, with its range, and the text with each change commented.

use jiff::civil::Date;

use super::parameters::{COUNT, PARAMETERS, Point, Role, at, flow_l_s};
use super::verdict::{Fitted, NINETY};
use crate::files::form::{Edit, edited};
use crate::files::quantity::{self, Dimension, Units};
use crate::files::site::{Changeable, SiteConfig};

/// Words before the range in a comment; a later fit finds the range by them.
pub(super) const RANGE: &str = "9 of 10: ";
/// Beginning of a comment of ours.
pub(super) const MARK: &str = "# Fitted ";

/// A key that changes.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// Row of the table of values.
    pub index: usize,
    /// The key.
    pub key: &'static str,
    /// What it measures.
    pub dimension: Dimension,
    /// Value in the file so far, base unit.
    pub old: f64,
    /// Value found.
    pub new: f64,
    /// The range that holds the truth nine times of ten.
    pub range: (f64, f64),
    /// Whether the log tells it; else it goes with the other values.
    pub known: bool,
}

/// Every key that changes, in the order of the table.
#[must_use]
pub fn changes(fitted: &Fitted, site: &SiteConfig) -> Vec<Change> {
    let mut changes = Vec::new();
    for value in fitted.values.iter().filter(|value| value.x != 0.0) {
        let parameter = &PARAMETERS[value.index];
        if parameter.role != Role::Fitted {
            continue;
        }
        let config = |x: f64| {
            let mut point: Point = [0.0; COUNT];
            point[value.index] = x;
            let (mut plant, offsets) = at(&site.plant, &point);
            offsets.put(&mut plant.sensors);
            SiteConfig {
                plant,
                ..site.clone()
            }
        };
        let half = NINETY * value.sigma;
        for &key in parameter.keys {
            let Ok(place) = Changeable::find(key) else {
                continue;
            };
            let number = |x: f64| place.number(&config(x));
            let old = place.number(site).or_else(|| {
                // A flow that was never measured is worked out from the pump.
                (key == "circulator.measured_flow").then(|| flow_l_s(&site.plant))
            });
            if let (Some(old), Some(new), Some(low), Some(high), Some(dimension)) = (
                old,
                number(value.x),
                number(value.x - half),
                number(value.x + half),
                place.dimension(),
            ) {
                changes.push(Change {
                    index: value.index,
                    key,
                    dimension,
                    old,
                    new: digits(new, 4),
                    range: (digits(low, 3), digits(high, 3)),
                    known: value.known,
                });
            }
        }
    }
    changes
}

/// A number to so many digits.
fn digits(number: f64, count: i32) -> f64 {
    if number == 0.0 || !number.is_finite() {
        return number;
    }
    let scale = libm::pow(
        10.0,
        f64::from(count - 1) - libm::floor(libm::log10(number.abs())),
    );
    (number * scale).round() / scale
}

impl Change {
    /// A value of this key as the site file writes it.
    #[must_use]
    pub fn text(&self, number: f64, units: Units) -> String {
        Changeable::find(self.key).map_or_else(
            |_| number.to_string(),
            |place| place.written_in(number, units).to_string(),
        )
    }
}

/// The site file with these changes, each with a comment above it; everything else byte for byte.
///
/// # Errors
/// A text that is no TOML, in words.
pub fn site_file(
    original: &str,
    changes: &[Change],
    nights: usize,
    days: (Date, Date),
) -> Result<String, String> {
    let units = quantity::units_in(original);
    let edits: Vec<Edit> = changes
        .iter()
        .map(|change| {
            let (section, name) = change.key.split_once('.').unwrap_or(("", change.key));
            let value = change.text(change.new, units);
            let range = if change.known {
                format!(
                    "{RANGE}{} to {}",
                    change.text(change.range.0, units),
                    change.text(change.range.1, units)
                )
            } else {
                "not known by itself, goes with the other values".to_owned()
            };
            Edit {
                section: section.to_owned(),
                name: name.to_owned(),
                value: match change.dimension {
                    Dimension::Fraction => value,
                    _ => format!("\"{value}\""),
                },
                comment: format!(
                    "{MARK}from {nights} nights of {} to {}: was {}; {range}.",
                    days.0,
                    days.1,
                    change.text(change.old, units)
                ),
            }
        })
        .collect();
    edited(original, &edits)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn change(key: &'static str, dimension: Dimension, old: f64, new: f64) -> Change {
        Change {
            index: 0,
            key,
            dimension,
            old,
            new,
            range: (new * 0.9, new * 1.1),
            known: key != "earth.mean",
        }
    }

    #[test]
    fn only_the_values_change_and_each_says_what_it_was() {
        let original = "# mine\n[house]\nwidth = \"3.6 m\"\nglazing_u_value = \"3.4 W/m²K\" # twin-wall\n\n[slab]\nspacing = \"0.25 m\"\n";
        let changes = [
            change(
                "house.glazing_u_value",
                Dimension::HeatLossCoefficient,
                3.4,
                3.8,
            ),
            change("slab.exchange", Dimension::Fraction, 1.0, 1.1),
            change("earth.mean", Dimension::Temperature, 7.8, 8.0),
        ];
        let days = (Date::constant(2025, 12, 1), Date::constant(2025, 12, 28));
        let text = site_file(original, &changes, 21, days).expect("a site file");
        assert_eq!(
            text,
            "# mine\n[house]\nwidth = \"3.6 m\"\n\
             # Fitted from 21 nights of 2025-12-01 to 2025-12-28: was 3.4 W/m²K; 9 of 10: 3.42 W/m²K to 4.18 W/m²K.\n\
             glazing_u_value = \"3.8 W/m²K\" # twin-wall\n\n[slab]\n\
             # Fitted from 21 nights of 2025-12-01 to 2025-12-28: was 1; 9 of 10: 0.99 to 1.21.\n\
             exchange = 1.1\nspacing = \"0.25 m\"\n\n[earth]\n\
             # Fitted from 21 nights of 2025-12-01 to 2025-12-28: was 7.8 °C; not known by itself, goes with the other values.\n\
             mean = \"8 °C\"\n"
        );
        let site = crate::files::site::Site::parse(&text, "fitted.toml").expect("readable");
        assert!((site.config.plant.house.glazing_u_w_m2k - 3.8).abs() < 1e-9);
        assert!((site.config.plant.floor.exchange - 1.1).abs() < 1e-9);
    }

    #[test]
    fn numbers_keep_so_many_digits() {
        assert_eq!(digits(3.418_76, 3), 3.42);
        assert_eq!(digits(-0.012_345, 3), -0.0123);
        assert_eq!(digits(2_184_321.0, 4), 2_184_000.0);
        assert_eq!(digits(0.0, 3), 0.0);
    }
}
