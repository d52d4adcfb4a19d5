//! Can this reading be trusted? Range, rate, age, power-on values, noise and re-admission.

use super::filter::{MedianOfFive, Smoother};
use super::reading::{Excitation, Reading, ReadingFault, Trust, Verdict};
use super::{ReadFault, Sample, Sensor};
use crate::settings::Settings;
use crate::time::Duration;
use crate::units::{Celsius, Kelvin};

/// What one place can have and how fast.
struct Place {
    /// 1/128 K.
    low: i16,
    high: i16,
    /// Largest believable change, mK/s, quiet and busy.
    quiet_rate: u32,
    busy_rate: u32,
    /// Change that noise alone may bring between two reads, 1/128 K.
    allowance: u32,
    /// Mean to and fro between reads that counts as noisy, 1/1024 K: 0.57 of the standard deviation
    /// for reads without memory (by simulation).
    noisy: u16,
}

const fn in_128ths(kelvin: i16) -> i16 {
    kelvin.saturating_mul(128)
}

/// Ranges and rates. Status: judgement, from where the sensors sit; pipes at rest in the open have
/// been measured at -15 °C and 90 °C, so the pipe range is wide.
const PIPE: Place = Place {
    low: in_128ths(-40),
    high: in_128ths(95),
    quiet_rate: 200,
    busy_rate: 1_500,
    allowance: 128,
    noisy: 584, // a standard deviation of 1 K
};
const SLAB: Place = Place {
    low: in_128ths(-20),
    high: in_128ths(50),
    quiet_rate: 20,
    busy_rate: 20,
    allowance: 64,
    noisy: 288,
};
const OUTDOOR: Place = Place {
    low: in_128ths(-45),
    high: in_128ths(55),
    quiet_rate: 100,
    busy_rate: 100,
    allowance: 128,
    noisy: 584,
};

const fn place(sensor: Sensor) -> &'static Place {
    match sensor {
        Sensor::Supply | Sensor::Return => &PIPE,
        Sensor::Slab => &SLAB,
        Sensor::Outdoor => &OUTDOOR,
    }
}

/// The digital chip's power-on value, 85.00 °C in 1/128 K (DS18B20 data sheet).
const POWER_ON: i16 = 10_880;
/// Smoothing of the control value. Status: judgement, well under the slab's and pipes' own lags.
const SMOOTHING: Duration = Duration::from_secs(60);
/// Good time before a doubted or lost reading is trusted again.
const READMIT: Duration = Duration::from_secs(60);
/// The same after a value outside the range: a loose wire comes and goes.
const READMIT_AFTER_RANGE: Duration = Duration::from_mins(10);
/// A new level that stays this long is trusted (outdoor, supply, return).
const NEW_LEVEL: Duration = Duration::from_mins(2);
/// The slab cannot jump: a new level that the return water does not confirm must stay this long.
const NEW_SLAB_LEVEL: Duration = Duration::from_mins(60);
/// The slab and the water in it agree within this.
const SLAB_AGREES: Kelvin = Kelvin::from_milli(1_500);
/// A reading this old is doubted, and one this old is lost, whether its reads fail or are rejected.
const STALE_DOUBTED: Duration = Duration::from_secs(60);
const STALE_LOST: Duration = Duration::from_secs(300);
/// A frame that keeps failing its checksum this long is lost.
const CHECKSUM_LOST: Duration = Duration::from_secs(30);
/// A supply reading doubted this long is lost.
const DOUBT_IS_LOSS: Duration = Duration::from_mins(30);
/// Outdoor air that reads the same this long is doubted (ice pins a sensor at 0 °C).
const OUTDOOR_STUCK: Duration = Duration::from_hours(24);
/// Reads that go to and fro by more than this on average, 1/1024 K, and too fast to be accepted, are none
/// of a temperature. Status: judgement; 2 K is a standard deviation of 3.5 K.
const WILD: u16 = 2_048;
/// From here on an unchanged outdoor reading is examined.
const HALF_A_DAY: Duration = Duration::from_hours(12);

