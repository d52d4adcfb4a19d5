//! Ways of tending a fire in several houses, beside the plain pair and what foresight could do; means of the seeds a winter.
//! `--example tending -- [FROM..TO] [HOUSE ...]`; without foresight if the first word is `quick`.

use std::path::Path;

use host_sim::files;
use host_sim::questions::compare::ways::tend_on_call;
use host_sim::questions::compare::{Comparison, Count, Line, Winter};
use host_sim::questions::spells::houses::{House, names};
use host_sim::sim::cancel::Cancel;
use host_sim::sim::weather::Series;

fn main() -> anyhow::Result<()> {
    let mut words: Vec<String> = std::env::args().skip(1).collect();
    let quick = words.first().is_some_and(|word| word == "quick");
    if quick {
        words.remove(0);
    }
    let seeds = match words.first().and_then(|word| word.split_once("..")) {
        Some((from, to)) => {
            let seeds = from.parse::<u64>()?..to.parse()?;
            words.remove(0);
            seeds
        }
        None => 1..2,
    };
    if words.is_empty() {
        words = names()
            .filter(|name| *name != "unmixed")
            .map(str::to_owned)
            .collect();
    }
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("data");
    let files = ["golden-co-724666-tmy3.epw", "chicago-il-725300-tmy3.epw"];
    let years = files
        .iter()
        .map(|file| files::weather::read(&data.join(file)))
        .collect::<Result<Vec<_>, _>>()?;
    println!(
        "a winter, mean of Golden and Chicago, seeds {}..{}",
        seeds.start, seeds.end
    );
    println!(
        "| house, way | K·h below | wood, kg | boiler, kWh | feeds | wakings | nights | calls | useless | circulator, kWh |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|");
    for name in &words {
        let mut house = House::built_in(name).map_err(anyhow::Error::msg)?;
        let winters = years
            .iter()
            .map(|year| {
                let period = year.period(jiff::civil::date(2025, 10, 15), 182)?;
                Ok(Winter {
                    name: year.station.name.clone(),
                    weather: Series::new(year, period, &house.site.glazing()),
                })
            })
            .collect::<anyhow::Result<Vec<_>>>()?;
        tend_on_call(&mut house.site.plant);
        let mut lines: Vec<Line> = Vec::new();
        for seed in seeds.clone() {
            let comparison = Comparison {
                plant: &house.site.plant,
                settings: &house.settings,
                winters: &winters,
                seed,
                bound: false,
            };
            let cancel = Cancel::new();
            let mut these = comparison.ways(&cancel, &|| ())?;
            these.push(comparison.plain_pair(&cancel, &|| ())?);
            if !quick && seed == seeds.start {
                for mut bound in comparison.bounds(&cancel, &|| ())? {
                    // Foresight has no sensors, so every seed is the same.
                    let one = bound.total;
                    for _ in seeds.clone().skip(1) {
                        bound.total = bound.total.plus(one);
                    }
                    these.push(bound);
                }
            }
            for line in these {
                match lines.iter_mut().find(|known| known.name == line.name) {
                    Some(known) => known.total = known.total.plus(line.total),
                    None => lines.push(line),
                }
            }
        }
        let count = (seeds.end - seeds.start) as f64 * winters.len() as f64;
        for line in &lines {
            print(name, &line.name, &line.total, count);
        }
    }
    Ok(())
}

fn print(house: &str, way: &str, c: &Count, count: f64) {
    let whole = |n: u32| f64::from(n) / count;
    println!(
        "| {house}, {way} | {:.2} | {:.0} | {:.0} | {:.0} | {:.0} | {:.0} | {:.0} | {:.1} | {:.1} |",
        c.below_target_kh / count,
        c.wood_kg / count,
        c.boiler_heat_kwh / count,
        whole(c.feeds),
        whole(c.wakings),
        whole(c.fed_nights),
        whole(c.calls),
        whole(c.useless_calls),
        c.pump_kwh / count
    );
}
