use controller_core::units::{Kelvin, Watts};

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
        pump_power: Watts::from_milli(100_000),
        ..RawSettings::DEFAULT
    };
    let relation = broken(&raw, Key::StopDifference);
    let words: Vec<String> = mends(&raw, &relation, Units::Si)
        .iter()
        .map(|mend| mend.words(Units::Si))
        .collect();
    // 0.2 K + 3 * 100 W / (60 g/s * 4.2 J/gK) = 1.39 K; the other way round 3.0 falls to 0.6 * 252 / 100 = 1.51.
    assert!(
        words.contains(&"stop_difference at least 1.4 K".to_owned()),
        "{words:?}"
    );
    assert!(
        words.contains(&"heat_ratio at most 1.5".to_owned()),
        "{words:?}"
    );
    assert!(
        words.contains(&"pump_power at most 50 W".to_owned()),
        "{words:?}"
    );
    // 3 * 100 W / (0.6 K * 4.2 J/gK) = 119 g/s.
    assert!(
        words.contains(&"flow at least 0.12 L/s".to_owned()),
        "{words:?}"
    );
    let us = mends(&raw, &relation, Units::Us)[0].words(Units::Us);
    // 1.39 K is 2.502 °F.
    assert_eq!(us, "stop_difference at least 2.6 °F");
}

#[test]
fn every_mend_named_does_mend() {
    let raw = RawSettings {
        pump_power: Watts::from_milli(140_000),
        start_difference: Kelvin::from_milli(1_000),
        blind_duty: controller_core::time::Duration::from_mins(5),
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
    let mut raw = RawSettings {
        pump_power: Watts::from_milli(140_000),
        ..RawSettings::DEFAULT
    };
    raw.transit = controller_core::time::Duration::from_secs(400);
    let measured = [Key::PumpPower, Key::Transit, Key::Flow, Key::LoopYield];
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
