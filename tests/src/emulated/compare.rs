//! Two runs of one scenario, byte for byte.

use std::hash::{DefaultHasher, Hash as _, Hasher as _};
use std::time::Instant as Clock;

use controller_core::restart::Restart;
use controller_core::settings::Settings;
use controller_core::time::Instant;
use controller_core::{Controller, trace};
use host_sim::files::settings_file::hex;
use host_sim::sim::stepper::Stepper;
use sha2::{Digest, Sha256};

use super::Scenario;

/// What a comparison came to.
#[derive(Clone, Debug)]
pub struct Comparison {
    /// Rows of the image.
    pub rows: u64,
    /// Fingerprint of the trace made here: header and rows, a line end behind each.
    pub host_sha256: String,
    /// The same of the image's trace.
    pub image_sha256: String,
    /// What the scenario says of the run made here.
    pub host_result: String,
    /// The same of the image's run.
    pub image_result: String,
    /// First difference, if there is any.
    pub first: Option<Difference>,
    /// Wall time of the image's run, s.
    pub image_s: f64,
}

/// A row that differs.
#[derive(Clone, Debug)]
pub struct Difference {
    /// Its number, from 0.
    pub row: u64,
    /// As the image wrote it.
    pub image: String,
}

impl Comparison {
    /// Every byte and every result the same, and something was compared at all.
    #[must_use]
    pub fn same(&self) -> bool {
        self.rows > 0
            && self.first.is_none()
            && self.host_sha256 == self.image_sha256
            && self.host_result == self.image_result
    }

    /// Rows a second with the image, with the house's own time in it.
    #[must_use]
    pub fn rows_per_second(&self) -> f64 {
        self.rows as f64 / self.image_s
    }
}

/// Runs the scenario with the controller here and with the one given.
///
/// # Errors
/// The scenario cannot be run.
pub fn compare(scenario: &impl Scenario, image: &mut impl Stepper) -> Result<Comparison, String> {
    let start = Instant::from_millis(0);
    let mut controller = Controller::boot(Settings::default(), start, Restart::ORDINARY);
    // A digest a row, so that the first difference can be named without keeping hundreds of megabytes.
    let mut digests = Vec::new();
    let mut host = Trace::new();
    let host_result = scenario.run(&mut controller, &mut |row| {
        digests.push(digest(row));
        host.add(row);
    })?;
    let mut other = Trace::new();
    let mut first = None;
    let clock = Clock::now();
    let image_result = scenario.run(image, &mut |row| {
        let expected = usize::try_from(other.rows)
            .ok()
            .and_then(|n| digests.get(n));
        if first.is_none() && expected != Some(&digest(row)) {
            first = Some(Difference {
                row: other.rows,
                image: row.to_owned(),
            });
        }
        other.add(row);
    })?;
    let image_s = clock.elapsed().as_secs_f64();
    Ok(Comparison {
        rows: other.rows,
        host_sha256: hex(&host.digest.finalize()),
        image_sha256: hex(&other.digest.finalize()),
        host_result,
        image_result,
        first,
        image_s,
    })
}

fn digest(row: &str) -> u64 {
    let mut hasher = DefaultHasher::new();
    row.hash(&mut hasher);
    hasher.finish()
}

struct Trace {
    digest: Sha256,
    rows: u64,
}

impl Trace {
    fn new() -> Self {
        let mut trace = Self {
            digest: Sha256::new(),
            rows: 0,
        };
        trace.line(trace::HEADER);
        trace
    }

    fn add(&mut self, row: &str) {
        self.line(row);
        self.rows += 1;
    }

    fn line(&mut self, text: &str) {
        self.digest.update(text.as_bytes());
        self.digest.update(b"\n");
    }
}
