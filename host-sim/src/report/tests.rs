//! The page is whole, safe and loads nothing; the screen fits; words and fits say what they should.

use controller_core::Flow;
use controller_core::reason::{Cause, Reason, What};
use controller_core::time::Duration;
use controller_core::units::Celsius;
use jiff::civil::date;

use super::show::Show;
use super::*;
use crate::metrics::sample::row_at;
use crate::metrics::{AlarmNumbers, Extra, Metrics, MetricsOptions};
use crate::series::{Recorder, RecorderOptions};

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

/// The page without the plotting script, which is not ours.
fn own_part(html: &str) -> String {
    let script = plot::script();
    assert!(html.contains(script));
    html.replace(script, "")
}

/// Splits into (markup, contents of script and style elements).
fn taken_apart(html: &str) -> (String, Vec<String>) {
    let (mut markup, mut inside) = (String::new(), Vec::new());
    let mut rest = html;
    loop {
        let next = ["<script>", "<style>"]
            .into_iter()
            .filter_map(|tag| rest.find(tag).map(|place| (place, tag)))
            .min();
        let Some((place, tag)) = next else { break };
        let end = tag.replace('<', "</");
        markup.push_str(&rest[..place]);
        rest = &rest[place + tag.len()..];
        let stop = rest.find(&end).expect("the element ends");
        inside.push(rest[..stop].to_owned());
        rest = &rest[stop + end.len()..];
    }
    markup.push_str(rest);
    (markup, inside)
}

#[test]
fn the_page_is_well_formed() {
    let (numbers, series) = recorded(3_000, true);
    let (markup, _) = taken_apart(&own_part(&html(&numbers, &series, &context())));
    let mut open: Vec<&str> = Vec::new();
    for piece in markup.split('<').skip(1) {
        let (tag, text) = piece.split_once('>').expect("a tag ends");
        assert!(!text.contains('>'), "bare > after <{tag}>");
        assert_eq!(tag.matches('"').count() % 2, 0, "quotes in <{tag}>");
        let name = tag.split_whitespace().next().unwrap_or_default();
        if let Some(name) = name.strip_prefix('/') {
            assert_eq!(open.pop(), Some(name));
        } else if !matches!(name, "!doctype" | "meta") {
            open.push(name);
        }
    }
    assert!(open.is_empty(), "left open: {open:?}");
}

#[test]
fn the_page_loads_nothing_and_escapes_what_people_wrote() {
    let (numbers, series) = recorded(3_000, true);
    let own = own_part(&html(&numbers, &series, &context()));
    // What people wrote reads "img src=" still, as text behind an escaped bracket.
    let own_markup = own.replace("lt;img src=x", "");
    for foreign in [
        "http:", "https:", "src=", "href=", "url(", "@import", "<img", "<link", "<iframe",
    ] {
        assert!(!own_markup.contains(foreign), "{foreign}");
    }
    assert!(own.contains("default-src 'none'"));
    assert!(own.contains(
        "&lt;img src=x onerror=&quot;alert(&#39;1&#39;)&quot;&gt; &amp; &lt;/script&gt;"
    ));
}

#[test]
fn every_plot_is_valid_json() {
    let (numbers, series) = recorded(3_000, true);
    let (_, scripts) = taken_apart(&own_part(&html(&numbers, &series, &context())));
    let calls: Vec<&str> = scripts
        .iter()
        .filter_map(|s| s.strip_prefix("Plotly.newPlot(")?.strip_suffix(");"))
        .collect();
    assert_eq!(
        calls.len(),
        8,
        "timeline, why, three by day, signature, exceedance, store"
    );
    for call in calls {
        let arguments: Vec<serde_json::Value> =
            serde_json::from_str(&format!("[{call}]")).expect("JSON arguments");
        let [_, traces, layout, _] = arguments.as_slice() else {
            panic!("four arguments")
        };
        assert!(!traces.as_array().expect("traces").is_empty());
        assert!(layout.is_object());
    }
}

#[test]
fn the_largest_page_is_within_six_megabytes() {
    // All curves of full length and every row a stretch of its own with a long cause.
    let (numbers, series) = recorded(8_000, true);
    let size = html(&numbers, &series, &context()).len();
    println!("{size} bytes");
    assert!(size < 6_000_000, "{size}");
}

#[test]
fn only_the_plotting_script_itself_is_embedded() {
    let script = plot::script();
    assert!(script.starts_with("<script") && script.ends_with("</script>"));
    assert_eq!(script.matches("</script>").count(), 1);
    assert!(script.contains("newPlot"));
    assert!(script.len() < 5_000_000, "{}", script.len());
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
        assert!(screen.lines().count() <= 24, "{screen}");
        assert!(
            screen.lines().all(|line| line.chars().count() <= 80),
            "{screen}"
        );
        assert!(screen.chars().all(|c| c == '\n' || !c.is_control()));
        assert!(screen.contains("more in the report"), "{screen}");
        assert!(screen.ends_with('\n'));
    }
}

#[test]
fn the_screen_of_a_small_run() {
    let mut numbers = numbers_of(2.4, 0.0);
    numbers.boiler_calls = 1;
    numbers.boiler_call_hours = 1.5;
    numbers.reasons = [("satisfied".to_owned(), 18.0), ("harvest".to_owned(), 6.0)].into();
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

satisfied            18.0 h   75.0 % ##############################
harvest               6.0 h   25.0 % ##########
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
    assert_eq!(show::fixed(-0.04, 1), "0.0");
    assert_eq!(show::fixed(-0.05, 2), "-0.05");
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
