//! The table of keys as rows of a form.

use super::SiteConfig;
use super::keys::{Key, Kind, SECTIONS};
use super::value::{Scale, text_of};
use crate::files::form;
use crate::files::quantity::{self, Units};

/// Every key of the site file, with its value in this configuration.
#[must_use]
pub fn rows(config: &SiteConfig, units: Units) -> Vec<form::Row> {
    SECTIONS
        .iter()
        .flat_map(|section| {
            section.keys.iter().map(|key| form::Row {
                section: section.name,
                name: key.name,
                heading: section.doc,
                meaning: quantity::told(key.doc, units),
                kind: kind(key, config, units),
                value: text_of(key, config, units),
            })
        })
        .collect()
}

fn kind(key: &Key, config: &SiteConfig, units: Units) -> form::Kind {
    match &key.kind {
        Kind::Quantity {
            dimension,
            typical,
            allowed,
            read,
            ..
        } => {
            let scale = Scale::of_key(*dimension, *typical, units);
            form::Kind::Number {
                unit: scale.unit().to_owned(),
                now: read(config).map(|value| scale.number(value)),
                usual: Some(scale.ends(*typical)),
                possible: scale.ends(*allowed),
                whole: false,
            }
        }
        Kind::Count {
            typical,
            allowed,
            read,
            ..
        } => form::Kind::Number {
            unit: String::new(),
            now: read(config).map(f64::from),
            usual: Some([typical.0, typical.1].map(f64::from)),
            possible: [allowed.0, allowed.1].map(f64::from),
            whole: true,
        },
        Kind::Choice { options, .. } => form::Kind::Word { words: options() },
        Kind::Flag { .. } => form::Kind::Flag,
        Kind::Text { .. } => form::Kind::Text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_number_of_the_demo_lies_in_its_possible_range() {
        for units in [Units::Si, Units::Us] {
            for row in rows(&SiteConfig::default(), units) {
                let form::Kind::Number {
                    now: Some(now),
                    possible: [low, high],
                    ..
                } = row.kind
                else {
                    continue;
                };
                assert!(
                    (low..=high).contains(&now),
                    "{}.{}: {now}",
                    row.section,
                    row.name
                );
            }
        }
    }
}
