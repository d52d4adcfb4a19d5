//! Controls of the plainest kind, to compare with. They have the same guard for their relays and the
//! same plain protection against freezing and hot water, and nothing else: no settling time, no memory, no
//! look at whether the loop holds. Built only for the comparison.

use controller_core::guard::{
    BoilerRequest, Guard, GuardStatus, PumpRequest, Request, Stop, Urgency,
};
use controller_core::restart::Restart;
use controller_core::settings::Settings;
use controller_core::time::{Duration, Instant};
use controller_core::units::{Celsius, Kelvin};
use controller_core::{Inputs, Outputs};

use crate::sim::stepper::{Stepped, Stepper, Taken};

/// What starts the circulator.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PumpRule {
    /// A slab thermostat.
    Thermostat,
    /// A slab thermostat, as far as the supply pipe is warmer than the slab by the start difference,
    /// until it is not by the stop difference, as the sensors read it.
    Differential,
}

/// A plain control's rules.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlainRules {
    /// What starts the circulator.
    pub pump: PumpRule,
    /// Slab at which the boiler is called, °C.
    pub call_below: Celsius,
}

/// Slab above its limit at which a call ends, K: a thermostat's usual width (common practice, no source).
const CALL_WIDTH: Kelvin = Kelvin::from_milli(1_000);

/// A plain control with its memory.
#[derive(Clone, Debug)]
pub struct Plain {
    rules: PlainRules,
    settings: Settings,
    guard: Guard,
    next: Instant,
    heat: bool,
    worth: bool,
    frost: bool,
    pipe: bool,
    call: bool,
}

impl Plain {
    /// Booted at `now`.
    #[must_use]
    pub fn new(rules: PlainRules, settings: &Settings, now: Instant) -> Self {
        let delays = Restart::ORDINARY.delays(settings);
        Self {
            rules,
            settings: settings.clone(),
            guard: Guard::new(now, delays, false),
            next: now,
            heat: false,
            worth: false,
            frost: false,
            pipe: false,
            call: false,
        }
    }

    fn request(&mut self, inputs: &Inputs<'_>) -> Request {
        let s = &self.settings;
        let samples = &inputs.samples;
        let (supply, ret) = (samples.supply.value(), samples.ret.value());
        let Some(slab) = samples.slab.value() else {
            return Request {
                pump: PumpRequest::Run(Urgency::Frost),
                boiler: BoilerRequest::Drop,
                heat_proven: false,
            };
        };
        let half = s.slab_band.half();
        self.heat = between(self.heat, slab, s.slab_set - half, s.slab_set + half);
        self.frost = between(self.frost, slab, s.frost_on, s.frost_off);
        let coldest = match (supply, ret) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (one, other) => one.or(other),
        };
        self.pipe = coldest.is_some_and(|t| between(self.pipe, t, s.pipe_on, s.pipe_off));
        self.worth = supply.is_some_and(|supply| {
            let limit = if self.worth {
                s.stop_difference
            } else {
                s.start_difference
            };
            supply - slab >= limit
        });
        let limit = self.rules.call_below;
        self.call = between(self.call, slab, limit, limit + CALL_WIDTH);
        let hot = supply.is_none_or(|t| t >= s.soft_limit())
            || s.return_to_store && ret.is_none_or(|t| t >= s.return_cap);
        let store_heat = match self.rules.pump {
            PumpRule::Thermostat => self.heat,
            PumpRule::Differential => self.heat && self.worth,
        };
        Request {
            pump: if self.frost || self.pipe {
                PumpRequest::Run(Urgency::Frost)
            } else if store_heat || self.call {
                PumpRequest::Run(Urgency::Normal)
            } else {
                PumpRequest::Rest(Stop::AfterMinimum)
            },
            boiler: match (hot, self.call) {
                (true, _) => BoilerRequest::Drop,
                (false, true) => BoilerRequest::Call,
                (false, false) => BoilerRequest::Release,
            },
            heat_proven: true,
        }
    }
}

/// A thermostat: on at or below the first, off at or above the second.
fn between(on: bool, t: Celsius, low: Celsius, high: Celsius) -> bool {
    if on { t < high } else { t <= low }
}

impl Stepper for Plain {
    type Report = PlainReport;

    fn begin(&mut self, _: Instant) {}

    fn boot(&mut self, settings: &Settings, now: Instant, _: Restart) {
        *self = Self::new(self.rules, settings, now);
    }

    fn next(&self) -> Instant {
        self.next
    }

    fn settings(&self) -> &Settings {
        &self.settings
    }

    fn step(&mut self, now: Instant, inputs: &Inputs<'_>) -> Option<PlainReport> {
        if now < self.next {
            return None;
        }
        let request = self.request(inputs);
        let status = self.guard.apply(now, request, &self.settings);
        self.next = now + self.settings.sensor_cycle;
        Some(PlainReport {
            next: self.next,
            status,
        })
    }
}

/// What a step of a plain control comes to.
#[derive(Clone, Copy, Debug)]
pub struct PlainReport {
    next: Instant,
    status: GuardStatus,
}

impl Stepped for PlainReport {
    fn outputs(&self) -> Outputs {
        Outputs {
            circulator: self.status.pump,
            boiler_call: self.status.boiler,
            alarm: false,
        }
    }

    fn next(&self) -> Instant {
        self.next
    }

    fn taken(&self) -> Taken {
        Taken::Nothing
    }

    fn boiler_off_for(&self) -> Duration {
        self.status.boiler_off_for
    }

    fn starts_last_hour(&self) -> u8 {
        self.status.starts_last_hour
    }

    /// Relay bits alone: there is nothing to explain.
    fn write_row(&self, _: Instant, _: &str, out: &mut String) {
        use std::fmt::Write as _;
        let _ = write!(
            out,
            "{},{}",
            u8::from(self.status.pump),
            u8::from(self.status.boiler)
        );
    }
}
