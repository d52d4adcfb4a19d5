use super::ds18b20::{crc, decode};
use super::*;
use crate::units::Kelvin;

// --- DS18B20 -----------------------------------------------------------------------------------

/// The data sheet's family example and the catalogue check value of CRC-8/MAXIM-DOW.
#[test]
fn crc_matches_published_check_values() {
    assert_eq!(crc(b"123456789"), 0xA1);
    assert_eq!(crc(&[0x02, 0x1C, 0xB8, 0x01, 0, 0, 0]), 0xA2);
}

#[test]
fn frames_decode_to_the_data_sheet_temperatures() {
    for (frame, milli) in [
        (
            [0x91, 0x01, 0x4B, 0x46, 0x7F, 0xFF, 0x0F, 0x10, 0x25],
            25_063,
        ),
        (
            [0x78, 0x00, 0x4B, 0x46, 0x7F, 0xFF, 0x08, 0x10, 0x6C],
            7_500,
        ),
        (
            [0x1B, 0x00, 0x4B, 0x46, 0x7F, 0xFF, 0x05, 0x10, 0xC1],
            1_688,
        ),
        ([0x00, 0x00, 0x4B, 0x46, 0x7F, 0xFF, 0x10, 0x10, 0x69], 0),
        ([0xF8, 0xFF, 0x4B, 0x46, 0x7F, 0xFF, 0x08, 0x10, 0xF8], -500),
        (
            [0x5E, 0xFF, 0x4B, 0x46, 0x7F, 0xFF, 0x02, 0x10, 0xB6],
            -10_125,
        ),
    ] {
        let Sample::Framed(t) = decode(&frame) else {
            panic!("{frame:X?}")
        };
        let difference = t - Celsius::from_milli(milli);
        assert!(
            difference.abs() <= Kelvin::from_milli(1),
            "{frame:X?} gave {t:?}"
        );
    }
}

#[test]
fn frames_that_pass_the_crc_and_mean_nothing_are_refused() {
    let power_on = [0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10, 0x1C];
    assert_eq!(decode(&power_on), Sample::Failed(ReadFault::PowerOn));
    assert_eq!(decode(&[0; 9]), Sample::Failed(ReadFault::Short));
    assert_eq!(decode(&[0xFF; 9]), Sample::Failed(ReadFault::Absent));
}

/// A frame with its check byte.
fn framed(bytes: [u8; 8]) -> [u8; 9] {
    let [a, b, c, d, e, f, g, h] = bytes;
    [a, b, c, d, e, f, g, h, crc(&bytes)]
}

#[test]
fn a_frame_with_one_fixed_byte_wrong_is_refused() {
    for bytes in [
        [0x78, 0x00, 0x4B, 0x46, 0x7F, 0xFE, 0x08, 0x10],
        [0x78, 0x00, 0x4B, 0x46, 0x7F, 0xFF, 0x08, 0x11],
    ] {
        let sample = decode(&framed(bytes));
        assert_eq!(sample, Sample::Failed(ReadFault::Checksum), "{bytes:X?}");
    }
}

/// 85.00 °C alone is no power-on value, nor is byte 6 as it is after power-on.
#[test]
fn a_power_on_value_takes_both_its_marks() {
    for (bytes, milli) in [
        ([0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x10, 0x10], 85_000),
        ([0x78, 0x00, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10], 7_500),
    ] {
        let sample = Sample::Framed(Celsius::from_milli(milli));
        assert_eq!(decode(&framed(bytes)), sample);
    }
}

#[test]
fn bits_that_a_lower_resolution_leaves_undefined_are_cleared() {
    for (config, sixteenths) in [(0x7F, 0x7F), (0x5F, 0x7E), (0x3F, 0x7C), (0x1F, 0x78)] {
        let frame = framed([0x7F, 0x00, 0x4B, 0x46, config, 0xFF, 0x08, 0x10]);
        let sample = Sample::Framed(Celsius::from_128ths(sixteenths * 8));
        assert_eq!(decode(&frame), sample, "{config:X}");
    }
}

