//! Does water really move when the circulator runs? Told from the pipe temperatures alone, so the
//! answer has three values: seen, not seen though it must have been, cannot tell.

use crate::settings::Settings;
use crate::time::Duration;
use crate::units::{Celsius, Kelvin};

/// What the last attempt to see the flow came to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum FlowProof {
    /// Nothing that should have moved the readings: cannot tell.
    #[default]
    Inconclusive,
    /// The readings moved as moving water makes them.
    Present,
    /// They had to move and did not; so many runs in a row.
    Absent(u8),
}

impl FlowProof {
    /// The word for this in the trace.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Inconclusive => "unknown",
            Self::Present => "present",
            Self::Absent(_) => "absent",
        }
    }
}

/// How far a pipe must be from what will flow through it before staying put means anything.
const EXPECTED: Kelvin = Kelvin::from_milli(1_500);
/// A remembered store may have changed by this, K.
const STORE_DOUBT: Kelvin = Kelvin::from_milli(1_000);
/// Change of supply less return that shows flow: the water reaches one sensor before the other, and
/// leaves the slab at another temperature than it enters. Both pipes drift alike while it stands.
const SEEN: Kelvin = Kelvin::from_milli(500);
/// Pipes at rest differ by less than this, K: both lie in the same air.
const APART: Kelvin = Kelvin::from_milli(1_000);
/// Change that is none. Status: judgement; two readings in steps of 1/16 K.
const NONE: Kelvin = Kelvin::from_milli(300);
/// Rest after which the water in the slab has the slab's temperature and is seen on its way out.
const RESTED: Duration = Duration::from_mins(10);
/// After water this far above the slab the concrete about the tube is warmer than the slab's reading
/// for so long: water that does not cool in it then may well be moving. Status: judgement; under an
/// hour in the model.
const HOT: Kelvin = Kelvin::from_milli(8_000);
const HEATED: Duration = Duration::from_mins(90);

#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct FlowWatch {
    /// Supply and return when the run began, or since nothing is known.
    start: Option<(Celsius, Celsius)>,
    expected: bool,
    difference_moved: Kelvin,
    /// How long the water has left the slab as it came, though the slab is far colder or warmer.
    uncooled_for: Duration,
    /// It does so now.
    alike: bool,
    /// Time since moving water was hot.
    hot_ago: Duration,
    judged: bool,
    verdict: FlowProof,
}

/// What is known in one step.
pub(super) struct FlowInput {
    pub(super) moving_for: Duration,
    pub(super) supply: Option<Celsius>,
    pub(super) ret: Option<Celsius>,
    pub(super) slab: Option<Celsius>,
    /// The store as it was last measured.
    pub(super) store: Option<Celsius>,
    /// How long the water had rested before this run.
    pub(super) rested: Duration,
    pub(super) step: Duration,
    /// The owner has seen to it, or a pipe sensor is lost: forget the failed runs.
    pub(super) forget: bool,
}

impl FlowWatch {
    pub(super) const NEW: Self = Self {
        start: None,
        expected: false,
        difference_moved: Kelvin::ZERO,
        uncooled_for: Duration::ZERO,
        alike: false,
        hot_ago: Duration::MAX,
        judged: false,
        verdict: FlowProof::Inconclusive,
    };

    pub(super) fn update(&mut self, input: &FlowInput, settings: &Settings) -> FlowProof {
        if input.forget {
            self.verdict = FlowProof::Inconclusive;
        }
        self.hot_ago = self.hot_ago + input.step;
        if input.moving_for == Duration::ZERO {
            self.start = None;
            self.judged = false;
            return self.verdict;
        }
        let (Some(supply), Some(ret)) = (input.supply, input.ret) else {
            self.judged = true; // a run with a reading missing tells nothing
            return self.verdict;
        };
        if input.slab.is_some_and(|slab| supply - slab >= HOT) {
            self.hot_ago = Duration::ZERO;
        }
        let Some((supply_start, return_start)) = self.start else {
            self.begin(supply, ret, input);
            return self.verdict;
        };
        let difference = (supply - ret) - (supply_start - return_start);
        self.difference_moved = self.difference_moved.max(difference.abs());
        let uncooled = self.hot_ago >= HEATED
            && (supply - ret).abs() < NONE
            && input.slab.is_some_and(|slab| {
                (supply - slab).abs().scaled(settings.loop_effectiveness) >= EXPECTED
            });
        self.alike = uncooled;
        self.uncooled_for = if uncooled {
            self.uncooled_for + input.step
        } else {
            Duration::ZERO
        };
        let long = settings.flow_shown;
        if self.uncooled_for >= long {
            self.absent();
            self.begin(supply, ret, input);
        } else if self.difference_moved >= SEEN {
            self.judged = true;
            self.verdict = FlowProof::Present;
        } else if !self.judged && input.moving_for >= long {
            self.judged = true;
            // Pipes that differ all the while are not pipes at rest.
            let alike = (supply - ret).abs() < APART;
            if self.expected && alike && self.difference_moved < NONE {
                self.absent();
            }
        }
        self.verdict
    }

    fn begin(&mut self, supply: Celsius, ret: Celsius, input: &FlowInput) {
        let by_store = input
            .store
            .is_some_and(|store| (store - supply).abs() >= EXPECTED + STORE_DOUBT);
        let by_slab = input
            .slab
            .is_some_and(|slab| (slab - ret).abs() >= EXPECTED);
        // Water that moved a moment ago need not move the readings again.
        let stood = input.rested >= RESTED || matches!(self.verdict, FlowProof::Absent(_));
        self.expected = stood && self.hot_ago >= HEATED && (by_store || by_slab);
        self.start = Some((supply, ret));
        self.difference_moved = Kelvin::ZERO;
        self.uncooled_for = Duration::ZERO;
    }

    fn absent(&mut self) {
        self.judged = true;
        let before = match self.verdict {
            FlowProof::Absent(n) => n,
            FlowProof::Inconclusive | FlowProof::Present => 0,
        };
        self.verdict = FlowProof::Absent(before.saturating_add(1));
    }

    /// Could this run still tell, and does it have to?
    pub(super) const fn is_open(&self) -> bool {
        let uncooled = self.uncooled_for.as_millis() > 0;
        self.start.is_some() && (uncooled || self.expected && !self.judged)
    }

    /// Has this run shown that water moves, and does nothing speak against it now?
    pub(super) fn is_seen(&self) -> bool {
        self.start.is_some() && self.difference_moved >= SEEN && !self.alike
    }
}
