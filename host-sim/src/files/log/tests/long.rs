//! Long tables: one row a value.

use super::*;
use crate::files::log::{Cell, LongTable};

fn options(long: &str, columns: &[&str]) -> ReaderOptions {
    ReaderOptions {
        long: Some(long.parse::<LongTable>().expect("two headers")),
        columns: columns
            .iter()
            .map(|text| text.parse().expect("a mapping"))
            .collect(),
        ..ReaderOptions::default()
    }
}

const COLUMNS: [&str; 4] = [
    "time=last_changed",
    "supply_c=sensor.flow",
    "outdoor_c=sensor.out",
    "circulator=sensor.pump_w>10",
];

fn table() -> Vec<(&'static str, &'static str, &'static str)> {
    vec![
        ("2026-01-10T00:00:00Z", "sensor.flow", "8.5"),
        ("2026-01-10T00:00:00Z", "sensor.out", "-3"),
        ("2026-01-10T00:00:00Z", "light.bench", "on"),
        ("2026-01-10T00:05:00Z", "sensor.pump_w", "41"),
        ("2026-01-10T00:10:00Z", "sensor.flow", "8.25"),
        ("2026-01-10T00:10:00Z", "sensor.out", "-3.5"),
        ("2026-01-10T00:15:00Z", "sensor.pump_w", "0"),
        ("2026-01-10T00:20:00Z", "sensor.flow", "8"),
    ]
}

fn csv(rows: &[(&str, &str, &str)]) -> String {
    let mut text = String::from("entity_id,state,last_changed\n");
    for (time, entity, value) in rows {
        text.push_str(&format!("{entity},{value},{time}\n"));
    }
    text
}

fn rows(text: &str, options: &ReaderOptions) -> Result<(Vec<LogRow>, LogReader), LogError> {
    let mut reader = LogReader::from_bytes("long.csv", text.as_bytes().to_vec(), options)?;
    let mut rows = Vec::new();
    while let Some(row) = reader.next_row()? {
        rows.push(row);
    }
    Ok((rows, reader))
}

#[test]
fn values_of_one_time_are_one_row_and_stand_until_the_next() {
    let options = options("entity_id=state", &COLUMNS);
    let (wide, reader) = rows(&csv(&table()), &options).unwrap_or_else(|error| panic!("{error}"));
    let seen: Vec<_> = wide
        .iter()
        .map(|row| (row.time_ms / 60_000, row.supply, row.circulator))
        .collect();
    let reading = |c: f64| Cell::Reading((c * 128.0) as i16);
    assert_eq!(
        seen,
        [
            (0, reading(8.5), None),
            (5, reading(8.5), Some(true)),
            (10, reading(8.25), Some(true)),
            (15, reading(8.25), Some(false)),
            (20, reading(8.0), Some(false)),
        ]
    );
    assert_eq!(wide[2].outdoor, reading(-3.5));
    let told = reader.told().expect("a remark");
    assert!(
        told.contains("7 of 8 rows are of the 3 entities") && told.contains("5 rows of a log"),
        "{told}"
    );
}

/// Exports come by time, by entity, or newest first: the log is the same.
#[test]
fn the_order_of_the_table_does_not_matter() {
    let options = options("entity_id=state", &COLUMNS);
    let (want, _) = rows(&csv(&table()), &options).unwrap_or_else(|error| panic!("{error}"));
    let mut by_entity = table();
    by_entity.sort_by_key(|row| row.1);
    let mut newest_first = table();
    newest_first.reverse();
    for table in [by_entity, newest_first] {
        let (got, _) = rows(&csv(&table), &options).unwrap_or_else(|error| panic!("{error}"));
        assert_eq!(got, want);
    }
}

#[test]
fn what_a_long_table_lacks_is_named() {
    let text = csv(&table());
    for (long, columns, parts) in [
        (
            "entity=state",
            &COLUMNS[..],
            vec!["no header \"entity\"", "entity_id, state, last_changed"],
        ),
        (
            "entity_id=state",
            &["time=last_changed"][..],
            vec!["no --column", "light.bench", "supply_c=ENTITY"],
        ),
        (
            "entity_id=state",
            &["time=last_changed", "supply_c=sensor.flux"][..],
            vec!["no row with \"sensor.flux\"", "sensor.flow", "light.bench"],
        ),
        (
            "entity_id=state",
            &["supply_c=sensor.flow"][..],
            vec!["found no time", "last_changed"],
        ),
    ] {
        let Err(error) = rows(&text, &options(long, columns)) else {
            panic!("{columns:?} was taken");
        };
        let said = error.to_string();
        for part in parts {
            assert!(said.contains(part), "{part} is not in {said}");
        }
    }
    for long in ["state", "=state", "entity="] {
        let said = long
            .parse::<LongTable>()
            .expect_err("one header")
            .to_string();
        assert!(said.contains("entity_id=state"), "{said}");
    }
}

/// A wrong value and a wrong time are named by the table's own line.
#[test]
fn errors_name_the_line_of_the_table() {
    let options = options("entity_id=state", &COLUMNS);
    let wrong_value = csv(&table()).replace("8.25", "warm");
    let said = rows(&wrong_value, &options)
        .err()
        .expect("no number")
        .to_string();
    assert!(
        said.contains("line 6")
            && said.contains("\"warm\"")
            && said.contains("\"sensor.flow\" (field 2)"),
        "{said}"
    );
    let wrong_time = csv(&table()).replace("2026-01-10T00:15:00Z", "later");
    let said = rows(&wrong_time, &options)
        .err()
        .expect("no time")
        .to_string();
    assert!(
        said.contains("line 8") && said.contains("\"later\""),
        "{said}"
    );
    // What stands for no reading is passed over as in any log.
    let missing = ReaderOptions {
        missing: vec!["unavailable".to_owned()],
        ..options
    };
    let gone = csv(&table()).replace("8.25", "unavailable");
    assert!(rows(&gone, &missing).is_ok());
}
