//! The page of a watched unit: what it does and why, what to do, the last days, tonight, what was told.

use controller_core::sensor::Sensor;
use jiff::Timestamp;
use jiff::civil::DateTime;

use super::cautions::CAUTIONS;
use super::page::{Block, Headline, Page, Section, Table, Tile, Tone};
use super::palette::{Dash, Hatch, Ink, Stroke, fill, stroke};
use super::plot::{Bar, FREEZING, Mark, Panel, Plot};
use super::words::{cause_text, reason_label, reason_meaning};
use crate::files::now::{self, here};
use crate::files::quantity::Units;
use crate::files::quantity::show::{Show, counted};
use crate::serial::row::{Row, Wood};
use crate::watch::conditions::{light, sentence};
use crate::watch::message::{Kind, Message, Stage};
use crate::watch::state::State;

/// A hole in the curves longer than this is seen, min.
const HOLE_MIN: i64 = 3;
/// Height of a row of bars, px.
const ROW: f64 = 22.0;
/// Messages in the table.
const MESSAGES: usize = 30;

/// Renews the page while it is open; a person can make it stand still.
pub const LIVE: &str = include_str!("live.js");

/// The page of this moment.
#[must_use]
pub fn page(state: &State, units: Units) -> Page {
    let show = Show(units);
    let mut sections = vec![now(state, show), what_to_do(state, show)];
    if let Some(plot) = last_days(state, show) {
        sections.push(Section::new(
            "The last days",
            vec![Block::Plot(Box::new(plot))],
        ));
    }
    if let Some(tonight) = &state.tonight {
        let asked = format!("Asked at {}.", tonight.at.strftime("%H:%M"));
        let answer = Block::Terminal(tonight.text.trim_end().to_owned());
        let blocks = vec![answer, Block::Note(asked)];
        sections.push(Section::new("Tonight", blocks));
    }
    sections.push(messages(&state.messages));
    sections.push(keeping(state));
    Page {
        title: "The unit now".to_owned(),
        house: state.house.clone(),
        subtitle: Some("This page only shows: nothing here changes the unit.".to_owned()),
        headline: Some(headline(state, show)),
        sections: sections
            .into_iter()
            .filter(|section| !section.blocks.is_empty())
            .collect(),
        foot: CAUTIONS
            .iter()
            .map(|(title, text)| ((*title).to_owned(), (*text).to_owned()))
            .collect(),
    }
}

fn headline(state: &State, show: Show) -> Headline {
    let Some(row) = state.now() else {
        let sentence = match &state.row {
            None => "No row has come from the unit yet.".to_owned(),
            Some((_, at, _)) => format!(
                "The unit's last row came at {}: nobody can say how warm the slab is.",
                at.strftime("%F %H:%M")
            ),
        };
        return Headline {
            word: if state.is_silent() {
                "Silent"
            } else {
                "Waiting"
            }
            .to_owned(),
            tone: if state.is_silent() {
                Tone::Bad
            } else {
                Tone::Neutral
            },
            sentence,
            details: Vec::new(),
        };
    };
    let alarms = state
        .standing
        .iter()
        .filter(|(_, kind)| *kind == Kind::Alarm);
    let alarms: Vec<String> = alarms.map(|(name, _)| name.replace('_', " ")).collect();
    let (word, tone) = match (alarms.is_empty(), row.wood) {
        (false, _) => ("Alarm", Tone::Bad),
        (true, Some(Wood::Light { .. })) => ("Light the fire", Tone::Bad),
        (true, _) => ("Nothing is wrong", Tone::Good),
    };
    let slab = row
        .reading_c(Sensor::Slab)
        .map_or("There is no slab reading".to_owned(), |c| {
            format!("The slab is at {}", show.temperature(c))
        });
    let told = match alarms.is_empty() {
        true => String::new(),
        false => format!(" Told: {}.", alarms.join(", ")),
    };
    Headline {
        word: word.to_owned(),
        tone,
        sentence: format!("{slab}.{told}"),
        details: does(row, show),
    }
}

