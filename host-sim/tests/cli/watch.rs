//! `host-sim watch` as a service runs it: the firmware itself behind a pseudo-terminal, hooks, and the page over the network.

use std::collections::BTreeSet;
use std::fs::File;
use std::io::{Read as _, Write as _};
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;
use serde_json::Value;

use crate::support::bench::{Bench, contents, wait_for};
use crate::support::{Folder, host_sim, text};

/// The program in the background, with what it says in a file.
struct Watching {
    child: Child,
    said: std::path::PathBuf,
}

impl Watching {
    fn start(folder: &Folder, hooks: Option<&Path>, more: &[&str]) -> Self {
        let port = folder.path("port");
        let house = folder.path("house");
        let mut command = Command::new(env!("CARGO_BIN_EXE_host-sim"));
        command.args([
            "watch",
            text(&port),
            "--folder",
            text(&house),
            "--page",
            "127.0.0.1:0",
        ]);
        if let Some(hooks) = hooks {
            command.args(["--hooks", text(hooks)]);
        }
        command.args(more);
        Self::spawn(folder, command)
    }

    fn spawn(folder: &Folder, mut command: Command) -> Self {
        let said = folder.path("said");
        let child = command
            .stdout(Stdio::null())
            .stderr(File::create(&said).expect("a file for messages"))
            .spawn()
            .expect("host-sim runs");
        Self { child, said }
    }

    fn signal(&self, signal: Signal) {
        let pid = Pid::from_raw(self.child.id().try_into().expect("a process id"));
        kill(pid, signal).expect("it runs");
    }

    /// As the service manager ends it.
    fn stop(mut self) {
        self.signal(Signal::SIGTERM);
        let status = self.child.wait().expect("it ends");
        assert_eq!(status.code(), Some(0), "{}", contents(&self.said));
    }

    /// As a power cut ends it.
    fn cut(mut self) {
        self.signal(Signal::SIGKILL);
        self.child.wait().expect("it ends");
    }

    /// What the page's server has under a name.
    fn get(&self, path: &str) -> String {
        let mut address = String::new();
        wait_for("the page", || {
            let said = contents(&self.said);
            let at = said
                .split("http://")
                .nth(1)
                .and_then(|rest| rest.split_once('/'));
            address = at.map_or(String::new(), |(address, _)| address.to_owned());
            !address.is_empty()
        });
        let mut stream = TcpStream::connect(&address).expect("a connection");
        write!(stream, "GET {path} HTTP/1.1\r\nHost: {address}\r\n\r\n").expect("sent");
        let mut answer = String::new();
        stream.read_to_string(&mut answer).expect("an answer");
        let (head, body) = answer.split_once("\r\n\r\n").expect("head and body");
        assert!(head.starts_with("HTTP/1.1 200 "), "{head}");
        body.to_owned()
    }

    fn state(&self) -> Value {
        serde_json::from_str(&self.get("/state.json")).expect("JSON")
    }

    fn wait_for_rows(&self, count: u64) {
        wait_for("rows", || {
            self.state()["log"]["rows"].as_u64() >= Some(count)
        });
    }
}

/// A server that messages are posted to; it can be away.
struct Sink {
    port: u16,
    away: Arc<AtomicBool>,
    bodies: Arc<Mutex<Vec<String>>>,
}

