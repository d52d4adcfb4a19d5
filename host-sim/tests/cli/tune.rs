//! `host-sim tune` as a person runs it, with tiny budgets: files, repeatability, resuming, refusals.

use std::process::Output;

use crate::support::{Folder, host_sim, text};

/// As little as can be: one winter day, three candidates.
const TINY: [&str; 9] = [
    "tune",
    "--from",
    "2026-02-20",
    "--days",
    "1",
    "--candidates",
    "3",
    "--finalists",
    "2",
];

fn tune(args: &[&str]) -> Output {
    host_sim(&[&TINY[..], args].concat())
}

#[track_caller]
fn ended(out: &Output, code: i32) {
    assert_eq!(
        out.status.code(),
        Some(code),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
}

/// One search and all that may be asked of it, from one resume file: a search is what takes longest.
#[test]
fn a_search_writes_its_files_and_goes_on_from_what_it_knows() {
    let folder = Folder::new();
    let [kept, found, report] = ["kept.jsonl", "found.toml", "tune.html"].map(|n| folder.path(n));
    let all = [
        "--resume",
        text(&kept),
        "--write",
        text(&found),
        "--report",
        text(&report),
        "--cores",
        "2",
    ];
    let first = tune(&all);
    ended(&first, 0);
    let screen = String::from_utf8_lossy(&first.stdout).into_owned();
    for part in [
        "Winters tuned on",
        "Winters kept back",
        "reading warm",
        "What does not matter here",
        "Trade-offs",
        "coldest weeks: ",
    ] {
        assert!(screen.contains(part), "{part:?} is not in: {screen}");
    }
    assert_eq!(folder.names(), ["found.toml", "kept.jsonl", "tune.html"]);

    // The file found is a settings file like any other.
    let toml = std::fs::read_to_string(&found).expect("written");
    assert!(toml.starts_with("# Found by host-sim tune.\n"), "{toml}");
    let settings = host_sim(&[
        "winter",
        "--days",
        "1",
        "--settings",
        text(&found),
        "--json",
    ]);
    ended(&settings, 0);
    let winter: serde_json::Value =
        serde_json::from_slice(&settings.stdout).expect("one JSON object");
    let page = std::fs::read_to_string(&report).expect("written");
    for part in [
        "A cold night, before and after",
        "Trade-offs",
        "What matters",
    ] {
        assert!(page.contains(part), "{part:?} is not in the report");
    }
    assert!(page.matches("<figure>").count() >= 4);
    assert!(page.len() < 700_000, "{}", page.len());
    for nonsense in ["NaN", "inf ", "null"] {
        assert!(
            !page.contains(nonsense),
            "every point is a number: {nonsense}"
        );
    }

    // Again, on one core, from what is known: the same numbers, and nothing simulated but the check of the file.
    let grown = std::fs::read_to_string(&kept).expect("written");
    let again = tune(&["--resume", text(&kept), "--json", "--cores", "1"]);
    ended(&again, 0);
    let json: serde_json::Value = serde_json::from_slice(&again.stdout).expect("one JSON object");
    assert_eq!(json["settings_sha256"], winter["settings_sha256"]);
    for stage in json["work"].as_array().expect("a list") {
        assert_eq!(stage["candidates"], stage["known"], "{stage}");
        assert_eq!(stage["runs"], 0, "{stage}");
    }
    assert_eq!(std::fs::read_to_string(&kept).expect("kept"), grown);

    // Cut short in its last line, it is made whole again and gives the same answer.
    std::fs::write(&kept, &grown[..grown.len() - 20]).expect("written");
    let mended = tune(&["--resume", text(&kept), "--json"]);
    ended(&mended, 0);
    let mended: serde_json::Value =
        serde_json::from_slice(&mended.stdout).expect("one JSON object");
    assert_eq!(mended["front"], json["front"]);
    assert_eq!(mended["settings_sha256"], json["settings_sha256"]);
    assert_eq!(std::fs::read_to_string(&kept).expect("kept"), grown);

    // Another finalist instead, here the settings started from; there is no ninety-ninth.
    ended(&tune(&["--resume", text(&kept), "--take", "0"]), 0);
    let none = tune(&["--resume", text(&kept), "--take", "99"]);
    ended(&none, 2);
    let message = String::from_utf8_lossy(&none.stderr).into_owned();
    assert!(message.contains("--take: found 99; expected"), "{message}");

    // The file is of this question only.
    let other = tune(&["--resume", text(&kept), "--sensor-error", "0.2 K"]);
    ended(&other, 2);
    let message = String::from_utf8_lossy(&other.stderr).into_owned();
    assert!(message.contains("kept.jsonl"), "{message}");

    // Another program's numbers are found out by trying the settings started from.
    let line = grown.lines().nth(1).expect("a line");
    let wrong = line.replacen("\"starts\":", "\"starts\":1", 1);
    std::fs::write(&kept, grown.replacen(line, &wrong, 1)).expect("written");
    let other = tune(&["--resume", text(&kept)]);
    ended(&other, 2);
    let message = String::from_utf8_lossy(&other.stderr).into_owned();
    assert!(message.contains("this very program"), "{message}");
}

#[test]
fn a_house_that_cannot_be_held_ends_with_one_and_says_why() {
    let folder = Folder::new();
    let site = folder.file(
        "site.toml",
        "[house]\nair_changes = \"12 1/h\"\nedge_loss = \"4 W/mK\"\n[slab]\nthickness = \"70 mm\"\ntube_depth = \"35 mm\"\n\
         [boiler]\nfitted = false\n",
    );
    let report = folder.path("tune.html");
    let mut coldest = TINY;
    coldest[2] = "2026-02-08";
    let out = host_sim(
        &[
            &coldest[..],
            &["--site", text(&site), "--report", text(&report)],
        ]
        .concat(),
    );
    ended(&out, 1);
    let screen = String::from_utf8_lossy(&out.stdout).into_owned();
    for part in ["No settings hold this house", "has no boiler", "DANGER"] {
        assert!(screen.contains(part), "{part:?} is not in: {screen}");
    }
    let page = std::fs::read_to_string(&report).expect("written");
    assert!(page.contains("Where the slab is lost"));
    assert!(page.contains("has no boiler"));
}

#[test]
fn what_cannot_be_used_is_refused_and_nothing_is_written() {
    let folder = Folder::new();
    let unknown = folder.file("unknown.toml", "slab_sat = \"4 °C\"\n");
    let far_out = folder.file("far.toml", "slab_set = \"40 °C\"\n");
    let drained = folder.file("drained.toml", "mode = \"drained\"\n");
    let weather = folder.file("weather.epw", "no weather\n");
    let resume = folder.file("other.jsonl", "something else\n");
    let before = folder.names();
    let (found, report) = (folder.path("found.toml"), folder.path("tune.html"));
    let cases: [(&[&str], &[&str]); 9] = [
        (
            &["--settings", text(&unknown)],
            &["unknown.toml", "slab_sat", "slab_set"],
        ),
        (
            &["--settings", text(&far_out)],
            &["far.toml", "40 °C", "2.5 °C to 12 °C"],
        ),
        (
            &["--settings", text(&drained)],
            &["drained.toml", "mode", "winter"],
        ),
        (&["--weather", text(&weather)], &["weather.epw"]),
        (&["--keep-back", text(&weather)], &["weather.epw"]),
        (&["--weather", "/nowhere/at-all.epw"], &["at-all.epw"]),
        (
            &["--sensor-error", "5 K"],
            &["--sensor-error", "5 K", "0 K to 2 K"],
        ),
        (&["--sensor-error", "5"], &["--sensor-error"]),
        (&["--resume", text(&resume)], &["other.jsonl", "line 1"]),
    ];
    for (args, parts) in cases {
        let files = ["--write", text(&found), "--report", text(&report)];
        let out = tune(&[args, &files].concat());
        ended(&out, 2);
        let message = String::from_utf8_lossy(&out.stderr).into_owned();
        for part in parts {
            assert!(message.contains(part), "{part:?} is not in: {message}");
        }
        assert!(out.stdout.is_empty());
        assert_eq!(folder.names(), before, "{args:?}");
    }
    assert_eq!(
        std::fs::read_to_string(&resume).expect("left alone"),
        "something else\n"
    );
    // An output that is an input.
    let out = tune(&["--settings", text(&unknown), "--write", text(&unknown)]);
    ended(&out, 2);
}

/// Ctrl-C in the middle of a search that would take hours: the best so far, whole files, exit code 0.
#[cfg(unix)]
#[test]
fn ctrl_c_returns_the_best_so_far() {
    use std::process::{Command, Stdio};
    use std::time::{Duration, Instant};

    let folder = Folder::new();
    let [kept, found] = ["kept.jsonl", "found.toml"].map(|n| folder.path(n));
    let mut args = TINY.map(str::to_owned).to_vec();
    args[6] = "100000".to_owned();
    let child = Command::new(env!("CARGO_BIN_EXE_host-sim"))
        .args(&args)
        .args(["--resume", text(&kept), "--write", text(&found)])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("host-sim runs");
    // The settings started from have been tried once the file has a second line.
    let patience = Instant::now();
    while std::fs::read_to_string(&kept).map_or(0, |text| text.lines().count()) < 2 {
        assert!(
            patience.elapsed() < Duration::from_secs(300),
            "nothing is tried"
        );
        std::thread::sleep(Duration::from_millis(20));
    }
    let sent = Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status()
        .expect("kill runs");
    assert!(sent.success());
    let out = child.wait_with_output().expect("host-sim ends");
    ended(&out, 0);
    let screen = String::from_utf8_lossy(&out.stdout).into_owned();
    assert!(screen.contains("Stopped on request"), "{screen}");
    let toml = std::fs::read_to_string(&found).expect("written");
    assert!(toml.contains("# STOPPED EARLY"), "{toml}");
    assert!(toml.contains("# NOT TRIED on winters"), "{toml}");
    assert_eq!(folder.names(), ["found.toml", "kept.jsonl"]);
}
