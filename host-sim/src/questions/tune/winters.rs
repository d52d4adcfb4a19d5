//! Which winters are tuned on and which are kept back to judge by.

use std::sync::Arc;

use super::screen::{Snap, Winter};
use crate::sim::weather::{PeriodError, WeatherYear};

const fn snap(depth_k: f64, days: f64) -> Snap {
    Snap { depth_k, days }
}

/// Snaps laid over the first winter to tune on, as many as make three winters: the second so cold that the demo's own
/// settings do not hold it, so that what holds by luck shows. Status: judgement.
const TUNED_SNAPS: [Snap; 2] = [snap(8.0, 4.0), snap(13.0, 4.0)];
/// Snaps laid over it to judge by: other depths, lengths and places. Status: judgement.
const KEPT_BACK_SNAPS: [Snap; 2] = [snap(7.0, 5.0), snap(4.0, 10.0)];
/// Winters to tune on, at least.
const LEAST: usize = 3;
/// Seeds of winters kept back lie this far from those tuned on.
const KEPT_BACK_SEED: u64 = 1_000;

fn winter(year: WeatherYear, seed: u64) -> Winter {
    Winter {
        name: year.station.name.clone(),
        year: Arc::new(year),
        seed,
    }
}

fn snaps(over: &Winter, list: &[Snap], seed: u64) -> Result<Vec<Winter>, PeriodError> {
    list.iter()
        .zip(1_u64..)
        .map(|(snap, place)| snap.over(over, seed.wrapping_add(10 * place)))
        .collect()
}

/// The files as they are, and seeded cold snaps over the first of them: at least one, and so many as make three winters.
///
/// # Errors
/// The first file has no December.
pub fn tuned_on(years: Vec<WeatherYear>, seed: u64) -> Result<Vec<Winter>, PeriodError> {
    let mut winters: Vec<Winter> = years
        .into_iter()
        .zip(0_u64..)
        .map(|(year, place)| winter(year, seed.wrapping_add(place)))
        .collect();
    if let Some(first) = winters.first().cloned() {
        let missing = LEAST.saturating_sub(winters.len()).max(1);
        let taken = missing.min(TUNED_SNAPS.len());
        winters.extend(snaps(&first, &TUNED_SNAPS[..taken], seed)?);
    }
    Ok(winters)
}

/// The files as they are, and two other snaps over the first winter tuned on.
///
/// # Errors
/// As [`tuned_on`].
pub fn kept_back(
    years: Vec<WeatherYear>,
    first: &Winter,
    seed: u64,
) -> Result<Vec<Winter>, PeriodError> {
    let seed = seed.wrapping_add(KEPT_BACK_SEED);
    let mut winters: Vec<Winter> = years
        .into_iter()
        .zip(0_u64..)
        .map(|(year, place)| winter(year, seed.wrapping_add(place)))
        .collect();
    winters.extend(snaps(first, &KEPT_BACK_SNAPS, seed)?);
    Ok(winters)
}
