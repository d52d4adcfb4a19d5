//! The chip's parts behind the traits the application asks for.

use core::convert::Infallible;

use embassy_stm32::adc::{Adc, AdcChannel, AnyAdcChannel, SampleTime};
use embassy_stm32::gpio::{AnyPin, Flex, Input, Level, Output, OutputOpenDrain, Speed};
use embassy_stm32::peripherals::{ADC1, IWDG};
use embassy_stm32::wdg::IndependentWatchdog;
use embassy_stm32::{Peri, flash};
use embedded_hal::digital::{ErrorType, OutputPin, StatefulOutputPin};
use firmware_app::duty::Healthy;
use firmware_app::relay::Wiring;
use firmware_app::{Board, ReadShare, Watchdog};

/// This board.
pub struct Nucleo;

impl Board for Nucleo {
    type Bus = OutputOpenDrain<'static>;
    type Delay = embassy_time::Delay;
    type Analog = Thermistors;
    type Relay = ReadBack;
    type Lamp = Output<'static>;
    type Feedback = Input<'static>;
    type Flash = flash::Flash<'static, flash::Blocking>;
    type Watchdog = Dog;
}

/// A relay pin that reads back the pad itself, not what was written.
pub struct ReadBack(Flex<'static>);

impl ReadBack {
    /// Drives the pin at once so that the load is off.
    pub fn new(pin: Peri<'static, AnyPin>, wiring: Wiring) -> Self {
        let mut pin = Flex::new(pin);
        pin.set_level(Level::from(wiring.pin_is_high(false)));
        pin.set_as_output(Speed::Low);
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
        // A slow pad takes some 100 ns to follow.
        cortex_m::asm::delay(40);
        Ok(self.0.is_high())
    }
    fn is_set_low(&mut self) -> Result<bool, Infallible> {
        self.is_set_high().map(|high| !high)
    }
}

/// The three thermistor inputs.
pub struct Thermistors {
    pub adc: Adc<'static, ADC1>,
    pub channels: [AnyAdcChannel<'static, ADC1>; 3],
}

impl ReadShare for Thermistors {
    type Error = ();

    fn read_share(&mut self, channel: u8) -> Result<u16, ()> {
        let channel = self.channels.get_mut(usize::from(channel)).ok_or(())?;
        // Long enough for a source of 5 kΩ.
        Ok(self.adc.blocking_read(channel, SampleTime::CYCLES247_5) << 4)
    }
}

/// A thermistor input.
pub fn thermistor(pin: impl AdcChannel<ADC1> + 'static) -> AnyAdcChannel<'static, ADC1> {
    pin.degrade_adc()
}

/// The independent watchdog.
pub struct Dog(IndependentWatchdog<'static, IWDG>);

impl Dog {
    /// Starts it; it cannot be stopped. Four seconds.
    pub fn start(watchdog: Peri<'static, IWDG>) -> Self {
        let mut dog = IndependentWatchdog::new(watchdog, 4_000_000);
        dog.unleash();
        Self(dog)
    }
}

impl Watchdog for Dog {
    fn feed(&mut self, _: Healthy) {
        self.0.pet();
    }
}
