//! A unit on the bench: the firmware itself with four thermistors, in as quick a time as wanted.

use std::cell::Cell;
use std::convert::Infallible;
use std::rc::Rc;

use controller_core::restart::RestartCause;
use controller_core::settings::{Field, RawSettings};
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{ErrorType, InputPin, OutputPin, StatefulOutputPin};
use embedded_storage::nor_flash::{
    ErrorType as FlashErrorType, NorFlash, NorFlashError, NorFlashErrorKind, ReadNorFlash,
};
use firmware_app::defaults;
use firmware_app::duty::Healthy;
use firmware_app::relay::{Contact, Drive, Wiring};
use firmware_app::{App, Board, Hardware, Layout, ReadShare, Resets, Retained, Watchdog};
use serial_line::line::checksum;

const SECTOR: usize = 4_096;

/// An output pin, or the released wire of a sensor bus without chips.
pub(crate) struct Pin(bool);

impl ErrorType for Pin {
    type Error = Infallible;
}
impl OutputPin for Pin {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.0 = false;
        Ok(())
    }
    fn set_high(&mut self) -> Result<(), Infallible> {
        self.0 = true;
        Ok(())
    }
}
impl InputPin for Pin {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(self.0)
    }
    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(!self.0)
    }
}
impl StatefulOutputPin for Pin {
    fn is_set_high(&mut self) -> Result<bool, Infallible> {
        Ok(self.0)
    }
    fn is_set_low(&mut self) -> Result<bool, Infallible> {
        Ok(!self.0)
    }
}

pub(crate) struct NoWait;
impl DelayNs for NoWait {
    fn delay_ns(&mut self, _: u32) {}
}

/// Supply, return, slab and outdoor near 8, 6, 3.5 and -4 °C, rising and falling a little.
pub(crate) struct Thermistors(u32);
impl ReadShare for Thermistors {
    type Error = Infallible;
    fn read_share(&mut self, channel: u8) -> Result<u16, Infallible> {
        self.0 += 1;
        // Four inputs, sixteen conversions each.
        let swing = u16::try_from((self.0 / 64) % 200).unwrap_or(0);
        let share = [44_900, 46_300, 48_000, 52_600]
            .get(usize::from(channel))
            .copied()
            .unwrap_or(65_535);
        Ok(share - swing.min(200 - swing) * 16)
    }
}

/// NOR flash: aligned writes onto erased bytes only.
pub(crate) struct Flash(Vec<u8>);
#[derive(Debug)]
pub(crate) struct Never;
impl NorFlashError for Never {
    fn kind(&self) -> NorFlashErrorKind {
        NorFlashErrorKind::Other
    }
}
impl FlashErrorType for Flash {
    type Error = Never;
}
impl ReadNorFlash for Flash {
    const READ_SIZE: usize = 1;
    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), Never> {
        let start = offset as usize;
        bytes.copy_from_slice(&self.0[start..start + bytes.len()]);
        Ok(())
    }
    fn capacity(&self) -> usize {
        self.0.len()
    }
}
impl NorFlash for Flash {
    const WRITE_SIZE: usize = 1;
    const ERASE_SIZE: usize = SECTOR;
    fn erase(&mut self, from: u32, to: u32) -> Result<(), Never> {
        self.0[from as usize..to as usize].fill(0xFF);
        Ok(())
    }
    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), Never> {
        let place = &mut self.0[offset as usize..][..bytes.len()];
        assert!(place.iter().all(|byte| *byte == 0xFF), "not erased");
        place.copy_from_slice(bytes);
        Ok(())
    }
}

pub(crate) struct Dog(Rc<Cell<u64>>);
impl Watchdog for Dog {
    fn feed(&mut self, _: Healthy) {
        self.0.set(self.0.get() + 1);
    }
}

/// Words that outlive a reset.
#[derive(Clone, Default)]
pub(crate) struct Scratch(Rc<Cell<[u32; 4]>>);
impl Retained for Scratch {
    fn load(&mut self) -> [u32; 4] {
        self.0.get()
    }
    fn store(&mut self, place: usize, word: u32) {
        let mut words = self.0.get();
        words[place] = word;
        self.0.set(words);
    }
}

