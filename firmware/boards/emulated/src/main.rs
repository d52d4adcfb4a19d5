//! Steps the controller with samples that come over semihosting, in the frames of
//! `firmware_app::link`. The files `sim.in` and `sim.out` are opened in QEMU's working directory;
//! named pipes are meant.

#![no_std]
#![no_main]

mod semihosting;
mod stack;

use controller_core::settings::{Field, RawSettings, Settings};
use controller_core::time::Instant;
use controller_core::{Controller, Event, Inputs, StepReport};
use firmware_app::link::{self, BAD, Frame, ROW, Reply};
use heapless::String;
use semihosting::Stream;
use serial_line::note;

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
fn decide(
    controller: &mut Controller,
    now: Instant,
    inputs: &Inputs<'_>,
    report: &mut StepReport,
) -> bool {
    controller.step_into(now, inputs, report)
}

#[cortex_m_rt::entry]
fn main() -> ! {
    stack::paint();
    let input = Stream::open(b"sim.in\0", 1);
    let output = Stream::open(b"sim.out\0", 5);
    let mut raw = RawSettings::DEFAULT;
    let mut origin = Instant::from_millis(0);
    let mut controller = None;
    let mut report = StepReport::default();
    let mut bytes = [0; link::SIZE];
    while input.read(&mut bytes) {
        match link::from_bytes(&bytes) {
            None => output.write(&[BAD]),
            Some(Frame::Setting { place, bits }) => {
                let field = Field::all().get(usize::from(place)).copied();
                let taken = field.is_some_and(|field| raw.set_bits(field.key, bits));
                output.write(&[u8::from(taken)]);
            }
            Some(Frame::Origin(at)) => {
                origin = at;
                output.write(&[1]);
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
                settings,
            }) => {
                let given = settings.then(|| Settings::check(raw).ok()).flatten();
                let inputs = Inputs {
                    samples,
                    pump_feedback: feedback,
                    command,
                    settings: given.as_ref(),
                    ..Inputs::default()
                };
                #[cfg(feature = "bug")]
                if bytes[usize::from(bytes[3])] == 7 {
                    continue;
                }
                match &mut controller {
                    Some(controller) => {
                        step(&output, controller, now, origin, &inputs, &mut report)
                    }
                    None => output.write(&Reply::NONE.to_bytes()),
                }
            }
            Some(Frame::End) => {
                output.write(&stack::used().to_le_bytes());
                semihosting::end();
            }
        }
    }
    semihosting::end()
}

/// Decides and answers.
fn step(
    output: &Stream,
    controller: &mut Controller,
    now: Instant,
    origin: Instant,
    inputs: &Inputs<'_>,
    report: &mut StepReport,
) {
    let before = inputs.settings.map(|_| *controller.settings().raw());
    if !decide(controller, now, inputs, report) {
        return output.write(&Reply::NONE.to_bytes());
    }
    let note = match (report.row.event, before) {
        (Event::Settings, Some(before)) => note::changes(&before, controller.settings().raw()),
        _ => None,
    };
    let mut row = String::<ROW>::new();
    let _ = report
        .row
        .write_csv(origin, note.as_deref().unwrap_or(""), &mut row);
    output.write(&Reply::new(report, row.len()).to_bytes());
    output.write(row.as_bytes());
}