impl Sink {
    fn new() -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
        let port = listener.local_addr().expect("an address").port();
        let (away, bodies) = (
            Arc::new(AtomicBool::new(false)),
            Arc::new(Mutex::new(Vec::new())),
        );
        let (is_away, seen) = (Arc::clone(&away), Arc::clone(&bodies));
        std::thread::spawn(move || {
            for stream in listener.incoming() {
                let mut stream = stream.expect("a connection");
                let mut request = Vec::new();
                let mut buffer = [0; 4_096];
                let body = loop {
                    let count = stream.read(&mut buffer).expect("a request");
                    request.extend(&buffer[..count]);
                    let text = String::from_utf8_lossy(&request).into_owned();
                    let length = text
                        .to_ascii_lowercase()
                        .split_once("content-length: ")
                        .and_then(|(_, rest)| rest.split("\r\n").next()?.parse::<usize>().ok());
                    match (text.split_once("\r\n\r\n"), length) {
                        (Some((_, body)), Some(length)) if body.len() >= length => {
                            break body.to_owned();
                        }
                        _ if count == 0 => break String::new(),
                        _ => {}
                    }
                };
                let status = if is_away.load(Ordering::Relaxed) {
                    "503 Service Unavailable"
                } else {
                    seen.lock().expect("a list").push(body);
                    "204 No Content"
                };
                // A client that is gone has its answer elsewhere.
                let _ = write!(
                    stream,
                    "HTTP/1.1 {status}\r\nContent-Length: 0\r\nConnection: close\r\n\r\n"
                );
            }
        });
        Self { port, away, bodies }
    }

    fn messages(&self) -> Vec<Value> {
        let bodies = self.bodies.lock().expect("a list");
        bodies
            .iter()
            .map(|body| serde_json::from_str(body).expect("JSON"))
            .collect()
    }

    fn has(&self, condition: &str, stage: &str) -> bool {
        let messages = self.messages();
        messages
            .iter()
            .any(|m| m["condition"] == condition && m["stage"] == stage)
    }

    /// Every message's number, which comes once and in order.
    fn ids(&self) -> Vec<u64> {
        let ids: Vec<u64> = self
            .messages()
            .iter()
            .filter_map(|m| m["id"].as_u64())
            .collect();
        assert!(
            ids.is_sorted_by(|a, b| a < b),
            "twice or out of order: {ids:?}"
        );
        ids
    }
}

fn hooks(folder: &Folder, sink: &Sink) -> std::path::PathBuf {
    let told = folder.path("told");
    let text = format!(
        "house = \"Hillside\"\nsilence = \"30 s\"\n\
         [hook.phone]\npost = \"http://127.0.0.1:{}/house\"\nmost_per_hour = 100\n\
         [hook.bell]\ncommand = [\"/bin/sh\", \"-c\", \"echo \\\"$MESSAGE_KIND $MESSAGE_TEXT\\\" >> '{}'\"]\nabout = [\"alarm\", \"sign_of_life\"]\n",
        sink.port,
        told.display()
    );
    std::fs::create_dir(folder.path("house")).expect("a folder");
    folder.file("hooks.toml", &text)
}

