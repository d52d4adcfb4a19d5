use super::*;
use crate::board::{Layout, NoAnalog};
use crate::duty::Healthy;
use crate::fakes::{Chip, Flash, Pin, PinWorld, Wire, WireDelay, WirePin};
use crate::line::checksum;
use crate::relay::{Contact, Drive, Wiring};
use controller_core::sensor::ds18b20::crc;
use controller_core::settings::Mode;
use proptest::prelude::*;
use std::cell::Cell;
use std::format;
use std::rc::Rc;
use std::string::{String, ToString};
use std::vec;
use std::vec::Vec;

#[path = "tests/waiting.rs"]
mod waiting;

type Nor = Flash<4096, 1>;

struct Bench {
    app: App<TestBoard>,
    wire: Wire,
    pins: PinWorld,
    fed: Rc<Cell<u64>>,
    uptime: u64,
    unread: String,
    /// Rows that came while something was asked.
    between: Vec<String>,
}

struct TestBoard;

struct Dog(Rc<Cell<u64>>);

impl Watchdog for Dog {
    fn feed(&mut self, _: Healthy) {
        self.0.set(self.0.get() + 1);
    }
}

impl Board for TestBoard {
    type Bus = WirePin;
    type Delay = WireDelay;
    type Analog = NoAnalog;
    type Relay = Pin;
    type Lamp = Pin;
    type Feedback = Pin;
    type Flash = Nor;
    type Watchdog = Dog;
}

const CIRCULATOR: usize = 0;
const CALL: usize = 1;
const ALARM: usize = 2;
const LAMP: usize = 3;

/// Supply 8 °C, return 6 °C, slab 3.5 °C, outdoor -4 °C.
const SIXTEENTHS: [i16; 4] = [128, 96, 56, -64];

fn chips() -> Vec<Chip> {
    SIXTEENTHS
        .iter()
        .zip(1..)
        .map(|(t, n)| Chip::new(n, *t))
        .collect()
}

fn blank() -> Nor {
    Nor::new(12)
}

impl Bench {
    fn boot(flash: Nor, wire: Wire, cause: RestartCause) -> Self {
        let pins = PinWorld::new(4);
        let fed = Rc::new(Cell::new(0));
        let (bus, delay) = wire.parts();
        let wired = |contact| Wiring {
            contact,
            drive: Drive::ActiveHigh,
        };
        let app = App::new(
            Hardware {
                circulator: (pins.pin(CIRCULATOR), wired(Contact::NormallyClosed)),
                boiler_call: (pins.pin(CALL), wired(Contact::NormallyOpen)),
                alarm: (pins.pin(ALARM), wired(Contact::NormallyClosed)),
                lamp: pins.pin(LAMP),
                bus,
                delay,
                analog: NoAnalog,
                feedback: None,
                flash,
                watchdog: Dog(fed.clone()),
                layout: Layout {
                    store: 0..8 * 4096,
                    history: 8 * 4096..12 * 4096,
                },
                unit: 7,
            },
            cause,
        );
        Self {
            app,
            wire,
            pins,
            fed,
            uptime: 0,
            unread: String::new(),
            between: vec![],
        }
    }

    /// A unit whose chips are named and whose house is in an ordinary winter night.
    fn named() -> Self {
        let mut bench = Self::boot(blank(), Wire::new(chips()), RestartCause::PowerOn);
        for (n, sensor) in Sensor::ALL.into_iter().enumerate() {
            let rom = bench.wire.chip(n, |chip| chip.rom);
            let lines = bench.ask(&format!("bind {} {}", sensor.name(), hex(&rom)));
            assert!(lines[0].starts_with("ok named"), "{lines:?}");
        }
        bench
    }

    fn reboot(self, cause: RestartCause) -> Self {
        Self::boot(self.app.into_flash(), self.wire, cause)
    }

    fn poll(&mut self) {
        let next = self.app.poll(self.uptime);
        assert!(
            next > self.uptime && next <= self.uptime + 250,
            "{next} after {}",
            self.uptime
        );
        self.wire.wait_ms(next - self.uptime);
        self.uptime = next;
        while let Some(byte) = self.app.transmit() {
            self.unread.push(char::from(byte));
        }
    }

