//! What is connected where: the only place to change for other wiring.
//!
//! | pin  | direction | what                                                                  |
//! |------|-----------|-----------------------------------------------------------------------|
//! | PA2  | out       | serial line to the PC (through the board's own USB adapter), 115200 baud |
//! | PA3  | in        | serial line from the PC                                                |
//! | PA10 | open      | sensor bus, with 4.7 kΩ to 3.3 V                                       |
//! | PB3  | out       | circulator relay; high energises; load on the normally closed contact  |
//! | PB4  | out       | boiler call relay; high energises; load on the normally open contact   |
//! | PB5  | out       | alarm relay; high energises; bell on the normally closed contact       |
//! | PB10 | in        | circulator feedback: low while it runs; only read if `FEEDBACK`        |
//! | PA5  | out       | status lamp (on the board)                                             |
//! | PA0  | analog    | thermistor input 0: 10 kΩ to the reference, thermistor to ground       |
//! | PA1  | analog    | thermistor input 1                                                     |
//! | PA4  | analog    | thermistor input 2                                                     |
//!
//! PB3 and PB4 belong to the debug port after a reset, with pulls of some 40 kΩ; a relay driver needs
//! a resistor of 10 kΩ to ground so that its coil stays at rest until the program drives the pin.

use embassy_stm32::Peri;
use embassy_stm32::Peripherals;
use embassy_stm32::gpio::AnyPin;
use embassy_stm32::peripherals::{ADC1, FLASH, IWDG, PA0, PA1, PA2, PA3, PA4, USART2};
use firmware_app::Layout;
use firmware_app::relay::{Contact, Drive, Wiring};

/// Is a contact wired that tells whether the circulator runs?
pub const FEEDBACK: bool = false;

/// Circulator relay.
pub const CIRCULATOR: Wiring = Wiring {
    contact: Contact::NormallyClosed,
    drive: Drive::ActiveHigh,
};
/// Boiler call relay.
pub const BOILER_CALL: Wiring = Wiring {
    contact: Contact::NormallyOpen,
    drive: Drive::ActiveHigh,
};
/// Alarm relay.
pub const ALARM: Wiring = Wiring {
    contact: Contact::NormallyClosed,
    drive: Drive::ActiveHigh,
};

const TOP: u32 = 1024 * 1024;
/// Where settings and log are kept; memory.x keeps the program out of it.
pub const LAYOUT: Layout = Layout {
    store: TOP - 96 * 1024..TOP - 64 * 1024,
    history: TOP - 64 * 1024..TOP,
};

/// The chip's parts by what they do.
pub struct Parts {
    pub uart: Peri<'static, USART2>,
    pub uart_tx: Peri<'static, PA2>,
    pub uart_rx: Peri<'static, PA3>,
    pub bus: Peri<'static, AnyPin>,
    pub circulator: Peri<'static, AnyPin>,
    pub boiler_call: Peri<'static, AnyPin>,
    pub alarm: Peri<'static, AnyPin>,
    pub feedback: Peri<'static, AnyPin>,
    pub lamp: Peri<'static, AnyPin>,
    pub adc: Peri<'static, ADC1>,
    pub thermistors: (Peri<'static, PA0>, Peri<'static, PA1>, Peri<'static, PA4>),
    pub flash: Peri<'static, FLASH>,
    pub watchdog: Peri<'static, IWDG>,
}

/// The table above, in code.
pub fn assign(p: Peripherals) -> Parts {
    Parts {
        uart: p.USART2,
        uart_tx: p.PA2,
        uart_rx: p.PA3,
        bus: p.PA10.into(),
        circulator: p.PB3.into(),
        boiler_call: p.PB4.into(),
        alarm: p.PB5.into(),
        feedback: p.PB10.into(),
        lamp: p.PA5.into(),
        adc: p.ADC1,
        thermistors: (p.PA0, p.PA1, p.PA4),
        flash: p.FLASH,
        watchdog: p.IWDG,
    }
}
