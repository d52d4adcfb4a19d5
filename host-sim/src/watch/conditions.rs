//! What has to be told: the unit's rows and what happens to the line become messages.
//!
//! A condition is told when it begins, again while the bell rings, and when it has been over for ten minutes, so that one that
//! comes and goes is told once. Time goes by a clock that nobody sets; this computer's date only stands in the messages.

use std::collections::BTreeMap;
use std::time::Duration;

use controller_core::alarm::Alarm;
use controller_core::sensor::Sensor;
use jiff::ZonedDateTime;
use jiff::civil::{Date, Time};

use super::message::{Kind, Message, Stage};
use crate::files::quantity::show::Show;
use crate::files::quantity::{Dimension, Units};
use crate::serial::row::{Row, Wood};

/// A condition counts as over when it has not been seen for so long.
const OVER: Duration = Duration::from_secs(600);

/// The unit's outputs rest. No alarm of its rows: it stands until the unit says otherwise.
const HELD: &str = "outputs_held";
/// Wood is asked for again when so much more of it is wanted than was told, but not more often than that. Judgement.
const MORE_WOOD_KG: u32 = 2;
const MORE_WOOD_AFTER: Duration = Duration::from_secs(1_800);

/// When a person is told.
#[derive(Clone, Copy, Debug)]
pub struct Rules {
    /// No row for so long is told.
    pub silence: Duration,
    /// A condition that rings is told again every so often.
    pub remind: Duration,
    /// Time of day of the sign of life.
    pub sign_of_life: Time,
    /// Units of the messages.
    pub units: Units,
}

impl Rules {
    /// What is usual. Judgement.
    #[must_use]
    pub const fn usual(units: Units) -> Self {
        Self {
            silence: Duration::from_secs(600),
            remind: Duration::from_secs(3_600),
            sign_of_life: Time::constant(8, 0, 0, 0),
            units,
        }
    }
}

/// A moment on both clocks.
#[derive(Clone, Debug)]
pub struct Now {
    /// Since the program started.
    pub running: Duration,
    /// This computer's date and time.
    pub date: ZonedDateTime,
}

