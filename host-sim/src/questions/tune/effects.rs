//! What each change is worth, alone and in pairs, and what does not matter.

use super::candidate::{Candidate, Space};
use super::lab::{Lab, Stopped};
use super::parameters::Parameter;
use super::score::{Order, Score};
use super::screen::Stage;

/// A change taken back alone.
#[derive(Clone, Debug)]
pub struct Reverted {
    /// Which setting.
    pub parameter: Parameter,
    /// Value before.
    pub before: f64,
    /// Value found.
    pub after: f64,
    /// How the rest does without it; `None` where the checks do not allow it alone.
    pub score: Option<Score>,
}

/// One setting moved away from what was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Move {
    /// Which setting.
    pub parameter: Parameter,
    /// Where to: back to the start for a change, else half way to the end that matters more.
    pub to: f64,
}

/// Two settings moved together.
#[derive(Clone, Debug)]
pub struct Pair {
    /// The moves.
    pub moves: [Move; 2],
    /// With the one, with the other, with both.
    pub scores: [Score; 3],
}

impl Pair {
    /// What the two do together beyond what each does alone, by an aim: zero if their effects add up.
    #[must_use]
    pub fn together(&self, chosen: &Score, aim: super::score::Aim) -> f64 {
        let [one, other, both] = self.scores.map(|score| score.mean(aim));
        both - one - other + chosen.mean(aim)
    }
}

/// One setting moved to the ends of its range, everything else as found.
#[derive(Clone, Debug)]
pub struct Swept {
    /// Which setting.
    pub parameter: Parameter,
    /// Values tried, as near to the ends of the range as the checks allow, and what came of them.
    pub ends: Vec<(f64, Score)>,
}

impl Swept {
    /// By how many steps the worst end differs from the settings found.
    #[must_use]
    pub fn matters(&self, chosen: &Score, order: Order) -> f64 {
        self.ends
            .iter()
            .map(|(_, score)| order.apart(score, chosen))
            .fold(0.0, f64::max)
    }
}

/// Takes back, one by one and the least important first, every change without which the candidate is as good.
///
/// # Errors
/// A stop was asked for, or the resume file failed.
pub fn simplify(
    lab: &mut Lab<'_>,
    stage: &Stage,
    space: &Space,
    order: Order,
    candidate: &Candidate,
) -> Result<Candidate, Stopped> {
    let reference = lab.totals(stage, std::slice::from_ref(candidate))?[0];
    let mut alone: Vec<(Parameter, Candidate)> = space
        .changed(candidate)
        .into_iter()
        .filter_map(|p| Some((p, space.without(candidate, &[p.key])?)))
        .collect();
    let tried: Vec<Candidate> = alone.iter().map(|(_, c)| c.clone()).collect();
    let scores = lab.totals(stage, &tried)?;
    let mut ranked: Vec<(f64, Parameter)> = alone
        .drain(..)
        .zip(&scores)
        .map(|((p, _), score)| (order.apart(score, &reference), p))
        .collect();
    ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut simple = candidate.clone();
    for (_, parameter) in ranked {
        let Some(without) = space.without(&simple, &[parameter.key]) else {
            continue;
        };
        let score = lab.totals(stage, std::slice::from_ref(&without))?[0];
        if order.as_good(&score, &reference) {
            simple = without;
        }
    }
    Ok(simple)
}

/// Each change taken back alone.
///
/// # Errors
/// As [`simplify`].
pub fn reverted(
    lab: &mut Lab<'_>,
    stage: &Stage,
    space: &Space,
    chosen: &Candidate,
) -> Result<Vec<Reverted>, Stopped> {
    let changed = space.changed(chosen);
    let without: Vec<Option<Candidate>> = changed
        .iter()
        .map(|p| space.without(chosen, &[p.key]))
        .collect();
    let possible: Vec<Candidate> = without.iter().flatten().cloned().collect();
    let mut scores = lab.totals(stage, &possible)?.into_iter();
    Ok(changed
        .into_iter()
        .zip(without)
        .map(|(parameter, without)| Reverted {
            parameter,
            before: parameter.of(space.base().raw()),
            after: parameter.of(chosen.raw()),
            score: without.and_then(|_| scores.next()),
        })
        .collect())
}

/// Settings looked at in pairs, at least as far as there are some that matter, and at most.
const PAIRED: std::ops::RangeInclusive<usize> = 5..=9;

