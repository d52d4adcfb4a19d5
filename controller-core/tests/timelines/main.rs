//! Timelines: at this minute these readings, then these outputs for this reason.

#[path = "../support/mod.rs"]
mod support;

mod alarms;
mod boiler;
mod boot;
mod circulator;
mod commands;
mod flow;
mod frost;
mod limits;
mod lost;
mod proof;
mod shadow;
mod stop;
mod unasked;
mod wood;
