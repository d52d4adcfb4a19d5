//! Decides, step by step, whether the circulator of a ground-loop-heated slab runs and whether
//! backup heat is called, from supply, return, slab and outdoor readings.
//!
//! One direction of flow: raw samples → readings → estimate → demand → guarded outputs. Each stage
//! returns a value and copies go to the trace row; nothing flows back but the guard's status,
//! the comparison's verdicts and the water's word on the slab, of the step before.
//! [`Controller::step`] is the whole of it.
//!
//! No clock, pin, heap, float, log macro or reachable panic inside: time and readings are passed
//! in, and a bad input is a state with a reason.
//!
//! **This is not a safety device.** An independent manual-reset high limit, a relief valve and the
//! other protections named in the project's README belong in hardware that works without it.

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
pub mod reason;
pub mod restart;
pub mod sensor;
pub mod settings;
pub mod time;
pub mod trace;
pub mod units;

pub use controller::{Command, Controller, Event, Inputs, Outputs, State, StepReport};
pub use decision::{BoilerState, FrostKind, Summary, Switch, WoodAdvice, WoodWord};
pub use estimate::{Estimate, Flow, FlowProof, SlabFrom};
