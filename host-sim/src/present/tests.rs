//! The page is whole, safe and loads nothing; the screen fits; words and fits say what they should.

use controller_core::Flow;
use controller_core::reason::{Cause, Reason, What};
use controller_core::time::Duration;
use controller_core::units::Celsius;
use jiff::civil::date;

use super::*;
use crate::account::metrics::sample::row_at;
use crate::account::metrics::{AlarmNumbers, Metrics, MetricsOptions};
use crate::account::series::{Recorder, RecorderOptions};
use crate::files::quantity::show::Show;
use crate::sim::beside::Extra;

const HOSTILE: &str = "<img src=x onerror=\"alert('1')\"> & </script>";

fn context() -> Context {
    let mut context = Context::new(HOSTILE, &Settings::default(), Units::Si);
    context.start = Some(date(2024, 11, 15).at(0, 0, 0, 0));
    context.period = Some(HOSTILE.to_owned());
    context.used = vec![(HOSTILE.to_owned(), HOSTILE.to_owned())];
    context.notes = vec![HOSTILE.to_owned()];
    context
}

/// So many rows a minute long; every one with another reason if `busy`.
fn recorded(rows: u64, busy: bool) -> (SummaryNumbers, Series) {
    let settings = Settings::default();
    let start = context().start;
    let mut metrics = Metrics::new(MetricsOptions::from_settings(&settings, start));
    let mut recorder = Recorder::new(RecorderOptions::from_settings(&settings, start));
    for n in 0..rows {
        let mut row = row_at(n);
        let on = n % 3 == 0;
        row.outputs.circulator = on;
        row.outputs.boiler_call = n % 30 == 0;
        if busy {
            row.reason = Reason::ALL[n as usize % Reason::ALL.len()];
            row.cause = Cause::point(
                What::WaterSlab,
                Celsius::from_milli(-12_345),
                Celsius::from_milli(-23_456),
                Duration::from_hours(70),
            );
            let wobble = Celsius::from_milli(-21_000 - (n * 37 % 997) as i32);
            row.readings.slab.value = Some(wobble);
            row.readings.supply.value = Some(wobble);
            row.readings.ret.value = Some(wobble);
            row.readings.outdoor.value = Some(wobble);
            row.estimate.outdoor_mean = Some(wobble);
            row.estimate.store = Some(wobble);
            row.estimate.store_age = Duration::ZERO;
            row.estimate.flow = Flow::Flowing;
        }
        let extra = Extra {
            air_c: Some(-21.0 - (n % 83) as f64 / 100.0),
            store_c: Some(-21.0 - (n % 89) as f64 / 100.0),
            logged_circulator: Some(!on),
            logged_boiler: Some(n % 2 == 0),
            slab_c: None,
        };
        metrics.push(&row, 60_000, &extra);
        recorder.push(&row, 60_000, &extra);
    }
    let mut numbers = metrics.finish();
    numbers.label_times(|ms| format!("{HOSTILE} {ms}"));
    (numbers, recorder.finish())
}

fn html(numbers: &SummaryNumbers, series: &Series, context: &Context) -> String {
    let variants = vec![
        Variant {
            name: HOSTILE.to_owned(),
            numbers: numbers.clone(),
        },
        Variant {
            name: "without boiler".to_owned(),
            numbers: numbers.clone(),
        },
    ];
    let extras = WinterExtras {
        variants,
        design_balance_c: Some(-4.0),
        ..WinterExtras::default()
    };
    let report = Report {
        numbers,
        series,
        context,
        winter: Some(&extras),
    };
    let mut out = Vec::new();
    report.write(&mut out).expect("memory takes it");
    String::from_utf8(out).expect("text")
}

