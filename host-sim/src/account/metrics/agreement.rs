//! Where our relays and the log's differ, for how long, and why ours are as they are.

use controller_core::alarm::Alarm;
use controller_core::reason::Reason;
use controller_core::trace::TraceRow;

use super::summary::{Agreement, Difference, RelayAgreement, hours};
use crate::sim::beside::Extra;

/// Stretches told one by one.
const TOLD: usize = 20;

/// What other relays did to the water is in it this long, ms.
const AFTER_MS: u64 = 30 * 60_000;

/// Alarms that take what the water does for the answer to this controller's own relays.
const OWN_RELAYS: [Alarm; 5] = [
    Alarm::NoFlow,
    Alarm::FireOut,
    Alarm::HeatBarred,
    Alarm::UncalledHeat,
    Alarm::PumpUnasked,
];

/// Alarms that say nothing, since other relays than ours moved or heated the water.
#[derive(Clone, Debug, Default)]
pub(super) struct LeftOut {
    /// Time left in which the water still is as other relays made it, ms.
    other_ms: u64,
    /// Those of the present row and those of any, as bits.
    now: u32,
    ever: u32,
}

impl LeftOut {
    /// The alarms of a row that are to be counted. One that began while the relays differed is left
    /// out until it ends.
    pub(super) fn counted(&mut self, row: &TraceRow, dt_ms: u64, extra: &Extra) -> u32 {
        let outputs = row.outputs;
        let differs = |ours, theirs: Option<bool>| theirs.is_some_and(|theirs| theirs != ours);
        if differs(outputs.circulator, extra.logged_circulator)
            || differs(outputs.boiler_call, extra.logged_boiler)
        {
            self.other_ms = AFTER_MS + dt_ms;
        }
        let all = row.alarms.bits();
        self.now &= all;
        if self.is_other() {
            let own = |bits, alarm: Alarm| bits | 1 << alarm as u32;
            self.now |= all & OWN_RELAYS.into_iter().fold(0, own);
        }
        self.ever |= self.now;
        self.other_ms = self.other_ms.saturating_sub(dt_ms);
        all & !self.now
    }

    /// Is the water as other relays made it?
    pub(super) const fn is_other(&self) -> bool {
        self.other_ms > 0
    }

    fn names(&self) -> Vec<String> {
        OWN_RELAYS
            .into_iter()
            .filter(|alarm| self.ever & 1 << *alarm as u32 != 0)
            .map(|alarm| alarm.name().to_owned())
            .collect()
    }
}

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

    pub(super) fn finish(mut self, left_out: &LeftOut) -> Option<Agreement> {
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
            alarms_left_out: left_out.names(),
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
