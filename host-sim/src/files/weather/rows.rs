//! Rows of a weather file: the quantities taken from them, their stamps, and their order.
//!
//! Rows are never sorted: typical years are put together from months of different years.

use super::cells::{REPAIR, count};
use super::error::WeatherError;

/// The measured quantities taken from a file; the discriminant is the index into [`RawRow::values`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Quantity {
    DryBulb,
    DewPoint,
    Pressure,
    Infrared,
    GlobalHorizontal,
    DirectNormal,
    DiffuseHorizontal,
    Wind,
    OpaqueCover,
    SnowDepth,
}

/// Number of quantities.
pub(super) const QUANTITIES: usize = 10;

impl Quantity {
    /// Name with unit, and the range outside which a value cannot be true on this earth.
    ///
    /// Ranges: EnergyPlus "Auxiliary Programs", EPW data dictionary; radiation and pressure from common practice.
    pub(super) const fn described(self) -> (&'static str, f64, f64) {
        match self {
            Self::DryBulb => ("dry bulb °C", -90.0, 70.0),
            Self::DewPoint => ("dew point °C", -90.0, 70.0),
            Self::Pressure => ("pressure Pa", 31_000.0, 120_000.0),
            Self::Infrared => ("horizontal infrared W/m²", 0.0, 700.0),
            Self::GlobalHorizontal => ("global horizontal Wh/m²", 0.0, 1500.0),
            Self::DirectNormal => ("direct normal Wh/m²", 0.0, 1500.0),
            Self::DiffuseHorizontal => ("diffuse horizontal Wh/m²", 0.0, 1500.0),
            Self::Wind => ("wind speed m/s", 0.0, 100.0),
            Self::OpaqueCover => ("opaque sky cover tenths", 0.0, 10.0),
            Self::SnowDepth => ("snow depth cm", 0.0, 2000.0),
        }
    }
}

/// The stamp of a row: the hour that ends here, in local standard time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stamp {
    pub(super) year: i16,
    pub(super) month: u8,
    pub(super) day: u8,
    pub(super) hour: u8,
}

/// One line of the file.
#[derive(Debug, Clone, Copy)]
pub(super) struct RawRow {
    pub(super) line: usize,
    pub(super) stamp: Stamp,
    pub(super) values: [Option<f64>; QUANTITIES],
}

const ORDER: &str = "put back the missing or doubled row, or take the file anew; rows must stay in the source's order";

/// Days in a month of the Gregorian calendar; February has 29 so that leap rows pass.
const DAYS_IN_MONTH: [u8; 12] = [31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];

impl Stamp {
    /// Whether the day exists.
    pub(super) fn has_valid_day(&self) -> bool {
        self.day >= 1 && self.day <= DAYS_IN_MONTH[usize::from(self.month - 1)]
    }

    /// Whether `next` is the hour after this one. The year may change only where the month does.
    fn is_followed_by(&self, next: &Self) -> bool {
        if self.hour < 24 {
            return *next
                == Self {
                    hour: self.hour + 1,
                    ..*self
                };
        }
        let next_day = Self {
            day: self.day + 1,
            hour: 1,
            ..*self
        };
        if next_day.has_valid_day() && *next == next_day {
            return true;
        }
        let month_is_over = !next_day.has_valid_day() || (self.month == 2 && self.day == 28);
        month_is_over && next.month == self.month % 12 + 1 && next.day == 1 && next.hour == 1
    }

    /// The hour after this one, as a message names it.
    fn next_named(&self) -> String {
        let after = if self.hour < 24 {
            Self {
                hour: self.hour + 1,
                ..*self
            }
        } else {
            let next_day = Self {
                day: self.day + 1,
                hour: 1,
                ..*self
            };
            if next_day.has_valid_day() {
                next_day
            } else {
                return format!(
                    "month {}, day 1, hour 1 (any year)",
                    next_day.month % 12 + 1
                );
            }
        };
        after.named()
    }

    fn named(&self) -> String {
        format!(
            "{}-{:02}-{:02} hour {}",
            self.year, self.month, self.day, self.hour
        )
    }
}

/// Every row follows the one before by an hour, and the last is followed by the first.
pub(super) fn check_order(file: &str, rows: &[RawRow]) -> Result<(), WeatherError> {
    let out_of_order = |row: &RawRow, before: &RawRow| WeatherError::Malformed {
        file: file.to_owned(),
        line: row.line,
        column: "date and hour".to_owned(),
        found: row.stamp.named(),
        expected: before.stamp.next_named(),
        advice: ORDER,
    };
    for pair in rows.windows(2) {
        if !pair[0].stamp.is_followed_by(&pair[1].stamp) {
            return Err(out_of_order(&pair[1], &pair[0]));
        }
    }
    let (Some(first), Some(last)) = (rows.first(), rows.last()) else {
        return Err(WeatherError::Malformed {
            file: file.to_owned(),
            line: 1,
            column: String::new(),
            found: "a header without a single data row".to_owned(),
            expected: "8760 or 8784 hourly rows".to_owned(),
            advice: REPAIR,
        });
    };
    let wraps = Stamp {
        year: last.stamp.year,
        ..first.stamp
    };
    let whole = matches!(rows.len(), 8760 | 8784)
        && (last.stamp.is_followed_by(&first.stamp) || last.stamp.is_followed_by(&wraps));
    if whole {
        return Ok(());
    }
    Err(WeatherError::Malformed {
        file: file.to_owned(),
        line: last.line,
        column: String::new(),
        found: format!(
            "the last of {}, {} (the first is {})",
            count(rows.len(), "data row"),
            last.stamp.named(),
            first.stamp.named()
        ),
        expected: "exactly one whole year: 8760 hourly rows, or 8784 with 29 February".to_owned(),
        advice: "the file ends early or runs on; take it anew from its source",
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stamp(year: i16, month: u8, day: u8, hour: u8) -> Stamp {
        Stamp {
            year,
            month,
            day,
            hour,
        }
    }

    #[test]
    fn hours_follow_each_other_and_years_change_only_with_months() {
        assert!(stamp(1990, 1, 1, 1).is_followed_by(&stamp(1990, 1, 1, 2)));
        assert!(stamp(1990, 1, 1, 24).is_followed_by(&stamp(1990, 1, 2, 1)));
        assert!(stamp(1990, 1, 31, 24).is_followed_by(&stamp(1977, 2, 1, 1)));
        assert!(stamp(1990, 12, 31, 24).is_followed_by(&stamp(2004, 1, 1, 1)));
        assert!(stamp(1990, 2, 28, 24).is_followed_by(&stamp(1991, 3, 1, 1)));
        assert!(stamp(1990, 2, 28, 24).is_followed_by(&stamp(1990, 2, 29, 1)));
        assert!(stamp(1990, 2, 29, 24).is_followed_by(&stamp(1991, 3, 1, 1)));
        assert!(!stamp(1990, 1, 1, 24).is_followed_by(&stamp(1991, 1, 2, 1)));
        assert!(!stamp(1990, 1, 1, 5).is_followed_by(&stamp(1990, 1, 1, 7)));
        assert!(!stamp(1990, 1, 1, 5).is_followed_by(&stamp(1990, 1, 1, 5)));
        assert!(!stamp(1990, 1, 30, 24).is_followed_by(&stamp(1990, 2, 1, 1)));
    }
}
