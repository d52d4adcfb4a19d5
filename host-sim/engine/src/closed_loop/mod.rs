//! A house and what steers its relays, step by step: the one closed loop that winters, nights, fault spells and comparisons
//! run on.
//!
//! The house moves on in stretches: a minute at rest, as long as the sensors' cycle while water moves, since supply and return
//! then change within seconds. Within a stretch a controller is called at every time it asks for, with readings in between;
//! a change of the relays reaches the house with the next stretch.

use controller_core::Inputs;
use controller_core::sensor::{BySensor, Sample};
use controller_core::time::Instant;
use controller_core::units::Celsius;

use crate::plant::sensors::nearest;
use crate::plant::{OutdoorConditions, Plant, Readings, Relays};
use crate::stepper::{Stepped as _, Stepper};

/// Length of the longest stretch, s.
pub const REST_S: u64 = 60;

/// Stretches in the time of one at rest while the circulator runs.
const RUNNING_STRETCHES: u64 = 6;

/// How long a stretch lasts, s.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pace {
    rest_s: u64,
    running_s: u64,
}

impl Pace {
    /// A minute at rest, ten seconds while the circulator runs.
    pub const USUAL: Self = Self::of_rest(REST_S);

    /// A minute throughout: for rules too plain to see what happens within it.
    pub const COARSE: Self = Self {
        rest_s: REST_S,
        running_s: REST_S,
    };

    /// A minute, and a third of it while something heats the water.
    pub const HEATED: Self = Self {
        rest_s: REST_S,
        running_s: REST_S / 3,
    };

    /// At rest so long, between 1 and 60 s; a sixth of it while the circulator runs.
    #[must_use]
    pub const fn of_rest(rest_s: u64) -> Self {
        let rest_s = match rest_s {
            0 => 1,
            REST_S.. => REST_S,
            _ => rest_s,
        };
        let running_s = match rest_s / RUNNING_STRETCHES {
            0 => 1,
            seconds => seconds,
        };
        Self { rest_s, running_s }
    }

    /// Length at rest, s.
    #[must_use]
    pub const fn rest_s(self) -> u64 {
        self.rest_s
    }

    /// To the next multiple of the length, so that stretches of either length meet again; at most to `until_s`.
    fn stretch_s(self, now_s: u64, runs: bool, until_s: u64) -> u64 {
        let step_s = if runs { self.running_s } else { self.rest_s };
        (step_s - now_s % step_s).min(until_s - now_s)
    }
}

/// Time that the house has just gone through.
#[derive(Clone, Copy, Debug)]
pub struct Stretch {
    /// Its beginning, s.
    pub from_s: u64,
    /// Its length, s.
    pub length_s: u64,
    /// The weather in it.
    pub outdoor: OutdoorConditions,
    /// The relays in it, as they were asked for.
    pub relays: Relays,
}

impl Stretch {
    /// Its end, s.
    #[must_use]
    pub const fn end_s(&self) -> u64 {
        self.from_s + self.length_s
    }
}

/// A house, its relays and its time.
#[derive(Clone, Debug)]
pub struct ClosedLoop {
    /// The house.
    pub plant: Plant,
    /// The relays from now on.
    pub relays: Relays,
    now_s: u64,
    pace: Pace,
}

impl ClosedLoop {
    /// With the relays at rest.
    #[must_use]
    pub fn new(plant: Plant, now_s: u64, pace: Pace) -> Self {
        Self {
            plant,
            relays: Relays::default(),
            now_s,
            pace,
        }
    }

    /// Where the house is in time, s.
    #[must_use]
    pub const fn now_s(&self) -> u64 {
        self.now_s
    }

    /// Moves the house on by one stretch, at most to `until_s`, which must lie ahead. `weather` is asked for its middle.
    pub fn go_on(
        &mut self,
        until_s: u64,
        weather: impl FnOnce(u64) -> OutdoorConditions,
    ) -> Stretch {
        self.go_on_with(self.relays, self.relays.circulator, until_s, weather)
    }

    /// The same where the house's relays are not what was asked for: `actual` is what they do, and `runs` whether the stretch
    /// is to be a short one.
    pub fn go_on_with(
        &mut self,
        actual: Relays,
        runs: bool,
        until_s: u64,
        weather: impl FnOnce(u64) -> OutdoorConditions,
    ) -> Stretch {
        let length_s = self.pace.stretch_s(self.now_s, runs, until_s);
        let outdoor = weather(self.now_s + length_s / 2);
        self.plant.step(length_s as f64, &outdoor, actual);
        let stretch = Stretch {
            from_s: self.now_s,
            length_s,
            outdoor,
            relays: self.relays,
        };
        self.now_s += length_s;
        stretch
    }

    /// Calls a controller at every time it asks for within the stretch, and at the stretch's very end if `to_the_end`.
    /// `inputs` adds to the samples what else the controller is given; `hears` is told of every step.
    ///
    /// # Errors
    /// What `hears` returns.
    pub fn steer<'i, S: Stepper, E>(
        &mut self,
        controller: &mut S,
        place: &mut Option<S::Report>,
        stretch: &Stretch,
        to_the_end: bool,
        mut inputs: impl FnMut(BySensor<Sample>) -> Inputs<'i>,
        mut hears: impl FnMut(&S::Report, &Self, Instant, &Readings) -> Result<(), E>,
    ) -> Result<(), E> {
        let start = Instant::from_millis(stretch.from_s * 1_000);
        let end = Instant::from_millis(stretch.end_s() * 1_000);
        while controller.next() < end || (to_the_end && controller.next() == end) {
            let now = controller.next();
            let into_s = f64::from(now.since(start).as_millis()) / 1_000.0;
            let readings = self.plant.read_at(into_s);
            let Some(report) = controller.step_in(now, &inputs(samples(&readings)), place) else {
                break;
            };
            self.relays = relays_of(report.outputs());
            self.plant.told = report.told();
            hears(report, self, now, &readings)?;
        }
        Ok(())
    }
}

/// The relays a controller asks for.
#[must_use]
pub const fn relays_of(outputs: controller_core::Outputs) -> Relays {
    Relays {
        circulator: outputs.circulator,
        boiler_call: outputs.boiler_call,
    }
}

/// Readings as the controller takes them: in 1/128 K, as a checked digital frame.
#[must_use]
pub fn samples(readings: &Readings) -> BySensor<Sample> {
    BySensor {
        supply: framed(readings.supply_c),
        ret: framed(readings.return_c),
        slab: framed(readings.slab_c),
        outdoor: framed(readings.outdoor_c),
    }
}

/// One reading so.
#[must_use]
pub fn framed(celsius: f64) -> Sample {
    let n = nearest(celsius * 128.0).clamp(f64::from(i16::MIN), f64::from(i16::MAX));
    Sample::Framed(Celsius::from_128ths(n as i16))
}

#[cfg(test)]
mod tests;
