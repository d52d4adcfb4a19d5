//! Files of the PC that runs the emulator. Source: Arm's semihosting specification (SYS_OPEN 01h,
//! SYS_WRITE 05h, SYS_READ 06h, which answer with the bytes not transferred).

use cortex_m_semihosting::{debug, syscall1};

/// An open file or pipe.
pub struct Stream(usize);

impl Stream {
    /// Opens a file whose name ends with a zero byte. Mode 1 reads, 5 writes, both in binary.
    pub fn open(name: &[u8], mode: usize) -> Self {
        let arguments = [name.as_ptr() as usize, mode, name.len().saturating_sub(1)];
        // SAFETY: the arguments and the name they point to outlive the call.
        Self(unsafe { syscall1(0x01, arguments.as_ptr() as usize) })
    }

    /// Fills `bytes`; false at the end.
    pub fn read(&self, bytes: &mut [u8]) -> bool {
        let mut rest = bytes;
        while !rest.is_empty() {
            let arguments = [self.0, rest.as_mut_ptr() as usize, rest.len()];
            // SAFETY: as above; the buffer is ours alone.
            let left = unsafe { syscall1(0x06, arguments.as_ptr() as usize) };
            let read = rest.len().saturating_sub(left);
            if read == 0 {
                return false;
            }
            rest = rest.get_mut(read..).unwrap_or_default();
        }
        true
    }

    /// Writes all of `bytes`.
    pub fn write(&self, bytes: &[u8]) {
        if bytes.is_empty() {
            return;
        }
        let arguments = [self.0, bytes.as_ptr() as usize, bytes.len()];
        // SAFETY: as above.
        unsafe { syscall1(0x05, arguments.as_ptr() as usize) };
    }
}

/// Ends the emulator.
pub fn end() -> ! {
    debug::exit(debug::EXIT_SUCCESS);
    loop {
        cortex_m::asm::wfi();
    }
}
