//! What the two controllers are taken through: a winter, a drill, or noise.

use controller_core::restart::Restart;
use controller_core::sensor::{BySensor, ReadFault, Sample};
use controller_core::settings::{Key, Mode, RawSettings, Settings};
use controller_core::time::{Duration, Instant};
use controller_core::units::Celsius;
use controller_core::{Command, Inputs, Switch};
use host_sim::questions::drill::{self, Drill};
use host_sim::sim::cancel::{Cancel, Cancelled};
use host_sim::sim::closed_loop::Pace;
use host_sim::sim::plant::PlantConfig;
use host_sim::sim::season::Run;
use host_sim::sim::stepper::{Stepped, Stepper, Taken};
use host_sim::sim::weather::Series;

/// Something that can be run with a controller wherever it is.
pub trait Scenario {
    /// Runs it; `row` hears of every trace row. Gives what it came to, in words.
    ///
    /// # Errors
    /// It cannot be run.
    fn run<S: Stepper>(
        &self,
        controller: &mut S,
        row: &mut dyn FnMut(&str),
    ) -> Result<String, String>;
}

/// The demo house through this weather, in closed loop.
#[derive(Clone, Debug)]
pub struct WinterRun {
    /// The weather.
    pub weather: Series,
    /// Seed of the sensors' noise.
    pub seed: u64,
}

struct Never;

impl From<Cancelled> for Never {
    fn from(_: Cancelled) -> Self {
        Self
    }
}

impl Scenario for WinterRun {
    fn run<S: Stepper>(
        &self,
        controller: &mut S,
        row: &mut dyn FnMut(&str),
    ) -> Result<String, String> {
        let (plant, settings) = (PlantConfig::default(), Settings::default());
        let run = Run {
            plant: &plant,
            settings: &settings,
            weather: &self.weather,
            seed: self.seed,
            pace: Pace::USUAL,
        };
        let mut line = String::new();
        let totals = run.go_with::<S, Never>(controller, &Cancel::new(), |report, _| {
            line.clear();
            report.write_row(Instant::from_millis(0), "", &mut line);
            row(&line);
            Ok(())
        });
        let totals = totals.map_err(|Never| "cancelled".to_owned())?;
        // To the last bit: the house itself went the same way.
        Ok(format!(
            "slab down to {} °C, {} kWh from the store, {} kWh of the circulator, {} kg of wood",
            totals.slab_true_min_c, totals.earth_heat_kwh, totals.pump_kwh, totals.wood_kg
        ))
    }
}

/// One drill.
#[derive(Clone, Copy, Debug)]
pub struct DrillRun<'a>(pub &'a Drill);

impl Scenario for DrillRun<'_> {
    fn run<S: Stepper>(
        &self,
        controller: &mut S,
        row: &mut dyn FnMut(&str),
    ) -> Result<String, String> {
        let origin = Instant::from_millis(self.0.clock_ms);
        let mut line = String::new();
        let outcome = drill::run_with(self.0, controller, &mut |step| {
            line.clear();
            step.report.write_row(origin, step.note, &mut line);
            row(&line);
            Ok(())
        });
        let outcome = outcome.map_err(|error| error.to_string())?;
        let failed: Vec<_> = outcome.verdicts.iter().filter(|v| !v.holds).collect();
        if failed.is_empty() {
            Ok(format!("{:?}", outcome.verdicts))
        } else {
            Err(format!("{}: {failed:?}", self.0.name))
        }
    }
}

/// Temperatures that wander through a winter with failing reads, late calls, a person's words and
/// changed settings in between; the same in every run.
#[derive(Clone, Copy, Debug)]
pub struct Noise {
    /// Length.
    pub steps: u32,
}

impl Scenario for Noise {
    fn run<S: Stepper>(
        &self,
        controller: &mut S,
        row: &mut dyn FnMut(&str),
    ) -> Result<String, String> {
        let start = Instant::from_millis(0);
        controller.begin(start);
        controller.boot(&Settings::default(), start, Restart::ORDINARY);
        let mut wander = Wander {
            seed: 7,
            celsius: [7.0, 6.0, 3.0, -8.0],
        };
        let (mut pump, mut boiler, mut changed) = (0, 0, 0);
        let mut line = String::new();
        for n in 0..self.steps {
            // Now and then the caller is a little late.
            let late = Duration::from_millis(if n % 50 == 0 { 1_234 } else { 0 });
            let samples = wander.samples(n);
            let command = wander.command();
            let before = *controller.settings().raw();
            let settings = wander.settings(before);
            let inputs = Inputs {
                samples,
                command,
                settings: settings.as_ref(),
                ..Inputs::default()
            };
            let report = controller
                .step(controller.next() + late, &inputs)
                .ok_or("a wanted step was not taken")?;
            let note = match report.taken() {
                Taken::Settings => {
                    changed += 1;
                    host_sim::account::event::settings_note(&before, controller.settings().raw())
                }
                Taken::Command | Taken::Nothing => String::new(),
            };
            pump += u32::from(report.outputs().circulator);
            boiler += u32::from(report.outputs().boiler_call);
            line.clear();
            report.write_row(start, &note, &mut line);
            row(&line);
        }
        Ok(format!(
            "circulator on in {pump}, boiler called in {boiler}, settings changed {changed} times"
        ))
    }
}

struct Wander {
    seed: u64,
    celsius: [f64; 4],
}

impl Wander {
    /// Even in 0..1. Source: Marsaglia, Xorshift RNGs, 2003 (shifts 13, 7, 17).
    fn random(&mut self) -> f64 {
        self.seed ^= self.seed << 13;
        self.seed ^= self.seed >> 7;
        self.seed ^= self.seed << 17;
        (self.seed >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn samples(&mut self, n: u32) -> BySensor<Sample> {
        let rest = [7.0, 6.0, 3.0, -8.0];
        let drift = [0.3, 0.3, 0.02, 0.2];
        BySensor::from_fn(|sensor| {
            let i = sensor as usize;
            self.celsius[i] +=
                (self.random() - 0.5) * drift[i] + (rest[i] - self.celsius[i]) * 0.002;
            match (self.random() * 4_000.0) as u32 {
                0 => Sample::Failed(ReadFault::Checksum),
                1 => Sample::Failed(ReadFault::PowerOn),
                // Now and then a chip is gone for an hour.
                _ if (n / 360) % 97 == 3 + i as u32 => Sample::Failed(ReadFault::Absent),
                _ => Sample::Framed(Celsius::from_128ths((self.celsius[i] * 16.0) as i16 * 8)),
            }
        })
    }

    fn command(&mut self) -> Option<Command> {
        match (self.random() * 20_000.0) as u32 {
            0 => Some(Command::Acknowledge),
            1 => Some(Command::Pump(Switch::On)),
            2 => Some(Command::Boiler(Switch::On)),
            3 => Some(Command::Mode(Mode::Summer)),
            4..=6 => Some(Command::Mode(Mode::Winter)),
            _ => None,
        }
    }

    /// One setting in its range, if the rules allow it.
    fn settings(&mut self, now: RawSettings) -> Option<Settings> {
        const CHANGED: [&str; 4] = [
            "target",
            "settling_time",
            "loop_effectiveness",
            "pump_starts",
        ];
        let n = (self.random() * 4_000.0) as usize;
        let field = Key::from_name(CHANGED.get(n)?)?.field();
        let (min, max) = (f64::from(field.min), f64::from(field.max));
        let mut raw = now;
        let bits = min + (max - min) * self.random();
        raw.set_bits(field.key, bits as i32).then_some(())?;
        Settings::check(raw).ok()
    }
}
