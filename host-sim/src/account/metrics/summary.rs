//! The numbers as others read them: field names are the keys of the JSON summary.

use std::collections::BTreeMap;

use controller_core::units::Celsius;
use serde::Serialize;

use crate::files::log::Noticed;

/// One of several years of the model.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct YearNumbers {
    /// Store floor when it began, °C.
    pub store_floor_start_c: f64,
    /// Coldest store floor, °C.
    pub store_floor_min_c: f64,
    /// Coldest part of the slab that has tube, °C.
    pub slab_true_min_c: f64,
    /// Heat from the store, kWh.
    pub earth_heat_kwh: f64,
    /// Heat from the boiler, kWh.
    pub boiler_heat_kwh: f64,
}

/// A season in numbers. What is not known is absent, never zero.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct SummaryNumbers {
    /// Time covered by rows, days.
    pub days: f64,
    /// Time between a log's first and last row that no row covers, h: in none of the other numbers.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gap_hours: Option<f64>,
    /// Steps of the controller counted.
    pub rows: u64,
    /// When water froze solid in a tube or pipe of the model, as text: damage, for good.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub water_froze_solid_time: Option<String>,
    /// When that was, ms since the first row.
    #[serde(skip)]
    pub water_froze_solid_ms: Option<u64>,
    /// Coldest outdoor reading, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub outdoor_min_c: Option<f64>,
    /// Coldest slab, by its checked reading, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slab_min_c: Option<f64>,
    /// When that was, as text.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slab_min_time: Option<String>,
    /// When that was, ms since the first row.
    #[serde(skip)]
    pub slab_min_time_ms: Option<u64>,
    /// Coldest part of the model's slab that has tube, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slab_true_min_c: Option<f64>,
    /// A model's coldest floor of the store, °C, beside what the water showed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub store_true_min_c: Option<f64>,
    /// Share of the model's floor that has no tube, 0..1, if there is any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slab_bare_share: Option<f64>,
    /// Coldest floor without tube, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slab_bare_min_c: Option<f64>,
    /// Heat that floor lost through its edge, kWh.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slab_bare_edge_kwh: Option<f64>,
    /// Whole years one after another, where they were asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub years: Vec<YearNumbers>,
    /// Time the slab was below its target, h.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slab_hours_below_target: Option<f64>,
    /// Σ (target − slab) dt while below the target, K·h.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slab_degree_hours_below_target: Option<f64>,
    /// Time the slab was below 0 °C, h.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slab_hours_below_zero: Option<f64>,
    /// Longest time below the target in one piece, h.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slab_longest_hours_below_target: Option<f64>,
    /// Time without any slab reading to go by, h.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slab_hours_unknown: Option<f64>,
    /// Coldest house air, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub air_min_c: Option<f64>,
    /// Time the house air was below 0 °C, h.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub air_hours_below_zero: Option<f64>,
    /// Circulator hours.
    pub circulator_hours: f64,
    /// Circulator starts.
    pub circulator_starts: u64,
    /// Most starts in one day.
    pub circulator_starts_per_day_max: u64,
    /// Longest rest of the circulator, h.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub circulator_longest_rest_hours: Option<f64>,
    /// Circulator electricity, kWh: hours times its set power, or the model's.
    pub pump_kwh: f64,
    /// Boiler calls.
    pub boiler_calls: u64,
    /// Time the boiler was called, h.
    pub boiler_call_hours: f64,
    /// Calls that brought no heat.
    pub boiler_calls_without_heat: u64,
    /// Heat the boiler gave, kWh: metered by the water, or the model's.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub boiler_heat_kwh: Option<f64>,
    /// Wood burnt, kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wood_kg: Option<f64>,
    /// Heat from the earth, metered by the water after the settling time, kWh.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub earth_heat_kwh: Option<f64>,
    /// How wrong that may be for the error between supply and return sensors, ± kWh.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub earth_heat_error_kwh: Option<f64>,
    /// Time water flowed and its heat could not be metered, h.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub heat_hours_unmeasured: Option<f64>,
    /// All earth heat over all circulator electricity (boiler runs included).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cop: Option<f64>,
    /// Coldest water from the store, measured after the settling time, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub store_min_c: Option<f64>,
    /// The first such measurement, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub store_first_c: Option<f64>,
    /// The last, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub store_last_c: Option<f64>,
    /// Warmest return to the store, after the settling time, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub return_max_c: Option<f64>,
    /// Time the return was above the limit for the store, h.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub return_hours_above_limit: Option<f64>,
    /// Σ (target − outdoor) dt while colder, K·h: how hard the season was.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub outdoor_degree_hours_below_target: Option<f64>,
    /// Coldest outdoor mean at which the slab held its target a day or more after any boiler call, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub outdoor_mean_held_alone_c: Option<f64>,
    /// Time frost protection decided, h.
    pub frost_override_hours: f64,
    /// Hours by reason.
    pub reasons: BTreeMap<String, f64>,
    /// Sensors that were not fully trusted at some time.
    pub faults: BTreeMap<String, SensorFaults>,
    /// Alarms that came, the weightiest first.
    pub alarms: Vec<AlarmNumbers>,
    /// How the decisions compare with relays in the log.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub agreement: Option<Agreement>,
    /// What was noticed about the log; replay only.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub log: Option<Noticed>,
    /// Relative residual of the model's heat balance.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub energy_closure: Option<f64>,
    /// SHA-256 of the trace.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trace_sha256: Option<String>,
    /// SHA-256 of the settings.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub settings_sha256: Option<String>,
}

