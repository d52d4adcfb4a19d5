//! One step as named cells: the trace's columns, and what only a drill knows.

use controller_core::time::Instant;
use controller_core::trace;

use crate::sim::stepper::Stepped;

/// Columns beside the trace's.
const OWN: [&str; 6] = [
    "upload",
    "starts_last_hour",
    "true_slab_c",
    "flow_l_s",
    "fire",
    "frozen",
];

/// What only a drill knows of a step.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Beside {
    /// Settings sent with this step: `adopted`, `refused` or nothing.
    pub(super) upload: &'static str,
    /// The slab in truth, °C.
    pub(super) true_slab_c: f64,
    /// Flow in truth, L/s.
    pub(super) flow_l_s: f64,
    /// Is there a fire?
    pub(super) fire: bool,
    /// Has anything frozen solid?
    pub(super) frozen: bool,
}

/// Every column's name, in order.
pub(super) fn column_names() -> impl Iterator<Item = &'static str> {
    trace::HEADER.split(',').chain(OWN)
}

/// A column by its name.
pub(super) fn column(name: &str) -> Option<usize> {
    column_names().position(|known| known == name)
}

/// The cells of the latest step; kept from step to step so that nothing is allocated.
#[derive(Debug, Default)]
pub struct Row {
    line: String,
    /// Where each cell ends.
    ends: Vec<usize>,
}

impl Row {
    pub(super) fn set(
        &mut self,
        report: &impl Stepped,
        origin: Instant,
        note: &str,
        beside: Beside,
    ) {
        use std::fmt::Write as _;
        self.line.clear();
        self.ends.clear();
        let bit = u8::from;
        report.write_row(origin, note, &mut self.line);
        // Writing into a string cannot fail.
        let _ = write!(
            self.line,
            ",{},{},{:.3},{:.4},{},{}",
            beside.upload,
            report.starts_last_hour(),
            beside.true_slab_c,
            beside.flow_l_s,
            bit(beside.fire),
            bit(beside.frozen)
        );
        self.ends
            .extend(self.line.match_indices(',').map(|(at, _)| at));
        self.ends.push(self.line.len());
    }

    /// A cell's text; empty for "not known".
    #[must_use]
    pub(super) fn cell(&self, column: usize) -> &str {
        let start = match column.checked_sub(1) {
            None => 0,
            Some(before) => self.ends[before] + 1,
        };
        &self.line[start..self.ends[column]]
    }
}
