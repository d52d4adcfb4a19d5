//! From the text of a site file to the configuration, with the place of every key kept; and the demonstration file.

use std::fmt::Write;
use std::ops::Range;

use toml::de::{DeTable, DeValue};

use super::SiteConfig;
use super::error::{Problem, nearest};
use super::keys::{Key, Kind, SECTIONS, Section};
use super::value::{self, Scale, text_of};
use crate::files::quantity::{self, Units};

/// A parsed text whose sections and keys are all known.
pub(super) struct Document<'a> {
    /// What its values are written in, and so what is said of them.
    pub(super) units: Units,
    sections: Vec<Filled<'a>>,
    end: usize,
}

/// A section the text has.
struct Filled<'a> {
    section: &'static Section,
    header: Range<usize>,
    /// Key, its place, and its value with its place, in the table's order.
    values: Vec<(&'static Key, Range<usize>, Range<usize>, DeValue<'a>)>,
}

impl<'a> Document<'a> {
    /// Parses the text; beside it what is unknown in it.
    pub(super) fn parse(text: &'a str) -> Result<(Self, Vec<Problem>), Problem> {
        let root = DeTable::parse(text).map_err(|error| Problem {
            span: error.span().unwrap_or(text.len()..text.len()),
            key: String::new(),
            found: format!("text that is no TOML ({})", error.message()),
            expected: "lines such as [house] and width = \"3.6 m\"".to_owned(),
            advice: "correct the line; a value with a unit stands in quotes".to_owned(),
        })?;
        let mut sections = Vec::new();
        let mut problems = Vec::new();
        for (name, value) in root.into_inner() {
            let known = SECTIONS
                .iter()
                .find(|section| section.name == name.get_ref().as_ref());
            match (known, value.into_inner()) {
                (Some(section), DeValue::Table(table)) => {
                    let (filled, unknown) = Filled::new(section, name.span(), table);
                    sections.push(filled);
                    problems.extend(unknown);
                }
                (_, value) => {
                    let kind = if matches!(value, DeValue::Table(_)) {
                        "section"
                    } else {
                        "key"
                    };
                    problems.push(Problem {
                        span: name.span(),
                        key: name.get_ref().to_string(),
                        found: format!("an unknown {kind} outside any known section"),
                        expected: format!(
                            "a section's name; the nearest is {}",
                            nearest(SECTIONS.iter().map(|s| s.name), name.get_ref())
                        ),
                        advice: "correct the name or take it out; `host-sim site` lists all"
                            .to_owned(),
                    });
                }
            }
        }
        let document = Self {
            units: quantity::units_in(text),
            sections,
            end: text.len(),
        };
        Ok((document, problems))
    }

    /// A text that says nothing, in these units.
    pub(super) fn empty(units: Units) -> Self {
        Self {
            units,
            sections: Vec::new(),
            end: 0,
        }
    }

    /// Puts every value where its key says, in the table's order; lists the keys left out and the values that are none.
    pub(super) fn apply(&self, mut config: SiteConfig) -> (SiteConfig, Vec<String>, Vec<Problem>) {
        let mut problems = Vec::new();
        let mut left_out = Vec::new();
        for section in SECTIONS {
            let filled = self
                .sections
                .iter()
                .find(|filled| filled.section.name == section.name);
            // An optional part is there when its section is, unless the section itself says no.
            if let (Some(fit), Some(_)) = (section.fit, filled) {
                (fit.set)(&mut config, true);
            }
            for key in section.keys {
                let value = filled.and_then(|filled| filled.value(key.name));
                match value {
                    Some((_, span, value)) => {
                        if let Err(refusal) = value::apply(key, value, &mut config, self.units) {
                            problems.push(Problem {
                                span: span.clone(),
                                key: format!("{}.{}", section.name, key.name),
                                found: refusal.found,
                                expected: refusal.expected,
                                advice: refusal.advice,
                            });
                        }
                    }
                    None if key.is_listed
                        && section.fit.is_none_or(|fit| (fit.is_fitted)(&config)) =>
                    {
                        left_out.push(format!("{}.{}", section.name, key.name));
                    }
                    None => {}
                }
            }
        }
        (config, left_out, problems)
    }

