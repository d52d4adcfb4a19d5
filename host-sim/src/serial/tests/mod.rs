//! Whole conversations with the firmware itself, over a line that loses, garbles and goes away.

use std::cell::RefCell;
use std::collections::VecDeque;
use std::io::{self, Read, Write};
use std::rc::Rc;
use std::time::Duration;

use controller_core::restart::RestartCause;
use controller_core::settings::{RawSettings, Settings};
use controller_core::units::{Celsius, Kelvin};
use proptest::prelude::*;

use super::conversation::{Conversation, LineError};
use super::difference;
use super::frame::sealed;
use super::history;
use super::listen::{ListenError, listen};
use super::log_file::LogFile;
use super::port::{Line, Port};
use super::session::News;
use super::settings::{SendError, confirm, read, send};
use crate::account::sinks::{Logged, Sink};
use crate::files::log::{LogReader, ReaderOptions};
use crate::questions::replay::{reader_options, replay};
use crate::sim::cancel::Cancel;

mod sending;

#[path = "../../../tests/cli/support/unit.rs"]
mod unit;
use unit::Unit;

/// What happens to a line on its way, by number of the line.
type Mangle = dyn FnMut(usize, &str) -> Vec<u8>;
/// What happens to the bench, by number of the read.
type Plot = dyn FnMut(usize, &mut World);

struct World {
    unit: Unit,
    plugged: bool,
    /// Time on the PC and the unit, ms.
    now_ms: u64,
    reads: usize,
    to_pc: VecDeque<u8>,
    half: Vec<u8>,
    lines: usize,
    sent: usize,
    mangle_out: Box<Mangle>,
    mangle_in: Box<Mangle>,
    plot: Option<Box<Plot>>,
}

fn untouched() -> Box<Mangle> {
    Box::new(|_, line| line.as_bytes().to_vec())
}

/// A unit, the line to it and the port on the PC.
#[derive(Clone)]
struct Bench(Rc<RefCell<World>>);

struct Cable(Bench);

impl Bench {
    fn new(unit: Unit) -> Self {
        Self(Rc::new(RefCell::new(World {
            unit,
            plugged: true,
            now_ms: 0,
            reads: 0,
            to_pc: VecDeque::new(),
            half: Vec::new(),
            lines: 0,
            sent: 0,
            mangle_out: untouched(),
            mangle_in: untouched(),
            plot: None,
        })))
    }

    /// What the unit says is changed on the way.
    fn mangle_out(self, mangle: impl FnMut(usize, &str) -> Vec<u8> + 'static) -> Self {
        self.0.borrow_mut().mangle_out = Box::new(mangle);
        self
    }

    /// What the PC says is changed on the way.
    fn mangle_in(self, mangle: impl FnMut(usize, &str) -> Vec<u8> + 'static) -> Self {
        self.0.borrow_mut().mangle_in = Box::new(mangle);
        self
    }

    fn plot(self, plot: impl FnMut(usize, &mut World) + 'static) -> Self {
        self.0.borrow_mut().plot = Some(Box::new(plot));
        self
    }

    fn settings(&self) -> RawSettings {
        *self.0.borrow_mut().unit.app().settings().raw()
    }
}

impl World {
    /// A turn of the unit; what it says goes to the PC line by line.
    fn turn(&mut self) {
        self.now_ms += self.unit.poll();
        while let Some(byte) = self.unit.say_byte() {
            self.half.push(byte);
            if byte == b'\n' {
                let line = String::from_utf8(std::mem::take(&mut self.half)).expect("ASCII");
                let bytes = (self.mangle_out)(self.lines, &line);
                self.lines += 1;
                if self.plugged {
                    self.to_pc.extend(bytes);
                }
            }
        }
    }
}

impl Port for Bench {
    fn name(&self) -> &str {
        "bench"
    }
    fn open(&mut self) -> io::Result<Box<dyn Line>> {
        if self.0.borrow().plugged {
            Ok(Box::new(Cable(self.clone())))
        } else {
            Err(io::ErrorKind::NotFound.into())
        }
    }
    fn now(&self) -> Duration {
        Duration::from_millis(self.0.borrow().now_ms)
    }
    fn wall(&self) -> jiff::ZonedDateTime {
        let start: jiff::ZonedDateTime =
            "2026-01-05T12:00:00-07:00[-07:00]".parse().expect("a time");
        let now_ms = i64::try_from(self.0.borrow().now_ms).expect("some hours");
        &start + jiff::SignedDuration::from_millis(now_ms)
    }
    fn wait(&mut self, time: Duration) {
        let until = self.now() + time;
        while self.now() < until {
            let _ = Cable(self.clone()).read(&mut []);
        }
    }
}

