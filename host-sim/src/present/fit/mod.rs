//! A fitted house as text, page and JSON.

mod json;
mod page;
mod text;

pub use json::to_json;
pub use page::page;
pub use text::terminal;

use jiff::civil::Date;

use crate::files::quantity::{Dimension, Units, convert, to_digits};
use crate::questions::fit::compare::Compared;
use crate::questions::fit::model::Case;
use crate::questions::fit::parameters::{PARAMETERS, Role};
use crate::questions::fit::plan::Kind;
use crate::questions::fit::verdict::{Fitted, NINETY, Value};
use crate::questions::fit::written::Change;

/// What is shown of a fit.
#[derive(Clone, Copy, Debug)]
pub struct Shown<'a> {
    /// What was found.
    pub fitted: &'a Fitted,
    /// The log and its plan.
    pub case: &'a Case,
    /// Keys that change.
    pub changes: &'a [Change],
    /// Beside an earlier fit.
    pub compared: &'a [Compared],
    /// The house's name.
    pub house: &'a str,
    /// First and last day of the log.
    pub days: (Date, Date),
    /// What it rests on, title and text.
    pub used: &'a [(String, String)],
    /// What a person should know beside it.
    pub notes: &'a [String],
    /// Units to show.
    pub units: Units,
}

/// One value in a row: name, found, range, file, in words.
struct Row {
    name: String,
    cells: [String; 4],
}

