//! The climate of a place in one line: latitude, design night and twelve monthly means, as a climate table prints them.

use std::fmt;

use crate::files::quantity::{self, Dimension, Units};

/// What a person can look up of a place.
#[derive(Clone, Debug, PartialEq)]
pub struct Climate {
    /// Latitude, ° (+ north).
    pub latitude_deg: f64,
    /// Temperature that 99.6 % of the year's hours are above, °C.
    pub design_c: f64,
    /// Means of the air, January first, °C.
    pub monthly_c: [f64; 12],
    /// As it was written.
    text: String,
}

/// Latitudes taken, °: farther towards a pole a month may have no sun.
const LATITUDES: (f64, f64) = (0.0, 75.0);
/// Design nights taken, °C.
const DESIGN_C: (f64, f64) = (-60.0, 15.0);
/// Monthly means taken, °C.
const MEANS_C: (f64, f64) = (-50.0, 40.0);
/// How far below the coldest month's mean a design night can be, K: 8 to 25 in the tables known; estimate.
const BELOW_COLDEST_K: (f64, f64) = (4.0, 40.0);

/// An example in either system of units.
const EXAMPLE: &str = "\"40 N, -22 C, -2 -1 4 9 14 20 23 22 17 10 3 -2\" or \"40 N, -8 F, 28 30 39 48 57 68 73 72 63 50 37 28\"";

/// Why a text is no climate.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClimateError {
    /// What stands there.
    pub found: String,
    /// What should stand there.
    pub expected: String,
    /// What to do about it.
    pub advice: &'static str,
}

impl fmt::Display for ClimateError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "found {}; expected {}; {}",
            self.found, self.expected, self.advice
        )
    }
}

impl std::error::Error for ClimateError {}

impl fmt::Display for Climate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

impl Climate {
    /// Whether a text is meant as a climate: it begins with a latitude and goes on behind a comma.
    #[must_use]
    pub fn is_meant(text: &str) -> bool {
        text.split_once(',')
            .is_some_and(|(first, _)| latitude_deg(first).is_some())
    }

    /// Reads latitude, design night with its unit, and twelve monthly means, January first, in the same unit.
    ///
    /// # Errors
    /// What is missing or cannot be.
    pub fn parse(text: &str) -> Result<Self, ClimateError> {
        let mut parts = text.splitn(3, ',').map(str::trim);
        let (Some(latitude), Some(design), Some(means)) =
            (parts.next(), parts.next(), parts.next())
        else {
            return Err(ClimateError {
                found: format!("\"{text}\""),
                expected: format!(
                    "latitude, design night and twelve monthly means, such as {EXAMPLE}"
                ),
                advice: "put a comma behind the latitude and one behind the design night",
            });
        };
        let latitude_deg = latitude_deg(latitude)
            .filter(|degrees| (LATITUDES.0..=LATITUDES.1).contains(&degrees.abs()))
            .ok_or_else(|| ClimateError {
                found: format!("the latitude \"{latitude}\""),
                expected: format!(
                    "{} to {} with N or S, such as 40 N",
                    LATITUDES.0, LATITUDES.1
                ),
                advice: "correct it; whole degrees are enough",
            })?;
        let units = if quantity::unit_of(design).ends_with(['F', 'f']) {
            Units::Us
        } else {
            Units::Si
        };
        let said = |celsius| quantity::format(celsius, Dimension::Temperature, units);
        let outside = |what: String, (least, most): (f64, f64), advice| ClimateError {
            found: what,
            expected: format!("{} to {}", said(least), said(most)),
            advice,
        };
        let design_c = quantity::parse(design, Dimension::Temperature).map_err(|error| {
            ClimateError {
                found: format!("the design night {}", error.found()),
                expected: "a temperature with its unit, such as -22 C or -8 F".to_owned(),
                advice: "take the 99.6 % heating design temperature of a climate table, or the coldest night of most winters",
            }
        })?;
        if !(DESIGN_C.0..=DESIGN_C.1).contains(&design_c) {
            return Err(outside(
                format!("the design night {design}"),
                DESIGN_C,
                "correct the number or its unit",
            ));
        }
        let monthly_c = monthly_c(means, quantity::unit_of(design))?;
        if let Some(mean) = monthly_c
            .iter()
            .find(|mean| !(MEANS_C.0..=MEANS_C.1).contains(*mean))
        {
            return Err(outside(
                format!("a monthly mean of {}", said(*mean)),
                MEANS_C,
                "correct the number; monthly means stand in the design night's unit",
            ));
        }
        let coldest_c = monthly_c.iter().copied().fold(f64::INFINITY, f64::min);
        let possible = (coldest_c - BELOW_COLDEST_K.1, coldest_c - BELOW_COLDEST_K.0);
        if !(possible.0..=possible.1).contains(&design_c) {
            return Err(outside(
                format!(
                    "a design night of {} beside a coldest month of {} on the mean",
                    said(design_c),
                    said(coldest_c)
                ),
                possible,
                "means and design night must be in one unit and of one place",
            ));
        }
        Ok(Self {
            latitude_deg,
            design_c,
            monthly_c,
            text: text.trim().to_owned(),
        })
    }
}