/// Splits into (markup, contents of style elements).
fn taken_apart(html: &str) -> (String, Vec<String>) {
    let (mut markup, mut inside) = (String::new(), Vec::new());
    let mut rest = html;
    while let Some(place) = rest.find("<style>") {
        markup.push_str(&rest[..place]);
        rest = &rest[place + "<style>".len()..];
        let stop = rest.find("</style>").expect("the element ends");
        inside.push(rest[..stop].to_owned());
        rest = &rest[stop + "</style>".len()..];
    }
    markup.push_str(rest);
    (markup, inside)
}

#[test]
fn the_page_is_well_formed() {
    let (numbers, series) = recorded(3_000, true);
    let (markup, _) = taken_apart(&html(&numbers, &series, &context()));
    let mut open: Vec<&str> = Vec::new();
    for piece in markup.split('<').skip(1) {
        let (tag, text) = piece.split_once('>').expect("a tag ends");
        assert!(!text.contains('>'), "bare > after <{tag}>");
        assert_eq!(tag.matches('"').count() % 2, 0, "quotes in <{tag}>");
        let name = tag.split_whitespace().next().unwrap_or_default();
        if let Some(name) = name.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name));
        } else if !matches!(name, "!doctype" | "meta") && !tag.ends_with('/') {
            open.push(name);
        }
    }
    assert!(open.is_empty(), "left open: {open:?}");
}

#[test]
fn the_page_loads_and_runs_nothing_and_escapes_what_people_wrote() {
    let (numbers, series) = recorded(3_000, true);
    let page = html(&numbers, &series, &context());
    // What people wrote reads "img src=" still, as text behind an escaped bracket.
    let own = page.replace("lt;img src=x", "").replace("url(#", "");
    for foreign in [
        "http:", "https:", "src=", "href=", "url(", "@import", "<img", "<link", "<iframe",
        "<script", "xmlns",
    ] {
        assert!(!own.contains(foreign), "{foreign}");
    }
    assert!(page.contains("default-src 'none'; style-src 'unsafe-inline';"));
    assert!(!page.contains("script-src"));
    assert!(page.contains(
        "&lt;img src=x onerror=&quot;alert(&#39;1&#39;)&quot;&gt; &amp; &lt;/script&gt;"
    ));
}

#[test]
fn the_page_says_which_house_when_made_and_by_which_version() {
    let (numbers, series) = recorded(200, false);
    let mut context = context();
    context.house = "north house".to_owned();
    let report = Report {
        numbers: &numbers,
        series: &series,
        context: &context,
        winter: None,
    };
    let mut out = Vec::new();
    report
        .page()
        .write_made(&mut out, "2026-01-31 07:15", None)
        .expect("memory takes it");
    let page = String::from_utf8(out).expect("text");
    assert!(page.contains(" · north house</title>"));
    assert!(page.contains("<p class=\"sub\">north house · "));
    let version = env!("CARGO_PKG_VERSION");
    assert!(page.contains(&format!("Made 2026-01-31 07:15 by host-sim {version}</p>")));
    assert!(page.contains("prefers-color-scheme:dark") && page.contains("@media print"));
}

#[test]
fn no_page_is_larger_than_seven_hundred_kilobytes() {
    // All curves of full length and every row a stretch of its own with a long cause: a week by the minute.
    let (numbers, series) = recorded(10_080, true);
    let size = html(&numbers, &series, &context()).len();
    println!("{size} bytes");
    assert!(size < 700_000, "{size}");
}

#[test]
fn every_plot_is_there_and_its_numbers_are_numbers() {
    let (numbers, series) = recorded(6_000, true);
    let page = html(&numbers, &series, &context());
    assert_eq!(
        page.matches("<figure>").count(),
        9,
        "whole and coldest day, why, three by day, signature, exceedance, store"
    );
    for nonsense in ["NaN", "inf", "null"] {
        assert!(!page.contains(&format!("{nonsense} ")) && !page.contains(&format!(" {nonsense}")));
    }
}

/// The y that a page's drawing gives the lowest point of a curve, back in degrees by its panel's range.
fn lowest(points: &[(f64, Option<f64>)]) -> f64 {
    points
        .iter()
        .filter_map(|p| p.1)
        .fold(f64::INFINITY, f64::min)
}

