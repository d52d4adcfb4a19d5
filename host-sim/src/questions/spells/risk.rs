//! What faults cost a house in a winter, under this controller and under the plain pair of thermostats.
//!
//! For every family of the table so many fortnights with one fault of it are run four times: each control with the fault and
//! without it, in the same weather. The mean difference times the faults a winter is the family's share.

use rayon::prelude::*;
use serde::Serialize;

use super::faults::{FAMILIES, Family};
use super::houses::House;
use super::measure::Measured;
use super::pair::Pair;
use super::plan::{FaultCount, Plan};
use super::run::{Steers, run};
use super::unit::Unit;
use super::{SpellError, Windows};
use crate::sim::cancel::{Cancel, Cancelled};

/// Winters that results are given for.
const WINTERS: f64 = 100.0;

/// Faults a winter, family by family, as in the table.
#[derive(Clone, Debug, PartialEq)]
pub struct Rates(Vec<f64>);

impl Default for Rates {
    fn default() -> Self {
        Self(FAMILIES.iter().map(|family| family.rate).collect())
    }
}

impl Rates {
    /// Reads `sensor=0.2,power=1`; families that are not named keep the table's rate.
    ///
    /// # Errors
    /// What was found, what was expected.
    pub fn parse(text: &str) -> Result<Self, String> {
        let mut rates = Self::default();
        for part in text.split(',') {
            let refused = |found: &str, expected: String| {
                Err(format!("found \"{}\"; expected {expected}", found.trim()))
            };
            let Some((key, value)) = part.split_once('=') else {
                return refused(
                    part,
                    "a family and its rate, for example power=0.5".to_owned(),
                );
            };
            let Some(place) = FAMILIES.iter().position(|family| family.key == key.trim()) else {
                let keys: Vec<&str> = FAMILIES.iter().map(|family| family.key).collect();
                return refused(key, format!("one of {}", keys.join(", ")));
            };
            match value.trim().parse() {
                Ok(rate) if (0.0..=100.0).contains(&rate) => rates.0[place] = rate,
                _ => return refused(value, "faults a winter, 0 to 100".to_owned()),
            }
        }
        Ok(rates)
    }
}

/// What a control comes to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Harm {
    /// Time with a slab zone below 0 °C, h.
    pub below_0_h: f64,
    /// Slab at its sensor below 1.5 °C, K·h.
    pub below_target_kh: f64,
    /// Winters in which a tube froze solid.
    pub frozen_tubes: f64,
    /// Wood burnt, kg.
    pub wood_kg: f64,
}

impl Harm {
    fn of(measured: &Measured) -> Self {
        Self {
            below_0_h: measured.below_0_h,
            below_target_kh: measured.below_target_kh,
            frozen_tubes: f64::from(u8::from(measured.damaged)),
            wood_kg: measured.wood_kg,
        }
    }

    fn zip(self, other: Self, op: fn(f64, f64) -> f64) -> Self {
        Self {
            below_0_h: op(self.below_0_h, other.below_0_h),
            below_target_kh: op(self.below_target_kh, other.below_target_kh),
            frozen_tubes: op(self.frozen_tubes, other.frozen_tubes),
            wood_kg: op(self.wood_kg, other.wood_kg),
        }
    }

    fn plus(self, other: Self) -> Self {
        self.zip(other, |a, b| a + b)
    }

    fn minus(self, other: Self) -> Self {
        self.zip(other, |a, b| a - b)
    }

    fn times(self, factor: f64) -> Self {
        let all = Self {
            below_0_h: factor,
            below_target_kh: factor,
            frozen_tubes: factor,
            wood_kg: factor,
        };
        self.zip(all, |a, b| a * b)
    }
}

/// A family's share, in a hundred winters.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Share {
    /// The family's name.
    pub family: &'static str,
    /// In words.
    pub words: &'static str,
    /// Faults a winter.
    pub rate: f64,
    /// What its faults add under this controller.
    pub ours: Harm,
    /// What they add under the plain pair.
    pub pair: Harm,
}

