//! Physical values as people write them: a number and a unit, SI or US, read into the one unit a dimension has inside.
//!
//! The dimension comes from the key, so that `"4.5 °F"` is a point where a point is wanted and a difference where a difference
//! is. A bare number is refused: it has no meaning until somebody guesses its unit.
//!
//! Factors are the exact definitions in NIST SP 811 (2008), appendix B: inch, foot, US gallon (231 in³), pound, standard
//! gravity, and the British thermal unit of the International Table, 1055.05585262 J. A cord is 128 ft³ of stacked wood
//! (NIST Handbook 130, from memory).

mod error;
pub(crate) mod show;
mod words;

use std::{error as std_error, fmt, str::FromStr};

pub use error::{QuantityError, QuantityFault};
pub(crate) use words::{is_r_value, plain_number};
pub use words::{time_of_day, told};

use Dimension::{
    AirChange, Angle, Area, Conductivity, Duration, Energy, FlowRate, Fraction, Head,
    HeatCapacityVolumetric, HeatLoss, HeatLossCoefficient, Irradiance, Length, LinearLoss, Mass,
    Power, Pressure, RatePerKelvin, SpecificHeat, Temperature, TemperatureDifference,
    TemperatureRate, ThermalResistance, Volume,
};

/// What a value measures, with the unit it has inside.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Dimension {
    /// A temperature point, °C.
    Temperature,
    /// A temperature difference, K.
    TemperatureDifference,
    /// A change of temperature with time, K/h.
    TemperatureRate,
    /// A duration, s.
    Duration,
    /// A length, m.
    Length,
    /// An area, m².
    Area,
    /// A volume, m³.
    Volume,
    /// A volume flow rate, L/s.
    FlowRate,
    /// A power or heat flow rate, W.
    Power,
    /// An energy, kWh.
    Energy,
    /// A mass, kg.
    Mass,
    /// A pressure, Pa.
    Pressure,
    /// A pump's or a circuit's head, m of the fluid.
    Head,
    /// A heat transfer or heat loss coefficient, W/(m²·K).
    HeatLossCoefficient,
    /// A heat loss of a whole, W/K.
    HeatLoss,
    /// A heat loss of an edge by its length, W/(m·K).
    LinearLoss,
    /// A thermal conductivity, W/(m·K).
    Conductivity,
    /// A thermal resistance of an area, m²·K/W.
    ThermalResistance,
    /// A heat capacity by volume, J/(m³·K).
    HeatCapacityVolumetric,
    /// A heat capacity by mass, J/(kg·K).
    SpecificHeat,
    /// A heat flux of sun or sky, W/m².
    Irradiance,
    /// An angle, degrees.
    Angle,
    /// An air change rate, 1/h.
    AirChange,
    /// A fraction, 1; the one dimension whose values may stand without a unit.
    Fraction,
    /// A change of one temperature with another, K/K.
    RatePerKelvin,
}

/// The units a value is shown in.
#[derive(Clone, Copy, PartialEq, Eq, Debug, Default)]
pub enum Units {
    /// SI, with the trade's °C, L/s and kWh.
    #[default]
    Si,
    /// US customary.
    Us,
}

impl FromStr for Units {
    type Err = UnitsError;

    fn from_str(text: &str) -> Result<Units, UnitsError> {
        match text {
            "si" => Ok(Units::Si),
            "us" => Ok(Units::Us),
            _ => Err(UnitsError {
                found: text.to_owned(),
            }),
        }
    }
}

/// A choice of units that is none.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnitsError {
    found: String,
}

impl std_error::Error for UnitsError {}

impl fmt::Display for UnitsError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "found \"{}\"; expected si or us", self.found)
    }
}

/// How a dimension is named and shown.
struct Description {
    name: &'static str,
    example: &'static str,
    base: &'static str,
    si: Shown,
    us: Shown,
}

/// A unit to show values in, and how many decimals at most.
#[derive(Clone, Copy)]
struct Shown {
    unit: &'static str,
    decimals: usize,
}

const fn shown(unit: &'static str, decimals: usize) -> Shown {
    Shown { unit, decimals }
}

const fn describe(
    name: &'static str,
    example: &'static str,
    base: &'static str,
    si: Shown,
    us: Shown,
) -> Description {
    Description {
        name,
        example,
        base,
        si,
        us,
    }
}

