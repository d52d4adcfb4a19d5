//! How well the fit does on twins: coverage of its ranges, bias, and evenings kept back.

use indicatif::ProgressBar;

use super::model::Case;
use super::parameters::{COUNT, PARAMETERS, at, capacity_j_k, loss_w_k};
use super::plan::Plan;
use super::twin::{Kind, Twin, twin};
use super::verdict::{Fitted, Missed, NINETY, fit, gate};
use super::weather::Beside;
use crate::sim::cancel::Cancel;
use crate::sim::plant::PlantConfig;

/// One twin's result.
#[derive(Clone, Debug)]
pub struct Scored {
    /// Errors against the truth and their standard deviations, by row of the table; `None` where not called known.
    pub errors: [Option<(f64, f64)>; COUNT],
    /// The same of the loss per heat capacity.
    pub cooling: (f64, f64),
    /// Evenings kept back.
    pub kept: Missed,
    /// Their coldest slab.
    pub coldest: Missed,
    /// Whether a site file would be written.
    pub written: bool,
    /// Nights used.
    pub nights: usize,
}

/// Makes a twin and fits its log of `days`, a quarter of them kept back; `sky`: with the weather file of the dates. `None`: the gate
/// refused it.
///
/// # Errors
/// Ctrl-C, or the built-in weather cannot be read.
pub fn score(
    seed: u64,
    days: u32,
    kind: Kind,
    sky: bool,
    cancel: &Cancel,
) -> anyhow::Result<Option<(Scored, Fitted)>> {
    let Twin {
        record,
        truth,
        site,
        weather,
    } = twin(seed, days, kind, cancel)?;
    let beside = if sky {
        Beside::measured(&record, &weather, &site)?
    } else {
        Beside::judged(&record, &site)?
    };
    let conditions = beside.conditions(&record);
    let plan = Plan::new(&record, &conditions, days.div_ceil(4) as usize, &[]);
    if gate(&plan).is_some() {
        return Ok(None);
    }
    let case = Case::new(record, conditions, plan, sky);
    let fitted = fit(&case, &site.plant, cancel, &ProgressBar::hidden());
    let ln_cooling = |plant: &PlantConfig| libm::log(loss_w_k(plant) / capacity_j_k(plant));
    let true_cooling = ln_cooling(&at(&site.plant, &truth).0) - ln_cooling(&site.plant);
    let errors = core::array::from_fn(|i| {
        let value = &fitted.values[i];
        value.known.then(|| (value.x - truth[i], value.sigma))
    });
    let scored = Scored {
        errors,
        cooling: (fitted.cooling.x - true_cooling, fitted.cooling.sigma),
        kept: fitted.kept.hours,
        coldest: fitted.kept.coldest,
        written: fitted.is_worth_writing(),
        nights: case.plan.nights,
    };
    Ok(Some((scored, fitted)))
}

/// Sums of errors of one value.
#[derive(Clone, Copy, Debug, Default)]
pub struct Tally {
    /// How often it was called known.
    pub count: f64,
    sum: f64,
    squares: f64,
    covered: f64,
}

impl Tally {
    /// One error with its standard deviation.
    pub fn add(&mut self, (error, sigma): (f64, f64)) {
        self.count += 1.0;
        self.sum += error;
        self.squares += error * error;
        if error.abs() <= NINETY * sigma {
            self.covered += 1.0;
        }
    }

    /// Mean error, its root mean square, and the share of ranges that hold the truth.
    #[must_use]
    pub fn result(&self) -> (f64, f64, f64) {
        (
            self.sum / self.count,
            (self.squares / self.count).sqrt(),
            self.covered / self.count,
        )
    }
}

/// Tallies of many twins: every value by its name, then the loss per heat capacity.
#[must_use]
pub fn tallies(scored: &[Scored]) -> Vec<(&'static str, Tally)> {
    let mut tallies: Vec<(&'static str, Tally)> = PARAMETERS
        .iter()
        .map(|parameter| (parameter.name, Tally::default()))
        .collect();
    let mut cooling = Tally::default();
    for scored in scored {
        for ((_, tally), error) in tallies.iter_mut().zip(scored.errors) {
            if let Some(error) = error {
                tally.add(error);
            }
        }
        cooling.add(scored.cooling);
    }
    tallies.push(("loss per heat capacity", cooling));
    tallies.retain(|(_, tally)| tally.count > 0.0);
    tallies
}
