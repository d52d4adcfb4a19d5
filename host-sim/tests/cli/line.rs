//! `host-sim listen` and `host-sim send-settings` as a person runs them, with the firmware itself
//! behind a pseudo-terminal.

use std::fs::File;
use std::io::Write as _;
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};

use crate::support::bench::{Bench, contents, pseudo_terminal, wait_for};
use crate::support::{Folder, host_sim, text};
use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use serde_json::Value;

#[track_caller]
fn refused(args: &[&str], parts: &[&str]) {
    let out = host_sim(args);
    let message = String::from_utf8_lossy(&out.stderr);
    assert_eq!(out.status.code(), Some(2), "{message}");
    assert!(out.stdout.is_empty());
    for part in parts {
        assert!(message.contains(part), "{part:?} is not in: {message}");
    }
}

#[track_caller]
fn done(out: &Output) -> String {
    let message = String::from_utf8_lossy(&out.stderr);
    assert_eq!(out.status.code(), Some(0), "{message}");
    String::from_utf8_lossy(&out.stdout).into_owned()
}

/// `listen` in the background, with what it says in a file.
struct Listening(Child);

impl Listening {
    fn start(args: &[&str], said: &Path) -> Self {
        let child = Command::new(env!("CARGO_BIN_EXE_host-sim"))
            .args(args)
            .stdout(Stdio::piped())
            .stderr(File::create(said).expect("a file for messages"))
            .spawn()
            .expect("host-sim runs");
        Self(child)
    }

    /// Ctrl-C.
    fn stop(self) -> Output {
        let pid = Pid::from_raw(self.0.id().try_into().expect("a process id"));
        kill(pid, Signal::SIGINT).expect("it runs");
        self.0.wait_with_output().expect("it ends")
    }
}

fn lines(path: &Path) -> usize {
    contents(path).lines().count()
}

#[test]
fn listening_survives_noise_a_pulled_cable_and_a_boot() {
    let folder = Folder::new();
    let (port, log, said) = (
        folder.path("port"),
        folder.path("log.csv"),
        folder.path("said"),
    );
    let mut bench = Bench::new(port.clone(), 30);
    let args = ["listen", text(&port), "--out", text(&log), "--json"];
    let listening = Listening::start(&args, &said);
    wait_for("rows", || lines(&log) > 40);
    bench.noise(b"row 99999,1,2\r\nrow 5,5~0000\r\n\xFF\xFE\x00\r\n");
    bench.noise(&[b'x'; 5_000]);
    bench.noise(b"\r\nrow 123.5,4.0");
    bench.unplug();
    wait_for("the message", || {
        contents(&said).contains("the port went away")
    });
    bench.reboot();
    let before = lines(&log);
    bench.plug();
    wait_for("the message", || {
        contents(&said).contains("the port is back")
    });
    wait_for("more rows", || lines(&log) > before + 40);
    bench.reboot();
    wait_for("a boot", || {
        contents(&said).contains("the unit has booted: power_on")
    });
    let before = lines(&log);
    wait_for("more rows", || lines(&log) > before + 40);
    let out = listening.stop();
    let summary: Value = serde_json::from_str(&done(&out)).expect("one JSON object");
    assert_eq!(summary["replayable"], true, "{summary}");
    assert_eq!(summary["reconnections"], 1);
    assert!(
        summary["boots"]["power_on"].as_u64() >= Some(1),
        "{summary}"
    );
    assert!(
        summary["lines"]["no_checksum"].as_u64() >= Some(1),
        "{summary}"
    );
    assert!(
        summary["lines"]["wrong_checksum"].as_u64() >= Some(1),
        "{summary}"
    );
    let text_of_log = contents(&log);
    assert!(text_of_log.ends_with('\n') && !text_of_log.contains("99999"));
    let data = text_of_log.lines().filter(|line| !line.starts_with('#'));
    assert_eq!(summary["rows"].as_u64(), Some(data.count() as u64 - 1));
    let replayed = done(&host_sim(&["replay", text(&log), "--json"]));
    let replayed: Value = serde_json::from_str(&replayed).expect("one JSON object");
    assert!(replayed["rows"].as_u64() >= Some(100), "{replayed}");

    // Gone on with by the same command, as text.
    let listening = Listening::start(&args[..4], &said);
    let before = lines(&log);
    wait_for("more rows", || lines(&log) > before + 5);
    let summary = done(&listening.stop());
    assert!(
        summary.contains("a log that `host-sim replay` takes"),
        "{summary}"
    );
    assert!(contents(&log).starts_with(&text_of_log));
}

