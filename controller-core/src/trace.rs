//! One row a step: inputs exactly as consumed, outputs, why, and what every stage concluded.
//!
//! The row is of fixed size and prints itself as CSV without floats, so that firmware and PC write
//! the same bytes. Read back as a log it gives the same row again.

use core::fmt::{self, Write};

use crate::alarm::AlarmSet;
use crate::decision::{Summary, WoodRequest};
use crate::estimate::{Estimate, FlowProof};
use crate::guard::GuardStatus;
use crate::io::{Command, Event, Outputs};
use crate::reason::{Cause, Reason, What};
use crate::sensor::{BySensor, Reading, Sample, Sensor};
use crate::shadow::ActualRelays;
use crate::time::{Duration, Instant};
use crate::units::Celsius;

/// Every stage's conclusions of one step.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct TraceRow {
    /// When.
    pub now: Instant,
    /// The reads as they came.
    pub inputs: BySensor<Sample>,
    /// Feedback as it came.
    pub pump_feedback: Option<bool>,
    /// What ran, where the relays are somebody else's.
    pub shadow: Option<ActualRelays>,
    /// Relay bits after this step.
    pub outputs: Outputs,
    /// Why.
    pub reason: Reason,
    /// The reading, value, limit and age behind it.
    pub cause: Cause,
    /// What else happened.
    pub event: Event,
    /// Lost sensors: supply 1, return 2, slab 4, outdoor 8.
    pub lost: u8,
    /// Checked readings.
    pub readings: BySensor<Reading>,
    /// Estimates.
    pub estimate: Estimate,
    /// The rules' states.
    pub summary: Summary,
    /// The guard's bits, times and holds.
    pub status: GuardStatus,
    /// What a person must hear of.
    pub alarms: AlarmSet,
}

/// Column names, in order, separated by commas.
pub const HEADER: &str = "time_s,supply_c,supply_status,return_c,return_status,slab_c,slab_status,\
outdoor_c,outdoor_status,pump_feedback,shadow,actual_circulator,actual_boiler_call,circulator,boiler_call,alarm,reason,\
event,cause,cause_value,cause_limit,cause_age_s,lost,pump_hold,boiler_hold,hold_s,supply_state,return_state,slab_state,\
outdoor_state,flow,flow_proof,outdoor_mean_c,slab_counts_c,slab_from,water_slab_c,water_slab_age_s,\
store_estimate_c,store_age_s,difference_k,heat_w,earth_wh,boiler_wh,heat_wanted,frost,boiler_state,\
failed_calls,wood,wood_kg,wood_within_min,alarms";

impl TraceRow {
    /// Writes the row without a line end. Times count from `origin`. `note` is added to a settings
    /// event (what changed), and must not contain commas, quotes or line ends.
    ///
    /// # Errors
    /// Only those of the writer.
    pub fn write_csv(&self, origin: Instant, note: &str, out: &mut impl Write) -> fmt::Result {
        let mut row = Cells { out, first: true };
        row.seconds(self.now.as_millis().saturating_sub(origin.as_millis()))?;
        for sensor in Sensor::ALL {
            let sample = *self.inputs.get(sensor);
            row.reading(sample.value())?;
            row.text(sample.status())?;
        }
        row.flag(self.pump_feedback)?;
        row.bit(self.shadow.is_some())?;
        let actual = self.shadow.unwrap_or_default();
        row.flag(actual.circulator)?;
        row.flag(actual.boiler_call)?;
        row.bit(self.outputs.circulator)?;
        row.bit(self.outputs.boiler_call)?;
        row.bit(self.outputs.alarm)?;
        row.text(self.reason.name())?;
        self.event(&mut row, note)?;
        self.cause(&mut row)?;
        row.lost(self.lost)?;
        row.text(self.status.pump_hold.map_or("", |hold| hold.name()))?;
        row.text(self.status.boiler_hold.map_or("", |hold| hold.name()))?;
        row.age(
            self.status
                .free_at
                .map_or(Duration::MAX, |at| at.since(self.now)),
        )?;
        for sensor in Sensor::ALL {
            row.text(self.readings.get(sensor).fault.name())?;
        }
        self.estimates(&mut row)?;
        self.rules(&mut row)
    }

