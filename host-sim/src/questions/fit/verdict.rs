//! What is known, what is not, and whether it holds on evenings that were not fitted.

use indicatif::ProgressBar;
use nalgebra::DMatrix;

use super::estimate::{Estimate, estimate};
use super::model::{Case, Offsets};
use super::parameters::{
    COUNT, PARAMETERS, Point, Role, Which, at, capacity_j_k, effective, index, loss_w_k,
};
use super::plan::{AHEAD, Kind, PER_DAY, Plan};
use crate::sim::cancel::Cancel;
use crate::sim::plant::PlantConfig;

/// Half of a 90 % interval in standard deviations.
pub const NINETY: f64 = 1.645;
/// A value is known if the log leaves less than this of what was open before.
const KNOWN: f64 = 0.8;
/// What the model's own faults add to the loss per heat capacity and to the loss, of the logarithm.
const RATIO_FLOOR: f64 = 0.05;
const LOSS_FLOOR: f64 = 0.03;
/// Least nights, and least span of the slab in them, K.
pub const LEAST_NIGHTS: usize = 7;
/// See [`LEAST_NIGHTS`].
pub const LEAST_SPAN_K: f64 = 4.0;
/// Least runs for anything of the water.
const LEAST_RUNS: usize = 5;
/// Least samples of the store's air.
const LEAST_STORE: usize = 100;

/// One value's fate.
#[derive(Clone, Copy, Debug)]
pub struct Value {
    /// Row of the table.
    pub index: usize,
    /// Departure from the file, logarithm or K; 0 where not fitted.
    pub x: f64,
    /// Its standard deviation, the model's own faults included.
    pub sigma: f64,
    /// Whether this log tells it.
    pub known: bool,
}

/// A combination of the values that is known better than its parts.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Derived {
    /// Logarithm of the value over the file's.
    pub x: f64,
    /// Its standard deviation.
    pub sigma: f64,
}

/// Root mean squares on evenings kept back, fifteen hours ahead, K.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Missed {
    /// By the house as fitted.
    pub fitted_k: f64,
    /// By the site file as it was.
    pub file_k: f64,
    /// By the slab of the day before.
    pub yesterday_k: f64,
}

/// The evenings kept back.
#[derive(Clone, Debug, Default)]
pub struct KeptBack {
    /// Blocks they begin at.
    pub evenings: Vec<usize>,
    /// All their hours.
    pub hours: Missed,
    /// Their coldest slab.
    pub coldest: Missed,
    /// Mean of reading less model, K, as fitted.
    pub bias_k: f64,
    /// Modelled slab of every block, fitted and as the file says, °C.
    pub modelled_c: [Vec<f64>; 2],
}

impl KeptBack {
    /// Whether the fitted house does better than the file.
    #[must_use]
    pub fn is_better(&self) -> bool {
        self.hours.fitted_k < self.hours.file_k
    }
}

/// Everything found.
#[derive(Clone, Debug)]
pub struct Fitted {
    /// Why nothing can be said, if so.
    pub refused: Option<String>,
    /// Every row of the table.
    pub values: Vec<Value>,
    /// Loss per heat capacity: how fast the house cools.
    pub cooling: Derived,
    /// Loss to outdoors.
    pub loss: Derived,
    /// The loss as fitted, W/K.
    pub loss_w_k: f64,
    /// The house as fitted.
    pub plant: PlantConfig,
    /// The evenings kept back.
    pub kept: KeptBack,
    /// The estimate behind it.
    pub estimate: Option<Estimate>,
}

impl Fitted {
    /// A value by what it is.
    #[must_use]
    pub fn value(&self, which: Which) -> &Value {
        &self.values[index(which)]
    }

    /// Whether a site file is worth writing.
    #[must_use]
    pub fn is_worth_writing(&self) -> bool {
        self.refused.is_none() && self.kept.is_better()
    }
}

/// Why a plan cannot be fitted at all, in a sentence.
#[must_use]
pub fn gate(plan: &Plan) -> Option<String> {
    if plan.nights < LEAST_NIGHTS {
        return Some(format!(
            "This log has {} whole nights beside the days kept back, of {} needed: a night is six hours of dark or more without a gap \
             and without the boiler.",
            plan.nights, LEAST_NIGHTS
        ));
    }
    if plan.slab_span_k < LEAST_SPAN_K {
        return Some(format!(
            "The slab moved by {:.1} K in all these nights, of {LEAST_SPAN_K:.0} K needed: so mild a time tells nothing.",
            plan.slab_span_k
        ));
    }
    None
}

/// A result that knows nothing.
#[must_use]
pub fn nothing(site: &PlantConfig, refused: String) -> Fitted {
    Fitted {
        refused: Some(refused),
        values: (0..COUNT)
            .map(|index| Value {
                index,
                x: 0.0,
                sigma: PARAMETERS[index].prior,
                known: false,
            })
            .collect(),
        cooling: Derived::default(),
        loss: Derived::default(),
        loss_w_k: loss_w_k(site),
        plant: site.clone(),
        kept: KeptBack::default(),
        estimate: None,
    }
}

