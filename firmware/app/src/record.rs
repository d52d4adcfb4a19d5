//! What must be known at the next boot: powered time, boots, watchdog resets, heat still in the pipes.
//!
//! Boots are counted in powered time, since nobody knows how long the power was away.

use controller_core::restart::{BootHistory, Restart, RestartCause};

/// How often the powered time is stored, s. A cut loses at most this much of it, which makes boots
/// seem closer together than they were: the careful side.
pub const KEEP_EVERY_S: u32 = 600;

/// Boots remembered. The core looks six hours back; more boots than this in that time are replayed
/// from the later ones only, which at most shortens a repeated boiler lockout to the ordinary one.
const BOOTS: usize = 32;
/// Watchdog resets in an hour after which the outputs stay in their hardware fail state.
const WATCHDOG_RESETS: usize = 3;

/// Size of the stored form.
pub const STORED: usize = 4 + 1 + 4 * (BOOTS + WATCHDOG_RESETS);

/// The record.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Record {
    /// Seconds powered so far, over all boots.
    pub powered_s: u32,
    /// A boiler call was on, or its overrun under way.
    pub post_run_owed: bool,
    /// Powered second of each boot plus one, oldest first; 0 for none.
    boots: [u32; BOOTS],
    /// The same for boots by the watchdog.
    watchdog: [u32; WATCHDOG_RESETS],
}

/// What a boot found out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Boot {
    /// For the controller.
    pub restart: Restart,
    /// Too many watchdog resets: outputs stay in their hardware fail state.
    pub held: bool,
}

impl Record {
    /// Records a boot at the record's powered second. `unit` spreads units that share a supply.
    pub fn boot(&mut self, cause: RestartCause, settings_lost: bool, unit: u32) -> Boot {
        let mut history = BootHistory::default();
        for then in self.boots.into_iter().filter(|then| *then != 0) {
            let _ = history.boot(then.saturating_sub(1));
        }
        let boots_last_hour = history.boot(self.powered_s);
        push(&mut self.boots, self.powered_s);
        match cause {
            RestartCause::Watchdog => push(&mut self.watchdog, self.powered_s),
            RestartCause::PowerOn => self.watchdog = [0; WATCHDOG_RESETS],
            RestartCause::BrownOut | RestartCause::Requested => {}
        }
        let recent = |then: &u32| *then != 0 && self.powered_s.saturating_sub(*then) < 3_600;
        Boot {
            restart: Restart {
                cause,
                boots_last_hour,
                post_run_owed: self.post_run_owed,
                settings_lost,
                jitter_s: self.jitter(unit),
            },
            held: self.watchdog.iter().all(recent),
        }
    }

    /// Forgets the watchdog's resets: a person has looked.
    pub fn forgive(&mut self) {
        self.watchdog = [0; WATCHDOG_RESETS];
    }

    /// 0–30 s, different for every unit and boot.
    fn jitter(&self, unit: u32) -> u8 {
        let count = self.boots.iter().filter(|then| **then != 0).count();
        let mixed = crate::line::checksum(
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
        for then in self.boots.iter().chain(&self.watchdog) {
            put(&then.to_le_bytes());
        }
        bytes
    }

    /// Reads the stored form; `None` if it is of another size.
    #[must_use]
    pub fn from_bytes(bytes: &[u8]) -> Option<Self> {
        let [a, b, c, d, owed, times @ ..] = bytes else {
            return None;
        };
        let mut record = Self {
            powered_s: u32::from_le_bytes([*a, *b, *c, *d]),
            post_run_owed: *owed != 0,
            ..Self::default()
        };
        if bytes.len() != STORED {
            return None;
        }
        let places = record.boots.iter_mut().chain(&mut record.watchdog);
        for (place, part) in places.zip(times.chunks_exact(4)) {
            *place = u32::from_le_bytes(part.try_into().ok()?);
        }
        Some(record)
    }
}

/// Drops the oldest and appends `powered_s`, stored plus one.
fn push<const N: usize>(ring: &mut [u32; N], powered_s: u32) {
    ring.rotate_left(1);
    if let Some(last) = ring.last_mut() {
        *last = powered_s.saturating_add(1);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn boot_at(record: &mut Record, powered_s: u32, cause: RestartCause) -> Boot {
        record.powered_s = powered_s;
        let boot = record.boot(cause, false, 7);
        // Every boot goes through the stored form.
        *record = Record::from_bytes(&record.to_bytes()).unwrap();
        boot
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
            let boot = boot_at(&mut record, powered, RestartCause::PowerOn).restart;
            assert_eq!(boot.boots_last_hour, whole.boot(powered));
        }
    }

    #[test]
    fn three_watchdog_resets_in_an_hour_hold_the_outputs_until_power_or_a_person() {
        let mut record = Record::default();
        let dog = RestartCause::Watchdog;
        assert!(!boot_at(&mut record, 100, dog).held);
        assert!(!boot_at(&mut record, 2_000, dog).held);
        assert!(boot_at(&mut record, 3_600, dog).held);
        assert!(boot_at(&mut record, 3_610, RestartCause::Requested).held);
        let mut seen = record;
        seen.forgive();
        assert!(!boot_at(&mut seen, 3_620, RestartCause::Requested).held);
        assert!(!boot_at(&mut record, 3_700, RestartCause::PowerOn).held);
        for then in [10_000, 12_000, 14_000] {
            assert!(
                !boot_at(&mut record, then, dog).held,
                "spread over more than an hour"
            );
        }
    }

    #[test]
    fn jitter_spreads_over_units_and_boots() {
        let mut seen = [false; 31];
        for unit in 0..300 {
            let mut record = Record::default();
            seen[usize::from(
                record
                    .boot(RestartCause::PowerOn, false, unit)
                    .restart
                    .jitter_s,
            )] = true;
        }
        assert!(seen.iter().all(|seen| *seen));
        let mut record = Record::default();
        let mut jitter = || {
            boot_at(&mut record, 0, RestartCause::PowerOn)
                .restart
                .jitter_s
        };
        assert_ne!(jitter(), jitter());
    }
}
