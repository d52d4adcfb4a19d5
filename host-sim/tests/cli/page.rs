//! `host-sim page`: the file it writes and what it refuses. What the page does is looked at in a browser, by `page/tests`.

use std::path::PathBuf;
use std::process::Output;

use crate::support::{Folder, host_sim, text};

/// The least that begins as WebAssembly does.
const MODULE: &str = "\0asm\u{1}\0\0\0";

const GOLDEN: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/data/golden-co-724666-tmy3.epw"
);

fn page(folder: &Folder, arguments: &[&str]) -> (PathBuf, Output) {
    let module = folder.file("simulator.wasm", MODULE);
    let page = folder.path("try.html");
    let fixed = ["page", "--simulator", text(&module), "--write", text(&page)];
    let output = host_sim(&[&fixed[..], arguments].concat());
    (page, output)
}

#[track_caller]
fn refused(output: &Output, words: &[&str]) {
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{said}");
    for word in words {
        assert!(said.contains(word), "{word:?} is not in {said}");
    }
}

fn read(path: &PathBuf) -> String {
    std::fs::read_to_string(path).expect("a page")
}

#[test]
fn the_page_holds_what_it_was_given_and_loads_nothing() {
    let folder = Folder::new();
    std::fs::copy(GOLDEN, folder.path("here.epw")).expect("copied");
    let site = folder.file(
        "my house.toml",
        "# </script>\n[place]\nweather = \"here.epw\"\n",
    );
    let settings = folder.file("settings.toml", "slab_set = \"5 °C\"\n");
    let log = folder.file("log.csv", "time,slab_c\n");
    let arguments = [
        ["--site", text(&site)],
        ["--settings", text(&settings)],
        ["--weather", GOLDEN],
        ["--log", text(&log)],
        ["--units", "us"],
    ];
    let (path, output) = page(&folder, &arguments.concat());
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    let page = read(&path);
    for part in [
        "\"name\":\"my house.toml\"",
        "\"text\":\"slab_set = \\\"5 °C\\\"\\n\"",
        "\"name\":\"golden-co-724666-tmy3.epw\"",
        "\"name\":\"here.epw\"",
        "\"name\":\"log.csv\"",
        "\"units\":\"us\"",
        "default-src 'none'",
        "connect-src 'none'",
    ] {
        assert!(page.contains(part), "{part} is not in the page");
    }
    // Neither an address nor where the files lie.
    let folder_name = text(&path).rsplit_once('/').expect("a folder").0.to_owned();
    assert!(!page.contains(&folder_name));
    let addresses = page
        .match_indices("http")
        .filter(|(at, _)| page[*at..].contains("://"));
    let schemes: Vec<&str> = addresses
        .map(|(at, _)| &page[at..page.len().min(at + 12)])
        .collect();
    assert!(
        schemes
            .iter()
            .all(|text| !text.starts_with("http://") && !text.starts_with("https://")),
        "{schemes:?}"
    );
}

#[test]
fn the_same_files_make_the_same_page() {
    let folder = Folder::new();
    let (path, _) = page(&folder, &[]);
    let first = read(&path);
    let (path, _) = page(&folder, &[]);
    assert_eq!(first, read(&path));
}

#[test]
fn without_the_simulator_it_says_how_to_get_it() {
    let folder = Folder::new();
    let write = folder.path("try.html");
    let output = host_sim(&["page", "--write", text(&write)]);
    if cfg!(feature = "page") {
        assert_eq!(output.status.code(), Some(0), "{output:?}");
    } else {
        refused(&output, &["--simulator", "page/build.sh"]);
        assert!(folder.names().is_empty());
    }
}

#[test]
fn what_cannot_be_used_is_refused_and_nothing_is_written() {
    let folder = Folder::new();
    let broken = folder.file("broken.toml", "[house]\nwidth = \"3 kg\"\n");
    let broken = text(&broken);
    let gone = folder.path("gone.csv");
    for (arguments, words) in [
        (["--site", broken], &["broken.toml", "line 2", "width"][..]),
        (["--settings", broken], &["broken.toml", "unknown setting"]),
        (["--weather", broken], &["broken.toml"]),
        (["--log", text(&gone)], &["gone.csv", "cannot be read"]),
        (["--simulator", broken], &[]),
        (["--units", "metric"], &["si or us"]),
    ] {
        let (path, output) = page(&folder, &arguments);
        refused(&output, words);
        assert!(!path.exists());
    }
    let write = folder.path("x.html");
    refused(
        &host_sim(&["page", "--simulator", broken, "--write", text(&write)]),
        &["no WebAssembly", "page/build.sh"],
    );
    refused(&host_sim(&["page"]), &["--write"]);
}

#[test]
fn the_page_takes_no_inputs_place() {
    let folder = Folder::new();
    let site = folder.file("try.html", "");
    let (_, output) = page(&folder, &["--site", text(&site)]);
    refused(&output, &["found an input of this run"]);
    assert_eq!(read(&site), "");
    let module = folder.file("only.wasm", MODULE);
    refused(
        &host_sim(&[
            "page",
            "--simulator",
            text(&module),
            "--write",
            text(&module),
        ]),
        &["found an input of this run"],
    );
}
