//! What must be known at the next boot: powered time, boots, the last resets, heat still in the pipes.
//!
//! Boots are counted in powered time, since nobody knows how long the power was away.

use controller_core::restart::{BootHistory, Restart, RestartCause};

use crate::resets::{Activity, Ended};

/// How often the powered time is stored, s. A cut loses at most this much of it, which makes boots
/// seem closer together than they were: the careful side.
pub const KEEP_EVERY_S: u32 = 600;

/// Boots remembered. The core looks six hours back; more boots than this in that time are replayed
/// from the later ones only, which at most shortens a repeated boiler lockout to the ordinary one.
const BOOTS: usize = 32;
/// Resets remembered for a person; a return of the power is none.
pub const FAULTS: usize = 8;
/// Stored size of one of them.
const FAULT: usize = 14;

/// Size of the stored form.
pub const STORED: usize = 4 + 1 + 4 * BOOTS + FAULT * FAULTS;

/// A reset, as it is told to a person.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fault {
    /// Powered second of the boot after it.
    pub powered_s: u32,
    /// What was left behind.
    pub ended: Ended,
}

/// The record.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Record {
    /// Seconds powered so far, over all boots.
    pub powered_s: u32,
    /// A boiler call was on, or its overrun under way.
    pub post_run_owed: bool,
    /// Powered second of each boot plus one, oldest first; 0 for none.
    boots: [u32; BOOTS],
    /// The last resets, oldest first.
    pub faults: [Option<Fault>; FAULTS],
}

impl Record {
    /// Records a boot at the record's powered second. `unit` spreads units that share a supply.
    pub fn boot(
        &mut self,
        cause: RestartCause,
        ended: Option<Ended>,
        settings_lost: bool,
        unit: u32,
    ) -> Restart {
        let mut history = BootHistory::default();
        for then in self.boots.into_iter().filter(|then| *then != 0) {
            let _ = history.boot(then.saturating_sub(1));
        }
        let boots_last_hour = history.boot(self.powered_s);
        push(&mut self.boots, self.powered_s.saturating_add(1));
        if let Some(ended) = ended {
            let powered_s = self.powered_s;
            push(&mut self.faults, Some(Fault { powered_s, ended }));
        }
        Restart {
            cause,
            boots_last_hour,
            post_run_owed: self.post_run_owed,
            settings_lost,
            jitter_s: self.jitter(unit),
        }
    }

    /// 0–30 s, different for every unit and boot.
    fn jitter(&self, unit: u32) -> u8 {
        let count = self.boots.iter().filter(|then| **then != 0).count();
        let mixed = serial_line::line::checksum(
            unit.to_le_bytes()
                .iter()
                .chain(&self.powered_s.to_le_bytes()),
        )
        .wrapping_add(u16::try_from(count).unwrap_or(0).wrapping_mul(7));
        u8::try_from(mixed % 31).unwrap_or(0)
    }

    /// Writes the stored form.
    #[must_use]
    pub fn to_bytes(&self) -> [u8; STORED] {
        let mut bytes = [0; STORED];
        let mut places = bytes.iter_mut();
        let mut put = |part: &[u8]| {
            // The part first: a zip that ends takes one too many from its other side.
            for (byte, place) in part.iter().zip(places.by_ref()) {
                *place = *byte;
            }
        };
        put(&self.powered_s.to_le_bytes());
        put(&[u8::from(self.post_run_owed)]);
        for then in &self.boots {
            put(&then.to_le_bytes());
        }
        for fault in &self.faults {
            put(&fault_to_bytes(fault.as_ref()));
        }
        bytes
    }

    /// Reads the stored form; `None` if it is of another size.
    #[must_use]
    pub fn from_bytes(bytes: &[u8]) -> Option<Self> {
        let bytes: &[u8; STORED] = bytes.try_into().ok()?;
        let (powered_s, rest) = bytes.split_first_chunk()?;
        let (owed, rest) = rest.split_first()?;
        let (times, faults) = rest.split_at_checked(4_usize.saturating_mul(BOOTS))?;
        let mut record = Self {
            powered_s: u32::from_le_bytes(*powered_s),
            post_run_owed: *owed != 0,
            ..Self::default()
        };
        for (place, part) in record.boots.iter_mut().zip(times.chunks_exact(4)) {
            *place = u32::from_le_bytes(part.try_into().ok()?);
        }
        for (place, part) in record.faults.iter_mut().zip(faults.chunks_exact(FAULT)) {
            *place = fault_from_bytes(part.try_into().ok()?);
        }
        Some(record)
    }
}

