//! One value of a site file: from TOML to the configuration, and back to the text the demonstration file shows.

use toml::de::DeValue;

use super::SiteConfig;
use super::keys::{Key, Kind};
use super::spoken;
use crate::files::quantity::{self, Dimension, QuantityFault, Units};

/// Why a value is refused: found, expected, what to do.
pub(super) struct Refusal {
    pub(super) found: String,
    pub(super) expected: String,
    pub(super) advice: String,
}

fn refusal(found: String, expected: String, advice: impl Into<String>) -> Refusal {
    Refusal {
        found,
        expected,
        advice: advice.into(),
    }
}

/// Checks a value and puts it where the key says.
pub(super) fn apply(
    key: &Key,
    value: &DeValue<'_>,
    config: &mut SiteConfig,
    units: Units,
) -> Result<(), Refusal> {
    match &key.kind {
        Kind::Quantity {
            dimension,
            typical,
            allowed,
            write,
            ..
        } => {
            let number = read_quantity(
                key.name,
                value,
                *dimension,
                Scale::of_key(*dimension, *typical, units),
                *allowed,
            )?;
            write(config, number);
        }
        Kind::Count { allowed, write, .. } => {
            let expected = || {
                format!(
                    "a whole number without quotes, {} to {}",
                    allowed.0, allowed.1
                )
            };
            let number = value
                .as_integer()
                .and_then(|integer| u32::from_str_radix(integer.as_str(), integer.radix()).ok())
                .filter(|number| (allowed.0..=allowed.1).contains(number))
                .ok_or_else(|| refusal(shown(value), expected(), "correct the number"))?;
            write(config, number);
        }
        Kind::Choice { options, write, .. } => {
            let is_known = value.as_str().is_some_and(|text| write(config, text));
            if !is_known {
                let expected = options()
                    .iter()
                    .map(|option| format!("\"{option}\""))
                    .collect::<Vec<_>>()
                    .join(" or ");
                return Err(refusal(shown(value), expected, "take one of these words"));
            }
        }
        Kind::Flag { write, .. } => {
            let is_on = value.as_bool().ok_or_else(|| {
                refusal(
                    shown(value),
                    "true or false, without quotes".to_owned(),
                    "write one of the two",
                )
            })?;
            write(config, is_on);
        }
        Kind::Text { write, .. } => {
            let text = value
                .as_str()
                .filter(|text| !text.trim().is_empty())
                .ok_or_else(|| {
                    refusal(
                        shown(value),
                        "a text in quotes".to_owned(),
                        "write it, or leave the key out",
                    )
                })?;
            write(config, text)
                .map_err(|error| refusal(error.found, error.expected, error.advice))?;
        }
    }
    Ok(())
}

/// A physical value in its dimension's base unit, within the possible range.
fn read_quantity(
    key: &str,
    value: &DeValue<'_>,
    dimension: Dimension,
    scale: Scale,
    allowed: (f64, f64),
) -> Result<f64, Refusal> {
    let range = || scale.range(allowed);
    let number = match (value, dimension) {
        (DeValue::String(text), _) => match spoken::said(key, text) {
            Some(number) => number,
            None => quantity::parse(text, dimension).map_err(|error| {
                refusal(
                    shown(value),
                    format!("a value with its unit, {}", range()),
                    unit_advice(error.fault(), scale),
                )
            })?,
        },
        // A pure number needs no unit and no quotes.
        (DeValue::Integer(_) | DeValue::Float(_), Dimension::Fraction) => {
            shown(value).parse().unwrap_or(f64::NAN)
        }
        (DeValue::Integer(_) | DeValue::Float(_), _) => {
            let advice = bare_advice(&shown(value), dimension, allowed);
            return Err(refusal(
                format!("the bare number {}", shown(value)),
                format!("a value with its unit, {}", range()),
                advice,
            ));
        }
        _ => {
            return Err(refusal(
                shown(value),
                format!("a text in quotes, {}", range()),
                "write number and unit",
            ));
        }
    };
    if (allowed.0..=allowed.1).contains(&number) {
        Ok(number)
    } else {
        Err(refusal(
            shown(value),
            range(),
            "correct the number or the unit",
        ))
    }
}

/// Units with which a bare number would be possible, those that are usual first.
fn bare_advice(number: &str, dimension: Dimension, allowed: (f64, f64)) -> String {
    let fitting: Vec<String> = quantity::unit_names(dimension)
        .map(|unit| format!("{number} {unit}"))
        .filter(|text| {
            quantity::parse(text, dimension)
                .is_ok_and(|value| (allowed.0..=allowed.1).contains(&value))
        })
        .take(3)
        .map(|text| format!("\"{text}\""))
        .collect();
    if fitting.is_empty() {
        format!(
            "no unit makes {number} possible here: correct the number and put it in quotes with its unit"
        )
    } else {
        format!("put it in quotes with its unit: {}", fitting.join(" or "))
    }
}

