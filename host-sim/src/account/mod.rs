//! What a run comes to: numbers, data of the pictures, trace file.

pub mod event;
pub mod metrics;
pub mod series;
pub mod sinks;
