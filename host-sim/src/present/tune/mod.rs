//! Settings found, as text, page, JSON and settings file.

mod charts;
mod json;
mod page;
mod settings;
mod text;
mod words;

pub use json::to_json;
pub use page::page;
pub use settings::file as settings_file;
pub use text::{answer, terminal, why, winters_line, work_lines};
pub use words::Words;
