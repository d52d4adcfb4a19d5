//! `host-sim tonight` as a person or a program calls it.

use std::process::Output;

use crate::support::{COLD_NIGHT, Folder, host_sim, text};

/// Few nights, for speed.
fn tonight(arguments: &[&str]) -> Output {
    host_sim(&with(arguments, &["--nights", "20"]))
}

fn with<'a>(base: &[&'a str], more: &[&'a str]) -> Vec<&'a str> {
    base.iter().chain(more).copied().collect()
}

/// The same arguments with one option's value replaced.
fn changed<'a>(option: &str, value: &'a str) -> Vec<&'a str> {
    let mut arguments = COLD_NIGHT.to_vec();
    let place = arguments
        .iter()
        .position(|&argument| argument == option)
        .expect("an option of the example");
    arguments[place + 1] = value;
    arguments
}

#[track_caller]
fn refused(arguments: &[&str], words: &[&str]) {
    let output = host_sim(arguments);
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(output.stdout.is_empty());
    for word in words {
        assert!(said.contains(word), "{word:?} is not in {said}");
    }
}

/// The question asked with a log.
fn with_log(log: &str) -> [&str; 7] {
    ["tonight", "--low", "-9 °C", "--high", "-1 °C", "--log", log]
}

#[test]
fn a_cold_night_says_light_the_fire_on_one_screen() {
    let output = host_sim(&COLD_NIGHT);
    assert_eq!(output.status.code(), Some(1));
    let screen = String::from_utf8(output.stdout).expect("UTF-8");
    for words in [
        "2025-01-15 18:00 to 09:20",
        "will not hold the slab above 1.5 °C until 09:20: light the fire",
        "Below 1.5 °C",
        "Light the fire",
        "Wood until morning",
        "If it dies at 03:00",
        "Coldest house air",
        "Without a fire the",
        "air of the house falls to",
        "The ranges hold eight nights of ten",
        "site: the demo's",
    ] {
        assert!(screen.contains(words), "{words:?} is not in {screen}");
    }
    assert!(screen.lines().count() <= 24, "{screen}");
}

#[test]
fn a_mild_night_needs_no_fire_and_exits_with_nought() {
    let mild = [
        "tonight",
        "--low",
        "1 °C",
        "--high",
        "8 °C",
        "--cloudy",
        "--slab",
        "6 °C",
        "--store",
        "9 °C",
        "--now",
        "2025-01-15 18:00",
    ];
    let output = tonight(&mild);
    let screen = String::from_utf8(output.stdout).expect("UTF-8");
    assert_eq!(output.status.code(), Some(0), "{screen}");
    assert!(screen.contains("no fire needed"), "{screen}");
    assert!(!screen.contains("Light the fire"), "{screen}");
    // A reading that no such day can have is asked about.
    let output = tonight(&with(&mild, &["--outdoor", "27 °C"]));
    let screen = String::from_utf8(output.stdout)
        .expect("UTF-8")
        .replace('\n', " ");
    assert!(
        screen.contains("It is 27 °C outdoors now, far above the forecast's high of 8 °C"),
        "{screen}"
    );
}

#[test]
fn json_is_one_object_in_celsius_whatever_is_shown() {
    let output = tonight(&with(&COLD_NIGHT, &["--json", "--units", "us"]));
    assert_eq!(output.status.code(), Some(1));
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).expect("one object");
    assert_eq!(json["answer"], "will not hold");
    assert_eq!(json["holds"], false);
    assert_eq!(json["slab_now_c"], 6.0);
    assert_eq!(json["now"], "2025-01-15T18:00");
    let course = json["course"].as_array().expect("a course");
    assert_eq!(course.len(), 93);
    assert_eq!(course[0]["time"], "2025-01-15T18:00");
    let below = &json["below_target_time"];
    assert!(below["early"].as_str() < below["late"].as_str());
    let fire = &json["fire"];
    assert!(fire["light_by_time"].as_str() < fire["first_call_time"]["middle"].as_str());
    assert!(fire["wood_kg"]["middle"].as_f64().expect("a number") > 1.0);
    let again = tonight(&with(&COLD_NIGHT, &["--json", "--units", "us"]));
    assert_eq!(again.stdout, output.stdout);
}

