//! The plain pair of thermostats as a unit in the house: it reads the same sensors, wrong ones too, and loses its power.
//!
//! It has no modes, no settings that a person sends and no program that comes late, so such faults do not reach it.

use controller_core::Inputs;
use controller_core::restart::Restart;
use controller_core::settings::Settings;
use controller_core::time::Instant;

use super::plan::Plan;
use super::run::Steers;
use super::sensors::Sensors;
use crate::questions::compare::plain::{Plain, PlainRules, PumpRule};
use crate::sim::closed_loop::{Stretch, relays_of};
use crate::sim::plant::{Plant, Relays, Told};
use crate::sim::stepper::{Stepped as _, Stepper as _};

/// The pair at work.
pub(super) struct Pair<'a> {
    plain: Plain,
    settings: Settings,
    sensors: Sensors<'a>,
    relays: Relays,
}

impl<'a> Pair<'a> {
    /// With the settings' own limits.
    pub(super) fn new(plan: &'a Plan, settings: &Settings) -> Self {
        let rules = PlainRules {
            pump: PumpRule::Differential,
            call_below: settings.backup_slab,
        };
        Self {
            plain: Plain::new(rules, settings, Instant::from_millis(0)),
            settings: settings.clone(),
            sensors: Sensors::new(plan),
            relays: Relays::default(),
        }
    }
}

impl Steers for Pair<'_> {
    fn power_on(&mut self, now_s: u64, _: u64, _: bool) {
        let now = Instant::from_millis(now_s * 1_000);
        self.plain.boot(&self.settings, now, Restart::ORDINARY);
        self.relays = Relays::default();
    }

    fn steer(&mut self, stretch: &Stretch, plant: &mut Plant) -> Relays {
        let from_ms = stretch.from_s * 1_000;
        let end_ms = from_ms + stretch.length_s * 1_000;
        while self.plain.next().as_millis() < end_ms {
            let at_ms = self.plain.next().as_millis().max(from_ms);
            let into_s = (at_ms - from_ms) as f64 / 1e3;
            let inputs = Inputs {
                samples: self.sensors.read(into_s, stretch, plant),
                ..Inputs::default()
            };
            let Some(report) = self.plain.step(Instant::from_millis(at_ms), &inputs) else {
                break;
            };
            self.relays = relays_of(report.outputs());
        }
        plant.told = Told::Nothing;
        self.relays
    }
}
