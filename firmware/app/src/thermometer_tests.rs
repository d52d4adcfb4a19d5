use super::*;
use crate::fakes::{Chip, Wire, WireDelay, WirePin};
use crate::one_wire::Search;
use std::vec;
use std::vec::Vec;

type Bus = OneWire<WirePin, WireDelay>;

fn bus(wire: &Wire) -> Bus {
    let (pin, delay) = wire.parts();
    OneWire::new(pin, None, delay)
}

/// Converts and reads chip `n`.
fn measure(wire: &Wire, bus: &mut Bus, n: usize) -> Sample {
    let _ = start_all(bus);
    wire.wait_ms(760);
    let rom = wire.chip(n, |chip| chip.rom);
    read(bus, &rom).sample
}

fn celsius(sixteenths: i16) -> Sample {
    Sample::Framed(Celsius::from_128ths(sixteenths * 8))
}

fn found(bus: &mut Bus) -> Result<Vec<Rom>, BusFault> {
    let mut search = Search::NEW;
    let mut roms = vec![];
    while let Some(rom) = bus.search(&mut search)? {
        roms.push(rom);
    }
    Ok(roms)
}

#[test]
fn reads_every_temperature_a_chip_can_have() {
    let wire = Wire::new(vec![Chip::new(1, 0), Chip::new(2, 0)]);
    let mut bus = bus(&wire);
    for sixteenths in (-55 * 16..=125 * 16)
        .step_by(7)
        .chain([-880, -1, 0, 1, 1360, 2000])
    {
        wire.chip(0, |chip| chip.sixteenths = sixteenths);
        assert_eq!(measure(&wire, &mut bus, 0), celsius(sixteenths));
    }
    assert_eq!(measure(&wire, &mut bus, 1), celsius(0));
}

#[test]
fn a_search_finds_every_chip_once() {
    for count in 0..40_u8 {
        let chips = (0..count)
            .map(|n| Chip::new(n.wrapping_mul(37), 0))
            .collect();
        let wire = Wire::new(chips);
        let mut bus = bus(&wire);
        let mut expected: Vec<_> = (0..count).map(|n| wire.chip(n.into(), |c| c.rom)).collect();
        if count == 0 {
            assert_eq!(found(&mut bus), Err(BusFault::Silent));
            continue;
        }
        let mut roms = found(&mut bus).unwrap();
        roms.sort_unstable();
        expected.sort_unstable();
        assert_eq!(roms, expected);
    }
}

#[test]
fn every_fault_of_a_chip_has_its_name() {
    let wire = Wire::new(vec![Chip::new(1, 400), Chip::new(2, 16)]);
    let mut bus = bus(&wire);
    assert_eq!(measure(&wire, &mut bus, 0), celsius(400));

    wire.chip(0, |chip| chip.corrupt = 0x04);
    assert_eq!(
        measure(&wire, &mut bus, 0),
        Sample::Failed(ReadFault::Checksum)
    );
    wire.chip(0, |chip| chip.corrupt = 0);
    assert_eq!(measure(&wire, &mut bus, 0), celsius(400));

    // Unplugged among others: nobody answers its name, the wire reads ones.
    wire.chip(0, |chip| chip.present = false);
    assert_eq!(
        measure(&wire, &mut bus, 0),
        Sample::Failed(ReadFault::Absent)
    );
    assert_eq!(measure(&wire, &mut bus, 1), celsius(16));
    wire.chip(1, |chip| chip.present = false);
    assert_eq!(
        measure(&wire, &mut bus, 1),
        Sample::Failed(ReadFault::Absent)
    );
    assert_eq!(start_all(&mut bus), Err(BusFault::Silent));

    wire.short(true);
    assert_eq!(
        measure(&wire, &mut bus, 1),
        Sample::Failed(ReadFault::Short)
    );
    assert_eq!(found(&mut bus), Err(BusFault::Shorted));
}

