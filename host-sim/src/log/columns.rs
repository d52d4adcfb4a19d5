//! Which column of a log holds what: by header, or as the caller maps it.

use std::{error, fmt, str::FromStr};

use super::{LogErrorKind, Quantity, decimal::Decimal, error::quote, time::TimeForm};

/// Names one header of a log as the column of one quantity, and may turn a measured quantity into a relay state.
///
/// Written `NAME=HEADER`, as in `supply_c=T flow`, `slab_f=Floor`, `time=Date/Time`; for the two relays also
/// `circulator=flow_m3h>0.05`: on above that number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ColumnMapping {
    target: Target,
    header: String,
    limit: Option<Decimal>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Target {
    Time(TimeForm),
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

/// The order of day and month in dates such as 01/02/2017.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DateOrder {
    /// `dmy`: the first of February.
    DayFirst,
    /// `mdy`: the second of January.
    MonthFirst,
}

impl FromStr for DateOrder {
    type Err = MappingError;

    fn from_str(text: &str) -> Result<DateOrder, MappingError> {
        match text {
            "dmy" => Ok(DateOrder::DayFirst),
            "mdy" => Ok(DateOrder::MonthFirst),
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
                write!(f, "found the name \"{found}\"; expected time, time_s")?;
                for quantity in Quantity::ALL {
                    write!(f, ", {}", quantity.name())?;
                }
                f.write_str(" (temperatures in °F: supply_f and so on)")
            }
            MappingError::DateOrder { found } => write!(
                f,
                "found \"{found}\"; expected dmy (01/02/2017 is the first of February) or mdy (the second of January)"
            ),
        }
    }
}

/// A temperature's column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct ReadingColumn {
    pub(super) field: usize,
    pub(super) is_fahrenheit: bool,
}

/// A relay state's column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct RelayColumn {
    pub(super) field: usize,
    pub(super) limit: Option<Decimal>,
}

/// Where everything wanted stands in a row; fields count from 0.
#[derive(Clone, Debug)]
pub(super) struct Columns {
    pub(super) headers: Vec<String>,
    pub(super) time: usize,
    pub(super) time_form: TimeForm,
    /// In the order of [`Quantity::ALL`].
    pub(super) readings: [Option<ReadingColumn>; 6],
    /// Circulator, boiler call.
    pub(super) relays: [Option<RelayColumn>; 2],
    pub(super) extras: Vec<Option<usize>>,
}

impl Columns {
    pub(super) fn resolve(
        headers: Vec<String>,
        mappings: &[ColumnMapping],
        extras: &[String],
    ) -> Result<Columns, LogErrorKind> {
        let finder = Finder {
            headers: &headers,
            mappings,
        };
        // Plain seconds cannot be misread and know no summer time: they come before a date and time.
        let (time, time_form) = finder.time()?.ok_or_else(|| LogErrorKind::NoTimeColumn {
            headers: headers.clone(),
        })?;
        let mut readings = [None; 6];
        let mut relays = [None; 2];
        for (index, quantity) in Quantity::ALL.into_iter().enumerate() {
            let Some(found) = finder.quantity(quantity)? else {
                continue;
            };
            match index.checked_sub(readings.len()) {
                None => {
                    readings[index] = Some(ReadingColumn {
                        field: found.field,
                        is_fahrenheit: found.is_fahrenheit,
                    })
                }
                Some(relay) => {
                    relays[relay] = Some(RelayColumn {
                        field: found.field,
                        limit: found.limit,
                    })
                }
            }
        }
        if readings[..4].iter().all(Option::is_none) {
            return Err(LogErrorKind::NoReadingColumn { headers });
        }
        let extras = extras
            .iter()
            .map(|name| finder.header(name))
            .collect::<Result<_, _>>()?;
        Ok(Columns {
            time,
            time_form,
            readings,
            relays,
            extras,
            headers,
        })
    }
}

