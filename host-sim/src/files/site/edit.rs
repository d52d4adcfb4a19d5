//! Values put into the text of a site file; everything else stays byte for byte.

use toml::de::{DeTable, DeValue};

/// A value and the comment above it.
pub(crate) struct Edit {
    /// `section.key`.
    pub(crate) key: String,
    /// As TOML has it, quotes and all.
    pub(crate) value: String,
    /// A line that begins with `#`.
    pub(crate) comment: String,
}

/// The text with these values, each below its comment: in the place of the old one, below its section's name, or in a section of its own
/// at the end.
///
/// # Errors
/// A text that is no TOML, in words.
pub(crate) fn edited(original: &str, edits: &[Edit]) -> Result<String, String> {
    let whole_lines = match original {
        "" => String::new(),
        text if text.ends_with('\n') => text.to_owned(),
        text => format!("{text}\n"),
    };
    let original = whole_lines.as_str();
    let root = DeTable::parse(original).map_err(|error| error.message().to_owned())?;
    // Places are found in the text as it was; edits go from the last to the first.
    let mut places: Vec<(usize, usize, String)> = Vec::new();
    let mut missing: Vec<(String, String)> = Vec::new();
    for Edit {
        key,
        value,
        comment,
    } in edits
    {
        let (section, key) = key.split_once('.').unwrap_or(("", key));
        let table = root.get_ref().get_key_value(section);
        let found = table.and_then(|(_, table)| match table.get_ref() {
            DeValue::Table(table) => table.get_key_value(key),
            _ => None,
        });
        match (table, found) {
            (_, Some((name, old))) => {
                let line = original[..name.span().start]
                    .rfind('\n')
                    .map_or(0, |at| at + 1);
                places.push((line, line, format!("{comment}\n")));
                places.push((old.span().start, old.span().end, value.clone()));
            }
            (Some((name, _)), None) => {
                let end = original[name.span().end..]
                    .find('\n')
                    .map_or(original.len(), |at| name.span().end + at + 1);
                places.push((end, end, format!("{comment}\n{key} = {value}\n")));
            }
            (None, None) => {
                missing.push((section.to_owned(), format!("{comment}\n{key} = {value}\n")))
            }
        }
    }
    places.sort_by_key(|(from, ..)| *from);
    let mut text = original.to_owned();
    for (from, to, by) in places.into_iter().rev() {
        text.replace_range(from..to, &by);
    }
    let mut last = String::new();
    for (section, lines) in missing {
        if section != last {
            text.push_str(&format!("\n[{section}]\n"));
            last = section;
        }
        text.push_str(&lines);
    }
    Ok(text)
}
