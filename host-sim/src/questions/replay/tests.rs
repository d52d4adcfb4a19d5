use controller_core::restart::{Restart, RestartCause};
use controller_core::sensor::{ReadFault, Sample};
use controller_core::settings::Mode;
use controller_core::units::Celsius;
use controller_core::{Command, Event, Switch, trace};

use super::*;
use crate::account::event::{parse_event, settings_note};

/// Keeps every row as text, and what is asked about.
#[derive(Default)]
struct Kept {
    trace: String,
    times_s: Vec<u64>,
    supply: Vec<Sample>,
    events: Vec<Event>,
    stands_ms: u64,
}

impl Sink for Kept {
    fn step(
        &mut self,
        report: &StepReport,
        logged: &Logged<'_>,
        note: &str,
    ) -> Result<(), std::io::Error> {
        let origin = Instant::from_millis(0);
        report
            .row
            .write_csv(origin, note, &mut self.trace)
            .map_err(std::io::Error::other)?;
        self.trace.push('\n');
        self.times_s.push(report.row.now.as_millis() / 1_000);
        self.supply.push(report.row.inputs.supply);
        self.events.push(report.row.event);
        self.stands_ms += logged.stands_ms;
        Ok(())
    }
}

fn run(text: &str, settings: &Settings) -> Result<Kept, ReplayError> {
    let options = reader_options(ReaderOptions::default());
    let reader = LogReader::from_bytes("test.csv", text.as_bytes().to_vec(), &options)?;
    let mut kept = Kept::default();
    replay(reader, settings, &mut kept, &Cancel::new(), &mut |_| {})?;
    Ok(kept)
}

#[track_caller]
fn replayed(text: &str) -> Kept {
    run(text, &Settings::default()).unwrap_or_else(|error| panic!("{error}"))
}

/// One row a minute: supply, return, slab, outdoor.
fn minutes(n: u32, row: impl Fn(u32) -> Option<&'static str>) -> String {
    let mut text = String::from("time_s,supply_c,return_c,slab_c,outdoor_c\n");
    for minute in 0..n {
        if let Some(cells) = row(minute) {
            text += &format!("{},{cells}\n", minute * 60);
        }
    }
    text
}

#[test]
fn a_row_stands_as_fresh_until_the_next() {
    let kept = replayed(&minutes(5, |_| Some("7,5,4,-3")));
    assert_eq!(kept.times_s, (0..=24).map(|n| n * 10).collect::<Vec<_>>());
    assert!(
        kept.supply
            .iter()
            .all(|s| *s == Sample::Value(Celsius::from_milli(7_000)))
    );
    assert_eq!(
        kept.stands_ms, 240_000,
        "reasons' times add up to the log's length"
    );
}

#[test]
fn beyond_one_and_a_half_intervals_readings_are_missing_and_it_is_no_reboot() {
    let kept = replayed(&minutes(60, |m| {
        (!(20..40).contains(&m)).then_some("7,5,4,-3")
    }));
    let missing = kept
        .supply
        .iter()
        .filter(|s| **s == Sample::Failed(ReadFault::Missing))
        .count();
    // 20 min and the interval before it, less the 90 s the last row stands.
    assert_eq!(missing, (21 * 60 - 90) / 10 - 1);
    let boots = kept
        .events
        .iter()
        .filter(|e| matches!(e, Event::Boot(_)))
        .count();
    assert_eq!(boots, 1);
}

#[test]
fn rows_faster_than_the_sensor_cycle_make_it_a_second() {
    let mut text = String::from("time_s,supply_c,return_c,slab_c,outdoor_c\n");
    for second in 0..100 {
        text += &format!("{second},7,5,4,-3\n");
    }
    assert_eq!(replayed(&text).times_s.len(), 100);
}

#[test]
fn a_log_of_one_row_is_one_step() {
    assert_eq!(replayed("time_s,slab_c\n0,4.0\n").times_s, [0]);
}

