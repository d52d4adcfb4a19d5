//! Replay against a bare `csv` pass over the same file, in one run.
//!
//! `cargo run --release -p host-sim --example replay_speed -- 31536000` takes a year at one row a
//! second (about 1.8 GB in the temporary folder); without a number it takes three million rows.

use std::io::{BufWriter, Write as _};
use std::path::Path;
use std::time::Instant;

use controller_core::settings::Settings;
use host_sim::account::sinks::RunSinks;
use host_sim::files::log::{LogReader, ReaderOptions};
use host_sim::files::output::OutputSet;
use host_sim::questions::replay::{reader_options, replay};
use host_sim::sim::cancel::Cancel;

fn main() -> anyhow::Result<()> {
    let rows: u32 = std::env::args()
        .nth(1)
        .map_or(Ok(3_000_000), |n| n.parse())?;
    let file = tempfile::Builder::new().suffix(".csv").tempfile()?;
    write_log(file.path(), rows)?;
    let bytes = file.path().metadata()?.len();
    println!("{rows} rows, {:.0} MB", bytes as f64 / 1e6);
    let mut best = [f64::INFINITY; 2];
    for _ in 0..3 {
        best[0] = best[0].min(timed(|| csv_pass(file.path()))?);
        best[1] = best[1].min(timed(|| replay_pass(file.path()))?);
        if rows > 10_000_000 {
            break;
        }
    }
    let per_row = |seconds: f64| seconds * 1e9 / f64::from(rows);
    println!(
        "bare csv pass {:.2} s, {:.0} ns a row",
        best[0],
        per_row(best[0])
    );
    println!(
        "replay        {:.2} s, {:.0} ns a row",
        best[1],
        per_row(best[1])
    );
    println!("ratio         {:.2}", best[1] / best[0]);
    println!("peak memory   {}", peak_memory());
    Ok(())
}

fn timed(work: impl FnOnce() -> anyhow::Result<f64>) -> anyhow::Result<f64> {
    let start = Instant::now();
    let result = work()?;
    let seconds = start.elapsed().as_secs_f64();
    println!("  {seconds:.2} s (sum {result:.1})");
    Ok(seconds)
}

/// A plain log: slow waves with sensor steps of 1/16 K, relays now and then.
fn write_log(path: &Path, rows: u32) -> anyhow::Result<()> {
    let mut out = BufWriter::new(std::fs::File::create(path)?);
    writeln!(
        out,
        "time,supply_c,return_c,slab_c,outdoor_c,circulator,boiler_call"
    )?;
    let start: jiff::Timestamp = "2025-01-01T00:00:00Z".parse()?;
    for second in 0..rows {
        let time = start + jiff::SignedDuration::from_secs(i64::from(second));
        let wave = |period: f64, size: f64| {
            let value = size * (f64::from(second) / period * std::f64::consts::TAU).sin();
            (value * 16.0).round() / 16.0
        };
        let runs = u8::from(second / 3_600 % 5 == 0);
        writeln!(
            out,
            "{time},{},{},{},{},{runs},0",
            7.0 + wave(40_000.0, 1.5),
            4.5 + wave(40_000.0, 1.0),
            4.0 + wave(86_400.0, 1.0),
            -3.0 + wave(86_400.0, 8.0)
        )?;
    }
    out.flush()?;
    Ok(())
}

/// The yardstick: every cell split by the `csv` crate and read as a number.
fn csv_pass(path: &Path) -> anyhow::Result<f64> {
    let mut reader = csv::Reader::from_path(path)?;
    let mut record = csv::ByteRecord::new();
    let mut sum = 0.0;
    while reader.read_byte_record(&mut record)? {
        let time: jiff::Timestamp = std::str::from_utf8(&record[0])?.parse()?;
        sum += time.as_second() as f64 * 1e-9;
        for cell in record.iter().skip(1) {
            sum += std::str::from_utf8(cell)?.parse::<f64>()?;
        }
    }
    Ok(sum)
}

fn replay_pass(path: &Path) -> anyhow::Result<f64> {
    let settings = Settings::default();
    let reader = LogReader::open(path, &reader_options(ReaderOptions::default()))?;
    let mut sinks = RunSinks::new(&settings, None, false, None);
    replay(reader, &settings, &mut sinks, &Cancel::new(), &mut |_| {})?;
    let (numbers, _) = sinks.finish(&mut OutputSet::new())?;
    Ok(numbers.circulator_hours)
}

/// From the kernel's own account, where there is one.
fn peak_memory() -> String {
    std::fs::read_to_string("/proc/self/status")
        .ok()
        .and_then(|text| {
            text.lines()
                .find(|line| line.starts_with("VmHWM"))
                .map(str::to_owned)
        })
        .unwrap_or_else(|| "unknown on this system".to_owned())
}