impl Read for Cable {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let mut world = self.0.0.borrow_mut();
        let world = &mut *world;
        if let Some(mut plot) = world.plot.take() {
            plot(world.reads, world);
            world.plot = Some(plot);
        }
        world.reads += 1;
        if !world.plugged {
            world.to_pc.clear();
            world.now_ms += 250;
            return Err(io::ErrorKind::BrokenPipe.into());
        }
        world.turn();
        let count = buffer.len().min(world.to_pc.len());
        for (place, byte) in buffer.iter_mut().zip(world.to_pc.drain(..count)) {
            *place = byte;
        }
        if count == 0 {
            return Err(io::ErrorKind::TimedOut.into());
        }
        Ok(count)
    }
}

impl Write for Cable {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut world = self.0.0.borrow_mut();
        let world = &mut *world;
        if !world.plugged {
            return Err(io::ErrorKind::BrokenPipe.into());
        }
        let text = String::from_utf8(bytes.to_vec()).expect("ASCII");
        let number = world.sent;
        world.sent += 1;
        for byte in (world.mangle_in)(number, &text) {
            world.unit.hear_byte(byte);
        }
        Ok(bytes.len())
    }
    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// Collects the rows of a replay.
#[derive(Default)]
struct Rows(String);

impl Sink for Rows {
    fn step(
        &mut self,
        report: &controller_core::StepReport,
        _: &Logged<'_>,
        note: &str,
    ) -> Result<(), io::Error> {
        use controller_core::time::Instant;
        report
            .row
            .write_csv(Instant::from_millis(0), note, &mut self.0)
            .map_err(io::Error::other)?;
        self.0.push('\n');
        Ok(())
    }
}

fn replayed(text: &str, settings: &Settings) -> String {
    let options = reader_options(ReaderOptions::default());
    let reader = LogReader::from_bytes("log", text.as_bytes().to_vec(), &options)
        .unwrap_or_else(|error| panic!("{error}"));
    let mut rows = Rows::default();
    replay(reader, settings, &mut rows, &Cancel::new(), &mut |_| {}).expect("a log replay takes");
    rows.0
}

struct Listened {
    result: Result<super::capture::Captured, ListenError>,
    news: Vec<News>,
    text: String,
}

/// Listens so long, s, into a file that may be there already.
fn listened(bench: &Bench, seconds: u64, before: Option<&str>) -> Listened {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("log.csv");
    if let Some(before) = before {
        std::fs::write(&path, before).unwrap();
    }
    let mut file = LogFile::open(&path).unwrap();
    let mut news = Vec::new();
    let result = listen(
        &mut bench.clone(),
        &mut file,
        Some(Duration::from_secs(seconds)),
        &Cancel::new(),
        &mut |new| {
            if !matches!(new, News::Row(_) | News::Held(false)) {
                news.push(new.clone());
            }
        },
    );
    file.close().unwrap();
    Listened {
        result,
        news,
        text: std::fs::read_to_string(&path).unwrap_or_default(),
    }
}

/// A row without its time and without the date that is written behind the unit's columns.
fn as_decided(row: &str) -> &str {
    let row = row.split_once(',').expect("cells").1;
    row.rsplit_once(',').expect("cells").0
}

/// The unit has said the columns of this program's trace.
fn began() -> News {
    News::Began(controller_core::trace::HEADER.to_owned())
}

/// The header below the comment that names the firmware.
fn header(text: &str) -> &str {
    let mut lines = text.lines().filter(|line| !line.starts_with('#'));
    lines.next().unwrap()
}

fn data_rows(text: &str) -> Vec<&str> {
    text.lines()
        .filter(|line| !line.starts_with('#'))
        .skip(1)
        .collect()
}

#[test]
fn a_night_is_captured_and_replays_byte_for_byte() {
    let mut unit = Unit::new();
    unit.reboot(RestartCause::PowerOn);
    let heard = listened(&Bench::new(unit), 3_600, None);
    let counts = heard.result.unwrap();
    assert_eq!(heard.news, [began(), News::Boot("power_on".to_owned())]);
    let rows = data_rows(&heard.text);
    let firmware = "# firmware version=";
    assert!(heard.text.starts_with(firmware), "{:.200}", heard.text);
    assert_eq!(heard.text.matches(firmware).count(), 1);
    assert_eq!(counts.rows, rows.len() as u64);
    assert!((355..=365).contains(&rows.len()), "{}", rows.len());
    assert_eq!(
        (counts.gaps, counts.lines.damaged(), counts.misfit_rows),
        (0, 0, 0)
    );
    assert_eq!(counts.lines_lost_by_unit, 0);
    let again = replayed(&heard.text, &Settings::default());
    // A replay counts from the log's first row.
    let shift = |row: &str| row.split_once(',').unwrap().1.to_owned();
    let (before, after): (Vec<_>, Vec<_>) = (
        rows.iter().map(|row| as_decided(row).to_owned()).collect(),
        again.lines().map(shift).collect(),
    );
    assert_eq!(before, after);
}

