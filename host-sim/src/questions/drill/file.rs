//! The drill file: TOML, the same for the built-in drills and a person's own. See `docs/drill-format.md`.

use std::collections::BTreeMap;

use controller_core::Command;
use controller_core::settings::Settings;
use serde::{Deserialize, Deserializer, de};

use super::condition::Condition;
use super::sensor::Doing;
use super::values::{Mass, Point, Power, Span};
use crate::account::event::{Recorded, parse_event};
use crate::files::settings_file;
use crate::files::site::Site;

/// A drill file.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Document {
    drill: Vec<Drill>,
}

/// One drill: a situation, what happens, and what must follow by when.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Drill {
    /// Short name, words joined by hyphens.
    pub name: String,
    /// How things stand at the beginning, in words.
    pub situation: String,
    /// Length from the boot to the end.
    pub length: Span,
    /// Slab at the beginning, °C.
    #[serde(default = "slab")]
    pub slab: Point,
    /// Outdoor air at the beginning, °C.
    #[serde(default = "outdoor")]
    pub outdoor: Point,
    /// Water on the bench with the circulator still.
    #[serde(default = "rest")]
    pub rest: Water,
    /// Water on the bench while it moves.
    #[serde(default = "running")]
    pub running: Water,
    /// Water on the bench while it moves and the boiler heats.
    #[serde(default = "heated")]
    pub heated: Water,
    /// The simulated house instead of the bench.
    pub house: Option<House>,
    /// Settings that differ from the demo's, as in a settings file.
    #[serde(default)]
    pub settings: toml::Table,
    /// The controller's millisecond counter at the boot.
    #[serde(default)]
    pub clock_ms: u64,
    /// The trace must be the same with this counter at the boot.
    pub same_trace_at_clock_ms: Option<u64>,
    /// Added to the circulator's boot delay.
    #[serde(default = "jitter")]
    pub jitter: Span,
    /// What happens, in order.
    #[serde(default)]
    pub event: Vec<Event>,
    /// What must follow.
    pub expect: Vec<Expectation>,
}

/// Pipe temperatures of one circumstance on the bench, °C; what is left out stays as it was.
#[derive(Clone, Copy, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Water {
    /// Entering the slab.
    pub supply: Option<Point>,
    /// Leaving it; with moving water and nothing said it follows from supply, slab and the loop's effectiveness.
    #[serde(rename = "return")]
    pub ret: Option<Point>,
}

/// The simulated house.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct House {
    /// Earth and store at the beginning, °C.
    #[serde(default = "store")]
    pub store: Point,
    /// Wood in the boiler, alight; none: no fire. Nobody brings more.
    pub fire: Option<Mass>,
    /// What differs from the demo site, as in a site file.
    #[serde(default)]
    pub site: toml::Table,
}

/// One step of what happens.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Event {
    /// In words.
    pub what: String,
    /// Time since the boot.
    pub at: Option<Span>,
    /// Instead: when this first holds after the event before.
    pub when: Option<Condition>,
    /// Added to `when`, or to the time of the event before.
    pub later: Option<Span>,
    /// Temperatures and drifts move evenly over this time instead of jumping.
    #[serde(default = "none")]
    pub over: Span,
    /// Slab (bench only), °C.
    pub slab: Option<Point>,
    /// Outdoor air, °C.
    pub outdoor: Option<Point>,
    /// Sun on the glazing (house only).
    pub sun: Option<Power>,
    /// Water at rest (bench only).
    #[serde(default)]
    pub rest: Water,
    /// Moving water (bench only).
    #[serde(default)]
    pub running: Water,
    /// Heated water (bench only).
    #[serde(default)]
    pub heated: Water,
    /// What sensors do from now on.
    #[serde(default)]
    pub sensor: BTreeMap<SensorName, Doing>,
    /// Supply and return exchanged.
    pub swapped: Option<bool>,
    /// Faults of the house that begin or end.
    #[serde(default)]
    pub fault: FaultChanges,
    /// Wood added and lit (house only).
    pub fire: Option<Mass>,
    /// The controller restarts.
    pub reset: Option<Reset>,
    /// The controller is called this much late.
    pub stall: Option<Span>,
    /// A person's command, as in the trace: `mode=summer`, `pump=on`, `boiler=off`, `acknowledge`.
    #[serde(default, deserialize_with = "command")]
    pub command: Option<Command>,
    /// Settings sent, checked as in a settings file; refused ones change nothing.
    pub settings: Option<toml::Table>,
}

