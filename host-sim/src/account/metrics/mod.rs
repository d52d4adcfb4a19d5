//! Numbers a season is judged by, counted row by row from the trace.
//!
//! Called for every row of a log or a simulated winter, up to tens of millions of times: whole-number
//! sums and arrays only, nothing allocated. It reads the trace and never feeds anything back.

mod agreement;
mod counts;
mod summary;

pub(crate) use counts::added;

pub use summary::{
    Agreement, AlarmNumbers, Difference, RelayAgreement, SensorFaults, SummaryNumbers, YearNumbers,
};

use std::collections::BTreeMap;

use controller_core::alarm::Alarm;
use controller_core::reason::Reason;
use controller_core::sensor::{Sensor, Trust};
use controller_core::settings::Settings;
use controller_core::time::{Duration, Instant};
use controller_core::trace::TraceRow;
use controller_core::units::{Celsius, Kelvin};
use jiff::civil::DateTime;

use crate::sim::beside::Extra;

use agreement::Comparison;
use counts::{
    AlarmCount, DayStarts, FAULTS, HeatCount, RelayCount, SensorCount, SlabCount, StoreCount,
    colder, deficit,
};
use summary::{celsius, hours, thousandth};

/// A day, ms.
pub(crate) const DAY_MS: u64 = 86_400_000;
/// Error left between a trimmed pair of supply and return sensors, K. Common practice, no source.
const PAIR_ERROR_K: f64 = 0.2;

/// What the numbers are counted against.
#[derive(Clone, Debug, PartialEq)]
pub struct MetricsOptions {
    /// The slab temperature that must hold.
    pub target: Celsius,
    /// Electric power of the circulator, W.
    pub pump_w: f64,
    /// Heat carried per kelvin of supply less return, W/K.
    pub conductance_w_k: f64,
    /// Error between the supply and return sensors, K: the band of the heat counted.
    pub pair_error_k: f64,
    /// Return to the store that counts as too warm.
    pub return_limit: Celsius,
    /// Does the return pass the store during a call too?
    pub return_to_store: bool,
    /// Wall clock of the first row; without one, days count from it.
    pub start: Option<DateTime>,
}

impl MetricsOptions {
    /// As the settings have it, with the usual error of a trimmed sensor pair.
    #[must_use]
    pub fn from_settings(settings: &Settings, start: Option<DateTime>) -> Self {
        Self {
            target: settings.target,
            pump_w: settings.pump_power.to_fixed().to_num(),
            conductance_w_k: settings.heat(Kelvin::from_milli(1_000)).to_fixed().to_num(),
            pair_error_k: PAIR_ERROR_K,
            return_limit: settings.return_cap,
            return_to_store: settings.return_to_store,
            start,
        }
    }
}

/// The running count.
#[derive(Clone, Debug)]
pub struct Metrics {
    options: MetricsOptions,
    origin: Option<Instant>,
    rows: u64,
    gap_ms: u64,
    outdoor_min: Option<Celsius>,
    outdoor_unknown_ms: u64,
    outdoor_deficit: u64,
    held_alone: Option<Celsius>,
    air_min: f64,
    air_below_zero_ms: u64,
    slab: SlabCount,
    circulator: RelayCount,
    boiler: RelayCount,
    days: DayStarts,
    failed_calls: u8,
    calls_without_heat: u64,
    /// Time since another's boiler was called, ms.
    other_boiler_off_ms: u64,
    heat: HeatCount,
    store: StoreCount,
    reasons: [u64; Reason::ALL.len()],
    sensors: [SensorCount; Sensor::ALL.len()],
    alarms: [AlarmCount; Alarm::ALL.len()],
    alarms_before: u32,
    /// Those that a gap of the log rang, until they end.
    alarms_of_gap: u32,
    comparison: Comparison,
}

