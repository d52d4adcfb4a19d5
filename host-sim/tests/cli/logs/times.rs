//! Times as logs write them.

use super::*;

/// A rule of the place with the clocks going back on 2 November 2025 at 2:00.
const ZONE: &str = "MST7MDT,M3.2.0,M11.1.0";

/// Local times of the night in which an hour comes twice, so many minutes apart.
fn clock_change(every_min: u32) -> String {
    let mut log = HEADER.to_owned();
    let mut minutes = 0;
    let mut add = |minutes: u32| {
        let _ = writeln!(log, "{},7.5,6,4.25,-3", stamp("2025-11-02", minutes));
    };
    while minutes < 600 {
        add(minutes);
        minutes += every_min;
        if minutes == 120 {
            (60..120).step_by(every_min as usize).for_each(&mut add);
        }
    }
    log
}

#[test]
fn an_hour_that_comes_twice_is_read_twice_with_the_places_zone() {
    for every_min in [60, 15] {
        let log = clock_change(every_min);
        let rows = u64::from(600 / every_min + 60 / every_min);
        let (json, screen) = replayed(&log, &["--zone", ZONE]);
        assert_eq!(json["log"]["rows"], rows);
        assert_eq!(json["log"]["repeated_times"], 0);
        let last_h = f64::from(600 - every_min) / 60.0 + 1.0;
        assert!(
            (number(&json, "days") * 24.0 - last_h).abs() < 0.02,
            "{json}"
        );
        assert!(screen.contains("2025-11-02T00:00:00-06:00"), "{screen}");
        let reversed: String = std::iter::once(HEADER.to_owned())
            .chain(
                log.lines()
                    .skip(1)
                    .collect::<Vec<_>>()
                    .into_iter()
                    .rev()
                    .map(|line| format!("{line}\n")),
            )
            .collect();
        let (json, _) = replayed(&reversed, &["--zone", ZONE]);
        assert_eq!(json["log"]["rows"], rows, "newest first");
    }
    // Without it: told, or refused with what to do.
    let (json, screen) = replayed(&clock_change(60), &[]);
    assert_eq!(json["log"]["repeated_times"], 1);
    assert!(
        screen
            .replace("\n  ", " ")
            .contains("if the clocks went back there, name the place's zone: --zone"),
        "{screen}"
    );
    refused(clock_change(15).as_bytes(), &[], &["--zone"]);
    refused(
        clock_change(15).as_bytes(),
        &["--zone", "Nowhere/Else"],
        &["America/Denver"],
    );
    let (json, _) = replayed(&clock_change(15), &["--zone", "America/Denver"]);
    assert_eq!(json["log"]["rows"], 44);
}

#[test]
fn dates_without_time_of_day_are_refused_and_two_columns_are_read() {
    let daily = "time,slab_c\n2025-01-10,4\n2025-01-10,5\n2025-01-11,5\n";
    refused(
        daily.as_bytes(),
        &[],
        &[
            "line 3",
            "2025-01-10",
            "--column date=HEADER --column time_of_day=HEADER",
        ],
    );
    let split =
        "date_UTC,time_UTC,slab_c\n2025-01-10,00:00,4\n2025-01-10,00:30,4\n2025-01-10,01:00,4\n";
    refused(
        split.as_bytes(),
        &["--column", "time=date_UTC"],
        &["line 3", "time_of_day"],
    );
    refused(
        split.as_bytes(),
        &["--column", "date=date_UTC"],
        &["expected both"],
    );
    let both = [
        "--column",
        "date=date_UTC",
        "--column",
        "time_of_day=time_UTC",
    ];
    let (json, _) = replayed(split, &both);
    assert_eq!(
        (&json["log"]["rows"], number(&json, "days")),
        (&Value::from(3), 0.042)
    );
    // Under the usual names by itself; with a day first in it as well.
    let (json, _) = replayed(&split.replace("_UTC", ""), &[]);
    assert_eq!(json["log"]["rows"], 3);
    let american = "date,time,slab_c\n1/13/2025,12:30:00 AM,4\n1/13/2025,1:30:00 PM,4\n";
    assert_eq!(
        number(&replayed(american, &["--hold", "1 d"]).0, "days"),
        0.542
    );
    // One reading a day is a log.
    let (json, _) = replayed(
        "time,slab_c\n2025-01-10,4\n2025-01-11,5\n2025-01-12,5\n",
        &[],
    );
    assert_eq!(number(&json, "days"), 2.0);
}

