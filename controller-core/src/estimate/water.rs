//! What the slab's water says: the store's temperature, the loop's yield and a second opinion of
//! the slab. Nothing read before the purge counts, but for the first water out of the slab.

use crate::sensor::Smoother;
use crate::settings::Settings;
use crate::time::Duration;
use crate::units::{Celsius, Kelvin, KelvinPerHour, Ratio};

use super::flow::{Flow, FlowClock};

/// Run time past the purge after which the averages below stand for the water.
pub(crate) const SETTLED: Duration = Duration::from_mins(3);
/// Boiler heat is out of the water this long after the call.
const HEAT_GONE: Duration = Duration::from_mins(30);
/// Averaging of supply and return. Status: judgement.
const AVERAGE: Duration = Duration::from_mins(2);
/// Most a remembered store temperature is doubted.
const DOUBT_MAX: Kelvin = Kelvin::from_milli(2_000);
/// Rest after which the water in the slab's tube has the slab's temperature.
const SLUG_REST: Duration = Duration::from_mins(10);
/// Age at which the first water out of the slab no longer speaks for it beside the running water.
const SLUG_FRESH: Duration = Duration::from_mins(60);
/// Age at which nothing is known any more.
const PROXY_VOID: Duration = Duration::from_hours(4);
/// How fast the slab is taken to cool while nothing is measured. Status: judgement.
const PROXY_AGEING: KelvinPerHour = KelvinPerHour::from_milli(-300);
/// Supply above slab between which the yield may be used.
const USABLE: (Kelvin, Kelvin) = (Kelvin::from_milli(1_500), Kelvin::from_milli(12_000));
/// Water this far above the remembered store is not the store's, K.
const UNCALLED: Kelvin = Kelvin::from_milli(5_000);
/// No store warms faster than this. Status: judgement.
const STORE_RISES: KelvinPerHour = KelvinPerHour::from_milli(1_000);
/// A memory of the store older than this accuses nobody; heat nobody called for must last this long.
const MEMORY_ACCUSES: Duration = Duration::from_hours(12);
const UNCALLED_FOR: Duration = Duration::from_mins(10);
/// What is learned stays within this part of what was set: more is a slab sensor that drifts.
const LEARNABLE: i32 = 3;
/// Believable yields.
const YIELD: (Ratio, Ratio) = (Ratio::from_milli(100), Ratio::from_milli(950));

/// Memory of the water.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Water {
    supply: Smoother,
    ret: Smoother,
    store_seen: Celsius,
    /// The same, rising no faster than a store can: what uncalled heat is told by.
    store_slow: Celsius,
    /// [`Duration::MAX`]: never seen.
    store_age: Duration,
    loop_yield: Option<Ratio>,
    /// Yield measured in the run that is on, kept when it ends well.
    run_yield: Option<Ratio>,
    slug: Celsius,
    slug_age: Duration,
    slug_taken: bool,
    uncalled_for: Duration,
    proxy: Celsius,
    proxy_age: Duration,
}

/// What is measured in one step, for the stage above.
pub(super) struct WaterInput {
    pub(super) supply: Option<Celsius>,
    pub(super) ret: Option<Celsius>,
    /// Return as read just now, unsmoothed.
    pub(super) ret_raw: Option<Celsius>,
    pub(super) slab_good: Option<Celsius>,
    pub(super) step: Duration,
    /// Long enough past the purge for averages to stand for the water.
    pub(super) settled: bool,
    /// Time since the boiler was last called.
    pub(super) boiler_off_for: Duration,
    pub(super) boiler: bool,
    /// Is the slab warming the store on purpose?
    pub(super) banking: bool,
    /// Nothing says that this run moves no water: what the sensors read is the water.
    pub(super) flow_seen: bool,
}

/// What running water shows, averaged.
#[derive(Clone, Copy)]
pub(super) struct Running {
    supply: Celsius,
    /// Supply less return, K.
    pub(super) difference: Kelvin,
    /// Supply less slab by the loop's yield, K.
    across: Option<Kelvin>,
}

