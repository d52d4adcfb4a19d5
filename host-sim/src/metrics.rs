//! Numbers a season is judged by, counted row by row from the trace.
//!
//! Called for every row of a log or a simulated winter, up to tens of millions of times: whole-number
//! sums and arrays only, nothing allocated. It reads the trace and never feeds anything back.

mod agreement;
mod summary;

pub use summary::{
    Agreement, AlarmNumbers, Difference, RelayAgreement, SensorFaults, SummaryNumbers,
};

use std::collections::BTreeMap;

use controller_core::alarm::Alarm;
use controller_core::reason::Reason;
use controller_core::sensor::{ReadingFault, Sensor, Trust};
use controller_core::settings::Settings;
use controller_core::time::{Duration, Instant};
use controller_core::trace::TraceRow;
use controller_core::units::{Celsius, Kelvin};
use controller_core::{Flow, RunState};
use jiff::civil::DateTime;

use agreement::Comparison;
use summary::{celsius, hours, thousandth};

/// A day, ms.
pub(crate) const DAY_MS: u64 = 86_400_000;
/// Heat of a boiler call still leaves the pipes this long after it, as the controller counts it.
const BOILER_HEAT: Duration = Duration::from_mins(30);
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
            return_limit: settings.return_limit(),
            start,
        }
    }
}

/// What a row's time brought besides the trace, where known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Extra {
    /// House air, °C.
    pub air_c: Option<f64>,
    /// Store, by a sensor of its own or by the model, °C.
    pub store_c: Option<f64>,
    /// Did the circulator run by the log?
    pub logged_circulator: Option<bool>,
    /// Was the boiler called by the log?
    pub logged_boiler: Option<bool>,
}

/// The running count.
#[derive(Clone, Debug)]
pub struct Metrics {
    options: MetricsOptions,
    origin: Option<Instant>,
    rows: u64,
    covered_ms: u64,
    outdoor_min: Option<Celsius>,
    outdoor_known_ms: u64,
    outdoor_deficit: u64,
    held_alone: Option<Celsius>,
    air_min: f64,
    slab: SlabCount,
    circulator: RelayCount,
    boiler: RelayCount,
    days: DayStarts,
    failed_calls: u8,
    calls_without_heat: u64,
    heat: HeatCount,
    store: StoreCount,
    reasons: [u64; Reason::ALL.len()],
    sensors: [SensorCount; Sensor::ALL.len()],
    alarms: [AlarmCount; Alarm::ALL.len()],
    alarms_before: u32,
    comparison: Comparison,
}

#[derive(Clone, Copy, Debug, Default)]
struct SlabCount {
    min: Option<Celsius>,
    min_at_ms: u64,
    known_ms: u64,
    unknown_ms: u64,
    below_target_ms: u64,
    /// 1/65536 K times ms.
    deficit: u64,
    below_zero_ms: u64,
    spell_ms: u64,
    longest_spell_ms: u64,
}

#[derive(Clone, Copy, Debug, Default)]
struct RelayCount {
    on: bool,
    on_ms: u64,
    starts: u64,
    rest_ms: u64,
    longest_rest_ms: u64,
}

impl RelayCount {
    /// True if it starts in this row.
    fn push(&mut self, on: bool, dt_ms: u64) -> bool {
        let starts = on && !self.on;
        self.on = on;
        if on {
            self.on_ms += dt_ms;
            self.rest_ms = 0;
        } else {
            self.rest_ms += dt_ms;
            self.longest_rest_ms = self.longest_rest_ms.max(self.rest_ms);
        }
        self.starts += u64::from(starts);
        starts
    }
}

/// Circulator starts of the present day and the most of any.
#[derive(Clone, Copy, Debug, Default)]
struct DayStarts {
    end_ms: u64,
    starts: u64,
    most: u64,
}

#[derive(Clone, Copy, Debug, Default)]
struct HeatCount {
    seen: [u32; 3],
    earth_wh: u64,
    banked_wh: u64,
    boiler_wh: u64,
    earth_ms: u64,
    measured_ms: u64,
    unmeasured_ms: u64,
}

#[derive(Clone, Copy, Debug, Default)]
struct StoreCount {
    min: Option<Celsius>,
    first: Option<Celsius>,
    last: Option<Celsius>,
    return_max: Option<Celsius>,
    return_above_ms: u64,
}

#[derive(Clone, Copy, Debug, Default)]
struct SensorCount {
    amiss: bool,
    times: u64,
    doubted_ms: u64,
    lost_ms: u64,
    kinds: [u64; FAULTS.len()],
}

#[derive(Clone, Copy, Debug, Default)]
struct AlarmCount {
    first_ms: u64,
    on_ms: u64,
    count: u64,
}

/// What can be wrong with a reading, in the order of its numbers.
const FAULTS: [ReadingFault; 9] = [
    ReadingFault::None,
    ReadingFault::Unseen,
    ReadingFault::Lost,
    ReadingFault::Range,
    ReadingFault::Jump,
    ReadingFault::Stuck,
    ReadingFault::PowerOn,
    ReadingFault::Contradicted,
    ReadingFault::Returning,
];

