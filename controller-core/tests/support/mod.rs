//! A bench for the controller: readings in, rows out, every row watched.
//!
//! [`Bench`] steps a controller exactly when it wants to be stepped; [`Watch`] checks on every row
//! what must hold always; [`Plant`] is a toy house where readings must answer the outputs.

#![allow(
    dead_code,
    unreachable_pub,
    reason = "a module of several test binaries, each of which uses its own part"
)]

mod alive;
mod plant;
mod watch;

#[allow(unused_imports, reason = "lives are for the properties only")]
pub use alive::{Alive, EDGES, Happens, Says, Stretch, is_boot};
pub use plant::Plant;
pub use watch::Watch;

use controller_core::restart::Restart;
use controller_core::sensor::{BySensor, ReadFault, Sample, Sensor};
use controller_core::settings::{RawSettings, Settings};
use controller_core::time::{Duration, Instant};
use controller_core::units::{Celsius, Kelvin};
use controller_core::{ActualRelays, Command, Controller, Inputs, StepReport};

/// °C to the nearest 1/128 K.
pub fn c(celsius: f64) -> Celsius {
    Celsius::from_128ths((celsius * 128.0).round() as i16)
}

/// K.
pub fn k(kelvin: f64) -> Kelvin {
    Kelvin::from_milli((kelvin * 1_000.0).round() as i32)
}

pub fn as_f64(t: Celsius) -> f64 {
    f64::from(t.to_bits()) / 65_536.0
}

pub const fn secs(n: u32) -> Duration {
    Duration::from_secs(n)
}

pub const fn mins(n: u32) -> Duration {
    Duration::from_mins(n)
}

pub const fn hours(n: u32) -> Duration {
    Duration::from_hours(n)
}

/// The demonstration settings with some changed.
pub fn settings(change: impl FnOnce(&mut RawSettings)) -> Settings {
    let mut raw = RawSettings::DEFAULT;
    change(&mut raw);
    match Settings::check(raw) {
        Ok(settings) => settings,
        Err(problems) => panic!("{problems:?}"),
    }
}

/// A controller, a clock and what the sensors say.
#[derive(Clone)]
pub struct Bench {
    pub controller: Controller,
    /// Start of the timeline.
    pub origin: Instant,
    /// Time of the last step.
    pub now: Instant,
    pub samples: BySensor<Sample>,
    pub feedback: Option<bool>,
    /// What really ran, where the relays are somebody else's.
    pub shadow: Option<ActualRelays>,
    pub plant: Option<Plant>,
    /// Without a plant: does the supply move against the return for a moment when the circulator
    /// starts, as moving water makes it?
    pub stirred: bool,
    pub watch: Watch,
    command: Option<Command>,
    settings: Option<Settings>,
    last: Option<StepReport>,
    /// How far the timeline has been told.
    told: Duration,
}

impl Bench {
    /// Winter, the demonstration settings, slab 4, pipes at rest 6, outdoors -3 °C.
    pub fn new() -> Self {
        Self::with(|_| {})
    }

    pub fn with(change: impl FnOnce(&mut RawSettings)) -> Self {
        Self::booted(settings(change), Restart::ORDINARY)
    }

    pub fn booted(settings: Settings, restart: Restart) -> Self {
        // An odd start, so that nothing rests on the counter's zero.
        let origin = Instant::from_millis(u64::from(u32::MAX) - 123_456);
        Self::booted_at(origin, settings, restart)
    }

    pub fn booted_at(origin: Instant, settings: Settings, restart: Restart) -> Self {
        let mut bench = Self {
            watch: Watch::boot(origin),
            controller: Controller::boot(settings, origin, restart),
            origin,
            now: origin,
            samples: BySensor::default(),
            feedback: None,
            shadow: None,
            plant: None,
            stirred: true,
            command: None,
            settings: None,
            last: None,
            told: Duration::ZERO,
        };
        bench.read(6.0, 6.0, 4.0, -3.0);
        bench
    }

    /// Sets all four readings, °C.
    pub fn read(&mut self, supply: f64, ret: f64, slab: f64, outdoor: f64) {
        self.set(Sensor::Supply, supply);
        self.set(Sensor::Return, ret);
        self.set(Sensor::Slab, slab);
        self.set(Sensor::Outdoor, outdoor);
    }

    /// Sets one reading, °C.
    pub fn set(&mut self, sensor: Sensor, celsius: f64) {
        *self.samples.get_mut(sensor) = Sample::Framed(c(celsius));
    }

    /// From now on this sensor's reads fail.
    pub fn lose(&mut self, sensor: Sensor) {
        self.fail(sensor, ReadFault::Absent);
    }

    pub fn fail(&mut self, sensor: Sensor, fault: ReadFault) {
        *self.samples.get_mut(sensor) = Sample::Failed(fault);
        if let Some(plant) = &mut self.plant {
            *plant.overridden.get_mut(sensor) = Some(Sample::Failed(fault));
        }
    }

    /// In a plant: this sensor says something else than the truth.
    pub fn lie(&mut self, sensor: Sensor, celsius: f64) {
        let sample = Sample::Framed(c(celsius));
        *self.samples.get_mut(sensor) = sample;
        if let Some(plant) = &mut self.plant {
            *plant.overridden.get_mut(sensor) = Some(sample);
        }
    }

