//! A log goes in, the controller decides each step, and a row per step comes out.
//!
//! Two kinds of log are told apart by their columns. In an ordinary log each row stands, as a fresh
//! reading, until the next row or one and a half median intervals; beyond that readings are
//! missing. In a trace of the controller itself the rows are the steps, so that replaying it with
//! the same settings gives the same trace, byte for byte, from its boot row on.

mod event;
mod rows;

use controller_core::sensor::{BySensor, Sample};
use controller_core::settings::{RawSettings, Settings};
use controller_core::time::{Duration, Instant};
use controller_core::{Controller, Inputs, StepReport};

use crate::log::{LogError, LogReader, LogRow, ReaderOptions};
use crate::output::{Cancel, Cancelled};

pub use event::{Recorded, parse_event, settings_note};
use rows::{Read, Rows};

/// What a sink is given with every step.
#[derive(Clone, Copy, Debug)]
pub struct Logged<'a> {
    /// The row of the log that stands, or `None` in a gap.
    pub row: Option<&'a LogRow>,
    /// How long this step's outputs stand, ms.
    pub stands_ms: u64,
}

/// Takes the steps of a run one by one.
pub trait Sink {
    /// One step. `note` says what a settings event changed.
    ///
    /// # Errors
    /// Whatever the sink cannot do.
    fn step(
        &mut self,
        report: &StepReport,
        logged: &Logged<'_>,
        note: &str,
    ) -> Result<(), std::io::Error>;
}

/// Why a replay ended early.
#[derive(Debug)]
pub enum ReplayError {
    /// The log cannot be used.
    Log(LogError),
    /// Ctrl-C.
    Cancelled,
    /// A sink failed.
    Sink(std::io::Error),
}

impl std::fmt::Display for ReplayError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Log(error) => error.fmt(f),
            Self::Cancelled => f.write_str("stopped on request; nothing was written"),
            Self::Sink(error) => write!(f, "output failed: {error}"),
        }
    }
}

impl std::error::Error for ReplayError {}

impl From<LogError> for ReplayError {
    fn from(error: LogError) -> Self {
        Self::Log(error)
    }
}

impl From<Cancelled> for ReplayError {
    fn from(_: Cancelled) -> Self {
        Self::Cancelled
    }
}

/// Columns of a trace that an ordinary log does not have.
const TRACE_COLUMNS: [&str; 6] = [
    "supply_status",
    "return_status",
    "slab_status",
    "outdoor_status",
    "pump_feedback",
    "event",
];

/// Adds the columns a replay wants beside the readings.
#[must_use]
pub fn reader_options(mut options: ReaderOptions) -> ReaderOptions {
    options.extra_columns = TRACE_COLUMNS.map(str::to_owned).to_vec();
    options
}

/// Steps between looks at Ctrl-C and the progress bar.
const LOOK_EVERY: u32 = 16_384;

/// Runs a whole log. `progress` hears of the bytes read now and then.
///
/// # Errors
/// The first thing wrong in the log, Ctrl-C, or a failing sink.
pub fn replay(
    reader: LogReader,
    settings: &Settings,
    sink: &mut impl Sink,
    cancel: &Cancel,
    progress: &mut dyn FnMut(u64),
) -> Result<LogReader, ReplayError> {
    let mut rows = Rows::new(reader)?;
    let mut run = Run {
        settings: for_interval(settings, rows.median_ms(), rows.is_trace()),
        controller: None,
        report: StepReport::default(),
        sink,
        cancel,
        countdown: 1,
    };
    if rows.is_trace() {
        run.trace(&mut rows, progress)?;
    } else {
        run.log(&mut rows, progress)?;
    }
    rows.into_reader()
        .ok_or_else(|| ReplayError::Sink(std::io::Error::other("the log's reader failed")))
}

/// Rows faster than the sensor cycle set it to a second.
fn for_interval(settings: &Settings, median_ms: Option<i64>, is_trace: bool) -> Settings {
    let cycle_ms = i64::from(settings.sensor_cycle.as_millis());
    if is_trace || median_ms.is_none_or(|median| median >= cycle_ms) {
        return settings.clone();
    }
    let mut raw: RawSettings = *settings.raw();
    raw.sensor_cycle = Duration::from_secs(1);
    Settings::check(raw).unwrap_or_else(|_| settings.clone())
}

struct Run<'a, S> {
    settings: Settings,
    controller: Option<Controller>,
    /// Of the last step.
    report: StepReport,
    sink: &'a mut S,
    cancel: &'a Cancel,
    countdown: u32,
}

