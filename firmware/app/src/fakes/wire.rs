//! A one-wire bus with DS18B20 chips, bit by bit in nanoseconds. Breaking the data sheet's times is a
//! panic, not a bad reading: reset low 480–960 µs, slots 60–120 µs with 1 µs recovery, a one written
//! low 1–15 µs, a zero 60–120 µs, reads started with 1–15 µs and looked at within 15 µs.

use core::cell::RefCell;
use embedded_hal::delay::DelayNs;
use embedded_hal::digital::{Error, ErrorKind, ErrorType, InputPin, OutputPin};
use std::rc::Rc;
use std::vec;
use std::vec::Vec;

use controller_core::sensor::ds18b20::crc;

const US: u64 = 1_000;

#[derive(Clone, Debug, PartialEq)]
enum State {
    Idle,
    RomCommand,
    Command,
    Match(usize),
    Search(usize, u8),
    Receive(usize),
    Send(Vec<u8>, usize),
}

/// One chip.
#[derive(Clone, Debug)]
pub(crate) struct Chip {
    pub(crate) rom: [u8; 8],
    /// What it measures, 1/16 K.
    pub(crate) sixteenths: i16,
    pub(crate) present: bool,
    /// Flipped into the sent checksum.
    pub(crate) corrupt: u8,
    /// So many of the coming frames have a wrong checksum.
    pub(crate) garble_next: u32,
    /// A clone whose byte 6 stays as after power-on.
    pub(crate) clone: bool,
    pad: [u8; 8],
    state: State,
    shift: u8,
    bits: u8,
    /// The end of a conversion, and what it was begun at.
    busy_until: Option<(u64, i16)>,
    low: (u64, u64),
}

impl Chip {
    pub(crate) fn new(serial: u8, sixteenths: i16) -> Self {
        let mut rom = [0x28, serial, 0x5A, 0x11, 0, serial ^ 0xFF, 3, 0];
        rom[7] = crc(&rom[..7]);
        let mut chip = Self {
            rom,
            sixteenths,
            present: true,
            corrupt: 0,
            garble_next: 0,
            clone: false,
            pad: [0; 8],
            state: State::Idle,
            shift: 0,
            bits: 0,
            busy_until: None,
            low: (0, 0),
        };
        chip.power_on();
        chip
    }

    /// What a loss of its supply does.
    pub(crate) fn power_on(&mut self) {
        self.pad = [0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10];
        self.state = State::Idle;
        self.busy_until = None;
    }

    fn finish(&mut self, now: u64) {
        if let Some((until, sixteenths)) = self.busy_until
            && now >= until
        {
            self.busy_until = None;
            [self.pad[0], self.pad[1]] = sixteenths.to_le_bytes();
            if !self.clone {
                self.pad[6] = 0x10 - (self.pad[0] & 0x0F);
            }
        }
    }

    fn rom_bit(&self, n: usize) -> bool {
        self.rom[n / 8] >> (n % 8) & 1 == 1
    }

    /// The bit it sends in the coming slot, if it is its turn.
    fn sending(&self) -> Option<bool> {
        match &self.state {
            State::Search(n, 0) => Some(self.rom_bit(*n)),
            State::Search(n, 1) => Some(!self.rom_bit(*n)),
            State::Send(bytes, n) => Some(bytes.get(n / 8).is_none_or(|b| b >> (n % 8) & 1 == 1)),
            _ => None,
        }
    }

    fn sent(&mut self) {
        match &mut self.state {
            State::Search(_, phase) => *phase += 1,
            State::Send(_, n) => *n += 1,
            _ => {}
        }
    }

