//! Every way in which a reading is doubted, lost and trusted again.

use super::*;
use crate::settings::{RawSettings, Settings};
use crate::time::Duration;
use crate::units::Kelvin;

struct Bench {
    check: SensorCheck,
    settings: Settings,
    excitation: Excitation,
    verdict: Verdict,
    water: Option<Celsius>,
}

fn bench(sensor: Sensor) -> Bench {
    Bench {
        check: SensorCheck::new(sensor),
        settings: Settings::check(RawSettings::DEFAULT).unwrap(),
        excitation: Excitation::Quiet,
        verdict: Verdict::Fine,
        water: None,
    }
}

impl Bench {
    fn read(&mut self, sample: Sample) -> Reading {
        let mut reading = Reading::default();
        let cycle = Cycle {
            step: Duration::from_secs(10),
            excitation: self.excitation,
            verdict: self.verdict,
            water: self.water,
            settings: &self.settings,
        };
        self.check.update(sample, &cycle, &mut reading);
        reading
    }
    fn value(&mut self, milli: i32) -> Reading {
        self.read(Sample::Value(Celsius::from_milli(milli)))
    }
    fn fail(&mut self, fault: ReadFault) -> Reading {
        self.read(Sample::Failed(fault))
    }
    fn many(&mut self, n: u32, milli: i32) -> Reading {
        let mut last = Reading::UNSEEN;
        for _ in 0..n {
            last = self.value(milli);
        }
        last
    }
}

#[test]
fn an_absent_sensor_is_doubted_on_the_second_read_and_lost_on_the_third() {
    let mut slab = bench(Sensor::Slab);
    slab.many(6, 4_000);
    assert_eq!(slab.fail(ReadFault::Absent).trust, Trust::Good);
    let second = slab.fail(ReadFault::Absent);
    assert_eq!(second.trust, Trust::Suspect);
    assert_eq!(
        second.value,
        Some(Celsius::from_milli(4_000)),
        "held while doubted"
    );
    let third = slab.fail(ReadFault::Absent);
    assert_eq!((third.trust, third.fault), (Trust::Bad, ReadingFault::Lost));
    assert_eq!(
        (third.value, third.raw(), third.at_most()),
        (None, None, None)
    );
}

#[test]
fn a_lost_sensor_returns_after_a_minute_of_good_reads() {
    let mut slab = bench(Sensor::Slab);
    slab.many(6, 4_000);
    for _ in 0..3 {
        slab.fail(ReadFault::Absent);
    }
    for n in 0..5 {
        let back = slab.value(4_000);
        assert_eq!(
            (back.trust, back.fault),
            (Trust::Bad, ReadingFault::Returning),
            "{n}"
        );
    }
    assert_eq!(slab.value(4_000).trust, Trust::Good);
}

#[test]
fn after_a_range_fault_it_takes_ten_minutes() {
    let mut slab = bench(Sensor::Slab);
    slab.many(6, 4_000);
    let bad = slab.many(3, 60_000);
    assert_eq!((bad.trust, bad.fault), (Trust::Bad, ReadingFault::Range));
    assert_eq!(slab.many(59, 4_000).trust, Trust::Bad);
    assert_eq!(slab.value(4_000).trust, Trust::Good);
}

#[test]
fn two_reads_out_of_range_are_a_doubt_of_a_minute() {
    let mut slab = bench(Sensor::Slab);
    slab.many(6, 4_000);
    assert_eq!(slab.many(2, 60_000).trust, Trust::Suspect);
    assert_eq!(slab.many(5, 4_000).trust, Trust::Suspect);
    assert_eq!(slab.value(4_000).trust, Trust::Good);
}

#[test]
fn each_place_has_its_range_ends_included() {
    for (sensor, low, high) in [
        (Sensor::Supply, -40, 95),
        (Sensor::Return, -40, 95),
        (Sensor::Slab, -20, 50),
        (Sensor::Outdoor, -45, 55),
    ] {
        for (end, beyond) in [(low, -1), (high, 1)] {
            let end = end * 128;
            let last = bench(sensor).read(Sample::Framed(Celsius::from_128ths(end)));
            assert_eq!(last.fault, ReadingFault::None, "{sensor:?} {end}");
            for further in [1, 128] {
                let out = Celsius::from_128ths(end + beyond * further);
                let reading = bench(sensor).read(Sample::Framed(out));
                assert_eq!(reading.fault, ReadingFault::Range, "{sensor:?} {out:?}");
            }
        }
    }
}

