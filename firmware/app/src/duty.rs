//! The watchdog is fed in one place, and only by a cycle in which every duty was done.
//!
//! Each duty hands out a token no other place can make; the three together make [`Healthy`], and
//! only that feeds. Source of the rule: IEC 60730-1 annex H in outline (logical and time-slot
//! monitoring of the program's flow).

/// The sensors' turn was taken, whatever they answered.
#[derive(Debug)]
pub struct Sensed(pub(crate) ());

/// The decision was made, or is not due yet.
#[derive(Debug)]
pub struct Controlled(pub(crate) ());

/// Every relay pin was written in this cycle and reads back as written.
#[derive(Debug)]
pub struct Written(pub(crate) ());

/// All three duties of one cycle.
#[derive(Debug)]
pub struct Healthy(());

impl Healthy {
    /// From one token of each kind; they are used up.
    #[must_use]
    pub fn new(_: Sensed, _: Controlled, _: Written) -> Self {
        Self(())
    }
}