impl Metrics {
    /// Nothing counted yet.
    #[must_use]
    pub fn new(options: MetricsOptions) -> Self {
        let since_midnight = since_midnight_ms(options.start);
        Self {
            options,
            origin: None,
            rows: 0,
            gap_ms: 0,
            outdoor_min: None,
            outdoor_unknown_ms: 0,
            outdoor_deficit: 0,
            held_alone: None,
            air_min: f64::INFINITY,
            air_below_zero_ms: 0,
            slab: SlabCount::default(),
            circulator: RelayCount::default(),
            boiler: RelayCount::default(),
            days: DayStarts {
                end_ms: DAY_MS - since_midnight,
                ..DayStarts::default()
            },
            failed_calls: 0,
            calls_without_heat: 0,
            other_boiler_off_ms: u64::MAX,
            heat: HeatCount::default(),
            store: StoreCount::default(),
            reasons: [0; Reason::ALL.len()],
            sensors: [SensorCount::default(); Sensor::ALL.len()],
            alarms: [AlarmCount::default(); Alarm::ALL.len()],
            alarms_before: 0,
            alarms_of_gap: 0,
            comparison: Comparison::default(),
        }
    }

    /// Counts one row, which stands for `dt_ms`. Log time starts with the first row; a gap in the
    /// log is not counted, by not being pushed.
    pub fn push(&mut self, row: &TraceRow, dt_ms: u64, extra: &Extra) {
        let origin = *self.origin.get_or_insert(row.now);
        let time_ms = row.now.as_millis().saturating_sub(origin.as_millis());
        self.rows += 1;
        self.reasons[row.reason as usize] += dt_ms;
        let slab = row.readings.slab.value.or(extra
            .slab_c
            .map(|c| Celsius::from_milli((c * 1_000.0) as i32)));
        self.slab.push(slab, time_ms, dt_ms, self.options.target);
        let boiler_off_for = self.boiler_off_for(row, dt_ms);
        self.outdoor(row, boiler_off_for, time_ms, dt_ms);
        if let Some(air) = extra.air_c {
            self.air_min = self.air_min.min(air);
            if air < 0.0 {
                self.air_below_zero_ms += dt_ms;
            }
        }

        if time_ms >= self.days.end_ms {
            self.days.most = self.days.most.max(self.days.starts);
            self.days.starts = 0;
            self.days.end_ms += ((time_ms - self.days.end_ms) / DAY_MS + 1) * DAY_MS;
        }
        let starts = self.circulator.push(row.outputs.circulator, dt_ms);
        self.days.starts += u64::from(starts);
        self.boiler.push(row.outputs.boiler_call, dt_ms);
        self.calls_without_heat += u64::from(row.summary.failed_calls > self.failed_calls);
        self.failed_calls = row.summary.failed_calls;
        self.heat.push(row, boiler_off_for, dt_ms);
        let actual = row.shadow.unwrap_or_default();
        if self.options.return_to_store || !actual.boiler_call.unwrap_or(row.outputs.boiler_call) {
            self.store.push(row, dt_ms, self.options.return_limit);
        }

        for (count, sensor) in self.sensors.iter_mut().zip(Sensor::ALL) {
            let reading = row.readings.get(sensor);
            if reading.trust == Trust::Good {
                count.amiss = false;
            } else {
                count.push(reading.trust, reading.fault, dt_ms);
            }
        }
        self.alarms_of_gap &= row.alarms.bits();
        self.alarms(row.alarms.bits() & !self.alarms_of_gap, time_ms, dt_ms);
        self.comparison.push(row, time_ms, dt_ms, extra);
    }

    /// A step of the controller in a gap of the log: what rings because there are no readings is not the house's.
    pub fn step_in_gap(&mut self, row: &TraceRow) {
        self.alarms_of_gap |= row.alarms.bits() & !self.alarms_before;
    }

    /// Time without a row, which belongs to no decision.
    pub fn gap(&mut self, gap_ms: u64) {
        if gap_ms > 0 {
            self.gap_ms += gap_ms;
            // Nobody knows whether the slab stayed below its target.
            self.slab.spell_ms = 0;
        }
    }

    /// Time since the boiler was really called: by this controller, or by whoever switches it.
    fn boiler_off_for(&mut self, row: &TraceRow, dt_ms: u64) -> Duration {
        let Some(called) = row.shadow.and_then(|actual| actual.boiler_call) else {
            return row.status.boiler_off_for;
        };
        self.other_boiler_off_ms = if called {
            0
        } else {
            self.other_boiler_off_ms.saturating_add(dt_ms)
        };
        Duration::from_millis(u32::try_from(self.other_boiler_off_ms).unwrap_or(u32::MAX))
    }

