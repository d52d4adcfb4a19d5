//! The simulator's engine: house, weather and controller in closed loop. No files, threads, clock or terminal.

pub mod beside;
pub mod cancel;
pub mod closed_loop;
pub mod plant;
pub mod season;
pub mod stepper;
pub mod tally;
pub mod weather;
