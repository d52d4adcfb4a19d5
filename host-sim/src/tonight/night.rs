//! The house through the night: under the controller itself, or under a plain rule in its place.
//!
//! The controller steps every sensor cycle and the plant with it while water moves; that is what a winter does, and what the
//! plain rule is judged against. The rule keeps the controller's band, look ahead and differentials, and nothing else: no purge, no
//! sampling, no least times, no sensors. It costs a tenth.

use std::collections::VecDeque;

use controller_core::restart::Restart;
use controller_core::settings::{Mode, Settings};
use controller_core::time::Instant;
use controller_core::{Command, Controller, Inputs, Switch};

use crate::plant::exchanger::loop_conductance_w_k;
use crate::plant::operating::{LoopDesign, Path, REFERENCE_C};
use crate::plant::{OutdoorConditions, Plant, PlantConfig, Relays};
use crate::winter::{PLANT_STEP_S, samples};

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
    outdoor_mean_c: f64,
    calling: bool,
    early: bool,
    frost: bool,
    worth: bool,
    /// Slab every ten minutes, newest last, over the slope's window.
    slab_c: VecDeque<f64>,
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
    outdoor_time_s: f64,
    reset_gain: f64,
    reset_start_c: f64,
    reset_max_k: f64,
    horizon_h: f64,
    window: usize,
    start_k: f64,
    /// Store above slab at which supply less return falls to the stop difference, K.
    stop_k: f64,
    store_low_c: f64,
    frost_on_c: f64,
    frost_off_c: f64,
}

/// Outdoor air above which the look ahead starts nothing, °C: the controller's own limit.
const NO_FROST_AIR_C: f64 = 3.0;

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
        let ratio = |r: controller_core::units::Ratio| r.to_fixed().to_num::<f64>();
        let hours = |d: controller_core::time::Duration| f64::from(d.as_millis()) / 3.6e6;
        Limits {
            drained: settings.mode == Mode::Drained,
            heats: matches!(settings.mode, Mode::Winter | Mode::Commissioning),
            slab_set_c: celsius(settings.slab_set),
            half_band_k: kelvin(settings.slab_band) / 2.0,
            outdoor_time_s: hours(settings.outdoor_time) * 3600.0,
            reset_gain: ratio(settings.reset_gain),
            reset_start_c: celsius(settings.reset_start),
            reset_max_k: kelvin(settings.reset_max),
            horizon_h: hours(settings.horizon),
            window: (hours(settings.slope_window) * 3600.0 / SAMPLE_S as f64) as usize,
            start_k: kelvin(settings.start_difference),
            stop_k: kelvin(settings.stop_difference) * point.capacity_w_k / conductance,
            store_low_c: celsius(settings.store_low),
            frost_on_c: celsius(settings.frost_on),
            frost_off_c: celsius(settings.frost_off),
        }
    }
}

impl Rule {
    pub(super) fn new(settings: &Settings, plant: &PlantConfig, outdoor_mean_c: f64) -> Rule {
        Rule {
            limits: Limits::new(settings, plant),
            outdoor_mean_c,
            calling: false,
            early: false,
            frost: false,
            worth: false,
            slab_c: VecDeque::new(),
        }
    }

    /// Starts a night in the state the controller was in.
    pub(super) fn running(mut self, running: bool) -> Rule {
        self.calling |= running;
        self.worth |= running;
        self
    }

    /// Whether the circulator runs next, given slab, store floor and outdoor air, °C.
    fn decide(&mut self, slab_c: f64, store_c: f64, outdoor_c: f64, dt_s: f64) -> bool {
        let limits = self.limits;
        self.outdoor_mean_c += (outdoor_c - self.outdoor_mean_c) * (dt_s / limits.outdoor_time_s);
        let raise = ((limits.reset_start_c - self.outdoor_mean_c) * limits.reset_gain)
            .min(limits.reset_max_k)
            .max(0.0);
        let set = limits.slab_set_c + raise;
        let (lower, upper) = (set - limits.half_band_k, set + limits.half_band_k);
        self.calling = if self.calling {
            slab_c < upper
        } else {
            slab_c <= lower
        };
        let ahead = match (self.slab_c.front(), self.slab_c.len()) {
            (Some(oldest), n) if n > limits.window / 2 && n > 1 => {
                let hours = (n - 1) as f64 * SAMPLE_S as f64 / 3600.0;
                slab_c + (slab_c - oldest) / hours * limits.horizon_h
            }
            _ => f64::INFINITY,
        };
        let limit = if self.early { set } else { lower };
        self.early =
            ahead < limit && slab_c < upper && limits.horizon_h > 0.0 && outdoor_c < NO_FROST_AIR_C;
        self.frost = slab_c <= limits.frost_on_c || self.frost && slab_c < limits.frost_off_c;
        let above = store_c - slab_c;
        self.worth = store_c > limits.store_low_c
            && above
                >= if self.worth {
                    limits.stop_k
                } else {
                    limits.start_k
                };
        let harvest = limits.heats && self.worth && (self.calling || self.early);
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
            let circulator = self.decide(
                slab_c,
                plant.store_floor_c(),
                outdoor.air_c,
                length_s as f64,
            );
            let relays = Relays {
                circulator,
                boiler_call: false,
            };
            plant.step(length_s as f64, &outdoor, relays);
            at_s += length_s;
            if at_s.is_multiple_of(SAMPLE_S) {
                if self.slab_c.len() > self.limits.window {
                    self.slab_c.pop_front();
                }
                self.slab_c.push_back(plant.truth().slab_c);
                each_sample(at_s, plant);
            }
        }
    }
}