impl Dimension {
    #[rustfmt::skip]
    const fn description(self) -> Description {
        match self {
            Temperature => describe("a temperature", "\"4.0 °C\" or \"39 °F\"", "°C", shown("°C", 2), shown("°F", 2)),
            TemperatureDifference => describe("a temperature difference", "\"2.5 K\" or \"4.5 °F\"", "K", shown("K", 2), shown("°F", 2)),
            TemperatureRate => describe("a change of temperature with time", "\"0.05 K/h\" or \"0.1 °F/h\"", "K/h", shown("K/h", 3), shown("°F/h", 3)),
            Duration => describe("a duration", "\"10 min\", \"2 h\" or \"7 d\"", "s", shown("s", 3), shown("s", 3)),
            Length => describe("a length", "\"86 m\", \"16 mm\" or \"280 ft\"", "m", shown("m", 3), shown("ft", 3)),
            Area => describe("an area", "\"21.6 m²\" or \"232 ft²\"", "m²", shown("m²", 2), shown("ft²", 1)),
            Volume => describe("a volume", "\"12 L\", \"0.3 m³\" or \"80 gal\"", "m³", shown("m³", 4), shown("gal", 2)),
            FlowRate => describe("a flow rate", "\"0.06 L/s\" or \"0.95 gpm\"", "L/s", shown("L/s", 4), shown("gpm", 3)),
            Power => describe("a power", "\"45 W\", \"12 kW\" or \"41 kBtu/h\"", "W", shown("W", 1), shown("Btu/h", 0)),
            Energy => describe("an energy", "\"120 kWh\" or \"400 kBtu\"", "kWh", shown("kWh", 2), shown("kBtu", 1)),
            Mass => describe("a mass", "\"25 kg\" or \"55 lb\"", "kg", shown("kg", 2), shown("lb", 1)),
            Pressure => describe("a pressure", "\"150 kPa\", \"1.5 bar\" or \"22 psi\"", "Pa", shown("Pa", 0), shown("psi", 3)),
            Head => describe("a head", "\"4.5 m\" or \"15 ft\"", "m", shown("m", 2), shown("ft", 2)),
            HeatLossCoefficient => describe("a heat loss coefficient", "\"3.4 W/m²K\", \"0.6 Btu/h·ft²·°F\" or \"R-1.7\"", "W/m²K", shown("W/m²K", 3), shown("Btu/h·ft²·°F", 4)),
            HeatLoss => describe("a heat loss", "\"250 W/K\" or \"470 Btu/h·°F\"", "W/K", shown("W/K", 2), shown("Btu/h·°F", 1)),
            LinearLoss => describe("a heat loss by length", "\"0.93 W/mK\" or \"0.54 Btu/h·ft·°F\"", "W/mK", shown("W/mK", 4), shown("Btu/h·ft·°F", 4)),
            Conductivity => describe("a thermal conductivity", "\"1.8 W/mK\" or \"1.04 Btu/h·ft·°F\"", "W/mK", shown("W/mK", 4), shown("Btu/h·ft·°F", 4)),
            ThermalResistance => describe("a thermal resistance", "\"1.5 m²K/W\", \"8.5 h·ft²·°F/Btu\" or \"R-8.5\"", "m²K/W", shown("m²K/W", 4), shown("h·ft²·°F/Btu", 3)),
            HeatCapacityVolumetric => describe("a heat capacity by volume", "\"2.1 MJ/m³K\" or \"31 Btu/ft³·°F\"", "J/m³K", shown("MJ/m³K", 4), shown("Btu/ft³·°F", 3)),
            SpecificHeat => describe("a heat capacity by mass", "\"4190 J/kgK\" or \"1.0 Btu/lb·°F\"", "J/kgK", shown("J/kgK", 1), shown("Btu/lb·°F", 4)),
            Irradiance => describe("a heat flux", "\"500 W/m²\" or \"160 Btu/h·ft²\"", "W/m²", shown("W/m²", 1), shown("Btu/h·ft²", 1)),
            Angle => describe("an angle", "\"30 deg\"", "deg", shown("deg", 2), shown("deg", 2)),
            AirChange => describe("an air change rate", "\"0.75 1/h\"", "1/h", shown("1/h", 3), shown("1/h", 3)),
            Fraction => describe("a fraction", "\"0.35\" or \"35 %\"", "", shown("%", 2), shown("%", 2)),
            RatePerKelvin => describe("a change of one temperature with another", "\"0.10 K/K\" or \"0.10 °F/°F\"", "K/K", shown("K/K", 4), shown("°F/°F", 4)),
        }
    }

