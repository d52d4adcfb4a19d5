//! Physical values of a drill file: text with a unit, read by what the key measures.

use serde::{Deserialize, Deserializer, de};

use crate::files::quantity::{self, Dimension};

/// A temperature, °C.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point(pub f64);

/// A length of time, ms.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Span(pub u64);

/// A power, W.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Power(pub f64);

/// A mass, kg.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mass(pub f64);

fn number<'de, D: Deserializer<'de>>(from: D, dimension: Dimension) -> Result<f64, D::Error> {
    let text = String::deserialize(from)?;
    quantity::parse(&text, dimension).map_err(de::Error::custom)
}

impl<'de> Deserialize<'de> for Point {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        number(from, Dimension::Temperature).map(Self)
    }
}

impl<'de> Deserialize<'de> for Power {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        number(from, Dimension::Power).map(Self)
    }
}

impl<'de> Deserialize<'de> for Mass {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        number(from, Dimension::Mass).map(Self)
    }
}

impl<'de> Deserialize<'de> for Span {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let text = String::deserialize(from)?;
        // Number and unit by turns: "2 h 30 min".
        let words: Vec<&str> = text.split_whitespace().collect();
        let mut seconds = 0.0;
        for part in words.chunks(2) {
            seconds +=
                quantity::parse(&part.join(" "), Dimension::Duration).map_err(de::Error::custom)?;
        }
        if words.is_empty() || seconds < 0.0 {
            return Err(de::Error::custom(format!(
                "found \"{text}\"; expected a time of 0 s or longer"
            )));
        }
        Ok(Self((seconds * 1_000.0).round() as u64))
    }
}

impl Span {
    /// No time.
    pub const ZERO: Self = Self(0);

    /// As people say it: `70 s`, `10 min 30 s`, `4 h 20 min`, `6 d 2 h`.
    #[must_use]
    pub fn words(self) -> String {
        let seconds = self.0 as f64 / 1_000.0;
        let whole = self.0 / 1_000;
        let two = |big: u64, unit: &str, small: u64, small_unit: &str| {
            if small == 0 {
                format!("{big} {unit}")
            } else {
                format!("{big} {unit} {small} {small_unit}")
            }
        };
        match whole {
            0..120 => format!("{seconds} s"),
            120..3_600 => two(whole / 60, "min", whole % 60, "s"),
            3_600..172_800 => two(whole / 3_600, "h", whole % 3_600 / 60, "min"),
            _ => two(whole / 86_400, "d", whole % 86_400 / 3_600, "h"),
        }
    }
}

/// A value that moves evenly from one number to another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Ramp {
    from: f64,
    to: f64,
    start_ms: u64,
    length_ms: u64,
}

impl Ramp {
    pub(super) const fn steady(value: f64) -> Self {
        Self {
            from: value,
            to: value,
            start_ms: 0,
            length_ms: 0,
        }
    }

    pub(super) fn at(&self, now_ms: u64) -> f64 {
        let into_ms = now_ms.saturating_sub(self.start_ms);
        if into_ms >= self.length_ms {
            return self.to;
        }
        self.from + (self.to - self.from) * into_ms as f64 / self.length_ms as f64
    }

    /// From what it is now to another value.
    pub(super) fn go(&mut self, to: f64, now_ms: u64, over: Span) {
        *self = Self {
            from: self.at(now_ms),
            to,
            start_ms: now_ms,
            length_ms: over.0,
        };
    }
}
