//! Replays sensor logs through the slab controller and simulates its winters, on a PC.
//!
//! The controller is the very crate that runs on the microcontroller; nothing here decides. The folders are layers, and
//! each uses only those below it; a test of this crate reads their `use` lines and holds that:
//!
//! | layer | what it is |
//! |---|---|
//! | [`cli`] | arguments and the commands: a question is put together, answered and shown |
//! | [`present`] | answers as text, page and JSON |
//! | [`watch`] | a unit watched over months: what has to be told to whom, and a server that shows the rest |
//! | [`questions`], [`serial`] | what can be asked of the simulator; the unit on its serial line |
//! | [`account`] | what a run comes to: numbers, pictures' data, trace file |
//! | [`files`] | site, settings, logs, weather files, quantities in words, what is written |
//! | [`sim`] | the engine, a crate of its own: house, weather and controller in closed loop; no files, threads, clock or terminal |

// What only questions ask for is there without them too.
#![cfg_attr(not(feature = "questions"), allow(dead_code, unused_imports))]

pub mod account;
#[cfg(feature = "cli")]
pub mod cli;
pub mod files;
#[cfg(feature = "questions")]
pub mod present;
#[cfg(feature = "questions")]
pub mod questions;
#[cfg(feature = "cli")]
pub mod serial;
pub use slab_engine as sim;
#[cfg(feature = "cli")]
pub mod watch;
