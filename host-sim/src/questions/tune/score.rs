//! What a winter is judged by, and which of two is better.
//!
//! Whole numbers only: sums do not depend on their order, and what a file kept comes back as it was.

use std::cmp::Ordering;
use std::ops::AddAssign;

use controller_core::StepReport;
use controller_core::reason::Reason;
use serde::{Deserialize, Serialize};

use crate::sim::season::Seen;
use crate::sim::tally::Season;

/// Slab at which roots are in danger, °C. Status: judgement (1 K above the freezing of soil water).
pub const DANGER_C: f64 = 0.5;

/// One run, or the sum of several.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Score {
    /// Runs in the sum.
    pub runs: u32,
    /// Time with the slab at or below [`DANGER_C`], or with the circulator stopped by the supply limit, s.
    pub danger_s: u64,
    /// Runs in which water froze solid.
    pub frozen: u32,
    /// Σ (target − slab) dt below the target, mK·h.
    pub deficit_mkh: u64,
    /// Wood burnt, g.
    pub wood_g: u64,
    /// Electricity of the circulator, Wh.
    pub pump_wh: u64,
    /// Circulator starts.
    pub starts: u64,
    /// Nights in which the boiler was called.
    pub nights: u64,
    /// Coldest slab, m°C; of a sum, the coldest of all.
    pub slab_min_mc: i32,
}

impl AddAssign for Score {
    fn add_assign(&mut self, other: Self) {
        self.slab_min_mc = match (self.runs, other.runs) {
            (0, _) => other.slab_min_mc,
            (_, 0) => self.slab_min_mc,
            _ => self.slab_min_mc.min(other.slab_min_mc),
        };
        self.runs += other.runs;
        self.danger_s += other.danger_s;
        self.frozen += other.frozen;
        self.deficit_mkh += other.deficit_mkh;
        self.wood_g += other.wood_g;
        self.pump_wh += other.pump_wh;
        self.starts += other.starts;
        self.nights += other.nights;
    }
}

impl std::iter::Sum for Score {
    fn sum<I: Iterator<Item = Self>>(scores: I) -> Self {
        scores.fold(Self::default(), |mut sum, score| {
            sum += score;
            sum
        })
    }
}

/// What is weighed, the most important first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Aim {
    /// Time in danger, h.
    Danger,
    /// Degree-hours below the target, K·h.
    Hold,
    /// Wood, kg.
    Wood,
    /// Electricity, kWh.
    Electricity,
    /// Circulator starts.
    Starts,
}

/// One line of the table of aims.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AimLine {
    /// Which.
    pub aim: Aim,
    /// In words.
    pub name: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// Less than this, a winter, is not worth a change of settings. Status: judgement.
    pub step: f64,
}

const fn line(aim: Aim, name: &'static str, unit: &'static str, step: f64) -> AimLine {
    AimLine {
        aim,
        name,
        unit,
        step,
    }
}

/// The aims in their order. Two winters whose numbers fall into the same step are as good as each other in that aim, and
/// the next one decides.
pub const AIMS: [AimLine; 5] = [
    line(Aim::Danger, "in danger", "h", 0.1),
    line(Aim::Hold, "below target", "K·h", 0.5),
    line(Aim::Wood, "wood", "kg", 50.0),
    line(Aim::Electricity, "electricity", "kWh", 2.0),
    line(Aim::Starts, "starts", "", 50.0),
];

impl Score {
    /// What an aim counts, a run; ice in the tube weighs as a month in danger.
    #[must_use]
    pub fn mean(&self, aim: Aim) -> f64 {
        let total = match aim {
            Aim::Danger => self.danger_s as f64 / 3_600.0 + f64::from(self.frozen) * 720.0,
            Aim::Hold => self.deficit_mkh as f64 / 1_000.0,
            Aim::Wood => self.wood_g as f64 / 1_000.0,
            Aim::Electricity => self.pump_wh as f64 / 1_000.0,
            Aim::Starts => self.starts as f64,
        };
        total / f64::from(self.runs.max(1))
    }

    /// Time in danger, h a run, without what ice weighs.
    #[must_use]
    pub fn danger_h(&self) -> f64 {
        self.danger_s as f64 / 3_600.0 / f64::from(self.runs.max(1))
    }

    /// Coldest slab, °C.
    #[must_use]
    pub fn slab_min_c(&self) -> f64 {
        f64::from(self.slab_min_mc) / 1_000.0
    }

    /// Nights with a fire, a run.
    #[must_use]
    pub fn nights(&self) -> f64 {
        self.nights as f64 / f64::from(self.runs.max(1))
    }

    /// Does the slab stay out of danger?
    #[must_use]
    pub fn is_safe(&self) -> bool {
        self.danger_s == 0 && self.frozen == 0
    }
}

