//! The house through the night: under the controller itself, or under a plain rule in its place.
//!
//! The controller steps every sensor cycle and the plant with it while water moves; that is what a winter does, and what the
//! plain rule is judged against. The rule keeps the controller's band and differentials, and nothing else: no settling time, no least times, no
//! sensors. It costs a tenth.

use std::convert::Infallible;

use controller_core::restart::Restart;
use controller_core::settings::{Mode, Settings};
use controller_core::time::Instant;
use controller_core::{Command, Controller, Inputs, Switch};

use crate::sim::closed_loop::{ClosedLoop, Pace};
use crate::sim::plant::exchanger::loop_conductance_w_k;
use crate::sim::plant::operating::{LoopDesign, Path, REFERENCE_C};
use crate::sim::plant::{OutdoorConditions, Plant, PlantConfig, Relays};

/// Time between samples of the slab, s.
pub const SAMPLE_S: u64 = 600;

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

/// House and controller.
#[derive(Clone, Debug)]
pub(super) struct House {
    house: ClosedLoop,
    /// A person calls the boiler by hand, again and again.
    pub(super) called_by_hand: bool,
    controller: Controller,
}

impl House {
    /// The controller boots at `now_s` of the axis.
    pub(super) fn new(plant: Plant, settings: &Settings, now_s: u64) -> House {
        House {
            house: ClosedLoop::new(plant, now_s, Pace::USUAL),
            called_by_hand: false,
            controller: Controller::boot(
                settings.clone(),
                Instant::from_millis(now_s * 1000),
                Restart::ORDINARY,
            ),
        }
    }

    /// The house itself.
    pub(super) const fn plant(&self) -> &Plant {
        &self.house.plant
    }

    /// The house, to be changed from outside.
    pub(super) const fn plant_mut(&mut self) -> &mut Plant {
        &mut self.house.plant
    }

    /// The relays from now on.
    pub(super) const fn relays(&self) -> Relays {
        self.house.relays
    }

    /// Where it is on the axis, s.
    pub(super) const fn now_s(&self) -> u64 {
        self.house.now_s()
    }

    /// Runs on to `until_s` of the axis. New settings are taken with the first step. Adds to `course`.
    pub(super) fn run(
        &mut self,
        until_s: u64,
        weather: &impl Fn(u64) -> OutdoorConditions,
        mut settings: Option<&Settings>,
        course: &mut Course,
    ) {
        let command = self.called_by_hand.then_some(Command::Boiler(Switch::On));
        let mut report = None;
        while self.house.now_s() < until_s {
            let stretch = self.house.go_on(until_s, weather);
            let heard: Result<(), Infallible> = self.house.steer(
                &mut self.controller,
                &mut report,
                &stretch,
                false,
                |samples| Inputs {
                    samples,
                    settings: settings.take(),
                    command,
                    ..Inputs::default()
                },
                |report, _, now, _| {
                    if report.outputs.boiler_call {
                        course.first_call_s.get_or_insert(now.as_millis() / 1000);
                    }
                    Ok(())
                },
            );
            let Ok(()) = heard;
            if self.house.now_s().is_multiple_of(SAMPLE_S) {
                course.slab_c.push(self.house.plant.truth().slab_c);
            }
        }
    }
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
        let store_heat = limits.heats && self.worth && self.calling;
        !limits.drained && (store_heat || self.frost)
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
        let mut house = ClosedLoop::new(plant.clone(), now_s, Pace::COARSE);
        while house.now_s() < until_s {
            let slab_c = house.plant.truth().slab_c;
            house.relays.circulator = self.decide(slab_c, house.plant.store_floor_c());
            house.go_on(until_s, weather);
            if house.now_s().is_multiple_of(SAMPLE_S) {
                each_sample(house.now_s(), &mut house.plant);
            }
        }
        *plant = house.plant;
    }
}
