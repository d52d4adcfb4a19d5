//! The answer in words, on one screen.

use jiff::civil::DateTime;
use std::fmt::Write as _;

use crate::files::quantity::{Dimension, Units, convert};
use crate::questions::tonight::ensemble::Range;
use crate::questions::tonight::fire::{Backup, FireAnswer};
use crate::questions::tonight::start::StoreReading;
use crate::questions::tonight::{Answer, Verdict};

/// The answer with what it rests on.
#[derive(Clone, Debug)]
pub struct Shown<'a> {
    /// The answer.
    pub answer: &'a Answer,
    /// The house's name: that of its site file, or the demo's.
    pub house: String,
    /// The forecast, in words.
    pub forecast: String,
    /// What was used: site, settings, readings; title and text.
    pub used: Vec<(String, String)>,
    /// What a person should know beside it.
    pub notes: Vec<String>,
    /// Units to show.
    pub units: Units,
}

/// Longest line of running text, characters.
const WIDTH: usize = 100;
/// How much colder a night must become for a line of its own, K.
const WORTH_SAYING_K: f64 = 0.2;

/// What the range covers, and what it does not.
pub(crate) const COVERS: &str = "The ranges hold eight nights of ten: forecast, sky, sensors and what few readings leave open. The house is taken to \
                          be as its site file says; where that is wrong, so is this.";

impl Verdict {
    /// As the screen says it.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Verdict::Holds => "holds",
            Verdict::Doubtful => "may not hold",
            Verdict::Fails => "will not hold",
        }
    }
}

