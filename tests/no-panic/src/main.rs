//! The whole public work of the core, reached from values the compiler cannot know, with a panic
//! handler that does not exist: the program links only if the core cannot panic.

#![no_std]
#![no_main]

use core::fmt::{self, Write};
use core::hint::black_box;

use controller_core::restart::{BootHistory, Restart, RestartCause};
use controller_core::sensor::{BySensor, ReadFault, Sample, ds18b20, ntc};
use controller_core::settings::{Field, Key, Mode, RawSettings, Settings};
use controller_core::time::Instant;
use controller_core::units::Celsius;
use controller_core::{Command, Controller, Inputs, Switch};

#[cfg(not(feature = "locate"))]
unsafe extern "C" {
    fn panic_path_remains() -> !;
}

#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    #[cfg(feature = "locate")]
    loop {}
    // SAFETY: never called; the symbol does not exist, so a call would not link.
    #[cfg(not(feature = "locate"))]
    unsafe {
        panic_path_remains()
    }
}

/// Any value, as far as the compiler knows.
fn any<T>(value: T) -> T {
    black_box(value)
}

struct Sum(u32);

impl Write for Sum {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        for byte in text.bytes() {
            self.0 = self.0.wrapping_mul(31).wrapping_add(u32::from(byte));
        }
        Ok(())
    }
}

fn sample() -> Sample {
    match any(0_u8) {
        0 => Sample::Value(Celsius::from_128ths(any(0))),
        1 => Sample::Framed(Celsius::from_128ths(any(0))),
        2 => Sample::Failed(any(ReadFault::Missing)),
        3 => ds18b20::decode(&any([0; 9])),
        _ => ntc::from_share(any(0)),
    }
}

fn settings() -> Settings {
    let mut raw = RawSettings::DEFAULT;
    for field in Field::all() {
        let _ = raw.set_bits(field.key, any(0));
    }
    if let Some(key) = Key::from_name(any("settling_time")) {
        let _ = raw.set_bits(key, any(0));
    }
    match Settings::check(raw) {
        Ok(settings) => settings,
        Err(problems) => {
            let mut sum = Sum(0);
            for problem in &problems {
                let _ = sum.write_str(problem.key().name());
            }
            black_box(sum.0);
            Settings::default()
        }
    }
}

#[unsafe(no_mangle)]
extern "C" fn _start() -> ! {
    let mut history = BootHistory::default();
    let boots_last_hour = history.boot(any(0));
    let restart = Restart {
        cause: any(RestartCause::PowerOn),
        boots_last_hour,
        post_run_owed: any(false),
        settings_lost: any(false),
        jitter_s: any(0),
    };
    let mut controller = Controller::boot(settings(), Instant::from_millis(any(0)), restart);
    loop {
        let other = settings();
        let command = match any(0_u8) {
            0 => None,
            1 => Some(Command::Mode(any(Mode::Winter))),
            2 => Some(Command::Pump(any(Switch::Auto))),
            3 => Some(Command::Boiler(any(Switch::Auto))),
            _ => Some(Command::Acknowledge),
        };
        let inputs = Inputs {
            samples: BySensor::from_fn(|_| sample()),
            pump_feedback: any(None),
            shadow: any(None),
            command,
            settings: any(false).then_some(&other),
        };
        if let Some(report) = controller.step(Instant::from_millis(any(0)), &inputs) {
            let mut sum = Sum(0);
            let _ = report
                .row
                .write_csv(Instant::from_millis(any(0)), any(""), &mut sum);
            black_box((sum.0, report.outputs, report.next));
            #[cfg(feature = "bug")]
            {
                let steps = [1_u32, 2, 3];
                black_box(steps[any(0_usize)]);
            }
        }
    }
}
