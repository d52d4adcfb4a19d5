//! Checks of the site file: the table of keys against itself, and each kind of wrong file.

use super::keys::{Key, Kind, SECTIONS, Section};
use super::value::{Scale, text_of};
use super::*;
use crate::files::quantity::{Dimension, Units};
use crate::sim::plant::config::{BoilerKind, Piping, Tending};
use crate::sim::plant::exchanger::Layout;
use crate::sim::plant::fluid::Fluid;

mod refusals;
mod sense;

#[track_caller]
fn parsed(text: &str) -> Site {
    match Site::parse(text, "made.toml") {
        Ok(site) => site,
        Err(error) => panic!("{error}"),
    }
}

#[track_caller]
fn fault(text: &str) -> Fault {
    match Site::parse(text, "made.toml") {
        Err(SiteError::Faults(mut faults)) => faults.remove(0),
        other => panic!("must be refused: {other:?}"),
    }
}

#[track_caller]
fn refused(text: &str, line: usize, column: usize, parts: &[&str]) {
    let fault = fault(text);
    let message = fault.to_string();
    assert_eq!((fault.line, fault.column), (line, column), "{message}");
    for part in parts {
        assert!(message.contains(part), "\"{part}\" is not in: {message}");
    }
}

fn all_keys() -> impl Iterator<Item = (&'static Section, &'static Key)> {
    SECTIONS
        .iter()
        .flat_map(|section| section.keys.iter().map(move |key| (section, key)))
}

/// A site in which every optional part is fitted and every optional key has something to act on.
fn fitted() -> SiteConfig {
    let mut config = SiteConfig::default();
    for fit in SECTIONS.iter().filter_map(|section| section.fit) {
        (fit.set)(&mut config, true);
    }
    config.plant.fluid = Fluid::Propylene(0.3);
    config.plant.circulator.measured_flow_l_s = Some(0.05);
    config.latitude_deg = Some(45.0);
    config.plant.store.floor_area_m2 = Some(21.6);
    config.plant.store.floor.underside_w_m2k = 0.5;
    config
}

#[test]
fn names_are_unique_and_every_key_is_explained() {
    for section in SECTIONS {
        assert_eq!(
            SECTIONS
                .iter()
                .filter(|other| other.name == section.name)
                .count(),
            1
        );
        assert!(section.doc.ends_with('.'), "{}", section.name);
        for key in section.keys {
            let same = section
                .keys
                .iter()
                .filter(|other| other.name == key.name)
                .count();
            assert_eq!(same, 1, "{}.{}", section.name, key.name);
            assert!(key.doc.ends_with('.'), "{}.{}", section.name, key.name);
        }
    }
    assert!(all_keys().count() > 120);
}

#[test]
fn what_is_usual_is_possible() {
    for (section, key) in all_keys() {
        if let Kind::Quantity {
            typical, allowed, ..
        } = &key.kind
        {
            let name = format!("{}.{}", section.name, key.name);
            assert!(typical.0 < typical.1 && allowed.0 < allowed.1, "{name}");
            assert!(allowed.0 <= typical.0 && typical.1 <= allowed.1, "{name}");
        }
    }
}

