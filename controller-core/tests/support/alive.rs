//! A controller on its way through a life: stretches of readings with what happens in them, every
//! row watched. The random properties and the fuzzing targets live the same lives.

use controller_core::restart::Restart;
use controller_core::sensor::{BySensor, ReadFault, Sample};
use controller_core::settings::Settings;
use controller_core::time::{Duration, Instant};
use controller_core::units::Celsius;
use controller_core::{Command, Controller, Event, Inputs, StepReport};

use super::Watch;

/// What one sensor says over a stretch.
#[derive(Clone, Copy, Debug)]
pub enum Says {
    /// The same, 1/128 K.
    Hold(i16),
    /// From here, so much a step.
    Ramp(i16, i16),
    /// Two values in turn.
    Flip(i16, i16),
    /// Nothing.
    Fail(ReadFault),
    /// As before the stretch.
    Same,
}

/// Something that happens at the start of a stretch.
#[derive(Clone, Debug)]
pub enum Happens {
    Nothing,
    Command(Command),
    Settings(Box<Settings>),
    /// The first step comes late by so many milliseconds.
    Late(u32),
    Reboot(Restart),
}

#[derive(Clone, Debug)]
pub struct Stretch {
    pub says: BySensor<Says>,
    pub steps: u16,
    pub happens: Happens,
    pub feedback: Option<bool>,
    /// Values come with checked frames.
    pub framed: bool,
    /// Every step this much later than wanted, ms.
    pub slow: u16,
}

/// Temperatures at which something changes, in 1/1000 °C.
pub const EDGES: [i32; 40] = [
    -45_000, -40_000, -20_000, -18_000, -10_000, -6_000, -3_000, -2_000, 0, 500, 1_000, 1_500,
    1_700, 1_800, 2_000, 2_200, 3_000, 3_500, 4_000, 4_500, 5_000, 5_500, 6_000, 7_000, 8_000,
    9_000, 10_000, 12_000, 15_000, 20_000, 25_000, 30_000, 35_000, 40_000, 50_000, 55_000, 60_000,
    85_000, 95_000, 125_000,
];

/// A controller on its way through a life.
#[derive(Clone)]
pub struct Alive {
    pub controller: Controller,
    pub watch: Watch,
    pub now: Instant,
    pub samples: BySensor<Sample>,
    pub feedback: Option<bool>,
    pub rows: u64,
}

impl Alive {
    pub fn born(settings: &Settings, restart: Restart, now: Instant) -> Self {
        let value = |n| Sample::Framed(Celsius::from_128ths(n));
        Self {
            controller: Controller::boot(settings.clone(), now, restart),
            watch: Watch::boot(now),
            now,
            samples: BySensor {
                supply: value(768),
                ret: value(768),
                slab: value(512),
                outdoor: value(-384),
            },
            feedback: None,
            rows: 0,
        }
    }

    fn reading(says: Says, step: u16, framed: bool, before: Sample) -> Sample {
        let value = |n: i16| {
            let t = Celsius::from_128ths(n);
            if framed {
                Sample::Framed(t)
            } else {
                Sample::Value(t)
            }
        };
        match says {
            Says::Hold(n) => value(n),
            Says::Ramp(from, by) => {
                let by = i32::from(by) * i32::from(step);
                value(i16::try_from(i32::from(from) + by).unwrap_or(from))
            }
            Says::Flip(a, b) => value(if step.is_multiple_of(2) { a } else { b }),
            Says::Fail(fault) => Sample::Failed(fault),
            Says::Same => before,
        }
    }

    /// One step, so much after the wanted time.
    pub fn step(
        &mut self,
        late: Duration,
        command: Option<Command>,
        settings: Option<&Settings>,
    ) -> StepReport {
        self.now = self.controller.next() + late;
        let inputs = Inputs {
            samples: self.samples,
            pump_feedback: self.feedback,
            command,
            settings,
            ..Inputs::default()
        };
        let report = self.controller.step(self.now, &inputs).expect("wanted");
        self.watch.row(&report, self.controller.settings());
        self.rows += 1;
        report
    }

    /// Lives one stretch; every row is watched and shown to `see`.
    pub fn live(&mut self, stretch: &Stretch, mut see: impl FnMut(&Self, &StepReport)) {
        let (mut command, mut adopted, mut late) = (None, None, 0);
        match &stretch.happens {
            Happens::Nothing => {}
            Happens::Command(given) => command = Some(*given),
            Happens::Settings(given) => adopted = Some(given.as_ref()),
            Happens::Late(by) => late = *by,
            Happens::Reboot(restart) => {
                let settings = self.controller.settings().clone();
                self.controller = Controller::boot(settings, self.now, *restart);
                self.watch.reboot(self.now);
                // The first step follows at once; an instant has one row.
                late = 1;
            }
        }
        self.feedback = stretch.feedback;
        let before = self.samples;
        for step in 0..stretch.steps {
            self.samples = BySensor::from_fn(|sensor| {
                Self::reading(
                    *stretch.says.get(sensor),
                    step,
                    stretch.framed,
                    *before.get(sensor),
                )
            });
            let late_now = std::mem::take(&mut late).max(u32::from(stretch.slow));
            let report = self.step(Duration::from_millis(late_now), command, adopted);
            see(self, &report);
            (command, adopted) = (None, None);
        }
    }
}

/// Was this row the first after a boot?
pub fn is_boot(report: &StepReport) -> bool {
    matches!(report.row.event, Event::Boot(_))
}
