use super::*;
use crate::present::drill::table;

fn drill(text: &str) -> Drill {
    parse(text, "test").expect("a drill").remove(0)
}

fn outcome(text: &str) -> Outcome {
    run(&drill(text), &mut |_| Ok(())).expect("it runs")
}

const COLD: &str = r#"
[[drill]]
name = "cold"
situation = "Slab 4 °C."
length = "1 h"
[[drill.event]]
what = "the slab falls"
at = "40 min"
slab = "2.1 °C"
"#;

/// The same with something to require.
const COLD_ON_THE_BENCH: &str = r#"
[[drill]]
name = "cold"
situation = "Slab 4 °C."
length = "1 h"
[[drill.event]]
what = "the slab falls"
at = "40 min"
slab = "2.1 °C"
[[drill.expect]]
what = "it runs"
that = "circulator = on"
within = "70 s"
"#;

fn cold(expectation: &str) -> Verdict {
    let text = format!("{COLD}[[drill.expect]]\nwhat = \"it\"\n{expectation}");
    outcome(&text).verdicts.remove(0)
}

#[test]
fn every_built_in_drill_holds() {
    let drills = built_in().expect("the built-in drills");
    assert!(drills.len() >= 75, "{}", drills.len());
    let failed: Vec<_> = drills
        .iter()
        .flat_map(|drill| {
            let outcome = run(drill, &mut |_| Ok(())).expect("it runs");
            let bad = outcome
                .verdicts
                .into_iter()
                .filter(|verdict| !verdict.holds);
            bad.map(|verdict| (drill.name.clone(), verdict))
                .collect::<Vec<_>>()
        })
        .collect();
    assert!(failed.is_empty(), "{failed:#?}");
}

/// A house left alone in hard frost, with a requirement that holds all the same.
const LEFT_ALONE: &str = r#"
[[drill]]
name = "left-alone"
situation = "Nothing runs at -25 °C."
length = "2 d"
slab = "2 °C"
outdoor = "-25 °C"
settings = { mode = "drained" }
house = { store = "6 °C" }
[[drill.event]]
what = "the night begins"
at = "0 s"
[[drill.expect]]
what = "the circulator rests"
that = "circulator = off"
stays = true
"#;

#[test]
fn a_house_that_freezes_fails_whatever_its_file_asks() {
    let outcome = outcome(LEFT_ALONE);
    assert!(outcome.verdicts[0].holds, "{:?}", outcome.verdicts);
    assert!(!outcome.holds());
    let ending = outcome.ending.expect("a house");
    let frozen_ms = ending.frozen_ms.expect("ice");
    assert!((3_600_000..172_800_000).contains(&frozen_ms), "{frozen_ms}");
    assert!(ending.slab_min_c < -2.0 && ending.slab_end_c < 0.0 && ending.air_min_c < -10.0);
    let drill = drill(LEFT_ALONE);
    let text = table(&[(&drill, &outcome)], crate::files::quantity::Units::Us);
    assert!(
        text.contains("Water froze solid after") && text.contains("1 drill FAIL"),
        "{text}"
    );
    assert!(!text.contains("°C at the end"), "{text}");
}

#[test]
fn a_house_that_holds_says_how_it_ends() {
    let mild = LEFT_ALONE.replace("\"-25 °C\"", "\"3 °C\"");
    let outcome = outcome(&mild);
    assert!(outcome.holds(), "{:?}", outcome.verdicts);
    let text = table(
        &[(&drill(&mild), &outcome)],
        crate::files::quantity::Units::Si,
    );
    assert!(text.contains("at the end; coldest house air"), "{text}");
    assert!(
        self::outcome(COLD_ON_THE_BENCH).ending.is_none(),
        "a bench has no house"
    );
}

#[test]
fn names_are_plain_and_met_once() {
    let drills = built_in().expect("the built-in drills");
    let mut names: Vec<_> = drills.iter().map(|drill| drill.name.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), drills.len());
    for name in names {
        assert!(
            name.chars()
                .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-'),
            "{name}"
        );
    }
}

#[test]
fn what_comes_in_time_holds_and_is_measured_from_the_event() {
    let verdict = cold(
        r#"that = "circulator = on and reason = frost"
within = "70 s""#,
    );
    assert!(verdict.holds);
    // The event falls just after a read: the second read of the new value is 20 s away.
    assert_eq!(
        (verdict.measured.as_str(), verdict.measured_value),
        ("20 s", Some(20.0))
    );
}

#[test]
fn what_comes_late_early_or_not_at_all_fails() {
    let late = cold(
        r#"that = "circulator = on"
within = "15 s""#,
    );
    assert!(!late.holds);
    let early = cold(
        r#"that = "circulator = on"
not_before = "30 s"
within = "70 s""#,
    );
    assert!(
        !early.holds && early.measured.contains("too early"),
        "{early:?}"
    );
    let never = cold(
        r#"that = "alarms has overheat"
within = "10 min""#,
    );
    assert!(
        !never.holds && never.measured.starts_with("not in"),
        "{never:?}"
    );
    let no_start = cold(
        r#"when = "alarms has overheat"
that = "circulator = off"
within = "10 min""#,
    );
    assert!(
        !no_start.holds && no_start.measured == "it never came to it",
        "{no_start:?}"
    );
}

