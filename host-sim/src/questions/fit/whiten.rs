//! Errors that are never white: within a window the misfit is a random walk with white noise on top. A scalar Kalman filter turns
//! misfits, and in the same way every column of the Jacobian, into independent numbers of unit variance.

use super::plan::{Kind, PER_HOUR, Sample};

/// Sizes of the misfit of one kind of sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Random walk, K in an hour.
    pub walk_k: f64,
    /// White, K.
    pub white_k: f64,
    /// At a window's beginning, K.
    pub start_k: f64,
}

/// Spreads by kind, in the order of [`Kind::ALL`].
pub type Spreads = [Spread; 4];

/// Where the search for spreads begins.
pub const FIRST: Spreads = [
    Spread {
        walk_k: 0.05,
        white_k: 0.03,
        start_k: 0.0,
    },
    Spread {
        walk_k: 0.05,
        white_k: 0.05,
        start_k: 0.05,
    },
    Spread {
        walk_k: 0.03,
        white_k: 0.05,
        start_k: 0.05,
    },
    Spread {
        walk_k: 0.05,
        white_k: 0.05,
        start_k: 0.10,
    },
];

/// Least white noise, K.
const LEAST_K: f64 = 0.015;
/// Departures beyond this many standard deviations count less.
pub const HUBER: f64 = 2.5;

/// Whitens `raw` (K; not a number where nothing was read) and returns the sum of ln S.
pub fn whiten(samples: &[Sample], raw: &[f64], spreads: &Spreads, out: &mut [f64]) -> f64 {
    let mut before: Option<Sample> = None;
    let (mut bias_k, mut variance) = (0.0, 0.0);
    let mut log_sum = 0.0;
    for ((sample, &raw), out) in samples.iter().zip(raw).zip(out) {
        let spread = &spreads[sample.kind as usize];
        let walked = |hours: f64| spread.walk_k * spread.walk_k * hours;
        match before {
            Some(last) if (last.kind, last.window) == (sample.kind, sample.window) => {
                variance += walked((sample.block - last.block) as f64 / PER_HOUR as f64);
            }
            _ => {
                bias_k = 0.0;
                variance = spread.start_k * spread.start_k + walked(1.0 / PER_HOUR as f64);
            }
        }
        before = Some(*sample);
        if raw.is_nan() {
            *out = 0.0;
            continue;
        }
        let total = variance + spread.white_k * spread.white_k;
        let off = raw - bias_k;
        *out = off / total.sqrt();
        log_sum += libm::log(total);
        let gain = variance / total;
        bias_k += gain * off;
        variance *= 1.0 - gain;
    }
    log_sum
}

/// Huber's loss of a whitened departure, twice.
#[must_use]
pub fn loss(u: f64) -> f64 {
    let size = u.abs();
    if size <= HUBER {
        u * u
    } else {
        HUBER * (2.0 * size - HUBER)
    }
}

/// The spreads of one kind under which its misfits are likeliest, searched from `spread` by halving steps.
#[must_use]
pub fn likeliest(samples: &[Sample], raw: &[f64], kind: Kind, spreads: &Spreads) -> Spread {
    let of_kind: Vec<usize> = (0..samples.len())
        .filter(|&i| samples[i].kind == kind)
        .collect();
    let own: Vec<Sample> = of_kind.iter().map(|&i| samples[i]).collect();
    let own_raw: Vec<f64> = of_kind.iter().map(|&i| raw[i]).collect();
    let from = spreads[kind as usize];
    if own.len() < 20 {
        return from;
    }
    let mut out = vec![0.0; own.len()];
    let mut cost = |logs: &[f64; 3]| {
        let mut trial = *spreads;
        trial[kind as usize] = spread_of(logs, &from);
        let log_sum = whiten(&own, &own_raw, &trial, &mut out);
        log_sum + out.iter().map(|&u| loss(u)).sum::<f64>()
    };
    let mut best = [from.walk_k, from.white_k, from.start_k.max(1e-9)].map(libm::log);
    let mut least = cost(&best);
    let moves = if from.start_k > 0.0 { 3 } else { 2 };
    for step in [1.0, 0.5, 0.25, 0.1, 0.05] {
        // Each round moves every spread; it ends where none helps.
        for _ in 0..12 {
            let mut moved = false;
            for i in 0..moves {
                for by in [step, -step] {
                    let mut trial = best;
                    trial[i] += by;
                    let found = cost(&trial);
                    if found < least - 1e-9 {
                        (least, best, moved) = (found, trial, true);
                        break;
                    }
                }
            }
            if !moved {
                break;
            }
        }
    }
    spread_of(&best, &from)
}