#[test]
fn a_person_is_told_once_whatever_goes_away_and_comes_back() {
    let folder = Folder::new();
    let sink = Sink::new();
    let hooks = hooks(&folder, &sink);
    // Neither the unit nor the one who is told is there to begin with.
    sink.away.store(true, Ordering::Relaxed);
    let watching = Watching::start(&folder, Some(&hooks), &[]);
    wait_for("the first sign of life", || {
        contents(&folder.path("told")).contains("Watching has begun")
    });
    let mut bench = Bench::new(folder.path("port"), 30);
    watching.wait_for_rows(20);
    let waiting = |watching: &Watching| {
        let state = watching.state();
        let hooks = state["hooks"].as_array().expect("hooks");
        let phone = hooks
            .iter()
            .find(|hook| hook["name"] == "phone")
            .expect("the phone")
            .clone();
        assert!(
            phone["fault"]
                .as_str()
                .is_some_and(|why| why.contains("503"))
                || phone["fault"].is_null(),
            "{phone}"
        );
        phone["waiting"].as_u64().expect("a count")
    };
    assert!(waiting(&watching) >= 1);
    assert!(sink.messages().is_empty());

    // The computer loses its power, and everybody is there again.
    watching.cut();
    sink.away.store(false, Ordering::Relaxed);
    let watching = Watching::start(&folder, Some(&hooks), &[]);
    wait_for("what waited", || sink.has("sign_of_life", "begins"));
    watching.wait_for_rows(20);
    wait_for("everything delivered", || waiting(&watching) == 0);
    let told = sink.ids();

    // Power that comes and goes is an alarm, and told within moments.
    for _ in 0..6 {
        bench.reboot();
        std::thread::sleep(Duration::from_millis(300));
    }
    wait_for("the alarm", || sink.has("unstable_power", "begins"));
    wait_for("the bell", || {
        contents(&folder.path("told")).contains("alarm Unstable power: ")
    });
    let page = watching.get("/");
    for words in [
        "<h1>The unit now</h1>",
        "Hillside",
        "<b>Alarm</b>",
        "Unstable power",
        "live.js",
    ] {
        assert!(page.contains(words), "{words} is not in {page}");
    }
    assert!(watching.get("/live.js").contains("Renew every 20 s"));
    let metrics = watching.get("/metrics");
    assert!(
        metrics.contains("slab_controller_alarm{condition=\"unstable_power\"} 1\n"),
        "{metrics}"
    );
    assert!(metrics.ends_with("# EOF\n"));

    // The cable is pulled: silence is told after the time set, and that it is over.
    bench.unplug();
    let begin = Instant::now();
    while !sink.has("silence", "begins") {
        assert!(
            begin.elapsed() < Duration::from_secs(60),
            "{}",
            contents(&watching.said)
        );
        std::thread::sleep(Duration::from_millis(100));
    }
    assert!(begin.elapsed() > Duration::from_secs(25));
    bench.plug();
    wait_for("its end", || sink.has("silence", "over"));
    wait_for("everything delivered", || waiting(&watching) == 0);
    watching.stop();
    let ids = sink.ids();
    assert!(
        ids.starts_with(&told) && ids.len() >= told.len() + 3,
        "{told:?} {ids:?}"
    );

    // A restart tells nothing again that stands already; the unit may have something new to say.
    let watching = Watching::start(&folder, Some(&hooks), &[]);
    watching.wait_for_rows(20);
    watching.stop();
    let mut standing = BTreeSet::new();
    let is_condition = |message: &Value| message["kind"] != "sign_of_life";
    for message in sink.messages().into_iter().filter(is_condition) {
        let name = message["condition"].as_str().expect("a name").to_owned();
        match message["stage"].as_str() {
            Some("begins") => assert!(standing.insert(name), "told again: {message}"),
            Some("over") => assert!(standing.remove(&name), "never began: {message}"),
            _ => {}
        }
    }
    let said = contents(&folder.path("told"));
    assert_eq!(said.matches("Watching has begun").count(), 1, "{said}");

    // What was kept is one log, gaps and boots included.
    let logs: Vec<String> = std::fs::read_dir(folder.path("house"))
        .expect("a folder")
        .map(|entry| entry.expect("an entry").path().display().to_string())
        .filter(|name| name.ends_with(".csv"))
        .collect();
    for log in logs {
        let out = host_sim(&["replay", &log, "--json"]);
        let message = String::from_utf8_lossy(&out.stderr);
        assert!(matches!(out.status.code(), Some(0 | 1)), "{message}");
        let replayed: Value = serde_json::from_slice(&out.stdout).expect("JSON");
        assert!(replayed["rows"].as_u64() >= Some(60), "{replayed}");
    }
}

