//! One key of a site changed at a time: what a sweep does.

use std::fmt;

use toml::de::DeTable;

use super::SiteConfig;
use super::document::Document;
use super::error::Problem;
use super::keys::{Key, Kind, SECTIONS, Section};
use super::relations;
use super::value::{self, Scale, text_of};
use crate::files::quantity::{self, Dimension, Units};

/// Sections that describe like parts, and a name for both: `floors.tube`. A key named alone stands for both, too, where only
/// they have it.
const LIKE_PARTS: [(&str, [&str; 2]); 2] = [
    ("floors", ["slab", "store_floor"]),
    ("runs", ["supply_run", "return_run"]),
];

/// A key by its name, or the same key of both floors or both pipe runs.
#[derive(Clone)]
pub struct Changeable {
    places: Vec<(&'static Section, &'static Key)>,
}

/// A value that reads as one of the site's.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Setting(String);

impl fmt::Display for Setting {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Why a change cannot be made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChangeError {
    /// What stands there.
    pub found: String,
    /// What should stand there.
    pub expected: String,
    /// What to do about it.
    pub advice: String,
}

impl fmt::Display for ChangeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "found {}; expected {}; {}",
            self.found, self.expected, self.advice
        )
    }
}

impl std::error::Error for ChangeError {}

impl From<Problem> for ChangeError {
    fn from(problem: Problem) -> Self {
        Self {
            found: problem.found,
            expected: problem.expected,
            advice: problem.advice,
        }
    }
}

impl Changeable {
    /// The key of this name: `section.key`, `floors.key`, `runs.key`, or `key` alone where one section has it, or both floors,
    /// or both runs.
    ///
    /// # Errors
    /// No such key, several unlike ones, or one that holds a text.
    pub fn find(name: &str) -> Result<Self, ChangeError> {
        let name = name.trim();
        let places: Vec<_> = SECTIONS
            .iter()
            .flat_map(|section| section.keys.iter().map(move |key| (section, key)))
            .filter(|(section, key)| {
                name == key.name
                    || name == full_name(section, key)
                    || LIKE_PARTS.iter().any(|(both, sections)| {
                        sections.contains(&section.name) && name == format!("{both}.{}", key.name)
                    })
            })
            .collect();
        let sections: Vec<_> = places.iter().map(|(section, _)| section.name).collect();
        let refuse = |found: String, expected: &str, advice: String| {
            Err(ChangeError {
                found,
                expected: expected.to_owned(),
                advice,
            })
        };
        match places.as_slice() {
            [] => refuse(
                format!("the unknown key \"{name}\""),
                "a key of the site file, such as slab.spacing",
                format!("{}`host-sim site` shows all", alike(name)),
            ),
            [(_, key), ..] if matches!(key.kind, Kind::Text { .. }) => refuse(
                format!("\"{name}\", which is a text"),
                "a key with a number or a word",
                "vary another".to_owned(),
            ),
            [_] => Ok(Self { places }),
            // `tube` is of the floors: pipe runs have one as well, but nobody means theirs alone.
            _ if sections.starts_with(&LIKE_PARTS[0].1) && !name.contains('.') => Ok(Self {
                places: places[..2].to_vec(),
            }),
            _ if LIKE_PARTS.iter().any(|(_, pair)| sections == *pair) => Ok(Self { places }),
            _ => refuse(
                format!("\"{name}\", which several sections have"),
                "one of them",
                format!("write {}", precise(&places)),
            ),
        }
    }

    /// Every key with a number, for tests.
    #[cfg(test)]
    pub(crate) fn every() -> Vec<Self> {
        SECTIONS
            .iter()
            .flat_map(|section| section.keys.iter().map(move |key| (section, key)))
            .filter(|(_, key)| matches!(key.kind, Kind::Quantity { .. }))
            .map(|place| Self {
                places: vec![place],
            })
            .collect()
    }

    /// The ends of the possible range, for tests.
    #[cfg(test)]
    pub(crate) fn ends(&self) -> Vec<Setting> {
        match self.key().kind {
            Kind::Quantity { allowed, .. } => {
                vec![self.written(allowed.0), self.written(allowed.1)]
            }
            _ => Vec::new(),
        }
    }

    /// Its name, or both.
    #[must_use]
    pub fn name(&self) -> String {
        let names: Vec<_> = self
            .places
            .iter()
            .map(|(section, key)| full_name(section, key))
            .collect();
        names.join(" and ")
    }

    /// What it measures; `None` for whole numbers and words.
    #[must_use]
    pub fn dimension(&self) -> Option<Dimension> {
        match self.key().kind {
            Kind::Quantity { dimension, .. } => Some(dimension),
            Kind::Count { .. } | Kind::Choice { .. } | Kind::Flag { .. } | Kind::Text { .. } => {
                None
            }
        }
    }

    /// Whether it says how tubes are laid, so that the length of a circuit has to follow for the same floor.
    #[must_use]
    pub fn is_laying(&self) -> bool {
        matches!(self.key().name, "spacing" | "circuits")
    }

    /// Whether it is the length of a circuit.
    #[must_use]
    pub fn is_length_of_circuit(&self) -> bool {
        self.key().name == "circuit_length"
    }

