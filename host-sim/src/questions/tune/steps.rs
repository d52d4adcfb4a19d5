//! The steps of the way from many candidates to one, and what is said of it.

use indicatif::ProgressBar;

use super::candidate::{Candidate, Space};
use super::lab::{Lab, Stopped};
use super::night::{Night, Record};
use super::score::{self, Aim, Order, PRICES, Score, WINTERS};
use super::screen::{ERRORS, Stage};
use super::search::{self, Plan, Tried};
use super::{Judged, Stages, Task, Trial, Tuned, WEEKS, effects};

/// Best candidates of the coldest weeks that are freed of changes they do not need before whole winters.
const SIMPLIFIED: usize = 4;

/// What every step needs.
pub(super) struct Steps<'a> {
    pub(super) task: &'a Task,
    pub(super) stages: &'a Stages,
    pub(super) space: &'a Space,
    pub(super) bar: &'a ProgressBar,
}

impl Steps<'_> {
    /// All of them; what was reached is in `tuned`.
    pub(super) fn go(&self, lab: &mut Lab<'_>, tuned: &mut Tuned) -> Result<(), Stopped> {
        self.say("coldest weeks");
        lab.confirm(&self.stages.weeks)?;
        self.screen(lab, tuned)?;
        self.say("whole winters");
        self.finals(lab, tuned)?;
        self.say("every error");
        self.last(lab, tuned)?;
        self.say("winters kept back");
        self.validate(lab, tuned)?;
        self.say("what matters");
        self.effects(lab, tuned)?;
        self.bar.set_length(self.bar.position());
        Ok(())
    }

    fn say(&self, what: &str) {
        self.bar.set_message(what.to_owned());
    }

    /// Many candidates on the coldest weeks.
    fn screen(&self, lab: &mut Lab<'_>, tuned: &mut Tuned) -> Result<(), Stopped> {
        let plan = Plan {
            candidates: self.task.budget.candidates,
            seed: self.task.seed,
            order: WEEKS,
        };
        let start = self.space.point(&self.space.base());
        let mut tried = Vec::new();
        let ended = search::search(&start, &plan, &mut tried, |points| {
            let candidates: Vec<Candidate> =
                points.iter().map(|p| self.space.candidate(p)).collect();
            let scores = lab.totals(&self.stages.weeks, &candidates)?;
            for (candidate, score) in candidates.iter().zip(&scores) {
                tuned.screened.push(Judged {
                    candidate: candidate.clone(),
                    score: *score,
                });
            }
            let tried = candidates.iter().zip(scores);
            Ok::<_, Stopped>(
                tried
                    .map(|(candidate, score)| Tried {
                        point: self.space.point(candidate),
                        score,
                    })
                    .collect(),
            )
        });
        if let Some(best) = best_first(&tuned.screened, self.space, WEEKS).first() {
            tuned.chosen = tuned.screened[*best].candidate.clone();
        }
        ended
    }

    /// The best and a spread of trade-offs on whole winters.
    fn finals(&self, lab: &mut Lab<'_>, tuned: &mut Tuned) -> Result<(), Stopped> {
        let order = best_first(&tuned.screened, self.space, WEEKS);
        let mut finalists = vec![self.space.base()];
        let mut add = |candidate: Candidate| {
            if !finalists.contains(&candidate) {
                finalists.push(candidate);
            }
        };
        // The best, without what they do not need: a change that does nothing here may do harm in another winter. Then
        // the spread of trade-offs.
        let best = order
            .iter()
            .take(SIMPLIFIED.min(self.task.budget.finalists.saturating_sub(1)));
        for index in best {
            let candidate = &tuned.screened[*index].candidate;
            add(self.simple(lab, candidate)?);
        }
        for index in spread(&tuned.screened) {
            add(tuned.screened[index].candidate.clone());
        }
        finalists.truncate(self.task.budget.finalists.max(2));
        let scores = lab.totals(&self.stages.winters, &finalists)?;
        tuned.finals = finalists
            .into_iter()
            .zip(scores)
            .map(|(candidate, score)| Judged { candidate, score })
            .collect();
        let scores: Vec<Score> = tuned.finals.iter().map(|judged| judged.score).collect();
        tuned.front = score::front(&scores);
        if let Some(best) = best_first(&tuned.finals, self.space, WINTERS).first() {
            tuned.chosen = tuned.finals[*best].candidate.clone();
        }
        Ok(())
    }

    /// The best few, every winter with every error: the first of them in the order of aims is what was found, or the
    /// finalist asked for instead.
    fn last(&self, lab: &mut Lab<'_>, tuned: &mut Tuned) -> Result<(), Stopped> {
        let order = best_first(&tuned.finals, self.space, WINTERS);
        let mut last: Vec<Candidate> = order
            .iter()
            .take(self.task.budget.last)
            .map(|place| tuned.finals[*place].candidate.clone())
            .collect();
        // What is found is never worse here than what was started from.
        if !last.contains(&self.space.base()) {
            last.push(self.space.base());
        }
        let scores = lab.totals(&self.stages.crossed, &last)?;
        let judged: Vec<Judged> = last
            .into_iter()
            .zip(scores)
            .map(|(candidate, score)| Judged { candidate, score })
            .collect();
        if let Some(best) = best_first(&judged, self.space, WINTERS).first() {
            let best = &judged[*best];
            tuned.chosen = best.candidate.clone();
            self.take_back(lab, tuned, &best.score)?;
        }
        self.add_to_finals(lab, tuned)?;
        if let Some(found) = self.task.take {
            let most = tuned.finals.len() - 1;
            let taken = tuned.finals.get(found);
            let taken = taken.ok_or(Stopped::NoSuchFinalist { found, most })?;
            tuned.chosen = taken.candidate.clone();
        }
        let both = [self.space.base(), tuned.chosen.clone()];
        let scores = lab.try_all(&self.stages.crossed, &both)?;
        tuned.tuned_on = trials(&self.stages.crossed, &scores[0], &scores[1]);
        if let Some(worst) = worst_exact(&tuned.tuned_on).filter(|_| !tuned.holds()) {
            let scenario = &self.stages.crossed.scenarios[worst];
            let record = Record::new(scenario, &tuned.chosen)?;
            tuned.why = record.why(
                &self.task.tuned_on[scenario.winter].name,
                scenario.house().boiler.is_some(),
            );
        }
        Ok(())
    }

    /// The settings found without what they do not need in the coldest weeks, if that is as good in every winter with
    /// every error.
    fn take_back(
        &self,
        lab: &mut Lab<'_>,
        tuned: &mut Tuned,
        reference: &Score,
    ) -> Result<(), Stopped> {
        let simple = self.simple(lab, &tuned.chosen)?;
        if simple != tuned.chosen {
            let score = lab.totals(&self.stages.crossed, std::slice::from_ref(&simple))?[0];
            if WINTERS.as_good(&score, reference) {
                tuned.chosen = simple;
            }
        }
        Ok(())
    }

    /// What was found takes its place among the finalists.
    fn add_to_finals(&self, lab: &mut Lab<'_>, tuned: &mut Tuned) -> Result<(), Stopped> {
        let chosen = tuned.chosen.clone();
        let score = lab.totals(&self.stages.winters, std::slice::from_ref(&chosen))?[0];
        if !tuned.finals.iter().any(|judged| judged.candidate == chosen) {
            tuned.finals.push(Judged {
                candidate: chosen,
                score,
            });
        }
        let scores: Vec<Score> = tuned.finals.iter().map(|judged| judged.score).collect();
        tuned.front = score::front(&scores);
        Ok(())
    }

    fn simple(&self, lab: &mut Lab<'_>, candidate: &Candidate) -> Result<Candidate, Stopped> {
        // By a whole winter's steps: a change has to earn its place.
        effects::simplify(lab, &self.stages.weeks, self.space, WINTERS, candidate)
    }

    /// Winters that were not tuned on; the coldest night of the first of them, or of the one that is not held.
    fn validate(&self, lab: &mut Lab<'_>, tuned: &mut Tuned) -> Result<(), Stopped> {
        let both = [self.space.base(), tuned.chosen.clone()];
        let scores = lab.try_all(&self.stages.kept_back, &both)?;
        tuned.kept_back = trials(&self.stages.kept_back, &scores[0], &scores[1]);
        let (stage, winters, index) = match worst_exact(&tuned.tuned_on) {
            Some(worst) if !tuned.holds() => (&self.stages.crossed, &self.task.tuned_on, worst),
            _ => (&self.stages.kept_back, &self.task.kept_back, 0),
        };
        if let Some(scenario) = stage.scenarios.get(index) {
            let (before, after) = rayon::join(
                || Record::new(scenario, &both[0]),
                || Record::new(scenario, &both[1]),
            );
            let name = winters[scenario.winter].name.clone();
            tuned.night = Night::new(name, &before?, &after?, !tuned.holds());
        }
        Ok(())
    }

    /// What each change is worth, and what does not matter.
    fn effects(&self, lab: &mut Lab<'_>, tuned: &mut Tuned) -> Result<(), Stopped> {
        let (weeks, winters) = (&self.stages.weeks, &self.stages.winters);
        let chosen = tuned.chosen.clone();
        let one = std::slice::from_ref(&chosen);
        tuned.in_turn = lab.totals(winters, one)?.first().copied();
        tuned.in_weeks = lab.totals(weeks, one)?.first().copied();
        tuned.reverted = effects::reverted(lab, winters, self.space, &chosen)?;
        tuned.swept = effects::swept(lab, weeks, self.space, WEEKS, &chosen)?;
        let reference = tuned.in_weeks.unwrap_or_default();
        let moves = effects::moves(self.space, WEEKS, &chosen, &reference, &tuned.swept);
        tuned.pairs = effects::pairs(lab, weeks, self.space, WEEKS, &chosen, &moves)?;
        Ok(())
    }
}

