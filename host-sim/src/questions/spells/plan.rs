//! What a seed stands for: house, weather, clock and faults.

use controller_core::sensor::Sensor;
use controller_core::settings::{Field, RawSettings, Settings};
use serde::{Deserialize, Serialize};

use super::draw::{Draw, Stream};
use super::faults::{Does, FAMILIES, Kind, Parameter, Part, Spread, Upset, weight};
use super::houses::House;
use crate::files::quantity::Units;
use crate::files::settings_file::value_text;

const DAY_S: f64 = 86_400.0;
/// Earliest beginning of a fault: the controller has seen a night before.
const EARLIEST_S: f64 = 1.5 * DAY_S;
/// Latest beginning, as a share of the spell.
const LATEST: f64 = 9.0 / 14.0;
/// Share of the faults that last to the end, %.
const LASTING: f64 = 40.0;
/// Shortest and longest of the others, s.
const LENGTH_S: [f64; 2] = [7_200.0, 10.0 * DAY_S];
/// Of 18 spells, those with one fault; the others have two.
const ONE_OF_18: u64 = 11;

/// How many faults a spell has.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum FaultCount {
    /// Always so many: 0, 1 or 2.
    Exactly(u8),
    /// One in eleven spells of eighteen, else two.
    Mixed,
}

/// A fault that was drawn.
#[derive(Clone, Debug)]
pub struct Fault {
    /// The sensor it befell.
    pub sensor: Option<Sensor>,
    /// What it is.
    pub kind: &'static Kind,
    /// Its parameters, in the order of the table.
    pub values: [f64; 2],
    /// When it begins, s since the beginning.
    pub from_s: u64,
    /// When it ends.
    pub to_s: u64,
    /// The new settings, where they are changed.
    pub settings: Option<Box<Settings>>,
    /// What the settings' change was.
    note: String,
}

/// A spell.
#[derive(Clone, Debug)]
pub struct Plan {
    /// What it was drawn from.
    pub seed: u64,
    /// The house, by its place among those asked for.
    pub house: usize,
    /// The weather, by its place in the list.
    pub weather: usize,
    /// The faults.
    pub faults: Vec<Fault>,
    /// The controller's clock at the beginning, ms.
    pub origin_ms: u64,
    /// The unit's own start delay, s.
    pub jitter_s: u8,
}

impl Fault {
    /// Without a sensor.
    #[cfg(test)]
    pub(super) fn of(kind: &'static Kind, values: [f64; 2], from_s: u64, to_s: u64) -> Self {
        Self {
            sensor: None,
            kind,
            values,
            from_s,
            to_s,
            settings: None,
            note: String::new(),
        }
    }

    /// Its name: that of the table, with the sensor's before it.
    #[must_use]
    pub fn key(&self) -> String {
        match self.sensor {
            Some(sensor) => format!("{}-{}", sensor.name(), self.kind.key),
            None => self.kind.key.to_owned(),
        }
    }

    /// The parameters in words.
    #[must_use]
    pub fn details(&self) -> String {
        let number = |(parameter, value): (&Parameter, &f64)| {
            let unit = match parameter.unit {
                "" => String::new(),
                unit => format!(" {unit}"),
            };
            format!("{} {value:.3}{unit}", parameter.name)
        };
        let mut texts: Vec<String> = self
            .kind
            .parameters
            .iter()
            .zip(&self.values)
            .map(number)
            .collect();
        if !self.note.is_empty() {
            texts.push(self.note.clone());
        }
        texts.join(", ")
    }

    /// Is it there at this second?
    pub(super) fn is_on(&self, now_s: u64) -> bool {
        (self.from_s..self.to_s).contains(&now_s)
    }
}

impl Plan {
    /// What `seed` stands for. Faults and weather do not depend on which other houses are asked for.
    #[must_use]
    pub fn draw(
        seed: u64,
        houses: &[House],
        weathers: usize,
        length_s: u64,
        count: FaultCount,
    ) -> Self {
        let house = Draw::new(seed, Stream::House).below(houses.len() as u64) as usize;
        let mut draw = Draw::new(seed, Stream::Circumstance);
        let weather = draw.below(weathers as u64) as usize;
        // The clock at its beginning, about the end of 32 bits, and far on.
        let origin_ms = match draw.below(4) {
            0 => 0,
            1 => u64::from(u32::MAX) - draw.below(20 * 86_400_000),
            2 => 12_345_678_901,
            _ => u64::MAX / 2 + draw.below(1 << 40),
        };
        let jitter_s = draw.below(31) as u8;
        let mut draw = Draw::new(seed, Stream::Faults);
        let mixed = 1 + u8::from(draw.below(18) >= ONE_OF_18);
        let count = match count {
            FaultCount::Exactly(count) => count,
            FaultCount::Mixed => mixed,
        };
        let base = houses[house].settings.raw();
        let faults = (0..count)
            .map(|_| Fault::draw(&mut draw, base, length_s))
            .collect();
        Self {
            seed,
            house,
            weather,
            faults,
            origin_ms,
            jitter_s,
        }
    }