impl SummaryNumbers {
    /// Writes every time out as text; `label` turns ms since the first row into it.
    pub fn label_times(&mut self, label: impl Fn(u64) -> String) {
        self.slab_min_time = self.slab_min_time_ms.map(&label);
        self.water_froze_solid_time = self.water_froze_solid_ms.map(&label);
        for alarm in &mut self.alarms {
            alarm.first_time = Some(label(alarm.first_time_ms));
        }
        if let Some(agreement) = &mut self.agreement {
            for difference in &mut agreement.differing {
                difference.start_time = Some(label(difference.start_time_ms));
            }
        }
    }
}

/// How one sensor did.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct SensorFaults {
    /// Times it went from good to not.
    pub times: u64,
    /// Time it was doubted, h.
    pub doubted_hours: f64,
    /// Time it was lost, h.
    pub lost_hours: f64,
    /// Hours by what was wrong.
    pub kinds: BTreeMap<String, f64>,
}

/// One alarm over the season.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct AlarmNumbers {
    /// Its word.
    pub name: String,
    /// It only informs.
    pub advice: bool,
    /// When it first came, ms since the first row.
    #[serde(skip)]
    pub first_time_ms: u64,
    /// When it first came, as text.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_time: Option<String>,
    /// Time it stood, h.
    pub hours: f64,
    /// Times it came.
    pub count: u64,
    /// It stood at the end.
    pub standing: bool,
}

/// Our relays against the log's.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Agreement {
    /// The circulator, where logged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub circulator: Option<RelayAgreement>,
    /// The boiler call, where logged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub boiler: Option<RelayAgreement>,
    /// The longest stretches that differ, longest first.
    pub differing: Vec<Difference>,
}

/// One relay against the log's.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct RelayAgreement {
    /// Time both are known, h.
    pub compared_hours: f64,
    /// Share of it in which both are the same, 0 to 1.
    pub equal_share: f64,
    /// We on, the log off, h.
    pub ours_on_theirs_off_hours: f64,
    /// We off, the log on, h.
    pub ours_off_theirs_on_hours: f64,
}

/// One stretch in which we differ from the log.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Difference {
    /// `circulator` or `boiler`.
    pub relay: String,
    /// We on and the log off, or the other way round.
    pub ours_on: bool,
    /// Its beginning, ms since the first row.
    #[serde(skip)]
    pub start_time_ms: u64,
    /// Its beginning as text.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub start_time: Option<String>,
    /// How long, h.
    pub hours: f64,
    /// Our reason as it began.
    pub reason: String,
}

/// Milliseconds as hours.
pub(super) fn hours(ms: u64) -> f64 {
    thousandth(ms as f64 / 3.6e6)
}

/// As a number for people, to the nearest thousandth.
pub(super) fn celsius(value: Celsius) -> f64 {
    thousandth(f64::from(value.to_bits()) / 65_536.0)
}

/// To the nearest thousandth: finer is noise in every number here.
pub(super) fn thousandth(value: f64) -> f64 {
    let rounded = (value * 1_000.0).round() / 1_000.0;
    if rounded == 0.0 { 0.0 } else { rounded }
}