/// How scores are compared: `share` of a winter's steps count, since the coldest weeks are not a whole winter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Order {
    /// Share of [`AimLine::step`].
    pub share: f64,
}

/// Whole winters.
pub const WINTERS: Order = Order { share: 1.0 };

/// Digits an aim has in [`Order::number`].
const DIGITS: f64 = 10_000.0;

impl Order {
    /// The step of an aim.
    fn step(self, line: &AimLine) -> f64 {
        match line.aim {
            Aim::Danger => line.step,
            _ => line.step * self.share,
        }
    }

    /// Which whole step an aim falls into.
    fn place(self, score: &Score, line: &AimLine) -> f64 {
        let steps = score.mean(line.aim) / self.step(line);
        match line.aim {
            // Any danger is worse than none.
            Aim::Danger => steps.ceil(),
            _ => steps.round(),
        }
    }

    /// The better is less: aim by aim, in whole steps.
    #[must_use]
    pub fn compare(self, a: &Score, b: &Score) -> Ordering {
        AIMS.iter()
            .map(|line| self.place(a, line).total_cmp(&self.place(b, line)))
            .find(|order| order.is_ne())
            .unwrap_or(Ordering::Equal)
    }

    /// One number in the order of the first three aims, with the others behind: what a search by numbers is told.
    #[must_use]
    pub fn number(self, score: &Score) -> f64 {
        let digits = |line: &AimLine| (score.mean(line.aim) / self.step(line)).min(DIGITS - 1.0);
        let [danger, hold, wood, electricity, starts] = AIMS;
        let coarse = self.place(score, &danger).min(DIGITS - 1.0) * DIGITS
            + self.place(score, &hold).min(DIGITS - 1.0);
        // Within a step of holding: wood, and what comes after it only where wood is the same.
        coarse * DIGITS + digits(&wood) + (digits(&electricity) + digits(&starts) / 10.0) / 10.0
    }

    /// Is `a` in no more steps of danger than `b` and nowhere worse by more than a step?
    #[must_use]
    pub fn as_good(self, a: &Score, b: &Score) -> bool {
        AIMS.iter().all(|line| match line.aim {
            Aim::Danger => self.place(a, line) <= self.place(b, line),
            _ => a.mean(line.aim) <= b.mean(line.aim) + self.step(line),
        })
    }

    /// By how many steps two scores differ in the aim in which they differ most.
    #[must_use]
    pub fn apart(self, a: &Score, b: &Score) -> f64 {
        AIMS.iter()
            .map(|line| (a.mean(line.aim) - b.mean(line.aim)).abs() / self.step(line))
            .fold(0.0, f64::max)
    }
}

/// Objectives of the Pareto view; danger is a limit there, not a price.
pub const PRICES: [Aim; 4] = [Aim::Hold, Aim::Wood, Aim::Electricity, Aim::Starts];

/// Is `a` nowhere worse than `b` and somewhere better?
#[must_use]
pub fn dominates(a: &Score, b: &Score) -> bool {
    let aims = AIMS.iter().map(|line| line.aim);
    aims.clone().all(|aim| a.mean(aim) <= b.mean(aim))
        && aims.clone().any(|aim| a.mean(aim) < b.mean(aim))
}

/// Places of those no other dominates, in the order given; of equals the first.
#[must_use]
pub fn front(scores: &[Score]) -> Vec<usize> {
    let beaten = |index: usize| {
        scores.iter().enumerate().any(|(other, score)| {
            dominates(score, &scores[index]) || (other < index && *score == scores[index])
        })
    };
    (0..scores.len()).filter(|index| !beaten(*index)).collect()
}

/// Counts what the house's own account does not know: time in danger.
#[derive(Clone, Copy, Debug, Default)]
pub struct Danger {
    ms: u64,
}

impl Danger {
    /// One step and how long it stands.
    pub fn push(&mut self, report: &StepReport, seen: &Seen<'_>) {
        if seen.plant.truth().slab_c <= DANGER_C || report.row.reason == Reason::Overheat {
            self.ms += seen.stands_ms;
        }
    }

    /// The run's score.
    #[must_use]
    pub fn score(self, season: &Season) -> Score {
        let thousandths = |value: f64| (value * 1_000.0).round() as u64;
        Score {
            runs: 1,
            danger_s: self.ms / 1_000,
            frozen: u32::from(season.frozen_s.is_some()),
            deficit_mkh: thousandths(season.below_target_kh),
            wood_g: thousandths(season.wood_kg),
            pump_wh: thousandths(season.pump_kwh),
            starts: u64::from(season.starts),
            nights: u64::from(season.nights_with_fire),
            slab_min_mc: (season.slab_sensor_min_c * 1_000.0).round() as i32,
        }
    }
}
