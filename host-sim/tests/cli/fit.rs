//! `host-sim fit` as a person or a program calls it, on the log of a twin whose truth is known.

use std::fmt::Write as _;
use std::process::Output;
use std::sync::OnceLock;

use crate::support::{Folder, host_sim, text};
use host_sim::files::site::Site;
use host_sim::questions::fit::record::Record;
use host_sim::questions::fit::twin::{Kind, twin};
use host_sim::sim::cancel::Cancel;

/// A record as a logger of one-minute rows writes it.
fn log(record: &Record) -> String {
    let mut log = String::from(
        "time,slab_c,outdoor_c,store_c,air_c,supply_c,return_c,circulator,boiler_call\n",
    );
    for (k, minute) in record.minutes.iter().enumerate() {
        let _ = write!(log, "{}", record.at(k).strftime("%Y-%m-%d %H:%M"));
        for which in 0..minute.readings.len() {
            let _ = match minute.reading(which) {
                Some(celsius) => write!(log, ",{celsius:.3}"),
                None => write!(log, ","),
            };
        }
        let runs = u8::from(minute.runs > 0.5);
        let _ = writeln!(log, ",{runs},{}", u8::from(minute.called));
    }
    log
}

/// Four weeks of a plain twin.
fn plain() -> &'static str {
    static LOG: OnceLock<String> = OnceLock::new();
    LOG.get_or_init(|| {
        log(&twin(3, 28, Kind::Plain, &Cancel::new())
            .expect("a twin")
            .record)
    })
}

#[track_caller]
fn refused(output: &Output, words: &[&str]) {
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(output.stdout.is_empty());
    for word in words {
        assert!(said.contains(word), "{word:?} is not in {said}");
    }
}

/// The same bytes on one core and on two; a site file that reads, changed only where it says so; a page; and nothing has changed since.
#[test]
fn a_fit_writes_what_it_found_whatever_the_cores() {
    let folder = Folder::new();
    let log = folder.file("house.csv", plain());
    let site = folder.file(
        "site.toml",
        "# my house\n[house]\nglazing_u_value = \"3.4 W/m²K\" # twin-wall\n[slab]\nthickness = \"100 mm\"\n",
    );
    let run = |cores: &str, name: &str| {
        let (fitted, page) = (
            folder.path(&format!("{name}.toml")),
            folder.path(&format!("{name}.html")),
        );
        let output = host_sim(&[
            "fit",
            text(&log),
            "--site",
            text(&site),
            "--write",
            text(&fitted),
            "--report",
            text(&page),
            "--cores",
            cores,
        ]);
        assert_eq!(output.status.code(), Some(0), "{output:?}");
        let read = |path| std::fs::read_to_string(path).expect("written");
        (output.stdout, read(&fitted), read(&page))
    };
    let (screen, fitted, page) = run("1", "one");
    let (_, other, _) = run("2", "two");
    assert_eq!(fitted, other);
    let screen = String::from_utf8(screen).expect("UTF-8");
    for words in [
        "Fitted:",
        "Known now",
        "Not known",
        "evenings kept back",
        "heat capacity",
    ] {
        assert!(screen.contains(words), "{words} is not in\n{screen}");
    }
    assert!(page.contains("Not a safety device") && page.contains("Evenings kept back"));
    assert!(!page.contains("NaN"));
    let changed = Site::parse(&fitted, "fitted.toml")
        .expect("readable")
        .config;
    let before = Site::parse("[house]\n", "site.toml")
        .expect("readable")
        .config;
    assert!(changed.plant != before.plant);
    assert!(
        fitted.starts_with("# my house\n[house]\n") && fitted.contains("thickness = \"100 mm\"")
    );
    assert!(fitted.contains("# Fitted from ") && fitted.contains("9 of 10: "));
    assert!(!fitted.contains("9 of 10: 0 K to 0 K"), "{fitted}");

    let compared = host_sim(&[
        "fit",
        text(&log),
        "--site",
        text(&site),
        "--compare",
        text(&folder.path("one.toml")),
    ]);
    let compared = String::from_utf8(compared.stdout).expect("UTF-8");
    assert!(
        compared.contains("has not changed beyond both ranges"),
        "{compared}"
    );
    assert!(!compared.contains(" has changed beyond"), "{compared}");
}

/// A mild fortnight: exit 1, every value not known, nothing written but the report.
#[test]
fn a_log_that_tells_nothing_writes_nothing_but_the_report() {
    let folder = Folder::new();
    let calm = log(&twin(1, 6, Kind::Calm, &Cancel::new())
        .expect("a twin")
        .record);
    let log = folder.file("calm.csv", &calm);
    let output = host_sim(&[
        "fit",
        text(&log),
        "--write",
        text(&folder.path("fitted.toml")),
        "--report",
        text(&folder.path("fit.html")),
    ]);
    assert_eq!(output.status.code(), Some(1), "{output:?}");
    assert_eq!(folder.names(), ["calm.csv", "fit.html"]);
    let screen = String::from_utf8(output.stdout).expect("UTF-8");
    assert!(screen.starts_with("Not told:"), "{screen}");
    assert_eq!(
        screen.matches("not known from this log").count(),
        14,
        "{screen}"
    );
    assert!(!screen.contains("Known now"));
}

#[test]
fn inputs_that_cannot_be_used_are_refused_with_what_to_do() {
    let folder = Folder::new();
    let of = |name: &str, log: &str| host_sim(&["fit", text(&folder.file(name, log))]);
    refused(
        &of(
            "pipe.csv",
            "time,supply_c,return_c,outdoor_c,circulator\n2025-01-01 00:00,8,6,1,1\n",
        ),
        &["pipe.csv", "slab_c", "--column slab_c=HEADER"],
    );
    refused(
        &of(
            "seconds.csv",
            "time_s,slab_c,outdoor_c,circulator\n0,6,1,0\n60,6,1,0\n",
        ),
        &["seconds", "--start"],
    );
    refused(
        &of(
            "coarse.csv",
            "time,slab_c,outdoor_c,circulator\n2025-01-01 00:00,6,1,0\n2025-01-01 01:00,6,1,0\n2025-01-01 02:00,6,1,0\n",
        ),
        &["60 min apart", "30 min or less"],
    );
    // A typical year is no weather of these dates.
    let log = folder.file("house.csv", plain());
    let chicago = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/data/chicago-il-725300-tmy3.epw"
    );
    refused(
        &host_sim(&["fit", text(&log), "--weather", chicago]),
        &["correlation", "typical year"],
    );
}
