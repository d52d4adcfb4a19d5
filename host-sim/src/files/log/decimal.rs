//! Decimal text to exact fixed point: no float, so that a reading printed in full comes back as it was.

use super::Cell;

/// Decimals that are kept. Every rounding boundary of 1/128 K, in °C and in °F, ends at the eighth decimal or earlier
/// (1/256 = 0.00390625; 9/1280 = 0.00703125), so what follows can never decide a rounding by its amount, only by being there.
const DECIMALS: usize = 8;
/// Half units of the eighth decimal in 1.
const HALF_UNITS: i64 = 200_000_000;
/// Half units in 1/128 K.
const PER_RAW_CELSIUS: i64 = HALF_UNITS / 128;
/// Half units of a °F value in 1/128 K: 9/5 °F to the kelvin.
const PER_RAW_FAHRENHEIT: i64 = HALF_UNITS / 128 * 9 / 5;
/// Half units in a millisecond of a value in seconds.
const PER_MILLISECOND: i64 = HALF_UNITS / 1000;
/// Larger magnitudes saturate here: 4 × 10¹⁰.
const LIMIT: i64 = 40_000_000_000 * HALF_UNITS;

const _: () =
    assert!(HALF_UNITS % 128 == 0 && (HALF_UNITS / 128 * 9) % 5 == 0 && HALF_UNITS % 1000 == 0);
// A value between two units of the eighth decimal is odd; a boundary, half of these, must therefore be even.
const _: () = assert!((PER_RAW_CELSIUS / 2) % 2 == 0 && (PER_RAW_FAHRENHEIT / 2) % 2 == 0);

/// A decimal number in half units of its eighth decimal: even when it ends there, odd (between its two neighbours) when
/// non-zero digits follow. Order and rounding are those of the full text; beyond ±4 × 10¹⁰ it saturates.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Debug)]
pub(super) struct Decimal(i64);

impl Decimal {
    pub(super) const ZERO: Decimal = Decimal(0);
    pub(super) const ONE: Decimal = Decimal(HALF_UNITS);

    /// Reads `[+-]digits[.digits][e[+-]digits]`, with `.` or `,` as the decimal mark; `inf` and `infinity` saturate.
    pub(super) fn parse(text: &[u8]) -> Option<Decimal> {
        let (negative, digits) = match text {
            [b'-', rest @ ..] => (true, rest),
            [b'+', rest @ ..] => (false, rest),
            rest => (false, rest),
        };
        let magnitude = match plain(digits) {
            Some(magnitude) => magnitude,
            None => general(digits)?,
        };
        Some(Decimal(if negative { -magnitude } else { magnitude }))
    }

    /// A point in °C as 1/128 K, halves away from zero.
    #[inline]
    pub(super) fn celsius(self) -> Cell {
        cell(round(self.0, PER_RAW_CELSIUS))
    }

    /// A point in °F as 1/128 K of its °C value, halves away from zero.
    #[inline]
    pub(super) fn fahrenheit(self) -> Cell {
        cell(round(self.0 - 32 * HALF_UNITS, PER_RAW_FAHRENHEIT))
    }

    /// A value in seconds as milliseconds, halves away from zero.
    #[inline]
    pub(super) fn milliseconds(self) -> i64 {
        round(self.0, PER_MILLISECOND)
    }
}

impl Decimal {
    /// A value in days as milliseconds, to the nearest tenth of a second: day numbers are written with few decimals.
    pub(super) fn day_milliseconds(self) -> i64 {
        let tenths = (i128::from(self.0) * 864_000 * 2 + i128::from(HALF_UNITS))
            .div_euclid(2 * i128::from(HALF_UNITS));
        i64::try_from(tenths * 100).unwrap_or(i64::MAX)
    }

    /// Whether it lies from `low` to `high`, both whole.
    pub(super) fn is_within(self, low: i64, high: i64) -> bool {
        (low * HALF_UNITS..=high * HALF_UNITS).contains(&self.0)
    }

    /// Whether it has more than three decimals.
    pub(super) fn is_finer_than_a_thousandth(self) -> bool {
        self.0 % PER_MILLISECOND != 0
    }
}

#[inline]
fn round(value: i64, per: i64) -> i64 {
    let magnitude = (value.unsigned_abs() + per.unsigned_abs() / 2) / per.unsigned_abs();
    if value < 0 {
        -(magnitude as i64)
    } else {
        magnitude as i64
    }
}