/// Memory of one sensor.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SensorCheck {
    sensor: Sensor,
    median: MedianOfFive,
    smoother: Smoother,
    /// Last in-range read and last accepted read, 1/128 K.
    pub(super) last: Option<i16>,
    accepted: Option<i16>,
    /// A level that came too fast, while it is being watched.
    jump: Option<i16>,
    jump_reads: u8,
    /// Reads in a row that failed, and for how long.
    failures: u8,
    /// How long reads have failed, or a jump has stood.
    standing_for: Duration,
    /// Power-on values in a row.
    power_ons: u8,
    age: Duration,
    unchanged: Duration,
    good_for: Duration,
    suspect_for: Duration,
    trust: Trust,
    fault: ReadingFault,
    after_range: bool,
    /// The last read was good, accepted and undisputed.
    calm: bool,
    /// Last move, 1/128 K, and mean to and fro, 1/1024 K.
    moved: i16,
    scatter: u16,
}

/// What a cycle brings besides the read.
#[derive(Clone, Copy, Debug)]
pub struct Cycle<'a> {
    /// Time since the cycle before.
    pub step: Duration,
    /// How fast the pipes may change now.
    pub excitation: Excitation,
    /// What the comparison of sensors said of this one, a step ago.
    pub verdict: Verdict,
    /// What the slab's water says of the slab, °C; only looked at for the slab.
    pub water: Option<Celsius>,
    /// Settings in force.
    pub settings: &'a Settings,
}

/// What a sample comes to before it is compared with the past.
enum Judged {
    Value(i16),
    Failed(ReadFault),
    OutOfRange,
}

impl SensorCheck {
    /// Nothing seen yet.
    #[must_use]
    pub const fn new(sensor: Sensor) -> Self {
        Self {
            sensor,
            median: MedianOfFive::EMPTY,
            smoother: Smoother::EMPTY,
            last: None,
            accepted: None,
            jump: None,
            jump_reads: 0,
            failures: 0,
            standing_for: Duration::ZERO,
            power_ons: 0,
            age: Duration::ZERO,
            unchanged: Duration::ZERO,
            good_for: Duration::ZERO,
            suspect_for: Duration::ZERO,
            trust: Trust::Suspect,
            fault: ReadingFault::Unseen,
            after_range: false,
            calm: false,
            moved: 0,
            scatter: 0,
        }
    }

    /// Takes one cycle's sample and says how far it can be trusted.
    pub fn update(&mut self, sample: Sample, cycle: &Cycle<'_>, reading: &mut Reading) {
        let before = self.last;
        if let Some((raw, last)) = self.ordinary(sample, cycle.verdict) {
            self.take_ordinary(raw, last, cycle.step, cycle.settings, reading);
            return;
        }
        let raw = self.examine(sample, cycle);
        *reading = self.reading(raw, before, cycle.settings);
    }

    /// The usual case, told by a few comparisons: a good sensor reads what it read before, give or
    /// take noise. It only saves work: a test compares it with the examination.
    fn ordinary(&self, sample: Sample, verdict: Verdict) -> Option<(i16, i16)> {
        if !self.calm || verdict != Verdict::Fine {
            return None;
        }
        let place = place(self.sensor);
        let raw = sample.value()?.to_128ths();
        let last = self.last?;
        let usual = raw >= place.low
            && raw <= place.high
            && raw != POWER_ON
            && u32::from(raw.abs_diff(last)) <= place.allowance
            && (self.unchanged < HALF_A_DAY || raw != last || self.sensor != Sensor::Outdoor);
        usual.then_some((raw, last))
    }

