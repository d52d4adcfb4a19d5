use std::fs;

use super::*;

fn at(text: &str) -> ZonedDateTime {
    format!("{text}+01:00[+01:00]").parse().expect("a time")
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("a folder");
    let mut names: Vec<String> = entries
        .map(|entry| {
            entry
                .expect("an entry")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    names.sort();
    names
}

fn keep(log: &mut KeptLog, row: &str, time: &str) {
    log.row(row, &at(time)).expect("kept");
}

#[test]
fn a_month_has_a_file_and_so_have_other_columns() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut log = KeptLog::open(folder.path(), 12).expect("a folder");
    log.firmware("version=1");
    log.begin("time_s,slab_c").expect("kept");
    keep(&mut log, "1,3.5", "2026-01-31T23:59:55");
    log.moved(300).expect("kept");
    keep(&mut log, "301,3.5", "2026-02-01T00:00:05");
    // A clock that was set back begins no older file.
    keep(&mut log, "311,3.5", "2026-01-31T23:00:00");
    drop(log);
    // Another run, with a unit that has more to say.
    let mut log = KeptLog::open(folder.path(), 12).expect("a folder");
    assert_eq!((log.last_ms(), log.offset_ms()), (Some(311_000), 300_000));
    log.begin("time_s,slab_c,air_c").expect("kept");
    keep(&mut log, "321,3.5,8", "2026-02-01T00:00:25");
    drop(log);
    let mut log = KeptLog::open(folder.path(), 12).expect("a folder");
    log.begin("time_s,slab_c").expect("kept");
    keep(&mut log, "331,3.5", "2026-02-01T00:00:35");
    assert_eq!(
        names(folder.path()),
        [
            "log-2026-01.csv",
            "log-2026-02-2.csv",
            "log-2026-02-3.csv",
            "log-2026-02.csv"
        ]
    );
    let text = |name: &str| fs::read_to_string(folder.path().join(name)).expect("a log");
    assert_eq!(
        text("log-2026-02.csv"),
        "# firmware version=1\ntime_s,slab_c,time\n# from here on time_s is the unit's plus 300 s\n\
         301,3.5,2026-02-01T00:00:05.000+01:00\n311,3.5,2026-02-01T00:00:05.001+01:00\n"
    );
    assert!(text("log-2026-02-2.csv").starts_with("time_s,slab_c,air_c,time\n# from here on"));
    assert!(
        text("log-2026-01.csv")
            .ends_with("+01:00\n# from here on time_s is the unit's plus 300 s\n")
    );
}

#[test]
fn the_newest_months_stay_whatever_the_clock_says() {
    let folder = tempfile::tempdir().expect("a folder");
    let note = folder.path().join("log-notes.csv");
    fs::write(&note, "mine").expect("written");
    let mut log = KeptLog::open(folder.path(), 3).expect("a folder");
    log.begin("time_s").expect("kept");
    for (number, month) in ["2025-10", "2025-11", "2025-12", "2026-01", "2037-05"]
        .iter()
        .enumerate()
    {
        keep(
            &mut log,
            &number.to_string(),
            &format!("{month}-05T12:00:00"),
        );
    }
    assert_eq!(
        names(folder.path()),
        [
            "log-2025-12.csv",
            "log-2026-01.csv",
            "log-2037-05.csv",
            "log-notes.csv"
        ]
    );
}

#[test]
fn what_the_disk_refuses_is_held_and_written_later() {
    let folder = tempfile::tempdir().expect("a folder");
    let inner = folder.path().join("house");
    fs::create_dir(&inner).expect("a folder");
    let mut log = KeptLog::open(&inner, 12).expect("a folder");
    let state = log.shared();
    let fault = || state.lock().expect("a state").fault.clone();
    log.begin("time_s,slab_c").expect("kept");
    keep(&mut log, "1,3.5", "2026-01-05T12:00:00");
    assert_eq!(fault(), None);
    // The next month's file cannot be made.
    let away = folder.path().join("away");
    fs::rename(&inner, &away).expect("moved");
    for second in 0..50 {
        keep(
            &mut log,
            &format!("{},3.5", 11 + second),
            &format!("2026-02-01T12:00:{second:02}"),
        );
    }
    assert!(fault().expect("a fault").contains("cannot be written"));
    fs::rename(&away, &inner).expect("moved");
    keep(&mut log, "99,3.5", "2026-02-01T12:01:00");
    assert_eq!(fault(), None);
    let text = fs::read_to_string(inner.join("log-2026-02.csv")).expect("a log");
    assert_eq!(text.lines().count(), 52);
    assert!(
        text.ends_with("\n99,3.5,2026-02-01T12:01:00.000+01:00\n"),
        "{text}"
    );
    assert_eq!(state.lock().expect("a state").lost, 0);
}

#[test]
fn a_disk_that_stays_full_costs_the_oldest_rows_and_they_are_counted() {
    let folder = tempfile::tempdir().expect("a folder");
    let inner = folder.path().join("house");
    fs::create_dir(&inner).expect("a folder");
    let mut log = KeptLog::open(&inner, 12).expect("a folder");
    let state = log.shared();
    fs::remove_dir(&inner).expect("gone");
    log.begin("time_s").expect("kept");
    let time = at("2026-01-05T12:00:00");
    for number in 0..HELD + 5 {
        log.held
            .push_back(Line::Row(number.to_string(), time.clone()));
    }
    log.row("1", &time).expect("kept");
    assert_eq!(state.lock().expect("a state").lost, 1);
    fs::create_dir(&inner).expect("back");
    log.row("2", &time).expect("kept");
    let text = fs::read_to_string(inner.join("log-2026-01.csv")).expect("a log");
    assert!(text.starts_with("time_s,time\n2,"), "{:.60}", text);
}