fn spread_of(logs: &[f64; 3], from: &Spread) -> Spread {
    Spread {
        walk_k: libm::exp(logs[0]).clamp(1e-3, 5.0),
        white_k: libm::exp(logs[1]).clamp(LEAST_K, 5.0),
        start_k: if from.start_k > 0.0 {
            libm::exp(logs[2]).clamp(1e-3, 2.0)
        } else {
            0.0
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sim::plant::sensors::normal;
    use rand_chacha::ChaCha8Rng;
    use rand_chacha::rand_core::SeedableRng;

    fn windows(nights: usize, length: usize) -> Vec<Sample> {
        (0..nights * length)
            .map(|i| Sample {
                kind: Kind::Night,
                block: i + i / length * 60,
                window: i / length,
                day: i / length,
            })
            .collect()
    }

    /// Random walks of a known size with known noise: found again, and white afterwards.
    #[test]
    fn spreads_are_found_again_and_what_is_left_is_white() {
        let samples = windows(60, 72);
        let mut random = ChaCha8Rng::seed_from_u64(5);
        let (walk, white) = (0.08, 0.04);
        let mut bias = 0.0;
        let raw: Vec<f64> = samples
            .iter()
            .enumerate()
            .map(|(i, _)| {
                bias = if i % 72 == 0 { 0.0 } else { bias };
                bias += walk / 6.0_f64.sqrt() * normal(&mut random);
                bias + white * normal(&mut random)
            })
            .collect();
        let found = likeliest(&samples, &raw, Kind::Night, &FIRST);
        assert!((found.walk_k / walk - 1.0).abs() < 0.08, "{found:?}");
        assert!((found.white_k / white - 1.0).abs() < 0.08, "{found:?}");
        let mut spreads = FIRST;
        spreads[0] = found;
        let mut out = vec![0.0; raw.len()];
        whiten(&samples, &raw, &spreads, &mut out);
        let mean =
            |f: &dyn Fn(usize) -> f64| (1..out.len()).map(f).sum::<f64>() / (out.len() - 1) as f64;
        assert!((mean(&|i| out[i] * out[i]) - 1.0).abs() < 0.05);
        assert!(mean(&|i| out[i] * out[i - 1]).abs() < 0.05);
    }

    /// The filter is linear: it may be applied to columns of a Jacobian.
    #[test]
    fn whitening_is_linear_and_a_hole_counts_nothing() {
        let samples = windows(2, 10);
        let one: Vec<f64> = (0..20).map(f64::from).collect();
        let two: Vec<f64> = one.iter().map(|x| x * x).collect();
        let both: Vec<f64> = one.iter().zip(&two).map(|(a, b)| 2.0 * a - b).collect();
        let white = |raw: &[f64]| {
            let mut out = vec![0.0; 20];
            whiten(&samples, raw, &FIRST, &mut out);
            out
        };
        for ((a, b), c) in white(&one).iter().zip(white(&two)).zip(white(&both)) {
            assert!((2.0 * a - b - c).abs() < 1e-9);
        }
        let mut holed = one.clone();
        holed[4] = f64::NAN;
        assert_eq!(white(&holed)[4], 0.0);
        assert!(white(&holed)[5].is_finite());
    }
}
