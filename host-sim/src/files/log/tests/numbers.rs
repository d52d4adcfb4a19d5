//! Numbers: exact, whatever their length, in °C and °F.

use proptest::prelude::*;

use super::super::{
    Cell,
    decimal::Decimal,
    push_reading,
    row::{above, reading, relay},
};

/// The number in the text, as numerator and denominator.
fn rational(text: &str) -> (i128, i128) {
    let (whole, fraction) = text.split_once('.').unwrap_or((text, ""));
    let numerator: i128 = format!("{whole}{fraction}").parse().expect("digits");
    (numerator, 10_i128.pow(fraction.len() as u32))
}

/// The nearest whole number to a quotient, halves away from zero, told apart by remainders alone.
fn nearest(numerator: i128, denominator: i128) -> i128 {
    let quotient = numerator / denominator;
    let remainder = (numerator % denominator).abs();
    if 2 * remainder >= denominator {
        quotient + numerator.signum()
    } else {
        quotient
    }
}

fn expected_cell(raw: i128) -> Cell {
    i16::try_from(raw).map_or(Cell::OutOfRange, Cell::Reading)
}

#[track_caller]
fn celsius(text: &str) -> Cell {
    reading(text.as_bytes(), false).expect("a number")
}

#[track_caller]
fn fahrenheit(text: &str) -> Cell {
    reading(text.as_bytes(), true).expect("a number")
}

#[test]
fn every_reading_printed_in_full_comes_back() {
    for raw in i16::MIN..=i16::MAX {
        let mut text = Vec::new();
        push_reading(&mut text, raw);
        assert_eq!(reading(&text, false), Some(Cell::Reading(raw)));
        // Printed in full: the text is the very quotient.
        let (numerator, denominator) = rational(std::str::from_utf8(&text).expect("ASCII"));
        assert_eq!(numerator * 128, i128::from(raw) * denominator, "{raw}");
    }
}

#[test]
fn readings_print_short() {
    for (raw, text) in [
        (0, "0.0"),
        (1, "0.0078125"),
        (-1, "-0.0078125"),
        (64, "0.5"),
        (2688, "21.0"),
        (-1280, "-10.0"),
        (i16::MAX, "255.9921875"),
        (i16::MIN, "-256.0"),
    ] {
        let mut out = Vec::new();
        push_reading(&mut out, raw);
        assert_eq!(String::from_utf8(out).expect("ASCII"), text);
    }
}

#[test]
fn fixed_points_of_the_two_scales() {
    // Ice point, −40 and steam point: 32 °F, −40 °F, 212 °F by definition of the Fahrenheit scale (NIST SP 811, B.9).
    assert_eq!(fahrenheit("32"), celsius("0"));
    assert_eq!(fahrenheit("-40.0"), celsius("-40"));
    assert_eq!(fahrenheit("212"), celsius("100"));
    assert_eq!(fahrenheit("39.2"), celsius("4"));
}

#[test]
fn halves_round_away_from_zero() {
    assert_eq!(celsius("0.00390625"), Cell::Reading(1));
    assert_eq!(celsius("-0.00390625"), Cell::Reading(-1));
    assert_eq!(celsius("0.00390624999999999999999999"), Cell::Reading(0));
    assert_eq!(
        celsius("-0.0039062500000000000000000001"),
        Cell::Reading(-1)
    );
    // 32 °F and half a step: 9/1280 °F.
    assert_eq!(fahrenheit("32.00703125"), Cell::Reading(1));
    assert_eq!(fahrenheit("31.99296875"), Cell::Reading(-1));
    assert_eq!(fahrenheit("31.9929687500000000000000001"), Cell::Reading(0));
    assert_eq!(fahrenheit("32.0070312499999999999999999"), Cell::Reading(0));
}

