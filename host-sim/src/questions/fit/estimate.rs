//! The estimator: least squares on whitened misfits with priors as further rows, what is held carried into every interval.
//!
//! Minimised by Levenberg and Marquardt's method as MINPACK has it (`levenberg-marquardt`); one-sided differences, a column a core, so
//! the answer does not depend on how many there are. Three rounds: the spreads of the misfits are found anew between them, and in the
//! last a departure of more than 2.5 standard deviations counts less (Huber 1964), so that a door left open is one bad night.

use indicatif::ProgressBar;
use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::{DMatrix, DVector, Dyn, U1, VecStorage};
use rayon::prelude::*;

use super::model::Case;
use super::parameters::{COUNT, PARAMETERS, Point, Role, at};
use super::plan::Kind;
use super::whiten::{self, FIRST, HUBER, Spreads};
use crate::sim::cancel::Cancel;
use crate::sim::plant::PlantConfig;

/// Rounds of the fit.
const ROUNDS: usize = 3;
/// Steps of the differences, of the prior's standard deviation.
const STEP: f64 = 3e-3;
/// Runs of the house in a whole fit, about; for the bar.
pub const RUNS: u64 = ROUNDS as u64 * 4 * 17 + 20;

/// What was found.
#[derive(Clone, Debug)]
pub struct Estimate {
    /// The point; held values are 0.
    pub point: Point,
    /// Which values were fitted.
    pub fitted: [bool; COUNT],
    /// Covariance of the errors of all values, held ones with their priors: by the curvature, and by the days' scatter.
    pub covariances: [DMatrix<f64>; 2],
    /// Standard deviations of the fitted values beside exact sensors and exact held values.
    pub own: Point,
    /// How close to a combination of the others each fitted value's effect is: collinearity index of Brun and others 2001.
    pub collinearity: [f64; COUNT],
    /// Spreads of the misfits.
    pub spreads: Spreads,
    /// Misfits at the end, K, by the plan's samples.
    pub raw: Vec<f64>,
    /// The same whitened.
    pub white: Vec<f64>,
    /// Ended on request.
    pub stopped: bool,
}

impl Estimate {
    /// Standard deviation of a linear combination of the values' errors: the larger of the two covariances'.
    #[must_use]
    pub fn sigma(&self, gradient: &Point) -> f64 {
        let g = DVector::from_column_slice(gradient);
        let of = |covariance: &DMatrix<f64>| (covariance * &g).dot(&g).max(0.0);
        of(&self.covariances[0])
            .max(of(&self.covariances[1]))
            .sqrt()
    }

    /// Autocorrelation of the whitened misfits of a kind, so many samples apart.
    #[must_use]
    pub fn correlation(&self, case: &Case, kind: Kind, apart: usize) -> Option<f64> {
        let samples = &case.plan.samples;
        let (mut product, mut square, mut count) = (0.0, 0.0, 0);
        for i in apart..samples.len() {
            let (a, b) = (&samples[i - apart], &samples[i]);
            if b.kind == kind && (a.kind, a.window) == (b.kind, b.window) {
                product += self.white[i - apart] * self.white[i];
                square += self.white[i] * self.white[i];
                count += 1;
            }
        }
        (count >= 50 && square > 0.0).then_some(product / square)
    }
}

/// What is minimised.
#[derive(Clone)]
struct Problem<'a> {
    case: &'a Case,
    site: &'a PlantConfig,
    free: &'a [usize],
    spreads: Spreads,
    /// Square roots of the weights, by sample.
    weights: Vec<f64>,
    x: DVector<f64>,
    raw: Vec<f64>,
    /// The best point met.
    best: (f64, DVector<f64>),
    cancel: &'a Cancel,
    bar: &'a ProgressBar,
}