/// What is heard.
#[derive(Clone, Copy, Debug)]
pub enum Heard<'a> {
    /// A row of the unit.
    Row(&'a Row),
    /// The unit's outputs rest after three watchdog resets, or they do not.
    Held(bool),
    /// The port went away, or was not there.
    NoPort,
    /// The log could not be written; why.
    LogFault(&'a str),
    /// It is written again; rows that were lost meanwhile.
    LogMended(u64),
    /// Nothing; time has passed.
    Nothing,
}

/// A condition that was told and is not over.
#[derive(Clone, Debug)]
struct Standing {
    kind: Kind,
    since: ZonedDateTime,
    /// When it was seen last, and told last.
    seen: Duration,
    told: Duration,
}

/// The state: what was told, what stands.
#[derive(Debug)]
pub struct Conditions {
    rules: Rules,
    standing: BTreeMap<String, Standing>,
    /// When the last row came.
    row_at: Duration,
    has_port: bool,
    /// The unit has said that its outputs rest.
    is_held: bool,
    /// The last row, for the words.
    row: Option<Row>,
    /// Coldest slab since the last sign of life, °C.
    coldest_c: Option<f64>,
    /// Wood that was asked for last, kg. More than any where another run of the program has asked.
    wood_told_kg: u32,
    /// The day of the last sign of life.
    sign_of_life_on: Option<Date>,
    next_id: u64,
}

impl Conditions {
    /// Goes on behind the messages told so far, oldest first.
    #[must_use]
    pub fn after<'a>(rules: Rules, told: impl IntoIterator<Item = &'a Message>) -> Self {
        let mut state = Self {
            rules,
            standing: BTreeMap::new(),
            row_at: Duration::ZERO,
            has_port: true,
            is_held: false,
            row: None,
            coldest_c: None,
            wood_told_kg: u32::MAX,
            sign_of_life_on: None,
            next_id: 1,
        };
        for message in told {
            state.next_id = state.next_id.max(message.id + 1);
            match (message.kind, message.stage) {
                (Kind::SignOfLife, _) => state.sign_of_life_on = Some(message.at.date()),
                (_, Stage::Over) => {
                    state.standing.remove(&message.condition);
                }
                (kind, Stage::Begins | Stage::Stands) => {
                    let standing = Standing {
                        kind,
                        since: message.at.clone(),
                        seen: Duration::ZERO,
                        told: Duration::ZERO,
                    };
                    state
                        .standing
                        .entry(message.condition.clone())
                        .or_insert(standing);
                }
            }
        }
        state
    }

    /// Names and kinds of the conditions that stand.
    #[must_use]
    pub fn standing(&self) -> Vec<(String, Kind)> {
        let conditions = self.standing.iter();
        conditions
            .map(|(name, standing)| (name.clone(), standing.kind))
            .collect()
    }

    /// Takes what is heard; what a person has to be told.
    #[must_use]
    pub fn hear(&mut self, heard: Heard<'_>, now: &Now) -> Vec<Message> {
        let mut told = Vec::new();
        match heard {
            Heard::Row(row) => self.row(row, now, &mut told),
            Heard::Held(true) => self.is_held = true,
            Heard::Held(false) => {
                self.is_held = false;
                self.over(HELD, now, &mut told, || {
                    "The unit's outputs follow its decisions again.".to_owned()
                });
            }
            Heard::NoPort => self.has_port = false,
            Heard::LogFault(why) => {
                let text = format!(
                    "The log cannot be written: {why}. Rows are held in memory until it can."
                );
                let remedy = "Make room on the disk, or see why the folder cannot be written.";
                let condition = (Kind::Log, "log", false);
                self.seen(condition, now, &mut told, || (text, remedy.into()));
            }
            Heard::LogMended(lost) => {
                let lost = match lost {
                    0 => "No row was lost.".to_owned(),
                    1 => "One row was lost.".to_owned(),
                    rows => format!("{rows} rows were lost."),
                };
                self.over("log", now, &mut told, || {
                    format!("The log is written again. {lost}")
                });
            }
            Heard::Nothing => {}
        }
        self.time(now, &mut told);
        told
    }

    fn row(&mut self, row: &Row, now: &Now, told: &mut Vec<Message>) {
        self.row_at = now.running;
        self.has_port = true;
        self.row = Some(row.clone());
        if let Some(slab_c) = row.reading_c(Sensor::Slab) {
            self.coldest_c = Some(self.coldest_c.map_or(slab_c, |coldest| coldest.min(slab_c)));
        }
        self.over("silence", now, told, || "The unit speaks again.".to_owned());
        for name in &row.alarms {
            let known = Alarm::named(name);
            let kind = match known {
                Some(alarm) if alarm.is_advice() => Kind::Advice,
                _ => Kind::Alarm,
            };
            let readings = self.readings(row);
            let rings = kind == Kind::Alarm && row.bell;
            let words = || {
                let meaning = known.map_or(
                    "This program does not know it: the unit's firmware is newer.",
                    Alarm::meaning,
                );
                (
                    format!("{}: {meaning}{readings}", sentence(name)),
                    known.map_or("", Alarm::remedy).to_owned(),
                )
            };
            let again = rings && self.is_due(name, now);
            self.seen((kind, name, again), now, told, words);
        }
        match row.wood {
            Some(Wood::Light { kg, within_min }) => {
                let (readings, show) = (self.readings(row), Show(self.rules.units));
                let words = || {
                    let text = light(kg, within_min, &now.date, show) + &readings;
                    (text, String::new())
                };
                let again = self.needs_more_wood(kg, now);
                self.seen((Kind::Wood, "wood", again), now, told, words);
                self.wood_told_kg = match told.last() {
                    Some(last) if last.kind == Kind::Wood => kg,
                    _ => self.wood_told_kg,
                };
            }
            Some(Wood::NoMore) => self.over_if_gone("wood", now, told, || {
                "No more wood: the slab is warm enough or does not fall.".to_owned()
            }),
            None => self.over_if_gone("wood", now, told, || {
                "The unit asks for no wood any more.".to_owned()
            }),
        }
        let gone: Vec<String> = self
            .standing
            .iter()
            .filter(|(name, standing)| {
                *name != HELD
                    && matches!(standing.kind, Kind::Alarm | Kind::Advice)
                    && !row.alarms.contains(name)
            })
            .map(|(name, _)| name.clone())
            .collect();
        for name in gone {
            let readings = self.readings(row);
            self.over_if_gone(&name, now, told, || {
                format!("{} is over.{readings}", sentence(&name))
            });
        }
    }

    /// Rows go on with what would be decided; the relays do not follow.
    fn held(&mut self, now: &Now, told: &mut Vec<Message>) {
        let words = || {
            (
                "The unit's outputs rest: its watchdog has reset it three times within an hour. No relay follows its decisions."
                    .to_owned(),
                "Run the circulator by its hand switch and heat by hand; press the unit's button or cut its power, and read \
                 what it says to resets."
                    .to_owned(),
            )
        };
        let again = self.is_due(HELD, now);
        self.seen((Kind::Alarm, HELD, again), now, told, words);
    }

    fn time(&mut self, now: &Now, told: &mut Vec<Message>) {
        if self.is_held {
            self.held(now, told);
        }
        let quiet = now.running.saturating_sub(self.row_at);
        if quiet >= self.rules.silence {
            let minutes = quiet.as_secs() / 60;
            let why = if self.has_port {
                ""
            } else {
                " Its port is not there."
            };
            let words = || {
                (
                    format!(
                        "No row from the unit for {minutes} min.{why} Nobody can say how warm the slab is."
                    ),
                    "See whether the unit has power and its cable is whole; look at the slab's own thermometer.".to_owned(),
                )
            };
            let again = self.is_due("silence", now);
            self.seen((Kind::Silence, "silence", again), now, told, words);
        }
        let day = now.date.date();
        let due = now.date.time() >= self.rules.sign_of_life;
        let told_on = self.sign_of_life_on;
        // The first one at once: it shows that messages arrive.
        if told_on.is_none() || (due && told_on.is_some_and(|on| day != on)) {
            self.sign_of_life_on = Some(day);
            let text = self.sign_of_life(told_on.is_none());
            let name = Kind::SignOfLife.name();
            let message = self.message(Kind::SignOfLife, name, Stage::Begins, now, text);
            told.push(message);
            self.coldest_c = None;
        }
    }

    fn sign_of_life(&self, first: bool) -> String {
        let show = Show(self.rules.units);
        let begins = if first { "Watching has begun. " } else { "" };
        let names: Vec<&str> = self
            .standing
            .iter()
            .filter(|(_, standing)| standing.kind != Kind::Wood)
            .map(|(name, _)| name.as_str())
            .collect();
        let state = match (names.is_empty(), &self.row) {
            (true, None) => "No row has come from the unit yet.".to_owned(),
            (true, Some(_)) => "Nothing is wrong.".to_owned(),
            (false, _) => format!(
                "Not as it should be: {}.",
                names.join(", ").replace('_', " ")
            ),
        };
        let coldest = self.coldest_c.map_or(String::new(), |coldest| {
            format!(
                " Coldest slab since the last sign of life {}.",
                show.temperature(coldest)
            )
        });
        let readings = self
            .row
            .as_ref()
            .map_or(String::new(), |row| self.readings(row));
        format!("{begins}{state}{readings}{coldest}")
    }

    /// Slab and outdoor air in a sentence, with a blank before it.
    fn readings(&self, row: &Row) -> String {
        let show = Show(self.rules.units);
        let known: Vec<String> = [(Sensor::Slab, "slab"), (Sensor::Outdoor, "outdoor")]
            .into_iter()
            .filter_map(|(sensor, name)| {
                let celsius = row.reading_c(sensor)?;
                Some(format!("{name} {}", show.temperature(celsius)))
            })
            .collect();
        match known.is_empty() {
            true => String::new(),
            false => format!(" {}.", sentence(&known.join(", "))),
        }
    }

    /// Is it time to tell a condition again?
    fn is_due(&self, name: &str, now: &Now) -> bool {
        let standing = self.standing.get(name);
        standing.is_some_and(|s| now.running.saturating_sub(s.told) >= self.rules.remind)
    }

    /// Is so much more wood wanted than was told that it has to be told again?
    fn needs_more_wood(&self, kg: u32, now: &Now) -> bool {
        let standing = self.standing.get("wood");
        kg >= self.wood_told_kg.saturating_add(MORE_WOOD_KG)
            && standing.is_some_and(|s| now.running.saturating_sub(s.told) >= MORE_WOOD_AFTER)
    }

    /// A condition is seen: told if it was not, or if it is to be told again.
    fn seen(
        &mut self,
        (kind, name, again): (Kind, &str, bool),
        now: &Now,
        told: &mut Vec<Message>,
        words: impl FnOnce() -> (String, String),
    ) {
        let before = self
            .standing
            .get(name)
            .map(|standing| standing.since.clone());
        let is_told = before.is_none() || again;
        let standing = self.standing.entry(name.to_owned()).or_insert(Standing {
            kind,
            since: now.date.clone(),
            seen: now.running,
            told: now.running,
        });
        standing.seen = now.running;
        if !is_told {
            return;
        }
        standing.told = now.running;
        let (text, remedy) = words();
        let (stage, text) = match before {
            None => (Stage::Begins, text),
            Some(since) => {
                let since = since.strftime("%F %H:%M");
                (Stage::Stands, format!("Still, since {since}: {text}"))
            }
        };
        let message = self.message(kind, name, stage, now, text);
        told.push(Message { remedy, ..message });
    }

    /// A condition that is not seen now: over if it has not been for long enough.
    fn over_if_gone(
        &mut self,
        name: &str,
        now: &Now,
        told: &mut Vec<Message>,
        text: impl FnOnce() -> String,
    ) {
        let standing = self.standing.get(name);
        if standing.is_some_and(|s| now.running.saturating_sub(s.seen) >= OVER) {
            self.over(name, now, told, text);
        }
    }

    /// A condition is over.
    fn over(
        &mut self,
        name: &str,
        now: &Now,
        told: &mut Vec<Message>,
        text: impl FnOnce() -> String,
    ) {
        if let Some(standing) = self.standing.remove(name) {
            let since = standing.since.strftime("%F %H:%M");
            let text = format!("{} It stood since {since}.", text());
            told.push(self.message(standing.kind, name, Stage::Over, now, text));
        }
    }

    fn message(
        &mut self,
        kind: Kind,
        name: &str,
        stage: Stage,
        now: &Now,
        text: String,
    ) -> Message {
        let id = self.next_id;
        self.next_id += 1;
        Message {
            id,
            at: now.date.clone(),
            kind,
            condition: name.to_owned(),
            stage,
            text,
            remedy: String::new(),
        }
    }
}

/// The unit's request for wood, with the time by the clock.
pub(crate) fn light(kg: u32, within_min: u32, now: &ZonedDateTime, show: Show) -> String {
    let when = match within_min {
        0 => "now".to_owned(),
        min => {
            let by = now.saturating_add(jiff::Span::new().minutes(min));
            format!("within {min} min, by {}", by.strftime("%H:%M"))
        }
    };
    let wood = show.number(f64::from(kg), Dimension::Mass, 0);
    format!("Light the fire: {wood} of wood {when}.")
}

/// A name or phrase as the beginning of a sentence.
pub(crate) fn sentence(name: &str) -> String {
    let name = name.replace('_', " ");
    let mut letters = name.chars();
    letters.next().map_or(String::new(), |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

#[cfg(test)]
#[path = "conditions_tests.rs"]
mod tests;