impl Shown<'_> {
    /// One word for the result.
    fn word(&self) -> &'static str {
        match (&self.fitted.refused, self.fitted.kept.is_better()) {
            (Some(_), _) => "Not told",
            (None, true) => "Fitted",
            (None, false) if self.fitted.kept.evenings.is_empty() => "Not judged",
            (None, false) => "Not better",
        }
    }

    /// The answer in a sentence.
    fn sentence(&self) -> String {
        let fitted = self.fitted;
        if let Some(refused) = &fitted.refused {
            return refused.clone();
        }
        let cooling = &fitted.cooling;
        let words = share_words(cooling.x, cooling.sigma, "slower", "faster");
        format!(
            "For the heat its slab holds, the house loses heat {words} than your site file says."
        )
    }

    /// What goes with it.
    fn details(&self) -> Vec<String> {
        let plan = &self.case.plan;
        let mut details = vec![format!(
            "{} nights ({:.0} h) and {} runs of this log were used; {} {} left out.",
            plan.nights,
            plan.night_hours,
            plan.runs,
            plan.left_out.len(),
            if plan.left_out.len() == 1 {
                "night or part of one was"
            } else {
                "nights or parts of them were"
            }
        )];
        if let Some(kept) = self.kept() {
            details.push(kept);
        } else if self.fitted.refused.is_none() {
            details.push(
                "No whole evening could be kept back to judge by, so nothing is written: give a longer log."
                    .to_owned(),
            );
        }
        if self.fitted.estimate.as_ref().is_some_and(|e| e.stopped) {
            details.push("Stopped early: this is the best so far.".to_owned());
        }
        details.push(
            "All heat rests on the slab's heat capacity as in the file, known to 13 %: temperatures and relays do not tell it."
                .to_owned(),
        );
        details
    }

    /// The evenings kept back, in a sentence.
    fn kept(&self) -> Option<String> {
        let kept = &self.fitted.kept;
        if kept.evenings.is_empty() {
            return None;
        }
        Some(format!(
            "On {} evenings kept back, 15 h ahead, the slab is missed by {} on the mean; with the file as it was by {}; taken as the \
             night before by {}.",
            kept.evenings.len(),
            self.kelvin(kept.hours.fitted_k),
            self.kelvin(kept.hours.file_k),
            self.kelvin(kept.hours.yesterday_k)
        ))
    }

    fn kelvin(&self, kelvin: f64) -> String {
        let (value, unit) = convert(kelvin, Dimension::TemperatureDifference, self.units);
        format!("{value:.2} {unit}")
    }

    /// Values that are known, in words and numbers.
    fn rows(&self) -> Vec<Row> {
        let fitted = self.fitted;
        let mut rows = Vec::new();
        if fitted.refused.is_some() {
            return rows;
        }
        let loss = |factor: f64| {
            let (value, unit) = convert(fitted.loss_w_k * factor, Dimension::HeatLoss, self.units);
            format!("{value:.0} {unit}")
        };
        let half = NINETY * fitted.loss.sigma;
        rows.push(Row {
            name: "heat loss of the slab to outdoors, all ways".to_owned(),
            cells: [
                loss(1.0),
                format!("{} to {}", loss(libm::exp(-half)), loss(libm::exp(half))),
                loss(libm::exp(-fitted.loss.x)),
                share_words(fitted.loss.x, fitted.loss.sigma, "less", "more"),
            ],
        });
        for value in fitted.values.iter().filter(|value| value.known) {
            let parameter = &PARAMETERS[value.index];
            let Some(change) = self.changes.iter().find(|c| c.index == value.index) else {
                continue;
            };
            let text = |number: f64| change.text(number, self.units);
            let words = if parameter.factor {
                share_words(value.x, value.sigma, "less", "more")
            } else {
                self.kelvin_words(value)
            };
            rows.push(Row {
                name: parameter.name.to_owned(),
                cells: [
                    text(change.new),
                    format!("{} to {}", text(change.range.0), text(change.range.1)),
                    // As a person wrote it, but for what follows from other keys.
                    text(to_digits(change.old, 4)),
                    words,
                ],
            });
        }
        rows
    }

    fn kelvin_words(&self, value: &Value) -> String {
        let half = NINETY * value.sigma;
        let word = match (PARAMETERS[value.index].is_sensor(), value.x >= 0.0) {
            (true, true) => "shown too much",
            (true, false) => "shown too little",
            (false, true) => "warmer",
            (false, false) => "colder",
        };
        format!(
            "{} {word}, give or take {}",
            self.kelvin(value.x.abs()),
            self.kelvin(half)
        )
    }

    /// What this log does not tell, each with what would.
    fn unknown(&self) -> Vec<String> {
        self.fitted
            .values
            .iter()
            .filter(|value| !value.known)
            .filter_map(|value| {
                let parameter = &PARAMETERS[value.index];
                (parameter.role != Role::Beside).then(|| {
                    let name = parameter.name;
                    let mut letters = name.chars();
                    let first = letters.next().map(char::to_uppercase);
                    let name: String = first.into_iter().flatten().chain(letters).collect();
                    format!("{name}: not known from this log. {}", parameter.told_by)
                })
            })
            .collect()
    }

    /// What is left that is not chance.
    fn findings(&self) -> Vec<String> {
        let Some(found) = &self.fitted.estimate else {
            return Vec::new();
        };
        let mut findings = Vec::new();
        let night = found.correlation(self.case, Kind::Night, 6);
        if let Some(correlation) = night.filter(|c| c.abs() > LARGE_CORRELATION) {
            findings.push(format!(
                "What is left in the nights is not pure chance (correlation {correlation:.2} after an hour): something the model does not \
                 know acts for hours, such as cloud, wind, a curtain or barrels of water."
            ));
        }
        findings
    }

    /// Beside the earlier fit, a line each.
    fn changes_since(&self) -> Vec<String> {
        self.compared
            .iter()
            .map(|compared| {
                let change = self.changes.iter().find(|c| c.key == compared.key);
                let text = |number: f64| {
                    change.map_or_else(String::new, |change| {
                        // As ranges are written.
                        change.text(to_digits(number, 3), self.units)
                    })
                };
                let (then, now) = (compared.then.0, compared.now.0);
                let verdict = if compared.has_changed() {
                    "has changed beyond both ranges"
                } else {
                    "has not changed beyond both ranges"
                };
                format!(
                    "{} {verdict}: {} then, {} now.",
                    compared.key,
                    text(then),
                    text(now)
                )
            })
            .collect()
    }
}

/// Correlation of what is left after an hour from which on it is said.
const LARGE_CORRELATION: f64 = 0.15;

/// A factor against the file in words: `12 % (6 to 18 %) more`; where both ends differ in sign, both are said.
fn share_words(x: f64, sigma: f64, less: &str, more: &str) -> String {
    let word = if x < 0.0 { less } else { more };
    let percent = |x: f64| 100.0 * libm::expm1(x);
    let (low, high) = (percent(x - NINETY * sigma), percent(x + NINETY * sigma));
    if low < 0.0 && high > 0.0 {
        return format!(
            "{:.0} % {word} (between {:.0} % {less} and {:.0} % {more})",
            percent(x).abs(),
            -low,
            high
        );
    }
    let (near, far) = (low.abs().min(high.abs()), low.abs().max(high.abs()));
    format!("{:.0} % ({near:.0} to {far:.0} %) {word}", percent(x).abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_are_said_in_plain_words() {
        let words = |x: f64, sigma: f64| share_words(x, sigma, "less", "more");
        assert_eq!(words(0.1133, 0.0333), "12 % (6 to 18 %) more");
        assert_eq!(words(-0.1054, 0.02), "10 % (7 to 13 %) less");
        assert_eq!(
            words(0.02, 0.05),
            "2 % more (between 6 % less and 11 % more)"
        );
    }
}
