//! Everything random in a spell: numbers from a seed, one stream for each use, so that no use disturbs another.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

use crate::sim::plant::sensors::normal;

/// Streams of a seed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stream {
    /// Which house.
    House = 1,
    /// Which weather, the clock and the start delay.
    Circumstance = 2,
    /// Which faults, with their parameters and times.
    Faults = 3,
    /// Whether a step is late.
    Processor = 4,
}

/// A source of random numbers.
#[derive(Clone, Debug)]
pub(super) struct Draw(ChaCha8Rng);

impl Draw {
    /// A stream of a spell's seed.
    pub(super) fn new(seed: u64, stream: Stream) -> Self {
        Self::of(seed, stream as u64)
    }

    /// The stream of the `index`th fault of a spell.
    pub(super) fn for_fault(seed: u64, index: usize) -> Self {
        Self::of(seed, 100 + index as u64)
    }

    fn of(seed: u64, stream: u64) -> Self {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        random.set_stream(stream);
        Self(random)
    }

    /// Evenly spread over 0 ≤ x < 1.
    pub(super) fn share(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Evenly spread between two numbers.
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    /// The same with an even spread of the logarithm.
    pub(super) fn log_between(&mut self, low: f64, high: f64) -> f64 {
        libm::exp(self.between(libm::log(low), libm::log(high)))
    }

    /// A whole number below `count`.
    pub(super) fn below(&mut self, count: u64) -> u64 {
        // The bias of a remainder is below 2^-40 for the counts used here.
        self.0.next_u64() % count.max(1)
    }

    /// True in so many of a hundred.
    pub(super) fn percent(&mut self, percent: f64) -> bool {
        self.share() * 100.0 < percent
    }

    /// Standard normal.
    pub(super) fn normal(&mut self) -> f64 {
        normal(&mut self.0)
    }

    /// Exponentially spread, of this mean.
    pub(super) fn waiting(&mut self, mean: f64) -> f64 {
        -mean * libm::log(1.0 - self.share())
    }

    /// An index, as likely as its weight.
    pub(super) fn weighted(&mut self, weights: impl Iterator<Item = u32> + Clone) -> usize {
        let all: u32 = weights.clone().sum();
        let mut left = self.below(u64::from(all)) as u32;
        for (index, weight) in weights.enumerate() {
            if left < weight {
                return index;
            }
            left -= weight;
        }
        0
    }
}