#[test]
fn what_is_drawn_has_the_extremes_of_the_summary() {
    let (numbers, series) = recorded(3_000, true);
    let context = context();
    let report = Report {
        numbers: &numbers,
        series: &series,
        context: &context,
        winter: None,
    };
    let coldest_c = numbers.slab_min_c.expect("a slab");
    let plot = timeline::timeline(&report, 0, series.end_ms, "all");
    let slab = plot.panels[0].marks.iter().find_map(|mark| match mark {
        plot::Mark::Line { name, points, .. } if name == "slab" => Some(points),
        _ => None,
    });
    assert!((lowest(slab.expect("a slab")) - coldest_c).abs() < 0.001);
    let air = plot.panels[1].marks.iter().find_map(|mark| match mark {
        plot::Mark::Line { name, points, .. } if name == "house air" => Some(points),
        _ => None,
    });
    let air_c = numbers.air_min_c.expect("air");
    assert!((lowest(air.expect("air")) - air_c).abs() < 0.001);
    // The season's bands have them too.
    let low = season::daily_c(&report, crate::account::series::CurveName::Slab)
        .into_iter()
        .filter_map(|(_, band)| band)
        .fold(f64::INFINITY, |least, (low, _)| least.min(low));
    assert!((low - coldest_c).abs() < 0.001, "{low} {coldest_c}");
    // The point that is named stands there with its number.
    let named = Show(Units::Si).temperature(coldest_c);
    assert!(html(&numbers, &series, &context).contains(&format!(">{named}</text>")));
}

#[test]
fn hot_water_has_a_panel_of_its_own() {
    let (numbers, series) = recorded(3_000, true);
    let context = context();
    let report = Report {
        numbers: &numbers,
        series: &series,
        context: &context,
        winter: None,
    };
    let plot = timeline::timeline(&report, 0, series.end_ms, "all");
    let titles: Vec<&str> = plot.panels.iter().map(|p| p.title.as_str()).collect();
    assert_eq!(
        titles,
        [
            "slab and store, °C",
            "air, °C",
            "water in the pipes, °C",
            ""
        ]
    );
    assert!(plot.panels[0].height > plot.panels[2].height);
    let names = |panel: usize| -> Vec<&str> {
        plot.panels[panel]
            .marks
            .iter()
            .map(plot::Mark::name)
            .collect()
    };
    assert!(names(2).contains(&"supply") && !names(0).contains(&"supply"));
}

#[test]
fn the_first_table_answers_first() {
    let (numbers, series) = recorded(3_000, false);
    let page = html(&numbers, &series, &context());
    let table = page.find("<table").expect("a table");
    assert!(table < page.find("<figure").expect("a figure"));
    let first = &page[table..table + page[table..].find("</table>").expect("its end")];
    for row in [
        "Slab",
        "Water frozen solid",
        "Coldest slab",
        "Slab below target",
        "Coldest house air",
        "House air below freezing",
        "Circulator electricity",
        "Boiler calls",
    ] {
        let row = format!("<td>{row}</td>");
        // What only a model knows has no row here.
        assert_eq!(
            first.contains(&row),
            row != "<td>Water frozen solid</td>",
            "{row}"
        );
    }
    assert!(
        first.contains("without boiler"),
        "the same winter otherwise"
    );
}

#[test]
fn a_page_without_a_wall_clock_counts_hours() {
    let (numbers, series) = recorded(200, false);
    let mut context = context();
    context.start = None;
    assert!(html(&numbers, &series, &context).contains("hours since the first row"));
}

#[test]
fn an_empty_run_still_makes_a_page_and_a_screen() {
    let (numbers, series) = recorded(0, false);
    let page = html(&numbers, &series, &context());
    assert!(page.contains("nobody can say"));
    assert!(terminal(&numbers, &context()).contains("nobody can say"));
}

