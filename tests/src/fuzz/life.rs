//! Any bytes as a life of the controller.

use arbitrary::{Result, Unstructured};
use controller_core::restart::{Restart, RestartCause};
use controller_core::sensor::{BySensor, Sample};
use controller_core::settings::{Field, Kind, Mode, RawSettings, Settings};
use controller_core::time::{Duration, Instant};
use controller_core::units::Celsius;
use controller_core::{Command, Inputs, Switch};

use super::support::{Alive, EDGES, Happens, Says, Stretch};

/// Steps in one life at most: half a day at ten seconds a step, a day at the longest cycle.
const MOST_STEPS: u64 = 4_000;

/// Reads the bytes as settings, a boot, and stretches of readings, commands, new settings, delays, reboots and
/// leaps of the clock. Every row keeps the rules of the core's `Watch`, is written without a fault, and is what
/// a copy of the controller gives; a call before its time gives nothing. Gives the number of steps.
///
/// # Panics
/// A rule is broken.
pub fn controller_step(bytes: &[u8]) -> u64 {
    let mut steps = 0;
    // Bytes that end in the middle of something end the life.
    let _ = live(&mut Unstructured::new(bytes), &mut steps);
    steps
}

fn live(bytes: &mut Unstructured<'_>, steps: &mut u64) -> Result<()> {
    let settings = settings(bytes)?;
    let restart = restart(bytes)?;
    // Up to 36 000 years; a counter of milliseconds that is full has no next step.
    let start = Instant::from_millis(match bytes.int_in_range(0..=3_u8)? {
        0 => 0,
        1 => u64::from(u32::MAX) - 30_000,
        _ => bytes.arbitrary::<u64>()? >> 14,
    });
    let mut alive = Alive::born(&settings, restart, start);
    while !bytes.is_empty() && alive.rows < MOST_STEPS {
        let stretch = stretch(bytes, alive.controller.settings())?;
        early(&alive);
        let mut copy = alive.controller.clone();
        let mut text = String::new();
        let compared = matches!(stretch.happens, Happens::Nothing | Happens::Late(_));
        alive.live(&stretch, |alive, report| {
            text.clear();
            report
                .row
                .write_csv(start, "", &mut text)
                .expect("a string takes everything");
            if compared {
                let inputs = Inputs {
                    samples: alive.samples,
                    pump_feedback: alive.feedback,
                    ..Inputs::default()
                };
                let again = copy.step(alive.now, &inputs);
                assert_eq!(again.as_ref(), Some(report), "a copy decides otherwise");
            }
        });
        *steps = alive.rows;
    }
    Ok(())
}

/// A call before its time, or with a clock set back, gives nothing and changes nothing.
fn early(alive: &Alive) {
    let mut tried = alive.controller.clone();
    for back in [1, 10_000, u32::MAX] {
        let at = tried.next() - Duration::from_millis(back);
        if at < tried.next() {
            let inputs = Inputs {
                samples: alive.samples,
                command: Some(Command::Mode(Mode::Drained)),
                ..Inputs::default()
            };
            assert!(tried.step(at, &inputs).is_none(), "a step before its time");
        }
    }
    assert!(tried == alive.controller, "an early call changes something");
}

/// The defaults with some values changed, as far as they go together.
fn settings(bytes: &mut Unstructured<'_>) -> Result<Settings> {
    let fields = Field::all();
    let mut settings = Settings::default();
    for _ in 0..bytes.int_in_range(0..=24_u8)? {
        let field = bytes.choose(fields)?;
        let bits = match (bytes.int_in_range(0..=3_u8)?, field.kind) {
            (0, _) => field.min,
            (1, _) => field.max,
            (_, Kind::Choice(_) | Kind::Switch) => field.max,
            (2, _) => field.min + (field.max - field.min) / 2,
            _ => bytes.int_in_range(field.min..=field.max)?,
        };
        let mut raw: RawSettings = *settings.raw();
        if raw.set_bits(field.key, bits)
            && let Ok(changed) = Settings::check(raw)
        {
            settings = changed;
        }
    }
    Ok(settings)
}