#[test]
fn every_single_and_double_bit_error_is_caught() {
    let good = [0x78, 0x00, 0x4B, 0x46, 0x7F, 0xFF, 0x08, 0x10, 0x6C];
    for first in 0..72 {
        for second in first..72 {
            let mut frame = good;
            frame[first / 8] ^= 1 << (first % 8);
            if second != first {
                frame[second / 8] ^= 1 << (second % 8);
            }
            assert!(
                matches!(decode(&frame), Sample::Failed(_)),
                "{first} {second}"
            );
        }
    }
}

// --- NTC ---------------------------------------------------------------------------------------

/// Published 10 kΩ R-T points (material type 1, 2014), Ω.
const PUBLISHED: [(f64, f64, f64); 13] = [
    (-40.0, 333_600.0, 0.1),
    (-30.0, 176_100.0, 0.06),
    (-20.0, 96_810.0, 0.05),
    (-10.0, 55_250.0, 0.05),
    (0.0, 32_640.0, 0.05),
    (5.0, 25_390.0, 0.05),
    (10.0, 19_900.0, 0.05),
    (20.0, 12_490.0, 0.05),
    (25.0, 10_000.0, 0.05),
    (30.0, 8_056.0, 0.05),
    (40.0, 5_325.0, 0.05),
    (60.0, 2_487.0, 0.05),
    (80.0, 1_256.0, 0.1),
];

#[test]
fn the_thermistor_table_meets_the_published_one() {
    for (celsius, ohms, tolerance) in PUBLISHED {
        let share = (65_536.0 * ohms / (ohms + 10_000.0)).round() as u16;
        let Sample::Value(t) = ntc::from_share(share) else {
            panic!("{celsius}")
        };
        let got = t.to_fixed().to_num::<f64>();
        assert!((got - celsius).abs() <= tolerance, "{celsius}: {got}");
    }
}

#[test]
fn between_its_points_the_table_follows_steinhart_hart() {
    for tenth in -300..800 {
        let celsius = f64::from(tenth) / 10.0;
        // Inverse of Steinhart-Hart by bisection on ln R.
        let (mut low, mut high) = (4.0_f64, 15.0_f64);
        for _ in 0..60 {
            let l = 0.5 * (low + high);
            let t =
                1.0 / (1.132974028e-3 + 2.334624186e-4 * l + 9.053046815e-8 * l.powi(3)) - 273.15;
            if t > celsius { low = l } else { high = l }
        }
        let ohms = low.exp();
        let share = (65_536.0 * ohms / (ohms + 10_000.0)).round() as u16;
        let Sample::Value(t) = ntc::from_share(share) else {
            panic!("{celsius}")
        };
        let got = t.to_fixed().to_num::<f64>();
        // A chord every 5 K: on the cold side below 20 °C, which is the safe one.
        let error = got - celsius;
        assert!((-0.15..0.1).contains(&error), "{celsius}: {got}");
    }
}

#[test]
fn open_and_short_codes() {
    assert_eq!(ntc::from_share(u16::MAX), Sample::Failed(ReadFault::Absent));
    assert_eq!(ntc::from_share(0), Sample::Failed(ReadFault::Short));
    // 4035 of 4096 is very cold still, 125 far too hot.
    assert!(matches!(ntc::from_share(64_560), Sample::Value(_)));
    assert_eq!(ntc::from_share(64_561), Sample::Failed(ReadFault::Absent));
    assert_eq!(
        ntc::from_share(2_000),
        Sample::Failed(ReadFault::Impossible)
    );
    assert_eq!(ntc::from_share(1_999), Sample::Failed(ReadFault::Short));
    // Colder than the table's end but not open: the line is carried on.
    let Sample::Value(t) = ntc::from_share(64_300) else {
        panic!()
    };
    assert!(t < Celsius::from_milli(-45_000));
}

// --- Words -------------------------------------------------------------------------------------

#[test]
fn a_sample_says_its_word() {
    for (word, fault) in Sample::FAULT_WORDS {
        assert_eq!(Sample::Failed(fault).status(), word);
    }
    assert_eq!(Sample::Value(Celsius::ZERO).status(), "ok");
    assert_eq!(Sample::Framed(Celsius::ZERO).status(), "frame");
}
