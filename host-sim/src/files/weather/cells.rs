//! Lines and cells of a weather file, and errors that name them.

use super::error::WeatherError;
use super::rows::Quantity;

/// Room for the cells of a data row: TMY3 rows have 71, EPW rows 35.
const USUAL_CELLS: usize = 72;

/// A line of the file cut into cells, with what is needed to name a bad one.
pub(super) struct Line<'a> {
    pub(super) file: &'a str,
    pub(super) number: usize,
    pub(super) cells: Vec<&'a [u8]>,
}

impl<'a> Line<'a> {
    /// Cuts at commas; both file forms write their data rows without quotes.
    pub(super) fn cut(file: &'a str, number: usize, bytes: &'a [u8]) -> Self {
        let mut cells = Vec::with_capacity(USUAL_CELLS);
        cells.extend(bytes.split(|&byte| byte == b',').map(<[u8]>::trim_ascii));
        Self {
            file,
            number,
            cells,
        }
    }

    /// An error about one cell; `column` counts from 0.
    pub(super) fn wrong(
        &self,
        column: usize,
        name: &str,
        expected: impl Into<String>,
        advice: &'static str,
    ) -> WeatherError {
        let found = match self.cells.get(column) {
            None => format!(
                "no such column, the line has {}",
                count(self.cells.len(), "cell")
            ),
            Some(cell) => shown(cell),
        };
        WeatherError::Malformed {
            file: self.file.to_owned(),
            line: self.number,
            column: format!("{} ({name})", column + 1),
            found,
            expected: expected.into(),
            advice,
        }
    }

    /// An error about the whole line.
    pub(super) fn wrong_line(
        &self,
        found: String,
        expected: String,
        advice: &'static str,
    ) -> WeatherError {
        WeatherError::Malformed {
            file: self.file.to_owned(),
            line: self.number,
            column: String::new(),
            found,
            expected,
            advice,
        }
    }

    /// A finite number in a cell, `None` if the cell is empty or lacking.
    fn number(&self, column: usize, name: &str) -> Result<Option<f64>, WeatherError> {
        let Some(cell) = self.cells.get(column).filter(|cell| !cell.is_empty()) else {
            return Ok(None);
        };
        parse_number(cell)
            .map(Some)
            .ok_or_else(|| self.wrong(column, name, "a number", REPAIR))
    }

    /// A finite number that must be there and lie in `low..=high`.
    pub(super) fn required(
        &self,
        column: usize,
        name: &str,
        low: f64,
        high: f64,
    ) -> Result<f64, WeatherError> {
        match self.number(column, name)? {
            Some(value) if (low..=high).contains(&value) => Ok(value),
            _ => Err(self.wrong(column, name, format!("a number {low} to {high}"), REPAIR)),
        }
    }

    /// A whole number that must be there and lie in `low..=high`.
    pub(super) fn whole(
        &self,
        column: usize,
        name: &str,
        low: i16,
        high: i16,
    ) -> Result<i16, WeatherError> {
        self.cells
            .get(column)
            .and_then(|cell| std::str::from_utf8(cell).ok()?.parse::<i16>().ok())
            .filter(|value| (low..=high).contains(value))
            .ok_or_else(|| {
                self.wrong(
                    column,
                    name,
                    format!("a whole number {low} to {high}"),
                    REPAIR,
                )
            })
    }

    /// A measured value: `None` if the cell is empty or holds the missing code, an error if it cannot be true.
    pub(super) fn measured(
        &self,
        column: usize,
        quantity: Quantity,
        scale: f64,
        is_missing: impl Fn(f64) -> bool,
    ) -> Result<Option<f64>, WeatherError> {
        let (name, low, high) = quantity.described();
        let Some(written) = self
            .number(column, name)?
            .filter(|&value| !is_missing(value))
        else {
            return Ok(None);
        };
        let value = written * scale;
        if !(low..=high).contains(&value) {
            let unit_note = if scale == 1.0 {
                String::new()
            } else {
                format!(" (the cell times {scale})")
            };
            return Err(self.wrong(
                column,
                name,
                format!("{low} to {high}{unit_note} or the missing code"),
                REPAIR,
            ));
        }
        Ok(Some(value))
    }
}

pub(super) const REPAIR: &str = "correct the cell or take the file anew from its source";

/// Text of a cell for a message: Latin-1 bytes survive, long text is cut.
pub(super) fn shown(bytes: &[u8]) -> String {
    const LONGEST: usize = 60;
    let text = decoded(bytes);
    let mut cut: String = text
        .chars()
        .filter(|c| !c.is_control())
        .take(LONGEST)
        .collect();
    if text.chars().count() > LONGEST {
        cut.push('…');
    }
    format!("\"{cut}\"")
}

/// UTF-8 if it is, else Latin-1.
pub(super) fn decoded(bytes: &[u8]) -> String {
    match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(_) => bytes.iter().map(|&byte| char::from(byte)).collect(),
    }
}

fn parse_number(cell: &[u8]) -> Option<f64> {
    std::str::from_utf8(cell)
        .ok()?
        .parse::<f64>()
        .ok()
        .filter(|value| value.is_finite())
}

pub(super) fn count(number: usize, noun: &str) -> String {
    if number == 1 {
        format!("1 {noun}")
    } else {
        format!("{number} {noun}s")
    }
}

/// The lines of a file with their numbers from 1, without line ends; blank lines are left out.
pub(super) fn lines(bytes: &[u8]) -> impl Iterator<Item = (usize, &[u8])> {
    bytes
        .split(|&byte| byte == b'\n')
        .map(|line| line.strip_suffix(b"\r").unwrap_or(line))
        .enumerate()
        .map(|(index, line)| (index + 1, line))
        .filter(|(_, line)| !line.trim_ascii().is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn latin_1_text_survives() {
        assert_eq!(decoded(b"Z\xfcrich"), "Zürich");
        assert_eq!(decoded("Zürich".as_bytes()), "Zürich");
    }

    #[test]
    fn long_and_control_text_is_made_fit_to_print() {
        assert_eq!(shown(b"a\x07b"), "\"ab\"");
        assert_eq!(shown(&[b'x'; 70]).chars().count(), 63);
    }
}
