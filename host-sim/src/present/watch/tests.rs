use std::time::Duration;

use jiff::ZonedDateTime;

use super::*;
use crate::files::now::Moment;
use crate::serial::row::Columns;
use crate::watch::metrics;
use crate::watch::recent::Recent;
use crate::watch::state::{HookState, LogState, Tonight};

const HEADER: &str = "time_s,supply_c,return_c,slab_c,outdoor_c,circulator,boiler_call,alarm,reason,cause,cause_value,cause_limit,\
cause_age_s,store_estimate_c,wood,wood_kg,wood_within_min,alarms";

fn time(text: &str) -> ZonedDateTime {
    format!("{text}+00:00[UTC]").parse().expect("a time")
}

fn state(row: Option<&str>) -> State {
    let at = time("2026-01-05T22:10:00");
    let mut recent = Recent::default();
    let row = row.map(|row| Columns::new(HEADER).row(row).expect("a row"));
    for minutes in 0..600 {
        if let Some(row) = &row {
            let before = jiff::SignedDuration::from_mins(600 - minutes);
            recent.push(row, at.timestamp().checked_sub(before).expect("a time"));
        }
    }
    let began = time("2026-01-01T12:00:00");
    State {
        row: row.map(|row| (row, at, Moment::now())),
        rows: 3_600,
        boots: 1,
        recent,
        ..State::new("Hillside <b>".to_owned(), began, Duration::from_secs(600))
    }
}

const WELL: &str = "100,8,6,3.5,-9.5,1,0,0,store_heat,slab_c,3.5,4,0,7.25,no_more,,,";
const COLD: &str = "100,,6,1.5,-19.5,1,1,1,frost,slab_c,1.5,2,0,,light,5,40,slab_cold no_flow";

fn message(condition: &str, kind: Kind, text: &str) -> Message {
    Message {
        id: 1,
        at: time("2026-01-05T22:00:00"),
        kind,
        condition: condition.to_owned(),
        stage: Stage::Begins,
        text: text.to_owned(),
        remedy: String::new(),
    }
}

fn html(state: &State, units: Units) -> String {
    let mut html = Vec::new();
    page(state, units)
        .write_served(&mut html, "live.js")
        .expect("written");
    String::from_utf8(html).expect("text")
}

#[test]
fn a_good_night_reads_so() {
    let html = html(&state(Some(WELL)), Units::Si);
    for words in [
        "<b>Nothing is wrong</b>The slab is at 3.5 °C.",
        "The circulator is on, the boiler is not called.",
        "Reason: store heat. Store heat is worth the electricity. Slab 3.5 °C (limit 4.0 °C).",
        "Hillside &lt;b&gt;",
        "script-src 'self'",
        "<script src=\"live.js\" defer></script>",
        "7.2 °C",
        "The last three days as this computer heard them",
        "shown on this page alone",
        "Not a safety device",
    ] {
        assert!(html.contains(words), "{words:?} is not in {html}");
    }
    assert!(!html.contains("What to do</h2>"), "{html}");
}

#[test]
fn an_alarm_comes_first_with_what_to_do() {
    let state = State {
        standing: vec![
            ("slab_cold".to_owned(), Kind::Alarm),
            ("wood".to_owned(), Kind::Wood),
        ],
        messages: vec![
            message(
                "wood",
                Kind::Wood,
                "Light the fire: 5 kg of wood within 40 min, by 22:50.",
            ),
            message("slab_cold", Kind::Alarm, "Slab cold: again."),
            message("slab_cold", Kind::Alarm, "Slab cold: at first."),
            message("noisy", Kind::Advice, "Noisy: over long ago."),
        ],
        log: LogState {
            file: Some("log-2026-01.csv".to_owned()),
            fault: Some("no space left".to_owned()),
            lost: 3,
        },
        hooks: vec![HookState {
            name: "phone".to_owned(),
            waiting: 2,
            fault: Some("nobody there".to_owned()),
        }],
        tonight: Some(Tonight {
            at: time("2026-01-05T21:30:00"),
            text: "Light the fire.\n\n  By 23:00.\n".to_owned(),
        }),
        ..state(Some(COLD))
    };
    let html = html(&state, Units::Us);
    for words in [
        "<b>Alarm</b>The slab is at 34.7 °F. Told: slab cold.",
        "<li>Light the fire: 11 lb of wood within 40 min, by ",
        "</li>\n<li>Slab cold: again.</li>",
        "not known",
        "cannot be written: no space left",
        "2 messages to deliver; the last try failed: nobody there",
        "<pre tabindex=\"0\">Light the fire.\n\n  By 23:00.</pre>",
        "Asked at 21:30.",
    ] {
        assert!(html.contains(words), "{words:?} is not in {html}");
    }
    assert_eq!(
        html.matches("Slab cold: at first.").count(),
        1,
        "in the table alone"
    );
}

#[test]
fn an_old_row_says_nothing_about_now() {
    let mut old = state(Some(WELL));
    if let Some((_, _, at)) = &mut old.row {
        *at = Moment::ago(Duration::from_secs(601));
    }
    old.standing = vec![("silence".to_owned(), Kind::Silence)];
    let html = html(&old, Units::Si);
    assert!(
        html.contains("<b>Silent</b>The unit&#39;s last row came at 2026-01-05 22:10"),
        "{html}"
    );
    assert!(!html.contains("<h2>Now</h2>"));
    let json = old.json();
    assert!(
        json["readings"]["slab_c"].is_null() && json["circulator"].is_null(),
        "{json}"
    );
    assert!(json["row_age_s"].as_f64() > Some(600.0), "{json}");
    assert!(!metrics::text(&old).contains("temperature_celsius{"));
    let never = page(&state(None), Units::Si);
    assert_eq!(
        never.headline.map(|headline| headline.word).as_deref(),
        Some("Waiting")
    );
}

#[test]
fn metrics_are_as_the_format_has_them() {
    let state = State {
        hooks: vec![HookState {
            name: "a \"b\"".to_owned(),
            ..HookState::default()
        }],
        ..state(Some(COLD))
    };
    let text = metrics::text(&state);
    for line in [
        "# TYPE slab_controller_temperature_celsius gauge",
        "# UNIT slab_controller_temperature_celsius celsius",
        "slab_controller_temperature_celsius{sensor=\"slab\"} 1.5",
        "slab_controller_alarm{condition=\"no_flow\"} 1",
        "slab_controller_alarm{condition=\"overheat\"} 0",
        "slab_controller_rows_total 3600",
        "slab_controller_messages_waiting{hook=\"a \\\"b\\\"\"} 0",
    ] {
        assert!(
            text.lines().any(|have| have == line),
            "{line} is not in {text}"
        );
    }
    assert!(!text.contains("sensor=\"supply\""), "unknown is left out");
    assert!(text.ends_with("# EOF\n"));
    // A family's lines stand together, and no name comes twice.
    let families: Vec<&str> = text
        .lines()
        .filter_map(|line| line.strip_prefix("# TYPE "))
        .collect();
    let mut names: Vec<&str> = families
        .iter()
        .filter_map(|line| line.split(' ').next())
        .collect();
    let all = names.len();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), all);
}