/// Writing a key changes that key and no other, save those that follow from it.
#[test]
fn each_key_has_a_place_of_its_own() {
    let follow = |changed: &str, other: &str| {
        let (section, key) = changed.split_once('.').unwrap();
        key == "tube_inside" && other == format!("{section}.tube")
            || key == "tube" && other == format!("{section}.tube_inside")
            || key == "charge" && other == format!("{section}.load")
            || key == "underside_insulation" && other == format!("{section}.underside_heat_loss")
            || key == "underside_heat_loss" && other == format!("{section}.underside_insulation")
    };
    for (section, key) in all_keys() {
        let name = format!("{}.{}", section.name, key.name);
        let before = fitted();
        let mut after = before.clone();
        let wrote = match &key.kind {
            Kind::Quantity {
                typical,
                read,
                write,
                ..
            } => {
                let old = read(&before).unwrap_or_else(|| panic!("{name} reads nothing"));
                let new = typical.0 + 0.371 * (typical.1 - typical.0);
                assert!(
                    (new - old).abs() > 1e-9 * old.abs(),
                    "{name}: choose another value"
                );
                write(&mut after, new);
                let got = read(&after).unwrap();
                assert!(
                    (got - new).abs() <= 1e-12 * new.abs().max(1e-3),
                    "{name}: {got} for {new}"
                );
                true
            }
            Kind::Count {
                allowed,
                read,
                write,
                ..
            } => {
                let new = if read(&before) == Some(allowed.1) {
                    allowed.0
                } else {
                    allowed.1
                };
                write(&mut after, new);
                assert_eq!(read(&after), Some(new), "{name}");
                true
            }
            // Words and flags that switch a part over change what belongs to it; their own tests are below.
            Kind::Choice { .. } | Kind::Flag { .. } | Kind::Text { .. } => false,
        };
        if wrote {
            for (other_section, other) in all_keys() {
                let other_name = format!("{}.{}", other_section.name, other.name);
                if other_name != name && !follow(&name, &other_name) {
                    let (old, new) = (
                        text_of(other, &before, Units::Si),
                        text_of(other, &after, Units::Si),
                    );
                    assert_eq!(old, new, "{name} also changed {other_name}");
                }
            }
        }
    }
}

/// Every word of every choice is understood and read back.
#[test]
fn choices_are_read_back() {
    for (section, key) in all_keys() {
        if let Kind::Choice {
            options,
            read,
            write,
        } = &key.kind
        {
            for option in options() {
                let mut config = fitted();
                assert!(
                    write(&mut config, option),
                    "{}.{}: {option}",
                    section.name,
                    key.name
                );
                assert_eq!(read(&config), Some(option), "{}.{}", section.name, key.name);
            }
            assert!(!write(&mut fitted(), "no such word"));
        }
    }
}

#[test]
fn the_demonstration_file_is_the_demonstration_site() {
    let text = demo_toml(crate::files::quantity::Units::Si);
    let site = parsed(&text);
    assert!(site.left_out.is_empty(), "{:?}", site.left_out);
    for (section, key) in all_keys() {
        let (shown, wanted) = (
            text_of(key, &site.config, Units::Si),
            text_of(key, &SiteConfig::default(), Units::Si),
        );
        assert_eq!(shown, wanted, "{}.{}", section.name, key.name);
    }
    assert_eq!(site.config.plant.boiler, SiteConfig::default().plant.boiler);
    assert_eq!(site.config.plant.store, SiteConfig::default().plant.store);
    // The commented parts are right as well once the mark is taken off.
    let with_parts: String = text
        .lines()
        .map(|line| {
            let bare = line.strip_prefix("# ").unwrap_or("");
            let is_toml = bare.starts_with('[')
                || bare.contains(" = ") && !bare.contains('…') && !bare.ends_with('.');
            format!("{}\n", if is_toml { bare } else { line })
        })
        .collect();
    let site = parsed(&with_parts);
    assert!(site.config.plant.house.curtain.is_some() && site.config.plant.house.mass.is_some());
    // Every key is in the file, with its meaning.
    for (section, key) in all_keys() {
        assert!(text.contains(key.doc), "{}.{}", section.name, key.name);
        assert!(text.contains(&format!("{} = ", key.name)));
    }
}

#[test]
fn the_demonstration_site_needs_no_remark() {
    assert_eq!(Site::demo().lints, []);
}

/// NIST SP 811: 1 ft = 0.3048 m, 1 gal/min = 0.06309020 L/s, 1 Btu/(h·ft²·°F) = 5.678263 W/m²K.
#[test]
fn us_units_give_the_same_site() {
    let site = parsed(
        "[house]\nwidth = \"12 ft\"\nglazing_u_value = \"0.60 Btu/h·ft2·F\"\n\
         [slab]\ncircuit_length = \"280 ft\"\n[earth]\nmean = \"48 °F\"\namplitude = \"9 °F\"\n\
         [circulator]\nmeasured_flow = \"0.95 gpm\"\n",
    );
    let near =
        |got: f64, want: f64| assert!((got - want).abs() < 1e-6 * want.abs(), "{got} {want}");
    near(site.config.plant.house.width_m, 3.6576);
    near(site.config.plant.house.glazing_u_w_m2k, 3.406_957_8);
    near(site.config.plant.floor.circuit_length_m, 85.344);
    near(site.config.plant.ground.mean_c, 8.888_889);
    near(site.config.plant.ground.amplitude_k, 5.0);
    near(
        site.config.plant.circulator.measured_flow_l_s.unwrap(),
        0.059_935_69,
    );
    assert!(site.left_out.contains(&"house.length".to_owned()));
    assert!(!site.left_out.contains(&"house.width".to_owned()));
}

