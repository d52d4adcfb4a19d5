//! A person's commands, and the run that keeps an idle circulator from seizing.

use super::View;
use crate::settings::Mode;
use crate::time::Duration;

/// A manual command for one output.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Switch {
    /// The rules decide.
    Auto,
    /// On, as far as protection allows.
    On,
    /// Off.
    Off,
}

impl Switch {
    /// The word for it in commands.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Auto => "auto",
            Self::On => "on",
            Self::Off => "off",
        }
    }
}

/// Manual commands and the time they have left.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Manual {
    pump: Switch,
    boiler: Switch,
    left: Duration,
}

impl Manual {
    pub(super) const NONE: Self = Self {
        pump: Switch::Auto,
        boiler: Switch::Auto,
        left: Duration::ZERO,
    };

    pub(crate) const fn set_pump(&mut self, switch: Switch, time: Duration) {
        self.pump = switch;
        self.left = time;
    }

    pub(crate) const fn set_boiler(&mut self, switch: Switch, time: Duration) {
        self.boiler = switch;
        self.left = time;
    }

    pub(super) fn pass(&mut self, step: Duration) {
        self.left = self.left.saturating_sub(step);
        if self.left == Duration::ZERO {
            self.pump = Switch::Auto;
            self.boiler = Switch::Auto;
        }
    }

    pub(super) const fn pump(&self) -> Switch {
        self.pump
    }
    pub(super) const fn boiler(&self) -> Switch {
        self.boiler
    }
    pub(super) const fn left(&self) -> Duration {
        self.left
    }
    pub(super) fn is_active(&self) -> bool {
        self.pump != Switch::Auto || self.boiler != Switch::Auto
    }
}

/// Length of the run that keeps an idle circulator from seizing. Status: common practice, no source.
const EXERCISE: Duration = Duration::from_mins(2);

/// Exercise after a long rest.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Exercise {
    running: bool,
}

impl Exercise {
    pub(super) const NEW: Self = Self { running: false };

    /// Follows the circulator; called every step before [`Exercise::is_due`].
    pub(super) fn pass(&mut self, view: &View<'_>) {
        let settings = view.settings;
        let rested = !view.guard.pump && view.guard.pump_for >= settings.exercise_interval;
        let done = view.guard.pump && view.guard.pump_for >= EXERCISE;
        self.running = (self.running || rested) && !done && settings.mode != Mode::Drained;
    }

    pub(super) const fn is_due(&self) -> bool {
        self.running
    }
}