    fn event<W: Write>(&self, row: &mut Cells<'_, W>, note: &str) -> fmt::Result {
        row.next()?;
        match self.event {
            Event::None => Ok(()),
            Event::Boot(restart) => {
                row.out.write_str("boot ")?;
                row.out.write_str(restart.cause.name())?;
                for (name, value) in [
                    (" boots=", restart.boots_last_hour),
                    (" post_run=", u8::from(restart.post_run_owed)),
                    (" settings_lost=", u8::from(restart.settings_lost)),
                    (" jitter=", restart.jitter_s),
                ] {
                    row.out.write_str(name)?;
                    write_whole(row.out, u64::from(value))?;
                }
                Ok(())
            }
            Event::Stalled(time) => {
                row.out.write_str("stalled ms=")?;
                write_whole(row.out, u64::from(time.as_millis()))
            }
            Event::Command(command) => {
                let (name, word) = match command {
                    Command::Mode(mode) => ("command mode=", mode.name()),
                    Command::Pump(switch) => ("command pump=", switch.name()),
                    Command::Boiler(switch) => ("command boiler=", switch.name()),
                    Command::Acknowledge => ("command acknowledge", ""),
                };
                row.out.write_str(name)?;
                row.out.write_str(word)
            }
            Event::Settings => {
                row.out.write_str("settings ")?;
                row.out.write_str(note)
            }
        }
    }

    fn cause<W: Write>(&self, row: &mut Cells<'_, W>) -> fmt::Result {
        let cause = &self.cause;
        row.text(cause.what.name())?;
        if cause.what == What::Nothing {
            return row.empty(3);
        }
        row.thousandths(Some(cause.value))?;
        row.thousandths(Some(cause.limit))?;
        row.age(cause.age)
    }

    fn estimates<W: Write>(&self, row: &mut Cells<'_, W>) -> fmt::Result {
        let e = &self.estimate;
        row.text(e.flow.name())?;
        row.text(e.flow_proof.name())?;
        if let FlowProof::Absent(times) = e.flow_proof {
            row.out.write_str(" ")?;
            write_whole(row.out, u64::from(times))?;
        }
        row.thousandths(e.outdoor_mean.map(Celsius::to_bits))?;
        row.thousandths(e.slab.map(Celsius::to_bits))?;
        row.text(e.slab_from.name())?;
        row.thousandths(e.water.map(Celsius::to_bits))?;
        row.age(e.water_age)?;
        row.thousandths(e.store.map(Celsius::to_bits))?;
        row.age(e.store_age)?;
        row.thousandths(e.difference.map(|v| v.to_bits()))?;
        row.thousandths(e.heat.map(|v| v.to_bits()))?;
        row.whole(e.earth_wh)?;
        row.whole(e.boiler_wh)
    }

    fn rules<W: Write>(&self, row: &mut Cells<'_, W>) -> fmt::Result {
        let s = &self.summary;
        row.bit(s.heat_wanted)?;
        row.text(s.frost.map_or("", |kind| kind.name()))?;
        row.text(s.boiler.name())?;
        row.whole(u32::from(s.failed_calls))?;
        row.text(s.wood.request.name())?;
        if s.wood.request == WoodRequest::Light {
            row.whole(u32::from(s.wood.kg))?;
            row.whole(u32::from(s.wood.within_min))?;
        } else {
            row.empty(2)?;
        }
        row.next()?;
        let mut separator = "";
        for alarm in self.alarms.iter() {
            row.out.write_str(separator)?;
            row.out.write_str(alarm.name())?;
            separator = " ";
        }
        Ok(())
    }
}

/// Cells of one line.
struct Cells<'a, W> {
    out: &'a mut W,
    first: bool,
}