#[test]
fn optional_parts_come_and_go() {
    let curtain = parsed("[curtain]\nair_changes = \"0.4 1/h\"\n")
        .config
        .plant
        .house
        .curtain
        .unwrap();
    assert_eq!((curtain.u_w_m2k, curtain.air_changes_per_h), (1.7, 0.4));
    assert!(
        parsed("[curtain]\nfitted = false\nair_changes = \"0.4 1/h\"\n")
            .config
            .plant
            .house
            .curtain
            .is_none()
    );
    let none = parsed("[boiler]\nfitted = false\npower = \"5 kW\"\n");
    assert!(none.config.plant.boiler.is_none());
    assert!(!none.left_out.iter().any(|key| key.starts_with("boiler.")));

    // The order of the lines does not matter: the kind is settled before what belongs to it.
    let boiler = parsed(
        "[boiler]\npower = \"20 kW\"\nmixing_valve = false\npiping = \"bypass\"\nkind = \"injection\"\n",
    );
    let boiler = boiler.config.plant.boiler.unwrap();
    assert_eq!(
        boiler.kind,
        BoilerKind::Injection {
            capacity_w: 20_000.0
        }
    );
    assert_eq!((boiler.piping, boiler.mixing_c), (Piping::Bypass, None));
    let fire =
        parsed("[boiler]\nwood_moisture = 0.5\nevening_feed = \"20.5 h\"\nfed_below = \"23 °F\"\n");
    let Some(BoilerKind::HandFired(fire)) = fire.config.plant.boiler.map(|boiler| boiler.kind)
    else {
        panic!("hand-fired");
    };
    assert_eq!(fire.wood_j_kg, 10.0e6);
    assert_eq!(
        fire.tending,
        Tending::Daily {
            hours: [7.0, 20.5],
            below_c: -5.0
        }
    );
}

#[test]
fn a_fire_may_be_tended_on_call() {
    let site = parsed("[boiler]\ntending = \"on call\"\nanswer = \"20 min\"\n");
    let Some(BoilerKind::HandFired(fire)) = site.config.plant.boiler.map(|boiler| boiler.kind)
    else {
        panic!("hand-fired");
    };
    assert_eq!((fire.tending, fire.answer_s), (Tending::OnCall, 1_200.0));
}

/// A gallon is 3.785 411 784 L by definition, water at 20 °C 998.2 kg/m³ (IAPWS-95); a cord is 128 ft³, at 400 kg/m³ of
/// stack 1450 kg.
#[test]
fn a_fire_may_be_told_in_gallons_cords_and_by_the_clock() {
    let fire = |lines: &str| {
        let site = parsed(&format!("[boiler]\n{lines}"));
        match site.config.plant.boiler.map(|boiler| boiler.kind) {
            Some(BoilerKind::HandFired(fire)) => fire,
            other => panic!("hand-fired: {other:?}"),
        }
    };
    let close = |found: f64, expected: f64| assert!((found - expected).abs() < 0.01, "{found}");
    close(
        fire("jacket = \"22 gal\"").jacket_kg,
        22.0 * 3.785_411_784 * 0.998_2,
    );
    close(fire("jacket = \"80 L\"").jacket_kg, 79.856);
    close(
        fire("charge = \"0.02 cords\"").charge_kg,
        0.02 * 128.0 * 0.028_316_846_592 * 400.0,
    );
    close(fire("charge = \"0.1 m3\"").charge_kg, 40.0);
    let hours = |lines: &str| match fire(lines).tending {
        Tending::Daily { hours, .. } => hours,
        other => panic!("fed twice a day: {other:?}"),
    };
    for (morning, evening) in [("7 am", "5 pm"), ("07:00", "17:00"), ("7 h", "17 h")] {
        let lines = format!("morning_feed = \"{morning}\"\nevening_feed = \"{evening}\"");
        assert_eq!(hours(&lines), [7.0, 17.0], "{lines}");
    }
    refused("[boiler]\nevening_feed = \"13 pm\"\n", 2, 16, &["13 pm"]);
    refused(
        "[boiler]\ncharge = \"2 cord feet\"\n",
        2,
        10,
        &["2 cord feet"],
    );
}

