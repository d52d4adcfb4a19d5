//! Where a run's steps go: numbers always, a trace and a picture if wanted.

use std::io::Write as _;
use std::path::PathBuf;

use controller_core::StepReport;
use controller_core::settings::Settings;
use controller_core::time::Instant;
use controller_core::trace;
use jiff::civil::DateTime;
use sha2::{Digest, Sha256};

use crate::account::metrics::{Metrics, MetricsOptions, SummaryNumbers};
use crate::account::series::{Recorder, RecorderOptions, Series};
use crate::files::log::{Cell, LogRow};
use crate::files::output::{OutputError, OutputFile, OutputSet};
use crate::files::settings_file::hex;
use crate::sim::beside::Extra;

/// What a sink is given with every step.
#[derive(Clone, Copy, Debug)]
pub struct Logged<'a> {
    /// The row of the log that stands, or `None` in a gap.
    pub row: Option<&'a LogRow>,
    /// How long this step's outputs stand, ms: as far as the log has rows.
    pub stands_ms: u64,
    /// How long the log has no row meanwhile, ms.
    pub gap_ms: u64,
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

/// Everything a run of the controller leaves behind.
pub struct RunSinks {
    metrics: Metrics,
    recorder: Option<Recorder>,
    trace: Option<TraceWriter>,
    /// Time in which a row stood that the controller had not seen yet, ms.
    unseen_ms: u64,
}

impl RunSinks {
    /// `picture`: keep what a report needs. `start`: wall clock of the first step, if known.
    #[must_use]
    pub fn new(
        settings: &Settings,
        start: Option<DateTime>,
        picture: bool,
        trace: Option<TraceWriter>,
    ) -> Self {
        Self {
            metrics: Metrics::new(MetricsOptions::from_settings(settings, start)),
            recorder: picture
                .then(|| Recorder::new(RecorderOptions::from_settings(settings, start))),
            trace,
            unseen_ms: 0,
        }
    }

    /// One step with what else is known of it.
    ///
    /// # Errors
    /// The trace cannot be written.
    pub fn push(
        &mut self,
        report: &StepReport,
        stands_ms: u64,
        extra: &Extra,
        note: &str,
    ) -> std::io::Result<()> {
        let unseen_ms = std::mem::take(&mut self.unseen_ms);
        self.metrics.push(&report.row, stands_ms + unseen_ms, extra);
        if let Some(recorder) = &mut self.recorder {
            recorder.push(&report.row, stands_ms, extra);
        }
        self.trace(report, note)
    }

    fn trace(&mut self, report: &StepReport, note: &str) -> std::io::Result<()> {
        match &mut self.trace {
            Some(trace) => trace.write(report, note),
            None => Ok(()),
        }
    }

    /// The numbers and the picture so far, where there is one.
    #[must_use]
    pub fn so_far(&self) -> Option<(SummaryNumbers, Series)> {
        let recorder = self.recorder.clone()?;
        Some((self.metrics.clone().finish(), recorder.finish()))
    }

    /// Ends the run: the numbers, what a report draws, and the trace's file in `outputs`.
    ///
    /// # Errors
    /// The trace cannot be finished.
    pub fn finish(
        self,
        outputs: &mut OutputSet,
    ) -> Result<(SummaryNumbers, Option<Series>), OutputError> {
        let mut numbers = self.metrics.finish();
        if let Some(trace) = self.trace {
            let (sha, file) = trace.finish()?;
            numbers.trace_sha256 = Some(sha);
            if let Some(file) = file {
                outputs.add(file)?;
            }
        }
        Ok((numbers, self.recorder.map(Recorder::finish)))
    }
}

impl Sink for RunSinks {
    fn step(
        &mut self,
        report: &StepReport,
        logged: &Logged<'_>,
        note: &str,
    ) -> std::io::Result<()> {
        if logged.row.is_some() {
            self.push(report, logged.stands_ms, &extra(logged.row), note)?;
        } else {
            // In a gap of the log nothing is counted; a row that came meanwhile counts with the step that sees it.
            self.unseen_ms += logged.stands_ms;
            self.metrics.step_in_gap(&report.row);
            self.trace(report, note)?;
        }
        self.metrics.gap(logged.gap_ms);
        Ok(())
    }
}

/// What a log's row tells beside the controller's own inputs.
fn extra(row: Option<&LogRow>) -> Extra {
    let celsius = |cell: Cell| match cell {
        Cell::Reading(n) => Some(f64::from(n) / 128.0),
        Cell::Missing | Cell::OutOfRange => None,
    };
    row.map_or_else(Extra::default, |row| Extra {
        air_c: celsius(row.air),
        store_c: celsius(row.store),
        logged_circulator: row.circulator,
        logged_boiler: row.boiler_call,
        slab_c: None,
    })
}

/// Writes the trace and its fingerprint.
pub struct TraceWriter {
    file: Option<OutputFile>,
    digest: Sha256,
    line: String,
    pending: Vec<u8>,
}

/// Bytes gathered before they are hashed and written.
const CHUNK: usize = 1 << 16;

impl TraceWriter {
    /// Into a file, or only fingerprinted.
    #[must_use]
    pub fn new(file: Option<OutputFile>) -> Self {
        let mut pending = trace::HEADER.as_bytes().to_vec();
        pending.push(b'\n');
        Self {
            file,
            digest: Sha256::new(),
            line: String::new(),
            pending,
        }
    }

    fn write(&mut self, report: &StepReport, note: &str) -> std::io::Result<()> {
        self.line.clear();
        report
            .row
            .write_csv(Instant::from_millis(0), note, &mut self.line)
            .map_err(std::io::Error::other)?;
        self.line.push('\n');
        self.pending.extend_from_slice(self.line.as_bytes());
        if self.pending.len() >= CHUNK {
            self.flush()
        } else {
            Ok(())
        }
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.digest.update(&self.pending);
        if let Some(file) = &mut self.file {
            file.write_all(&self.pending)?;
        }
        self.pending.clear();
        Ok(())
    }

    fn finish(mut self) -> Result<(String, Option<OutputFile>), OutputError> {
        self.flush().map_err(|error| OutputError::Io {
            path: self
                .file
                .as_ref()
                .map_or_else(PathBuf::new, |file| file.path().to_owned()),
            error,
        })?;
        Ok((hex(&self.digest.finalize()), self.file))
    }
}
