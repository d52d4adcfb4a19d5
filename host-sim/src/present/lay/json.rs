//! A laid floor for programs: SI, whatever units are shown.

use serde_json::{Value, json as object};

use super::Shown;
use super::text::answer;
use crate::files::quantity::Units;
use crate::questions::lay::{Circuit, Laid};
use crate::sim::plant::exchanger::Layout;

/// One object.
#[must_use]
pub fn json(shown: &Shown<'_>) -> Value {
    let mut whole = floor(shown.laid);
    whole["answer"] = answer(shown.laid).into();
    if let Some(other) = shown.other {
        whole["other_layout"] = floor(other);
    }
    whole
}

fn floor(laid: &Laid) -> Value {
    let warmth = &laid.warmth;
    object!({
        "layout": match laid.layout { Layout::Serpentine => "serpentine", Layout::CounterFlow => "counter-flow" },
        "pitch_m": laid.pitch_m,
        "first_node_m": laid.first_node,
        "floor_m2": laid.floor_m2,
        "served_m2": laid.served_m2,
        "left_out": laid.bare.iter().map(|strip| object!({
            "area_m2": strip.len() as f64 * laid.pitch_m[0] * laid.pitch_m[1],
            "cells_m": strip,
        })).collect::<Vec<_>>(),
        "detours": laid.detours,
        "joint_crossings": laid.crossings.len(),
        "least_radius_m": laid.least_radius_m,
        "sensor_m": laid.sensor,
        "circuits": laid.circuits.iter().map(circuit).collect::<Vec<_>>(),
        "coils": laid.coils,
        "evenness": {
            "outdoor_c": warmth.outdoor_c,
            "supply_c": warmth.supply_c,
            "mean_c": warmth.mean_c,
            "warmest_pad_c": warmth.warmest_c,
            "coldest_pad_c": warmth.coldest_c,
            "coldest_by_laying_c": warmth.laying_c,
            "wanted_c": warmth.wanted_c,
            "ratio": warmth.ratio,
            "coldest_without_tube_c": warmth.bare_c,
            "cells": warmth.cells,
        },
        "limits": laid.limits,
        "size_lines": laid.site_lines(Units::Si),
    })
}

fn circuit(circuit: &Circuit) -> Value {
    let course = &circuit.course;
    object!({
        "length_m": course.length_m,
        "leads_m": circuit.leads_m,
        "order_m": circuit.order_m,
        "bends": course.corners.len(),
        "half_turns": circuit.half_turns,
        "branch_ends": circuit.branch_ends,
        "radius_min_m": circuit.least_radius_m(),
        "ties": circuit.ties.len(),
        "turn_over": circuit.turn_over.map(|(corner, tube_m)| object!({ "corner": corner + 1, "tube_m": tube_m })),
        "marks": circuit.marks.iter().map(|(tube_m, at, _)| object!({ "tube_m": tube_m, "at": at })).collect::<Vec<_>>(),
        "corners": circuit.table,
    })
}
