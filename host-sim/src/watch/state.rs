//! What is known now, for whoever looks: page, metrics, JSON.

use std::time::Duration;

use controller_core::sensor::Sensor;
use jiff::ZonedDateTime;
use serde_json::{Value, json};

use super::message::{Kind, Message};
use super::recent::Recent;
use crate::files::now::Moment;
use crate::serial::row::{Columns, Row, Wood};

/// Messages that are shown.
pub const SHOWN: usize = 100;

/// How the log is.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LogState {
    /// The file that rows go to.
    pub file: Option<String>,
    /// Why it cannot be written, if it cannot.
    pub fault: Option<String>,
    /// Rows lost since it could not for too long.
    pub lost: u64,
}

/// How a hook is.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct HookState {
    /// Its name.
    pub name: String,
    /// Messages that wait.
    pub waiting: usize,
    /// Why the last try failed, if it did.
    pub fault: Option<String>,
}

/// What `tonight` answered last.
#[derive(Clone, Debug)]
pub struct Tonight {
    /// When.
    pub at: ZonedDateTime,
    /// Its words, line by line.
    pub text: String,
}

/// Everything.
#[derive(Clone, Debug)]
pub struct State {
    /// The house's name.
    pub house: String,
    /// When this program began.
    pub began: ZonedDateTime,
    /// The unit's columns, once it has said them.
    pub columns: Option<Columns>,
    /// The last row and when it came.
    pub row: Option<(Row, ZonedDateTime, Moment)>,
    /// Rows since the program began.
    pub rows: u64,
    /// Boots of the unit since then.
    pub boots: u64,
    /// No row for so long is silence.
    pub silence: Duration,
    /// Conditions that stand.
    pub standing: Vec<(String, Kind)>,
    /// What was told, newest first.
    pub messages: Vec<Message>,
    /// The log.
    pub log: LogState,
    /// The hooks.
    pub hooks: Vec<HookState>,
    /// The last days.
    pub recent: Recent,
    /// What `tonight` says, if it is asked.
    pub tonight: Option<Tonight>,
}

impl State {
    /// Of a house, before anything was heard.
    #[must_use]
    pub fn new(house: String, began: ZonedDateTime, silence: Duration) -> Self {
        Self {
            house,
            began,
            columns: None,
            row: None,
            rows: 0,
            boots: 0,
            silence,
            standing: Vec::new(),
            messages: Vec::new(),
            log: LogState::default(),
            hooks: Vec::new(),
            recent: Recent::default(),
            tonight: None,
        }
    }

    /// The unit has said its columns.
    pub fn begun(&mut self, columns: &str) {
        self.columns = Some(Columns::new(columns));
    }

    /// Takes a row that came at this time; `None` if it has not the unit's columns.
    pub fn heard(&mut self, text: &str, at: ZonedDateTime) -> Option<Row> {
        let row = self.columns.as_ref()?.row(text)?;
        self.recent.push(&row, at.timestamp());
        self.rows += 1;
        self.row = Some((row.clone(), at, Moment::now()));
        Some(row)
    }

    /// Time since the last row, if there was one.
    #[must_use]
    pub fn row_age(&self) -> Option<Duration> {
        self.row.as_ref().map(|(_, _, at)| at.elapsed())
    }

    /// Has no row come for too long?
    #[must_use]
    pub fn is_silent(&self) -> bool {
        self.standing.iter().any(|(_, kind)| *kind == Kind::Silence)
    }

    /// The last row, unless it is too old to say anything about now.
    #[must_use]
    pub fn now(&self) -> Option<&Row> {
        let (row, ..) = self.row.as_ref()?;
        self.row_age().filter(|age| *age < self.silence)?;
        Some(row)
    }

    /// As a JSON object; temperatures in °C.
    #[must_use]
    pub fn json(&self) -> Value {
        let row = self.now();
        let readings: serde_json::Map<String, Value> = Sensor::ALL
            .into_iter()
            .map(|sensor| {
                let celsius = row.and_then(|row| row.reading_c(sensor));
                (format!("{}_c", sensor.name()), json!(celsius))
            })
            .collect();
        let wood = row.and_then(|row| row.wood).map(|wood| match wood {
            Wood::Light { kg, within_min } => json!({"light_kg": kg, "within_min": within_min}),
            Wood::NoMore => json!("no_more"),
        });
        json!({
            "house": self.house,
            "row_age_s": self.row_age().map(|age| age.as_secs_f64()),
            "row_time": self.row.as_ref().map(|(_, at, _)| at.timestamp().display_with_offset(at.offset()).to_string()),
            "readings": readings,
            "store_estimate_c": row.and_then(|row| row.store_c),
            "circulator": row.map(|row| row.circulator),
            "boiler_call": row.map(|row| row.boiler_call),
            "bell": row.map(|row| row.bell),
            "reason": row.and_then(|row| row.reason).map(|reason| reason.name()),
            "wood": wood,
            "standing": self.standing.iter().map(|(name, kind)| json!({"condition": name, "kind": kind})).collect::<Vec<_>>(),
            "messages": self.messages.iter().take(20).collect::<Vec<_>>(),
            "log": {"file": self.log.file, "fault": self.log.fault, "rows_lost": self.log.lost, "rows": self.rows, "boots": self.boots},
            "hooks": self.hooks.iter().map(|hook| json!({"name": hook.name, "waiting": hook.waiting, "fault": hook.fault})).collect::<Vec<_>>(),
        })
    }
}
