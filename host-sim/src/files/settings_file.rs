//! The settings file: TOML, one line per setting, every physical value with its unit.
//!
//! Names, ranges, defaults and relations all come from the core's own table, so that a file, the
//! serial line and the microcontroller cannot disagree.

use std::fmt::Write as _;
use std::ops::Range;
use std::path::Path;

use controller_core::settings::{
    Field, Group, Key, Kind, Problem as CoreProblem, RawSettings, Settings,
};
use sha2::{Digest, Sha256};
use toml::de::{DeTable, DeValue};

use crate::files::form;
use crate::files::input;
use crate::files::quantity::{self, Dimension, Units};
use crate::files::settings_relations;
use crate::files::site::SiteError;
use crate::files::site::error::{Problem, nearest, refuse};

/// Reads and checks a settings file; a setting left out keeps its default.
///
/// # Errors
/// The file cannot be read, or the first wrong place in it: line, column, setting, what was found,
/// what was expected and what to do.
pub fn read(path: &Path) -> Result<Settings, SiteError> {
    read_with_keys(path).map(|(settings, _)| settings)
}

/// As [`read`], with the settings that stand in the file.
///
/// # Errors
/// As [`read`].
pub fn read_with_keys(path: &Path) -> Result<(Settings, Vec<Key>), SiteError> {
    let file = path.display().to_string();
    let text = input::text(path).map_err(|cause| SiteError::Unreadable {
        file: file.clone(),
        cause,
    })?;
    parse_with_keys(&text, &file)
}

/// Reads and checks a text; `file` names it in messages.
///
/// # Errors
/// As [`read`].
pub fn parse(text: &str, file: &str) -> Result<Settings, SiteError> {
    parse_with_keys(text, file).map(|(settings, _)| settings)
}

fn parse_with_keys(text: &str, file: &str) -> Result<(Settings, Vec<Key>), SiteError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let units = quantity::units_in(text);
    let (raw, places) = raw(text, units).map_err(|problems| refuse(problems, file, text))?;
    let settings = Settings::check(raw).map_err(|problems| {
        let problems = problems
            .iter()
            .map(|problem| refused(&raw, *problem, &places, text, units))
            .collect();
        refuse(problems, file, text)
    })?;
    let keys = places.into_iter().map(|(key, _)| key).collect();
    Ok((settings, keys))
}

/// Where each setting's value stands.
type Places = Vec<(Key, Range<usize>)>;

fn raw(text: &str, units: Units) -> Result<(RawSettings, Places), Vec<Problem>> {
    let no_toml = |error: toml::de::Error| Problem {
        span: error.span().unwrap_or(text.len()..text.len()),
        key: String::new(),
        found: format!("text that is no TOML ({})", error.message()),
        expected: "lines such as slab_set = \"4.0 °C\"".to_owned(),
        advice: "correct the line; a value with a unit stands in quotes".to_owned(),
    };
    let root = DeTable::parse(text).map_err(|error| vec![no_toml(error)])?;
    let mut problems = Vec::new();
    let mut raw = RawSettings::DEFAULT;
    let mut places = Places::new();
    let mut entries: Vec<_> = root.into_inner().into_iter().collect();
    entries.sort_by_key(|(name, _)| name.span().start);
    for (name, value) in entries {
        let Some(key) = Key::from_name(name.get_ref()) else {
            problems.push(unknown(name.get_ref(), name.span()));
            continue;
        };
        let span = value.span();
        if let Err((found, expected)) = set(&mut raw, key.field(), value.get_ref(), units) {
            problems.push(Problem {
                span: span.clone(),
                key: key.name().to_owned(),
                found,
                expected,
                advice: "correct the value".to_owned(),
            });
        }
        places.push((key, span));
    }
    if problems.is_empty() {
        Ok((raw, places))
    } else {
        Err(problems)
    }
}

fn unknown(name: &str, span: Range<usize>) -> Problem {
    let near = nearest(Field::all().iter().map(|field| field.name), name);
    Problem {
        span,
        key: name.to_owned(),
        found: "an unknown setting".to_owned(),
        expected: format!("a setting's name; the nearest is {near}"),
        advice: "correct the name, or take the line out; `host-sim settings --all` lists them"
            .to_owned(),
    }
}

