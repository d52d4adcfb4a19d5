//! What a report draws: curves, relay and reason stretches and days, in bounded memory.
//!
//! Curves keep the coldest and warmest of every stretch of time, so that no extreme is lost however
//! long the log; stretches are merged from the shortest up when they become too many, and that is
//! counted so that the report can say so.

mod curve;
mod day;
mod spans;

pub use curve::{Curve, CurveName};
pub use day::{Day, SlabHours};
pub use spans::{Merged, Span, Spans, Why};

use controller_core::Flow;
use controller_core::settings::Settings;
use controller_core::time::{Duration, Instant};
use controller_core::trace::TraceRow;
use controller_core::units::Celsius;
use jiff::civil::DateTime;

use crate::account::metrics::{DAY_MS, added, since_midnight_ms};
use crate::sim::beside::Extra;
use curve::{Curves, Value};

/// How much is kept.
#[derive(Clone, Debug)]
pub struct RecorderOptions {
    /// Wall clock of the first row; without one, days count from it.
    pub start: Option<DateTime>,
    /// Most stretches of time in a curve.
    pub bins: usize,
    /// Most stretches of relays and reasons, each.
    pub spans: usize,
    /// How long the log is expected to be, ms, if known: saves merging, changes nothing else.
    pub expected_ms: Option<u64>,
    /// Electric power of the circulator, W.
    pub pump_w: f64,
    /// The slab temperature that must hold.
    pub target: Celsius,
}

impl RecorderOptions {
    /// As the settings have it. The bounds keep the coldest week of a winter in quarters of an hour; a page thins what it draws.
    #[must_use]
    pub fn from_settings(settings: &Settings, start: Option<DateTime>) -> Self {
        Self {
            start,
            bins: 16_000,
            spans: 16_000,
            expected_ms: None,
            pump_w: settings.pump_power.to_fixed().to_num(),
            target: settings.target,
        }
    }
}

/// Everything a report draws of one run.
#[derive(Clone, Debug)]
pub struct Series {
    pub(crate) curves: Vec<Curve>,
    pub(crate) circulator: Spans<bool>,
    pub(crate) boiler: Spans<bool>,
    pub(crate) logged_circulator: Spans<bool>,
    pub(crate) logged_boiler: Spans<bool>,
    pub(crate) reasons: Spans<Why>,
    pub(crate) days: Vec<Day>,
    pub(crate) slab_hours: SlabHours,
    pub(crate) end_ms: u64,
}

impl Series {
    /// Numbers by day, oldest first.
    #[must_use]
    pub fn days(&self) -> &[Day] {
        &self.days
    }

    /// A curve, if it has any point.
    #[must_use]
    pub fn curve(&self, name: CurveName) -> Option<&Curve> {
        self.curves
            .iter()
            .find(|curve| curve.name == name && !curve.is_empty())
    }

    /// End of the last row, ms since the first.
    #[must_use]
    pub const fn end_ms(&self) -> u64 {
        self.end_ms
    }
}

/// Records while a run goes on.
#[derive(Clone, Debug)]
pub struct Recorder {
    origin: Option<Instant>,
    pump_w: f64,
    since_midnight: u64,
    curves: Curves,
    circulator: Spans<bool>,
    boiler: Spans<bool>,
    logged_circulator: Spans<bool>,
    logged_boiler: Spans<bool>,
    reasons: Spans<Why>,
    days: Vec<Day>,
    slab_hours: SlabHours,
    heat_seen: [u32; 2],
    pump_on: bool,
    end_ms: u64,
}

impl Recorder {
    /// Nothing recorded yet.
    #[must_use]
    pub fn new(options: RecorderOptions) -> Self {
        let spans = options.spans;
        Self {
            origin: None,
            pump_w: options.pump_w,
            since_midnight: since_midnight_ms(options.start),
            curves: Curves::new(options.bins, options.expected_ms),
            circulator: Spans::new(spans),
            boiler: Spans::new(spans),
            logged_circulator: Spans::new(spans),
            logged_boiler: Spans::new(spans),
            reasons: Spans::new(spans),
            days: Vec::new(),
            slab_hours: SlabHours::new(options.target),
            heat_seen: [0; 2],
            pump_on: false,
            end_ms: 0,
        }
    }

