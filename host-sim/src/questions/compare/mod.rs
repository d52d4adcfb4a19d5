//! What each rule of the decision is worth: this controller, the same with one refinement after
//! another switched off, and plain controls, through the same winters of the same house.
//!
//! Everything is counted from the model. Plain controls are also given the call limit at which they
//! keep the slab exactly as well, since a control that lets the slab freeze burns little wood.

pub mod bound;
pub mod count;
pub mod plain;
pub mod ways;

use controller_core::Controller;
use controller_core::restart::Restart;
use controller_core::settings::{Rule, Settings};
use controller_core::time::Instant;
use controller_core::units::Celsius;
use rayon::prelude::*;
use serde::Serialize;

use crate::sim::cancel::{Cancel, Cancelled};
use crate::sim::closed_loop::Pace;
use crate::sim::plant::PlantConfig;
use crate::sim::season::Run;
use crate::sim::weather::Series;

use bound::Foresight;
pub use count::Count;
use plain::{Plain, PlainRules, PumpRule};
use ways::WAYS;

/// One winter of the comparison.
#[derive(Debug)]
pub struct Winter {
    /// In words.
    pub name: String,
    /// Its weather.
    pub weather: Series,
}

/// One line of the table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Line {
    /// What ran.
    pub name: String,
    /// All winters together.
    pub total: Count,
    /// Winter by winter, in their order.
    pub winters: Vec<Count>,
}

/// The whole comparison.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Compared {
    /// The winters' names.
    pub winters: Vec<String>,
    /// This controller.
    pub ours: Line,
    /// It with one rule left out.
    pub without: Vec<Line>,
    /// Plain controls with the settings' call limit.
    pub plain: Vec<Line>,
    /// The plain pair with the call limit at which it keeps the slab as well, °C, if there is one.
    pub equal: Option<Equal>,
    /// This controller with its fire tended in one way after another; none without a fire that somebody lays.
    pub ways: Vec<Line>,
    /// How little would do with foresight, if it was asked for.
    pub bounds: Vec<Line>,
}

/// The plain pair made to keep the slab as well as this controller.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Equal {
    /// Its call limit, °C.
    pub call_below_c: f64,
    /// What it came to.
    pub line: Line,
}

/// The question.
pub struct Comparison<'a> {
    /// The house.
    pub plant: &'a PlantConfig,
    /// The controller's settings.
    pub settings: &'a Settings,
    /// The winters.
    pub winters: &'a [Winter],
    /// Seed of everything random.
    pub seed: u64,
    /// Whether to ask how little would do with foresight, which takes as long as everything else.
    pub bound: bool,
}

/// Call limits tried for the plain pair, thousandths of °C. Higher ones only empty the fire before the
/// night.
const LIMITS: [i32; 11] = [
    1_500, 1_750, 2_000, 2_250, 2_500, 2_750, 3_000, 3_250, 3_500, 3_750, 4_000,
];
/// What counts as keeping the slab as well, K·h a winter. Status: judgement; a tenth of a kelvin for half an
/// hour.
const AS_WELL_KH: f64 = 0.05;

