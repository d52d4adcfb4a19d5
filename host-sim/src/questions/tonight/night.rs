//! The house through the night: under the controller itself, or under a plain rule in its place.
//!
//! The controller steps every sensor cycle and the plant with it while water moves; that is what a winter does, and what the
//! plain rule is judged against. The rule keeps the controller's band and differentials, and nothing else: no purge, no least times, no
//! sensors. It costs a tenth.

use controller_core::restart::Restart;
use controller_core::settings::{Mode, Settings};
use controller_core::time::Instant;
use controller_core::{Command, Controller, Inputs, Switch};

use crate::sim::plant::exchanger::loop_conductance_w_k;
use crate::sim::plant::operating::{LoopDesign, Path, REFERENCE_C};
use crate::sim::plant::{OutdoorConditions, Plant, PlantConfig, Relays};
use crate::sim::winter::{PLANT_STEP_S, samples};

/// Time between samples of the slab, s.
pub const SAMPLE_S: u64 = 600;
/// Plant step while water moves under the controller, s: as in a winter.
const RUNNING_STEP_S: u64 = 10;

/// Samples of a night: one at its beginning and one every [`SAMPLE_S`].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Course {
    /// The slab where its sensor is, °C.
    pub slab_c: Vec<f64>,
    /// First boiler call, s of the axis.
    pub first_call_s: Option<u64>,
}

impl Course {
    /// Coldest, °C.
    #[must_use]
    pub fn coldest_c(&self) -> f64 {
        self.slab_c.iter().copied().fold(f64::INFINITY, f64::min)
    }
}

/// First time a sampled course is below a limit, s after its beginning, between samples linearly.
#[must_use]
pub fn first_below(slab_c: &[f64], limit_c: f64) -> Option<f64> {
    let index = slab_c.iter().position(|&t| t < limit_c)?;
    let before = index.checked_sub(1).map(|i| slab_c[i]);
    let at = match before {
        Some(before) => index as f64 - 1.0 + (before - limit_c) / (before - slab_c[index]),
        None => 0.0,
    };
    Some(at * SAMPLE_S as f64)
}

/// Plant and controller.
#[derive(Clone, Debug)]
pub(super) struct House {
    pub(super) plant: Plant,
    pub(super) relays: Relays,
    pub(super) now_s: u64,
    /// A person calls the boiler by hand, again and again.
    pub(super) called_by_hand: bool,
    controller: Controller,
}

impl House {
    /// The controller boots at `now_s` of the axis.
    pub(super) fn new(plant: Plant, settings: &Settings, now_s: u64) -> House {
        House {
            plant,
            relays: Relays::default(),
            now_s,
            called_by_hand: false,
            controller: Controller::boot(settings.clone(), instant(now_s), Restart::ORDINARY),
        }
    }

    /// Runs on to `until_s` of the axis. New settings are taken with the first step. Adds to `course`.
    pub(super) fn run(
        &mut self,
        until_s: u64,
        weather: &impl Fn(u64) -> OutdoorConditions,
        mut settings: Option<&Settings>,
        course: &mut Course,
    ) {
        while self.now_s < until_s {
            let step_s = if self.relays.circulator {
                RUNNING_STEP_S
            } else {
                u64::from(PLANT_STEP_S)
            };
            let length_s = (step_s - self.now_s % step_s).min(until_s - self.now_s);
            let middle = weather(self.now_s + length_s / 2);
            self.plant.step(length_s as f64, &middle, self.relays);
            let end = instant(self.now_s + length_s);
            while self.controller.next() < end {
                let at = self.controller.next();
                let into_s = at.since(instant(self.now_s)).as_millis();
                let readings = self.plant.read_at(f64::from(into_s) / 1000.0);
                let inputs = Inputs {
                    samples: samples(&readings),
                    settings,
                    command: self.called_by_hand.then_some(Command::Boiler(Switch::On)),
                    ..Inputs::default()
                };
                let Some(report) = self.controller.step(at, &inputs) else {
                    break;
                };
                settings = None;
                self.relays = Relays {
                    circulator: report.outputs.circulator,
                    boiler_call: report.outputs.boiler_call,
                };
                if report.outputs.boiler_call && course.first_call_s.is_none() {
                    course.first_call_s = Some(at.as_millis() / 1000);
                }
            }
            self.now_s += length_s;
            if self.now_s.is_multiple_of(SAMPLE_S) {
                course.slab_c.push(self.plant.truth().slab_c);
            }
        }
    }
}

