//! Watching a unit for whoever sleeps: its rows are kept, what has to be told reaches a person, and a page shows the rest.
//!
//! What is heard becomes messages ([`conditions`]) and what is known now ([`state`]); both stand on rows alone, so that a page in
//! a browser has them too ([`live`]). On a computer by the unit ([`service`]) one thread listens and keeps ([`kept`]), one for
//! each hook delivers ([`hooks`]), one in the middle decides and writes down what was told ([`journal`]), and a server shows the
//! state ([`web`], [`metrics`]). Nothing here ever sends the unit more than the questions of [`crate::serial::session`].

pub mod conditions;
#[cfg(feature = "pc")]
pub mod hooks;
#[cfg(feature = "pc")]
pub mod journal;
#[cfg(feature = "pc")]
pub mod kept;
pub mod live;
pub mod message;
#[cfg(feature = "pc")]
pub mod metrics;
pub mod recent;
#[cfg(feature = "pc")]
pub mod service;
pub mod state;
#[cfg(feature = "pc")]
pub mod web;