pub(crate) struct Bench;
impl Board for Bench {
    const NAME: &'static str = "bench";
    type Bus = Pin;
    type Delay = NoWait;
    type Analog = Thermistors;
    type Relay = Pin;
    type Lamp = Pin;
    type Feedback = Pin;
    type Button = Pin;
    type Flash = Flash;
    type Watchdog = Dog;
    type Retained = Scratch;
}

/// The unit.
pub(crate) struct Unit {
    app: Option<App<Bench>>,
    uptime_ms: u64,
    fed: Rc<Cell<u64>>,
    scratch: Scratch,
}

impl Unit {
    /// One with its sensors named, the demonstration site's settings stored and nothing waiting to be sent.
    pub(crate) fn new() -> Self {
        let mut unit = Self::unset();
        for field in Field::all() {
            let bits = RawSettings::DEFAULT.bits(field.key);
            if bits != defaults::UNIT.bits(field.key) {
                unit.hear(&sealed(&format!("set {} raw {bits}", field.name)));
                unit.poll();
            }
        }
        unit.hear(&sealed("apply"));
        unit.poll();
        unit.reboot(RestartCause::PowerOn);
        drop(unit.said());
        unit
    }

    /// One with its sensors named and settings that nobody has stored.
    pub(crate) fn unset() -> Self {
        let mut unit = Self {
            app: None,
            uptime_ms: 0,
            fed: Rc::default(),
            scratch: Scratch::default(),
        };
        unit.boot(Flash(vec![0xFF; 12 * SECTOR]), RestartCause::PowerOn);
        for (n, sensor) in ["supply", "return", "slab", "outdoor"].iter().enumerate() {
            unit.hear(&sealed(&format!("bind {sensor} input {n}")));
            unit.poll();
        }
        drop(unit.said());
        unit
    }

    fn boot(&mut self, flash: Flash, cause: RestartCause) {
        let wired = |contact| Wiring {
            contact,
            drive: Drive::ActiveHigh,
        };
        self.uptime_ms = 0;
        self.app = Some(App::new(
            Hardware {
                circulator: (Pin(false), wired(Contact::NormallyClosed)),
                boiler_call: (Pin(false), wired(Contact::NormallyOpen)),
                alarm: (Pin(false), wired(Contact::NormallyClosed)),
                lamp: Pin(false),
                bus: Pin(true),
                second_bus: None,
                delay: NoWait,
                analog: Thermistors(0),
                feedback: None,
                button: None,
                flash,
                watchdog: Dog(self.fed.clone()),
                layout: Layout {
                    store: 0..8 * SECTOR as u32,
                    history: 8 * SECTOR as u32..12 * SECTOR as u32,
                },
                unit: 7,
            },
            Resets::begin(self.scratch.clone(), cause),
        ));
    }

    /// A restart with what the flash holds.
    pub(crate) fn reboot(&mut self, cause: RestartCause) {
        if let Some(app) = self.app.take() {
            self.boot(app.into_flash(), cause);
        }
    }

    /// One turn of its loop; gives its length, ms, a quarter of a second at most.
    pub(crate) fn poll(&mut self) -> u64 {
        let before = self.uptime_ms;
        self.uptime_ms = self.app().poll(before);
        self.uptime_ms - before
    }

    /// Runs so long, s; nobody listens.
    pub(crate) fn run(&mut self, seconds: u64) {
        let end = self.uptime_ms + seconds * 1_000;
        while self.uptime_ms < end {
            self.poll();
            drop(self.said());
        }
    }

    pub(crate) fn hear(&mut self, text: &str) {
        text.bytes().for_each(|byte| self.hear_byte(byte));
    }

    pub(crate) fn hear_byte(&mut self, byte: u8) {
        self.app().receive(byte);
    }

    pub(crate) fn say_byte(&mut self) -> Option<u8> {
        self.app().transmit()
    }

    /// Everything waiting to be sent.
    pub(crate) fn said(&mut self) -> String {
        std::iter::from_fn(|| self.say_byte().map(char::from)).collect()
    }

    pub(crate) fn app(&mut self) -> &mut App<Bench> {
        self.app.as_mut().expect("a unit that has booted")
    }
}

/// A line with its checksum and end, written here a second time on purpose.
pub(crate) fn sealed(text: &str) -> String {
    format!("{text}~{:04x}\n", checksum(text.as_bytes()))
}