    /// Records one row, which stands for `dt_ms`.
    pub fn push(&mut self, row: &TraceRow, dt_ms: u64, extra: &Extra) {
        let origin = *self.origin.get_or_insert(row.now);
        let start_ms = row.now.as_millis().saturating_sub(origin.as_millis());
        let end_ms = start_ms.saturating_add(dt_ms);
        self.end_ms = self.end_ms.max(end_ms);
        let e = &row.estimate;
        self.curves.push(
            start_ms,
            end_ms,
            &[
                Value::point(row.readings.slab.value),
                Value::point(row.readings.supply.value),
                Value::point(row.readings.ret.value),
                Value::point(row.readings.outdoor.value),
                Value::point(e.outdoor_mean),
                Value::point(e.store),
                Value::number(extra.air_c),
                Value::number(extra.store_c),
            ],
        );
        let outputs = row.outputs;
        self.circulator.push(start_ms, end_ms, outputs.circulator);
        self.boiler.push(start_ms, end_ms, outputs.boiler_call);
        if let Some(on) = extra.logged_circulator {
            self.logged_circulator.push(start_ms, end_ms, on);
        }
        if let Some(on) = extra.logged_boiler {
            self.logged_boiler.push(start_ms, end_ms, on);
        }
        self.reasons.push(
            start_ms,
            end_ms,
            Why {
                reason: row.reason,
                cause: row.cause,
            },
        );
        if let Some(slab) = row.readings.slab.value {
            self.slab_hours.push(slab, dt_ms);
        }
        self.day_numbers(row, start_ms, end_ms);
    }

    fn day_numbers(&mut self, row: &TraceRow, start_ms: u64, end_ms: u64) {
        let heat = [row.estimate.earth_wh, row.estimate.boiler_wh];
        let [earth, boiler] = added(self.heat_seen, heat);
        self.heat_seen = heat;
        let starts = row.outputs.circulator && !self.pump_on;
        self.pump_on = row.outputs.circulator;

        let measured =
            row.estimate.flow == Flow::Flowing && row.estimate.store_age == Duration::ZERO;
        let day = self.day_at(start_ms);
        day.earth_wh += earth;
        day.boiler_wh += boiler;
        day.starts += u32::from(starts);
        if measured {
            day.store = row.estimate.store;
        }
        // What a row stands for is split where a day ends.
        let mut from = start_ms;
        while from < end_ms {
            let pump_w = self.pump_w;
            let day = self.day_at(from);
            let until = end_ms.min(day.start_ms.saturating_add(day.length_ms));
            day.pass(row, until - from, pump_w);
            from = until;
        }
    }

    fn day_at(&mut self, time_ms: u64) -> &mut Day {
        let end = self
            .days
            .last()
            .map_or(0, |day| day.start_ms + day.length_ms);
        if self.days.is_empty() || time_ms >= end {
            let whole = (time_ms + self.since_midnight) / DAY_MS * DAY_MS;
            let start_ms = whole.saturating_sub(self.since_midnight);
            let length_ms = whole + DAY_MS - self.since_midnight - start_ms;
            self.days.push(Day::new(start_ms, length_ms));
        }
        let last = self.days.len() - 1;
        &mut self.days[last]
    }

    /// What was recorded.
    #[must_use]
    pub fn finish(self) -> Series {
        Series {
            curves: self.curves.finish(),
            circulator: self.circulator,
            boiler: self.boiler,
            logged_circulator: self.logged_circulator,
            logged_boiler: self.logged_boiler,
            reasons: self.reasons,
            days: self.days,
            slab_hours: self.slab_hours,
            end_ms: self.end_ms,
        }
    }
}

#[cfg(test)]
mod tests;
