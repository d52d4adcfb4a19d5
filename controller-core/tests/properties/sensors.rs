//! One sensor's checking: what is trusted, and when again.

use controller_core::sensor::{
    Cycle, Excitation, ReadFault, Reading, Sample, Sensor, SensorCheck, Trust, Verdict,
};
use controller_core::settings::Settings;
use controller_core::time::Duration;
use controller_core::units::Celsius;
use proptest::prelude::*;

use crate::config;

const CYCLE: Duration = Duration::from_secs(10);

fn sensor() -> impl Strategy<Value = Sensor> {
    (0_usize..4).prop_map(|index| Sensor::ALL[index])
}

fn sample() -> impl Strategy<Value = Sample> {
    prop_oneof![
        8 => (300_i16..700).prop_map(|n| Sample::Framed(Celsius::from_128ths(n))),
        2 => any::<i16>().prop_map(|n| Sample::Framed(Celsius::from_128ths(n))),
        1 => Just(Sample::Value(Celsius::from_128ths(10_880))),
        1 => Just(Sample::Failed(ReadFault::Absent)),
        1 => Just(Sample::Failed(ReadFault::Missing)),
        1 => Just(Sample::Failed(ReadFault::Checksum)),
        1 => Just(Sample::Failed(ReadFault::PowerOn)),
    ]
}

fn stretches() -> impl Strategy<Value = Vec<(Sample, u8)>> {
    prop::collection::vec((sample(), 1_u8..40), 1..40)
}

fn run(sensor: Sensor, stretches: &[(Sample, u8)], mut see: impl FnMut(Sample, &Reading)) {
    let settings = Settings::default();
    let mut check = SensorCheck::new(sensor);
    for (sample, times) in stretches {
        for _ in 0..*times {
            let mut reading = Reading::default();
            let cycle = Cycle {
                step: CYCLE,
                excitation: Excitation::Quiet,
                verdict: Verdict::Fine,
                water: None,
                settings: &settings,
            };
            check.update(*sample, &cycle, &mut reading);
            see(*sample, &reading);
        }
    }
}

proptest! {
    #![proptest_config(config(400))]

    /// Whatever the fault, a sensor without one usable read for its time is lost.
    #[test]
    fn a_sensor_that_says_nothing_usable_is_lost_in_time(
        sensor in sensor(),
        stretches in stretches(),
        fault in prop_oneof![
            Just(ReadFault::Absent), Just(ReadFault::Missing), Just(ReadFault::Checksum),
            Just(ReadFault::PowerOn), Just(ReadFault::Short), Just(ReadFault::Impossible),
        ],
    ) {
        let mut all = stretches;
        all.push((Sample::Failed(fault), 31)); // beyond the 300 s after which silence is loss
        let bad = 300 / CYCLE.as_secs();
        let (mut failing, mut last) = (0_u32, Trust::Suspect);
        run(sensor, &all, |sample, reading| {
            failing = if sample.value().is_none() { failing + 1 } else { 0 };
            if failing > bad {
                assert_eq!(reading.trust, Trust::Bad, "after {failing} reads");
            }
            last = reading.trust;
        });
        assert_eq!(last, Trust::Bad);
    }

    /// Smoothing never leaves the range of what was read.
    #[test]
    fn the_smoothed_value_stays_within_what_was_read(
        sensor in sensor(),
        stretches in stretches(),
    ) {
        let (mut low, mut high) = (Celsius::from_bits(i32::MAX), Celsius::from_bits(i32::MIN));
        run(sensor, &stretches, |sample, reading| {
            if let Some(t) = sample.value() {
                (low, high) = (low.min(t), high.max(t));
            }
            if let Some(value) = reading.value {
                assert!(value >= low && value <= high, "{value:?} not in {low:?}..{high:?}");
            }
        });
    }

    /// A lost reading is trusted again only after a minute of good ones.
    #[test]
    fn a_lost_reading_returns_only_after_a_good_minute(
        sensor in sensor(),
        stretches in stretches(),
    ) {
        let (mut good_for, mut was) = (0_u32, Trust::Suspect);
        run(sensor, &stretches, |sample, reading| {
            good_for = if sample.value().is_some() { good_for + 10 } else { 0 };
            if was == Trust::Bad && reading.trust == Trust::Good {
                assert!(good_for >= 60, "back after {good_for} s");
            }
            was = reading.trust;
        });
    }

    /// A lost reading has no value; one with a value is not lost.
    #[test]
    fn lost_means_without_a_value(sensor in sensor(), stretches in stretches()) {
        run(sensor, &stretches, |_, reading| {
            if reading.is_lost() {
                assert_eq!((reading.value, reading.raw()), (None, None));
                assert_eq!((reading.at_most(), reading.at_least()), (None, None));
            }
            if reading.trust == Trust::Good {
                assert!(reading.value.is_some());
            }
        });
    }

    /// The pair of raw reads is in order: the colder is not above the warmer.
    #[test]
    fn two_reads_in_a_row_make_a_pair(sensor in sensor(), stretches in stretches()) {
        let mut before = None;
        run(sensor, &stretches, |_, reading| {
            if let (Some(cold), Some(hot)) = (reading.at_most(), reading.at_least()) {
                assert!(hot <= cold);
                let (now, then) = (reading.raw().expect("read"), before.expect("read before"));
                assert_eq!((hot, cold), (now.min(then), now.max(then)));
            }
            before = reading.seen;
        });
    }

    /// A power-on value without a frame is told from a real one by its first two appearances.
    #[test]
    fn a_first_power_on_value_is_never_a_reading(before in 0_u8..20) {
        let stretches = [
            (Sample::Value(Celsius::from_128ths(640)), before + 1),
            (Sample::Value(Celsius::from_128ths(10_880)), 1),
        ];
        run(Sensor::Supply, &stretches, |_, reading| {
            assert!(reading.raw().is_none_or(|t| t < Celsius::from_milli(80_000)));
            assert!(reading.value.is_none_or(|t| t < Celsius::from_milli(80_000)));
        });
    }
}
