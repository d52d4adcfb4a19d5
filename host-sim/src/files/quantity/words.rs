//! Values in the trade's own words, which are not a number and a unit: feet and inches, R-values, a time of day.

use super::Dimension::{self, HeatLossCoefficient, Length, ThermalResistance};
use super::{FOOT_M, INCH_M, Units, parse};

/// One h·ft²·°F/Btu, the unit of an R-value, in m²·K/W.
const R_M2K_W: &str = "1 h·ft²·°F/Btu";

/// A value said in words of the trade, in the dimension's base unit; `None` for everything else.
pub(super) fn said(text: &str, dimension: Dimension) -> Option<f64> {
    match dimension {
        Length => feet_and_inches(text),
        ThermalResistance => r_value(text),
        HeatLossCoefficient => r_value(text).map(|resistance| 1.0 / resistance),
        _ => None,
    }
}

/// Feet and inches as people write them, `30' 6"`, `30 ft 6 in`, `30'` or `6"`, m.
fn feet_and_inches(text: &str) -> Option<f64> {
    let number = |text: &str| text.trim().parse::<f64>().ok().filter(|n| *n >= 0.0);
    let inches = |text: &str| {
        let text = text.trim_end();
        ["\"", "inches", "inch", "in"]
            .iter()
            .find_map(|unit| text.strip_suffix(unit))
            .and_then(number)
    };
    for unit in ["'", "feet", "foot", "ft"] {
        let Some((feet, rest)) = text.split_once(unit) else {
            continue;
        };
        let feet = number(feet)?;
        let inches = if rest.trim().is_empty() {
            0.0
        } else {
            inches(rest).filter(|inches| *inches < 12.0)?
        };
        return Some(feet * FOOT_M + inches * INCH_M);
    }
    text.ends_with('"')
        .then(|| inches(text))
        .flatten()
        .map(|inches| inches * INCH_M)
}

/// Whether a text is meant as an R-value.
pub(crate) fn is_r_value(text: &str) -> bool {
    r_value(text).is_some()
}

/// Insulation as it is sold: `R-10` in h·ft²·°F/Btu, `RSI-1.76` in m²·K/W; both become m²·K/W.
fn r_value(text: &str) -> Option<f64> {
    let text = text.trim();
    let begins = |word: &str| {
        let head = text.get(..word.len())?;
        let rest = text.get(word.len()..)?.trim_start();
        head.eq_ignore_ascii_case(word)
            .then(|| rest.strip_prefix('-').unwrap_or(rest).trim_start())
    };
    let (number, unit) = match begins("RSI") {
        Some(number) => (number, 1.0),
        None => (begins("R")?, parse(R_M2K_W, ThermalResistance).ok()?),
    };
    let number: f64 = number.parse().ok().filter(|number| *number >= 0.0)?;
    Some(number * unit)
}

/// SI units that sentences have, with what they measure.
const TOLD: [(&str, Dimension); 11] = [
    ("°C", Dimension::Temperature),
    ("K", Dimension::TemperatureDifference),
    ("mm", Length),
    ("m", Length),
    ("L", Dimension::Volume),
    ("kg", Dimension::Mass),
    ("bar", Dimension::Pressure),
    ("W/m2K", HeatLossCoefficient),
    ("W/mK", Dimension::Conductivity),
    ("J/m3K", Dimension::HeatCapacityVolumetric),
    ("MJ/m3K", Dimension::HeatCapacityVolumetric),
];

/// A sentence in these units: every number before a unit of °C, K, m and the like in the trade's unit, `8 to 45 °C` as a whole,
/// with no more digits than it is worth. In SI it stays as it is.
#[must_use]
pub fn told(sentence: &str, units: Units) -> String {
    if units == Units::Si {
        return sentence.to_owned();
    }
    let mut words: Vec<String> = sentence.split(' ').map(str::to_owned).collect();
    for at in 1..words.len() {
        let unit = words[at].trim_end_matches(['.', ',', ';', ':', ')', '"']);
        let Some((unit, dimension)) = TOLD.iter().find(|(known, _)| *known == unit) else {
            continue;
        };
        let Some((number, shown)) = converted(&words[at - 1], unit, *dimension) else {
            continue;
        };
        words[at - 1] = number;
        words[at] = words[at].replacen(unit, shown, 1);
        // The other end of a range has no unit of its own.
        let is_range = at >= 3 && matches!(words[at - 2].as_str(), "to" | "and" | "or");
        if let Some((number, _)) = is_range
            .then(|| converted(&words[at - 3], unit, *dimension))
            .flatten()
        {
            words[at - 3] = number;
        }
    }
    words.join(" ")
}

/// A word that is a number, with any mark before it, as it is said in the United States; and the unit.
fn converted(word: &str, unit: &str, dimension: Dimension) -> Option<(String, &'static str)> {
    let begin = word.find(|c: char| c.is_ascii_digit() || c == '-')?;
    let (mark, number) = word.split_at(begin);
    let value = parse(&format!("{number} {unit}"), dimension).ok()?;
    let shown = match dimension {
        Length if value.abs() < 0.5 => "in",
        _ => dimension.display_unit(Units::Us),
    };
    let value = super::in_unit(value, dimension, shown);
    let text = match (dimension, number.contains('.')) {
        (Dimension::Temperature, false) => format!("{value:.0}"),
        (Dimension::Temperature, true) => format!("{value:.1}"),
        _ => {
            let digits: f64 = format!("{value:.1e}").parse().ok()?;
            digits.to_string()
        }
    };
    let text = if text == "-0" { "0" } else { &text };
    Some((format!("{mark}{text}"), shown))
}

/// A number alone, without a unit.
pub(crate) fn plain_number(text: &str) -> Option<f64> {
    text.trim()
        .replace('\u{2212}', "-")
        .parse()
        .ok()
        .filter(|number: &f64| number.is_finite())
}

/// A time of day: `18:00`, `6 pm`, `6:30 PM`, `noon`.
#[must_use]
pub fn time_of_day(text: &str) -> Option<jiff::civil::Time> {
    let text = text.trim();
    // A date and time would pass for a time as well.
    if let Some(time) = text.parse().ok().filter(|_| text.len() <= 8) {
        return Some(time);
    }
    let lower = text.to_ascii_lowercase();
    if lower == "noon" {
        return jiff::civil::Time::new(12, 0, 0, 0).ok();
    }
    let (time, add) = match lower.strip_suffix("am") {
        Some(time) => (time, 0),
        None => (lower.strip_suffix("pm")?, 12),
    };
    let (hour, minute) = match time.trim().split_once(':') {
        Some((hour, minute)) => (hour, minute.parse().ok()?),
        None => (time.trim(), 0),
    };
    let hour: i8 = hour.parse().ok().filter(|hour| (1..=12).contains(hour))?;
    jiff::civil::Time::new(hour % 12 + add, minute, 0, 0).ok()
}
