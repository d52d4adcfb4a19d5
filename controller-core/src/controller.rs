//! The whole step: samples in, guarded outputs and one explained row out.

use crate::alarm::{Alarm, AlarmSet, HeldAlarms};
use crate::decision::{Decision, View, explain};
use crate::estimate::{EstimateInput, Estimator, FlowProof};
use crate::guard::{Guard, GuardStatus};
use crate::io::{Command, Event, Inputs, Outputs};
use crate::restart::Restart;
use crate::sensor::{BySensor, Cycle, Excitation, Reading, Sample, SensorCheck, Verdict};
use crate::settings::{Mode, Settings};
use crate::shadow::Shadow;
use crate::time::{Duration, Instant};
use crate::trace::TraceRow;
use crate::units::Celsius;

/// What one step came to. The default is blank: a place for [`Controller::step_into`].
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct StepReport {
    /// To be copied to the pins.
    pub outputs: Outputs,
    /// When to call again; earlier changes nothing, later is safe.
    pub next: Instant,
    /// The row for the log.
    pub row: TraceRow,
}

/// More than this late is worth a word.
const LATE: Duration = Duration::from_secs(5);
/// More than this late is counted, and so many such steps ring.
const VERY_LATE: Duration = Duration::from_secs(60);
const MANY_LATE: u8 = 4;
/// They are forgotten after so long without another.
const LATE_FORGOTTEN: Duration = Duration::from_hours(1);
/// A slab at its emergency temperature this long rings; a slab this cold rings at once.
const COLD_FOR: Duration = Duration::from_hours(1);
const COLD_AT_ONCE: Celsius = Celsius::from_milli(500);
/// Closest two steps.
const CLOSEST: Duration = Duration::from_secs(1);
/// A change of a relay excites the pipes this long.
const EXCITED: Duration = Duration::from_mins(10);
/// The unstable-power alarm clears after so long a clean run.
const CLEAN: Duration = Duration::from_hours(6);
/// Starts in an hour beyond which frost protection says so.
const MANY_STARTS: u8 = 6;

/// Memory of everything but the settings.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct State {
    boot: Instant,
    restart: Restart,
    last: Instant,
    next: Instant,
    /// No step yet since boot.
    fresh: bool,
    sensors: BySensor<SensorCheck>,
    estimator: Estimator,
    decision: Decision,
    guard: Guard,
    shadow: Shadow,
    /// What the last step's comparison said; enters the next step's checks.
    verdicts: BySensor<Verdict>,
    water_slab: Option<Celsius>,
    slab_cold_for: Duration,
    late_steps: u8,
    since_late: Duration,
    held: HeldAlarms,
}

/// Settings and memory: the controller.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Controller {
    settings: Settings,
    state: State,
}

impl Controller {
    /// Starts with both outputs off at `now`; the first step is wanted at once.
    #[must_use]
    pub fn boot(settings: Settings, now: Instant, restart: Restart) -> Self {
        let state = State::boot(&settings, now, restart);
        Self { settings, state }
    }

    /// When the next step is wanted.
    #[must_use]
    pub const fn next(&self) -> Instant {
        self.state.next
    }

    /// The settings in force.
    #[must_use]
    pub const fn settings(&self) -> &Settings {
        &self.settings
    }

    /// Decides for `now`. `None` if called before the wanted time: then nothing has changed, and a
    /// clock set back is no more than an early call.
    ///
    /// A late call is safe: the relays have held meanwhile, the time has passed, and the row's event
    /// says how much. More than a minute late is counted, and rings if it comes often.
    ///
    /// A step takes one thing besides its readings, and its row's event says which: a boot before
    /// new settings, these before a command. What was not taken has changed nothing; give it again.
    pub fn step(&mut self, now: Instant, inputs: &Inputs<'_>) -> Option<StepReport> {
        let mut report = StepReport::default();
        self.step_into(now, inputs, &mut report).then_some(report)
    }

