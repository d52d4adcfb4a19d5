//! Finds settings for a site before winter.
//!
//! Candidates first meet the coldest weeks of every winter, each winter with another sensor error; the best of them and
//! a spread of good trade-offs then meet whole winters; the best few of those meet every winter with every error, and so
//! decides the order of aims. What was found is held against winters that were never tuned on. Settings that protect
//! are not touched ([`parameters`]).

pub mod candidate;
pub mod effects;
pub mod lab;
pub mod night;
pub mod parameters;
pub mod resume;
pub mod score;
pub mod screen;
pub mod search;
pub(crate) mod steps;
pub mod winters;

use std::cmp::Ordering;

use controller_core::settings::Settings;
use indicatif::ProgressBar;
use sha2::{Digest as _, Sha256};

use crate::files::settings_file::hex;
use crate::files::site::SiteConfig;
use crate::sim::cancel::Cancel;
use crate::sim::weather::PeriodError;
use candidate::{Candidate, Space};
use effects::{Pair, Reverted, Swept};
use lab::{Lab, Stopped, Work};
use night::Night;
use resume::{Memory, ResumeError};
use score::{AIMS, Aim, Order, Score, WINTERS};
use screen::{ERRORS, SCREEN_SHARE, Season, SensorError, Stage, Winter};

/// How scores of the coldest weeks are compared.
pub const WEEKS: Order = Order {
    share: SCREEN_SHARE,
};

/// The question.
#[derive(Clone, Debug)]
pub struct Task {
    /// The house.
    pub site: SiteConfig,
    /// Settings to start from and to compare with.
    pub base: Settings,
    /// Winters to tune on.
    pub tuned_on: Vec<Winter>,
    /// Winters kept back to judge by.
    pub kept_back: Vec<Winter>,
    /// The season of each.
    pub season: Season,
    /// Error of the slab and outdoor sensors in the cases that have one, K.
    pub error_k: f64,
    /// How much is tried.
    pub budget: Budget,
    /// Seed of the search.
    pub seed: u64,
    /// Another finalist wanted instead of the best, by its number.
    pub take: Option<usize>,
    /// What is unusual in site and weather, to be told.
    pub notes: Vec<String>,
}

/// Why there is no answer.
#[derive(Debug)]
pub enum TuneError {
    /// The resume file fails or is not of this question.
    Resume(ResumeError),
    /// There is no finalist of this number.
    NoSuchFinalist {
        /// The number asked for.
        found: usize,
        /// The greatest there is.
        most: usize,
    },
}

impl std::fmt::Display for TuneError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Resume(error) => error.fmt(f),
            Self::NoSuchFinalist { found, most } => write!(
                f,
                "--take: found {found}; expected a number of the table of trade-offs, 0 to {most}"
            ),
        }
    }
}

impl std::error::Error for TuneError {}

/// How much is tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Budget {
    /// Candidates on the coldest weeks.
    pub candidates: usize,
    /// Candidates on whole winters.
    pub finalists: usize,
    /// Candidates on every winter with every error.
    pub last: usize,
}

/// A candidate with its score.
#[derive(Clone, Debug)]
pub struct Judged {
    /// The settings.
    pub candidate: Candidate,
    /// Sum over the scenarios.
    pub score: Score,
}

/// One winter with one error, before and after.
#[derive(Clone, Debug)]
pub struct Trial {
    /// Which winter of its list.
    pub winter: usize,
    /// The error.
    pub error: SensorError,
    /// With the settings started from.
    pub before: Score,
    /// With the settings found.
    pub after: Score,
}

/// The answer, as far as it was reached.
#[derive(Debug)]
pub struct Tuned {
    /// What was searched.
    pub space: Space,
    /// The settings found.
    pub chosen: Candidate,
    /// Everything tried on the coldest weeks, the settings started from first.
    pub screened: Vec<Judged>,
    /// Everything tried on whole winters, the settings started from first.
    pub finals: Vec<Judged>,
    /// Those of `finals` that no other beats in every aim.
    pub front: Vec<usize>,
    /// The settings found on whole winters, each with one error in turn.
    pub in_turn: Option<Score>,
    /// The settings found on the coldest weeks.
    pub in_weeks: Option<Score>,
    /// Winters tuned on, with every error.
    pub tuned_on: Vec<Trial>,
    /// Winters kept back, with every error.
    pub kept_back: Vec<Trial>,
    /// Each change taken back alone, on whole winters.
    pub reverted: Vec<Reverted>,
    /// Changes taken back and other settings moved, two at a time, on the coldest weeks.
    pub pairs: Vec<Pair>,
    /// Every setting moved to the ends of its range, on the coldest weeks.
    pub swept: Vec<Swept>,
    /// The coldest night, before and after.
    pub night: Option<Night>,
    /// Why the slab cannot be held, if it cannot.
    pub why: Option<night::Why>,
    /// What was run.
    pub work: Vec<(&'static str, Work)>,
    /// Ended on request.
    pub stopped: bool,
}

/// Names of the stages, as in the resume file.
const COLDEST_WEEKS: &str = "coldest weeks";
const WHOLE_WINTERS: &str = "whole winters";
const EVERY_ERROR: &str = "whole winters, every error";
const KEPT_BACK: &str = "winters kept back, every error";

/// The stages of a task.
#[derive(Clone, Debug)]
pub struct Stages {
    weeks: Stage,
    winters: Stage,
    crossed: Stage,
    kept_back: Stage,
}

impl Stages {
    /// Prepared weather and houses of every stage.
    ///
    /// # Errors
    /// A weather has no such days.
    pub fn new(task: &Task) -> Result<Self, PeriodError> {
        let (site, error_k, season) = (&task.site, task.error_k, task.season);
        let glazing = site.glazing();
        let coldest = |winter: &Winter| season.coldest(&winter.year, &glazing);
        Ok(Self {
            weeks: Stage::in_turn(COLDEST_WEEKS, site, &task.tuned_on, coldest, error_k)?,
            winters: Stage::in_turn(WHOLE_WINTERS, site, &task.tuned_on, |_| season, error_k)?,
            crossed: Stage::crossed(EVERY_ERROR, site, &task.tuned_on, season, error_k)?,
            kept_back: Stage::crossed(KEPT_BACK, site, &task.kept_back, season, error_k)?,
        })
    }