fn cell(raw: i64) -> Cell {
    i16::try_from(raw).map_or(Cell::OutOfRange, Cell::Reading)
}

/// The everyday case in one pass: up to ten digits, at most eight of them decimals, nothing else.
#[inline]
fn plain(text: &[u8]) -> Option<i64> {
    const SCALE: [i64; DECIMALS + 1] = {
        let mut scale = [2; DECIMALS + 1];
        let mut decimals = DECIMALS;
        while decimals > 0 {
            decimals -= 1;
            scale[decimals] = scale[decimals + 1] * 10;
        }
        scale
    };
    if text.is_empty() || text.len() > 11 {
        return None;
    }
    let mut mantissa: u64 = 0;
    let mut mark = None;
    for (index, &byte) in text.iter().enumerate() {
        let digit = byte.wrapping_sub(b'0');
        if digit <= 9 {
            // At most eleven digits: no overflow.
            mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(digit));
        } else if (byte == b'.' || byte == b',') && mark.is_none() {
            mark = Some(index);
        } else {
            return None;
        }
    }
    let decimals = mark.map_or(0, |mark| text.len() - 1 - mark);
    if decimals > DECIMALS || (mark.is_some() && text.len() == 1) || text.len() - decimals > 10 {
        return None;
    }
    Some((mantissa as i64).wrapping_mul(SCALE[decimals]))
}

/// Any number of digits and an exponent.
fn general(text: &[u8]) -> Option<i64> {
    if text.eq_ignore_ascii_case(b"inf") || text.eq_ignore_ascii_case(b"infinity") {
        return Some(LIMIT);
    }
    let exponent_at = text
        .iter()
        .position(|byte| byte.eq_ignore_ascii_case(&b'e'));
    let (mantissa, exponent) = match exponent_at {
        Some(at) => (&text[..at], exponent(&text[at + 1..])?),
        None => (text, 0),
    };
    let mark = mantissa.iter().position(|byte| matches!(byte, b'.' | b','));
    let (whole, fraction) = match mark {
        Some(mark) => (&mantissa[..mark], &mantissa[mark + 1..]),
        None => (mantissa, &mantissa[..0]),
    };
    if whole.len() + fraction.len() == 0 || !whole.iter().chain(fraction).all(u8::is_ascii_digit) {
        return None;
    }
    // Places from the current digit to the last kept decimal.
    let mut places = whole.len() as i64 + exponent + DECIMALS as i64;
    let mut units: i64 = 0;
    let mut more = false;
    for digit in whole
        .iter()
        .chain(fraction)
        .map(|byte| i64::from(byte - b'0'))
    {
        if places > 0 {
            units = units.saturating_mul(10).saturating_add(digit);
        } else {
            more |= digit != 0;
        }
        places -= 1;
    }
    while places > 0 && units > 0 && units < i64::MAX {
        units = units.saturating_mul(10);
        places -= 1;
    }
    Some(
        units
            .saturating_mul(2)
            .saturating_add(i64::from(more))
            .min(LIMIT),
    )
}

fn exponent(text: &[u8]) -> Option<i64> {
    let (negative, digits) = match text {
        [b'-', rest @ ..] => (true, rest),
        [b'+', rest @ ..] => (false, rest),
        rest => (false, rest),
    };
    if digits.is_empty() || !digits.iter().all(u8::is_ascii_digit) {
        return None;
    }
    // Anything beyond a million places is the same as a million: zero or saturated.
    let value = digits.iter().fold(0_i64, |value, byte| {
        (value * 10 + i64::from(byte - b'0')).min(1_000_000)
    });
    Some(if negative { -value } else { value })
}

/// Appends a temperature of `raw`/128 °C in full, with at least one decimal: `21.0`, `-0.0078125`. Reading the text gives
/// `raw` again.
pub fn push_reading(out: &mut Vec<u8>, raw: i16) {
    if raw < 0 {
        out.push(b'-');
    }
    let magnitude = raw.unsigned_abs();
    let whole = magnitude / 128;
    for (place, hidden_below) in [(100, 100), (10, 10), (1, 0)] {
        if whole >= hidden_below {
            out.push(b'0' + (whole / place % 10) as u8);
        }
    }
    out.push(b'.');
    // 1/128 = 78 125 × 10⁻⁷.
    let mut fraction = u32::from(magnitude % 128) * 78_125;
    loop {
        out.push(b'0' + (fraction / 1_000_000) as u8);
        fraction = fraction % 1_000_000 * 10;
        if fraction == 0 {
            break;
        }
    }
}
