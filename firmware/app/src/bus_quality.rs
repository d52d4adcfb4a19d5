//! How many of the sensor bus's frames fail their checksum.
//!
//! A garbled frame is read again within the cycle, so a bus that slowly goes bad shows nothing in the
//! readings until it fails. The share of garbled frames tells earlier. Counted over blocks, so that one
//! bad minute is forgotten.

/// Frames of a block: some eleven minutes with four chips and steps of ten seconds.
const BLOCK: u16 = 256;
/// Garbled frames of a block from which on the bus counts as noisy (5 %), and up to which it is quiet
/// again (1 %). Status: judgement; on a sound bus none is garbled for weeks.
const NOISY: Limits = Limits {
    enter: 13,
    leave: 3,
};

struct Limits {
    enter: u16,
    leave: u16,
}

const _: () = assert!(NOISY.leave < NOISY.enter && NOISY.enter < BLOCK);

/// What to do about a noisy bus.
pub const REMEDY: &str = "check pull-up, plugs and the cable's screen; keep it away from mains";

/// Frames and how many of them were garbled.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Share {
    /// Garbled frames.
    pub garbled: u16,
    /// All frames.
    pub frames: u16,
}

/// The bus's record.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct BusQuality {
    /// Since the boot.
    frames: u32,
    garbled: u32,
    /// The block under way, and the one before.
    block: Share,
    last: Share,
    noisy: bool,
}

impl BusQuality {
    /// Counts the frames of one read. `Some` if the bus thereby becomes noisy (true) or quiet again.
    pub fn add(&mut self, read: Share) -> Option<bool> {
        self.frames = self.frames.saturating_add(read.frames.into());
        self.garbled = self.garbled.saturating_add(read.garbled.into());
        self.block.frames = self.block.frames.saturating_add(read.frames);
        self.block.garbled = self.block.garbled.saturating_add(read.garbled);
        if self.block.frames < BLOCK {
            return None;
        }
        self.last = core::mem::take(&mut self.block);
        let noisy = if self.noisy {
            self.last.garbled > NOISY.leave
        } else {
            self.last.garbled >= NOISY.enter
        };
        (core::mem::replace(&mut self.noisy, noisy) != noisy).then_some(noisy)
    }

    /// Was too much garbled in the last whole block?
    #[must_use]
    pub const fn is_noisy(&self) -> bool {
        self.noisy
    }

    /// The last whole block.
    #[must_use]
    pub const fn last(&self) -> Share {
        self.last
    }

    /// Frames since the boot.
    #[must_use]
    pub const fn frames(&self) -> u32 {
        self.frames
    }

    /// Garbled frames since the boot.
    #[must_use]
    pub const fn garbled(&self) -> u32 {
        self.garbled
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Adds a block of single frames, the first `garbled` of them garbled.
    fn block(quality: &mut BusQuality, garbled: u16) -> std::vec::Vec<bool> {
        let one = |n| Share {
            garbled: u16::from(n < garbled),
            frames: 1,
        };
        (0..BLOCK).filter_map(|n| quality.add(one(n))).collect()
    }

    #[test]
    fn noisy_and_quiet_have_limits_apart_and_are_told_once() {
        let mut quality = BusQuality::default();
        assert_eq!(block(&mut quality, 12), []);
        assert_eq!(block(&mut quality, 13), [true]);
        assert_eq!(block(&mut quality, 200), []);
        assert_eq!(block(&mut quality, 4), []);
        assert!(quality.is_noisy());
        assert_eq!(block(&mut quality, 3), [false]);
        assert_eq!(block(&mut quality, 12), []);
        assert!(!quality.is_noisy());
        assert_eq!((quality.frames(), quality.garbled()), (6 * 256, 244));
    }

    #[test]
    fn counts_never_run_over() {
        let mut quality = BusQuality {
            frames: u32::MAX,
            garbled: u32::MAX - 1,
            ..BusQuality::default()
        };
        let most = Share {
            garbled: u16::MAX,
            frames: u16::MAX,
        };
        assert_eq!(quality.add(most), Some(true));
        assert_eq!((quality.frames(), quality.garbled()), (u32::MAX, u32::MAX));
    }
}