#[test]
fn air_already_below_the_forecast_low_becomes_the_low() {
    let output = tonight(&with(&changed("--outdoor", "-12 °C"), &["--json"]));
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).expect("one object");
    let middle = json["outdoor_min_c"]["middle"].as_f64().expect("a number");
    assert!((middle - -12.0).abs() < 1.0, "{middle}");
    assert!(
        json["notes"][0]
            .as_str()
            .expect("a note")
            .contains("below the forecast low")
    );
}

#[test]
fn us_units_are_shown() {
    let output = tonight(&with(&COLD_NIGHT, &["--units", "us"]));
    let screen = String::from_utf8(output.stdout).expect("UTF-8");
    assert!(
        screen.contains("34.7 °F") && screen.contains(" lb"),
        "{screen}"
    );
    assert!(!screen.contains("°C"), "{screen}");
}

#[test]
fn the_demo_log_gives_readings_and_its_end_is_now() {
    let log = concat!(env!("CARGO_MANIFEST_DIR"), "/data/demo-week.csv");
    let base = with_log(log);
    let output = tonight(&base);
    let screen = String::from_utf8(output.stdout).expect("UTF-8");
    assert_eq!(output.status.code(), Some(1), "{screen}");
    assert!(screen.contains("2025-02-11 00:00 to"), "{screen}");
    assert!(
        screen.contains("slab 3.0 °C, store 6.2 °C, outdoors -8.1 °C"),
        "{screen}"
    );
    // Running text is broken into lines anywhere.
    let flat = screen.replace('\n', " ");
    assert!(
        flat.contains("2025-02-11 00:00, is not recent: this is the night after that row"),
        "{screen}"
    );
    // Recent by the time given.
    let output = tonight(&with(&base, &["--now", "2025-02-11 01:30"]));
    let screen = String::from_utf8(output.stdout).expect("UTF-8");
    let flat = screen.replace('\n', " ");
    assert!(!flat.contains("is not recent"), "{screen}");
    refused(
        &with(&base, &["--now", "2025-02-11 06:00"]),
        &[
            "demo-week.csv",
            "newest row at 2025-02-11 00:00",
            "6.0 h before --now",
            "last 3 h",
        ],
    );
}

#[test]
fn a_log_without_a_store_takes_it_from_the_water_or_asks() {
    let folder = Folder::new();
    let log = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/data/demo-week.csv"))
        .expect("the demo log");
    let without = log.replace("store_c", "note");
    let path = folder.file("without.csv", &without);
    let base = with_log(text(&path));
    let output = tonight(&base);
    let screen = String::from_utf8(output.stdout).expect("UTF-8");
    assert!(
        screen.contains("store floor (by the water of the last run)"),
        "{screen}"
    );
    let path = folder.file("bare.csv", &without.replace("circulator", "other"));
    refused(&with_log(text(&path)), &["bare.csv", "store", "--store"]);
}

/// The same readings, one row a time and one row a value.
#[test]
fn a_long_table_with_other_words_gives_the_same_answer() {
    let folder = Folder::new();
    let (mut wide, mut long) = (
        "time,slab_c,store_c,outdoor_c\n".to_owned(),
        "what,value,at\n".to_owned(),
    );
    for minute in (0..180).step_by(10) {
        let time = format!("2025-01-15 {:02}:{:02}", 15 + minute / 60, minute % 60);
        let values = [5.0 - f64::from(minute) / 300.0, 8.0, -2.0];
        wide += &format!("{time},{},{},{}\n", values[0], values[1], values[2]);
        for (name, value) in ["floor", "cellar", "yard"].iter().zip(values) {
            long += &format!("{name},{value},{time}\n{name},unavailable,{time}:30\n");
        }
    }
    let wide = folder.file("wide.csv", &wide);
    let long = folder.file("long.csv", &long);
    let json = |arguments: &[&str]| -> serde_json::Value {
        let output = tonight(&with(arguments, &["--json"]));
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        let mut json: serde_json::Value = serde_json::from_slice(&output.stdout)
            .unwrap_or_else(|error| panic!("{error}: {said}"));
        json.as_object_mut().expect("an object").remove("used");
        json
    };
    let words = [
        "--long",
        "what=value",
        "--column",
        "time=at",
        "--column",
        "slab_c=floor",
        "--column",
        "store_c=cellar",
        "--column",
        "outdoor_c=yard",
        "--missing",
        "unavailable",
        "--hold",
        "15 min",
    ];
    let base = with_log(text(&long));
    let answer = json(&with(&base, &words));
    assert!(
        answer["slab_c"].is_number() || answer.to_string().contains("slab"),
        "{answer}"
    );
    assert_eq!(answer, json(&with_log(text(&wide))));
    refused(
        &with(&COLD_NIGHT, &["--column", "slab_c=floor"]),
        &["--log"],
    );
}