#[test]
fn many_rows_with_one_time_are_asked_about() {
    let log = (0..600_u32).fold(HEADER.to_owned(), |log, row| {
        log + &format!(
            "{},7.5,6,{},-3\n",
            stamp("2025-01-10", row / 3),
            4 + row % 3
        )
    });
    let (json, screen) = replayed(&log, &[]);
    assert_eq!(json["log"]["repeated_times"], 400);
    assert!(
        first_line(&screen).starts_with(
            "Do several devices, or times without seconds, stand in one table? 400 of 600 rows"
        ),
        "{screen}"
    );
}

#[test]
fn numbers_as_times_are_read_or_refused() {
    // 2025-01-10 00:00 UTC, and the day's number 45 667 (2025-01-01 is 45 658).
    let log = |name: &str, times: [&str; 3]| {
        let [a, b, c] = times;
        format!("{name},slab_c\n{a},4\n{b},4\n{c},4\n")
    };
    let unix = ["1736467200", "1736467260", "1736467320"];
    let millis = ["1736467200000", "1736467260000", "1736467320000"];
    let serial = ["45667.0416666667", "45667.0423611111", "45667.0430555556"];
    let (json, screen) = replayed(&log("time", unix), &[]);
    assert_eq!(number(&json, "days"), 0.001);
    assert!(
        screen.contains("2025-01-10T00:00:00Z") && screen.contains("seconds since 1970"),
        "{screen}"
    );
    assert!(
        replayed(&log("time", millis), &[])
            .1
            .contains("2025-01-10T00:02:00Z")
    );
    let (_, screen) = replayed(&log("time", serial), &[]);
    assert!(
        screen.contains("2025-01-10T01:00:00 to 2025-01-10T01:02:00"),
        "{screen}"
    );
    refused(
        log("time_s", serial).as_bytes(),
        &[],
        &["day number", "--column time=HEADER"],
    );
    refused(
        log("GHtime", serial).as_bytes(),
        &["--column", "time_s=GHtime"],
        &["line 2", "45667.0416666667", "day number"],
    );
    // A log that begins at midnight shows it in its second row.
    let midnight = ["45667", "45667.000694444", "45667.001388889"];
    refused(
        log("GHtime", midnight).as_bytes(),
        &["--column", "time_s=GHtime"],
        &["line 3", "45667.000694444", "day number"],
    );
    assert!(
        replayed(&log("GHtime", serial), &["--column", "time=GHtime"])
            .1
            .contains("2025-01-10T01:00:00")
    );
    refused(
        log("time", ["12", "72", "132"]).as_bytes(),
        &[],
        &["line 2", "time_s"],
    );
    // A log of seconds in that range is one.
    assert_eq!(
        number(
            &replayed(&log("time_s", ["30000.5", "30060.5", "30120.5"]), &[]).0,
            "days"
        ),
        0.001
    );
}

#[test]
fn years_of_two_digits_need_their_order() {
    let log = "time,slab_c\n10.01.25 00:00,4\n10.01.25 00:30,4\n";
    refused(log.as_bytes(), &[], &["--date-order dmy, mdy or ymd"]);
    for (order, date) in [
        ("dmy", "2025-01-10"),
        ("mdy", "2025-10-01"),
        ("ymd", "2010-01-25"),
    ] {
        assert!(
            replayed(log, &["--date-order", order]).1.contains(date),
            "{order}"
        );
    }
}
