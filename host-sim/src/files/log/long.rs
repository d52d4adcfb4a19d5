//! Long tables: one row a value, with the name of what it is of, made into a log with a column for each.
//!
//! Such tables are sorted by time or one entity after the other; both are read, wholly, and sorted by time. Values with one time
//! are one row. A value stands until the next of its entity: unless said otherwise for one and a half of the longest usual
//! interval of any entity, since a row has only what came then.

use std::collections::BTreeSet;

use super::columns::{Columns, TimeField};
use super::error::{ErrorColumn, LogError, LogErrorKind, list, quote};
use super::form::TimeForm;
use super::head::Head;
use super::input::{Input, Rows};
use super::mapping::{LongTable, Target};
use super::{ReaderOptions, text};

/// Entities named in a message.
const MOST_NAMED: usize = 200;

/// A long table made wide.
pub(super) struct Wide {
    /// As a log in memory.
    pub(super) bytes: Vec<u8>,
    /// Line of the table that each row begins with.
    pub(super) lines: Vec<u64>,
    /// How long a value stands, ms.
    pub(super) holds_ms: Option<i64>,
    /// Where the values stand in a row of the table, from 1.
    pub(super) value_field: usize,
    /// What was made of it, in words.
    pub(super) told: String,
}

/// A value of the table.
struct Value {
    time_ms: i64,
    entity: usize,
    line: u64,
    time: Vec<u8>,
    value: Vec<u8>,
}

