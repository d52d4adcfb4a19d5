//! The loop: sense, decide, write the outputs, feed the watchdog, keep, talk.

mod guided;
mod person;
mod show;
mod talk;

use controller_core::restart::Restart;
use controller_core::sensor::{BySensor, ReadFault, Sample, Sensor, ntc};
use controller_core::settings::{RawSettings, Settings};
use controller_core::time::{Duration, Instant};
use controller_core::trace::TraceRow;
use controller_core::{Command, Controller, Event, Inputs, Outputs, StepReport};
use embedded_hal::digital::{InputPin, OutputPin};
use heapless::Deque;

use crate::bindings::{Bindings, Source};
use crate::board::{Board, Hardware, ReadShare, Watchdog};
use crate::bus_quality::BusQuality;
use crate::button::{Button, Silence};
use crate::duty::{Controlled, Healthy, Sensed, Written};
use crate::history::{self, History};
use crate::log;
use crate::one_wire::{OneWire, Rom};
use crate::record::{KEEP_EVERY_S, Record};
use crate::relay::Panel;
use crate::request::Request;
use crate::resets::{Activity, Resets};
use crate::store::{Kept, Store};
use crate::thermometer::{self, CONVERSION};
use guided::Guided;
use serial_line::line::{Input, Line, LineFault, Output};
use serial_line::note::Note;
use serial_line::refusal::Refusal;
use show::Listing;

/// Longest time between two polls that is asked for: lamp and watchdog live by it.
const POLL: Duration = Duration::from_millis(250);
/// Conversions that make one reading of a thermistor: a fourth of one conversion's noise. Status: judgement.
const CONVERSIONS: u32 = 16;
/// A step this much overdue is no decision any more.
const OVERDUE: Duration = Duration::from_secs(5);

/// Counts of what went wrong without stopping anything.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Counters {
    /// Lines obeyed or answered.
    pub lines: u32,
    /// Lines dropped for their checksum.
    pub wrong_checksum: u32,
    /// Lines dropped for their length.
    pub too_long: u32,
    /// Lines dropped for bytes that are no text.
    pub not_text: u32,
    /// Requests refused.
    pub refused: u32,
    /// Writes to flash that failed.
    pub flash_faults: u32,
    /// Cycles in which an output could not be written or did not read back.
    pub output_faults: u32,
}

impl Counters {
    fn count(counter: &mut u32) {
        *counter = counter.saturating_add(1);
    }
}

/// Settings on their way to the controller.
struct Adoption {
    settings: Settings,
    note: Note,
}

/// One unit's firmware.
pub struct App<B: Board> {
    bus: OneWire<B::Bus, B::Delay>,
    /// Where each reading's chip was found last: on the bus's second wire?
    on_second: BySensor<bool>,
    analog: B::Analog,
    feedback: Option<B::Feedback>,
    contact: Option<B::Button>,
    button: Button,
    silence: Silence,
    /// An answer by blinks: when it began, and how many.
    answer: Option<(Instant, u8)>,
    bus_quality: BusQuality,
    panel: Panel<B::Relay>,
    lamp: B::Lamp,
    flash: B::Flash,
    watchdog: B::Watchdog,

    restart: Restart,
    /// Powered milliseconds before this boot; instants count on from there.
    base_ms: u64,
    now: Instant,
    controller: Controller,
    record: Record,
    bindings: Bindings,
    store: Store,
    history: History,
    /// A conversion is under way and done by then.
    converting: Option<Instant>,
    /// Of the last step; blank before the first.
    report: StepReport,
    stepped: bool,
    logged: Option<(Instant, Outputs)>,
    outputs: Outputs,
    /// Known before anything was started; also whether the coils stay at rest until a person comes.
    resets: Resets<B::Retained>,
    /// This boot stands in the flash, or could not be written there.
    boot_stored: bool,
    /// A person's settings are in force or about to be; else a unit's defaults.
    chosen: bool,

    input: Input,
    output: Output,
    /// Lines lost on a second port.
    lost_there: u32,
    requests: Deque<Request, 4>,
    wanted: Deque<Command, 4>,
    draft: Option<RawSettings>,
    adoption: Option<Adoption>,
    listing: Listing,
    guided: Guided,
    counters: Counters,
}