    #[inline(always)]
    fn take_ordinary(
        &mut self,
        raw: i16,
        last: i16,
        step: Duration,
        settings: &Settings,
        reading: &mut Reading,
    ) {
        self.unchanged = if raw == last {
            self.unchanged + step
        } else {
            Duration::ZERO
        };
        self.power_ons = 0;
        self.scatter(raw);
        self.last = Some(raw);
        self.accepted = Some(raw);
        self.age = Duration::ZERO;
        let smooth = self.smooth(raw, step);
        let trim = self.trim(settings);
        // Within a place's range and a trim's: nothing to saturate.
        let trimmed = |t: Celsius| Celsius::from_bits(t.to_bits().wrapping_add(trim.to_bits()));
        *reading = Reading {
            trust: Trust::Good,
            fault: ReadingFault::None,
            value: Some(trimmed(smooth)),
            seen: Some(trimmed(Celsius::from_128ths(raw))),
            before: Some(trimmed(Celsius::from_128ths(last))),
            age: Duration::ZERO,
            noisy: self.is_noisy(),
        };
    }

    /// The general case.
    #[cold]
    pub(super) fn examine(&mut self, sample: Sample, cycle: &Cycle<'_>) -> Option<i16> {
        let step = cycle.step;
        self.age = self.age + step;
        self.unchanged = self.unchanged + step;
        let judged = self.judge(sample);
        let raw = match judged {
            Judged::Value(raw) => {
                self.failures = 0;
                self.track(raw, cycle);
                Some(raw)
            }
            Judged::Failed(_) | Judged::OutOfRange => {
                if self.failures == 0 {
                    self.standing_for = Duration::ZERO;
                }
                self.failures = self.failures.saturating_add(1);
                self.standing_for = self.standing_for + step;
                self.last = None;
                self.jump = None;
                None
            }
        };
        self.weigh(&judged, cycle);
        self.calm = self.fault == ReadingFault::None
            && self.trust == Trust::Good
            && self.jump.is_none()
            && self.last.is_some()
            && self.accepted == self.last;
        raw
    }

    /// Range and power-on values.
    fn judge(&mut self, sample: Sample) -> Judged {
        let place = place(self.sensor);
        match sample {
            Sample::Failed(ReadFault::PowerOn) => {
                self.power_ons = self.power_ons.saturating_add(1);
                Judged::Failed(ReadFault::PowerOn)
            }
            Sample::Failed(ReadFault::Impossible) => Judged::OutOfRange,
            Sample::Failed(fault) => Judged::Failed(fault),
            Sample::Value(t) if t.to_128ths() == POWER_ON && self.power_ons < 2 => {
                self.power_ons = self.power_ons.saturating_add(1);
                Judged::Failed(ReadFault::PowerOn)
            }
            Sample::Value(t) | Sample::Framed(t) => {
                let raw = t.to_128ths();
                if raw != POWER_ON {
                    self.power_ons = 0;
                }
                if raw < place.low || raw > place.high {
                    Judged::OutOfRange
                } else {
                    Judged::Value(raw)
                }
            }
        }
    }

    /// Largest believable change since the last accepted read, 1/128 K. A read that repeats is
    /// taken for the same read, up to the time at which it would be stale.
    fn believable(&self, cycle: &Cycle<'_>) -> u32 {
        let place = place(self.sensor);
        let rate = match cycle.excitation {
            Excitation::Busy => place.busy_rate,
            Excitation::Quiet => place.quiet_rate,
        };
        let gap = self.unchanged.min(Duration::from_secs(60)).max(cycle.step);
        // mK/s × ms × 128 / 10⁶ = 1/128 K, in 32 bits for as long as a step can be; beyond that 268 K.
        let change = rate.saturating_mul(gap.as_millis()).saturating_mul(16) / 125_000;
        change.saturating_add(place.allowance)
    }

