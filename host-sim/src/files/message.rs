//! Text on its way to a screen: what files, names and errors bring along cannot steer the terminal.

use std::borrow::Cow;
use std::fmt::Write as _;

/// The text with every character that could move a cursor, change colours or turn the direction of reading written out as
/// `\u{1b}`; line breaks stay. Every text this program prints passes here.
#[must_use]
pub fn plain(text: &str) -> Cow<'_, str> {
    if !text.contains(steers) {
        return Cow::Borrowed(text);
    }
    Cow::Owned(text.chars().fold(String::new(), |mut plain, character| {
        if steers(character) {
            let _ = write!(plain, "{}", character.escape_unicode());
        } else {
            plain.push(character);
        }
        plain
    }))
}

/// Control characters, and those that turn the direction of reading (Unicode Standard Annex 9, explicit formatting characters).
fn steers(character: char) -> bool {
    match character {
        '\n' => false,
        '\u{200e}' | '\u{200f}' | '\u{061c}' => true,
        '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => true,
        character => character.is_control(),
    }
}

/// An error with its causes, each said once: many a message names its cause itself.
#[must_use]
pub fn chain(error: &anyhow::Error) -> String {
    error.chain().fold(String::new(), |mut text, cause| {
        let cause = cause.to_string();
        if !text.contains(&cause) {
            if !text.is_empty() {
                text.push_str(": ");
            }
            text.push_str(&cause);
        }
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_that_steers_a_terminal_passes() {
        let hostile = "a\u{1b}[31mred\u{7}\u{9b}2J\rback\tand \u{202e}turned\nnext";
        let shown = plain(hostile);
        assert_eq!(
            shown,
            "a\\u{1b}[31mred\\u{7}\\u{9b}2J\\u{d}back\\u{9}and \\u{202e}turned\nnext"
        );
        assert!(matches!(plain("7.0 °C, ±2"), Cow::Borrowed(_)));
    }

    #[test]
    fn a_cause_is_said_once() {
        let cause = std::io::Error::other("no such thing");
        let error = anyhow::Error::new(cause).context("x.toml: cannot be read: no such thing");
        assert_eq!(chain(&error), "x.toml: cannot be read: no such thing");
        let other = anyhow::Error::msg("found 3").context("--vary");
        assert_eq!(chain(&other), "--vary: found 3");
    }
}
