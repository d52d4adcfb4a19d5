//! Stretches of time in which something stays the same, at most so many.

use controller_core::reason::{Cause, Reason};

/// What makes a stretch: the same for as long as it lasts.
pub trait Kind: Copy {
    /// Does the other belong to the same stretch?
    fn same(&self, other: &Self) -> bool;
}

impl Kind for bool {
    fn same(&self, other: &Self) -> bool {
        self == other
    }
}

/// A reason with the cause that began it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Why {
    /// The reason.
    pub reason: Reason,
    /// Reading, value, limit and age as the stretch began.
    pub cause: Cause,
}

impl Kind for Why {
    fn same(&self, other: &Self) -> bool {
        self.reason == other.reason
    }
}

/// One stretch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Span<T> {
    /// Its beginning, ms since the first row.
    pub start_ms: u64,
    /// Its end, ms since the first row.
    pub end_ms: u64,
    /// What stays the same.
    pub kind: T,
}

impl<T> Span<T> {
    /// How long, ms.
    pub const fn length_ms(&self) -> u64 {
        self.end_ms - self.start_ms
    }
}

/// What had to be left out to stay in bounds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Merged {
    /// Stretches merged into the one before.
    pub count: u64,
    /// The longest of them, ms.
    pub longest_ms: u64,
}

/// A bounded list of stretches.
#[derive(Clone, Debug)]
pub struct Spans<T> {
    list: Vec<Span<T>>,
    most: usize,
    merged: Merged,
}

impl<T: Kind> Spans<T> {
    /// None yet, and at most so many (two at least).
    #[must_use]
    pub fn new(most: usize) -> Self {
        Self {
            list: Vec::new(),
            most: most.max(2),
            merged: Merged::default(),
        }
    }

    /// The stretches in order of time.
    #[must_use]
    pub fn list(&self) -> &[Span<T>] {
        &self.list
    }

    /// What was left out.
    #[must_use]
    pub const fn merged(&self) -> Merged {
        self.merged
    }

    /// Adds `start_ms..end_ms`; time must not go back.
    pub(super) fn push(&mut self, start_ms: u64, end_ms: u64, kind: T) {
        if end_ms <= start_ms {
            return;
        }
        if let Some(last) = self.list.last_mut()
            && last.end_ms == start_ms
            && last.kind.same(&kind)
        {
            last.end_ms = end_ms;
            return;
        }
        if self.list.len() >= self.most {
            self.merge_shortest();
        }
        self.list.push(Span {
            start_ms,
            end_ms,
            kind,
        });
    }

    /// Gives up a quarter of the stretches, the shortest, each to the one just before it.
    fn merge_shortest(&mut self) {
        let mut lengths: Vec<u64> = self.list.iter().map(Span::length_ms).collect();
        let quarter = lengths.len() / 4;
        let (_, limit, _) = lengths.select_nth_unstable(quarter);
        let limit = *limit;
        // Ties at the limit would take more than a quarter.
        let mut left = quarter + 1;
        let mut kept: Vec<Span<T>> = Vec::with_capacity(self.list.len());
        for span in &self.list {
            let short = left > 0 && span.length_ms() <= limit;
            match kept.last_mut() {
                Some(last) if last.end_ms == span.start_ms && last.kind.same(&span.kind) => {
                    last.end_ms = span.end_ms;
                }
                Some(last) if short && last.end_ms == span.start_ms => {
                    last.end_ms = span.end_ms;
                    left -= 1;
                    self.merged.count += 1;
                    self.merged.longest_ms = self.merged.longest_ms.max(span.length_ms());
                }
                _ => kept.push(*span),
            }
        }
        // Only gaps in between: nothing touches, so the oldest go.
        if kept.len() == self.list.len() {
            for span in kept.drain(..left) {
                self.merged.count += 1;
                self.merged.longest_ms = self.merged.longest_ms.max(span.length_ms());
            }
        }
        self.list = kept;
    }
}
