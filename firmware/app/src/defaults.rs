//! The settings of a unit that nobody has told about its house.
//!
//! [`RawSettings::DEFAULT`] is the demonstration site's. A unit whose settings were never stored, or were
//! lost, may stand in any house: it calls no boiler, protects against frost earlier, takes long pipes for
//! granted, and rings at every boot until settings are stored.

use controller_core::settings::{BoilerKind, RawSettings, Settings};
use controller_core::time::Duration;
use controller_core::units::{Celsius, Kelvin, Ratio};

/// What differs from the demonstration site. Status: judgement, each towards the careful side.
pub const UNIT: RawSettings = RawSettings {
    // Nobody said that there is a boiler, what a call does to it, or what limits its water.
    boiler: BoilerKind::None,
    supply_limited: false,
    // Sensors that nobody has trimmed.
    frost_on: Celsius::from_milli(3_000),
    frost_off: Celsius::from_milli(3_500),
    // A loop nobody has computed: the effectiveness of an unknown one, and water that takes five minutes.
    loop_effectiveness: Ratio::from_milli(550),
    start_difference: Kelvin::from_milli(2_000),
    transit: Duration::from_mins(5),
    settling_time: Duration::from_mins(12),
    ..RawSettings::DEFAULT
};

/// [`UNIT`], checked.
#[must_use]
pub fn settings() -> Settings {
    // It passes the check; a test holds that.
    Settings::check(UNIT).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use controller_core::settings::Mode;

    #[test]
    fn a_units_defaults_keep_every_rule_and_are_careful() {
        let (unit, demo) = (settings(), RawSettings::DEFAULT);
        assert_eq!(*unit.raw(), UNIT);
        assert_eq!((unit.boiler, unit.mode), (BoilerKind::None, Mode::Winter));
        assert!(!unit.supply_limited);
        assert!(unit.frost_on > demo.frost_on && unit.frost_off > demo.frost_off);
        assert!(unit.pipe_on >= demo.pipe_on && unit.settling_time > demo.settling_time);
    }
}
