//! `host-sim fit` against twins made by the plant itself: coverage of its ranges, bias, evenings kept back.
//!
//! `cargo run --release -p host-sim --example fit_scores [-- [first seed] [seeds] [plain|hostile] [sky]]`; about ten seconds a seed on one
//! core. `sky`: with the weather file of the dates.

use std::time::Instant;

use host_sim::questions::fit::score::{Scored, score, tallies};
use host_sim::questions::fit::twin::Kind;
use host_sim::sim::cancel::Cancel;

const DAYS: u32 = 28;

fn main() -> anyhow::Result<()> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let number =
        |i: usize, otherwise: u64| arguments.get(i).map_or(Ok(otherwise), |text| text.parse());
    let (first, seeds) = (number(0, 1)?, number(1, 100)?);
    let has = |word: &str| arguments.iter().any(|argument| argument == word);
    let kind = if has("hostile") {
        Kind::Hostile
    } else {
        Kind::Plain
    };
    let begin = Instant::now();
    let mut all: Vec<Scored> = Vec::new();
    let mut refused = 0;
    for seed in first..first + seeds {
        match score(seed, DAYS, kind, has("sky"), &Cancel::new())? {
            Some((scored, _)) => {
                println!(
                    "seed {seed}: {} nights, evenings kept back {:.2} K, file {:.2} K, day before {:.2} K, coldest {:.2} and {:.2} K, loss per \
                     heat capacity off by {:+.3}{}",
                    scored.nights,
                    scored.kept.fitted_k,
                    scored.kept.file_k,
                    scored.kept.yesterday_k,
                    scored.coldest.fitted_k,
                    scored.coldest.file_k,
                    scored.cooling.0,
                    if scored.written { "" } else { ", not written" }
                );
                all.push(scored);
            }
            None => refused += 1,
        }
    }
    println!(
        "\n{kind:?}, sky {}, {} twins fitted, {refused} refused by the gate, {:.1} s each\n",
        if has("sky") { "measured" } else { "judged" },
        all.len(),
        begin.elapsed().as_secs_f64() / seeds as f64
    );
    println!(
        "| value | called known | bias | rms | range holds the truth |\n|---|---|---|---|---|"
    );
    for (name, tally) in tallies(&all) {
        let (bias, rms, covered) = tally.result();
        println!(
            "| {name} | {} | {bias:+.3} | {rms:.3} | {:.0} % |",
            tally.count,
            100.0 * covered
        );
    }
    let rms = |of: &dyn Fn(&Scored) -> f64| {
        let squares: f64 = all.iter().map(|scored| of(scored).powi(2)).sum();
        (squares / all.len().max(1) as f64).sqrt()
    };
    let better = all
        .iter()
        .filter(|s| s.kept.fitted_k <= s.kept.file_k)
        .count();
    println!(
        "\nEvenings kept back, 15 h: {:.3} K fitted, {:.3} K file, {:.3} K day before; coldest {:.3} and {:.3} K; no worse than the file in \
         {better} of {}.",
        rms(&|s| s.kept.fitted_k),
        rms(&|s| s.kept.file_k),
        rms(&|s| s.kept.yesterday_k),
        rms(&|s| s.coldest.fitted_k),
        rms(&|s| s.coldest.file_k),
        all.len()
    );
    Ok(())
}
