//! What is known at a boot, and how long the outputs stay locked because of it.

use crate::guard::BootDelays;
use crate::reason::words;
use crate::settings::Settings;
use crate::time::Duration;

words! {
    /// Why the controller starts.
    RestartCause {
        /// Power came back, after nobody knows how long.
        PowerOn = "power_on",
        /// The supply sagged.
        BrownOut = "brown_out",
        /// The watchdog barked.
        Watchdog = "watchdog",
        /// A person or program asked for it.
        Requested = "requested",
    }
}

/// Given to the controller at every boot.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Restart {
    /// Why.
    pub cause: RestartCause,
    /// Boots in the last hour of powered time, this one included.
    pub boots_last_hour: u8,
    /// A boiler call was on or its overrun under way when the power went.
    pub post_run_owed: bool,
    /// The stored settings were unreadable and defaults are in force.
    pub settings_lost: bool,
    /// 0–30 s added to the circulator's delay, different for every unit and boot.
    pub jitter_s: u8,
}

impl Restart {
    /// An ordinary start with nothing to report.
    pub const ORDINARY: Self = Self {
        cause: RestartCause::PowerOn,
        boots_last_hour: 1,
        post_run_owed: false,
        settings_lost: false,
        jitter_s: 0,
    };

    /// How long the outputs stay locked. Status: judgement; a reset may just have stopped a motor.
    #[must_use]
    pub fn delays(&self, settings: &Settings) -> BootDelays {
        let jitter = Duration::from_secs(u32::from(self.jitter_s.min(30)));
        BootDelays {
            pump: Duration::from_mins(10).max(settings.pump_min_off) + jitter,
            frost: Duration::from_secs(60).max(settings.frost_min_off) + jitter,
            boiler: Duration::from_mins(3),
        }
    }

    /// Four or more boots in an hour.
    #[must_use]
    pub const fn is_unstable(&self) -> bool {
        self.boots_last_hour >= 4
    }
}

/// Boots remembered in powered time; what a firmware keeps through power cuts to fill a [`Restart`].
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct BootHistory {
    /// Powered seconds at the last eight boots; 0 for none.
    boots: [u32; 8],
    next: u8,
}

impl BootHistory {
    /// Records a boot at `powered_s`, the seconds powered so far, counted over all boots. Gives
    /// boots in the last powered hour.
    pub fn boot(&mut self, powered_s: u32) -> u8 {
        if let Some(place) = self.boots.get_mut(usize::from(self.next & 7)) {
            *place = powered_s.saturating_add(1);
        }
        self.next = self.next.wrapping_add(1) & 7;
        let recent =
            |then: &u32| *then != 0 && powered_s.saturating_sub(then.saturating_sub(1)) < 3_600;
        self.boots.iter().fold(0, |count: u8, then| {
            count.wrapping_add(u8::from(recent(then)))
        })
    }
}
