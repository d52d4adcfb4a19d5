//! What can be asked of the simulator.

pub mod compare;
pub mod demo;
pub mod drill;
#[cfg(feature = "pc")]
pub mod fit;
pub mod lay;
pub mod own_settings;
pub mod replay;
pub mod size;
pub mod spells;
pub mod tonight;
#[cfg(feature = "pc")]
pub mod tune;