/// Fits a log that has passed the [`gate`]. Ctrl-C ends it with the best so far.
#[must_use]
pub fn fit(case: &Case, site: &PlantConfig, cancel: &Cancel, bar: &ProgressBar) -> Fitted {
    let free = asked(&case.plan);
    let found = estimate(case, site, &free, cancel, bar);
    conclude(case, site, found)
}

/// Values this plan's samples can speak of.
fn asked(plan: &Plan) -> Vec<usize> {
    let count = |kind: Kind| {
        let samples = plan.samples.iter();
        samples.filter(|sample| sample.kind == kind).count()
    };
    let water = plan.runs >= LEAST_RUNS && count(Kind::Return) > 0;
    let supply = plan.runs >= LEAST_RUNS && count(Kind::Supply) > 0;
    let store = count(Kind::Store) >= LEAST_STORE;
    PARAMETERS
        .iter()
        .enumerate()
        .filter(|(_, parameter)| parameter.role != Role::Held)
        .filter(|(_, parameter)| match parameter.which {
            Which::Exchange | Which::ReturnSensor | Which::Flow => water,
            Which::StoreExchange | Which::StoreWater => supply && store,
            Which::SupplySensor => water || supply,
            Which::StoreSensor => store,
            Which::Earth | Which::EarthMean => store || supply,
            _ => true,
        })
        .map(|(i, _)| i)
        .collect()
}

/// What a sky that was only judged adds to the loss said as the sky's, of the logarithm.
const JUDGED_SKY: f64 = 0.45;

/// Standard deviation of a value with the model's own faults.
fn sigma(case: &Case, found: &Estimate, i: usize) -> f64 {
    let mut gradient = [0.0; COUNT];
    gradient[i] = 1.0;
    let sky = PARAMETERS[i].which == Which::Sky && !case.has_sky;
    let floor = if sky { JUDGED_SKY } else { PARAMETERS[i].floor };
    found.sigma(&gradient).hypot(floor)
}

/// The estimate in the values that a site file has (see [`effective`]): the point and the covariances by the slope there; beside it what was
/// known of these values before, as standard deviations.
fn said(site: &PlantConfig, found: &Estimate) -> (Estimate, Point) {
    const STEP: f64 = 1e-4;
    let here = effective(site, &found.point);
    let slope = DMatrix::from_fn(COUNT, COUNT, |row, column| {
        let mut moved = found.point;
        moved[column] += STEP;
        (effective(site, &moved)[row] - here[row]) / STEP
    });
    let mut said = found.clone();
    said.point = here;
    for covariance in &mut said.covariances {
        *covariance = &slope * &*covariance * slope.transpose();
    }
    let before = core::array::from_fn(|row| {
        let parts =
            (0..COUNT).map(|column| (slope[(row, column)] * PARAMETERS[column].prior).powi(2));
        parts.sum::<f64>().sqrt()
    });
    (said, before)
}

fn conclude(case: &Case, site: &PlantConfig, found: Estimate) -> Fitted {
    let (said, before) = said(site, &found);
    let values: Vec<Value> = (0..COUNT)
        .map(|i| {
            let sigma = sigma(case, &said, i);
            let is_fitted = found.fitted[i] && PARAMETERS[i].role == Role::Fitted;
            Value {
                index: i,
                x: if is_fitted { said.point[i] } else { 0.0 },
                sigma: if is_fitted {
                    sigma
                } else {
                    PARAMETERS[i].prior
                },
                known: is_fitted && sigma <= KNOWN * before[i],
            }
        })
        .collect();
    // What is not known by itself goes along: the known values hold together with it, not with the file's old guess.
    let point: Point = core::array::from_fn(|i| values[i].x);
    let (plant, offsets) = at(site, &point);
    let refused = values
        .iter()
        .all(|value| !value.known || PARAMETERS[value.index].is_sensor())
        .then(|| "Nothing is known better than before from this log.".to_owned());
    let ln_loss = |plant: &PlantConfig| libm::log(loss_w_k(plant));
    let ln_cooling = |plant: &PlantConfig| ln_loss(plant) - libm::log(capacity_j_k(plant));
    Fitted {
        refused,
        cooling: derived(site, &found, &ln_cooling, RATIO_FLOOR),
        loss: derived(site, &found, &ln_loss, LOSS_FLOOR),
        loss_w_k: loss_w_k(&at(site, &found.point).0),
        kept: kept_back(case, site, (&plant, &offsets)),
        plant,
        values,
        estimate: Some(found),
    }
}

