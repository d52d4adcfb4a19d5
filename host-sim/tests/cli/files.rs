//! Files as all verbs treat them: inputs stay whole, outputs appear or not, nothing steers the terminal.

use std::process::Output;

use crate::support::{Folder, host_sim, text};

/// A weather file kept with the program.
const GOLDEN: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/data/golden-co-724666-tmy3.epw"
);

/// A site whose weather file stands beside it.
fn site_with_weather(folder: &Folder) -> (std::path::PathBuf, std::path::PathBuf) {
    let weather = folder.path("here.epw");
    std::fs::copy(GOLDEN, &weather).expect("copied");
    let site = folder.file("site.toml", "[place]\nweather = \"here.epw\"\n");
    (site, weather)
}

/// Refused with exit code 2, all words in the message, nothing on standard output.
#[track_caller]
fn refused(output: &Output, words: &[&str]) {
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(output.stdout.is_empty(), "{output:?}");
    for word in words {
        assert!(said.contains(word), "{word:?} is not in {said}");
    }
}

const TONIGHT: [&str; 9] = [
    "tonight", "--low", "-9 °C", "--high", "-1 °C", "--slab", "6 °C", "--store", "8 °C",
];

#[test]
fn a_weather_file_named_in_the_site_file_is_an_input_of_every_verb() {
    let folder = Folder::new();
    let (site, weather) = site_with_weather(&folder);
    let before = std::fs::read(&weather).expect("the weather");
    let spelled = folder.path("./here.epw");
    let linked = folder.path("linked.epw");
    std::fs::hard_link(&weather, &linked).expect("a second name");
    for output in [&weather, &spelled, &linked] {
        let output = text(output);
        for arguments in [
            &["winter", "--days", "1", "--trace", output][..],
            &["winter", "--days", "1", "--report", output],
            &["size", "--report", output],
            &["size", "--write-settings", output],
            &["tune", "--days", "1", "--write", output],
            &["tune", "--days", "1", "--resume", output],
            &[&TONIGHT[..], &["--now", "18:00", "--report", output]].concat(),
        ] {
            let all = [arguments, &["--site", text(&site)]].concat();
            refused(&host_sim(&all), &["found an input of this run"]);
        }
    }
    assert!(std::fs::read(&weather).expect("the weather") == before);
    assert_eq!(folder.names(), ["here.epw", "linked.epw", "site.toml"]);
}

#[test]
fn a_resume_file_is_neither_input_nor_output_however_it_is_spelled() {
    let folder = Folder::new();
    let settings = folder.file("empty.toml", "");
    for resume in ["./empty.toml", "../x/../empty.toml"] {
        let resume = folder
            .path("x")
            .join("..")
            .join(resume.trim_start_matches("../x/../"));
        std::fs::create_dir_all(folder.path("x")).expect("a folder");
        let arguments = ["tune", "--days", "1", "--settings", text(&settings)];
        let all = [&arguments[..], &["--resume", text(&resume)]].concat();
        refused(
            &host_sim(&all),
            &["empty.toml", "found an input of this run"],
        );
    }
    assert_eq!(std::fs::read_to_string(&settings).expect("the file"), "");
    let (write, resume) = (folder.path("found.toml"), folder.path("./found.toml"));
    let arguments = ["tune", "--days", "1", "--write", text(&write)];
    let all = [&arguments[..], &["--resume", text(&resume)]].concat();
    refused(
        &host_sim(&all),
        &["found.toml", "found an output of this run"],
    );
    assert!(!write.exists());
}

#[cfg(unix)]
#[test]
fn standard_input_is_an_input_too() {
    let folder = Folder::new();
    let log = folder.file("log.csv", "time_s,slab_c\n0,5\n60,5\n");
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_host-sim"))
        .args(["replay", "-", "--trace", text(&log)])
        .stdin(std::fs::File::open(&log).expect("the log"))
        .output()
        .expect("host-sim runs");
    refused(&output, &["log.csv", "found an input of this run"]);
}

