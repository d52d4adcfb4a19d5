//! What the controller's firmware does on any board, above `embedded-hal` traits.
//!
//! [`App::poll`] is the whole of it: sense, decide, write the outputs, feed the watchdog; then keep
//! what must survive a power cut and talk on the serial line. The decisions themselves are
//! `controller-core`'s; nothing here decides about heat. A board crate supplies pins, a millisecond
//! counter, flash and a watchdog through [`Board`] and calls `poll`.
//!
//! No heap, no floats, no clock of its own. A failing sensor, flash or line is a counted state; only
//! a failing output or a loop that stands still lets the watchdog bite.
//!
//! **This is not a safety device.** See the project's README and docs/wiring.md.

#![cfg_attr(not(test), no_std)]
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

pub mod app;
pub mod bindings;
pub mod board;
pub mod bus_quality;
pub mod button;
pub mod chip;
pub mod defaults;
pub mod duty;
pub mod history;
pub mod lamp;
pub mod link;
mod log;
pub mod one_wire;
pub mod record;
pub mod relay;
pub mod request;
pub mod resets;
pub mod ring;
pub mod second;
pub mod store;
pub mod thermometer;

#[cfg(test)]
mod fakes;
#[cfg(test)]
mod mock_tests;

pub use app::App;
pub use board::{Board, Hardware, Layout, ReadShare, Watchdog};
pub use resets::{Resets, Retained};
