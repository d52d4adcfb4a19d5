//! The drivers call by call, against `embedded-hal-mock`: which pin call and which wait comes when, and
//! what follows a refusal at any of them. (The stand-ins in `fakes` know what the calls mean; these know
//! only their order, so that a driver that merely gets away with something is found as well.)

use std::io::ErrorKind;
use std::vec;
use std::vec::Vec;

use controller_core::Outputs;
use embedded_hal_mock::eh1::MockError;
use embedded_hal_mock::eh1::delay::{CheckedDelay, Transaction as Wait};
use embedded_hal_mock::eh1::digital::State::{High, Low};
use embedded_hal_mock::eh1::digital::{Mock, Transaction as Call};

use crate::one_wire::{BusFault, OneWire};
use crate::relay::{Contact, Drive, OutputFault, Panel, Relay, Wiring};

const OPEN: Wiring = Wiring {
    contact: Contact::NormallyOpen,
    drive: Drive::ActiveHigh,
};
const CLOSED: Wiring = Wiring {
    contact: Contact::NormallyClosed,
    drive: Drive::ActiveHigh,
};

fn refused(call: Call) -> Call {
    call.with_error(MockError::Io(ErrorKind::NotConnected))
}

fn set(high: bool) -> Call {
    Call::set(if high { High } else { Low })
}

fn is(high: bool) -> Call {
    Call::get_state(if high { High } else { Low })
}

#[test]
fn a_relay_is_written_when_it_is_made_and_read_back_every_time() {
    let calls = [
        vec![
            set(false),
            is(false),
            set(true),
            is(true),
            set(false),
            is(false),
        ],
        // Refused or read back otherwise: a fault each time.
        vec![set(false), is(false), refused(set(true))],
        vec![set(false), is(false), set(true), refused(is(true))],
        vec![set(false), is(false), set(true), is(false)],
        // A refusal while it is made is found by the next write.
        vec![refused(set(false)), refused(set(true))],
    ];
    for (n, calls) in calls.iter().enumerate() {
        let mut pin = Mock::new(calls);
        let mut relay = Relay::new(pin.clone(), OPEN);
        let written = relay.write(true);
        if n == 0 {
            assert_eq!(written, Ok(()));
            assert_eq!(relay.release(), Ok(()));
        } else {
            assert_eq!(written, Err(OutputFault), "{calls:?}");
        }
        pin.done();
    }
}

/// The three pins' calls while the panel goes from coils at rest to running with heat; `fault` is the
/// pin and the call that is refused.
fn panel_calls(fault: Option<(usize, usize)>) -> [Vec<Call>; 3] {
    let circulator_fails = fault.is_some_and(|(pin, _)| pin == 0);
    // No call while the circulator's state is not sure.
    let call = !circulator_fails;
    let wanted = [
        vec![set(false), is(false)],
        vec![set(call), is(call)],
        vec![set(true), is(true)],
    ];
    // Made: every coil at rest.
    let mut calls = [false; 3].map(|level| vec![set(level), is(level)]);
    for (pin, (all, own)) in calls.iter_mut().zip(wanted).enumerate() {
        for (n, one) in own.into_iter().enumerate() {
            match fault {
                Some((p, at)) if p == pin && at == n => {
                    all.push(refused(one));
                    break;
                }
                _ => all.push(one),
            }
        }
    }
    calls
}

#[test]
fn a_refusal_at_any_call_of_the_panel_leaves_no_call_alone_and_the_others_written() {
    let faults = (0..3).flat_map(|pin| (0..2).map(move |at| Some((pin, at))));
    for fault in faults.chain([None]) {
        let [mut circulator, mut call, mut alarm] = panel_calls(fault).map(|c| Mock::new(&c));
        let mut panel = Panel::new(
            (circulator.clone(), CLOSED),
            (call.clone(), OPEN),
            (alarm.clone(), CLOSED),
        );
        let written = panel.write(Outputs {
            circulator: true,
            boiler_call: true,
            alarm: false,
        });
        assert_eq!(written.is_err(), fault.is_some(), "{fault:?}");
        circulator.done();
        call.done();
        alarm.done();
    }
}

/// One way through a driver: its calls, its waits in µs, what it answers.
struct Way<T> {
    calls: Vec<Call>,
    waits_us: Vec<u32>,
    answer: Result<T, BusFault>,
}

fn way<T>(calls: &[Call], waits_us: &[u32], answer: Result<T, BusFault>) -> Way<T> {
    Way {
        calls: calls.to_vec(),
        waits_us: waits_us.to_vec(),
        answer,
    }
}

