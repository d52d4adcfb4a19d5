//! A season: the controller in closed loop with the house, through weather.

use controller_core::restart::Restart;
use controller_core::settings::{BoilerKind, RawSettings, Settings};
use controller_core::time::Instant;
use controller_core::{Controller, Inputs, StepReport};

use super::beside::Extra;
use super::cancel::{Cancel, Cancelled};
use super::closed_loop::{ClosedLoop, Pace};
use super::plant::{Plant, PlantConfig, Relays};
use super::stepper::{Stepped as _, Stepper};
use super::tally::{Season, Tally};
use super::weather::Series;

/// One run.
#[derive(Clone, Debug)]
pub struct Run<'a> {
    /// The house.
    pub plant: &'a PlantConfig,
    /// The controller's settings.
    pub settings: &'a Settings,
    /// The weather, prepared for the period.
    pub weather: &'a Series,
    /// Seed of everything random: sensor noise and scatter.
    pub seed: u64,
    /// Lengths of the house's stretches.
    pub pace: Pace,
}

/// A winter with something taken away.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Variant {
    /// As it is.
    Both,
    /// The store alone.
    WithoutBoiler,
    /// No water moves at all.
    WithoutLoop,
}

impl Variant {
    /// In words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Both => "loop and boiler",
            Self::WithoutBoiler => "without the boiler",
            Self::WithoutLoop => "without the loop",
        }
    }

    /// House and settings of this variant.
    #[must_use]
    pub fn apply(self, plant: &PlantConfig, settings: &Settings) -> (PlantConfig, Settings) {
        let mut plant = plant.clone();
        let mut raw: RawSettings = *settings.raw();
        match self {
            Self::Both => {}
            Self::WithoutBoiler => {
                plant.boiler = None;
                raw.boiler = BoilerKind::None;
            }
            Self::WithoutLoop => {
                plant.boiler = None;
                raw.boiler = BoilerKind::None;
                raw.mode = controller_core::settings::Mode::Drained;
            }
        }
        let settings = Settings::check(raw).unwrap_or_else(|_| settings.clone());
        (plant, settings)
    }
}

/// The house at one step of the controller.
pub struct Seen<'a> {
    /// The house at the end of the plant's step.
    pub plant: &'a Plant,
    /// The relays from now on.
    pub relays: Relays,
    /// End of the plant's step, s since the start.
    pub now_s: u64,
    /// How long the relays stand, ms.
    pub stands_ms: u64,
    /// What a log of this house would hold beside the controller's inputs.
    pub extra: Extra,
}

/// Plant steps at rest between looks at Ctrl-C.
const LOOK_EVERY: u64 = 1_440;

impl Run<'_> {
    /// Runs the whole period. `step` hears of every controller step and sees the house as it is then.
    ///
    /// # Errors
    /// Ctrl-C, or what `step` returns.
    pub fn go<E: From<Cancelled>>(
        &self,
        cancel: &Cancel,
        step: impl FnMut(&StepReport, &Seen<'_>) -> Result<(), E>,
    ) -> Result<Season, E> {
        let start = Instant::from_millis(0);
        let mut controller = Controller::boot(self.settings.clone(), start, Restart::ORDINARY);
        self.go_with(&mut controller, cancel, step)
    }

    /// The same as [`Run::go`] with a controller that may run elsewhere; it is booted first.
    ///
    /// # Errors
    /// As [`Run::go`].
    pub fn go_with<S: Stepper, E: From<Cancelled>>(
        &self,
        controller: &mut S,
        cancel: &Cancel,
        step: impl FnMut(&S::Report, &Seen<'_>) -> Result<(), E>,
    ) -> Result<Season, E> {
        let mut underway = self.begin(controller, 1);
        self.advance(&mut underway, controller, u64::MAX, cancel, step)?;
        Ok(Season::of_all(&underway.finished))
    }

    /// Boots the controller in the house as it is at first, for so many of the period one after another without a break: store,
    /// earth and controller go on as they are.
    #[must_use]
    pub fn begin<S: Stepper>(&self, controller: &mut S, times: u32) -> Underway<S> {
        let mut config = self.plant.clone();
        config.start.ground_day = self.weather.conditions(0).day_of_year;
        let start = Instant::from_millis(0);
        controller.begin(start);
        controller.boot(self.settings, start, Restart::ORDINARY);
        let house = ClosedLoop::new(Plant::new(&config, self.seed), 0, self.pace);
        Underway {
            tally: Tally::new(&house.plant, self.settings.target.to_fixed().to_num()),
            house,
            report: None,
            end_s: self.weather.duration_s() * u64::from(times),
            finished: Vec::new(),
        }
    }

    /// Goes on to `until_s` after the beginning, or to the end.
    ///
    /// # Errors
    /// As [`Run::go`].
    pub fn advance<S: Stepper, E: From<Cancelled>>(
        &self,
        underway: &mut Underway<S>,
        controller: &mut S,
        until_s: u64,
        cancel: &Cancel,
        mut step: impl FnMut(&S::Report, &Seen<'_>) -> Result<(), E>,
    ) -> Result<(), E> {
        let period_s = self.weather.duration_s();
        let Underway {
            house,
            tally,
            report,
            end_s,
            finished,
        } = underway;
        let (end_s, end) = (*end_s, Instant::from_millis(*end_s * 1_000));
        while house.now_s() < end_s.min(until_s) {
            if house
                .now_s()
                .is_multiple_of(LOOK_EVERY * self.pace.rest_s())
            {
                cancel.check()?;
            }
            let stretch = house.go_on(end_s, |at_s| {
                self.weather.conditions(at_s % period_s).into()
            });
            tally.add(&stretch, &house.plant);
            house.steer(
                controller,
                report,
                &stretch,
                house.now_s() == end_s,
                |samples| Inputs {
                    samples,
                    ..Inputs::default()
                },
                |report, house, now, readings| {
                    let until = report.next().min(end).max(now);
                    let seen = Seen {
                        plant: &house.plant,
                        relays: house.relays,
                        now_s: house.now_s(),
                        stands_ms: u64::from(until.since(now).as_millis()),
                        extra: Extra {
                            air_c: Some(readings.air_c),
                            store_c: Some(readings.store_c),
                            slab_c: Some(house.plant.truth().slab_c),
                            ..Extra::default()
                        },
                    };
                    step(report, &seen)
                },
            )?;
            if house.now_s().is_multiple_of(period_s) {
                let next = tally.following(&house.plant);
                finished.push(std::mem::replace(tally, next).finish(&house.plant));
            }
        }
        Ok(())
    }
}

/// A period between its beginning and its end.
pub struct Underway<S: Stepper> {
    house: ClosedLoop,
    tally: Tally,
    report: Option<S::Report>,
    end_s: u64,
    finished: Vec<Season>,
}

impl<S: Stepper> Underway<S> {
    /// What is simulated so far, s.
    #[must_use]
    pub const fn now_s(&self) -> u64 {
        self.house.now_s()
    }

    /// Is the end reached?
    #[must_use]
    pub const fn is_over(&self) -> bool {
        self.house.now_s() >= self.end_s
    }

    /// The periods that are over, in order.
    #[must_use]
    pub fn finished(&self) -> &[Season] {
        &self.finished
    }
}
