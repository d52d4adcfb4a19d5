use controller_core::settings::{BoilerKind, Kind, Settings};

use super::*;

/// The site of a text.
#[track_caller]
fn site(text: &str) -> Site {
    Site::parse(text, "site.toml").expect("a site")
}

/// A slow loop with a strong circulator: none of the demonstration settings' differences would do.
const SLOW: &str = "[slab]\ntube = \"1/2 in\"\ncircuit_length = \"90 m\"\n[store_floor]\ntube = \"1/2 in\"\n\
                    circuit_length = \"90 m\"\n[circulator]\npower = \"87 W\"\nmeasured_flow = \"0.043 L/s\"\n";

#[test]
fn the_demonstration_site_keeps_its_settings() {
    assert_eq!(settings_for(&Site::demo()), RawSettings::DEFAULT);
    assert_eq!(
        mismatches(&PlantConfig::default(), &RawSettings::DEFAULT, Units::Si),
        Vec::<String>::new()
    );
}

#[test]
fn a_slow_loop_gets_settings_that_pass_every_check() {
    let site = site(SLOW);
    let raw = settings_for(&site);
    assert!(Settings::check(raw).is_ok(), "{:?}", Settings::check(raw));
    let text = |key: Key| value_text(key.field(), raw.bits(key), Units::Si);
    assert_eq!(text(Key::PumpPower), "87 W");
    assert_eq!(text(Key::Flow), "0.043 L/s");
    assert!(
        raw.settling_time >= raw.transit.times(2),
        "{}",
        text(Key::SettlingTime)
    );
    assert!(mismatches(&site.config.plant, &raw, Units::Si).is_empty());
}

#[test]
fn settings_of_another_site_are_said_with_their_share() {
    let said = mismatches(&site(SLOW).config.plant, &RawSettings::DEFAULT, Units::Si);
    let power = said.iter().find(|text| text.contains("pump_power"));
    let power = power.expect("the power differs");
    assert!(
        power.contains("is 45 W") && power.contains("site's is 87 W, -48 %"),
        "{power}"
    );
}

#[test]
fn the_boiler_is_the_sites() {
    for (text, kind) in [
        ("[boiler]\nfitted = false\n", BoilerKind::None),
        ("[boiler]\nkind = \"injection\"\n", BoilerKind::Injection),
        ("[boiler]\nkind = \"hand-fired\"\n", BoilerKind::Firing),
    ] {
        let raw = settings_for(&site(text));
        assert_eq!(raw.boiler, kind, "{text}");
        assert!(Settings::check(raw).is_ok());
    }
    let series = settings_for(&site("[boiler]\npiping = \"series\"\n"));
    assert!(series.return_to_store);
}

#[test]
fn every_measured_setting_is_one_the_core_still_has_a_scale_for() {
    for one in measured(&PlantConfig::default()) {
        let field = one.key.field();
        assert!(
            (field.min..=field.max).contains(&one.bits),
            "{}",
            field.name
        );
        assert!(
            matches!(field.kind, Kind::Choice(_) | Kind::Switch | Kind::Count)
                || Scale::of(field.kind).is_some()
        );
    }
}

#[test]
fn a_house_whose_edge_no_sensor_sees_gets_limits_for_its_edge() {
    let small = site(include_str!("../../../../tests/data/houses/small.toml"));
    let colder_k = below_sensor_k(&small.config.plant).expect("it cools");
    assert!((1.0..3.0).contains(&colder_k), "{colder_k}");
    let raw = settings_for(&small);
    assert!(Settings::check(raw).is_ok(), "{:?}", Settings::check(raw));
    for key in BY_THE_SENSOR {
        let raised = f64::from(raw.bits(key) - RawSettings::DEFAULT.bits(key)) / 65_536.0;
        assert!((raised - colder_k).abs() < 0.06, "{}: {raised}", key.name());
    }
    let demo = below_sensor_k(&PlantConfig::default()).expect("it cools");
    assert!(demo.abs() < USUAL_EDGE_K, "{demo}");
}
