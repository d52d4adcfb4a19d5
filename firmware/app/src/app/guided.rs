//! Commissioning helped step by step: which chip is which, the pair's trim, each output's test.
//!
//! Every one ends by itself. Tests ask the controller for a manual run, so that no shortest time and
//! no protection is bypassed; only the alarm relay, which moves nothing, is switched directly.

use core::fmt::Write;

use controller_core::sensor::Sensor;
use controller_core::time::{Duration, Instant};
use controller_core::units::{Celsius, Kelvin};
use controller_core::{Command, Switch};
use heapless::Vec;

use super::App;
use crate::bindings::{Source, holder};
use crate::board::Board;
use crate::one_wire::{Rom, Search};
use crate::request::Tested;
use crate::thermometer;
use serial_line::refusal::Refusal;
use serial_line::value;

/// What is under way.
pub(super) enum Guided {
    Nothing,
    Identify {
        until: Instant,
        chips: Vec<Warmed, MOST_CHIPS>,
    },
    Trim {
        supply: Bath,
        ret: Bath,
        until: Instant,
    },
    Test {
        tested: Tested,
        until: Instant,
        asked: bool,
    },
}

/// A chip, whether it is on the second wire, and what it first read.
type Warmed = (Rom, bool, Option<Celsius>);

/// Chips told apart at once.
const MOST_CHIPS: usize = 8;
/// Time to warm sensors by hand.
const IDENTIFY: Duration = Duration::from_mins(5);
/// Rise a hand makes in a minute or two and a draught does not. Status: judgement.
const RISE: Kelvin = Kelvin::from_milli(2_000);
/// Reads a trim is made from.
const BATH_READS: u16 = 12;
/// Time a trim may take.
const TRIM: Duration = Duration::from_mins(10);
/// Largest drift in a bath that counts as settled. Status: judgement, four steps of the chip.
const SETTLED: Kelvin = Kelvin::from_milli(250);
/// Largest difference worth trimming; beyond it one of the pair is bad (two ±0.5 K parts).
const TRIMMABLE: Kelvin = Kelvin::from_milli(1_000);
/// Time a test waits for shortest times and boot delays.
const TEST_WAIT: Duration = Duration::from_mins(45);
/// Time to answer.
const ANSWER: Duration = Duration::from_secs(90);
/// Time the alarm rings in its test.
const RING: Duration = Duration::from_secs(5);

/// Reads of one sensor in a bath.
pub(super) struct Bath {
    sum: i64,
    count: u16,
    least: Celsius,
    most: Celsius,
}

impl Bath {
    const EMPTY: Self = Self {
        sum: 0,
        count: 0,
        least: Celsius::from_bits(i32::MAX),
        most: Celsius::from_bits(i32::MIN),
    };

    fn add(&mut self, read: Celsius) {
        self.sum = self.sum.saturating_add(i64::from(read.to_bits()));
        self.count = self.count.saturating_add(1);
        self.least = self.least.min(read);
        self.most = self.most.max(read);
    }

    fn mean(&self) -> Celsius {
        let mean = self.sum.checked_div(i64::from(self.count)).unwrap_or(0);
        Celsius::from_bits(i32::try_from(mean).unwrap_or(0))
    }
}

impl Guided {
    /// Is the alarm relay being tested?
    pub(super) fn rings(&self, now: Instant) -> bool {
        match self {
            Self::Test {
                tested: Tested::Alarm,
                until,
                ..
            } => now < *until - ANSWER,
            Self::Test { .. } | Self::Nothing | Self::Identify { .. } | Self::Trim { .. } => false,
        }
    }
}

impl<B: Board> App<B> {
    pub(super) fn start_identify(&mut self) -> Result<(), Refusal> {
        let until = self.now + IDENTIFY;
        self.start_guided(Guided::Identify {
            until,
            chips: Vec::new(),
        })?;
        let mut chips = Vec::new();
        for second in self.bus.wires() {
            self.bus.use_wire(second);
            let mut search = Search::NEW;
            while let Ok(Some(rom)) = self.bus.search(&mut search) {
                if chips.push((rom, second, None)).is_err() {
                    break;
                }
            }
        }
        let count = chips.len();
        self.guided = Guided::Identify { until, chips };
        self.output
            .line(|line| write!(line, "ok {count} chips; warm one by hand"));
        Ok(())
    }

    pub(super) fn start_trim(&mut self) -> Result<(), Refusal> {
        let until = self.now + TRIM;
        self.start_guided(Guided::Trim {
            supply: Bath::EMPTY,
            ret: Bath::EMPTY,
            until,
        })?;
        self.agree("keep supply and return in one stirred bath");
        Ok(())
    }

    pub(super) fn start_test(&mut self, tested: Tested) -> Result<(), Refusal> {
        let commands = match tested {
            Tested::Alarm => 0,
            Tested::Circulator => 1,
            Tested::BoilerCall => 2,
        };
        if self.wanted.capacity().saturating_sub(self.wanted.len()) < commands {
            return Err(Refusal::Busy);
        }
        let (until, asked) = match tested {
            Tested::Alarm => (self.now + RING + ANSWER, true),
            Tested::Circulator | Tested::BoilerCall => (self.now + TEST_WAIT, false),
        };
        self.start_guided(Guided::Test {
            tested,
            until,
            asked,
        })?;
        if commands > 0 {
            let _ = self.wanted.push_back(Command::Pump(Switch::On));
        }
        if commands > 1 {
            let _ = self.wanted.push_back(Command::Boiler(Switch::On));
        }
        match tested {
            Tested::Alarm => self.agree("alarm rings for 5 s: heard? say yes or no"),
            Tested::Circulator | Tested::BoilerCall => self.agree("waiting for the relay"),
        }
        Ok(())
    }