#[test]
fn all_cautions_are_at_the_foot() {
    let (numbers, series) = recorded(10, false);
    let page = html(&numbers, &series, &context());
    let foot = &page[page.find("<footer>").expect("a foot")..];
    for (title, text) in CAUTIONS {
        assert!(foot.contains(&page::escape(title)) && foot.contains(&page::escape(text)));
    }
}

fn numbers_of(slab_min_c: f64, below: f64) -> SummaryNumbers {
    SummaryNumbers {
        days: 1.0,
        rows: 1_440,
        slab_min_c: Some(slab_min_c),
        slab_min_time: Some("2025-01-14 06:30".to_owned()),
        slab_hours_below_target: Some(below),
        slab_degree_hours_below_target: Some(below / 2.0),
        slab_hours_below_zero: Some(0.0),
        ..SummaryNumbers::default()
    }
}

#[test]
fn the_verdict_is_plain() {
    let held = words::verdict(&numbers_of(2.4, 0.0), &context());
    assert_eq!(
        held.headline,
        "The slab held: it was never below its target of 1.5 °C."
    );
    assert_eq!(held.details[0], "Coldest 2.4 °C at 2025-01-14 06:30.");
    assert!(!held.details.iter().any(|d| d.contains("margin")));
    let barely = words::verdict(&numbers_of(1.6, 0.0), &context());
    assert!(barely.details.iter().any(|d| d.contains("no margin")));
    let failed = words::verdict(&numbers_of(-0.2, 12.0), &context());
    assert_eq!(failed.held, Some(false));
    assert_eq!(
        failed.headline,
        "The slab did not hold: 12.0 h below its target of 1.5 °C (6.0 K·h)."
    );
    let mut context = context();
    context.units = Units::Us;
    let failed = words::verdict(&numbers_of(-0.2, 12.0), &context);
    assert!(
        failed.headline.contains("34.7 °F (10.8 °F·h)"),
        "{}",
        failed.headline
    );
    assert!(
        failed.details[0].contains("31.6 °F"),
        "{}",
        failed.details[0]
    );
}

#[test]
fn the_screen_fits_whatever_happened() {
    let (mut numbers, _) = recorded(500, true);
    numbers.alarms = controller_core::alarm::Alarm::ALL
        .into_iter()
        .map(|alarm| AlarmNumbers {
            name: alarm.name().to_owned(),
            advice: alarm.is_advice(),
            hours: 12_345.6,
            ..AlarmNumbers::default()
        })
        .collect();
    numbers.slab_hours_unknown = Some(12.0);
    numbers.boiler_calls_without_heat = 3;
    numbers.wood_kg = Some(1_234.0);
    numbers.earth_heat_kwh = Some(12_345.6);
    numbers.earth_heat_error_kwh = Some(1_234.5);
    for units in [Units::Si, Units::Us] {
        let mut context = context();
        context.title = "a\u{1b}[31m long title ".repeat(20);
        context.units = units;
        let screen = terminal(&numbers, &context);
        assert!(
            screen.lines().all(|line| line.chars().count() <= 80),
            "{screen}"
        );
        assert!(screen.chars().all(|c| c == '\n' || !c.is_control()));
        assert!(screen.ends_with('\n'));
        // What is not an alarm fits on a screen of 24 lines, and every alarm is there.
        let before = screen
            .lines()
            .take_while(|line| !line.contains("pieces of advice"));
        assert!(before.count() < 24, "{screen}");
        let words = screen.split_whitespace().collect::<Vec<_>>().join(" ");
        for alarm in controller_core::alarm::Alarm::ALL {
            assert!(words.contains(alarm.meaning()), "{alarm:?} in {screen}");
            assert!(words.contains(alarm.remedy()), "{alarm:?} in {screen}");
        }
    }
}

