use super::*;
use controller_core::units::Celsius;

#[track_caller]
fn refusal(text: &str) -> String {
    parse(text, "my.toml").expect_err(text).to_string()
}

#[test]
fn an_empty_file_is_the_defaults() {
    assert_eq!(parse("", "my.toml").unwrap(), Settings::default());
}

#[test]
fn what_is_written_is_read_back_in_both_systems_of_units() {
    let text = to_toml(&RawSettings::DEFAULT, Units::Si);
    assert_eq!(parse(&text, "my.toml").unwrap(), Settings::default());
    let us = to_toml(&RawSettings::DEFAULT, Units::Us);
    assert_eq!(parse(&us, "my.toml").unwrap(), Settings::default());
}

#[test]
fn values_finer_than_people_read_are_written_with_more_decimals() {
    let odd = "transit = \"100 s\"\nslab_set = \"4.125 °C\"\nflow = \"0.0612345 L/s\"\n\
               loop_effectiveness = 0.712345\npump_power = \"45.678 W\"\n";
    let settings = parse(odd, "my.toml").unwrap();
    for units in [Units::Si, Units::Us] {
        let text = to_toml(settings.raw(), units);
        assert_eq!(parse(&text, "my.toml").unwrap(), settings, "{text}");
    }
    let text = to_toml(settings.raw(), Units::Si);
    for line in [
        "transit = \"100 s\"",
        "slab_set = \"4.125 °C\"",
        "settling_time = \"8 min\"",
    ] {
        assert!(text.contains(line), "{line}: {text}");
    }
}

#[test]
fn fahrenheit_is_a_point_or_a_difference_by_its_key() {
    let settings = parse(
        "slab_set = \"41 °F\"\nstart_difference = \"4.5 °F\"\n",
        "my.toml",
    )
    .unwrap();
    assert_eq!(settings.slab_set, Celsius::from_milli(5_000));
    assert_eq!(settings.start_difference.to_bits(), 163_840); // 2.5 K
}

#[test]
fn refusals_name_place_value_range_and_what_to_do() {
    let message = refusal("slab_band = \"1 K\"\nslab_set = \"40 °C\"\n");
    for part in [
        "my.toml",
        "line 2",
        "column 12",
        "slab_set",
        "\"40 °C\"",
        "2.5 °C to 12 °C",
    ] {
        assert!(message.contains(part), "{part}: {message}");
    }
    let message = refusal("slab_sett = \"4 °C\"\n");
    for part in ["line 1, column 1", "slab_sett", "unknown", "slab_set"] {
        assert!(message.contains(part), "{part}: {message}");
    }
    assert!(refusal("slab_set = 4.0\n").contains("2.5 °C to 12 °C"));
    assert!(refusal("slab_set = \"4.0\"\n").contains("4.0"));
    assert!(refusal("slab_set = \"4 min\"\n").contains("4 min"));
    assert!(refusal("boiler = \"coal\"\n").contains("none, firing, injection"));
    assert!(refusal("supply_limited = \"yes\"\n").contains("true or false"));
    assert!(refusal("pump_starts = 99\n").contains("2 to 8"));
    assert!(refusal("slab_set = \n").contains("line 1"));
}

#[test]
fn a_broken_relation_shows_the_values_and_the_relation() {
    let message = refusal(
        "settling_time = \"4 min\"\nstop_difference = \"1.9 K\"\nstart_difference = \"1.8 K\"\n",
    );
    for part in [
        "line 2",
        "stop_difference = 1.9 K",
        "start_difference = 1.8 K",
        "stop_difference < start_difference",
    ] {
        assert!(message.contains(part), "{part}: {message}");
    }
}

#[test]
fn fingerprints_differ_with_any_setting() {
    let mut raw = RawSettings::DEFAULT;
    let before = sha256(&raw);
    raw.supply_limited = false;
    assert_ne!(before, sha256(&raw));
    assert_eq!(before.len(), 64);
}

proptest::proptest! {
    #[test]
    fn an_exact_file_reads_back_to_the_last_bit(nudges in proptest::collection::vec(-9_000_i32..9_000, 70)) {
        let mut raw = RawSettings::DEFAULT;
        for (field, nudge) in Field::all().iter().zip(nudges) {
            let mut trial = raw;
            let bits = raw.bits(field.key) + nudge;
            if trial.set_bits(field.key, bits) && Settings::check(trial).is_ok() {
                raw = trial;
            }
        }
        for units in [Units::Si, Units::Us] {
            let text = to_toml(&raw, units);
            let read = parse(&text, "file").map_err(|error| error.to_string());
            proptest::prop_assert_eq!(read.as_ref().map(Settings::raw), Ok(&raw));
        }
    }
}

