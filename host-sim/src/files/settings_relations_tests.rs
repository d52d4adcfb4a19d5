use controller_core::time::Duration;
use controller_core::units::{Kelvin, Ratio};

use super::*;

/// The one broken relation of these settings that names the key.
#[track_caller]
fn broken(raw: &RawSettings, key: Key) -> Relation {
    let problems = Settings::check(*raw).expect_err("settings that break a relation");
    problems
        .iter()
        .find_map(|problem| match problem {
            Problem::Relation(relation) if relation.key == key => Some(*relation),
            _ => None,
        })
        .expect("a broken relation")
}

#[test]
fn the_number_that_would_do_is_the_nearest_a_person_would_write() {
    let raw = RawSettings {
        stop_difference: Kelvin::from_milli(1_000),
        ..RawSettings::DEFAULT
    };
    let relation = broken(&raw, Key::StartDifference);
    let words: Vec<String> = mends(&raw, &relation, Units::Si)
        .iter()
        .map(|mend| mend.words(Units::Si))
        .collect();
    // 1.2 * 1.0 K / 0.69 = 1.74 K; the other way round 1.5 K * 0.69 / 1.2 = 0.86 K, or an effectiveness of 1.2 / 1.5 = 0.8.
    assert_eq!(
        words,
        [
            "start_difference at least 1.8 K",
            "stop_difference at most 0.8 K",
            "loop_effectiveness at least 0.8",
        ]
    );
    let us = mends(&raw, &relation, Units::Us)[0].words(Units::Us);
    // 1.74 K is 3.13 °F.
    assert_eq!(us, "start_difference at least 3.2 °F");
}

#[test]
fn every_mend_named_does_mend() {
    let raw = RawSettings {
        stop_difference: Kelvin::from_milli(1_400),
        start_difference: Kelvin::from_milli(1_000),
        transit: Duration::from_secs(400),
        ..RawSettings::DEFAULT
    };
    let problems = Settings::check(raw).expect_err("three relations broken");
    let mut tried = 0;
    for problem in &problems {
        let Problem::Relation(relation) = problem else {
            panic!("{problem}")
        };
        for mend in mends(&raw, relation, Units::Us) {
            let mut changed = raw;
            assert!(changed.set_bits(mend.key, mend.bits));
            assert!(holds(&changed, relation), "{}", mend.words(Units::Si));
            tried += 1;
        }
    }
    assert!(problems.len() >= 3 && tried >= 6, "{tried} of {problems:?}");
}

#[test]
fn what_is_measured_stays_where_anything_else_can_give_way() {
    let raw = RawSettings {
        loop_effectiveness: Ratio::from_milli(400),
        transit: Duration::from_secs(400),
        ..RawSettings::DEFAULT
    };
    assert!(Settings::check(raw).is_err());
    let measured = [
        Key::PumpPower,
        Key::Transit,
        Key::Flow,
        Key::LoopEffectiveness,
    ];
    let mended = made_consistent(raw, &measured, Units::Si);
    assert!(
        Settings::check(mended).is_ok(),
        "{:?}",
        Settings::check(mended)
    );
    for key in measured {
        assert_eq!(mended.bits(key), raw.bits(key), "{}", key.name());
    }
}
