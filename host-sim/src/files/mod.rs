//! What is read and written: site, settings, logs, quantities in words, outputs.

pub mod form;
pub mod input;
pub mod log;
#[cfg(target_family = "wasm")]
pub mod memory;
pub mod message;
pub mod now;
pub mod output;
pub mod plan;
pub mod quantity;
pub mod settings_file;
pub mod settings_relations;
pub mod site;
pub mod weather;
