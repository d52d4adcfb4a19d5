//! Logs as weather.

use super::*;
use crate::sim::weather::PeriodError;
use jiff::civil::date;

#[track_caller]
fn weather(text: &str) -> Result<WeatherYear, WeatherError> {
    let reader = LogReader::from_bytes(
        "own.csv",
        text.as_bytes().to_vec(),
        &options(&ReaderOptions::default()),
    )
    .expect("a log");
    read(reader, "own.csv", 45.0)
}

/// Hourly rows of whole days from 2025-12-01: every other day warms by 12 K, the others by 2 K.
fn rows(days: usize, skip: impl Fn(usize) -> bool) -> String {
    let mut text = String::from("time,outdoor_c\n");
    for hour in (0..days * 24).filter(|hour| !skip(*hour)) {
        let at = date(2025, 12, 1)
            .at(0, 0, 0, 0)
            .saturating_add(Span::new().hours(hour as i64));
        let swing = if hour / 24 % 2 == 0 { 12.0 } else { 2.0 };
        let share = libm::sin(core::f64::consts::PI * ((hour % 24) as f64 - 6.0) / 18.0).max(0.0);
        text.push_str(&format!(
            "{},{:.2}\n",
            at.strftime("%Y-%m-%d %H:%M"),
            -8.0 + swing * share
        ));
    }
    text
}

#[test]
fn air_is_as_logged_and_the_sun_as_the_days_warm() {
    let year = weather(&rows(20, |_| false)).expect("weather");
    assert_eq!(year.hours.len(), 20 * 24);
    assert_eq!(
        (year.hours[0].month, year.hours[0].day, year.hours[0].hour),
        (12, 1, 1)
    );
    // Row 14 ends at 15:00: −8 + 12 sin(π/2) °C.
    assert!((year.hours[14].dry_bulb_c - 4.0).abs() < 0.01);
    let sun = |day: usize| -> f64 {
        year.hours[day * 24..day * 24 + 24]
            .iter()
            .map(|hour| hour.global_horizontal_wh_m2)
            .sum()
    };
    assert!(sun(6) > 2.0 * sun(7), "{} {}", sun(6), sun(7));
    assert_eq!(
        year.period(date(2025, 12, 5), 16)
            .map(|period| period.days()),
        Ok(16)
    );
    assert_eq!(year.date_of_day(4), Some(date(2025, 12, 5)));
}

#[test]
fn short_gaps_are_bridged_and_said_and_long_ones_refused_with_the_days_that_are_whole() {
    let year = weather(&rows(6, |hour| (30..36).contains(&hour))).expect("weather");
    assert!((0..6).all(|day| {
        year.hours[day * 24..day * 24 + 24]
            .iter()
            .all(|hour| !hour.dry_bulb_c.is_nan())
    }));
    assert!(
        year.told
            .iter()
            .any(|told| told.contains("6 hours without an outdoor reading bridged")),
        "{:?}",
        year.told
    );
    let year = weather(&rows(9, |hour| (30..37).contains(&hour))).expect("weather");
    assert_eq!(year.longest_stretch(), (2, 7));
    let error = year
        .period(date(2025, 12, 1), 5)
        .expect_err("a hole")
        .to_string();
    for part in ["2025-12-02", "--from 2025-12-03 --days 7"] {
        assert!(error.contains(part), "{part} is not in {error}");
    }
    assert!(year.period(date(2025, 12, 3), 7).is_ok());
    assert!(matches!(
        year.period(date(2025, 12, 3), 8),
        Err(PeriodError::NotLogged { .. })
    ));
    // The label's year does not matter where the day is there once.
    assert!(year.period(date(2026, 12, 3), 7).is_ok());
}

#[test]
fn a_column_of_sun_goes_before_the_judgement() {
    let mut text = String::from("time,outdoor_c,sun_w_m2\n");
    for hour in 0..72 {
        let at = date(2026, 2, 1)
            .at(0, 0, 0, 0)
            .saturating_add(Span::new().hours(hour));
        let sun = if (9..=15).contains(&(hour % 24)) && hour < 48 {
            400
        } else {
            0
        };
        text.push_str(&format!("{},-3,{sun}\n", at.strftime("%Y-%m-%d %H:%M")));
    }
    let year = weather(&text).expect("weather");
    let sum = |day: usize| -> f64 {
        year.hours[day * 24..day * 24 + 24]
            .iter()
            .map(|hour| hour.global_horizontal_wh_m2)
            .sum()
    };
    assert!((sum(1) - 7.0 * 400.0).abs() < 1e-6, "{}", sum(1));
    assert_eq!(sum(2), 0.0);
    for hour in &year.hours {
        assert!(hour.direct_normal_wh_m2 >= 0.0 && hour.diffuse_horizontal_wh_m2 >= -1e-9);
    }
    let error =
        weather("time,outdoor_c,sun_w_m2\n2026-01-01 00:00,1,bright\n2026-01-01 01:00,1,2\n")
            .expect_err("no sun")
            .to_string();
    assert!(
        error.contains("bright") && error.contains("line 2"),
        "{error}"
    );
}

/// Degrees Fahrenheit under a Celsius header are asked about before anything else is said.
#[test]
fn fahrenheit_under_a_celsius_header_is_asked_about() {
    let mut text = String::from("time,outdoor_c\n");
    for hour in 0..48 {
        let at = date(2026, 7, 1)
            .at(0, 0, 0, 0)
            .saturating_add(Span::new().hours(hour));
        text.push_str(&format!("{},68\n", at.strftime("%Y-%m-%d %H:%M")));
    }
    let year = weather(&text).expect("weather");
    assert!(
        year.told[0].contains("in °F?") && year.told[0].contains("outdoor_f"),
        "{:?}",
        year.told
    );
}

#[test]
fn what_is_no_weather_says_so() {
    for (text, parts) in [
        (
            "time,slab_c\n2026-01-01 00:00,1\n2026-01-01 01:00,1\n",
            ["no column with outdoor", "outdoor_c"],
        ),
        ("time_s,outdoor_c\n0,1\n3600,1\n", ["seconds", "dates"]),
        (
            "time,outdoor_c\n2026-01-01 00:00,1\n2026-01-01 01:00,1\n",
            ["no whole day", "longer log"],
        ),
    ] {
        let error = weather(text).expect_err("no weather").to_string();
        for part in parts {
            assert!(error.contains(part), "{part} is not in {error}");
        }
    }
}