    fn outdoor(&mut self, row: &TraceRow, boiler_off_for: Duration, time_ms: u64, dt_ms: u64) {
        let target = self.options.target;
        if let Some(now) = row.readings.outdoor.value {
            self.outdoor_min = colder(self.outdoor_min, now);
            if now < target {
                self.outdoor_deficit += deficit(target, now) * dt_ms;
            }
        } else {
            self.outdoor_unknown_ms += dt_ms;
        }
        let alone_for_a_day = time_ms >= DAY_MS && boiler_off_for >= Duration::from_hours(24);
        if alone_for_a_day
            && row.readings.outdoor.value.is_some()
            && let (Some(mean), Some(slab)) = (row.estimate.outdoor_mean, row.readings.slab.value)
            && slab >= target
        {
            self.held_alone = colder(self.held_alone, mean);
        }
    }

    fn alarms(&mut self, bits: u32, time_ms: u64, dt_ms: u64) {
        let mut rest = bits;
        while rest != 0 {
            let index = rest.trailing_zeros();
            rest &= rest - 1;
            let Some(count) = self.alarms.get_mut(index as usize) else {
                break;
            };
            if self.alarms_before & (1 << index) == 0 {
                if count.count == 0 {
                    count.first_ms = time_ms;
                }
                count.count += 1;
            }
            count.on_ms += dt_ms;
        }
        self.alarms_before = bits;
    }

    /// The numbers. What the trace cannot know (wood, checksums, the model's closure) is left out
    /// for the caller to fill in.
    #[must_use]
    pub fn finish(self) -> SummaryNumbers {
        let slab = &self.slab;
        let heat = &self.heat;
        // Every row has one reason.
        let covered_ms: u64 = self.reasons.iter().sum();
        let is_slab_known = slab.min.is_some();
        let slab_known = |ms: u64| is_slab_known.then(|| hours(ms));
        // With no flow there is no heat; with flow and no reading, nobody knows.
        let metered = heat.measured_ms > 0 || heat.unmeasured_ms == 0;
        let kwh = |wh: u64| metered.then(|| thousandth(wh as f64 / 1_000.0));
        let pump_kwh = self.circulator.on_ms as f64 / 3.6e6 * self.options.pump_w / 1_000.0;
        let earth_kwh = heat.earth_wh as f64 / 1_000.0;
        let error_kwh =
            heat.earth_ms as f64 / 3.6e6 * self.options.pair_error_k * self.options.conductance_w_k
                / 1_000.0;
        SummaryNumbers {
            days: thousandth(covered_ms as f64 / DAY_MS as f64),
            gap_hours: (self.gap_ms > 0).then(|| hours(self.gap_ms)),
            rows: self.rows,
            water_froze_solid_time: None,
            water_froze_solid_ms: None,
            outdoor_min_c: self.outdoor_min.map(celsius),
            slab_min_c: slab.min.map(celsius),
            slab_min_time: None,
            slab_min_time_ms: slab.min.map(|_| slab.min_at_ms),
            slab_true_min_c: None,
            store_true_min_c: None,
            years: Vec::new(),
            slab_bare_share: None,
            slab_bare_min_c: None,
            slab_bare_edge_kwh: None,
            slab_hours_below_target: slab_known(slab.below_target_ms),
            slab_degree_hours_below_target: is_slab_known
                .then(|| thousandth(slab.deficit as f64 / 65_536.0 / 3.6e6)),
            slab_hours_below_zero: slab_known(slab.below_zero_ms),
            slab_longest_hours_below_target: slab_known(slab.longest_spell_ms),
            slab_hours_unknown: (slab.unknown_ms > 0).then(|| hours(slab.unknown_ms)),
            air_min_c: self.air_min.is_finite().then(|| thousandth(self.air_min)),
            air_hours_below_zero: self
                .air_min
                .is_finite()
                .then(|| hours(self.air_below_zero_ms)),
            circulator_hours: hours(self.circulator.on_ms),
            circulator_starts: self.circulator.starts,
            circulator_starts_per_day_max: self.days.most.max(self.days.starts),
            circulator_longest_rest_hours: (self.rows > 0)
                .then(|| hours(self.circulator.longest_rest_ms())),
            pump_kwh: thousandth(pump_kwh),
            boiler_calls: self.boiler.starts,
            boiler_call_hours: hours(self.boiler.on_ms),
            boiler_calls_without_heat: self.calls_without_heat,
            boiler_heat_kwh: kwh(heat.boiler_wh),
            wood_kg: None,
            earth_heat_kwh: kwh(heat.earth_wh),
            earth_heat_error_kwh: metered.then(|| thousandth(error_kwh)),
            heat_hours_unmeasured: (heat.unmeasured_ms > 0).then(|| hours(heat.unmeasured_ms)),
            cop: (metered && pump_kwh > 0.0).then(|| thousandth(earth_kwh / pump_kwh)),
            store_min_c: self.store.min.map(celsius),
            store_first_c: self.store.first.map(celsius),
            store_last_c: self.store.last.map(celsius),
            return_max_c: self.store.return_max.map(celsius),
            return_hours_above_limit: self
                .store
                .return_max
                .map(|_| hours(self.store.return_above_ms)),
            outdoor_degree_hours_below_target: (covered_ms > self.outdoor_unknown_ms)
                .then(|| thousandth(self.outdoor_deficit as f64 / 65_536.0 / 3.6e6)),
            outdoor_mean_held_alone_c: self.held_alone.map(celsius),
            frost_override_hours: hours(self.reasons[Reason::Frost as usize]),
            reasons: reasons(&self.reasons),
            faults: faults(&self.sensors),
            alarms: alarm_numbers(&self.alarms, self.alarms_before),
            agreement: self.comparison.finish(),
            log: None,
            energy_closure: None,
            trace_sha256: None,
            settings_sha256: None,
        }
    }
}

