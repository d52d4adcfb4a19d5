//! The house from its own log: what a site file could only guess, how sure it is, and what this log cannot tell.
//!
//! Flow: rows → minutes ([`record`]) → weather beside them ([`weather`]) → which hours tell what ([`plan`]) → the plant driven by the
//! log ([`model`]) → the values that fit ([`parameters`], [`whiten`], [`estimate`]) → what is known, what is not and what would tell
//! ([`verdict`]) → page, text and site file. Method, sources and how well it does: docs/fit.md.

pub mod compare;
pub mod estimate;
pub mod model;
pub mod parameters;
pub mod plan;
pub mod record;
pub mod score;
pub mod twin;
pub mod verdict;
pub mod weather;
pub mod whiten;
pub mod written;