    /// The unit [`parse`] returns values in.
    pub fn base_unit(self) -> &'static str {
        self.description().base
    }

    /// The unit [`format`](fn@format) shows values in; of durations the smallest.
    pub fn display_unit(self, units: Units) -> &'static str {
        self.shown(units).unit
    }

    fn shown(self, units: Units) -> Shown {
        match units {
            Units::Si => self.description().si,
            Units::Us => self.description().us,
        }
    }
}

/// A unit: a value v in it is (v + `zero`) × `numerator` / `denominator` in the dimension's base unit. Two factors, because a
/// quotient of exact numbers is rounded once: `"35 mm"` is the same number as `"0.035 m"`.
struct Unit {
    /// All spellings, [plain](plain_unit).
    names: &'static [&'static str],
    dimension: Dimension,
    zero: f64,
    numerator: f64,
    denominator: f64,
}

const fn unit(
    names: &'static [&'static str],
    dimension: Dimension,
    numerator: f64,
    denominator: f64,
) -> Unit {
    Unit {
        names,
        dimension,
        zero: 0.0,
        numerator,
        denominator,
    }
}

const INCH_M: f64 = 0.0254;
const FOOT_M: f64 = 0.3048;
const SQUARE_FOOT_M2: f64 = 0.092_903_04;
const CUBIC_FOOT_M3: f64 = 0.028_316_846_592;
const GALLON_L: f64 = 3.785_411_784;
const POUND_KG: f64 = 0.453_592_37;
const BTU_J: f64 = 1_055.055_852_62;
/// Pound-force by standard gravity, over the square inch.
const PSI_PA: f64 = POUND_KG * 9.806_65 / (INCH_M * INCH_M);
const HOUR_S: f64 = 3600.0;

