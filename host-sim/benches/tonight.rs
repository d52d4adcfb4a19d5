//! What an answer about tonight costs: the whole, and without the fire.
//!
//! `cargo bench -p host-sim --bench tonight`; the goal is 200 ms with 200 members.

use controller_core::settings::Settings;
use divan::{Bencher, black_box};
use host_sim::files;
use host_sim::files::site::SiteConfig;
use host_sim::questions::tonight::axis::Axis;
use host_sim::questions::tonight::ensemble::Size;
use host_sim::questions::tonight::forecast::{Forecast, SkyCover};
use host_sim::questions::tonight::start::{Present, StoreReading};
use host_sim::questions::tonight::{Question, answer};

fn main() {
    divan::main();
}

fn ask(bencher: Bencher<'_, '_>, members: usize, fire: bool) {
    let (site, settings) = (SiteConfig::default(), Settings::default());
    let station = files::weather::demo()
        .expect("the built-in weather")
        .station;
    let now = jiff::civil::datetime(2025, 1, 15, 18, 0, 0, 0);
    let forecast = Forecast::LowHigh {
        low_c: -9.0,
        high_c: -1.0,
        sky: SkyCover::Clear,
    };
    let question = Question {
        site: &site,
        settings: &settings,
        station: &station,
        axis: Axis::new(&station, now, None),
        present: Present {
            slab_c: 6.0,
            store: StoreReading::Air(8.0),
            outdoor_c: Some(-2.0),
            typed: true,
        },
        history: None,
        forecast: &forecast,
        seed: 1,
        size: Size {
            members,
            ..Size::default()
        },
        fire,
    };
    bencher.bench(|| answer(black_box(&question)).expect("a sound question"));
}

/// 18:00 to 09:00, two readings, the store alone.
#[divan::bench(args = [50, 200, 800], sample_count = 15, sample_size = 1)]
fn store_alone(bencher: Bencher<'_, '_>, members: usize) {
    ask(bencher, members, false);
}

/// The same with the fire.
#[divan::bench(args = [200], sample_count = 15, sample_size = 1)]
fn with_fire(bencher: Bencher<'_, '_>, members: usize) {
    ask(bencher, members, true);
}
