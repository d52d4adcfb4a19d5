use super::*;
use proptest::prelude::*;

const HEADER: &str = "time_s,slab_c,event";

fn hear(capture: &mut Capture, lines: &[&str]) -> Vec<Step> {
    lines
        .iter()
        .flat_map(|line| capture.line(line).expect("the same columns"))
        .collect()
}

fn started() -> Capture {
    after(None, 0)
}

/// A file gone on with, and a unit that fits it.
fn after(last_ms: Option<u64>, offset_ms: u64) -> Capture {
    let mut capture = Capture::after(Some(HEADER), last_ms, offset_ms);
    assert_eq!(hear(&mut capture, &["columns time_s,slab_c,event"]), []);
    capture
}

fn rows(steps: &[Step]) -> Vec<&str> {
    steps
        .iter()
        .filter_map(|step| match step {
            Step::Row(row) => Some(row.as_str()),
            _ => None,
        })
        .collect()
}

#[test]
fn rows_wait_for_the_columns_and_are_written_byte_for_byte() {
    let mut capture = Capture::default();
    assert_eq!(
        hear(&mut capture, &["hello; say help", "row 1.25,3.5,"]),
        []
    );
    let steps = hear(
        &mut capture,
        &["columns time_s,slab_c,event", "row 11.25,3.4921875,"],
    );
    assert_eq!(
        steps,
        [
            Step::Header(HEADER.to_owned()),
            Step::Row("1.25,3.5,".to_owned()),
            Step::Row("11.25,3.4921875,".to_owned()),
        ]
    );
    assert_eq!(
        hear(&mut capture, &["columns time_s,slab_c,event"]),
        [],
        "said again"
    );
    assert_eq!(capture.finish().rows, 2);
}

#[test]
fn without_columns_rows_are_counted_not_guessed() {
    let mut capture = Capture::default();
    for n in 0..100 {
        assert_eq!(hear(&mut capture, &[&format!("row {n},1,")]), []);
    }
    let counts = capture.finish();
    assert_eq!((counts.rows, counts.early_rows), (0, 100));
}

#[test]
fn after_a_reconnection_rows_wait_until_it_is_the_same_kind_of_unit() {
    let mut capture = started();
    hear(&mut capture, &["row 1,3,"]);
    capture.connected();
    assert_eq!(hear(&mut capture, &["row 11,3,", "row 21,3,"]), []);
    let steps = hear(&mut capture, &["columns time_s,slab_c,event"]);
    assert_eq!(rows(&steps), ["11,3,", "21,3,"]);
    capture.connected();
    hear(&mut capture, &["row 31,3,"]);
    assert!(capture.line("columns time_s,slab_f,event").is_err());
    assert_eq!(capture.finish().early_rows, 1);
}

#[test]
fn other_columns_are_refused() {
    let mut capture = started();
    let error = capture.line("columns time_s,event").unwrap_err();
    assert_eq!(
        (error.found.as_str(), error.expected.as_str()),
        ("time_s,event", HEADER)
    );
    assert!(Capture::default().line("columns a,b").is_err());
}

#[test]
fn rows_that_do_not_fit_are_dropped_and_counted() {
    let mut capture = started();
    let steps = hear(
        &mut capture,
        &[
            "row 1,2",
            "row 1,2,,3",
            "row x,2,",
            "row -1,2,",
            "row ,2,",
            "row 1.2345,2,",
            "row",
        ],
    );
    assert_eq!(steps, []);
    assert_eq!(capture.finish().misfit_rows, 7);
}

