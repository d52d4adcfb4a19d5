//! Steps the emulated image beside the controller itself and compares every trace row byte for byte.
//!
//! ```text
//! cargo run --release -p system-tests --example emulated -- IMAGE noise [STEPS]
//! cargo run --release -p system-tests --example emulated -- IMAGE winter [DAYS]
//! cargo run --release -p system-tests --example emulated -- IMAGE drills [NAME …]
//! ```
//!
//! Arguments of the emulator itself go behind `--`. Exit code 1 if a row differs or a drill fails.

use std::error::Error;
use std::path::Path;
use std::process::ExitCode;

use host_sim::questions::drill::{self, Drill};
use system_tests::Station;
use system_tests::emulated::{
    Comparison, DrillRun, Emulator, Noise, Remote, Scenario, WinterRun, compare,
};

const USAGE: &str =
    "usage: emulated IMAGE noise [STEPS] | winter [DAYS] | drills [NAME …]  [-- QEMU ARGUMENT …]";

fn main() -> ExitCode {
    let mut arguments: Vec<String> = std::env::args().skip(1).collect();
    let mut extra = Vec::new();
    if let Some(at) = arguments.iter().position(|argument| argument == "--") {
        extra = arguments.split_off(at);
        extra.remove(0);
    }
    let ended = match arguments.as_slice() {
        [image, what, rest @ ..] => run(Path::new(image), what, rest, &extra),
        _ => Err(USAGE.into()),
    };
    match ended {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(error) => {
            eprintln!("emulated: {error}");
            ExitCode::from(2)
        }
    }
}

fn run(
    image: &Path,
    what: &str,
    rest: &[String],
    extra: &[String],
) -> Result<bool, Box<dyn Error>> {
    let number = |default| rest.first().map_or(Ok(default), |n| n.parse::<u32>());
    let mut remote = Remote::new(Emulator::start(image, extra)?);
    let same = match what {
        "noise" => {
            let steps = number(200_000)?;
            one("noise", &Noise { steps }, &mut remote)?
        }
        "winter" => {
            // What `host-sim winter` runs without arguments.
            let weather = Station::Golden.weather(10, 15, number(182)?);
            one("winter", &WinterRun { weather, seed: 1 }, &mut remote)?
        }
        "drills" => drills(rest, &mut remote)?,
        _ => return Err(USAGE.into()),
    };
    println!("stack at most {} bytes", remote.end()?);
    Ok(same)
}

/// The drills named, or all.
fn drills(names: &[String], remote: &mut Remote) -> Result<bool, Box<dyn Error>> {
    let all = drill::built_in()?;
    if let Some(name) = names
        .iter()
        .find(|name| all.iter().all(|d| d.name != **name))
    {
        return Err(format!("no drill \"{name}\"; `host-sim drill --list` shows all").into());
    }
    let chosen = |d: &&Drill| names.is_empty() || names.contains(&d.name);
    let (mut count, mut rows, mut same) = (0, 0, 0);
    for drill in all.iter().filter(chosen) {
        let comparison = compare(&DrillRun(drill), remote)?;
        show(&drill.name, &comparison);
        count += 1;
        rows += comparison.rows;
        same += u32::from(comparison.same());
    }
    println!("{same} of {count} drills the same, {rows} rows");
    Ok(same == count)
}

fn one(name: &str, scenario: &impl Scenario, remote: &mut Remote) -> Result<bool, Box<dyn Error>> {
    let comparison = compare(scenario, remote)?;
    show(name, &comparison);
    Ok(comparison.same())
}

fn show(name: &str, c: &Comparison) {
    let word = if c.same() { "same" } else { "DIFFERS" };
    println!(
        "{name}: {word}, {} rows, {:.0} a second, sha256 {}",
        c.rows,
        c.rows_per_second(),
        c.image_sha256
    );
    if !c.same() {
        println!("  here   {}\n  image  {}", c.host_result, c.image_result);
        println!("  here   sha256 {}", c.host_sha256);
    }
    if let Some(first) = &c.first {
        println!("  first at row {}: {}", first.row, first.image);
    }
}
