//! Runs one drill: house and controller in closed loop, events when their time comes, every step
//! shown to every expectation.

use controller_core::restart::{BootHistory, Restart};
use controller_core::settings::Settings;
use controller_core::time::Instant;
use controller_core::{Command, Controller, Inputs, StepReport};
use sha2::{Digest, Sha256};

use super::check::{Check, Verdict};
use super::file::{Drill, Event, Reset, settings_of};
use super::house::{Ending, House};
use super::row::{Beside, Row};
use super::values::Span;
use crate::account::event::settings_note;
use crate::files::settings_file::hex;
use crate::sim::beside::Extra;
use crate::sim::plant::Relays;
use crate::sim::stepper::{Stepped, Stepper, Taken};

/// One step of the controller in a drill.
#[derive(Debug)]
pub struct Step<'a, R = StepReport> {
    /// What it came to.
    pub report: &'a R,
    /// Time since the beginning, ms.
    pub now_ms: u64,
    /// How long it stands, ms.
    pub stands_ms: u64,
    /// What a log would hold beside.
    pub extra: &'a Extra,
    /// What a settings event changed.
    pub note: &'a str,
    /// What happened since the step before, in the drill's words.
    pub happened: &'a [&'a str],
}

/// What a drill came to.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// One for each expectation, in the file's order.
    pub verdicts: Vec<Verdict>,
    /// How the simulated house ends; a bench has none.
    pub ending: Option<Ending>,
    /// Steps of the controller.
    pub steps: u64,
}

impl Outcome {
    /// Does everything hold?
    #[must_use]
    pub fn holds(&self) -> bool {
        self.verdicts.iter().all(|verdict| verdict.holds)
    }
}

/// Why a drill could not be run to its end.
#[derive(Debug)]
pub enum RunError {
    /// Settings or site are refused.
    Drill(String),
    /// The watcher failed.
    Watch(std::io::Error),
}