#[test]
fn times_that_go_back_at_a_boot_are_moved_on_by_whole_seconds() {
    let mut capture = started();
    let steps = hear(
        &mut capture,
        &[
            "row 1000.5,3,",
            "row 1010.5,3,",
            "row 700.25,3,boot power_on boots=1 post_run=0",
            "row 710.25,3,",
        ],
    );
    assert_eq!(
        steps[2..],
        [
            Step::Moved(311),
            Step::Boot("power_on".to_owned()),
            Step::Row("1011.250,3,boot power_on boots=1 post_run=0".to_owned()),
            Step::Row("1021.250,3,".to_owned()),
        ]
    );
    let counts = capture.finish();
    assert_eq!(
        (counts.times_moved, counts.gaps),
        (1, 0),
        "a boot is no gap"
    );
    assert_eq!(counts.boots["power_on"], 1);
    assert_eq!(
        (counts.first_s, counts.last_s),
        (Some(1000.5), Some(1021.25))
    );
}

#[test]
fn a_file_is_gone_on_with_where_it_ended() {
    let mut capture = after(Some(1_021_250), 311_000);
    assert_eq!(
        hear(&mut capture, &["row 720,3,"]),
        [Step::Row("1031,3,".to_owned())]
    );
}

#[test]
fn gaps_are_measured_against_the_usual_interval() {
    let mut capture = started();
    let lines: Vec<_> = (0..20).map(|n| format!("row {},3,", 10 * n)).collect();
    let lines: Vec<_> = lines.iter().map(String::as_str).collect();
    hear(&mut capture, &lines);
    assert_eq!(
        hear(&mut capture, &["row 205,3,", "row 265,3,", "row 275,3,"]),
        [
            Step::Row("205,3,".to_owned()),
            Step::Gap(60),
            Step::Row("265,3,".to_owned()),
            Step::Row("275,3,".to_owned()),
        ]
    );
    let counts = capture.finish();
    assert_eq!((counts.gaps, counts.longest_gap_s), (1, 60.0));
}

#[test]
fn the_units_losses_are_those_since_listening_began() {
    let mut capture = started();
    let heard = |n: u32| format!("status lines=3 wrong_checksum=0 lines_lost={n} log_rows=9");
    for (n, sum) in [(7, 0), (9, 2), (9, 2), (1, 3)] {
        hear(&mut capture, &["status time_s=5 mode=winter", &heard(n)]);
        assert_eq!(capture.counts().lines_lost_by_unit, sum);
    }
}

proptest! {
    #[test]
    fn whatever_comes_times_in_the_file_grow(
        times in proptest::collection::vec((0_u64..3_000_000, any::<bool>()), 1..200)
    ) {
        let mut capture = started();
        let mut written = Vec::new();
        for (ms, boot) in &times {
            let event = if *boot { "boot watchdog boots=1" } else { "" };
            let line = format!("row {},3,{event}", Seconds(*ms));
            let steps = hear(&mut capture, &[&line]);
            written.extend(rows(&steps).iter().map(|row| millis(row.split(',').next().unwrap()).unwrap()));
        }
        prop_assert_eq!(written.len(), times.len(), "no row is lost");
        prop_assert!(written.windows(2).all(|pair| pair[0] < pair[1]), "{:?}", written);
    }

    #[test]
    fn no_line_upsets_it(line in "(row|columns|status|hello|log|ok)? ?[ -~]{0,60}") {
        let _ = started().line(&line);
        let _ = Capture::default().line(&line);
    }
}

#[test]
fn outputs_that_rest_are_told_when_that_changes() {
    let mut capture = started();
    let said = |capture: &mut Capture, line| hear(capture, &[line]);
    assert_eq!(
        said(&mut capture, "status time_s=5 held=0 version=1"),
        [Step::Held(false)]
    );
    assert_eq!(said(&mut capture, "status time_s=6 held=0 version=1"), []);
    assert_eq!(said(&mut capture, "held outputs rest"), [Step::Held(true)]);
    assert_eq!(said(&mut capture, "status time_s=7 held=1 version=1"), []);
    assert_eq!(said(&mut capture, "status wood=light wood_kg=5"), []);
    assert_eq!(
        said(&mut capture, "status time_s=8 held=0 version=1"),
        [Step::Held(false)]
    );
}
