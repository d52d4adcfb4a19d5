//! What a person must hear of: a set of conditions, each with its words and what to do by hand.

use crate::reason::words;
use crate::time::Duration;

words! {
    /// A condition worth telling. The first ones ring the alarm; from [`Alarm::is_advice`] on they only inform.
    Alarm {
        /// Overheated water.
        Overheat = "overheat",
        /// The slab is near freezing.
        SlabCold = "slab_cold",
        /// No water moves.
        NoFlow = "no_flow",
        /// Every sensor is lost.
        AllLost = "all_lost",
        /// Supply sensor lost.
        SupplyLost = "supply_lost",
        /// Return sensor lost.
        ReturnLost = "return_lost",
        /// Slab sensor lost.
        SlabLost = "slab_lost",
        /// Outdoor sensor lost.
        OutdoorLost = "outdoor_lost",
        /// A call brought no heat, or the fire went out.
        FireOut = "fire_out",
        /// Heat is wanted and a limit stands against it.
        HeatBarred = "heat_barred",
        /// Heat nobody called for.
        HeatWithoutCall = "heat_without_call",
        /// The store is near freezing.
        StoreCold = "store_cold",
        /// Power comes and goes.
        UnstablePower = "unstable_power",
        /// Stored settings were unreadable.
        SettingsLost = "settings_lost",
        /// The slab reading and its water disagree.
        SlabImplausible = "slab_implausible",
        /// The boiler ran most of a day.
        LongBoilerDay = "long_boiler_day",
        /// Readings scatter.
        Noisy = "noisy",
        /// Frost makes the circulator start very often.
        ManyStarts = "many_starts",
        /// The circulator seems to run unasked.
        FlowWithPumpOff = "flow_with_pump_off",
    }
}

impl Alarm {
    /// Does it only inform, without ringing?
    #[must_use]
    pub const fn is_advice(self) -> bool {
        self as u8 >= Self::SlabImplausible as u8
    }

    /// What happened and what the controller does about it.
    #[must_use]
    pub const fn meaning(self) -> &'static str {
        match self {
            Self::Overheat => {
                "Water above the trip temperature: circulator stopped, looks again every 15 min."
            }
            Self::SlabCold => "The slab is near freezing, whatever the cause.",
            Self::NoFlow => {
                "Temperatures say no water moves: no boiler call, the circulator tries again."
            }
            Self::AllLost => {
                "No sensor can be read: the circulator runs on; in cold weather the boiler is called half the time, if the supply is limited by itself."
            }
            Self::SupplyLost => {
                "Supply sensor lost: no boiler call unless the supply is limited by itself."
            }
            Self::ReturnLost => {
                "Return sensor lost: the slab is judged by its own sensor alone and kept warmer."
            }
            Self::SlabLost => "Slab sensor lost: the slab is judged by its water.",
            Self::OutdoorLost => "Outdoor sensor lost: cold weather is assumed.",
            Self::FireOut => {
                "The boiler was called and the water stayed cold: no call for a while."
            }
            Self::HeatBarred => {
                "The slab wants boiler heat and a limit, a lost sensor or missing flow stands against it."
            }
            Self::HeatWithoutCall => {
                "The water is hot and nobody called: the circulator carries it off."
            }
            Self::StoreCold => {
                "The store is near freezing; only frost protection still draws on it."
            }
            Self::UnstablePower => {
                "Power came and went, or steps came late, several times: after a boot the boiler waits."
            }
            Self::SettingsLost => "Stored settings were unreadable: safe defaults and winter mode.",
            Self::SlabImplausible => {
                "Slab reading and slab water disagree: the colder one counts for frost."
            }
            Self::LongBoilerDay => "The boiler was called for more than 16 hours in a day.",
            Self::Noisy => "A sensor scatters: readings are smoothed.",
            Self::ManyStarts => {
                "Frost protection started the circulator more than six times in an hour."
            }
            Self::FlowWithPumpOff => {
                "Water seems to move with the relay off; temperatures alone cannot tell for sure."
            }
        }
    }

    /// What to do by hand.
    #[must_use]
    pub const fn remedy(self) -> &'static str {
        match self {
            Self::Overheat => "Close the boiler's air, check mixing valve and hard-wired limit.",
            Self::SlabCold => {
                "Light the boiler and open its valve by hand; cover the house; see the other alarms."
            }
            Self::NoFlow => "Check the circulator, valves and for air or ice; vent it.",
            Self::AllLost => "Check the sensor cable and plug; use the hand switch if need be.",
            Self::SupplyLost | Self::ReturnLost | Self::SlabLost | Self::OutdoorLost => {
                "Check that sensor's plug and cable; replace it."
            }
            Self::FireOut => "Light or feed the fire, then acknowledge to retry at once.",
            Self::HeatBarred => {
                "See the other alarms; check the mixing valve and the supply sensor; heat by hand."
            }
            Self::HeatWithoutCall => "Check the boiler relay and valve: something is stuck on.",
            Self::StoreCold => "Heat by the boiler; protect what is stored.",
            Self::UnstablePower => "Check plug, fuse and supply.",
            Self::SettingsLost => "Send the settings again and check the sensor names.",
            Self::SlabImplausible => {
                "Compare the slab sensor with a thermometer, then acknowledge."
            }
            Self::LongBoilerDay => "Insulate, close the curtain, or accept it in this weather.",
            Self::Noisy => "Keep the sensor cable away from mains; check its plug.",
            Self::ManyStarts => "See why the slab or pipes stay cold.",
            Self::FlowWithPumpOff => {
                "Check the relay, the hand switch and a parallel frost thermostat."
            }
        }
    }
}

