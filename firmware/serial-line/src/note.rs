//! What a settings event of the trace says: what changed, exact to the last bit.

use core::fmt::Write;

use controller_core::settings::{Field, RawSettings};
use heapless::String;

/// Longest note a trace row carries: about twenty settings.
pub const LONGEST: usize = 512;

/// A settings event's note.
pub type Note = String<LONGEST>;

/// What differs, as `name=bits` words; `None` if it is too much for one row.
#[must_use]
pub fn changes(before: &RawSettings, after: &RawSettings) -> Option<Note> {
    let mut note = Note::new();
    for field in Field::all() {
        let bits = after.bits(field.key);
        if bits != before.bits(field.key) {
            let space = if note.is_empty() { "" } else { " " };
            write!(note, "{space}{}={bits}", field.name).ok()?;
        }
    }
    Some(note)
}

#[cfg(test)]
mod tests {
    use super::*;
    use controller_core::settings::Key;

    #[test]
    fn changes_are_named_with_their_bits_and_too_many_are_refused() {
        let before = RawSettings::DEFAULT;
        assert_eq!(changes(&before, &before).unwrap(), "");
        let mut after = before;
        for (name, bits) in [("target", 104_858), ("settling_time", 480_001)] {
            assert!(after.set_bits(Key::from_name(name).unwrap(), bits));
        }
        let note = changes(&before, &after).unwrap();
        let mut words: std::vec::Vec<_> = note.split(' ').collect();
        words.sort_unstable();
        assert_eq!(words, ["settling_time=480001", "target=104858"]);

        let mut all = before;
        for field in Field::all() {
            let other = if before.bits(field.key) == field.max {
                field.min
            } else {
                field.max
            };
            assert!(all.set_bits(field.key, other));
        }
        assert_eq!(changes(&before, &all), None);
    }
}