impl<B: Board> App<B> {
    /// Leaves the coils at rest and reads what was stored. `resets` were begun before the parts were.
    ///
    /// Never inlined, and nothing touches the value it gives before it is in its place: it is large.
    #[inline(never)]
    pub fn new(hardware: Hardware<B>, mut resets: Resets<B::Retained>) -> Self {
        let panel = Panel::new(hardware.circulator, hardware.boiler_call, hardware.alarm);
        resets.doing(Activity::Loading);
        let mut flash = hardware.flash;
        let layout = hardware.layout;
        let (store, loaded) = Store::open(&mut flash, &layout.store);
        let history = History::open(&mut flash, &layout.history);
        let mut record = loaded.record;
        record.powered_s = record.powered_s.max(history.last_s());
        let restart = record.boot(
            resets.cause(),
            resets.ended(),
            loaded.settings_lost,
            hardware.unit,
        );
        let base_ms = u64::from(record.powered_s).saturating_mul(1_000);
        let now = Instant::from_millis(base_ms);
        log::info!("boot {}, outputs held {}", restart, resets.held());
        Self {
            bus: OneWire::new(hardware.bus, hardware.second_bus, hardware.delay),
            on_second: BySensor::from_fn(|_| false),
            analog: hardware.analog,
            feedback: hardware.feedback,
            contact: hardware.button,
            button: Button::default(),
            silence: Silence::default(),
            answer: None,
            bus_quality: BusQuality::default(),
            panel,
            lamp: hardware.lamp,
            flash,
            watchdog: hardware.watchdog,
            restart,
            base_ms,
            now,
            controller: Controller::boot(loaded.settings, now, restart),
            record,
            store,
            bindings: loaded.bindings,
            history,
            converting: None,
            report: StepReport::default(),
            stepped: false,
            logged: None,
            outputs: Outputs {
                alarm: true,
                ..Outputs::default()
            },
            resets,
            boot_stored: false,
            chosen: !loaded.settings_lost,
            input: Input::default(),
            output: Output::default(),
            lost_there: 0,
            requests: Deque::new(),
            wanted: Deque::new(),
            draft: None,
            adoption: None,
            listing: Listing::Greeting,
            guided: Guided::Nothing,
            counters: Counters::default(),
        }
    }

    /// One turn at `uptime_ms`, milliseconds since the reset. Gives the uptime at which the next one
    /// is wanted; earlier is harmless.
    pub fn poll(&mut self, uptime_ms: u64) -> u64 {
        self.now = Instant::from_millis(self.base_ms.saturating_add(uptime_ms));
        self.resets.alive(uptime_ms);
        self.resets.doing(Activity::Sensing);
        let (sensed, samples) = self.sense();
        let decides = samples.is_some();
        self.resets.doing(Activity::Deciding);
        let controlled = self.control(samples);
        self.resets.doing(Activity::Writing);
        self.look_at_button();
        let written = self.write_outputs();
        if let (Some(controlled), Some(written)) = (controlled, written) {
            self.watchdog
                .feed(Healthy::new(sensed, controlled, written));
        }
        if decides && self.stepped {
            self.log();
        }
        self.keep();
        self.resets.doing(Activity::Talking);
        self.talk();
        self.resets.doing(Activity::Waiting);
        self.next_poll().as_millis().saturating_sub(self.base_ms)
    }

    /// Takes one character from the serial line.
    pub fn receive(&mut self, byte: u8) {
        if let Some(line) = self.input.push(byte) {
            self.hear(line);
        }
    }

    /// Takes a line from a second port; its answer goes out on the serial line, as all do.
    pub fn receive_line(&mut self, line: Result<Line, LineFault>) {
        self.hear(line);
    }

    /// The next character for the serial line.
    pub fn transmit(&mut self) -> Option<u8> {
        self.output.pop()
    }

    /// Lines lost so far on a second port, for the status to tell.
    pub fn set_lost_there(&mut self, lost: u32) {
        self.lost_there = lost;
    }

    /// What went wrong so far.
    #[must_use]
    pub const fn counters(&self) -> &Counters {
        &self.counters
    }

    /// The settings in force.
    #[must_use]
    pub const fn settings(&self) -> &Settings {
        self.controller.settings()
    }

    /// Do a unit's defaults rule, which nobody stored?
    #[must_use]
    pub const fn is_unset(&self) -> bool {
        !self.chosen
    }

    /// Gives the flash back, as a power cut would.
    pub fn into_flash(self) -> B::Flash {
        self.flash
    }

