//! A log goes in, the controller decides each step, and a row per step comes out.
//!
//! Two kinds of log are told apart by their columns. In an ordinary log each row stands, as a fresh
//! reading, until the next row or one and a half median intervals; beyond that readings are
//! missing. In a trace of the controller itself the rows are the steps, so that replaying it with
//! the same settings gives the same trace, byte for byte, from its boot row on.
//!
//! A step's outputs stand until the next step is wanted. Of that time the part in which a row stands is
//! counted, and the rest is a gap of the log: with no reading nothing was decided about the house. The
//! parts of all steps add up to the log's own length, wherever its rows lie.
//!
//! The relays of a log are somebody else's: the controller runs in shadow mode, and is told with every step what ran
//! since the one before. In a trace that begins with the first row whose relays are not as decided here.

mod rows;

use controller_core::restart::Restart;
use controller_core::sensor::{BySensor, Sample};
use controller_core::settings::{RawSettings, Settings};
use controller_core::time::{Duration, Instant};
use controller_core::{ActualRelays, Controller, Inputs, StepReport};

use crate::account::event::Recorded;
use crate::account::sinks::{Logged, Sink};
use crate::files::log::{LogError, LogReader, ReaderOptions};
use crate::sim::cancel::{Cancel, Cancelled};

use rows::{Read, Rows};

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

/// Columns of a trace that an ordinary log does not have; the last three only in shadow mode.
const TRACE_COLUMNS: [&str; 9] = [
    "supply_status",
    "return_status",
    "slab_status",
    "outdoor_status",
    "pump_feedback",
    "event",
    "shadow",
    "actual_circulator",
    "actual_boiler_call",
];

/// So many of them make a log a trace.
const OF_EVERY_TRACE: usize = 6;

/// Columns that a trace and the unit's own log have beside those read: nothing need be said of them.
pub static KNOWN_COLUMNS: std::sync::LazyLock<Vec<&'static str>> = std::sync::LazyLock::new(|| {
    let trace = controller_core::trace::HEADER.split(',');
    trace.chain(["started"]).collect()
});