    /// Where a key's value stands; if the key is left out, its section; if that is, the end of the file.
    pub(super) fn place(&self, section: &str, key: &str) -> Range<usize> {
        let Some(filled) = self
            .sections
            .iter()
            .find(|filled| filled.section.name == section)
        else {
            return self.end..self.end;
        };
        filled
            .value(key)
            .map_or(filled.header.clone(), |(_, span, _)| span)
    }

    /// Whether the text gives this key.
    pub(super) fn has(&self, section: &str, key: &str) -> bool {
        self.sections
            .iter()
            .any(|filled| filled.section.name == section && filled.value(key).is_some())
    }
}

impl<'a> Filled<'a> {
    fn new(
        section: &'static Section,
        header: Range<usize>,
        table: DeTable<'a>,
    ) -> (Self, Vec<Problem>) {
        let mut values = Vec::new();
        let mut unknown = Vec::new();
        for (name, value) in table {
            match section
                .keys
                .iter()
                .find(|key| key.name == name.get_ref().as_ref())
            {
                Some(key) => values.push((key, name.span(), value.span(), value.into_inner())),
                None => unknown.push(Problem {
                    span: name.span(),
                    key: format!("{}.{}", section.name, name.get_ref()),
                    found: "an unknown key".to_owned(),
                    expected: format!(
                        "a key of [{}]; the nearest is {}",
                        section.name,
                        nearest(section.keys.iter().map(|key| key.name), name.get_ref())
                    ),
                    advice: "correct the name or take the line out; `host-sim site` lists all"
                        .to_owned(),
                }),
            }
        }
        (
            Self {
                section,
                header,
                values,
            },
            unknown,
        )
    }

    /// Place of the name, place of the value, value.
    fn value(&self, key: &str) -> Option<(Range<usize>, Range<usize>, &DeValue<'a>)> {
        self.values
            .iter()
            .find(|(known, ..)| known.name == key)
            .map(|(_, name, place, value)| (name.clone(), place.clone(), value))
    }
}

/// The demonstration site as a file: every key with what it means, what is usual and what is possible.
///
/// Parts the demonstration site does not have stand as comments.
#[must_use]
pub fn demo_toml(units: Units) -> String {
    let demo = SiteConfig::default();
    let mut fitted = demo.clone();
    for fit in SECTIONS.iter().filter_map(|section| section.fit) {
        // Only parts that are absent are made up; a part the site has keeps its values.
        (fit.set)(&mut fitted, true);
    }
    let mut text = String::from(
        "# The demonstration site: an invented plant house over a stone-walled fruit store.\n\
         # Physical values stand in quotes with their unit, SI or US: \"86 m\", \"280 ft\", \"9 °C\", \"48 °F\".\n\
         # A key left out keeps the value shown here. Lines that begin with # are comments.\n",
    );
    for section in SECTIONS {
        let is_there = section.fit.is_none_or(|fit| (fit.is_fitted)(&demo));
        let mark = if is_there { "" } else { "# " };
        let _ = write!(text, "\n# {}\n{mark}[{}]\n", section.doc, section.name);
        for key in section.keys {
            let _ = writeln!(text, "# {}", quantity::told(key.doc, units));
            if let Some(line) = range_line(key, units) {
                let _ = writeln!(text, "# {line}");
            }
            let value = text_of(key, &fitted, units);
            let shown = value.as_deref().unwrap_or("\"…\"");
            let mark = if is_there && key.is_listed && value.is_some() {
                ""
            } else {
                "# "
            };
            let _ = writeln!(text, "{mark}{} = {shown}", key.name);
        }
    }
    text
}

/// What is usual and what is possible, as a comment line of its own.
fn range_line(key: &Key, units: Units) -> Option<String> {
    match &key.kind {
        Kind::Quantity {
            dimension,
            typical,
            allowed,
            ..
        } => {
            let scale = Scale::of_key(*dimension, *typical, units);
            Some(format!(
                "Typical {}, possible {}.",
                scale.range(*typical),
                scale.range(*allowed)
            ))
        }
        Kind::Count {
            typical, allowed, ..
        } => Some(format!(
            "Typical {} to {}, possible {} to {}.",
            typical.0, typical.1, allowed.0, allowed.1
        )),
        Kind::Choice { options, .. } => Some(format!("One of: {}.", options().join(", "))),
        Kind::Flag { .. } => Some("true or false.".to_owned()),
        Kind::Text { .. } => None,
    }
}
