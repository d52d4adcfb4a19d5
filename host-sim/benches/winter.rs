//! What a winter costs: the whole closed loop, and its parts.
//!
//! `cargo bench -p host-sim --bench winter`; times should grow in line with the days.

use controller_core::settings::Settings;
use divan::counter::ItemsCount;
use divan::{Bencher, black_box};
use host_sim::account::sinks::RunSinks;
use host_sim::files;
use host_sim::files::output::OutputSet;
use host_sim::files::site::SiteConfig;
use host_sim::sim::cancel::Cancel;
use host_sim::sim::closed_loop::{Pace, samples};
use host_sim::sim::plant::{OutdoorConditions, Plant, PlantConfig, Relays};
use host_sim::sim::season::Run;
use host_sim::sim::weather::Series;

fn main() {
    divan::main();
}

/// Steps in a measured batch of the plant alone: a day of minutes.
const STEPS: u32 = 1_440;

fn weather(days: u32) -> Series {
    let year = files::weather::demo().expect("the built-in weather");
    let period = year
        .period(jiff::civil::date(2025, 10, 15), days)
        .expect("a period of the year");
    Series::new(&year, period, &SiteConfig::default().glazing())
}

/// Plant, sensors, controller and numbers, one step in ten seconds; what `winter --json` does after reading its files.
#[divan::bench(args = [91, 182], sample_count = 9, sample_size = 1)]
fn closed_loop_days(bencher: Bencher<'_, '_>, days: u32) {
    let (plant, settings, weather) = (PlantConfig::default(), Settings::default(), weather(days));
    bencher.counter(ItemsCount::new(days)).bench(|| {
        let run = Run {
            plant: &plant,
            settings: &settings,
            weather: &weather,
            seed: 1,
            pace: Pace::USUAL,
        };
        let mut sinks = RunSinks::new(&settings, None, false, None);
        let totals = run
            .go::<anyhow::Error>(&Cancel::new(), |report, seen| {
                Ok(sinks.push(report, seen.stands_ms, &seen.extra, "")?)
            })
            .expect("nothing stops it");
        let (numbers, _) = sinks
            .finish(&mut OutputSet::new())
            .expect("nothing is written");
        black_box((totals, numbers))
    });
}

/// Weather files read and prepared.
#[divan::bench(args = [182])]
fn weather_days(bencher: Bencher<'_, '_>, days: u32) {
    bencher.bench(|| weather(black_box(days)));
}

fn cold() -> OutdoorConditions {
    OutdoorConditions {
        air_c: -5.0,
        infrared_w_m2: 230.0,
        wind_m_s: 3.0,
        solar_incident_w: 4_000.0,
        ground_day: 340.0,
        ..OutdoorConditions::default()
    }
}

/// A settled plant under constant relays.
fn plant(relays: Relays) -> Plant {
    let mut plant = Plant::new(&PlantConfig::default(), 1);
    for _ in 0..600 {
        plant.step(60.0, &cold(), relays);
    }
    plant
}

/// The plant alone, a minute a step.
#[divan::bench(args = ["at rest", "circulator", "circulator and boiler"])]
fn plant_step(bencher: Bencher<'_, '_>, running: &str) {
    let relays = Relays {
        circulator: running != "at rest",
        boiler_call: running.contains("boiler"),
    };
    let start = plant(relays);
    bencher
        .counter(ItemsCount::new(STEPS))
        .with_inputs(|| start.clone())
        .bench_refs(|plant| {
            for _ in 0..STEPS {
                plant.step(60.0, black_box(&cold()), relays);
            }
            black_box(plant.true_state())
        });
}

/// All six sensors, six readings a step.
#[divan::bench]
fn sensors_read(bencher: Bencher<'_, '_>) {
    let start = plant(Relays::default());
    bencher
        .counter(ItemsCount::new(STEPS))
        .with_inputs(|| start.clone())
        .bench_refs(|plant| {
            for reading in 0..STEPS {
                if reading % 6 == 0 {
                    plant.step(60.0, &cold(), Relays::default());
                }
                black_box(samples(&plant.read_at(f64::from(reading % 6) * 10.0)));
            }
        });
}