#[track_caller]
fn goes<T: PartialEq + core::fmt::Debug>(
    way: Way<T>,
    act: impl FnOnce(&mut OneWire<Mock, CheckedDelay>) -> Result<T, BusFault>,
) {
    // Taking the pin releases the wire.
    let calls: Vec<_> = [set(true)].into_iter().chain(way.calls).collect();
    let waits: Vec<_> = way.waits_us.iter().map(|us| Wait::delay_us(*us)).collect();
    let (mut pin, mut delay) = (Mock::new(&calls), CheckedDelay::new(&waits));
    let mut bus = OneWire::new(pin.clone(), None, delay.clone());
    assert_eq!(act(&mut bus), way.answer, "{calls:?}");
    pin.done();
    delay.done();
}

fn sees(high: bool) -> Call {
    Call::get(if high { High } else { Low })
}

/// Data sheet of the DS18B20: reset 480 µs at least, presence within 60 µs of its end, 480 µs in all.
const RESET_US: [u32; 3] = [500, 70, 430];

#[test]
fn a_reset_call_by_call() {
    let start = [set(true), sees(true), set(false), set(true)];
    let with = |rest: &[Call]| [&start, rest].concat();
    goes(
        way(&with(&[sees(false), sees(true)]), &RESET_US, Ok(())),
        OneWire::reset,
    );
    let silent = Err(BusFault::Silent);
    goes(way(&with(&[sees(true)]), &RESET_US, silent), OneWire::reset);
    // Still low after the presence answers: shorted.
    let shorted = Err(BusFault::Shorted);
    goes(
        way(&with(&[sees(false), sees(false)]), &RESET_US, shorted),
        OneWire::reset,
    );
    // Low from the beginning: looked at for 300 µs, never pulled.
    let low: Vec<_> = [set(true)]
        .into_iter()
        .chain((0..101).map(|_| sees(false)))
        .collect();
    goes(way(&low, &[3; 100], shorted), OneWire::reset);
}

#[test]
fn a_reset_refused_at_every_call() {
    let pin = Err(BusFault::Pin);
    let (up, down) = (|| set(true), || set(false));
    for (calls, waits) in [
        (vec![refused(up())], vec![]),
        (vec![up(), refused(sees(true))], vec![]),
        // Could not be pulled: the wire is released all the same.
        (
            vec![up(), sees(true), refused(down()), up(), sees(false)],
            RESET_US.to_vec(),
        ),
        (
            vec![up(), sees(true), down(), refused(up())],
            vec![500, 430],
        ),
        (
            vec![up(), sees(true), down(), up(), refused(sees(false))],
            RESET_US.to_vec(),
        ),
        (
            vec![
                up(),
                sees(true),
                down(),
                up(),
                sees(false),
                refused(sees(true)),
            ],
            RESET_US.to_vec(),
        ),
    ] {
        goes(way(&calls, &waits, pin), OneWire::reset);
    }
}

/// A slot for a one and one for a zero, µs: data sheet 1–15 and 60–120 low, 60–120 in all, 1 between.
const ONE_US: [u32; 2] = [6, 62];
const ZERO_US: [u32; 2] = [62, 6];
const READ_US: [u32; 3] = [3, 8, 55];

#[test]
fn a_byte_goes_out_lowest_bit_first() {
    let slot = [set(false), set(true)];
    let calls: Vec<_> = (0..8).flat_map(|_| slot.clone()).collect();
    // 05h: one, zero, one, five zeros.
    let waits = [
        ONE_US, ZERO_US, ONE_US, ZERO_US, ZERO_US, ZERO_US, ZERO_US, ZERO_US,
    ]
    .concat();
    goes(way(&calls, &waits, Ok(())), |bus| bus.write(0x05));
    let pin = Err(BusFault::Pin);
    // Refused in the first slot: released, waited out, over.
    goes(
        way(&[refused(set(false)), set(true)], &ONE_US, pin),
        |bus| bus.write(0x05),
    );
    goes(
        way(&[set(false), refused(set(true))], &ONE_US, pin),
        |bus| bus.write(0x05),
    );
}

#[test]
fn a_byte_comes_in_lowest_bit_first() {
    let slot = |one| [set(false), set(true), sees(one)];
    let bits = [false, true, true, false, false, false, false, true];
    let calls: Vec<_> = bits.into_iter().flat_map(slot).collect();
    goes(way(&calls, &READ_US.repeat(8), Ok(0x86)), OneWire::read);
    let pin = Err(BusFault::Pin);
    let [down, up, sees] = slot(true);
    goes(
        way(&[refused(down.clone()), up.clone()], &[3, 55], pin),
        OneWire::read,
    );
    goes(
        way(&[down.clone(), refused(up.clone())], &[3, 55], pin),
        OneWire::read,
    );
    goes(
        way(&[down, up, refused(sees)], &READ_US, pin),
        OneWire::read,
    );
}
