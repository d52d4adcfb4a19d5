//! Heat moved, by where it went. Counts only after the settling time; counters never fall and never mix.

use crate::settings::Settings;
use crate::time::Duration;
use crate::units::{Kelvin, Watts};

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
    boiler: Counter,
}

/// Where the heat of a step belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum HeatFrom {
    Earth,
    Boiler,
}

/// By definition.
const MILLIJOULES_PER_WATT_HOUR: u32 = 3_600_000;

impl HeatMeter {
    pub(super) const ZERO: Self = Self {
        earth: Counter::ZERO,
        boiler: Counter::ZERO,
    };

    /// Counts `difference` (supply − return) for a step; gives the heat now.
    pub(super) fn count(
        &mut self,
        difference: Kelvin,
        from: HeatFrom,
        step: Duration,
        settings: &Settings,
    ) -> Watts {
        let heat = settings.heat(difference);
        // W in 2⁻¹⁶ times ms is 2⁻¹⁶ mJ, up to 1.2 kWh in a step. Heat the wrong way is no heat of this kind.
        let heat_bits = u64::try_from(heat.to_bits()).unwrap_or(0);
        let millijoules = heat_bits.wrapping_mul(u64::from(step.as_millis())) >> 16;
        let millijoules = u32::try_from(millijoules).unwrap_or(u32::MAX);
        let counter = match from {
            HeatFrom::Earth => &mut self.earth,
            HeatFrom::Boiler => &mut self.boiler,
        };
        counter.add(millijoules);
        heat
    }

    /// Earth and boiler heat, Wh.
    pub(super) const fn watt_hours(&self) -> [u32; 2] {
        [self.earth.watt_hours, self.boiler.watt_hours]
    }
}
