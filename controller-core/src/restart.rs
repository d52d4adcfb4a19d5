//! What is known at a boot, and how long the outputs stay locked because of it.

use crate::guard::BootDelays;
use crate::reason::words;
use crate::settings::{BoilerKind, Settings};
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
        /// The caller was away for more than a minute.
        Stall = "stall",
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
    /// A long boiler lockout was already imposed in the last six hours of powered time.
    pub boiler_locked_recently: bool,
    /// A boiler call was on or its overrun under way when the power went.
    pub post_run_owed: bool,
    /// The circuit may have stood for hours without power.
    pub long_dark: bool,
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
        boiler_locked_recently: false,
        post_run_owed: false,
        long_dark: false,
        settings_lost: false,
        jitter_s: 0,
    };

    /// How long the outputs stay locked. Status: judgement; a reset may just have stopped a motor.
    #[must_use]
    pub fn delays(&self, settings: &Settings) -> BootDelays {
        let jitter = Duration::from_secs(u32::from(self.jitter_s.min(30)));
        let frost = if self.boots_last_hour > 6 {
            Duration::from_mins(3)
        } else {
            Duration::from_secs(60).max(settings.frost_min_off)
        };
        let ordinary = match settings.boiler {
            BoilerKind::Firing => Duration::from_mins(30),
            BoilerKind::Injection | BoilerKind::None => Duration::from_mins(10),
        };
        let boiler = if self.is_unstable() && !self.boiler_locked_recently {
            Duration::from_mins(60)
        } else {
            ordinary
        };
        BootDelays {
            pump: Duration::from_mins(10).max(settings.pump_min_off) + jitter,
            frost: frost + jitter,
            boiler,
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
    /// Powered second at which the boiler was last locked for an hour, plus one; 0 for never.
    locked: u32,
}

impl BootHistory {
    /// Records a boot at `powered_s`, the seconds powered so far, counted over all boots. Gives
    /// boots in the last powered hour and whether a long boiler lockout is recent.
    pub fn boot(&mut self, powered_s: u32) -> (u8, bool) {
        if let Some(place) = self.boots.get_mut(usize::from(self.next & 7)) {
            *place = powered_s.saturating_add(1);
        }
        self.next = self.next.wrapping_add(1) & 7;
        let recent = |then: u32, span: u32| {
            then != 0 && powered_s.saturating_sub(then.saturating_sub(1)) < span
        };
        let boots = self
            .boots
            .iter()
            .filter(|then| recent(**then, 3_600))
            .count();
        let boots = u8::try_from(boots).unwrap_or(u8::MAX);
        let locked = recent(self.locked, 6 * 3_600);
        if boots >= 4 && !locked {
            self.locked = powered_s.saturating_add(1);
        }
        (boots, locked)
    }
}