fn reasons(counts: &[u64; Reason::ALL.len()]) -> BTreeMap<String, f64> {
    Reason::ALL
        .into_iter()
        .zip(counts)
        .filter(|(_, ms)| **ms > 0)
        .map(|(reason, ms)| (reason.name().to_owned(), hours(*ms)))
        .collect()
}

fn faults(counts: &[SensorCount; Sensor::ALL.len()]) -> BTreeMap<String, SensorFaults> {
    Sensor::ALL
        .into_iter()
        .zip(counts)
        .filter(|(_, count)| count.times > 0)
        .map(|(sensor, count)| {
            let kinds = FAULTS
                .into_iter()
                .zip(count.kinds)
                .filter(|(_, ms)| *ms > 0)
                .map(|(fault, ms)| (fault.name().to_owned(), hours(ms)))
                .collect();
            let faults = SensorFaults {
                times: count.times,
                doubted_hours: hours(count.doubted_ms),
                lost_hours: hours(count.lost_ms),
                kinds,
            };
            (sensor.name().to_owned(), faults)
        })
        .collect()
}

fn alarm_numbers(counts: &[AlarmCount; Alarm::ALL.len()], standing: u32) -> Vec<AlarmNumbers> {
    Alarm::ALL
        .into_iter()
        .zip(counts)
        .filter(|(_, count)| count.count > 0)
        .map(|(alarm, count)| AlarmNumbers {
            name: alarm.name().to_owned(),
            advice: alarm.is_advice(),
            first_time_ms: count.first_ms,
            first_time: None,
            hours: hours(count.on_ms),
            count: count.count,
            standing: standing & (1 << alarm as u32) != 0,
        })
        .collect()
}

/// Time of day of the first row, ms; zero where the wall clock is not known.
pub(crate) fn since_midnight_ms(start: Option<DateTime>) -> u64 {
    start.map_or(0, |start| {
        let time = start.time();
        let seconds = i64::from(time.hour()) * 3_600
            + i64::from(time.minute()) * 60
            + i64::from(time.second());
        let ms = seconds * 1_000 + i64::from(time.millisecond());
        u64::try_from(ms).unwrap_or(0)
    })
}

#[cfg(test)]
pub(crate) mod sample;
#[cfg(test)]
mod tests;