impl Running {
    /// The least the slab can be while the water hardly cools in it, or warms, °C: too rough to go by,
    /// but enough to contradict a reading.
    pub(super) fn slab_at_least(&self) -> Option<Celsius> {
        (self.across? < USABLE.0).then_some(self.supply - USABLE.0)
    }
}

impl Water {
    pub(super) const UNKNOWN: Self = Self {
        supply: Smoother::EMPTY,
        ret: Smoother::EMPTY,
        store_seen: Celsius::ZERO,
        store_slow: Celsius::ZERO,
        store_age: Duration::MAX,
        loop_yield: None,
        run_yield: None,
        slug: Celsius::ZERO,
        slug_age: Duration::MAX,
        slug_taken: false,
        uncalled_for: Duration::ZERO,
        proxy: Celsius::ZERO,
        proxy_age: Duration::MAX,
    };

    /// Gives what the water shows, once it has been purged and while both its sensors read.
    pub(super) fn update(
        &mut self,
        clock: &FlowClock,
        input: &WaterInput,
        settings: &Settings,
    ) -> Option<Running> {
        self.store_age = self.store_age + input.step;
        self.slug_age = self.slug_age + input.step;
        self.proxy_age = self.proxy_age + input.step;
        match clock.flow(settings.purge) {
            Flow::Rest => {
                if let Some(measured) = self.run_yield.take() {
                    self.learn(measured, settings);
                }
                self.supply.clear();
                self.ret.clear();
                self.slug_taken = false;
                None
            }
            Flow::Purging => {
                self.first_slug(clock, input, settings);
                None
            }
            Flow::Flowing => self.running(input, settings),
        }
    }

    /// After a rest the water lying in the slab's tube leaves it first, at the slab's temperature.
    fn first_slug(&mut self, clock: &FlowClock, input: &WaterInput, settings: &Settings) {
        let due = settings.slug_due;
        if self.slug_taken || clock.moving_for() < due {
            return;
        }
        self.slug_taken = true;
        let late = clock.moving_for() > due + settings.sensor_cycle.times(3);
        if late || clock.rested_before() < SLUG_REST || input.boiler {
            return;
        }
        if let Some(slug) = input.ret_raw {
            self.slug = slug;
            self.slug_age = Duration::ZERO;
            self.proxy = slug;
            self.proxy_age = Duration::ZERO;
        }
    }

    fn running(&mut self, input: &WaterInput, settings: &Settings) -> Option<Running> {
        let (Some(supply), Some(ret)) = (input.supply, input.ret) else {
            if let Some(supply) = input.supply {
                // The store is still seen without the return.
                let supply = self.supply.update(supply, input.step, AVERAGE);
                self.see_store(supply, input);
            } else {
                self.supply.clear();
            }
            self.ret.clear();
            return None;
        };
        let supply = self.supply.update(supply, input.step, AVERAGE);
        let ret = self.ret.update(ret, input.step, AVERAGE);
        self.see_store(supply, input);
        let difference = supply - ret;
        let across = difference
            .to_fixed()
            .checked_div(self.loop_yield(settings).to_fixed())
            .map(Kelvin::from_fixed);
        let running = Running {
            supply,
            difference,
            across,
        };
        let heated = input.boiler_off_for < HEAT_GONE;
        if !heated && input.flow_seen && input.settled {
            self.see_slab(&running, input);
        }
        Some(running)
    }

    /// The slab by settled water, and the loop's yield by the slab.
    fn see_slab(&mut self, running: &Running, input: &WaterInput) {
        let usable = |across: &Kelvin| *across >= USABLE.0 && *across <= USABLE.1;
        let read = input.slab_good.map(|slab| running.supply - slab);
        if let Some(across) = read.filter(usable) {
            let measured = running.difference.over(across);
            self.run_yield = measured.map(|y| y.clamp(YIELD.0, YIELD.1));
        }
        let Some(across) = running.across.filter(usable) else {
            return;
        };
        let slab = running.supply - across;
        self.proxy = if self.slug_age < SLUG_FRESH {
            slab.min(self.slug)
        } else {
            slab
        };
        self.proxy_age = Duration::ZERO;
    }