fn instant(second: u64) -> Instant {
    Instant::from_millis(second * 1000)
}

/// A run's memory under the plain rule.
#[derive(Clone, Debug)]
pub(super) struct Rule {
    limits: Limits,
    calling: bool,
    frost: bool,
    worth: bool,
}

/// The settings it goes by, as plain numbers.
#[derive(Clone, Copy, Debug)]
struct Limits {
    /// The circuit is empty.
    drained: bool,
    /// The slab is heated; otherwise only frost is kept out.
    heats: bool,
    slab_set_c: f64,
    half_band_k: f64,
    start_k: f64,
    /// Store above slab at which supply less return falls to the stop difference, K.
    stop_k: f64,
    frost_on_c: f64,
    frost_off_c: f64,
}

impl Limits {
    fn new(settings: &Settings, plant: &PlantConfig) -> Limits {
        let point = LoopDesign::new(plant).flow_point(Path::Series, REFERENCE_C);
        let conductance = loop_conductance_w_k(
            point.capacity_w_k,
            point.store_effectiveness,
            point.house_effectiveness,
        );
        let celsius = |t: controller_core::units::Celsius| t.to_fixed().to_num::<f64>();
        let kelvin = |t: controller_core::units::Kelvin| t.to_fixed().to_num::<f64>();
        Limits {
            drained: settings.mode == Mode::Drained,
            heats: matches!(settings.mode, Mode::Winter | Mode::Commissioning),
            slab_set_c: celsius(settings.slab_set),
            half_band_k: kelvin(settings.slab_band) / 2.0,
            start_k: kelvin(settings.start_difference),
            stop_k: kelvin(settings.stop_difference) * point.capacity_w_k / conductance,
            frost_on_c: celsius(settings.frost_on),
            frost_off_c: celsius(settings.frost_off),
        }
    }
}

impl Rule {
    pub(super) fn new(settings: &Settings, plant: &PlantConfig) -> Rule {
        Rule {
            limits: Limits::new(settings, plant),
            calling: false,
            frost: false,
            worth: false,
        }
    }

    /// Starts a night in the state the controller was in.
    pub(super) fn running(mut self, running: bool) -> Rule {
        self.calling |= running;
        self.worth |= running;
        self
    }

    /// Whether the circulator runs next, given slab and store floor, °C.
    fn decide(&mut self, slab_c: f64, store_c: f64) -> bool {
        let limits = self.limits;
        let (lower, upper) = (
            limits.slab_set_c - limits.half_band_k,
            limits.slab_set_c + limits.half_band_k,
        );
        self.calling = if self.calling {
            slab_c < upper
        } else {
            slab_c <= lower
        };
        self.frost = slab_c <= limits.frost_on_c || self.frost && slab_c < limits.frost_off_c;
        let least_k = if self.worth {
            limits.stop_k
        } else {
            limits.start_k
        };
        self.worth = store_c - slab_c >= least_k;
        let harvest = limits.heats && self.worth && self.calling;
        !limits.drained && (harvest || self.frost)
    }

    /// Runs a plant on to `until_s` under this rule, with the boiler left alone.
    pub(super) fn run(
        &mut self,
        plant: &mut Plant,
        now_s: u64,
        until_s: u64,
        weather: &impl Fn(u64) -> OutdoorConditions,
        mut each_sample: impl FnMut(u64, &mut Plant),
    ) {
        let step_s = u64::from(PLANT_STEP_S);
        let mut at_s = now_s;
        while at_s < until_s {
            let length_s = (step_s - at_s % step_s).min(until_s - at_s);
            let outdoor = weather(at_s + length_s / 2);
            let slab_c = plant.truth().slab_c;
            let circulator = self.decide(slab_c, plant.store_floor_c());
            let relays = Relays {
                circulator,
                boiler_call: false,
            };
            plant.step(length_s as f64, &outdoor, relays);
            at_s += length_s;
            if at_s.is_multiple_of(SAMPLE_S) {
                each_sample(at_s, plant);
            }
        }
    }
}
