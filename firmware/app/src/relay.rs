//! Relay outputs: which contact carries the load, which pin level energises the coil.
//!
//! Coils are at rest from the moment a relay is made until the first decision is written; from then on
//! every cycle writes and reads back. What a dead processor leaves behind is the coil at rest as well,
//! so the contact chosen here is the fail state: circulator on the normally closed contact (runs),
//! boiler call on the normally open one (no call), alarm on the normally closed one (rings).

use controller_core::Outputs;
use embedded_hal::digital::StatefulOutputPin;

use crate::duty::Written;

/// Which contact the load is wired to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Contact {
    /// Load on while the coil is energised.
    NormallyOpen,
    /// Load on while the coil is at rest.
    NormallyClosed,
}

/// Which pin level energises the coil.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Drive {
    /// High energises.
    ActiveHigh,
    /// Low energises, as on many relay modules with opto-couplers.
    ActiveLow,
}

/// Contact and drive of one relay.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wiring {
    /// Contact of the load.
    pub contact: Contact,
    /// Level that energises.
    pub drive: Drive,
}

impl Wiring {
    /// Is the pin high while the load is to be on (or off)?
    #[must_use]
    pub const fn pin_is_high(self, load: bool) -> bool {
        let energised = match self.contact {
            Contact::NormallyOpen => load,
            Contact::NormallyClosed => !load,
        };
        self.level(energised)
    }

    /// Is the pin high with the coil at rest?
    #[must_use]
    pub const fn rests_high(self) -> bool {
        self.level(false)
    }

    const fn level(self, energised: bool) -> bool {
        match self.drive {
            Drive::ActiveHigh => energised,
            Drive::ActiveLow => !energised,
        }
    }
}

/// A relay's pin could not be written, or does not read back as written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OutputFault;

/// One relay.
#[derive(Debug)]
pub struct Relay<P> {
    pin: P,
    wiring: Wiring,
}

impl<P: StatefulOutputPin> Relay<P> {
    /// Takes the pin and leaves the coil at rest. A failed write is found by the next one.
    pub fn new(pin: P, wiring: Wiring) -> Self {
        let mut relay = Self { pin, wiring };
        let _ = relay.release();
        relay
    }

    /// Switches the load.
    ///
    /// # Errors
    /// [`OutputFault`] if the pin refuses or reads back otherwise.
    pub fn write(&mut self, load: bool) -> Result<(), OutputFault> {
        self.put(self.wiring.pin_is_high(load))
    }

    /// Leaves the coil at rest, as a dead processor would.
    ///
    /// # Errors
    /// As [`Self::write`].
    pub fn release(&mut self) -> Result<(), OutputFault> {
        self.put(self.wiring.rests_high())
    }

    fn put(&mut self, high: bool) -> Result<(), OutputFault> {
        self.pin.set_state(high.into()).map_err(|_| OutputFault)?;
        match self.pin.is_set_high() {
            Ok(is) if is == high => Ok(()),
            _ => Err(OutputFault),
        }
    }
}

/// The three relays.
#[derive(Debug)]
pub struct Panel<P> {
    circulator: Relay<P>,
    boiler_call: Relay<P>,
    alarm: Relay<P>,
}

impl<P: StatefulOutputPin> Panel<P> {
    /// All coils at rest, as before the program started.
    pub fn new(circulator: (P, Wiring), boiler_call: (P, Wiring), alarm: (P, Wiring)) -> Self {
        Self {
            boiler_call: Relay::new(boiler_call.0, boiler_call.1),
            circulator: Relay::new(circulator.0, circulator.1),
            alarm: Relay::new(alarm.0, alarm.1),
        }
    }

    /// Writes all three. The boiler call goes off before the circulator and on only after it.
    ///
    /// # Errors
    /// The first fault met; the others are written all the same, but no call on a faulty circulator.
    pub fn write(&mut self, outputs: Outputs) -> Result<Written, OutputFault> {
        let early = if outputs.boiler_call {
            Ok(())
        } else {
            self.boiler_call.write(false)
        };
        let circulator = self.circulator.write(outputs.circulator);
        let call = self
            .boiler_call
            .write(outputs.boiler_call && circulator.is_ok());
        let alarm = self.alarm.write(outputs.alarm);
        early
            .and(circulator)
            .and(call)
            .and(alarm)
            .map(|()| Written(()))
    }

