use super::*;
use crate::units::Ratio;

#[test]
fn the_defaults_pass_their_own_checks() {
    assert_eq!(
        Settings::check(RawSettings::DEFAULT),
        Ok(Settings::default())
    );
}

#[test]
fn every_key_names_its_own_line() {
    for (index, field) in Field::all().iter().enumerate() {
        assert_eq!(field.key as usize, index, "{}", field.name);
        assert_eq!(Key::from_name(field.name), Some(field.key));
        assert!(field.min <= field.max, "{}", field.name);
        assert!(field.doc.ends_with('.'), "{}", field.name);
    }
    assert_eq!(Key::from_name("nonsense"), None);
}

#[test]
fn values_go_to_bits_and_back() {
    for field in Field::all() {
        let mut raw = RawSettings::DEFAULT;
        assert!(raw.set_bits(field.key, field.max), "{}", field.name);
        assert_eq!(raw.bits(field.key), field.max, "{}", field.name);
    }
    let mut raw = RawSettings::DEFAULT;
    assert!(!raw.set_bits(Key::Mode, 4));
    assert!(!raw.set_bits(Key::SettlingTime, -1));
    assert!(!raw.set_bits(Key::ReturnToStore, 2));
    assert_eq!(raw, RawSettings::DEFAULT);
}

#[test]
fn one_value_past_either_end_of_its_range_is_refused_by_name() {
    for field in Field::all() {
        if matches!(field.kind, Kind::Switch | Kind::Choice(_)) {
            continue; // past the end there is no value at all
        }
        for bits in [field.min.saturating_sub(1), field.max.saturating_add(1)] {
            let mut raw = RawSettings::DEFAULT;
            if raw.set_bits(field.key, bits) {
                let problems = Settings::check(raw).expect_err(field.name);
                assert!(
                    problems
                        .iter()
                        .any(|problem| *problem == Problem::Range(field.key)),
                    "{}",
                    field.name
                );
            }
        }
    }
}

#[track_caller]
fn broken(change: impl FnOnce(&mut RawSettings), text: &str) {
    let mut raw = RawSettings::DEFAULT;
    change(&mut raw);
    let problems = Settings::check(raw).expect_err(text);
    assert!(
        problems
            .iter()
            .any(|p| matches!(p, Problem::Relation(r) if r.text == text)),
        "{text}: {problems:?}"
    );
}

#[test]
fn broken_relations_are_named() {
    let c = Celsius::from_milli;
    let k = Kelvin::from_milli;
    broken(|r| r.target = c(1_800), "target < backup_emergency");
    broken(
        |r| r.backup_emergency = c(2_500),
        "backup_emergency < backup_slab",
    );
    broken(|r| r.frost_off = c(2_200), "frost_on < frost_off");
    broken(
        |r| r.slab_set = c(3_400),
        "frost_off <= slab_set - slab_band / 2",
    );
    broken(
        |r| r.stop_difference = k(1_500),
        "stop_difference < start_difference",
    );
    broken(
        |r| r.loop_effectiveness = Ratio::from_milli(380),
        "start_difference >= 1.2 * stop_difference / loop_effectiveness",
    );
    broken(
        |r| r.proof_time = r.settling_time,
        "proof_time > settling_time",
    );
    broken(
        |r| r.transit = Duration::from_mins(5),
        "settling_time >= 2 * transit",
    );
    broken(|r| r.supply_trip = c(40_000), "supply_soft < supply_trip");
    broken(|r| r.pipe_on = c(4_000), "pipe_on < pipe_off");
    broken(
        |r| {
            r.slab_set = c(11_000);
            r.slab_max = c(11_500);
        },
        "slab_set + slab_band / 2 < slab_max",
    );
    broken(
        |r| r.pump_min_on = r.settling_time,
        "settling_time < pump_min_on",
    );
}

#[test]
fn the_demo_loop_carries_252_watts_per_kelvin() {
    // 0.060 L/s of water at 4200 J/kgK.
    let heat = Settings::default()
        .heat(Kelvin::from_milli(1_000))
        .to_fixed();
    assert!((heat.to_num::<f64>() - 252.0).abs() < 0.1, "{heat}");
}

#[test]
fn new_concrete_has_a_lower_supply_limit() {
    let c = Celsius::from_milli;
    let usual = Settings::default();
    assert_eq!(usual.soft_limit(), c(40_000));
    assert_eq!(usual.in_mode(Mode::Commissioning).soft_limit(), c(25_000));
}
