//! How long `tune` takes on one core and on more, and that the answer is the same.
//!
//! `cargo run --release -p host-sim --example tune_speed [CANDIDATES]`: 400 is what the program tries by default.

use std::time::Instant;

use controller_core::settings::Settings;
use host_sim::files;
use host_sim::files::settings_file;
use host_sim::files::site::Site;
use host_sim::questions::tune::resume::Memory;
use host_sim::questions::tune::screen::Season;
use host_sim::questions::tune::{Budget, Stages, Task, Tuned, tune, winters};
use host_sim::sim::cancel::Cancel;
use indicatif::ProgressBar;

const SEED: u64 = 1;

fn main() -> anyhow::Result<()> {
    let candidates: usize = std::env::args().nth(1).map_or(Ok(60), |n| n.parse())?;
    let tuned_on = winters::tuned_on(vec![files::weather::demo()?], SEED)?;
    let kept_back = winters::kept_back(vec![files::weather::hard()?], &tuned_on[0], SEED)?;
    let task = Task {
        site: Site::demo().config,
        base: Settings::default(),
        tuned_on,
        kept_back,
        season: Season {
            from: jiff::civil::date(2025, 10, 15),
            days: 182,
        },
        error_k: 0.5,
        budget: Budget {
            candidates,
            finalists: (candidates / 16).clamp(4, 24),
            last: 4,
        },
        seed: SEED,
        take: None,
        notes: Vec::new(),
    };
    let stages = Stages::new(&task)?;
    let available = std::thread::available_parallelism()?.get();
    let mut first_s = None;
    let mut first_answer = None;
    let mut cores = 1;
    while cores <= available {
        let start = Instant::now();
        let tuned = answer(&task, &stages, cores)?;
        let seconds = start.elapsed().as_secs_f64();
        let days: u64 = tuned.work.iter().map(|(_, work)| work.days).sum();
        let ratio = *first_s.get_or_insert(seconds) / seconds;
        println!(
            "{cores} core(s): {seconds:.1} s for {days} days of winter, {:.2} ms a day; {ratio:.2} times as fast as one core",
            seconds * 1e3 / days as f64
        );
        let sha = settings_file::sha256(tuned.chosen.raw());
        let same = *first_answer.get_or_insert_with(|| sha.clone()) == sha;
        anyhow::ensure!(same, "another answer on {cores} cores");
        cores *= 2;
    }
    println!("the same settings each time");
    Ok(())
}

fn answer(task: &Task, stages: &Stages, cores: usize) -> anyhow::Result<Tuned> {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(cores).build()?;
    Ok(pool.install(|| {
        tune(
            task,
            stages,
            Memory::new(),
            &Cancel::new(),
            &ProgressBar::hidden(),
        )
    })?)
}
