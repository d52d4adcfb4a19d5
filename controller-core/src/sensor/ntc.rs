//! A 10 kΩ thermistor below a 10 kΩ resistor, as a share of the reference voltage.
//!
//! The usual "β = 3950" formula reads 0.6 K high at 0 °C and 1.4 K high at -20 °C, the unsafe side;
//! so this is a table. Source: a published R-T table of 10 kΩ material "type 1" (2014), carried
//! by the Steinhart-Hart coefficients through its -20, 10 and 60 °C points (A 1.132974028e-3,
//! B 2.334624186e-4, C 9.053046815e-8; within 0.015 K of the table from -30 to 80 °C).
//! Straight lines between the entries read at most 0.15 K low (at -30 °C) and 0.1 K high (at 75 °C).

use super::{ReadFault, Sample};
use crate::units::{Celsius, saturate};

/// Share of full scale, 1/65536, at -45, -40 … 110 °C. Falls as the thermistor warms.
const SHARES: [u16; 32] = [
    64_167, 63_634, 62_930, 62_017, 60_854, 59_400, 57_621, 55_490, 53_001, 50_164, 47_016, 43_618,
    40_049, 36_402, 32_771, 29_243, 25_893, 22_775, 19_923, 17_353, 15_066, 13_053, 11_293, 9_766,
    8_446, 7_310, 6_333, 5_495, 4_776, 4_159, 3_629, 3_174,
];
/// First temperature of the table and its spacing, °C.
const FIRST: i32 = -45;
const SPACING: i32 = 5;

/// Above this share (4035/4096) the wire is open.
const OPEN: u16 = 64_560;
/// Below this share (125/4096) it is shorted.
const SHORT: u16 = 2_000;

/// From a reading scaled to 16 bits (a 12-bit code times 16).
#[must_use]
pub fn from_share(share: u16) -> Sample {
    if share > OPEN {
        return Sample::Failed(ReadFault::Absent);
    }
    if share < SHORT {
        return Sample::Failed(ReadFault::Short);
    }
    let mut warmer = SHARES.iter().skip(1);
    let mut cooler = FIRST;
    for above in &SHARES {
        let Some(below) = warmer.next() else { break };
        if share > *below {
            let whole = i64::from(above.saturating_sub(*below));
            // A share above the first entry is colder than the table: carried on along its line.
            let part = i64::from(*above).saturating_sub(i64::from(share));
            let fraction = part
                .saturating_mul(i64::from(SPACING) << 16)
                .checked_div(whole)
                .unwrap_or(0);
            let bits = (i64::from(cooler) << 16).saturating_add(fraction);
            return Sample::Value(rounded(bits));
        }
        cooler = cooler.saturating_add(SPACING);
    }
    Sample::Failed(ReadFault::Impossible)
}

/// To the nearest 1/128 K.
fn rounded(bits: i64) -> Celsius {
    let n = bits.saturating_add(1 << 8) >> 9;
    Celsius::from_128ths(i16::try_from(saturate(n)).unwrap_or(i16::MAX))
}