/// What the unit does, and why.
fn does(row: &Row, show: Show) -> Vec<String> {
    let relays = format!(
        "The circulator is {}, the boiler is {}.",
        if row.circulator { "on" } else { "off" },
        if row.boiler_call {
            "called"
        } else {
            "not called"
        }
    );
    let why = row.reason.map(|reason| {
        let cause = cause_text(&row.cause, show);
        let sentences = [reason_meaning(reason), cause.as_str()];
        let sentences = sentences.into_iter().filter(|text| !text.is_empty());
        let sentences: String = sentences
            .map(|text| format!(" {}.", sentence(text)))
            .collect();
        format!("Reason: {}.{sentences}", reason_label(reason))
    });
    [Some(relays), why].into_iter().flatten().collect()
}

fn now(state: &State, show: Show) -> Section {
    let Some(row) = state.now() else {
        return Section::new("Now", Vec::new());
    };
    let store = ("Store", row.store_c, "as the unit estimates it");
    let readings = Sensor::ALL.map(|sensor| {
        let (label, remark) = match sensor {
            Sensor::Supply => ("Supply", "water entering the slab"),
            Sensor::Return => ("Return", "water leaving the slab"),
            Sensor::Slab => ("Slab", "the slab's own sensor"),
            Sensor::Outdoor => ("Outdoor", "outdoor air"),
        };
        (label, row.reading_c(sensor), remark)
    });
    let tiles = readings
        .into_iter()
        .chain([store])
        .map(|(label, celsius, remark)| Tile {
            label: label.to_owned(),
            value: celsius.map_or("not known".to_owned(), |c| show.temperature(c)),
            remark: remark.to_owned(),
        });
    let age = state.row_age().unwrap_or_default().as_secs();
    let age = Block::Note(format!(
        "The unit said this {} ago.",
        counted(age, "second")
    ));
    Section::new("Now", vec![Block::Tiles(tiles.collect()), age])
}

fn what_to_do(state: &State, show: Show) -> Section {
    let mut points = Vec::new();
    if let Some(Wood::Light { kg, within_min }) = state.now().and_then(|row| row.wood) {
        points.push(light(kg, within_min, &here(), show));
    }
    // The newest word about each condition; wood is told above as the unit says it now.
    let mut seen = vec!["wood"];
    for message in &state.messages {
        let name = message.condition.as_str();
        if state.standing.iter().any(|(standing, _)| standing == name) && !seen.contains(&name) {
            seen.push(name);
            points.push(message.sentences());
        }
    }
    if points.is_empty() {
        return Section::default();
    }
    Section::new("What to do", vec![Block::List(points)])
}

fn civil(minute: i64) -> Option<DateTime> {
    let at = Timestamp::from_second(minute * 60).ok()?;
    Some(now::now().1.to_datetime(at))
}

