use std::fs;

use super::*;
use crate::watch::message::{Kind, Stage};

fn message(id: u64, at: &str) -> Message {
    Message {
        id,
        at: format!("{at}+01:00[+01:00]").parse().expect("a time"),
        kind: Kind::Alarm,
        condition: "no_flow".to_owned(),
        stage: Stage::Begins,
        text: "No flow.".to_owned(),
        remedy: String::new(),
    }
}

fn ids(journal: &Journal, hook: &str) -> Vec<u64> {
    let now = "2026-01-05T20:00:00+01:00".parse().expect("a time");
    journal
        .waiting(hook, now)
        .iter()
        .map(|message| message.id)
        .collect()
}

#[test]
fn what_waits_survives_and_what_was_sent_is_not_sent_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("messages.jsonl");
    let mut journal = Journal::open(&path).expect("a journal");
    journal.told(&message(1, "2026-01-05T12:00:00"));
    journal.hook("phone");
    assert!(
        ids(&journal, "phone").is_empty(),
        "told before there was a hook"
    );
    for id in 2..=4 {
        journal.told(&message(id, "2026-01-05T13:00:00"));
    }
    journal.sent("phone", &[2]);
    assert_eq!(ids(&journal, "phone"), [3, 4]);
    let other = Journal::open(&path).expect_err("in use");
    assert!(other.to_string().contains("another program"), "{other}");
    drop(journal);
    // The power went in the middle of a line.
    let mut text = fs::read_to_string(&path).expect("text");
    text.push_str("{\"sent\":{\"name\":\"pho");
    fs::write(&path, &text).expect("written");
    let mut journal = Journal::open(&path).expect("a journal");
    journal.hook("phone");
    journal.hook("bell");
    assert_eq!(ids(&journal, "phone"), [3, 4]);
    assert!(ids(&journal, "bell").is_empty());
    journal.sent("phone", &[3, 4]);
    journal.told(&message(5, "2026-01-05T14:00:00"));
    drop(journal);
    let journal = Journal::open(&path).expect("a journal");
    assert_eq!(ids(&journal, "phone"), [5]);
    assert_eq!(ids(&journal, "bell"), [5]);
    assert_eq!(journal.messages().count(), 5);
    assert!(journal.is_whole());
}

#[test]
fn nobody_is_told_what_is_a_day_old() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut journal = Journal::open(&folder.path().join("m")).expect("a journal");
    journal.hook("phone");
    journal.told(&message(1, "2026-01-04T19:59:00"));
    journal.told(&message(2, "2026-01-04T20:01:00"));
    // By a clock that was ahead.
    journal.told(&message(3, "2027-01-01T00:00:00"));
    assert_eq!(ids(&journal, "phone"), [2, 3]);
}

#[test]
fn a_long_journal_is_shortened_and_loses_nothing_that_waits() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("messages.jsonl");
    let mut journal = Journal::open(&path).expect("a journal");
    journal.hook("phone");
    let long = "x".repeat(90_000);
    for id in 1..=60 {
        journal.told(&Message {
            text: long.clone(),
            ..message(id, "2026-01-05T13:00:00")
        });
        if id % 2 == 0 {
            journal.sent("phone", &[id]);
        }
    }
    assert!(fs::metadata(&path).expect("a file").len() < MOST_BYTES + 2_000_000);
    let odd: Vec<u64> = (1..=60).filter(|id| id % 2 == 1).collect();
    assert_eq!(ids(&journal, "phone"), odd);
    assert!(Journal::open(&path).is_err(), "the lock went over");
    drop(journal);
    let journal = Journal::open(&path).expect("a journal");
    assert_eq!(ids(&journal, "phone"), odd);
}

#[test]
fn a_file_that_is_no_journal_is_left_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("messages.jsonl");
    fs::write(&path, "a note\n").expect("written");
    let error = Journal::open(&path).expect_err("no journal").to_string();
    assert!(
        error.contains("line 1: found no message of this program"),
        "{error}"
    );
    assert_eq!(fs::read_to_string(&path).expect("text"), "a note\n");
}