/// A sensor's name in a drill file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum SensorName {
    /// Water entering the slab.
    Supply,
    /// Water leaving the slab.
    Return,
    /// The slab.
    Slab,
    /// Outdoor air.
    Outdoor,
}

/// Faults that begin (`true`) or end (`false`).
#[derive(Clone, Copy, Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FaultChanges {
    /// The circulator does not turn.
    pub circulator_dead: Option<bool>,
    /// It turns and moves nothing.
    pub air_locked: Option<bool>,
    /// Its contact is welded shut.
    pub circulator_welded_on: Option<bool>,
    /// The boiler's contact is welded shut.
    pub boiler_welded_on: Option<bool>,
    /// The fire goes out.
    pub fire_out: Option<bool>,
}

/// Restarts.
#[derive(Clone, Copy, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reset {
    /// Time without power before it starts again.
    #[serde(default = "none")]
    pub dark: Span,
    /// How many, this one included.
    #[serde(default = "once")]
    pub times: u32,
    /// Time from one to the next.
    #[serde(default = "none")]
    pub every: Span,
    /// The stored settings were unreadable.
    #[serde(default)]
    pub settings_lost: bool,
}

/// What must follow. Exactly one of `within`, `stays`, `never`, `longest` and a count is given.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Expectation {
    /// In words.
    pub what: String,
    /// The condition in question.
    pub that: Condition,
    /// Counted from this event, by number.
    #[serde(default = "first")]
    pub event: usize,
    /// Counted from when this first holds after that event.
    pub when: Option<Condition>,
    /// And this much later.
    #[serde(default = "none")]
    pub later: Span,
    /// It must come true by then.
    pub within: Option<Span>,
    /// And not before then.
    pub not_before: Option<Span>,
    /// It must hold at every step.
    #[serde(default)]
    pub stays: bool,
    /// It must hold at no step.
    #[serde(default)]
    pub never: bool,
    /// It must not hold longer than this without a break.
    pub longest: Option<Span>,
    /// It must begin at least so often.
    pub at_least: Option<usize>,
    /// It must begin at most so often.
    pub at_most: Option<usize>,
    /// The count is that of any stretch of this length.
    pub in_any: Option<Span>,
    /// Looked at for this long; to the end if not said.
    pub lasting: Option<Span>,
}

fn none() -> Span {
    Span::ZERO
}
fn once() -> u32 {
    1
}
fn first() -> usize {
    1
}
fn jitter() -> Span {
    Span(15_000)
}
fn slab() -> Point {
    Point(4.0)
}
fn outdoor() -> Point {
    Point(-3.0)
}
fn store() -> Point {
    Point(8.0)
}
fn water(supply: f64, ret: Option<f64>) -> Water {
    Water {
        supply: Some(Point(supply)),
        ret: ret.map(Point),
    }
}
fn rest() -> Water {
    water(6.0, Some(6.0))
}
fn running() -> Water {
    water(8.0, None)
}
fn heated() -> Water {
    water(30.0, None)
}

fn command<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Command>, D::Error> {
    let text = String::deserialize(from)?;
    match parse_event(&format!("command {text}")) {
        Ok(Recorded::Command(command)) => Ok(Some(command)),
        Ok(_) => Ok(None),
        Err(expected) => Err(de::Error::custom(format!(
            "found \"{text}\"; expected {expected}"
        ))),
    }
}

/// Why a drill file cannot be used.
#[derive(Debug)]
pub struct DrillError {
    file: String,
    problem: String,
}

