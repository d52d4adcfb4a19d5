//! Settings' values as words on the serial line.
//!
//! A value is a number with at most three decimals in the unit its kind has, and prints so that
//! reading it back gives the same bits. Times may be given in s, min or h. `raw N` gives the bits.

use core::fmt::{self, Write};

use controller_core::settings::{Field, Kind, RawSettings};
use controller_core::units::Ratio;

/// Fingerprint of settings: the line's checksum over every setting's bits, low byte first, in the
/// order of the settings file. Tells a draft that has everything from one that lost a part.
#[must_use]
pub fn fingerprint(settings: &RawSettings) -> u16 {
    let mut digest = crate::line::digest();
    for field in Field::all() {
        digest.update(&settings.bits(field.key).to_le_bytes());
    }
    digest.finalize()
}

/// Why a value is refused.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ValueFault {
    /// Not a number with at most three decimals.
    NotANumber,
    /// A word the kind does not have.
    UnknownWord,
    /// A unit the kind does not have.
    UnknownUnit,
    /// Outside the setting's range.
    OutOfRange,
}

/// The unit printed after a value.
#[must_use]
pub const fn unit(kind: Kind) -> &'static str {
    match kind {
        Kind::Temperature => "C",
        Kind::Difference => "K",
        Kind::Rate => "K/h",
        Kind::Time => "s",
        Kind::Flow => "mL/s",
        Kind::SpecificHeat => "J/kgK",
        Kind::Power => "W",
        Kind::Energy => "kWh",
        Kind::Ratio | Kind::Count | Kind::Switch | Kind::Choice(_) => "",
    }
}

/// Reads `words` as a value of this setting.
///
/// # Errors
/// [`ValueFault`], with the setting's range already checked.
pub fn parse<'a>(
    field: &Field,
    mut words: impl Iterator<Item = &'a str>,
) -> Result<i32, ValueFault> {
    let first = words.next().ok_or(ValueFault::NotANumber)?;
    let second = words.next();
    if words.next().is_some() {
        return Err(ValueFault::UnknownUnit);
    }
    let bits = if first == "raw" {
        second
            .and_then(|word| word.parse().ok())
            .ok_or(ValueFault::NotANumber)?
    } else {
        bits(field.kind, first, second)?
    };
    if (field.min..=field.max).contains(&bits) {
        Ok(bits)
    } else {
        Err(ValueFault::OutOfRange)
    }
}

fn bits(kind: Kind, word: &str, given: Option<&str>) -> Result<i32, ValueFault> {
    let own_unit = given.is_none_or(|given| given == unit(kind));
    match kind {
        Kind::Time => {
            let factor: i64 = match given {
                None | Some("s") => 1,
                Some("min") => 60,
                Some("h") => 3_600,
                Some(_) => return Err(ValueFault::UnknownUnit),
            };
            // Thousandths of a second are milliseconds.
            let millis = thousandths(word)?.saturating_mul(factor);
            i32::try_from(millis).map_err(|_| ValueFault::OutOfRange)
        }
        _ if !own_unit => Err(ValueFault::UnknownUnit),
        Kind::Count => word.parse().map_err(|_| ValueFault::NotANumber),
        Kind::Switch => position(&["no", "yes"], word),
        Kind::Choice(names) => position(names, word),
        Kind::Temperature
        | Kind::Difference
        | Kind::Rate
        | Kind::Ratio
        | Kind::Flow
        | Kind::SpecificHeat
        | Kind::Power
        | Kind::Energy => {
            const LARGEST: i64 = 32_767_000;
            let milli = thousandths(word)?;
            if !(-LARGEST..=LARGEST).contains(&milli) {
                return Err(ValueFault::OutOfRange);
            }
            let milli = i32::try_from(milli).map_err(|_| ValueFault::OutOfRange)?;
            Ok(Ratio::from_milli(milli).to_bits())
        }
    }
}

fn position(names: &[&str], word: &str) -> Result<i32, ValueFault> {
    let place = names.iter().position(|name| *name == word);
    place
        .and_then(|place| i32::try_from(place).ok())
        .ok_or(ValueFault::UnknownWord)
}

/// A decimal with at most six digits before and three after the point, in thousandths.
pub(crate) fn thousandths(word: &str) -> Result<i64, ValueFault> {
    let (negative, digits) = match word.strip_prefix('-') {
        Some(rest) => (true, rest),
        None => (false, word),
    };
    let (whole, part) = digits.split_once('.').unwrap_or((digits, "0"));
    let plain = |text: &str, most| {
        !text.is_empty() && text.len() <= most && text.bytes().all(|byte| byte.is_ascii_digit())
    };
    if !plain(whole, 7) || !plain(part, 3) {
        return Err(ValueFault::NotANumber);
    }
    let whole: i64 = whole.parse().map_err(|_| ValueFault::NotANumber)?;
    let scale = match part.len() {
        1 => 100,
        2 => 10,
        _ => 1,
    };
    let part: i64 = part.parse().map_err(|_| ValueFault::NotANumber)?;
    let size = whole
        .saturating_mul(1_000)
        .saturating_add(part.saturating_mul(scale));
    Ok(if negative {
        size.saturating_neg()
    } else {
        size
    })
}