fn fault_to_bytes(fault: Option<&Fault>) -> [u8; FAULT] {
    let Some(Fault { powered_s, ended }) = fault else {
        return [0; FAULT];
    };
    let cause = RestartCause::ALL.iter().zip(1_u8..);
    let number = cause.filter(|(cause, _)| **cause == ended.cause);
    let number = number.map(|(_, number)| number).next().unwrap_or(0);
    let [a, b, c, d] = powered_s.to_le_bytes();
    let [e, f, g, h] = ended.uptime_s.to_le_bytes();
    let [i, j, k, l] = ended.place.to_le_bytes();
    [
        number,
        ended.activity as u8,
        a,
        b,
        c,
        d,
        e,
        f,
        g,
        h,
        i,
        j,
        k,
        l,
    ]
}

fn fault_from_bytes(bytes: &[u8; FAULT]) -> Option<Fault> {
    let [number, activity, a, b, c, d, e, f, g, h, i, j, k, l] = *bytes;
    let cause = RestartCause::ALL.get(usize::from(number).checked_sub(1)?)?;
    Some(Fault {
        powered_s: u32::from_le_bytes([a, b, c, d]),
        ended: Ended {
            cause: *cause,
            uptime_s: u32::from_le_bytes([e, f, g, h]),
            activity: Activity::from_number(activity),
            place: u32::from_le_bytes([i, j, k, l]),
        },
    })
}

/// Drops the oldest and appends the newest.
fn push<T, const N: usize>(ring: &mut [T; N], newest: T) {
    ring.rotate_left(1);
    if let Some(last) = ring.last_mut() {
        *last = newest;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn boot_at(record: &mut Record, powered_s: u32, cause: RestartCause) -> Restart {
        record.powered_s = powered_s;
        let restart = record.boot(cause, None, false, 7);
        // Every boot goes through the stored form.
        *record = Record::from_bytes(&record.to_bytes()).unwrap();
        restart
    }

    #[test]
    fn boots_agree_with_a_history_that_never_forgets() {
        let mut record = Record::default();
        let mut whole = BootHistory::default();
        let mut seed = 1_u32;
        let mut powered = 0_u32;
        for _ in 0..500 {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            powered += (seed >> 16) % 6_000;
            let boot = boot_at(&mut record, powered, RestartCause::PowerOn);
            assert_eq!(boot.boots_last_hour, whole.boot(powered));
        }
    }

    #[test]
    fn the_last_resets_are_kept_in_order_to_the_bit() {
        let mut record = Record::default();
        let ended = |n: u32| Ended {
            cause: RestartCause::ALL[n as usize % RestartCause::ALL.len()],
            uptime_s: n.wrapping_mul(0x0101_0101),
            activity: Activity::from_number(n as u8 % 8),
            place: 0x1000_0000 + n,
        };
        for n in 0..30_u32 {
            record.powered_s = n * 100;
            record.boot(ended(n).cause, Some(ended(n)), false, 7);
            // A return of the power between two of them takes no place.
            record.boot(RestartCause::PowerOn, None, false, 7);
            record = Record::from_bytes(&record.to_bytes()).unwrap();
            let known: std::vec::Vec<_> = record.faults.iter().flatten().collect();
            let first = (n + 1).saturating_sub(FAULTS as u32);
            assert_eq!(known.len() as u32, n + 1 - first);
            for (fault, n) in known.into_iter().zip(first..) {
                let powered_s = n * 100;
                let ended = ended(n);
                assert_eq!(*fault, Fault { powered_s, ended });
            }
        }
    }

    #[test]
    fn a_record_of_another_size_is_none() {
        let bytes = Record::default().to_bytes();
        assert!(Record::from_bytes(&bytes[1..]).is_none());
        assert_eq!(Record::from_bytes(&bytes), Some(Record::default()));
    }

    #[test]
    fn jitter_spreads_over_units_and_boots() {
        let mut seen = [false; 31];
        for unit in 0..300 {
            let mut record = Record::default();
            let restart = record.boot(RestartCause::PowerOn, None, false, unit);
            seen[usize::from(restart.jitter_s)] = true;
        }
        assert!(seen.iter().all(|seen| *seen));
        let mut record = Record::default();
        let mut jitter = || boot_at(&mut record, 0, RestartCause::PowerOn).jitter_s;
        assert_ne!(jitter(), jitter());
    }
}
