//! Where our relays and the log's differ, for how long, and why ours are as they are.

use controller_core::reason::Reason;
use controller_core::trace::TraceRow;

use super::summary::{Agreement, Difference, RelayAgreement, hours};
use crate::sim::beside::Extra;

/// Stretches told one by one.
const TOLD: usize = 20;

/// Both relays against the log.
#[derive(Clone, Debug, Default)]
pub(super) struct Comparison {
    circulator: Relay,
    boiler: Relay,
    longest: Longest,
}

#[derive(Clone, Debug, Default)]
struct Relay {
    compared_ms: u64,
    ours_only_ms: u64,
    theirs_only_ms: u64,
    stretch: Option<Stretch>,
}

#[derive(Clone, Copy, Debug)]
struct Stretch {
    boiler: bool,
    ours_on: bool,
    start_ms: u64,
    length_ms: u64,
    reason: Reason,
}

/// The longest stretches so far, longest first, at most [`TOLD`].
#[derive(Clone, Debug, Default)]
struct Longest(Vec<Stretch>);

impl Longest {
    fn offer(&mut self, stretch: Stretch) {
        let place = self.0.partition_point(|s| s.length_ms >= stretch.length_ms);
        if place < TOLD {
            self.0.insert(place, stretch);
            self.0.truncate(TOLD);
        }
    }
}

impl Comparison {
    pub(super) fn push(&mut self, row: &TraceRow, time_ms: u64, dt_ms: u64, extra: &Extra) {
        let logged = extra.logged_circulator.is_some() || extra.logged_boiler.is_some();
        if !logged && self.circulator.stretch.is_none() && self.boiler.stretch.is_none() {
            return;
        }
        let outputs = row.outputs;
        let mut one = |relay: &mut Relay, boiler, ours, theirs| {
            if let Some(ended) = relay.push(boiler, ours, theirs, row.reason, time_ms, dt_ms) {
                self.longest.offer(ended);
            }
        };
        one(
            &mut self.circulator,
            false,
            outputs.circulator,
            extra.logged_circulator,
        );
        one(
            &mut self.boiler,
            true,
            outputs.boiler_call,
            extra.logged_boiler,
        );
    }

    pub(super) fn finish(mut self) -> Option<Agreement> {
        for stretch in [self.circulator.stretch, self.boiler.stretch] {
            stretch.into_iter().for_each(|s| self.longest.offer(s));
        }
        let circulator = self.circulator.numbers();
        let boiler = self.boiler.numbers();
        if circulator.is_none() && boiler.is_none() {
            return None;
        }
        let differing = self.longest.0.iter().map(Stretch::told).collect();
        Some(Agreement {
            circulator,
            boiler,
            differing,
        })
    }
}

impl Relay {
    /// Gives back the stretch that has ended, if one has.
    fn push(
        &mut self,
        boiler: bool,
        ours: bool,
        theirs: Option<bool>,
        reason: Reason,
        time_ms: u64,
        dt_ms: u64,
    ) -> Option<Stretch> {
        if let Some(theirs) = theirs {
            self.compared_ms += dt_ms;
            if ours != theirs {
                let count = if ours {
                    &mut self.ours_only_ms
                } else {
                    &mut self.theirs_only_ms
                };
                *count += dt_ms;
                if let Some(stretch) = &mut self.stretch
                    && stretch.ours_on == ours
                {
                    stretch.length_ms += dt_ms;
                    return None;
                }
                return self.stretch.replace(Stretch {
                    boiler,
                    ours_on: ours,
                    start_ms: time_ms,
                    length_ms: dt_ms,
                    reason,
                });
            }
        }
        self.stretch.take()
    }

    fn numbers(&self) -> Option<RelayAgreement> {
        (self.compared_ms > 0).then(|| {
            let differ = self.ours_only_ms + self.theirs_only_ms;
            let equal = (self.compared_ms - differ) as f64 / self.compared_ms as f64;
            RelayAgreement {
                compared_hours: hours(self.compared_ms),
                equal_share: (equal * 1e6).round() / 1e6,
                ours_on_theirs_off_hours: hours(self.ours_only_ms),
                ours_off_theirs_on_hours: hours(self.theirs_only_ms),
            }
        })
    }
}

impl Stretch {
    fn told(&self) -> Difference {
        Difference {
            relay: if self.boiler { "boiler" } else { "circulator" }.to_owned(),
            ours_on: self.ours_on,
            start_time_ms: self.start_ms,
            start_time: None,
            hours: hours(self.length_ms),
            reason: self.reason.name().to_owned(),
        }
    }
}
