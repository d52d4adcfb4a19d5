//! Cost of one step. A year at one step in ten seconds is 3.2 million of them.
//!
//! Counted with `cargo bench -p controller-core`, or, in instructions, by
//! `valgrind --tool=callgrind` on the bench's binary with `--bench --exact NAME`.

use std::hint::black_box;

use controller_core::restart::Restart;
use controller_core::sensor::{BySensor, ReadFault, Sample};
use controller_core::settings::Settings;
use controller_core::time::{Duration, Instant};
use controller_core::units::Celsius;
use controller_core::{Controller, Inputs};

fn main() {
    divan::main();
}

/// Steps in one measured batch: an hour and more, so that every part of the step has its turn.
const STEPS: u32 = 1_000;

const CYCLE: Duration = Duration::from_secs(10);

/// Readings in 1/128 K.
fn inputs(supply: i16, ret: i16, slab: i16, outdoor: i16) -> Inputs<'static> {
    let value = |n| Sample::Framed(Celsius::from_128ths(n));
    Inputs {
        samples: BySensor {
            supply: value(supply),
            ret: value(ret),
            slab: value(slab),
            outdoor: value(outdoor),
        },
        ..Inputs::default()
    }
}

/// Booted and settled for two hours on what `at` gives for each step.
fn settled(at: impl Fn(u32) -> Inputs<'static>) -> (Controller, Instant) {
    let mut now = Instant::from_millis(0);
    let mut controller = Controller::boot(Settings::default(), now, Restart::ORDINARY);
    for n in 0..720 {
        black_box(controller.step(now, &at(n)));
        now = controller.next();
    }
    (controller, now)
}

fn measure(bencher: divan::Bencher<'_, '_>, at: impl Fn(u32) -> Inputs<'static> + Sync) {
    let inputs: Vec<_> = (0..STEPS).map(&at).collect();
    let start = settled(&at);
    bencher
        .counter(divan::counter::ItemsCount::new(STEPS))
        .with_inputs(|| start.clone())
        .bench_values(|(mut controller, mut now)| {
            for inputs in &inputs {
                // By reference: a caller copies bits to pins and the row to its log, not the whole.
                let report = controller.step(now, inputs);
                black_box(&report);
                now = now + CYCLE;
            }
            controller
        });
}

/// A mild afternoon: warm slab, circulator at rest.
#[divan::bench]
fn at_rest(bencher: divan::Bencher<'_, '_>) {
    let wave = |n: u32| (n % 16) as i16;
    measure(bencher, |n| inputs(768 + wave(n), 760, 700 - wave(n), 640));
}

/// A cold night: circulator running against frost, everything measured.
#[divan::bench]
fn running(bencher: divan::Bencher<'_, '_>) {
    let wave = |n: u32| (n % 16) as i16;
    measure(bencher, |n| {
        inputs(960 + wave(n), 560 - wave(n), 270, -640 + wave(n))
    });
}

/// Every reading lost.
#[divan::bench]
fn all_lost(bencher: divan::Bencher<'_, '_>) {
    measure(bencher, |_| Inputs {
        samples: BySensor::from_fn(|_| Sample::Failed(ReadFault::Absent)),
        ..Inputs::default()
    });
}