/// Found and expected, if the value cannot be used.
fn set(
    raw: &mut RawSettings,
    field: &Field,
    value: &DeValue<'_>,
    units: Units,
) -> Result<(), (String, String)> {
    let expected = |field| expected(field, units);
    let bits = match (field.kind, value) {
        (Kind::Switch, DeValue::Boolean(on)) => i32::from(*on),
        (Kind::Count, DeValue::Integer(n)) => i32::from_str_radix(n.as_str(), n.radix())
            .map_err(|_| (shown(value), expected(field)))?,
        (Kind::Choice(words), DeValue::String(word)) => words
            .iter()
            .position(|known| known == word)
            .and_then(|index| i32::try_from(index).ok())
            .ok_or_else(|| (shown(value), expected(field)))?,
        (kind, DeValue::String(text)) => {
            let Some(scale) = Scale::of(kind) else {
                return Err((shown(value), expected(field)));
            };
            let number = quantity::parse(text, scale.dimension)
                .map_err(|error| (error.found(), expected(field)))?;
            scale
                .bits(number)
                .ok_or_else(|| (shown(value), expected(field)))?
        }
        (Kind::Ratio, DeValue::Float(_) | DeValue::Integer(_)) => {
            let scale = Scale::of(Kind::Ratio).ok_or_else(|| (shown(value), expected(field)))?;
            let text = shown(value);
            text.parse()
                .ok()
                .and_then(|n| scale.bits(n))
                .ok_or_else(|| (text, expected(field)))?
        }
        _ => return Err((shown(value), expected(field))),
    };
    if bits < field.min || bits > field.max || !raw.set_bits(field.key, bits) {
        return Err((shown(value), expected(field)));
    }
    Ok(())
}

/// A value as it stands in the file.
fn shown(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => format!("\"{text}\""),
        DeValue::Integer(n) => n.as_str().to_owned(),
        DeValue::Float(n) => n.as_str().to_owned(),
        DeValue::Boolean(on) => on.to_string(),
        DeValue::Datetime(time) => time.to_string(),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a section".to_owned(),
    }
}

/// What a setting may be, with its range.
fn expected(field: &Field, units: Units) -> String {
    match field.kind {
        Kind::Switch => "true or false".to_owned(),
        Kind::Choice(words) => format!("one of: {}", words.join(", ")),
        Kind::Count => format!("a whole number from {} to {}", field.min, field.max),
        Kind::Ratio => format!(
            "{} to {}",
            value_text(field, field.min, units),
            value_text(field, field.max, units)
        ),
        _ => format!(
            "{} to {}, in quotes with its unit",
            value_text(field, field.min, units),
            value_text(field, field.max, units)
        ),
    }
}

/// How a kind's 32 bits and its quantity in a file relate.
pub(crate) struct Scale {
    pub(crate) dimension: Dimension,
    /// Bits per unit of the dimension.
    pub(crate) per_unit: f64,
}

impl Scale {
    pub(crate) fn of(kind: Kind) -> Option<Self> {
        const FIXED: f64 = 65_536.0;
        let (dimension, per_unit) = match kind {
            Kind::Temperature => (Dimension::Temperature, FIXED),
            Kind::Difference => (Dimension::TemperatureDifference, FIXED),
            Kind::Rate => (Dimension::TemperatureRate, FIXED),
            Kind::Time => (Dimension::Duration, 1_000.0),
            Kind::Ratio => (Dimension::Fraction, FIXED),
            Kind::Flow => (Dimension::FlowRate, 1_000.0 * FIXED),
            Kind::SpecificHeat => (Dimension::SpecificHeat, FIXED),
            Kind::Power => (Dimension::Power, FIXED),
            Kind::Energy => (Dimension::Energy, FIXED),
            Kind::Count | Kind::Switch | Kind::Choice(_) => return None,
        };
        Some(Self {
            dimension,
            per_unit,
        })
    }

    pub(crate) fn bits(&self, number: f64) -> Option<i32> {
        let bits = (number * self.per_unit).round();
        (f64::from(i32::MIN)..=f64::from(i32::MAX))
            .contains(&bits)
            .then_some(bits as i32)
    }
}

/// Watts are on a circulator's plate and joules in a fluid's table, whatever the system of units.
const fn spoken(kind: Kind, units: Units) -> Units {
    match kind {
        Kind::Power | Kind::SpecificHeat => Units::Si,
        _ => units,
    }
}

/// The settings with what is only known roughly rounded as people say it in these units, if they go together so.
#[must_use]
pub fn rounded(raw: &RawSettings, units: Units) -> RawSettings {
    let mut rounded = *raw;
    for field in Field::all() {
        let (Kind::Flow | Kind::Energy, Some(scale)) = (field.kind, Scale::of(field.kind)) else {
            continue;
        };
        let number = f64::from(raw.bits(field.key)) / scale.per_unit;
        let (number, unit) = quantity::convert(number, scale.dimension, units);
        let said = quantity::parse(&format!("{number:.2e} {unit}"), scale.dimension).ok();
        if let Some(bits) = said.and_then(|number| scale.bits(number)) {
            let _ = rounded.set_bits(field.key, bits.clamp(field.min, field.max));
        }
    }
    if Settings::check(rounded).is_ok() {
        rounded
    } else {
        *raw
    }
}

