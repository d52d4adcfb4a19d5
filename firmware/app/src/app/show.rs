//! What is shown on the serial line.

use core::fmt::Write;

use controller_core::sensor::Sensor;
use controller_core::settings::Field;
use controller_core::trace;

use super::App;
use crate::bindings::{Source, holder};
use crate::board::Board;
use crate::bus_quality::REMEDY;
use crate::history;
use crate::log;
use crate::one_wire::{BusFault, Search};
use crate::record::Fault;
use crate::request::HELP;
use crate::thermometer;
use serial_line::value;

/// A long answer that goes out bit by bit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Listing {
    /// Nothing.
    Nothing,
    /// What is said after a boot.
    Greeting,
    /// Requests from this one on.
    Help(usize),
    /// Settings from this one on.
    Settings(usize),
    /// What each reading is named after; then the chips.
    Names,
    /// Chips on one wire of the bus, and how many were listed.
    Chips(Search, bool, u8),
    /// Log rows from this place on.
    Log {
        place: u32,
        sent: u32,
        lost: u32,
        expected: Option<u32>,
    },
}

/// Log places looked at in one poll.
const PLACES_A_POLL: u16 = 1_024;
/// Chips listed at most.
const MOST_CHIPS: u8 = 16;

impl Listing {
    pub(super) const fn log() -> Self {
        Self::Log {
            place: 0,
            sent: 0,
            lost: 0,
            expected: None,
        }
    }

    pub(super) const fn chips() -> Self {
        Self::Names
    }
}

/// What is being run, for the line.
struct Image<B>(core::marker::PhantomData<B>);

impl<B> Image<B> {
    const NEW: Self = Self(core::marker::PhantomData);
}

impl<B: Board> core::fmt::Display for Image<B> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let build = option_env!("FIRMWARE_BUILD").unwrap_or("unknown");
        write!(
            f,
            "version={} board={} build={build}",
            env!("CARGO_PKG_VERSION"),
            B::NAME
        )
    }
}

impl<B: Board> App<B> {
    fn greet(&mut self) {
        let held = self.held();
        self.output.line(|line| {
            write!(
                line,
                "hello; {}; say help for the requests",
                Image::<B>::NEW
            )
        });
        if held {
            self.output.line(|line| {
                line.write_str("held outputs rest after repeated watchdog resets; acknowledge or cut the power")
            });
        }
        self.columns();
    }

    pub(super) fn columns(&mut self) {
        self.output
            .line(|line| write!(line, "columns {}", trace::HEADER));
    }

    pub(super) fn status(&mut self) {
        let time_s = self.powered_s();
        let (held, outputs, counters) = (self.held(), self.outputs, self.counters);
        let mode = self.controller.settings().mode.name();
        self.output.line(|line| {
            write!(
                line,
                "status time_s={time_s} mode={mode} circulator={} boiler_call={} alarm={} held={} {}",
                u8::from(outputs.circulator),
                u8::from(outputs.boiler_call),
                u8::from(outputs.alarm),
                u8::from(held),
                Image::<B>::NEW,
            )
        });
        if self.stepped {
            let row = &self.report.row;
            let wood = row.summary.wood;
            self.output.line(|line| {
                write!(
                    line,
                    "status wood={} wood_kg={} wood_within_min={}",
                    wood.request.name(),
                    wood.kg,
                    wood.within_min
                )
            });
            self.output.line(|line| {
                write!(line, "status reason={}", row.reason.name())?;
                for sensor in Sensor::ALL {
                    let sample = row.inputs.get(sensor);
                    write!(line, " {}=", sensor.name())?;
                    if let Some(value) = sample.value() {
                        let scaled = i64::from(value.to_128ths()).saturating_mul(1_000);
                        value::write_thousandths(line, scaled, 128)?;
                        line.write_str(" C ")?;
                    }
                    line.write_str(sample.status())?;
                }
                Ok(())
            });
            for alarm in row.alarms.iter() {
                let advice = if alarm.is_advice() { "advice" } else { "alarm" };
                self.output.line(|line| {
                    write!(
                        line,
                        "{advice} {} {} {}",
                        alarm.name(),
                        alarm.meaning(),
                        alarm.remedy()
                    )
                });
            }
        }
        if self.bus_quality.is_noisy() {
            self.advise_on_bus();
        }
        let lost = self.output.lost().saturating_add(self.lost_there);
        let rows = self.history.written();
        let (frames, garbled) = (self.bus_quality.frames(), self.bus_quality.garbled());
        self.output.line(|line| {
            write!(
                line,
                "status lines={} wrong_checksum={} too_long={} not_text={} refused={} lines_lost={lost} \
                 flash_faults={} output_faults={} log_rows={rows} frames={frames} garbled={garbled}",
                counters.lines,
                counters.wrong_checksum,
                counters.too_long,
                counters.not_text,
                counters.refused,
                counters.flash_faults,
                counters.output_faults,
            )
        });
    }

    /// The last resets, newest first.
    pub(super) fn show_resets(&mut self) {
        for fault in self.record.faults.into_iter().rev().flatten() {
            let Fault { powered_s, ended } = fault;
            self.output.line(|line| {
                write!(
                    line,
                    "reset {} time_s={powered_s} uptime_s={} during={} place={:x}",
                    ended.cause.name(),
                    ended.uptime_s,
                    ended.activity.name(),
                    ended.place,
                )
            });
        }
        self.agree("end");
    }