    /// Starts the conversion ahead of the step, reads when the step is due.
    fn sense(&mut self) -> (Sensed, Option<BySensor<Sample>>) {
        let next = self.controller.next();
        let samples = match self.converting {
            None if self.now + CONVERSION >= next => {
                self.converting = Some(self.now + CONVERSION);
                // Whatever is wrong with a wire shows again in every read.
                for second in self.bus.wires() {
                    self.bus.use_wire(second);
                    let _ = thermometer::start_all(&mut self.bus);
                }
                None
            }
            Some(ready) if self.now >= ready.max(next) => {
                self.converting = None;
                Some(self.samples())
            }
            None | Some(_) => None,
        };
        (Sensed(()), samples)
    }

    fn samples(&mut self) -> BySensor<Sample> {
        let bindings = self.bindings;
        BySensor::from_fn(|sensor| match bindings.get(sensor) {
            Source::Unbound => Sample::Failed(ReadFault::Absent),
            Source::Chip(rom) => self.read_bound(sensor, rom),
            Source::Thermistor(channel) => match self.mean_share(*channel) {
                Some(share) => ntc::from_share(share),
                None => Sample::Failed(ReadFault::Missing),
            },
        })
    }

    /// The mean of several conversions; none if one of them fails.
    fn mean_share(&mut self, channel: u8) -> Option<u16> {
        let mut sum = 0_u32;
        for _ in 0..CONVERSIONS {
            let share = self.analog.read_share(channel).ok()?;
            sum = sum.saturating_add(u32::from(share));
        }
        u16::try_from(sum / CONVERSIONS).ok()
    }

    /// Reads a reading's chip on the wire where it was found last. Where it is not, the other wire is tried; if it is
    /// not there either, a short on one of them is told rather than a missing chip.
    fn read_bound(&mut self, sensor: Sensor, rom: &Rom) -> Sample {
        let second = *self.on_second.get(sensor);
        self.bus.use_wire(second);
        let sample = self.read_chip(rom);
        let away = matches!(sample, Sample::Failed(ReadFault::Absent | ReadFault::Short));
        if !away || !self.bus.has_second() {
            return sample;
        }
        self.bus.use_wire(!second);
        match self.read_chip(rom) {
            Sample::Failed(ReadFault::Short) => Sample::Failed(ReadFault::Short),
            Sample::Failed(_) => sample,
            found => {
                *self.on_second.get_mut(sensor) = !second;
                found
            }
        }
    }

    fn read_chip(&mut self, rom: &Rom) -> Sample {
        let read = thermometer::read(&mut self.bus, rom);
        if self.bus_quality.add(read.share).is_some() {
            self.advise_on_bus();
        }
        read.sample
    }

    /// Steps the controller if there are samples for it. Before the first step nothing is controlled yet.
    fn control(&mut self, samples: Option<BySensor<Sample>>) -> Option<Controlled> {
        let Some(samples) = samples else {
            let overdue = self.now.since(self.controller.next()) > OVERDUE;
            return (self.stepped && !overdue).then_some(Controlled(()));
        };
        if !self.stepped {
            // A replay knows the first row's time only: the controller starts there, with the first
            // reads. Boot delays are a second longer for it.
            let settings = self.controller.settings().clone();
            self.controller = Controller::boot(settings, self.now, self.restart);
        }
        let adoption = self.adoption.take();
        let inputs = Inputs {
            samples,
            pump_feedback: self.pump_feedback(),
            command: self.wanted.front().copied(),
            settings: adoption.as_ref().map(|adoption| &adoption.settings),
            ..Inputs::default()
        };
        if !decide(&mut self.controller, self.now, &inputs, &mut self.report) {
            self.adoption = adoption;
            return Some(Controlled(()));
        }
        self.stepped = true;
        let note = adoption
            .as_ref()
            .map_or("", |adoption| adoption.note.as_str());
        let row = &self.report.row;
        self.output.line(|line| {
            use core::fmt::Write;
            line.write_str("row ")?;
            row.write_csv(Instant::from_millis(0), note, line)
        });
        match row.event {
            Event::Settings => {}
            Event::Command(command) => {
                let _ = self.wanted.pop_front();
                self.adoption = adoption;
                self.after(command);
            }
            Event::None | Event::Boot(_) | Event::Stalled(_) => self.adoption = adoption,
        }
        let row = &self.report.row;
        if self.outputs != row.outputs {
            log::info!("{} because of {}", row.outputs, row.reason);
        }
        self.outputs = row.outputs;
        self.guide();
        Some(Controlled(()))
    }

