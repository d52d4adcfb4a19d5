//! Which column of a log holds what: by header, or as the caller maps it.

use super::{
    LogErrorKind, Quantity,
    decimal::Decimal,
    error::quote,
    form::TimeForm,
    mapping::{ColumnMapping, Target},
    records::Fields,
};

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

/// Where a row's time stands: in one field, or a date in it and the time of day in another.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct TimeField {
    pub(super) field: usize,
    pub(super) time_of_day: Option<usize>,
}

impl TimeField {
    /// The row's time as one cell; `joined` is a place for two of them.
    #[inline]
    pub(super) fn cell<'a>(self, fields: Fields<'a>, joined: &'a mut Vec<u8>) -> &'a [u8] {
        let Some(time_of_day) = self.time_of_day else {
            return fields.get(self.field);
        };
        joined.clear();
        joined.extend_from_slice(fields.get(self.field).trim_ascii());
        joined.push(b' ');
        joined.extend_from_slice(fields.get(time_of_day).trim_ascii());
        joined
    }
}

/// A column that nothing is read from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnusedColumn {
    /// Its header.
    pub header: String,
    /// The known name it is most like, if it is like one that the log does not have.
    pub nearest: Option<&'static str>,
}

/// Where everything wanted stands in a row; fields count from 0.
#[derive(Clone, Debug)]
pub(super) struct Columns {
    pub(super) headers: Vec<String>,
    pub(super) time: TimeField,
    pub(super) time_form: TimeForm,
    /// A column of dates, beside a time column that may hold only the time of day.
    pub(super) date: Option<usize>,
    /// A column of dates and times beside one of seconds.
    pub(super) wall: Option<usize>,
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
        prefer_dates: bool,
    ) -> Result<Columns, LogErrorKind> {
        let finder = Finder {
            headers: &headers,
            mappings,
        };
        // Plain seconds cannot be misread and know no summer time: they come before a date and time.
        let (time, time_form) =
            finder
                .time(prefer_dates)?
                .ok_or_else(|| LogErrorKind::NoTimeColumn {
                    headers: headers.clone(),
                })?;
        let wall = match time_form {
            TimeForm::Seconds => finder.header("time")?.filter(|wall| *wall != time.field),
            _ => None,
        };
        let date = match (time_form, time.time_of_day) {
            (TimeForm::DateTime, None) => finder.header("date")?.filter(|date| *date != time.field),
            _ => None,
        };
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
            date,
            wall,
            readings,
            relays,
            extras,
            headers,
        })
    }

    /// A table of which so far only the time is known.
    pub(super) fn of_time(headers: Vec<String>, time: TimeField, time_form: TimeForm) -> Columns {
        Columns {
            headers,
            time,
            time_form,
            date: None,
            wall: None,
            readings: [None; 6],
            relays: [None; 2],
            extras: Vec::new(),
        }
    }

    /// The columns that nothing is read from, but those named `known`.
    pub(super) fn unused(&self, known: &[&str]) -> Vec<UnusedColumn> {
        let used = [Some(self.time.field), self.time.time_of_day, self.wall]
            .into_iter()
            .chain(self.readings.iter().map(|c| c.map(|c| c.field)))
            .chain(self.relays.iter().map(|c| c.map(|c| c.field)))
            .chain(self.extras.iter().copied())
            .flatten()
            .collect::<Vec<_>>();
        let missing: Vec<Quantity> = Quantity::ALL
            .into_iter()
            .filter(|quantity| !self.has(*quantity))
            .collect();
        self.headers
            .iter()
            .enumerate()
            .filter(|(field, header)| {
                !used.contains(field) && !known.contains(&header.as_str()) && !header.is_empty()
            })
            .map(|(_, header)| UnusedColumn {
                header: header.clone(),
                nearest: nearest(header, &missing),
            })
            .collect()
    }

    pub(super) fn has(&self, quantity: Quantity) -> bool {
        let index = quantity as usize;
        match index.checked_sub(self.readings.len()) {
            None => self.readings[index].is_some(),
            Some(relay) => self.relays[relay].is_some(),
        }
    }
}

/// The missing quantity's name that a header is most like.
fn nearest(header: &str, missing: &[Quantity]) -> Option<&'static str> {
    /// Below this two names have little in common. Estimate: tried on misspelt and on foreign headers.
    const ALIKE: f64 = 0.55;
    let lower = header.to_lowercase();
    let names = missing
        .iter()
        .flat_map(|quantity| [quantity.fahrenheit_name(), Some(quantity.name())])
        .flatten();
    names
        .map(|name| {
            // With or without its unit.
            let bare = name.trim_end_matches("_c").trim_end_matches("_f");
            let alike = |other| strsim::normalized_levenshtein(&lower, other);
            let begins = if lower.starts_with(bare) { 1.0 } else { 0.0 };
            (alike(name).max(alike(bare)).max(begins), alike(name), name)
        })
        .filter(|(alike, ..)| *alike >= ALIKE)
        .max_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)))
        .map(|(.., name)| name)
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

    fn time(&self, prefer_dates: bool) -> Result<Option<(TimeField, TimeForm)>, LogErrorKind> {
        let one = |field| TimeField {
            field,
            time_of_day: None,
        };
        if let Some((field, mapping)) = self.mapped(|target| matches!(target, Target::Time(_)))? {
            let Target::Time(form) = mapping.target else {
                return Ok(None);
            };
            return Ok(Some((one(field), form)));
        }
        let date = self.mapped(|target| target == Target::Date)?;
        let time_of_day = self.mapped(|target| target == Target::TimeOfDay)?;
        if let (Some((field, _)), Some((time_of_day, _))) = (date, time_of_day) {
            let time_of_day = Some(time_of_day);
            return Ok(Some((TimeField { field, time_of_day }, TimeForm::DateTime)));
        }
        if date.is_some() || time_of_day.is_some() {
            return Err(LogErrorKind::HalfTime);
        }
        let dates = self
            .header("time")?
            .map(|field| (one(field), TimeForm::DateTime));
        let seconds = self
            .header("time_s")?
            .map(|field| (one(field), TimeForm::Seconds));
        Ok(if prefer_dates {
            dates.or(seconds)
        } else {
            seconds.or(dates)
        })
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