#[test]
fn a_full_disk_is_told_and_loses_no_row() {
    let folder = Folder::new();
    std::fs::create_dir(folder.path("house")).expect("a folder");
    let _bench = Bench::new(folder.path("port"), 30);
    // A limit on the file's length stands for the disk's.
    let mut command = Command::new("/bin/sh");
    let limited = "trap '' XFSZ; ulimit -S -f 40; exec \"$0\" watch \"$1\" --folder \"$2\" --page 127.0.0.1:0";
    command.args(["-c", limited, env!("CARGO_BIN_EXE_host-sim")]);
    command.args([folder.path("port"), folder.path("house")]);
    let watching = Watching::spawn(&folder, command);
    wait_for("the disk to be full", || {
        watching.state()["log"]["fault"].is_string()
    });
    wait_for("the message", || {
        contents(&watching.said).contains("The log cannot be written")
    });
    let rows = watching.state()["log"]["rows"].as_u64().expect("a count");
    watching.wait_for_rows(rows + 50);
    let unlimited = Command::new("prlimit")
        .args([
            "--pid",
            &watching.child.id().to_string(),
            "--fsize=unlimited",
        ])
        .status()
        .expect("prlimit of util-linux");
    assert!(unlimited.success());
    wait_for("room", || watching.state()["log"]["fault"].is_null());
    wait_for("the message", || {
        contents(&watching.said).contains("The log is written again. No row was lost.")
    });
    let state = watching.state();
    let rows = state["log"]["rows"].as_u64().expect("a count");
    let log = folder
        .path("house")
        .join(state["log"]["file"].as_str().expect("a file"));
    watching.stop();
    let kept = contents(&log);
    let data = kept.lines().filter(|line| !line.starts_with('#')).count() as u64 - 1;
    assert!(data >= rows && kept.ends_with('\n'), "{data} of {rows}");
}

#[test]
fn what_cannot_be_watched_with_is_refused_before_it_begins() {
    let folder = Folder::new();
    let house = folder.path("house");
    let port = folder.path("port");
    let refused = |more: &[&str], parts: &[&str]| {
        let args = [&["watch", text(&port), "--folder", text(&house)], more].concat();
        let out = host_sim(&args);
        let message = String::from_utf8_lossy(&out.stderr).into_owned();
        assert_eq!(out.status.code(), Some(2), "{message}");
        for part in parts {
            assert!(message.contains(part), "{part:?} is not in: {message}");
        }
    };
    refused(&[], &["house: found no folder", "make it first"]);
    std::fs::create_dir(&house).expect("a folder");
    refused(
        &["--page", "8080"],
        &["--page: found \"8080\"", "127.0.0.1:8080", "off"],
    );
    let other = TcpListener::bind("127.0.0.1:0").expect("a port");
    let taken = other.local_addr().expect("an address").to_string();
    refused(&["--page", &taken], &["--page: ", "cannot be opened"]);
    let hooks = folder.file("hooks.toml", "[hook.phone]\npost = \"house\"\n");
    refused(
        &["--hooks", text(&hooks)],
        &["hooks.toml: hook.phone: post: found \"house\""],
    );
    refused(&["--forecast", "f.csv"], &["--site"]);
    refused(&["--months", "1"], &["--months"]);
    std::fs::write(house.join("messages.jsonl"), "a note\n").expect("written");
    refused(
        &["--page", "off"],
        &["messages.jsonl", "line 1: found no message"],
    );
    std::fs::remove_file(house.join("messages.jsonl")).expect("gone");
    let watching = Watching::start(&folder, None, &[]);
    wait_for("its beginning", || {
        contents(&watching.said).contains("Watching has begun")
    });
    refused(
        &["--page", "off"],
        &["messages.jsonl", "another program that watches"],
    );
    watching.stop();
}

/// A real broker on a port of its own, and somebody who has subscribed to everything in it.
struct Broker {
    port: u16,
    broker: Child,
}

impl Broker {
    fn start(port: u16) -> Self {
        let broker = Command::new("mosquitto")
            .args(["-p", &port.to_string()])
            .env("PATH", "/usr/sbin:/usr/local/sbin:/usr/bin")
            .stderr(Stdio::null())
            .spawn()
            .expect("mosquitto; tests/run.sh installs it");
        wait_for("the broker", || {
            TcpStream::connect(("127.0.0.1", port)).is_ok()
        });
        Self { port, broker }
    }

