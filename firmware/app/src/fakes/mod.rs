//! Stand-ins for pins, sensor bus and flash: stricter than the parts, and able to fail at any call.

mod flash;
mod pins;
mod scratch;
mod wire;

pub(crate) use flash::{Flash, Random};
pub(crate) use pins::{Pin, PinWorld};
pub(crate) use scratch::Scratch;
pub(crate) use wire::{Chip, Wire, WireDelay, WirePin};
