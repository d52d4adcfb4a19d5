//! A board from one kind of pin: what most boards need, so that a port says only how its chip is reached.
//!
//! A board implements [`Pin`] and [`Chip`]; [`Board`] follows. Boards with more than one kind of pin, or with
//! open-drain pins of their own, implement [`Board`] themselves.

use core::convert::Infallible;

use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{ErrorType, InputPin, OutputPin, StatefulOutputPin};
use embedded_storage::nor_flash::NorFlash;

use crate::board::{Board, Hardware, Layout, ReadShare, Watchdog};
use crate::relay::{Contact, Drive, Wiring};
use crate::resets::Retained;

/// A pin in the state the reset left it in.
pub trait Pin {
    /// Drives it high or low.
    fn drive(&mut self, high: bool);
    /// Makes it an input.
    fn let_go(&mut self);
    /// What the pad carries, whoever drives it.
    fn is_high(&mut self) -> bool;
}

/// What a board's chip has.
pub trait Chip {
    /// What the serial line calls the board.
    const NAME: &'static str;
    /// Where in the flash things are kept. One that does not fit the flash does not compile.
    const LAYOUT: Layout;
    /// Every pin the application has.
    type Pin: Pin;
    /// As [`Board::Delay`].
    type Delay: DelayNs;
    /// As [`Board::Analog`].
    type Analog: ReadShare;
    /// As [`Board::Flash`].
    type Flash: NorFlash;
    /// As [`Board::Watchdog`].
    type Watchdog: Watchdog;
    /// As [`Board::Retained`].
    type Retained: Retained;
}

impl<C: Chip> Board for C {
    const NAME: &'static str = C::NAME;
    type Bus = OpenDrain<C::Pin>;
    type Delay = C::Delay;
    type Analog = C::Analog;
    type Relay = ReadBack<C::Pin>;
    type Lamp = ReadBack<C::Pin>;
    type Feedback = OpenDrain<C::Pin>;
    type Button = OpenDrain<C::Pin>;
    type Flash = C::Flash;
    type Watchdog = C::Watchdog;
    type Retained = C::Retained;
}

/// The pins by what they do, and how the relays are wired.
pub struct Wires<P> {
    /// Circulator relay.
    pub circulator: P,
    /// Boiler call relay.
    pub boiler_call: P,
    /// Alarm relay.
    pub alarm: P,
    /// Level that energises each of these three.
    pub drives: [Drive; 3],
    /// Status lamp.
    pub lamp: P,
    /// Sensor bus.
    pub bus: P,
    /// Its second wire, if there is one.
    pub second_bus: Option<P>,
    /// Contact that closes while the circulator runs, pulled up, if it is wired.
    pub feedback: Option<P>,
    /// Button to ground, pulled up, if there is one.
    pub button: Option<P>,
}

/// The rest of the chip.
pub struct Rest<C: Chip> {
    /// Waits.
    pub delay: C::Delay,
    /// Thermistor inputs.
    pub analog: C::Analog,
    /// Flash.
    pub flash: C::Flash,
    /// Watchdog, already running.
    pub watchdog: C::Watchdog,
    /// A number that differs from unit to unit, or a random one.
    pub unit: u32,
}

/// Puts both together. Loads are on the contacts that docs/wiring.md asks for.
pub fn hardware<C: Chip>(wires: Wires<C::Pin>, rest: Rest<C>) -> Hardware<C> {
    const {
        assert!(
            C::LAYOUT.fits(
                <C::Flash as NorFlash>::ERASE_SIZE,
                <C::Flash as NorFlash>::WRITE_SIZE
            ),
            "the layout does not fit the flash: see docs/porting.md"
        );
    }
    let [circulator, boiler_call, alarm] = wires.drives;
    let wired = |pin, contact, drive| (ReadBack(pin), Wiring { contact, drive });
    Hardware {
        circulator: wired(wires.circulator, Contact::NormallyClosed, circulator),
        boiler_call: wired(wires.boiler_call, Contact::NormallyOpen, boiler_call),
        alarm: wired(wires.alarm, Contact::NormallyClosed, alarm),
        lamp: ReadBack(wires.lamp),
        bus: OpenDrain::new(wires.bus),
        second_bus: wires.second_bus.map(OpenDrain::new),
        delay: rest.delay,
        analog: rest.analog,
        feedback: wires.feedback.map(OpenDrain::new),
        button: wires.button.map(OpenDrain::new),
        flash: rest.flash,
        watchdog: rest.watchdog,
        layout: C::LAYOUT,
        unit: rest.unit,
    }
}

