//! Columns and orders of dates as a caller names them.

use std::{error, fmt, str::FromStr};

use super::{Quantity, decimal::Decimal, form::TimeForm};

/// Names one header of a log as the column of one quantity, and may turn a measured quantity into a relay state.
///
/// Written `NAME=HEADER`, as in `supply_c=T flow`, `slab_f=Floor`, `time=Date/Time`; for the two relays also
/// `circulator=flow_m3h>0.05`: on above that number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ColumnMapping {
    pub(super) target: Target,
    pub(super) header: String,
    pub(super) limit: Option<Decimal>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Target {
    Time(TimeForm),
    /// The two columns of a time that is split.
    Date,
    TimeOfDay,
    Quantity {
        quantity: Quantity,
        is_fahrenheit: bool,
    },
}

impl Target {
    fn from_name(name: &str) -> Option<Target> {
        let is = |other: &str| name.eq_ignore_ascii_case(other);
        if is("time") {
            return Some(Target::Time(TimeForm::DateTime));
        }
        if is("time_s") {
            return Some(Target::Time(TimeForm::Seconds));
        }
        if is("date") {
            return Some(Target::Date);
        }
        if is("time_of_day") {
            return Some(Target::TimeOfDay);
        }
        Quantity::ALL.into_iter().find_map(|quantity| {
            let is_fahrenheit = quantity.fahrenheit_name().is_some_and(is);
            (is_fahrenheit || is(quantity.name())).then_some(Target::Quantity {
                quantity,
                is_fahrenheit,
            })
        })
    }
}

impl FromStr for ColumnMapping {
    type Err = MappingError;

    fn from_str(text: &str) -> Result<ColumnMapping, MappingError> {
        let form = || MappingError::Form {
            found: text.to_owned(),
        };
        let (name, header) = text.split_once('=').ok_or_else(form)?;
        let (name, header) = (name.trim(), header.trim());
        let target = Target::from_name(name).ok_or_else(|| MappingError::UnknownName {
            found: name.to_owned(),
        })?;
        let is_relay = matches!(
            target,
            Target::Quantity {
                quantity: Quantity::Circulator | Quantity::BoilerCall,
                ..
            }
        );
        // A header may itself hold a '>'; a limit is the number after the last one.
        let with_limit =
            header
                .rsplit_once('>')
                .filter(|_| is_relay)
                .and_then(|(header, limit)| {
                    Decimal::parse(limit.trim().as_bytes())
                        .map(|limit| (header.trim(), Some(limit)))
                });
        let (header, limit) = with_limit.unwrap_or((header, None));
        if header.is_empty() {
            return Err(form());
        }
        Ok(ColumnMapping {
            target,
            header: header.to_owned(),
            limit,
        })
    }
}

/// The columns of a long table, written `ENTITY=VALUE`: the header of what a row is of, and that of its value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LongTable {
    pub(super) entity: String,
    pub(super) value: String,
}

impl FromStr for LongTable {
    type Err = MappingError;

    fn from_str(text: &str) -> Result<LongTable, MappingError> {
        match text.split_once('=') {
            Some((entity, value)) if !entity.trim().is_empty() && !value.trim().is_empty() => {
                Ok(LongTable {
                    entity: entity.trim().to_owned(),
                    value: value.trim().to_owned(),
                })
            }
            _ => Err(MappingError::Long {
                found: text.to_owned(),
            }),
        }
    }
}

/// The order of day, month and year in dates such as 01/02/2017 and 01/02/17.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DateOrder {
    /// `dmy`: the first of February.
    DayFirst,
    /// `mdy`: the second of January.
    MonthFirst,
    /// `ymd`: for years of two digits, the 17th of February 2001.
    YearFirst,
}

impl FromStr for DateOrder {
    type Err = MappingError;

    fn from_str(text: &str) -> Result<DateOrder, MappingError> {
        match text {
            "dmy" => Ok(DateOrder::DayFirst),
            "mdy" => Ok(DateOrder::MonthFirst),
            "ymd" => Ok(DateOrder::YearFirst),
            _ => Err(MappingError::DateOrder {
                found: text.to_owned(),
            }),
        }
    }
}

/// An option about columns that cannot be used.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum MappingError {
    /// Not of the form `NAME=HEADER`.
    Form {
        /// The option.
        found: String,
    },
    /// A name that is no column of a log.
    UnknownName {
        /// The name.
        found: String,
    },
    /// Not of the form `ENTITY=VALUE`.
    Long {
        /// The option.
        found: String,
    },
    /// An order of day and month that is none.
    DateOrder {
        /// The option.
        found: String,
    },
}

impl error::Error for MappingError {}

impl fmt::Display for MappingError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            MappingError::Form { found } => {
                write!(
                    f,
                    "found \"{found}\"; expected NAME=HEADER, as in supply_c=Flow or circulator=flow_m3h>0.05"
                )
            }
            MappingError::UnknownName { found } => {
                write!(
                    f,
                    "found the name \"{found}\"; expected time, time_s, date, time_of_day"
                )?;
                for quantity in Quantity::ALL {
                    write!(f, ", {}", quantity.name())?;
                }
                f.write_str(" (temperatures in °F: supply_f and so on)")
            }
            MappingError::Long { found } => write!(
                f,
                "found \"{found}\"; expected two headers, that of what a row is of and that of its value, as in entity_id=state"
            ),
            MappingError::DateOrder { found } => write!(
                f,
                "found \"{found}\"; expected dmy (01/02/2017 is the first of February) mdy (the second of January) or, for years of two digits, ymd"
            ),
        }
    }
}
