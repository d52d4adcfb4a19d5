//! The image of an emulated microcontroller decides what the controller in this program decides, byte
//! for byte, and its relays take the simulated house the same way.
//!
//! `tests/run.sh` builds the image and runs these with `EMULATED_IMAGE` naming it. The whole winter is
//! `cargo run --release -p system-tests --example emulated`.

use std::path::PathBuf;

use controller_core::restart::Restart;
use controller_core::settings::Settings;
use controller_core::time::Instant;
use controller_core::{Controller, Inputs, StepReport};
use host_sim::questions::drill;
use host_sim::sim::stepper::Stepper;
use system_tests::Station;
use system_tests::emulated::{Comparison, DrillRun, Emulator, Noise, Remote, WinterRun, compare};

fn remote() -> Remote {
    let image = std::env::var_os("EMULATED_IMAGE").map(PathBuf::from);
    let image = image.expect("EMULATED_IMAGE names the image; tests/run.sh builds it");
    Remote::new(Emulator::start(&image, &[]).unwrap_or_else(|error| panic!("{error}")))
}

#[track_caller]
fn assert_same(name: &str, comparison: &Comparison) {
    assert!(comparison.same(), "{name}: {comparison:#?}");
}

#[test]
#[ignore = "needs the emulated image and QEMU; tests/run.sh has both"]
fn days_of_winter_in_closed_loop() {
    let mut remote = remote();
    // Cold days of the demo's winter, with the circulator and the boiler at work.
    let weather = Station::Golden.weather(11, 26, 3);
    let comparison = compare(&WinterRun { weather, seed: 1 }, &mut remote).expect("it runs");
    assert_same("winter", &comparison);
    assert!(comparison.rows >= 3 * 8_640, "{} rows", comparison.rows);
    // The stack has a region of 32 KiB in the image's memory.x.
    let stack = remote.end().expect("the image ends");
    assert!(
        (1_024..16 * 1_024).contains(&stack),
        "{stack} bytes of stack"
    );
}

/// Every second drill from this one on; each half has an emulator, and a core, of its own.
fn half_of_the_drills(first: usize) {
    let mut remote = remote();
    let drills = drill::built_in().expect("the built-in drills");
    assert!(drills.len() > 2);
    for drill in drills.iter().skip(first).step_by(2) {
        let comparison = compare(&DrillRun(drill), &mut remote).unwrap_or_else(|e| panic!("{e}"));
        assert_same(&drill.name, &comparison);
    }
}

#[test]
#[ignore = "needs the emulated image and QEMU; tests/run.sh has both"]
fn every_built_in_drill_in_closed_loop_the_even_ones() {
    half_of_the_drills(0);
}

#[test]
#[ignore = "needs the emulated image and QEMU; tests/run.sh has both"]
fn every_built_in_drill_in_closed_loop_the_odd_ones() {
    half_of_the_drills(1);
}

#[test]
#[ignore = "needs the emulated image and QEMU; tests/run.sh has both"]
fn noise_with_commands_and_settings() {
    let comparison = compare(&Noise { steps: 20_000 }, &mut remote()).expect("it runs");
    assert_same("noise", &comparison);
}

/// The controller, but one relay bit of one step is another.
struct Tampered {
    controller: Controller,
    steps: u64,
}

/// The step it tampers with.
const TAMPERED: u64 = 100;

impl Stepper for Tampered {
    type Report = StepReport;

    fn begin(&mut self, _: Instant) {}

    fn boot(&mut self, settings: &Settings, now: Instant, restart: Restart) {
        Stepper::boot(&mut self.controller, settings, now, restart);
    }

    fn next(&self) -> Instant {
        self.controller.next()
    }

    fn settings(&self) -> &Settings {
        self.controller.settings()
    }

    fn step(&mut self, now: Instant, inputs: &Inputs<'_>) -> Option<StepReport> {
        let mut report = self.controller.step(now, inputs)?;
        report.row.outputs.alarm ^= self.steps == TAMPERED;
        self.steps += 1;
        Some(report)
    }
}

#[test]
fn one_wrong_bit_is_found_where_it_is() {
    let settings = Settings::default();
    let mut tampered = Tampered {
        controller: Controller::boot(settings, Instant::from_millis(0), Restart::ORDINARY),
        steps: 0,
    };
    let comparison = compare(&Noise { steps: 200 }, &mut tampered).expect("it runs");
    assert!(!comparison.same());
    assert_eq!(comparison.first.map(|first| first.row), Some(TAMPERED));
    assert_ne!(comparison.host_sha256, comparison.image_sha256);
}