#[test]
fn what_a_sensor_was_lost_for_is_told_until_it_returns() {
    let mut slab = bench(Sensor::Slab);
    slab.many(6, 4_000);
    for _ in 0..3 {
        slab.fail(ReadFault::Absent);
    }
    // Less than a loss changes nothing about the loss.
    slab.verdict = Verdict::Contradicted;
    assert_eq!(slab.value(4_000).fault, ReadingFault::Lost);
    slab.verdict = Verdict::Fine;
    assert_eq!(slab.value(4_000).fault, ReadingFault::Returning);
    slab.verdict = Verdict::Contradicted;
    assert_eq!(slab.value(4_000).fault, ReadingFault::Contradicted);
}

#[test]
fn a_reading_that_answers_nothing_is_lost_at_once_and_back_a_minute_after_the_verdict() {
    for sensor in Sensor::ALL {
        let mut check = bench(sensor);
        check.many(6, 4_000);
        check.verdict = Verdict::Stuck;
        let lost = check.value(4_000);
        assert_eq!((lost.trust, lost.fault), (Trust::Bad, ReadingFault::Stuck));
        assert_eq!((lost.value, lost.raw()), (None, None), "{sensor:?}");
        assert!(lost.seen.is_some(), "but seen, to be judged by");
        assert_eq!(check.many(360, 4_000).trust, Trust::Bad, "{sensor:?}");
        check.verdict = Verdict::Fine;
        assert_eq!(check.many(5, 4_000).fault, ReadingFault::Returning);
        assert_eq!(check.value(4_000).trust, Trust::Good, "{sensor:?}");
    }
}

#[test]
fn a_returning_sensor_knows_the_minute_of_its_return_and_nothing_before() {
    let mut slab = bench(Sensor::Slab);
    slab.many(6, 4_000);
    for _ in 0..3 {
        slab.fail(ReadFault::Absent);
    }
    slab.many(5, 9_000);
    let back = slab.value(8_500);
    assert_eq!(
        (back.trust, back.value),
        (Trust::Good, Some(Celsius::from_milli(9_000)))
    );
}

#[test]
fn unexplained_gaps_are_doubted_at_60_s_and_lost_at_300_s() {
    let mut outdoor = bench(Sensor::Outdoor);
    outdoor.many(6, -3_000);
    for n in 1..=30 {
        let reading = outdoor.fail(ReadFault::Missing);
        let expected = match n {
            0..=5 => Trust::Good,
            6..=29 => Trust::Suspect,
            _ => Trust::Bad,
        };
        assert_eq!(reading.trust, expected, "{n}");
    }
}

#[test]
fn a_third_of_frames_failing_their_checksum_loses_nothing() {
    let mut supply = bench(Sensor::Supply);
    supply.many(6, 6_000);
    for n in 0..360 {
        let reading = if n % 3 == 0 {
            supply.fail(ReadFault::Checksum)
        } else {
            supply.value(6_000)
        };
        assert_eq!(reading.trust, Trust::Good, "{n}");
    }
}

#[test]
fn one_power_on_value_never_gets_through() {
    let mut supply = bench(Sensor::Supply);
    supply.many(6, 6_000);
    let reading = supply.value(85_000);
    assert_eq!((reading.trust, reading.raw()), (Trust::Good, None));
    assert_eq!(reading.value, Some(Celsius::from_milli(6_000)));
    assert_eq!(supply.value(6_000).trust, Trust::Good);
}

#[test]
fn frames_that_keep_failing_their_checksum_are_lost_after_half_a_minute() {
    let mut supply = bench(Sensor::Supply);
    supply.many(6, 6_000);
    assert_eq!(supply.fail(ReadFault::Checksum).trust, Trust::Good);
    assert_eq!(supply.fail(ReadFault::Checksum).trust, Trust::Good);
    assert_eq!(supply.fail(ReadFault::Checksum).trust, Trust::Bad);
}

#[test]
fn a_chip_that_keeps_starting_up_is_doubted_and_lost() {
    let mut supply = bench(Sensor::Supply);
    supply.many(6, 6_000);
    for trust in [Trust::Good, Trust::Suspect, Trust::Bad] {
        assert_eq!(supply.fail(ReadFault::PowerOn).trust, trust);
    }
    assert_eq!(supply.fail(ReadFault::PowerOn).fault, ReadingFault::PowerOn);
}

#[test]
fn power_on_values_with_a_good_read_between_are_single_ones() {
    let mut supply = bench(Sensor::Supply);
    supply.many(6, 6_000);
    for _ in 0..5 {
        assert_eq!(supply.value(85_000).trust, Trust::Good);
        assert_eq!(supply.value(6_000).trust, Trust::Good);
    }
}

