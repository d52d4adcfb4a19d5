//! What a person may change over the line, and what survives.

use super::*;

#[test]
fn chips_are_named_by_a_person_only() {
    let mut bench = Bench::boot(blank(), Wire::new(chips()), RestartCause::PowerOn);
    let lines = bench.run(12);
    let status = column("supply_status");
    assert!(rows(&lines).iter().all(|row| row[status] == "absent"));
    let lines = bench.ask("sensors");
    assert!(lines.contains(&"name supply unbound".to_string()));
    assert_eq!(
        lines
            .iter()
            .filter(|line| line.starts_with("chip 28"))
            .count(),
        4
    );
    let rom = bench.wire.chip(0, |chip| chip.rom);
    assert_eq!(
        bench.ask(&format!("bind supply {}", hex(&rom))),
        ["ok named and stored"]
    );
    let again = bench.ask(&format!("bind slab {}", hex(&rom)));
    assert_eq!(
        again,
        ["no already_bound: already named; unbind or exchange it first (supply)"]
    );
    assert!(
        rows(&bench.run(12))
            .iter()
            .all(|row| row[status] == "frame")
    );
    // Names outlive a power cut.
    let mut bench = bench.reboot(RestartCause::PowerOn);
    assert!(
        rows(&bench.run(12))
            .iter()
            .all(|row| row[status] == "frame")
    );
    // The chip is replaced: its reading is lost until a person names the new one.
    bench.wire.chip(0, |chip| chip.present = false);
    bench.wire.add(Chip::new(77, 100));
    let lines = bench.run(40);
    assert!(rows(&lines).iter().all(|row| row[status] == "absent"));
    let state = rows(&lines).last().unwrap()[column("supply_state")].to_string();
    assert!(!state.is_empty(), "the core calls it lost within 30 s");
    assert!(bench.app.last().unwrap().readings.supply.is_lost());
    let rom = bench.wire.chip(4, |chip| chip.rom);
    bench.ask(&format!("bind supply {}", hex(&rom)));
    assert!(
        rows(&bench.run(12))
            .iter()
            .all(|row| row[status] == "frame")
    );
    assert_eq!(bench.ask("exchange supply slab"), ["ok named and stored"]);
    assert_eq!(
        crate::bindings::holder(&bench.app.bindings, Source::Chip(rom)),
        Some(Sensor::Slab)
    );
}

#[test]
fn settings_are_drafted_checked_stored_and_adopted() {
    let mut bench = Bench::named();
    bench.run(12);
    let before = bench.app.settings().clone();
    assert_eq!(bench.ask("apply"), ["no no_draft: no draft; use set first"]);
    let lines = bench.ask("set frost_on 3.5 C");
    assert!(lines[0].starts_with("ok draft frost_on 3.500 C range 1.500 C to 5.000 C raw 229376"));
    // A broken relation changes nothing and is named.
    let lines = bench.ask("apply");
    assert_eq!(
        lines[0],
        "problem frost_off: must keep frost_on < frost_off"
    );
    assert!(lines.last().unwrap().starts_with("no bad_draft: "));
    bench.run(12);
    assert_eq!(*bench.app.settings(), before);
    // Repaired, it is adopted, said in the trace, and outlives a power cut.
    bench.ask("set frost_on 2.5");
    let mut wanted = *before.raw();
    wanted.frost_on = controller_core::units::Celsius::from_milli(2_500);
    let sum = serial_line::value::fingerprint(&wanted);
    assert_eq!(
        bench.ask("check"),
        [format!(
            "ok draft {sum:04x} keeps every rule; apply adopts it"
        )]
    );
    assert!(bench.ask("apply")[0].starts_with("ok stored"));
    let lines = bench.run(12);
    let event = column("event");
    assert!(
        rows(&lines)
            .iter()
            .any(|row| row[event] == "settings frost_on=163840"),
        "{lines:?}"
    );
    let mut bench = bench.reboot(RestartCause::PowerOn);
    assert_eq!(bench.app.settings().frost_on.to_bits(), 163_840);
    let rows_after = bench.run(3);
    assert!(rows(&rows_after)[0][event].contains(" settings_lost=0 "));
}

#[test]
fn a_mode_outlives_a_power_cut_and_a_draft_does_not_undo_it() {
    let mut bench = Bench::named();
    bench.run(12);
    bench.ask("set target 1.6");
    assert_eq!(bench.ask("mode summer"), ["ok taken at the next step"]);
    let lines = bench.run(12);
    let event = column("event");
    assert!(
        rows(&lines)
            .iter()
            .any(|row| row[event] == "command mode=summer")
    );
    bench.ask("apply");
    bench.run(12);
    assert_eq!(bench.app.settings().mode, Mode::Summer);
    let bench = bench.reboot(RestartCause::Watchdog);
    assert_eq!(bench.app.settings().mode, Mode::Summer);
}

#[test]
fn nothing_changes_without_a_checksum_and_the_reply_helps() {
    let mut bench = Bench::named();
    bench.run(12);
    bench.send("mode drained\n");
    bench.poll();
    let lines = bench.lines();
    let sum = checksum(b"mode drained");
    let expected = format!("(mode drained~{sum:04x})");
    assert!(
        lines.iter().any(|line| line.ends_with(&expected)),
        "{lines:?}"
    );
    bench.send("mode drained~0000\n");
    bench.run(12);
    assert_eq!(bench.app.settings().mode, Mode::Winter);
    assert_eq!(bench.app.counters().wrong_checksum, 1);
    assert_eq!(bench.app.counters().refused, 2);
}

#[test]
fn damaged_flash_is_defaults_winter_and_alarm() {
    let mut bench = Bench::named();
    bench.ask("mode summer");
    bench.run(12);
    let wire = bench.wire.clone();
    let mut flash = bench.app.into_flash();
    flash.torn = 1;
    flash.bytes.iter_mut().for_each(|byte| *byte &= 0x5A);
    let mut bench = Bench::boot(flash, wire, RestartCause::PowerOn);
    let lines = bench.run(12);
    let row = &rows(&lines)[0];
    assert!(row[column("event")].contains("settings_lost=1"));
    assert!(row[column("alarms")].contains("settings_lost"));
    assert_eq!(bench.app.settings().mode, Mode::Winter);
    assert!(!bench.level(ALARM), "it rings");
}

#[test]
fn a_line_from_a_second_port_is_answered_and_its_losses_are_told() {
    let mut bench = Bench::named();
    bench.run(1);
    // Half a line on the serial line is nothing to the other port.
    bench.send("set target 4.");
    let mut second = crate::second::SecondPort::default();
    let text = "set target 1.6";
    for byte in format!("{text}~{:04x}\n", checksum(text.as_bytes())).bytes() {
        if let Some(line) = second.push(byte) {
            bench.app.receive_line(line);
        }
    }
    bench.run(1);
    bench.app.set_lost_there(3);
    let lines = bench.ask("show target");
    // The half line ends with this one, which is damaged by it.
    assert!(lines[0].starts_with("no wrong_checksum: "), "{lines:?}");
    let lines = bench.ask("check");
    assert!(lines[0].starts_with("ok draft "), "{lines:?}");
    let status = bench.ask("status");
    assert!(
        status.iter().any(|line| line.contains(" lines_lost=3 ")),
        "{status:?}"
    );
}