    /// Whether it is a whole number.
    #[must_use]
    pub fn is_count(&self) -> bool {
        matches!(self.key().kind, Kind::Count { .. })
    }

    /// A number in the key's base unit as the site file writes it.
    #[must_use]
    pub fn written(&self, number: f64) -> Setting {
        self.written_in(number, Units::Si)
    }

    /// The same in a file of these units.
    #[must_use]
    pub fn written_in(&self, number: f64, units: Units) -> Setting {
        Setting(match self.key().kind {
            Kind::Quantity {
                dimension, typical, ..
            } => Scale::of_key(dimension, typical, units).value(number),
            _ => number.to_string(),
        })
    }

    /// Words or values as typed, one after another; a unit may stand once, at the end.
    #[must_use]
    pub fn typed(&self, texts: &str) -> Vec<Setting> {
        let texts: Vec<&str> = texts
            .split(',')
            .map(|text| text.trim().trim_matches('"'))
            .collect();
        let unit = match (&self.key().kind, texts.last()) {
            (Kind::Quantity { .. }, Some(last)) => quantity::unit_of(last),
            _ => "",
        };
        texts
            .into_iter()
            .map(|text| match self.key().kind {
                Kind::Quantity { .. } if quantity::unit_of(text).is_empty() => {
                    Setting(format!("{text} {unit}").trim().to_owned())
                }
                _ => Setting(text.to_owned()),
            })
            .collect()
    }

    /// Its number in a configuration, in the base unit; `None` for words and parts that are not fitted.
    #[must_use]
    pub fn number(&self, config: &SiteConfig) -> Option<f64> {
        match &self.key().kind {
            Kind::Quantity { read, .. } => read(config),
            Kind::Count { read, .. } => read(config).map(f64::from),
            Kind::Choice { .. } | Kind::Flag { .. } | Kind::Text { .. } => None,
        }
    }

    /// The configuration with this value in every place; relations between keys are not looked at.
    ///
    /// # Errors
    /// The value is none of this key, out of range, or belongs to a part the site does not have.
    pub fn put(&self, config: &SiteConfig, setting: &Setting) -> Result<SiteConfig, ChangeError> {
        let mut changed = config.clone();
        for (section, key) in &self.places {
            let quoted = matches!(key.kind, Kind::Quantity { .. } | Kind::Choice { .. });
            let text = if quoted {
                format!("value = {}", toml::Value::String(setting.0.clone()))
            } else {
                format!("value = {}", setting.0)
            };
            let not_read = || ChangeError {
                found: format!("\"{setting}\""),
                expected: format!("a value of {}", full_name(section, key)),
                advice: "correct it".to_owned(),
            };
            let table = DeTable::parse(&text).map_err(|_| not_read())?.into_inner();
            let value = table.get("value").ok_or_else(not_read)?.get_ref();
            value::apply(key, value, &mut changed, Units::Si).map_err(|refusal| ChangeError {
                found: refusal.found,
                expected: refusal.expected,
                advice: refusal.advice,
            })?;
            if text_of(key, &changed, Units::Si).is_none() {
                return Err(ChangeError {
                    found: format!(
                        "{}, of a part the site does not have",
                        full_name(section, key)
                    ),
                    expected: "a key of a part that is there".to_owned(),
                    advice: format!("put a [{}] section into the site file first", section.name),
                });
            }
        }
        Ok(changed)
    }

    /// The first place stands for all: like parts have like keys.
    fn key(&self) -> &'static Key {
        self.places[0].1
    }
}

impl fmt::Debug for Changeable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Changeable").field(&self.name()).finish()
    }
}

impl SiteConfig {
    /// Whether its numbers can be true together, as [`super::Site::parse`] asks of a file.
    ///
    /// # Errors
    /// The first relation that is broken.
    pub fn check_relations(&self) -> Result<(), ChangeError> {
        let (document, _) = Document::parse("")?;
        let first = relations::broken(self, &document).into_iter().next();
        first.map_or(Ok(()), |problem| Err(problem.into()))
    }
}

fn full_name(section: &Section, key: &Key) -> String {
    format!("{}.{}", section.name, key.name)
}

/// The names that leave no doubt.
fn precise(places: &[(&Section, &Key)]) -> String {
    let mut names: Vec<_> = places
        .iter()
        .map(|(section, key)| full_name(section, key))
        .collect();
    for (both, pair) in LIKE_PARTS {
        let mut of_pair = places
            .iter()
            .filter(|(section, _)| pair.contains(&section.name));
        if let (Some((_, key)), Some(_)) = (of_pair.next(), of_pair.next()) {
            names.push(format!("{both}.{}", key.name));
        }
    }
    names.join(" or ")
}

/// Keys that share a part of the name, as a hint.
fn alike(name: &str) -> String {
    let last = name.rsplit('.').next().unwrap_or(name);
    let near: Vec<_> = SECTIONS
        .iter()
        .flat_map(|section| section.keys.iter().map(move |key| (section, key)))
        .filter(|(_, key)| {
            last.split('_')
                .filter_map(|word| word.get(..4))
                .any(|beginning| key.name.contains(beginning))
        })
        .take(4)
        .map(|(section, key)| full_name(section, key))
        .collect();
    if near.is_empty() {
        String::new()
    } else {
        format!("like it: {}; ", near.join(", "))
    }
}
