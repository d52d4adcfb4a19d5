//! What a chip's HAL brings; here memory and the terminal stand in for it.

use std::io::{Read as _, Write as _};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

use embedded_hal::delay::DelayNs;
use embedded_storage::nor_flash::{ErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash};

pub struct Delay;

impl DelayNs for Delay {
    fn delay_ns(&mut self, ns: u32) {
        std::thread::sleep(Duration::from_nanos(ns.into()));
    }
}

pub struct Flash(Vec<u8>);

impl Flash {
    pub fn new(size: usize) -> Self {
        Self(vec![0xFF; size])
    }
}

impl ErrorType for Flash {
    type Error = NorFlashErrorKind;
}

impl ReadNorFlash for Flash {
    const READ_SIZE: usize = 1;
    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        bytes.copy_from_slice(&self.0[offset as usize..][..bytes.len()]);
        Ok(())
    }
    fn capacity(&self) -> usize {
        self.0.len()
    }
}

impl NorFlash for Flash {
    const WRITE_SIZE: usize = 1;
    const ERASE_SIZE: usize = 4096;
    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        self.0[from as usize..to as usize].fill(0xFF);
        Ok(())
    }
    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        self.0[offset as usize..][..bytes.len()].copy_from_slice(bytes);
        Ok(())
    }
}

/// The terminal as a serial port.
pub struct Serial(Receiver<u8>);

impl Serial {
    pub fn new() -> Self {
        let (sender, received) = channel();
        std::thread::spawn(move || {
            for byte in std::io::stdin().lock().bytes().map_while(Result::ok) {
                let _ = sender.send(byte);
            }
        });
        Self(received)
    }

    /// A character that came, if one did.
    pub fn read(&self) -> Option<u8> {
        self.0.try_recv().ok()
    }

    /// Was it taken?
    pub fn write(&self, byte: u8) -> bool {
        std::io::stdout().write_all(&[byte]).is_ok()
    }
}

/// Milliseconds since the start.
pub fn clock() -> impl Fn() -> u64 {
    let start = Instant::now();
    move || {
        std::thread::sleep(Duration::from_millis(5));
        u64::try_from(start.elapsed().as_millis()).unwrap_or(u64::MAX)
    }
}
