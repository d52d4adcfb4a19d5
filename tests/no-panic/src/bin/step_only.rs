//! The decision alone, to see what it takes in flash: a controller with checked settings, stepped with
//! samples the compiler cannot know. No trace text, no settings by name. `size` of it is the figure.

#![no_std]
#![no_main]

use core::hint::black_box;

use controller_core::restart::Restart;
use controller_core::sensor::{BySensor, Sample};
use controller_core::settings::Settings;
use controller_core::time::Instant;
use controller_core::units::Celsius;
use controller_core::{Controller, Inputs, StepReport};

unsafe extern "C" {
    fn panic_path_remains() -> !;
}

#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    // SAFETY: never called; the symbol does not exist, so a call would not link.
    unsafe { panic_path_remains() }
}

#[unsafe(no_mangle)]
extern "C" fn _start() -> ! {
    let now = || Instant::from_millis(black_box(0));
    let mut controller = Controller::boot(Settings::default(), now(), black_box(Restart::ORDINARY));
    let mut report = StepReport::default();
    loop {
        let inputs = Inputs {
            samples: BySensor::from_fn(|_| {
                black_box(Sample::Framed(Celsius::from_128ths(black_box(0))))
            }),
            pump_feedback: black_box(None),
            shadow: black_box(None),
            command: black_box(None),
            settings: None,
        };
        if controller.step_into(now(), &inputs, &mut report) {
            black_box((report.outputs, report.next));
        }
    }
}
