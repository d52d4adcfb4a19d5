//! `host-sim site`: the first own result in two commands, answered from a pipe.

use std::io::Write as _;
use std::process::{Command, Output, Stdio};

use crate::support::{Folder, host_sim, text};

/// Runs `host-sim` in a folder with this on its standard input.
fn piped(folder: &Folder, args: &[&str], input: &str) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_host-sim"))
        .args(args)
        .current_dir(folder.path("."))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("host-sim runs");
    let mut stdin = child.stdin.take().expect("a pipe");
    // A command that ends early closes its end.
    let _ = stdin.write_all(input.as_bytes());
    drop(stdin);
    child.wait_with_output().expect("host-sim ends")
}

fn said(out: &Output) -> (String, String) {
    (
        String::from_utf8_lossy(&out.stdout).into_owned(),
        String::from_utf8_lossy(&out.stderr).into_owned(),
    )
}

/// Answers, and whether they are in US units: one long slow circuit; no boiler; feet and inches.
const HOUSES: [(&str, &str, bool); 3] = [
    (
        "long-circuit",
        "9 m\n5 m\n2 m\n3 m\ntwin-wall\nR-5\n16x2.0\n120 m\n0.35 m\n6 m\n2 m3/h\n45 W\n20 kW\n42 N, -20 C, -4 -2 4 10 16 21 24 23 18 12 5 -2\n10 C\n",
        false,
    ),
    (
        "no-boiler",
        "\n\n\n\ndouble film\nbare\n20x2.0\n2 x 43 m\n\n\n\n\nnone\n48 N, -12 C, 1 2 6 10 14 18 20 19 15 10 5 2\n11 C\n",
        false,
    ),
    (
        "feet",
        "30 ft\n16 ft\n6 ft 3 in\n9 ft\ntwin-wall\nR-10\n1/2 in\n380 ft\n15 in\n19 ft\n15 gpm\n87 W\n100 MBH\n42 N, -4 F, 24 28 39 50 60 70 75 71 65 52 40 25\n50 F\n",
        true,
    ),
];

/// Exactly two commands lead from nothing to settings, which a winter then takes without a word that they do not fit.
#[test]
fn two_commands_make_a_site_and_settings_that_a_winter_takes() {
    for (name, answers, is_us) in HOUSES {
        let folder = Folder::new();
        let units = if is_us { "us" } else { "si" };
        let out = piped(
            &folder,
            &["site", "--ask", "--units", units, "--out", "site.toml"],
            answers,
        );
        let (stdout, stderr) = said(&out);
        assert_eq!(out.status.code(), Some(0), "{name}: {stderr}");
        assert!(stdout.is_empty(), "{name}: {stdout}");
        assert!(stderr.contains("15/15 "), "{name}: {stderr}");
        let next = "host-sim size --site site.toml --write-settings settings.toml";
        assert!(stderr.contains(next), "{name}: {stderr}");
        let size = [
            "size",
            "--site",
            "site.toml",
            "--write-settings",
            "settings.toml",
            "--units",
            units,
        ];
        let out = piped(&folder, &size, "");
        let (stdout, stderr) = said(&out);
        // 1 is a judgement on the loop, and the settings are written all the same.
        assert!(matches!(out.status.code(), Some(0 | 1)), "{name}: {stderr}");
        assert!(stdout.contains("as the climate has it"), "{name}: {stdout}");
        assert_eq!(folder.names(), ["settings.toml", "site.toml"], "{name}");
        let winter = [
            "winter",
            "--site",
            "site.toml",
            "--settings",
            "settings.toml",
            "--from",
            "2026-01-10",
            "--days",
            "3",
            "--units",
            units,
        ];
        let out = piped(&folder, &winter, "");
        let (stdout, stderr) = said(&out);
        assert!(matches!(out.status.code(), Some(0 | 1)), "{name}: {stderr}");
        for part in ["do not fit", "The site has no boiler", "demo's"] {
            assert!(!stdout.contains(part), "{name}: {part} is in {stdout}");
        }
        assert!(stdout.contains("made up from latitude"), "{name}: {stdout}");
        if is_us {
            assert!(!stdout.contains("°C"), "{name}: {stdout}");
        }
    }
}

