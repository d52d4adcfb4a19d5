//! The simulator's engine: house, weather and controller in closed loop. No files, threads, clock or terminal.

pub mod beside;
pub mod cancel;
pub mod plant;
pub mod stepper;
pub mod weather;
pub mod winter;