    /// What else a command means here: a mode outlives a power cut, an acknowledgement ends a hold.
    fn after(&mut self, command: Command) {
        match command {
            Command::Mode(mode) => {
                if let Some(draft) = &mut self.draft {
                    draft.mode = mode;
                }
                if !self.save() {
                    self.refuse(Refusal::NotStored);
                }
            }
            Command::Acknowledge => self.resets.forgive(),
            Command::Pump(_) | Command::Boiler(_) => {}
        }
    }

    /// Do the coils stay at rest until a person comes?
    const fn held(&self) -> bool {
        self.resets.held()
    }

    fn pump_feedback(&mut self) -> Option<bool> {
        let contact = self.feedback.as_mut()?;
        contact.is_low().ok()
    }

    fn write_outputs(&mut self) -> Option<Written> {
        let written = if self.held() || !self.stepped {
            self.panel.release()
        } else {
            let tested = self.guided.rings(self.now);
            let silent = self.silence.covers(self.report.row.alarms, self.now);
            self.panel.write(Outputs {
                alarm: self.outputs.alarm && !silent || tested,
                ..self.outputs
            })
        };
        // A dead lamp is no reason to do anything.
        let lit = self.is_lamp_lit();
        let _ = self.lamp.set_state(lit.into());
        if written.is_err() {
            log::warning!("an output does not follow");
            Counters::count(&mut self.counters.output_faults);
        }
        written.ok()
    }

    /// A row every five minutes and at every change of a relay.
    fn log(&mut self) {
        let row = &self.report.row;
        let due = self.logged.is_none_or(|(then, outputs)| {
            outputs != row.outputs || self.now.since(then) >= Duration::from_secs(history::EVERY_S)
        });
        if !due {
            return;
        }
        let short = history::Row {
            time_s: self.powered_s(),
            readings: BySensor::from_fn(|sensor: Sensor| row.inputs.get(sensor).value()),
            outputs: row.outputs,
            reason: row.reason,
            started: self.logged.is_none(),
        };
        self.resets.doing(Activity::Storing);
        if self.history.append(&mut self.flash, short).is_err() {
            log::warning!("a row was not stored");
            Counters::count(&mut self.counters.flash_faults);
        }
        self.logged = Some((self.now, row.outputs));
    }

    /// The row of the last step.
    fn last(&self) -> Option<&TraceRow> {
        self.stepped.then_some(&self.report.row)
    }

    /// Stores the restart record when it has something new to say.
    fn keep(&mut self) {
        let owed = self.last().is_some_and(|row| {
            row.status.boiler || row.status.boiler_off_for < self.controller.settings().post_run
        });
        let age = self.powered_s().saturating_sub(self.record.powered_s);
        let boot = self.stepped && !self.boot_stored;
        let changed = self.stepped && owed != self.record.post_run_owed;
        if age < KEEP_EVERY_S && !boot && !changed {
            return;
        }
        if self.stepped {
            self.record.post_run_owed = owed;
        }
        self.save();
    }

    /// Stores everything as it is now; says whether it could.
    fn save(&mut self) -> bool {
        let settings = self.newest_settings();
        self.save_as(settings, self.bindings)
    }

    /// Stores other settings or names in place of those in force.
    fn save_as(&mut self, settings: RawSettings, bindings: Bindings) -> bool {
        self.resets.doing(Activity::Storing);
        self.record.powered_s = self.powered_s();
        self.boot_stored = true;
        let kept = Kept {
            settings,
            chosen: self.chosen,
            bindings,
            record: self.record,
        };
        let saved = self.store.save(&mut self.flash, &kept).is_ok();
        if !saved {
            log::warning!("settings and record were not stored");
            Counters::count(&mut self.counters.flash_faults);
        }
        saved
    }

    fn powered_s(&self) -> u32 {
        u32::try_from(self.now.as_millis() / 1_000).unwrap_or(u32::MAX)
    }

    fn next_poll(&self) -> Instant {
        let wanted = match self.converting {
            Some(ready) => ready.max(self.controller.next()),
            None => self.controller.next() - CONVERSION,
        };
        let soonest = self.now + Duration::from_millis(1);
        wanted.max(soonest).min(self.now + POLL)
    }
}

/// One decision in a frame of its own, so that nothing else pays for its stack. `measure.mjs` counts the
/// instructions from here.
#[inline(never)]
fn decide(
    controller: &mut Controller,
    now: Instant,
    inputs: &Inputs<'_>,
    report: &mut StepReport,
) -> bool {
    controller.step_into(now, inputs, report)
}

#[cfg(test)]
mod tests;