#[test]
fn times_read_back_as_they_were_written() {
    let field = Key::ExposedTime.field();
    for (minutes, text) in [
        (60, "1 h"),
        (90, "1.5 h"),
        (130, "130 min"),
        (1_470, "1470 min"),
        (2_880, "2 d"),
    ] {
        assert_eq!(value_text(field, minutes * 60_000, Units::Si), text);
    }
    assert_eq!(value_text(field, 4_000_001, Units::Si), "4000.001 s");
    let mut raw = RawSettings::DEFAULT;
    for minutes in 0..=240 {
        assert!(raw.set_bits(Key::ExposedTime, minutes * 60_000));
        let read = parse(&to_toml(&raw, Units::Si), "written.toml").expect("settings");
        assert_eq!(*read.raw(), raw, "{minutes} min");
    }
}

#[test]
fn every_broken_relation_is_told_at_once_with_the_number_that_would_do() {
    let text = "stop_difference = \"1.0 K\"\ntransit = \"324 s\"\n";
    let error = parse(text, "mine.toml").expect_err("refused").to_string();
    // 1.2 * 1.0 K / 0.69 = 1.74 K; twice 324 s are 10.8 min.
    for part in [
        "start_difference at least 1.8 K",
        "settling_time at least 11 min",
        "start_difference >= 1.2 * stop_difference / loop_effectiveness",
    ] {
        assert!(error.contains(part), "{part:?} is not in: {error}");
    }
    assert_eq!(
        error.matches("mine.toml: line").count(),
        error.lines().count()
    );
    let error = parse("slab_seet = 3\nsettling_time = \"9\"\n", "mine.toml");
    let error = error.expect_err("refused").to_string();
    assert!(
        error.contains("line 1") && error.contains("slab_set") && error.contains("line 2"),
        "{error}"
    );
}

#[test]
fn a_file_in_us_units_is_refused_in_us_units() {
    let error = parse("slab_set = \"80 °F\"\n", "mine.toml").expect_err("refused");
    assert!(
        error.to_string().contains("expected 36.5 °F to 53.6 °F"),
        "{error}"
    );
}

#[test]
fn settings_in_us_units_are_what_a_person_would_write() {
    let raw = rounded(&RawSettings::DEFAULT, Units::Us);
    let text = to_toml(&raw, Units::Us);
    for line in [
        "pump_power = \"45 W\"",
        "flow = \"0.951 gpm\"",
        "specific_heat = \"4200 J/kgK\"",
        "slab_set = \"39.2 °F\"",
    ] {
        assert!(
            text.lines().any(|found| found == line),
            "{line} is not in {text}"
        );
    }
    let read = parse(&text, "us.toml").expect("settings");
    assert_eq!(*read.raw(), raw);
    assert_eq!(
        rounded(&RawSettings::DEFAULT, Units::Si),
        RawSettings::DEFAULT
    );
}

#[test]
fn the_short_file_holds_the_owners_choices_and_reads_back() {
    for units in [Units::Si, Units::Us] {
        let text = yours(&RawSettings::DEFAULT, units);
        let read = parse(&text, "short.toml").expect("settings");
        assert_eq!(read.raw(), &RawSettings::DEFAULT);
        for field in Field::all() {
            let stands = text.contains(&format!("\n{} = ", field.name));
            assert_eq!(stands, field.group == Group::Yours, "{}", field.name);
        }
        assert!(
            text.lines().filter(|line| line.contains(" = ")).count() <= 12,
            "{text}"
        );
    }
}

#[test]
fn the_whole_file_has_every_setting_once_under_its_group() {
    let text = to_toml(&RawSettings::DEFAULT, Units::Si);
    let mut group = None;
    let mut found = 0;
    for line in text.lines() {
        if let Some(over) = Group::ALL.into_iter().find(|g| line.contains(heading(*g))) {
            group = Some(over);
        } else if let Some((name, _)) = line.split_once(" = ")
            && !line.starts_with('#')
        {
            let field = Field::all().iter().find(|field| field.name == name);
            assert_eq!(field.map(|field| field.group), group, "{line}");
            found += 1;
        }
    }
    assert_eq!(found, Field::all().len());
}