#[rustfmt::skip]
const UNITS: &[Unit] = &[
    unit(&["C", "degC", "c"], Temperature, 1.0, 1.0),
    Unit { names: &["F", "degF", "f"], dimension: Temperature, zero: -32.0, numerator: 5.0, denominator: 9.0 },
    unit(&["K", "C", "degC"], TemperatureDifference, 1.0, 1.0),
    unit(&["F", "degF"], TemperatureDifference, 5.0, 9.0),
    unit(&["K/h", "C/h"], TemperatureRate, 1.0, 1.0),
    unit(&["K/min", "C/min"], TemperatureRate, 60.0, 1.0),
    unit(&["K/d", "C/d"], TemperatureRate, 1.0, 24.0),
    unit(&["F/h"], TemperatureRate, 5.0, 9.0),
    unit(&["F/min"], TemperatureRate, 300.0, 9.0),
    unit(&["s", "sec", "second", "seconds"], Duration, 1.0, 1.0),
    unit(&["ms"], Duration, 1.0, 1000.0),
    unit(&["min", "minute", "minutes"], Duration, 60.0, 1.0),
    unit(&["h", "hour", "hours"], Duration, HOUR_S, 1.0),
    unit(&["d", "day", "days"], Duration, 24.0 * HOUR_S, 1.0),
    unit(&["m"], Length, 1.0, 1.0),
    unit(&["mm"], Length, 1.0, 1000.0),
    unit(&["cm"], Length, 1.0, 100.0),
    unit(&["km"], Length, 1000.0, 1.0),
    unit(&["in", "inch", "inches"], Length, INCH_M, 1.0),
    unit(&["ft", "foot", "feet"], Length, FOOT_M, 1.0),
    unit(&["m2"], Area, 1.0, 1.0),
    unit(&["ft2", "sqft"], Area, SQUARE_FOOT_M2, 1.0),
    unit(&["m3"], Volume, 1.0, 1.0),
    unit(&["L", "l", "litre", "litres", "liter", "liters"], Volume, 1.0, 1000.0),
    unit(&["gal", "gallon", "gallons"], Volume, GALLON_L, 1000.0),
    unit(&["ft3", "cuft"], Volume, CUBIC_FOOT_M3, 1.0),
    unit(&["cord", "cords"], Volume, 128.0 * CUBIC_FOOT_M3, 1.0),
    unit(&["L/s", "l/s"], FlowRate, 1.0, 1.0),
    unit(&["L/min", "l/min"], FlowRate, 1.0, 60.0),
    unit(&["L/h", "l/h"], FlowRate, 1.0, HOUR_S),
    unit(&["m3/h"], FlowRate, 1000.0, HOUR_S),
    unit(&["gpm", "GPM", "gal/min"], FlowRate, GALLON_L, 60.0),
    unit(&["W", "watt", "watts"], Power, 1.0, 1.0),
    unit(&["kW"], Power, 1000.0, 1.0),
    unit(&["Btu/h", "BtuH", "Btuh"], Power, BTU_J, HOUR_S),
    unit(&["kBtu/h", "MBH", "Mbh", "MBtuh"], Power, 1000.0 * BTU_J, HOUR_S),
    unit(&["kWh"], Energy, 1.0, 1.0),
    unit(&["Wh"], Energy, 1.0, 1000.0),
    unit(&["MWh"], Energy, 1000.0, 1.0),
    unit(&["J"], Energy, 1.0, 1000.0 * HOUR_S),
    unit(&["kJ"], Energy, 1.0, HOUR_S),
    unit(&["MJ"], Energy, 1000.0, HOUR_S),
    unit(&["GJ"], Energy, 1.0e6, HOUR_S),
    unit(&["Btu"], Energy, BTU_J, 1000.0 * HOUR_S),
    unit(&["kBtu"], Energy, BTU_J, HOUR_S),
    unit(&["kg"], Mass, 1.0, 1.0),
    unit(&["g"], Mass, 1.0, 1000.0),
    unit(&["t"], Mass, 1000.0, 1.0),
    unit(&["lb", "lbs", "pound", "pounds"], Mass, POUND_KG, 1.0),
    unit(&["Pa"], Pressure, 1.0, 1.0),
    unit(&["hPa", "mbar"], Pressure, 100.0, 1.0),
    unit(&["kPa"], Pressure, 1000.0, 1.0),
    unit(&["MPa"], Pressure, 1.0e6, 1.0),
    unit(&["bar"], Pressure, 1.0e5, 1.0),
    unit(&["psi"], Pressure, PSI_PA, 1.0),
    unit(&["m"], Head, 1.0, 1.0),
    unit(&["cm"], Head, 1.0, 100.0),
    unit(&["ft"], Head, FOOT_M, 1.0),
    unit(&["W/m2K", "W/m2C"], HeatLossCoefficient, 1.0, 1.0),
    unit(&["Btu/hft2F"], HeatLossCoefficient, BTU_J * 9.0, HOUR_S * SQUARE_FOOT_M2 * 5.0),
    unit(&["W/K", "W/C"], HeatLoss, 1.0, 1.0),
    unit(&["kW/K", "kW/C"], HeatLoss, 1000.0, 1.0),
    unit(&["Btu/hF"], HeatLoss, BTU_J * 9.0, HOUR_S * 5.0),
    unit(&["W/mK", "W/mC"], LinearLoss, 1.0, 1.0),
    unit(&["Btu/hftF"], LinearLoss, BTU_J * 9.0, HOUR_S * FOOT_M * 5.0),
    unit(&["W/mK", "W/mC"], Conductivity, 1.0, 1.0),
    unit(&["Btu/hftF"], Conductivity, BTU_J * 9.0, HOUR_S * FOOT_M * 5.0),
    unit(&["Btuin/hft2F"], Conductivity, BTU_J * 9.0 * INCH_M, HOUR_S * SQUARE_FOOT_M2 * 5.0),
    unit(&["m2K/W", "m2C/W"], ThermalResistance, 1.0, 1.0),
    unit(&["hft2F/Btu", "ft2hF/Btu", "ft2Fh/Btu", "Fhft2/Btu"], ThermalResistance, HOUR_S * SQUARE_FOOT_M2 * 5.0, BTU_J * 9.0),
    unit(&["J/m3K", "J/m3C"], HeatCapacityVolumetric, 1.0, 1.0),
    unit(&["kJ/m3K", "kJ/m3C"], HeatCapacityVolumetric, 1000.0, 1.0),
    unit(&["MJ/m3K", "MJ/m3C"], HeatCapacityVolumetric, 1.0e6, 1.0),
    unit(&["Btu/ft3F"], HeatCapacityVolumetric, BTU_J * 9.0, CUBIC_FOOT_M3 * 5.0),
    unit(&["J/kgK", "J/kgC"], SpecificHeat, 1.0, 1.0),
    unit(&["kJ/kgK", "kJ/kgC"], SpecificHeat, 1000.0, 1.0),
    unit(&["Btu/lbF"], SpecificHeat, BTU_J * 9.0, POUND_KG * 5.0),
    unit(&["W/m2"], Irradiance, 1.0, 1.0),
    unit(&["kW/m2"], Irradiance, 1000.0, 1.0),
    unit(&["Btu/hft2", "Btu/ft2h"], Irradiance, BTU_J, HOUR_S * SQUARE_FOOT_M2),
    unit(&["deg", "degree", "degrees"], Angle, 1.0, 1.0),
    unit(&["rad"], Angle, 180.0, std::f64::consts::PI),
    unit(&["1/h", "/h"], AirChange, 1.0, 1.0),
    unit(&["", "1"], Fraction, 1.0, 1.0),
    unit(&["%"], Fraction, 1.0, 100.0),
    unit(&["K/K", "C/C", "F/F"], RatePerKelvin, 1.0, 1.0),
];