#[test]
fn forms_of_numbers() {
    for text in [
        "21.5",
        "+21.5",
        " 21.5 ",
        "21,5",
        "021.50",
        "2.15e1",
        "215E-1",
        "0.0215e+3",
        "21.500000000000000000000",
    ] {
        assert_eq!(celsius(text), Cell::Reading(2752), "{text}");
    }
    assert_eq!(celsius(".5"), Cell::Reading(64));
    assert_eq!(celsius("5."), Cell::Reading(640));
    assert_eq!(celsius("-0"), Cell::Reading(0));
    assert_eq!(celsius("-5e-05"), Cell::Reading(0));
    assert_eq!(celsius("1e-4000000000"), Cell::Reading(0));
    assert_eq!(celsius("0e4000000000"), Cell::Reading(0));
    for text in [
        "256",
        "-256.01",
        "9999999999",
        "40000000001",
        "123456789012345678901234567890",
        "1e300",
        "-1e9999999999",
        "inf",
        "-Infinity",
    ] {
        assert_eq!(celsius(text), Cell::OutOfRange, "{text}");
        assert_eq!(fahrenheit("999"), Cell::OutOfRange);
    }
    for text in ["", "  ", "NaN", "nan", "NULL", " null "] {
        assert_eq!(celsius(text), Cell::Missing, "{text:?}");
    }
    for text in [
        "-", "+", ".", "e5", "1e", "1e+", "1.2.3", "1,2,3", "1.2,3", "--1", "+-1", "12a", "a",
        "0x10", "1 2", "NA", "21.5 C", "infinite", "\0",
    ] {
        assert_eq!(reading(text.as_bytes(), false), None, "{text:?}");
    }
}

#[test]
fn relay_states() {
    for text in [
        "1", "true", "True", "TRUE", "on", "On", " 1", "1.0", " on ", "yes",
    ] {
        assert_eq!(relay(text.as_bytes()), Some(Some(true)), "{text:?}");
    }
    for text in ["0", "false", "off", "OFF", "0.0", "0 ", "No"] {
        assert_eq!(relay(text.as_bytes()), Some(Some(false)), "{text:?}");
    }
    for text in ["", " ", "NaN", "null"] {
        assert_eq!(relay(text.as_bytes()), Some(None), "{text:?}");
    }
    for text in ["2", "0.5", "-1", "y", "open"] {
        assert_eq!(relay(text.as_bytes()), None, "{text:?}");
    }
}

#[test]
fn a_limit_itself_is_not_above_it() {
    let limit = Decimal::parse(b"0.05").expect("a number");
    assert_eq!(above(b"0.05", limit), Some(Some(false)));
    assert_eq!(above(b"0.0500000000000000001", limit), Some(Some(true)));
    assert_eq!(above(b"0.0017", limit), Some(Some(false)));
    assert_eq!(above(b"", limit), Some(None));
    assert_eq!(above(b"on", limit), None);
}

/// Decimals of any length, many of them on or beside a rounding boundary.
fn decimal_text() -> impl Strategy<Value = String> {
    let any = ("-?", 0..300_i32, "[0-9]{0,24}")
        .prop_map(|(sign, whole, fraction)| (sign, whole, fraction));
    let boundary = (
        "-?",
        0..300_i32,
        0..256_u32,
        prop::sample::select(vec!["", "0000", "00001", "9"]),
    )
        .prop_map(|(sign, whole, part, tail)| {
            (
                sign,
                whole,
                format!("{:08}{tail}", u64::from(part) * 390_625),
            )
        });
    prop_oneof![any, boundary].prop_map(|(sign, whole, fraction)| {
        if fraction.is_empty() {
            format!("{sign}{whole}")
        } else {
            format!("{sign}{whole}.{fraction}")
        }
    })
}

/// °F on or beside a rounding boundary: 32 + 9 k/1280, and one in the last place more or less.
fn fahrenheit_boundary() -> impl Strategy<Value = String> {
    (
        -40_000..40_000_i64,
        -1..=1_i64,
        prop::sample::select(vec!["", "0001"]),
    )
        .prop_map(|(step, aside, tail)| {
            // In units of the eighth decimal; 9/1280 = 703 125 × 10⁻⁸.
            let units = 3_200_000_000 + step * 703_125 + aside;
            let sign = if units < 0 { "-" } else { "" };
            format!(
                "{sign}{}.{:08}{tail}",
                units.abs() / 100_000_000,
                units.abs() % 100_000_000
            )
        })
}

proptest! {
    #[test]
    fn celsius_is_the_nearest_step(text in decimal_text()) {
        let (numerator, denominator) = rational(&text);
        prop_assert_eq!(celsius(&text), expected_cell(nearest(numerator * 128, denominator)));
    }

    #[test]
    fn fahrenheit_is_the_nearest_step(text in prop_oneof![decimal_text(), fahrenheit_boundary()]) {
        // (F − 32) × 5/9 × 128.
        let (numerator, denominator) = rational(&text);
        let expected = nearest((numerator - 32 * denominator) * 640, denominator * 9);
        prop_assert_eq!(fahrenheit(&text), expected_cell(expected));
    }

    #[test]
    fn any_bytes_are_a_number_or_refused(text in prop::collection::vec(any::<u8>(), 0..40)) {
        let _ = reading(&text, false);
        let _ = reading(&text, true);
        let _ = relay(&text);
    }
}