#[test]
fn what_cannot_be_is_refused_in_plain_words() {
    refused(
        &changed("--high", "-12 °C"),
        &["--high", "below the low", "exchanged"],
    );
    refused(
        &changed("--low", "-90 °C"),
        &["--low", "-90 °C", "-60 °C to 45 °C"],
    );
    refused(&changed("--slab", "60 °C"), &["--slab", "45 °C"]);
    refused(&changed("--store", "8"), &["--store", "without a unit"]);
    refused(&changed("--now", "noonish"), &["--now", "noonish", "18:00"]);
    refused(&with(&COLD_NIGHT, &["--cloudy"]), &["--cloudy"]);
    refused(
        &with(&COLD_NIGHT, &["--until", "dawn"]),
        &["--until", "07:00"],
    );
    refused(&["tonight"], &["--now", "For example"]);
    refused(
        &[
            "tonight", "--now", "18:00", "--slab", "6 °C", "--store", "8 °C",
        ],
        &["--low and --high"],
    );
    refused(
        &[
            "tonight", "--now", "18:00", "--low", "-9 °C", "--high", "0 °C",
        ],
        &["--slab"],
    );
}

#[test]
fn a_log_that_stopped_telling_of_the_slab_is_refused() {
    let folder = Folder::new();
    let mut log = String::from("time,slab_c,store_c,outdoor_c\n2025-01-15 12:00,6,8,-1\n");
    for minute in 0..60 {
        log += &format!("2025-01-15 17:{minute:02},,8,-2\n");
    }
    let path = folder.file("stopped.csv", &log);
    refused(
        &with_log(text(&path)),
        &["stopped.csv", "slab", "last 3 h", "--slab"],
    );
}

#[test]
fn hours_from_a_table_or_a_weather_file() {
    let folder = Folder::new();
    let mut table = String::from("time,outdoor_c,opaque_tenths\n");
    for hour in 18..24 {
        table += &format!(
            "2025-01-15 {hour}:00,{},2\n",
            -2.0 - f64::from(hour - 18) * 0.5
        );
    }
    for hour in 0..11 {
        table += &format!("2025-01-16 {hour:02}:00,-6.5,\n");
    }
    let path = folder.file("hours.csv", &table);
    let base = [
        "tonight",
        "--slab",
        "6 °C",
        "--store",
        "8 °C",
        "--now",
        "2025-01-15 18:00",
        "--forecast",
    ];
    let output = tonight(&with(&base, &[text(&path)]));
    let screen = String::from_utf8(output.stdout).expect("UTF-8");
    assert!(screen.contains("17 hours from"), "{screen}");

    let short = folder.file(
        "short.csv",
        &table[..table.find("2025-01-16 05").expect("a row")],
    );
    refused(
        &with(&base, &[text(&short)]),
        &["short.csv", "to reach from", "--until"],
    );
    let cloudy = folder.file("cloudy.csv", &table.replace(",2\n", ",12\n"));
    refused(
        &with(&base, &[text(&cloudy)]),
        &["cloudy.csv", "12", "0 to 10"],
    );
    let bare = folder.file("bare.csv", "time,slab_c\n2025-01-15 18:00,3\n");
    refused(&with(&base, &[text(&bare)]), &["bare.csv", "outdoor_c"]);

    let year = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/data/chicago-il-725300-tmy3.epw"
    );
    let output = tonight(&with(&base, &[year]));
    let screen = String::from_utf8(output.stdout).expect("UTF-8");
    assert!(
        screen.contains("the hours of") && screen.contains("Chicago"),
        "{screen}"
    );
}

#[test]
fn a_page_appears_whole_or_not_at_all() {
    let folder = Folder::new();
    let page = folder.path("tonight.html");
    let output = tonight(&with(&COLD_NIGHT, &["--report", text(&page)]));
    assert_eq!(output.status.code(), Some(1));
    let html = std::fs::read_to_string(&page).expect("a page");
    assert!(html.contains("<figure>") && html.trim_end().ends_with("</html>"));
    assert!(html.len() < 700_000, "{}", html.len());
    assert!(html.contains("Will not hold") && html.contains("Not a safety device"));
    assert_eq!(folder.names(), ["tonight.html"]);
    refused(
        &with(
            &changed("--high", "-12 °C"),
            &["--report", text(&folder.path("none.html"))],
        ),
        &["--high"],
    );
    assert_eq!(folder.names(), ["tonight.html"]);
}

