//! Values, names and words that are wrong, each refused at its place.

use super::*;

/// Each physical value of the table refuses a bare number, a unit of another kind, and numbers out of range.
#[test]
fn every_value_is_guarded() {
    for (section, key) in all_keys() {
        let Kind::Quantity {
            dimension,
            typical,
            allowed,
            ..
        } = &key.kind
        else {
            continue;
        };
        // In a fitted boiler and with a glycol every key is there.
        let line = |value: &str| format!("[{}]\n{} = {value}\n", section.name, key.name);
        let name = format!("{}.{}", section.name, key.name);
        if *dimension != Dimension::Fraction {
            let fault = fault(&line("5"));
            assert_eq!((fault.line, fault.key.as_str()), (2, name.as_str()));
            assert_eq!(fault.found, "the bare number 5");
            assert!(fault.advice.contains("in quotes"), "{fault}");
        }
        let foreign = if *dimension == Dimension::Mass {
            "\"5 m\""
        } else {
            "\"5 kg\""
        };
        let refused = fault(&line(foreign));
        assert!(refused.found.contains(foreign), "{refused}");
        let scale = Scale::of_key(*dimension, *typical, crate::files::quantity::Units::Si);
        for outside in [
            allowed.0 - 0.01 * (allowed.1 - allowed.0),
            allowed.1 + 0.01 * (allowed.1 - allowed.0),
        ] {
            let refused = fault(&line(&format!("\"{}\"", scale.value(outside))));
            assert_eq!(refused.key, name);
            assert_eq!(refused.expected, scale.range(*allowed), "{refused}");
        }
        for (text, part) in [
            ("true", "found true"),
            ("[1]", "found a list"),
            ("{ a = 1 }", "found a section"),
        ] {
            let message = fault(&line(text)).to_string();
            assert!(message.contains(part), "{message}");
        }
    }
}

/// A value at either end of its possible range makes a site, or breaks a relation that is named by its keys.
#[test]
fn the_ends_of_every_range_are_settled() {
    for (section, key) in all_keys() {
        let Kind::Quantity {
            dimension,
            typical,
            allowed,
            ..
        } = &key.kind
        else {
            continue;
        };
        for end in [allowed.0, allowed.1] {
            let value =
                Scale::of_key(*dimension, *typical, crate::files::quantity::Units::Si).value(end);
            let text = format!("[{}]\n{} = \"{value}\"\n", section.name, key.name);
            match Site::parse(&text, "made.toml") {
                Ok(site) => assert_eq!(site.config.plant.check(), Ok(()), "{text}"),
                Err(SiteError::Faults(faults)) => {
                    let fault = &faults[0];
                    assert_eq!(fault.line, 2, "{fault}");
                    assert!(
                        fault
                            .key
                            .contains(&format!("{}.{}", section.name, key.name)),
                        "{fault}"
                    );
                }
                Err(other) => panic!("{other}"),
            }
        }
    }
}

#[test]
fn a_wrong_unit_is_explained() {
    for (value, advice) in [
        ("0.6", "add the unit, for example W/m²K"),
        ("3,4 W/m2K", "write a decimal point"),
        ("about 3 W/m2K", "begin with the number"),
        (
            "3.4 W/m3K",
            "the unit \"W/m3K\" is not known; write for example W/m²K",
        ),
        (
            "3.4 kg",
            "that unit measures something else; write for example W/m²K",
        ),
    ] {
        let fault = fault(&format!("[house]\nglazing_u_value = \"{value}\"\n"));
        assert_eq!(fault.advice, advice);
        assert_eq!(fault.expected, "a value with its unit, 0.2 to 12 W/m²K");
        assert_eq!(fault.found, format!("\"{value}\""));
    }
    refused(
        "[house]\ntransmittance = \"0.8 parts\"\n",
        2,
        17,
        &["\"parts\" is not known", "for example %"],
    );
}

#[test]
fn unknown_names_are_refused() {
    refused(
        "[house]\nwidht = \"3 m\"\n",
        2,
        1,
        &[
            "house.widht",
            "an unknown key",
            "the nearest is width",
            "correct the name",
        ],
    );
    refused(
        "[hous]\nwidth = \"3 m\"\n",
        1,
        2,
        &["hous", "an unknown section", "the nearest is house"],
    );
    refused(
        "width = \"3 m\"\n[house]\n",
        1,
        1,
        &["width", "outside any known section"],
    );
    refused("house = 3\n", 1, 1, &["outside any known section"]);
    // Of two wrong places the first in the file is named.
    refused("[slab]\nx = 1\n[house]\ny = 2\n", 2, 1, &["slab.x"]);
    refused(
        "[slab]\nspacing = \"9 m\"\n[house]\nwidth = 2\n",
        2,
        11,
        &["slab.spacing"],
    );
}

#[test]
fn a_file_in_us_units_is_refused_in_us_units() {
    let fault = fault("[earth]\nmean = \"51 °F\"\n[slab]\nspacing = \"60 in\"\n");
    assert_eq!(fault.expected, "1.2 to 39 in", "{fault}");
    let lints = parsed("[slab]\ncircuit_length = \"380 ft\"\nspacing = \"7 in\"\n").lints;
    let text = lints
        .iter()
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join("\n");
    assert!(
        text.contains("380 ft of 16x2.0") && !text.contains(" m "),
        "{text}"
    );
}

