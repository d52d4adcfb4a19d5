//! Links only if no panic path is left in the whole application: every pin, wait, flash byte and
//! character is a value the compiler cannot know. Not meant to be run.

#![no_std]
#![no_main]

use core::convert::Infallible;
use core::hint::black_box;

use controller_core::restart::RestartCause;
// Brings the critical sections.
use cortex_m as _;
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{ErrorKind, ErrorType, InputPin, OutputPin, StatefulOutputPin};
use embedded_storage::nor_flash::{
    ErrorType as FlashErrorType, NorFlash, NorFlashErrorKind, ReadNorFlash,
};
use firmware_app::duty::Healthy;
use firmware_app::relay::{Contact, Drive, Wiring};
use firmware_app::second::SecondPort;
use firmware_app::{App, Board, Hardware, Layout, ReadShare, Resets, Retained, Watchdog};

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

struct Unknown;

fn any<T>(value: T) -> T {
    black_box(value)
}

fn maybe<T>(value: T) -> Result<T, ErrorKind> {
    if any(true) {
        Ok(value)
    } else {
        Err(ErrorKind::Other)
    }
}

impl ErrorType for Unknown {
    type Error = ErrorKind;
}
impl OutputPin for Unknown {
    fn set_low(&mut self) -> Result<(), ErrorKind> {
        maybe(())
    }
    fn set_high(&mut self) -> Result<(), ErrorKind> {
        maybe(())
    }
}
impl InputPin for Unknown {
    fn is_high(&mut self) -> Result<bool, ErrorKind> {
        maybe(any(false))
    }
    fn is_low(&mut self) -> Result<bool, ErrorKind> {
        maybe(any(false))
    }
}
impl StatefulOutputPin for Unknown {
    fn is_set_high(&mut self) -> Result<bool, ErrorKind> {
        maybe(any(false))
    }
    fn is_set_low(&mut self) -> Result<bool, ErrorKind> {
        maybe(any(false))
    }
}
impl DelayNs for Unknown {
    fn delay_ns(&mut self, ns: u32) {
        black_box(ns);
    }
}
impl ReadShare for Unknown {
    type Error = Infallible;
    fn read_share(&mut self, channel: u8) -> Result<u16, Infallible> {
        black_box(channel);
        Ok(any(0))
    }
}
impl Watchdog for Unknown {
    fn feed(&mut self, healthy: Healthy) {
        black_box(&healthy);
    }
}
impl Retained for Unknown {
    fn load(&mut self) -> [u32; 4] {
        any([0; 4])
    }
    fn store(&mut self, place: usize, word: u32) {
        black_box((place, word));
    }
}
impl FlashErrorType for Unknown {
    type Error = NorFlashErrorKind;
}
impl ReadNorFlash for Unknown {
    const READ_SIZE: usize = 1;
    fn read(&mut self, offset: u32, bytes: &mut [u8]) -> Result<(), NorFlashErrorKind> {
        black_box(offset);
        bytes.iter_mut().for_each(|byte| *byte = any(0));
        maybe(()).map_err(|_| NorFlashErrorKind::Other)
    }
    fn capacity(&self) -> usize {
        any(1 << 20)
    }
}
impl NorFlash for Unknown {
    const WRITE_SIZE: usize = 8;
    const ERASE_SIZE: usize = 4096;
    fn erase(&mut self, from: u32, to: u32) -> Result<(), NorFlashErrorKind> {
        black_box((from, to));
        maybe(()).map_err(|_| NorFlashErrorKind::Other)
    }
    fn write(&mut self, offset: u32, bytes: &[u8]) -> Result<(), NorFlashErrorKind> {
        black_box((offset, bytes));
        maybe(()).map_err(|_| NorFlashErrorKind::Other)
    }
}
impl Board for Unknown {
    const NAME: &'static str = "unknown";
    type Bus = Self;
    type Delay = Self;
    type Analog = Self;
    type Relay = Self;
    type Lamp = Self;
    type Feedback = Self;
    type Button = Self;
    type Flash = Self;
    type Watchdog = Self;
    type Retained = Self;
}

#[cortex_m_rt::entry]
fn main() -> ! {
    let wiring = any(Wiring {
        contact: Contact::NormallyOpen,
        drive: Drive::ActiveHigh,
    });
    let mut app = App::<Unknown>::new(
        Hardware {
            circulator: (Unknown, wiring),
            boiler_call: (Unknown, wiring),
            alarm: (Unknown, wiring),
            lamp: Unknown,
            bus: Unknown,
            second_bus: any(true).then_some(Unknown),
            delay: Unknown,
            analog: Unknown,
            feedback: any(true).then_some(Unknown),
            button: any(true).then_some(Unknown),
            flash: Unknown,
            watchdog: Unknown,
            layout: Layout {
                store: any(0)..any(0),
                history: any(0)..any(0),
            },
            unit: any(0),
        },
        Resets::begin(Unknown, any(RestartCause::PowerOn)),
    );
    let mut second = SecondPort::default();
    loop {
        black_box(app.poll(any(0)));
        app.receive(any(0));
        black_box(app.transmit());
        second.set_open(any(true));
        second.copy(any(0));
        if let Some(line) = second.push(any(0)) {
            app.receive_line(line);
        }
        black_box(second.pop());
        app.set_lost_there(second.lost());
        #[cfg(feature = "bug")]
        {
            let steps = [1_u32, 2, 3];
            black_box(steps[any(0_usize)]);
        }
    }
}
