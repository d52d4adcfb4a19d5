//! A wish to stop a long run.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::{error, fmt};

/// A wish to stop, shared between those who may have it and those who fulfil it.
#[derive(Clone, Debug, Default)]
pub struct Cancel(Arc<AtomicBool>);

impl Cancel {
    /// No wish yet.
    pub fn new() -> Cancel {
        Cancel::default()
    }

    /// Asks to stop.
    pub fn request(&self) {
        self.0.store(true, Ordering::Relaxed);
    }

    /// Whether to stop.
    pub fn requested(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }

    /// Whether to stop, for use with `?`.
    ///
    /// # Errors
    /// [`Cancelled`] when a stop was requested.
    pub fn check(&self) -> Result<(), Cancelled> {
        if self.requested() {
            Err(Cancelled)
        } else {
            Ok(())
        }
    }
}

/// The run was stopped on request.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cancelled;

impl error::Error for Cancelled {}

impl fmt::Display for Cancelled {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("stopped on request; nothing was written")
    }
}
