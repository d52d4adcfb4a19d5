//! The chip's parts behind the traits the application asks for.

use core::convert::Infallible;

use embassy_rp::adc::{self, Adc, Channel};
use embassy_rp::gpio::{AnyPin, Flex, Input, Level, Output, Pull};
use embassy_rp::peripherals::FLASH;
use embassy_rp::{Peri, flash, watchdog};
use embassy_time::Duration;
use embedded_hal::digital::{ErrorType, InputPin, OutputPin, StatefulOutputPin};
use firmware_app::duty::Healthy;
use firmware_app::relay::Wiring;
use firmware_app::{Board, ReadShare, Watchdog};

use crate::pins::FLASH_SIZE;

/// Reset unless fed for this long.
const WATCHDOG: Duration = Duration::from_secs(4);

/// This board.
pub struct Pico;

impl Board for Pico {
    type Bus = OpenDrain;
    type Delay = embassy_time::Delay;
    type Analog = Thermistors;
    type Relay = ReadBack;
    type Lamp = Output<'static>;
    type Feedback = Input<'static>;
    type Flash = flash::Flash<'static, FLASH, flash::Blocking, FLASH_SIZE>;
    type Watchdog = Dog;
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
    /// Drives the pin at once so that the load is off.
    pub fn new(pin: Peri<'static, AnyPin>, wiring: Wiring) -> Self {
        let mut pin = Flex::new(pin);
        pin.set_level(Level::from(wiring.pin_is_high(false)));
        pin.set_as_output();
        Self(pin)
    }
}

impl ErrorType for ReadBack {
    type Error = Infallible;
}

impl OutputPin for ReadBack {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.0.set_low();
        Ok(())
    }
    fn set_high(&mut self) -> Result<(), Infallible> {
        self.0.set_high();
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

/// The three thermistor inputs.
pub struct Thermistors {
    pub adc: Adc<'static, adc::Blocking>,
    pub channels: [Channel<'static>; 3],
}

impl ReadShare for Thermistors {
    type Error = ();

    fn read_share(&mut self, channel: u8) -> Result<u16, ()> {
        let channel = self.channels.get_mut(usize::from(channel)).ok_or(())?;
        let code = self.adc.blocking_read(channel).map_err(|_| ())?;
        Ok(code << 4)
    }
}

/// Thermistor input without pull.
pub fn thermistor(pin: Peri<'static, impl adc::AdcPin + 'static>) -> Channel<'static> {
    Channel::new_pin(pin, Pull::None)
}

/// The chip's watchdog.
pub struct Dog(watchdog::Watchdog);

impl Dog {
    pub fn start(mut dog: watchdog::Watchdog) -> Self {
        dog.pause_on_debug(true);
        dog.start(WATCHDOG);
        Self(dog)
    }
}

impl Watchdog for Dog {
    fn feed(&mut self, _: Healthy) {
        self.0.feed(WATCHDOG);
    }
}
