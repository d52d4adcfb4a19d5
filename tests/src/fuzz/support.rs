//! The controller's own test support: a controller that lives, with every row watched.

#![allow(
    dead_code,
    missing_docs,
    unreachable_pub,
    reason = "files of the core's tests, of which only a part is used here"
)]

#[path = "../../../controller-core/tests/support/alive.rs"]
mod alive;
#[path = "../../../controller-core/tests/support/watch.rs"]
mod watch;

pub use alive::{Alive, EDGES, Happens, Says, Stretch};
pub use watch::Watch;