/// A set of alarms.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AlarmSet(u32);

impl AlarmSet {
    /// None.
    pub const NONE: Self = Self(0);

    /// Those of lost sensors: supply 1, return 2, slab 4, outdoor 8.
    #[must_use]
    pub(crate) const fn lost(sensors: u8) -> Self {
        Self((sensors as u32).wrapping_shl(Alarm::SupplyLost as u32))
            .with(Alarm::AllLost, sensors == 15)
    }

    /// The set with or without one more.
    #[must_use]
    pub const fn with(self, alarm: Alarm, on: bool) -> Self {
        Self(self.0 | (on as u32).wrapping_shl(alarm as u32))
    }

    /// The set less those of another.
    #[must_use]
    pub(crate) const fn without(self, others: Self) -> Self {
        Self(self.0 & !others.0)
    }

    /// Is it in the set?
    #[must_use]
    pub const fn has(self, alarm: Alarm) -> bool {
        self.0 & 1_u32.wrapping_shl(alarm as u32) != 0
    }

    /// Is anything in the set?
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// Does any of them ring?
    #[must_use]
    pub const fn rings(self) -> bool {
        let ringing = 1_u32
            .wrapping_shl(Alarm::SlabImplausible as u32)
            .wrapping_sub(1);
        self.0 & ringing != 0
    }

    /// As bits, in the order of [`Alarm::ALL`].
    #[must_use]
    pub const fn bits(self) -> u32 {
        self.0
    }

    /// Those in it, in order of rank.
    pub fn iter(self) -> impl Iterator<Item = Alarm> {
        Alarm::ALL.into_iter().filter(move |alarm| self.has(*alarm))
    }
}

/// An alarm stays for at least this long, and at most twice as long, once its condition has ended: a
/// contact that chatters is heard by nobody.
const HELD: Duration = Duration::from_mins(10);

/// The alarms of the present and of the last stretch of time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct HeldAlarms {
    present: AlarmSet,
    last: AlarmSet,
    time: Duration,
}

impl HeldAlarms {
    pub(crate) const NONE: Self = Self {
        present: AlarmSet::NONE,
        last: AlarmSet::NONE,
        time: Duration::ZERO,
    };

    /// What is to be told, given the conditions that hold now.
    pub(crate) fn update(&mut self, now: AlarmSet, step: Duration) -> AlarmSet {
        self.time = self.time + step;
        if self.time >= HELD {
            (self.last, self.present, self.time) = (self.present, AlarmSet::NONE, Duration::ZERO);
        }
        self.present = AlarmSet(self.present.0 | now.0);
        AlarmSet(self.present.0 | self.last.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_alarm_outlives_its_condition_by_ten_to_twenty_minutes() {
        let minute = Duration::from_mins(1);
        let mut held = HeldAlarms::NONE;
        let noisy = AlarmSet::NONE.with(Alarm::Noisy, true);
        assert_eq!(held.update(noisy, minute), noisy);
        let told = (0..60).filter(|_| !held.update(AlarmSet::NONE, minute).is_empty());
        let minutes = told.count();
        assert!((10..=20).contains(&minutes), "{minutes}");
    }

    #[test]
    fn a_condition_that_comes_and_goes_is_one_alarm() {
        let mut held = HeldAlarms::NONE;
        for n in 0..600 {
            let now = AlarmSet::NONE.with(Alarm::SupplyLost, n % 9 == 0);
            assert!(
                held.update(now, Duration::from_mins(1))
                    .has(Alarm::SupplyLost)
            );
        }
    }

    #[test]
    fn each_lost_sensor_has_its_alarm() {
        for (bit, alarm) in [
            (1, Alarm::SupplyLost),
            (2, Alarm::ReturnLost),
            (4, Alarm::SlabLost),
            (8, Alarm::OutdoorLost),
        ] {
            assert_eq!(AlarmSet::lost(bit), AlarmSet::NONE.with(alarm, true));
        }
        assert_eq!(AlarmSet::lost(0), AlarmSet::NONE);
        assert!(!AlarmSet::lost(7).has(Alarm::AllLost));
        assert!(AlarmSet::lost(15).has(Alarm::AllLost));
    }
}
