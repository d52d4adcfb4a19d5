//! `host-sim tonight` against the simulated winter: crossing-time error and hits and misses over the coldest nights.
//!
//! `cargo run --release -p host-sim --example tonight_scores [-- [nights] [members]]`; two seasons, Golden and Chicago. About a minute.

use std::path::Path;
use std::time::Instant;

use controller_core::settings::Settings;
use host_sim::files;
use host_sim::files::site::SiteConfig;
use host_sim::questions::tonight::Verdict;
use host_sim::questions::tonight::ensemble::Size;
use host_sim::questions::tonight::score::{Given, Score, Season};
use host_sim::sim::weather::WeatherYear;

/// Seed of the seasons' sensors; the questions have others.
const SEASON_SEED: u64 = 41;
const DAYS: u32 = 182;

fn main() -> anyhow::Result<()> {
    let mut arguments = std::env::args().skip(1);
    let nights = arguments.next().map_or(Ok(60), |text| text.parse())?;
    let members = arguments.next().map_or(Ok(200), |text| text.parse())?;
    let size = Size {
        members,
        ..Size::default()
    };
    let chicago = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/data/chicago-il-725300-tmy3.epw"
    );
    for (name, year) in [
        ("Golden", files::weather::demo()?),
        ("Chicago", files::weather::read(Path::new(chicago))?),
    ] {
        season(name, &year, nights, size)?;
    }
    Ok(())
}

fn season(name: &str, year: &WeatherYear, nights: usize, size: Size) -> anyhow::Result<()> {
    let (site, settings) = (SiteConfig::default(), Settings::default());
    let season = Season::run(&site, &site, &settings, year, DAYS, nights, SEASON_SEED)?;
    println!("{name}: {}", said(&season));
    for given in Given::ALL {
        ask(&season, given, given.name(), size)?;
    }
    let mut leaky = site.clone();
    leaky.plant.house.glazing_u_w_m2k *= 1.1;
    let season = Season::run(&leaky, &site, &settings, year, DAYS, nights, SEASON_SEED)?;
    println!(
        "\n{name}, glazing that loses 10 % more than the site file says: {}",
        said(&season)
    );
    ask(&season, Given::Log, Given::Log.name(), size)
}

fn said(season: &Season<'_>) -> String {
    let target_c = Settings::default().target.to_fixed().to_num::<f64>();
    let falls = |slab_c: &[f64]| slab_c.iter().any(|&t| t < target_c);
    let fell = season.nights.iter().filter(|n| falls(&n.truth_c)).count();
    format!(
        "{} coldest nights of {DAYS} days, 18:00 to morning; on the store alone the slab fell below {target_c} °C in {fell}",
        season.nights.len()
    )
}

fn ask(season: &Season<'_>, given: Given, name: &str, size: Size) -> anyhow::Result<()> {
    let began = Instant::now();
    let scores = season
        .nights
        .iter()
        .zip(100..)
        .map(|(night, seed)| season.ask(night, given, size, seed))
        .collect::<Result<Vec<_>, _>>()?;
    let each_ms = began.elapsed().as_secs_f64() * 1e3 / scores.len() as f64;
    table(name, &scores, each_ms);
    Ok(())
}

fn table(name: &str, scores: &[Score], each_ms: f64) {
    let fell = |s: &Score| s.truth_below_target_h.is_finite();
    println!("\n  {name} ({each_ms:.0} ms a question)");
    println!("    answer          held   fell");
    for (word, verdict) in [
        ("holds", Verdict::Holds),
        ("may not hold", Verdict::Doubtful),
        ("will not hold", Verdict::Fails),
    ] {
        let count = |falls: bool| {
            scores
                .iter()
                .filter(|s| s.verdict == verdict && fell(s) == falls)
                .count()
        };
        println!("    {word:<14}{:>6}{:>7}", count(false), count(true));
    }
    let ahead = |s: &&Score| fell(s) && s.truth_below_target_h > 0.0;
    let both: Vec<f64> = scores
        .iter()
        .filter(ahead)
        .filter(|s| s.below_target_h.middle.is_finite())
        .map(|s| s.below_target_h.middle - s.truth_below_target_h)
        .collect();
    let inside = scores
        .iter()
        .filter(ahead)
        .filter(|s| {
            (s.below_target_h.low..=s.below_target_h.high).contains(&s.truth_below_target_h)
        })
        .count();
    println!(
        "    crossing, predicted less true ({} nights): mean {:+.2} h, mean size {:.2} h, largest {:.1} h; {} of {} within the range",
        both.len(),
        mean(&both),
        mean(&both.iter().map(|h| h.abs()).collect::<Vec<_>>()),
        both.iter().fold(0.0, |most: f64, h| most.max(h.abs())),
        inside,
        scores.iter().filter(ahead).count()
    );
    let off: Vec<f64> = scores
        .iter()
        .map(|s| s.coldest_c.middle - s.truth_coldest_c)
        .collect();
    let covered = scores
        .iter()
        .filter(|s| (s.coldest_c.low..=s.coldest_c.high).contains(&s.truth_coldest_c))
        .count();
    let width: Vec<f64> = scores
        .iter()
        .map(|s| s.coldest_c.high - s.coldest_c.low)
        .collect();
    println!(
        "    coldest slab: mean {:+.2} K, rms {:.2} K; {} of {} within the range, which is {:.1} K wide",
        mean(&off),
        mean(&off.iter().map(|k| k * k).collect::<Vec<_>>()).sqrt(),
        covered,
        scores.len(),
        mean(&width)
    );
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}