    fn take(&mut self, bit: bool, now: u64) {
        match self.state {
            State::RomCommand | State::Command | State::Receive(_) => {
                self.shift |= u8::from(bit) << self.bits;
                self.bits += 1;
                if self.bits == 8 {
                    let byte = core::mem::take(&mut self.shift);
                    self.bits = 0;
                    self.byte(byte, now);
                }
            }
            State::Match(n) if self.rom_bit(n) != bit => self.state = State::Idle,
            State::Match(63) => self.state = State::Command,
            State::Match(n) => self.state = State::Match(n + 1),
            State::Search(n, _) if self.rom_bit(n) != bit => self.state = State::Idle,
            State::Search(63, _) => self.state = State::Idle,
            State::Search(n, _) => self.state = State::Search(n + 1, 0),
            State::Idle | State::Send(..) => {}
        }
    }

    fn byte(&mut self, byte: u8, now: u64) {
        self.finish(now);
        self.state = match (self.state.clone(), byte) {
            (State::RomCommand, 0x55) => State::Match(0),
            (State::RomCommand, 0xCC) => State::Command,
            (State::RomCommand, 0xF0) => State::Search(0, 0),
            (State::Command, 0x44) => {
                self.busy_until = Some((now + 750_000 * US, self.sixteenths));
                State::Idle
            }
            (State::Command, 0xBE) => {
                let mut bytes = self.pad.to_vec();
                let garbled = self.garble_next > 0;
                self.garble_next -= u32::from(garbled);
                bytes.push(crc(&bytes) ^ self.corrupt ^ u8::from(garbled));
                State::Send(bytes, 0)
            }
            (State::Command, 0x4E) => State::Receive(0),
            (State::Receive(n), byte) => {
                self.pad[2 + n] = byte;
                if n == 2 {
                    State::Idle
                } else {
                    State::Receive(n + 1)
                }
            }
            (state, byte) => panic!("unknown command {byte:02x} in {state:?}"),
        };
    }
}

#[derive(Debug)]
struct Inner {
    now: u64,
    chips: Vec<Chip>,
    pulled: bool,
    fell: u64,
    rose: u64,
    /// The running slot is one in which a chip sends.
    reading: bool,
    shorted: bool,
    until_failure: Option<u32>,
    failed: bool,
}

/// The bus.
#[derive(Clone, Debug)]
pub(crate) struct Wire(Rc<RefCell<Inner>>);

/// The master's pin.
#[derive(Debug)]
pub(crate) struct WirePin(Wire);

/// The master's waits, which move the bus's time.
#[derive(Debug)]
pub(crate) struct WireDelay(Vec<Wire>);

#[derive(Debug)]
pub(crate) struct Refused;

impl Error for Refused {
    fn kind(&self) -> ErrorKind {
        ErrorKind::Other
    }
}

impl Wire {
    pub(crate) fn new(chips: Vec<Chip>) -> Self {
        Self(Rc::new(RefCell::new(Inner {
            now: 1_000_000 * US,
            chips,
            pulled: false,
            fell: 0,
            rose: 0,
            reading: false,
            shorted: false,
            until_failure: None,
            failed: false,
        })))
    }

    pub(crate) fn parts(&self) -> (WirePin, WireDelay) {
        (WirePin(self.clone()), WireDelay(vec![self.clone()]))
    }

    /// Two wires on one board, in one time.
    pub(crate) fn both(&self, other: &Self) -> (WirePin, WirePin, WireDelay) {
        let delay = WireDelay(vec![self.clone(), other.clone()]);
        (WirePin(self.clone()), WirePin(other.clone()), delay)
    }

    pub(crate) fn chip<T>(&self, n: usize, change: impl FnOnce(&mut Chip) -> T) -> T {
        change(&mut self.0.borrow_mut().chips[n])
    }

    pub(crate) fn add(&self, chip: Chip) {
        self.0.borrow_mut().chips.push(chip);
    }

    pub(crate) fn short(&self, shorted: bool) {
        self.0.borrow_mut().shorted = shorted;
    }

    pub(crate) fn wait_ms(&self, ms: u64) {
        self.0.borrow_mut().now += ms * 1_000 * US;
    }

    /// The `n`th call of the pin from now fails, once.
    pub(crate) fn fail_call(&self, n: u32) {
        let mut inner = self.0.borrow_mut();
        inner.until_failure = Some(n);
        inner.failed = false;
    }

