//! A measured loop through the whole replay: fourteen winter days of a real outdoor circuit with
//! hundreds of idle hours below freezing, hot stagnation in the sun and no slab sensor.
//!
//! Data: Zenodo record 7741084, CC BY-SA 4.0; see the licence beside the file.

use std::collections::BTreeMap;

use controller_core::StepReport;
use controller_core::settings::Settings;
use controller_core::units::Celsius;
use host_sim::account::sinks::{Logged, Sink};
use host_sim::files::log::{LogReader, ReaderOptions};
use host_sim::questions::replay::{reader_options, replay};
use host_sim::sim::cancel::Cancel;

#[derive(Default)]
struct Seen {
    steps: u32,
    hours_by_reason: BTreeMap<&'static str, f64>,
    covered_h: f64,
    idle_cold: u32,
    idle_cold_unprotected: u32,
    calls_without_circulation: u32,
    calls_on_hot_supply: u32,
    cold_rest_s: u64,
}

impl Sink for Seen {
    fn step(
        &mut self,
        report: &StepReport,
        logged: &Logged<'_>,
        _: &str,
    ) -> Result<(), std::io::Error> {
        let row = &report.row;
        self.steps += 1;
        let hours = logged.stands_ms as f64 / 3.6e6;
        *self.hours_by_reason.entry(row.reason.name()).or_default() += hours;
        self.covered_h += hours;
        let freezing = row
            .readings
            .ret
            .at_most()
            .is_some_and(|t| t <= Celsius::from_milli(2_000));
        let at_rest = row.shadow.and_then(|actual| actual.circulator) == Some(false);
        if freezing && at_rest {
            self.idle_cold += 1;
            // Protection may wait a minute for the shortest rest, and longer after a boot.
            self.cold_rest_s = if report.outputs.circulator {
                0
            } else {
                self.cold_rest_s + 10
            };
            let stopped_for_safety = row.reason.name() == "overheat";
            let pausing = row.summary.frost.is_some() && row.reason.name() == "frost";
            if self.cold_rest_s > 120 && !stopped_for_safety && !pausing {
                self.idle_cold_unprotected += 1;
            }
        } else {
            self.cold_rest_s = 0;
        }
        if report.outputs.boiler_call && !report.outputs.circulator {
            self.calls_without_circulation += 1;
        }
        let hot = row
            .readings
            .supply
            .at_least()
            .is_some_and(|t| t >= Celsius::from_milli(40_000));
        if report.outputs.boiler_call && hot {
            self.calls_on_hot_supply += 1;
        }
        Ok(())
    }
}

#[test]
fn fourteen_measured_days_replay_with_sensible_reasons() {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/data/measured-loop/outdoor-pipe-loop-1min-14d.csv"
    );
    let columns = [
        "time=time_utc",
        "supply_c=t_supply_C",
        "return_c=t_return_C",
        "outdoor_c=t_outdoor_C",
        "circulator=flow_m3h>0.1",
    ]
    .map(|mapping| mapping.parse().expect("a column mapping"));
    let options = reader_options(ReaderOptions {
        columns: columns.to_vec(),
        ..ReaderOptions::default()
    });
    let reader = LogReader::open(path.as_ref(), &options).expect("the log can be read");
    let mut seen = Seen::default();
    let reader = replay(
        reader,
        &Settings::default(),
        &mut seen,
        &Cancel::new(),
        &mut |_| {},
    )
    .expect("it replays");

    assert_eq!(
        reader.summary().rows,
        20_160,
        "every minute of fourteen days"
    );
    assert!(
        (seen.covered_h - 336.0).abs() < 0.05,
        "{} h",
        seen.covered_h
    );
    let total: f64 = seen.hours_by_reason.values().sum();
    assert!(
        (total - seen.covered_h).abs() < 1e-6,
        "one reason at a time"
    );
    // The idle pipes are below freezing for most of the two weeks: frost must be what runs the pump.
    assert!(
        seen.idle_cold > 30_000,
        "{} steps with cold water at rest",
        seen.idle_cold
    );
    assert!(
        seen.hours_by_reason["frost"] > 150.0,
        "{:?}",
        seen.hours_by_reason
    );
    assert_eq!(
        seen.idle_cold_unprotected, 0,
        "of {} cold steps",
        seen.idle_cold
    );
    assert_eq!(seen.calls_without_circulation, 0);
    assert_eq!(seen.calls_on_hot_supply, 0);
}
