//! Properties: whatever sensors, people and power do.
//!
//! Lives are random but repeatable: a seed is fixed, and each is a list of stretches with their
//! readings, events and delays. [`support::Watch`] checks every row of every life.

#[path = "../support/mod.rs"]
mod support;

mod changes;
mod duty;
mod liar;
mod life;
mod lives;
mod sensors;
mod tops;

use proptest::test_runner::{Config, RngSeed};

/// So many cases, always the same; by hand so many times more with `PROPERTY_TIMES=100`.
fn config(cases: u32) -> Config {
    let times = std::env::var("PROPERTY_TIMES").map_or(1, |n| n.parse().expect("a number"));
    Config {
        cases: cases * times,
        rng_seed: RngSeed::Fixed(0x51AB),
        failure_persistence: None,
        max_shrink_iters: 400,
        ..Config::default()
    }
}
