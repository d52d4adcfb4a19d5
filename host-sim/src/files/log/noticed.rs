//! What a person should know of a log: what was left out, what does not look like what its header says, and what to do.

use std::collections::BTreeMap;

use serde::Serialize;

use super::{LogReader, LogSummary, Quantity};

/// Readings that cannot be what the header says become a question when they last so long, h.
const LASTS_H: f64 = 2.0;
/// Share of rows with repeated times, and their number, that make a question.
const REPEATED: (f64, u64) = (0.01, 5);

/// A log in numbers, with questions that come before any answer, and remarks.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Noticed {
    /// Rows that were read, those left out for a repeated time not counted.
    pub rows: u64,
    /// Times at which the row before no longer stood.
    pub gaps: u64,
    /// The longest interval with such a gap, h.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub longest_gap_hours: Option<f64>,
    /// Rows left out, since a later one has the same time.
    pub repeated_times: u64,
    /// Readings beyond ±255 °C.
    pub readings_out_of_range: u64,
    /// Hours in which a reading was warmer or colder than its place can be for long.
    pub implausible_hours: BTreeMap<String, f64>,
    /// Sensors of the controller without a column.
    pub missing_columns: Vec<&'static str>,
    /// Columns nothing was read from, and the missing name each is most like.
    pub unused_columns: BTreeMap<String, Option<&'static str>>,
    /// The log was read from its end.
    pub newest_first: bool,
    /// Time in which the wall clock went on and the unit's did not, h.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dark_hours: Option<f64>,
    /// What makes the answer doubtful, with what to do.
    pub questions: Vec<String>,
    /// What was left out, changed or guessed.
    pub remarks: Vec<String>,
}

/// The columns the controller decides by.
const SENSORS: [Quantity; 4] = [
    Quantity::Supply,
    Quantity::Return,
    Quantity::Slab,
    Quantity::Outdoor,
];

impl Noticed {
    /// Of a log that was read to its end; columns named `known` need no word. `gap_hours` is the time no row covers.
    #[must_use]
    pub fn of(reader: &LogReader, known: &[&str], gap_hours: Option<f64>) -> Noticed {
        let summary = *reader.summary();
        let mut noticed = Noticed {
            rows: summary.rows,
            gaps: summary.gaps,
            longest_gap_hours: (summary.gaps > 0).then(|| thousandth_hours(summary.longest_gap_ms)),
            repeated_times: summary.duplicates,
            readings_out_of_range: summary.out_of_range.iter().sum(),
            newest_first: summary.newest_first,
            ..Noticed::default()
        };
        noticed.remarks.extend(reader.told().map(str::to_owned));
        noticed.columns(reader, known);
        noticed.readings(reader, &summary);
        noticed.times(reader, &summary, gap_hours);
        noticed
    }

    fn columns(&mut self, reader: &LogReader, known: &[&str]) {
        for quantity in SENSORS
            .into_iter()
            .filter(|quantity| !reader.has(*quantity))
        {
            let name = quantity.name();
            self.missing_columns.push(name);
            self.remarks.push(format!(
                "no column {name}: that sensor counts as lost (name one with --column {name}=HEADER)"
            ));
        }
        let mut others = Vec::new();
        for column in reader.unused_columns(known) {
            let header = &column.header;
            let lost = column.nearest.filter(|name| {
                self.missing_columns
                    .contains(&name.replace("_f", "_c").as_str())
            });
            match (lost, column.nearest) {
                (Some(name), _) => self.questions.push(format!(
                    "Is the column \"{header}\" {name}? Nothing is read from it; if it is: --column \"{name}={header}\"."
                )),
                (None, Some(name)) => others.push(format!("{header} (like {name}?)")),
                (None, None) => others.push(header.clone()),
            }
            self.unused_columns.insert(column.header, column.nearest);
        }
        if !others.is_empty() {
            self.remarks
                .push(format!("columns that are not used: {}", others.join(", ")));
        }
    }