/// The system of units a text's values are written in: US where any of them is in °F, feet, gallons or Btu. A tube's size says
/// nothing: inch sizes are sold in many countries.
#[must_use]
pub fn units_in(text: &str) -> Units {
    const SIGNS: [&str; 12] = [
        "°F", " F\"", " ft\"", " in\"", " gpm\"", " gal\"", " lb\"", "Btu", "MBH", " psi\"",
        "\"R-", "'\"",
    ];
    let is_us = text
        .lines()
        .map(|line| line.split('#').next().unwrap_or_default())
        .filter(|line| !line.trim_start().starts_with("tube"))
        .any(|line| SIGNS.iter().any(|sign| line.contains(sign)));
    if is_us { Units::Us } else { Units::Si }
}

/// Every unit of a dimension, in its shortest usual spelling.
pub fn unit_names(dimension: Dimension) -> impl Iterator<Item = &'static str> {
    UNITS
        .iter()
        .filter(move |unit| unit.dimension == dimension)
        .filter_map(|unit| unit.names.first().copied())
}

/// Reads a number and a unit of `dimension`; the result is in [`Dimension::base_unit`].
///
/// Spaces, `·`, `*` and brackets in a unit do not matter, nor `²` or `2`, `°` or none: `W/(m²·K)` is `W/m2K`.
///
/// # Errors
/// No number, no unit, a unit that is unknown or of another dimension, a value beyond all numbers.
pub fn parse(text: &str, dimension: Dimension) -> Result<f64, QuantityError> {
    let refuse = |fault| QuantityError {
        found: text.to_owned(),
        dimension,
        fault,
    };
    let trimmed = text.trim().replace('\u{2212}', "-");
    if let Some(value) = words::said(&trimmed, dimension) {
        return if value.is_finite() {
            Ok(value)
        } else {
            Err(refuse(QuantityFault::NotFinite))
        };
    }
    let (number, unit) = trimmed.split_at(number_length(&trimmed));
    if unit.starts_with(',') {
        return Err(refuse(QuantityFault::DecimalComma));
    }
    let value: f64 = number
        .parse()
        .map_err(|_| refuse(QuantityFault::NoNumber))?;
    let plain = plain_unit(unit);
    let mut meanings = UNITS
        .iter()
        .filter(|unit| unit.names.contains(&plain.as_str()));
    match meanings.clone().find(|unit| unit.dimension == dimension) {
        Some(unit) => {
            let value = (value + unit.zero) * unit.numerator / unit.denominator;
            if value.is_finite() {
                Ok(value)
            } else {
                Err(refuse(QuantityFault::NotFinite))
            }
        }
        None if plain.is_empty() => Err(refuse(QuantityFault::NoUnit)),
        None => Err(refuse(match meanings.next() {
            Some(other) => QuantityFault::OtherDimension(other.dimension),
            None => QuantityFault::UnknownUnit(unit.trim().to_owned()),
        })),
    }
}