impl Comparison<'_> {
    /// Runs everything, on all cores.
    ///
    /// # Errors
    /// Ctrl-C.
    pub fn run(&self, cancel: &Cancel, done: &(dyn Fn() + Sync)) -> Result<Compared, Cancelled> {
        let ours = self.ours("this controller", self.settings, cancel, done)?;
        let without = Rule::ALL
            .par_iter()
            .map(|(rule, words)| {
                let settings = self.settings.clone().without(*rule);
                self.ours(&format!("no {words}"), &settings, cancel, done)
            })
            .collect::<Result<Vec<_>, _>>()?;
        let limit = self.settings.backup_slab;
        let plain = [
            ("plain thermostats", PumpRule::Thermostat),
            ("plain differential", PumpRule::Differential),
        ]
        .into_par_iter()
        .map(|(name, pump)| self.plain(name, pump, limit, cancel, done))
        .collect::<Result<Vec<_>, _>>()?;
        let equal = self.equal(ours.total.below_target_kh, cancel, done)?;
        let ways = self.ways(cancel, done)?;
        let bounds = match self.bound {
            true => self.bounds(cancel, done)?,
            false => Vec::new(),
        };
        Ok(Compared {
            winters: self.winters.iter().map(|w| w.name.clone()).collect(),
            ours,
            without,
            plain,
            equal,
            ways,
            bounds,
        })
    }

    /// The fire tended in one way after another, the controller's settings for each; nothing without a fire that somebody lays.
    ///
    /// # Errors
    /// Ctrl-C.
    pub fn ways(&self, cancel: &Cancel, done: &(dyn Fn() + Sync)) -> Result<Vec<Line>, Cancelled> {
        WAYS.par_iter()
            .filter_map(|way| Some((way, way.apply(self.plant)?)))
            .map(|(way, plant)| {
                let settings = way.settings(self.settings);
                let tended = Comparison {
                    plant: &plant,
                    ..*self
                };
                tended.ours(way.name, &settings, cancel, done)
            })
            .collect()
    }

    /// The plain pair with the settings' call limit.
    ///
    /// # Errors
    /// Ctrl-C.
    pub fn plain_pair(&self, cancel: &Cancel, done: &(dyn Fn() + Sync)) -> Result<Line, Cancelled> {
        let limit = self.settings.backup_slab;
        self.plain(
            "plain differential",
            PumpRule::Differential,
            limit,
            cancel,
            done,
        )
    }

    /// How little would do with foresight.
    ///
    /// # Errors
    /// Ctrl-C.
    pub fn bounds(
        &self,
        cancel: &Cancel,
        done: &(dyn Fn() + Sync),
    ) -> Result<Vec<Line>, Cancelled> {
        let target_c = self.settings.target.to_fixed().to_num();
        let lines = Foresight::ALL
            .par_iter()
            .map(|foresight| {
                let winters = self
                    .winters
                    .par_iter()
                    .map(|winter| {
                        let counted =
                            bound::count(*foresight, self.plant, &winter.weather, target_c, cancel);
                        done();
                        counted
                    })
                    .collect::<Result<Option<Vec<_>>, _>>()?;
                Ok(winters.map(|winters| Line {
                    name: foresight.name().to_owned(),
                    total: winters.iter().copied().fold(Count::default(), Count::plus),
                    winters,
                }))
            })
            .collect::<Result<Vec<_>, _>>()?;
        Ok(lines.into_iter().flatten().collect())
    }

    /// Runs of one winter each, for a bar.
    #[must_use]
    pub fn runs(&self) -> u64 {
        let bounds = if self.bound { Foresight::ALL.len() } else { 0 };
        (1 + Rule::ALL.len() + 2 + LIMITS.len() + WAYS.len() + bounds) as u64
            * self.winters.len() as u64
    }

    fn ours(
        &self,
        name: &str,
        settings: &Settings,
        cancel: &Cancel,
        done: &(dyn Fn() + Sync),
    ) -> Result<Line, Cancelled> {
        self.line(name, |weather| {
            let start = Instant::from_millis(0);
            let mut controller = Controller::boot(settings.clone(), start, Restart::ORDINARY);
            let counted = count::count(&self.through(settings, weather), &mut controller, cancel);
            done();
            counted
        })
    }

    fn plain(
        &self,
        name: &str,
        pump: PumpRule,
        call_below: Celsius,
        cancel: &Cancel,
        done: &(dyn Fn() + Sync),
    ) -> Result<Line, Cancelled> {
        self.line(name, |weather| {
            let rules = PlainRules { pump, call_below };
            let mut control = Plain::new(rules, self.settings, Instant::from_millis(0));
            let run = self.through(self.settings, weather);
            let counted = count::count(&run, &mut control, cancel);
            done();
            counted
        })
    }

    fn through<'b>(&'b self, settings: &'b Settings, weather: &'b Series) -> Run<'b> {
        Run {
            plant: self.plant,
            settings,
            weather,
            seed: self.seed,
            pace: Pace::USUAL,
        }
    }

    fn line(
        &self,
        name: &str,
        count: impl Fn(&Series) -> Result<Count, Cancelled> + Sync,
    ) -> Result<Line, Cancelled> {
        let winters = self
            .winters
            .par_iter()
            .map(|winter| count(&winter.weather))
            .collect::<Result<Vec<_>, _>>()?;
        Ok(Line {
            name: name.to_owned(),
            total: winters.iter().copied().fold(Count::default(), Count::plus),
            winters,
        })
    }

    /// Of the limits with which the slab is kept as well, that with the least wood.
    fn equal(
        &self,
        ours_kh: f64,
        cancel: &Cancel,
        done: &(dyn Fn() + Sync),
    ) -> Result<Option<Equal>, Cancelled> {
        let allowed_kh = ours_kh + AS_WELL_KH * self.winters.len() as f64;
        let tried = LIMITS
            .par_iter()
            .map(|milli| {
                let limit = Celsius::from_milli(*milli);
                let name = "plain pair, slab kept as well";
                let line = self.plain(name, PumpRule::Differential, limit, cancel, done)?;
                Ok(Equal {
                    call_below_c: f64::from(*milli) / 1e3,
                    line,
                })
            })
            .collect::<Result<Vec<_>, _>>()?;
        Ok(tried
            .into_iter()
            .filter(|equal| equal.line.total.below_target_kh <= allowed_kh)
            .min_by(|a, b| a.line.total.wood_kg.total_cmp(&b.line.total.wood_kg)))
    }
}

#[cfg(test)]
mod tests;
