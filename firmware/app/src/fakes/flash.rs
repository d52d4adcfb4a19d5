//! NOR flash that is stricter than the part: aligned writes only, onto erased bytes only; and whose
//! supply can be cut after any byte written and anywhere inside an erase.

use embedded_storage::nor_flash::{
    ErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};
use std::vec;
use std::vec::Vec;

/// Small repeatable pseudo-random numbers (xorshift64).
#[derive(Clone, Debug)]
pub(crate) struct Random(pub(crate) u64);

impl Random {
    pub(crate) fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    pub(crate) fn below(&mut self, n: u64) -> u64 {
        self.next() % n
    }
}

/// The flash.
#[derive(Clone, Debug)]
pub(crate) struct Flash<const ERASE: usize, const WRITE: usize> {
    pub(crate) bytes: Vec<u8>,
    /// Steps until the supply goes: one a byte written, `ERASE` an erase.
    pub(crate) steps_left: Option<u64>,
    /// Steps taken so far.
    pub(crate) steps: u64,
    pub(crate) erases: Vec<u32>,
    /// Every write and erase fails, without a cut.
    pub(crate) refuses: bool,
    /// Writes onto bytes that were not erased. Only a torn write or erase may lead to one.
    pub(crate) overwrites: u32,
    pub(crate) torn: u32,
    random: Random,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Dead;

impl NorFlashError for Dead {
    fn kind(&self) -> NorFlashErrorKind {
        NorFlashErrorKind::Other
    }
}

impl<const ERASE: usize, const WRITE: usize> Flash<ERASE, WRITE> {
    pub(crate) fn new(sectors: usize) -> Self {
        Self {
            bytes: vec![0xFF; sectors * ERASE],
            steps_left: None,
            steps: 0,
            erases: vec![0; sectors],
            refuses: false,
            overwrites: 0,
            torn: 0,
            random: Random(0x9E37_79B9_7F4A_7C15),
        }
    }

    pub(crate) fn is_dead(&self) -> bool {
        self.steps_left == Some(0)
    }

    /// Power comes back; the next cut is after so many steps.
    pub(crate) fn revive(&mut self, steps: Option<u64>) {
        self.steps_left = steps;
    }

    /// Takes up to `wanted` steps; how many before the supply goes.
    fn steps(&mut self, wanted: u64) -> u64 {
        let done = self.steps_left.map_or(wanted, |left| left.min(wanted));
        if let Some(left) = &mut self.steps_left {
            *left -= done;
        }
        self.steps += done;
        done
    }
}

impl<const ERASE: usize, const WRITE: usize> ErrorType for Flash<ERASE, WRITE> {
    type Error = Dead;
}

impl<const ERASE: usize, const WRITE: usize> ReadNorFlash for Flash<ERASE, WRITE> {
    const READ_SIZE: usize = 1;

    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Dead> {
        if self.is_dead() {
            return Err(Dead);
        }
        let start = offset as usize;
        bytes.copy_from_slice(&self.bytes[start..start + bytes.len()]);
        Ok(())
    }

    fn capacity(&self) -> usize {
        self.bytes.len()
    }
}

impl<const ERASE: usize, const WRITE: usize> NorFlash for Flash<ERASE, WRITE> {
    const WRITE_SIZE: usize = WRITE;
    const ERASE_SIZE: usize = ERASE;

    fn erase(&mut self, from: u32, to: u32) -> Result<(), Dead> {
        let (from, to) = (from as usize, to as usize);
        assert!(
            from % ERASE == 0 && to % ERASE == 0 && from < to,
            "{from:x}..{to:x}"
        );
        if self.is_dead() || self.refuses {
            return Err(Dead);
        }
        for sector in from / ERASE..to / ERASE {
            let done = self.steps(ERASE as u64) as usize;
            let range = sector * ERASE..(sector + 1) * ERASE;
            if done == ERASE && !self.is_dead() {
                self.bytes[range].fill(0xFF);
                self.erases[sector] += 1;
                continue;
            }
            // Torn: every bit may or may not have risen, likelier the longer it took.
            self.torn += 1;
            for n in range {
                for bit in 0..8 {
                    if self.random.below(ERASE as u64) < done as u64 {
                        self.bytes[n] |= 1 << bit;
                    }
                }
            }
            return Err(Dead);
        }
        Ok(())
    }

    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Dead> {
        let start = offset as usize;
        assert!(
            start.is_multiple_of(WRITE) && bytes.len().is_multiple_of(WRITE),
            "{start:x}+{}",
            bytes.len()
        );
        if self.is_dead() || self.refuses {
            return Err(Dead);
        }
        let place = start..start + bytes.len();
        if self.bytes[place].iter().any(|byte| *byte != 0xFF) {
            assert!(
                self.torn > 0,
                "write onto bytes that were not erased at {start:x}"
            );
            self.overwrites += 1;
        }
        for (n, byte) in bytes.iter().enumerate() {
            if self.steps(1) == 0 || self.is_dead() {
                // The byte under way: some of its bits have fallen.
                self.torn += 1;
                let some = self.random.next() as u8;
                self.bytes[start + n] &= byte | some;
                return Err(Dead);
            }
            self.bytes[start + n] &= byte;
        }
        Ok(())
    }
}
