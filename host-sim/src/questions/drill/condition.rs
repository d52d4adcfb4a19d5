//! Conditions on a step, in the words of the trace: `circulator = on and reason = frost`.
//!
//! Terms are joined by `and`; each is a column, a comparison and a value. `has` and `lacks` look for
//! a word in a column of words (alarms, events). Several values joined by `|` are alternatives.

use serde::{Deserialize, Deserializer, de};

use super::row::{Row, column, column_names};

/// All of these terms hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Condition {
    text: String,
    terms: Vec<Term>,
}

#[derive(Clone, Debug, PartialEq)]
struct Term {
    column: usize,
    comparison: Comparison,
}

#[derive(Clone, Debug, PartialEq)]
enum Comparison {
    OneOf(Vec<String>),
    NoneOf(Vec<String>),
    Has(Vec<String>),
    Lacks(Vec<String>),
    Below(f64),
    AtMost(f64),
    Above(f64),
    AtLeast(f64),
}

impl Condition {
    /// Reads a condition.
    ///
    /// # Errors
    /// What was found and what was expected, in words.
    pub fn parse(text: &str) -> Result<Self, String> {
        let terms = text.split(" and ").map(term).collect::<Result<_, _>>()?;
        Ok(Self {
            text: text.to_owned(),
            terms,
        })
    }

    /// As written.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Does it hold in this row? An empty cell is neither above nor below anything.
    #[must_use]
    pub fn holds(&self, row: &Row) -> bool {
        self.terms.iter().all(|term| term.holds(row))
    }
}

impl Term {
    fn holds(&self, row: &Row) -> bool {
        let cell = row.cell(self.column);
        let number = || cell.parse::<f64>().ok();
        let has = |words: &[String]| {
            cell.split(' ')
                .any(|found| words.iter().any(|w| w == found))
        };
        match &self.comparison {
            Comparison::OneOf(values) => values.iter().any(|value| value == cell),
            Comparison::NoneOf(values) => values.iter().all(|value| value != cell),
            Comparison::Has(wanted) => has(wanted),
            Comparison::Lacks(wanted) => !has(wanted),
            Comparison::Below(limit) => number().is_some_and(|n| n < *limit),
            Comparison::AtMost(limit) => number().is_some_and(|n| n <= *limit),
            Comparison::Above(limit) => number().is_some_and(|n| n > *limit),
            Comparison::AtLeast(limit) => number().is_some_and(|n| n >= *limit),
        }
    }
}

fn term(text: &str) -> Result<Term, String> {
    let shape = || {
        format!("found \"{text}\"; expected COLUMN = VALUE, with =, !=, <, <=, >, >=, has or lacks")
    };
    let mut words = text.split_whitespace();
    let (Some(name), Some(sign)) = (words.next(), words.next()) else {
        return Err(shape());
    };
    let value = words.collect::<Vec<_>>().join(" ");
    let column = column(name).ok_or_else(|| {
        format!(
            "found column \"{name}\"; expected one of the trace's: {}",
            column_names().collect::<Vec<_>>().join(", ")
        )
    })?;
    let number = || value.parse::<f64>().map_err(|_| shape());
    let values = || value.split('|').map(|v| cell_text(v.trim())).collect();
    let comparison = match sign {
        "=" => Comparison::OneOf(values()),
        "!=" => Comparison::NoneOf(values()),
        "has" if !value.is_empty() => Comparison::Has(values()),
        "lacks" if !value.is_empty() => Comparison::Lacks(values()),
        "<" => Comparison::Below(number()?),
        "<=" => Comparison::AtMost(number()?),
        ">" => Comparison::Above(number()?),
        ">=" => Comparison::AtLeast(number()?),
        _ => return Err(shape()),
    };
    Ok(Term { column, comparison })
}

/// A value as the trace writes it.
fn cell_text(value: &str) -> String {
    match value {
        "on" => "1",
        "off" => "0",
        "none" => "",
        other => other,
    }
    .to_owned()
}

impl<'de> Deserialize<'de> for Condition {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        Self::parse(&String::deserialize(from)?).map_err(de::Error::custom)
    }
}
