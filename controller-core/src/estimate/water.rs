//! What moving water says: the coldest the slab can be, the store's temperature, and
//! heat that nobody called for. Water that has not been seen to move says nothing of the store.

use crate::sensor::BySensor;
use crate::sensor::Reading;
use crate::time::Duration;
use crate::units::Celsius;

/// Boiler heat is out of the water this long after the call.
pub(super) const HEAT_GONE: Duration = Duration::from_mins(30);
/// Age from which the return water no longer stands for the slab. Status: by the fault spells; a slab cools by
/// about 1 K in that time on the coldest nights of the model.
const VOID: Duration = Duration::from_mins(150);
/// Age from which the return water's temperature is measured again in frost.
pub(crate) const OLD: Duration = Duration::from_mins(105);
/// No earth-coupled store is this warm: such water carries heat from elsewhere, °C. Status: judgement.
const STORE_MOST: Celsius = Celsius::from_milli(20_000);
/// Water that moves is not this cold: such a reading is of ice, or of a pipe that stands, °C. A store of brine that is
/// colder keeps its last reading, which has rung long before. Status: judgement.
const STORE_LEAST: Celsius = Celsius::from_milli(-1_000);
/// Water that warm must last this long to be told.
const UNCALLED_FOR: Duration = Duration::from_mins(10);

/// Memory of the water.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Water {
    /// The return as it last moved past its sensor, and how long ago.
    ret: Celsius,
    ret_age: Duration,
    store: Celsius,
    store_age: Duration,
    uncalled_for: Duration,
}

/// What is looked at in one step.
pub(super) struct WaterInput<'a> {
    pub(super) readings: &'a BySensor<Reading>,
    pub(super) step: Duration,
    /// The water moves and what stood in the pipes has passed, as far as anybody knows.
    pub(super) settled: bool,
    /// Flow was seen in this run, and averages stand for the water.
    pub(super) seen: bool,
    /// Time since the boiler was last called.
    pub(super) boiler_off_for: Duration,
}

impl Water {
    pub(super) const UNKNOWN: Self = Self {
        ret: Celsius::ZERO,
        ret_age: Duration::MAX,
        store: Celsius::ZERO,
        store_age: Duration::MAX,
        uncalled_for: Duration::ZERO,
    };

    pub(super) fn update(&mut self, input: &WaterInput<'_>) {
        self.ret_age = self.ret_age + input.step;
        self.store_age = self.store_age + input.step;
        if !input.settled {
            return;
        }
        if let Some(ret) = input.readings.ret.good() {
            self.ret = ret;
            self.ret_age = Duration::ZERO;
        }
        let Some(supply) = input.readings.supply.good() else {
            return;
        };
        if input.boiler_off_for < HEAT_GONE {
            self.uncalled_for = Duration::ZERO;
        } else if supply > STORE_MOST {
            self.uncalled_for = self.uncalled_for + input.step;
        } else if input.seen {
            self.uncalled_for = Duration::ZERO;
            if supply >= STORE_LEAST {
                self.store = supply;
                self.store_age = Duration::ZERO;
            }
        }
    }

    /// Forgets the slab's temperature: its sensor is doubted.
    pub(super) fn forget_slab(&mut self) {
        self.ret_age = Duration::MAX;
    }

    /// The return as it last moved, °C, while that still stands for the slab, and its age.
    pub(super) fn slab(&self) -> (Option<Celsius>, Duration) {
        ((self.ret_age < VOID).then_some(self.ret), self.ret_age)
    }

    /// The supply as it last came out of the store, °C, and its age.
    pub(super) fn store(&self) -> (Option<Celsius>, Duration) {
        let known = self.store_age < Duration::MAX;
        (known.then_some(self.store), self.store_age)
    }

    /// Water warmer than any store, with no call in the last half hour. It stays told until water that
    /// moves is cool again.
    pub(super) fn heat_without_call(&self) -> bool {
        self.uncalled_for >= UNCALLED_FOR
    }
}
