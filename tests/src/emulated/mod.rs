//! The controller in an emulated microcontroller: an image in QEMU that is stepped from here.
//!
//! [`compare`] runs a [`Scenario`] twice, with the controller in this program and with the image, and
//! looks at every byte of the two traces. In a closed loop the image's own relay bits and wanted times
//! drive the simulated house: nothing of the second run comes from the first.

mod compare;
mod remote;
mod scenario;

pub use compare::{Comparison, Difference, compare};
pub use remote::{Emulator, Remote, RemoteReport};
pub use scenario::{DrillRun, Noise, Scenario, WinterRun};