    /// All coils at rest: the hardware's own fail state.
    ///
    /// # Errors
    /// As [`Self::write`].
    pub fn release(&mut self) -> Result<Written, OutputFault> {
        let call = self.boiler_call.release();
        let circulator = self.circulator.release();
        let alarm = self.alarm.release();
        call.and(circulator).and(alarm).map(|()| Written(()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fakes::{Pin, PinWorld};

    const OPEN_HIGH: Wiring = Wiring {
        contact: Contact::NormallyOpen,
        drive: Drive::ActiveHigh,
    };
    const CLOSED_HIGH: Wiring = Wiring {
        contact: Contact::NormallyClosed,
        drive: Drive::ActiveHigh,
    };

    #[test]
    fn levels_follow_from_contact_and_drive() {
        let open_low = Wiring {
            drive: Drive::ActiveLow,
            ..OPEN_HIGH
        };
        let closed_low = Wiring {
            drive: Drive::ActiveLow,
            ..CLOSED_HIGH
        };
        for (wiring, on, off, rest) in [
            (OPEN_HIGH, true, false, false),
            (CLOSED_HIGH, false, true, false),
            (open_low, false, true, true),
            (closed_low, true, false, true),
        ] {
            assert_eq!(wiring.pin_is_high(true), on, "{wiring:?}");
            assert_eq!(wiring.pin_is_high(false), off, "{wiring:?}");
            assert_eq!(wiring.rests_high(), rest, "{wiring:?}");
        }
    }

    fn panel(world: &PinWorld) -> Panel<Pin> {
        Panel::new(
            (world.pin(0), CLOSED_HIGH),
            (world.pin(1), OPEN_HIGH),
            (world.pin(2), CLOSED_HIGH),
        )
    }

    #[test]
    fn made_with_every_coil_at_rest_and_at_no_moment_otherwise() {
        for drive in [Drive::ActiveHigh, Drive::ActiveLow] {
            let world = PinWorld::new(3);
            let wired = |contact| Wiring { contact, drive };
            let _panel = Panel::new(
                (world.pin(0), wired(Contact::NormallyClosed)),
                (world.pin(1), wired(Contact::NormallyOpen)),
                (world.pin(2), wired(Contact::NormallyClosed)),
            );
            let rest = drive == Drive::ActiveLow;
            assert_eq!(world.levels(), [rest; 3]);
            // A pin that was never written is low, as this stand-in knows it.
            let history = world.history();
            let driven = history.iter().flatten().filter(|high| **high != rest);
            assert!(drive == Drive::ActiveLow || driven.count() == 0);
        }
    }

    #[test]
    fn the_alarm_coil_is_energised_only_when_healthy() {
        let world = PinWorld::new(3);
        let mut panel = panel(&world);
        panel.write(Outputs::default()).unwrap();
        assert_eq!(world.levels(), [true, false, true]);
        panel
            .write(Outputs {
                alarm: true,
                ..Outputs::default()
            })
            .unwrap();
        assert_eq!(world.levels(), [true, false, false]);
        panel.release().unwrap();
        assert_eq!(world.levels(), [false, false, false]);
    }

    #[test]
    fn the_call_never_stands_without_the_circulator() {
        let world = PinWorld::new(3);
        let mut panel = panel(&world);
        let calling = Outputs {
            circulator: true,
            boiler_call: true,
            alarm: false,
        };
        panel.write(calling).unwrap();
        panel.write(Outputs::default()).unwrap();
        for levels in world.history() {
            // Pin 0 low is circulator on; pin 1 high is a call.
            assert!(!levels[1] || !levels[0], "{:?}", world.history());
        }
        assert!(world.history().iter().any(|levels| levels[1]));
    }

    #[test]
    fn a_failure_at_any_call_is_reported_and_never_leaves_a_call_alone() {
        let calling = Outputs {
            circulator: true,
            boiler_call: true,
            alarm: false,
        };
        let mut failures = 0;
        for n in 0.. {
            let world = PinWorld::new(3);
            let mut panel = panel(&world);
            world.fail_call(n);
            let written = panel.write(calling);
            if !world.failed() {
                assert!(written.is_ok());
                break;
            }
            failures += 1;
            assert!(written.is_err(), "call {n}");
            // A call that stands has a circulator that was written.
            let [circulator, call, _] = world.levels()[..] else {
                panic!()
            };
            assert!(!call || !circulator, "call {n}");
            panel.write(calling).unwrap();
        }
        assert_eq!(failures, 6, "three writes, three read-backs");
    }

    #[test]
    fn a_stuck_pin_is_found_by_reading_back() {
        let world = PinWorld::new(3);
        let mut panel = panel(&world);
        panel.write(Outputs::default()).unwrap();
        world.stick(0);
        assert!(
            panel
                .write(Outputs {
                    circulator: true,
                    ..Outputs::default()
                })
                .is_err()
        );
        assert!(
            panel
                .write(Outputs {
                    circulator: true,
                    boiler_call: true,
                    alarm: false
                })
                .is_err()
        );
        assert!(!world.levels()[1], "no call without the circulator");
    }
}