    /// Runs so long and gives the lines that came.
    fn run(&mut self, seconds: u64) -> Vec<String> {
        let end = self.uptime + seconds * 1_000;
        while self.uptime < end {
            self.poll();
        }
        let mut lines = core::mem::take(&mut self.between);
        lines.extend(self.lines());
        lines
    }

    fn lines(&mut self) -> Vec<String> {
        let text = core::mem::take(&mut self.unread);
        let check = |line: &str| {
            let (body, sum) = line.rsplit_once('~').expect("every line has a checksum");
            assert_eq!(sum, format!("{:04x}", checksum(body.as_bytes())), "{line}");
            body.to_string()
        };
        text.split_terminator("\r\n").map(check).collect()
    }

    fn send(&mut self, text: &str) {
        text.bytes().for_each(|byte| self.app.receive(byte));
    }

    /// Says something with its checksum and gives what comes back within a poll or two.
    fn ask(&mut self, text: &str) -> Vec<String> {
        self.poll();
        let earlier = self.lines();
        self.between.extend(earlier);
        self.send(&format!("{text}~{:04x}\n", checksum(text.as_bytes())));
        self.poll();
        self.poll();
        let (rows, lines) = self
            .lines()
            .into_iter()
            .partition(|line| line.starts_with("row "));
        self.between.extend::<Vec<_>>(rows);
        lines
    }

    fn level(&self, pin: usize) -> bool {
        self.pins.levels()[pin]
    }
}

fn hex(rom: &[u8; 8]) -> String {
    rom.iter().map(|byte| format!("{byte:02x}")).collect()
}

fn rows(lines: &[String]) -> Vec<Vec<&str>> {
    lines
        .iter()
        .filter_map(|line| line.strip_prefix("row "))
        .map(|row| row.split(',').collect())
        .collect()
}

/// Number of the column of this name in the trace.
fn column(name: &str) -> usize {
    controller_core::trace::HEADER
        .split(',')
        .position(|column| column == name)
        .unwrap()
}

#[test]
fn outputs_are_safe_before_anything_else_and_with_everything_broken() {
    let wire = Wire::new(vec![]);
    wire.short(true);
    let mut flash = blank();
    flash.refuses = true;
    let mut bench = Bench::boot(flash, wire, RestartCause::PowerOn);
    assert_eq!(bench.pins.levels()[..3], [true, false, false]);
    let lines = bench.run(30);
    assert!(rows(&lines).len() >= 3);
    assert!(
        !bench.level(CALL) && !bench.level(ALARM),
        "no call, and it rings"
    );
    assert!(bench.app.counters().flash_faults > 0);
    assert!(
        bench.fed.get() > 100,
        "a broken bus or flash is no reason to reset"
    );
}

