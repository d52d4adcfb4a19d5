//! Tonight's answer as text, page and JSON.

mod json;
mod page;
mod text;

pub use page::page;
pub use text::Shown;
