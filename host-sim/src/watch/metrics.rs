//! The state in the OpenMetrics text format, version 1.0 (prometheus.io, specification of 2020; now by the CNCF).

use std::fmt::Write as _;

use controller_core::alarm::Alarm;
use controller_core::sensor::Sensor;

use super::state::State;

/// Its media type.
pub const TYPE: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

/// Metrics by family.
struct Text(String);

impl Text {
    fn family(&mut self, name: &str, kind: &str, unit: &str, help: &str) {
        // Writing to a string cannot fail.
        let _ = writeln!(self.0, "# TYPE {name} {kind}");
        if !unit.is_empty() {
            let _ = writeln!(self.0, "# UNIT {name} {unit}");
        }
        let _ = writeln!(self.0, "# HELP {name} {help}");
    }

    fn sample(&mut self, name: &str, label: Option<(&str, &str)>, value: f64) {
        let labels = label.map_or(String::new(), |(key, value)| {
            let value = value
                .replace('\\', r"\\")
                .replace('"', "\\\"")
                .replace('\n', "\\n");
            format!("{{{key}=\"{value}\"}}")
        });
        let _ = writeln!(self.0, "{name}{labels} {value}");
    }

    fn gauge(&mut self, name: &str, unit: &str, help: &str, value: Option<f64>) {
        if let Some(value) = value {
            self.family(name, "gauge", unit, help);
            self.sample(name, None, value);
        }
    }
}

/// What is not known is left out: a gap in the curve, never a zero.
#[must_use]
pub fn text(state: &State) -> String {
    let mut text = Text(String::new());
    let row = state.now();
    let name = "slab_controller_temperature_celsius";
    text.family(name, "gauge", "celsius", "Readings of the unit.");
    for sensor in Sensor::ALL {
        if let Some(celsius) = row.and_then(|row| row.reading_c(sensor)) {
            text.sample(name, Some(("sensor", sensor.name())), celsius);
        }
    }
    let bit = |is: bool| f64::from(u8::from(is));
    text.gauge(
        "slab_controller_store_estimate_celsius",
        "celsius",
        "Temperature of the store as the unit estimates it.",
        row.and_then(|row| row.store_c),
    );
    text.gauge(
        "slab_controller_circulator",
        "",
        "1 while the circulator is on.",
        row.map(|row| bit(row.circulator)),
    );
    text.gauge(
        "slab_controller_boiler_call",
        "",
        "1 while the boiler is called.",
        row.map(|row| bit(row.boiler_call)),
    );
    if let Some(row) = row {
        let name = "slab_controller_alarm";
        text.family(name, "gauge", "", "1 while the condition stands.");
        for alarm in Alarm::ALL {
            let stands = row.alarms.iter().any(|name| name == alarm.name());
            text.sample(name, Some(("condition", alarm.name())), bit(stands));
        }
    }
    text.gauge(
        "slab_controller_row_age_seconds",
        "seconds",
        "Time since the last row of the unit.",
        state.row_age().map(|age| age.as_secs_f64()),
    );
    text.family(
        "slab_controller_rows",
        "counter",
        "",
        "Rows of the unit since this program began.",
    );
    text.sample("slab_controller_rows_total", None, state.rows as f64);
    text.family(
        "slab_controller_boots",
        "counter",
        "",
        "Boots of the unit since this program began.",
    );
    text.sample("slab_controller_boots_total", None, state.boots as f64);
    let fault = Some(bit(state.log.fault.is_some()));
    text.gauge(
        "slab_controller_log_fault",
        "",
        "1 while the log cannot be written.",
        fault,
    );
    if !state.hooks.is_empty() {
        let name = "slab_controller_messages_waiting";
        text.family(name, "gauge", "", "Messages not delivered yet.");
        for hook in &state.hooks {
            text.sample(name, Some(("hook", &hook.name)), hook.waiting as f64);
        }
    }
    text.0 + "# EOF\n"
}
