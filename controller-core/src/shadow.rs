//! Relays that are somebody else's: the controller runs in shadow mode, beside an older control or over a log.
//!
//! The guard goes on with its own two bits. What the water does is judged by the relays that really
//! ran: flow, heat and proofs follow these, as far as they are known. An unknown relay is taken to be
//! as this controller would have it, but nothing is proven and nothing rings by it.

use crate::alarm::{Alarm, AlarmSet};
use crate::guard::GuardStatus;
use crate::time::Duration;

/// What really ran since the step before, as far as anybody knows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ActualRelays {
    /// The circulator.
    pub circulator: Option<bool>,
    /// The boiler call.
    pub boiler_call: Option<bool>,
}

impl ActualRelays {
    /// The alarms that follow from what really ran. Holds of this controller's own outputs keep nobody's house cold.
    #[cold]
    pub(crate) const fn that_follow(self, alarms: AlarmSet) -> AlarmSet {
        let quiet = AlarmSet::NONE
            .with(Alarm::HeatBarred, true)
            .with(Alarm::ManyStarts, true)
            .with(Alarm::NoFlow, self.circulator.is_none())
            .with(Alarm::FlowWithPumpOff, self.circulator.is_none())
            .with(Alarm::FireOut, self.boiler_call.is_none())
            .with(Alarm::LongBoilerDay, self.boiler_call.is_none())
            .with(Alarm::HeatWithoutCall, self.boiler_call.is_none());
        alarms.without(quiet)
    }
}

/// One relay: how it is, since when, and whether it was ever on.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Followed {
    on: bool,
    stands_for: Duration,
    ever: bool,
}

impl Followed {
    const OFF: Self = Self {
        on: false,
        stands_for: Duration::ZERO,
        ever: false,
    };

    fn update(&mut self, on: bool, step: Duration) {
        let before = if on == self.on {
            self.stands_for
        } else {
            Duration::ZERO
        };
        (self.on, self.stands_for) = (on, before + step);
        self.ever |= on;
    }
}

/// Memory of the relays that really ran.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Shadow {
    circulator: Followed,
    boiler: Followed,
}

impl Shadow {
    pub(crate) const NEW: Self = Self {
        circulator: Followed::OFF,
        boiler: Followed::OFF,
    };

    /// Puts the relays as they really are in the place of this controller's own.
    #[cold]
    pub(crate) fn see(&mut self, actual: ActualRelays, step: Duration, seen: &mut GuardStatus) {
        if let Some(on) = actual.circulator {
            self.circulator.update(on, step);
            (seen.pump, seen.pump_for) = (on, self.circulator.stands_for);
        }
        if let Some(on) = actual.boiler_call {
            self.boiler.update(on, step);
            (seen.boiler, seen.boiler_for) = (on, self.boiler.stands_for);
            seen.boiler_off_for = match (on, self.boiler.ever) {
                (true, _) => Duration::ZERO,
                (false, true) => seen.boiler_for,
                (false, false) => Duration::MAX,
            };
        }
        seen.quiet_for = seen.pump_for.min(seen.boiler_for);
    }
}
