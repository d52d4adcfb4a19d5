//! What survives a power cut: settings, sensor names and restart record, as one image in a ring.
//!
//! Every save appends the whole image; the newest whole one is what counts at boot. A damaged image
//! uncovers the one before, at most ten minutes older. Settings are stored by the checksum of each
//! name, so that another firmware reads those it knows. Where a name's meaning changed, the version
//! did too, and an image of another version counts as none.
//!
//! Writing budget: one image of 1 KiB every ten minutes and at every change, some 150 a day, makes 38
//! erases a day of 4 KiB sectors. Over eight sectors with 100 000 erase cycles each (the usual data
//! sheet figure for serial NOR flash) that is more than 50 years.

use core::ops::Range;

use controller_core::settings::{Field, RawSettings, Settings};
use embedded_storage::nor_flash::NorFlash;
use heapless::Vec;

use crate::bindings::{self, Bindings};
use crate::defaults;
use crate::record::{self, Record};
use crate::ring::{OVERHEAD, Ring, RingFault};
use serial_line::line::checksum;

/// Bytes an image takes in flash.
pub(crate) const SLOT: usize = 1_024;
const ROOM: usize = SLOT - OVERHEAD;
/// Raised whenever a setting takes another meaning or is taken away: a value chosen for another rule
/// is not to steer this one.
const VERSION: u8 = 3;
/// One setting: checksum of its name, 32 bits.
const ENTRY: usize = 6;
const FIXED: usize = 3 + record::STORED + bindings::STORED;
/// Settings there is room for.
const MOST_SETTINGS: usize = (ROOM - FIXED) / ENTRY;

/// What is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kept {
    /// Settings, not checked.
    pub settings: RawSettings,
    /// A person stored settings; else they are a unit's defaults, and stay told as lost.
    pub chosen: bool,
    /// Which chip is which reading.
    pub bindings: Bindings,
    /// For the next boot.
    pub record: Record,
}

/// What was found at boot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Loaded {
    /// Stored settings, or a unit's defaults.
    pub settings: Settings,
    /// A person's settings were never stored, or cannot be read, or break a rule.
    pub settings_lost: bool,
    /// Stored sensor names, or none.
    pub bindings: Bindings,
    /// Stored restart record, or an empty one.
    pub record: Record,
}

/// The store.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Store {
    ring: Ring<SLOT>,
}

impl Store {
    /// Reads what is there, with defaults for what cannot be read. Never fails.
    pub fn open<F: NorFlash>(flash: &mut F, range: &Range<u32>) -> (Self, Loaded) {
        let (ring, newest) = Ring::open(flash, range);
        let kept = newest.and_then(|slot| from_bytes(Ring::content(&slot)));
        let checked = kept
            .as_ref()
            .and_then(|kept| Settings::check(kept.settings).ok());
        let loaded = Loaded {
            settings_lost: checked.is_none() || kept.as_ref().is_some_and(|kept| !kept.chosen),
            settings: checked.unwrap_or_else(defaults::settings),
            bindings: kept.as_ref().map(|kept| kept.bindings).unwrap_or_default(),
            record: kept.map(|kept| kept.record).unwrap_or_default(),
        };
        (Self { ring }, loaded)
    }

    /// Stores everything.
    ///
    /// # Errors
    /// [`RingFault`]; what was stored before still stands.
    pub fn save<F: NorFlash>(&mut self, flash: &mut F, kept: &Kept) -> Result<(), RingFault> {
        self.ring.append(flash, &to_bytes(kept))
    }
}

fn to_bytes(kept: &Kept) -> Vec<u8, ROOM> {
    let fields = Field::all();
    let mut bytes = Vec::new();
    let count = u8::try_from(fields.len().min(MOST_SETTINGS)).unwrap_or(0);
    let _ = bytes.extend_from_slice(&[VERSION, u8::from(kept.chosen), count]);
    let _ = bytes.extend_from_slice(&kept.record.to_bytes());
    let _ = bytes.extend_from_slice(&bindings::to_bytes(&kept.bindings));
    for field in fields {
        let name = checksum(field.name.as_bytes());
        let _ = bytes.extend_from_slice(&name.to_le_bytes());
        let _ = bytes.extend_from_slice(&kept.settings.bits(field.key).to_le_bytes());
    }
    bytes
}

fn from_bytes(bytes: &[u8]) -> Option<Kept> {
    let [VERSION, chosen, count, rest @ ..] = bytes else {
        return None;
    };
    let (record, rest) = rest.split_first_chunk::<{ record::STORED }>()?;
    let (names, rest) = rest.split_first_chunk::<{ bindings::STORED }>()?;
    let fields = Field::all();
    let mut settings = defaults::UNIT;
    for entry in rest.chunks_exact(ENTRY).take(usize::from(*count)) {
        let [a, b, c, d, e, f] = *entry else {
            return None;
        };
        let name = u16::from_le_bytes([a, b]);
        let mut known = fields.iter();
        if let Some(field) = known.find(|field| checksum(field.name.as_bytes()) == name)
            && !settings.set_bits(field.key, i32::from_le_bytes([c, d, e, f]))
        {
            return None;
        }
    }
    Some(Kept {
        settings,
        chosen: *chosen != 0,
        bindings: bindings::from_bytes(names)?,
        record: Record::from_bytes(record)?,
    })
}

#[cfg(test)]
#[path = "store_tests.rs"]
mod tests;
