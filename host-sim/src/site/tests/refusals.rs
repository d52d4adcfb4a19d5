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
        let scale = Scale::of_key(*dimension, *typical);
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
            let value = Scale::of_key(*dimension, *typical).value(end);
            let text = format!("[{}]\n{} = \"{value}\"\n", section.name, key.name);
            match Site::parse(&text, "made.toml") {
                Ok(site) => assert_eq!(site.config.plant.check(), Ok(()), "{text}"),
                Err(SiteError::Fault(fault)) => {
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
        let fault = fault(&format!("[house]\nglazing_heat_loss = \"{value}\"\n"));
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
            "width, length",
            "correct the name",
        ],
    );
    refused(
        "[hous]\nwidth = \"3 m\"\n",
        1,
        2,
        &["hous", "an unknown section", "place, house, curtain"],
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