/// Adds the columns a replay wants beside the readings.
#[must_use]
pub fn reader_options(mut options: ReaderOptions) -> ReaderOptions {
    options.extra_columns = TRACE_COLUMNS.map(str::to_owned).to_vec();
    options.boots = Some(rows::EVENT);
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
    let settings = &settings_for(&reader, settings);
    let mut rows = Rows::new(reader)?;
    let mut run = Run {
        settings: settings.clone(),
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

/// The settings a log is replayed with: rows faster than the sensor cycle set it to a second. In a trace that was written
/// so they come every second.
#[must_use]
pub fn settings_for(reader: &LogReader, settings: &Settings) -> Settings {
    let cycle_ms = i64::from(settings.sensor_cycle.as_millis());
    let is_faster = reader.median_interval_ms().is_some_and(|median_ms| {
        if is_trace(reader) {
            median_ms == 1_000 && cycle_ms > 1_000
        } else {
            median_ms < cycle_ms
        }
    });
    if !is_faster {
        return settings.clone();
    }
    let mut raw: RawSettings = *settings.raw();
    raw.sensor_cycle = Duration::from_secs(1);
    Settings::check(raw).unwrap_or_else(|_| settings.clone())
}

/// Whether the log has all the columns of a trace.
#[must_use]
pub fn is_trace(reader: &LogReader) -> bool {
    (0..OF_EVERY_TRACE).all(|index| reader.has_extra(index))
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
        let start = at(rows.first_ms());
        let controller = Controller::boot(self.settings.clone(), start, Restart::ORDINARY);
        self.stand(controller, 0, rows, progress)
    }

    /// Steps at every time the controller wants, with the row that stands then, to the log's end, in shadow mode. So much of the gap that
    /// it begins in was told before, ms.
    fn stand(
        &mut self,
        mut controller: Controller,
        mut told_ms: u64,
        rows: &mut Rows,
        progress: &mut dyn FnMut(u64),
    ) -> Result<(), ReplayError> {
        // A row's relays are those that its readings led to: they are what has run once the next step asks.
        let mut ran = ActualRelays::default();
        let mut goes_on = rows.advance_to(controller.next())?;
        // What lies before the first of these steps was counted with the steps before.
        rows.take_covered();
        while goes_on {
            self.look(rows, progress)?;
            let now = controller.next();
            let standing = rows.standing_at(now).copied();
            let inputs = Inputs {
                samples: samples(standing.as_ref()),
                pump_feedback: standing.and_then(|read| read.feedback),
                shadow: Some(std::mem::replace(&mut ran, relays(standing.as_ref()))),
                command: None,
                settings: None,
            };
            if !controller.step_into(now, &inputs, &mut self.report) {
                return Ok(());
            }
            goes_on = rows.advance_to(self.report.next)?;
            let until = if goes_on {
                self.report.next
            } else {
                rows.last_time().min(self.report.next)
            };
            let stands_ms = rows.take_covered();
            let whole_ms = u64::from(until.since(now).as_millis());
            let gap_ms = whole_ms.saturating_sub(stands_ms);
            let again_ms = gap_ms.min(told_ms);
            told_ms -= again_ms;
            self.put(standing.as_ref(), stands_ms, gap_ms - again_ms, "")?;
        }
        Ok(())
    }

    /// A trace: its rows are the steps, as long as the controller wants them when they come.
    fn trace(&mut self, rows: &mut Rows, progress: &mut dyn FnMut(u64)) -> Result<(), ReplayError> {
        // What ran, once that is not what was decided here.
        let mut others = None;
        let mut gap_ms = 0;
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
                return self.diverged(gap_ms, rows, progress);
            }
            let adopted = recorded.settings(controller.settings());
            let inputs = Inputs {
                samples: read.samples,
                pump_feedback: read.feedback,
                shadow: read.shadow.or(others),
                command: recorded.command(),
                settings: adopted.as_ref(),
            };
            let note = adopted
                .as_ref()
                .map_or_else(String::new, |_| recorded.note().to_owned());
            if controller.step_into(now, &inputs, &mut self.report) {
                let ran = relays(Some(&read));
                let decided = self.report.outputs;
                let differs = ran.circulator.is_some_and(|on| on != decided.circulator)
                    || ran.boiler_call.is_some_and(|on| on != decided.boiler_call);
                others = (others.is_some() || differs).then_some(ran);
                // A boot may come before the next step is wanted, or after a time without power.
                let next = rows.next_time().unwrap_or(now);
                let until = next.min(self.report.next);
                let stands_ms = u64::from(until.since(now).as_millis());
                gap_ms = next.as_millis().saturating_sub(until.as_millis());
                self.put(Some(&read), stands_ms, gap_ms, &note)?;
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
                    Restart::ORDINARY,
                ));
            }
            (None, true) => {}
        }
    }

    fn diverged(
        &mut self,
        told_ms: u64,
        rows: &mut Rows,
        progress: &mut dyn FnMut(u64),
    ) -> Result<(), ReplayError> {
        match self.controller.take() {
            Some(controller) => self.stand(controller, told_ms, rows, progress),
            None => Ok(()),
        }
    }

    fn put(
        &mut self,
        standing: Option<&Read>,
        stands_ms: u64,
        gap_ms: u64,
        note: &str,
    ) -> Result<(), ReplayError> {
        let logged = Logged {
            row: standing.map(|read| &read.row),
            stands_ms,
            gap_ms,
        };
        self.sink
            .step(&self.report, &logged, note)
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

/// What ran from the row that stands on, as far as it tells.
fn relays(standing: Option<&Read>) -> ActualRelays {
    standing.map_or_else(ActualRelays::default, |read| ActualRelays {
        circulator: read.row.circulator,
        boiler_call: read.row.boiler_call,
    })
}

/// Log time as the controller's.
fn at(time_ms: i64) -> Instant {
    Instant::from_millis(u64::try_from(time_ms).unwrap_or(0))
}

#[cfg(test)]
mod tests;