impl std::fmt::Display for RunError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Drill(problem) => f.write_str(problem),
            Self::Watch(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for RunError {}

/// Runs a drill; `watch` hears of every step.
///
/// # Errors
/// The drill cannot be built, or what `watch` returns.
pub fn run(
    drill: &Drill,
    watch: &mut dyn FnMut(&Step<'_>) -> std::io::Result<()>,
) -> Result<Outcome, RunError> {
    let start = Instant::from_millis(0);
    let mut controller = Controller::boot(Settings::default(), start, Restart::ORDINARY);
    run_with(drill, &mut controller, watch)
}

/// The same with a controller that may run elsewhere; it is booted first.
///
/// # Errors
/// As [`run`].
pub fn run_with<S: Stepper>(
    drill: &Drill,
    controller: &mut S,
    watch: &mut Watch<'_, S::Report>,
) -> Result<Outcome, RunError> {
    let mut runner = Runner::new(drill, controller, drill.clock_ms)?;
    runner.go(watch)?;
    let (mut verdicts, ending, digest, steps) = runner.finish();
    if let Some(clock_ms) = drill.same_trace_at_clock_ms {
        let mut other = Runner::new(drill, controller, clock_ms)?;
        other.go(&mut |_| Ok(()))?;
        let (_, _, other, _) = other.finish();
        verdicts.push(Verdict {
            required: format!("the same trace with the counter at {clock_ms} ms"),
            deadline: "every byte".to_owned(),
            deadline_s: None,
            measured: if digest == other {
                "the same".to_owned()
            } else {
                format!("{digest} and {other}")
            },
            measured_value: None,
            holds: digest == other,
        });
    }
    Ok(Outcome {
        verdicts,
        ending,
        steps,
    })
}

/// Hears of every step.
type Watch<'w, R> = dyn FnMut(&Step<'_, R>) -> std::io::Result<()> + 'w;

struct Runner<'a, 'c, S> {
    drill: &'a Drill,
    controller: &'c mut S,
    /// Booted and not without power.
    runs: bool,
    settings: Settings,
    clock_ms: u64,
    house: House,
    relays: Relays,
    checks: Vec<Check<'a>>,
    row: Row,
    /// Next event, and its time once known.
    next: usize,
    next_ms: Option<u64>,
    last_event_ms: u64,
    /// Restarts still to come, and when.
    resets: Option<(Reset, u64)>,
    /// Without power until then, and the boot that follows.
    boot: Option<(u64, Restart)>,
    history: BootHistory,
    dark_ms: u64,
    late_ms: u64,
    command: Option<Command>,
    upload: Option<Settings>,
    refused: bool,
    happened: Vec<&'a str>,
    overrun_owed: bool,
    digest: Sha256,
    line: String,
    steps: u64,
}

impl<'a, 'c, S: Stepper> Runner<'a, 'c, S> {
    fn new(drill: &'a Drill, controller: &'c mut S, clock_ms: u64) -> Result<Self, RunError> {
        let settings = drill.checked_settings().map_err(RunError::Drill)?;
        let mut history = BootHistory::default();
        let _ = history.boot(0);
        controller.begin(Instant::from_millis(clock_ms));
        let mut runner = Self {
            drill,
            house: House::new(drill).map_err(RunError::Drill)?,
            controller,
            runs: false,
            relays: Relays::default(),
            checks: drill.expect.iter().map(Check::new).collect(),
            row: Row::default(),
            next: 0,
            next_ms: None,
            last_event_ms: 0,
            resets: None,
            boot: Some((0, Restart::ORDINARY)),
            history,
            dark_ms: 0,
            late_ms: 0,
            command: None,
            upload: None,
            refused: false,
            happened: Vec::new(),
            overrun_owed: false,
            digest: Sha256::new(),
            line: String::new(),
            steps: 0,
            settings,
            clock_ms,
        };
        if drill.event.is_empty() {
            runner.checks.iter_mut().for_each(|check| check.event(1, 0));
        }
        runner.resolve_next();
        Ok(runner)
    }

    fn instant(&self, now_ms: u64) -> Instant {
        Instant::from_millis(self.clock_ms + now_ms)
    }

    fn go(&mut self, watch: &mut Watch<'_, S::Report>) -> Result<(), RunError> {
        let end_ms = self.drill.length.0;
        loop {
            let wanted_ms = match (&self.boot, self.runs) {
                (Some((at_ms, _)), _) => *at_ms,
                (None, true) => self.controller.next().as_millis() - self.clock_ms + self.late_ms,
                (None, false) => return Ok(()),
            };
            let reset_ms = self.resets.map(|(_, at_ms)| at_ms);
            let happens_ms = [self.next_ms, reset_ms].into_iter().flatten().min();
            // What happens at the time of a step happens just after it: the longest wait for the next.
            let happens_ms = happens_ms.filter(|ms| *ms < wanted_ms || *ms == 0);
            let now_ms = happens_ms.unwrap_or(wanted_ms);
            if now_ms > end_ms {
                return Ok(());
            }
            self.house.go_on(now_ms, self.relays);
            if happens_ms.is_some() && reset_ms == happens_ms {
                self.reset(now_ms);
            } else if happens_ms.is_some() {
                self.event(now_ms);
            } else if let Some((_, restart)) = self.boot.take() {
                self.house.power(true);
                let now = self.instant(now_ms);
                self.controller.boot(&self.settings, now, restart);
                self.runs = true;
            } else {
                self.step(now_ms, end_ms, watch)?;
            }
        }
    }

    fn step(
        &mut self,
        now_ms: u64,
        end_ms: u64,
        watch: &mut Watch<'_, S::Report>,
    ) -> Result<(), RunError> {
        self.late_ms = 0;
        let now = self.instant(now_ms);
        let (samples, extra) = self.house.read();
        let before = *self.controller.settings().raw();
        let inputs = Inputs {
            samples,
            command: self.command,
            settings: self.upload.as_ref(),
            ..Inputs::default()
        };
        let Some(report) = self.controller.step(now, &inputs) else {
            return Ok(());
        };
        self.settings = self.controller.settings().clone();
        let mut note = String::new();
        let mut upload = if std::mem::take(&mut self.refused) {
            "refused"
        } else {
            ""
        };
        match report.taken() {
            Taken::Command => self.command = None,
            Taken::Settings => {
                note = settings_note(&before, self.settings.raw());
                upload = "adopted";
                self.upload = None;
            }
            Taken::Nothing => {}
        }
        let outputs = report.outputs();
        self.relays = Relays {
            circulator: outputs.circulator,
            boiler_call: outputs.boiler_call,
        };
        let post_run = self.settings.post_run;
        self.overrun_owed = report.boiler_off_for() < post_run && outputs.circulator;
        let origin = Instant::from_millis(self.clock_ms);
        self.row.set(
            &report,
            origin,
            &note,
            Beside {
                upload,
                ..self.house.truth()
            },
        );
        for check in &mut self.checks {
            check.step(&self.row, now_ms);
        }
        if self.drill.same_trace_at_clock_ms.is_some() {
            self.line.clear();
            report.write_row(origin, &note, &mut self.line);
            self.digest.update(self.line.as_bytes());
        }
        let until = report.next().min(self.instant(end_ms)).max(now);
        watch(&Step {
            report: &report,
            now_ms,
            stands_ms: u64::from(until.since(now).as_millis()),
            extra: &extra,
            note: &note,
            happened: &self.happened,
        })
        .map_err(RunError::Watch)?;
        self.happened.clear();
        self.steps += 1;
        self.look_for_next(now_ms);
        Ok(())
    }

    /// The time of the next event, where it does not hang on what the controller does.
    fn resolve_next(&mut self) {
        self.next_ms = self.drill.event.get(self.next).and_then(|event| {
            match (event.at, &event.when, event.later) {
                (Some(at), ..) => Some(at.0),
                (None, None, Some(later)) => Some(self.last_event_ms + later.0),
                _ => None,
            }
        });
    }

    /// Does this step bring on an event that waits for something?
    fn look_for_next(&mut self, now_ms: u64) {
        let waiting = self
            .drill
            .event
            .get(self.next)
            .filter(|_| self.next_ms.is_none());
        if let Some(Event {
            when: Some(when),
            later,
            ..
        }) = waiting
            && when.holds(&self.row)
        {
            self.next_ms = Some(now_ms + later.map_or(0, |later| later.0));
        }
    }

    fn event(&mut self, now_ms: u64) {
        let Some(event) = self.drill.event.get(self.next) else {
            return;
        };
        self.next += 1;
        self.happened.push(&event.what);
        self.house.event(event, now_ms);
        for check in &mut self.checks {
            check.event(self.next, now_ms);
        }
        if event.command.is_some() {
            self.command = event.command;
        }
        if let Some(changes) = &event.settings {
            let mut table = self.drill.settings.clone();
            table.extend(changes.clone());
            match settings_of(&table) {
                Ok(settings) => self.upload = Some(settings),
                Err(_) => self.refused = true,
            }
        }
        self.late_ms += event.stall.map_or(0, |stall| stall.0);
        self.last_event_ms = now_ms;
        self.resolve_next();
        if let Some(reset) = event.reset {
            self.resets = Some((reset, now_ms));
        }
    }

    /// Power goes; it comes back at once or after the dark.
    fn reset(&mut self, now_ms: u64) {
        let Some((mut reset, _)) = self.resets.take() else {
            return;
        };
        let boot_ms = now_ms + reset.dark.0;
        let powered_ms = now_ms - self.dark_ms;
        self.dark_ms += reset.dark.0;
        let powered_s = u32::try_from(powered_ms / 1_000).unwrap_or(u32::MAX);
        let boots_last_hour = self.history.boot(powered_s);
        let restart = Restart {
            boots_last_hour,
            post_run_owed: self.relays.boiler_call || self.overrun_owed,
            settings_lost: reset.settings_lost,
            jitter_s: u8::try_from(self.drill.jitter.0 / 1_000).unwrap_or(u8::MAX),
            ..Restart::ORDINARY
        };
        if reset.settings_lost {
            self.settings = Settings::default();
        }
        self.runs = false;
        self.relays = Relays::default();
        self.house.power(false);
        self.boot = Some((boot_ms, restart));
        for check in &mut self.checks {
            check.close(now_ms);
        }
        reset.times = reset.times.saturating_sub(1);
        if reset.times > 0 {
            self.resets = Some((reset, now_ms + reset.every.0.max(reset.dark.0)));
        }
    }

    fn finish(self) -> (Vec<Verdict>, Option<Ending>, String, u64) {
        let end_ms = self.drill.length.0;
        let ending = self.house.ending();
        let mut verdicts: Vec<Verdict> = self
            .checks
            .into_iter()
            .map(|check| check.finish(end_ms))
            .collect();
        verdicts.extend(ending.map(|ending| no_ice(&ending)));
        (verdicts, ending, hex(&self.digest.finalize()), self.steps)
    }
}

/// What every drill of the simulated house requires to its end, whatever its file asks.
fn no_ice(ending: &Ending) -> Verdict {
    Verdict {
        required: "no water freezes solid".to_owned(),
        deadline: "to the end".to_owned(),
        deadline_s: None,
        measured: ending.frozen_ms.map_or("never".to_owned(), |ms| {
            format!("frozen after {}", Span(ms).words())
        }),
        measured_value: ending.frozen_ms.map(|ms| ms as f64 / 1_000.0),
        holds: ending.frozen_ms.is_none(),
    }
}
