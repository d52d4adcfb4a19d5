//! The answer as one object for programs.

use controller_core::settings::Key;
use serde::Serialize;
use serde_json::json;

use super::text::{front, without_effect};
use super::words::value;
use crate::files::quantity::Units;
use crate::files::settings_file;
use crate::questions::tune::score::{Aim, Score};
use crate::questions::tune::screen::Winter;
use crate::questions::tune::{Task, Trial, Tuned, better, sums};

#[derive(Serialize)]
struct Numbers {
    danger_h: f64,
    runs_with_ice: u32,
    degree_hours_below_target: f64,
    wood_kg: f64,
    pump_kwh: f64,
    starts: f64,
    nights_with_fire: f64,
    slab_min_c: f64,
}

impl Numbers {
    fn of(score: &Score) -> Self {
        let mean = |aim| (score.mean(aim) * 1_000.0).round() / 1_000.0;
        Self {
            danger_h: (score.danger_h() * 1_000.0).round() / 1_000.0,
            runs_with_ice: score.frozen,
            degree_hours_below_target: mean(Aim::Hold),
            wood_kg: mean(Aim::Wood),
            pump_kwh: mean(Aim::Electricity),
            starts: mean(Aim::Starts),
            nights_with_fire: (score.nights() * 1_000.0).round() / 1_000.0,
            slab_min_c: score.slab_min_c(),
        }
    }
}

/// The object for programs; numbers are means a winter.
///
/// # Errors
/// None in fact.
pub fn to_json(task: &Task, tuned: &Tuned) -> serde_json::Result<String> {
    let names =
        |winters: &[Winter]| -> Vec<String> { winters.iter().map(|w| w.name.clone()).collect() };
    let text = |key: Key, at: f64| value(key, at, Units::Si);
    let trials = |trials: &[Trial]| -> Vec<serde_json::Value> {
        trials
            .iter()
            .map(|t| json!({"winter": t.winter + 1, "sensors": t.error.name, "before": Numbers::of(&t.before), "after": Numbers::of(&t.after)}))
            .collect()
    };
    let whole = |trials: &[Trial]| {
        (!trials.is_empty()).then(|| {
            let (before, after) = sums(trials.iter());
            json!({"before": Numbers::of(&before), "after": Numbers::of(&after), "better": better(&after, &before)})
        })
    };
    let changes: Vec<serde_json::Value> = tuned
        .space
        .changed(&tuned.chosen)
        .iter()
        .map(|p| {
            let without = tuned
                .reverted
                .iter()
                .find(|r| r.parameter.key == p.key)
                .and_then(|r| r.score);
            json!({
                "setting": p.key.field().name,
                "before": text(p.key, p.of(tuned.space.base().raw())),
                "after": text(p.key, p.of(tuned.chosen.raw())),
                "without_it": without.map(|score| Numbers::of(&score)),
            })
        })
        .collect();
    let no_effect: Vec<&str> = without_effect(tuned)
        .iter()
        .map(|s| s.parameter.key.field().name)
        .collect();
    let front: Vec<serde_json::Value> = front(tuned)
        .iter()
        .map(|(place, judged)| {
            json!({"number": place, "found": judged.candidate == tuned.chosen, "a_winter": Numbers::of(&judged.score)})
        })
        .collect();
    let in_weeks = tuned.in_weeks.unwrap_or_default();
    let pairs: Vec<serde_json::Value> = tuned
        .pairs
        .iter()
        .map(|pair| {
            let [one, other] = pair.moves.map(|step| {
                json!({"setting": step.parameter.key.field().name, "to": text(step.parameter.key, step.to)})
            });
            let beyond = |aim| (pair.together(&in_weeks, aim) * 1_000.0).round() / 1_000.0;
            json!({
                "one": one,
                "other": other,
                "degree_hours_below_target": beyond(Aim::Hold),
                "wood_kg": beyond(Aim::Wood),
                "pump_kwh": beyond(Aim::Electricity),
                "starts": beyond(Aim::Starts),
            })
        })
        .collect();
    let work: Vec<serde_json::Value> = tuned
        .work
        .iter()
        .map(|(name, w)| json!({"stage": name, "candidates": w.candidates, "known": w.known, "runs": w.runs, "days": w.days}))
        .collect();
    let mut text = serde_json::to_string_pretty(&json!({
        "holds": tuned.holds(),
        "stopped": tuned.stopped,
        "seed": task.seed,
        "winters_tuned_on": names(&task.tuned_on),
        "winters_kept_back": names(&task.kept_back),
        "tuned_on": whole(&tuned.tuned_on),
        "kept_back": whole(&tuned.kept_back),
        "trials_tuned_on": trials(&tuned.tuned_on),
        "trials_kept_back": trials(&tuned.kept_back),
        "changes": changes,
        "found": tuned.in_turn.map(|score| Numbers::of(&score)),
        "without_effect": no_effect,
        "pairs_in_coldest_weeks": pairs,
        "front": front,
        "work": work,
        "settings_sha256": settings_file::sha256(tuned.chosen.raw()),
    }))?;
    text.push('\n');
    Ok(text)
}