/// A value in the dimension's base unit, in the unit it is shown in; with that unit.
pub fn convert(value: f64, dimension: Dimension, units: Units) -> (f64, &'static str) {
    let name = dimension.display_unit(units);
    (in_unit(value, dimension, name), name)
}

/// A value in the dimension's base unit as text for people: rounded, trailing zeros dropped, with a unit [`parse`] reads.
/// Durations are shown in the largest of s, min, h and d that they reach.
pub fn format(value: f64, dimension: Dimension, units: Units) -> String {
    let Shown { unit, decimals } = match dimension {
        Duration => match value.abs() {
            ..60.0 => shown("s", 3),
            ..3600.0 => shown("min", 2),
            ..86_400.0 => shown("h", 2),
            _ => shown("d", 2),
        },
        // A tube's spacing is said in inches, its length in feet.
        Length if units == Units::Us && value.abs() < INCH_M => shown("in", 2),
        Length if units == Units::Us && value.abs() < 0.5 => shown("in", 1),
        _ => dimension.shown(units),
    };
    let number = format!("{:.decimals$}", in_unit(value, dimension, unit));
    let number = if number.contains('.') {
        number.trim_end_matches('0').trim_end_matches('.')
    } else {
        &number
    };
    let number = if number == "-0" { "0" } else { number };
    format!("{number} {unit}")
}

/// A value in its base unit in another unit of its dimension.
pub(crate) fn in_unit(value: f64, dimension: Dimension, name: &str) -> f64 {
    let plain = plain_unit(name);
    // Every shown unit is in the table: a test holds it.
    UNITS
        .iter()
        .find(|unit| unit.dimension == dimension && unit.names.contains(&plain.as_str()))
        .map_or(value, |unit| {
            value * unit.denominator / unit.numerator - unit.zero
        })
}

/// A number to so many digits that count, at least one.
#[must_use]
pub fn to_digits(value: f64, digits: usize) -> f64 {
    format!("{value:.*e}", digits.saturating_sub(1))
        .parse()
        .unwrap_or(value)
}

/// What follows the number at the beginning of a text: its unit, or nothing.
pub fn unit_of(text: &str) -> &str {
    let trimmed = text.trim();
    trimmed[number_length(trimmed)..].trim_start()
}

/// How many bytes at the start are a decimal number.
fn number_length(text: &str) -> usize {
    let bytes = text.as_bytes();
    let digits = |from: usize| {
        bytes[from..]
            .iter()
            .take_while(|byte| byte.is_ascii_digit())
            .count()
    };
    let mut end = usize::from(matches!(bytes.first(), Some(b'+' | b'-')));
    end += digits(end);
    if bytes.get(end) == Some(&b'.') {
        end += 1;
        end += digits(end);
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(end + 1), Some(b'+' | b'-')));
        let exponent = digits(end + 1 + sign);
        if exponent > 0 {
            end += 1 + sign + exponent;
        }
    }
    end
}

/// A unit in plain letters: one `/` at most, no marks of multiplication, powers as digits, `Btu` and `h` in one spelling.
fn plain_unit(unit: &str) -> String {
    let unit = unit.trim();
    let mut plain = String::with_capacity(unit.len());
    let mut characters = unit.chars().peekable();
    while let Some(character) = characters.next() {
        match character {
            ' ' | '\u{a0}' | '\u{202f}' | '\u{b7}' | '\u{22c5}' | '*' | '(' | ')' | '^' | '-' => {}
            '°' if matches!(characters.peek(), Some('C' | 'F' | ' ')) => {}
            '°' => plain.push_str("deg"),
            '²' => plain.push('2'),
            '³' => plain.push('3'),
            '/' if plain.contains('/') => {}
            other => plain.push(other),
        }
    }
    plain.replace("BTU", "Btu").replace("hr", "h")
}

#[cfg(test)]
#[path = "../quantity_tests.rs"]
mod tests;
