//! What nine bytes from a DS18B20 say.
//!
//! Source: DS18B20 data sheet (scratchpad layout, CRC x⁸+x⁵+x⁴+1, power-on value, resolution bits).
//! An all-zero frame passes the CRC, so the fixed bytes are checked as well; the power-on value is
//! told from a real 85.00 °C by byte 6, which genuine parts set to 0Ch only after power-on.

use super::{ReadFault, Sample};
use crate::units::Celsius;

/// CRC of the one-wire bus: polynomial 31h, reflected (8Ch), start 0.
#[must_use]
pub fn crc(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0, |crc, byte| {
        (0..8u8).fold(crc ^ byte, |crc, _| {
            if crc & 1 == 1 {
                (crc >> 1) ^ 0x8C
            } else {
                crc >> 1
            }
        })
    })
}

/// Reads a scratchpad. Never fails: a bad frame is a sample with its fault.
#[must_use]
pub fn decode(frame: &[u8; 9]) -> Sample {
    let [low, high, _, _, config, fixed_ff, sixth, fixed_10, _] = *frame;
    if frame.iter().all(|byte| *byte == 0) {
        return Sample::Failed(ReadFault::Short);
    }
    if frame.iter().all(|byte| *byte == 0xFF) {
        return Sample::Failed(ReadFault::Absent);
    }
    if crc(frame) != 0 || fixed_ff != 0xFF || fixed_10 != 0x10 {
        return Sample::Failed(ReadFault::Checksum);
    }
    let raw = i16::from_le_bytes([low, high]);
    if (raw == 0x0550 && sixth == 0x0C) || raw == 0x07FF {
        return Sample::Failed(ReadFault::PowerOn);
    }
    // Below 12 bit the unused low bits are undefined; config is 0 R1 R0 11111.
    let unused = 3_u8.saturating_sub((config >> 5) & 3);
    let raw = raw & !((1_i16 << unused).saturating_sub(1));
    if !(-55 * 16..=125 * 16).contains(&raw) {
        return Sample::Failed(ReadFault::Impossible);
    }
    Sample::Framed(Celsius::from_128ths(raw.saturating_mul(8)))
}