/// What to do about a text that is no value of the wanted kind.
fn unit_advice(fault: &QuantityFault, scale: Scale) -> String {
    let unit = if scale.unit().is_empty() {
        "%"
    } else {
        scale.unit()
    };
    match fault {
        QuantityFault::NoNumber => "begin with the number".to_owned(),
        QuantityFault::DecimalComma => "write a decimal point".to_owned(),
        QuantityFault::NoUnit => format!("add the unit, for example {unit}"),
        QuantityFault::UnknownUnit(unknown) => {
            format!("the unit \"{unknown}\" is not known; write for example {unit}")
        }
        QuantityFault::OtherDimension(_) => {
            format!("that unit measures something else; write for example {unit}")
        }
        QuantityFault::NotFinite => "correct the number".to_owned(),
    }
}

/// The value as a message shows it.
fn shown(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => format!("\"{text}\""),
        DeValue::Integer(integer) => integer.to_string(),
        DeValue::Float(float) => float.as_str().to_owned(),
        DeValue::Boolean(flag) => flag.to_string(),
        DeValue::Datetime(time) => time.to_string(),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a section".to_owned(),
    }
}

/// Units in which small or large values read better: dimension, from, below, factor, unit.
const HANDY_UNITS: [(Dimension, f64, f64, f64, &str); 7] = [
    (Dimension::Length, 1e-12, 0.1, 1e3, "mm"),
    (
        Dimension::HeatCapacityVolumetric,
        1e5,
        f64::INFINITY,
        1e-6,
        "MJ/m³K",
    ),
    (Dimension::Power, 1e3, f64::INFINITY, 1e-3, "kW"),
    (Dimension::FlowRate, 0.25, f64::INFINITY, 3.6, "m3/h"),
    (Dimension::Duration, 60.0, 3600.0, 1.0 / 60.0, "min"),
    (Dimension::Duration, 3600.0, 86_400.0, 1.0 / 3600.0, "h"),
    (
        Dimension::Duration,
        86_400.0,
        f64::INFINITY,
        1.0 / 86_400.0,
        "d",
    ),
];

/// Units in which a person in the United States says it, where the dimension has several: dimension, from, below, unit.
const HANDY_US_UNITS: [(Dimension, f64, f64, &str); 7] = [
    (Dimension::Length, 1e-12, 0.5, "in"),
    // Water is said in gallons, a room's air in cubic feet.
    (Dimension::Volume, 10.0, f64::INFINITY, "ft³"),
    // Watts are on a circulator's plate, Btu/h on a boiler's.
    (Dimension::Power, 0.0, 1e3, "W"),
    (Dimension::Power, 1e3, f64::INFINITY, "kBtu/h"),
    (Dimension::Duration, 60.0, 3600.0, "min"),
    (Dimension::Duration, 3600.0, 86_400.0, "h"),
    (Dimension::Duration, 86_400.0, f64::INFINITY, "d"),
];

/// The unit in which values of one kind are written.
#[derive(Clone, Copy)]
pub(super) enum Scale {
    /// A factor from the base unit, and the unit: every digit a person wrote comes back.
    Si {
        /// Unit per base unit.
        factor: f64,
        /// Its name.
        unit: &'static str,
    },
    /// A US unit, rounded to four digits.
    Us {
        /// Of what.
        dimension: Dimension,
        /// Its name.
        unit: &'static str,
    },
}

impl Scale {
    /// The unit in which a value of that size reads best.
    fn for_size(size: f64, dimension: Dimension, units: Units) -> Self {
        let fits = |of: Dimension, from: f64, below: f64| {
            of == dimension && (from..below).contains(&size.abs())
        };
        match units {
            Units::Si => HANDY_UNITS
                .iter()
                .find(|(of, from, below, ..)| fits(*of, *from, *below))
                .map_or(
                    Self::Si {
                        factor: 1.0,
                        unit: dimension.base_unit(),
                    },
                    |(.., factor, unit)| Self::Si {
                        factor: *factor,
                        unit,
                    },
                ),
            Units::Us if dimension == Dimension::Fraction => Self::Si {
                factor: 1.0,
                unit: dimension.base_unit(),
            },
            Units::Us => Self::Us {
                dimension,
                unit: HANDY_US_UNITS
                    .iter()
                    .find(|(of, from, below, _)| fits(*of, *from, *below))
                    .map_or_else(|| dimension.display_unit(units), |(.., unit)| unit),
            },
        }
    }

    /// The unit of a key, by what is usual for it: all its figures are shown in one.
    pub(super) fn of_key(dimension: Dimension, typical: (f64, f64), units: Units) -> Self {
        let size = if typical.0 == 0.0 {
            typical.1
        } else {
            typical.0
        };
        Self::for_size(size, dimension, units)
    }

