//! One row of a log: times, readings and relay states as plain values.

use super::decimal::Decimal;

/// What a log says about a temperature.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Cell {
    /// Nothing: an empty cell, `NaN`, `null`, or no such column.
    Missing,
    /// A temperature in 1/128 °C, rounded from the text exactly, halves away from zero.
    Reading(i16),
    /// A number beyond what 1/128 K in 16 bits holds (about ±256 °C).
    OutOfRange,
}

/// One row. Absent columns read as missing.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct LogRow {
    /// Milliseconds since the log's first row.
    pub time_ms: i64,
    /// Supply: the water that leaves the store for the slab.
    pub supply: Cell,
    /// Return: the water that comes back from the slab.
    pub return_: Cell,
    /// Slab.
    pub slab: Cell,
    /// Outdoor air.
    pub outdoor: Cell,
    /// House air.
    pub air: Cell,
    /// Store.
    pub store: Cell,
    /// Whether the circulator ran, where the log tells.
    pub circulator: Option<bool>,
    /// Whether backup heat was called, where the log tells.
    pub boiler_call: Option<bool>,
}

impl LogRow {
    /// The six temperatures in the order of [`Quantity::ALL`].
    pub fn readings(&self) -> [Cell; 6] {
        [
            self.supply,
            self.return_,
            self.slab,
            self.outdoor,
            self.air,
            self.store,
        ]
    }
}

/// What a log can hold beside the time.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Quantity {
    /// Supply temperature.
    Supply,
    /// Return temperature.
    Return,
    /// Slab temperature.
    Slab,
    /// Outdoor temperature.
    Outdoor,
    /// House air temperature.
    Air,
    /// Store temperature.
    Store,
    /// Circulator state.
    Circulator,
    /// Boiler call state.
    BoilerCall,
}

impl Quantity {
    /// All, in the order of their discriminants.
    pub const ALL: [Quantity; 8] = [
        Quantity::Supply,
        Quantity::Return,
        Quantity::Slab,
        Quantity::Outdoor,
        Quantity::Air,
        Quantity::Store,
        Quantity::Circulator,
        Quantity::BoilerCall,
    ];

    /// The column's header, of a temperature the one in °C.
    pub fn name(self) -> &'static str {
        match self {
            Quantity::Supply => "supply_c",
            Quantity::Return => "return_c",
            Quantity::Slab => "slab_c",
            Quantity::Outdoor => "outdoor_c",
            Quantity::Air => "air_c",
            Quantity::Store => "store_c",
            Quantity::Circulator => "circulator",
            Quantity::BoilerCall => "boiler_call",
        }
    }

    /// The header of a temperature in °F.
    pub(super) fn fahrenheit_name(self) -> Option<&'static str> {
        match self {
            Quantity::Supply => Some("supply_f"),
            Quantity::Return => Some("return_f"),
            Quantity::Slab => Some("slab_f"),
            Quantity::Outdoor => Some("outdoor_f"),
            Quantity::Air => Some("air_f"),
            Quantity::Store => Some("store_f"),
            Quantity::Circulator | Quantity::BoilerCall => None,
        }
    }
}

/// Reads a temperature; None when the text is no number.
#[inline]
pub(super) fn reading(text: &[u8], is_fahrenheit: bool) -> Option<Cell> {
    match Decimal::parse(text) {
        Some(value) => Some(if is_fahrenheit {
            value.fahrenheit()
        } else {
            value.celsius()
        }),
        None => unusual(text, Cell::Missing, |text| reading(text, is_fahrenheit)),
    }
}

/// Reads a relay state; None when the text is none.
#[inline]
pub(super) fn relay(text: &[u8]) -> Option<Option<bool>> {
    match text {
        b"1" => Some(Some(true)),
        b"0" => Some(Some(false)),
        _ => relay_word(text),
    }
}

#[cold]
fn relay_word(text: &[u8]) -> Option<Option<bool>> {
    let is = |word: &str| text.eq_ignore_ascii_case(word.as_bytes());
    if is("true") || is("on") {
        return Some(Some(true));
    }
    if is("false") || is("off") {
        return Some(Some(false));
    }
    // A table with missing cells prints its flags as 1.0 and 0.0.
    match Decimal::parse(text) {
        Some(Decimal::ONE) => Some(Some(true)),
        Some(Decimal::ZERO) => Some(Some(false)),
        Some(_) => None,
        None => unusual(text, None, relay),
    }
}

/// Reads a measured quantity as a relay state: on above the limit; None when the text is no number.
#[inline]
pub(super) fn above(text: &[u8], limit: Decimal) -> Option<Option<bool>> {
    match Decimal::parse(text) {
        Some(value) => Some(Some(value > limit)),
        None => unusual(text, None, |text| above(text, limit)),
    }
}

/// A cell that is missing, or needs its spaces trimmed; None when it is neither.
#[cold]
fn unusual<T>(text: &[u8], missing: T, read: impl Fn(&[u8]) -> Option<T>) -> Option<T> {
    let trimmed = text.trim_ascii();
    let is = |word: &str| trimmed.eq_ignore_ascii_case(word.as_bytes());
    if trimmed.is_empty() || is("nan") || is("null") {
        Some(missing)
    } else if trimmed.len() < text.len() {
        read(trimmed)
    } else {
        None
    }
}