impl Problem<'_> {
    fn point(&self, x: &DVector<f64>) -> Point {
        let mut point = [0.0; COUNT];
        for (&i, &x) in self.free.iter().zip(x.iter()) {
            // Nothing is sought beyond four standard deviations of what was known before.
            let most = 4.0 * PARAMETERS[i].prior;
            point[i] = x.clamp(-most, most);
        }
        point
    }

    /// Misfits at a point, K.
    fn misfits(&self, point: &Point) -> Vec<f64> {
        let (plant, offsets) = at(self.site, point);
        let shown = self.case.run(&plant, &offsets, &self.case.plan.free);
        self.bar.inc(1);
        let samples = &self.case.plan.samples;
        samples
            .iter()
            .map(|sample| self.case.residual(sample, &shown, &offsets))
            .collect()
    }

    fn whitened(&self, raw: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; raw.len()];
        whiten::whiten(&self.case.plan.samples, raw, &self.spreads, &mut out);
        for (u, weight) in out.iter_mut().zip(&self.weights) {
            *u *= weight;
        }
        out
    }

    /// Whitened derivatives by the values named, a column each; a parallel loop whose result is in the order asked.
    fn columns(&self, which: &[usize]) -> Vec<Vec<f64>> {
        let base = self.point(&self.x);
        which
            .par_iter()
            .map(|&i| {
                let step = STEP * PARAMETERS[i].prior;
                let mut point = base;
                point[i] += step;
                let moved = self.misfits(&point);
                let slope: Vec<f64> = moved
                    .iter()
                    .zip(&self.raw)
                    .map(|(moved, raw)| (moved - raw) / step)
                    .collect();
                self.whitened(&slope)
            })
            .collect()
    }

    fn rows(&self) -> DVector<f64> {
        let white = self.whitened(&self.raw);
        let priors = self
            .free
            .iter()
            .zip(self.x.iter())
            .map(|(&i, x)| x / PARAMETERS[i].prior);
        DVector::from_iterator(
            white.len() + self.free.len(),
            white.into_iter().chain(priors),
        )
    }

    fn set(&mut self, x: &DVector<f64>) {
        self.x.clone_from(x);
        self.raw = self.misfits(&self.point(x));
        let cost = self.rows().norm_squared();
        if cost < self.best.0 {
            self.best = (cost, x.clone());
        }
    }
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Problem<'_> {
    type ResidualStorage = VecStorage<f64, Dyn, U1>;
    type JacobianStorage = VecStorage<f64, Dyn, Dyn>;
    type ParameterStorage = VecStorage<f64, Dyn, U1>;

    fn set_params(&mut self, x: &DVector<f64>) {
        if !self.cancel.requested() {
            self.set(x);
        }
    }

    fn params(&self) -> DVector<f64> {
        self.x.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        (!self.cancel.requested()).then(|| self.rows())
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        if self.cancel.requested() {
            return None;
        }
        let columns = self.columns(self.free);
        let samples = self.raw.len();
        Some(DMatrix::from_fn(
            samples + self.free.len(),
            self.free.len(),
            |row, column| match row.checked_sub(samples) {
                None => columns[column][row],
                Some(prior) if prior == column => 1.0 / PARAMETERS[self.free[column]].prior,
                Some(_) => 0.0,
            },
        ))
    }
}

/// Fits the values of `free` (indices into the table) to a log, from `from` on. Ctrl-C returns the best so far.
#[must_use]
pub fn estimate(
    case: &Case,
    site: &PlantConfig,
    free: &[usize],
    cancel: &Cancel,
    bar: &ProgressBar,
) -> Estimate {
    let samples = case.plan.samples.len();
    let x = DVector::zeros(free.len());
    let mut problem = Problem {
        case,
        site,
        free,
        spreads: FIRST,
        weights: vec![1.0; samples],
        raw: Vec::new(),
        best: (f64::INFINITY, x.clone()),
        x: x.clone(),
        cancel,
        bar,
    };
    problem.set(&x);
    for round in 0..ROUNDS {
        for kind in Kind::ALL {
            problem.spreads[kind as usize] =
                whiten::likeliest(&case.plan.samples, &problem.raw, kind, &problem.spreads);
        }
        if round + 1 == ROUNDS {
            let white = problem.whitened(&problem.raw);
            problem.weights = white.iter().map(|u| weight(*u)).collect();
        }
        problem.best = (f64::INFINITY, problem.x.clone());
        let x = problem.x.clone();
        problem.set(&x);
        if cancel.requested() {
            break;
        }
        let tolerance = if round + 1 == ROUNDS { 1e-6 } else { 1e-4 };
        let (solved, _) = LevenbergMarquardt::new()
            .with_ftol(tolerance)
            .with_xtol(tolerance)
            .with_gtol(tolerance)
            .with_patience(12)
            .minimize(problem);
        problem = solved;
        let best = problem.best.1.clone();
        problem.set(&best);
    }
    finish(&problem)
}

