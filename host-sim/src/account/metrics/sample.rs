//! Trace rows for tests: a real controller's first row, changed where a test wants it.

use controller_core::restart::Restart;
use controller_core::sensor::{BySensor, Sample};
use controller_core::settings::Settings;
use controller_core::time::{Duration, Instant};
use controller_core::trace::TraceRow;
use controller_core::units::Celsius;
use controller_core::{Controller, Inputs};

/// Everything read and at rest: supply 6, return 5, slab 4, outdoor −3 °C.
pub(crate) fn row() -> TraceRow {
    let now = Instant::from_millis(5_000);
    let at = |milli| Sample::Framed(Celsius::from_milli(milli));
    let inputs = Inputs {
        samples: BySensor {
            supply: at(6_000),
            ret: at(5_000),
            slab: at(4_000),
            outdoor: at(-3_000),
        },
        ..Inputs::default()
    };
    let mut controller = Controller::boot(Settings::default(), now, Restart::ORDINARY);
    let report = controller
        .step(now, &inputs)
        .expect("the first step is wanted at once");
    let mut row = report.row;
    row.status.boiler_off_for = Duration::MAX;
    row
}

/// The same so many minutes later.
pub(crate) fn row_at(minutes: u64) -> TraceRow {
    let mut row = row();
    row.now = Instant::from_millis(5_000 + minutes * 60_000);
    row
}