/// `40 N`, `40.5° north`, `-35` or `35 S`, ° (+ north).
pub(crate) fn latitude_deg(text: &str) -> Option<f64> {
    let plain = text
        .trim()
        .to_lowercase()
        .replace('°', " ")
        .replace("deg", " ");
    let plain = plain.trim();
    let (number, sign) = ["north", "south", "n", "s"]
        .iter()
        .find_map(|word| Some((plain.strip_suffix(word)?, *word)))
        .map_or((plain, 1.0), |(number, word)| {
            (number, if word.starts_with('s') { -1.0 } else { 1.0 })
        });
    let degrees = quantity::plain_number(number)?;
    // A sign and a letter together say two things.
    (sign > 0.0 || degrees >= 0.0).then_some(sign * degrees)
}

/// Twelve numbers, each alone or with a unit; a unit at the end stands for all, the design night's where there is none.
fn monthly_c(text: &str, unit_of_design: &str) -> Result<[f64; 12], ClimateError> {
    let words: Vec<&str> = text
        .split([' ', ',', ';', '\t'])
        .filter(|word| !word.is_empty())
        .collect();
    let numbers: Vec<f64> = words
        .iter()
        .filter_map(|word| quantity::plain_number(word))
        .collect();
    let units: Vec<&str> = words
        .iter()
        .copied()
        .filter(|word| quantity::plain_number(word).is_none())
        .collect();
    let refuse = |found: String| {
        ClimateError {
        found,
        expected: "twelve monthly means of the air, January first, such as -2 -1 4 9 14 20 23 22 17 10 3 -2"
            .to_owned(),
        advice: "write twelve numbers with blanks between them, in the design night's unit",
    }
    };
    let numbers: [f64; 12] = numbers
        .try_into()
        .map_err(|numbers: Vec<f64>| refuse(format!("{} monthly means", numbers.len())))?;
    let unit = match units[..] {
        [] => unit_of_design,
        [unit] => unit,
        _ => return Err(refuse(format!("\"{text}\""))),
    };
    let mut celsius = [0.0; 12];
    for (celsius, number) in celsius.iter_mut().zip(numbers) {
        *celsius = quantity::parse(&format!("{number} {unit}"), Dimension::Temperature)
            .map_err(|_| refuse(format!("\"{unit}\" among the monthly means")))?;
    }
    Ok(celsius)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_in_either_unit_is_one_climate() {
        let si = Climate::parse("40 N, -22 C, -2 -1 4 9 14 20 23 22 17 10 3 -2").expect("SI");
        assert_eq!((si.latitude_deg, si.design_c), (40.0, -22.0));
        assert_eq!(si.monthly_c[0], -2.0);
        assert_eq!(si.monthly_c[6], 23.0);
        let us = Climate::parse("40° N, -8 °F, 28, 30, 39, 48, 57, 68, 73, 72, 63, 50, 37, 28 F")
            .expect("US");
        assert!((us.design_c + 22.2).abs() < 0.03);
        assert!((us.monthly_c[2] - 3.9).abs() < 0.03);
        let south =
            Climate::parse("35.5 S, -6 C, 22 21 19 15 10 7 6 8 11 15 18 21").expect("south");
        assert_eq!(south.latitude_deg, -35.5);
    }

    #[test]
    fn what_cannot_be_says_what_was_found_and_what_to_do() {
        for (text, parts) in [
            (
                "40 N",
                vec!["found \"40 N\"", "twelve monthly means", "comma"],
            ),
            ("90 N, -22 C, 1 2 3", vec!["\"90 N\"", "0 to 75"]),
            ("40 N, -22, 1 2 3", vec!["without a unit", "-22 C"]),
            ("40 N, -22 C, 1 2 3", vec!["3 monthly means", "twelve"]),
            (
                "40 N, 30 C, -2 -1 4 9 14 20 23 22 17 10 3 -2",
                vec!["30 C", "-60 °C to 15 °C"],
            ),
            (
                "40 N, 5 C, -2 -1 4 9 14 20 23 22 17 10 3 -2",
                vec![
                    "design night of 5 °C",
                    "coldest month of -2 °C",
                    "-42 °C to -6 °C",
                ],
            ),
            (
                "40 N, -8 F, -2 -1 4 9 14 20 23 22 17 10 3 -2",
                vec!["coldest month", "°F"],
            ),
            (
                "40 N, -22 C, -2 -1 4 9 14 20 23 22 17 10 3 cold",
                vec!["11 monthly means"],
            ),
        ] {
            let error = Climate::parse(text).expect_err(text).to_string();
            for part in parts {
                assert!(error.contains(part), "{part} is not in {error}");
            }
        }
        assert!(Climate::is_meant("40 N, nonsense"));
        assert!(!Climate::is_meant("own, log.csv"));
        assert!(!Climate::is_meant("chicago.epw"));
    }
}