    fn see_store(&mut self, supply: Celsius, input: &WaterInput) {
        let heat_gone = input.boiler_off_for >= HEAT_GONE;
        if !input.settled || !heat_gone || input.banking || !input.flow_seen {
            return;
        }
        // An old memory accuses nobody.
        self.store_slow = if self.store_age < MEMORY_ACCUSES {
            let passed = match self.uncalled_for {
                Duration::ZERO => self.store_age,
                _ => input.step,
            };
            supply.min(self.store_slow + STORE_RISES.during(passed))
        } else {
            supply
        };
        if supply > self.store_slow + UNCALLED {
            self.uncalled_for = self.uncalled_for + input.step;
        } else {
            self.uncalled_for = Duration::ZERO;
            self.store_seen = supply;
            self.store_age = Duration::ZERO;
        }
    }

    /// Water far above the store for a while, with no call in the last half hour.
    pub(super) fn uncalled_heat(&self) -> bool {
        self.uncalled_for >= UNCALLED_FOR
    }

    /// A run that ended well moves the learned yield a quarter of the way.
    fn learn(&mut self, measured: Ratio, settings: &Settings) {
        let known = self.loop_yield(settings).to_bits();
        let change = measured.to_bits().saturating_sub(known) >> 2;
        let set = settings.loop_yield.to_bits();
        let learned = known
            .saturating_add(change)
            .max(set.saturating_sub(set / LEARNABLE))
            .min(set.saturating_add(set / LEARNABLE));
        self.loop_yield = Some(Ratio::from_bits(learned));
    }

    /// (supply − return) / (supply − slab), learned or as set.
    pub(super) fn loop_yield(&self, settings: &Settings) -> Ratio {
        self.loop_yield.unwrap_or(settings.loop_yield)
    }

    /// Store temperature as last measured, and its doubt.
    pub(super) fn store_measured(&self, settings: &Settings) -> Option<(Celsius, Kelvin)> {
        let (_, doubt, age) = self.store(settings);
        (age < Duration::MAX).then_some((self.store_seen, doubt))
    }

    /// Remembered store temperature, drifting to the prior, with its doubt and age.
    pub(super) fn store(&self, settings: &Settings) -> (Celsius, Kelvin, Duration) {
        if self.store_age == Duration::MAX {
            return (settings.store_prior, DOUBT_MAX, Duration::MAX);
        }
        let seen = self.store_seen;
        if self.store_age == Duration::ZERO {
            return (within_store(seen), Kelvin::ZERO, Duration::ZERO);
        }
        let aged = settings.doubt_rate.during(self.store_age);
        let doubt = aged.min(DOUBT_MAX);
        let apart = settings.store_prior - seen;
        let drift = apart.min(aged).max(-aged);
        (within_store(seen + drift), doubt, self.store_age)
    }

    /// The slab as its water last had it, °C, without margin; `None` after four hours.
    pub(super) fn slab_measured(&self) -> Option<Celsius> {
        (self.proxy_age < PROXY_VOID).then_some(self.proxy)
    }

    /// The same, colder the longer nothing was measured and never above the return while the boiler
    /// is on.
    pub(super) fn slab(&self, boiler: bool, ret: Option<Celsius>) -> Option<Celsius> {
        let measured = self.slab_measured()?;
        let aged = if self.proxy_age == Duration::ZERO {
            measured
        } else {
            measured + PROXY_AGEING.during(self.proxy_age)
        };
        Some(match (boiler, ret) {
            (true, Some(ret)) => aged.min(ret),
            _ => aged,
        })
    }

    /// Time since [`Water::slab`] was last measured.
    pub(super) const fn slab_age(&self) -> Duration {
        self.proxy_age
    }
}

/// What any store can have, °C.
fn within_store(t: Celsius) -> Celsius {
    t.clamp(Celsius::from_milli(-5_000), Celsius::from_milli(60_000))
}
