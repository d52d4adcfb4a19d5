//! The same for programs.

use serde_json::{Value, json};

use super::Shown;
use crate::questions::fit::parameters::PARAMETERS;
use crate::questions::fit::plan::Kind;
use crate::questions::fit::verdict::{Missed, NINETY};

/// One JSON object.
///
/// # Errors
/// None in a sound build.
pub fn to_json(shown: &Shown<'_>) -> serde_json::Result<String> {
    let fitted = shown.fitted;
    let plan = &shown.case.plan;
    let values: Vec<Value> = fitted
        .values
        .iter()
        .map(|value| {
            let parameter = &PARAMETERS[value.index];
            let half = NINETY * value.sigma;
            let range = value
                .known
                .then_some([value.x, value.x - half, value.x + half]);
            json!({
                "name": parameter.name,
                "keys": parameter.keys,
                "known": value.known,
                // Natural logarithm of the value over the file's, or K; middle, low and high of nine times of ten.
                "against_file": range,
                "unit": if parameter.factor { "ln" } else { "K" },
                "told_by": (!value.known).then_some(parameter.told_by),
            })
        })
        .collect();
    let changes: Vec<Value> = shown
        .changes
        .iter()
        .map(|change| {
            json!({
                "key": change.key,
                "old": change.old,
                "new": change.new,
                "known": change.known,
                "low": change.known.then_some(change.range.0),
                "high": change.known.then_some(change.range.1),
                "unit": change.dimension.base_unit(),
            })
        })
        .collect();
    let missed = |missed: &Missed| {
        json!({
            "fitted_k": missed.fitted_k,
            "file_k": missed.file_k,
            "yesterday_k": missed.yesterday_k,
        })
    };
    let kept = &fitted.kept;
    let left_out: Vec<Value> = plan
        .left_out
        .iter()
        .map(|left| json!({ "minute": left.block * 10, "why": left.why }))
        .collect();
    let correlation = fitted
        .estimate
        .as_ref()
        .and_then(|found| found.correlation(shown.case, Kind::Night, 6));
    let mut text = serde_json::to_string_pretty(&json!({
        "refused": fitted.refused,
        "better": fitted.is_worth_writing(),
        "cooling_against_file": [
            fitted.cooling.x,
            fitted.cooling.x - NINETY * fitted.cooling.sigma,
            fitted.cooling.x + NINETY * fitted.cooling.sigma,
        ],
        "values": values,
        "changes": changes,
        "nights_used": plan.nights,
        "runs_used": plan.runs,
        "left_out": left_out,
        "kept_back": {
            "evenings": kept.evenings.len(),
            "hours": missed(&kept.hours),
            "coldest": missed(&kept.coldest),
            "bias_k": kept.bias_k,
        },
        "night_correlation_1h": correlation,
        "rests_on": "the slab's heat capacity as in the site file, standard deviation 8 %",
        "notes": shown.notes,
    }))?;
    text.push('\n');
    Ok(text)
}