/// What faults add in a hundred winters.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Risk {
    /// Fortnights run for each family.
    pub spells: u64,
    /// Family by family.
    pub families: Vec<Share>,
    /// All of them under this controller.
    pub ours: Harm,
    /// All of them under the plain pair.
    pub pair: Harm,
}

/// The question.
pub struct Question<'a> {
    /// The house.
    pub house: &'a House,
    /// The weather.
    pub windows: &'a Windows,
    /// Faults a winter.
    pub rates: &'a Rates,
    /// Fortnights for each family.
    pub spells: u64,
}

impl Question<'_> {
    /// Fortnights to run, for a bar.
    #[must_use]
    pub fn runs(&self) -> u64 {
        self.spells * FAMILIES.len() as u64
    }

    /// Runs everything, on all cores.
    ///
    /// # Errors
    /// Ctrl-C.
    pub fn run(&self, cancel: &Cancel, done: &(dyn Fn() + Sync)) -> Result<Risk, SpellError> {
        let plans = self.plans();
        let harms = plans
            .par_iter()
            .map(|(family, plan)| {
                let harm = self.both(plan, cancel)?;
                done();
                Ok((*family, harm))
            })
            .collect::<Result<Vec<_>, SpellError>>()?;
        let share = |(place, family): (usize, &Family)| {
            let of_family = harms.iter().filter(|(of, _)| *of == place);
            let (ours, pair) = of_family
                .fold((Harm::default(), Harm::default()), |sum, (_, harm)| {
                    (sum.0.plus(harm.0), sum.1.plus(harm.1))
                });
            let rate = self.rates.0[place];
            let winters = WINTERS * rate / self.spells as f64;
            Share {
                family: family.key,
                words: family.words,
                rate,
                ours: ours.times(winters),
                pair: pair.times(winters),
            }
        };
        let families: Vec<Share> = FAMILIES.iter().enumerate().map(share).collect();
        let sum =
            |of: fn(&Share) -> Harm| families.iter().map(of).fold(Harm::default(), Harm::plus);
        Ok(Risk {
            spells: self.spells,
            ours: sum(|share| share.ours),
            pair: sum(|share| share.pair),
            families,
        })
    }

    /// The first seeds whose fault is of a family, for each family as many.
    fn plans(&self) -> Vec<(usize, Plan)> {
        let mut missing = vec![self.spells; FAMILIES.len()];
        let mut plans = Vec::new();
        for seed in 0.. {
            if missing.iter().all(|missing| *missing == 0) {
                break;
            }
            let plan = Plan::draw(
                seed,
                std::slice::from_ref(self.house),
                self.windows.len(),
                self.windows.length_s(),
                FaultCount::Exactly(1),
            );
            let family = plan.faults.first().and_then(|fault| {
                FAMILIES
                    .iter()
                    .position(|family| family.kinds.iter().any(|kind| kind.key == fault.kind.key))
            });
            if let Some(family) = family.filter(|family| missing[*family] > 0) {
                missing[family] -= 1;
                plans.push((family, plan));
            }
        }
        plans
    }

    /// What the fault adds under this controller and under the plain pair.
    fn both(&self, plan: &Plan, cancel: &Cancel) -> Result<(Harm, Harm), SpellError> {
        let site = &self.house.site;
        let (_, weather) = self
            .windows
            .window(plan.weather, &site.glazing())
            .map_err(SpellError::Weather)?;
        let free = plan.without_faults();
        let settings = &self.house.settings;
        let harm = |plan: &Plan, steers: &mut dyn Steers| -> Result<Harm, Cancelled> {
            run(&site.plant, &weather, plan, steers, cancel).map(|measured| Harm::of(&measured))
        };
        let ours = |plan: &Plan| harm(plan, &mut Unit::new(plan, settings, None));
        let pair = |plan: &Plan| harm(plan, &mut Pair::new(plan, settings));
        Ok((
            ours(plan)?.minus(ours(&free)?),
            pair(plan)?.minus(pair(&free)?),
        ))
    }
}