#[test]
fn a_foreign_log_and_a_port_that_is_none_are_refused() {
    let folder = Folder::new();
    let port = folder.path("port");
    let other = folder.file("other.csv", "time_s,supply_c\n1,2\n");
    let log = folder.path("log.csv");
    refused(
        &["listen", text(&port), "--out", text(&log)],
        &["port: cannot be opened", "expected a serial port"],
    );
    assert_eq!(folder.names(), ["other.csv"], "nothing is left behind");
    let _bench = Bench::new(port.clone(), 1);
    refused(
        &["listen", text(&port), "--out", text(&other)],
        &[
            "other.csv: line 1: found the header \"time_s,supply_c\"",
            "choose another name",
        ],
    );
    assert_eq!(contents(&other), "time_s,supply_c\n1,2\n");
    refused(
        &["listen", text(&port), "--out", "/"],
        &["found a folder or device"],
    );
    refused(
        &["listen", text(&port), "--out", text(&log), "--for", "soon"],
        &["--for", "soon", "8 h"],
    );
    refused(
        &["listen", text(&port)],
        &["--out", "--history", "--settings"],
    );
}

#[test]
fn listening_ends_by_itself_and_a_silent_port_does_not_hold() {
    let folder = Folder::new();
    let (_master, _terminal, port) = pseudo_terminal();
    let log = folder.path("log.csv");
    let out = host_sim(&["listen", text(&port), "--out", text(&log), "--for", "1 s"]);
    assert_eq!(out.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&out.stdout).contains("no row came"));
    assert!(!log.exists());
}

#[test]
fn the_survived_log_is_read_out_and_replays() {
    let folder = Folder::new();
    let (port, log) = (folder.path("port"), folder.path("history.csv"));
    let _bench = Bench::new(port.clone(), 6 * 3_600);
    let out = host_sim(&["listen", text(&port), "--history", text(&log), "--json"]);
    let read: Value = serde_json::from_str(&done(&out)).expect("one JSON object");
    assert!(read["rows"].as_u64() >= Some(72), "{read}");
    assert_eq!(read["rows_lost"], 0);
    done(&host_sim(&["replay", text(&log)]));
    let nowhere = folder.path("missing/history.csv");
    refused(
        &["listen", text(&port), "--history", text(&nowhere)],
        &["history.csv: cannot be written"],
    );
}

