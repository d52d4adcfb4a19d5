//! Any bytes as a settings file, or as settings to write to one.

use arbitrary::{Result, Unstructured};
use controller_core::settings::{Field, RawSettings, Settings};
use host_sim::files::quantity::Units;
use host_sim::files::settings_file;

/// The first byte tells what the rest is: a text to read, or numbers for the settings. A text is taken or refused
/// with the file's name and a place; what was taken, and whatever passes the checks, reads back the same when
/// written in either system of units.
///
/// # Panics
/// Something of that does not hold.
pub fn settings_file(bytes: &[u8]) {
    match bytes.split_first() {
        None => {}
        Some((0xFF, numbers)) => {
            if let Ok(Some(settings)) = from_numbers(&mut Unstructured::new(numbers)) {
                reads_back(&settings);
            }
        }
        Some(_) => {
            let text = String::from_utf8_lossy(bytes);
            match settings_file::parse(&text, "any.toml") {
                Ok(settings) => reads_back(&settings),
                Err(error) => {
                    let message = error.to_string();
                    assert!(message.contains("any.toml"), "{message}");
                    assert!(message.contains("line "), "{message}");
                }
            }
        }
    }
}

/// Some settings at any value of their range; `None` if they do not go together.
fn from_numbers(bytes: &mut Unstructured<'_>) -> Result<Option<Settings>> {
    let fields = Field::all();
    let mut raw = RawSettings::DEFAULT;
    while !bytes.is_empty() {
        let field = bytes.choose(fields)?;
        let bits = bytes.int_in_range(field.min..=field.max)?;
        let mut changed = raw;
        if changed.set_bits(field.key, bits) && Settings::check(changed).is_ok() {
            raw = changed;
        }
    }
    Ok(Settings::check(raw).ok())
}

fn reads_back(settings: &Settings) {
    for units in [Units::Si, Units::Us] {
        let text = settings_file::to_toml(settings.raw(), units);
        match settings_file::parse(&text, "written.toml") {
            Ok(again) => assert_eq!(again.raw(), settings.raw(), "{units:?}:\n{text}"),
            Err(error) => panic!("{error}\n{text}"),
        }
    }
}
