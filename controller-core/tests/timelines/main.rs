//! Timelines: at this minute these readings, then these outputs for this reason.

#[path = "../support/mod.rs"]
mod support;

mod boiler;
mod boot;
mod commands;
mod demand;
mod fallback;
mod frost;
mod harvest;
mod limits;
mod stop;
mod unasked;
