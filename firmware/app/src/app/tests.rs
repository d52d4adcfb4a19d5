use super::*;
use crate::board::Layout;
use crate::defaults;
use crate::duty::Healthy;
use crate::fakes::{Chip, Flash, Pin, PinWorld, Scratch, Wire, WireDelay, WirePin};
use crate::relay::{Contact, Drive, Wiring};
use controller_core::restart::RestartCause;
use controller_core::sensor::ds18b20::crc;
use controller_core::settings::{Field, Mode};
use proptest::prelude::*;
use serial_line::line::checksum;
use std::cell::Cell;
use std::collections::VecDeque;
use std::format;
use std::rc::Rc;
use std::string::{String, ToString};
use std::vec;
use std::vec::Vec;

mod button;
mod damage;
mod guided;
mod second_port;
mod start;
mod talk;
mod two_wires;
mod waiting;

type Nor = Flash<4096, 1>;

struct Bench {
    app: App<TestBoard>,
    wire: Wire,
    pins: PinWorld,
    scratch: Scratch,
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

/// Conversions to come, whatever the input; then none.
#[derive(Default)]
struct Analog(VecDeque<Result<u16, ()>>);

impl ReadShare for Analog {
    type Error = ();
    fn read_share(&mut self, _: u8) -> Result<u16, ()> {
        self.0.pop_front().unwrap_or(Err(()))
    }
}

impl Board for TestBoard {
    const NAME: &'static str = "bench";
    type Bus = WirePin;
    type Delay = WireDelay;
    type Analog = Analog;
    type Relay = Pin;
    type Lamp = Pin;
    type Feedback = Pin;
    type Button = Pin;
    type Flash = Nor;
    type Watchdog = Dog;
    type Retained = Scratch;
}

const CIRCULATOR: usize = 0;
const CALL: usize = 1;
const ALARM: usize = 2;
const LAMP: usize = 3;
const BUTTON: usize = 4;

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
        Self::boot_with(flash, wire, cause, Scratch::default())
    }

    fn boot_with(flash: Nor, wire: Wire, cause: RestartCause, scratch: Scratch) -> Self {
        Self::boot_on(flash, wire, None, cause, scratch)
    }

    fn boot_on(
        flash: Nor,
        wire: Wire,
        second: Option<&Wire>,
        cause: RestartCause,
        scratch: Scratch,
    ) -> Self {
        let pins = PinWorld::new(5);
        pins.pin(BUTTON).set_high().unwrap();
        let fed = Rc::new(Cell::new(0));
        let (bus, second_bus, delay) = match second {
            None => {
                let (bus, delay) = wire.parts();
                (bus, None, delay)
            }
            Some(second) => {
                let (bus, second_bus, delay) = wire.both(second);
                (bus, Some(second_bus), delay)
            }
        };
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
                second_bus,
                delay,
                analog: Analog::default(),
                feedback: None,
                button: Some(pins.pin(BUTTON)),
                flash,
                watchdog: Dog(fed.clone()),
                layout: Layout {
                    store: 0..8 * 4096,
                    history: 8 * 4096..12 * 4096,
                },
                unit: 7,
            },
            Resets::begin(scratch.clone(), cause),
        );
        Self {
            app,
            wire,
            pins,
            scratch,
            fed,
            uptime: 0,
            unread: String::new(),
            between: vec![],
        }
    }

    /// A unit whose chips are named, in the demonstration site on an ordinary winter night.
    fn named() -> Self {
        let mut bench = Self::unset();
        for field in Field::all() {
            let bits = RawSettings::DEFAULT.bits(field.key);
            if bits != defaults::UNIT.bits(field.key) {
                bench.ask(&format!("set {} raw {bits}", field.name));
            }
        }
        let stored = bench.ask("apply");
        assert!(stored[0].starts_with("ok stored"), "{stored:?}");
        bench.reboot(RestartCause::PowerOn)
    }

    /// A unit whose chips are named and whose settings nobody has stored.
    fn unset() -> Self {
        let mut bench = Self::boot(blank(), Wire::new(chips()), RestartCause::PowerOn);
        for (n, sensor) in Sensor::ALL.into_iter().enumerate() {
            let rom = bench.wire.chip(n, |chip| chip.rom);
            let lines = bench.ask(&format!("bind {} {}", sensor.name(), hex(&rom)));
            assert!(lines[0].starts_with("ok named"), "{lines:?}");
        }
        bench
    }

    fn reboot(self, cause: RestartCause) -> Self {
        Self::boot_with(self.app.into_flash(), self.wire, cause, self.scratch)
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
    assert_eq!(bench.pins.levels()[..3], [false; 3], "coils at rest");
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
    // One more for the boot after its settings were stored.
    assert!(event.starts_with("boot power_on boots=6 "), "{event}");
    assert!(event.contains(" settings_lost="), "{event}");
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
        let (firmware, table) = table.split_first().unwrap();
        let version = env!("CARGO_PKG_VERSION");
        assert!(firmware.starts_with(&format!("# firmware version={version} board=bench build=")));
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
fn a_clock_that_stands_or_jumps_back_only_waits() {
    let mut bench = Bench::named();
    bench.run(30);
    let outputs = bench.app.outputs;
    bench.app.poll(5);
    bench.app.poll(bench.uptime);
    assert_eq!(bench.app.outputs, outputs);
}

#[test]
fn the_test_chips_have_right_checksums() {
    for chip in chips() {
        assert_eq!(crc(&chip.rom), 0);
    }
}
