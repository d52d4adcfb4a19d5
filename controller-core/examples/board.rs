//! A board's main loop, with a stand-in for its pins: read, decide, switch, log, sleep.
//!
//! `cargo run -p controller-core --example board`

use controller_core::restart::{Restart, RestartCause};
use controller_core::sensor::{BySensor, ReadFault, Sample};
use controller_core::settings::{RawSettings, Settings};
use controller_core::time::{Duration, Instant};
use controller_core::units::Celsius;
use controller_core::{Controller, Inputs, Outputs};

/// What a port writes for its own pins.
struct Board {
    now: Instant,
    outputs: Outputs,
}

impl Board {
    /// The counter of milliseconds since power came.
    fn now(&self) -> Instant {
        self.now
    }

    /// One read of each sensor. Here the outdoor sensor is not connected.
    fn read(&self) -> BySensor<Sample> {
        let framed = |milli| Sample::Framed(Celsius::from_milli(milli));
        BySensor {
            supply: framed(8_000),
            ret: framed(3_000),
            slab: framed(2_000),
            outdoor: Sample::Failed(ReadFault::Missing),
        }
    }

    /// Copies the bits to the relays.
    fn write(&mut self, outputs: Outputs) {
        self.outputs = outputs;
    }

    /// Sleeps; here time simply passes.
    fn sleep_until(&mut self, until: Instant) {
        self.now = until;
    }
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut board = Board {
        now: Instant::from_millis(0),
        outputs: Outputs::default(),
    };
    let settings = Settings::check(RawSettings::DEFAULT)?;
    let restart = Restart {
        cause: RestartCause::PowerOn,
        ..Restart::ORDINARY
    };
    let mut controller = Controller::boot(settings, board.now(), restart);
    let end = board.now() + Duration::from_mins(20);
    while board.now() < end {
        let inputs = Inputs {
            samples: board.read(),
            ..Inputs::default()
        };
        if let Some(report) = controller.step(board.now(), &inputs) {
            if report.outputs != board.outputs {
                let minutes = report.row.now.as_millis() / 60_000;
                let reason = report.row.reason.name();
                println!(
                    "after {minutes} min: {:?}, because of {reason}",
                    report.outputs
                );
            }
            board.write(report.outputs);
        }
        board.sleep_until(controller.next());
    }
    Ok(())
}
