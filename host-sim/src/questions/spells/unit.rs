//! The controller as a unit in the house: with its sensors, its power, its clock and its person.

use controller_core::alarm::AlarmSet;
use controller_core::restart::{BootHistory, Restart};
use controller_core::settings::Settings;
use controller_core::time::{Duration, Instant};
use controller_core::{Command, Controller, Event, Inputs, StepReport};

use super::draw::{Draw, Stream};
use super::faults::{Does, Upset};
use super::plan::{Fault, Plan};
use super::run::Steers;
use super::sensors::Sensors;
use super::told::{Listener, Told};
use crate::sim::closed_loop::{Stretch, relays_of};
use crate::sim::plant::{Plant, Relays, TrueState};
use crate::sim::stepper::Stepped as _;

/// The circulator is owed its overrun so long after a call: the default settings' overrun.
const OVERRUN: Duration = Duration::from_mins(5);

/// One step with the truth beside it.
pub struct Step<'a> {
    /// What the controller made of it.
    pub report: &'a StepReport,
    /// The house at the end of the stretch.
    pub truth: &'a TrueState,
    /// The step's time since the beginning, ms.
    pub now_ms: u64,
    /// The controller's clock at the beginning.
    pub origin: Instant,
}

/// Hears of every step.
pub type Watch<'w> = dyn FnMut(&Step<'_>) + 'w;

/// A unit.
pub(super) struct Unit<'a, 'w> {
    plan: &'a Plan,
    controller: Controller,
    settings: Settings,
    history: BootHistory,
    dark_s: u64,
    report: StepReport,
    overrun_owed: bool,
    sensors: Sensors<'a>,
    due: Vec<&'a Fault>,
    command: Option<Command>,
    upload: Option<Settings>,
    processor: Draw,
    late_ms: u64,
    listener: Listener,
    own_boots: u32,
    boots: u32,
    /// A rule of the outputs that was broken.
    violation: Option<String>,
    watch: Option<&'w mut Watch<'w>>,
}

/// What a unit says at the end.
pub(super) struct Said {
    pub alarms: Vec<Told>,
    pub late_boots: u32,
    pub violation: Option<String>,
}

impl<'a, 'w> Unit<'a, 'w> {
    pub(super) fn new(
        plan: &'a Plan,
        settings: &Settings,
        watch: Option<&'w mut Watch<'w>>,
    ) -> Self {
        let origin = Instant::from_millis(plan.origin_ms);
        let mut due: Vec<&Fault> = plan
            .faults
            .iter()
            .filter(|fault| matches!(fault.kind.does, Does::Upset(_)))
            .collect();
        due.sort_by_key(|fault| std::cmp::Reverse(fault.from_s));
        Self {
            plan,
            controller: Controller::boot(settings.clone(), origin, Restart::ORDINARY),
            settings: settings.clone(),
            history: BootHistory::default(),
            dark_s: 0,
            report: StepReport::default(),
            overrun_owed: false,
            sensors: Sensors::new(plan),
            due,
            command: None,
            upload: None,
            processor: Draw::new(plan.seed, Stream::Processor),
            late_ms: 0,
            listener: Listener::new(plan.first_fault_s()),
            own_boots: 0,
            boots: 0,
            violation: None,
            watch,
        }
    }

    pub(super) fn finish(self) -> Said {
        Said {
            alarms: self.listener.finish(),
            late_boots: self.boots.saturating_sub(self.own_boots),
            violation: self.violation,
        }
    }

    /// What happens once, at its time.
    fn happen(&mut self, now_s: u64) {
        while let Some(fault) = self.due.pop_if(|fault| fault.from_s <= now_s) {
            match fault.kind.does {
                Does::Upset(Upset::Stall) => self.late_ms += (fault.values[0] * 1e3) as u64,
                Does::Upset(Upset::SettingsChanged) => {
                    self.upload = fault.settings.as_deref().cloned();
                }
                Does::Upset(Upset::Command(command)) => self.command = Some(command),
                _ => {}
            }
        }
    }