    fn subscribe(&self, heard: &Path) -> Child {
        Command::new("mosquitto_sub")
            .args(["-p", &self.port.to_string(), "-t", "plant-house/#", "-v"])
            .stdout(
                File::options()
                    .create(true)
                    .append(true)
                    .open(heard)
                    .expect("a file"),
            )
            .spawn()
            .expect("mosquitto_sub; tests/run.sh installs it")
    }
}

impl Drop for Broker {
    fn drop(&mut self) {
        // It has ended where the test has ended it.
        let _ = self.broker.kill();
        let _ = self.broker.wait();
    }
}

#[test]
#[ignore = "needs mosquitto and its client; tests/run.sh installs and runs it"]
fn a_broker_that_goes_for_a_while_gets_everything_once() {
    let folder = Folder::new();
    std::fs::create_dir(folder.path("house")).expect("a folder");
    let free = TcpListener::bind("127.0.0.1:0").expect("a port");
    let port = free.local_addr().expect("an address").port();
    drop(free);
    let hooks = format!(
        "[hook.broker]\nmqtt = \"127.0.0.1:{port}\"\ntopic = \"plant-house\"\nmost_per_hour = 100\n"
    );
    let hooks = folder.file("hooks.toml", &hooks);
    let heard = folder.path("heard");
    let messages = || -> Vec<Value> {
        let lines = contents(&heard);
        let lines = lines
            .lines()
            .filter_map(|line| line.strip_prefix("plant-house/message "));
        lines
            .map(|json| serde_json::from_str(json).expect("JSON"))
            .collect()
    };
    let ids = || -> Vec<u64> {
        messages()
            .iter()
            .filter_map(|message| message["id"].as_u64())
            .collect()
    };
    let online = || {
        let lines = contents(&heard);
        let last = lines
            .lines()
            .rfind(|line| line.starts_with("plant-house/online"));
        last.map(|line| line.ends_with('1'))
    };
    let delivered = |watching: &Watching| watching.state()["hooks"][0]["waiting"] == 0;

    let broker = Broker::start(port);
    let mut subscriber = broker.subscribe(&heard);
    let bench = Bench::new(folder.path("port"), 30);
    let watching = Watching::start(&folder, Some(&hooks), &[]);
    wait_for("the first sign of life", || {
        messages().iter().any(|m| m["kind"] == "sign_of_life")
    });
    assert_eq!(online(), Some(true));
    wait_for("everything delivered", || delivered(&watching));

    // The broker goes, an alarm comes, the broker is back.
    subscriber.kill().expect("it runs");
    subscriber.wait().expect("it ends");
    drop(broker);
    let before = ids();
    for _ in 0..6 {
        bench.reboot();
        std::thread::sleep(Duration::from_millis(300));
    }
    wait_for("the alarm", || watching.get("/").contains("Unstable power"));
    wait_for("a failure", || {
        watching.state()["hooks"][0]["fault"].is_string()
    });
    let broker = Broker::start(port);
    let mut subscriber = broker.subscribe(&heard);
    wait_for("what waited", || {
        messages()
            .iter()
            .any(|m| m["condition"] == "unstable_power")
    });
    wait_for("everything delivered", || delivered(&watching));
    let all = ids();
    assert!(
        all.len() > before.len() && all.is_sorted_by(|a, b| a < b),
        "{before:?} {all:?}"
    );

    // Ended in peace, and by a power cut: either way the broker says so.
    watching.stop();
    wait_for("its end", || online() == Some(false));
    let watching = Watching::start(&folder, Some(&hooks), &[]);
    wait_for("its return", || online() == Some(true));
    watching.cut();
    wait_for("its end", || online() == Some(false));
    assert!(ids().is_sorted_by(|a, b| a < b), "{:?}", ids());
    subscriber.kill().expect("it runs");
    subscriber.wait().expect("it ends");
}