impl std::fmt::Display for DrillError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.file, self.problem)
    }
}

impl std::error::Error for DrillError {}

/// Reads and checks drills; `file` names the text in messages.
///
/// # Errors
/// The first wrong place: line, column and key, or drill and expectation, with what was expected.
pub fn parse(text: &str, file: &str) -> Result<Vec<Drill>, DrillError> {
    let refuse = |problem: String| DrillError {
        file: file.to_owned(),
        problem,
    };
    let document: Document = toml::from_str(text).map_err(|error| refuse(error.to_string()))?;
    for (index, drill) in document.drill.iter().enumerate() {
        let in_drill = |problem: String| refuse(format!("drill \"{}\": {problem}", drill.name));
        if document.drill[..index].iter().any(|d| d.name == drill.name) {
            return Err(in_drill("found twice; expected every name once".to_owned()));
        }
        drill.check().map_err(in_drill)?;
    }
    Ok(document.drill)
}

impl Drill {
    /// Everything the shape of the file does not already say.
    fn check(&self) -> Result<(), String> {
        self.checked_settings()?;
        self.site()?;
        let mut latest = Span::ZERO;
        for event in &self.event {
            let place = |problem| format!("event \"{}\": {problem}", event.what);
            match (event.at, &event.when, event.later) {
                (Some(at), None, None) if at >= latest => latest = at,
                (Some(_), None, None) => {
                    return Err(place(
                        "found earlier than the one before; expected events in order",
                    ));
                }
                (Some(_), ..) => {
                    return Err(place(
                        "found at with when or later; expected one or the other",
                    ));
                }
                (None, None, None) => {
                    return Err(place("found no time; expected at, when or later"));
                }
                (None, ..) => {}
            }
            let on_bench = event.slab.is_some()
                || [event.rest, event.running, event.heated]
                    .iter()
                    .any(|water| water.supply.is_some() || water.ret.is_some());
            if self.house.is_some() && on_bench {
                return Err(place(
                    "found slab or water temperatures; the simulated house makes its own",
                ));
            }
            if self.house.is_none() && (event.sun.is_some() || event.fire.is_some()) {
                return Err(place(
                    "found sun or fire; expected [drill.house], which has them",
                ));
            }
        }
        for expectation in &self.expect {
            let place = |problem: &str| format!("expectation \"{}\": {problem}", expectation.what);
            let kinds = [
                expectation.within.is_some(),
                expectation.stays,
                expectation.never,
                expectation.longest.is_some(),
                expectation.at_least.is_some() || expectation.at_most.is_some(),
            ];
            if kinds.iter().filter(|given| **given).count() != 1 {
                return Err(place(
                    "expected exactly one of within, stays, never, longest, or at_least/at_most",
                ));
            }
            let events = self.event.len().max(1);
            if expectation.event == 0 || expectation.event > events {
                return Err(place(&format!(
                    "found event = {}; expected 1 to {events}",
                    expectation.event
                )));
            }
        }
        Ok(())
    }

    /// The demo's settings with this drill's changes.
    ///
    /// # Errors
    /// The settings are refused, in words.
    pub fn checked_settings(&self) -> Result<Settings, String> {
        settings_of(&self.settings)
    }

    /// The demo site with this drill's changes.
    ///
    /// # Errors
    /// The site is refused, in words.
    pub fn site(&self) -> Result<Site, String> {
        let table = self.house.as_ref().map(|house| &house.site);
        let text = table.map_or_else(String::new, toml::Table::to_string);
        Site::parse(&text, "its site").map_err(|error| error.to_string())
    }

    /// What happens, in one line.
    #[must_use]
    pub fn happens(&self) -> String {
        self.event
            .iter()
            .map(|event| event.what.as_str())
            .collect::<Vec<_>>()
            .join("; ")
    }
}

/// The demo's settings with some changed.
pub(super) fn settings_of(table: &toml::Table) -> Result<Settings, String> {
    settings_file::parse(&table.to_string(), "its settings").map_err(|error| error.to_string())
}