#[test]
fn a_boot_in_the_middle_keeps_the_log_in_order_and_byte_identity() {
    let mut unit = Unit::new();
    unit.reboot(RestartCause::PowerOn);
    let bench = Bench::new(unit).plot(|read, world| {
        if read == 3_000 || read == 5_000 {
            world.unit.reboot(RestartCause::PowerOn);
        }
    });
    let heard = listened(&bench, 2_000, None);
    let counts = heard.result.unwrap();
    assert_eq!(counts.boots["power_on"], 3);
    assert!(counts.times_moved >= 1, "{counts:?}");
    assert!(heard.news.iter().any(|new| matches!(new, News::Moved(_))));
    let times: Vec<f64> = data_rows(&heard.text)
        .iter()
        .map(|row| row.split(',').next().unwrap().parse().unwrap())
        .collect();
    assert!(times.windows(2).all(|pair| pair[0] < pair[1]));
    let again = replayed(&heard.text, &Settings::default());
    let shift = |row: &str| row.split_once(',').unwrap().1.to_owned();
    let before: Vec<_> = data_rows(&heard.text)
        .iter()
        .map(|row| as_decided(row).to_owned())
        .collect();
    let after: Vec<_> = again.lines().map(shift).collect();
    assert_eq!(before.len(), after.len());
    for (n, (before, after)) in before.iter().zip(&after).enumerate() {
        assert_eq!(before, after, "row {n}");
    }
}

/// The unit is without power for two hours, the cable out for a while: the file keeps both clocks.
#[test]
fn rows_have_dates_and_gaps_and_restarts_are_kept() {
    let mut unit = Unit::new();
    unit.reboot(RestartCause::PowerOn);
    let bench = Bench::new(unit).plot(|read, world| {
        if read == 6_000 {
            world.now_ms += 7_200_000;
            world.unit.reboot(RestartCause::PowerOn);
        }
    });
    let heard = listened(&bench, 9_600, None);
    assert!(header(&heard.text).ends_with(",time"));
    let options = reader_options(ReaderOptions::default());
    let bytes = heard.text.clone().into_bytes();
    let mut reader = LogReader::from_bytes("log", bytes.clone(), &options).unwrap();
    let mut last_ms = 0;
    while let Some(row) = reader.next_row().unwrap() {
        last_ms = row.time_ms;
    }
    let clock = reader.clock();
    assert!(
        clock.label(0).starts_with("2026-01-05T12:0"),
        "{}",
        clock.label(0)
    );
    let [(begin, end, dark_ms)] = &clock.dark()[..] else {
        panic!("one time without power: {:?}", clock.dark());
    };
    assert!(
        (7_000_000..7_300_000).contains(dark_ms),
        "{begin} {end} {dark_ms}"
    );
    // The unit's seconds are two hours behind the wall clock at the end.
    assert!(last_ms < 3_600_000, "{last_ms}");
    assert!(
        clock.label(last_ms).starts_with("2026-01-05T14:"),
        "{}",
        clock.label(last_ms)
    );
    // By dates, as an afternoon's question has it.
    let options = ReaderOptions {
        prefer_dates: true,
        ..ReaderOptions::default()
    };
    let mut reader = LogReader::from_bytes("log", bytes, &options).unwrap();
    let mut last_ms = 0;
    while let Some(row) = reader.next_row().unwrap() {
        last_ms = row.time_ms;
    }
    assert_eq!(reader.summary().duplicates, 0);
    assert!(last_ms > 7_200_000, "{last_ms}");
    assert!(reader.start().label(last_ms).starts_with("2026-01-05T14:"));
}

#[test]
fn unplugging_is_survived_and_told() {
    let bench = Bench::new(Unit::new()).plot(|read, world| match read {
        2_000 => world.plugged = false,
        2_400 => world.plugged = true,
        _ => {}
    });
    let heard = listened(&bench, 1_200, None);
    let counts = heard.result.unwrap();
    assert_eq!(counts.reconnections, 1);
    let boot = News::Boot("power_on".to_owned());
    assert_eq!(heard.news[..3], [began(), boot, News::Unplugged]);
    assert!(matches!(heard.news[3], News::Back(time) if time >= Duration::from_secs(90)));
    assert_eq!(heard.news[4], began());
    assert_eq!(counts.rows, data_rows(&heard.text).len() as u64);
    assert!(counts.rows > 60, "{counts:?}");
}

#[test]
fn lost_rows_are_a_gap() {
    let bench = Bench::new(Unit::new()).mangle_out(|_, line| {
        let lost = line.starts_with("row 15") || line.starts_with("row 16");
        if lost { Vec::new() } else { line.into() }
    });
    let heard = listened(&bench, 600, None);
    let counts = heard.result.unwrap();
    assert_eq!(counts.gaps, 1, "{counts:?}");
    assert!((20.0..60.0).contains(&counts.longest_gap_s));
}

