//! Heat moved, by where it went. Counts only after the purge; counters never fall and never mix.

use crate::settings::Settings;
use crate::time::Duration;
use crate::units::{Kelvin, Ratio, Watts};

/// Heat counters, mJ (kept as whole numbers so that nothing is lost to rounding), saturating.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct HeatMeter {
    earth: u64,
    banked: u64,
    boiler: u64,
    /// Earth heat at the start of the present day of uptime.
    day_start: u64,
    day: Duration,
    /// Earth heat of the last whole day, Wh.
    last_day_wh: u32,
}

/// Where the heat of a step belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum HeatFrom {
    Earth,
    Slab,
    Boiler,
}

const DAY: Duration = Duration::from_hours(24);
const MILLIJOULES_PER_WATT_HOUR: u64 = 3_600_000;

impl HeatMeter {
    pub(super) const ZERO: Self = Self {
        earth: 0,
        banked: 0,
        boiler: 0,
        day_start: 0,
        day: Duration::ZERO,
        last_day_wh: 0,
    };

    /// Counts `difference` (supply − return) for a step.
    pub(super) fn count(
        &mut self,
        difference: Kelvin,
        from: HeatFrom,
        step: Duration,
        settings: &Settings,
    ) -> Watts {
        let heat = match from {
            HeatFrom::Slab => settings.heat(-difference),
            HeatFrom::Earth | HeatFrom::Boiler => settings.heat(difference),
        };
        // W in 2⁻¹⁶ times ms is 2⁻¹⁶ mJ. Heat the wrong way is no heat of this kind.
        let millijoules = u64::try_from(heat.to_bits())
            .unwrap_or(0)
            .saturating_mul(u64::from(step.as_millis()))
            >> 16;
        let counter = match from {
            HeatFrom::Earth => &mut self.earth,
            HeatFrom::Slab => &mut self.banked,
            HeatFrom::Boiler => &mut self.boiler,
        };
        *counter = counter.saturating_add(millijoules);
        heat
    }

    /// Turns the day over.
    pub(super) fn pass(&mut self, step: Duration) {
        self.day = self.day + step;
        if self.day >= DAY {
            self.day = Duration::ZERO;
            self.last_day_wh = in_watt_hours(self.earth.saturating_sub(self.day_start));
            self.day_start = self.earth;
        }
    }

    /// Earth, banked and boiler heat, Wh.
    pub(super) fn watt_hours(&self) -> [u32; 3] {
        [self.earth, self.banked, self.boiler].map(in_watt_hours)
    }

    /// Earth heat of the present or the last whole day of uptime, the larger, Wh.
    pub(super) fn day_watt_hours(&self) -> u32 {
        in_watt_hours(self.earth.saturating_sub(self.day_start)).max(self.last_day_wh)
    }
}

fn in_watt_hours(millijoules: u64) -> u32 {
    u32::try_from(millijoules / MILLIJOULES_PER_WATT_HOUR).unwrap_or(u32::MAX)
}

/// Heat per electricity at this moment.
pub(super) fn ratio(heat: Watts, settings: &Settings) -> Option<Ratio> {
    heat.to_fixed()
        .checked_div(settings.pump_power.to_fixed())
        .map(Ratio::from_fixed)
}
