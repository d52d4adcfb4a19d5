//! The chip's parts behind the traits the application asks for.

use embassy_rp::adc::{self, Channel};
use embassy_rp::gpio::{AnyPin, Flex, Pull};
use embassy_rp::peripherals::{ADC, FLASH, WATCHDOG};
use embassy_rp::{Peri, flash, pac};
use firmware_app::chip::{Chip, Pin};
use firmware_app::duty::Healthy;
use firmware_app::{Layout, ReadShare, Watchdog};

use crate::pins;
use crate::start::{self, Scratch};

/// This board.
pub struct Pico;

impl Chip for Pico {
    const NAME: &'static str = "pico";
    const LAYOUT: Layout = pins::LAYOUT;
    type Pin = Pad;
    type Delay = embassy_time::Delay;
    type Analog = Thermistors;
    type Flash = flash::Flash<'static, FLASH, flash::Blocking, { pins::FLASH_SIZE }>;
    type Watchdog = Dog;
    type Retained = Scratch;
}

/// A pin. What it reads is its pad, not what was written.
pub struct Pad(Flex<'static>);

impl Pad {
    /// Takes the pin as the reset left it.
    pub fn new(pin: Peri<'static, AnyPin>) -> Self {
        Self(Flex::new(pin))
    }

    /// Pulls the pin up inside the chip.
    pub fn pulled_up(mut self) -> Self {
        self.0.set_pull(Pull::Up);
        self
    }
}

impl Pin for Pad {
    fn drive(&mut self, high: bool) {
        self.0.set_level(high.into());
        self.0.set_as_output();
    }
    fn let_go(&mut self) {
        self.0.set_as_input();
    }
    fn is_high(&mut self) -> bool {
        // A pad takes some nanoseconds to follow, the input's synchroniser two cycles.
        cortex_m::asm::delay(12);
        self.0.is_high()
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
