//! Why the unit did nothing: a stable word for programs, a sentence for people.

use controller_core::sensor::Sensor;

use crate::line::LineFault;
use crate::value::ValueFault;

/// Why nothing was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// The line itself was bad.
    Line(LineFault),
    /// Only lines with a checksum may change anything.
    NoChecksum,
    /// No such request.
    Unknown,
    /// Words are missing or too many.
    Words,
    /// No such setting.
    NoSuchSetting,
    /// Bad value.
    Value(ValueFault),
    /// Not a chip's identity.
    BadIdentity,
    /// This chip or input has another name already.
    AlreadyBound(Sensor),
    /// Something else is under way.
    Busy,
    /// Nothing asked.
    NothingAsked,
    /// No draft to check or apply.
    NoDraft,
    /// Settings were stored before, or a draft stands.
    NotUnset,
    /// The draft breaks ranges or relations, listed before.
    BadDraft,
    /// More changes than one trace row can carry.
    TooMuch,
    /// Could not be written to flash.
    NotStored,
}

impl Refusal {
    /// The word a program knows it by: it stays when the sentence for a person becomes a better one.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Line(LineFault::TooLong) => "line_too_long",
            Self::Line(LineFault::NotText) => "not_text",
            Self::Line(LineFault::WrongChecksum) => "wrong_checksum",
            Self::NoChecksum => "no_checksum",
            Self::Unknown => "unknown_request",
            Self::Words => "wrong_words",
            Self::NoSuchSetting => "unknown_setting",
            Self::Value(ValueFault::NotANumber) => "not_a_number",
            Self::Value(ValueFault::UnknownWord) => "unknown_word",
            Self::Value(ValueFault::UnknownUnit) => "unknown_unit",
            Self::Value(ValueFault::OutOfRange) => "out_of_range",
            Self::BadIdentity => "bad_identity",
            Self::AlreadyBound(_) => "already_bound",
            Self::Busy => "busy",
            Self::NothingAsked => "nothing_asked",
            Self::NoDraft => "no_draft",
            Self::NotUnset => "not_unset",
            Self::BadDraft => "bad_draft",
            Self::TooMuch => "too_much",
            Self::NotStored => "not_stored",
        }
    }

    /// What to do about it.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Line(LineFault::TooLong) => "line too long; at most 96 characters",
            Self::Line(LineFault::NotText) => "line holds bytes that are no text; send it again",
            Self::Line(LineFault::WrongChecksum) => "checksum does not match; send it again",
            Self::NoChecksum => "what changes anything needs its checksum; send",
            Self::Unknown => "no such request; try help",
            Self::Words => "words missing or too many; try help",
            Self::NoSuchSetting => "no such setting; try settings",
            Self::Value(ValueFault::NotANumber) => "not a number with at most three decimals",
            Self::Value(ValueFault::UnknownWord) => "not a word this setting has",
            Self::Value(ValueFault::UnknownUnit) => "not a unit this setting has",
            Self::Value(ValueFault::OutOfRange) => "out of range; ask show for the range",
            Self::BadIdentity => {
                "an identity is 16 hexadecimal digits with a right checksum; try sensors"
            }
            Self::AlreadyBound(_) => "already named; unbind or exchange it first",
            Self::Busy => "something else is under way; wait or say stop",
            Self::NothingAsked => "nothing was asked",
            Self::NoDraft => "no draft; use set first",
            Self::NotUnset => {
                "settings were stored before, or a draft stands; use apply or discard"
            }
            Self::BadDraft => "draft breaks the rules listed above; nothing adopted",
            Self::TooMuch => "too many changes at once; apply fewer at a time",
            Self::NotStored => "could not be written to flash; nothing adopted",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_refusal_has_a_word_of_its_own() {
        let all = [
            Refusal::Line(LineFault::TooLong),
            Refusal::Line(LineFault::NotText),
            Refusal::Line(LineFault::WrongChecksum),
            Refusal::NoChecksum,
            Refusal::Unknown,
            Refusal::Words,
            Refusal::NoSuchSetting,
            Refusal::Value(ValueFault::NotANumber),
            Refusal::Value(ValueFault::UnknownWord),
            Refusal::Value(ValueFault::UnknownUnit),
            Refusal::Value(ValueFault::OutOfRange),
            Refusal::BadIdentity,
            Refusal::AlreadyBound(Sensor::Slab),
            Refusal::Busy,
            Refusal::NothingAsked,
            Refusal::NoDraft,
            Refusal::NotUnset,
            Refusal::BadDraft,
            Refusal::TooMuch,
            Refusal::NotStored,
        ];
        let words: std::collections::BTreeSet<_> =
            all.iter().map(|refusal| refusal.word()).collect();
        assert_eq!(words.len(), all.len());
        let plain = |word: &&str| word.bytes().all(|b| b.is_ascii_lowercase() || b == b'_');
        assert!(words.iter().all(plain), "{words:?}");
    }
}
