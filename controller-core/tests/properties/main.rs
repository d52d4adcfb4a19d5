//! Properties: whatever sensors, people and power do.
//!
//! Lives are random but repeatable: a seed is fixed, and each is a list of stretches with their
//! readings, events and delays. [`support::Watch`] checks every row of every life.

#[path = "../support/mod.rs"]
mod support;

mod changes;
mod life;
mod lives;
mod sensors;

use proptest::test_runner::{Config, RngSeed};

/// So many cases, always the same.
fn config(cases: u32) -> Config {
    Config {
        cases,
        rng_seed: RngSeed::Fixed(0x51AB),
        failure_persistence: None,
        max_shrink_iters: 400,
        ..Config::default()
    }
}
