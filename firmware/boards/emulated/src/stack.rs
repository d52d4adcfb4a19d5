//! How much of the stack was ever used: it is painted first and looked at in the end.

use core::ptr::{addr_of, read_volatile, write_volatile};

const PAINT: u32 = 0x5AA5_C33C;
/// Left alone below the stack pointer while painting: this function's own.
const OWN: usize = 256;

unsafe extern "C" {
    static _stack_start: u32;
    static _stack_end: u32;
}

/// Paints what is free below the stack pointer.
pub fn paint() {
    let top = (cortex_m::register::msp::read() as usize).saturating_sub(OWN);
    // SAFETY: the words between the stack's end and well below its pointer belong to nobody.
    unsafe {
        let mut word = addr_of!(_stack_end) as usize;
        while word < top {
            write_volatile(word as *mut u32, PAINT);
            word = word.wrapping_add(4);
        }
    }
}

/// Bytes from the stack's start down to the lowest word that has changed.
pub fn used() -> u32 {
    // SAFETY: reads within the stack's region only.
    unsafe {
        let start = addr_of!(_stack_start) as usize;
        let mut word = addr_of!(_stack_end) as usize;
        while word < start && read_volatile(word as *const u32) == PAINT {
            word = word.wrapping_add(4);
        }
        start.saturating_sub(word) as u32
    }
}
