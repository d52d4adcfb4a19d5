use std::sync::{Arc, Mutex, mpsc};

use super::*;

fn message(id: u64, kind: Kind, text: &str) -> Message {
    Message {
        id,
        at: "2026-01-05T17:00:00+01:00[+01:00]".parse().expect("a time"),
        kind,
        condition: kind.name().to_owned(),
        stage: Stage::Begins,
        text: text.to_owned(),
        remedy: "Do this.".to_owned(),
    }
}

#[test]
fn several_messages_in_one_keep_their_times_and_the_most_urgent_kind() {
    let one = [message(7, Kind::Wood, "Light the fire.")];
    let parcel = Parcel::new("Hillside", &one).expect("a parcel");
    assert_eq!(parcel.text, "Light the fire.");
    assert_eq!(parcel.sentences(), "Light the fire. Do this.");
    assert_eq!(parcel.time, "2026-01-05T17:00:00+01:00");
    let several = [
        message(7, Kind::Wood, "Light the fire."),
        message(8, Kind::Alarm, "No flow."),
        message(9, Kind::SignOfLife, "Nothing is wrong."),
    ];
    let parcel = Parcel::new("Hillside", &several).expect("a parcel");
    assert_eq!((parcel.id, parcel.kind), (9, Kind::Alarm));
    assert_eq!(
        parcel.sentences(),
        "3 messages.\n17:00 Light the fire. Do this.\n17:00 No flow. Do this.\n17:00 Nothing is wrong. Do this."
    );
    assert_eq!(Parcel::new("Hillside", &[]), None);
}

#[test]
fn a_flood_goes_out_together_when_its_time_has_come() {
    let mut queue = Queue::new(3);
    let begin = Instant::now();
    let at = |minutes: u64| begin + Duration::from_secs(60 * minutes);
    let mut out = Vec::new();
    for minute in 0..130 {
        if minute < 10 {
            queue
                .waiting
                .push_back(message(minute, Kind::Alarm, "No flow."));
        }
        let count = queue.due(at(minute));
        if count > 0 {
            let ids = queue.sent(count, at(minute));
            out.push((minute, ids));
        }
    }
    assert_eq!(
        out,
        [
            (0, vec![0]),
            (1, vec![1]),
            (2, vec![2]),
            (60, (3..10).collect::<Vec<_>>()),
        ]
    );
}

#[test]
fn a_failure_is_tried_again_less_and_less_often() {
    let mut queue = Queue::new(20);
    queue.waiting.push_back(message(1, Kind::Alarm, "No flow."));
    let begin = Instant::now();
    let mut tries = Vec::new();
    for second in 0..4_000 {
        let now = begin + Duration::from_secs(second);
        if queue.due(now) > 0 {
            tries.push(second);
            queue.failed(now);
        }
    }
    assert_eq!(
        tries,
        [
            0, 5, 15, 35, 75, 155, 315, 635, 1_235, 1_835, 2_435, 3_035, 3_635
        ]
    );
}

/// Fails so often, then takes what it is given.
struct Flaky {
    failures: u32,
    taken: Arc<Mutex<Vec<u64>>>,
}

impl Deliver for Flaky {
    fn deliver(&mut self, parcel: &Parcel) -> Result<(), String> {
        if self.failures > 0 {
            self.failures -= 1;
            return Err("nobody there".to_owned());
        }
        self.taken.lock().expect("a list").push(parcel.id);
        Ok(())
    }
}

#[test]
fn what_arrives_is_reported_in_order_and_once() {
    let taken = Arc::new(Mutex::new(Vec::new()));
    let (messages, inbox) = mpsc::channel();
    let (reports, reported) = mpsc::channel();
    let hook = Hook {
        name: "phone".to_owned(),
        about: vec![Kind::Alarm],
        most_per_hour: 20,
        way: Box::new(Flaky {
            failures: 1,
            taken: Arc::clone(&taken),
        }),
    };
    let thread = std::thread::spawn(move || {
        run(hook, "Hillside", &inbox, &|report| {
            reports.send(report).expect("heard")
        });
    });
    messages
        .send(message(0, Kind::Alarm, "Of long ago."))
        .expect("sent");
    for id in 1..=3 {
        let now = jiff::ZonedDateTime::now();
        let message = Message {
            at: now,
            ..message(id, Kind::Alarm, "No flow.")
        };
        messages.send(message).expect("sent");
    }
    let reports: Vec<Report> = reported.iter().take(4).collect();
    assert_eq!(reports[0], Report::Failed("nobody there".to_owned()));
    let sent: Vec<Report> = (1..=3).map(|id| Report::Sent(vec![id])).collect();
    assert_eq!(reports[1..], sent);
    drop(messages);
    thread.join().expect("ends when nobody sends");
    assert_eq!(*taken.lock().expect("a list"), [1, 2, 3]);
}

#[test]
fn a_command_gets_the_message_and_its_failure_is_told() {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("said");
    let parcel = Parcel::new("Hillside", &[message(7, Kind::Alarm, "No flow.")]).expect("a parcel");
    let script = format!(
        "cat > '{0}'; printf '\\n%s\\n' \"$MESSAGE_KIND $MESSAGE_STAGE $MESSAGE_TEXT\" >> '{0}'",
        file.display()
    );
    let mut command = Command {
        program: "/bin/sh".to_owned(),
        arguments: vec!["-c".to_owned(), script],
    };
    command.deliver(&parcel).expect("delivered");
    let said = std::fs::read_to_string(&file).expect("said");
    let (json, words) = said.split_once('\n').expect("two lines");
    let json: serde_json::Value = serde_json::from_str(json).expect("JSON");
    assert_eq!(
        (json["id"].as_u64(), json["house"].as_str()),
        (Some(7), Some("Hillside"))
    );
    assert_eq!(words, "alarm begins No flow. Do this.\n");
    command.arguments = vec!["-c".to_owned(), "exit 3".to_owned()];
    let error = command.deliver(&parcel).expect_err("failed");
    assert!(error.contains("exit status: 3"), "{error}");
    command.program = "/nowhere".to_owned();
    let error = command.deliver(&parcel).expect_err("failed");
    assert!(error.starts_with("/nowhere: "), "{error}");
}