#[test]
fn settings_are_checked_here_shown_sent_and_read_back() {
    let folder = Folder::new();
    let port = folder.path("port");
    let file = folder.file(
        "settings.toml",
        "target = \"1.6 °C\"\nslab_trim = \"0.25 K\"\nsettling_time = \"500 s\"\n",
    );
    let bad = folder.file("bad.toml", "target = \"1.6 °C\"\nfrost_on = \"4.5 °C\"\n");
    refused(
        &["send-settings", text(&port), text(&file), "--yes"],
        &["port: cannot be opened"],
    );
    let _bench = Bench::new(port.clone(), 60);
    refused(
        &["send-settings", text(&port), text(&bad), "--yes"],
        &["bad.toml: line 2", "frost_on < frost_off"],
    );
    let (port, file) = (text(&port), text(&file));
    refused(
        &["send-settings", port, file],
        &["no terminal", "--yes", "--dry-run"],
    );

    let shown = done(&host_sim(&["send-settings", port, file, "--dry-run"]));
    assert!(shown.contains("target         1.5 °C  1.6 °C"), "{shown}");
    assert!(shown.contains("3 changes; nothing was sent"), "{shown}");
    let shown = done(&host_sim(&[
        "send-settings",
        port,
        file,
        "--dry-run",
        "--units",
        "us",
    ]));
    assert!(shown.contains("34.88 °F"), "{shown}");

    let sent = done(&host_sim(&["send-settings", port, file, "--yes", "--json"]));
    let sent: Value = serde_json::from_str(&sent).expect("one JSON object");
    assert_eq!(sent["result"], "in_force");
    assert_eq!(sent["changes"].as_array().map(Vec::len), Some(3));
    let again = done(&host_sim(&["send-settings", port, file, "--yes"]));
    assert!(again.contains("has these settings already"), "{again}");

    // What is in force, as a file: the same to the last bit.
    let read = folder.path("read.toml");
    done(&host_sim(&["listen", port, "--settings", text(&read)]));
    assert!(contents(&read).contains("slab_trim = \"0.25 K\""));
    let equal = done(&host_sim(&[
        "send-settings",
        port,
        text(&read),
        "--dry-run",
    ]));
    assert!(equal.contains("has these settings already"), "{equal}");
}

#[test]
fn a_person_is_asked_and_may_say_no() {
    let folder = Folder::new();
    let port = folder.path("port");
    let file = folder.file("settings.toml", "target = \"1.6 °C\"\n");
    let _bench = Bench::new(port.clone(), 60);
    for (answer, ending) in [
        ("no\n", "Nothing was sent"),
        ("\n", "Nothing was sent"),
        ("yes\n", "1 change in force and stored; read back and equal"),
    ] {
        let (mut master, terminal, _) = pseudo_terminal();
        let child = Command::new(env!("CARGO_BIN_EXE_host-sim"))
            .args(["send-settings", text(&port), text(&file)])
            .stdin(terminal)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("host-sim runs");
        master.write_all(answer.as_bytes()).expect("a terminal");
        let out = child.wait_with_output().expect("it ends");
        assert!(
            done(&out).contains(ending),
            "{}",
            String::from_utf8_lossy(&out.stdout)
        );
        let asked = String::from_utf8_lossy(&out.stderr).into_owned();
        assert!(asked.contains("Send 1 change to the unit?"), "{asked}");
    }
}

#[test]
fn sensors_are_told_apart_over_the_line() {
    let folder = Folder::new();
    let port = folder.path("port");
    let _bench = Bench::new(port.clone(), 60);
    let args = ["identify", text(&port), "--for", "7 s"];
    let shown = done(&host_sim(&[&args[..], &["--units", "us"]].concat()));
    for (input, name) in [(0, "supply"), (1, "return"), (2, "slab"), (3, "outdoor")] {
        let line = shown
            .lines()
            .find(|line| line.starts_with(&format!("input {input} ")))
            .unwrap_or_else(|| panic!("no input {input} in: {shown}"));
        assert!(line.contains(name) && line.contains(" °F"), "{line}");
    }
    let out = done(&host_sim(&[&args[..], &["--json"]].concat()));
    let view: Value = serde_json::from_str(&out).expect("one JSON object");
    let slab = &view["probes"][2];
    assert_eq!(slab["name"], "slab");
    let celsius = slab["celsius"].as_f64().expect("a reading");
    assert!((0.0..8.0).contains(&celsius), "{view}");
    refused(
        &["identify", text(&folder.path("none"))],
        &["none: cannot be opened", "expected a serial port"],
    );
    refused(
        &["identify", text(&port), "--for", "soon"],
        &["--for", "soon"],
    );
}

#[test]
fn a_port_without_a_unit_is_told_when_sensors_are_asked_for() {
    let (_master, _terminal, port) = pseudo_terminal();
    refused(
        &["identify", text(&port), "--for", "1 s"],
        &[
            "found no answer to \"sensors\"",
            "check port, cable and power",
        ],
    );
}
