//! Tries candidates: every candidate through every scenario of a stage, on all cores, each only once.

use indicatif::ProgressBar;
use rayon::prelude::*;

use super::candidate::{Candidate, Space};
use super::resume::{Memory, ResumeError};
use super::score::Score;
use super::screen::Stage;
use crate::sim::cancel::Cancel;

/// Why trying ended early.
#[derive(Debug)]
pub enum Stopped {
    /// On request; what was tried is known.
    Asked,
    /// The resume file failed.
    Resume(ResumeError),
    /// There is no finalist of this number.
    NoSuchFinalist {
        /// The number asked for.
        found: usize,
        /// The greatest there is.
        most: usize,
    },
}

impl From<ResumeError> for Stopped {
    fn from(error: ResumeError) -> Self {
        Self::Resume(error)
    }
}

/// Work done in a stage.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Work {
    /// Candidates tried, each once.
    pub candidates: u64,
    /// Of those, known from the resume file.
    pub known: u64,
    /// Runs of the simulation.
    pub runs: u64,
    /// Days simulated.
    pub days: u64,
}

/// Where candidates are tried.
pub struct Lab<'a> {
    space: &'a Space,
    cancel: &'a Cancel,
    bar: &'a ProgressBar,
    memory: Memory,
    /// Candidates first met in this session, by stage.
    met: std::collections::HashSet<(&'static str, Vec<i32>)>,
    work: Vec<(&'static str, Work)>,
}

impl<'a> Lab<'a> {
    /// With what is known already.
    #[must_use]
    pub fn new(space: &'a Space, memory: Memory, cancel: &'a Cancel, bar: &'a ProgressBar) -> Self {
        Self {
            space,
            cancel,
            bar,
            memory,
            met: std::collections::HashSet::new(),
            work: Vec::new(),
        }
    }

    /// Tries the starting settings anew and holds them against what the resume file says of them.
    ///
    /// # Errors
    /// They differ, or a stop was asked for.
    pub fn confirm(&mut self, stage: &Stage) -> Result<(), Stopped> {
        let base = self.space.base();
        let bits = base.bits(self.space);
        if self.memory.get(stage.name, &bits).is_none() {
            return Ok(());
        }
        let scores: Option<Vec<Score>> = stage
            .scenarios
            .par_iter()
            .map(|scenario| scenario.score(base.settings(), self.cancel).ok())
            .collect();
        let scores = scores.ok_or(Stopped::Asked)?;
        Ok(self.memory.confirm(stage.name, &bits, &scores)?)
    }

    /// Scores of each candidate in each scenario.
    ///
    /// # Errors
    /// A stop was asked for, or the resume file cannot be written; whole candidates finished by then are known.
    pub fn try_all(
        &mut self,
        stage: &Stage,
        candidates: &[Candidate],
    ) -> Result<Vec<Vec<Score>>, Stopped> {
        let mut missing: Vec<&Candidate> = Vec::new();
        let mut work = Work::default();
        for candidate in candidates {
            let bits = candidate.bits(self.space);
            if !self.met.insert((stage.name, bits.clone())) {
                continue;
            }
            work.candidates += 1;
            if self.memory.get(stage.name, &bits).is_some() {
                work.known += 1;
                self.bar.inc(stage.days());
            } else {
                missing.push(candidate);
            }
        }
        let per = stage.scenarios.len();
        let scores: Vec<Option<Score>> = (0..missing.len() * per)
            .into_par_iter()
            .map(|job| {
                let (candidate, scenario) = (missing[job / per], &stage.scenarios[job % per]);
                let score = scenario.score(candidate.settings(), self.cancel).ok();
                self.bar.inc(u64::from(scenario.season.days));
                score
            })
            .collect();
        let mut all_done = true;
        for (candidate, scores) in missing.iter().zip(scores.chunks(per.max(1))) {
            match scores.iter().copied().collect::<Option<Vec<_>>>() {
                Some(scores) => {
                    work.runs += per as u64;
                    work.days += stage.days();
                    self.memory
                        .keep(stage.name, candidate.bits(self.space), scores)?;
                }
                None => all_done = false,
            }
        }
        self.count(stage.name, work);
        if !all_done {
            return Err(Stopped::Asked);
        }
        Ok(candidates.iter().map(|c| self.known(stage, c)).collect())
    }

    /// Sums over the scenarios.
    ///
    /// # Errors
    /// As [`Lab::try_all`].
    pub fn totals(
        &mut self,
        stage: &Stage,
        candidates: &[Candidate],
    ) -> Result<Vec<Score>, Stopped> {
        let scores = self.try_all(stage, candidates)?;
        Ok(scores
            .into_iter()
            .map(|scores| scores.into_iter().sum())
            .collect())
    }

    /// What was done, stage by stage.
    #[must_use]
    pub fn work(&self) -> &[(&'static str, Work)] {
        &self.work
    }

    fn known(&self, stage: &Stage, candidate: &Candidate) -> Vec<Score> {
        self.memory
            .get(stage.name, &candidate.bits(self.space))
            .map(<[Score]>::to_vec)
            .unwrap_or_default()
    }

    fn count(&mut self, stage: &'static str, more: Work) {
        let place = self.work.iter().position(|(name, _)| *name == stage);
        let work = match place {
            Some(place) => &mut self.work[place].1,
            None => {
                self.work.push((stage, Work::default()));
                let last = self.work.len() - 1;
                &mut self.work[last].1
            }
        };
        work.candidates += more.candidates;
        work.known += more.known;
        work.runs += more.runs;
        work.days += more.days;
    }
}
