//! Why a text is no value, in words.

use std::{error, fmt};

use super::{Description, Dimension};

/// Why a text is no value of a dimension.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct QuantityError {
    pub(super) found: String,
    pub(super) dimension: Dimension,
    pub(super) fault: QuantityFault,
}

impl QuantityError {
    /// What is wrong.
    pub fn fault(&self) -> &QuantityFault {
        &self.fault
    }
}

/// What is wrong with a text that should be a value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum QuantityFault {
    /// It does not begin with a number.
    NoNumber,
    /// Its number has a decimal comma.
    DecimalComma,
    /// It has no unit.
    NoUnit,
    /// Its unit is not known.
    UnknownUnit(String),
    /// Its unit measures something else.
    OtherDimension(Dimension),
    /// It is beyond all numbers.
    NotFinite,
}

impl error::Error for QuantityError {}

impl QuantityError {
    /// What was found and what is wrong with it, in words.
    #[must_use]
    pub fn found(&self) -> String {
        let wrong = match &self.fault {
            QuantityFault::NoNumber => ", which does not begin with a number".to_owned(),
            QuantityFault::DecimalComma => {
                ", with a comma in the number; write a decimal point".to_owned()
            }
            QuantityFault::NoUnit => ", a number without a unit".to_owned(),
            QuantityFault::UnknownUnit(unit) => format!(", with the unknown unit \"{unit}\""),
            QuantityFault::OtherDimension(other) => format!(", {}", other.description().name),
            QuantityFault::NotFinite => ", larger than any number".to_owned(),
        };
        format!("\"{}\"{wrong}", self.found)
    }
}

impl fmt::Display for QuantityError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Description { name, example, .. } = self.dimension.description();
        write!(
            f,
            "found {}; expected {name} with its unit, such as {example}",
            self.found()
        )
    }
}