impl Metrics {
    /// Nothing counted yet.
    #[must_use]
    pub fn new(options: MetricsOptions) -> Self {
        let since_midnight = since_midnight_ms(options.start);
        Self {
            options,
            origin: None,
            rows: 0,
            covered_ms: 0,
            outdoor_min: None,
            outdoor_known_ms: 0,
            outdoor_deficit: 0,
            held_alone: None,
            air_min: f64::INFINITY,
            slab: SlabCount::default(),
            circulator: RelayCount::default(),
            boiler: RelayCount::default(),
            days: DayStarts {
                end_ms: DAY_MS - since_midnight,
                ..DayStarts::default()
            },
            failed_calls: 0,
            calls_without_heat: 0,
            heat: HeatCount::default(),
            store: StoreCount::default(),
            reasons: [0; Reason::ALL.len()],
            sensors: [SensorCount::default(); Sensor::ALL.len()],
            alarms: [AlarmCount::default(); Alarm::ALL.len()],
            alarms_before: 0,
            comparison: Comparison::default(),
        }
    }

    /// Counts one row, which stands for `dt_ms`. Log time starts with the first row; a gap in the
    /// log is not counted, by not being pushed.
    pub fn push(&mut self, row: &TraceRow, dt_ms: u64, extra: &Extra) {
        let origin = *self.origin.get_or_insert(row.now);
        let time_ms = row.now.as_millis().saturating_sub(origin.as_millis());
        self.rows += 1;
        self.covered_ms += dt_ms;
        self.reasons[row.reason as usize] += dt_ms;
        self.slab.push(row, time_ms, dt_ms, self.options.target);
        self.outdoor(row, time_ms, dt_ms);
        if let Some(air) = extra.air_c {
            self.air_min = self.air_min.min(air);
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
        self.heat.push(row, dt_ms);
        self.store.push(row, dt_ms, self.options.return_limit);

        for (count, sensor) in self.sensors.iter_mut().zip(Sensor::ALL) {
            let reading = row.readings.get(sensor);
            if reading.trust == Trust::Good {
                count.amiss = false;
            } else {
                count.push(reading.trust, reading.fault, dt_ms);
            }
        }
        self.alarms(row.alarms.bits(), time_ms, dt_ms);
        self.comparison.push(row, time_ms, dt_ms, extra);
    }

    fn outdoor(&mut self, row: &TraceRow, time_ms: u64, dt_ms: u64) {
        let target = self.options.target;
        if let Some(now) = row.readings.outdoor.value {
            self.outdoor_min = colder(self.outdoor_min, now);
            self.outdoor_known_ms += dt_ms;
            self.outdoor_deficit += deficit(target, now) * dt_ms;
        }
        let alone_for_a_day =
            time_ms >= DAY_MS && row.status.boiler_off_for >= Duration::from_hours(24);
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
        let slab_known = |ms: u64| (slab.known_ms > 0).then(|| hours(ms));
        // With no flow there is no heat; with flow and no reading, nobody knows.
        let metered = heat.measured_ms > 0 || heat.unmeasured_ms == 0;
        let kwh = |wh: u64| metered.then(|| thousandth(wh as f64 / 1_000.0));
        let pump_kwh = self.circulator.on_ms as f64 / 3.6e6 * self.options.pump_w / 1_000.0;
        let earth_kwh = heat.earth_wh as f64 / 1_000.0;
        let error_kwh =
            heat.earth_ms as f64 / 3.6e6 * self.options.pair_error_k * self.options.conductance_w_k
                / 1_000.0;
        SummaryNumbers {
            days: thousandth(self.covered_ms as f64 / DAY_MS as f64),
            rows: self.rows,
            outdoor_min_c: self.outdoor_min.map(celsius),
            slab_min_c: slab.min.map(celsius),
            slab_min_time: None,
            slab_min_time_ms: slab.min.map(|_| slab.min_at_ms),
            slab_hours_below_target: slab_known(slab.below_target_ms),
            slab_degree_hours_below_target: (slab.known_ms > 0)
                .then(|| thousandth(slab.deficit as f64 / 65_536.0 / 3.6e6)),
            slab_hours_below_zero: slab_known(slab.below_zero_ms),
            slab_longest_hours_below_target: slab_known(slab.longest_spell_ms),
            slab_hours_unknown: (slab.unknown_ms > 0).then(|| hours(slab.unknown_ms)),
            air_min_c: self.air_min.is_finite().then(|| thousandth(self.air_min)),
            circulator_hours: hours(self.circulator.on_ms),
            circulator_starts: self.circulator.starts,
            circulator_starts_per_day_max: self.days.most.max(self.days.starts),
            circulator_longest_rest_hours: (self.rows > 0)
                .then(|| hours(self.circulator.longest_rest_ms)),
            pump_kwh: thousandth(pump_kwh),
            boiler_calls: self.boiler.starts,
            boiler_call_hours: hours(self.boiler.on_ms),
            boiler_calls_without_heat: self.calls_without_heat,
            boiler_heat_kwh: kwh(heat.boiler_wh),
            wood_kg: None,
            earth_heat_kwh: kwh(heat.earth_wh),
            earth_heat_error_kwh: metered.then(|| thousandth(error_kwh)),
            banked_heat_kwh: kwh(heat.banked_wh),
            heat_hours_unmeasured: (heat.unmeasured_ms > 0).then(|| hours(heat.unmeasured_ms)),
            heat_to_pump_ratio: (metered && pump_kwh > 0.0)
                .then(|| thousandth(earth_kwh / pump_kwh)),
            store_min_c: self.store.min.map(celsius),
            store_first_c: self.store.first.map(celsius),
            store_last_c: self.store.last.map(celsius),
            return_max_c: self.store.return_max.map(celsius),
            return_hours_above_limit: self
                .store
                .return_max
                .map(|_| hours(self.store.return_above_ms)),
            outdoor_degree_hours_below_target: (self.outdoor_known_ms > 0)
                .then(|| thousandth(self.outdoor_deficit as f64 / 65_536.0 / 3.6e6)),
            outdoor_mean_held_alone_c: self.held_alone.map(celsius),
            frost_override_hours: hours(self.reasons[Reason::Frost as usize]),
            reasons: reasons(&self.reasons),
            faults: faults(&self.sensors),
            alarms: alarm_numbers(&self.alarms, self.alarms_before),
            agreement: self.comparison.finish(),
            energy_closure: None,
            trace_sha256: None,
            settings_sha256: None,
        }
    }
}

impl SlabCount {
    fn push(&mut self, row: &TraceRow, time_ms: u64, dt_ms: u64, target: Celsius) {
        let Some(slab) = row.readings.slab.value else {
            self.unknown_ms += dt_ms;
            self.spell_ms = 0;
            return;
        };
        self.known_ms += dt_ms;
        if self.min.is_none_or(|min| slab < min) {
            self.min = Some(slab);
            self.min_at_ms = time_ms;
        }
        if slab < target {
            self.below_target_ms += dt_ms;
            self.deficit += deficit(target, slab) * dt_ms;
            self.spell_ms += dt_ms;
            self.longest_spell_ms = self.longest_spell_ms.max(self.spell_ms);
        } else {
            self.spell_ms = 0;
        }
        if slab < Celsius::ZERO {
            self.below_zero_ms += dt_ms;
        }
    }
}

impl HeatCount {
    /// The controller's counters start again at a boot; what they add is counted on.
    fn push(&mut self, row: &TraceRow, dt_ms: u64) {
        let e = &row.estimate;
        let now = [e.earth_wh, e.banked_wh, e.boiler_wh];
        if now != self.seen {
            let [earth, banked, boiler] = added(self.seen, now);
            self.earth_wh += earth;
            self.banked_wh += banked;
            self.boiler_wh += boiler;
            self.seen = now;
        }
        if e.flow != Flow::Flowing {
            return;
        }
        if e.heat.is_none() {
            self.unmeasured_ms += dt_ms;
            return;
        }
        self.measured_ms += dt_ms;
        if row.status.boiler_off_for >= BOILER_HEAT && row.summary.run != RunState::Banking {
            self.earth_ms += dt_ms;
        }
    }
}

/// What counters that may have started again at zero have added, Wh.
pub(crate) fn added(before: [u32; 3], now: [u32; 3]) -> [u64; 3] {
    let one = |b: u32, n: u32| u64::from(if n >= b { n - b } else { n });
    [
        one(before[0], now[0]),
        one(before[1], now[1]),
        one(before[2], now[2]),
    ]
}

impl StoreCount {
    fn push(&mut self, row: &TraceRow, dt_ms: u64, limit: Celsius) {
        if row.estimate.flow != Flow::Flowing {
            return;
        }
        if row.estimate.store_age == Duration::ZERO {
            let store = row.estimate.store;
            self.min = colder(self.min, store);
            self.first = self.first.or(Some(store));
            self.last = Some(store);
        }
        if let Some(water) = row.readings.ret.value {
            self.return_max = Some(self.return_max.map_or(water, |max| max.max(water)));
            if water > limit {
                self.return_above_ms += dt_ms;
            }
        }
    }
}

impl SensorCount {
    fn push(&mut self, trust: Trust, fault: ReadingFault, dt_ms: u64) {
        // Just after a boot nothing has been seen yet: no fault, unless it stays so.
        if fault == ReadingFault::Unseen && trust == Trust::Suspect {
            return;
        }
        if !self.amiss {
            self.amiss = true;
            self.times += 1;
        }
        match trust {
            Trust::Good => {}
            Trust::Suspect => self.doubted_ms += dt_ms,
            Trust::Bad => self.lost_ms += dt_ms,
        }
        self.kinds[fault as usize] += dt_ms;
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

/// How far a temperature is below a limit, 1/65536 K; zero above it.
fn deficit(limit: Celsius, now: Celsius) -> u64 {
    u64::try_from((limit - now).to_bits()).unwrap_or(0)
}

fn colder(before: Option<Celsius>, now: Celsius) -> Option<Celsius> {
    Some(before.map_or(now, |b| b.min(now)))
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
mod tests;