#[test]
fn rows_are_the_cores_own_byte_for_byte() {
    let mut bench = Bench::named();
    bench.run(1);
    let mut bench = bench.reboot(RestartCause::PowerOn);
    let base = bench.app.base_ms;
    let mut reference: Option<Controller> = None;
    let mut seen = 0;
    for minute in 0..240_i16 {
        // A house that cools and warms, with a chip that drops out now and then.
        for (n, start) in SIXTEENTHS.into_iter().enumerate() {
            bench.wire.chip(n, |chip| {
                chip.sixteenths = start - (minute * 3) % 50;
                chip.present = n != 3 || minute % 17 > 3;
            });
        }
        for line in bench.run(60) {
            let Some(row) = line.strip_prefix("row ") else {
                continue;
            };
            let cells: Vec<&str> = row.split(',').collect();
            let time: f64 = cells[0].parse().unwrap();
            let sample = |sensor: Sensor| {
                let value = cells[column(&format!("{}_c", sensor.name()))];
                let status = cells[column(&format!("{}_status", sensor.name()))];
                match (value.parse::<f64>(), status) {
                    (Ok(value), "frame") => Sample::Framed(
                        controller_core::units::Celsius::from_128ths((value * 128.0) as i16),
                    ),
                    (Err(_), "absent") => Sample::Failed(ReadFault::Absent),
                    other => panic!("{other:?}"),
                }
            };
            let inputs = Inputs {
                samples: BySensor::from_fn(sample),
                ..Inputs::default()
            };
            let now = Instant::from_millis((time * 1_000.0).round() as u64);
            assert!(now.as_millis() >= base);
            // As a replay does it: from the first row on, with nothing but what the rows say.
            let reference = reference.get_or_insert_with(|| {
                Controller::boot(bench.app.settings().clone(), now, bench.app.restart)
            });
            let report = reference.step(now, &inputs).expect("the step was wanted");
            let mut expected = String::new();
            report
                .row
                .write_csv(Instant::from_millis(0), "", &mut expected)
                .unwrap();
            assert_eq!(row, expected);
            seen += 1;
        }
        let outputs = bench.app.outputs;
        assert_eq!(
            bench.level(CIRCULATOR),
            !outputs.circulator,
            "normally closed"
        );
        assert_eq!(bench.level(CALL), outputs.boiler_call, "normally open");
        assert_eq!(bench.level(ALARM), !outputs.alarm, "energised when healthy");
    }
    assert!(seen > 1_400, "{seen}");
    let on = bench
        .pins
        .history()
        .iter()
        .any(|levels| !levels[CIRCULATOR]);
    assert!(on, "the circulator ran");
}

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
        ["no already named; unbind or exchange it first (supply)"]
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
    assert_eq!(bench.ask("apply"), ["no no draft; use set first"]);
    let lines = bench.ask("set frost_on 3.5 C");
    assert!(lines[0].starts_with("ok draft frost_on 3.500 C range 1.500 C to 5.000 C raw 229376"));
    // A broken relation changes nothing and is named.
    let lines = bench.ask("apply");
    assert_eq!(
        lines[0],
        "problem frost_off: must keep frost_on < frost_off"
    );
    assert!(lines.last().unwrap().starts_with("no draft breaks"));
    bench.run(12);
    assert_eq!(*bench.app.settings(), before);
    // Repaired, it is adopted, said in the trace, and outlives a power cut.
    bench.ask("set frost_on 2.5");
    let mut wanted = *before.raw();
    wanted.frost_on = controller_core::units::Celsius::from_milli(2_500);
    let sum = crate::value::fingerprint(&wanted);
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
fn the_watchdog_is_fed_only_by_whole_cycles() {
    let mut bench = Bench::named();
    bench.run(12);
    let before = bench.fed.get();
    bench.run(10);
    assert!(bench.fed.get() - before >= 40, "four times a second");
    // An output that does not read back: no more food.
    bench.pins.stick(ALARM);
    bench.app.outputs.alarm = !bench.app.outputs.alarm;
    let before = bench.fed.get();
    for _ in 0..8 {
        bench.app.write_outputs();
        bench.poll();
    }
    assert_eq!(bench.fed.get(), before);
    assert!(bench.app.counters().output_faults >= 8);
}

#[test]
fn a_decision_that_does_not_come_lets_the_watchdog_bite() {
    let mut bench = Bench::named();
    bench.run(12);
    // As if the sensors' turn never ended.
    bench.app.converting = Some(Instant::from_millis(u64::MAX / 2));
    let before = bench.fed.get();
    for _ in 0..4 * 16 {
        bench.uptime += 250;
        bench.app.poll(bench.uptime);
    }
    let fed = bench.fed.get() - before;
    assert!(
        (20..=64 - 4).contains(&fed),
        "fed {fed} times, then no more"
    );
    let before = bench.fed.get();
    bench.uptime += 250;
    bench.app.poll(bench.uptime);
    assert_eq!(bench.fed.get(), before);
}

#[test]
fn three_watchdog_resets_hold_the_outputs_until_a_person_comes() {
    let mut bench = Bench::named();
    for _ in 0..3 {
        bench.run(12);
        bench = bench.reboot(RestartCause::Watchdog);
    }
    let lines = bench.run(12);
    assert!(lines.iter().any(|line| line.starts_with("held ")));
    assert_eq!(
        bench.pins.levels()[..3],
        [false, false, false],
        "every coil at rest"
    );
    assert!(bench.level(LAMP));
    assert!(bench.fed.get() > 0, "held is not hung");
    bench.ask("acknowledge");
    bench.run(12);
    assert!(bench.level(CIRCULATOR), "released");
    let mut bench = bench.reboot(RestartCause::Watchdog);
    bench.run(12);
    assert!(bench.level(CIRCULATOR), "the count starts anew");
}