    fn readings(&mut self, reader: &LogReader, summary: &LogSummary) {
        let row_hours = reader.median_interval_ms().unwrap_or(0) as f64 / 3.6e6;
        for (index, quantity) in Quantity::ALL.into_iter().enumerate().take(6) {
            let (name, header) = (quantity.name(), reader.header_of(quantity).unwrap_or(""));
            let hours = |rows: u64| (rows as f64 * row_hours * 10.0).round() / 10.0;
            let (cold, hot) = (summary.too_cold[index], summary.too_hot[index]);
            if hours(cold + hot) > 0.0 {
                self.implausible_hours
                    .insert(name.to_owned(), hours(cold + hot));
            }
            if hours(hot) >= LASTS_H {
                let fahrenheit = name.replace("_c", "_f");
                self.questions.push(if reader.is_fahrenheit(quantity) {
                    format!(
                        "Is \"{header}\" the right column? It is too warm for {name} for {:.1} h.",
                        hours(hot)
                    )
                } else {
                    format!(
                        "Is \"{header}\" in °F? Taken as °C it is too warm for {name} for {:.1} h; if it is in °F: --column \
                         \"{fahrenheit}={header}\".",
                        hours(hot)
                    )
                });
            }
            if hours(cold) >= LASTS_H {
                self.questions.push(format!(
                    "Does a number in \"{header}\" mean no reading? It is too cold for {name} for {:.1} h, as an open or \
                     unplugged sensor shows; name that number, as in --missing -39.9 or --missing -127.",
                    hours(cold)
                ));
            }
            let beyond = summary.out_of_range[index];
            if beyond > 0 && 2 * beyond > summary.rows {
                self.questions.push(format!(
                    "Is \"{header}\" a temperature in °C? {beyond} of {} readings are beyond ±255 °C and count as \
                     impossible; kelvin and other units are to be converted first.",
                    summary.rows
                ));
            } else if beyond > 0 {
                self.remarks.push(format!(
                    "{beyond} readings of {name} beyond ±255 °C count as impossible"
                ));
            }
        }
    }

    fn times(&mut self, reader: &LogReader, summary: &LogSummary, gap_hours: Option<f64>) {
        let clock = reader.clock();
        self.remarks.extend(reader.time_note().map(str::to_owned));
        if summary.duplicates > 0 {
            let all = summary.rows + summary.duplicates;
            let many = summary.duplicates >= REPEATED.1
                && summary.duplicates as f64 > REPEATED.0 * all as f64;
            let first = clock.label(summary.first_duplicate_ms.unwrap_or(0));
            let told = format!(
                "{} of {all} rows {} left out, the first at {first}",
                summary.duplicates,
                if summary.duplicates == 1 {
                    "has the time of a later row and was"
                } else {
                    "have the time of a later row and were"
                },
            );
            if many {
                self.questions.push(format!(
                    "Do several devices, or times without seconds, stand in one table? {told}. A table with one row a value is read \
                     with --long ENTITY=VALUE."
                ));
            } else if clock.is_local() {
                self.remarks.push(format!(
                    "{told}; if the clocks went back there, name the place's zone: --zone America/Denver"
                ));
            } else {
                self.remarks.push(told);
            }
        }
        if let Some(hours) = gap_hours {
            let longest = summary.longest_gap_ms as f64 / 3.6e6;
            self.remarks.push(format!(
                "{} {}, {hours:.1} h in all, the longest interval {longest:.1} h: no total counts them",
                summary.gaps,
                if summary.gaps == 1 { "gap" } else { "gaps" }
            ));
        }
        let dark = clock.dark();
        if !dark.is_empty() {
            let total_ms: i64 = dark.iter().map(|(.., ms)| ms).sum();
            self.dark_hours = Some(thousandth_hours(total_ms));
            for (begin, end, ms) in dark.iter().take(5) {
                self.remarks.push(format!(
                    "no power or nobody listening from {begin} to {end}, {:.1} h",
                    *ms as f64 / 3.6e6
                ));
            }
            if dark.len() > 5 {
                self.remarks.push(format!(
                    "the same {} times more, {:.1} h in all",
                    dark.len() - 5,
                    total_ms as f64 / 3.6e6
                ));
            }
        }
        if summary.newest_first {
            self.remarks
                .push("the log is newest first and was read from its end".to_owned());
        }
    }
}

fn thousandth_hours(ms: i64) -> f64 {
    (ms as f64 / 3_600.0).round() / 1_000.0
}