/// A function of the house against the file, with its spread by the values' own.
fn derived(
    site: &PlantConfig,
    found: &Estimate,
    of: &dyn Fn(&PlantConfig) -> f64,
    floor: f64,
) -> Derived {
    let here = of(&at(site, &found.point).0);
    let gradient: Point = core::array::from_fn(|i| {
        let mut moved = found.point;
        moved[i] += 1e-4;
        (of(&at(site, &moved).0) - here) / 1e-4
    });
    Derived {
        x: here - of(site),
        sigma: found.sigma(&gradient).hypot(floor),
    }
}

/// Fifteen hours ahead from each evening kept back, with the logged air and water: fitted, as the file says, and as the day before.
fn kept_back(case: &Case, site: &PlantConfig, fitted: (&PlantConfig, &Offsets)) -> KeptBack {
    let evenings = case.plan.evenings.clone();
    let mut free = vec![false; case.plan.free.len()];
    for &evening in &evenings {
        free[evening..evening + AHEAD].fill(true);
    }
    let modelled_c = [fitted, (site, &Offsets::of(&site.sensors))].map(|(plant, offsets)| {
        let shown = case.run(plant, offsets, &free);
        // As the sensor would show it.
        let read = shown.iter().map(|shown| shown.slab_c + offsets.slab_k);
        read.collect::<Vec<f64>>()
    });
    let mut squares = [0.0; 3];
    let mut coldest = [0.0; 3];
    let (mut sum, mut hours) = (0.0, 0.0);
    let mut counted = Vec::new();
    for &evening in evenings.iter().filter(|&&evening| evening >= PER_DAY) {
        let mut lows = [f64::INFINITY; 4];
        let span = evening..evening + AHEAD;
        let modelled = modelled_c[0][span.clone()]
            .iter()
            .zip(&modelled_c[1][span.clone()]);
        for (b, (&fitted, &unfitted)) in span.zip(modelled) {
            let by = [case.slab_c(b), fitted, unfitted, case.slab_c(b - PER_DAY)];
            for (low, c) in lows.iter_mut().zip(by) {
                *low = low.min(c);
            }
            let off = [by[0] - by[1], by[0] - by[2], by[0] - by[3]];
            if off.iter().any(|off| off.is_nan()) {
                continue;
            }
            for (square, off) in squares.iter_mut().zip(off) {
                *square += off * off;
            }
            sum += off[0];
            hours += 1.0;
        }
        for (square, low) in coldest.iter_mut().zip(&lows[1..]) {
            *square += (lows[0] - low).powi(2);
        }
        counted.push(evening);
    }
    let nights = counted.len() as f64;
    let missed = |squares: [f64; 3], count: f64| {
        let [fitted_k, file_k, yesterday_k] = squares.map(|square| (square / count).sqrt());
        Missed {
            fitted_k,
            file_k,
            yesterday_k,
        }
    };
    KeptBack {
        hours: missed(squares, hours),
        coldest: missed(coldest, nights),
        bias_k: sum / hours,
        evenings: counted,
        modelled_c,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::questions::fit::score::{score, tallies};
    use crate::questions::fit::twin::Kind as Twins;

    /// Twins made by the plant itself, truths drawn from the priors: ranges hold the truth, and evenings kept back are modelled better
    /// than by the file. The hundred are run by `--example fit_scores`; figures in docs/fit.md.
    #[test]
    fn ranges_hold_the_truth_of_twins() {
        let cancel = Cancel::new();
        let scored: Vec<_> = (1..=3)
            .filter_map(|seed| score(seed, 28, Twins::Plain, false, &cancel).expect("a twin"))
            .map(|(scored, _)| scored)
            .collect();
        assert_eq!(scored.len(), 3);
        let (mut held, mut told) = (0.0, 0.0);
        for (name, tally) in tallies(&scored) {
            let (.., covered) = tally.result();
            held += covered * tally.count;
            told += tally.count;
            assert!(tally.result().1 < 1.0, "{name}");
        }
        // Five values a house at least, and no fewer than 84 of 100 ranges hold the truth.
        assert!(told >= 15.0, "{told}");
        assert!(held / told >= 0.84, "{held} of {told}");
        let sum = |of: &dyn Fn(&Missed) -> f64| scored.iter().map(|s| of(&s.kept)).sum::<f64>();
        assert!(sum(&|m| m.fitted_k) < 0.8 * sum(&|m| m.file_k));
    }

    #[test]
    fn a_log_that_tells_nothing_is_refused() {
        let plan = Plan::default();
        assert!(gate(&plan).is_some_and(|why| why.contains("0 whole nights")));
        let calm = Plan {
            nights: LEAST_NIGHTS,
            slab_span_k: 1.0,
            ..Plan::default()
        };
        assert!(gate(&calm).is_some_and(|why| why.contains("1.0 K")));
        let fitted = nothing(&PlantConfig::default(), "so".to_owned());
        assert!(fitted.values.iter().all(|value| !value.known));
        assert!(!fitted.is_worth_writing());
    }
}