fn restart(bytes: &mut Unstructured<'_>) -> Result<Restart> {
    let flags: u8 = bytes.arbitrary()?;
    Ok(Restart {
        cause: *bytes.choose(&[
            RestartCause::PowerOn,
            RestartCause::BrownOut,
            RestartCause::Watchdog,
            RestartCause::Requested,
        ])?,
        boots_last_hour: bytes.int_in_range(1..=9)?,
        post_run_owed: flags & 2 != 0,
        settings_lost: flags & 8 != 0,
        jitter_s: bytes.arbitrary()?,
    })
}

fn stretch(bytes: &mut Unstructured<'_>, in_force: &Settings) -> Result<Stretch> {
    let flags: u8 = bytes.arbitrary()?;
    let says = BySensor {
        supply: says(bytes)?,
        ret: says(bytes)?,
        slab: says(bytes)?,
        outdoor: says(bytes)?,
    };
    let steps = match flags & 3 {
        0 => 1 + u16::from(bytes.arbitrary::<u8>()? & 7),
        1 | 2 => 1 + u16::from(bytes.arbitrary::<u8>()?),
        _ => 1 + (bytes.arbitrary::<u16>()? & 1_023),
    };
    Ok(Stretch {
        says,
        steps,
        happens: happens(bytes, in_force)?,
        feedback: match flags >> 2 & 7 {
            0 => Some(true),
            1 => Some(false),
            _ => None,
        },
        framed: flags >> 5 & 1 == 0,
        slow: if flags >> 6 == 0 {
            bytes.arbitrary::<u16>()? & 4_095
        } else {
            0
        },
    })
}

fn says(bytes: &mut Unstructured<'_>) -> Result<Says> {
    Ok(match bytes.int_in_range(0..=7_u8)? {
        0 | 1 => Says::Hold(temperature(bytes)?),
        2 => Says::Ramp(temperature(bytes)?, bytes.int_in_range(-40..=40)?),
        3 => Says::Flip(temperature(bytes)?, temperature(bytes)?),
        4 => {
            let faults = Sample::FAULT_WORDS;
            Says::Fail(bytes.choose(&faults)?.1)
        }
        _ => Says::Same,
    })
}

/// Near one at which something changes, of the usual range, or any, 1/128 °C.
fn temperature(bytes: &mut Unstructured<'_>) -> Result<i16> {
    Ok(match bytes.int_in_range(0..=3_u8)? {
        0 | 1 => {
            let edge = Celsius::from_milli(*bytes.choose(&EDGES)?).to_128ths();
            edge.saturating_add(bytes.int_in_range(-1..=1)?)
        }
        2 => bytes.int_in_range(0..=1_280)?,
        _ => bytes.arbitrary()?,
    })
}

fn happens(bytes: &mut Unstructured<'_>, in_force: &Settings) -> Result<Happens> {
    Ok(match bytes.int_in_range(0..=15_u8)? {
        0..=2 => Happens::Command(command(bytes)?),
        3 => {
            // Modes come as commands; settings keep the one in force.
            let mut raw = *settings(bytes)?.raw();
            raw.mode = in_force.mode;
            Settings::check(raw).map_or(Happens::Nothing, |s| Happens::Settings(Box::new(s)))
        }
        4 => Happens::Late(bytes.int_in_range(0..=61_000)?),
        5 => Happens::Late(bytes.arbitrary()?),
        6 => Happens::Reboot(restart(bytes)?),
        _ => Happens::Nothing,
    })
}

fn command(bytes: &mut Unstructured<'_>) -> Result<Command> {
    let switches = [Switch::Auto, Switch::On, Switch::Off];
    Ok(match bytes.int_in_range(0..=7_u8)? {
        0..=2 => Command::Mode(Mode::Winter),
        3 => Command::Mode(*bytes.choose(&[Mode::Summer, Mode::Drained, Mode::Commissioning])?),
        4 => Command::Pump(*bytes.choose(&switches)?),
        5 => Command::Boiler(*bytes.choose(&switches)?),
        _ => Command::Acknowledge,
    })
}