#[test]
fn without_frame_bytes_a_second_85_is_doubted_and_a_third_is_real() {
    let mut supply = bench(Sensor::Supply);
    supply.many(6, 60_000);
    assert_eq!(supply.value(85_000).raw(), None);
    assert_eq!(supply.value(85_000).trust, Trust::Suspect);
    assert_eq!(
        supply.value(85_000).raw(),
        Some(Celsius::from_milli(85_000))
    );
}

#[test]
fn a_checked_frame_of_85_is_real_at_once() {
    let mut supply = bench(Sensor::Supply);
    supply.many(6, 80_000);
    let reading = supply.read(Sample::Framed(Celsius::from_milli(85_000)));
    assert_eq!(reading.raw(), Some(Celsius::from_milli(85_000)));
    assert_eq!(
        reading.at_least(),
        Some(Celsius::from_milli(80_000)),
        "colder of two in a row"
    );
}

#[test]
fn a_single_wild_read_is_ignored_and_a_repeated_one_is_doubted() {
    let mut outdoor = bench(Sensor::Outdoor);
    outdoor.many(10, -3_000);
    let wild = outdoor.value(20_000);
    assert_eq!(wild.trust, Trust::Good);
    assert_eq!(wild.value, Some(Celsius::from_milli(-3_000)));
    assert_eq!(outdoor.value(-3_000).trust, Trust::Good);
    outdoor.value(20_000);
    let again = outdoor.value(20_000);
    assert_eq!(
        (again.trust, again.fault),
        (Trust::Suspect, ReadingFault::Jump)
    );
}

#[test]
fn a_new_level_that_stays_two_minutes_is_trusted() {
    let mut outdoor = bench(Sensor::Outdoor);
    outdoor.many(10, -3_000);
    let level = outdoor.many(13, 8_000);
    assert_eq!(level.value, Some(Celsius::from_milli(8_000)));
    assert_eq!(outdoor.many(6, 8_000).trust, Trust::Good);
}

#[test]
fn reads_that_are_somewhere_else_each_time_are_no_new_level() {
    let mut outdoor = bench(Sensor::Outdoor);
    outdoor.many(10, -3_000);
    for n in 0..30 {
        let value = outdoor
            .value(if n % 2 == 0 { 20_000 } else { -20_000 })
            .value;
        assert!(
            value.is_none_or(|t| t == Celsius::from_milli(-3_000)),
            "{n}: {value:?}"
        );
    }
}

/// Neither a level nor a single wild read: a wire that comes and goes. What was read before it grows old.
#[test]
fn a_slab_reading_that_is_everywhere_is_lost_until_it_settles() {
    let mut slab = bench(Sensor::Slab);
    slab.many(10, 4_000);
    let lost = (0..12).find(|n| {
        slab.value(if n % 2 == 0 { 12_000 } else { -10_000 })
            .is_lost()
    });
    assert!(lost.is_some_and(|n| (2..8).contains(&n)), "{lost:?}");
    for n in 0..360 {
        let read = slab.value(if n % 2 == 0 { 12_000 } else { -10_000 });
        assert_eq!(
            (read.trust, read.fault),
            (Trust::Bad, ReadingFault::Jump),
            "{n}"
        );
        assert_eq!(read.value, None);
    }
    let back = (0..60).find(|_| slab.value(3_500).trust == Trust::Good);
    assert!(back.is_some_and(|n| (6..30).contains(&n)), "{back:?}");
}

#[test]
fn reads_that_are_rejected_are_doubted_after_a_minute_and_lost_after_five() {
    let mut slab = bench(Sensor::Slab);
    slab.many(10, 4_000);
    for n in 1..=30 {
        // Too far apart to be one level, too near to be wild.
        let read = slab.value(if n % 2 == 0 { 5_800 } else { 7_000 });
        let expected = match n {
            0..=5 => (Trust::Good, ReadingFault::None),
            6..=29 => (Trust::Suspect, ReadingFault::Jump),
            _ => (Trust::Bad, ReadingFault::Jump),
        };
        assert_eq!((read.trust, read.fault), expected, "{n}");
    }
}

#[test]
fn a_slab_that_jumps_is_trusted_after_two_minutes_if_the_water_confirms_it() {
    for (water, trust) in [(8_000, Trust::Good), (7_000, Trust::Suspect)] {
        let mut slab = bench(Sensor::Slab);
        slab.many(10, 4_000);
        slab.water = Some(Celsius::from_milli(water));
        assert_eq!(slab.many(12, 9_000).fault, ReadingFault::Jump);
        assert_eq!(slab.many(7, 9_000).trust, trust, "water {water}");
    }
}