#[test]
fn damage_of_every_kind_reaches_the_file_never() {
    let bench = Bench::new(Unit::new()).mangle_out(|n, line| {
        let mut bytes = line.as_bytes().to_vec();
        match n % 7 {
            // A flipped bit, half a line, noise, a flood, a line that says it twice, no checksum.
            1 => bytes[5] ^= 4,
            2 => bytes.truncate(bytes.len() / 2),
            3 => bytes.splice(3..3, [0xFF, 0x00, 0x80]).for_each(drop),
            4 => {
                let mut flood = vec![b'x'; 9_000];
                flood.extend(b"\r\n");
                flood.extend(bytes);
                return flood;
            }
            5 => bytes = format!("row 1,2,3\r\n{line}").into_bytes(),
            _ => {}
        }
        bytes
    });
    let heard = listened(&bench, 3_600, None);
    let counts = heard.result.unwrap();
    let (columns, rows) = (
        header(&heard.text).split(',').count(),
        data_rows(&heard.text),
    );
    assert!(rows.len() > 100, "{}", rows.len());
    assert!(rows.iter().all(|row| row.split(',').count() == columns));
    let lines = counts.lines;
    for count in [
        lines.too_long,
        lines.not_text,
        lines.no_checksum,
        lines.wrong_checksum,
    ] {
        assert!(count > 10, "{lines:?}");
    }
    replayed(&heard.text, &Settings::default());
}

#[test]
fn a_log_is_gone_on_with_and_another_is_left_alone() {
    let mut unit = Unit::new();
    unit.run(60);
    let bench = Bench::new(unit);
    let first = listened(&bench, 300, None);
    // The PC was switched off in the middle of a row.
    let torn = format!("{}123.4,5", first.text);
    let second = listened(&bench, 300, Some(&torn));
    assert!(second.text.starts_with(&first.text));
    let (rows, before) = (data_rows(&second.text).len(), data_rows(&first.text).len());
    assert_eq!(rows as u64, before as u64 + second.result.unwrap().rows);
    replayed(&second.text, &Settings::default());
    let other = "time_s,supply_c\n1,2\n";
    let refused = listened(&bench, 300, Some(other));
    let message = refused.result.unwrap_err().to_string();
    assert!(
        message.contains("line 1: found the header \"time_s,supply_c\""),
        "{message}"
    );
    assert_eq!(refused.text, other);
}

#[test]
fn a_port_that_only_makes_noise_leaves_no_file() {
    let bench = Bench::new(Unit::new()).mangle_out(|_, line| line.to_uppercase().into_bytes());
    let heard = listened(&bench, 200, None);
    assert!(
        matches!(heard.news[..], [News::Quiet(_, damaged)] if damaged > 0),
        "{:?}",
        heard.news
    );
    assert_eq!(heard.text, "");
    assert_eq!(heard.result.unwrap().rows, 0);
}

#[test]
fn rows_that_stop_coming_are_told_again_and_again_though_the_unit_answers() {
    let bench = Bench::new(Unit::new()).mangle_out(|n, line| {
        let lost = n > 40 && line.starts_with("row");
        if lost { Vec::new() } else { line.into() }
    });
    let heard = listened(&bench, 1_500, None);
    let quiet: Vec<u64> = heard
        .news
        .iter()
        .filter_map(|news| match news {
            News::Quiet(quiet, _) => Some(quiet.as_secs()),
            _ => None,
        })
        .collect();
    assert!(
        matches!(quiet[..], [60..=80, 600..=620]),
        "{quiet:?} of {:?}",
        heard.news
    );
}

#[test]
fn the_survived_log_is_read_whole_in_spite_of_damage() {
    let mut unit = Unit::new();
    unit.run(5 * 3_600);
    unit.reboot(RestartCause::Watchdog);
    unit.run(600);
    let mut damaged = false;
    let mut bench = Bench::new(unit).mangle_out(move |_, line| {
        let mut bytes = line.as_bytes().to_vec();
        if !damaged && line.starts_with("log 9") {
            damaged = true;
            bytes[6] ^= 1;
        }
        bytes
    });
    let mut conversation = Conversation::open(&mut bench).unwrap();
    let history = history::read(&mut conversation, &mut |_| {}).unwrap();
    assert_eq!(conversation.faults().wrong_checksum, 1);
    assert!(history.csv.starts_with("# firmware version="));
    assert_eq!(history.rows, data_rows(&history.csv).len() as u64);
    assert!((60..80).contains(&history.rows), "{}", history.rows);
    assert_eq!(history.lost, 0);
    let decided = replayed(&history.csv, &Settings::default());
    assert!(decided.lines().count() > 1_000);
}
