//! What takes readings and answers with relay states, step by step: the controller in this program, or
//! one that runs elsewhere.
//!
//! The closed loops (winter and drills) are written against this, so that the very same loop can drive a
//! microcontroller's image.

use controller_core::restart::Restart;
use controller_core::settings::Settings;
use controller_core::time::{Duration, Instant};
use controller_core::{Controller, Event, Inputs, Outputs, StepReport, WoodAdvice, WoodRequest};

use crate::plant::Told;

/// A controller, wherever it runs.
pub trait Stepper {
    /// What one step comes to.
    type Report: Stepped;

    /// A run begins, whose rows count their time from `origin`.
    fn begin(&mut self, origin: Instant);

    /// Starts anew, whatever was before.
    fn boot(&mut self, settings: &Settings, now: Instant, restart: Restart);

    /// When the next step is wanted.
    fn next(&self) -> Instant;

    /// The settings in force.
    fn settings(&self) -> &Settings;

    /// Decides for `now`; `None` if called before the wanted time.
    fn step(&mut self, now: Instant, inputs: &Inputs<'_>) -> Option<Self::Report>;

    /// The same with a place for the report that is used again at every step.
    fn step_in<'r>(
        &mut self,
        now: Instant,
        inputs: &Inputs<'_>,
        place: &'r mut Option<Self::Report>,
    ) -> Option<&'r Self::Report> {
        *place = self.step(now, inputs);
        place.as_ref()
    }
}

/// What a closed loop has to know of a step.
pub trait Stepped {
    /// Relay bits.
    fn outputs(&self) -> Outputs;

    /// When to call again.
    fn next(&self) -> Instant;

    /// Which of what was given with the step was taken; a step takes one at most.
    fn taken(&self) -> Taken;

    /// Time since the last boiler call ended.
    fn boiler_off_for(&self) -> Duration;

    /// Circulator starts in the last hour.
    fn starts_last_hour(&self) -> u8;

    /// What whoever feeds the fire is told.
    fn told(&self) -> Told {
        Told::Nothing
    }

    /// Appends the trace row without a line end. Times count from the run's `origin`; `note` says what a
    /// settings event changed.
    fn write_row(&self, origin: Instant, note: &str, out: &mut String);
}

/// What a step took besides its readings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Taken {
    /// Nothing.
    Nothing,
    /// The command.
    Command,
    /// The settings.
    Settings,
}

impl Stepper for Controller {
    type Report = StepReport;

    /// Nothing to remember: rows are written here, see [`Stepped::write_row`].
    fn begin(&mut self, _: Instant) {}

    fn boot(&mut self, settings: &Settings, now: Instant, restart: Restart) {
        *self = Self::boot(settings.clone(), now, restart);
    }

    fn next(&self) -> Instant {
        self.next()
    }

    fn settings(&self) -> &Settings {
        self.settings()
    }

    fn step(&mut self, now: Instant, inputs: &Inputs<'_>) -> Option<StepReport> {
        self.step(now, inputs)
    }

    fn step_in<'r>(
        &mut self,
        now: Instant,
        inputs: &Inputs<'_>,
        place: &'r mut Option<StepReport>,
    ) -> Option<&'r StepReport> {
        let report = place.get_or_insert_default();
        self.step_into(now, inputs, report).then_some(report)
    }
}

impl Stepped for StepReport {
    fn outputs(&self) -> Outputs {
        self.outputs
    }

    fn next(&self) -> Instant {
        self.next
    }

    fn taken(&self) -> Taken {
        match self.row.event {
            Event::Command(_) => Taken::Command,
            Event::Settings => Taken::Settings,
            Event::None | Event::Boot(_) | Event::Stalled(_) => Taken::Nothing,
        }
    }

    fn boiler_off_for(&self) -> Duration {
        self.row.status.boiler_off_for
    }

    fn starts_last_hour(&self) -> u8 {
        self.row.status.starts_last_hour
    }

    fn told(&self) -> Told {
        self.row.summary.wood.into()
    }

    fn write_row(&self, origin: Instant, note: &str, out: &mut String) {
        // Writing into a string cannot fail.
        let _ = self.row.write_csv(origin, note, out);
    }
}

impl From<WoodAdvice> for Told {
    fn from(said: WoodAdvice) -> Self {
        match said.request {
            WoodRequest::Nothing => Self::Nothing,
            WoodRequest::NoMore => Self::NoMoreWood,
            WoodRequest::Light => Self::Light {
                kg: f64::from(said.kg),
                within_s: f64::from(said.within_min) * 60.0,
            },
        }
    }
}
