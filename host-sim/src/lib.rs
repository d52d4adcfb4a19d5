//! Replays sensor logs through the slab controller and simulates its winters, on a PC.
//!
//! The controller is the very crate that runs on the microcontroller; nothing here decides.

pub mod cli;
pub mod commands;
pub mod demo;
pub mod drill;
pub mod input;
pub mod line;
pub mod log;
pub mod message;
pub mod metrics;
pub mod output;
pub mod plant;
pub mod quantity;
pub mod replay;
pub mod report;
pub mod series;
pub mod settings_file;
pub mod settings_relations;
pub mod sinks;
pub mod site;
pub mod size;
pub mod spells;
pub mod stepper;
pub mod tonight;
pub mod tune;
pub mod weather;
pub mod winter;
pub mod worth;
