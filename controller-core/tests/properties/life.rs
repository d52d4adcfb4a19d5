//! Random lives of a controller.

use controller_core::restart::{Restart, RestartCause};
use controller_core::sensor::{BySensor, ReadFault, Sample};
use controller_core::settings::{Field, Key, Kind, Mode, RawSettings, Settings};
use controller_core::time::{Duration, Instant};
use controller_core::units::Celsius;
use controller_core::{Command, Controller, Event, Inputs, StepReport, Switch};
use proptest::prelude::*;

use crate::support::Watch;

/// What one sensor says over a stretch.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Says {
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
pub(crate) enum Happens {
    Nothing,
    Command(Command),
    Settings(Box<Settings>),
    /// The first step comes late by so many milliseconds.
    Late(u32),
    Reboot(Restart),
}

#[derive(Clone, Debug)]
pub(crate) struct Stretch {
    pub(crate) says: BySensor<Says>,
    pub(crate) steps: u16,
    pub(crate) happens: Happens,
    pub(crate) feedback: Option<bool>,
    /// Values come with checked frames.
    pub(crate) framed: bool,
    /// Every step this much later than wanted, ms.
    pub(crate) slow: u16,
}

/// Temperatures at which something changes, in 1/1000 °C.
const EDGES: [i32; 40] = [
    -45_000, -40_000, -20_000, -18_000, -10_000, -6_000, -3_000, -2_000, 0, 500, 1_000, 1_500,
    1_700, 1_800, 2_000, 2_200, 3_000, 3_500, 4_000, 4_500, 5_000, 5_500, 6_000, 7_000, 8_000,
    9_000, 10_000, 12_000, 15_000, 20_000, 25_000, 30_000, 35_000, 40_000, 50_000, 55_000, 60_000,
    85_000, 95_000, 125_000,
];

fn temperature() -> impl Strategy<Value = i16> {
    let edge = (0..EDGES.len(), -1_i16..=1).prop_map(|(index, off)| {
        Celsius::from_milli(EDGES[index])
            .to_128ths()
            .saturating_add(off)
    });
    prop_oneof![6 => edge, 3 => 0_i16..1_280, 1 => any::<i16>()]
}

fn fault() -> impl Strategy<Value = ReadFault> {
    prop_oneof![
        Just(ReadFault::Missing),
        Just(ReadFault::Absent),
        Just(ReadFault::Checksum),
        Just(ReadFault::PowerOn),
        Just(ReadFault::Short),
        Just(ReadFault::Impossible),
    ]
}

fn says() -> impl Strategy<Value = Says> {
    prop_oneof![
        5 => temperature().prop_map(Says::Hold),
        3 => (temperature(), -40_i16..40).prop_map(|(from, by)| Says::Ramp(from, by)),
        1 => (temperature(), temperature()).prop_map(|(a, b)| Says::Flip(a, b)),
        1 => fault().prop_map(Says::Fail),
        6 => Just(Says::Same),
    ]
}

pub(crate) fn restart() -> impl Strategy<Value = Restart> {
    (
        1_u8..9,
        any::<bool>(),
        any::<bool>(),
        any::<bool>(),
        any::<u8>(),
    )
        .prop_map(|(boots, locked, owed, dark, jitter_s)| Restart {
            cause: RestartCause::BrownOut,
            boots_last_hour: boots,
            boiler_locked_recently: locked,
            post_run_owed: owed,
            long_dark: dark,
            settings_lost: false,
            jitter_s,
        })
}

fn command() -> impl Strategy<Value = Command> {
    let switch = || prop_oneof![Just(Switch::Auto), Just(Switch::On), Just(Switch::Off)];
    prop_oneof![
        4 => Just(Command::Mode(Mode::Winter)),
        1 => Just(Command::Mode(Mode::Summer)),
        1 => Just(Command::Mode(Mode::Drained)),
        1 => Just(Command::Mode(Mode::Commissioning)),
        3 => switch().prop_map(Command::Pump),
        3 => switch().prop_map(Command::Boiler),
        2 => Just(Command::Acknowledge),
    ]
}

/// Settings with some values at the ends of their ranges, as far as they go together.
pub(crate) fn settings() -> impl Strategy<Value = Settings> {
    let fields = Field::all();
    prop::collection::vec((0..fields.len(), 0_u8..3), 0..25).prop_map(move |changes| {
        let mut raw = RawSettings::DEFAULT;
        for (index, end) in changes {
            let field = fields[index];
            if field.key == Key::Mode {
                continue; // modes come as commands
            }
            let mut tried = raw;
            let bits = match (end, field.kind) {
                (0, _) => field.min,
                (1, _) => field.max,
                (_, Kind::Choice(_) | Kind::Switch) => field.max,
                (_, _) => field.min + (field.max - field.min) / 2,
            };
            if tried.set_bits(field.key, bits) && Settings::check(tried).is_ok() {
                raw = tried;
            }
        }
        Settings::check(raw).expect("every change kept it valid")
    })
}

fn happens() -> impl Strategy<Value = Happens> {
    let late = prop_oneof![
        Just(0),
        1_u32..5_000,
        Just(5_001),
        5_000_u32..60_000,
        Just(60_000),
        Just(60_001),
        60_000_u32..20_000_000,
    ];
    prop_oneof![
        10 => Just(Happens::Nothing),
        4 => command().prop_map(Happens::Command),
        1 => settings().prop_map(|s| Happens::Settings(Box::new(s))),
        3 => late.prop_map(Happens::Late),
        1 => restart().prop_map(Happens::Reboot),
    ]
}

fn stretch() -> impl Strategy<Value = Stretch> {
    let feedback = prop_oneof![8 => Just(None), 1 => Just(Some(true)), 1 => Just(Some(false))];
    let steps = prop_oneof![4 => 1_u16..10, 4 => 10_u16..120, 1 => 120_u16..900];
    let slow = prop_oneof![3 => Just(0), 1 => 0_u16..4_000];
    (
        (says(), says(), says(), says()),
        steps,
        happens(),
        feedback,
        prop::bool::weighted(0.8),
        slow,
    )
        .prop_map(
            |((supply, ret, slab, outdoor), steps, happens, feedback, framed, slow)| Stretch {
                says: BySensor {
                    supply,
                    ret,
                    slab,
                    outdoor,
                },
                steps,
                happens,
                feedback,
                framed,
                slow,
            },
        )
}

pub(crate) fn life(longest: usize) -> impl Strategy<Value = Vec<Stretch>> {
    prop::collection::vec(stretch(), 1..longest)
}

/// A controller on its way through a life.
#[derive(Clone)]
pub(crate) struct Alive {
    pub(crate) controller: Controller,
    pub(crate) watch: Watch,
    pub(crate) now: Instant,
    pub(crate) samples: BySensor<Sample>,
    pub(crate) feedback: Option<bool>,
    pub(crate) rows: u64,
}

impl Alive {
    pub(crate) fn born(settings: &Settings, restart: Restart, now: Instant) -> Self {
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
    pub(crate) fn step(
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
        };
        let report = self.controller.step(self.now, &inputs).expect("wanted");
        self.watch.row(&report, self.controller.settings());
        self.rows += 1;
        report
    }

    /// Lives one stretch; every row is watched and shown to `see`.
    pub(crate) fn live(&mut self, stretch: &Stretch, mut see: impl FnMut(&Self, &StepReport)) {
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
pub(crate) fn is_boot(report: &StepReport) -> bool {
    matches!(report.row.event, Event::Boot(_))
}
