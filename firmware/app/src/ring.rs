//! A ring of equal slots in NOR flash, each with serial number and checksum; power may go at any time.
//!
//! A slot is written once, its checksum last. The oldest sector is erased only when the ring enters
//! it, so whatever a cut tears, a write or an erase, the slots acknowledged before are elsewhere and
//! whole. Torn slots fail their CRC-32 and are stepped over.

use core::ops::Range;

use crc::{CRC_32_ISO_HDLC, Crc, Table};
use embedded_storage::nor_flash::NorFlash;

/// With a table of 1 KiB, since a boot works out the checksums of all slots.
static CRC: Crc<u32, Table<1>> = Crc::<u32, Table<1>>::new(&CRC_32_ISO_HDLC);

/// Bytes of a slot taken by serial number and checksum.
pub const OVERHEAD: usize = 8;

/// A slot could not be written; what was written before still stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RingFault;

/// The ring. `SLOT` bytes a slot: a multiple of the flash's write size that divides its erase size.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ring<const SLOT: usize> {
    start: u32,
    sector: u32,
    sectors: u32,
    /// Place of the next slot, counted from the region's start.
    next: u32,
    serial: u32,
}

/// Serial number and content of a slot.
pub type Slot<const SLOT: usize> = (u32, [u8; SLOT]);

impl<const SLOT: usize> Ring<SLOT> {
    const SIZE: u32 = SLOT as u32;

    /// Finds the newest slot and gives it. `range` is in whole erase sectors, at least two; less than
    /// that is a ring that refuses everything.
    pub fn open<F: NorFlash>(flash: &mut F, range: &Range<u32>) -> (Self, Option<[u8; SLOT]>) {
        let sector = u32::try_from(F::ERASE_SIZE).unwrap_or(0);
        let fits = SLOT.is_multiple_of(F::WRITE_SIZE) && F::ERASE_SIZE.is_multiple_of(SLOT);
        let aligned = range.start.checked_rem(sector) == Some(0);
        let sectors = range
            .end
            .saturating_sub(range.start)
            .checked_div(sector)
            .unwrap_or(0);
        let sectors = if fits && aligned && sectors >= 2 {
            sectors
        } else {
            0
        };
        let mut ring = Self {
            start: range.start,
            sector,
            sectors,
            next: 0,
            serial: 0,
        };
        let mut newest: Option<(u32, Slot<SLOT>)> = None;
        for place in 0..ring.places() {
            if let Some(slot) = ring.slot(flash, place)
                && newest.is_none_or(|(_, (best, _))| slot.0 >= best)
            {
                newest = Some((place, slot));
            }
        }
        let Some((place, (serial, content))) = newest else {
            return (ring, None);
        };
        ring.serial = serial.saturating_add(1);
        ring.next = ring.wrapped(place.saturating_add(1));
        while !ring.is_sector_start(ring.next) && !ring.is_blank(flash, ring.next) {
            ring.next = ring.wrapped(ring.next.saturating_add(1));
        }
        (ring, Some(content))
    }

    /// Slots there is room for; also the number of [`Self::read`]'s places.
    #[must_use]
    pub fn places(&self) -> u32 {
        self.sectors.saturating_mul(self.per_sector())
    }

    /// Slots ever written.
    #[must_use]
    pub const fn written(&self) -> u32 {
        self.serial
    }

    /// Appends a slot; `content` beyond `SLOT - OVERHEAD` bytes is cut off, the rest is zero.
    ///
    /// # Errors
    /// [`RingFault`]; the next slot tries the next place.
    pub fn append<F: NorFlash>(&mut self, flash: &mut F, content: &[u8]) -> Result<(), RingFault> {
        if self.places() == 0 {
            return Err(RingFault);
        }
        let address = self.address(self.next);
        if self.is_sector_start(self.next) {
            let end = address.saturating_add(self.sector);
            flash.erase(address, end).map_err(|_| RingFault)?;
        }
        let mut slot = [0; SLOT];
        let (serial, body) = slot.split_first_chunk_mut::<4>().ok_or(RingFault)?;
        let (body, sum) = body.split_last_chunk_mut::<4>().ok_or(RingFault)?;
        *serial = self.serial.to_le_bytes();
        for (place, byte) in body.iter_mut().zip(content) {
            *place = *byte;
        }
        let mut digest = CRC.digest();
        digest.update(serial);
        digest.update(body);
        *sum = digest.finalize().to_le_bytes();
        self.next = self.wrapped(self.next.saturating_add(1));
        self.serial = self.serial.saturating_add(1);
        flash.write(address, &slot).map_err(|_| RingFault)
    }

    /// The slot at the `n`th place from the oldest; `None` where none is.
    pub fn read<F: NorFlash>(&self, flash: &mut F, n: u32) -> Option<Slot<SLOT>> {
        if n >= self.places() {
            return None;
        }
        // The oldest sector is the one after the newest; where the newest is just full, it is next.
        let inside = self.next.checked_rem(self.per_sector()).unwrap_or(0);
        let sector_start = self.next.saturating_sub(inside);
        let oldest = if inside == 0 { 0 } else { self.per_sector() };
        let place = u64::from(sector_start)
            .saturating_add(u64::from(oldest))
            .saturating_add(u64::from(n))
            .checked_rem(u64::from(self.places()))?;
        self.slot(flash, u32::try_from(place).ok()?)
    }

    /// A slot's content, with the zeros it was filled up with.
    #[must_use]
    pub fn content(slot: &[u8; SLOT]) -> &[u8] {
        slot.get(4..SLOT.saturating_sub(4)).unwrap_or_default()
    }

    fn per_sector(&self) -> u32 {
        self.sector.checked_div(Self::SIZE).unwrap_or(0)
    }

    fn wrapped(&self, place: u32) -> u32 {
        if place >= self.places() { 0 } else { place }
    }

    fn is_sector_start(&self, place: u32) -> bool {
        place.checked_rem(self.per_sector()).unwrap_or(0) == 0
    }

    /// Sectors hold whole numbers of slots, so places are simply one after the other.
    fn address(&self, place: u32) -> u32 {
        self.start.saturating_add(place.saturating_mul(Self::SIZE))
    }

    fn bytes<F: NorFlash>(&self, flash: &mut F, place: u32) -> Option<[u8; SLOT]> {
        let mut bytes = [0; SLOT];
        flash.read(self.address(place), &mut bytes).ok()?;
        Some(bytes)
    }

    fn slot<F: NorFlash>(&self, flash: &mut F, place: u32) -> Option<Slot<SLOT>> {
        let bytes = self.bytes(flash, place)?;
        let (body, sum) = bytes.split_last_chunk::<4>()?;
        let (serial, _) = bytes.split_first_chunk::<4>()?;
        (CRC.checksum(body) == u32::from_le_bytes(*sum))
            .then_some((u32::from_le_bytes(*serial), bytes))
    }

    fn is_blank<F: NorFlash>(&self, flash: &mut F, place: u32) -> bool {
        self.bytes(flash, place)
            .is_some_and(|bytes| bytes.iter().all(|byte| *byte == 0xFF))
    }
}
