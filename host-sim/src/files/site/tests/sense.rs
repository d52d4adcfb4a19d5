//! What contradicts itself is refused, what is unwise is remarked upon.

use super::*;

#[test]
fn contradictions_are_refused_at_the_key_given() {
    refused(
        "[house]\nridge = \"1.5 m\"\n",
        2,
        9,
        &["house.ridge, house.eaves", "1.5 m below eaves of 1.9 m"],
    );
    refused(
        "[house]\neaves = \"3 m\"\n",
        2,
        9,
        &["a ridge of 2.7 m below"],
    );
    refused("[house]\nsun_to_floor = 0.7\n", 2, 16, &["add up to 1.1"]);
    refused(
        "[slab]\ntube_depth = \"95 mm\"\n",
        2,
        14,
        &["slab.tube_depth", "95 mm deep in 0.1 m", "8 mm to 92 mm"],
    );
    refused(
        "[store_floor]\nthickness = \"5 cm\"\n",
        2,
        13,
        &["store_floor.thickness", "50 mm deep in 50 mm"],
    );
    refused(
        "[slab]\nspacing = \"4 cm\"\ncircuit_length = \"9 m\"\n",
        2,
        11,
        &["slab.spacing", "more than 50.2654825 mm"],
    );
    refused(
        "[slab]\ncircuit_length = \"120 m\"\n",
        2,
        18,
        &[
            "120 m of tube at 0.25 m",
            "at most 95 m on a floor of 21.6 m²",
        ],
    );
    refused(
        "[slab]\ntube_inside = \"17 mm\"\n",
        2,
        15,
        &["less than the outside diameter 16 mm"],
    );
    refused(
        "[vent]\nopens = \"30 °C\"\n",
        2,
        9,
        &["vent.opens", "opens at 30 °C and is open at 24 °C"],
    );
    refused("[earth]\nmean = \"-1 °C\"\n", 2, 8, &["freezes at 0 °C"]);
    refused(
        "[start]\nslab = \"-4 °C\"\n",
        2,
        8,
        &["start.slab", "take more glycol"],
    );
    refused(
        "[fluid]\nglycol = 0.3\n",
        2,
        10,
        &["a share of glycol in water"],
    );
    refused(
        "[fluid]\nkind = \"ethylene glycol\"\nglycol = 0.45\n",
        3,
        10,
        &["0.2 to 0.4"],
    );
    parsed("[fluid]\nkind = \"propylene glycol\"\nglycol = \"45 %\"\n[start]\nslab = \"-4 °C\"\n");
    // A cellar may be larger than the house above it.
    parsed("[store_floor]\ncircuit_length = \"120 m\"\n");
}

#[track_caller]
fn remarks(text: &str, key: &str, parts: &[&str]) {
    let lints = parsed(text).lints;
    let found = lints
        .iter()
        .filter(|lint| lint.key == key)
        .any(|lint| parts.iter().all(|part| lint.text.contains(part)));
    assert!(found, "{lints:?}");
}

#[test]
fn the_unwise_is_remarked_upon() {
    // 1 L/s through 113.1 mm2 is 8.84 m/s.
    remarks(
        "[circulator]\nmeasured_flow = \"1 L/s\"\n",
        "slab.tube",
        &["1 L/s in 12.0 mm bore runs at 8.8 m/s", "1.2 m/s"],
    );
    remarks(
        "[circulator]\nmeasured_flow = \"1 L/s\"\n",
        "circulator.measured_flow",
        &["needs a head of"],
    );
    remarks(
        "[circulator]\nmeasured_flow = \"0.02 L/s\"\n",
        "slab.tube",
        &["0.18 m/s", "air bubbles"],
    );
    // Half the flow in each of two circuits.
    remarks(
        "[circulator]\nmeasured_flow = \"0.06 L/s\"\n[slab]\ncircuits = 2\ncircuit_length = \"43 m\"\n",
        "slab.tube",
        &["0.03 L/s", "0.27 m/s"],
    );
    remarks(
        "[store_floor]\ncircuit_length = \"120 m\"\n",
        "store_floor.circuit_length",
        &["120 m of 16x2.0", "usual 90 m"],
    );
    remarks(
        "[house]\nedge_loss = \"0.73 Btu/h·ft·F\"\n",
        "house.edge_loss",
        &["bare slab edge"],
    );
    remarks(
        "[supply_run]\nsurroundings = \"outdoor\"\n",
        "supply_run.surroundings",
        &["plain water"],
    );
    remarks(
        "[boiler]\nmixing_valve = false\n",
        "boiler.mixing_valve",
        &["short bursts"],
    );
    remarks(
        "[house]\nair_changes = \"9 1/h\"\n",
        "house.air_changes",
        &["9 1/h is unusual, 0.3 to 2 1/h is common"],
    );
    remarks(
        "[slab]\ncircuits = 6\ncircuit_length = \"14 m\"\n",
        "slab.circuits",
        &["6 is unusual, 1 to 4 is common"],
    );
}