    /// A command for the next step.
    pub fn command(&mut self, command: Command) {
        self.command = Some(command);
    }

    /// New settings for the next step.
    pub fn adopt(&mut self, settings: Settings) {
        self.settings = Some(settings);
    }

    /// One step at the wanted time.
    #[track_caller]
    pub fn step(&mut self) -> &StepReport {
        self.step_late(Duration::ZERO)
    }

    /// One step so much after the wanted time.
    #[track_caller]
    pub fn step_late(&mut self, late: Duration) -> &StepReport {
        let at = self.controller.next() + late;
        if let Some(plant) = &mut self.plant {
            let (pump, boiler) = self.last.as_ref().map_or((false, false), |r| {
                (r.outputs.circulator, r.outputs.boiler_call)
            });
            let actual = self.shadow.unwrap_or_default();
            let pump = actual.circulator.unwrap_or(pump);
            let boiler = actual.boiler_call.unwrap_or(boiler);
            plant.pass(at.since(self.now), pump, boiler);
            self.samples = plant.samples();
        }
        self.now = at;
        let adopted = self.settings.take();
        let inputs = Inputs {
            samples: self.stirred_samples(),
            pump_feedback: self.feedback,
            shadow: self.shadow,
            command: self.command.take(),
            settings: adopted.as_ref(),
        };
        let report = self.controller.step(at, &inputs).expect("wanted now");
        self.watch.row(&report, self.controller.settings());
        self.last.insert(report)
    }

    fn stirred_samples(&self) -> BySensor<Sample> {
        let started = self
            .last
            .as_ref()
            .is_some_and(|r| r.outputs.circulator && r.row.status.pump_for == Duration::ZERO);
        let colder = |sample| match sample {
            Sample::Framed(t) => Sample::Framed(t - k(0.75)),
            other => other,
        };
        let mut samples = self.samples;
        if started && self.stirred && self.plant.is_none() {
            samples.supply = colder(samples.supply);
        }
        samples
    }

    /// Takes the slab to a temperature as fast as a slab reading is trusted to go.
    #[track_caller]
    pub fn slab_to(&mut self, celsius: f64) {
        let mut slab = self.samples.slab.value().map_or(celsius, as_f64);
        while (slab - celsius).abs() > 0.01 {
            slab += (celsius - slab).clamp(-0.5, 0.5);
            self.set(Sensor::Slab, slab);
            self.step();
        }
        self.told = self.told.max(self.time());
    }

    /// Steps until the timeline's time; later steps than that are not made. Time must grow.
    #[track_caller]
    pub fn until(&mut self, time: Duration) -> &StepReport {
        assert!(time >= self.told, "a timeline does not go back");
        self.told = time;
        while self.controller.next() <= self.origin + time {
            self.step();
        }
        self.last.as_ref().expect("stepped at least once")
    }

    /// Steps for so much longer.
    #[track_caller]
    pub fn pass(&mut self, time: Duration) -> &StepReport {
        let until = self.told + time;
        self.until(until)
    }

    /// Steps until the condition holds, at most for so long; gives the time it took.
    #[track_caller]
    pub fn wait_for(
        &mut self,
        most: Duration,
        what: &str,
        holds: impl Fn(&StepReport) -> bool,
    ) -> Duration {
        let start = self.now;
        if self.last.as_ref().is_some_and(&holds) {
            return Duration::ZERO;
        }
        while self.controller.next().since(start) <= most {
            if holds(self.step()) {
                self.told = self.told.max(self.now.since(self.origin));
                return self.now.since(start);
            }
        }
        panic!("waited {most:?} for {what}: {}", self.words());
    }

    /// Steps for so long, and the condition must hold on every row.
    #[track_caller]
    pub fn always(&mut self, time: Duration, what: &str, holds: impl Fn(&StepReport) -> bool) {
        let until = self.now + time;
        while self.controller.next() <= until {
            let ok = holds(self.step());
            assert!(ok, "{what}: {}", self.words());
        }
        self.told = self.told.max(self.now.since(self.origin));
    }

    /// The last step's report.
    pub fn report(&self) -> &StepReport {
        self.last.as_ref().expect("stepped at least once")
    }

    pub fn pump(&self) -> bool {
        self.report().outputs.circulator
    }

    pub fn boiler(&self) -> bool {
        self.report().outputs.boiler_call
    }

    pub fn reason(&self) -> &'static str {
        self.report().row.reason.name()
    }

    pub fn alarm(&self, alarm: controller_core::alarm::Alarm) -> bool {
        self.report().row.alarms.has(alarm)
    }

    /// Time since the start.
    pub fn time(&self) -> Duration {
        self.now.since(self.origin)
    }

    /// The last row as text.
    pub fn words(&self) -> String {
        let mut line = String::new();
        let report = self.report();
        report
            .row
            .write_csv(self.origin, "", &mut line)
            .expect("a string takes it");
        let names = controller_core::trace::HEADER.split(',');
        let cells = names.zip(line.split(','));
        cells
            .filter(|(_, value)| !value.is_empty())
            .map(|(name, value)| format!("{name}={value} "))
            .collect()
    }
}
