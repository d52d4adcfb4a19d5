//! What the unit and a PC say to each other on the serial line (docs/serial-line.md).
//!
//! Firmware and simulator both stand on this crate, so that the two ends of the line cannot disagree.
//! It knows no pins, no files and no clock.

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

pub mod line;
pub mod note;
pub mod refusal;
pub mod value;
