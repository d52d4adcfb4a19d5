//! Is the water moving, and since when do the pipe sensors read it?

use crate::time::Duration;

/// What the pipe sensors are reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Flow {
    /// Water at rest: the pipe's surroundings.
    #[default]
    Rest,
    /// Water moving, but what stood in the pipes has not passed yet.
    Settling,
    /// The water itself.
    Flowing,
}

impl Flow {
    /// The word for this in the trace.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Rest => "rest",
            Self::Settling => "settling",
            Self::Flowing => "flowing",
        }
    }
}

/// How long the water has been moving or at rest.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct FlowClock {
    moving: bool,
    state_for: Duration,
    rested: Duration,
}

impl FlowClock {
    pub(super) const AT_REST: Self = Self {
        moving: false,
        state_for: Duration::ZERO,
        rested: Duration::ZERO,
    };

    /// `moving` is whether the circulator ran during the `step` just past.
    pub(super) fn update(&mut self, moving: bool, step: Duration) {
        if moving == self.moving {
            self.state_for = self.state_for + step;
        } else {
            if moving {
                self.rested = self.state_for;
            }
            self.moving = moving;
            self.state_for = step;
        }
    }

    /// Time moving; zero at rest.
    pub(super) const fn moving_for(&self) -> Duration {
        if self.moving {
            self.state_for
        } else {
            Duration::ZERO
        }
    }

    /// Time at rest; zero while moving.
    pub(super) const fn resting_for(&self) -> Duration {
        if self.moving {
            Duration::ZERO
        } else {
            self.state_for
        }
    }

    /// How long the water had rested before the run that is on.
    pub(super) const fn rested_before(&self) -> Duration {
        self.rested
    }

    pub(super) fn flow(&self, settling_time: Duration) -> Flow {
        match (self.moving, self.state_for >= settling_time) {
            (false, _) => Flow::Rest,
            (true, false) => Flow::Settling,
            (true, true) => Flow::Flowing,
        }
    }
}