/// A pin that pulls low or lets go.
#[derive(Debug)]
pub struct OpenDrain<P>(P);

impl<P: Pin> OpenDrain<P> {
    /// Takes the pin and lets go of it.
    pub fn new(mut pin: P) -> Self {
        pin.let_go();
        Self(pin)
    }
}

impl<P> ErrorType for OpenDrain<P> {
    type Error = Infallible;
}

impl<P: Pin> OutputPin for OpenDrain<P> {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.0.drive(false);
        Ok(())
    }
    fn set_high(&mut self) -> Result<(), Infallible> {
        self.0.let_go();
        Ok(())
    }
}

impl<P: Pin> InputPin for OpenDrain<P> {
    fn is_high(&mut self) -> Result<bool, Infallible> {
        Ok(self.0.is_high())
    }
    fn is_low(&mut self) -> Result<bool, Infallible> {
        Ok(!self.0.is_high())
    }
}

/// A pin that is driven only once somebody writes it, and reads back its pad.
#[derive(Debug)]
pub struct ReadBack<P>(P);

impl<P> ErrorType for ReadBack<P> {
    type Error = Infallible;
}

impl<P: Pin> OutputPin for ReadBack<P> {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.0.drive(false);
        Ok(())
    }
    fn set_high(&mut self) -> Result<(), Infallible> {
        self.0.drive(true);
        Ok(())
    }
}

impl<P: Pin> StatefulOutputPin for ReadBack<P> {
    fn is_set_high(&mut self) -> Result<bool, Infallible> {
        Ok(self.0.is_high())
    }
    fn is_set_low(&mut self) -> Result<bool, Infallible> {
        Ok(!self.0.is_high())
    }
}

/// Moves characters between the application and a port that never waits, and polls when it is time. For boards
/// without an asynchronous runtime: to be called again and again.
#[derive(Clone, Copy, Debug, Default)]
pub struct Turns {
    due_ms: u64,
    /// Taken from the application, not yet by the port.
    waiting: Option<u8>,
}

impl Turns {
    /// One turn at `uptime_ms`: `read` gives a character that came, if one did; `write` says whether the port took
    /// this one. Gives the uptime at which the next poll is due.
    pub fn turn<B: Board>(
        &mut self,
        app: &mut crate::App<B>,
        uptime_ms: u64,
        mut read: impl FnMut() -> Option<u8>,
        mut write: impl FnMut(u8) -> bool,
    ) -> u64 {
        let mut ended = false;
        while !ended && let Some(byte) = read() {
            app.receive(byte);
            // A line may have ended: answer it before the next.
            ended = byte == b'\n' || byte == b'\r';
        }
        if ended || uptime_ms >= self.due_ms {
            self.due_ms = app.poll(uptime_ms);
        }
        while let Some(byte) = self.waiting.take().or_else(|| app.transmit()) {
            if !write(byte) {
                self.waiting = Some(byte);
                break;
            }
        }
        self.due_ms
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::RefCell;
    use std::rc::Rc;
    use std::vec::Vec;

    /// What was done with a pad, and what it is stuck at.
    #[derive(Default)]
    struct Past {
        done: Vec<Option<bool>>,
        stuck: Option<bool>,
    }

    #[derive(Clone, Default)]
    struct Pad(Rc<RefCell<Past>>);

    impl Pin for Pad {
        fn drive(&mut self, high: bool) {
            self.0.borrow_mut().done.push(Some(high));
        }
        fn let_go(&mut self) {
            self.0.borrow_mut().done.push(None);
        }
        fn is_high(&mut self) -> bool {
            let inner = self.0.borrow();
            let driven = inner.done.last().copied().flatten();
            inner.stuck.or(driven).unwrap_or(true)
        }
    }

    #[test]
    fn a_bus_pin_pulls_low_or_lets_go_and_never_drives_high() {
        let pad = Pad::default();
        let mut bus = OpenDrain::new(pad.clone());
        bus.set_low().unwrap();
        assert!(bus.is_low().unwrap());
        bus.set_high().unwrap();
        assert!(bus.is_high().unwrap(), "the pull-up");
        assert_eq!(pad.0.borrow().done, [None, Some(false), None]);
    }

    #[test]
    fn a_relay_pin_is_left_alone_until_written_and_reads_its_pad() {
        let pad = Pad::default();
        let mut relay = ReadBack(pad.clone());
        assert_eq!(pad.0.borrow().done, []);
        relay.set_high().unwrap();
        assert!(relay.is_set_high().unwrap());
        pad.0.borrow_mut().stuck = Some(false);
        assert!(relay.is_set_low().unwrap(), "stuck, whatever was written");
    }
}