impl<W: Write> Cells<'_, W> {
    fn next(&mut self) -> fmt::Result {
        if self.first {
            self.first = false;
            Ok(())
        } else {
            self.out.write_str(",")
        }
    }

    fn text(&mut self, text: &str) -> fmt::Result {
        self.next()?;
        self.out.write_str(text)
    }

    fn empty(&mut self, cells: u8) -> fmt::Result {
        for _ in 0..cells {
            self.next()?;
        }
        Ok(())
    }

    fn bit(&mut self, on: bool) -> fmt::Result {
        self.text(if on { "1" } else { "0" })
    }

    fn flag(&mut self, on: Option<bool>) -> fmt::Result {
        match on {
            Some(on) => self.bit(on),
            None => self.next(),
        }
    }

    fn whole(&mut self, n: u32) -> fmt::Result {
        self.next()?;
        write_whole(self.out, u64::from(n))
    }

    /// A time in whole seconds; nothing for "never".
    fn age(&mut self, time: Duration) -> fmt::Result {
        if time == Duration::MAX {
            return self.next();
        }
        self.whole(time.as_secs())
    }

    /// Milliseconds as seconds, with as many decimals as needed.
    fn seconds(&mut self, millis: u64) -> fmt::Result {
        self.next()?;
        write_whole(self.out, millis / 1_000)?;
        let rest = millis % 1_000;
        if rest != 0 {
            self.out.write_str(".")?;
            write_digits(self.out, rest, 100)?;
        }
        Ok(())
    }

    /// A reading exactly: n/128 has at most seven decimals.
    fn reading(&mut self, value: Option<Celsius>) -> fmt::Result {
        self.next()?;
        let Some(value) = value else { return Ok(()) };
        let n = value.to_128ths();
        if n < 0 {
            self.out.write_str("-")?;
        }
        let size = u64::from(n.unsigned_abs());
        write_whole(self.out, size / 128)?;
        // 10⁷ / 128 = 78 125 exactly; trailing zeros are dropped, one decimal is kept.
        let mut decimals = (size % 128).saturating_mul(78_125);
        let mut place = 1_000_000_u64;
        self.out.write_str(".")?;
        for _ in 0..7 {
            let digit = decimals.checked_div(place).unwrap_or(0);
            write_whole(self.out, digit)?;
            decimals = decimals.saturating_sub(digit.saturating_mul(place));
            place /= 10;
            if decimals == 0 {
                break;
            }
        }
        Ok(())
    }

    /// 1/65536 rounded to three decimals, half away from zero.
    fn thousandths(&mut self, bits: Option<i32>) -> fmt::Result {
        self.next()?;
        let Some(bits) = bits else { return Ok(()) };
        let size = u64::from(bits.unsigned_abs())
            .saturating_mul(1_000)
            .saturating_add(32_768)
            >> 16;
        if bits < 0 && size > 0 {
            self.out.write_str("-")?;
        }
        write_whole(self.out, size / 1_000)?;
        self.out.write_str(".")?;
        write_digits(self.out, size % 1_000, 100)
    }

    /// Initials of the lost sensors.
    fn lost(&mut self, lost: u8) -> fmt::Result {
        self.next()?;
        let mut separator = "";
        for (bit, sensor) in [1_u8, 2, 4, 8].into_iter().zip(Sensor::ALL) {
            if lost & bit != 0 {
                self.out.write_str(separator)?;
                self.out.write_str(sensor.name())?;
                separator = " ";
            }
        }
        Ok(())
    }
}

/// A whole number in decimal.
fn write_whole<W: Write>(out: &mut W, n: u64) -> fmt::Result {
    let mut place = 1_u64;
    while n.checked_div(place).unwrap_or(0) >= 10 {
        place = place.saturating_mul(10);
    }
    write_digits(out, n, place)
}

/// Digits of `n` from the given place down to units.
fn write_digits<W: Write>(out: &mut W, n: u64, place: u64) -> fmt::Result {
    const DIGITS: [&str; 10] = ["0", "1", "2", "3", "4", "5", "6", "7", "8", "9"];
    let (mut rest, mut place) = (n, place);
    while place > 0 {
        let digit = rest.checked_div(place).unwrap_or(0);
        let text = usize::try_from(digit)
            .ok()
            .and_then(|d| DIGITS.get(d))
            .copied();
        out.write_str(text.unwrap_or("?"))?;
        rest = rest.saturating_sub(digit.saturating_mul(place));
        place /= 10;
    }
    Ok(())
}