impl Shown<'_> {
    fn temperature(&self, celsius: f64) -> String {
        let (value, unit) = convert(celsius, Dimension::Temperature, self.units);
        format!("{} {unit}", one_digit(value))
    }

    fn temperatures(&self, range: Range) -> String {
        let shown = |c: f64| one_digit(convert(c, Dimension::Temperature, self.units).0);
        format!(
            "{} ({} to {})",
            self.temperature(range.middle),
            shown(range.low),
            shown(range.high)
        )
    }

    fn masses(&self, range: Range) -> String {
        let shown = |kg: f64| convert(kg, Dimension::Mass, self.units);
        let (middle, unit) = shown(range.middle);
        format!(
            "{middle:.0} {unit} ({:.0} to {:.0})",
            shown(range.low).0,
            shown(range.high).0
        )
    }

    pub(crate) fn at(&self, second: f64) -> DateTime {
        self.answer.axis.at(second.max(0.0) as u64)
    }

    /// A clock to ten minutes: what the answer is worth.
    fn clock(&self, second: f64) -> String {
        let tens = (second / 600.0).round() * 600.0;
        self.at(tens).strftime("%H:%M").to_string()
    }

    /// When something happens, in words.
    fn when(&self, range: Range) -> String {
        let now_s = self.answer.axis.now_s as f64;
        match (
            range.low.is_finite(),
            range.middle.is_finite(),
            range.high.is_finite(),
        ) {
            (true, _, true) if range.high <= now_s => "now already".to_owned(),
            (true, _, true) if self.clock(range.low) == self.clock(range.high) => {
                format!("about {}", self.clock(range.middle))
            }
            (true, true, true) => format!(
                "about {} (between {} and {})",
                self.clock(range.middle),
                self.clock(range.low),
                self.clock(range.high)
            ),
            (true, true, false) => format!(
                "about {} ({} at the earliest, or not before morning)",
                self.clock(range.middle),
                self.clock(range.low)
            ),
            (true, false, _) => format!(
                "probably not before morning; {} at the earliest",
                self.clock(range.low)
            ),
            (false, ..) => "not before morning".to_owned(),
        }
    }

    /// The sentence at the top.
    #[must_use]
    pub fn headline(&self) -> String {
        let answer = self.answer;
        let target = self.temperature(answer.target_c);
        let until = self.clock(answer.axis.until_s as f64);
        let by_itself = answer
            .fire
            .as_ref()
            .is_some_and(|fire| fire.backup == Backup::Automatic);
        let (ready, needed) = match (answer.has_boiler, by_itself) {
            (true, true) => ("the boiler may be called", "the boiler will be called"),
            (true, false) => ("have the fire ready", "light the fire"),
            (false, _) => ("no boiler will help", "no boiler will help"),
        };
        let alone = match answer.verdict() {
            Verdict::Holds => format!(
                "The store alone holds the slab above {target} until {until}: no fire needed."
            ),
            Verdict::Doubtful => format!(
                "The store alone may not hold the slab above {target} until {until}: {ready}."
            ),
            Verdict::Fails => format!(
                "The store alone will not hold the slab above {target} until {until}: {needed}."
            ),
        };
        let air = format!(
            "{} of the house falls to {}.",
            match (answer.has_boiler, by_itself) {
                (true, true) => "Without the boiler the air",
                (true, false) => "Without a fire the air",
                (false, _) => "The air",
            },
            self.temperature(answer.alone.air_low_c.middle)
        );
        [self.even_so(), Some(alone), Some(air)]
            .into_iter()
            .flatten()
            .collect::<Vec<_>>()
            .join(" ")
    }

    /// What comes first where even the fire does not hold the slab for sure.
    fn even_so(&self) -> Option<String> {
        let answer = self.answer;
        let fire = answer.fire.as_ref().filter(|fire| !fire.holds())?;
        let source = match fire.backup {
            Backup::Fire { .. } => "the fire",
            Backup::Automatic => "the boiler",
        };
        Some(format!(
            "Even with {source} the slab holds in only {} of {} nights and falls to {}.",
            fire.holding,
            fire.nights,
            self.temperature(fire.coldest_c.middle)
        ))
    }

    /// What would help where even the fire does not hold the slab for sure.
    fn remedies(&self, lines: &mut Vec<(String, String)>) {
        let answer = self.answer;
        let at_once = answer.fire.as_ref().and_then(|fire| {
            let name = match fire.backup {
                Backup::Fire { .. } => "Lit and called by hand now",
                Backup::Automatic => "Called by hand now",
            };
            // A fire that has to be lit now anyway is no other plan.
            let is_other = fire.light_by_s.is_none_or(|s| s > answer.axis.now_s);
            let at_once = fire.at_once.as_ref().filter(|_| is_other)?;
            Some((name, at_once.holding, fire.nights, at_once.coldest_c))
        });
        let curtained = answer.curtained.map(|curtained| {
            let name = "With a night curtain";
            (
                name,
                curtained.holding,
                curtained.nights,
                curtained.coldest_c,
            )
        });
        for (name, holding, nights, coldest_c) in at_once.into_iter().chain(curtained) {
            lines.push((
                name.to_owned(),
                format!(
                    "holds in {holding} of {nights} nights; coldest slab {}",
                    self.temperatures(coldest_c)
                ),
            ));
        }
    }

    /// Names and values of the screen's lines.
    #[must_use]
    pub fn lines(&self) -> Vec<(String, String)> {
        let answer = self.answer;
        let alone = &answer.alone;
        let line = |name: &str, value: String| (name.to_owned(), value);
        let store = match answer.present.store {
            StoreReading::Air(_) => "store",
            StoreReading::Floor(_) => "store floor (by the water of the last run)",
        };
        let mut lines = vec![
            line(
                "Now",
                format!(
                    "slab {}, {store} {}{}",
                    self.temperature(answer.present.slab_c),
                    self.temperature(answer.present.store.celsius()),
                    answer.present.outdoor_c.map_or_else(String::new, |c| {
                        format!(", outdoors {}", self.temperature(c))
                    })
                ),
            ),
            line(
                "Tonight",
                format!(
                    "{}; coldest {}",
                    self.forecast,
                    self.temperatures(alone.outdoor_low_c)
                ),
            ),
            line(
                "The slab holds",
                format!(
                    "in {} of {} nights that fit all this",
                    alone.holding, alone.members
                ),
            ),
            line(
                &format!("Below {}", self.temperature(answer.target_c)),
                self.when(alone.below_target_s),
            ),
        ];
        if alone.above_zero < alone.members {
            lines.push(line(
                &format!("Below {}", self.temperature(0.0)),
                format!(
                    "{}; in {} of {} nights",
                    self.when(alone.below_zero_s),
                    alone.members - alone.above_zero,
                    alone.members
                ),
            ));
        }
        lines.push(line("Coldest slab", self.temperatures(alone.coldest_c)));
        lines.push(line(
            "Coldest house air",
            if alone.air_below_zero_h.high > 0.0 {
                format!(
                    "{}; below freezing for {} h ({} to {})",
                    self.temperatures(alone.air_low_c),
                    one_digit(alone.air_below_zero_h.middle),
                    one_digit(alone.air_below_zero_h.low),
                    one_digit(alone.air_below_zero_h.high)
                )
            } else {
                self.temperatures(alone.air_low_c)
            },
        ));
        if let Some(fire) = &answer.fire {
            self.fire_lines(fire, &mut lines);
        }
        self.remedies(&mut lines);
        lines
    }

    fn fire_lines(&self, fire: &FireAnswer, lines: &mut Vec<(String, String)>) {
        let mut line = |name: &str, value: String| lines.push((name.to_owned(), value));
        let nights = fire.nights;
        if fire.called == 0 {
            line(
                "The boiler",
                "the controller would not call for it before morning".to_owned(),
            );
            return;
        }
        let first = self.when(fire.first_call_s);
        match (fire.backup, fire.light_by_s) {
            (Backup::Fire { charge_kg }, Some(light_s)) => {
                let by = if light_s <= self.answer.axis.now_s {
                    "now".to_owned()
                } else {
                    format!("by {}", self.clock(light_s as f64))
                };
                line(
                    "Light the fire",
                    format!("{by}; the controller first calls {first}"),
                );
                let again = if fire.feed_again_s.low.is_finite() {
                    format!("; feed it again {}", self.when(fire.feed_again_s))
                } else {
                    let (charge, unit) = convert(charge_kg, Dimension::Mass, self.units);
                    format!("; one charge of {charge:.0} {unit} lasts")
                };
                line(
                    "Wood until morning",
                    format!("{}{again}", self.masses(fire.wood_kg)),
                );
            }
            _ => {
                line("The boiler", format!("first called {first}"));
                line(
                    "Its heat",
                    format!(
                        "{:.0} kWh ({:.0} to {:.0})",
                        fire.heat_kwh.middle, fire.heat_kwh.low, fire.heat_kwh.high
                    ),
                );
            }
        }
        let with = match fire.backup {
            Backup::Fire { .. } => "With the fire",
            Backup::Automatic => "With the boiler",
        };
        line(
            with,
            if self.answer.present.slab_c < self.answer.target_c {
                format!(
                    "above {} again {}; coldest slab {}",
                    self.temperature(self.answer.target_c),
                    self.when(fire.safe_from_s),
                    self.temperatures(fire.coldest_c)
                )
            } else {
                format!(
                    "holds in {} of {nights} nights; coldest slab {}",
                    fire.holding,
                    self.temperatures(fire.coldest_c)
                )
            },
        );
        // Measured on the same nights; the store alone is the whole ensemble's.
        let alone_c = self.answer.alone.coldest_c.middle;
        if fire.unlit_coldest_c.middle < alone_c - WORTH_SAYING_K {
            let name = match fire.backup {
                Backup::Fire { .. } => "If nobody lights it",
                Backup::Automatic => "If it never starts",
            };
            line(
                name,
                format!(
                    "coldest slab {}, as calls without heat cost some",
                    self.temperatures(fire.unlit_coldest_c)
                ),
            );
        }
        if let Some(dies) = &fire.dies {
            line(
                &format!("If it dies at {}", self.clock(dies.at_s as f64)),
                format!(
                    "holds in {} of {nights}; below {} {}; coldest {}",
                    dies.holding,
                    self.temperature(self.answer.target_c),
                    self.when(dies.below_target_s),
                    self.temperatures(dies.coldest_c)
                ),
            );
        }
    }

    /// The screen.
    #[must_use]
    pub fn text(&self) -> String {
        let axis = &self.answer.axis;
        let mut text = format!(
            "{} to {}, sunset {}, sunrise {}, local standard time\n{}\n",
            self.at(axis.now_s as f64).strftime("%Y-%m-%d %H:%M"),
            self.clock(axis.until_s as f64),
            self.at(axis.sunset_s as f64).strftime("%H:%M"),
            self.at(axis.sunrise_s as f64).strftime("%H:%M"),
            wrapped(&self.headline())
        );
        let lines = self.lines();
        let width = lines
            .iter()
            .map(|(name, _)| name.chars().count())
            .max()
            .unwrap_or(0);
        for (name, value) in &lines {
            let _ = writeln!(text, "  {name:<width$}  {value}");
        }
        text.push('\n');
        let used: Vec<String> = self
            .used
            .iter()
            .map(|(name, value)| format!("{}: {value}", name.to_lowercase()))
            .collect();
        let used = format!("Used: {}.", used.join("; "));
        let notes = self.notes.iter().map(String::as_str);
        for paragraph in [COVERS, &used].into_iter().chain(notes) {
            text += &wrapped(paragraph);
        }
        text
    }
}

/// One digit after the point, and no minus before a zero.
fn one_digit(value: f64) -> String {
    let text = format!("{value:.1}");
    if text == "-0.0" {
        "0.0".to_owned()
    } else {
        text
    }
}

/// A paragraph in lines of at most [`WIDTH`] characters, where words allow.
fn wrapped(paragraph: &str) -> String {
    let mut text = String::new();
    let mut length = 0;
    for word in paragraph.split(' ') {
        let width = word.chars().count();
        if length > 0 && length + 1 + width > WIDTH {
            text.push('\n');
            length = 0;
        } else if length > 0 {
            text.push(' ');
            length += 1;
        }
        text += word;
        length += width;
    }
    text.push('\n');
    text
}