#[test]
fn replaying_a_trace_gives_the_same_trace_byte_for_byte() {
    // Cells come and go, the slab falls into frost, a boot hold ends between two cycles.
    let text = minutes(2_000, |m| match m % 97 {
        0..=4 => Some("7.25,5,,-3"),
        5..=9 => None,
        _ if m > 900 => Some("6.0625,3.9375,1.9375,-8.5"),
        _ => Some("7.0625,5.1875,3.4375,-2.0625"),
    });
    let first = replayed(&text);
    let as_log = format!("{}\n{}", trace::HEADER, first.trace);
    let second = replayed(&as_log);
    assert!(first.trace.lines().count() > 10_000);
    assert_eq!(first.trace, second.trace);
}

#[test]
fn a_trace_replayed_on_other_settings_goes_on_as_a_log() {
    let first = replayed(&minutes(600, |_| Some("7,5,3.25,-5")));
    let as_log = format!("{}\n{}", trace::HEADER, first.trace);
    let mut raw: RawSettings = *Settings::default().raw();
    raw.sensor_cycle = Duration::from_secs(20);
    let other = run(&as_log, &Settings::check(raw).unwrap()).unwrap();
    let steps = other.times_s.len();
    assert!(
        (1_700..1_900).contains(&steps),
        "{steps} steps in ten hours at 20 s"
    );
}

#[test]
fn a_log_without_a_usable_row_says_so() {
    let error = run("time_s,slab_c\n", &Settings::default())
        .err()
        .expect("nothing to replay");
    assert!(matches!(error, ReplayError::Log(_)));
    assert!(error.to_string().contains("test.csv"), "{error}");
}

#[test]
fn ctrl_c_ends_a_replay() {
    let options = reader_options(ReaderOptions::default());
    let text = minutes(100, |_| Some("7,5,4,-3"));
    let reader = LogReader::from_bytes("test.csv", text.into_bytes(), &options).unwrap();
    let cancel = Cancel::new();
    cancel.request();
    let ended = replay(
        reader,
        &Settings::default(),
        &mut Kept::default(),
        &cancel,
        &mut |_| {},
    );
    assert!(matches!(ended, Err(ReplayError::Cancelled)));
}

// --- Events ------------------------------------------------------------------------------------

#[test]
fn events_read_back_as_written() {
    let boot = "boot watchdog boots=5 post_run=1 settings_lost=0 jitter=17";
    let expected = Restart {
        cause: RestartCause::Watchdog,
        boots_last_hour: 5,
        post_run_owed: true,
        settings_lost: false,
        jitter_s: 17,
    };
    assert_eq!(parse_event(boot), Ok(Recorded::Boot(expected)));
    assert_eq!(
        parse_event("command pump=on"),
        Ok(Recorded::Command(Command::Pump(Switch::On)))
    );
    assert_eq!(
        parse_event("command mode=drained"),
        Ok(Recorded::Command(Command::Mode(Mode::Drained)))
    );
    assert_eq!(
        parse_event("command acknowledge"),
        Ok(Recorded::Command(Command::Acknowledge))
    );
    assert_eq!(parse_event(""), Ok(Recorded::Nothing));
    for wrong in [
        "reboot",
        "boot lightning",
        "boot power_on boots=x",
        "command pump=maybe",
        "command dance",
    ] {
        assert!(parse_event(wrong).is_err(), "{wrong}");
    }
}

#[test]
fn a_settings_event_carries_what_changed() {
    let before = Settings::default();
    let mut raw = *before.raw();
    raw.supply_limited = false;
    raw.slab_set = Celsius::from_milli(5_000);
    let note = settings_note(before.raw(), &raw);
    assert_eq!(note, "slab_set=327680 supply_limited=0");
    let Ok(recorded) = parse_event(&format!("settings {note}")) else {
        panic!("{note}")
    };
    assert_eq!(recorded.settings(&before).map(|s| *s.raw()), Some(raw));
}

#[test]
fn a_trace_that_starts_late_keeps_its_own_zero() {
    let first = replayed(&minutes(30, |_| Some("7,5,4,-3")).replace("\n0,", "\n0.826,"));
    assert!(first.trace.starts_with("0.826,"), "{}", &first.trace[..20]);
    let second = replayed(&format!("{}\n{}", trace::HEADER, first.trace));
    assert_eq!(first.trace, second.trace);
}
