#![doc = include_str!("../README.md")]
//!
//! # How a step flows
//!
//! Raw samples → readings → estimate → demand → guarded outputs. Each stage returns a value and copies go to the trace row.
//! Nothing flows back but two things of the step before: the guard's status, and the comparison's verdicts on sensors with the
//! slab temperature that the return water implies.

#![no_std]
#![cfg_attr(
    not(test),
    deny(
        clippy::arithmetic_side_effects,
        clippy::expect_used,
        clippy::float_arithmetic,
        clippy::indexing_slicing,
        clippy::panic,
        clippy::unwrap_used
    )
)]

#[cfg(test)]
extern crate std;

pub mod alarm;
mod controller;
mod decision;
mod estimate;
pub mod guard;
mod io;
pub mod reason;
pub mod restart;
pub mod sensor;
pub mod settings;
mod shadow;
pub mod time;
pub mod trace;
pub mod units;

pub use controller::{Controller, State, StepReport};
pub use decision::{BoilerState, FrostKind, Summary, Switch, WoodAdvice, WoodRequest};
pub use estimate::{Estimate, Flow, FlowProof, SlabFrom};
pub use io::{Command, Event, Inputs, Outputs};
pub use shadow::ActualRelays;