fn last_days(state: &State, show: Show) -> Option<Plot> {
    let first = state.recent.points().next()?.minute;
    let last = state.recent.points().last()?.minute;
    let ms = |minute: i64| (minute - first) as f64 * 60_000.0;
    let curve = |name: &str, sensor: Sensor, stroke: Stroke| {
        let mut before: Option<i64> = None;
        let mut points = Vec::new();
        for point in state.recent.points() {
            if before.is_some_and(|before| point.minute - before > HOLE_MIN) {
                points.push((ms(point.minute) - 1.0, None));
            }
            before = Some(point.minute);
            let celsius = point.readings_c[sensor as usize];
            points.push((ms(point.minute), celsius.map(|c| show.degrees(c))));
        }
        Mark::Line {
            name: name.to_owned(),
            stroke,
            points,
        }
    };
    let unit = show.degree_unit();
    let slab = Panel::new(format!("Slab, {unit}"), 200.0)
        .with(curve(
            "slab",
            Sensor::Slab,
            stroke(Ink::Black, Dash::Solid, 2.0),
        ))
        .with(Mark::level("freezing", FREEZING, show.degrees(0.0)));
    let water = Panel::new(format!("Water and outdoor air, {unit}"), 200.0)
        .with(curve(
            "supply",
            Sensor::Supply,
            stroke(Ink::Vermillion, Dash::Solid, 1.4),
        ))
        .with(curve(
            "return",
            Sensor::Return,
            stroke(Ink::Blue, Dash::Dashed, 1.4),
        ))
        .with(curve(
            "outdoor",
            Sensor::Outdoor,
            stroke(Ink::Sky, Dash::Long, 1.4),
        ));
    let bars = |row: f64, ran: fn(&crate::watch::recent::Point) -> bool| {
        let mut bars: Vec<Bar> = Vec::new();
        for point in state.recent.points().filter(|point| ran(point)) {
            let (from, to) = (ms(point.minute), ms(point.minute + 1));
            match bars.last_mut() {
                Some(bar) if from <= bar.to => bar.to = to,
                _ => bars.push(Bar {
                    row,
                    from,
                    to,
                    text: String::new(),
                }),
            }
        }
        bars
    };
    let relays = Panel::of_rows(vec!["circulator".to_owned(), "boiler call".to_owned()], ROW)
        .with(Mark::Bars {
            name: String::new(),
            fill: fill(Ink::Blue, Hatch::None),
            thick: 0.7,
            bars: bars(0.0, |point| point.circulator),
        })
        .with(Mark::Bars {
            name: String::new(),
            fill: fill(Ink::Vermillion, Hatch::None),
            thick: 0.7,
            bars: bars(1.0, |point| point.boiler_call),
        });
    let until = u64::try_from((last - first + 1) * 60_000).ok()?;
    let caption = "The last three days as this computer heard them: slab, water in the pipes, outdoor air, relays. A hole is a time without rows.";
    let plot = Plot::over_time(civil(first), 0, until, caption);
    Some(plot.with(slab).with(water).with(relays))
}

fn messages(messages: &[Message]) -> Section {
    if messages.is_empty() {
        return Section::default();
    }
    let rows = messages
        .iter()
        .take(MESSAGES)
        .map(|message| {
            let stage = match (message.kind, message.stage) {
                (Kind::SignOfLife, _) => "",
                (_, Stage::Begins) => "begins",
                (_, Stage::Stands) => "stands",
                (_, Stage::Over) => "over",
            };
            vec![
                message.at.strftime("%F %H:%M").to_string(),
                message.condition.replace('_', " "),
                stage.to_owned(),
                message.text.clone(),
                message.remedy.clone(),
            ]
        })
        .collect();
    let table = Table {
        head: ["Time", "What", "Stage", "Message", "What to do"]
            .map(str::to_owned)
            .to_vec(),
        rows,
        numbers: 0,
    };
    Section::new("Messages, the newest first", vec![Block::Table(table)])
}

fn keeping(state: &State) -> Section {
    let log = match (&state.log.fault, &state.log.file) {
        (Some(fault), _) => format!("cannot be written: {fault}"),
        (None, Some(file)) => file.clone(),
        (None, None) => "nothing yet".to_owned(),
    };
    let mut rows = vec![
        (
            "Watching since".to_owned(),
            state.began.strftime("%F %H:%M").to_string(),
        ),
        ("Log".to_owned(), log),
        ("Rows since then".to_owned(), state.rows.to_string()),
        (
            "Boots of the unit since then".to_owned(),
            state.boots.to_string(),
        ),
    ];
    if state.log.lost > 0 {
        rows.push(("Rows lost".to_owned(), state.log.lost.to_string()));
    }
    if state.hooks.is_empty() {
        rows.push(("Messages".to_owned(), "shown on this page alone".to_owned()));
    }
    for hook in &state.hooks {
        let waiting = match hook.waiting {
            0 => "everything delivered".to_owned(),
            n => format!("{} to deliver", counted(n as u64, "message")),
        };
        let fault = hook
            .fault
            .as_ref()
            .map_or(String::new(), |why| format!("; the last try failed: {why}"));
        rows.push((format!("Hook {}", hook.name), waiting + &fault));
    }
    let table = Table {
        head: vec!["What".to_owned(), "State".to_owned()],
        rows: rows
            .into_iter()
            .map(|(what, how)| vec![what, how])
            .collect(),
        numbers: 0,
    };
    Section::new("Log and messages", vec![Block::Table(table)])
}

#[cfg(test)]
mod tests;
