//! Time and memory of a winter as the program runs it.
//!
//! `cargo run --release -p host-sim --example winter_speed`

use std::time::Instant;

use controller_core::settings::Settings;
use host_sim::account::sinks::RunSinks;
use host_sim::files;
use host_sim::files::output::OutputSet;
use host_sim::files::site::Site;
use host_sim::sim::cancel::Cancel;
use host_sim::sim::closed_loop::Pace;
use host_sim::sim::season::Run;
use host_sim::sim::weather::Series;

/// Runs of which the quickest counts.
const REPEATS: u32 = 7;

fn main() -> anyhow::Result<()> {
    for days in [91, 182, 365] {
        let mut best_s = f64::INFINITY;
        let mut steps = 0;
        for _ in 0..REPEATS {
            let start = Instant::now();
            steps = winter(days)?;
            best_s = best_s.min(start.elapsed().as_secs_f64());
        }
        let (per_day, per_step) = (best_s * 1e3 / f64::from(days), best_s * 1e9 / steps as f64);
        println!(
            "{days:>3} days: {best_s:.3} s, {per_day:.2} ms a day, {steps} steps of {per_step:.0} ns"
        );
    }
    println!("peak memory {}", peak_memory());
    Ok(())
}

/// From reading the weather to the numbers; how many steps the controller took.
fn winter(days: u32) -> anyhow::Result<u64> {
    let (site, settings) = (Site::demo(), Settings::default());
    let year = files::weather::demo()?;
    let period = year.period(jiff::civil::date(2025, 10, 15), days)?;
    let weather = Series::new(&year, period, &site.config.glazing());
    let run = Run {
        plant: &site.config.plant,
        settings: &settings,
        weather: &weather,
        seed: 1,
        pace: Pace::USUAL,
    };
    let mut sinks = RunSinks::new(&settings, None, false, None);
    let mut steps = 0;
    run.go::<anyhow::Error>(&Cancel::new(), |report, seen| {
        steps += 1;
        Ok(sinks.push(report, seen.stands_ms, &seen.extra, "")?)
    })?;
    sinks.finish(&mut OutputSet::new())?;
    Ok(steps)
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