    pub(super) fn answered(&mut self, yes: bool) -> Result<(), Refusal> {
        match self.guided {
            Guided::Test { asked: true, .. } => {
                self.end_guided(if yes { "passed" } else { "failed" });
                Ok(())
            }
            Guided::Test { asked: false, .. }
            | Guided::Nothing
            | Guided::Identify { .. }
            | Guided::Trim { .. } => Err(Refusal::NothingAsked),
        }
    }

    /// Ends what is under way; a manual run ends with it.
    pub(super) fn end_guided(&mut self, how: &str) {
        let ended = core::mem::replace(&mut self.guided, Guided::Nothing);
        let Guided::Test { tested, .. } = ended else {
            return;
        };
        self.output
            .line(|line| write!(line, "test {} {how}", tested.name()));
        // What has not been taken yet need not be; what has, ends. The queue is empty, so it fits.
        match tested {
            Tested::Alarm => {}
            Tested::Circulator => {
                self.wanted.clear();
                let _ = self.wanted.push_back(Command::Pump(Switch::Auto));
            }
            Tested::BoilerCall => {
                self.wanted.clear();
                let _ = self.wanted.push_back(Command::Boiler(Switch::Auto));
                let _ = self.wanted.push_back(Command::Pump(Switch::Auto));
            }
        }
    }

    /// Goes on with what is under way, once a step.
    pub(super) fn guide(&mut self) {
        match core::mem::replace(&mut self.guided, Guided::Nothing) {
            Guided::Nothing => {}
            Guided::Identify { until, chips } => self.identify(until, chips),
            Guided::Trim { supply, ret, until } => self.trim(supply, ret, until),
            Guided::Test {
                tested,
                until,
                asked,
            } => {
                self.guided = Guided::Test {
                    tested,
                    until,
                    asked,
                };
                self.test(tested, until, asked);
            }
        }
    }

    fn identify(&mut self, until: Instant, mut chips: Vec<Warmed, MOST_CHIPS>) {
        let mut warmest: Option<(Rom, Kelvin)> = None;
        for (rom, second, first) in &mut chips {
            self.bus.use_wire(*second);
            let Some(read) = thermometer::read(&mut self.bus, rom).sample.value() else {
                continue;
            };
            let rise = read - *first.get_or_insert(read);
            if rise >= RISE && warmest.is_none_or(|(_, most)| rise > most) {
                warmest = Some((*rom, rise));
            }
        }
        if let Some((rom, rise)) = warmest {
            let held_by = holder(&self.bindings, Source::Chip(rom));
            self.output.line(|line| {
                line.write_str("rises ")?;
                Self::write_source(line, Source::Chip(rom))?;
                write!(line, " {} by ", held_by.map_or("unnamed", Sensor::name))?;
                value::write_thousandths(
                    line,
                    i64::from(rise.to_bits()).saturating_mul(1_000),
                    65_536,
                )?;
                line.write_str(" K")
            });
        }
        if self.now < until {
            self.guided = Guided::Identify { until, chips };
        } else {
            self.agree("identify is over");
        }
    }

    fn trim(&mut self, mut supply: Bath, mut ret: Bath, until: Instant) {
        let row = &self.report.row;
        if let (Some(s), Some(r)) = (row.inputs.supply.value(), row.inputs.ret.value()) {
            supply.add(s);
            ret.add(r);
        }
        if supply.count < BATH_READS {
            if self.now < until {
                self.guided = Guided::Trim { supply, ret, until };
            } else {
                self.output
                    .line(|line| line.write_str("no trim: too few good reads"));
            }
            return;
        }
        if supply.most - supply.least > SETTLED || ret.most - ret.least > SETTLED {
            self.output
                .line(|line| line.write_str("no trim: the bath has not settled; again in 10 min"));
            return;
        }
        let apart = supply.mean() - ret.mean();
        if apart.abs() > TRIMMABLE {
            self.output.line(|line| {
                line.write_str("no trim: the pair differs by more than 1 K; replace one")
            });
            return;
        }
        let half = Kelvin::from_bits(apart.to_bits() / 2);
        let mut draft = self.draft.unwrap_or_else(|| self.newest_settings());
        draft.supply_trim = -half;
        draft.return_trim = half;
        self.draft = Some(draft);
        self.agree("trim is in the draft; check and apply adopt it");
    }

    fn test(&mut self, tested: Tested, until: Instant, asked: bool) {
        if self.now >= until {
            return self.end_guided("not answered");
        }
        let row = &self.report.row;
        let (on, hold) = match tested {
            Tested::Alarm => return,
            Tested::Circulator => (row.outputs.circulator, row.status.pump_hold),
            Tested::BoilerCall => (
                row.outputs.boiler_call,
                row.status.boiler_hold.or(row.status.pump_hold),
            ),
        };
        if asked {
            return;
        }
        if on {
            let until = self.now + ANSWER;
            self.guided = Guided::Test {
                tested,
                until,
                asked: true,
            };
            self.output.line(|line| {
                write!(
                    line,
                    "test {} is on: does it run? say yes or no",
                    tested.name()
                )
            });
        } else {
            let free = row
                .status
                .free_at
                .map_or(Duration::ZERO, |at| at.since(self.now));
            let hold = hold.map_or("protection", |hold| hold.name());
            self.output.line(|line| {
                write!(
                    line,
                    "test {} waits: {hold} {} s",
                    tested.name(),
                    free.as_secs()
                )
            });
        }
    }
}