    /// Its unit's name; empty for a pure number.
    pub(super) const fn unit(self) -> &'static str {
        match self {
            Self::Si { unit, .. } | Self::Us { unit, .. } => unit,
        }
    }

    pub(super) fn number(self, value: f64) -> f64 {
        match self {
            Self::Si { factor, .. } => nine_digits(value * factor),
            Self::Us { dimension, unit } => four_digits(quantity::in_unit(value, dimension, unit)),
        }
    }

    /// A value in its base unit as the site file writes it: number, blank, unit; a pure number alone.
    pub(super) fn value(self, value: f64) -> String {
        format!("{} {}", self.number(value), self.unit())
            .trim_end()
            .to_owned()
    }

    /// The ends of a range as numbers, in US units within it.
    pub(super) fn ends(self, (low, high): (f64, f64)) -> [f64; 2] {
        match self {
            Self::Si { .. } => [low, high].map(|end| self.number(end)),
            Self::Us { dimension, unit } => {
                let ends = [low, high].map(|end| quantity::in_unit(end, dimension, unit));
                within(ends, dimension).into()
            }
        }
    }

    /// A range; in US units of what a person would say within it.
    pub(super) fn range(self, (low, high): (f64, f64)) -> String {
        match self {
            Self::Si { .. } => format!("{} to {}", self.number(low), self.value(high)),
            Self::Us { unit, .. } => {
                let [low, high] = self.ends((low, high));
                format!("{low} to {high} {unit}")
            }
        }
    }
}

/// What a person says of a converted value.
fn four_digits(value: f64) -> f64 {
    let rounded: f64 = format!("{value:.3e}").parse().unwrap_or(value);
    if rounded.abs() < 1e-9 { 0.0 } else { rounded }
}

/// The ends of a range with two digits, a temperature's in whole degrees, neither outside it.
fn within([low, high]: [f64; 2], dimension: Dimension) -> (f64, f64) {
    let step = |end: f64| match dimension {
        _ if end == 0.0 => 1.0,
        Dimension::Temperature => 1.0,
        _ => libm::pow(10.0, libm::log10(end.abs()).floor() - 1.0),
    };
    // What is a round number but for the last bit stays what it is.
    let near = 1e-6;
    let rounded = (
        (low / step(low) - near).ceil() * step(low),
        (high / step(high) + near).floor() * step(high),
    );
    (four_digits(rounded.0), four_digits(rounded.1))
}

/// Nine digits hold every figure a person writes and hide the last bit of a unit's factor.
fn nine_digits(value: f64) -> f64 {
    format!("{value:.8e}").parse().unwrap_or(value)
}

/// A value in the unit that suits its size.
pub(super) fn written(value: f64, dimension: Dimension, units: Units) -> String {
    Scale::for_size(value, dimension, units).value(value)
}

/// The unit that a key's numbers are shown in; empty for words and whole numbers.
pub(super) fn unit_of_key(key: &Key, units: Units) -> &'static str {
    match &key.kind {
        Kind::Quantity {
            dimension, typical, ..
        } => Scale::of_key(*dimension, *typical, units).unit(),
        Kind::Count { .. } | Kind::Choice { .. } | Kind::Flag { .. } | Kind::Text { .. } => "",
    }
}

/// What is usual for a key of a physical value.
pub(super) fn usual_of_key(key: &Key, units: Units) -> String {
    match &key.kind {
        Kind::Quantity {
            dimension, typical, ..
        } => Scale::of_key(*dimension, *typical, units).range(*typical),
        Kind::Count { .. } | Kind::Choice { .. } | Kind::Flag { .. } | Kind::Text { .. } => {
            String::new()
        }
    }
}

/// The value of a key in a configuration as a person says it: rounded in US units, since the configuration's is not.
pub(super) fn said_of_key(key: &Key, config: &SiteConfig, units: Units) -> String {
    match &key.kind {
        Kind::Quantity {
            dimension,
            typical,
            read,
            ..
        } => {
            let value = read(config).unwrap_or(typical.0);
            match Scale::of_key(*dimension, *typical, units) {
                Scale::Us { dimension, unit } => {
                    let number = quantity::in_unit(value, dimension, unit);
                    let number = match dimension {
                        Dimension::Temperature => number.round(),
                        _ => format!("{number:.1e}").parse().unwrap_or(number),
                    };
                    format!("{number} {unit}")
                }
                scale @ Scale::Si { .. } => scale.value(value),
            }
        }
        _ => text_of(key, config, units).unwrap_or_default(),
    }
}

/// The value a key has in a configuration, as the site file writes it; `None` where the part it belongs to is not fitted.
pub(super) fn text_of(key: &Key, config: &SiteConfig, units: Units) -> Option<String> {
    match &key.kind {
        Kind::Quantity {
            dimension,
            typical,
            read,
            ..
        } => {
            let text = Scale::of_key(*dimension, *typical, units).value(read(config)?);
            let is_pure = *dimension == Dimension::Fraction;
            Some(if is_pure { text } else { format!("\"{text}\"") })
        }
        Kind::Count { read, .. } => Some(read(config)?.to_string()),
        Kind::Choice { read, .. } => Some(format!("\"{}\"", read(config)?)),
        Kind::Flag { read, .. } => Some(read(config).to_string()),
        Kind::Text { read, .. } => Some(format!("\"{}\"", read(config)?)),
    }
}
