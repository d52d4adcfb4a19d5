//! Heat moved, by where it went. Counts only after the purge; counters never fall and never mix.

use crate::settings::Settings;
use crate::time::Duration;
use crate::units::{Kelvin, Ratio, Watts};

/// Heat that only grows: whole watt-hours, and what is left over in mJ, so that nothing is lost to
/// rounding and a division comes once a watt-hour.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Counter {
    watt_hours: u32,
    millijoules: u32,
}

impl Counter {
    const ZERO: Self = Self {
        watt_hours: 0,
        millijoules: 0,
    };

    fn add(&mut self, millijoules: u32) {
        let left = self.millijoules.saturating_add(millijoules);
        self.millijoules = left % MILLIJOULES_PER_WATT_HOUR;
        let whole = left / MILLIJOULES_PER_WATT_HOUR;
        self.watt_hours = self.watt_hours.saturating_add(whole);
    }
}

/// Heat counters.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct HeatMeter {
    earth: Counter,
    banked: Counter,
    boiler: Counter,
    /// Earth heat at the start of the present day of uptime, Wh.
    day_start_wh: u32,
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

/// The day over which earth heat is counted, of uptime.
const DAY: Duration = Duration::from_hours(24);
/// By definition.
const MILLIJOULES_PER_WATT_HOUR: u32 = 3_600_000;

impl HeatMeter {
    pub(super) const ZERO: Self = Self {
        earth: Counter::ZERO,
        banked: Counter::ZERO,
        boiler: Counter::ZERO,
        day_start_wh: 0,
        day: Duration::ZERO,
        last_day_wh: 0,
    };

    /// Counts `difference` (supply − return) for a step; gives heat and heat per electricity now.
    pub(super) fn count(
        &mut self,
        difference: Kelvin,
        from: HeatFrom,
        step: Duration,
        settings: &Settings,
    ) -> (Watts, Ratio) {
        let difference = match from {
            HeatFrom::Slab => -difference,
            HeatFrom::Earth | HeatFrom::Boiler => difference,
        };
        let heat = settings.heat(difference);
        // W in 2⁻¹⁶ times ms is 2⁻¹⁶ mJ, up to 1.2 kWh in a step. Heat the wrong way is no heat of this kind.
        let heat_bits = u64::try_from(heat.to_bits()).unwrap_or(0);
        let millijoules = heat_bits.wrapping_mul(u64::from(step.as_millis())) >> 16;
        let millijoules = u32::try_from(millijoules).unwrap_or(u32::MAX);
        let counter = match from {
            HeatFrom::Earth => &mut self.earth,
            HeatFrom::Slab => &mut self.banked,
            HeatFrom::Boiler => &mut self.boiler,
        };
        counter.add(millijoules);
        (heat, settings.heat_ratio(difference))
    }

    /// Turns the day over.
    pub(super) fn pass(&mut self, step: Duration) {
        self.day = self.day + step;
        if self.day >= DAY {
            self.day = Duration::ZERO;
            self.last_day_wh = self.today_wh();
            self.day_start_wh = self.earth.watt_hours;
        }
    }

    /// Earth, banked and boiler heat, Wh.
    pub(super) const fn watt_hours(&self) -> [u32; 3] {
        [
            self.earth.watt_hours,
            self.banked.watt_hours,
            self.boiler.watt_hours,
        ]
    }

    fn today_wh(&self) -> u32 {
        self.earth.watt_hours.saturating_sub(self.day_start_wh)
    }

    /// Earth heat of the present or the last whole day of uptime, the larger, Wh.
    pub(super) fn day_watt_hours(&self) -> u32 {
        self.today_wh().max(self.last_day_wh)
    }
}