/// A setting's bits as text with unit.
#[must_use]
pub fn value_text(field: &Field, bits: i32, units: Units) -> String {
    let units = spoken(field.kind, units);
    match field.kind {
        Kind::Switch => (bits != 0).to_string(),
        Kind::Count => bits.to_string(),
        Kind::Choice(words) => usize::try_from(bits)
            .ok()
            .and_then(|index| words.get(index))
            .map_or_else(|| bits.to_string(), |word| (*word).to_owned()),
        kind => Scale::of(kind).map_or_else(String::new, |scale| {
            // 1/65536 is finer than what anybody wrote: four decimals are enough.
            let number = (f64::from(bits) / scale.per_unit * 1e4).round() / 1e4;
            if kind == Kind::Ratio {
                return number.to_string();
            }
            let text = quantity::format(number, scale.dimension, units);
            // "2.17 h" is not 130 min: what is written must read back as it was.
            let reads_back = quantity::parse(&text, scale.dimension)
                .is_ok_and(|number| scale.bits(number) == Some(bits));
            if kind == Kind::Time && !reads_back {
                return time_text(bits);
            }
            text
        }),
    }
}

/// A setting's bits as they stand in a file, rounded as [`value_text`] does.
#[must_use]
pub(crate) fn toml_value(field: &Field, bits: i32, units: Units) -> String {
    in_quotes(field, value_text(field, bits, units))
}

/// A value with a unit or a word stands in quotes.
fn in_quotes(field: &Field, value: String) -> String {
    match field.kind {
        Kind::Switch | Kind::Count | Kind::Ratio => value,
        _ => format!("\"{value}\""),
    }
}

/// A setting's bits as text with unit that reads back as the same bits: as people read it where that will do, with
/// more decimals where not.
fn exact_text(field: &Field, bits: i32, units: Units) -> String {
    let units = spoken(field.kind, units);
    let shown = value_text(field, bits, units);
    let Some(scale) = Scale::of(field.kind) else {
        return shown;
    };
    let reads_back = |text: &String| {
        let number = quantity::parse(text, scale.dimension).ok();
        number.and_then(|number| scale.bits(number)) == Some(bits)
    };
    if reads_back(&shown) {
        return shown;
    }
    let number = f64::from(bits) / scale.per_unit;
    let (number, unit) = match field.kind {
        Kind::Ratio => (number, String::new()),
        _ => {
            let (number, unit) = quantity::convert(number, scale.dimension, units);
            (number, format!(" {unit}"))
        }
    };
    // Nine decimals are finer than the finest bit, that of a flow, 1.5e-8 L/s.
    (0..=9)
        .map(|decimals| format!("{number:.decimals$}{unit}"))
        .find(reads_back)
        .unwrap_or(shown)
}

/// A time in the largest unit in which it is whole, else in seconds.
fn time_text(milliseconds: i32) -> String {
    match milliseconds {
        ms if ms % 3_600_000 == 0 => format!("{} h", ms / 3_600_000),
        ms if ms % 60_000 == 0 => format!("{} min", ms / 60_000),
        ms => format!("{} s", f64::from(ms) / 1_000.0),
    }
}

/// The core's refusal, at its place in the file.
fn refused(
    raw: &RawSettings,
    problem: CoreProblem,
    places: &Places,
    text: &str,
    units: Units,
) -> Problem {
    let key = problem.key();
    // The relation's own keys that stand in the file say best what to change.
    let named: Vec<Key> = match problem {
        CoreProblem::Range(key) => vec![key],
        CoreProblem::Relation(relation) => settings_relations::named(&relation),
    };
    let span = places
        .iter()
        .find(|(known, _)| *known == key)
        .or_else(|| places.iter().find(|(known, _)| named.contains(known)))
        .map_or(text.len()..text.len(), |(_, span)| span.clone());
    let mut found = String::new();
    for key in &named {
        let field = key.field();
        let separator = if found.is_empty() { "" } else { ", " };
        let value = value_text(field, raw.bits(*key), units);
        let _ = write!(found, "{separator}{} = {value}", field.name);
    }
    let expected = match problem {
        CoreProblem::Range(key) => expected(key.field(), units),
        CoreProblem::Relation(relation) => {
            let mends: Vec<String> = settings_relations::mends(raw, &relation, units)
                .iter()
                .map(|mend| mend.words(units))
                .collect();
            if mends.is_empty() {
                relation.text.to_owned()
            } else {
                format!("{} ({})", mends.join(" or "), relation.text)
            }
        }
    };
    Problem {
        span,
        key: key.name().to_owned(),
        found,
        expected,
        advice: "change one of them; a setting not in the file has its default".to_owned(),
    }
}

/// Settings as a file: every setting with its meaning and range. [`parse`] reads the same settings from it, to the bit,
/// in either system of units.
#[must_use]
pub fn to_toml(settings: &RawSettings, units: Units) -> String {
    to_toml_under("", settings, units)
}