#[cfg(unix)]
#[test]
fn a_polite_signal_leaves_nothing_behind() {
    use nix::sys::signal::{Signal, kill};
    use nix::unistd::Pid;
    use std::time::{Duration, Instant};
    for signal in [Signal::SIGTERM, Signal::SIGHUP, Signal::SIGINT] {
        let folder = Folder::new();
        let trace = folder.path("trace.csv");
        let mut child = std::process::Command::new(env!("CARGO_BIN_EXE_host-sim"))
            .args(["winter", "--days", "365", "--trace", text(&trace)])
            .stdout(std::process::Stdio::null())
            .stderr(std::process::Stdio::piped())
            .spawn()
            .expect("host-sim starts");
        let begun = Instant::now();
        while folder.names().is_empty() {
            assert!(begun.elapsed() < Duration::from_secs(60), "no file begun");
            std::thread::sleep(Duration::from_millis(5));
        }
        // The handler is in place before the run begins.
        std::thread::sleep(Duration::from_millis(200));
        kill(Pid::from_raw(child.id() as i32), signal).expect("sent");
        let status = child.wait().expect("it ends");
        assert_eq!(status.code(), Some(2), "{signal}: {status:?}");
        assert_eq!(folder.names(), Vec::<String>::new(), "{signal}");
    }
}

#[test]
fn what_a_file_says_cannot_steer_the_terminal() {
    let folder = Folder::new();
    let station = std::fs::read_to_string(GOLDEN).expect("the weather");
    let weather = folder.file(
        "hostile.epw",
        &station.replacen("LOCATION,", "LOCATION,\u{1b}[2Jcleared\u{7} ", 1),
    );
    let toml = folder.file("\u{1b}[31m.toml", "[house]\n\"a\u{9b}31m\u{202e}\" = 3\n");
    let drills = folder.file(
        "drills.toml",
        "[[drill]]\nname = \"a\"\nsituation = \"\\u001b[2J\"\nlength = \"1 h\"\n[[drill.event]]\nwhat = \"\\u0007b\"\n\
         at = \"0 s\"\n[[drill.expect]]\nwhat = \"\\u001b]0;c\"\nthat = \"circulator = off\"\nstays = true\n",
    );
    for arguments in [
        &["size", "--weather", text(&weather)][..],
        &["size", "--site", text(&toml)],
        &["winter", "--days", "1", "--settings", text(&toml)],
        &["drill", "--file", text(&drills)],
        &["drill", "--file", text(&drills), "--list"],
        &["drill", "--file", text(&drills), "--drill", "a"],
        &["drill", "--drill", "\u{1b}[31m"],
        &["winter", "--\u{1b}[31m"],
    ] {
        let output = host_sim(arguments);
        let said = [output.stdout, output.stderr].concat();
        let said = String::from_utf8(said).expect("UTF-8");
        assert!(!said.is_empty());
        let steers = |c: char| c.is_control() && c != '\n' || c == '\u{202e}';
        assert!(!said.contains(steers), "{arguments:?}: {said:?}");
    }
}

#[cfg(unix)]
#[test]
fn a_source_without_end_is_refused_with_the_limit() {
    for arguments in [
        ["size", "--site"],
        ["winter", "--settings"],
        ["winter", "--weather"],
        ["drill", "--file"],
    ] {
        let all = [&arguments[..], &["/dev/zero"]].concat();
        refused(&host_sim(&all), &["/dev/zero", "found more than", " MB"]);
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_said_with_the_files_name_and_once() {
    for option in ["--trace", "--report"] {
        let output = host_sim(&["winter", "--days", "2", option, "/dev/full"]);
        refused(&output, &["/dev/full: cannot be written: No space left"]);
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(said.matches("No space left").count(), 1, "{said}");
    }
    let full = std::fs::OpenOptions::new()
        .write(true)
        .open("/dev/full")
        .expect("the device");
    let status = std::process::Command::new(env!("CARGO_BIN_EXE_host-sim"))
        .arg("--help")
        .stdout(full)
        .stderr(std::process::Stdio::null())
        .status()
        .expect("host-sim runs");
    assert_eq!(status.code(), Some(2));
}

#[test]
fn a_cause_is_said_once() {
    for arguments in [
        ["winter", "--site", "absent.toml"],
        ["winter", "--weather", "absent.epw"],
        ["drill", "--file", "absent.toml"],
        ["replay", "absent.csv", "--json"],
    ] {
        let output = host_sim(&arguments);
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(said.matches("os error 2").count(), 1, "{said}");
    }
}
