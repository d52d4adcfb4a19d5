//! The search itself: first broad and in all aims at once, then fine and in their order.
//!
//! Knows points of a unit cube and scores, not what they are made of. Both searches are the `fcmaes-core` crate's,
//! by ask and tell in batches, so that a batch fills all cores and the answer does not depend on how many there are.

use fcmaes_core::{Cmaes, CmaesParams, Fitness, Mode, ModeParams};

use super::score::{Order, PRICES, Score};

/// Candidates of a generation of the broad search.
pub const BROAD: usize = 40;
/// Candidates of a generation of the fine search.
pub const FINE: usize = 20;
/// Share of the budget that is searched broadly.
const BROAD_SHARE: f64 = 0.4;
/// First spread of the fine search, in parts of each range.
const SPREAD: f64 = 0.15;

/// How long and from where.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plan {
    /// Candidates in all.
    pub candidates: usize,
    /// Seed of both searches.
    pub seed: u64,
    /// How scores are compared.
    pub order: Order,
}

/// A point and what came of it. What was tried may lie elsewhere than asked for: it must keep the checks.
#[derive(Clone, Debug, PartialEq)]
pub struct Tried {
    /// The point in fact tried.
    pub point: Vec<f64>,
    /// Its score.
    pub score: Score,
}

/// Searches from `start`; `judge` tries a batch of points. Returns all that was tried, in order, `start` first.
///
/// # Errors
/// Only those of `judge`; what was tried before is in `tried`.
pub fn search<E>(
    start: &[f64],
    plan: &Plan,
    tried: &mut Vec<Tried>,
    mut judge: impl FnMut(&[Vec<f64>]) -> Result<Vec<Tried>, E>,
) -> Result<(), E> {
    tried.extend(judge(&[start.to_vec()])?);
    let end = plan.candidates.max(1);
    let broad_end = 1 + ((end - 1) as f64 * BROAD_SHARE) as usize;
    broad(start, plan, broad_end, tried, &mut judge)?;
    let mut run = 0;
    while tried.len() < end {
        let before = tried.len();
        fine(plan, run, end, tried, &mut judge)?;
        if tried.len() == before {
            break;
        }
        run += 1;
    }
    Ok(())
}

/// The best in the order of aims; of equals the first.
#[must_use]
pub fn best(tried: &[Tried], order: Order) -> Option<&Tried> {
    tried
        .iter()
        .min_by(|a, b| order.number(&a.score).total_cmp(&order.number(&b.score)))
}

fn unit_cube(dimensions: usize, objectives: usize) -> Fitness {
    Fitness::bounded(
        dimensions,
        objectives,
        &vec![0.0; dimensions],
        &vec![1.0; dimensions],
    )
}

/// All prices at once, danger as a constraint.
fn broad<E>(
    start: &[f64],
    plan: &Plan,
    end: usize,
    tried: &mut Vec<Tried>,
    judge: &mut impl FnMut(&[Vec<f64>]) -> Result<Vec<Tried>, E>,
) -> Result<(), E> {
    let (dimensions, prices) = (start.len(), PRICES.len());
    let params = ModeParams {
        popsize: BROAD as i32,
        seed: plan.seed,
        ..ModeParams::default()
    };
    let Ok(mut mode) = Mode::try_new(unit_cube(dimensions, prices + 1), prices, 1, None, &params)
    else {
        return Ok(());
    };
    while tried.len() + BROAD <= end {
        let Ok(asked) = mode.try_ask() else {
            return Ok(());
        };
        let batch = judge(&asked)?;
        let told: Vec<Vec<f64>> = batch.iter().map(|one| objectives(&one.score)).collect();
        tried.extend(batch);
        if mode.try_tell(&told).is_err() {
            return Ok(());
        }
    }
    Ok(())
}

/// Prices, then the constraint: not positive where there is no danger.
fn objectives(score: &Score) -> Vec<f64> {
    PRICES
        .into_iter()
        .chain([super::score::Aim::Danger])
        .map(|aim| score.mean(aim))
        .collect()
}

/// In the order of aims, from the best so far.
fn fine<E>(
    plan: &Plan,
    run: i64,
    end: usize,
    tried: &mut Vec<Tried>,
    judge: &mut impl FnMut(&[Vec<f64>]) -> Result<Vec<Tried>, E>,
) -> Result<(), E> {
    let Some(from) = best(tried, plan.order).map(|best| best.point.clone()) else {
        return Ok(());
    };
    let mut fitness = unit_cube(from.len(), 1);
    fitness.set_normalize(true);
    let params = CmaesParams {
        popsize: FINE as i32,
        max_evaluations: (end - tried.len()) as u64,
        seed: plan.seed,
        runid: run,
        ..CmaesParams::default()
    };
    let mut search = Cmaes::new(fitness, &from, &[2.0 * SPREAD], &params);
    while tried.len() < end && search.stop() == 0 {
        let mut asked = search.ask();
        let whole = asked.len() <= end - tried.len();
        asked.truncate(end - tried.len());
        let batch = judge(&asked)?;
        let told: Vec<f64> = batch
            .iter()
            .map(|one| plan.order.number(&one.score))
            .collect();
        tried.extend(batch);
        if !whole {
            break;
        }
        search.tell(&told);
    }
    Ok(())
}
