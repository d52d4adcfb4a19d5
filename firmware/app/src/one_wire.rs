//! One-wire bus on an open-drain pin: reset, search, match, bytes.
//!
//! Timing from the DS18B20 data sheet: reset low at least 480 µs, presence answers 15–60 µs after
//! release for 60–240 µs, slots of 60–120 µs, a read valid until 15 µs after the fall. Each slot runs
//! in a critical section, so that no interrupt stretches it; the longest is the reset's sampling,
//! 75 µs. The wire is always released afterwards. There may be a second wire, of which one is in use at a time.

use controller_core::sensor::ds18b20::crc;
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{InputPin, OutputPin};

/// A chip's 64-bit identity: family code, serial number, checksum.
pub type Rom = [u8; 8];

/// Why the bus did not answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BusFault {
    /// The wire does not rise: shorted, or no pull-up.
    Shorted,
    /// No chip answers a reset.
    Silent,
    /// A search lost its chip, or an identity fails its checksum.
    Garbled,
    /// The pin itself refused.
    Pin,
}

const READ_ROM_SEARCH: u8 = 0xF0;
const MATCH_ROM: u8 = 0x55;
const SKIP_ROM: u8 = 0xCC;

/// The bus, on one of its wires.
#[derive(Debug)]
pub struct OneWire<P, D> {
    pin: P,
    other: Option<P>,
    /// The wire in use is the second.
    is_second: bool,
    delay: D,
}

/// Where a search goes on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Search {
    rom: Rom,
    /// Bit position, from 1, of the last branch that was taken to 0; 0 if there is none.
    branch: u8,
    finished: bool,
}

impl Search {
    /// A search from the beginning.
    pub const NEW: Self = Self {
        rom: [0; 8],
        branch: 0,
        finished: false,
    };
}

impl<P: InputPin + OutputPin, D: DelayNs> OneWire<P, D> {
    /// Takes the pins and releases the wires.
    pub fn new(mut pin: P, mut other: Option<P>, delay: D) -> Self {
        let _ = pin.set_high();
        let _ = other.as_mut().map(P::set_high);
        Self {
            pin,
            other,
            is_second: false,
            delay,
        }
    }

    /// Is there a second wire?
    pub const fn has_second(&self) -> bool {
        self.other.is_some()
    }

    /// Each wire, for [`Self::use_wire`].
    pub fn wires(&self) -> impl Iterator<Item = bool> + use<P, D> {
        let second = self.has_second().then_some(true);
        [false].into_iter().chain(second)
    }

    /// Uses the second wire from here on, or the first; the only one if there is no other.
    pub fn use_wire(&mut self, second: bool) {
        if let Some(other) = &mut self.other
            && second != self.is_second
        {
            core::mem::swap(&mut self.pin, other);
            self.is_second = second;
        }
    }

    /// Resets the bus; `Ok` if at least one chip is present.
    ///
    /// # Errors
    /// [`BusFault::Shorted`], [`BusFault::Silent`] or [`BusFault::Pin`].
    pub fn reset(&mut self) -> Result<(), BusFault> {
        self.release()?;
        let mut waits = 0_u8;
        while !self.level()? {
            if waits == 100 {
                return Err(BusFault::Shorted);
            }
            waits = waits.saturating_add(1);
            self.delay.delay_us(3);
        }
        let pulled = self.pin.set_low();
        self.delay.delay_us(500);
        let present = critical_section::with(|_| {
            self.release()?;
            self.delay.delay_us(70);
            self.level().map(|high| !high)
        });
        self.delay.delay_us(430);
        pulled.map_err(|_| BusFault::Pin)?;
        if !present? {
            return Err(BusFault::Silent);
        }
        if self.level()? {
            Ok(())
        } else {
            Err(BusFault::Shorted)
        }
    }

    /// Resets and addresses one chip.
    ///
    /// # Errors
    /// As [`Self::reset`].
    pub fn select(&mut self, rom: &Rom) -> Result<(), BusFault> {
        self.reset()?;
        self.write(MATCH_ROM)?;
        rom.iter().try_for_each(|byte| self.write(*byte))
    }

    /// Resets and addresses every chip at once.
    ///
    /// # Errors
    /// As [`Self::reset`].
    pub fn select_all(&mut self) -> Result<(), BusFault> {
        self.reset()?;
        self.write(SKIP_ROM)
    }

    /// Sends a byte, lowest bit first.
    ///
    /// # Errors
    /// [`BusFault::Pin`].
    pub fn write(&mut self, byte: u8) -> Result<(), BusFault> {
        (0..8_u8).try_for_each(|n| self.write_bit((byte >> n) & 1 == 1))
    }

    /// Receives a byte, lowest bit first; an idle wire reads FFh.
    ///
    /// # Errors
    /// [`BusFault::Pin`].
    pub fn read(&mut self) -> Result<u8, BusFault> {
        (0..8_u8).try_fold(0, |byte, n| Ok(byte | (u8::from(self.read_bit()?) << n)))
    }

    /// Finds the next chip; `None` when all have been found.
    ///
    /// # Errors
    /// As [`Self::reset`], and [`BusFault::Garbled`]; the search is then over.
    pub fn search(&mut self, search: &mut Search) -> Result<Option<Rom>, BusFault> {
        if search.finished {
            return Ok(None);
        }
        search.finished = true;
        self.reset()?;
        self.write(READ_ROM_SEARCH)?;
        let mut last_zero = 0;
        let mut position = 0_u8;
        for byte in &mut search.rom {
            for mask in [1_u8, 2, 4, 8, 16, 32, 64, 128] {
                position = position.saturating_add(1);
                let one = match (self.read_bit()?, self.read_bit()?) {
                    (true, true) => return Err(BusFault::Garbled),
                    (true, false) => true,
                    (false, true) => false,
                    (false, false) => {
                        let one = if position < search.branch {
                            *byte & mask != 0
                        } else {
                            position == search.branch
                        };
                        if !one {
                            last_zero = position;
                        }
                        one
                    }
                };
                *byte = if one { *byte | mask } else { *byte & !mask };
                self.write_bit(one)?;
            }
        }
        if crc(&search.rom) != 0 || search.rom == [0; 8] {
            return Err(BusFault::Garbled);
        }
        search.branch = last_zero;
        search.finished = last_zero == 0;
        Ok(Some(search.rom))
    }

    fn write_bit(&mut self, one: bool) -> Result<(), BusFault> {
        let (low, high) = if one { (6, 62) } else { (62, 6) };
        let done = critical_section::with(|_| {
            let pulled = self.pin.set_low();
            self.delay.delay_us(low);
            self.release().and(pulled.map_err(|_| BusFault::Pin))
        });
        self.delay.delay_us(high);
        done
    }

    fn read_bit(&mut self) -> Result<bool, BusFault> {
        let bit = critical_section::with(|_| {
            let pulled = self.pin.set_low();
            self.delay.delay_us(3);
            self.release()?;
            pulled.map_err(|_| BusFault::Pin)?;
            self.delay.delay_us(8);
            self.level()
        });
        self.delay.delay_us(55);
        bit
    }

    fn release(&mut self) -> Result<(), BusFault> {
        self.pin.set_high().map_err(|_| BusFault::Pin)
    }

    fn level(&mut self) -> Result<bool, BusFault> {
        self.pin.is_high().map_err(|_| BusFault::Pin)
    }
}
