//! Whether what is expected happens: one small watcher for each expectation, fed step by step.

use super::condition::Condition;
use super::file::Expectation;
use super::row::Row;
use super::values::Span;

/// What an expectation came to.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// What must happen, in words.
    pub required: String,
    /// By when, in words.
    pub deadline: String,
    /// The same in seconds, where there is one.
    pub deadline_s: Option<f64>,
    /// What was seen, in words.
    pub measured: String,
    /// The same as a number: seconds, or a count.
    pub measured_value: Option<f64>,
    /// Does it hold?
    pub holds: bool,
}

/// Follows one expectation.
#[derive(Debug)]
pub(super) struct Check<'a> {
    expectation: &'a Expectation,
    /// When its event came.
    event_ms: Option<u64>,
    /// When `when` first held after it.
    met_ms: Option<u64>,
    /// First and, for bad news, offending time seen.
    found_ms: Option<u64>,
    /// Was it true too early?
    early_ms: Option<u64>,
    /// Begin of the stretch in which it now holds.
    since_ms: Option<u64>,
    longest_ms: u64,
    begins_ms: Vec<u64>,
    /// Steps looked at.
    seen: u64,
}

impl<'a> Check<'a> {
    pub(super) fn new(expectation: &'a Expectation) -> Self {
        Self {
            expectation,
            event_ms: None,
            met_ms: None,
            found_ms: None,
            early_ms: None,
            since_ms: None,
            longest_ms: 0,
            begins_ms: Vec::new(),
            seen: 0,
        }
    }

    /// Event number `number` (from 1) came.
    pub(super) fn event(&mut self, number: usize, now_ms: u64) {
        if number == self.expectation.event {
            self.event_ms = Some(now_ms);
        }
    }

    /// One step, which stands until the next.
    pub(super) fn step(&mut self, row: &Row, now_ms: u64) {
        let Some(start_ms) = self.start_ms(row, now_ms) else {
            return;
        };
        if now_ms < start_ms {
            return;
        }
        let e = self.expectation;
        let over = e
            .lasting
            .is_some_and(|lasting| now_ms >= start_ms + lasting.0);
        let holds = e.that.holds(row) && !over;
        if holds && self.since_ms.is_none() {
            self.since_ms = Some(now_ms);
            self.begins_ms.push(now_ms);
        }
        if !holds {
            self.close(now_ms);
        }
        if over {
            return;
        }
        self.seen += 1;
        let too_early = e
            .not_before
            .is_some_and(|least| now_ms < start_ms + least.0);
        let notable = if e.stays { !holds } else { holds };
        if notable && too_early {
            self.early_ms.get_or_insert(now_ms);
        } else if notable {
            self.found_ms.get_or_insert(now_ms);
        }
    }

    /// No step stands any more: the power went, or the drill ended.
    pub(super) fn close(&mut self, now_ms: u64) {
        if let Some(since_ms) = self.since_ms.take() {
            self.longest_ms = self.longest_ms.max(now_ms - since_ms);
        }
    }

    fn start_ms(&mut self, row: &Row, now_ms: u64) -> Option<u64> {
        let event_ms = self.event_ms?;
        let met = |condition: &Condition| condition.holds(row);
        let from_ms = match (&self.expectation.when, self.met_ms) {
            (None, _) => event_ms,
            (Some(_), Some(met_ms)) => met_ms,
            (Some(when), None) => {
                if !met(when) {
                    return None;
                }
                self.met_ms = Some(now_ms);
                now_ms
            }
        };
        Some(from_ms + self.expectation.later.0)
    }

    pub(super) fn finish(mut self, end_ms: u64) -> Verdict {
        self.close(end_ms);
        let e = self.expectation;
        let start_ms = match (&e.when, self.event_ms) {
            (None, event_ms) => event_ms,
            (Some(_), _) => self.met_ms,
        };
        let start_ms = start_ms.map(|ms| ms + e.later.0);
        let (deadline, deadline_s) = deadline(e);
        let verdict = |measured: String, measured_value, holds| Verdict {
            required: e.what.clone(),
            deadline: deadline.clone(),
            deadline_s,
            measured,
            measured_value,
            holds,
        };
        let Some(start_ms) = start_ms.filter(|_| self.seen > 0) else {
            return verdict("it never came to it".to_owned(), None, false);
        };
        let after = |ms: u64| Span(ms - start_ms);
        let seconds = |ms: u64| Some((ms - start_ms) as f64 / 1_000.0);
        if let Some(within) = e.within {
            return match (self.early_ms, self.found_ms) {
                (Some(ms), _) => verdict(
                    format!("{}, too early", after(ms).words()),
                    seconds(ms),
                    false,
                ),
                (None, Some(ms)) => verdict(after(ms).words(), seconds(ms), after(ms) <= within),
                (None, None) => verdict(format!("not in {}", after(end_ms).words()), None, false),
            };
        }
        if e.stays || e.never {
            let good = if e.stays { "held" } else { "never" };
            return match self.found_ms {
                None => verdict(good.to_owned(), None, true),
                Some(ms) => verdict(
                    format!("broken after {}", after(ms).words()),
                    seconds(ms),
                    false,
                ),
            };
        }
        if let Some(limit) = e.longest {
            let longest = Span(self.longest_ms);
            return verdict(
                longest.words(),
                Some(longest.0 as f64 / 1_000.0),
                longest <= limit,
            );
        }
        let count = e
            .in_any
            .map_or(self.begins_ms.len(), |span| most_in(&self.begins_ms, span));
        let enough = e.at_least.is_none_or(|least| count >= least);
        let few = e.at_most.is_none_or(|most| count <= most);
        verdict(count.to_string(), Some(count as f64), enough && few)
    }
}

/// Most of these times in any stretch of a length.
fn most_in(times_ms: &[u64], span: Span) -> usize {
    times_ms
        .iter()
        .enumerate()
        .map(|(first, from)| {
            times_ms[first..]
                .iter()
                .take_while(|t| **t < from + span.0)
                .count()
        })
        .max()
        .unwrap_or(0)
}

/// By when, in words and in seconds.
fn deadline(e: &Expectation) -> (String, Option<f64>) {
    let seconds = |span: Span| Some(span.0 as f64 / 1_000.0);
    let lasting = e.lasting.map_or_else(
        || "to the end".to_owned(),
        |span| format!("for {}", span.words()),
    );
    if let Some(within) = e.within {
        let words = match e.not_before {
            None => within.words(),
            Some(least) => format!("{} to {}", least.words(), within.words()),
        };
        return (words, seconds(within));
    }
    if e.stays || e.never {
        return (lasting, e.lasting.and_then(seconds));
    }
    if let Some(longest) = e.longest {
        return (
            format!("at most {} at a time", longest.words()),
            seconds(longest),
        );
    }
    let count = match (e.at_least, e.at_most) {
        (Some(least), Some(most)) if least == most => format!("{least} times"),
        (Some(least), Some(most)) => format!("{least} to {most} times"),
        (Some(least), None) => format!("{least} times or more"),
        (None, most) => format!("at most {} times", most.unwrap_or(0)),
    };
    match e.in_any {
        Some(span) => (format!("{count} in any {}", span.words()), None),
        None => (format!("{count} {lasting}"), None),
    }
}