#[test]
fn a_garbled_frame_is_read_again_up_to_three_times() {
    let wire = Wire::new(vec![Chip::new(1, 400)]);
    let mut bus = bus(&wire);
    let rom = wire.chip(0, |chip| chip.rom);
    assert_eq!(measure(&wire, &mut bus, 0), celsius(400));
    for garbled in 0..6_u16 {
        wire.chip(0, |chip| chip.garble_next = garbled.into());
        let good = garbled <= 3;
        let expected = Read {
            sample: if good {
                celsius(400)
            } else {
                Sample::Failed(ReadFault::Checksum)
            },
            share: Share {
                garbled: garbled.min(4),
                frames: if good { garbled + 1 } else { 4 },
            },
        };
        assert_eq!(read(&mut bus, &rom), expected);
    }
    // Whoever is not there is not asked again.
    wire.chip(0, |chip| chip.present = false);
    assert_eq!(read(&mut bus, &rom).share.frames, 1);
}

#[test]
fn a_replaced_chip_is_not_read_under_the_old_name() {
    let wire = Wire::new(vec![Chip::new(1, 400)]);
    let mut bus = bus(&wire);
    let old = wire.chip(0, |chip| chip.rom);
    wire.chip(0, |chip| chip.present = false);
    wire.add(Chip::new(9, 320));
    start_all(&mut bus).unwrap();
    wire.wait_ms(760);
    assert_eq!(
        read(&mut bus, &old).sample,
        Sample::Failed(ReadFault::Absent)
    );
}

#[test]
fn a_power_on_value_is_told_from_a_real_85() {
    for clone in [false, true] {
        let wire = Wire::new(vec![Chip::new(1, 1_360)]);
        wire.chip(0, |chip| chip.clone = clone);
        let mut bus = bus(&wire);
        let rom = wire.chip(0, |chip| chip.rom);
        // Never marked yet: an exact 85 cannot be trusted.
        assert_eq!(
            measure(&wire, &mut bus, 0),
            Sample::Failed(ReadFault::PowerOn)
        );
        // Marked by that read: genuine chips' 85 now counts; a clone's byte 6 still says otherwise.
        let second = measure(&wire, &mut bus, 0);
        if clone {
            assert_eq!(second, Sample::Failed(ReadFault::PowerOn));
        } else {
            assert_eq!(second, celsius(1_360));
        }
        // Supply lost between conversion and read.
        wire.chip(0, |chip| chip.sixteenths = 100);
        let _ = start_all(&mut bus);
        wire.wait_ms(760);
        wire.chip(0, Chip::power_on);
        assert_eq!(
            read(&mut bus, &rom).sample,
            Sample::Failed(ReadFault::PowerOn)
        );
        assert_eq!(measure(&wire, &mut bus, 0), celsius(100));
    }
}

#[test]
fn a_failing_pin_is_reported_at_every_call_and_never_keeps_the_wire_low() {
    let wire = Wire::new(vec![Chip::new(1, 400)]);
    let mut bus = bus(&wire);
    let rom = wire.chip(0, |chip| chip.rom);
    assert_eq!(measure(&wire, &mut bus, 0), celsius(400)); // marks the chip
    assert_eq!(measure(&wire, &mut bus, 0), celsius(400));
    let mut calls = 0;
    loop {
        wire.fail_call(calls);
        wire.wait_ms(1);
        let sample = read(&mut bus, &rom).sample;
        if !wire.failed() {
            assert_eq!(sample, celsius(400));
            break;
        }
        assert_eq!(sample, Sample::Failed(ReadFault::Missing), "call {calls}");
        // A release that failed is repeated by the next reset.
        let _ = bus.reset();
        assert!(wire.is_released(), "call {calls}");
        calls += 1;
    }
    // Reset 6; match and command 80 bits of 2 calls; frame 72 bits of 3.
    assert_eq!(calls, 6 + 160 + 216);
}