/// Reads the whole table.
pub(super) fn wide(
    name: &str,
    input: Input,
    table: &LongTable,
    options: &ReaderOptions,
) -> Result<Wide, LogError> {
    let refuse = |line, kind| LogError::new(name, line, None, kind);
    let head =
        Head::read(&input.start, options.skip_lines).map_err(|(line, kind)| refuse(line, kind))?;
    let header_line = Some(head.header_line);
    let find = |wanted: &str| {
        let lower = wanted.to_lowercase();
        head.headers
            .iter()
            .position(|header| header.to_lowercase() == lower)
    };
    let field = |wanted: &str| {
        find(wanted).ok_or_else(|| {
            refuse(
                header_line,
                LogErrorKind::UnknownHeader {
                    header: quote(wanted.as_bytes()),
                    headers: head.headers.clone(),
                },
            )
        })
    };
    let (entity_field, value_field) = (field(&table.entity)?, field(&table.value)?);
    let (time_header, time_form) = time_of(options, &find).ok_or_else(|| {
        refuse(
            header_line,
            LogErrorKind::NoTimeColumn {
                headers: head.headers.clone(),
            },
        )
    })?;
    let time = TimeField {
        field: field(&time_header)?,
        time_of_day: None,
    };
    let mut columns = Columns::of_time(head.headers.clone(), time, time_form);
    let wanted: Vec<&str> = options
        .columns
        .iter()
        .filter(|mapping| matches!(mapping.target, Target::Quantity { .. }))
        .map(|mapping| mapping.header.as_str())
        .collect();
    input
        .form_of_time(&head, &mut columns)
        .map_err(|(line, kind)| refuse(Some(line), kind))?;
    let Rows {
        mut records,
        time: mut reader,
        numbering,
        ..
    } = input
        .into_rows(&head, &columns, options)
        .map_err(|kind| refuse(None, kind))?;
    let mut values: Vec<Value> = Vec::new();
    let mut others = BTreeSet::new();
    let mut rows = 0_u64;
    loop {
        match records.advance() {
            Ok(true) => {}
            Ok(false) => break,
            Err(fault) => {
                return Err(refuse(
                    Some(numbering.line(records.lines_before())),
                    fault.into(),
                ));
            }
        }
        rows += 1;
        let line = numbering.line(records.lines_before());
        let fields = records.fields();
        let last = entity_field.max(value_field).max(time.field);
        if fields.count() <= last {
            let kind = LogErrorKind::FieldCount {
                found: fields.count(),
                expected: head.headers.len(),
            };
            return Err(refuse(Some(line), kind));
        }
        let entity = text(fields.get(entity_field));
        let Some(entity) = wanted.iter().position(|wanted| *wanted == entity.trim()) else {
            if others.len() < MOST_NAMED && !others.contains(entity.trim()) {
                others.insert(entity.trim().to_owned());
            }
            continue;
        };
        let cell = fields.get(time.field);
        let time_ms = reader.read(cell).map_err(|fault| {
            let column = ErrorColumn {
                header: head.headers[time.field].clone(),
                field: time.field + 1,
            };
            let found = quote(cell);
            LogError::new(
                name,
                Some(line),
                Some(column),
                LogErrorKind::NotATime { found, fault },
            )
        })?;
        values.push(Value {
            time_ms,
            entity,
            line,
            time: cell.to_vec(),
            value: fields.get(value_field).to_vec(),
        });
    }
    let absent =
        (0..wanted.len()).find(|entity| !values.iter().any(|value| value.entity == *entity));
    if wanted.is_empty() || absent.is_some() {
        let found: Vec<String> = others.into_iter().collect();
        return Err(refuse(
            header_line,
            LogErrorKind::NoEntity {
                wanted: absent.map(|entity| quote(wanted[entity].as_bytes())),
                column: table.entity.clone(),
                entities: list(&found),
            },
        ));
    }
    values.sort_by_key(|value| value.time_ms);
    let holds_ms = longest_usual_ms(&values, wanted.len()).map(|median| median + median / 2);
    let mut writer = csv::WriterBuilder::new()
        .delimiter(head.delimiter)
        .from_writer(Vec::new());
    let broken = |error: csv::Error| refuse(None, LogErrorKind::Io(error.into()));
    writer
        .write_record(std::iter::once(time_header.as_str()).chain(wanted.iter().copied()))
        .map_err(broken)?;
    let mut lines = Vec::new();
    let mut replaced = 0_u64;
    for row in values.chunk_by(|a, b| a.time_ms == b.time_ms) {
        let mut cells: Vec<&[u8]> = vec![b""; wanted.len()];
        for value in row {
            replaced += u64::from(!cells[value.entity].is_empty());
            cells[value.entity] = &value.value;
        }
        writer
            .write_record(std::iter::once(row[0].time.as_slice()).chain(cells))
            .map_err(broken)?;
        lines.push(row[0].line);
    }
    let mut told = format!(
        "a long table: {} of {rows} rows are of the {} named in the options, and make {} rows of a log",
        values.len(),
        if wanted.len() == 1 {
            "entity".to_owned()
        } else {
            format!("{} entities", wanted.len())
        },
        lines.len()
    );
    if replaced > 0 {
        told.push_str(&format!(
            "; {replaced} values gave way to a later one of the same entity and time"
        ));
    }
    let bytes = writer
        .into_inner()
        .map_err(|error| refuse(None, LogErrorKind::Io(error.into_error())))?;
    Ok(Wide {
        bytes,
        lines,
        holds_ms,
        value_field: value_field + 1,
        told,
    })
}

/// The header of the time and what it holds.
fn time_of(
    options: &ReaderOptions,
    find: &impl Fn(&str) -> Option<usize>,
) -> Option<(String, TimeForm)> {
    let mapped = options
        .columns
        .iter()
        .find_map(|mapping| match mapping.target {
            Target::Time(form) => Some((mapping.header.clone(), form)),
            _ => None,
        });
    mapped.or_else(|| {
        [("time_s", TimeForm::Seconds), ("time", TimeForm::DateTime)]
            .into_iter()
            .find(|(name, _)| find(name).is_some())
            .map(|(name, form)| (name.to_owned(), form))
    })
}

/// The longest of the entities' median intervals, ms.
fn longest_usual_ms(values: &[Value], entities: usize) -> Option<i64> {
    (0..entities)
        .filter_map(|entity| {
            let times: Vec<i64> = values
                .iter()
                .filter(|value| value.entity == entity)
                .map(|value| value.time_ms)
                .collect();
            let mut intervals: Vec<i64> = times
                .windows(2)
                .map(|pair| pair[1] - pair[0])
                .filter(|interval| *interval > 0)
                .collect();
            intervals.sort_unstable();
            intervals.get(intervals.len() / 2).copied()
        })
        .max()
}