    /// The same, into a report that the caller keeps, which saves copies of it: for every step of a
    /// winter, or for a small processor. `false` if called before the wanted time: then the report
    /// is as it was, too.
    pub fn step_into(
        &mut self,
        now: Instant,
        inputs: &Inputs<'_>,
        report: &mut StepReport,
    ) -> bool {
        if now < self.state.next {
            return false;
        }
        let late = now.since(self.state.next);
        // A first step that comes after its boot is the boot: rests are counted from what the log shows.
        if self.state.fresh && late > Duration::ZERO {
            self.state = State::boot(&self.settings, now, self.state.restart);
        }
        let event = match (inputs.settings, inputs.command) {
            _ if self.state.fresh => Event::Boot(self.state.restart),
            (Some(settings), _) => {
                self.settings.adopt(settings);
                Event::Settings
            }
            (None, Some(command)) => {
                self.obey(command);
                Event::Command(command)
            }
            (None, None) if late > LATE => Event::Stalled(late),
            (None, None) => Event::None,
        };
        self.state.run(&self.settings, now, inputs, event, report);
        true
    }

    fn obey(&mut self, command: Command) {
        let time = self.settings.manual_time;
        match command {
            Command::Mode(mode) => self.settings = self.settings.in_mode(mode),
            Command::Pump(switch) => self.state.decision.manual.set_pump(switch, time),
            Command::Boiler(switch) => self.state.decision.manual.set_boiler(switch, time),
            Command::Acknowledge => {}
        }
    }
}

impl State {
    fn boot(settings: &Settings, now: Instant, restart: Restart) -> Self {
        Self {
            boot: now,
            restart,
            last: now,
            next: now,
            fresh: true,
            sensors: BySensor::from_fn(SensorCheck::new),
            estimator: Estimator::NEW,
            decision: Decision::new(&restart, settings),
            guard: Guard::new(now, restart.delays(settings), restart.post_run_owed),
            shadow: Shadow::NEW,
            verdicts: BySensor::from_fn(|_| Verdict::Fine),
            water_slab: None,
            slab_cold_for: Duration::ZERO,
            late_steps: 0,
            since_late: Duration::ZERO,
            held: HeldAlarms::NONE,
        }
    }

    /// One direction of flow: samples, readings, estimate, demand, guarded outputs.
    fn run(
        &mut self,
        settings: &Settings,
        now: Instant,
        inputs: &Inputs<'_>,
        event: Event,
        report: &mut StepReport,
    ) {
        let acknowledged = event == Event::Command(Command::Acknowledge);
        let step = now.since(self.last);
        let row = &mut report.row;
        self.guard.look(now, &mut row.status); // as it was; the guard has the last word below
        row.now = now;
        row.inputs = inputs.samples;
        row.pump_feedback = inputs.pump_feedback;
        row.shadow = inputs.shadow;
        row.event = event;
        let own_pump = row.status.pump;
        if let Some(actual) = inputs.shadow {
            self.shadow.see(actual, step, &mut row.status);
        }
        self.read(
            &inputs.samples,
            step,
            &row.status,
            settings,
            &mut row.readings,
        );
        row.estimate = self.estimator.update(
            &EstimateInput {
                readings: &row.readings,
                guard: &row.status,
                shadow: inputs.shadow,
                pump_feedback: inputs.pump_feedback,
                acknowledged,
                step,
            },
            settings,
        );
        row.lost = row.readings.lost();
        let view = View {
            step,
            settings,
            readings: &row.readings,
            estimate: &row.estimate,
            guard: &row.status,
            shadow: inputs.shadow,
            acknowledged,
        };
        let decided = self.decision.decide(&view, own_pump, &mut row.summary);
        if inputs.shadow.is_some() {
            self.guard.look(now, &mut row.status);
        }
        self.guard
            .apply_to(&mut row.status, now, decided.request, settings);
        (row.reason, row.cause) = explain(&decided, &row.status, now);
        let late = now.since(self.next);
        self.watch(row.estimate.slab, step, late, settings);
        row.alarms = self.held.update(self.alarms(row, settings), step);
        row.outputs = Outputs {
            circulator: row.status.pump,
            boiler_call: row.status.boiler,
            alarm: row.alarms.rings(),
        };
        self.verdicts = row.estimate.verdicts;
        self.water_slab = row.estimate.water;
        self.last = now;
        self.fresh = false;
        self.next = next_wanted(now, &row.status, settings);
        report.outputs = row.outputs;
        report.next = self.next;
    }