fn weight(u: f64) -> f64 {
    let size = u.abs();
    if size > HUBER {
        (HUBER / size).sqrt()
    } else {
        1.0
    }
}

/// Covariances at the point found.
fn finish(problem: &Problem<'_>) -> Estimate {
    let free = problem.free;
    // A value that is fitted tells nothing of itself by its prior alone; a value that is held is carried along with it.
    let held: Vec<usize> = (0..COUNT)
        .filter(|i| PARAMETERS[*i].role == Role::Held)
        .collect();
    let all: Vec<usize> = free.iter().chain(&held).copied().collect();
    let columns = problem.columns(&all);
    let rows = problem.raw.len();
    let n = free.len();
    let data = DMatrix::from_fn(rows, n, |row, column| columns[column][row]);
    let priors = DMatrix::from_diagonal(&DVector::from_iterator(
        n,
        free.iter().map(|&i| PARAMETERS[i].prior.powi(-2)),
    ));
    let white = problem.whitened(&problem.raw);
    let inverse = (data.transpose() * &data + &priors)
        .try_inverse()
        .unwrap_or_else(|| DMatrix::from_diagonal_element(n, n, f64::INFINITY));
    let by_days = &inverse * (scatter(problem, &data, &white) + &priors) * &inverse;
    let covariances = [inverse.clone(), by_days].map(|own| {
        let mut covariance = DMatrix::zeros(COUNT, COUNT);
        for (a, &i) in free.iter().enumerate() {
            for (b, &j) in free.iter().enumerate() {
                covariance[(i, j)] = own[(a, b)];
            }
        }
        for (k, &h) in held.iter().enumerate() {
            let column = DVector::from_column_slice(&columns[n + k]);
            let follows = &inverse * (data.transpose() * column);
            // The error of every value for an error of one standard deviation in what is held.
            let mut error = DVector::zeros(COUNT);
            for (a, &i) in free.iter().enumerate() {
                error[i] = follows[a] * PARAMETERS[h].prior;
            }
            error[h] = -PARAMETERS[h].prior;
            covariance += &error * error.transpose();
        }
        covariance
    });
    let mut fitted = [false; COUNT];
    free.iter().for_each(|&i| fitted[i] = true);
    let mut own = [0.0; COUNT];
    for (a, &i) in free.iter().enumerate() {
        own[i] = inverse[(a, a)].max(0.0).sqrt();
    }
    let mut unweighted = vec![0.0; rows];
    whiten::whiten(
        &problem.case.plan.samples,
        &problem.raw,
        &problem.spreads,
        &mut unweighted,
    );
    Estimate {
        point: problem.point(&problem.x),
        fitted,
        covariances,
        own,
        collinearity: collinearity(&data, free),
        spreads: problem.spreads,
        raw: problem.raw.clone(),
        white: unweighted,
        stopped: problem.cancel.requested(),
    }
}

/// Sum over days of the squared scores: what the days' own scatter says, beside the curvature.
fn scatter(problem: &Problem<'_>, data: &DMatrix<f64>, white: &[f64]) -> DMatrix<f64> {
    let n = data.ncols();
    let days = problem.case.plan.days;
    let mut scores = DMatrix::<f64>::zeros(n, days.max(1));
    for (row, sample) in problem.case.plan.samples.iter().enumerate() {
        for column in 0..n {
            scores[(column, sample.day)] += data[(row, column)] * white[row];
        }
    }
    &scores * scores.transpose()
}

/// 1/√(1 − R²) of each column on the others, from the columns at unit length.
fn collinearity(data: &DMatrix<f64>, free: &[usize]) -> [f64; COUNT] {
    let mut unit = data.clone();
    for mut column in unit.column_iter_mut() {
        let length = column.norm();
        if length > 0.0 {
            column /= length;
        }
    }
    let inverse = (unit.transpose() * &unit).try_inverse();
    let mut index = [f64::INFINITY; COUNT];
    if let Some(inverse) = inverse {
        for (a, &i) in free.iter().enumerate() {
            index[i] = inverse[(a, a)].max(0.0).sqrt();
        }
    }
    index
}