    pub(crate) fn failed(&self) -> bool {
        self.0.borrow().failed
    }

    pub(crate) fn is_released(&self) -> bool {
        !self.0.borrow().pulled
    }
}

impl Inner {
    fn call(&mut self) -> Result<(), Refused> {
        match self.until_failure {
            Some(0) => {
                self.until_failure = None;
                self.failed = true;
                Err(Refused)
            }
            Some(n) => {
                self.until_failure = Some(n - 1);
                Ok(())
            }
            None => Ok(()),
        }
    }

    fn fall(&mut self) {
        let now = self.now;
        // After a failing call the rest of a slot may be missing; only whole runs are held to times.
        if !self.failed {
            assert!(now >= self.rose + US, "no recovery time");
            assert!(now >= self.fell + 61 * US, "slot of {} ns", now - self.fell);
        }
        self.pulled = true;
        self.fell = now;
        self.reading = false;
        for chip in self.chips.iter_mut().filter(|chip| chip.present) {
            if let Some(bit) = chip.sending() {
                self.reading = true;
                chip.sent();
                if !bit {
                    chip.low = (now, now + 30 * US);
                }
            }
        }
    }

    fn rise(&mut self) {
        let (now, low) = (self.now, self.now - self.fell);
        self.pulled = false;
        self.rose = now;
        if low >= 480 * US {
            assert!(
                low <= 960 * US,
                "reset of {low} ns would power down parasite chips"
            );
            for chip in self.chips.iter_mut().filter(|chip| chip.present) {
                (chip.state, chip.shift, chip.bits) = (State::RomCommand, 0, 0);
                chip.low = (now + 30 * US, now + 150 * US);
            }
            return;
        }
        if self.failed {
            return;
        }
        let one = (US..=15 * US).contains(&low);
        assert!(
            one || (60 * US..=120 * US).contains(&low),
            "{low} ns is neither one nor zero"
        );
        if self.reading {
            assert!(one, "a read starts with a short pulse");
            return;
        }
        for chip in self.chips.iter_mut().filter(|chip| chip.present) {
            chip.take(one, now);
        }
    }

    fn level(&self) -> bool {
        if self.reading && !self.failed {
            let since = self.now - self.fell;
            assert!(
                since <= 15 * US || since >= 60 * US,
                "looked {since} ns after the fall"
            );
        }
        let held = |chip: &Chip| chip.present && (chip.low.0..chip.low.1).contains(&self.now);
        !self.pulled && !self.shorted && !self.chips.iter().any(held)
    }
}

impl ErrorType for WirePin {
    type Error = Refused;
}

impl OutputPin for WirePin {
    fn set_low(&mut self) -> Result<(), Refused> {
        let mut inner = self.0.0.borrow_mut();
        inner.call()?;
        if !inner.pulled {
            inner.fall();
        }
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Refused> {
        let mut inner = self.0.0.borrow_mut();
        inner.call()?;
        if inner.pulled {
            inner.rise();
        }
        Ok(())
    }
}

impl InputPin for WirePin {
    fn is_high(&mut self) -> Result<bool, Refused> {
        let mut inner = self.0.0.borrow_mut();
        inner.call()?;
        Ok(inner.level())
    }

    fn is_low(&mut self) -> Result<bool, Refused> {
        self.is_high().map(|high| !high)
    }
}

impl DelayNs for WireDelay {
    fn delay_ns(&mut self, ns: u32) {
        for wire in &self.0 {
            wire.0.borrow_mut().now += u64::from(ns);
        }
    }
}

#[test]
fn the_model_itself_knows_the_published_frame() {
    // Data sheet's power-on scratchpad and its checksum.
    let wire = Wire::new(vec![Chip::new(1, 0)]);
    let pad = wire.chip(0, |chip| chip.pad);
    assert_eq!(crc(&pad), 0x1C);
}