struct Found {
    field: usize,
    is_fahrenheit: bool,
    limit: Option<Decimal>,
}

struct Finder<'a> {
    headers: &'a [String],
    mappings: &'a [ColumnMapping],
}

impl Finder<'_> {
    /// The one field of that header, whatever its case; as written where cases differ.
    fn header(&self, name: &str) -> Result<Option<usize>, LogErrorKind> {
        let lower = name.to_lowercase();
        let exact = self.fields(|header| header == name);
        let fields = if exact.is_empty() {
            self.fields(|header| header.to_lowercase() == lower)
        } else {
            exact
        };
        match fields[..] {
            [] => Ok(None),
            [field] => Ok(Some(field)),
            [first, second, ..] => Err(repeated(name, first, second)),
        }
    }

    fn fields(&self, is_wanted: impl Fn(&str) -> bool) -> Vec<usize> {
        self.headers
            .iter()
            .enumerate()
            .filter(|(_, header)| is_wanted(header))
            .map(|(field, _)| field)
            .collect()
    }

    /// What the caller maps to a target: its field and the mapping.
    fn mapped(
        &self,
        is_wanted: impl Fn(Target) -> bool,
    ) -> Result<Option<(usize, &ColumnMapping)>, LogErrorKind> {
        let mut found: Option<(usize, &ColumnMapping)> = None;
        for mapping in self
            .mappings
            .iter()
            .filter(|mapping| is_wanted(mapping.target))
        {
            let field =
                self.header(&mapping.header)?
                    .ok_or_else(|| LogErrorKind::UnknownHeader {
                        header: quote(mapping.header.as_bytes()),
                        headers: self.headers.to_vec(),
                    })?;
            if let Some((first, other)) = found {
                return Err(repeated(
                    &format!("{} and {} as one column", other.header, mapping.header),
                    first,
                    field,
                ));
            }
            found = Some((field, mapping));
        }
        Ok(found)
    }

    fn time(&self) -> Result<Option<(usize, TimeForm)>, LogErrorKind> {
        if let Some((field, mapping)) = self.mapped(|target| matches!(target, Target::Time(_)))? {
            let Target::Time(form) = mapping.target else {
                return Ok(None);
            };
            return Ok(Some((field, form)));
        }
        if let Some(field) = self.header("time_s")? {
            return Ok(Some((field, TimeForm::Seconds)));
        }
        Ok(self
            .header("time")?
            .map(|field| (field, TimeForm::DateTime)))
    }

    fn quantity(&self, wanted: Quantity) -> Result<Option<Found>, LogErrorKind> {
        let is_wanted =
            |target| matches!(target, Target::Quantity { quantity, .. } if quantity == wanted);
        if let Some((field, mapping)) = self.mapped(is_wanted)? {
            let is_fahrenheit = matches!(
                mapping.target,
                Target::Quantity {
                    is_fahrenheit: true,
                    ..
                }
            );
            return Ok(Some(Found {
                field,
                is_fahrenheit,
                limit: mapping.limit,
            }));
        }
        let celsius = self.header(wanted.name())?;
        let fahrenheit = wanted
            .fahrenheit_name()
            .map_or(Ok(None), |name| self.header(name))?;
        match (celsius, fahrenheit) {
            (Some(first), Some(second)) => Err(repeated(
                wanted.name().trim_end_matches("_c"),
                first,
                second,
            )),
            (Some(field), None) => Ok(Some(Found {
                field,
                is_fahrenheit: false,
                limit: None,
            })),
            (None, Some(field)) => Ok(Some(Found {
                field,
                is_fahrenheit: true,
                limit: None,
            })),
            (None, None) => Ok(None),
        }
    }
}

fn repeated(name: &str, first: usize, second: usize) -> LogErrorKind {
    LogErrorKind::RepeatedColumn {
        name: name.to_owned(),
        first: first + 1,
        second: second + 1,
    }
}
