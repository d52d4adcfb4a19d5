//! Is store heat worth the electricity? Starts on what is remembered of the store, stops on what
//! is measured after the purge, and samples with patience in between. Also leaves a poor store
//! alone, and (off by default) banks surplus slab heat.

use super::demand::Wanted;
use super::{View, no_flow};
use crate::estimate::Flow;
use crate::fallback::{SlabFrom, Worth};
use crate::reason::{Cause, Reason, What, words};
use crate::settings::{Mode, Settings};
use crate::time::Duration;
use crate::units::{Celsius, Kelvin, Ratio};

words! {
    /// What harvesting is doing.
    RunState {
        /// Nothing.
        Rest = "rest",
        /// Looking how warm the store is.
        Sampling = "sampling",
        /// Taking heat from the store.
        Harvest = "harvest",
        /// Putting heat into the store.
        Banking = "banking",
    }
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Harvest {
    state: RunState,
    /// Time the run that is on has not been worth it.
    poor_for: Duration,
    /// The last run was not worth it: wait for the interval.
    poor: bool,
    since_poor: Duration,
    interval: Duration,
    severity: u8,
    hold: bool,
    hold_for: Duration,
    floor: bool,
}

#[derive(Clone, Copy)]
pub(super) struct Report {
    pub(super) state: RunState,
    /// Supply less return, as well as the sensors left allow.
    pub(super) difference: Option<Kelvin>,
}

/// A run must be poor this long to end.
const POOR_FOR: Duration = Duration::from_mins(10);
/// Sampling runs are judged this long after the purge.
const JUDGED: Duration = Duration::from_mins(4);
/// A recovering store is used again this much above its limit, not before this time, and looked at
/// after this long.
const RESUME_ABOVE: Kelvin = Kelvin::from_milli(1_000);
const RESUME_AFTER: Duration = Duration::from_hours(6);
const LOOK_AGAIN: Duration = Duration::from_hours(24);
/// Banking: slab at least this warm, this far above the store, and so much heat per pass.
const BANK_SLAB: Celsius = Celsius::from_milli(12_000);
const BANK_SLAB_END: Celsius = Celsius::from_milli(8_000);
const BANK_ABOVE_STORE: Kelvin = Kelvin::from_milli(5_000);
const BANK_DIFFERENCE: Kelvin = Kelvin::from_milli(1_000);
/// Without a return, supply above slab below which a run is poor.
const SUPPLY_ABOVE_SLAB: Kelvin = Kelvin::from_milli(1_500);
/// The whole, as a share.
const ONE: Ratio = Ratio::from_milli(1_000);

impl Harvest {
    pub(super) const fn new(interval: Duration) -> Self {
        Self {
            state: RunState::Rest,
            poor_for: Duration::ZERO,
            poor: false,
            since_poor: Duration::MAX,
            interval,
            severity: 0,
            hold: false,
            hold_for: Duration::ZERO,
            floor: false,
        }
    }

    pub(super) const fn is_banking(&self) -> bool {
        matches!(self.state, RunState::Banking)
    }
    pub(super) const fn state(&self) -> RunState {
        self.state
    }
    pub(super) const fn interval(&self) -> Duration {
        self.interval
    }
    pub(super) const fn store_hold(&self) -> bool {
        self.hold
    }
    pub(super) const fn store_floor(&self) -> bool {
        self.floor
    }

    pub(super) fn update(&mut self, view: &View<'_>, demand: &Wanted, frost: bool) -> Report {
        let settings = view.settings;
        self.since_poor = self.since_poor + view.step;
        self.protect_store(view);
        self.watch_severity(view, demand, frost);
        let difference = self.difference(view);
        self.state = match self.state {
            RunState::Rest => self.at_rest(view, demand),
            RunState::Sampling => self.while_sampling(view, demand, difference),
            RunState::Harvest => self.while_harvesting(view, demand, difference),
            RunState::Banking => self.while_banking(view),
        };
        self.interval = self
            .interval
            .min(settings.sample_interval_max)
            .max(settings.sample_interval);
        Report {
            state: self.state,
            difference,
        }
    }

    /// A poor store is left alone for hours; its temperature is known only from runs.
    fn protect_store(&mut self, view: &View<'_>) {
        let settings = view.settings;
        let measured = view.estimate.store_age < Duration::from_mins(1);
        self.hold_for = self.hold_for + view.step;
        if measured && view.estimate.store <= settings.store_low {
            if !self.hold {
                self.hold_for = Duration::ZERO;
            }
            self.hold = true;
        } else if self.hold_for >= RESUME_AFTER
            && (view.estimate.store >= settings.store_low + RESUME_ABOVE
                || view.estimate.store_age >= LOOK_AGAIN)
        {
            // Unseen for a day nobody knows any more: one look is allowed.
            self.hold = false;
        }
        if measured {
            self.floor = view.estimate.store <= settings.store_floor;
        }
    }

    /// When things get worse the patience of earlier, milder hours is forgotten.
    fn watch_severity(&mut self, view: &View<'_>, demand: &Wanted, frost: bool) {
        let below = view
            .slab()
            .is_some_and(|slab| slab < demand.lower - Kelvin::from_milli(500));
        let severity = match (frost, demand.wanted) {
            (true, _) => 3,
            (false, true) if below => 2,
            (false, true) => 1,
            (false, false) => 0,
        };
        if severity > self.severity {
            self.interval = view.settings.sample_interval;
            self.since_poor = self.since_poor.max(if severity >= 2 {
                self.interval
            } else {
                Duration::ZERO
            });
        }
        self.severity = severity;
    }

    /// Supply less return, as well as the sensors left allow.
    fn difference(&self, view: &View<'_>) -> Option<Kelvin> {
        if view.estimate.flow != Flow::Flowing {
            return None;
        }
        let across = |t: Option<Celsius>| Some(t? - view.slab()?);
        match view.row.worth {
            Worth::Difference => view.estimate.difference,
            Worth::Supply => {
                let across = across(view.readings.supply.value)?;
                if across < SUPPLY_ABOVE_SLAB {
                    return Some(Kelvin::ZERO);
                }
                Some(across.scaled(view.estimate.loop_yield))
            }
            Worth::Return => {
                let rest = Ratio::from_bits(
                    ONE.to_bits()
                        .saturating_sub(view.estimate.loop_yield.to_bits()),
                );
                let above = across(view.readings.ret.value)?.scaled(view.estimate.loop_yield);
                above
                    .to_fixed()
                    .checked_div(rest.to_fixed())
                    .map(Kelvin::from_fixed)
            }
            Worth::Unjudged => None,
        }
    }

    fn is_worth(settings: &Settings, difference: Kelvin) -> bool {
        difference >= settings.stop_difference
    }

    fn at_rest(&mut self, view: &View<'_>, demand: &Wanted) -> RunState {
        let settings = view.settings;
        if view.is_winter() {
            if !demand.wanted
                || self.hold
                || is_blind(view)
                || no_flow(view.estimate.flow_proof) && self.since_poor < self.interval
            {
                return RunState::Rest;
            }
            if view.row.worth == Worth::Unjudged {
                return RunState::Harvest; // a plain slab thermostat
            }
            if self.poor && self.since_poor < self.interval {
                return RunState::Rest;
            }
            let estimate = view.estimate;
            let known = estimate.store_age < Duration::MAX;
            let above = view.slab().map(|slab| estimate.store - slab);
            let sure = above
                .is_some_and(|above| above - estimate.store_doubt >= settings.start_difference);
            let likely =
                above.is_none_or(|above| above + estimate.store_doubt >= settings.start_difference);
            if known && sure && !self.poor {
                return RunState::Harvest;
            }
            if likely || estimate.store_age >= self.interval {
                return RunState::Sampling;
            }
            return RunState::Rest;
        }
        let may_bank = settings.mode == Mode::Summer
            && settings.bank
            && !self.hold
            && self.since_poor >= settings.sample_interval;
        let surplus = view.readings.slab.good().is_some_and(|slab| {
            slab >= BANK_SLAB && slab >= view.estimate.store + BANK_ABOVE_STORE
        });
        if may_bank && surplus {
            RunState::Banking
        } else {
            RunState::Rest
        }
    }

    fn while_sampling(
        &mut self,
        view: &View<'_>,
        demand: &Wanted,
        difference: Option<Kelvin>,
    ) -> RunState {
        if !demand.wanted || self.hold {
            return RunState::Rest;
        }
        if !view.guard.pump {
            return RunState::Sampling; // the guard still waits
        }
        if view.estimate.moving_for >= view.settings.purge + JUDGED {
            return match difference {
                Some(difference) if Self::is_worth(view.settings, difference) => self.worth(),
                _ => self.not_worth(),
            };
        }
        // The circulator is asked but nothing moves, or cannot be told: give up in time.
        if view.guard.pump_for >= view.settings.purge + JUDGED + view.settings.sensor_cycle {
            return self.not_worth();
        }
        RunState::Sampling
    }

    fn while_harvesting(
        &mut self,
        view: &View<'_>,
        demand: &Wanted,
        difference: Option<Kelvin>,
    ) -> RunState {
        if !demand.wanted || self.hold || is_blind(view) {
            self.poor_for = Duration::ZERO;
            return RunState::Rest;
        }
        let poor = match difference {
            Some(difference) => !Self::is_worth(view.settings, difference),
            None => false,
        };
        self.poor_for = if poor {
            self.poor_for + view.step
        } else {
            Duration::ZERO
        };
        let blocked = no_flow(view.estimate.flow_proof);
        let ran = view.guard.pump && view.guard.pump_for >= view.settings.pump_min_on;
        if ran && (self.poor_for >= POOR_FOR || blocked) {
            return self.not_worth();
        }
        RunState::Harvest
    }

    fn while_banking(&mut self, view: &View<'_>) -> RunState {
        let slab_cool = view
            .readings
            .slab
            .cold_side()
            .is_none_or(|slab| slab < BANK_SLAB_END);
        // Before the purge the return is the pipe's surroundings, warm in summer.
        let capped = view.estimate.flow == Flow::Flowing
            && view
                .readings
                .ret
                .hot()
                .is_some_and(|ret| ret >= view.settings.bank_limit());
        let poor = view.estimate.settled
            && view
                .estimate
                .difference
                .is_none_or(|d| -d < BANK_DIFFERENCE);
        let unseen =
            view.guard.pump_for >= view.settings.purge + JUDGED && view.estimate.flow == Flow::Rest;
        let wrong_mode = view.settings.mode != Mode::Summer || !view.settings.bank;
        if slab_cool || capped || poor || wrong_mode || (view.guard.pump && unseen) {
            self.since_poor = Duration::ZERO;
            return RunState::Rest;
        }
        RunState::Banking
    }

    fn worth(&mut self) -> RunState {
        self.poor = false;
        self.poor_for = Duration::ZERO;
        self.interval = Duration::ZERO; // clamped to the shortest
        RunState::Harvest
    }

    fn not_worth(&mut self) -> RunState {
        if self.poor {
            self.interval = self.interval.times(2);
        }
        self.poor = true;
        self.poor_for = Duration::ZERO;
        self.since_poor = Duration::ZERO;
        RunState::Rest
    }

    /// Why there is no run, if there is none.
    pub(super) const fn rest_reason(&self, demand: &Wanted) -> Reason {
        if !demand.wanted {
            Reason::Satisfied
        } else if self.hold {
            Reason::StoreHold
        } else {
            Reason::NotWorthwhile
        }
    }

    /// What stands behind the run, or behind the rest.
    pub(super) fn cause(
        &self,
        view: &View<'_>,
        demand: &Wanted,
        difference: Option<Kelvin>,
    ) -> Cause {
        let estimate = view.estimate;
        let settings = view.settings;
        match self.state {
            RunState::Rest if !demand.wanted => demand.cause,
            RunState::Rest if self.hold => Cause::point(
                What::Store,
                estimate.store,
                settings.store_low + RESUME_ABOVE,
                estimate.store_age,
            ),
            RunState::Sampling => Cause::time(What::StoreAge, estimate.store_age, self.interval),
            RunState::Harvest if demand.early => demand.cause,
            RunState::Rest | RunState::Harvest | RunState::Banking => {
                match (difference, view.slab()) {
                    (Some(d), _) => {
                        Cause::difference(What::Difference, d, settings.stop_difference)
                    }
                    (None, Some(slab)) => Cause {
                        age: estimate.store_age,
                        ..Cause::difference(
                            What::StoreAboveSlab,
                            estimate.store - slab,
                            settings.start_difference,
                        )
                    },
                    (None, None) => demand.cause,
                }
            }
        }
    }
}

/// With neither a slab reading nor a way to judge a run there is nothing to go by: the matrix's
/// clock and the frost rules decide.
fn is_blind(view: &View<'_>) -> bool {
    view.row.worth == Worth::Unjudged && view.row.slab == SlabFrom::Water
}
