//! What is done to a sensor: broken wires, wrong values, drift, noise.

use std::str::FromStr;

use controller_core::sensor::{ReadFault, Sample};
use controller_core::units::Celsius;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use serde::{Deserialize, Deserializer, de};

use super::values::{Ramp, Span};
use crate::files::quantity::{self, Dimension};

/// What a sensor does from an event on, as the file says it.
#[derive(Clone, Debug, PartialEq)]
pub struct Doing {
    kind: Kind,
    /// Only for so many reads.
    times: Option<u32>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Kind {
    Good,
    Holds,
    Fails(ReadFault),
    /// So many frames of a hundred fail; each is read again up to three times.
    Sometimes(ReadFault, u32),
    Reads(f64),
    Adds(f64),
    Noise(f64),
}

const EXPECTED: &str = "good, holds, open, short, missing, checksum, power-on, checksum in 30 %, \
                        reads 85 °C, adds 2.5 K or noise 5 K, with \", 3 times\" behind it if need be";

impl FromStr for Doing {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let refuse = || format!("found \"{text}\"; expected {EXPECTED}");
        let (what, times) = match text.split_once(',') {
            None => (text, None),
            Some((what, times)) => {
                let times = times.trim();
                let number = times
                    .strip_suffix("times")
                    .or_else(|| times.strip_suffix("time"));
                let number = number.and_then(|n| n.trim().parse().ok());
                (what, Some(number.ok_or_else(refuse)?))
            }
        };
        let (verb, rest) = what.split_once(' ').unwrap_or((what, ""));
        let difference =
            || quantity::parse(rest, Dimension::TemperatureDifference).map_err(|e| e.to_string());
        let kind = match (verb, rest) {
            ("good", "") => Kind::Good,
            ("holds", "") => Kind::Holds,
            ("open", "") => Kind::Fails(ReadFault::Absent),
            ("short", "") => Kind::Fails(ReadFault::Short),
            ("missing", "") => Kind::Fails(ReadFault::Missing),
            ("checksum", "") => Kind::Fails(ReadFault::Checksum),
            ("power-on", "") => Kind::Fails(ReadFault::PowerOn),
            ("checksum", share) => {
                let percent = share.strip_prefix("in ").and_then(|s| s.strip_suffix('%'));
                let percent = percent.and_then(|n| n.trim().parse().ok());
                Kind::Sometimes(ReadFault::Checksum, percent.ok_or_else(refuse)?)
            }
            ("reads", point) => Kind::Reads(
                quantity::parse(point, Dimension::Temperature).map_err(|e| e.to_string())?,
            ),
            ("adds", _) => Kind::Adds(difference()?),
            ("noise", _) => Kind::Noise(difference()?),
            _ => return Err(refuse()),
        };
        Ok(Self { kind, times })
    }
}

impl<'de> Deserialize<'de> for Doing {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        String::deserialize(from)?
            .parse()
            .map_err(de::Error::custom)
    }
}

/// One sensor between the truth and the controller.
#[derive(Debug)]
pub(super) struct Tampered {
    kind: Kind,
    left: Option<u32>,
    adds: Ramp,
    held: Option<f64>,
    random: ChaCha8Rng,
}

impl Tampered {
    /// An honest sensor; `stream` tells its noise from the others'.
    pub(super) fn new(seed: u64, stream: u64) -> Self {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        random.set_stream(stream);
        Self {
            kind: Kind::Good,
            left: None,
            adds: Ramp::steady(0.0),
            held: None,
            random,
        }
    }

    pub(super) fn does(&mut self, doing: &Doing, now_ms: u64, over: Span) {
        if let Kind::Adds(kelvin) = doing.kind {
            self.adds.go(kelvin, now_ms, over);
        } else {
            self.adds = Ramp::steady(0.0);
        }
        self.kind = doing.kind;
        self.left = doing.times;
        self.held = None;
    }

    /// What the controller is given for a true temperature, °C.
    pub(super) fn read(&mut self, true_c: f64, now_ms: u64) -> Sample {
        let kind = match &mut self.left {
            None => self.kind,
            Some(0) => Kind::Good,
            Some(left) => {
                *left -= 1;
                self.kind
            }
        };
        match kind {
            Kind::Good => framed(true_c),
            Kind::Holds => framed(*self.held.get_or_insert(true_c)),
            Kind::Fails(fault) => Sample::Failed(fault),
            Kind::Sometimes(fault, percent) => {
                // Read again up to three times within the cycle, as a bus driver does.
                let all_fail = (0..4).all(|_| self.random.next_u32() % 100 < percent);
                if all_fail {
                    Sample::Failed(fault)
                } else {
                    framed(true_c)
                }
            }
            Kind::Reads(celsius) => framed(celsius),
            Kind::Adds(_) => framed(true_c + self.adds.at(now_ms)),
            Kind::Noise(kelvin) => {
                // Evenly spread between ± that much.
                let share = f64::from(self.random.next_u32()) / f64::from(u32::MAX);
                framed(true_c + kelvin * (2.0 * share - 1.0))
            }
        }
    }
}

/// In 1/128 K, as a checked digital frame.
fn framed(celsius: f64) -> Sample {
    let n = (celsius * 128.0)
        .round()
        .clamp(f64::from(i16::MIN), f64::from(i16::MAX));
    Sample::Framed(Celsius::from_128ths(n as i16))
}