#[test]
fn a_house_has_the_name_it_is_given() {
    let site = parsed("[place]\nname = \" Old Orchard \"\n");
    assert_eq!(site.config.name.as_deref(), Some("Old Orchard"));
    assert_eq!(parsed("[house]\nwidth = \"4 m\"\n").config.name, None);
    refused(
        "[place]\nname = \" \"\n",
        2,
        8,
        &["place.name", "a text in quotes"],
    );
}

#[test]
fn the_store_floor_is_not_the_slab() {
    let site = parsed(
        "[store_floor]\nlayout = \"counter-flow\"\ncircuits = 2\ntube = \"1/2 in\"\ntube_inside = \"12.0 mm\"\n",
    );
    assert_eq!(site.config.plant.floor, SiteConfig::default().plant.floor);
    let floor = site.config.plant.store.floor;
    assert_eq!(
        (floor.layout, floor.circuits, floor.tube.name),
        (Layout::CounterFlow, 2, "1/2 in")
    );
    assert_eq!(
        (floor.tube.inside_m, floor.tube.outside_m),
        (0.012, 0.015875)
    );
}

#[test]
fn glazing_follows_the_house() {
    let site = parsed(
        "[house]\nwidth = \"4 m\"\n[place]\ngable_direction = \"0 deg\"\nground_reflectance = 0.7\nsky_model = \"isotropic\"\n[slab]\nspacing = \"0.25 m\"\n",
    );
    let glazing = site.config.glazing();
    assert!((glazing.area_m2() - site.config.plant.house.glazing_area_m2()).abs() < 1e-9);
    assert_eq!(
        (glazing.ground_albedo, glazing.diffuse),
        (0.7, DiffuseModel::Isotropic)
    );
    assert_eq!(glazing.surfaces[0].azimuth_deg, 90.0);
    assert!((SiteConfig::default().glazing().area_m2() - 62.9973).abs() < 1e-4);
    assert_eq!(
        SiteConfig::default().glazing().surfaces[0].azimuth_deg,
        180.0
    );
}

#[test]
fn files_are_read_and_name_their_weather() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("site.toml");
    std::fs::write(&path, "[place]\nweather = \"my.epw\"\n").unwrap();
    let site = Site::read(&path).unwrap();
    assert_eq!(
        site.config.weather,
        Some(Source::File(folder.path().join("my.epw")))
    );
    std::fs::write(&path, "[place]\nweather = 3\n").unwrap();
    let message = Site::read(&path).unwrap_err().to_string();
    assert!(
        message.starts_with(&format!("{}: line 2, column 11", path.display())),
        "{message}"
    );
    std::fs::write(&path, b"[house]\n\xff").unwrap();
    assert!(matches!(
        Site::read(&path),
        Err(SiteError::Unreadable { .. })
    ));
    assert!(Site::read(&folder.path().join("none.toml")).is_err());
}

mod damaged {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Whatever happens to a file, the answer is a site that can be built or a place in the file.
        #[test]
        fn files_never_panic(at in 0_usize..20_000, cut in 0_usize..60, put in "[ -~°=\"\n]{0,12}") {
            let mut characters: Vec<char> = demo_toml(crate::files::quantity::Units::Si).chars().collect();
            let at = at.min(characters.len());
            let end = (at + cut).min(characters.len());
            characters.splice(at..end, put.chars());
            let text: String = characters.into_iter().collect();
            match Site::parse(&text, "made.toml") {
                Ok(site) => prop_assert!(site.config.plant.check().is_ok()),
                Err(error) => prop_assert!(error.to_string().starts_with("made.toml: line ")),
            }
        }
    }
}
