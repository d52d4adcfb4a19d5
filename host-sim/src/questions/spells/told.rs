//! What the controller's alarms said, and when.

use controller_core::alarm::{Alarm, AlarmSet};
use serde::{Deserialize, Serialize};

use super::measure::rounded;

/// One alarm over a run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Told {
    /// Its name.
    pub alarm: String,
    /// It does not ring.
    pub is_advice: bool,
    /// How often it came.
    pub onsets: u32,
    /// How long it stood, h.
    pub hours: f64,
    /// Its first onset after the first fault's beginning, h after that.
    pub first_after_fault_h: Option<f64>,
}

/// Follows the alarms.
pub(super) struct Listener {
    first_fault_s: u64,
    last: AlarmSet,
    heard: Vec<Heard>,
}

#[derive(Clone, Copy, Default)]
struct Heard {
    onsets: u32,
    since_ms: Option<u64>,
    total_ms: u64,
    first_after_s: Option<f64>,
}

impl Listener {
    pub(super) fn new(first_fault_s: u64) -> Self {
        Self {
            first_fault_s,
            last: AlarmSet::NONE,
            heard: vec![Heard::default(); Alarm::ALL.len()],
        }
    }

    /// The alarms from now on, ms since the beginning.
    pub(super) fn hear(&mut self, now_ms: u64, alarms: AlarmSet) {
        if alarms == self.last {
            return;
        }
        for (alarm, heard) in Alarm::ALL.iter().zip(&mut self.heard) {
            match (self.last.has(*alarm), alarms.has(*alarm)) {
                (false, true) => {
                    heard.onsets += 1;
                    heard.since_ms = Some(now_ms);
                    let after_s = now_ms as f64 / 1e3 - self.first_fault_s as f64;
                    if after_s >= 0.0 {
                        heard.first_after_s.get_or_insert(after_s);
                    }
                }
                (true, false) => {
                    let since_ms = heard.since_ms.take().unwrap_or(now_ms);
                    heard.total_ms += now_ms - since_ms;
                }
                _ => {}
            }
        }
        self.last = alarms;
    }

    /// Everything that was said.
    pub(super) fn finish(&self) -> Vec<Told> {
        Alarm::ALL
            .iter()
            .zip(&self.heard)
            .filter(|(_, heard)| heard.onsets > 0)
            .map(|(alarm, heard)| Told {
                alarm: alarm.name().to_owned(),
                is_advice: alarm.is_advice(),
                onsets: heard.onsets,
                hours: rounded(heard.total_ms as f64 / 3.6e6),
                first_after_fault_h: heard.first_after_s.map(|s| rounded(s / 3_600.0)),
            })
            .collect()
    }
}