#[test]
fn a_slab_that_jumps_without_it_is_lost_after_five_minutes_and_known_anew_after_six() {
    let mut slab = bench(Sensor::Slab);
    slab.many(10, 4_000);
    let doubted = slab.many(29, 9_000);
    assert_eq!(
        (doubted.trust, doubted.fault),
        (Trust::Suspect, ReadingFault::Jump)
    );
    assert_eq!(doubted.value, Some(Celsius::from_milli(4_000)));
    let lost = slab.value(9_000);
    assert_eq!((lost.trust, lost.fault), (Trust::Bad, ReadingFault::Jump));
    assert_eq!(slab.many(5, 9_000).fault, ReadingFault::Returning);
    let back = slab.value(9_000);
    assert_eq!(
        (back.trust, back.value),
        (Trust::Good, Some(Celsius::from_milli(9_000)))
    );
}

#[test]
fn frost_sees_the_raw_reads_through_a_jump() {
    let mut slab = bench(Sensor::Slab);
    slab.many(10, 4_000);
    slab.value(1_000);
    let second = slab.value(1_000);
    assert_eq!(second.at_most(), Some(Celsius::from_milli(1_000)));
    assert_eq!(
        second.value,
        Some(Celsius::from_milli(4_000)),
        "the smoothed value waits"
    );
}

#[test]
fn pinned_outdoor_air_is_doubted_after_a_day_and_never_lost() {
    let mut outdoor = bench(Sensor::Outdoor);
    let mut reading = outdoor.many(24 * 360, 0);
    assert_eq!(reading.trust, Trust::Good);
    reading = outdoor.many(2, 0);
    assert_eq!(
        (reading.trust, reading.fault),
        (Trust::Suspect, ReadingFault::Stuck)
    );
    assert_eq!(outdoor.many(24 * 360, 0).trust, Trust::Suspect);
}

#[test]
fn scatter_is_told() {
    let mut slab = bench(Sensor::Slab);
    let mut noisy = false;
    for n in 0..60 {
        noisy = slab
            .value(4_000 + if n % 2 == 0 { 400 } else { -400 })
            .noisy;
    }
    assert!(noisy);
    let mut milli = 4_000;
    let quiet = slab.many(60, milli);
    assert!(!quiet.noisy);
    // Steep, but all one way.
    for direction in [-400, 400] {
        for _ in 0..20 {
            milli += direction;
            assert!(!slab.value(milli).noisy, "{milli}");
        }
    }
}

#[test]
fn a_supply_doubted_for_half_an_hour_is_lost() {
    let mut supply = bench(Sensor::Supply);
    supply.many(6, 6_000);
    supply.verdict = Verdict::Contradicted;
    assert_eq!(supply.many(179, 6_000).trust, Trust::Suspect);
    assert_eq!(supply.many(2, 6_000).trust, Trust::Bad);
}

#[test]
fn trims_move_the_reading_and_not_the_log() {
    let mut slab = bench(Sensor::Slab);
    let mut raw = RawSettings::DEFAULT;
    raw.slab_trim = Kelvin::from_milli(-500);
    slab.settings = Settings::check(raw).unwrap();
    for n in 0..3 {
        let reading = slab.value(4_000);
        assert_eq!(reading.value, Some(Celsius::from_milli(3_500)), "{n}");
        assert_eq!(reading.raw(), Some(Celsius::from_milli(3_500)), "{n}");
    }
    assert_eq!(
        slab.value(4_000).at_most(),
        Some(Celsius::from_milli(3_500))
    );
}

#[test]
fn the_short_way_gives_what_the_examination_gives() {
    let mut short = bench(Sensor::Supply);
    let mut long = bench(Sensor::Supply);
    for n in 0..5_000_i32 {
        // Slow drift, noise and, now and then, a wild read or a failure.
        let sample = match n % 701 {
            700 => Sample::Failed(ReadFault::Absent),
            350 => Sample::Value(Celsius::from_milli(30_000)),
            _ => Sample::Value(Celsius::from_milli(6_000 + (n * 7_919 % 13) * 62 + n)),
        };
        let quick = short.read(sample);
        let before = long.check.last;
        let cycle = Cycle {
            step: Duration::from_secs(10),
            excitation: Excitation::Quiet,
            verdict: Verdict::Fine,
            water: None,
            settings: &long.settings,
        };
        let raw = long.check.examine(sample, &cycle);
        let slow = long.check.reading(raw, before, &long.settings);
        assert_eq!(quick, slow, "{n}");
    }
}