    /// Compares a read in range with the past; accepts it or watches it as a jump.
    fn track(&mut self, raw: i16, cycle: &Cycle<'_>) {
        let step = cycle.step;
        let believable = self.believable(cycle);
        let near = |level: i16| u32::from(raw.abs_diff(level)) <= believable;
        self.scatter(raw);
        let accept = match (self.accepted, self.jump) {
            (None, _) => true,
            (Some(level), _) if near(level) || self.trust == Trust::Bad => {
                self.jump = None;
                true
            }
            (Some(_), Some(level)) if near(level) => {
                self.jump = Some(raw);
                self.standing_for = self.standing_for + step;
                self.jump_reads = self.jump_reads.saturating_add(1);
                self.settled(raw, cycle.water)
            }
            (Some(_), _) => {
                self.jump = Some(raw);
                self.standing_for = Duration::ZERO;
                self.jump_reads = 1;
                false
            }
        };
        if self.last != Some(raw) {
            self.unchanged = Duration::ZERO;
        }
        self.last = Some(raw);
        if accept {
            self.accept(raw, step);
        }
    }

    /// Follows how much reads go to and fro. A steady rise is none, however steep.
    fn scatter(&mut self, raw: i16) {
        let Some(last) = self.last else {
            self.moved = 0;
            return;
        };
        let moved = raw.wrapping_sub(last); // both within a place's range
        let back_and_forth = if moved ^ self.moved < 0 {
            moved
                .unsigned_abs()
                .min(self.moved.unsigned_abs())
                .min(1_024)
        } else {
            0
        };
        self.moved = moved;
        // Mean over about eight reads: at most 8 × 1 024, so that nothing here can wrap.
        self.scatter = (self.scatter.wrapping_mul(7) >> 3).wrapping_add(back_and_forth);
    }

    /// Has a new level stayed long enough to be the truth?
    fn settled(&mut self, raw: i16, water: Option<Celsius>) -> bool {
        let settled = match self.sensor {
            Sensor::Slab => {
                let agrees = water
                    .is_some_and(|water| (Celsius::from_128ths(raw) - water).abs() <= SLAB_AGREES);
                self.standing_for >= NEW_SLAB_LEVEL || (agrees && self.standing_for >= NEW_LEVEL)
            }
            Sensor::Supply | Sensor::Return | Sensor::Outdoor => self.standing_for >= NEW_LEVEL,
        };
        if settled {
            self.jump = None;
            self.median.clear();
            self.smoother.clear();
        }
        settled
    }

    fn accept(&mut self, raw: i16, step: Duration) {
        if self.trust == Trust::Bad && self.good_for == Duration::ZERO {
            // What was known before the loss says nothing about now.
            self.median.clear();
            self.smoother.clear();
        }
        self.accepted = Some(raw);
        self.age = Duration::ZERO;
        self.smooth(raw, step);
    }

    #[inline]
    fn smooth(&mut self, raw: i16, step: Duration) -> Celsius {
        let middle = self.median.update(raw);
        self.smoother
            .update(Celsius::from_128ths(middle), step, SMOOTHING)
    }

    /// Sets trust and fault from this cycle's outcome.
    fn weigh(&mut self, judged: &Judged, cycle: &Cycle<'_>) {
        let step = cycle.step;
        let (trust, fault) = self.condition(judged, cycle.verdict);
        if trust == Trust::Good {
            let wait = if self.after_range {
                READMIT_AFTER_RANGE
            } else {
                READMIT
            };
            let first = self.fault == ReadingFault::Unseen;
            if self.trust != Trust::Good {
                self.good_for = self.good_for + step;
            }
            if self.trust == Trust::Good || first || self.good_for >= wait {
                self.trust = Trust::Good;
                self.fault = ReadingFault::None;
                self.after_range = false;
            } else {
                self.fault = ReadingFault::Returning;
            }
        } else {
            self.good_for = Duration::ZERO;
            // A lost reading stays lost until it is readmitted.
            self.trust = self.trust.max(trust);
            if trust >= self.trust || self.fault == ReadingFault::Returning {
                self.fault = fault;
            }
            self.after_range |= matches!(fault, ReadingFault::Range) && trust == Trust::Bad;
        }
        self.suspect_for = match self.trust {
            Trust::Suspect => self.suspect_for + step,
            Trust::Good | Trust::Bad => Duration::ZERO,
        };
        if self.sensor == Sensor::Supply
            && self.suspect_for >= DOUBT_IS_LOSS
            && self.fault != ReadingFault::Unseen
        {
            self.trust = Trust::Bad;
        }
    }

