//! Which sensor is which: every sensor's reading as it stands, and which of them rises while one is held in the hand.
//!
//! Only asks what changes nothing: the list of sensors, and the rows the unit says by itself. A rise is counted over a
//! minute of the unit's own time, so that one sensor after the other can be tried.

use std::collections::{BTreeMap, VecDeque};
use std::time::Duration;

use serde::Serialize;

use super::capture::millis;
use super::conversation::LineError;
use super::frame::{Deframer, sealed};
use super::port::{self, Port};
use crate::sim::cancel::Cancel;

/// Pause between two lists; the unit measures every ten seconds.
const ASK_AGAIN: Duration = Duration::from_secs(5);
/// Without a whole list for so long, the unit does not answer.
const SILENCE: Duration = Duration::from_secs(30);
/// Time over which a rise counts, ms of the unit's clock.
const WINDOW_MS: u64 = 60_000;
/// Rise within it that a hand makes and a draught does not, K. Status: judgement.
const RISE_K: f64 = 1.0;

/// A sensor.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Probe {
    /// A chip's identity, or `input N`.
    pub source: String,
    /// The reading it is named, if any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Where it is, on a board with two wires.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wire: Option<u8>,
    /// Its reading, °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub celsius: Option<f64>,
    /// What the unit says of the reading.
    pub status: String,
    /// Rise over the last minute, K.
    pub rise_k: f64,
}

/// All sensors at one time.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct View {
    /// In the unit's order, chips first.
    pub probes: Vec<Probe>,
    /// The one that rises most, if one rises by a hand's warmth.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rises: Option<String>,
    /// What is wrong with the sensor bus, in the unit's words.
    pub faults: Vec<String>,
}

/// What is known from the lines so far.
#[derive(Debug, Default)]
pub struct Watch {
    columns: Vec<String>,
    row: Vec<String>,
    time_ms: Option<u64>,
    names: Vec<(String, String)>,
    chips: Vec<Probe>,
    faults: Vec<String>,
    past: BTreeMap<String, VecDeque<(u64, f64)>>,
}

impl Watch {
    /// Takes a line with a right checksum; the view, where a list has ended.
    pub fn line(&mut self, line: &str) -> Option<View> {
        let (word, rest) = line.split_once(' ').unwrap_or((line, ""));
        match word {
            "columns" => self.columns = cells(rest),
            "row" => {
                self.row = cells(rest);
                self.time_ms = self.row.first().and_then(|time| millis(time));
            }
            "name" => {
                let (name, source) = rest.split_once(' ')?;
                // A list begins.
                if self.names.iter().any(|(known, _)| known == name) {
                    self.forget();
                }
                self.names.push((name.to_owned(), source.to_owned()));
            }
            "chip" => self.chips.extend(chip(rest)),
            "wire" => self.faults.push(line.to_owned()),
            "no" => {
                let fault = rest.strip_prefix("sensor_bus: ")?;
                self.faults.push(fault.to_owned());
                return Some(self.view());
            }
            "ok" if rest == "end" && !self.names.is_empty() => return Some(self.view()),
            _ => {}
        }
        None
    }

    fn forget(&mut self) {
        self.names.clear();
        self.chips.clear();
        self.faults.clear();
    }

    fn view(&mut self) -> View {
        let mut probes = std::mem::take(&mut self.chips);
        for (name, source) in &self.names {
            if source.starts_with("input ") {
                probes.push(self.input(name, source));
            }
        }
        for probe in &mut probes {
            probe.rise_k = self.rise(probe);
        }
        let rises = probes
            .iter()
            .filter(|probe| probe.rise_k >= RISE_K)
            .max_by(|a, b| a.rise_k.total_cmp(&b.rise_k))
            .map(|probe| probe.source.clone());
        let faults = std::mem::take(&mut self.faults);
        self.forget();
        View {
            probes,
            rises,
            faults,
        }
    }

    /// A thermistor as the last row read it.
    fn input(&self, name: &str, source: &str) -> Probe {
        let cell = |suffix: &str| {
            let column = format!("{name}_{suffix}");
            let place = self.columns.iter().position(|known| *known == column)?;
            self.row.get(place).map(String::as_str)
        };
        Probe {
            source: source.to_owned(),
            name: Some(name.to_owned()),
            wire: None,
            celsius: cell("c").and_then(|value| value.parse().ok()),
            status: cell("status").unwrap_or("no row yet").to_owned(),
            rise_k: 0.0,
        }
    }

    /// Notes a reading; how much it is above the one of a minute ago, or the first.
    fn rise(&mut self, probe: &Probe) -> f64 {
        let (Some(now_ms), Some(celsius)) = (self.time_ms, probe.celsius) else {
            return 0.0;
        };
        let past = self.past.entry(probe.source.clone()).or_default();
        // Of a boot, which starts the unit's clock anew, nothing is left.
        if past.back().is_some_and(|(then, _)| *then > now_ms) {
            past.clear();
        }
        past.push_back((now_ms, celsius));
        while past.len() > 1 && past[0].0 + WINDOW_MS < now_ms {
            past.pop_front();
        }
        celsius - past[0].1
    }
}

fn cells(text: &str) -> Vec<String> {
    text.split(',').map(str::to_owned).collect()
}

/// `IDENTITY NAME [VALUE C] STATUS [wire N]`
fn chip(text: &str) -> Option<Probe> {
    let (text, wire) = match text.rsplit_once(" wire ") {
        Some((text, wire)) => (text, Some(wire.parse().ok()?)),
        None => (text, None),
    };
    let words: Vec<&str> = text.split(' ').collect();
    let (source, name, celsius, status) = match words[..] {
        [source, name, status] => (source, name, None, status),
        [source, name, value, "C", status] => (source, name, Some(value.parse().ok()?), status),
        _ => return None,
    };
    Some(Probe {
        source: source.to_owned(),
        name: (name != "unnamed").then(|| name.to_owned()),
        wire,
        celsius,
        status: status.to_owned(),
        rise_k: 0.0,
    })
}