impl<S: Sink> Run<'_, S> {
    fn look(&mut self, rows: &Rows, progress: &mut dyn FnMut(u64)) -> Result<(), Cancelled> {
        self.countdown -= 1;
        if self.countdown == 0 {
            self.countdown = LOOK_EVERY;
            progress(rows.bytes_read());
            self.cancel.check()?;
        }
        Ok(())
    }

    /// An ordinary log: step at every wanted time with the row that stands.
    fn log(&mut self, rows: &mut Rows, progress: &mut dyn FnMut(u64)) -> Result<(), ReplayError> {
        let mut controller =
            Controller::boot(self.settings.clone(), at(rows.first_ms()), event::ORDINARY);
        loop {
            let wanted = controller.next();
            if !rows.advance_to(wanted)? {
                return Ok(());
            }
            self.look(rows, progress)?;
            let standing = rows.standing_at(wanted);
            let inputs = Inputs {
                samples: samples(standing),
                pump_feedback: standing.and_then(|read| read.row.circulator),
                command: None,
                settings: None,
            };
            if controller.step_into(wanted, &inputs, &mut self.report) {
                self.put(standing, rows.end(), "")?;
            }
        }
    }

    /// A trace: its rows are the steps, as long as the controller wants them when they come.
    fn trace(&mut self, rows: &mut Rows, progress: &mut dyn FnMut(u64)) -> Result<(), ReplayError> {
        while let Some(read) = rows.next_row()? {
            self.look(rows, progress)?;
            let now = read.time;
            let recorded = rows.recorded()?;
            self.boot_if_due(now, &recorded);
            let Some(controller) = self.controller.as_mut() else {
                continue;
            };
            let wanted = controller.next();
            let on_time = now == wanted || (now > wanted && recorded.explains_lateness());
            if !on_time {
                // Other settings want other times: from here on rows stand, as in any log.
                return self.diverged(rows, progress);
            }
            let adopted = recorded.settings(controller.settings());
            let inputs = Inputs {
                samples: read.samples,
                pump_feedback: read.feedback,
                command: recorded.command(),
                settings: adopted.as_ref(),
            };
            let note = adopted
                .as_ref()
                .map_or_else(String::new, |_| recorded.note().to_owned());
            if controller.step_into(now, &inputs, &mut self.report) {
                self.put(Some(&read), rows.end(), &note)?;
            }
        }
        Ok(())
    }

    fn boot_if_due(&mut self, now: Instant, recorded: &Recorded) {
        match (recorded.boot(), self.controller.is_some()) {
            (Some(restart), _) => {
                let settings = self
                    .controller
                    .as_ref()
                    .map_or(&self.settings, Controller::settings)
                    .clone();
                self.controller = Some(Controller::boot(settings, now, restart));
            }
            (None, false) => {
                self.controller = Some(Controller::boot(
                    self.settings.clone(),
                    now,
                    event::ORDINARY,
                ));
            }
            (None, true) => {}
        }
    }

    fn diverged(
        &mut self,
        rows: &mut Rows,
        progress: &mut dyn FnMut(u64),
    ) -> Result<(), ReplayError> {
        let Some(mut controller) = self.controller.take() else {
            return Ok(());
        };
        loop {
            let wanted = controller.next();
            if !rows.advance_to(wanted)? {
                return Ok(());
            }
            self.look(rows, progress)?;
            let standing = rows.standing_at(wanted);
            let inputs = Inputs {
                samples: samples(standing),
                pump_feedback: rows.last().and_then(|read| read.feedback),
                command: None,
                settings: None,
            };
            if controller.step_into(wanted, &inputs, &mut self.report) {
                self.put(standing, rows.end(), "")?;
            }
        }
    }

    fn put(
        &mut self,
        standing: Option<&Read>,
        end: Instant,
        note: &str,
    ) -> Result<(), ReplayError> {
        let report = &self.report;
        let until = report.next.min(end.max(report.row.now));
        let logged = Logged {
            row: standing.map(|read| &read.row),
            stands_ms: u64::from(until.since(report.row.now).as_millis()),
        };
        self.sink
            .step(report, &logged, note)
            .map_err(ReplayError::Sink)
    }
}

/// The samples of the row that stands; all missing in a gap.
fn samples(standing: Option<&Read>) -> BySensor<Sample> {
    standing.map_or_else(
        || BySensor::from_fn(|_| Sample::default()),
        |read| read.samples,
    )
}

/// Log time as the controller's.
fn at(time_ms: i64) -> Instant {
    Instant::from_millis(u64::try_from(time_ms).unwrap_or(0))
}

#[cfg(test)]
mod tests;