    fn read(
        &mut self,
        samples: &BySensor<Sample>,
        step: Duration,
        guard: &GuardStatus,
        settings: &Settings,
        readings: &mut BySensor<Reading>,
    ) {
        let excitation = if guard.quiet_for < EXCITED {
            Excitation::Busy
        } else {
            Excitation::Quiet
        };
        let (checks, said) = (&mut self.sensors, &self.verdicts);
        let mut cycle = Cycle {
            step,
            excitation,
            verdict: said.supply,
            water: self.water_slab,
            settings,
        };
        checks
            .supply
            .update(samples.supply, &cycle, &mut readings.supply);
        cycle.verdict = said.ret;
        checks.ret.update(samples.ret, &cycle, &mut readings.ret);
        cycle.verdict = said.slab;
        checks.slab.update(samples.slab, &cycle, &mut readings.slab);
        cycle.verdict = said.outdoor;
        checks
            .outdoor
            .update(samples.outdoor, &cycle, &mut readings.outdoor);
    }

    /// How long the slab has been cold, and how often steps came late.
    fn watch(
        &mut self,
        slab: Option<Celsius>,
        step: Duration,
        late: Duration,
        settings: &Settings,
    ) {
        let colder = |limit| slab.is_some_and(|slab| slab <= limit);
        self.slab_cold_for = if settings.mode == Mode::Drained {
            Duration::ZERO
        } else if colder(COLD_AT_ONCE) {
            self.slab_cold_for.max(COLD_FOR)
        } else if colder(settings.backup_emergency) {
            self.slab_cold_for + step
        } else {
            Duration::ZERO
        };
        self.since_late = self.since_late + step;
        if late > VERY_LATE {
            self.late_steps = self.late_steps.saturating_add(1);
            self.since_late = Duration::ZERO;
        } else if self.since_late >= LATE_FORGOTTEN {
            self.late_steps = 0;
        }
    }

    fn alarms(&self, row: &TraceRow, settings: &Settings) -> AlarmSet {
        let TraceRow {
            readings,
            estimate,
            summary: s,
            ..
        } = row;
        let unstable = self.restart.is_unstable() && row.now.since(self.boot) < CLEAN;
        let no_flow =
            estimate.pump_refuses || matches!(estimate.flow_proof, FlowProof::Absent(2..));
        let alarms = AlarmSet::lost(row.lost)
            .with(Alarm::Overheat, s.tripped)
            .with(Alarm::SlabCold, self.slab_cold_for >= COLD_FOR)
            .with(Alarm::NoFlow, no_flow)
            .with(Alarm::FireOut, s.failed_calls > 0)
            .with(Alarm::HeatBarred, s.barred)
            .with(Alarm::HeatWithoutCall, estimate.heat_without_call)
            .with(
                Alarm::StoreCold,
                estimate.store.is_some_and(|t| t <= settings.store_alarm),
            )
            .with(
                Alarm::UnstablePower,
                unstable || self.late_steps >= MANY_LATE,
            )
            .with(Alarm::SettingsLost, self.restart.settings_lost)
            .with(
                Alarm::SlabImplausible,
                estimate.slab_implausible || s.slab_contradicted,
            )
            .with(Alarm::LongBoilerDay, s.long_boiler_day)
            .with(Alarm::ManyStarts, row.status.starts_last_hour > MANY_STARTS)
            .with(Alarm::FlowWithPumpOff, estimate.flow_with_pump_off)
            .with(Alarm::Noisy, !readings.all(|reading| !reading.noisy));
        match row.shadow {
            Some(actual) => actual.that_follow(alarms),
            None => alarms,
        }
    }
}

/// The earlier of the next sensor cycle and the moment a hold ends.
fn next_wanted(now: Instant, status: &GuardStatus, settings: &Settings) -> Instant {
    let cycle = now + settings.sensor_cycle;
    match status.free_at {
        Some(free) => free.max(now + CLOSEST).min(cycle),
        None => cycle,
    }
}