/// What is moved in pairs: every change back to the start, and of the other settings those that matter most half way to
/// the end that matters more.
#[must_use]
pub fn moves(
    space: &Space,
    order: Order,
    chosen: &Candidate,
    reference: &Score,
    swept: &[Swept],
) -> Vec<Move> {
    let changed = space.changed(chosen);
    let mut moves: Vec<Move> = changed
        .iter()
        .map(|p| Move {
            parameter: *p,
            to: p.of(space.base().raw()),
        })
        .collect();
    let others = swept.iter().filter(|swept| {
        let is_changed = changed.iter().any(|p| p.key == swept.parameter.key);
        !is_changed && swept.matters(reference, order) >= 1.0
    });
    for swept in others {
        if moves.len() >= *PAIRED.start() {
            break;
        }
        let far = swept.ends.iter().max_by(|a, b| {
            order
                .apart(&a.1, reference)
                .total_cmp(&order.apart(&b.1, reference))
        });
        if let Some((end, _)) = far {
            let p = swept.parameter;
            let half_way = (p.place(p.of(chosen.raw())) + p.place(*end)) / 2.0;
            moves.push(Move {
                parameter: p,
                to: p.at(half_way),
            });
        }
    }
    moves.truncate(*PAIRED.end());
    moves
}

/// Every two moves together, those that do most beyond each alone first.
///
/// # Errors
/// As [`simplify`].
pub fn pairs(
    lab: &mut Lab<'_>,
    stage: &Stage,
    space: &Space,
    order: Order,
    chosen: &Candidate,
    moves: &[Move],
) -> Result<Vec<Pair>, Stopped> {
    let reference = lab.totals(stage, std::slice::from_ref(chosen))?[0];
    let to = |from: &Candidate, step: &Move| space.with(from, &step.parameter, step.to);
    let mut found = Vec::new();
    let mut tried = Vec::new();
    for (index, one) in moves.iter().enumerate() {
        for other in &moves[index + 1..] {
            let both = to(chosen, one).and_then(|moved| to(&moved, other));
            if let (Some(a), Some(b), Some(both)) = (to(chosen, one), to(chosen, other), both) {
                found.push([*one, *other]);
                tried.extend([a, b, both]);
            }
        }
    }
    let scores = lab.totals(stage, &tried)?;
    let mut pairs: Vec<Pair> = found
        .into_iter()
        .zip(scores.chunks_exact(3))
        .map(|(moves, scores)| Pair {
            moves,
            scores: [scores[0], scores[1], scores[2]],
        })
        .collect();
    let weight = |pair: &Pair| {
        super::score::AIMS
            .iter()
            .map(|line| pair.together(&reference, line.aim).abs() / (line.step * order.share))
            .fold(0.0, f64::max)
    };
    pairs.sort_by(|a, b| weight(b).total_cmp(&weight(a)));
    Ok(pairs)
}

/// Every setting that may be tuned, moved to the ends of its range.
///
/// # Errors
/// As [`simplify`].
pub fn swept(
    lab: &mut Lab<'_>,
    stage: &Stage,
    space: &Space,
    order: Order,
    chosen: &Candidate,
) -> Result<Vec<Swept>, Stopped> {
    let reference = lab.totals(stage, std::slice::from_ref(chosen))?[0];
    let ends: Vec<Vec<Candidate>> = space
        .parameters()
        .iter()
        .map(|p| {
            [0.0, 1.0]
                .into_iter()
                .filter_map(|end| furthest(space, chosen, p, end))
                .collect()
        })
        .collect();
    let tried: Vec<Candidate> = ends.iter().flatten().cloned().collect();
    let mut scores = lab.totals(stage, &tried)?.into_iter();
    let mut swept: Vec<Swept> = space
        .parameters()
        .iter()
        .zip(&ends)
        .map(|(parameter, ends)| Swept {
            parameter: *parameter,
            ends: ends
                .iter()
                .map(|c| parameter.of(c.raw()))
                .zip(scores.by_ref())
                .collect(),
        })
        .collect();
    swept.sort_by(|a, b| {
        b.matters(&reference, order)
            .total_cmp(&a.matters(&reference, order))
    });
    Ok(swept)
}

/// The value nearest to an end of the range that the checks allow, unless it is the one found.
fn furthest(
    space: &Space,
    chosen: &Candidate,
    parameter: &Parameter,
    end: f64,
) -> Option<Candidate> {
    const TRIES: u32 = 16;
    let home = parameter.place(parameter.of(chosen.raw()));
    (0..TRIES)
        .map(|n| end + (home - end) * f64::from(n) / f64::from(TRIES))
        .find_map(|place| space.with(chosen, parameter, parameter.at(place)))
        .filter(|candidate| candidate != chosen)
}