    /// How late the next step comes, ms.
    fn next_late_ms(&mut self, now_s: u64) -> u64 {
        let mut late_ms = 0;
        for fault in &self.plan.faults {
            if fault.kind.does == Does::Upset(Upset::LateSteps) && fault.is_on(now_s) {
                let [share, most_s] = fault.values;
                if self.processor.percent(share) {
                    late_ms += (self.processor.share() * most_s * 1e3) as u64;
                }
            }
        }
        late_ms
    }

    /// What must hold at every step, whatever goes wrong.
    fn check(&mut self, at: Instant) {
        let broken = if self.report.outputs.boiler_call && !self.report.outputs.circulator {
            "a boiler call without the circulator"
        } else if self.report.next <= at {
            "the next step is not wanted later"
        } else {
            return;
        };
        let hours = (at.as_millis() - self.plan.origin_ms) as f64 / 3.6e6;
        self.violation
            .get_or_insert_with(|| format!("{broken} at {hours:.3} h"));
    }
}

impl Steers for Unit<'_, '_> {
    fn power_on(&mut self, now_s: u64, dark_s: u64, settings_lost: bool) {
        self.dark_s += dark_s;
        let powered_s = u32::try_from(now_s - self.dark_s).unwrap_or(u32::MAX);
        let boots_last_hour = self.history.boot(powered_s);
        if settings_lost {
            self.settings = Settings::default();
        }
        let restart = Restart {
            boots_last_hour,
            post_run_owed: std::mem::take(&mut self.overrun_owed),
            settings_lost,
            jitter_s: self.plan.jitter_s,
            ..Restart::ORDINARY
        };
        let at = Instant::from_millis(self.plan.origin_ms + now_s * 1_000);
        self.controller = Controller::boot(self.settings.clone(), at, restart);
        self.own_boots += 1;
        self.late_ms = 0;
    }

    fn power_off(&mut self, now_s: u64) {
        let outputs = self.report.outputs;
        self.overrun_owed =
            outputs.boiler_call || outputs.circulator && self.report.boiler_off_for() < OVERRUN;
        self.listener.hear(now_s * 1_000, AlarmSet::NONE);
        self.report = StepReport::default();
    }

    fn steer(&mut self, stretch: &Stretch, plant: &mut Plant) -> Relays {
        self.happen(stretch.from_s);
        let from_ms = self.plan.origin_ms + stretch.from_s * 1_000;
        let end_ms = from_ms + stretch.length_s * 1_000;
        loop {
            let wanted_ms = self.controller.next().as_millis() + self.late_ms;
            if wanted_ms >= end_ms {
                break;
            }
            let at_ms = wanted_ms.max(from_ms);
            let at = Instant::from_millis(at_ms);
            self.late_ms = self.next_late_ms(stretch.from_s);
            let into_s = (at_ms - from_ms) as f64 / 1e3;
            let samples = self.sensors.read(into_s, stretch, plant);
            let inputs = Inputs {
                samples,
                command: self.command,
                settings: self.upload.as_ref(),
                ..Inputs::default()
            };
            if !self.controller.step_into(at, &inputs, &mut self.report) {
                break;
            }
            match self.report.row.event {
                Event::Command(_) => {
                    self.command = None;
                    // It may have changed the mode, which the unit keeps.
                    self.settings = self.controller.settings().clone();
                }
                Event::Settings => {
                    self.upload = None;
                    self.settings = self.controller.settings().clone();
                }
                Event::Boot(_) => self.boots += 1,
                _ => {}
            }
            self.check(at);
            let now_ms = at_ms - self.plan.origin_ms;
            self.listener.hear(now_ms, self.report.row.alarms);
            if let Some(watch) = &mut self.watch {
                watch(&Step {
                    report: &self.report,
                    truth: &plant.true_state(),
                    now_ms,
                    origin: Instant::from_millis(self.plan.origin_ms),
                });
            }
            if self.report.next <= at {
                break;
            }
        }
        plant.told = self.report.told();
        relays_of(self.report.outputs)
    }
}