#[test]
fn what_must_stay_or_never_be_is_seen_when_it_breaks() {
    let stays = cold(
        r#"that = "circulator = off"
stays = true"#,
    );
    assert!(
        !stays.holds && stays.measured == "broken after 20 s",
        "{stays:?}"
    );
    let never = cold(
        r#"that = "circulator = on"
never = true"#,
    );
    assert!(
        !never.holds && never.measured == "broken after 20 s",
        "{never:?}"
    );
    let for_a_while = cold(
        r#"that = "circulator = on"
never = true
lasting = "15 s""#,
    );
    assert!(for_a_while.holds, "{for_a_while:?}");
}

#[test]
fn lengths_and_counts() {
    // From the event to the end: 20 min less the reads, in one piece.
    let longest = cold(
        r#"that = "circulator = on"
longest = "19 min 50 s""#,
    );
    assert_eq!(
        (longest.measured_value, longest.holds),
        (Some(1_180.0), true)
    );
    let shorter = cold(
        r#"that = "circulator = on"
longest = "10 min""#,
    );
    assert!(!shorter.holds);
    let once = cold(
        r#"that = "circulator = on"
at_least = 1
at_most = 1"#,
    );
    assert!(once.holds && once.measured == "1");
    let twice = cold(
        r#"that = "circulator = on"
at_least = 2"#,
    );
    assert!(!twice.holds);
}

#[test]
fn the_same_drill_gives_the_same_steps() {
    let drills = built_in().expect("the built-in drills");
    let noisy = drills
        .iter()
        .find(|d| d.name == "frames-fail-their-checksum")
        .expect("it");
    let trace = || {
        let mut rows = Vec::new();
        run(noisy, &mut |step| {
            rows.push(step.report.row.clone());
            Ok(())
        })
        .expect("it runs");
        rows
    };
    assert_eq!(trace(), trace());
}

#[track_caller]
fn refused(text: &str, words: &[&str]) {
    let error = parse(text, "mine.toml").expect_err("refused").to_string();
    for word in words {
        assert!(error.contains(word), "{word}: {error}");
    }
}

#[test]
fn a_wrong_file_is_refused_with_the_place() {
    let with = |from: &str, to: &str| {
        let expectation =
            "[[drill.expect]]\nwhat = \"it\"\nthat = \"circulator = on\"\nwithin = \"70 s\"\n";
        format!("{COLD}{expectation}").replace(from, to)
    };
    assert!(parse(&with("", ""), "mine.toml").is_ok());
    refused(&with("\"40 min\"", "40"), &["mine.toml", "line 8", "at"]);
    refused(&with("2.1 °C", "2.1"), &["line 9", "unit"]);
    refused(&with("slab =", "slap ="), &["line 9", "slap"]);
    refused(
        &with("circulator = on", "circulater = on"),
        &["circulater", "circulator"],
    );
    refused(
        &with("circulator = on", "circulator is on"),
        &["is on", "has or lacks"],
    );
    refused(&with("within = \"70 s\"", ""), &["cold", "exactly one"]);
    refused(
        &with("within", "event = 2\nwithin"),
        &["event = 2", "1 to 1"],
    );
    refused(
        &with("slab = ", "sensor = { slab = \"broken\" }\n#"),
        &["broken", "open, short"],
    );
    refused(
        &with("slab = ", "command = \"pump=maybe\"\n#"),
        &["maybe", "auto, on or off"],
    );
    refused(
        &with("length", "settings = { slab_set = \"90 °C\" }\nlength"),
        &["cold", "slab_set"],
    );
    refused(
        &with("length", "house = { store = \"8 °C\" }\nlength"),
        &["simulated house"],
    );
    refused(&with("at = \"40 min\"", ""), &["no time"]);
    let twice = format!("{0}{0}", with("", ""));
    refused(&twice, &["found twice"]);
}

#[test]
fn times_are_read_and_said_as_people_say_them() {
    let length = |text: &str| {
        drill(&format!(
            "{}[[drill.expect]]\nwhat = \"it\"\nthat = \"circulator = on\"\nwithin = \"{text}\"\n",
            COLD
        ))
        .expect[0]
            .within
    };
    assert_eq!(length("2 h 30 min"), Some(Span(9_000_000)));
    assert_eq!(length("0.5 min"), Some(Span(30_000)));
    let words: Vec<_> = [0, 70_000, 120_000, 876_000, 4_200_000, 604_800_000]
        .map(|ms| Span(ms).words())
        .into();
    assert_eq!(
        words,
        ["0 s", "70 s", "2 min", "14 min 36 s", "1 h 10 min", "7 d"]
    );
}
