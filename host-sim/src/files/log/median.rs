//! The log's interval: a moving median, so that gaps and jitter do not move it and a changed logging rate does.

/// Intervals in the window.
pub(crate) const WINDOW: usize = 101;

/// The median of the latest [`WINDOW`] intervals.
#[derive(Clone, Debug, Default)]
pub(crate) struct MovingMedian {
    latest: Vec<i64>,
    sorted: Vec<i64>,
    oldest: usize,
}

impl MovingMedian {
    /// A window that holds the first intervals of a log already. They are expected again: pushed once more they replace
    /// themselves, so that the median stands before the first row.
    pub(crate) fn seeded(intervals: &[i64]) -> MovingMedian {
        let latest = intervals[..intervals.len().min(WINDOW)].to_vec();
        let mut sorted = latest.clone();
        sorted.sort_unstable();
        MovingMedian {
            latest,
            sorted,
            oldest: 0,
        }
    }

    #[inline]
    pub(crate) fn push(&mut self, interval: i64) {
        match self.latest.get_mut(self.oldest) {
            Some(slot) if *slot == interval => {}
            Some(slot) => {
                let leaving = std::mem::replace(slot, interval);
                self.exchange(leaving, interval);
            }
            None => {
                self.latest.push(interval);
                let at = self.sorted.partition_point(|&other| other < interval);
                self.sorted.insert(at, interval);
            }
        }
        self.oldest = if self.oldest + 1 == WINDOW {
            0
        } else {
            self.oldest + 1
        };
    }

    /// The middle interval; of an even number the smaller middle one; None before the first.
    #[inline]
    pub(crate) fn median(&self) -> Option<i64> {
        self.sorted
            .get(self.sorted.len().saturating_sub(1) / 2)
            .copied()
    }

    fn exchange(&mut self, leaving: i64, entering: i64) {
        let from = self.sorted.partition_point(|&other| other < leaving);
        let to = self.sorted.partition_point(|&other| other < entering);
        if to > from {
            self.sorted.copy_within(from + 1..to, from);
            self.sorted[to - 1] = entering;
        } else {
            self.sorted.copy_within(to..from, to + 1);
            self.sorted[to] = entering;
        }
    }
}