#[test]
fn restarts_are_counted_in_powered_time() {
    let mut bench = Bench::named();
    for _ in 0..4 {
        bench.run(30);
        bench = bench.reboot(RestartCause::PowerOn);
    }
    let lines = bench.run(3);
    let event = rows(&lines)[0][column("event")].to_string();
    assert!(event.starts_with("boot power_on boots=5 "), "{event}");
    assert!(event.contains(" dark=1 "), "{event}");
    // Time goes on over a cut, so that the log stays in order.
    let time: f64 = rows(&lines)[0][0].parse().unwrap();
    assert!(time >= 0.7, "{time}");
}

#[test]
fn the_log_reads_out_as_a_table() {
    let mut bench = Bench::named();
    bench.run(2 * 3_600);
    let mut lines = bench.ask("log");
    lines.extend(bench.run(20));
    let mut bench = bench.reboot(RestartCause::PowerOn);
    bench.run(3);
    let mut again = bench.ask("log");
    again.extend(bench.run(20));
    for lines in [lines, again] {
        let table: Vec<_> = lines
            .iter()
            .filter_map(|line| line.strip_prefix("log "))
            .collect();
        let columns = history::HEADER.split(',').count();
        assert!(table.iter().all(|row| row.split(',').count() == columns));
        let times: Vec<u32> = table
            .iter()
            .filter_map(|row| row.split(',').next()?.parse().ok())
            .collect();
        assert!(times.len() >= 24 && times.is_sorted(), "{times:?}");
        assert!(
            lines.iter().any(|line| line.starts_with("ok end rows=")),
            "{lines:?}"
        );
        assert!(lines.iter().any(|line| line.ends_with("lost=0")));
    }
}

#[test]
fn warming_a_chip_by_hand_shows_which_it_is() {
    let mut bench = Bench::named();
    bench.run(12);
    assert_eq!(bench.ask("identify"), ["ok 4 chips; warm one by hand"]);
    bench.run(12);
    bench.wire.chip(2, |chip| chip.sixteenths += 48);
    let lines = bench.run(12);
    let rom = bench.wire.chip(2, |chip| chip.rom);
    let expected = format!("rises {} slab by 3.000 K", hex(&rom));
    assert!(lines.contains(&expected), "{lines:?}");
    let lines = bench.run(300);
    assert!(lines.contains(&"ok identify is over".to_string()));
}

#[test]
fn the_pair_is_trimmed_to_its_mean_in_one_bath() {
    let mut bench = Bench::named();
    bench.wire.chip(0, |chip| chip.sixteenths = 6);
    bench.wire.chip(1, |chip| chip.sixteenths = -2);
    bench.run(12);
    bench.ask("trim pair");
    let lines = bench.run(130);
    assert!(lines.contains(&"ok trim is in the draft; check and apply adopt it".to_string()));
    bench.ask("apply");
    bench.run(12);
    // Half of 8/16 K to each side.
    assert_eq!(bench.app.settings().supply_trim.to_bits(), -16_384);
    assert_eq!(bench.app.settings().return_trim.to_bits(), 16_384);
    // A bath that drifts, and a pair that differs too much, are refused.
    bench.ask("trim pair");
    bench.wire.chip(0, |chip| chip.sixteenths = 12);
    bench.run(40);
    bench.wire.chip(0, |chip| chip.sixteenths = 40);
    let lines = bench.run(130);
    assert!(
        lines
            .iter()
            .any(|line| line.starts_with("no trim: the bath has not settled")),
        "{lines:?}"
    );
    bench.ask("trim pair");
    let lines = bench.run(130);
    assert!(
        lines
            .iter()
            .any(|line| line.starts_with("no trim: the pair differs")),
        "{lines:?}"
    );
    assert!(bench.app.draft.is_none());
}