    /// What this cycle alone says.
    fn condition(&self, judged: &Judged, verdict: Verdict) -> (Trust, ReadingFault) {
        let third = |fault| match self.failures {
            0 | 1 => (self.trust_while_failing(), fault),
            2 => (Trust::Suspect, fault),
            _ => (Trust::Bad, fault),
        };
        match judged {
            Judged::OutOfRange => third(ReadingFault::Range),
            Judged::Failed(ReadFault::PowerOn) if self.power_ons >= 3 => {
                (Trust::Bad, ReadingFault::PowerOn)
            }
            Judged::Failed(ReadFault::PowerOn) if self.power_ons == 2 => {
                (Trust::Suspect, ReadingFault::PowerOn)
            }
            Judged::Failed(ReadFault::Absent | ReadFault::Short) => third(ReadingFault::Lost),
            Judged::Failed(ReadFault::Checksum) if self.standing_for >= CHECKSUM_LOST => {
                (Trust::Bad, ReadingFault::Lost)
            }
            Judged::Failed(_) if self.age >= STALE_LOST => (Trust::Bad, ReadingFault::Lost),
            Judged::Failed(_) if self.age >= STALE_DOUBTED => (Trust::Suspect, ReadingFault::Lost),
            Judged::Failed(_) => (self.trust_while_failing(), ReadingFault::Lost),
            Judged::Value(_) => match verdict {
                Verdict::Contradicted => (Trust::Suspect, ReadingFault::Contradicted),
                // What answers no heat, or is confirmed by nothing, is none of its place.
                Verdict::Stuck => (Trust::Bad, ReadingFault::Stuck),
                Verdict::Fine
                    if self.scatter >= WILD
                        && (self.jump.is_some() || self.trust == Trust::Bad) =>
                {
                    (Trust::Bad, ReadingFault::Jump)
                }
                // Somewhere else each time, until the last accepted read says nothing any more.
                Verdict::Fine if self.jump.is_some() && self.age >= STALE_LOST => {
                    (Trust::Bad, ReadingFault::Jump)
                }
                Verdict::Fine
                    if self.jump.is_some()
                        && (self.jump_reads >= 2 || self.age >= STALE_DOUBTED) =>
                {
                    (Trust::Suspect, ReadingFault::Jump)
                }
                Verdict::Fine
                    if self.sensor == Sensor::Outdoor && self.unchanged >= OUTDOOR_STUCK =>
                {
                    (Trust::Suspect, ReadingFault::Stuck)
                }
                Verdict::Fine => (Trust::Good, ReadingFault::None),
            },
        }
    }

    /// A first failed read changes nothing; before any read there is nothing to believe.
    const fn trust_while_failing(&self) -> Trust {
        match self.trust {
            Trust::Good => Trust::Good,
            Trust::Suspect | Trust::Bad => Trust::Suspect,
        }
    }

    #[cold]
    pub(super) fn reading(
        &self,
        raw: Option<i16>,
        before: Option<i16>,
        settings: &Settings,
    ) -> Reading {
        let trim = self.trim(settings);
        let celsius = |n: i16| Celsius::from_128ths(n) + trim;
        let value = match self.trust {
            Trust::Good | Trust::Suspect => self.smoother.value(),
            Trust::Bad => None,
        };
        Reading {
            trust: self.trust,
            fault: self.fault,
            value: value.map(|t| t + trim),
            seen: raw.map(celsius),
            before: before.map(celsius),
            age: self.age,
            noisy: self.is_noisy(),
        }
    }

    fn trim(&self, settings: &Settings) -> Kelvin {
        match self.sensor {
            Sensor::Supply => settings.supply_trim,
            Sensor::Return => settings.return_trim,
            Sensor::Slab => settings.slab_trim,
            Sensor::Outdoor => settings.outdoor_trim,
        }
    }

    fn is_noisy(&self) -> bool {
        self.scatter > place(self.sensor).noisy
    }
}