/// Lists the unit's sensors again and again until stopped or until so much time has passed; gives the last view.
///
/// # Errors
/// [`LineError`]: no such port, it went away, or no list came.
pub fn identify(
    port: &mut dyn Port,
    until: Option<Duration>,
    cancel: &Cancel,
    show: &mut dyn FnMut(&View),
) -> Result<View, LineError> {
    let name = port.name().to_owned();
    let mut line = port.open().map_err(|cause| LineError::NoPort {
        port: name.clone(),
        cause,
    })?;
    let (mut deframer, mut watch) = (Deframer::default(), Watch::default());
    let mut buffer = [0; 4_096];
    let mut last = None;
    let mut damaged = 0;
    let begin = port.now();
    let (mut due, mut heard) = (begin, begin);
    port::say(line.as_mut(), "\r\n");
    loop {
        let now = port.now();
        let over = until.is_some_and(|until| now.saturating_sub(begin) >= until);
        let silent = now.saturating_sub(heard) >= SILENCE;
        if over || silent || cancel.requested() {
            return last.filter(|_| !silent).ok_or(LineError::Silent {
                port: name,
                asked: "sensors".to_owned(),
                damaged,
            });
        }
        if now >= due {
            if watch.columns.is_empty() {
                port::say(line.as_mut(), &sealed("columns"));
            }
            port::say(line.as_mut(), &sealed("sensors"));
            due = now + ASK_AGAIN;
        }
        let Ok(bytes) = port::read_some(line.as_mut(), &mut buffer) else {
            return Err(LineError::Gone { port: name });
        };
        for byte in bytes {
            match deframer.push(*byte) {
                Some(Ok(text)) => {
                    if let Some(view) = watch.line(&text) {
                        heard = now;
                        show(&view);
                        last = Some(view);
                    }
                }
                Some(Err(_)) => damaged += 1,
                None => {}
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A step's row, then the list.
    fn seen(watch: &mut Watch, time_s: u64, slab: &str, chips: &[(&str, &str)]) -> View {
        assert_eq!(watch.line(&format!("row {time_s},{slab},frame")), None);
        for name in [
            "supply 28aa",
            "return unbound",
            "slab input 2",
            "outdoor unbound",
        ] {
            assert_eq!(watch.line(&format!("name {name}")), None);
        }
        for (chip, reading) in chips {
            assert_eq!(watch.line(&format!("chip {chip} {reading}")), None);
        }
        watch.line("ok end").expect("a list has ended")
    }

    fn watch() -> Watch {
        let mut watch = Watch::default();
        assert_eq!(watch.line("columns time_s,slab_c,slab_status"), None);
        watch
    }

    #[test]
    fn the_sensor_in_the_hand_is_told_and_the_next_one_after_it() {
        let mut watch = watch();
        let room = "20.000 C frame wire 1";
        let mut rose = Vec::new();
        for step in 0_u16..24 {
            // The first is held for 100 s from 30 s on, then cools; then the thermistor, for the last 60 s.
            let warm = match step {
                0..=3 => 20.0,
                4..=13 => 20.0 + 0.8 * f64::from(step - 3),
                _ => 28.0 - 0.5 * f64::from(step - 13),
            };
            let slab = 20.0 + 0.6 * f64::from(step.saturating_sub(18));
            let view = seen(
                &mut watch,
                u64::from(step) * 10,
                &slab.to_string(),
                &[
                    ("28aa supply", &format!("{warm} C frame wire 1")),
                    ("28bb unnamed", room),
                ],
            );
            assert_eq!(view.probes.len(), 3);
            rose.push(view.rises);
        }
        let is = |step: usize, source: &str| rose[step].as_deref() == Some(source);
        assert!(rose[..5].iter().all(Option::is_none), "{rose:?}");
        assert!((5..14).all(|step| is(step, "28aa")), "{rose:?}");
        assert!((20..24).all(|step| is(step, "input 2")), "{rose:?}");
    }

    #[test]
    fn readings_names_wires_and_faults_are_the_units() {
        let mut watch = watch();
        let chips = [
            ("28aa supply", "absent wire 1"),
            ("28bb unnamed", "-4.063 C frame"),
        ];
        let view = seen(&mut watch, 10, "", &chips);
        let of = |n: usize| &view.probes[n];
        assert_eq!(
            (of(0).wire, of(0).celsius, of(0).status.as_str()),
            (Some(1), None, "absent")
        );
        assert_eq!((of(1).name.clone(), of(1).celsius), (None, Some(-4.063)));
        assert_eq!(
            (of(2).source.as_str(), of(2).name.as_deref()),
            ("input 2", Some("slab"))
        );
        watch.line("name supply 28aa");
        let view = watch.line("no sensor_bus: wire shorted or without pull-up");
        assert_eq!(view.unwrap().faults, ["wire shorted or without pull-up"]);
        watch.line("wire 1: answers are garbled");
        assert_eq!(seen(&mut watch, 20, "3", &[]).faults.len(), 1);
        // Other answers end no list, and damaged ones are none.
        assert_eq!(watch.line("ok end"), None);
        assert_eq!(watch.line("chip"), None);
        assert_eq!(chip("28aa supply x C frame"), None);
    }

    #[test]
    fn a_boot_in_between_is_no_rise() {
        let mut watch = watch();
        seen(&mut watch, 500, "3.0", &[]);
        let view = seen(&mut watch, 10, "9.0", &[]);
        assert_eq!(view.rises, None);
    }
}