    /// The coldest weeks of each winter, and the error it has there.
    #[must_use]
    pub fn weeks(&self) -> &Stage {
        &self.weeks
    }

    /// Days simulated in all, about: changes are not known beforehand.
    #[must_use]
    pub fn days(&self, budget: &Budget) -> u64 {
        const EFFECTS_WEEKS: u64 = 130;
        const EFFECTS_WINTERS: u64 = 3;
        (budget.candidates as u64 + EFFECTS_WEEKS) * self.weeks.days()
            + (budget.finalists as u64 + EFFECTS_WINTERS) * self.winters.days()
            + (budget.last as u64 + 1) * self.crossed.days()
            + 2 * self.kept_back.days()
    }
}

impl Task {
    /// Fingerprint of all that decides what a candidate scores.
    #[must_use]
    pub fn sha256(&self) -> String {
        let mut digest = Sha256::new();
        digest.update(format!("{:?}", (&self.site, self.base.raw(), self.season)));
        digest.update(format!("{:?}", (self.error_k, ERRORS)));
        for winter in self.tuned_on.iter().chain(&self.kept_back) {
            digest.update(format!("{:?}", (&winter.name, winter.seed)));
            for hour in &winter.year.hours {
                for value in [
                    hour.dry_bulb_c,
                    hour.dew_point_c,
                    hour.infrared_w_m2,
                    hour.global_horizontal_wh_m2,
                    hour.direct_normal_wh_m2,
                    hour.diffuse_horizontal_wh_m2,
                    hour.wind_m_s,
                ] {
                    digest.update(value.to_le_bytes());
                }
            }
        }
        hex(&digest.finalize())
    }
}

/// Answers the question. Ctrl-C returns the best so far.
///
/// # Errors
/// The resume file fails or is not of this question, or the finalist asked for is not there.
pub fn tune(
    task: &Task,
    stages: &Stages,
    memory: Memory,
    cancel: &Cancel,
    bar: &ProgressBar,
) -> Result<Tuned, TuneError> {
    let space = Space::new(task.base.clone());
    let mut lab = Lab::new(&space, memory, cancel, bar);
    let mut tuned = Tuned::start(&space);
    let ended = steps::Steps {
        task,
        stages,
        space: &space,
        bar,
    }
    .go(&mut lab, &mut tuned);
    tuned.work = lab.work().to_vec();
    match ended {
        Ok(()) => Ok(tuned),
        Err(Stopped::Resume(error)) => Err(TuneError::Resume(error)),
        Err(Stopped::NoSuchFinalist { found, most }) => {
            Err(TuneError::NoSuchFinalist { found, most })
        }
        Err(Stopped::Asked) => {
            tuned.stopped = true;
            Ok(tuned)
        }
    }
}

impl Tuned {
    fn start(space: &Space) -> Self {
        Self {
            space: space.clone(),
            chosen: space.base(),
            screened: Vec::new(),
            finals: Vec::new(),
            front: Vec::new(),
            in_turn: None,
            in_weeks: None,
            tuned_on: Vec::new(),
            kept_back: Vec::new(),
            reverted: Vec::new(),
            pairs: Vec::new(),
            swept: Vec::new(),
            night: None,
            why: None,
            work: Vec::new(),
            stopped: false,
        }
    }

    /// Does the slab stay out of danger with the settings found and exact sensors, in every winter tuned on?
    #[must_use]
    pub fn holds(&self) -> bool {
        self.tuned_on
            .iter()
            .filter(|trial| trial.error == ERRORS[0])
            .all(|trial| trial.after.is_safe())
    }
}

/// Sums of trials, before and after.
#[must_use]
pub fn sums<'a>(trials: impl Iterator<Item = &'a Trial> + Clone) -> (Score, Score) {
    (
        trials.clone().map(|trial| trial.before).sum(),
        trials.map(|trial| trial.after).sum(),
    )
}

/// Is the first better in the order of aims?
#[must_use]
pub fn better(a: &Score, b: &Score) -> bool {
    WINTERS.compare(a, b) == Ordering::Less
}

/// An aim's line.
#[must_use]
pub fn aim_line(aim: Aim) -> score::AimLine {
    AIMS.into_iter()
        .find(|line| line.aim == aim)
        .unwrap_or(AIMS[0])
}

#[cfg(test)]
mod tests;
