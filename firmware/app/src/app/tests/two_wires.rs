//! A second wire of the sensor bus: one shorted cable leaves the chips on the other.

use super::*;

/// Supply and return on the first wire, slab and outdoor on the second.
struct Pair {
    bench: Bench,
    second: Wire,
}

impl Pair {
    fn boot(flash: Nor, first: Wire, second: Wire) -> Self {
        let scratch = Scratch::default();
        let bench = Bench::boot_on(flash, first, Some(&second), RestartCause::PowerOn, scratch);
        Self { bench, second }
    }

    fn named() -> Self {
        let mut all = chips();
        let second = Wire::new(all.split_off(2));
        let mut pair = Self::boot(blank(), Wire::new(all), second);
        for (n, sensor) in Sensor::ALL.into_iter().enumerate() {
            let wire = if n < 2 {
                &pair.bench.wire
            } else {
                &pair.second
            };
            let rom = wire.chip(n % 2, |chip| chip.rom);
            let said = pair
                .bench
                .ask(&format!("bind {} {}", sensor.name(), hex(&rom)));
            assert_eq!(said, ["ok named and stored"]);
        }
        pair
    }

    /// Value and status of each reading in the last row.
    fn readings(&mut self) -> Vec<(String, String)> {
        let mut lines = Vec::new();
        let end = self.bench.uptime + 12_000;
        while self.bench.uptime < end {
            let before = self.bench.uptime;
            self.bench.poll();
            self.second.wait_ms(self.bench.uptime - before);
            lines.extend(self.bench.lines());
        }
        let rows = rows(&lines);
        let row = rows.last().unwrap();
        let cell = |name: String| row[column(&name)].to_string();
        Sensor::ALL
            .into_iter()
            .map(|sensor| {
                let name = sensor.name();
                (cell(format!("{name}_c")), cell(format!("{name}_status")))
            })
            .collect()
    }
}

fn read(values: [&str; 4], statuses: [&str; 4]) -> Vec<(String, String)> {
    let pairs = values.into_iter().zip(statuses);
    pairs.map(|(v, s)| (v.to_string(), s.to_string())).collect()
}

const ALL: [&str; 4] = ["8.0", "6.0", "3.5", "-4.0"];

#[test]
fn a_short_on_one_wire_leaves_the_readings_of_the_other() {
    let mut pair = Pair::named();
    assert_eq!(pair.readings(), read(ALL, ["frame"; 4]));
    for _ in 0..2 {
        pair.bench.wire.short(true);
        assert_eq!(
            pair.readings(),
            read(
                ["", "", "3.5", "-4.0"],
                ["short", "short", "frame", "frame"]
            )
        );
        pair.bench.wire.short(false);
        pair.second.short(true);
        assert_eq!(
            pair.readings(),
            read(["8.0", "6.0", "", ""], ["frame", "frame", "short", "short"])
        );
        pair.second.short(false);
        assert_eq!(pair.readings(), read(ALL, ["frame"; 4]));
    }
}

#[test]
fn a_chip_is_found_on_whichever_wire_it_is_and_a_missing_one_is_told_as_such() {
    let mut pair = Pair::named();
    assert_eq!(pair.readings(), read(ALL, ["frame"; 4]));
    // The slab's chip moves to the first wire.
    let chip = pair.second.chip(0, |chip| {
        let moved = chip.clone();
        chip.present = false;
        moved
    });
    assert_eq!(
        pair.readings(),
        read(
            ["8.0", "6.0", "", "-4.0"],
            ["frame", "frame", "absent", "frame"]
        )
    );
    pair.bench.wire.add(chip);
    assert_eq!(pair.readings(), read(ALL, ["frame"; 4]));
}

#[test]
fn a_boot_with_a_shorted_wire_tells_the_short() {
    let mut pair = Pair::named();
    pair.readings();
    pair.second.short(true);
    let (flash, first) = (pair.bench.app.into_flash(), pair.bench.wire);
    let mut pair = Pair::boot(flash, first, pair.second);
    assert_eq!(
        pair.readings(),
        read(["8.0", "6.0", "", ""], ["frame", "frame", "short", "short"])
    );
}

#[test]
fn chips_of_both_wires_are_listed_and_a_broken_wire_hides_no_other() {
    let mut pair = Pair::named();
    pair.readings();
    let chips = |lines: &[String], wire: &str| {
        let of = |line: &&String| line.starts_with("chip 28") && line.ends_with(wire);
        lines.iter().filter(of).count()
    };
    let lines = pair.bench.ask("sensors");
    assert_eq!(
        (chips(&lines, " wire 1"), chips(&lines, " wire 2")),
        (2, 2),
        "{lines:?}"
    );
    let names = lines.iter().filter(|line| line.starts_with("name "));
    assert_eq!(names.count(), 4);
    pair.bench.wire.short(true);
    let lines = pair.bench.ask("sensors");
    assert_eq!(
        (chips(&lines, " wire 1"), chips(&lines, " wire 2")),
        (0, 2),
        "{lines:?}"
    );
    assert!(lines.contains(&"wire 1: wire shorted or without pull-up".to_string()));
    assert_eq!(lines.last().unwrap(), "ok end");
    assert_eq!(pair.bench.ask("identify"), ["ok 2 chips; warm one by hand"]);
}
