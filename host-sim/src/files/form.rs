//! The tables of keys as rows that a form on a screen shows, and a file's text with only the keys changed that were touched.

use serde::Serialize;
use toml::de::{DeTable, DeValue};

/// One key of a site or settings file.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Row {
    /// The section it stands in; empty for a setting.
    pub section: &'static str,
    /// Its name there.
    pub name: &'static str,
    /// What stands over it and its like.
    pub heading: &'static str,
    /// What it means.
    pub meaning: String,
    /// What may be put there.
    pub kind: Kind,
    /// The value as a file has it, with quotes and unit; `None` where the part is not there.
    pub value: Option<String>,
}

/// What may be put for a key. Numbers are in the unit named.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "is", rename_all = "snake_case")]
pub enum Kind {
    /// A number with a unit; without one, a pure number.
    Number {
        /// The unit shown; empty for a pure number.
        unit: String,
        /// What it is now.
        now: Option<f64>,
        /// Usual range, if it is known.
        usual: Option<[f64; 2]>,
        /// Possible range.
        possible: [f64; 2],
        /// Only whole numbers.
        whole: bool,
    },
    /// One of these words.
    Word {
        /// All of them.
        words: Vec<&'static str>,
    },
    /// Yes or no.
    Flag,
    /// Any text.
    Text,
}

/// A key and what is to stand there.
#[derive(Clone, Debug, PartialEq)]
pub struct Edit {
    /// The section; empty for the lines before any.
    pub section: String,
    /// The key's name.
    pub name: String,
    /// The value as TOML has it.
    pub value: String,
    /// A comment line above it, with its mark; empty for none.
    pub comment: String,
}

/// The text with these values; everything else byte for byte. A key that is not there gets a line below its section's head, a
/// section that is not there one at the end.
///
/// # Errors
/// A text that is no TOML, in words.
pub fn edited(original: &str, edits: &[Edit]) -> Result<String, String> {
    let whole_lines = match original {
        "" => String::new(),
        text if text.ends_with('\n') => text.to_owned(),
        text => format!("{text}\n"),
    };
    let original = whole_lines.as_str();
    let root = DeTable::parse(original).map_err(|error| error.message().to_owned())?;
    // Places are found in the text as it was; changes go from the last to the first. Where a new key comes before an old one's
    // line, the old one's comment stays with it.
    let mut changes: Vec<(usize, bool, usize, String)> = Vec::new();
    let mut missing: Vec<(&str, String)> = Vec::new();
    for edit in edits {
        let head = if edit.section.is_empty() {
            None
        } else {
            root.get_ref().get_key_value(edit.section.as_str())
        };
        let table = match head {
            Some((_, table)) => match table.get_ref() {
                DeValue::Table(table) => Some(table),
                _ => None,
            },
            None if edit.section.is_empty() => Some(root.get_ref()),
            None => None,
        };
        let found = table.and_then(|table| table.get_key_value(edit.name.as_str()));
        let comment = match edit.comment.as_str() {
            "" => String::new(),
            comment => format!("{comment}\n"),
        };
        let line = format!("{comment}{} = {}\n", edit.name, edit.value);
        match (head, found) {
            (_, Some((name, old))) => {
                let start = original[..name.span().start]
                    .rfind('\n')
                    .map_or(0, |at| at + 1);
                changes.push((start, true, start, comment));
                changes.push((old.span().start, true, old.span().end, edit.value.clone()));
            }
            (Some((name, _)), None) => {
                let end = original[name.span().end..]
                    .find('\n')
                    .map_or(original.len(), |at| name.span().end + at + 1);
                changes.push((end, false, end, line));
            }
            (None, None) => missing.push((&edit.section, line)),
        }
    }
    changes.sort_by_key(|(from, is_old, ..)| (*from, *is_old));
    let mut text = original.to_owned();
    for (from, _, to, by) in changes.into_iter().rev() {
        text.replace_range(from..to, &by);
    }
    let mut last = "";
    for (section, lines) in missing {
        if section != last {
            text.push_str(&format!("\n[{section}]\n"));
            last = section;
        }
        text.push_str(&lines);
    }
    Ok(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn edit(section: &str, name: &str, value: &str) -> Edit {
        Edit {
            section: section.to_owned(),
            name: name.to_owned(),
            value: value.to_owned(),
            comment: String::new(),
        }
    }

    #[test]
    fn only_what_was_touched_changes() {
        let original =
            "# mine\n[house]\nwidth = \"3.6 m\" # measured\n[slab]\nspacing = \"9.8425 in\"\n";
        let edits = [
            edit("house", "width", "\"4 m\""),
            edit("slab", "exchange", "1.1"),
            edit("curtain", "fitted", "true"),
        ];
        assert_eq!(
            edited(original, &edits).expect("a text"),
            "# mine\n[house]\nwidth = \"4 m\" # measured\n[slab]\nexchange = 1.1\nspacing = \"9.8425 in\"\n\n[curtain]\n\
             fitted = true\n"
        );
        assert_eq!(edited(original, &[]).expect("a text"), original);
    }

    #[test]
    fn a_settings_file_has_no_sections() {
        let original = "slab_set = \"4 °C\"\n";
        let edits = [
            edit("", "slab_set", "\"5 °C\""),
            edit("", "pump_starts", "3"),
        ];
        assert_eq!(
            edited(original, &edits).expect("a text"),
            "slab_set = \"5 °C\"\npump_starts = 3\n"
        );
        assert!(edited("slab_set =", &[]).is_err());
    }
}