#[test]
fn an_alarm_has_its_remedy_in_a_line_of_its_own() {
    let mut numbers = numbers_of(2.4, 0.0);
    numbers.alarms = vec![AlarmNumbers {
        name: "no_flow".to_owned(),
        hours: 3.25,
        standing: true,
        ..AlarmNumbers::default()
    }];
    let screen = terminal(&numbers, &context());
    assert!(
        screen.ends_with(
            "1 alarm, 0 pieces of advice:\n  no flow, 3.2 h, standing: Temperatures say no water moves: no boiler call,\n    \
             the circulator tries again.\n    > Check the circulator, valves and for air or ice; vent it.\n"
        ),
        "{screen}"
    );
}

#[test]
fn the_screen_of_a_small_run() {
    let mut numbers = numbers_of(2.4, 0.0);
    numbers.boiler_calls = 1;
    numbers.boiler_call_hours = 1.5;
    numbers.reasons = [
        ("warm_enough".to_owned(), 18.0),
        ("store_heat".to_owned(), 6.0),
    ]
    .into();
    let mut context = context();
    context.title = "Replay of house.csv".to_owned();
    context.period = None;
    let screen = terminal(&numbers, &context);
    let expected = "\
Replay of house.csv
1.0 days, 1440 steps

The slab held: it was never below its target of 1.5 °C.
Coldest 2.4 °C at 2025-01-14 06:30. The boiler was called once, 1.5 h in all.

Slab below target              0.0 h    Circulator                     0.0 h
  degree-hours               0.0 K·h      starts                 0, most 0/d
  electricity                  0 kWh    Boiler called                  1.5 h

warm enough          18.0 h   75.0 % ##############################
store heat            6.0 h   25.0 % ##########
No alarms.
";
    assert_eq!(screen, expected);
}

#[test]
fn causes_as_words() {
    let show = Show(Units::Si);
    let slab = Cause::point(
        What::Slab,
        Celsius::from_milli(2_100),
        Celsius::from_milli(2_200),
        Duration::from_mins(12),
    );
    assert_eq!(
        words::cause_text(&slab, show),
        "slab 2.1 °C (limit 2.2 °C), 12 min old"
    );
    assert_eq!(
        words::cause_text(&slab, Show(Units::Us)),
        "slab 35.8 °F (limit 36.0 °F), 12 min old"
    );
    let left = Cause::time(What::TimeLeft, Duration::from_mins(4), Duration::ZERO);
    assert_eq!(words::cause_text(&left, show), "time left 4 min");
    assert_eq!(words::cause_text(&Cause::NONE, show), "");
}

#[test]
fn numbers_have_no_negative_zero() {
    assert_eq!(crate::files::quantity::show::fixed(-0.04, 1), "0.0");
    assert_eq!(crate::files::quantity::show::fixed(-0.05, 2), "-0.05");
}

#[test]
fn no_two_reasons_look_alike() {
    let looks: Vec<String> = Reason::ALL
        .into_iter()
        .map(|reason| format!("{:?}", palette::reason(reason)))
        .collect();
    let distinct: std::collections::BTreeSet<&String> = looks.iter().collect();
    assert_eq!(distinct.len(), Reason::ALL.len());
}

#[test]
fn the_knee_of_a_made_up_house_is_found() {
    // Nothing above 3 °C, 2.4 kWh a day and kelvin below it (100 W/K), 1 kWh always.
    let days: Vec<(f64, f64)> = (-12..=10)
        .map(|t| f64::from(t) / 1.0)
        .map(|t| (t, 1.0 + 2.4 * (3.0 - t).max(0.0)))
        .collect();
    let knee = balance::fit(&days).expect("a clear knee");
    assert!((knee.balance_c - 3.0).abs() < 1e-6, "{knee:?}");
    assert!((knee.slope_kwh_k - 2.4).abs() < 1e-9);
    assert!((knee.base_kwh - 1.0).abs() < 1e-9);
    assert_eq!(balance::fit(&days[..5]), None, "too few days");
    let level: Vec<(f64, f64)> = days.iter().map(|d| (d.0, -d.1)).collect();
    assert_eq!(balance::fit(&level), None, "less heat with more cold");
}