#[test]
fn a_site_without_a_boiler_is_told_so() {
    let folder = Folder::new();
    let settings = folder.file("settings.toml", "boiler = \"none\"\n");
    let output = tonight(&with(&COLD_NIGHT, &["--settings", text(&settings)]));
    let screen = String::from_utf8(output.stdout).expect("UTF-8");
    assert_eq!(output.status.code(), Some(1), "{screen}");
    assert!(screen.contains("no boiler will help"), "{screen}");
    assert!(!screen.contains("Light the fire"), "{screen}");
    let drained = folder.file("drained.toml", "mode = \"drained\"\n");
    let output = tonight(&with(&COLD_NIGHT, &["--settings", text(&drained)]));
    let screen = String::from_utf8(output.stdout).expect("UTF-8");
    assert!(screen.contains("mode is drained"), "{screen}");
    assert!(!screen.contains("Light the fire"), "{screen}");
}

#[test]
fn a_boiler_that_needs_nobody_is_not_to_be_lit() {
    let folder = Folder::new();
    let site = String::from_utf8(host_sim(&["site"]).stdout).expect("UTF-8");
    let site = folder.file(
        "site.toml",
        &site.replace("kind = \"hand-fired\"", "kind = \"injection\""),
    );
    let settings = folder.file("settings.toml", "boiler = \"injection\"\n");
    let output = tonight(&with(
        &COLD_NIGHT,
        &["--site", text(&site), "--settings", text(&settings)],
    ));
    let screen = String::from_utf8(output.stdout).expect("UTF-8");
    assert_eq!(output.status.code(), Some(1), "{screen}");
    assert!(screen.contains("the boiler will be called"), "{screen}");
    assert!(screen.contains("Its heat"), "{screen}");
    assert!(!screen.contains("fire"), "{screen}");
}

#[test]
fn a_time_of_day_may_be_said_in_twelve_hours() {
    let asked = |now: &'static str, until: &'static str| {
        let mut arguments = COLD_NIGHT[..12].to_vec();
        arguments.extend(["--now", now, "--until", until, "--json"]);
        let output = tonight(&arguments);
        let json: serde_json::Value =
            serde_json::from_slice(&output.stdout).unwrap_or_else(|_| panic!("{output:?}"));
        let time = |key: &str| json[key].as_str().expect("a time")[11..].to_owned();
        (time("now"), time("until"))
    };
    assert_eq!(asked("5 pm", "7:30 AM"), asked("17:00", "07:30"));
    let dated = |now| tonight(&changed("--now", now)).stdout;
    assert!(dated("2025-01-15 6 pm") == dated("2025-01-15 18:00"));
    refused(&changed("--now", "13 pm"), &["13 pm", "6 pm"]);
    refused(&changed("--slab", "300 °F"), &["300 °F", "-4 °F to 113 °F"]);
}

#[test]
fn where_the_fire_does_not_hold_that_comes_first_with_what_would_help() {
    let mut arguments = COLD_NIGHT.to_vec();
    for (option, value) in [
        ("--low", "-20 °C"),
        ("--high", "-8 °C"),
        ("--slab", "1.8 °C"),
        ("--store", "4 °C"),
        ("--outdoor", "-9 °C"),
    ] {
        let place = arguments.iter().position(|a| *a == option).expect("it") + 1;
        arguments[place] = value;
    }
    let output = tonight(&arguments);
    let screen = String::from_utf8(output.stdout).expect("UTF-8");
    assert_eq!(output.status.code(), Some(1), "{screen}");
    let first = screen.lines().nth(1).expect("a first sentence");
    assert!(
        first.starts_with("Even with the fire the slab holds in only"),
        "{screen}"
    );
    assert!(screen.contains("With a night curtain"), "{screen}");
    let of = |name: &str| {
        let line = screen.lines().find(|line| line.contains(name)).expect(name);
        let count = line.split("holds in ").nth(1).expect("a count");
        count
            .split(' ')
            .next()
            .and_then(|n| n.parse::<u32>().ok())
            .expect("a number")
    };
    assert!(of("If it dies at") <= of("  With the fire"), "{screen}");
}
