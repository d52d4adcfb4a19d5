//! What is connected where: the only place to change for other wiring.
//!
//! | pin  | direction | what                                                            |
//! |------|-----------|-----------------------------------------------------------------|
//! | GP0  | out       | serial line to the PC, 115200 baud, 8 bits, no parity            |
//! | GP1  | in        | serial line from the PC, pulled up                               |
//! | GP13 | open      | second wire of the sensor bus, likewise; may be left out            |
//! | GP14 | in        | button to ground, pulled up; may be left out                     |
//! | GP15 | open      | sensor bus, with 4.7 kΩ to 3.3 V                                 |
//! | GP16 | out       | circulator relay; high energises; load on the normally closed contact |
//! | GP17 | out       | boiler call relay; high energises; load on the normally open contact  |
//! | GP18 | out       | alarm relay; high energises; bell on the normally closed contact      |
//! | GP19 | in        | circulator feedback: low while it runs; only read if `FEEDBACK`  |
//! | GP25 | out       | status lamp (on the board)                                       |
//! | GP26 | analog    | thermistor input 0: 10 kΩ to the reference, thermistor to ground |
//! | GP27 | analog    | thermistor input 1                                               |
//! | GP28 | analog    | thermistor input 2                                               |

use embassy_rp::Peri;
use embassy_rp::Peripherals;
use embassy_rp::gpio::AnyPin;
use embassy_rp::peripherals::{
    ADC, FLASH, PIN_0, PIN_1, PIN_26, PIN_27, PIN_28, UART0, USB, WATCHDOG,
};
use firmware_app::Layout;
use firmware_app::relay::Drive;

/// Is a contact wired that tells whether the circulator runs?
pub const FEEDBACK: bool = false;

/// What energises the relays of circulator, boiler call and alarm.
pub const DRIVES: [Drive; 3] = [Drive::ActiveHigh; 3];

/// Number of the serial line's input, which floats with nothing plugged in.
pub const UART_RX: usize = 1;

/// Size of the flash.
pub const FLASH_SIZE: usize = 2 * 1024 * 1024;
const TOP: u32 = FLASH_SIZE as u32;
/// Where settings and log are kept; memory.x keeps the program out of it.
pub const LAYOUT: Layout = Layout {
    store: TOP - 96 * 1024..TOP - 64 * 1024,
    history: TOP - 64 * 1024..TOP,
};

/// The chip's parts by what they do.
pub struct Parts {
    pub uart: Peri<'static, UART0>,
    pub uart_tx: Peri<'static, PIN_0>,
    pub uart_rx: Peri<'static, PIN_1>,
    pub button: Peri<'static, AnyPin>,
    pub bus: Peri<'static, AnyPin>,
    pub second_bus: Peri<'static, AnyPin>,
    pub circulator: Peri<'static, AnyPin>,
    pub boiler_call: Peri<'static, AnyPin>,
    pub alarm: Peri<'static, AnyPin>,
    pub feedback: Peri<'static, AnyPin>,
    pub lamp: Peri<'static, AnyPin>,
    pub adc: Peri<'static, ADC>,
    pub thermistors: (
        Peri<'static, PIN_26>,
        Peri<'static, PIN_27>,
        Peri<'static, PIN_28>,
    ),
    pub flash: Peri<'static, FLASH>,
    pub usb: Peri<'static, USB>,
    pub watchdog: Peri<'static, WATCHDOG>,
}

/// The table above, in code.
pub fn assign(p: Peripherals) -> Parts {
    Parts {
        uart: p.UART0,
        uart_tx: p.PIN_0,
        uart_rx: p.PIN_1,
        button: p.PIN_14.into(),
        bus: p.PIN_15.into(),
        second_bus: p.PIN_13.into(),
        circulator: p.PIN_16.into(),
        boiler_call: p.PIN_17.into(),
        alarm: p.PIN_18.into(),
        feedback: p.PIN_19.into(),
        lamp: p.PIN_25.into(),
        adc: p.ADC,
        thermistors: (p.PIN_26, p.PIN_27, p.PIN_28),
        flash: p.FLASH,
        usb: p.USB,
        watchdog: p.WATCHDOG,
    }
}
