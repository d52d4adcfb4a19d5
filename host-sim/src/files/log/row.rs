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

/// The last value of every column, for logs that write a value only when it changes.
#[derive(Clone, Debug, Default)]
pub(super) struct Held {
    readings: [Option<(Cell, i64)>; 6],
    relays: [Option<(bool, i64)>; 2],
}

impl Held {
    /// Fills a row's empty cells with values no older than `holds_ms`, and keeps what it brings.
    pub(super) fn fill(&mut self, row: &mut LogRow, holds_ms: i64) {
        let time_ms = row.time_ms;
        let is_young = |then_ms: i64| time_ms - then_ms <= holds_ms;
        let cells = [
            &mut row.supply,
            &mut row.return_,
            &mut row.slab,
            &mut row.outdoor,
            &mut row.air,
            &mut row.store,
        ];
        for (cell, held) in cells.into_iter().zip(&mut self.readings) {
            match (*cell, *held) {
                (Cell::Missing, Some((value, then_ms))) if is_young(then_ms) => *cell = value,
                (Cell::Missing, _) => {}
                (value, _) => *held = Some((value, time_ms)),
            }
        }
        let relays = [&mut row.circulator, &mut row.boiler_call];
        for (relay, held) in relays.into_iter().zip(&mut self.relays) {
            match (*relay, *held) {
                (None, Some((on, then_ms))) if is_young(then_ms) => *relay = Some(on),
                (None, _) => {}
                (Some(on), _) => *held = Some((on, time_ms)),
            }
        }
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
    if is("true") || is("on") || is("yes") {
        return Some(Some(true));
    }
    if is("false") || is("off") || is("no") {
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

/// One to three digits, a comma and three more: with a decimal comma less than a thousand, else more.
#[cold]
pub(super) fn may_be_thousands(text: &[u8]) -> bool {
    let text = text.trim_ascii();
    let digits = text.strip_prefix(b"-").unwrap_or(text);
    digits
        .iter()
        .position(|byte| *byte == b',')
        .is_some_and(|comma| {
            let whole = &digits[..comma];
            let rest = &digits[comma + 1..];
            (1..=3).contains(&whole.len())
                && whole[0] != b'0'
                && rest.len() >= 3
                && !rest.get(3).is_some_and(u8::is_ascii_digit)
                && whole.iter().chain(&rest[..3]).all(u8::is_ascii_digit)
        })
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