    /// Says whether the sensor bus is noisy, and what to do then.
    pub(super) fn advise_on_bus(&mut self) {
        let (noisy, share) = (self.bus_quality.is_noisy(), self.bus_quality.last());
        log::warning!("{} of {} frames garbled", share.garbled, share.frames);
        self.output.line(|line| {
            write!(
                line,
                "advice sensor_bus_noisy {} of {} frames garbled; ",
                share.garbled, share.frames
            )?;
            line.write_str(if noisy { REMEDY } else { "over" })
        });
    }

    pub(super) fn show_setting(&mut self, field: &Field) {
        let bits = self.controller.settings().raw().bits(field.key);
        self.setting_line("setting", field, bits);
    }

    pub(super) fn show_draft(&mut self, field: &Field) {
        let Some(draft) = self.draft else { return };
        self.setting_line("ok draft", field, draft.bits(field.key));
    }

    fn setting_line(&mut self, word: &str, field: &Field, bits: i32) {
        self.output.line(|line| {
            write!(line, "{word} {} ", field.name)?;
            value::write(line, field.kind, bits)?;
            line.write_str(" range ")?;
            value::write(line, field.kind, field.min)?;
            line.write_str(" to ")?;
            value::write(line, field.kind, field.max)?;
            write!(line, " raw {bits}")
        });
    }

    /// Goes on with the listing under way while there is room for any line.
    pub(super) fn list(&mut self) {
        let mut places = PLACES_A_POLL;
        while self.output.has_room() {
            self.listing = match self.listing {
                Listing::Nothing => return,
                Listing::Greeting => {
                    self.greet();
                    Listing::Nothing
                }
                Listing::Help(n) => match HELP.get(n) {
                    Some(text) => {
                        self.output.line(|line| write!(line, "help {text}"));
                        Listing::Help(n.saturating_add(1))
                    }
                    None => self.listed(),
                },
                Listing::Settings(n) => match Field::all().get(n) {
                    Some(field) => {
                        self.show_setting(field);
                        Listing::Settings(n.saturating_add(1))
                    }
                    None => self.listed(),
                },
                Listing::Names => self.list_names(),
                Listing::Chips(search, second, n) => self.list_chip(search, second, n),
                Listing::Log {
                    place,
                    sent,
                    lost,
                    expected,
                } => {
                    places = places.saturating_sub(1);
                    if places == 0 {
                        return;
                    }
                    self.list_log(place, sent, lost, expected)
                }
            };
        }
    }

    fn listed(&mut self) -> Listing {
        self.agree("end");
        Listing::Nothing
    }

    fn list_names(&mut self) -> Listing {
        for sensor in Sensor::ALL {
            let source = *self.bindings.get(sensor);
            self.output.line(|line| {
                write!(line, "name {} ", sensor.name())?;
                Self::write_source(line, source)
            });
        }
        Listing::Chips(Search::NEW, false, 0)
    }

    fn list_chip(&mut self, mut search: Search, second: bool, n: u8) -> Listing {
        self.bus.use_wire(second);
        let wire = self
            .bus
            .has_second()
            .then(|| u8::from(second).saturating_add(1));
        let found = match self.bus.search(&mut search) {
            Ok(Some(rom)) if n < MOST_CHIPS => rom,
            Ok(_) | Err(BusFault::Silent) => return self.after_wire(second, n),
            Err(fault) => {
                let text = match fault {
                    BusFault::Shorted => "wire shorted or without pull-up",
                    BusFault::Garbled | BusFault::Silent => "answers are garbled",
                    BusFault::Pin => "pin does not answer",
                };
                let Some(wire) = wire else {
                    self.output
                        .line(|line| write!(line, "no sensor_bus: {text}"));
                    return Listing::Nothing;
                };
                self.output.line(|line| write!(line, "wire {wire}: {text}"));
                return self.after_wire(second, n);
            }
        };
        let sample = thermometer::read(&mut self.bus, &found).sample;
        let held_by = holder(&self.bindings, Source::Chip(found));
        self.output.line(|line| {
            line.write_str("chip ")?;
            Self::write_source(line, Source::Chip(found))?;
            write!(line, " {} ", held_by.map_or("unnamed", Sensor::name))?;
            if let Some(value) = sample.value() {
                let scaled = i64::from(value.to_128ths()).saturating_mul(1_000);
                value::write_thousandths(line, scaled, 128)?;
                line.write_str(" C ")?;
            }
            line.write_str(sample.status())?;
            match wire {
                Some(wire) => write!(line, " wire {wire}"),
                None => Ok(()),
            }
        });
        Listing::Chips(search, second, n.saturating_add(1))
    }

    /// Goes on with the second wire after the first, if there is one, or ends.
    fn after_wire(&mut self, second: bool, n: u8) -> Listing {
        if second || !self.bus.has_second() {
            return self.listed();
        }
        Listing::Chips(Search::NEW, true, n)
    }

    fn list_log(&mut self, place: u32, sent: u32, lost: u32, expected: Option<u32>) -> Listing {
        if place == 0 {
            self.output
                .line(|line| write!(line, "log # firmware {}", Image::<B>::NEW));
            self.output
                .line(|line| write!(line, "log {}", history::HEADER));
        }
        if place >= self.history.places() {
            self.output
                .line(|line| write!(line, "ok end rows={sent} lost={lost}"));
            return Listing::Nothing;
        }
        let next = place.saturating_add(1);
        let Some((serial, row)) = self.history.read(&mut self.flash, place) else {
            return Listing::Log {
                place: next,
                sent,
                lost,
                expected,
            };
        };
        self.output.line(|line| {
            line.write_str("log ")?;
            row.write_csv(line)
        });
        Listing::Log {
            place: next,
            sent: sent.saturating_add(1),
            lost: lost.saturating_add(serial.saturating_sub(expected.unwrap_or(serial))),
            expected: Some(serial.saturating_add(1)),
        }
    }
}
