//! Fault spells as tables, page and the story of one.

pub mod page;
pub mod story;
pub mod table;

pub use page::page;
