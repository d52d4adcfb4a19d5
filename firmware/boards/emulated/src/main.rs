//! Steps the controller with samples that come over semihosting, in the frames of
//! `firmware_app::link`. The files `sim.in` and `sim.out` are opened in QEMU's working directory;
//! named pipes are meant.

#![no_std]
#![no_main]

mod semihosting;
mod stack;

use controller_core::settings::{Field, RawSettings, Settings};
use controller_core::time::Instant;
use controller_core::{Controller, Inputs, StepReport};
use firmware_app::link::{self, BAD, Frame, ROW};
use heapless::String;
use semihosting::Stream;

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

/// What is counted: one decision.
#[unsafe(no_mangle)]
#[inline(never)]
fn decide(controller: &mut Controller, now: Instant, inputs: &Inputs<'_>) -> Option<StepReport> {
    controller.step(now, inputs)
}

#[cortex_m_rt::entry]
fn main() -> ! {
    stack::paint();
    let input = Stream::open(b"sim.in\0", 1);
    let output = Stream::open(b"sim.out\0", 5);
    let mut raw = RawSettings::DEFAULT;
    let mut controller = None;
    let mut bytes = [0; link::SIZE];
    while input.read(&mut bytes) {
        match link::from_bytes(&bytes) {
            None => output.write(&[BAD]),
            Some(Frame::Setting { place, bits }) => {
                let field = Field::all().get(usize::from(place)).copied();
                let taken = field.is_some_and(|field| raw.set_bits(field.key, bits));
                output.write(&[u8::from(taken)]);
            }
            Some(Frame::Boot(now, restart)) => {
                let checked = Settings::check(raw);
                output.write(&[u8::from(checked.is_ok())]);
                controller = Some(Controller::boot(checked.unwrap_or_default(), now, restart));
            }
            Some(Frame::Step {
                now,
                samples,
                feedback,
                command,
            }) => {
                let inputs = Inputs {
                    samples,
                    pump_feedback: feedback,
                    command,
                    settings: None,
                };
                let report = controller.as_mut().and_then(|c| decide(c, now, &inputs));
                #[cfg(feature = "bug")]
                if bytes[usize::from(bytes[3])] == 7 {
                    continue;
                }
                reply(&output, report);
            }
            Some(Frame::End) => {
                output.write(&stack::used().to_le_bytes());
                semihosting::end();
            }
        }
    }
    semihosting::end()
}

fn reply(output: &Stream, report: Option<StepReport>) {
    let mut row = String::<ROW>::new();
    let (next, outputs) = match &report {
        Some(report) => {
            let _ = report.row.write_csv(Instant::from_millis(0), "", &mut row);
            let o = report.outputs;
            let bits =
                u8::from(o.circulator) | u8::from(o.boiler_call) << 1 | u8::from(o.alarm) << 2;
            (report.next.as_millis(), bits)
        }
        None => (0, 0),
    };
    let [low, high, ..] = row.len().to_le_bytes();
    let [a, b, c, d, e, f, g, h] = next.to_le_bytes();
    output.write(&[low, high, a, b, c, d, e, f, g, h, outputs]);
    output.write(row.as_bytes());
}
