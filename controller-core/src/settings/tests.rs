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
    assert!(!raw.set_bits(Key::Purge, -1));
    assert!(!raw.set_bits(Key::Bank, 2));
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
                    problems.contains(&Problem::Range(field.key)),
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
        |r| r.backup_emergency = c(2_200),
        "backup_emergency < backup_slab",
    );
    broken(|r| r.backup_slab = c(2_300), "backup_slab <= frost_on");
    broken(|r| r.frost_off = c(2_200), "frost_on < frost_off");
    broken(
        |r| r.slab_set = c(3_400),
        "frost_off <= slab_set - slab_band / 2",
    );
    broken(
        |r| r.stop_difference = k(2_500),
        "stop_difference < start_difference",
    );
    broken(
        |r| r.pump_power = Watts::from_milli(60_000),
        "stop_difference >= 0.2 K + heat_ratio * pump_power / (flow * specific_heat)",
    );
    broken(
        |r| r.loop_yield = Ratio::from_milli(380),
        "start_difference >= 1.2 * stop_difference / loop_yield",
    );
    broken(
        |r| r.pump_min_on = Duration::from_mins(12),
        "purge + 5 min <= pump_min_on",
    );
    broken(|r| r.proof_time = r.purge, "proof_time > purge");
    broken(
        |r| r.transit = Duration::from_mins(5),
        "purge >= 2 * transit",
    );
    broken(|r| r.supply_soft = c(35_000), "supply_target < supply_soft");
    broken(|r| r.supply_trip = c(40_000), "supply_soft < supply_trip");
    broken(|r| r.hard_limit = c(50_000), "supply_trip < hard_limit");
    broken(|r| r.store_floor = c(4_500), "store_floor < store_low");
    broken(|r| r.pipe_on = c(4_000), "pipe_on < pipe_off");
    broken(|r| r.store_low = c(4_000), "pipe_off < store_low");
    broken(
        |r| r.sensor_cycle = Duration::from_millis(20_001),
        "stale_suspect >= 3 * sensor_cycle",
    );
    broken(
        |r| r.blind_duty = Duration::from_mins(5),
        "blind_duty > 0 only with hard_limit_tested = yes",
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
fn warm_water_is_kept_from_a_food_store() {
    let mut raw = RawSettings::DEFAULT;
    assert_eq!(
        Settings::default().return_limit(),
        Celsius::from_milli(10_000)
    );
    raw.cellar_storage = false;
    assert_eq!(
        Settings::check(raw).unwrap().return_limit(),
        Celsius::from_milli(15_000)
    );
}
