//! The design check as text and page.

mod page;
mod section;
mod tables;
mod text;

pub use page::page;
pub use text::text;