/// The same under a comment of its own.
#[must_use]
pub fn to_toml_under(remarks: &str, settings: &RawSettings, units: Units) -> String {
    let mut text = String::from(
        "# Settings of the slab controller. Physical values stand in quotes with their unit, SI or US.\n\
         # A setting left out keeps its default.\n",
    );
    for line in remarks.lines() {
        let _ = writeln!(text, "# {line}");
    }
    for group in Group::ALL {
        let _ = write!(text, "\n# === {} ===\n", heading(group));
        for field in Field::all().iter().filter(|field| field.group == group) {
            text.push('\n');
            text.push_str(&entry(field, settings, units));
        }
    }
    text
}

/// The owner's own choices alone, and what becomes of the other settings.
#[must_use]
pub fn yours(settings: &RawSettings, units: Units) -> String {
    let (own, others): (Vec<&Field>, Vec<&Field>) = Field::all()
        .iter()
        .partition(|field| field.group == Group::Yours);
    let mut text = format!(
        "# Settings of the slab controller that are yours to choose, {} of {}. The others keep their defaults or follow from the\n\
         # site: host-sim settings --all prints them, host-sim size --write-settings writes those of your house.\n",
        own.len(),
        own.len() + others.len()
    );
    for field in own {
        text.push('\n');
        text.push_str(&entry(field, settings, units));
    }
    text
}

/// What stands over a group of settings.
const fn heading(group: Group) -> &'static str {
    match group {
        Group::Yours => "Yours to choose",
        Group::Measured => "Measured or computed of your house",
        Group::Expert => "For experts: fine adjustment of the run",
        Group::Protects => "Protecting people, slab and machines: change one only with a reason",
    }
}

/// Every setting as a row of a form.
#[must_use]
pub fn rows(settings: &RawSettings, units: Units) -> Vec<form::Row> {
    let of_group = |group| {
        Field::all()
            .iter()
            .filter(move |field| field.group == group)
    };
    let row = |field: &Field| form::Row {
        section: "",
        name: field.name,
        heading: heading(field.group),
        meaning: quantity::told(field.doc, units),
        kind: row_kind(field, settings.bits(field.key), units),
        value: Some(in_quotes(
            field,
            exact_text(field, settings.bits(field.key), units),
        )),
    };
    Group::ALL.into_iter().flat_map(of_group).map(row).collect()
}

fn row_kind(field: &Field, bits: i32, units: Units) -> form::Kind {
    match (field.kind, Scale::of(field.kind)) {
        (Kind::Switch, _) => form::Kind::Flag,
        (Kind::Choice(words), _) => form::Kind::Word {
            words: words.to_vec(),
        },
        (_, None) => form::Kind::Number {
            unit: String::new(),
            now: Some(f64::from(bits)),
            usual: None,
            possible: [field.min, field.max].map(f64::from),
            whole: true,
        },
        (kind, Some(scale)) => {
            // All of a setting's numbers are in the unit that suits its largest.
            let unit = match kind {
                Kind::Ratio => String::new(),
                _ => quantity::unit_of(&value_text(field, field.max, units)).to_owned(),
            };
            let number = |bits: i32| {
                let base = f64::from(bits) / scale.per_unit;
                let number = if unit.is_empty() {
                    base
                } else {
                    quantity::in_unit(base, scale.dimension, &unit)
                };
                (number * 1e4).round() / 1e4
            };
            form::Kind::Number {
                now: Some(number(bits)),
                usual: None,
                possible: [number(field.min), number(field.max)],
                whole: false,
                unit,
            }
        }
    }
}

/// One setting with meaning and range.
fn entry(field: &Field, settings: &RawSettings, units: Units) -> String {
    let bits = settings.bits(field.key);
    let value = in_quotes(field, exact_text(field, bits, units));
    let range = match field.kind {
        Kind::Switch => "true or false".to_owned(),
        Kind::Choice(words) => words.join(", "),
        _ => format!(
            "{} to {}",
            value_text(field, field.min, units),
            value_text(field, field.max, units)
        ),
    };
    format!(
        "# {}\n# Range: {range}.\n{} = {value}\n",
        quantity::told(field.doc, units),
        field.name
    )
}

/// Fingerprint of settings: SHA-256 over every setting's name and bits.
#[must_use]
pub fn sha256(settings: &RawSettings) -> String {
    let mut digest = Sha256::new();
    for field in Field::all() {
        digest.update(field.name.as_bytes());
        digest.update(settings.bits(field.key).to_le_bytes());
    }
    hex(&digest.finalize())
}

/// Bytes in hexadecimal.
#[must_use]
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
#[path = "settings_file_tests.rs"]
mod tests;