    /// The same spell with nothing wrong.
    #[must_use]
    pub fn without_faults(&self) -> Self {
        Self {
            faults: Vec::new(),
            ..self.clone()
        }
    }

    /// When the first fault begins; the spell's beginning where there is none.
    #[must_use]
    pub fn first_fault_s(&self) -> u64 {
        self.faults
            .iter()
            .map(|fault| fault.from_s)
            .min()
            .unwrap_or(0)
    }
}

impl Fault {
    fn draw(draw: &mut Draw, base: &RawSettings, length_s: u64) -> Self {
        let family = &FAMILIES[draw.weighted(FAMILIES.iter().map(|family| family.weight))];
        let sensor = Sensor::ALL[draw.weighted(Sensor::ALL.iter().map(|sensor| weight(*sensor)))];
        let possible = |kind: &Kind| {
            if kind.on.is_empty() || kind.on.contains(&sensor) {
                kind.weight
            } else {
                0
            }
        };
        let kind = &family.kinds[draw.weighted(family.kinds.iter().map(possible))];
        let mut values = [0.0; 2];
        for (value, parameter) in values.iter_mut().zip(kind.parameters) {
            let size = draw.between(parameter.low, parameter.high);
            let is_negative = parameter.spread == Spread::EitherSign && draw.below(2) == 1;
            *value = if is_negative { -size } else { size };
        }
        let end = length_s as f64;
        let from = draw.between(EARLIEST_S, LATEST * end);
        let lasts = draw.percent(LASTING);
        let length = draw.log_between(LENGTH_S[0], LENGTH_S[1]);
        let to = if lasts { end } else { (from + length).min(end) };
        let mut fault = Self {
            sensor: (!kind.on.is_empty()).then_some(sensor),
            kind,
            values,
            from_s: from as u64,
            to_s: to as u64,
            settings: None,
            note: String::new(),
        };
        match kind.does {
            Does::Part(Part::PumpWeak | Part::FirePoor) => {
                fault.from_s = 0;
                fault.to_s = length_s;
            }
            Does::Upset(Upset::SettingsChanged) => {
                let changed = changed(draw, base);
                fault.note = note(base, changed.raw());
                fault.settings = Some(Box::new(changed));
            }
            _ => {}
        }
        fault
    }
}

/// Settings nobody changes by mistake into another house: what is fitted, its limit, and the sensors' trims.
fn may_change(name: &str) -> bool {
    !(["mode", "boiler", "return_to_store"].contains(&name)
        || name.starts_with("hard_limit")
        || name.ends_with("_trim"))
}

/// What was changed, for people.
fn note(before: &RawSettings, after: &RawSettings) -> String {
    let changed = Field::all()
        .iter()
        .filter(|field| before.bits(field.key) != after.bits(field.key));
    let texts: Vec<String> = changed
        .map(|field| {
            format!(
                "{} = {}",
                field.name,
                value_text(field, after.bits(field.key), Units::Si)
            )
        })
        .collect();
    texts.join(", ")
}

/// One to four settings changed, each anywhere in its range, kept as far as all together are accepted.
fn changed(draw: &mut Draw, base: &RawSettings) -> Settings {
    const TRIES: u32 = 200;
    let fields: Vec<&Field> = Field::all()
        .iter()
        .filter(|field| may_change(field.name))
        .collect();
    let wanted = 1 + draw.below(4);
    let mut raw = *base;
    let mut made = 0;
    for _ in 0..TRIES {
        if made == wanted {
            break;
        }
        let field = fields[draw.below(fields.len() as u64) as usize];
        let range = i64::from(field.max) - i64::from(field.min) + 1;
        let bits = i64::from(field.min) + draw.below(range as u64) as i64;
        let mut tried = raw;
        if tried.set_bits(field.key, bits as i32) && tried != raw && Settings::check(tried).is_ok()
        {
            raw = tried;
            made += 1;
        }
    }
    Settings::check(raw).unwrap_or_default()
}
