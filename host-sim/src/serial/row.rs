//! A unit's row, taken apart by the names of its columns.

use controller_core::reason::{Cause, Reason, What};
use controller_core::sensor::Sensor;
use controller_core::time::Duration;

/// The columns that the unit has said.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Columns(Vec<String>);

/// What is said about wood.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wood {
    /// Have so much in the fire within so long.
    Light {
        /// Wood, kg.
        kg: u32,
        /// Time, min.
        within_min: u32,
    },
    /// No more wood.
    NoMore,
}

/// A row. What the unit did not know, and columns it does not have, are `None` or empty.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// The unit's own time, s.
    pub time_s: f64,
    /// Readings in the order of [`Sensor::ALL`], °C.
    pub readings_c: [Option<f64>; 4],
    /// The store's temperature as estimated, °C.
    pub store_c: Option<f64>,
    /// The circulator's relay.
    pub circulator: bool,
    /// The boiler's relay.
    pub boiler_call: bool,
    /// The bell's.
    pub bell: bool,
    /// Why; `None` if it is no word of this program's.
    pub reason: Option<Reason>,
    /// The reading and limit behind it.
    pub cause: Cause,
    /// What is said about wood.
    pub wood: Option<Wood>,
    /// Names of alarms and advice.
    pub alarms: Vec<String>,
}

impl Columns {
    /// The columns of this header.
    #[must_use]
    pub fn new(header: &str) -> Self {
        Self(header.split(',').map(str::to_owned).collect())
    }

    /// Takes a row apart; `None` if it has not these columns.
    #[must_use]
    pub fn row(&self, text: &str) -> Option<Row> {
        let cells: Vec<&str> = text.split(',').collect();
        if cells.len() < self.0.len() {
            return None;
        }
        let cell = |name: &str| {
            let at = self.0.iter().position(|column| column == name);
            at.map_or("", |at| cells[at])
        };
        let number = |name: &str| cell(name).parse().ok().filter(|v: &f64| v.is_finite());
        Some(Row {
            time_s: number("time_s")?,
            readings_c: Sensor::ALL.map(|sensor| number(&format!("{}_c", sensor.name()))),
            store_c: number("store_estimate_c"),
            circulator: cell("circulator") == "1",
            boiler_call: cell("boiler_call") == "1",
            bell: cell("alarm") == "1",
            reason: Reason::named(cell("reason")),
            cause: cause(cell("cause"), &number),
            wood: match cell("wood") {
                "light" => Some(Wood::Light {
                    kg: cell("wood_kg").parse().unwrap_or_default(),
                    within_min: cell("wood_within_min").parse().unwrap_or_default(),
                }),
                "no_more" => Some(Wood::NoMore),
                _ => None,
            },
            alarms: cell("alarms")
                .split_whitespace()
                .map(str::to_owned)
                .collect(),
        })
    }
}

fn cause(name: &str, number: &impl Fn(&str) -> Option<f64>) -> Cause {
    let bits = |name| number(name).map_or(0, |value| (value * 65_536.0).round() as i32);
    Cause {
        what: What::named(name).unwrap_or_default(),
        value: bits("cause_value"),
        limit: bits("cause_limit"),
        age: number("cause_age_s").map_or(Duration::ZERO, |s| Duration::from_secs(s as u32)),
    }
}

impl Row {
    /// A sensor's reading, °C.
    #[must_use]
    pub fn reading_c(&self, sensor: Sensor) -> Option<f64> {
        self.readings_c[sensor as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_is_told_by_the_names_of_its_columns() {
        let columns = Columns::new(
            "alarms,time_s,slab_c,supply_c,circulator,reason,cause,cause_value,cause_limit,cause_age_s,wood,wood_kg,wood_within_min",
        );
        let row = columns
            .row("no_flow slab_cold,71.5,1.875,,1,frost,slab_c,1.875,2,120,light,5,40")
            .expect("a row");
        assert_eq!(row.time_s, 71.5);
        assert_eq!(row.reading_c(Sensor::Slab), Some(1.875));
        assert_eq!(row.reading_c(Sensor::Supply), None);
        assert!(row.circulator && !row.boiler_call && !row.bell);
        assert_eq!(row.reason, Some(Reason::Frost));
        assert_eq!((row.cause.what, row.cause.value), (What::Slab, 122_880));
        assert_eq!((row.cause.limit, row.cause.age.as_secs()), (131_072, 120));
        let wood = Wood::Light {
            kg: 5,
            within_min: 40,
        };
        assert_eq!(row.wood, Some(wood));
        assert_eq!(row.alarms, ["no_flow", "slab_cold"]);
        assert_eq!(columns.row("no_flow,71.5"), None);
        assert_eq!(Columns::new("time_s").row("soon"), None);
    }
}