/// Places in the order of aims, best first; of equals the one with fewer changes, then the better in finer numbers.
fn best_first(judged: &[Judged], space: &Space, order: Order) -> Vec<usize> {
    let changes: Vec<usize> = judged
        .iter()
        .map(|j| space.changed(&j.candidate).len())
        .collect();
    let mut places: Vec<usize> = (0..judged.len()).collect();
    places.sort_by(|&a, &b| {
        order
            .compare(&judged[a].score, &judged[b].score)
            .then(changes[a].cmp(&changes[b]))
            .then_with(|| {
                order
                    .number(&judged[a].score)
                    .total_cmp(&order.number(&judged[b].score))
            })
            .then(a.cmp(&b))
    });
    places
}

/// Places on the front of what is out of danger, far from each other first: the ends of each price, then what lies
/// furthest from all taken so far.
pub(crate) fn spread(judged: &[Judged]) -> Vec<usize> {
    let safe: Vec<usize> = (0..judged.len())
        .filter(|place| judged[*place].score.is_safe())
        .collect();
    let scores: Vec<Score> = safe.iter().map(|place| judged[*place].score).collect();
    let front: Vec<usize> = score::front(&scores)
        .into_iter()
        .map(|place| safe[place])
        .collect();
    let price = |place: usize, aim: Aim| judged[place].score.mean(aim);
    let range = PRICES.map(|aim| {
        let all = front.iter().map(|place| price(*place, aim));
        let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| {
            (low.min(x), high.max(x))
        });
        (high - low).max(f64::MIN_POSITIVE)
    });
    let distance = |a: usize, b: usize| {
        PRICES
            .into_iter()
            .zip(range)
            .map(|(aim, range)| ((price(a, aim) - price(b, aim)) / range).powi(2))
            .sum::<f64>()
    };
    let mut taken: Vec<usize> = Vec::new();
    for aim in PRICES {
        let cheapest = front
            .iter()
            .copied()
            .min_by(|a, b| price(*a, aim).total_cmp(&price(*b, aim)));
        taken.extend(cheapest.filter(|place| !taken.contains(place)));
    }
    while taken.len() < front.len() {
        let nearest = |place: usize| {
            taken
                .iter()
                .map(|other| distance(place, *other))
                .fold(f64::INFINITY, f64::min)
        };
        let next = front
            .iter()
            .copied()
            .filter(|place| !taken.contains(place))
            .max_by(|a, b| nearest(*a).total_cmp(&nearest(*b)).then(b.cmp(a)));
        match next {
            Some(place) => taken.push(place),
            None => break,
        }
    }
    taken
}

fn trials(stage: &Stage, before: &[Score], after: &[Score]) -> Vec<Trial> {
    stage
        .scenarios
        .iter()
        .zip(before.iter().zip(after))
        .map(|(scenario, (before, after))| Trial {
            winter: scenario.winter,
            error: scenario.error,
            before: *before,
            after: *after,
        })
        .collect()
}

/// The trial with exact sensors in which the slab gets coldest.
fn worst_exact(trials: &[Trial]) -> Option<usize> {
    (0..trials.len())
        .filter(|place| trials[*place].error == ERRORS[0])
        .min_by_key(|place| trials[*place].after.slab_min_mc)
}