#[test]
fn the_short_file_goes_to_standard_output_and_the_full_one_stays() {
    let folder = Folder::new();
    let out = piped(&folder, &["site", "--ask"], "7 m\n");
    let (stdout, stderr) = said(&out);
    assert_eq!(out.status.code(), Some(0), "{stderr}");
    assert!(
        stderr.contains("End of input: the defaults stand"),
        "{stderr}"
    );
    assert!(
        stdout.contains("length = \"7 m\"")
            && stdout.contains("for 14 of 15 questions the default stands"),
        "{stdout}"
    );
    assert!(stdout.lines().count() < 100, "{}", stdout.lines().count());
    let full = host_sim(&["site"]);
    assert!(said(&full).0.lines().count() > 400);
    let file = folder.path("full.toml");
    let out = host_sim(&["site", "--out", text(&file)]);
    assert_eq!(out.status.code(), Some(0));
    assert!(out.stdout.is_empty());
    assert_eq!(std::fs::read(&file).expect("written"), full.stdout);
}

#[test]
fn a_wrong_answer_in_a_pipe_ends_it_and_what_was_there_stays() {
    let folder = Folder::new();
    let before = folder.file("site.toml", "# an older one\n");
    for (answers, parts) in [
        (
            "wide\n",
            ["answer 1 (Length of the house)", "found \"wide\""],
        ),
        ("7 kg\n", ["answer 1", "measures something else"]),
        (
            "\n\n\n\n\n\n\n\n\n\n\n\n\n\n\nmore\n",
            ["found \"more\"", "15 lines"],
        ),
        (
            "\n\n\n\n\n\n\n\n\n\n\n\n\nno-such-file.epw\n",
            ["answer 14", "no-such-file.epw"],
        ),
    ] {
        let out = piped(&folder, &["site", "--ask", "--out", "site.toml"], answers);
        let (stdout, stderr) = said(&out);
        assert_eq!(out.status.code(), Some(2), "{stderr}");
        assert!(stdout.is_empty(), "{stdout}");
        for part in parts {
            assert!(stderr.contains(part), "{part} is not in {stderr}");
        }
        assert_eq!(folder.names(), ["site.toml"]);
        assert_eq!(std::fs::read(&before).expect("kept"), b"# an older one\n");
    }
}

/// Without units of their own the keys, ranges and comments of both files are in the person's.
#[test]
fn no_si_unit_is_left_in_a_us_site_or_settings_file() {
    for args in [["site", "--units", "us"], ["settings", "--units", "us"]] {
        let (stdout, _) = said(&host_sim(&args));
        for line in stdout.lines() {
            for part in [
                "°C", "W/mK", "W/m2K", "J/m3K", "MJ/m3K", " K ", " K.", " K,", " m ", " mm", "L/s",
                " kg",
            ] {
                let is_allowed = line.contains("Physical values") || line.contains("specific_heat");
                assert!(is_allowed || !line.contains(part), "{part} is in {line}");
            }
        }
    }
}

/// What a person in the United States reads of drills and spells has no SI unit left.
#[test]
fn drills_and_spells_speak_us_units_too() {
    let spells = ["spells", "--seed", "3", "--days", "7", "--units", "us"];
    let commands: [&[&str]; 4] = [
        &["drill", "--list", "--units", "us"],
        &["drill", "--drill", "cold-slab", "--units", "us"],
        &spells,
        &["size", "--units", "us"],
    ];
    for args in commands {
        let (stdout, stderr) = said(&host_sim(args));
        assert!(stdout.contains("°F"), "{args:?}: {stdout} {stderr}");
        for part in [
            "°C", " K ", " kg", "m K/W", " mm", " bar]", " bar ", "L/s", "K·h",
        ] {
            assert!(!stdout.contains(part), "{args:?}: {part} is in {stdout}");
        }
    }
}
