//! What is read and written: site, settings, logs, quantities in words, outputs.

pub mod input;
pub mod log;
pub mod message;
pub mod output;
pub mod plan;
pub mod quantity;
pub mod settings_file;
pub mod settings_relations;
pub mod site;
pub mod weather;
