//! A judged figure: what it is, the rule it is judged by with its source, the verdict in words, and what would change it.

use serde::Serialize;

use crate::files::quantity::show::{fixed, length};
use crate::files::quantity::{Dimension, Units, convert};

/// How a figure stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub enum Verdict {
    /// As it should be.
    #[serde(rename = "fine")]
    Fine,
    /// Unusual, or a limit to know of.
    #[serde(rename = "check")]
    Look,
    /// It works, and something ordinary can stop, freeze or cool it.
    #[serde(rename = "caution")]
    Caution,
    /// The loop cannot do what is asked of it.
    #[serde(rename = "will not work")]
    WillNotWork,
}

impl Verdict {
    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Fine => "fine",
            Self::Look => "check",
            Self::Caution => "caution",
            Self::WillNotWork => "will not work",
        }
    }

    /// All that call for attention, the weightiest first.
    pub const RAISED: [Self; 3] = [Self::WillNotWork, Self::Caution, Self::Look];

    /// Fine if that holds, else to be looked at.
    pub(crate) const fn fine_if(holds: bool) -> Self {
        if holds { Self::Fine } else { Self::Look }
    }

    /// Fine if that holds, else a caution.
    pub(super) const fn caution_unless(holds: bool) -> Self {
        if holds { Self::Fine } else { Self::Caution }
    }
}

/// What a line is about, in the order shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Group {
    /// Lengths, velocities, Reynolds numbers.
    Circuits,
    /// The operating point.
    Circulator,
    /// Resistances, conductance, evenness.
    Heat,
    /// What the store alone holds.
    Store,
    /// The boiler.
    Backup,
    /// Still water.
    Frost,
    /// Vessel and glycol.
    Filling,
}

impl Group {
    /// All, in order.
    pub const ALL: [Self; 7] = [
        Self::Circuits,
        Self::Circulator,
        Self::Heat,
        Self::Store,
        Self::Backup,
        Self::Frost,
        Self::Filling,
    ];

    /// As a heading.
    #[must_use]
    pub const fn heading(self) -> &'static str {
        match self {
            Self::Circuits => "Circuits",
            Self::Circulator => "Circulator",
            Self::Heat => "Heat from water to slab",
            Self::Store => "What the store alone holds",
            Self::Backup => "Backup",
            Self::Frost => "Frost in still water",
            Self::Filling => "Filling",
        }
    }
}

/// A figure with its dimension and the digits it is worth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Figure {
    /// In the dimension's base unit, shown in the person's.
    Of(f64, Dimension, usize),
    /// A pure number.
    Number(f64, usize),
    /// A volume of liquid, L.
    Litres(f64),
    /// A velocity, m/s.
    Velocity(f64),
    /// A resistance per metre of tube, m K/W.
    TubeResistance(f64),
    /// Nothing to give a number for: words.
    Words(&'static str),
}

impl Figure {
    pub(crate) fn text(self, units: Units) -> String {
        match self {
            // Durations choose their own unit.
            Self::Of(seconds, Dimension::Duration, _) => duration(seconds),
            Self::Of(value, dimension, digits) => {
                let (value, unit) = convert(value, dimension, units);
                format!("{} {unit}", fixed(value, digits))
            }
            Self::Number(value, digits) => fixed(value, digits),
            Self::Litres(litres) => match units {
                Units::Si => format!("{} L", fixed(litres, 1)),
                Units::Us => {
                    let (value, unit) = convert(litres / 1_000.0, Dimension::Volume, units);
                    format!("{} {unit}", fixed(value, 1))
                }
            },
            Self::Velocity(m_s) => {
                let (value, unit) = convert(m_s, Dimension::Length, units);
                format!("{} {unit}/s", fixed(value, 2))
            }
            Self::TubeResistance(value) => match units {
                Units::Si => format!("{} m K/W", fixed(value, 3)),
                Units::Us => {
                    let (conductance, _) = convert(1.0 / value, Dimension::Conductivity, units);
                    format!("{} h·ft·°F/Btu", fixed(1.0 / conductance, 3))
                }
            },
            Self::Words(words) => words.to_owned(),
        }
    }

    fn number(self) -> Option<f64> {
        match self {
            Self::Of(value, ..)
            | Self::Number(value, _)
            | Self::Litres(value)
            | Self::Velocity(value)
            | Self::TubeResistance(value) => value.is_finite().then_some(value),
            Self::Words(_) => None,
        }
    }

    fn unit(self) -> &'static str {
        match self {
            Self::Of(_, dimension, _) => dimension.base_unit(),
            Self::Litres(_) => "L",
            Self::Velocity(_) => "m/s",
            Self::TubeResistance(_) => "mK/W",
            Self::Number(..) | Self::Words(_) => "",
        }
    }
}

/// A time as a person says it.
pub(crate) fn duration(seconds: f64) -> String {
    length((seconds.max(0.0) * 1_000.0) as u64)
}

/// One judged figure.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Line {
    /// Stable name for programs.
    pub key: String,
    /// What it is about.
    pub group: Group,
    /// In words.
    pub what: String,
    /// The figure with its unit, as shown.
    pub shown: String,
    /// The figure in SI; `None` where there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<f64>,
    /// Unit of `value`.
    pub unit: &'static str,
    /// How it stands.
    pub verdict: Verdict,
    /// The rule it is judged by.
    pub rule: String,
    /// Where the rule is from.
    pub source: &'static str,
    /// What the figure means here.
    pub why: String,
    /// What would change it.
    pub change: String,
}

/// A figure before it is judged.
pub(super) struct Draft {
    pub(super) group: Group,
    pub(super) key: String,
    pub(super) what: String,
    pub(super) figure: Figure,
    pub(super) rule: String,
    pub(super) source: &'static str,
}

impl Draft {
    pub(crate) fn judged(
        self,
        units: Units,
        verdict: Verdict,
        why: impl Into<String>,
        change: impl Into<String>,
    ) -> Line {
        Line {
            key: self.key,
            group: self.group,
            what: self.what,
            shown: self.figure.text(units),
            value: self.figure.number(),
            unit: self.figure.unit(),
            verdict,
            rule: self.rule,
            source: self.source,
            why: why.into(),
            change: change.into(),
        }
    }
}

/// Lines of like parts that say the same become one: "slab and store floor: velocity". For people; programs get them all.
pub(super) fn merged(lines: &[Line]) -> Vec<Line> {
    let mut merged: Vec<Line> = Vec::new();
    for line in lines {
        let (place, what) = parted(&line.what);
        let same = merged.last_mut().filter(|last| {
            let (_, last_what) = parted(&last.what);
            last_what == what
                && place.is_some()
                && Line {
                    key: line.key.clone(),
                    what: line.what.clone(),
                    ..(*last).clone()
                } == *line
        });
        match (same, place) {
            (Some(last), Some(place)) => {
                let (first, _) = parted(&last.what);
                last.what = format!("{} and {place}: {what}", first.unwrap_or_default());
            }
            _ => merged.push(line.clone()),
        }
    }
    merged
}

/// Place and figure of "slab: velocity".
fn parted(what: &str) -> (Option<&str>, &str) {
    match what.split_once(": ") {
        Some((place, what)) => (Some(place), what),
        None => (None, what),
    }
}