/// Writes a value and its unit.
///
/// # Errors
/// Only those of the writer.
pub fn write(out: &mut impl Write, kind: Kind, bits: i32) -> fmt::Result {
    let word = |names: &[&'static str]| {
        let place = usize::try_from(bits).ok();
        place
            .and_then(|place| names.get(place))
            .copied()
            .unwrap_or("?")
    };
    match kind {
        Kind::Count => write!(out, "{bits}"),
        Kind::Switch => out.write_str(word(&["no", "yes"])),
        Kind::Choice(names) => out.write_str(word(names)),
        Kind::Time => write_thousandths(out, i64::from(bits), 1),
        Kind::Temperature
        | Kind::Difference
        | Kind::Rate
        | Kind::Ratio
        | Kind::Flow
        | Kind::SpecificHeat
        | Kind::Power
        | Kind::Energy => write_thousandths(out, i64::from(bits).saturating_mul(1_000), 65_536),
    }?;
    match unit(kind) {
        "" => Ok(()),
        unit => write!(out, " {unit}"),
    }
}

/// Writes `numerator / denominator` thousandths with three decimals, rounded half away from zero.
///
/// # Errors
/// Only those of the writer.
pub fn write_thousandths(out: &mut impl Write, numerator: i64, denominator: u32) -> fmt::Result {
    let half = u64::from(denominator / 2);
    let size = numerator
        .unsigned_abs()
        .saturating_add(half)
        .checked_div(u64::from(denominator))
        .unwrap_or(0);
    // Everything written here fits; the library's printing of 64 bits keeps a panic path.
    let size = u32::try_from(size).unwrap_or(u32::MAX);
    if numerator < 0 && size > 0 {
        out.write_str("-")?;
    }
    write!(out, "{}.{:03}", size / 1_000, size % 1_000)
}

#[cfg(test)]
mod tests {
    use super::*;
    use controller_core::settings::Key;
    use proptest::prelude::*;
    use std::string::String;

    fn field(name: &str) -> &'static Field {
        Key::from_name(name).unwrap().field()
    }

    fn read(name: &str, text: &str) -> Result<i32, ValueFault> {
        parse(field(name), text.split_whitespace())
    }

    #[test]
    fn values_are_read_in_their_units() {
        assert_eq!(read("target", "1.5"), Ok(98_304));
        assert_eq!(read("target", "1.5 C"), Ok(98_304));
        assert_eq!(read("target", "raw 98304"), Ok(98_304));
        assert_eq!(read("settling_time", "8 min"), Ok(480_000));
        assert_eq!(read("settling_time", "0.2 h"), Ok(720_000));
        assert_eq!(read("pipe_on", "-2"), Ok(-131_072));
        assert_eq!(read("pump_starts", "6"), Ok(6));
        assert_eq!(read("return_to_store", "yes"), Ok(1));
        assert_eq!(read("boiler", "injection"), Ok(2));
    }

    #[test]
    fn everything_else_is_refused_with_its_reason() {
        use ValueFault::*;
        for (name, text, why) in [
            ("target", "", NotANumber),
            ("target", "warm", NotANumber),
            ("target", "1,5", NotANumber),
            ("target", "1.5000", NotANumber),
            ("target", "--1", NotANumber),
            ("target", "+1", NotANumber),
            ("target", "1.", NotANumber),
            ("target", "1e0", NotANumber),
            ("target", "99999999999", NotANumber),
            ("target", "raw", NotANumber),
            ("target", "raw 0x10", NotANumber),
            ("target", "1.5 F", UnknownUnit),
            ("target", "1.5 C C", UnknownUnit),
            ("target", "9999999", OutOfRange),
            ("target", "4.501", OutOfRange),
            ("target", "raw 2147483647", OutOfRange),
            ("settling_time", "8 days", UnknownUnit),
            ("settling_time", "9999999 h", OutOfRange),
            ("pump_starts", "2.5", NotANumber),
            ("pump_starts", "9", OutOfRange),
            ("return_to_store", "1", UnknownWord),
            ("boiler", "gas", UnknownWord),
        ] {
            assert_eq!(read(name, text), Err(why), "{name} {text}");
        }
    }

    #[test]
    fn every_default_prints_and_reads_back() {
        for field in Field::all() {
            let bits = RawSettings::DEFAULT.bits(field.key);
            let mut text = String::new();
            write(&mut text, field.kind, bits).unwrap();
            assert_eq!(
                parse(field, text.split_whitespace()),
                Ok(bits),
                "{} {text}",
                field.name
            );
        }
    }

    #[test]
    fn any_setting_changes_the_fingerprint() {
        let before = fingerprint(&RawSettings::DEFAULT);
        for field in Field::all() {
            let mut other = RawSettings::DEFAULT;
            let bits = other.bits(field.key);
            assert!(other.set_bits(field.key, bits ^ 1), "{}", field.name);
            assert_ne!(fingerprint(&other), before, "{}", field.name);
        }
    }

    proptest! {
        #[test]
        fn any_number_in_thousandths_survives(milli in -32_000_000_i32..=32_000_000) {
            let bits = Ratio::from_milli(milli).to_bits();
            let mut text = String::new();
            write(&mut text, Kind::Ratio, bits).unwrap();
            prop_assert_eq!(thousandths(&text), Ok(i64::from(milli)));
        }

        #[test]
        fn no_words_upset_the_reader(words in "[ -~]{0,40}", n in 0_usize..60) {
            let field = Field::all()[n.min(Field::all().len() - 1)];
            if let Ok(bits) = parse(&field, words.split_whitespace()) {
                prop_assert!((field.min..=field.max).contains(&bits));
            }
        }
    }
}