#[test]
fn the_demonstration_file_in_us_units_is_nearly_the_same_site() {
    let site = parsed(&super::super::demo_toml(Units::Us));
    assert_eq!(site.left_out, Vec::<String>::new());
    let text = super::super::demo_toml(Units::Us);
    for part in [
        "width = \"11.81 ft\"",
        "spacing = \"9.843 in\"",
        "power = \"45 W\"",
        "mean = \"46.04 °F\"",
    ] {
        assert!(text.contains(part), "{part} is not in {text}");
    }
    for sign in ["°C", " mm", "W/m²K", " kg"] {
        assert!(
            !text
                .lines()
                .filter(|line| line.contains(" = "))
                .any(|line| line.contains(sign)),
            "{sign} in {text}"
        );
    }
    for (section, key) in all_keys() {
        let Kind::Quantity { read, typical, .. } = &key.kind else {
            continue;
        };
        let (Some(one), Some(other)) = (read(&site.config), read(&SiteConfig::default())) else {
            continue;
        };
        let size = other.abs().max(0.01 * (typical.1 - typical.0));
        assert!(
            (one - other).abs() <= 0.002 * size,
            "{}.{}: {one} for {other}",
            section.name,
            key.name
        );
    }
}

#[test]
fn broken_toml_is_refused_at_its_place() {
    refused(
        "[house]\nwidth = 3.6 m\n",
        2,
        9,
        &["made.toml: line 2", "no TOML", "in quotes"],
    );
    refused(
        "[house]\nwidth = \"3 m\"\nwidth = \"4 m\"\n",
        3,
        1,
        &["no TOML", "duplicate key"],
    );
    refused("[house\n", 1, 7, &["no TOML"]);
}

/// Columns count characters, not bytes.
#[test]
fn places_count_characters() {
    refused(
        "[house]\r\nwidth = \"3 °C\"\r\n",
        2,
        9,
        &["house.width", "3 °C"],
    );
    refused(
        "# ä°ö\n[earth] # µ°\nmean = \"9 °C\"\namplitude = \"9 °CC\"\n",
        4,
        13,
        &["earth.amplitude"],
    );
    refused(
        "house = { width = \"1 m\", length = \"9 °C\" }\n",
        1,
        35,
        &["house.length"],
    );
    let marked = "\u{feff}[house]\nwidth = 1\n";
    refused(marked, 2, 9, &["bare number"]);
}

#[test]
fn words_flags_and_counts_are_guarded() {
    refused(
        "[slab]\ntube = \"15x2\"\n",
        2,
        8,
        &["\"15x2\"", "\"16x2.0\"", "\"1/2 in\""],
    );
    refused(
        "[slab]\nlayout = 3\n",
        2,
        10,
        &["\"serpentine\" or \"counter-flow\""],
    );
    refused(
        "[slab]\ncircuits = \"2\"\n",
        2,
        12,
        &["\"2\"", "a whole number without quotes, 1 to 50"],
    );
    refused("[slab]\ncircuits = 0\n", 2, 12, &["found 0"]);
    refused("[slab]\ncircuits = 1.5\n", 2, 12, &["found 1.5"]);
    refused(
        "[earth]\nlateral_gain = \"yes\"\n",
        2,
        16,
        &["true or false"],
    );
    refused("[place]\nweather = \"  \"\n", 2, 11, &["a text in quotes"]);
    refused(
        "[house]\ntransmittance = 80\n",
        2,
        17,
        &["found 80", "0 to 1"],
    );
    assert_eq!(
        parsed("[house]\ntransmittance = \"80 %\"\n")
            .config
            .plant
            .house
            .transmittance,
        0.8
    );
}

#[test]
fn every_wrong_place_is_told_at_once_with_the_nearest_name() {
    let text = "[slab]\nspacng = \"6 in\"\nthickness = \"4 kg\"\n[hosue]\n[earth]\nmean = 9\n";
    let Err(SiteError::Faults(faults)) = Site::parse(text, "made.toml") else {
        panic!("must be refused");
    };
    let lines: Vec<usize> = faults.iter().map(|fault| fault.line).collect();
    assert_eq!(lines, [2, 3, 4, 6]);
    assert!(
        faults[0].expected.ends_with("the nearest is spacing"),
        "{}",
        faults[0]
    );
    assert!(
        faults[2].expected.ends_with("the nearest is house"),
        "{}",
        faults[2]
    );
    let text = "[house]\neaves = \"3 m\"\nsun_to_floor = 0.9\n";
    let Err(SiteError::Faults(faults)) = Site::parse(text, "made.toml") else {
        panic!("must be refused");
    };
    assert_eq!(faults.len(), 2, "two relations are broken: {faults:?}");
}

#[test]
fn a_bare_number_is_told_the_units_with_which_it_would_do() {
    let spacing = fault("[slab]\nspacing = 6\n");
    assert!(
        spacing.advice.contains("\"6 in\"") && !spacing.advice.contains("\"6 m\""),
        "{spacing}"
    );
    let width = fault("[house]\nwidth = 6\n");
    assert!(width.advice.contains("\"6 m\""), "{width}");
    let never = fault("[slab]\nspacing = -6\n");
    assert!(never.advice.contains("no unit"), "{never}");
}
