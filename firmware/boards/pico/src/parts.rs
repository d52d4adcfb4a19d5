//! The chip's parts behind the traits the application asks for.

use core::convert::Infallible;

use embassy_rp::adc::{self, Channel};
use embassy_rp::gpio::{AnyPin, Flex, Input, Output, Pull};
use embassy_rp::peripherals::{ADC, FLASH, WATCHDOG};
use embassy_rp::{Peri, flash, pac};
use embedded_hal::digital::{ErrorType, InputPin, OutputPin, StatefulOutputPin};
use firmware_app::duty::Healthy;
use firmware_app::{Board, ReadShare, Watchdog};

use crate::pins::FLASH_SIZE;
use crate::start::{self, Scratch};

/// This board.
pub struct Pico;

impl Board for Pico {
    const NAME: &'static str = "pico";
    type Bus = OpenDrain;
    type Delay = embassy_time::Delay;
    type Analog = Thermistors;
    type Relay = ReadBack;
    type Lamp = Output<'static>;
    type Feedback = Input<'static>;
    type Button = Input<'static>;
    type Flash = flash::Flash<'static, FLASH, flash::Blocking, FLASH_SIZE>;
    type Watchdog = Dog;
    type Retained = Scratch;
}

/// A pin that pulls low or lets go.
pub struct OpenDrain(Flex<'static>);

impl OpenDrain {
    pub fn new(pin: Peri<'static, AnyPin>) -> Self {
        let mut pin = Flex::new(pin);
        pin.set_low();
        pin.set_as_input();
        Self(pin)
    }
}

impl ErrorType for OpenDrain {
    type Error = Infallible;
}

impl OutputPin for OpenDrain {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.0.set_as_output();
        Ok(())
    }
    fn set_high(&mut self) -> Result<(), Infallible> {
        self.0.set_as_input();
        Ok(())
    }
}

impl InputPin for OpenDrain {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(self.0.is_high())
    }
    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(self.0.is_low())
    }
}

/// A relay pin that reads back the pad itself, not what was written.
pub struct ReadBack(Flex<'static>);

impl ReadBack {
    /// Takes the pin and drives it only once somebody writes it.
    pub fn new(pin: Peri<'static, AnyPin>) -> Self {
        Self(Flex::new(pin))
    }
}

impl ErrorType for ReadBack {
    type Error = Infallible;
}

impl OutputPin for ReadBack {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.0.set_low();
        self.0.set_as_output();
        Ok(())
    }
    fn set_high(&mut self) -> Result<(), Infallible> {
        self.0.set_high();
        self.0.set_as_output();
        Ok(())
    }
}

impl StatefulOutputPin for ReadBack {
    fn is_set_high(&mut self) -> Result<bool, Infallible> {
        // A pad takes some nanoseconds to follow, the input's synchroniser two cycles.
        cortex_m::asm::delay(12);
        Ok(self.0.is_high())
    }
    fn is_set_low(&mut self) -> Result<bool, Infallible> {
        self.is_set_high().map(|high| !high)
    }
}

/// The three thermistor inputs. A converter that does not answer is missing readings, never a standstill:
/// the chip's driver would wait for it without end, so its registers are used here.
pub struct Thermistors {
    _adc: Peri<'static, ADC>,
    /// Set up as analog inputs; in the converter's own order.
    _channels: [Channel<'static>; 3],
}

/// Looks at a converter that takes some 2 µs; each takes several cycles of 8 ns.
const LOOKS: u32 = 1_000;

impl Thermistors {
    pub fn new(adc: Peri<'static, ADC>, channels: [Channel<'static>; 3]) -> Self {
        pac::RESETS.reset().modify(|held| held.set_adc(false));
        if soon(|| pac::RESETS.reset_done().read().adc()) {
            pac::ADC.cs().write(|cs| cs.set_en(true));
        }
        Self {
            _adc: adc,
            _channels: channels,
        }
    }
}

/// Does it become true within [`LOOKS`]?
fn soon(is: impl Fn() -> bool) -> bool {
    (0..LOOKS).any(|_| is())
}

impl ReadShare for Thermistors {
    type Error = ();

    fn read_share(&mut self, channel: u8) -> Result<u16, ()> {
        let is_ready = || pac::ADC.cs().read().ready();
        if channel >= 3 || !soon(is_ready) {
            return Err(());
        }
        pac::ADC.cs().modify(|cs| {
            cs.set_ainsel(channel);
            cs.set_start_once(true);
            cs.set_err(true);
        });
        if !soon(is_ready) || pac::ADC.cs().read().err() {
            return Err(());
        }
        Ok(pac::ADC.result().read().result() << 4)
    }
}

/// Thermistor input without pull.
pub fn thermistor(pin: Peri<'static, impl adc::AdcPin + 'static>) -> Channel<'static> {
    Channel::new_pin(pin, Pull::None)
}

/// Pulls an input up that another driver set up.
pub fn pull_up(pin: usize) {
    pac::PADS_BANK0.gpio(pin).modify(|pad| {
        pad.set_pue(true);
        pad.set_pde(false);
    });
}

/// The chip's watchdog.
pub struct Dog(Peri<'static, WATCHDOG>);

impl Dog {
    /// It runs since the program's first line; this only keeps others from stopping it.
    pub const fn running(watchdog: Peri<'static, WATCHDOG>) -> Self {
        Self(watchdog)
    }
}

impl Watchdog for Dog {
    fn feed(&mut self, _: Healthy) {
        start::reload();
    }
}