#[test]
fn a_relay_test_waits_for_protection_asks_and_ends() {
    let mut bench = Bench::named();
    bench.run(12);
    assert_eq!(bench.ask("test circulator"), ["ok waiting for the relay"]);
    let lines = bench.run(60);
    assert!(
        lines
            .iter()
            .any(|line| line.starts_with("test circulator waits: boot ")),
        "{lines:?}"
    );
    assert!(bench.level(CIRCULATOR), "shortest times are not bypassed");
    let asked = |line: &String| line.starts_with("test circulator is on");
    let waited = (0..60)
        .take_while(|_| !bench.run(12).iter().any(asked))
        .count();
    assert!(
        (40..60).contains(&waited),
        "ten minutes' boot delay: {waited} times 12 s"
    );
    assert!(!bench.level(CIRCULATOR), "it runs");
    // Nobody answers: it ends by itself.
    let lines = bench.run(120);
    assert!(
        lines.contains(&"test circulator not answered".to_string()),
        "{lines:?}"
    );
    assert_eq!(bench.ask("yes"), ["no nothing was asked"]);
    bench.run(30);
    assert!(bench.app.wanted.is_empty());
    // The alarm is switched directly and can be answered.
    bench.app.outputs.alarm = false;
    assert!(bench.ask("test alarm")[0].starts_with("ok alarm rings"));
    assert_eq!(bench.ask("yes"), ["test alarm passed"]);
}

#[test]
fn a_clock_that_stands_or_jumps_back_only_waits() {
    let mut bench = Bench::named();
    bench.run(30);
    let outputs = bench.app.outputs;
    bench.app.poll(5);
    bench.app.poll(bench.uptime);
    assert_eq!(bench.app.outputs, outputs);
}

/// What nobody may change from outside without a checksum.
fn held_dear(bench: &Bench) -> (RawSettings, Bindings, bool) {
    (
        *bench.app.settings().raw(),
        bench.app.bindings,
        bench.app.held,
    )
}

fn noise() -> impl Strategy<Value = Vec<u8>> {
    let words = "(mode|set|apply|bind|pump|boiler|test|status|log|settings|sensors|help|yes|stop|trim)( (summer|drained|target 4|slab 2801|on|off|pair|alarm))?(~[0-9a-f]{0,5})?[\r\n]{0,2}";
    prop_oneof![
        proptest::collection::vec(any::<u8>(), 0..200),
        words.prop_map(String::into_bytes),
        proptest::collection::vec(0x20..0x7F_u8, 90..300),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn garbage_half_lines_and_floods_change_nothing(parts in proptest::collection::vec(noise(), 1..40)) {
        let mut bench = Bench::named();
        bench.run(1);
        let before = held_dear(&bench);
        for part in parts {
            part.into_iter().for_each(|byte| bench.app.receive(byte));
            bench.poll();
        }
        bench.send("\n");
        bench.run(25);
        bench.ask("stop");
        prop_assert_eq!(before, held_dear(&bench));
        // It still answers and decides.
        prop_assert!(!rows(&bench.run(12)).is_empty());
        let status = bench.ask("status");
        prop_assert!(status.iter().any(|line| line.starts_with("status time_s=")), "{status:?}");
    }
}

#[test]
fn a_power_cut_at_any_save_keeps_names_and_settings() {
    // Every cut falls into one of the saves that a boot, a request and a night make.
    let mut flash = Bench::named().app.into_flash();
    let mut target = RawSettings::DEFAULT.target.to_bits();
    for n in 0..150_u64 {
        flash.revive(Some(1 + (n * 397) % 6_000));
        let mut bench = Bench::boot(flash, Wire::new(chips()), RestartCause::PowerOn);
        assert!(bench.app.bindings.slab != Source::Unbound, "cut {n}");
        let stored = bench.app.settings().target.to_bits();
        assert!(
            stored == target || stored == 98_304 + n as i32 - 1,
            "cut {n}"
        );
        target = stored;
        bench.ask(&format!("set target raw {}", 98_304 + n));
        if bench
            .ask("apply")
            .first()
            .is_some_and(|line| line.starts_with("ok stored"))
        {
            target = 98_304 + n as i32;
        }
        bench.run(12);
        flash = bench.app.into_flash();
    }
    assert!(flash.torn > 100, "{}", flash.torn);
}

#[test]
fn the_test_chips_have_right_checksums() {
    for chip in chips() {
        assert_eq!(crc(&chip.rom), 0);
    }
}
