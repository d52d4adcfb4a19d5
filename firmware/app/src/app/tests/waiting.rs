//! What a step could not take is given to the next; what the bus garbles is read again.

use super::*;

/// The events of these rows, those that say something.
fn events(lines: &[String]) -> Vec<String> {
    rows(lines)
        .iter()
        .map(|row| row[column("event")].to_string())
        .filter(|event| !event.is_empty())
        .collect()
}

#[test]
fn settings_and_command_said_before_the_first_step_wait_for_their_turn() {
    let bench = Bench::named();
    let mut bench = bench.reboot(RestartCause::PowerOn);
    // All of it before the sensors have been read once.
    for text in ["mode summer", "set target 1.6", "apply"] {
        bench.send(&format!("{text}~{:04x}\n", checksum(text.as_bytes())));
    }
    let events = events(&bench.run(45));
    assert_eq!(events.len(), 3, "{events:?}");
    assert!(events[0].starts_with("boot power_on "));
    assert!(events[1].starts_with("settings target="), "{events:?}");
    assert_eq!(events[2], "command mode=summer");
    assert_eq!(bench.app.settings().mode, Mode::Summer);
    assert!((bench.app.settings().target.to_bits() - 104_858).abs() <= 1);
    let bench = bench.reboot(RestartCause::PowerOn);
    assert_eq!(bench.app.settings().mode, Mode::Summer);
    assert!((bench.app.settings().target.to_bits() - 104_858).abs() <= 1);
}

#[test]
fn settings_and_a_command_said_before_a_long_stall_are_taken_in_turn_after_it() {
    let mut bench = Bench::named();
    bench.run(25);
    bench.ask("set target 1.6");
    bench.ask("apply");
    bench.ask("pump off");
    let before = bench.run(0);
    assert!(!events(&before).iter().any(|e| e.starts_with("settings")));
    // The loop stands for two minutes, as a debugger or an endless erase would do.
    bench.uptime += 120_000;
    bench.wire.wait_ms(120_000);
    let events = events(&bench.run(45));
    // Late is no boot: the first step takes the settings, the next the command.
    assert_eq!(events.len(), 2, "{events:?}");
    assert!(events[0].starts_with("settings target="), "{events:?}");
    assert_eq!(events[1], "command pump=off");
}

#[test]
fn a_reading_is_of_the_conversion_that_its_own_step_waited_for() {
    let mut bench = Bench::named();
    bench.run(25);
    let slab = column("slab_c");
    for quarters in 10..20_i16 {
        bench.wire.chip(2, |chip| chip.sixteenths = 4 * quarters);
        let lines = bench.run(10);
        // Read too early, the chip still shows the conversion before.
        let read: f64 = rows(&lines).last().unwrap()[slab].parse().unwrap();
        assert!((read - f64::from(quarters) / 4.0).abs() < 1e-9, "{read}");
    }
}

#[test]
fn garbled_frames_are_read_again_counted_and_told() {
    let mut bench = Bench::named();
    bench.run(25);
    let status = column("slab_status");
    let counts = |bench: &mut Bench| {
        let lines = bench.ask("status");
        let line = lines.iter().find(|line| line.contains(" frames=")).unwrap();
        let number = |key: &str| -> u32 {
            let word = line.split(' ').find_map(|word| word.strip_prefix(key));
            word.unwrap().parse().unwrap()
        };
        (number("frames="), number("garbled="))
    };
    let (frames, garbled) = counts(&mut bench);
    assert!(frames >= 8 && garbled == 0, "{frames} {garbled}");
    // Three garbled frames at every step: the readings show nothing, the advice comes.
    let mut lines = vec![];
    for _ in 0..60 {
        bench.wire.chip(2, |chip| chip.garble_next = 3);
        lines.extend(bench.run(10));
    }
    assert!(rows(&lines).iter().all(|row| row[status] == "frame"));
    let advice: Vec<_> = lines.iter().filter(|l| l.starts_with("advice ")).collect();
    assert_eq!(advice.len(), 1, "{advice:?}");
    assert!(
        advice[0].starts_with("advice sensor_bus_noisy 1"),
        "{advice:?}"
    );
    assert!(advice[0].contains(" of 25") && advice[0].contains("pull-up"));
    let (_, garbled) = counts(&mut bench);
    assert!((170..=190).contains(&garbled), "{garbled}");
    assert!(
        bench
            .ask("status")
            .iter()
            .any(|l| l.starts_with("advice sensor_bus_noisy "))
    );
    // Repaired: over after two blocks at most.
    let lines = bench.run(2 * 700);
    assert!(
        lines
            .iter()
            .any(|l| l.starts_with("advice ") && l.ends_with("over"))
    );
    assert!(!bench.ask("status").iter().any(|l| l.starts_with("advice ")));
    // More than the repeats can mend is a missing reading.
    bench.wire.chip(2, |chip| chip.corrupt = 4);
    let lines = bench.run(25);
    assert_eq!(rows(&lines).last().unwrap()[status], "checksum");
}

#[test]
fn turns_of_a_board_that_never_waits_say_the_same_lines() {
    let mut reference = Bench::named();
    let expected = reference.run(30);
    let mut bench = Bench::named();
    let mut turns = crate::chip::Turns::default();
    let asked = format!("status~{:04x}\n", checksum(b"status"));
    let (mut out, mut typed) = (Vec::new(), VecDeque::new());
    let mut uptime = 0;
    while uptime < 30_000 {
        if uptime == 20_005 {
            typed.extend(asked.bytes());
        }
        // A port that takes three characters in two turns of 5 ms, and once none for a second.
        let mut room = if (10_000..11_000).contains(&uptime) {
            0
        } else {
            1 + uptime / 5 % 2
        };
        turns.turn(
            &mut bench.app,
            uptime,
            || typed.pop_front(),
            |byte| {
                let taken = room > 0;
                room = room.saturating_sub(1);
                out.extend(taken.then_some(byte));
                taken
            },
        );
        bench.wire.wait_ms(5);
        uptime += 5;
    }
    let text = String::from_utf8(out).unwrap();
    let rows = |lines: &[String]| lines.iter().filter(|line| line.starts_with("row ")).count();
    let lines: Vec<String> = text
        .lines()
        .map(|line| line.rsplit_once('~').unwrap())
        .inspect(|(body, sum)| assert_eq!(*sum, format!("{:04x}", checksum(body.as_bytes()))))
        .map(|(body, _)| body.to_string())
        .collect();
    assert_eq!(rows(&lines), rows(&expected));
    assert!(lines.iter().any(|line| line.starts_with("status time_s=")));
}
